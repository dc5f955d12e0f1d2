"""The way round where the exact one does not close: an integer clipper, and arcs fitted to it."""

from __future__ import annotations

import math

import numpy as np
import pyclipper
from numpy.typing import NDArray

from knifecam.curve import Curve, distance
from knifecam.curve.curve import Floats
from knifecam.paths.paths_limits import GRID_STEPS_PER_MM, VERTEX_TURN_RAD


def clipped_chains(curve: Curve, away: float, tolerance: float) -> list[tuple[Floats, Floats]]:
    """Return the loops of the offset ``away`` mm outward of the closed curve, inward if negative.

    Vertices (N, 2) and bulges (N,), the metal to be left on their right. Every point is at least
    ``abs(away)`` and at most ``abs(away) + tolerance`` mm from the curve: chords stray by a tenth
    of the tolerance, the distance is larger by three of them, and arcs are fitted within what is
    left.
    """
    chord = tolerance / 10
    points = _chords(curve.counter_clockwise(), chord)
    clipper = pyclipper.PyclipperOffset(2.0, chord * GRID_STEPS_PER_MM)
    path = np.rint(points * GRID_STEPS_PER_MM).astype(np.int64).tolist()
    clipper.AddPath(path, pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    grown = math.copysign(abs(away) + 3 * chord, away)
    found = [
        np.array(loop) / GRID_STEPS_PER_MM for loop in clipper.Execute(grown * GRID_STEPS_PER_MM)
    ]
    if away > 0:
        found = [loop[::-1] for loop in found]
    fitted = [fit(loop, curve, abs(away), tolerance) for loop in found if len(loop) > 2]
    return [chain for chain in fitted if chain is not None]


def _chords(curve: Curve, tolerance: float) -> Floats:
    """Return points whose chords stay within the tolerance, none shorter than 1 um."""
    points = curve.points(tolerance)
    gap = np.hypot(*(points - np.roll(points, 1, axis=0)).T)
    return points[gap >= 1e-3]


def fit(
    points: Floats, curve: Curve, away: float, tolerance: float
) -> tuple[Floats, Floats] | None:
    """Return a closed chain of few lines and arcs near ``points`` (K, 2), within the band.

    The band reaches from ``away`` to ``away + tolerance`` mm off the curve. Greedy: each arc goes
    through two of the points and takes in as many between as leave it a common bulge.
    """
    points = _without_twins(points)
    if len(points) < 3:
        return None
    points = np.roll(points, -_sharpest(points), axis=0)
    closed = np.concatenate([points, points[:1]])
    inner, outer = _band(closed, curve, away, tolerance)
    corners = np.flatnonzero(np.abs(_turns(points)) > VERTEX_TURN_RAD)
    stops = np.append(corners[corners > 0], len(points))
    vertices: list[Floats] = []
    bulges: list[float] = []
    at = 0
    while at < len(points):
        limit = int(stops[np.searchsorted(stops, at, side="right")])
        if at == 0 and limit == len(points):
            limit = max(1, len(points) // 2)
        step, bulge = _longest(closed, (inner, outer), at, limit, tolerance / 5)
        vertices.append(closed[at])
        bulges.append(bulge)
        at = step
    return (np.array(vertices), np.array(bulges)) if len(vertices) > 1 else None


def _without_twins(points: Floats) -> Floats:
    gap = np.hypot(*(points - np.roll(points, 1, axis=0)).T)
    return points[gap > 1e-6]


def _turns(points: Floats) -> Floats:
    step = np.roll(points, -1, axis=0) - points
    heading = np.arctan2(step[:, 1], step[:, 0])
    return np.asarray((heading - np.roll(heading, 1) + np.pi) % (2 * np.pi) - np.pi)


def _sharpest(points: Floats) -> int:
    return int(np.argmax(np.abs(_turns(points))))


def _band(points: Floats, curve: Curve, away: float, tolerance: float) -> tuple[Floats, Floats]:
    """Return each point moved to the band's near side and to its far side, (K, 2) each."""
    off = distance(points, curve) - away
    lower = np.minimum(0.0, 0.2 * tolerance - off)
    upper = np.maximum(0.0, 0.75 * tolerance - off)
    before, after = np.roll(points[:-1], 1, axis=0), np.roll(points[:-1], -1, axis=0)
    chord = after - before
    normal = np.stack([-chord[:, 1], chord[:, 0]], axis=1)
    normal /= np.maximum(np.hypot(*normal.T), 1e-12)[:, None]
    normal = np.concatenate([normal, normal[:1]])
    little = 1e-6
    side = np.sign(distance(points + little * normal, curve) - away - off)
    normal *= np.where(side == 0, 1.0, side)[:, None]
    return points + lower[:, None] * normal, points + upper[:, None] * normal


def _longest(
    points: Floats, band: tuple[Floats, Floats], at: int, limit: int, between: float
) -> tuple[int, float]:
    """Return how far one arc from point ``at`` reaches, up to ``limit``, and its bulge."""
    good, bulge, step = at + 1, 0.0, 2
    while at + step <= limit:
        found = _bulge(points, *band, at, at + step, between)
        if found is None:
            break
        good, bulge, step = at + step, found, step * 2
    bad = min(at + step, limit + 1)
    while bad - good > 1:
        middle = (good + bad) // 2
        found = _bulge(points, *band, at, middle, between)
        if found is None:
            bad = middle
        else:
            good, bulge = middle, found
    return good, bulge


def _bulge(
    points: Floats, inner: Floats, outer: Floats, a: int, b: int, between: float
) -> float | None:
    """Return the bulge of an arc from point a to b that passes all between them inside the band.

    None if there is no such arc, or if it strays more than ``between`` from a chord of the points.
    """
    start, end = points[a], points[b]
    one = _bulges(inner[a + 1 : b], start, end)
    other = _bulges(outer[a + 1 : b], start, end)
    low = float(np.minimum(one, other).max(initial=-0.99))
    high = float(np.maximum(one, other).min(initial=0.99))
    if not low <= high:
        return None
    natural = float(np.median(_bulges(points[a + 1 : b], start, end)))
    bulge = 0.0 if low <= 0.0 <= high else min(high, max(low, natural))
    gap = np.diff(points[a : b + 1], axis=0)
    longest = float((gap**2).sum(axis=1).max())
    bend = 4 * abs(bulge) / (float(np.hypot(*(end - start))) * (1 + bulge**2))
    return bulge if longest * bend / 8 <= between else None


def _bulges(through: Floats, start: Floats, end: Floats) -> NDArray[np.float64]:
    """Return the bulges of the arcs from start to end through points (K, 2).

    The angles a chord's ends see a point under add up to half the arc's angle.
    """
    chord, first, second = end - start, through - start, end - through
    at_start = np.arctan2(chord[0] * first[:, 1] - chord[1] * first[:, 0], first @ chord)
    at_end = np.arctan2(second[:, 0] * chord[1] - second[:, 1] * chord[0], second @ chord)
    return np.asarray(-np.tan((at_start + at_end) / 2))

"""What follows from a bevel's figures: where it meets the flat, its ridges and its angles."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade.bevel import Bevel, Plunge, edge_height, end_slopes, grind_height, height_at
from knifecam.blade.blade import Blade, is_outside
from knifecam.blade.blade_limits import HIDDEN_NEARER_MM
from knifecam.blade.finished_surface import edge_curve, edge_distance, past_plunge, rise
from knifecam.curve import Curve, Stretch, place_at, resample
from knifecam.curve.crossings import ray_length
from knifecam.curve.curve import Floats
from knifecam.curve.distance import prolonged, reach_of
from knifecam.curve.stations import length_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Ridge:
    """A stretch of the outline's edge whose bevel runs into its neighbour before the flat.

    The blade's face has a ridge there instead of a grind line. ``radius`` is the least radius in
    mm to which the edge bends inward there, 0 at a corner, inf where two far stretches meet.
    """

    stretch: Stretch
    radius: float


def edge_angle(bevel: Bevel, thickness: float, side: str) -> float:
    """Return the angle in rad of the profile's tangent at the edge against the mid-plane.

    A chord c of an arc of radius R stands at asin(c / 2R) to its end tangents.
    """
    return math.atan(end_slopes(bevel, thickness, side)[0])


def grind_angle(bevel: Bevel, thickness: float, side: str) -> float:
    """Return the angle in rad of the profile's tangent where it meets the flat."""
    return math.atan(end_slopes(bevel, thickness, side)[1])


def plunge_run(bevel: Bevel, plunge: Plunge, thickness: float, side: str) -> float:
    """Return how far past its line, in mm, the plunge reaches the flat at the edge itself.

    The rise T/2 - h(0) is (Rp - sqrt(Rp^2 - s^2)) / cos a. Where it is more than Rp / cos a the
    rest of it stands plumb at the radius.
    """
    up = (thickness / 2 - edge_height(bevel, side)) * math.cos(bevel.angle)
    up = min(up, plunge.radius)
    return math.sqrt(up * (2 * plunge.radius - up))


def plunge_wall(bevel: Bevel, plunge: Plunge, thickness: float, side: str) -> float:
    """Return how much of the plunge's rise stands plumb at the edge, in mm: 0 for usual radii."""
    up = thickness / 2 - edge_height(bevel, side)
    return max(0.0, up - plunge.radius / math.cos(bevel.angle))


def width_at(outline: Curve, station: float) -> float:
    """Return the blade's width in mm square to the outline at ``station``."""
    (point,), (heading,) = place_at(outline, station)
    return ray_length(outline, (float(point[0]), float(point[1])), float(heading) + math.pi / 2)


def grind_line(
    bevel: Bevel, blade: Blade, side: str, *, spacing: float = 0.1
) -> tuple[Floats, ...]:
    """Return where the bevel meets the flat, as runs of points (K, 2) along the edge's travel.

    It is the set of places H from the edge, as far as they lie in the blade and not past a plunge.
    Every point is exact; neighbours are about ``spacing`` mm apart along the edge. Runs end
    within 1e-6 mm of where the line ends.
    """
    width = grind_height(bevel, blade.thickness, side)
    edge = prolonged_across(edge_curve(bevel, blade.outline), blade.outline)

    def places(stations: Floats) -> Floats:
        return _inward(edge, stations, width)

    def standing(points: Floats) -> NDArray[np.bool_]:
        near = edge_distance(bevel, blade.outline, points) >= width - HIDDEN_NEARER_MM
        return np.asarray(
            near & ~is_outside(blade.outline, points) & (past_plunge(bevel, points) <= 0)
        )

    stations, _, _ = resample(edge, spacing)
    return _runs(stations, places, standing)


def plunge_border(
    bevel: Bevel, plunge: Plunge, blade: Blade, side: str, *, spacing: float = 0.1
) -> Floats:
    """Return where one plunge meets the flat, as points (K, 2) along its line's travel.

    Where it stands plumb before it reaches the flat, the foot of that wall.
    """
    _, feet, headings = resample(prolonged_across(plunge.line, blade.outline), spacing)
    width = grind_height(bevel, blade.thickness, side)
    bevelled = edge_distance(bevel, blade.outline, feet) < width
    feet, headings = feet[bevelled], headings[bevelled]
    left = np.stack([-np.sin(headings), np.cos(headings)], axis=1)
    half = blade.thickness / 2
    low, high = np.zeros(len(feet)), np.full(len(feet), plunge.radius)
    for _ in range(50):
        s = (low + high) / 2
        d = edge_distance(bevel, blade.outline, feet + s[:, None] * left)
        below = (
            height_at(bevel, blade.thickness, side, d) + rise(plunge.radius, bevel.angle, s) < half
        )
        low, high = np.where(below, s, low), np.where(below, high, s)
    points = feet + low[:, None] * left
    return np.asarray(points[~is_outside(blade.outline, points)])


def prolonged_across(curve: Curve, outline: Curve) -> Curve:
    """Return the open curve with tangents just long enough to cross the whole outline."""
    low_x, low_y, high_x, high_y = outline.bounds
    box = np.array([[low_x, low_y], [high_x, high_y]])
    return prolonged(curve, reach_of(curve, box))


def ridges(bevel: Bevel, blade: Blade, side: str, *, spacing: float = 0.1) -> tuple[Ridge, ...]:
    """Return the stretches whose bevel meets a ridge before the flat.

    That is wherever the belly's radius is below the grind height, at corners that turn inward, and
    where another stretch of the edge is nearer. Ends are within ``spacing`` mm.
    """
    width = grind_height(bevel, blade.thickness, side)
    edge = edge_curve(bevel, blade.outline)
    stations, _, _ = resample(edge, spacing)
    seen = edge_distance(bevel, blade.outline, _inward(edge, stations, width))
    hidden = seen < width - HIDDEN_NEARER_MM
    found = []
    for first, last in _spans(hidden):
        low, high = float(stations[first]), float(stations[last])
        whole = blade.outline.length
        stretch = Stretch(
            start=(bevel.edge.start + low) % whole, end=(bevel.edge.start + high) % whole
        )
        found.append(Ridge(stretch=stretch, radius=_least_radius(edge, low, high)))
    return tuple(found)


def least_turn_radius(curve: Curve, turn: str) -> float:
    """Return the least radius in mm to which the curve turns "left" or "right".

    0 when it has a corner that way, inf when it never turns that way.
    """
    sign = {"left": 1.0, "right": -1.0}[turn]
    bent = curve.is_arc & (np.sign(curve.angles) == sign)
    least = float(curve.radii[bent].min()) if bent.any() else math.inf
    turns = corner_turns(curve)
    return 0.0 if (turns * sign > 0).any() else least


def corner_turns(curve: Curve) -> Floats:
    """Return the turn (N,) rad at each vertex that is a true corner, 0 elsewhere."""
    turn = np.zeros(len(curve.vertices))
    leaving, arriving = curve.start_headings, curve.end_headings
    turn[1 : len(leaving)] = leaving[1:] - arriving[: len(leaving) - 1]
    if curve.closed:
        turn[0] = leaving[0] - arriving[-1]
    turn = (turn + np.pi) % (2 * np.pi) - np.pi
    return np.where(np.asarray(curve.corners), turn, 0.0)


def edge_length(bevel: Bevel, blade: Blade) -> float:
    """Return the length of the edge in mm."""
    return length_of(blade.outline, bevel.edge)


def _inward(edge: Curve, stations: Floats, width: float) -> Floats:
    points, headings = place_at(edge, stations)
    return np.asarray(points + width * np.stack([-np.sin(headings), np.cos(headings)], axis=1))


def _least_radius(edge: Curve, low: float, high: float) -> float:
    """Least radius to which the edge turns left between two stations; 0 at a corner."""
    within = (edge.stations[1:] > low + 1e-9) & (edge.stations[:-1] < high - 1e-9)
    bent = within & edge.is_arc & (edge.angles > 0)
    at = edge.stations
    corner = (corner_turns(edge) > 0) & (at >= low - 1e-9) & (at <= high + 1e-9)
    if corner.any():
        return 0.0
    return float(edge.radii[bent].min()) if bent.any() else math.inf


def _spans(kept: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of every run of True."""
    padded = np.concatenate([[False], kept, [False]])
    change = np.flatnonzero(padded[1:] != padded[:-1])
    return [(int(a), int(b) - 1) for a, b in zip(change[::2], change[1::2], strict=True)]


def _runs(
    stations: Floats,
    places: Callable[[Floats], Floats],
    standing: Callable[[Floats], NDArray[np.bool_]],
) -> tuple[Floats, ...]:
    kept = standing(places(stations))
    runs = []
    for first, last in _spans(kept):
        inner = [stations[first : last + 1]]
        if first > 0:
            inner.insert(0, _border(stations[first], stations[first - 1], places, standing))
        if last + 1 < len(stations):
            inner.append(_border(stations[last], stations[last + 1], places, standing))
        runs.append(places(np.concatenate(inner)))
    return tuple(runs)


def _border(
    good: float,
    bad: float,
    places: Callable[[Floats], Floats],
    standing: Callable[[Floats], NDArray[np.bool_]],
) -> Floats:
    """The last standing station (1,) between one that stands and one that does not."""
    for _ in range(40):
        middle = (good + bad) / 2
        if standing(places(np.array([middle])))[0]:
            good = middle
        else:
            bad = middle
    return np.array([good])

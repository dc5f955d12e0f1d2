"""Measuring an offset: both ways, along its pieces, and its loops."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, winding
from knifecam.curve.curve import Floats
from knifecam.curve.distance import nearest_pieces
from knifecam.paths.raw import left, wrapped

BETWEEN = 5e-4
"""mm: nothing that reaches deeper into the path than this can hide between two places measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Deviation:
    """Worst deviations of an offset, mm, over ``places`` measured.

    Parameters
    ----------
    nearer : float
        How much nearer than the distance the path comes to the curve (gouged).
    farther : float
        How much farther than the distance it strays (metal left).
    missed : float
        How far from the path a place lies that a cutter can stand at, touching the curve.
    loops_right : bool
        Inward every loop runs counter-clockwise and inside; outward the first does and goes all
        round, and the others run clockwise inside it.
    places : int
    """

    nearer: float
    farther: float
    missed: float
    loops_right: bool
    places: int


def measure_offset(
    curve: Curve, loops: Sequence[Curve], distance: float, *, room: float = 1e-5
) -> Deviation:
    """Return how far ``loops`` are from the offset of the closed ``curve`` by ``distance`` mm.

    Along the path places stand so close that nothing can come nearer than the distance by more
    than `BETWEEN` unseen: what is nearer than the distance bulges with a radius of at least it.
    A path that may stray by ``room`` mm need not come where a cutter larger by that does not fit.
    """
    away = abs(distance)
    inside_left = curve.counter_clockwise()
    source = inside_left if distance < 0 else inside_left.reversed()
    arrays = source.arrays()
    path = [_spaced(loop, away)[0] for loop in loops]
    off = nearest_pieces(np.concatenate(path), *arrays)[0] - away if path else np.zeros(1)
    missed, places = _missed(source, loops, away, max(room, 1e-5))
    return Deviation(
        nearer=float(max(0.0, -off.min())),
        farther=float(max(0.0, off.max())),
        missed=missed,
        loops_right=_loops_right(inside_left, loops, distance),
        places=len(off) + places,
    )


def is_measured(deviation: Deviation, *, nearer: float, farther: float) -> bool:
    """Return whether an offset is right within ``nearer`` and ``farther`` mm."""
    return (
        deviation.loops_right
        and deviation.nearer <= nearer
        and deviation.farther <= farther
        and deviation.missed <= max(nearer, farther)
    )


def _spaced(curve: Curve, away: float) -> tuple[Floats, Floats]:
    """Return points (K, 2) and headings (K,) along every piece, its start among them."""
    with np.errstate(divide="ignore"):
        bend = 1 / away + np.where(curve.angles > 0, 1 / curve.radii, 0.0)
    counts = np.ceil(curve.lengths / np.sqrt(8 * BETWEEN / bend)).astype(np.int64) + 1
    piece = np.repeat(np.arange(len(curve)), counts)
    first = np.cumsum(counts) - counts
    fraction = (np.arange(len(piece)) - first[piece]) / counts[piece]
    return points_on(curve, piece, fraction)


def points_on(curve: Curve, piece: NDArray[np.int64], fraction: Floats) -> tuple[Floats, Floats]:
    """Return points (K, 2) and headings (K,) at fractions 0..1 of pieces."""
    half = curve.angles[piece] / 2
    gone = fraction * half
    sine = np.sin(half)
    curved = np.abs(sine) > 1e-9
    scale = np.where(curved, np.sin(gone) / np.where(curved, sine, 1.0), fraction)
    turn = gone - half
    chord = (curve.ends - curve.starts)[piece]
    c, s = np.cos(turn), np.sin(turn)
    moved = np.stack([chord[:, 0] * c - chord[:, 1] * s, chord[:, 0] * s + chord[:, 1] * c], axis=1)
    headings = curve.start_headings[piece] + 2 * gone
    return curve.starts[piece] + scale[:, None] * moved, headings


def _missed(source: Curve, loops: Sequence[Curve], away: float, room: float) -> tuple[float, int]:
    """Return how far the path is, at worst, from where a cutter on the left can touch the source.

    A cutter can stand at ``p + away n`` if one larger by ``room`` touches nothing but p.
    """
    points, headings = _spaced(source, away)
    fan_points, fan_headings = _fans(source, away)
    points = np.concatenate([points, fan_points])
    normal = left(np.concatenate([headings, fan_headings]))
    larger = away + room
    free = nearest_pieces(points + larger * normal, *source.arrays())[0] >= larger - 1e-9
    if not free.any():
        return 0.0, len(points)
    if not loops:
        return float("inf"), len(points)
    standing = (points + away * normal)[free]
    joined = [np.concatenate(rows) for rows in zip(*(c.arrays() for c in loops), strict=True)]
    gap = nearest_pieces(standing, *joined)[0]
    return float(gap.max()), len(points) + len(standing)


def _fans(source: Curve, away: float) -> tuple[Floats, Floats]:
    """Return the convex corners' vertices, repeated, with headings across each corner's turn."""
    arriving = np.roll(source.end_headings, 1)
    turn = wrapped(source.start_headings - arriving)
    step = np.sqrt(8 * BETWEEN / away)
    counts = np.where(turn < -1e-9, np.ceil(-turn / step), 0).astype(np.int64)
    vertex = np.repeat(np.arange(len(source)), counts)
    first = np.cumsum(counts) - counts
    fraction = (np.arange(len(vertex)) - first[vertex] + 0.5) / np.maximum(counts[vertex], 1)
    return source.starts[vertex], arriving[vertex] + fraction * turn[vertex]


def _loops_right(curve: Curve, loops: Sequence[Curve], distance: float) -> bool:
    if not loops:
        return distance < 0
    inside = [bool(winding(loop.vertices[:1], curve)[0] != 0) for loop in loops]
    if distance < 0:
        return all(inside) and all(loop.area > 0 for loop in loops)
    outer, holes = loops[0], loops[1:]
    within = winding(np.array([c.vertices[0] for c in (curve, *holes)]), outer) != 0
    return (
        not any(inside)
        and outer.area > 0
        and all(hole.area < 0 for hole in holes)
        and bool(within.all())
    )

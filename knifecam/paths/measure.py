"""Measuring an offset: both ways, along its pieces, and its loops."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, winding
from knifecam.curve.curve import Floats, boxes_of
from knifecam.curve.pieces import joints, left
from knifecam.paths.walk import walk_path, walk_source

BETWEEN = 5e-4
"""mm: nothing that reaches deeper into the path than this can hide between two places measured."""

STUB = 1e-9
"""mm: a piece this short is a point."""

SAME = 1e-7
"""mm: a path this near to where a cutter can stand passes there."""


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One side of a closed curve, and how far away on it an offset is to be.

    Parameters
    ----------
    enclosing : Curve
        The curve counter-clockwise.
    source : Curve
        The curve with the side on its left.
    away : float, mm
    inward : bool
    """

    enclosing: Curve
    source: Curve
    away: float
    inward: bool

    @staticmethod
    def of(curve: Curve, distance: float) -> Side:
        """Return the side of a curve that ``distance``, positive outward, lies on."""
        enclosing = without_stubs(curve).counter_clockwise()
        source = enclosing if distance < 0 else enclosing.reversed()
        return Side(enclosing=enclosing, source=source, away=abs(distance), inward=distance < 0)


def without_stubs(curve: Curve) -> Curve:
    """Return the curve without pieces too short to have a direction."""
    chord = curve.ends - curve.starts
    real = np.hypot(chord[:, 0], chord[:, 1]) > STUB
    if real.all():
        return curve
    return Curve(curve.vertices[real], curve.bulges[real])


def measure_offset(
    curve: Curve, loops: Sequence[Curve], distance: float, *, room: float = 1e-5
) -> Deviation:
    """Return how far ``loops`` are from the offset of the closed ``curve`` by ``distance`` mm.

    Along the path places stand so close that nothing can come nearer than the distance by more
    than `BETWEEN` unseen: what is nearer than the distance bulges with a radius of at least it.
    A path that may stray by ``room`` mm need not come where a cutter larger by that does not fit.
    """
    return measured(Side.of(curve, distance), loops, room=room)


def measured(side: Side, loops: Sequence[Curve], *, room: float) -> Deviation:
    """Return how far ``loops`` are from the offset on the side, as `measure_offset` does."""
    away = side.away
    path = np.concatenate([np.zeros((0, 8)), *(loop.table for loop in loops)])
    source = (side.source.table, *side.source.boxes)
    low, high, count = away, away, 0
    if loops:
        lengths = np.concatenate([loop.lengths for loop in loops])
        steps = np.concatenate([_steps(loop, away) for loop in loops])
        low, high, count = walk_path(path, lengths, steps, *source, away)
    room = max(room, 1e-5)
    standing, parts = _standing(side.source, away, room)
    along = (path, *boxes_of(path))
    missed = walk_source(*standing, parts, away + room, SAME, *along, *source)
    return Deviation(
        nearer=max(0.0, away - low),
        farther=max(0.0, high - away),
        missed=missed,
        loops_right=_loops_right(side, loops),
        places=count + int(parts.sum()),
    )


def is_measured(
    deviation: Deviation, *, nearer: float, farther: float, missed: float | None = None
) -> bool:
    """Return whether an offset is right within ``nearer``, ``farther`` and ``missed`` mm.

    Without ``missed`` the larger of the others.
    """
    return (
        deviation.loops_right
        and deviation.nearer <= nearer
        and deviation.farther <= farther
        and deviation.missed <= (max(nearer, farther) if missed is None else missed)
    )


def _steps(curve: Curve, away: float) -> Floats:
    """Return for each piece how far apart places may be measured, mm."""
    with np.errstate(divide="ignore"):
        bend = 1 / away + np.where(curve.angles > 0, 1 / curve.radii, 0.0)
    return np.asarray(np.sqrt(8 * BETWEEN / bend))


def _standing(
    source: Curve, away: float, room: float
) -> tuple[tuple[Floats, Floats], NDArray[np.int64]]:
    """Return where a cutter left of the source, touching it, stands, and one larger by ``room``.

    Pieces and fans about convex corners, as rows of start, end, centre, radius and angle: the first
    cutter's way and the larger one's, (K, 8) each without centres and radii; and in how many parts
    to measure each, (K,).
    """
    arriving, turn = joints(source)
    fans = np.flatnonzero(turn < -1e-9)
    corner = source.starts[fans]
    foot = np.concatenate([source.starts, corner]), np.concatenate([source.ends, corner])
    leaving = left(np.concatenate([source.start_headings, arriving[fans]]))
    coming = left(np.concatenate([source.end_headings, source.start_headings[fans]]))
    angles = np.concatenate([np.where(source.is_arc, source.angles, 0.0), turn[fans]])
    steps = _steps(source, away)
    parts = np.concatenate([source.lengths / steps, -turn[fans] * np.sqrt(away / 8 / BETWEEN)])
    ways = []
    for reach in (away, away + room):
        way = np.zeros((len(angles), 8))
        way[:, :2], way[:, 2:4] = foot[0] + reach * leaving, foot[1] + reach * coming
        way[:, 7] = angles
        ways.append(way)
    return (ways[0], ways[1]), np.ceil(parts).astype(np.int64)


def _loops_right(side: Side, loops: Sequence[Curve]) -> bool:
    curve = side.enclosing
    if not loops:
        return side.inward
    inside = winding(np.array([loop.vertices[0] for loop in loops]), curve) != 0
    if side.inward:
        return bool(inside.all()) and all(loop.area > 0 for loop in loops)
    outer, holes = loops[0], loops[1:]
    within = winding(np.array([c.vertices[0] for c in (curve, *holes)]), outer) != 0
    return (
        not inside.any()
        and outer.area > 0
        and all(hole.area < 0 for hole in holes)
        and bool(within.all())
    )

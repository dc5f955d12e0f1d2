"""An offset measured both ways: along its path and along its source.

Kernels on tables of pieces, as `Curve.table` gives them. The whole call tree is in this
file, since a disk cache of compiled code does not see changes elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from knifecam.compiled import inner, outer
from knifecam.curve import Curve, winding
from knifecam.curve.curve import Floats, Piece, boxes_of
from knifecam.curve.pieces import joints, left
from knifecam.paths.paths_limits import (
    BETWEEN_PLACES_MM,
    NEAREST_ANYWAY_MM,
    POINT_PIECE_MM,
    STANDS_WITHIN_MM,
)

NONE = cast("int", np.int64(-1))
"""No piece; of a type of its own, so that nothing is compiled twice for it."""


FIRST_PIECE = cast("int", np.int64(0))
"""The first piece, of the same type."""


class Searched(NamedTuple):
    """A table of pieces (M, 8), with the `Boxes` by which it is searched."""

    table: Floats
    boxes: Floats
    wide: Floats
    group: int


def _piece_of(table: Floats, k: int) -> Piece:
    return Piece(
        table[k, 0], table[k, 1], table[k, 2], table[k, 3],
        table[k, 4], table[k, 5], table[k, 6], table[k, 7],
    )  # fmt: skip


piece_of = inner(_piece_of)


def _size(x: float, y: float) -> float:
    return math.sqrt(x * x + y * y)


size = inner(_size)


def _gap(px: float, py: float, p: Piece) -> float:
    """Distance from a point to a piece."""
    vx = px - p.ax
    vy = py - p.ay
    if p.radius == 0.0:
        dx = p.bx - p.ax
        dy = p.by - p.ay
        squared = dx * dx + dy * dy
        t = (vx * dx + vy * dy) / squared if squared > 0.0 else 0.0
        t = t if t > 0.0 else 0.0
        t = t if t < 1.0 else 1.0
        return size(vx - t * dx, vy - t * dy)
    sign = 1.0 if p.angle > 0 else -1.0
    ux = p.ax - p.cx
    uy = p.ay - p.cy
    wx = px - p.bx
    wy = py - p.by
    after = sign * (ux * vy - uy * vx)
    before = sign * (wx * (p.by - p.cy) - wy * (p.bx - p.cx))
    if after >= 0.0 and before >= 0.0:
        power = vx * vx + vy * vy + 2.0 * (vx * ux + vy * uy)
        return abs(power) / (size(px - p.cx, py - p.cy) + p.radius)
    first = size(vx, vy)
    last = size(wx, wy)
    return first if first < last else last


gap = inner(_gap)


def _outside(px: float, py: float, boxes: Floats, k: int) -> float:
    """Squared distance from a point to a box."""
    left = boxes[k, 0] - px
    right = px - boxes[k, 2]
    below = boxes[k, 1] - py
    above = py - boxes[k, 3]
    dx = left if left > right else right
    dy = below if below > above else above
    dx = dx if dx > 0.0 else 0.0
    dy = dy if dy > 0.0 else 0.0
    return dx * dx + dy * dy


outside = inner(_outside)


def _nearest(
    px: float, py: float, but: int, reach: float, enough: float, among: Searched
) -> tuple[float, int]:
    """Nearest piece within ``reach``, piece ``but`` left out; the first within ``enough`` will do."""
    count = among.table.shape[0]
    best = reach
    found = NONE
    for g in range(among.wide.shape[0]):
        if outside(px, py, among.wide, g) > best * best:
            continue
        end = (g + 1) * among.group
        for k in range(g * among.group, end if end < count else count):
            if k == but or outside(px, py, among.boxes, k) > best * best:
                continue
            d = gap(px, py, piece_of(among.table, k))
            if d < best:
                best = d
                found = k
                if d <= enough:
                    return best, found
    return best, found


nearest = inner(_nearest)


def _place(t: float, p: Piece, half: float, sine: float, cosine: float) -> tuple[float, float]:
    """Place on a piece at the fraction t of it; half its angle, and that one's sine and cosine.

    With a chord's half angle h a place of an arc is sin(t h)/sin(h) of the chord from its start,
    turned by (1 - t) h to its right: full precision however flat the arc.
    """
    dx = p.bx - p.ax
    dy = p.by - p.ay
    if half == 0.0:
        return p.ax + t * dx, p.ay + t * dy
    rise = math.sin(t * half)
    run = math.cos(t * half)
    scale = rise / sine
    c = scale * (run * cosine + rise * sine)
    s = scale * (rise * cosine - run * sine)
    return p.ax + dx * c - dy * s, p.ay + dx * s + dy * c


place = inner(_place)


def _check_path(
    table: Floats, lengths: Floats, steps: Floats, source: Floats, boxes: Floats, wide: Floats,
    group: int, away: float,
) -> tuple[float, float, int]:  # fmt: skip
    """Least and greatest distance from the path's pieces to the source, and places measured.

    The piece of the source nearest to a path piece's middle is measured at every step. Of the
    others nothing can come within the distance sooner than they are farther than it: that far the
    walk goes at once.
    """
    among = Searched(source, boxes, wide, group)
    low = math.inf
    high = 0.0
    count = 0
    own = FIRST_PIECE
    for j in range(table.shape[0]):
        p = piece_of(table, j)
        length, step = lengths[j], steps[j]
        half = p.angle / 2
        sine = math.sin(half)
        cosine = math.cos(half)
        x, y = place(0.5, p, half, sine, cosine)
        d = gap(x, y, piece_of(source, own))
        d, k = nearest(x, y, own, d, -1.0, among)
        own = k if k >= 0 else own
        mine = piece_of(source, own)
        parts = math.ceil(length / step)
        for i in range(parts + 1):
            x, y = place(i / parts, p, half, sine, cosine)
            d = gap(x, y, mine)
            low = d if d < low else low
            if d > high and d > away + NEAREST_ANYWAY_MM:
                d, _ = nearest(x, y, NONE, d, high, among)
            high = d if d > high else high
        count += parts + 1
        s = 0.0
        while True:
            x, y = place(s / length, p, half, sine, cosine)
            d, _ = nearest(x, y, own, away + length, -1.0, among)
            low = d if d < low else low
            count += 1
            if s >= length:
                break
            gone = d - away
            s += gone if gone > step else step
            s = s if s < length else length
    return low, high, count


check_path = outer(_check_path)


def _check_source(
    ways: Floats, larger_ways: Floats, parts: NDArray[np.int64], larger: float, near: float,
    path: Floats, boxes: Floats, wide: Floats, group: int,
    source: Floats, s_boxes: Floats, s_wide: Floats, s_group: int,
) -> float:  # fmt: skip
    """Greatest distance to the path from where a cutter touching the source can stand.

    Its ways along each piece of the source, pieces themselves, are measured in the middles of
    ``parts``: at an end in a sharp inner corner it would stand outside. Where the path is within
    ``near`` nothing more is asked; elsewhere whether a cutter of the radius ``larger``, on its own
    ways, has room there.
    """
    along = Searched(path, boxes, wide, group)
    among = Searched(source, s_boxes, s_wide, s_group)
    worst = 0.0
    last = FIRST_PIECE
    for j in range(parts.shape[0]):
        p, q = piece_of(ways, j), piece_of(larger_ways, j)
        half = p.angle / 2
        sine = math.sin(half)
        cosine = math.cos(half)
        for i in range(parts[j]):
            t = (i + 0.5) / parts[j]
            x, y = place(t, p, half, sine, cosine)
            d = gap(x, y, piece_of(path, last)) if path.shape[0] > 0 else math.inf
            if d > near:
                d, k = nearest(x, y, NONE, d, near, along)
                last = k if k >= 0 else last
            if d <= worst:
                continue
            if d > near:
                x, y = place(t, q, half, sine, cosine)
                free, _ = nearest(x, y, NONE, larger - 1e-9, larger - 1e-9, among)
                if free < larger - 1e-9:
                    continue
            worst = d
    return worst


check_source = outer(_check_source)


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
class OffsetSide:
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
    def of(curve: Curve, distance: float) -> OffsetSide:
        """Return the side of a curve that ``distance``, positive outward, lies on."""
        enclosing = without_stubs(curve).counter_clockwise()
        source = enclosing if distance < 0 else enclosing.reversed()
        return OffsetSide(
            enclosing=enclosing, source=source, away=abs(distance), inward=distance < 0
        )


def without_stubs(curve: Curve) -> Curve:
    """Return the curve without pieces too short to have a direction."""
    chord = curve.ends - curve.starts
    real = np.hypot(chord[:, 0], chord[:, 1]) > POINT_PIECE_MM
    if real.all():
        return curve
    return Curve(curve.vertices[real], curve.bulges[real])


def measure_offset(
    curve: Curve, loops: Sequence[Curve], distance: float, *, room: float = 1e-5
) -> Deviation:
    """Return how far ``loops`` are from the offset of the closed ``curve`` by ``distance`` mm.

    Along the path places stand so close that nothing can come nearer than the distance by more
    than `BETWEEN_PLACES_MM` unseen: what is nearer than the distance bulges with a radius of at least it.
    A path that may stray by ``room`` mm need not come where a cutter larger by that does not fit.
    """
    return measured(OffsetSide.of(curve, distance), loops, room=room)


def measured(side: OffsetSide, loops: Sequence[Curve], *, room: float) -> Deviation:
    """Return how far ``loops`` are from the offset on the side, as `measure_offset` does."""
    away = side.away
    path = np.concatenate([np.zeros((0, 8)), *(loop.table for loop in loops)])
    source = (side.source.table, *side.source.boxes)
    low, high, count = away, away, 0
    if loops:
        lengths = np.concatenate([loop.lengths for loop in loops])
        steps = np.concatenate([_steps(loop, away) for loop in loops])
        low, high, count = check_path(path, lengths, steps, *source, away)
    room = max(room, 1e-5)
    standing, parts = _standing(side.source, away, room)
    along = (path, *boxes_of(path))
    missed = check_source(*standing, parts, away + room, STANDS_WITHIN_MM, *along, *source)
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
    return np.asarray(np.sqrt(8 * BETWEEN_PLACES_MM / bend))


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
    parts = np.concatenate(
        [source.lengths / steps, -turn[fans] * np.sqrt(away / 8 / BETWEEN_PLACES_MM)]
    )
    ways = []
    for reach in (away, away + room):
        way = np.zeros((len(angles), 8))
        way[:, :2], way[:, 2:4] = foot[0] + reach * leaving, foot[1] + reach * coming
        way[:, 7] = angles
        ways.append(way)
    return (ways[0], ways[1]), np.ceil(parts).astype(np.int64)


def _loops_right(side: OffsetSide, loops: Sequence[Curve]) -> bool:
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

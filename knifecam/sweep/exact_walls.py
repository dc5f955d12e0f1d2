"""Exact walls: how far from a place the cutter's side came, at stated heights.

No grid is involved: at every height the distance from the place to the axis' path is taken, over
the part of each motion in which the cutter has a section at that height, less the radius of that
section. The kernels' whole call tree stays in this file.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.compiled import inner, outer
from knifecam.curve import Motions
from knifecam.sweep.columns import Buckets, buckets
from knifecam.sweep.sweep_limits import (
    ALONG_PATH_MM,
    CAME_NEAR_MM,
    GOLDEN_SHARE,
    REACHED_MM,
    TIE_MM,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]

ARC = 2
"""The kind of a motion along an arc."""

# columns of a table of motions: start, stop, centre, turns (0 for lines), cutter
START_AT, STOP_AT, CENTRE_AT, TURNS_AT, RADIUS_AT, CORNER_AT, FLAT_AT, RISE_AT = (
    0,
    3,
    6,
    8,
    9,
    10,
    11,
    12,
)


class CutterEnd(NamedTuple):
    """The end of a cutter: from ``flat`` at its tip it widens to R at ``rise`` above it.

    By a corner of radius r where there is one, else by a cone.
    """

    R: float
    r: float
    flat: float
    rise: float


def _larger(a: float, b: float) -> float:
    return a if a > b else b


larger = inner(_larger)


def _smaller(a: float, b: float) -> float:
    return a if a < b else b


smaller = inner(_smaller)


def _section(above: float, f: CutterEnd) -> float:
    """Return the cutter's radius at a height above its tip, at least 0."""
    if above >= f.rise:
        return f.R
    if f.r == 0.0:
        return f.flat + (f.R - f.flat) * above / f.rise
    rest = f.r - above
    return f.flat + math.sqrt(larger(f.r * f.r - rest * rest, 0.0))


section = inner(_section)


class Bins(NamedTuple):
    """The `Buckets` of places: where the first lies, mm, their side, and how many there are."""

    x0: float
    y0: float
    size: float
    nx: int
    ny: int


class AxisPath(NamedTuple):
    """The axis' path in one motion, and its tip's height: a line, an arc, or a helix."""

    arc: bool
    ax: float
    ay: float
    dx: float
    dy: float
    z: float
    dz: float
    cx: float
    cy: float
    begin: float  # angle of the start
    whole: float  # angle turned, positive counter-clockwise
    first: float  # radius at the start
    last: float  # and at the stop


def _path_of(table: Floats, k: int) -> AxisPath:
    ax, ay, z = table[k, START_AT], table[k, START_AT + 1], table[k, START_AT + 2]
    bx, by = table[k, STOP_AT], table[k, STOP_AT + 1]
    cx, cy = table[k, CENTRE_AT], table[k, CENTRE_AT + 1]
    rx, ry = ax - cx, ay - cy
    return AxisPath(
        table[k, TURNS_AT] != 0.0, ax, ay, bx - ax, by - ay, z, table[k, STOP_AT + 2] - z,
        cx, cy, math.atan2(ry, rx), 2.0 * math.pi * table[k, TURNS_AT], math.hypot(rx, ry),
        math.hypot(bx - cx, by - cy),
    )  # fmt: skip


path_of = inner(_path_of)


def _axis_distance(t: float, p: AxisPath, x: float, y: float) -> float:
    """Return the distance from a place to the axis at ``t`` (0 to 1) of a motion."""
    if p.arc:
        radius = p.first + (p.last - p.first) * t
        angle = p.begin + p.whole * t
        return math.hypot(p.cx + radius * math.cos(angle) - x, p.cy + radius * math.sin(angle) - y)
    return math.hypot(p.ax + p.dx * t - x, p.ay + p.dy * t - y)


axis_distance = inner(_axis_distance)


def _passing(low: float, p: AxisPath, x: float, y: float) -> float:
    """Return the first moment from ``low`` on at which the axis passes a place on an arc.

    It does so once a turn, but never passes the arc's centre: inf.
    """
    if x == p.cx and y == p.cy:
        return math.inf
    turn = 2.0 * math.pi / abs(p.whole)
    t = (math.atan2(y - p.cy, x - p.cx) - p.begin) / p.whole
    return t + turn * math.ceil((low - t) / turn)


passing = inner(_passing)


def _path_distance(low: float, high: float, p: AxisPath, x: float, y: float) -> float:
    """Return the least distance from a place to the axis between ``low`` and ``high`` (0 to 1)."""
    if not p.arc:
        squared = p.dx * p.dx + p.dy * p.dy
        t = ((x - p.ax) * p.dx + (y - p.ay) * p.dy) / squared if squared > 0.0 else low
        t = t if t > low else low
        return axis_distance(t if t < high else high, p, x, y)
    one, other = axis_distance(low, p, x, y), axis_distance(high, p, x, y)
    best = one if one < other else other
    rho = math.hypot(x - p.cx, y - p.cy)
    t = passing(low, p, x, y)
    while t <= high:
        apart = abs(rho - p.first - (p.last - p.first) * t)
        best = apart if apart < best else best
        t += 2.0 * math.pi / abs(p.whole)
    return best


path_distance = inner(_path_distance)


def _at_least(p: AxisPath, x: float, y: float) -> float:
    """Return a distance no place of the axis' path is nearer than."""
    if p.arc:
        rho = math.sqrt((x - p.cx) * (x - p.cx) + (y - p.cy) * (y - p.cy))
        return larger(rho - larger(p.first, p.last), smaller(p.first, p.last) - rho)
    wide, deep = 0.5 * abs(p.dx), 0.5 * abs(p.dy)
    beside, below = abs(x - p.ax - 0.5 * p.dx) - wide, abs(y - p.ay - 0.5 * p.dy) - deep
    return larger(beside, below)


at_least = inner(_at_least)


def _error_at(t: float, p: AxisPath, x: float, y: float, height: float, f: CutterEnd) -> float:
    above = larger(height - p.z - p.dz * t, 0.0)
    return axis_distance(t, p, x, y) - section(above, f)


error_at = inner(_error_at)


def _corner_error(low: float, high: float, p: AxisPath, x: float, y: float, height: float, f: CutterEnd,
                  best: float) -> float:  # fmt: skip
    """Return the least error while the corner or cone passes the height, or ``best`` if that is less.

    Along a line the error is convex. Along an arc it is looked for in pieces of 5 degrees.
    """
    pieces = 1
    speed = math.hypot(p.dx, p.dy)
    if p.arc:
        pieces = math.ceil(abs(p.whole) * (high - low) / 0.0873) + 1
        speed = abs(p.whole) * larger(p.first, p.last)
        t = passing(low, p, x, y)
        while t <= high:  # where the axis passes it is near the least: most pieces are left out
            best = smaller(best, error_at(t, p, x, y, height, f))
            t += 2.0 * math.pi / abs(p.whole)
    width = (high - low) / pieces
    for k in range(pieces):
        a = low + k * width
        b = a + width
        widest = section(larger(height - p.z - p.dz * (b if p.dz < 0.0 else a), 0.0), f)
        if axis_distance(0.5 * (a + b), p, x, y) - 0.5 * speed * width - widest >= best:
            continue
        if path_distance(a, b, p, x, y) - widest >= best:
            continue
        c = b - GOLDEN_SHARE * (b - a)
        d = a + GOLDEN_SHARE * (b - a)
        fc = error_at(c, p, x, y, height, f)
        fd = error_at(d, p, x, y, height, f)
        best = smaller(best, error_at(a, p, x, y, height, f))
        best = smaller(best, error_at(b, p, x, y, height, f))
        while (b - a) * speed > ALONG_PATH_MM:
            if fc < fd:
                b, d, fd = d, c, fc
                c = b - GOLDEN_SHARE * (b - a)
                fc = error_at(c, p, x, y, height, f)
            else:
                a, c, fc = c, d, fd
                d = a + GOLDEN_SHARE * (b - a)
                fd = error_at(d, p, x, y, height, f)
        best = smaller(best, smaller(fc, fd))
    return best


corner_error = inner(_corner_error)


def _motion_error(p: AxisPath, x: float, y: float, height: float, f: CutterEnd, nearest: float,
                  best: float) -> float:  # fmt: skip
    """Return the error one motion leaves at a place and height, or ``best`` if that is less.

    ``nearest`` is the distance to the whole path.
    """
    if p.dz == 0.0 or (p.dx == 0.0 and p.dy == 0.0 and not p.arc):  # level, or upright
        above = height - smaller(p.z, p.z + p.dz)
        if above < -REACHED_MM:
            return best
        return smaller(best, nearest - section(larger(above, 0.0), f))
    if nearest - f.R >= best or height < smaller(p.z, p.z + p.dz) - REACHED_MM:
        return best
    # when the tip is below the height by the end's rise, and when it is below at all
    deep = (height - f.rise - p.z) / p.dz
    touch = (height + REACHED_MM - p.z) / p.dz
    if p.dz > 0.0:
        low, high = 0.0, smaller(1.0, deep)
        corner_low, corner_high = larger(0.0, deep), smaller(1.0, touch)
    else:
        low, high = larger(0.0, deep), 1.0
        corner_low, corner_high = larger(0.0, touch), smaller(1.0, deep)
    if low <= high:
        best = smaller(best, path_distance(low, high, p, x, y) - f.R)
    if corner_low <= corner_high:
        if f.rise == 0.0:
            best = smaller(best, path_distance(corner_low, corner_high, p, x, y) - f.R)
        else:
            best = corner_error(corner_low, corner_high, p, x, y, height, f, best)
    return best


motion_error = inner(_motion_error)


def _window(p: AxisPath, grown: float, b: Bins) -> tuple[int, int, int, int]:
    """Return the first and last column and row of buckets within ``grown`` mm of a path."""
    # an arc of at most half a turn lies in the circle about its chord
    x, y, wide, deep = p.ax + 0.5 * p.dx, p.ay + 0.5 * p.dy, 0.5 * abs(p.dx), 0.5 * abs(p.dy)
    if p.arc:
        if abs(p.whole) <= math.pi:
            wide = 0.5 * math.hypot(p.dx, p.dy) + abs(p.last - p.first)
        else:
            x, y = p.cx, p.cy
            wide = p.first if p.first > p.last else p.last
        deep = wide
    left = math.floor((x - wide - grown - b.x0) / b.size)
    right = math.floor((x + wide + grown - b.x0) / b.size)
    low = math.floor((y - deep - grown - b.y0) / b.size)
    high = math.floor((y + deep + grown - b.y0) / b.size)
    return (
        left if left > 0 else 0, right if right < b.nx else b.nx - 1,
        low if low > 0 else 0, high if high < b.ny else b.ny - 1,
    )  # fmt: skip


window = inner(_window)


def _look(k: int, reached: int, x: float, y: float, p: AxisPath, f: CutterEnd, heights: Floats,
          error: Floats, motion: Ints, least: Floats, most: Floats, i: int) -> None:  # fmt: skip
    """Bring a place's errors up to date with a motion, whose tip reaches heights from one on."""
    nearest = path_distance(0.0, 1.0, p, x, y)
    if nearest - f.R >= most[i, reached] - TIE_MM:
        return
    for h in range(reached, heights.size):
        best = least[i, h]
        if nearest - f.R >= best - TIE_MM:
            continue
        e = motion_error(p, x, y, heights[h], f, nearest, best)
        if e < best - TIE_MM:
            error[i, h] = e
            least[i, h] = e
            motion[i, h] = k
    above = -math.inf
    for h in range(heights.size - 1, -1, -1):
        above = least[i, h] if least[i, h] > above else above
        most[i, h] = above


look = inner(_look)


def _wall_errors(
    places: Floats, begins: Longs, x0: float, y0: float, size: float, nx: int, ny: int,
    heights: Floats, table: Floats, error: Floats, motion: Ints, least: Floats, most: Floats,
) -> None:  # fmt: skip
    """Fill in errors and motions, (n, H), at places sorted by bucket; ``heights`` rise.

    ``table`` (M, 13) holds the motions. A motion is looked at only where it may come nearer than
    ``least`` (n, H) at a height that its tip reaches: ``most`` (n, H) is the greatest of these at a
    height or above it.
    """
    bins = Bins(x0, y0, size, nx, ny)
    for k in range(table.shape[0]):
        z, to = table[k, START_AT + 2], table[k, STOP_AT + 2]
        lowest = (z if z < to else to) - REACHED_MM
        reached = 0
        while reached < heights.size and heights[reached] < lowest:
            reached += 1
        if reached == heights.size:
            continue
        p = path_of(table, k)
        f = CutterEnd(
            table[k, RADIUS_AT], table[k, CORNER_AT], table[k, FLAT_AT], table[k, RISE_AT]
        )
        left, right, low, high = window(p, f.R + CAME_NEAR_MM, bins)
        if left > right:
            continue
        for j in range(low, high + 1):
            for i in range(begins[j * nx + left], begins[j * nx + right + 1]):
                x, y = places[i, 0], places[i, 1]
                if at_least(p, x, y) - f.R < most[i, reached] - TIE_MM:
                    look(k, reached, x, y, p, f, heights, error, motion, least, most, i)


wall_errors = outer(_wall_errors)


def wall_error(
    points: ArrayLike,
    heights: ArrayLike,
    motions: Motions,
    radius: ArrayLike,
    corner: ArrayLike,
    *,
    tip: ArrayLike = 0.0,
    half_angle: ArrayLike = 0.0,
) -> tuple[Floats, NDArray[np.int32]]:
    """Return how much metal the cutter's side left at each place and height, and by which motion.

    The error is the least, over the motions whose tip reaches the height, of the distance from the
    place to the axis' path less the radius of the cutter's section there: negative where the
    cutter went past the place, positive where metal is left, inf (and motion -1) where nothing
    came within 0.5 mm. Exact within 1e-7 mm.

    Parameters
    ----------
    points : (n, 2) float, mm
        Places in one side's own frame.
    heights : (H,) float, mm
        In the same frame.
    motions : Motions
        In the same frame.
    radius, corner : (M,) float, mm
        Of each motion's cutter.
    tip : (M,) float, mm
        Radius of the flat tip of conical cutters, whose corner is 0.
    half_angle : (M,) float, rad
        Between a conical cutter and its axis; 0 for cutters that are no cones.

    Returns
    -------
    error : (H, n) float, mm
    motion : (H, n) int32
    """
    places = np.asarray(points, dtype=float).reshape(-1, 2)
    levels = np.array(heights, dtype=float).reshape(-1)
    count = len(motions)
    radii, corners, tips, halves = (
        np.array(np.broadcast_to(np.asarray(values, dtype=float), count))
        for values in (radius, corner, tip, half_angle)
    )
    if not np.all((radii > 0.0) & (corners >= 0.0) & (corners <= radii)):
        raise ValueError("every cutter needs a radius above 0 mm and a corner from 0 to that")
    if not (np.all(np.isfinite(places)) and np.all(np.isfinite(levels))):
        raise ValueError("points and heights must be finite")
    if not len(places):
        return np.zeros((len(levels), 0)), np.zeros((len(levels), 0), np.int32)
    cone = halves > 0.0
    flat = np.where(cone, tips, radii - corners)
    rise = np.where(cone, (radii - tips) / np.tan(np.where(cone, halves, 1.0)), corners)
    table = np.column_stack([
        motions.start, motions.stop, motions.centre,
        np.where(motions.kind == ARC, motions.turns, 0.0), radii, corners, flat, rise,
    ])  # fmt: skip
    near = buckets(places)
    rising = np.argsort(levels, kind="stable")
    found, by = _found(places[near.order], near, levels[rising], table)
    error = np.empty((len(levels), len(places)))
    motion = np.empty((len(levels), len(places)), np.int32)
    rows = rising[:, None]
    error[rows, near.order], motion[rows, near.order] = found.T, by.T
    return error, motion


def _found(places: Floats, near: Buckets, levels: Floats, table: Floats) -> tuple[Floats, Ints]:
    """Return errors and motions, (n, H), at sorted places and rising heights.

    Level motions are looked at first: sloped ones, along which the least has to be searched for,
    then only where they come as near.
    """
    level = table[:, START_AT + 2] == table[:, STOP_AT + 2]
    far = np.full((len(places), len(levels)), np.inf)
    error, motion = _nearer(far, np.flatnonzero(level), places, near, levels, table)
    other, by = _nearer(error, np.flatnonzero(~level), places, near, levels, table)
    nearer = (other < error - TIE_MM) | ((other <= error + TIE_MM) & (by >= 0) & (by < motion))
    return np.where(nearer, other, error), np.where(nearer, by, motion)


def _nearer(
    than: Floats, rows: Longs, places: Floats, near: Buckets, levels: Floats, table: Floats
) -> tuple[Floats, Ints]:
    """Return errors and motions of some ``rows`` of the table, where errors are less ``than``, (n, H).

    Elsewhere inf and -1.
    """
    error, motion = np.full(than.shape, np.inf), np.full(than.shape, -1, np.int32)
    least = np.minimum(than + 2 * TIE_MM, CAME_NEAR_MM)
    most = np.maximum.accumulate(least[:, ::-1], axis=1)[:, ::-1].copy()
    wall_errors(
        places, near.begins, near.x0, near.y0, near.size, near.nx, near.ny, levels, table[rows],
        error, motion, least, most,
    )  # fmt: skip
    return error, np.where(motion >= 0, rows[motion], -1).astype(np.int32) if len(rows) else motion

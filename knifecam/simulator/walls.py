"""Exact walls: how far from a place the cutter's side came, at stated heights.

No grid is involved: at every height the distance from the place to the axis' path is taken, over
the part of each motion in which the cutter has a section at that height, less the radius of that
section. The kernels' whole call tree stays in this file.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import ArrayLike, NDArray

from knifecam.curve import Motions
from knifecam.simulator.buckets import buckets

Floats = NDArray[np.float64]

NEAR = 0.5
"""mm: a cutter that stays farther away than this has not come near."""

REACHED = 1e-9
"""mm: a tip this little above a height still counts as having reached it."""

TIE = 1e-8
"""mm: of motions that come this equally near the first is named."""

ARC = 2
"""The kind of a motion along an arc."""

FINE = 1e-6
"""mm: along the path; the error changes by the square of this where it is least."""

GOLDEN = 0.6180339887498949

inner = njit(error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True)
"""Compiles what only compiled code calls: no way in from Python, hence half the time."""


class End(NamedTuple):
    """The end of a cutter: from ``flat`` at its tip it widens to R at ``rise`` above it.

    By a corner of radius r where there is one, else by a cone.
    """

    R: float
    r: float
    flat: float
    rise: float


def _section(above: float, f: End) -> float:
    """Return the cutter's radius at a height above its tip, at least 0."""
    if above >= f.rise:
        return f.R
    if f.r == 0.0:
        return f.flat + (f.R - f.flat) * above / f.rise
    rest = f.r - above
    return f.flat + math.sqrt(max(f.r * f.r - rest * rest, 0.0))


section = inner(_section)


class Path(NamedTuple):
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


def _path_of(kind: int, start: Floats, stop: Floats, centre: Floats, turns: float) -> Path:
    ax, ay, z = start[0], start[1], start[2]
    rx, ry = ax - centre[0], ay - centre[1]
    return Path(
        kind == ARC and turns != 0.0, ax, ay, stop[0] - ax, stop[1] - ay, z, stop[2] - z,
        centre[0], centre[1], math.atan2(ry, rx), 2.0 * math.pi * turns, math.hypot(rx, ry),
        math.hypot(stop[0] - centre[0], stop[1] - centre[1]),
    )  # fmt: skip


path_of = inner(_path_of)


def _axis_distance(t: float, p: Path, x: float, y: float) -> float:
    """Return the distance from a place to the axis at ``t`` (0 to 1) of a motion."""
    if p.arc:
        radius = p.first + (p.last - p.first) * t
        angle = p.begin + p.whole * t
        return math.hypot(p.cx + radius * math.cos(angle) - x, p.cy + radius * math.sin(angle) - y)
    return math.hypot(p.ax + p.dx * t - x, p.ay + p.dy * t - y)


axis_distance = inner(_axis_distance)


def _path_distance(low: float, high: float, p: Path, x: float, y: float) -> float:
    """Return the least distance from a place to the axis between ``low`` and ``high`` (0 to 1)."""
    if not p.arc:
        squared = p.dx * p.dx + p.dy * p.dy
        t = ((x - p.ax) * p.dx + (y - p.ay) * p.dy) / squared if squared > 0.0 else low
        return axis_distance(min(max(t, low), high), p, x, y)
    best = min(axis_distance(low, p, x, y), axis_distance(high, p, x, y))
    rho = math.hypot(x - p.cx, y - p.cy)
    if rho > 0.0:
        # the moments at which the axis passes the place, once a turn
        turn = 2.0 * math.pi / abs(p.whole)
        t = (math.atan2(y - p.cy, x - p.cx) - p.begin) / p.whole
        t += turn * math.ceil((low - t) / turn)
        while t <= high:
            best = min(best, abs(rho - p.first - (p.last - p.first) * t))
            t += turn
    return best


path_distance = inner(_path_distance)


def _at_least(p: Path, x: float, y: float) -> float:
    """Return a distance no place of the axis' path is nearer than."""
    if p.arc:
        rho = math.sqrt((x - p.cx) * (x - p.cx) + (y - p.cy) * (y - p.cy))
        return max(rho - max(p.first, p.last), min(p.first, p.last) - rho)
    wide, deep = 0.5 * abs(p.dx), 0.5 * abs(p.dy)
    beside, below = abs(x - p.ax - 0.5 * p.dx) - wide, abs(y - p.ay - 0.5 * p.dy) - deep
    return max(beside, below)


at_least = inner(_at_least)


def _error_at(t: float, p: Path, x: float, y: float, height: float, f: End) -> float:
    above = max(height - p.z - p.dz * t, 0.0)
    return axis_distance(t, p, x, y) - section(above, f)


error_at = inner(_error_at)


def _corner_error(low: float, high: float, p: Path, x: float, y: float, height: float, f: End,
                  best: float) -> float:  # fmt: skip
    """Return the least error while the corner or cone passes the height, or ``best`` if that is less.

    Along a line the error is convex. Along an arc it is looked for in pieces of 5 degrees.
    """
    pieces = 1
    speed = math.hypot(p.dx, p.dy)
    if p.arc:
        pieces = math.ceil(abs(p.whole) * (high - low) / 0.0873) + 1
        speed = abs(p.whole) * max(p.first, p.last)
    width = (high - low) / pieces
    for k in range(pieces + 1):
        best = min(best, error_at(low + k * width, p, x, y, height, f))
    for k in range(pieces):
        a = low + k * width
        b = a + width
        widest = section(max(height - p.z - p.dz * (b if p.dz < 0.0 else a), 0.0), f)
        if axis_distance(0.5 * (a + b), p, x, y) - 0.5 * speed * width - widest >= best:
            continue
        if path_distance(a, b, p, x, y) - widest >= best:
            continue
        c = b - GOLDEN * (b - a)
        d = a + GOLDEN * (b - a)
        fc = error_at(c, p, x, y, height, f)
        fd = error_at(d, p, x, y, height, f)
        while (b - a) * speed > FINE:
            if fc < fd:
                b, d, fd = d, c, fc
                c = b - GOLDEN * (b - a)
                fc = error_at(c, p, x, y, height, f)
            else:
                a, c, fc = c, d, fd
                d = a + GOLDEN * (b - a)
                fd = error_at(d, p, x, y, height, f)
        best = min(best, fc, fd)
    return best


corner_error = inner(_corner_error)


def _motion_error(p: Path, x: float, y: float, height: float, f: End, nearest: float,
                  best: float) -> float:  # fmt: skip
    """Return the error one motion leaves at a place and height, or ``best`` if that is less.

    ``nearest`` is the distance to the whole path.
    """
    if p.dz == 0.0 or (p.dx == 0.0 and p.dy == 0.0 and not p.arc):  # level, or upright
        above = height - min(p.z, p.z + p.dz)
        if above < -REACHED:
            return best
        return min(best, nearest - section(max(above, 0.0), f))
    if nearest - f.R >= best or height < min(p.z, p.z + p.dz) - REACHED:
        return best
    # when the tip is below the height by the end's rise, and when it is below at all
    deep = (height - f.rise - p.z) / p.dz
    touch = (height + REACHED - p.z) / p.dz
    if p.dz > 0.0:
        low, high, corner_low, corner_high = 0.0, min(1.0, deep), max(0.0, deep), min(1.0, touch)
    else:
        low, high, corner_low, corner_high = max(0.0, deep), 1.0, max(0.0, touch), min(1.0, deep)
    if low <= high:
        best = min(best, path_distance(low, high, p, x, y) - f.R)
    if corner_low <= corner_high:
        if f.rise == 0.0:
            best = min(best, path_distance(corner_low, corner_high, p, x, y) - f.R)
        else:
            best = corner_error(corner_low, corner_high, p, x, y, height, f, best)
    return best


motion_error = inner(_motion_error)


def _wall_errors(
    xs: Floats, ys: Floats, bucket: NDArray[np.int64], x0: float, y0: float, size: float, nx: int,
    ny: int, heights: Floats, kind: NDArray[np.uint8], start: Floats, stop: Floats,
    centre: Floats, turns: Floats, radius: Floats, corner: Floats, flat: Floats, rise: Floats,
) -> tuple[Floats, NDArray[np.int32]]:  # fmt: skip
    """Return errors and motions, (n, H), at places sorted by bucket; ``heights`` rise.

    A motion is looked at only where it may come nearer at a height that its tip reaches: ``most``
    holds the greatest error at a height or above it.
    """
    count = heights.size
    error = np.full((xs.size, count), math.inf)
    motion = np.full((xs.size, count), -1, np.int32)
    most = np.full((xs.size, count), NEAR)
    for k in range(kind.size):
        reached = 0
        while reached < count and heights[reached] < min(start[k, 2], stop[k, 2]) - REACHED:
            reached += 1
        if reached == count:
            continue
        p = path_of(kind[k], start[k], stop[k], centre[k], turns[k])
        f = End(radius[k], corner[k], flat[k], rise[k])
        grown = f.R + NEAR
        # an arc of at most half a turn lies in the circle about its chord
        mx, my, wide, deep = p.ax + 0.5 * p.dx, p.ay + 0.5 * p.dy, 0.5 * abs(p.dx), 0.5 * abs(p.dy)
        if p.arc:
            if abs(p.whole) <= math.pi:
                wide = deep = 0.5 * math.hypot(p.dx, p.dy) + abs(p.last - p.first)
            else:
                mx, my = p.cx, p.cy
                wide = deep = max(p.first, p.last)
        c = max(0, math.floor((mx - wide - grown - x0) / size))
        d = min(nx - 1, math.floor((mx + wide + grown - x0) / size))
        a = max(0, math.floor((my - deep - grown - y0) / size))
        b = min(ny - 1, math.floor((my + deep + grown - y0) / size))
        for j in range(a, b + 1):
            if c > d:
                break
            for i in range(bucket[j * nx + c], bucket[j * nx + d + 1]):
                limit = most[i, reached] - TIE + f.R
                if at_least(p, xs[i], ys[i]) >= limit:
                    continue
                nearest = path_distance(0.0, 1.0, p, xs[i], ys[i])
                if nearest >= limit:
                    continue
                for h in range(reached, count):
                    best = min(error[i, h], NEAR)
                    if nearest - f.R >= best - TIE:
                        continue
                    e = motion_error(p, xs[i], ys[i], heights[h], f, nearest, best)
                    if e < best - TIE:
                        error[i, h] = e
                        motion[i, h] = k
                above = -math.inf
                for h in range(count - 1, -1, -1):
                    above = max(above, min(error[i, h], NEAR))
                    most[i, h] = above
    return error, motion


wall_errors = njit(error_model="numpy", nogil=True, cache=True)(_wall_errors)


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
        np.array(np.broadcast_to(np.asarray(figures, dtype=float), count))
        for figures in (radius, corner, tip, half_angle)
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
    near = buckets(places)
    xs, ys = np.array(places[near.order].T)
    rising = np.argsort(levels, kind="stable")
    found, by = wall_errors(
        xs, ys, near.begins, near.x0, near.y0, near.size, near.nx, near.ny,
        levels[rising], motions.kind, motions.start, motions.stop, motions.centre, motions.turns,
        radii, corners, flat, rise,
    )  # fmt: skip
    error = np.empty((len(levels), len(places)))
    motion = np.empty((len(levels), len(places)), np.int32)
    rows = rising[:, None]
    error[rows, near.order], motion[rows, near.order] = found.T, by.T
    return error, motion

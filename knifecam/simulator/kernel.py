"""Compiled sweeps: how low a cutter comes over a column, and what it takes off there.

A motion is cut in steps: a piece of a line, or at most a twelfth of a turn of an arc or helix.
Over each column the lowest surface of the cutter in a step is found in closed form or, for
corner radii that climb or fall, from the one root of a smooth function. With R the cutter's
radius, r its corner radius, m the rise per mm, a column at s along the path and d beside it:

- flat, line: t = clamp(s - sign(m) sqrt(R^2 - d^2)), z = z0 + m t;
- ball, line: t = clamp(s - m sqrt(R^2 - d^2) / sqrt(1 + m^2)), z = z0 + m t + profile(distance);
- bull-nose, line: the slope of the profile along the path equals m at t (see `_lag`);
- flat, helix: the latest (falling) or first (rising) moment the column lies under the cutter;
- level arc: the distance to the arc is abs(rho - path radius) in its sector, else to an end;
- ball and bull-nose, helix: every minimum of z(angle) + profile(distance) (see `_lowest_turning`).

All but the last are exact to rounding; the last is within 1e-9 mm where its root is bracketed.
The field holds float64, `sign` is +1 where the upper face is cut and -1 where the lower one is:
heights in the cutting side's frame are ``sign * field``. The whole call tree stays in this file,
since a disk cache of compiled code does not see changes elsewhere. No result depends on threads.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]

TOUCH = 1e-9
"""mm: a column this far outside the rim still counts as under the cutter."""

EMPTY = 1e-9
"""mm: a column with less metal than this is empty, and stays so."""

RIM = 1e-3
"""mm: a skin thinner than this at the rim is cut, but is not counted as met."""

TILE = 32
"""Cells along the side of a tile; tiles hold a bound of their highest metal."""

VOID = 0.05
"""mm: the other side has a void where its face lies this far from where it was."""

ARC = 2
"""The kind of a motion along an arc."""

# columns of the measures of a step
MOTION, X, Y, Z, LENGTH, VOLUME, LEFT, FRONT, RIGHT, WIDTH, UNDER, TALLEST, SHANK, FLOOR = range(14)

# what a step's tally holds
_VOLUME, _LEFT, _FRONT, _RIGHT, _LOW, _HIGH, _GOUGE, _GOUGE_X, _GOUGE_Y = range(9)


class Work(NamedTuple):
    """Motions in the plane of the part, heights in the cutting side's frame; their cutters."""

    kind: NDArray[np.uint8]  # (M,)
    start: Floats  # (M, 3)
    stop: Floats  # (M, 3)
    centre: Floats  # (M, 2)
    turns: Floats  # (M,)
    radius: Floats  # (M,)
    corner: Floats  # (M,)
    parts: Ints  # (M,) how many steps each is cut in


class Field(NamedTuple):
    """Columns of the grid, (ny, nx): the face that is cut and the other one."""

    cut: Floats
    other: Floats
    emptied: Ints
    changed: Ints
    guard: Bools  # columns the cut must not touch, where guarded
    guarded: bool
    sign: float
    x0: float
    y0: float
    cell: float
    tiles: Floats  # a bound of the highest metal in each tile
    stale: Bools  # the bound may be too high


class Step(NamedTuple):
    """A piece of a motion: tip from a to b, its chord, and the arc it follows if it turns."""

    ax: float
    ay: float
    az: float
    bx: float
    by: float
    bz: float
    ux: float  # direction of the chord
    uy: float
    length: float  # of the chord, in the plane
    slope: float  # rise per mm of a line, per rad of an arc
    turning: bool
    cx: float
    cy: float
    path: float  # radius of the arc
    angle: float  # how far the arc turns, positive
    sense: float  # 1 counter-clockwise, -1 clockwise
    sag: float  # greatest distance of the arc from its chord


def _line_step(ax: float, ay: float, az: float, bx: float, by: float, bz: float) -> Step:
    dx = bx - ax
    dy = by - ay
    length = math.sqrt(dx * dx + dy * dy)
    if length < 1e-9:  # upright: only the lowest place counts
        low = min(az, bz)
        return Step(ax, ay, low, ax, ay, low, 1.0, 0.0, 0.0, 0.0, False, ax, ay, 0.0, 0.0, 1.0, 0.0)
    return Step(
        ax, ay, az, bx, by, bz, dx / length, dy / length, length, (bz - az) / length,
        False, ax, ay, 0.0, 0.0, 1.0, 0.0,
    )  # fmt: skip


line_step = njit(cache=True)(_line_step)


def _step_of(w: Work, k: int, part: int) -> Step:
    """Return one step of motion k; radii that differ at an arc's ends change step by step."""
    start, stop, centre, turns, parts = w.start[k], w.stop[k], w.centre[k], w.turns[k], w.parts[k]
    f = part / parts
    g = (part + 1) / parts
    az = start[2] + f * (stop[2] - start[2])
    bz = stop[2] if part == parts - 1 else start[2] + g * (stop[2] - start[2])
    if w.kind[k] == ARC:
        rx = start[0] - centre[0]
        ry = start[1] - centre[1]
        first = math.sqrt(rx * rx + ry * ry)
        last = math.sqrt((stop[0] - centre[0]) ** 2 + (stop[1] - centre[1]) ** 2)
        path = first + (last - first) * 0.5 * (f + g)
        whole = 2.0 * math.pi * turns
        angle = abs(whole) / parts
        if path * angle > 1e-9:
            begin = math.atan2(ry, rx)
            ca = math.cos(begin + f * whole)
            sa = math.sin(begin + f * whole)
            cb = math.cos(begin + g * whole)
            sb = math.sin(begin + g * whole)
            chord = 2.0 * path * math.sin(0.5 * angle)
            return Step(
                centre[0] + path * ca, centre[1] + path * sa, az,
                centre[0] + path * cb, centre[1] + path * sb, bz,
                path * (cb - ca) / chord, path * (sb - sa) / chord, chord, (bz - az) / angle,
                True, centre[0], centre[1], path, angle, 1.0 if turns > 0.0 else -1.0,
                path * (1.0 - math.cos(0.5 * angle)),
            )  # fmt: skip
    ax = start[0] + f * (stop[0] - start[0])
    ay = start[1] + f * (stop[1] - start[1])
    bx = stop[0] if part == parts - 1 else start[0] + g * (stop[0] - start[0])
    by = stop[1] if part == parts - 1 else start[1] + g * (stop[1] - start[1])
    return line_step(ax, ay, az, bx, by, bz)


step_of = njit(cache=True)(_step_of)


def _profile(distance: float, R: float, r: float) -> float:
    """Return the height of the cutter's surface above its tip at a distance from its axis."""
    v = distance - (R - r)
    if v <= 0.0:
        return 0.0
    w = r * r - v * v
    return r - math.sqrt(w) if w > 0.0 else r


profile = njit(cache=True)(_profile)


def _lag(d: float, half: float, m: float, R: float, r: float) -> float:
    """Return how far along a path of slope ``m`` the axis is from a column beside it by ``d``.

    The corner touches where sin(psi) w = abs(m) q cos(psi), psi the slope of the corner there,
    q = R - r + r sin(psi) the distance from the axis and w = sqrt(q^2 - d^2); the left side less
    the right grows from psi's least value to a right angle.
    """
    d = abs(d)
    flat = R - r
    low = math.asin(min(1.0, (d - flat) / r)) if d > flat else 0.0
    high = 0.5 * math.pi
    psi = 0.5 * (low + high)
    w = 0.0
    for _ in range(60):
        sine = math.sin(psi)
        cosine = math.cos(psi)
        q = flat + r * sine
        w = math.sqrt(max(q * q - d * d, 0.0))
        value = sine * w - m * q * cosine
        if value > 0.0:
            high = psi
        else:
            low = psi
        rate = cosine * w + m * q * sine - m * r * cosine * cosine
        if w > 0.0:
            rate += sine * q * r * cosine / w
        following = psi - value / rate if rate > 0.0 else low
        if not (low < following < high):
            following = 0.5 * (low + high)
        if abs(following - psi) < 1e-12:
            break
        psi = following
    return min(w, half)


lag = njit(cache=True)(_lag)


def _line_height(s: Step, R: float, r: float, x: float, y: float) -> float:
    px = x - s.ax
    py = y - s.ay
    along = px * s.ux + py * s.uy
    d = s.ux * py - s.uy * px
    squared = R * R - d * d
    if squared < -2.0 * R * TOUCH:
        return math.inf
    half = math.sqrt(squared) if squared > 0.0 else 0.0
    m = s.slope
    t = along
    if m != 0.0:
        if r == 0.0:
            t -= half if m > 0.0 else -half
        elif r == R:
            t -= half * m / math.sqrt(1.0 + m * m)
        elif m > 0.0:
            t -= lag(d, half, m, R, r)
        else:
            t += lag(d, half, -m, R, r)
    t = min(max(t, 0.0), s.length)
    u = t - along
    q = d * d + u * u
    if q > R * R + 2.0 * R * TOUCH:
        return math.inf
    return s.az + m * t + (profile(math.sqrt(q), R, r) if r > 0.0 else 0.0)


line_height = njit(cache=True)(_line_height)


def _distance_to_arc(s: Step, x: float, y: float) -> float:
    vx = x - s.cx
    vy = y - s.cy
    mx = 0.5 * (s.ax + s.bx) - s.cx
    my = 0.5 * (s.ay + s.by) - s.cy
    rho = math.sqrt(vx * vx + vy * vy)
    # the chord's middle lies on the sector's axis, at path * cos(angle / 2) = path - sag
    if (vx * mx + vy * my) * s.path >= rho * (s.path - s.sag) * (s.path - s.sag):
        return abs(rho - s.path)
    a = (x - s.ax) ** 2 + (y - s.ay) ** 2
    b = (x - s.bx) ** 2 + (y - s.by) ** 2
    return math.sqrt(min(a, b))


distance_to_arc = njit(cache=True)(_distance_to_arc)


def _turning_slope(t: float, psi: float, rho: float, s: Step, R: float, r: float) -> float:
    """Return the rate of z + profile by the angle, times a positive and finite factor."""
    delta = t - psi
    q = math.sqrt(max(rho * rho + s.path * s.path - 2.0 * rho * s.path * math.cos(delta), 0.0))
    v = q - (R - r)
    if v <= 0.0:
        return s.slope * r
    lever = 1.0 if r == R else v / q
    return s.slope * math.sqrt(max(r * r - v * v, 0.0)) + lever * rho * s.path * math.sin(delta)


turning_slope = njit(cache=True)(_turning_slope)


def _turning_height(t: float, psi: float, rho: float, s: Step, R: float, r: float) -> float:
    q = rho * rho + s.path * s.path - 2.0 * rho * s.path * math.cos(t - psi)
    return s.az + s.slope * t + profile(math.sqrt(max(q, 0.0)), R, r)


turning_height = njit(cache=True)(_turning_height)


def _lowest_turning(low: float, high: float, psi: float, rho: float, s: Step,
                    R: float, r: float) -> float:  # fmt: skip
    """Return the least height between two angles at which the column is under the corner.

    Both ends count, and each of the rate's changes from falling to rising between five angles.
    """
    best = min(turning_height(low, psi, rho, s, R, r), turning_height(high, psi, rho, s, R, r))
    a = low
    fa = turning_slope(a, psi, rho, s, R, r)
    for k in range(1, 5):
        b = low + (high - low) * k / 4.0
        fb = turning_slope(b, psi, rho, s, R, r)
        if fa < 0.0 < fb:
            left, right, fl, fr = a, b, fa, fb
            t = b
            for _ in range(60):
                t = (left * fr - right * fl) / (fr - fl)
                if not (left < t < right):
                    t = 0.5 * (left + right)
                ft = turning_slope(t, psi, rho, s, R, r)
                # the end that is kept counts half, so that both ends close in
                if ft > 0.0:
                    right, fr = t, ft
                    fl *= 0.5
                else:
                    left, fl = t, ft
                    fr *= 0.5
                if right - left < 1e-10 or ft == 0.0:
                    break
            best = min(best, turning_height(t, psi, rho, s, R, r))
        a, fa = b, fb
    return best


lowest_turning = njit(cache=True)(_lowest_turning)


def _helix_height(s: Step, R: float, r: float, x: float, y: float) -> float:
    vx = x - s.cx
    vy = y - s.cy
    rho = math.sqrt(vx * vx + vy * vy)
    reach = R + TOUCH
    if abs(rho - s.path) > reach:
        return math.inf
    ex = s.ax - s.cx
    ey = s.ay - s.cy
    # angle from the start to the column, the way the arc turns
    psi = math.atan2(s.sense * (ex * vy - ey * vx), ex * vx + ey * vy)
    best = math.inf
    cosine = -1.0
    if rho > 0.0:
        cosine = (rho * rho + s.path * s.path - reach * reach) / (2.0 * rho * s.path)
    if cosine <= -1.0:
        if r == 0.0:
            return min(s.az, s.bz)
        return lowest_turning(0.0, s.angle, psi, rho, s, R, r)
    swing = math.acos(min(cosine, 1.0))
    for k in range(-1, 2):
        low = max(0.0, psi - swing + 2.0 * math.pi * k)
        high = min(s.angle, psi + swing + 2.0 * math.pi * k)
        if low <= high:
            if r == 0.0:
                best = min(best, s.az + s.slope * (low if s.slope > 0.0 else high))
            else:
                best = min(best, lowest_turning(low, high, psi, rho, s, R, r))
    return best


helix_height = njit(cache=True)(_helix_height)


def _height(s: Step, R: float, r: float, x: float, y: float) -> float:
    """Return the lowest z of the cutter's surface over a place in a step, inf if it never is."""
    if not s.turning:
        return line_height(s, R, r, x, y)
    if s.slope == 0.0:
        q = distance_to_arc(s, x, y)
        return s.az + profile(q, R, r) if q <= R + TOUCH else math.inf
    return helix_height(s, R, r, x, y)


height = njit(cache=True)(_height)


def _span(s: Step, R: float, y: float) -> tuple[float, float]:
    """Return from where to where in X a step of a cutter may reach in the row at ``y``.

    Exact for lines; an arc is taken as its chord, with its sag added to the cutter.
    """
    R = R + s.sag
    low = math.inf
    high = -math.inf
    q = R * R - (y - s.ay) ** 2
    if q >= 0.0:
        w = math.sqrt(q)
        low = s.ax - w
        high = s.ax + w
    q = R * R - (y - s.by) ** 2
    if q >= 0.0:
        w = math.sqrt(q)
        low = min(low, s.bx - w)
        high = max(high, s.bx + w)
    if abs(s.uy) * s.length > 1e-12:
        for side in (-R, R):
            t = (y - s.ay - side * s.ux) / s.uy
            if 0.0 <= t <= s.length:
                x = s.ax - side * s.uy + t * s.ux
                low = min(low, x)
                high = max(high, x)
    return low, high


span = njit(cache=True)(_span)


def _cut_span(f: Field, j: int, begin: int, end: int, s: Step, R: float, r: float, fixed: bool,
              mark: int, tally: Floats) -> None:  # fmt: skip
    """Cut a stretch of row ``j``, at the step's lowest if ``fixed``, and add to its tally."""
    cut, other = f.cut[j, begin:end], f.other[j, begin:end]
    emptied, changed = f.emptied[j, begin:end], f.changed[j, begin:end]
    x_first = f.x0 + begin * f.cell
    y = f.y0 + j * f.cell
    lowest = min(s.az, s.bz)
    volume = 0.0
    outer = (s.path + R - RIM) ** 2
    inner = (s.path - R + RIM) ** 2 if s.path > R else -1.0
    for i in range(cut.size):
        top = f.sign * cut[i]
        if not (top > lowest):
            continue
        x = x_first + i * f.cell
        z = lowest if fixed else height(s, R, r, x, y)
        if not (z < top):
            continue
        bottom = f.sign * other[i]
        if not (top - bottom > EMPTY):
            continue
        if z - bottom > EMPTY:
            cut[i] = f.sign * z
            taken = top - z
        else:
            cut[i] = other[i]
            taken = top - bottom
            if emptied[i] < 0:
                emptied[i] = mark
        changed[i] = mark
        volume += taken
        if f.guarded and f.guard[j, begin + i] and taken > tally[_GOUGE]:
            tally[_GOUGE] = taken
            tally[_GOUGE_X] = x
            tally[_GOUGE_Y] = y
        # where in the cutter's width the column first comes to the rim
        if s.turning:
            squared = (x - s.cx) ** 2 + (y - s.cy) ** 2
            at_rim = squared > outer or squared < inner
            d = s.sense * (s.path * s.path + R * R - squared) / (2.0 * s.path)
        else:
            d = s.ux * (y - s.ay) - s.uy * (x - s.ax)
            at_rim = abs(d) > R - RIM
        if at_rim:
            continue
        if abs(d) > R or s.length == 0.0:  # never at the rim: cut by the end face alone
            d = 0.0
        else:
            tally[_LOW] = min(tally[_LOW], d)
            tally[_HIGH] = max(tally[_HIGH], d)
        if d >= 0.7 * R:
            tally[_LEFT] = max(tally[_LEFT], taken)
        elif d <= -0.7 * R:
            tally[_RIGHT] = max(tally[_RIGHT], taken)
        else:
            tally[_FRONT] = max(tally[_FRONT], taken)
    tally[_VOLUME] += volume * f.cell * f.cell


cut_span = njit(cache=True)(_cut_span)


def _cut_row(f: Field, j: int, s: Step, R: float, r: float, done: bool, mark: int,
             tally: Floats) -> None:  # fmt: skip
    """Cut a row of the grid: the lower end's disc at one height, the rest by the closed forms.

    ``done``: the start's footprint was swept by the step before.
    """
    reach = R + TOUCH
    y = f.y0 + j * f.cell
    low, high = span(s, reach, y)
    if low > high:
        return
    rising = s.slope >= 0.0
    if done and rising and r > 0.0 and (s.path > reach if s.turning else s.length > 0.0):
        # nothing behind the start can be lower than the step before has left it
        ux, uy = s.ux, s.uy
        if s.turning:
            ux = -s.sense * (s.ay - s.cy) / s.path
            uy = s.sense * (s.ax - s.cx) / s.path
        if abs(ux) > 1e-9:
            x = s.ax - (y - s.ay) * uy / ux
            if ux > 0.0:
                low = max(low, x - TOUCH)
            else:
                high = min(high, x + TOUCH)
    a = max(0, math.ceil((low - f.x0) / f.cell))
    b = min(f.cut.shape[1], math.floor((high - f.x0) / f.cell) + 1)
    if a >= b:
        return
    if r > 0.0:
        cut_span(f, j, a, b, s, R, r, False, mark, tally)
        return
    # a flat end: within the lower end's disc nothing but the lowest height counts
    ex, ey = (s.ax, s.ay) if rising else (s.bx, s.by)
    q = reach * reach - (y - ey) ** 2
    c = a
    d = a
    if q >= 0.0:
        w = math.sqrt(q)
        c = min(b, max(a, math.ceil((ex - w - f.x0) / f.cell)))
        d = min(b, max(c, math.floor((ex + w - f.x0) / f.cell) + 1))
    level_line = s.slope == 0.0 and not s.turning
    if a < c:
        cut_span(f, j, a, c, s, R, r, level_line, mark, tally)
    if c < d and not (done and rising and (s.turning or s.length > 0.0)):
        cut_span(f, j, c, d, s, R, r, True, mark, tally)
    if d < b:
        cut_span(f, j, d, b, s, R, r, level_line, mark, tally)


cut_row = njit(cache=True)(_cut_row)


def _highest_in_tile(f: Field, row: int, column: int) -> float:
    best = -math.inf
    for j in range(row * TILE, min((row + 1) * TILE, f.cut.shape[0])):
        cut = f.cut[j, column * TILE : (column + 1) * TILE]
        other = f.other[j, column * TILE : (column + 1) * TILE]
        for i in range(cut.size):
            top = f.sign * cut[i]
            if top > best and top - f.sign * other[i] > EMPTY:
                best = top
    return best


highest_in_tile = njit(cache=True)(_highest_in_tile)


def _cut_step(f: Field, s: Step, R: float, r: float, done: bool, mark: int,
              tally: Floats) -> None:  # fmt: skip
    """Sweep one step over the grid, leaving out tiles in which all metal is lower."""
    grown = R + s.sag + TOUCH
    lowest = min(s.az, s.bz)
    a = max(0, math.ceil((min(s.ay, s.by) - grown - f.y0) / f.cell))
    b = min(f.cut.shape[0], math.floor((max(s.ay, s.by) + grown - f.y0) / f.cell) + 1)
    c = max(0, math.ceil((min(s.ax, s.bx) - grown - f.x0) / f.cell))
    d = min(f.cut.shape[1], math.floor((max(s.ax, s.bx) + grown - f.x0) / f.cell) + 1)
    if a >= b or c >= d:
        return
    for row in range(a // TILE, (b - 1) // TILE + 1):
        worth = False
        for column in range(c // TILE, (d - 1) // TILE + 1):
            worth = worth or f.tiles[row, column] > lowest
        if not worth:
            continue
        before = tally[_VOLUME]
        for j in range(max(a, row * TILE), min(b, (row + 1) * TILE)):
            cut_row(f, j, s, R, r, done, mark, tally)
        for column in range(c // TILE, (d - 1) // TILE + 1):
            if tally[_VOLUME] > before:
                f.stale[row, column] = True
            elif f.stale[row, column]:
                f.tiles[row, column] = highest_in_tile(f, row, column)
                f.stale[row, column] = False


cut_step = njit(cache=True)(_cut_step)


def _highest_on_ring(f: Field, x: float, y: float, radius: float, ring: Floats) -> float:
    """Return the height of the highest metal on a circle, -inf if there is none."""
    best = -math.inf
    for k in range(ring.shape[0]):
        i = round((x + radius * ring[k, 0] - f.x0) / f.cell)
        j = round((y + radius * ring[k, 1] - f.y0) / f.cell)
        if 0 <= i < f.cut.shape[1] and 0 <= j < f.cut.shape[0]:
            top = f.sign * f.cut[j, i]
            if top > best and top - f.sign * f.other[j, i] > EMPTY:
                best = top
    return best


highest_on_ring = njit(cache=True)(_highest_on_ring)


def _floor_under(f: Field, x: float, y: float, z: float, bed: float) -> float:
    """Return the metal that stays under a tip with a void beneath it, inf over solid or air."""
    i = round((x - f.x0) / f.cell)
    j = round((y - f.y0) / f.cell)
    if not (0 <= i < f.cut.shape[1] and 0 <= j < f.cut.shape[0]):
        return math.inf
    top = f.sign * f.cut[j, i]
    bottom = f.sign * f.other[j, i]
    if top - bottom > EMPTY and bottom > bed + VOID:
        return max(0.0, min(top, z) - bottom)
    return math.inf


floor_under = njit(cache=True)(_floor_under)


def _measure_place(s: Step, begin: float, rise: float, row: Floats) -> None:
    """Fill in the tip's place at the middle of a step, and the step's length."""
    row[X] = 0.5 * (s.ax + s.bx)
    row[Y] = 0.5 * (s.ay + s.by)
    flat = s.length
    if s.turning:
        scale = s.path / (s.path - s.sag)
        row[X] = s.cx + (row[X] - s.cx) * scale
        row[Y] = s.cy + (row[Y] - s.cy) * scale
        flat = s.path * s.angle
    row[Z] = begin + 0.5 * rise
    row[LENGTH] = math.sqrt(flat * flat + rise * rise)


measure_place = njit(cache=True)(_measure_place)


def _measure_cut(tally: Floats, R: float, cell: float, row: Floats) -> None:
    """Fill in what a step met; cells reach half their side beyond their centres."""
    row[VOLUME] = tally[_VOLUME]
    row[LEFT] = tally[_LEFT]
    row[FRONT] = tally[_FRONT]
    row[RIGHT] = tally[_RIGHT]
    row[UNDER] = max(tally[_LEFT], max(tally[_FRONT], tally[_RIGHT]))
    if tally[_HIGH] >= tally[_LOW]:
        low = max(-1.0, (tally[_LOW] - 0.5 * cell) / R)
        high = min(1.0, (tally[_HIGH] + 0.5 * cell) / R)
        row[WIDTH] = math.asin(high) - math.asin(low)
    elif row[UNDER] > 0.0:
        row[WIDTH] = math.pi


measure_cut = njit(cache=True)(_measure_cut)


def _measure_walls(f: Field, x: float, y: float, tip: float, R: float, reach: float, shank: float,
                   face: float, ring: Floats, row: Floats) -> None:  # fmt: skip
    """Fill in how far metal stands above the tip round the rim, and above the shank's beginning."""
    rim = R + 0.71 * f.cell
    wall = highest_on_ring(f, x, y, rim, ring)
    row[TALLEST] = max(0.0, wall - tip)
    if not (shank > R):
        return
    if tip + reach >= face:
        row[SHANK] = face - tip - reach
        return
    rings = math.ceil((shank - R) / 0.5)
    for k in range(1, rings + 1):
        radius = rim + max(0.0, shank - rim) * k / rings
        wall = max(wall, highest_on_ring(f, x, y, radius, ring))
    row[SHANK] = wall - tip - reach


measure_walls = njit(cache=True)(_measure_walls)


def _follows(w: Work, k: int) -> bool:
    """Return whether motion k begins where the one before ended, with the same cutter."""
    if k == 0 or w.radius[k] != w.radius[k - 1] or w.corner[k] != w.corner[k - 1]:
        return False
    return (
        w.start[k, 0] == w.stop[k - 1, 0]
        and w.start[k, 1] == w.stop[k - 1, 1]
        and w.start[k, 2] == w.stop[k - 1, 2]
    )


follows = njit(cache=True)(_follows)


def _sweep(f: Field, w: Work, reach: Floats, shank: Floats, ring: Floats, face: float, bed: float,
           first: int, steps: Floats, volume: Floats, gouge: Floats) -> None:  # fmt: skip
    """Sweep motions over the grid in turn; fill the measures of each step and motion.

    ``steps`` (S, 14), ``volume`` (M,), ``gouge`` (M, 3) depth and place.
    """
    tally = np.zeros(9)
    n = 0
    for k in range(w.kind.size):
        R = w.radius[k]
        r = w.corner[k]
        done = follows(w, k)
        rise = (w.stop[k, 2] - w.start[k, 2]) / w.parts[k]
        for part in range(w.parts[k]):
            s = step_of(w, k, part)
            begin = w.start[k, 2] + part * rise
            tip = begin + rise
            row = steps[n]
            n += 1
            row[MOTION] = k
            row[SHANK] = -math.inf
            row[FLOOR] = math.inf
            measure_place(s, begin, rise, row)
            if min(begin, tip) >= face:
                continue
            row[FLOOR] = floor_under(f, s.bx, s.by, tip, bed)
            tally[:] = 0.0
            tally[_LOW] = math.inf
            tally[_HIGH] = -math.inf
            cut_step(f, s, R, r, done or part > 0, first + k, tally)
            measure_cut(tally, R, f.cell, row)
            volume[k] += tally[_VOLUME]
            if tally[_GOUGE] > gouge[k, 0]:
                gouge[k] = tally[_GOUGE:]
            measure_walls(f, s.bx, s.by, tip, R, reach[k], shank[k], face, ring, row)


sweep = njit(cache=True)(_sweep)


def _sweep_sights(cut: Floats, other: Floats, emptied: Ints, changed: Ints, xs: Floats, ys: Floats,
                  sign: float, bucket: NDArray[np.int64], x0: float, y0: float, size: float,
                  nx: int, ny: int, w: Work, first: int) -> None:  # fmt: skip
    """Sweep motions over sights sorted by bucket: ``bucket[b]`` to ``bucket[b + 1]`` lie in b."""
    bound = np.full(nx * ny, math.inf)
    for k in range(w.kind.size):
        R = w.radius[k]
        r = w.corner[k]
        for part in range(w.parts[k]):
            s = step_of(w, k, part)
            lowest = min(s.az, s.bz)
            grown = R + s.sag + TOUCH
            a = max(0, math.floor((min(s.ay, s.by) - grown - y0) / size))
            b = min(ny - 1, math.floor((max(s.ay, s.by) + grown - y0) / size))
            for j in range(a, b + 1):
                low, high = span(s, R + TOUCH + 0.5 * size, y0 + (j + 0.5) * size)
                if low > high:
                    continue
                c = max(0, math.floor((low - x0) / size))
                d = min(nx - 1, math.floor((high - x0) / size))
                for cube in range(j * nx + c, j * nx + d + 1):
                    if not (bound[cube] > lowest):
                        continue
                    highest = -math.inf
                    for i in range(bucket[cube], bucket[cube + 1]):
                        top = sign * cut[i]
                        bottom = sign * other[i]
                        if not (top - bottom > EMPTY):
                            continue
                        z = height(s, R, r, xs[i], ys[i]) if top > lowest else math.inf
                        if z < top:
                            changed[i] = first + k
                            if not (z - bottom > EMPTY):
                                cut[i] = other[i]
                                if emptied[i] < 0:
                                    emptied[i] = first + k
                                continue
                            cut[i] = sign * z
                            top = z
                        highest = max(highest, top)
                    bound[cube] = highest


sweep_sights = njit(cache=True)(_sweep_sights)

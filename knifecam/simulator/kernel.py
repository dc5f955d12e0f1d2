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

STEEP = 1e-6
"""Where the corner's side is this near to upright, roots are found by halves."""

ARC = 2
"""The kind of a motion along an arc."""

# columns of the measures of a step
MOTION, X, Y, Z, LENGTH, VOLUME, LEFT, FRONT, RIGHT, WIDTH, UNDER, TALLEST, SHANK, FLOOR = range(14)


inner = njit(no_cpython_wrapper=True, no_cfunc_wrapper=True)
"""Compiles what only compiled code calls; without a way in from Python it takes less time."""

within = njit(inline="always")
"""Compiles what is called in one place only, there."""


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


class Place(NamedTuple):
    """Where the grid lies: the centre of cell [0, 0], the cells' side, and which face is cut."""

    x0: float
    y0: float
    cell: float
    per_cell: float  # 1 / cell
    sign: float


class Met(NamedTuple):
    """What a step met."""

    volume: float
    left: float
    front: float
    right: float
    low: float  # from where to where across the cutter, positive to the left
    high: float
    gouge: float  # deepest cut into a guarded column, and where
    gouge_x: float
    gouge_y: float


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
    per_uy: float  # 1 / uy, 0 for a chord along X
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
        return Step(
            ax, ay, low, ax, ay, low, 1.0, 0.0, 0.0, 0.0, 0.0, False, ax, ay, 0.0, 0.0, 1.0, 0.0
        )  # fmt: skip
    per_uy = length / dy if abs(dy) > 1e-12 else 0.0
    return Step(
        ax, ay, az, bx, by, bz, dx / length, dy / length, length, per_uy, (bz - az) / length,
        False, ax, ay, 0.0, 0.0, 1.0, 0.0,
    )  # fmt: skip


line_step = inner(_line_step)


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
            uy = path * (sb - sa) / chord
            per_uy = 1.0 / uy if abs(uy) * chord > 1e-12 else 0.0
            return Step(
                centre[0] + path * ca, centre[1] + path * sa, az,
                centre[0] + path * cb, centre[1] + path * sb, bz,
                path * (cb - ca) / chord, uy, chord, per_uy, (bz - az) / angle,
                True, centre[0], centre[1], path, angle, 1.0 if turns > 0.0 else -1.0,
                path * (1.0 - math.cos(0.5 * angle)),
            )  # fmt: skip
    ax = start[0] + f * (stop[0] - start[0])
    ay = start[1] + f * (stop[1] - start[1])
    bx = stop[0] if part == parts - 1 else start[0] + g * (stop[0] - start[0])
    by = stop[1] if part == parts - 1 else start[1] + g * (stop[1] - start[1])
    return line_step(ax, ay, az, bx, by, bz)


step_of = inner(_step_of)


def _profile(distance: float, R: float, r: float) -> float:
    """Return the height of the cutter's surface above its tip at a distance from its axis."""
    v = distance - (R - r)
    if v <= 0.0:
        return 0.0
    w = r * r - v * v
    return r - math.sqrt(w) if w > 0.0 else r


profile = inner(_profile)


def _lag(d: float, half: float, m: float, R: float, r: float) -> float:
    """Return how far along a path of slope ``m`` the axis is from a column beside it by ``d``.

    With w that distance, q^2 = d^2 + w^2 and v = q - (R - r), the corner's slope along the path,
    v w / (q sqrt(r^2 - v^2)), equals m at the one root of a function that grows with w.
    """
    flat = R - r
    low = math.sqrt(max(flat * flat - d * d, 0.0))
    high = half
    w = low
    for _ in range(60):
        q = math.sqrt(d * d + w * w)
        v = max(q - flat, 0.0)
        e = math.sqrt(max(r * r - v * v, 0.0))
        value = v * w - m * q * e
        if value > 0.0:
            high = w
        else:
            low = w
        following = 0.5 * (low + high)
        if e > STEEP * r:
            rate = w * w / q + v + m * w * (v / e - e / q)
            if rate > 0.0 and low < w - value / rate < high:
                following = w - value / rate
        if abs(following - w) < 1e-10:
            break
        w = following
    return min(w, half)


lag = inner(_lag)


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


line_height = inner(_line_height)


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


distance_to_arc = inner(_distance_to_arc)


def _distance_to_step(s: Step, x: float, y: float) -> float:
    if s.turning:
        return distance_to_arc(s, x, y)
    px = x - s.ax
    py = y - s.ay
    u = min(max(px * s.ux + py * s.uy, 0.0), s.length)
    return math.sqrt((px - u * s.ux) ** 2 + (py - u * s.uy) ** 2)


distance_to_step = inner(_distance_to_step)


def _turning_slope(
    t: float, psi: float, rho: float, s: Step, R: float, r: float
) -> tuple[float, float]:
    """Return the rate of z + profile by the angle times a positive factor, and that one's rate."""
    sine = math.sin(t - psi)
    cosine = math.cos(t - psi)
    lever = rho * s.path
    q = math.sqrt(max(rho * rho + s.path * s.path - 2.0 * lever * cosine, 0.0))
    flat = R - r
    v = q - flat
    if not (v > 0.0):
        return s.slope * r, 0.0
    e = math.sqrt(max(r * r - v * v, 0.0))
    change = lever * sine / q
    slope = s.slope * e + (v / q) * lever * sine
    if not (e > STEEP * r):
        return slope, 0.0
    return slope, ((v / q) * lever * cosine + flat * change * change / q - s.slope * v * change / e)


turning_slope = inner(_turning_slope)


def _turning_height(t: float, psi: float, rho: float, s: Step, R: float, r: float) -> float:
    q = rho * rho + s.path * s.path - 2.0 * rho * s.path * math.cos(t - psi)
    return s.az + s.slope * t + profile(math.sqrt(max(q, 0.0)), R, r)


turning_height = inner(_turning_height)


def _lowest_turning(low: float, high: float, psi: float, rho: float, s: Step,
                    R: float, r: float) -> float:  # fmt: skip
    """Return the least height between two angles at which the column is under the corner.

    Both ends count, and each of the rate's changes from falling to rising.
    """
    best = min(turning_height(low, psi, rho, s, R, r), turning_height(high, psi, rho, s, R, r))
    a = low
    fa, _ = turning_slope(a, psi, rho, s, R, r)
    # within a right angle of the column the height is convex
    pieces = 1 if abs(low - psi) < 1.5 and abs(high - psi) < 1.5 else 4
    for k in range(1, pieces + 1):
        b = low + (high - low) * k / pieces
        fb, _ = turning_slope(b, psi, rho, s, R, r)
        if fa < 0.0 < fb:
            left, right = a, b
            t = (a * fb - b * fa) / (fb - fa)
            for _ in range(60):
                ft, rate = turning_slope(t, psi, rho, s, R, r)
                if ft > 0.0:
                    right = t
                else:
                    left = t
                following = 0.5 * (left + right)
                if rate > 0.0 and left < t - ft / rate < right:
                    following = t - ft / rate
                if abs(following - t) < 1e-11:
                    break
                t = following
            best = min(best, turning_height(t, psi, rho, s, R, r))
        a, fa = b, fb
    return best


lowest_turning = inner(_lowest_turning)


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


helix_height = inner(_helix_height)


def _height(s: Step, R: float, r: float, x: float, y: float) -> float:
    """Return the lowest z of the cutter's surface over a place in a step, inf if it never is."""
    if not s.turning:
        return line_height(s, R, r, x, y)
    if s.slope == 0.0:
        q = distance_to_arc(s, x, y)
        return s.az + profile(q, R, r) if q <= R + TOUCH else math.inf
    return helix_height(s, R, r, x, y)


height = inner(_height)


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
    if s.per_uy != 0.0:
        for side in (-R, R):
            t = (y - s.ay - side * s.ux) * s.per_uy
            if 0.0 <= t <= s.length:
                x = s.ax - side * s.uy + t * s.ux
                low = min(low, x)
                high = max(high, x)
    return low, high


span = inner(_span)


def _row_spans(s: Step, R: float, core: float, done: bool, p: Place, nx: int,
               y: float) -> tuple[int, int, int, int]:  # fmt: skip
    """Return columns a, b, c, d: a row of the step is a to d, nothing but its lowest from b to c.

    ``core`` is the radius within which the cutter's end is flat. ``done``: the start's footprint
    was swept by the step before.
    """
    low, high = span(s, R + TOUCH, y)
    if low > high:
        return 0, 0, 0, 0
    rising = s.slope >= 0.0
    moves = s.path > R + TOUCH if s.turning else s.length > 0.0
    if done and rising and moves and core < R:
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
    a = max(0, math.ceil((low - p.x0) * p.per_cell))
    d = max(a, min(nx, math.floor((high - p.x0) * p.per_cell) + 1))
    ex, ey = (s.ax, s.ay) if rising else (s.bx, s.by)
    q = core * core - (y - ey) ** 2
    if q < 0.0:
        return a, a, a, d
    w = math.sqrt(q)
    b = min(d, max(a, math.ceil((ex - w - p.x0) * p.per_cell)))
    c = min(d, max(b, math.floor((ex + w - p.x0) * p.per_cell) + 1))
    return a, b, c, d


row_spans = within(_row_spans)


def _fill_level_line(z: Floats, n: int, s: Step, R: float, r: float, x: float, y: float,
                     cell: float) -> None:  # fmt: skip
    """Fill in the heights of a level line over ``n`` columns from ``x`` on; no branches."""
    py = y - s.ay
    flat = R - r
    limit = R * R + 2.0 * R * TOUCH
    for i in range(n):
        px = x + i * cell - s.ax
        along = px * s.ux + py * s.uy
        d = s.ux * py - s.uy * px
        u = along - min(max(along, 0.0), s.length)
        q = d * d + u * u
        v = max(math.sqrt(q) - flat, 0.0)
        height = s.az + (r - math.sqrt(max(r * r - v * v, 0.0)))
        z[i] = height if q <= limit else math.inf


fill_level_line = within(_fill_level_line)


def _fill_level_arc(z: Floats, n: int, s: Step, R: float, r: float, x: float, y: float,
                    cell: float) -> None:  # fmt: skip
    """Fill in the heights of a level arc over ``n`` columns from ``x`` on; no branches."""
    mx = 0.5 * (s.ax + s.bx) - s.cx
    my = 0.5 * (s.ay + s.by) - s.cy
    share = (s.path - s.sag) * (s.path - s.sag) / s.path
    vy = y - s.cy
    flat = R - r
    for i in range(n):
        px = x + i * cell
        vx = px - s.cx
        rho = math.sqrt(vx * vx + vy * vy)
        a = (px - s.ax) ** 2 + (y - s.ay) ** 2
        b = (px - s.bx) ** 2 + (y - s.by) ** 2
        end = math.sqrt(min(a, b))
        q = abs(rho - s.path) if vx * mx + vy * my >= rho * share else end
        v = max(q - flat, 0.0)
        height = s.az + (r - math.sqrt(max(r * r - v * v, 0.0)))
        z[i] = height if q <= R + TOUCH else math.inf


fill_level_arc = within(_fill_level_arc)


def _fill_sloping(z: Floats, n: int, s: Step, R: float, r: float, cut: Floats, j: int, begin: int,
                  p: Place) -> None:  # fmt: skip
    """Fill in the heights of a sloping step, inf where the metal is too low to be cut.

    Beyond the lower end nothing but that end counts. Elsewhere no surface is lower than the
    cutter's profile at the distance from the path, at the lower end's height.
    """
    y = p.y0 + j * p.cell
    lowest = min(s.az, s.bz)
    ex, ey, way = s.bx, s.by, 1.0
    if s.slope > 0.0:
        ex, ey, way = s.ax, s.ay, -1.0
    ux, uy, vx, vy = way * s.ux, way * s.uy, way * s.ux, way * s.uy
    if s.turning:  # tangents at the lower end and at the other one
        way *= s.sense
        ux, uy = -way * (ey - s.cy), way * (ex - s.cx)
        vx, vy = -way * (s.ay + s.by - ey - s.cy), way * (s.ax + s.bx - ex - s.cx)
    for k in range(n):
        z[k] = math.inf
        top = p.sign * cut[j, begin + k]
        if not (top > lowest):
            continue
        x = p.x0 + (begin + k) * p.cell
        dx = x - ex
        dy = y - ey
        if dx * ux + dy * uy >= 0.0 and (
            (x - (s.ax + s.bx - ex)) * vx + (y - (s.ay + s.by - ey)) * vy >= 0.0
        ):
            q = math.sqrt(dx * dx + dy * dy)
            if q <= R + TOUCH:
                z[k] = lowest + profile(q, R, r)
        elif r == 0.0 or lowest + profile(min(distance_to_step(s, x, y), R), R, r) < top:
            z[k] = height(s, R, r, x, y)


fill_sloping = within(_fill_sloping)


def _across(s: Step, R: float, x: float, y: float) -> float:
    """Return where across the cutter, left positive, a column first comes to its rim.

    Inf for columns within `RIM` of the outermost rim; 0 for those that never come to the rim,
    cut by the end face alone.
    """
    if s.turning:
        squared = (x - s.cx) ** 2 + (y - s.cy) ** 2
        if squared > (s.path + R - RIM) ** 2:
            return math.inf
        if s.path > R and squared < (s.path - R + RIM) ** 2:
            return math.inf
        d = s.sense * (s.path * s.path + R * R - squared) / (2.0 * s.path)
        return d if abs(d) <= R else 0.0
    d = s.ux * (y - s.ay) - s.uy * (x - s.ax)
    if abs(d) > R - RIM:
        return math.inf
    return d if s.length > 0.0 else 0.0


across = inner(_across)


def _cut_run(cut: Floats, other: Floats, emptied: Ints, changed: Ints, guard: Bools, guarded: bool,
             solid: bool, p: Place, s: Step, R: float, j: int, begin: int, n: int, z: Floats,
             mark: int, met: Met) -> Met:  # fmt: skip
    """Cut ``n`` columns of row ``j`` down to ``z`` and return what the step has met so far.

    ``solid``: no column has its other face as high as the step's lowest.
    """
    y = p.y0 + j * p.cell
    volume, left, front, right = met.volume, met.left, met.front, met.right
    gouge, gouge_x, gouge_y = met.gouge, met.gouge_x, met.gouge_y
    least = min(left, min(front, right))
    first = n
    last = -1
    for k in range(n):
        i = begin + k
        top = p.sign * cut[j, i]
        height = z[k]
        if not (height < top):
            continue
        if not solid:
            bottom = p.sign * other[j, i]
            if not (top - bottom > EMPTY):
                continue
            if not (height - bottom > EMPTY):
                height = bottom
                if emptied[j, i] < 0:
                    emptied[j, i] = mark
        cut[j, i] = p.sign * height
        changed[j, i] = mark
        taken = top - height
        volume += taken
        first = min(first, k)
        last = k
        if guarded and guard[j, i] and taken > gouge:
            gouge, gouge_x, gouge_y = taken, p.x0 + i * p.cell, y
        if taken > least:
            d = across(s, R, p.x0 + i * p.cell, y)
            if abs(d) <= 0.7 * R:
                front = max(front, taken)
            elif d < 0.0:
                right = max(right, taken)
            elif d <= R:
                left = max(left, taken)
            least = min(left, min(front, right))
    low, high = met.low, met.high
    if last >= 0 and s.length > 0.0:
        # across the cutter a row is monotonous on a line, and on either side of an arc's centre
        a = begin + first
        b = begin + last
        middle = min(b, max(a, round((s.cx - p.x0) * p.per_cell)))
        for i in (a, min(a + 1, b), middle, max(b - 1, a), b):
            d = across(s, R, p.x0 + i * p.cell, y)
            if abs(d) <= R:
                low = min(low, d)
                high = max(high, d)
    return Met(volume, left, front, right, low, high, gouge, gouge_x, gouge_y)


cut_run = within(_cut_run)


def _highest_in_tile(cut: Floats, other: Floats, sign: float, row: int, column: int) -> float:
    best = -math.inf
    for j in range(row * TILE, min((row + 1) * TILE, cut.shape[0])):
        for i in range(column * TILE, min((column + 1) * TILE, cut.shape[1])):
            top = sign * cut[j, i]
            if top > best and top - sign * other[j, i] > EMPTY:
                best = top
    return best


highest_in_tile = inner(_highest_in_tile)


def _void_in_tile(other: Floats, sign: float, row: int, column: int) -> float:
    """Return the height of the highest void beneath the metal of a tile."""
    best = -math.inf
    for j in range(row * TILE, min((row + 1) * TILE, other.shape[0])):
        for i in range(column * TILE, min((column + 1) * TILE, other.shape[1])):
            best = max(best, sign * other[j, i])
    return best


void_in_tile = inner(_void_in_tile)


def _cut_step(cut: Floats, other: Floats, emptied: Ints, changed: Ints, guard: Bools,
              guarded: bool, tiles: Floats, voids: Floats, stale: Bools, z: Floats, p: Place,
              s: Step, R: float, r: float, done: bool, mark: int) -> Met:  # fmt: skip
    """Sweep one step over the grid, leaving out tiles in which all metal is lower."""
    met = Met(0.0, 0.0, 0.0, 0.0, math.inf, -math.inf, 0.0, 0.0, 0.0)
    grown = R + s.sag + TOUCH
    core = R + TOUCH if r == 0.0 else R - r
    lowest = min(s.az, s.bz)
    leave_core = done and s.slope >= 0.0 and s.length > 0.0
    flat_line = r == 0.0 and s.slope == 0.0 and not s.turning
    j_first = max(0, math.ceil((min(s.ay, s.by) - grown - p.y0) * p.per_cell))
    j_end = min(cut.shape[0], math.floor((max(s.ay, s.by) + grown - p.y0) * p.per_cell) + 1)
    i_first = max(0, math.ceil((min(s.ax, s.bx) - grown - p.x0) * p.per_cell))
    i_end = min(cut.shape[1], math.floor((max(s.ax, s.bx) + grown - p.x0) * p.per_cell) + 1)
    if j_first >= j_end or i_first >= i_end:
        return met
    t_first, t_end = i_first // TILE, (i_end - 1) // TILE + 1
    for row in range(j_first // TILE, (j_end - 1) // TILE + 1):
        highest = -math.inf
        void = -math.inf
        for column in range(t_first, t_end):
            highest = max(highest, tiles[row, column])
            if not (voids[row, column] > -math.inf):
                voids[row, column] = void_in_tile(other, p.sign, row, column)
            void = max(void, voids[row, column])
        if not (highest > lowest):
            continue
        solid = lowest - void > EMPTY
        before = met.volume
        for j in range(max(j_first, row * TILE), min(j_end, (row + 1) * TILE)):
            y = p.y0 + j * p.cell
            a, b, c, d = row_spans(s, R, core, done, p, cut.shape[1], y)
            for part in range(3):
                begin, end = a, b
                if part == 1:
                    begin, end = c if leave_core else b, c
                elif part == 2:
                    begin, end = c, d
                n = end - begin
                x = p.x0 + begin * p.cell
                if n <= 0:
                    continue
                if part == 1 or flat_line:
                    for k in range(n):
                        z[k] = lowest
                elif s.slope != 0.0:
                    fill_sloping(z, n, s, R, r, cut, j, begin, p)
                elif s.turning:
                    fill_level_arc(z, n, s, R, r, x, y, p.cell)
                else:
                    fill_level_line(z, n, s, R, r, x, y, p.cell)
                met = cut_run(
                    cut, other, emptied, changed, guard, guarded, solid, p, s, R, j, begin, n, z,
                    mark, met,
                )  # fmt: skip
        for column in range(t_first, t_end):
            if met.volume > before:
                stale[row, column] = True
            elif stale[row, column]:
                tiles[row, column] = highest_in_tile(cut, other, p.sign, row, column)
                stale[row, column] = False
    return met


cut_step = inner(_cut_step)


def _highest_on_ring(cut: Floats, other: Floats, p: Place, x: float, y: float, radius: float,
                     ring: Floats) -> float:  # fmt: skip
    """Return the height of the highest metal on a circle, -inf if there is none."""
    best = -math.inf
    for k in range(ring.shape[0]):
        i = round((x + radius * ring[k, 0] - p.x0) * p.per_cell)
        j = round((y + radius * ring[k, 1] - p.y0) * p.per_cell)
        if 0 <= i < cut.shape[1] and 0 <= j < cut.shape[0]:
            top = p.sign * cut[j, i]
            if top > best and top - p.sign * other[j, i] > EMPTY:
                best = top
    return best


highest_on_ring = inner(_highest_on_ring)


def _floor_under(cut: Floats, other: Floats, p: Place, x: float, y: float, z: float,
                 bed: float) -> float:  # fmt: skip
    """Return the metal that stays under a tip with a void beneath it, inf over solid or air."""
    i = round((x - p.x0) * p.per_cell)
    j = round((y - p.y0) * p.per_cell)
    if not (0 <= i < cut.shape[1] and 0 <= j < cut.shape[0]):
        return math.inf
    top = p.sign * cut[j, i]
    bottom = p.sign * other[j, i]
    if top - bottom > EMPTY and bottom > bed + VOID:
        return max(0.0, min(top, z) - bottom)
    return math.inf


floor_under = inner(_floor_under)


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


measure_place = inner(_measure_place)


def _measure_cut(met: Met, R: float, cell: float, row: Floats) -> None:
    """Fill in what a step met; cells reach half their side beyond their centres."""
    row[VOLUME] = met.volume * cell * cell
    row[LEFT] = met.left
    row[FRONT] = met.front
    row[RIGHT] = met.right
    row[UNDER] = max(met.left, max(met.front, met.right))
    if met.high >= met.low:
        low = max(-1.0, (met.low - 0.5 * cell) / R)
        high = min(1.0, (met.high + 0.5 * cell) / R)
        row[WIDTH] = math.asin(high) - math.asin(low)
    elif row[UNDER] > 0.0:
        row[WIDTH] = math.pi


measure_cut = inner(_measure_cut)


def _measure_walls(cut: Floats, other: Floats, p: Place, x: float, y: float, tip: float, R: float,
                   reach: float, shank: float, face: float, ring: Floats,
                   row: Floats) -> None:  # fmt: skip
    """Fill in how far metal stands above the tip round the rim, and above the shank's beginning."""
    rim = R + 0.71 * p.cell
    wall = highest_on_ring(cut, other, p, x, y, rim, ring)
    row[TALLEST] = max(0.0, wall - tip)
    if not (shank > R):
        return
    if tip + reach >= face:
        row[SHANK] = face - tip - reach
        return
    rings = math.ceil((shank - R) / 0.5)
    for k in range(1, rings + 1):
        radius = rim + max(0.0, shank - rim) * k / rings
        wall = max(wall, highest_on_ring(cut, other, p, x, y, radius, ring))
    row[SHANK] = wall - tip - reach


measure_walls = inner(_measure_walls)


def _follows(w: Work, k: int) -> bool:
    """Return whether motion k begins where the one before ended, with the same cutter."""
    if k == 0 or w.radius[k] != w.radius[k - 1] or w.corner[k] != w.corner[k - 1]:
        return False
    return (
        w.start[k, 0] == w.stop[k - 1, 0]
        and w.start[k, 1] == w.stop[k - 1, 1]
        and w.start[k, 2] == w.stop[k - 1, 2]
    )


follows = inner(_follows)


def _sweep(cut: Floats, other: Floats, emptied: Ints, changed: Ints, guard: Bools, guarded: bool,
           tiles: Floats, voids: Floats, stale: Bools, p: Place, w: Work, reach: Floats, shank: Floats,
           ring: Floats, face: float, bed: float, first: int, steps: Floats, volume: Floats,
           gouge: Floats) -> None:  # fmt: skip
    """Sweep motions over the grid in turn; fill the measures of each step and motion.

    ``cut`` is the face that is cut and ``other`` the opposite one, (ny, nx); ``tiles`` bounds the
    highest metal in each tile and may be too high where ``stale``; ``voids`` the highest void under
    it, -inf where not yet known; ``steps`` (S, 14),
    ``volume`` (M,), ``gouge`` (M, 3) depth and place.
    """
    n = 0
    z = np.empty(cut.shape[1])
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
            row[FLOOR] = floor_under(cut, other, p, s.bx, s.by, tip, bed)
            met = cut_step(
                cut, other, emptied, changed, guard, guarded, tiles, voids, stale, z, p, s,
                R, r, done or part > 0, first + k,
            )  # fmt: skip
            measure_cut(met, R, p.cell, row)
            volume[k] += row[VOLUME]
            if met.gouge > gouge[k, 0]:
                gouge[k, 0] = met.gouge
                gouge[k, 1] = met.gouge_x
                gouge[k, 2] = met.gouge_y
            measure_walls(cut, other, p, s.bx, s.by, tip, R, reach[k], shank[k], face, ring, row)


sweep = njit(cache=True)(_sweep)


def _sweep_sights(cut: Floats, other: Floats, emptied: Ints, changed: Ints, xs: Floats, ys: Floats,
                  sign: float, bucket: NDArray[np.int64], x0: float, y0: float, size: float,
                  nx: int, ny: int, w: Work, first: int) -> None:  # fmt: skip
    """Sweep motions over sights sorted by bucket: ``bucket[b]`` to ``bucket[b + 1]`` lie in b."""
    bound = np.empty(nx * ny)
    for b in range(bound.size):
        bound[b] = math.inf
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

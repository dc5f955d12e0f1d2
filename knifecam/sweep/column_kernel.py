"""Compiled sweeps: how low a cutter comes over a column, and what it takes off there.

A motion is cut in steps (`knifecam.sweep.sweep_steps`): a piece of a line, or at most a twelfth of a
turn of an arc or helix. The grid is worked off block by block. A block's columns are copied to
scratch that stays in the core's own memory, every step that reaches the block is swept over it in
the programs' order, and the columns are copied back. A column belongs to one block, so that blocks
do not know of each other and may be shared out among threads; what a step met in each of its blocks
is put together afterwards, always in the same order. No result depends on threads or on the width
of the machine's registers.

In scratch a block lies tile by tile, 8 rows of 8 columns each, with the height of its highest, and
row by row within a tile. A step is first held against the tiles, eight at a time: it is swept only
over those that stand higher than the cutter ever comes at their distance from its path. There it is
swept over a row of eight columns at once (`knifecam.sweep.vector8`).

With R the cutter's radius, f that of its flat end, P(q) the height of its surface at the distance q
from its axis (flat: 0; corner of radius r = R - f; cone of rise k per mm), m the rise per mm, a
column at s along a line and d beside it:

- level: z = z0 + P(distance to the path);
- line: the height over the column is convex along the path; seen from the lower end its least lies
  at s - w, brought within the step, where the lag w is what the form gives: flat sqrt(R^2 - d^2);
  ball m sqrt((R^2 - d^2) / (1 + m^2)); cone m d / sqrt(k^2 - m^2), from the rim of its tip to R;
- helix: with c the chord from the axis to where it passes the column, q^2 = D^2 + c^2, D the
  distance to the path's circle; the c of the least value is looked for; both ends count too.

Flat, ball and cone are closed forms; a corner's w or c is the one root of a growing function.
Only where a corner never quite leaves a column is the least height on a helix searched for.
The grid holds float64, `sign` is +1 where the upper face is cut and -1 where the lower one is:
heights in the cutting side's frame are ``sign * grid``.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from knifecam.compiled import close, inner, outer
from knifecam.sweep.sweep_limits import (
    EMPTY_COLUMN_MM,
    NEARLY_UPRIGHT_SHARE,
    NEWTON_STEP_MM,
    OTHER_FACE_BEYOND_MM,
    RIM_SKIN_MM,
    ROUNDING_MM,
    TILE_SLACK_MM,
    UNDER_RIM_MM,
    VOID_MM,
)
from knifecam.sweep.vector8 import (
    EIGHT,
    Answers,
    Eight,
    Index,
    choose,
    eight,
    highest,
    lane,
    least,
    load,
    lowest,
    most,
    pattern,
    pointer,
    root,
    store,
    store_whole,
    total,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Bools = NDArray[np.bool_]

TILE = 8
"""Columns along the side of a tile."""

TILES = 16
"""Tiles along the side of a block."""

BLOCK = TILE * TILES
"""Columns along the side of a block."""

RING_PLACES = 32
"""How many places round the rim are looked at for the metal that stands beside the cutter."""

# what a step met in a block: volume is a sum, the others are greatest or least values
(
    MET_TAKEN,
    MET_LEFTS,
    MET_FRONTS,
    MET_RIGHTS,
    MET_LOW,
    MET_HIGH,
    MET_WALL,
    MET_WALL_AT_SHANK,
    MET_OVER_VOID,
    MET_GOUGE,
    MET_GOUGE_X,
    MET_GOUGE_Y,
) = range(12)
MET = 12

CELLS = BLOCK * BLOCK
ROOM = CELLS + 136
"""Room for each figure of a block's columns; no power of two, which caches do not like."""

# where in scratch lies what: of columns the height of the face that is cut (-inf where empty) and
# of the other one, the motion that cut it last (-1 for none), 1 where it is guarded; what a step
# takes off rows of eight
LEVEL, BENEATH, MARK, KEPT, LOST = (Index(k * ROOM) for k in range(5))
# no column of a row, no column of a tile stands higher
PEAK = Index(5 * ROOM)
TOP = PEAK + Index(CELLS // TILE)
# X of columns, Y of rows, and both of the middles of tiles
XS = TOP + Index(TILES * TILES)
YS, TILE_X, TILE_Y = XS + Index(BLOCK), XS + Index(2 * BLOCK), XS + Index(2 * BLOCK + TILES)
SCRATCH = TILE_Y + Index(TILES)


def scratch() -> tuple[Floats, Longs]:
    """Return what one thread needs to work on a block: room, and a list of rows that were cut."""
    return np.empty(int(SCRATCH)), np.empty(CELLS // TILE, np.int64)


class Place(NamedTuple):
    """Where the grid lies: the centre of cell [0, 0], the cells' side, how many, and the face cut."""

    x0: float
    y0: float
    cell: float
    per_cell: float  # 1 / cell
    nx: int
    ny: int
    sign: float


class Form(NamedTuple):
    """The cutter's form."""

    radius: float
    flat: float  # radius of the flat end
    rise: float  # of a cone per mm, 0 for a corner


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
    cx: float
    cy: float
    path: float  # radius of the arc, 0 for a line
    angle: float  # how far the arc turns, positive
    sense: float  # 1 counter-clockwise, -1 clockwise
    sag: float  # greatest distance of the arc from its chord


class Block(NamedTuple):
    """Where a block lies in the grid: its first column and row, and how many it has."""

    i: int
    j: int
    nx: int
    ny: int


STEP_VALUES = len(Step._fields)

# what follows a step's own figures in the table of steps
STEP_RADIUS, STEP_FLAT, STEP_RISE, STEP_DONE, STEP_TIP, STEP_REACH, STEP_LOOK, STEP_MOTION = range(
    STEP_VALUES, STEP_VALUES + 8
)
TABLE = STEP_VALUES + 8


def _step_at(table: Floats, at: Index) -> Step:
    """Return a step from the table of steps."""
    t = table
    return Step(
        t[at], t[at + Index(1)], t[at + Index(2)], t[at + Index(3)], t[at + Index(4)],
        t[at + Index(5)], t[at + Index(6)], t[at + Index(7)], t[at + Index(8)], t[at + Index(9)],
        t[at + Index(10)], t[at + Index(11)], t[at + Index(12)], t[at + Index(13)],
        t[at + Index(14)], t[at + Index(15)],
    )  # fmt: skip


step_at = close(_step_at)


def _form_at(table: Floats, at: Index) -> Form:
    """Return a step's cutter."""
    return Form(
        table[at + Index(STEP_RADIUS)], table[at + Index(STEP_FLAT)], table[at + Index(STEP_RISE)]
    )


form_at = close(_form_at)


# ---- the cutter's surface -----------------------------------------------------------------------


def _raised(f: Form, z: Eight, qq: Eight) -> Eight:
    """Return the surface's height, its tip at z, at squared distances; inf outside the cutter."""
    reach, RR, ff = f.radius + UNDER_RIM_MM, f.radius * f.radius, f.flat * f.flat
    inside = qq <= reach * reach
    if pattern(inside & (qq > ff)) != 0:  # not all under the flat end
        if f.rise > 0.0:
            z = z + f.rise * (root(most(least(qq, RR), ff)) - f.flat)
        elif f.flat == 0.0:
            z = z + (f.radius - root(RR - qq))
        elif f.flat < f.radius:
            r, v = f.radius - f.flat, root(most(qq, ff)) - f.flat
            z = z + (r - root(r * r - v * v))
    return choose(inside, z, math.inf)


raised = close(_raised)


# ---- level paths --------------------------------------------------------------------------------


def _chord_square(s: Step, x: Eight, y: Eight) -> Eight:
    """Return squared distances to a step's chord."""
    px, py = x - s.ax, y - s.ay
    along = px * s.ux + py * s.uy
    d = s.ux * py - s.uy * px
    u = along - least(most(along, 0.0), s.length)
    return d * d + u * u


chord_square = close(_chord_square)


def _arc_square(s: Step, x: Eight, y: Eight) -> Eight:
    """Return squared distances to a step's arc."""
    # the chord's middle lies on the sector's axis, at path * cos(angle / 2) = path - sag
    mx, my = 0.5 * (s.ax + s.bx) - s.cx, 0.5 * (s.ay + s.by) - s.cy
    share = (s.path - s.sag) * (s.path - s.sag) / s.path
    vx, vy, ax, ay, bx, by = x - s.cx, y - s.cy, x - s.ax, y - s.ay, x - s.bx, y - s.by
    rho = root(vx * vx + vy * vy)
    beside = rho - s.path
    ends = least(ax * ax + ay * ay, bx * bx + by * by)
    return choose(vx * mx + vy * my >= rho * share, beside * beside, ends)


arc_square = close(_arc_square)


# ---- lines that climb or fall -------------------------------------------------------------------


def _line_ends(
    s: Step, f: Form, ahead: Eight, dd: Eight, lag2: Eight
) -> tuple[Eight, Eight, Answers]:
    """Return heights at the end nearest to each column's moment, its q^2, and which lie between.

    ``ahead`` is the way from the lower end, toward the upper one, to where the column lies.
    """
    past = ahead - s.length
    low = (ahead <= 0.0) | (ahead * ahead <= lag2)
    between = ~(low | ((past >= 0.0) & (past * past >= lag2)))
    u = choose(low, ahead, past)
    z = choose(low, min(s.az, s.bz), max(s.az, s.bz))
    return z, dd + u * u, between


line_ends = close(_line_ends)


def _flat_line(s: Step, f: Form, m: float, ahead: Eight, dd: Eight) -> Eight:
    """Return the heights of a flat end on a line."""
    lag2 = f.radius * f.radius - dd
    z, qq, between = line_ends(s, f, ahead, dd, lag2)
    if pattern(between) != 0:
        z = choose(between, min(s.az, s.bz) + m * (ahead - root(lag2)), z)
        qq = choose(between, dd, qq)
    reach = f.radius + UNDER_RIM_MM
    return choose(qq <= reach * reach, z, math.inf)


flat_line = close(_flat_line)


def _ball_line(s: Step, f: Form, m: float, ahead: Eight, dd: Eight) -> Eight:
    """Return the heights of a ball on a line."""
    RR, grown = f.radius * f.radius, 1.0 + m * m
    z, qq, between = line_ends(s, f, ahead, dd, (m * m / grown) * (RR - dd))
    under = RR - qq
    if pattern(between) == 0:
        z = z + (f.radius - root(under))
    else:
        fall = root(choose(between, (RR - dd) / grown, under))
        # between, w = m * fall and P = R - fall
        tip = choose(between, min(s.az, s.bz) + m * (ahead - m * fall), z)
        z = tip + (f.radius - fall)
        qq = choose(between, dd, qq)
    reach = f.radius + UNDER_RIM_MM
    return choose(qq <= reach * reach, z, math.inf)


ball_line = close(_ball_line)


def _cone_line(s: Step, f: Form, m: float, ahead: Eight, dd: Eight) -> Eight:
    """Return the heights of a cone on a line."""
    kk, mm, rest = f.rise * f.rise, m * m, most(f.radius * f.radius - dd, 0.0)
    lag2 = rest
    if mm < kk:
        lag2 = least(rest, most(f.flat * f.flat - dd, dd * (mm / (kk - mm))))
    z, qq, between = line_ends(s, f, ahead, dd, lag2)
    if pattern(between) != 0:
        z = choose(between, min(s.az, s.bz) + m * (ahead - root(lag2)), z)
        qq = choose(between, dd + lag2, qq)
    return raised(f, z, qq)


cone_line = close(_cone_line)


def _corner_line(s: Step, f: Form, m: float, ahead: Eight, dd: Eight) -> Eight:
    """Return the heights of a corner on a line."""
    lag = corner_lag(m, f, root(dd), eight(1.0), eight(0.0))
    w = least(most(ahead - lag, 0.0), s.length)
    u = ahead - w
    return raised(f, min(s.az, s.bz) + m * w, dd + u * u)


def _corner_lag(m: float, f: Form, D: Eight, scale: Eight, steep: Eight) -> Eight:
    """Return where a corner's slope along the path equals m: the root of a growing function.

    With c the lag, q^2 = D^2 + c^2, v = q - f the way into the corner and e its height there, the
    surface's rise per mm of path is v W / (q e), W = scale c sqrt(1 - steep c^2). What is brought to
    nought is v^2 W^2 - m^2 q^2 e^2, by Newton's steps kept within halves.
    """
    R, flat, mm = f.radius, f.flat, m * m
    r, DD = R - flat, D * D
    upper = least(root(R * R - DD), root(1.0 / most(steep, 1e-300)))
    lower = least(root(flat * flat - DD), upper)
    # near enough where the corner is small beside the flat end: the slope taken at `lower`
    q = most(D, flat)
    W = root(scale * (1.0 - steep * lower * lower)) * lower
    v = flat + r * m * q / root(mm * q * q + W * W)
    c = least(most(root(v * v - DD), lower), upper)
    for _ in range(80):
        cc = c * c
        q = root(DD + cc)
        v = most(q - flat, 0.0)
        ee = most(r * r - v * v, 0.0)
        WW = scale * cc * (1.0 - steep * cc)
        value = v * v * WW - mm * q * q * ee
        dq = c / most(q, 1e-300)
        rate = 2.0 * v * dq * WW + v * v * scale * c * (2.0 - 4.0 * steep * cc)
        rate = rate - mm * (2.0 * c * ee - 2.0 * q * q * v * dq)
        lower, upper = choose(value <= 0.0, c, lower), choose(value <= 0.0, upper, c)
        newer = c - value / choose(rate > 0.0, rate, 1.0)
        newer = choose(
            (rate > 0.0) & (newer > lower) & (newer < upper), newer, 0.5 * (lower + upper)
        )
        moved = (newer - c > NEWTON_STEP_MM) | (c - newer > NEWTON_STEP_MM)
        c = newer
        if pattern(moved) == 0:
            break
    return c


corner_lag = inner(_corner_lag)
corner_line = inner(_corner_line)


def _line_heights(s: Step, f: Form, x: Eight, y: Eight) -> Eight:
    """Return the heights of a line that climbs or falls, seen from its lower end."""
    px, py = x - s.ax, y - s.ay
    ahead = px * s.ux + py * s.uy
    if s.slope < 0.0:
        ahead = s.length - ahead
    d = s.ux * py - s.uy * px
    m, dd = abs(s.slope), d * d
    if f.flat == f.radius:
        z = flat_line(s, f, m, ahead, dd)
    elif f.rise > 0.0:
        z = cone_line(s, f, m, ahead, dd)
    elif f.flat == 0.0:
        z = ball_line(s, f, m, ahead, dd)
    else:
        z = corner_line(s, f, m, ahead, dd)
    return most(z, min(s.az, s.bz))  # whatever rounding did


line_heights = close(_line_heights)


# ---- helices ------------------------------------------------------------------------------------


def _arcsine(v: Eight) -> Eight:
    """Return the arcsine by its series: to all digits up to 0.27, which is 15.6 degrees."""
    q = v * v
    p = q * (676039.0 / 104857600.0) + 88179.0 / 12058624.0
    p = p * q + 46189.0 / 5505024.0
    p = p * q + 12155.0 / 1245184.0
    p = p * q + 6435.0 / 557056.0
    p = p * q + 143.0 / 10240.0
    p = p * q + 231.0 / 13312.0
    p = p * q + 63.0 / 2816.0
    p = p * q + 35.0 / 1152.0
    p = p * q + 5.0 / 112.0
    p = p * q + 3.0 / 40.0
    p = p * q + 1.0 / 6.0
    return v + v * q * p


arcsine = inner(_arcsine)


def _turning_slope(t: float, psi: float, rho: float, s: Step, f: Form) -> tuple[float, float]:
    """Return the rate of z + profile by the angle times a positive factor, and that one's rate."""
    flat, r = f.flat, f.radius - f.flat
    sine = math.sin(t - psi)
    cosine = math.cos(t - psi)
    lever = rho * s.path
    q = math.sqrt(max(rho * rho + s.path * s.path - 2.0 * lever * cosine, 0.0))
    v = q - flat
    if not (v > 0.0):
        return s.slope * r, 0.0
    e = math.sqrt(max(r * r - v * v, 0.0))
    change = lever * sine / q
    slope = s.slope * e + (v / q) * lever * sine
    if not (e > NEARLY_UPRIGHT_SHARE * r):
        return slope, 0.0
    return slope, ((v / q) * lever * cosine + flat * change * change / q - s.slope * v * change / e)


turning_slope = inner(_turning_slope)


def _turning_height(t: float, psi: float, rho: float, s: Step, f: Form) -> float:
    q = math.sqrt(max(rho * rho + s.path * s.path - 2.0 * rho * s.path * math.cos(t - psi), 0.0))
    r = f.radius - f.flat
    v = max(q - f.flat, 0.0)
    return s.az + s.slope * t + r - math.sqrt(max(r * r - v * v, 0.0))


turning_height = inner(_turning_height)


def _lowest_turning(low: float, high: float, psi: float, rho: float, s: Step,
                    f: Form) -> float:  # fmt: skip
    """Return the least height between two angles at which the column is under the corner.

    Both ends count, and each of the rate's changes from falling to rising.
    """
    best = min(turning_height(low, psi, rho, s, f), turning_height(high, psi, rho, s, f))
    a = low
    fa, _ = turning_slope(a, psi, rho, s, f)
    # within a right angle of the column the height is convex
    pieces = 1 if abs(low - psi) < 1.5 and abs(high - psi) < 1.5 else 4
    for k in range(1, pieces + 1):
        b = low + (high - low) * k / pieces
        fb, _ = turning_slope(b, psi, rho, s, f)
        if fa < 0.0 < fb:
            left, right = a, b
            t = (a * fb - b * fa) / (fb - fa)
            for _ in range(60):
                ft, rate = turning_slope(t, psi, rho, s, f)
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
            best = min(best, turning_height(t, psi, rho, s, f))
        a, fa = b, fb
    return best


lowest_turning = inner(_lowest_turning)


def _searched_height(s: Step, f: Form, x: float, y: float) -> float:
    """Return the lowest z of a corner over a place on a helix, inf if it never is there."""
    vx = x - s.cx
    vy = y - s.cy
    rho = math.sqrt(vx * vx + vy * vy)
    reach = f.radius + UNDER_RIM_MM
    if abs(rho - s.path) > reach:
        return math.inf
    ex = s.ax - s.cx
    ey = s.ay - s.cy
    # angle from the start to the column, the way the arc turns
    psi = math.atan2(s.sense * (ex * vy - ey * vx), ex * vx + ey * vy)
    cosine = -1.0
    if rho > 0.0:
        cosine = (rho * rho + s.path * s.path - reach * reach) / (2.0 * rho * s.path)
    if cosine <= -1.0:
        return lowest_turning(0.0, s.angle, psi, rho, s, f)
    swing = math.acos(min(cosine, 1.0))
    best = math.inf
    for k in range(-1, 2):
        low = max(0.0, psi - swing + 2.0 * math.pi * k)
        high = min(s.angle, psi + swing + 2.0 * math.pi * k)
        if low <= high:
            best = min(best, lowest_turning(low, high, psi, rho, s, f))
    return best


searched_height = inner(_searched_height)


def _end_heights(s: Step, f: Form, x: Eight, y: Eight) -> tuple[Eight, Answers]:
    """Return the lower of the heights at a helix' two ends, and where it may be lower in between.

    Not over columns that the cutter comes to at both ends, had left or was rising over at the upper
    one, or still falls over at the lower one.
    """
    ux, uy, uz, lx, ly, lz, way = s.ax, s.ay, s.az, s.bx, s.by, s.bz, s.sense
    if s.slope > 0.0:
        ux, uy, uz, lx, ly, lz, way = lx, ly, lz, ux, uy, uz, -way
    dux, duy, dlx, dly = x - ux, y - uy, x - lx, y - ly
    upper2, lower2 = dux * dux + duy * duy, dlx * dlx + dly * dly
    best = least(raised(f, eight(uz), upper2), raised(f, eight(lz), lower2))
    # the ways at both ends, downward
    behind_upper = dux * (way * (uy - s.cy) / s.path) + duy * (way * (s.cx - ux) / s.path)
    behind_lower = dlx * (way * (ly - s.cy) / s.path) + dly * (way * (s.cx - lx) / s.path)
    more_upper, more_lower = behind_upper > 0.0, behind_lower > 0.0
    reach = f.radius * f.radius
    if f.rise == 0.0 and f.flat < f.radius:
        r, mm = f.radius - f.flat, (s.slope / s.path) ** 2
        v = most(root(upper2) - f.flat, 0.0)
        t = v * behind_upper
        falling = t * t < mm * upper2 * most(r * r - v * v, 0.0)
        more_upper = more_upper & (falling & (upper2 <= reach))
        v = most(root(lower2) - f.flat, 0.0)
        t = v * behind_lower
        rising = mm * lower2 * most(r * r - v * v, 0.0) < t * t
        more_lower = more_lower & (rising | (lower2 > reach))
    else:
        more_upper = more_upper & (upper2 <= reach)
    either = (behind_upper > 0.0) | (behind_lower > 0.0)
    passed_upper = ~(behind_upper > 0.0) | more_upper
    passed_lower = ~(behind_lower > 0.0) | more_lower
    return best, either & (passed_upper & passed_lower)


end_heights = inner(_end_heights)


def _moments(s: Step, f: Form, D: Eight, rho: Eight, steep: Eight, lag: Eight, x: Eight,
             y: Eight) -> Eight:  # fmt: skip
    """Return the heights when the axis has passed columns of a helix by their lags, else inf."""
    way = 1.0 if s.slope < 0.0 else -1.0
    half = 0.5 * s.angle
    limit = math.sin(half)
    # unit vectors to the middle of the arc, and square to it the way it turns
    mx = (0.5 * (s.ax + s.bx) - s.cx) / (s.path - s.sag)
    my = (0.5 * (s.ay + s.by) - s.cy) / (s.path - s.sag)
    nx, ny = -s.sense * my, s.sense * mx
    vx, vy = x - s.cx, y - s.cy
    share = 1.0 / most(rho, 1e-300)
    cp = (vx * mx + vy * my) * share
    sp = (vx * nx + vy * ny) * share
    h = steep * lag * lag
    ct = 1.0 - 2.0 * h
    st = 2.0 * way * root(h * (1.0 - h))
    sine = sp * ct + cp * st
    cosine = cp * ct - sp * st
    t = half + arcsine(least(most(sine, -0.3), 0.3))
    there = (sine <= limit) & (sine >= -limit) & (cosine > 0.0) & (h <= 1.0)
    return choose(there, raised(f, s.az + s.slope * t, D * D + lag * lag), math.inf)


moments = inner(_moments)


def _turning_lag(m: float, f: Form, D: Eight, scale: Eight, steep: Eight) -> Eight:
    """Return the chord from the axis to where it passes a column when it comes lowest over it.

    ``m`` is the rise or fall per mm, positive; ``D`` the columns' distance from the circle; with
    ``rho`` theirs from the centre, scale = rho / path and steep = 1 / (4 rho path).
    """
    RR, DD, mm = f.radius * f.radius, D * D, m * m
    if f.flat == f.radius:
        return root(RR - DD)
    if f.rise > 0.0:
        mm /= f.rise * f.rise
        half = scale - mm
        under = half * half - 4.0 * scale * steep * mm * DD
        square = 2.0 * mm * DD / most(half + root(under), 1e-300)
        square = choose((under >= 0.0) & (half > 0.0), square, RR)
        return root(least(most(square, f.flat * f.flat - DD), RR - DD))
    if f.flat == 0.0:
        square = mm * most(RR - DD, 0.0)
        half = scale + mm
        under = half * half - 4.0 * scale * steep * square
        found = root(2.0 * square / (half + root(under)))
        return choose(under >= 0.0, found, root(4.0 / steep))
    return corner_lag(m, f, D, scale, steep)


turning_lag = inner(_turning_lag)


def _between_ends(s: Step, f: Form, x: Eight, y: Eight) -> Eight:
    """Return how low the cutter comes over columns of a helix between its ends, inf for nowhere."""
    vx, vy = x - s.cx, y - s.cy
    rho = root(vx * vx + vy * vy)
    beside = rho - s.path
    D = most(beside, -beside)
    scale, steep = rho / s.path, 0.25 / (most(rho, 1e-30) * s.path)
    lag = turning_lag(abs(s.slope) / s.path, f, D, scale, steep)
    z = moments(s, f, D, rho, steep, lag, x, y)
    if f.rise > 0.0:  # where the cutter leaves a column that it never rises over
        z = least(z, moments(s, f, D, rho, steep, root(f.radius * f.radius - D * D), x, y))
    return z


between_ends = inner(_between_ends)


def _searched_heights(s: Step, f: Form, x: Eight, y: Eight, z: Eight) -> Eight:
    """Return heights of a corner on a helix near its own axis, where no closed form holds."""
    # beyond this the slope of the corner grows all the way until it leaves the column
    limit = f.radius * f.radius + 0.385 * f.radius * (f.radius - f.flat)
    if s.path * s.path >= limit:
        return z
    dx, dy = x - s.cx, y - s.cy
    whole = root(dx * dx + dy * dy) + s.path
    near = pattern((whole * whole < limit) & (whole > f.flat))
    for k in range(8):
        if (near >> k) & 1:
            px, py = lane(x, k), lane(y, k)
            here = (x == px) & (y == py)
            z = choose(here, least(z, searched_height(s, f, px, py)), z)
    return z


searched_heights = inner(_searched_heights)


def _helix_heights(s: Step, f: Form, x: Eight, y: Eight) -> Eight:
    """Return the heights of a helix."""
    z, more = end_heights(s, f, x, y)
    if pattern(more) != 0:
        z = choose(more, least(z, between_ends(s, f, x, y)), z)
    if f.rise == 0.0 and 0.0 < f.flat < f.radius:
        z = searched_heights(s, f, x, y, z)
    return z


helix_heights = inner(_helix_heights)


def _heights(s: Step, f: Form, x: Eight, y: Eight) -> Eight:
    """Return how low the cutter comes over eight columns; inf where it does not come."""
    if s.path == 0.0:
        if s.slope == 0.0:
            return raised(f, eight(s.az), chord_square(s, x, y))
        return line_heights(s, f, x, y)
    if s.slope == 0.0:
        return raised(f, eight(s.az), arc_square(s, x, y))
    return helix_heights(s, f, x, y)


heights = close(_heights)


# ---- cutting a block ----------------------------------------------------------------------------


def _tile_bounds(s: Step, f: Form, around: float, x: Eight, y: Eight) -> Eight:
    """Return below what a step does not come anywhere within tiles that reach ``around`` mm."""
    near = most(root(chord_square(s, x, y)) - (around + s.sag), 0.0)
    return raised(f, eight(min(s.az, s.bz)), near * near)


tile_bounds = close(_tile_bounds)


def _across(s: Step, R: float, x: Eight, y: Eight) -> Eight:
    """Return where across the cutter, left positive, columns first come to its rim.

    Inf for columns within `RIM_SKIN_MM` of the outermost rim; 0 for those that never come to the rim,
    cut by the end face alone, and along Z.
    """
    if s.path > 0.0:
        dx, dy = x - s.cx, y - s.cy
        squared = dx * dx + dy * dy
        d = (s.path * s.path + R * R - squared) * (0.5 * s.sense / s.path)
        d = choose((d <= R) & (d >= -R), d, 0.0)
        inmost = (s.path - R + RIM_SKIN_MM) ** 2 if s.path > R else -1.0
        return choose(
            (squared <= (s.path + R - RIM_SKIN_MM) ** 2) & (squared >= inmost), d, math.inf
        )
    px, py = x - s.ax, y - s.ay
    if s.length > 0.0:
        d = s.ux * py - s.uy * px
        return choose((d <= R - RIM_SKIN_MM) & (d >= RIM_SKIN_MM - R), d, math.inf)
    return choose(px * px + py * py <= (R - RIM_SKIN_MM) * (R - RIM_SKIN_MM), eight(0.0), math.inf)


across_cutter = close(_across)


def _cut_row(z: Eight, low: float, at: Index, void: float, motion: float, room: Floats,
             rows: Longs, count: Index) -> Index:  # fmt: skip
    """Cut eight columns, ``at`` in scratch, to heights that are nowhere below ``low``.

    They are listed if anything is cut; return how many are then.
    """
    stood = load(room, LEVEL + at)
    cut = stood - z > ROUNDING_MM
    if pattern(cut) == 0:
        return count
    left = least(stood, z)
    lost = stood - z
    if not (low - void > EMPTY_COLUMN_MM):  # where a void beneath is reached, nothing stays
        under = load(room, BENEATH + at)
        gone = cut & (z - under <= EMPTY_COLUMN_MM)
        left, lost = choose(gone, -math.inf, left), choose(gone, stood - under, lost)
    store(room, LEVEL + at, left)
    mark = load(room, MARK + at)
    store(room, MARK + at, mark + choose(cut, motion - mark, 0.0))
    room[PEAK + at // EIGHT] = highest(left)
    store(room, LOST + count * EIGHT, choose(cut, lost, 0.0))
    rows[count] = at
    return count + Index(1)


cut_row = close(_cut_row)


def _row_bounds(s: Step, f: Form, half: float, x: float, y: Eight) -> Eight:
    """Return below what a step does not come anywhere within rows, ``half`` mm to both sides of x.

    Along a row of which the middle lies (vx, vy) from a circle's centre, at the distance rho, that
    distance changes by no more than (|vx| half + half^2) / rho.
    """
    if s.path > 0.0:
        vx, vy = x - s.cx, y - s.cy
        rho = root(vx * vx + vy * vy)
        beside = most(rho - s.path, s.path - rho)
        near = most(beside - (abs(vx) * half + half * half) / most(rho, UNDER_RIM_MM), 0.0)
        return raised(f, eight(min(s.az, s.bz)), near * near)
    px, py = x - s.ax, y - s.ay
    along, d = px * s.ux + py * s.uy, s.ux * py - s.uy * px
    past = most(most(0.0 - along, along - s.length) - abs(s.ux) * half, 0.0)
    near = most(most(d, 0.0 - d) - abs(s.uy) * half, 0.0)
    return raised(f, eight(min(s.az, s.bz)), near * near + past * past)


row_bounds = close(_row_bounds)


def _cut_tile(s: Step, f: Form, i: Index, j: Index, whole: bool, half: float, void: float,
              motion: float, room: Floats, rows: Longs, count: Index) -> Index:  # fmt: skip
    """Sweep a step over a tile; return how many rows of eight are listed as cut.

    ``whole``: the flat end comes over all of it where the step is lowest.
    """
    tile, low = j * Index(TILES) + i, min(s.az, s.bz)
    bound = eight(low)
    if not whole:
        bound = row_bounds(s, f, half, room[TILE_X + i], load(room, YS + j * EIGHT))
    bits = pattern(load(room, PEAK + tile * EIGHT) - bound > ROUNDING_MM)
    if bits == 0:
        return count
    x = load(room, XS + i * EIGHT)
    for row in range(EIGHT):
        if (bits >> int(row)) & 1:
            z = eight(low)
            if not whole:
                z = heights(s, f, x, eight(room[YS + j * EIGHT + row]))
            count = cut_row(z, low, (tile * EIGHT + row) * EIGHT, void, motion, room, rows, count)
    room[TOP + tile] = highest(load(room, PEAK + tile * EIGHT))
    return count


cut_tile = close(_cut_tile)


def _under_flat(s: Step, f: Form, around: float, x: Eight, y: Eight) -> Answers:
    """Return which tiles the flat end comes over as a whole where a step is lowest."""
    if s.slope > 0.0:
        px, py = x - s.ax, y - s.ay
        qq = px * px + py * py
    elif s.slope < 0.0:
        px, py = x - s.bx, y - s.by
        qq = px * px + py * py
    elif s.path == 0.0:
        qq = chord_square(s, x, y)
    else:
        qq = arc_square(s, x, y)
    return root(qq) + around <= f.flat


under_flat = close(_under_flat)


def _cut_tiles(s: Step, f: Form, done: bool, first: Index, j: Index, around: float, half: float,
               void: float, motion: float, room: Floats, rows: Longs,
               count: Index) -> Index:  # fmt: skip
    """Sweep a step over those of eight tiles in a row that it may cut; return how many rows it cut.

    ``done``: the footprint at the start was swept by the step before. Then nothing behind the start
    of a level or rising step can be lower than that one has left it.
    """
    tops = load(room, TOP + j * Index(TILES) + first)
    if not (highest(tops) - min(s.az, s.bz) > ROUNDING_MM):
        return count
    x, y = load(room, TILE_X + first), eight(room[TILE_Y + j])
    bound = tile_bounds(s, f, around, x, y)
    wanted = tops - bound > ROUNDING_MM
    if (
        done
        and s.slope >= 0.0
        and s.length > 0.0
        and (s.path == 0.0 or s.path > f.radius + UNDER_RIM_MM)
    ):
        tx = s.ux if s.path == 0.0 else -s.sense * (s.ay - s.cy) / s.path
        ty = s.uy if s.path == 0.0 else s.sense * (s.ax - s.cx) / s.path
        wanted = wanted & ((x - s.ax) * tx + (y - s.ay) * ty >= -around)
    bits = pattern(wanted)
    if bits == 0:
        return count
    whole = pattern(under_flat(s, f, around, x, y)) if f.flat > around else 0
    for k in range(EIGHT):
        if (bits >> int(k)) & 1:
            all_ = (whole >> int(k)) & 1 == 1
            count = cut_tile(s, f, first + k, j, all_, half, void, motion, room, rows, count)
    return count


cut_tiles = close(_cut_tiles)


def _place_in(room: Floats, at: Index) -> tuple[Eight, Eight]:
    """Return where eight columns lie, ``at`` in scratch."""
    tile, row = at // Index(64), at // EIGHT % EIGHT
    x = load(room, XS + tile % Index(TILES) * EIGHT)
    return x, eight(room[YS + tile // Index(TILES) * EIGHT + row])


place_in = close(_place_in)


def _measure(s: Step, R: float, room: Floats, rows: Longs, count: Index, met: Floats, many: Index,
             pair: Index) -> None:  # fmt: skip
    """Fill in what a step met of the columns it cut in a block."""
    taken = left = front = right = eight(0.0)
    low, high = eight(math.inf), eight(-math.inf)
    side = 0.7 * R
    for k in range(count):
        x, y = place_in(room, Index(rows[k]))
        lost = load(room, LOST + k * EIGHT)
        d = across_cutter(s, R, x, y)
        counted = choose(d < math.inf, lost, 0.0)
        taken = taken + lost
        left = most(left, choose(d > side, counted, 0.0))
        right = most(right, choose(d < -side, counted, 0.0))
        front = most(front, choose((d <= side) & (d >= -side), counted, 0.0))
        low = least(low, choose(counted > 0.0, d, math.inf))
        high = most(high, choose(counted > 0.0, d, -math.inf))
    met[Index(MET_TAKEN) * many + pair] = total(taken)
    met[Index(MET_LEFTS) * many + pair] = highest(left)
    met[Index(MET_FRONTS) * many + pair] = highest(front)
    met[Index(MET_RIGHTS) * many + pair] = highest(right)
    if s.length > 0.0:
        met[Index(MET_LOW) * many + pair] = lowest(low)
        met[Index(MET_HIGH) * many + pair] = highest(high)


measure = inner(_measure)


def _find_gouge(
    room: Floats, rows: Longs, count: Index, met: Floats, many: Index, pair: Index
) -> None:
    """Fill in the deepest cut into a guarded column, and where."""
    for n in range(count):
        at = Index(rows[n])
        kept, lost = load(room, KEPT + at), load(room, LOST + n * EIGHT)
        into = choose(kept > 0.0, lost, 0.0)
        if highest(into) > met[Index(MET_GOUGE) * many + pair]:
            x, y = place_in(room, at)
            for k in range(8):
                if lane(into, k) > met[Index(MET_GOUGE) * many + pair]:
                    met[Index(MET_GOUGE) * many + pair] = lane(into, k)
                    met[Index(MET_GOUGE_X) * many + pair] = lane(x, k)
                    met[Index(MET_GOUGE_Y) * many + pair] = lane(y, k)


find_gouge = inner(_find_gouge)


def _tile_of(place: float, origin: float, per_cell: float) -> int:
    """Return the tile in which a place lies, counted from an origin, within those of a block."""
    return int(min(max(math.floor((place - origin) * per_cell / TILE), 0.0), TILES - 1.0))


tile_of = close(_tile_of)


def _cut_step(s: Step, f: Form, done: bool, p: Place, void: float, motion: float, room: Floats,
              rows: Longs) -> Index:  # fmt: skip
    """Sweep one step over a block; return how many rows of eight are listed as cut."""
    grown = f.radius + s.sag + UNDER_RIM_MM + TILE_SLACK_MM
    x0, y0 = room[XS] - 0.5 * p.cell, room[YS] - 0.5 * p.cell
    side, count = BLOCK * p.cell, Index(0)
    if max(s.ax, s.bx) + grown < x0 or min(s.ax, s.bx) - grown > x0 + side:
        return count
    if max(s.ay, s.by) + grown < y0 or min(s.ay, s.by) - grown > y0 + side:
        return count
    first = tile_of(min(s.ay, s.by) - grown, y0, p.per_cell)
    last = tile_of(max(s.ay, s.by) + grown, y0, p.per_cell)
    left = tile_of(min(s.ax, s.bx) - grown, x0, p.per_cell) // TILE
    right = tile_of(max(s.ax, s.bx) + grown, x0, p.per_cell) // TILE
    half = 0.5 * (TILE - 1) * p.cell + TILE_SLACK_MM
    around = math.sqrt(2.0) * half
    for j in range(Index(first), Index(last + 1)):
        for k in range(Index(left * TILE), Index(right * TILE + 1), EIGHT):
            count = cut_tiles(s, f, done, k, j, around, half, void, motion, room, rows, count)
    return count


cut_step = inner(_cut_step)


# ---- what stands round the cutter ---------------------------------------------------------------


def _place_of(i: int, j: int) -> Index:
    """Return where a column of a block lies in scratch."""
    return Index(((j >> 3) * TILES + (i >> 3)) * 64 + (j & 7) * 8 + (i & 7))


place_of = close(_place_of)


def _highest_on_ring(p: Place, b: Block, x: float, y: float, radius: float, ring: Floats,
                     best: float, tallest: float, room: Floats) -> float:  # fmt: skip
    """Return the height of the highest metal on that part of a circle which lies in a block.

    At least ``best``; no more is looked for once it is ``tallest``.
    """
    x = (x - p.x0) * p.per_cell - b.i + 0.5
    y = (y - p.y0) * p.per_cell - b.j + 0.5
    radius *= p.per_cell
    for k in range(Index(RING_PLACES)):
        i = math.floor(x + radius * ring[k])
        j = math.floor(y + radius * ring[k + Index(RING_PLACES)])
        if 0 <= i < b.nx and 0 <= j < b.ny:
            top = room[LEVEL + place_of(i, j)]
            if top > best:
                best = top
                if best >= tallest:
                    break
    return best


highest_on_ring = inner(_highest_on_ring)


def _look_round(x: float, y: float, R: float, shank: float, p: Place, b: Block, tallest: float,
                ring: Floats, room: Floats, met: Floats, many: Index, pair: Index) -> None:  # fmt: skip
    """Fill in how high metal stands in a block round the rim, and round the shank."""
    rim = R + 0.71 * p.cell
    wall = highest_on_ring(p, b, x, y, rim, ring, -math.inf, tallest, room)
    met[Index(MET_WALL) * many + pair] = wall
    if shank > 0.0:
        rings = math.ceil((shank - R) / 0.5)
        for k in range(1, rings + 1):
            radius = rim + max(0.0, shank - rim) * k / rings
            wall = highest_on_ring(p, b, x, y, radius, ring, wall, tallest, room)
        met[Index(MET_WALL_AT_SHANK) * many + pair] = wall


look_round = inner(_look_round)


def _floor_under(p: Place, b: Block, x: float, y: float, z: float, bed: float,
                 room: Floats) -> float:  # fmt: skip
    """Return the metal that stays under a tip with a void beneath it, inf over solid or air."""
    i = math.floor((x - p.x0) * p.per_cell - b.i + 0.5)
    j = math.floor((y - p.y0) * p.per_cell - b.j + 0.5)
    if 0 <= i < b.nx and 0 <= j < b.ny:
        at = place_of(i, j)
        top, bottom = room[LEVEL + at], room[BENEATH + at]
        if top > -math.inf and bottom > bed + VOID_MM:
            return max(0.0, min(top, z) - bottom)
    return math.inf


floor_under = inner(_floor_under)


# ---- the grid, block by block -------------------------------------------------------------------


def _load_places(p: Place, b: Block, room: Floats) -> None:
    """Fill in where the columns, rows and tiles of a block lie."""
    for k in range(BLOCK):
        room[XS + Index(k)] = p.x0 + (b.i + k) * p.cell
        room[YS + Index(k)] = p.y0 + (b.j + k) * p.cell
    middle = 0.5 * (TILE - 1) * p.cell
    for k in range(Index(TILES)):
        room[TILE_X + k] = room[XS + k * EIGHT] + middle
        room[TILE_Y + k] = room[YS + k * EIGHT] + middle


load_places = inner(_load_places)


def _load_row(cut: Floats, other: Floats, p: Place, b: Block, i: int, j: int, at: Index,
              room: Floats) -> None:  # fmt: skip
    """Copy eight columns of the grid to scratch; those beyond its end are empty."""
    n = Index((b.j + j) * p.nx + b.i + i)
    if i + 8 <= b.nx:
        top, bottom = p.sign * load(cut, n), p.sign * load(other, n)
        store(room, LEVEL + at, choose(top - bottom > EMPTY_COLUMN_MM, top, -math.inf))
        store(room, BENEATH + at, bottom)
        return
    store(room, LEVEL + at, eight(-math.inf))
    store(room, BENEATH + at, eight(OTHER_FACE_BEYOND_MM))
    for k in range(Index(max(b.nx - i, 0))):
        top, bottom = p.sign * cut[n + k], p.sign * other[n + k]
        room[LEVEL + at + k] = top if top - bottom > EMPTY_COLUMN_MM else -math.inf
        room[BENEATH + at + k] = bottom


load_row = inner(_load_row)


def _load_block(cut: Floats, other: Floats, p: Place, b: Block,
                room: Floats) -> tuple[float, float]:  # fmt: skip
    """Copy a block and where it lies to scratch; return its highest metal and its highest void."""
    load_places(p, b, room)
    tallest, void = eight(-math.inf), eight(-math.inf)
    for j in range(BLOCK):
        for i in range(0, BLOCK, TILE):
            at = place_of(i, j)
            if j < b.ny:
                load_row(cut, other, p, b, i, j, at, room)
            else:
                store(room, LEVEL + at, eight(-math.inf))
                store(room, BENEATH + at, eight(OTHER_FACE_BEYOND_MM))
            store(room, MARK + at, eight(-1.0))
            stood = load(room, LEVEL + at)
            room[PEAK + at // EIGHT] = highest(stood)
            tallest, void = most(tallest, stood), most(void, load(room, BENEATH + at))
    for tile in range(Index(TILES * TILES)):
        room[TOP + tile] = highest(load(room, PEAK + tile * EIGHT))
    return highest(tallest), highest(void)


load_block = inner(_load_block)


def _load_guard(guard: Bools, p: Place, b: Block, room: Floats) -> bool:
    """Fill in which columns of a block are guarded; return if any is."""
    some = 0
    for j in range(b.ny):
        for i in range(BLOCK):
            here = 1 if i < b.nx and guard[Index((b.j + j) * p.nx + b.i + i)] else 0
            room[KEPT + place_of(i, j)] = float(here)
            some += here
    return some > 0


load_guard = inner(_load_guard)


def _store_block(cut: Floats, other: Floats, changed: Ints, p: Place, b: Block, first: float,
                 room: Floats) -> None:  # fmt: skip
    """Copy the columns of a block that were cut back to the grid."""
    for j in range(b.ny):
        for i in range(0, b.nx, TILE):
            at, n = place_of(i, j), Index((b.j + j) * p.nx + b.i + i)
            mark, left = load(room, MARK + at), load(room, LEVEL + at)
            if pattern(mark >= 0.0) == 0:
                continue
            if i + 8 <= b.nx:
                ends = choose(left > -math.inf, p.sign * left, load(other, n))
                store(cut, n, choose(mark >= 0.0, ends, load(cut, n)))
                store_whole(changed, n, mark >= 0.0, mark + first)
                continue
            for k in range(Index(b.nx - i)):
                if room[MARK + at + k] >= 0.0:
                    stands = room[LEVEL + at + k]
                    cut[n + k] = p.sign * stands if stands > -math.inf else other[n + k]
                    changed[n + k] = np.int32(first + room[MARK + at + k])


store_block = inner(_store_block)


def _sweep_block(p: Place, b: Block, tallest: float, void: float, guarded: bool, ring: Floats,
                 bed: float, table: Floats, listed: Ints, begin: int, end: int, met: Floats,
                 many: Index, room: Floats, rows: Longs) -> None:  # fmt: skip
    """Sweep the steps listed from begin to end over a block in scratch."""
    for pair in range(Index(begin), Index(end)):
        row = Index(listed[pair]) * Index(TABLE)
        s, f = step_at(table, row), form_at(table, row)
        tip, shank = table[row + Index(STEP_TIP)], table[row + Index(STEP_LOOK)]
        met[Index(MET_OVER_VOID) * many + pair] = floor_under(p, b, s.bx, s.by, tip, bed, room)
        if tallest > min(s.az, s.bz):
            done, motion = table[row + Index(STEP_DONE)] > 0.0, table[row + Index(STEP_MOTION)]
            count = cut_step(s, f, done, p, void, motion, room, rows)
            if count > 0:
                measure(s, f.radius, room, rows, count, met, many, pair)
                if guarded:
                    find_gouge(room, rows, count, met, many, pair)
        if tallest > tip or shank > 0.0:
            look_round(s.bx, s.by, f.radius, shank, p, b, tallest, ring, room, met, many, pair)


sweep_block = inner(_sweep_block)


def _block_at(p: Place, number: int) -> Block:
    """Return a block by its number: row by row, from the grid's first column."""
    across = (p.nx + BLOCK - 1) // BLOCK
    i, j = (number % across) * BLOCK, (number // across) * BLOCK
    return Block(i, j, min(BLOCK, p.nx - i), min(BLOCK, p.ny - j))


block_at = inner(_block_at)


def _sweep_blocks(cut: Floats, other: Floats, changed: Ints, guard: Bools, guarded: bool, p: Place,
                  ring: Floats, bed: float, first: int, table: Floats, begins: Longs, listed: Ints,
                  low: int, high: int, met: Floats, room: Floats, rows: Longs) -> None:  # fmt: skip
    """Sweep all steps over the blocks from low to high; fill what each met in each of them.

    ``cut`` is the face that is cut and ``other`` the opposite one, (ny * nx,). Steps ``listed`` from
    ``begins[b]`` on reach block b; ``met`` (12 * P,) has for each figure one of each of those, and
    comes filled with what is met where nothing is. ``first`` is added to the motions written to
    ``changed``.
    """
    room, cut, other, changed, guard = (
        pointer(room), pointer(cut), pointer(other), pointer(changed), pointer(guard)
    )  # fmt: skip
    for place in range(low, high):
        begin, end = begins[place], begins[place + 1]
        if begin == end:
            continue
        b = block_at(p, place)
        tallest, void = load_block(cut, other, p, b, room)
        here = load_guard(guard, p, b, room) if guarded else False
        sweep_block(
            p, b, tallest, void, here, pointer(ring), bed, pointer(table), pointer(listed), begin,
            end, pointer(met), Index(listed.size), room, pointer(rows),
        )  # fmt: skip
        store_block(cut, other, changed, p, b, float(first), room)


sweep_blocks = outer(_sweep_blocks)


def _leave_blocks(cut: Floats, other: Floats, changed: Ints, p: Place, first: int, table: Floats,
                  begins: Longs, listed: Ints, low: int, high: int, room: Floats,
                  rows: Longs) -> None:  # fmt: skip
    """Fill in what all steps leave of the blocks from low to high, and nothing of what they met.

    Parameters are those of `sweep_blocks`, but that steps may be listed in any order.
    """
    room, cut, other, changed = pointer(room), pointer(cut), pointer(other), pointer(changed)
    lines, steps, lost = pointer(table), pointer(listed), pointer(rows)
    for place in range(low, high):
        begin, end = begins[place], begins[place + 1]
        if begin == end:
            continue
        b = block_at(p, place)
        tallest, void = load_block(cut, other, p, b, room)
        for pair in range(Index(begin), Index(end)):
            row = Index(steps[pair]) * Index(TABLE)
            s, f = step_at(lines, row), form_at(lines, row)
            if tallest > min(s.az, s.bz):
                done, motion = lines[row + Index(STEP_DONE)] > 0.0, lines[row + Index(STEP_MOTION)]
                cut_step(s, f, done, p, void, motion, room, lost)
        store_block(cut, other, changed, p, b, float(first), room)


leave_blocks = outer(_leave_blocks)


# ---- sample columns
# -------------------------------------------------------------------------------------


class Buckets(NamedTuple):
    """Sample columns sorted by square buckets: ``begins[b]`` to ``begins[b + 1]`` lie in bucket b."""

    begins: Longs
    x0: float
    y0: float
    size: float
    nx: int
    ny: int


def _choose_sights(s: Step, f: Form, q: Buckets, level: Floats, bound: Floats,
                   chosen: Longs) -> int:  # fmt: skip
    """List the sample columns that stand higher than a step's lowest near its path; return how many."""
    low, grown = min(s.az, s.bz), f.radius + s.sag + UNDER_RIM_MM
    a = max(0, math.floor((min(s.ay, s.by) - grown - q.y0) / q.size))
    b = min(q.ny - 1, math.floor((max(s.ay, s.by) + grown - q.y0) / q.size))
    c = max(0, math.floor((min(s.ax, s.bx) - grown - q.x0) / q.size))
    d = min(q.nx - 1, math.floor((max(s.ax, s.bx) + grown - q.x0) / q.size))
    n = 0
    for j in range(a, b + 1):
        for cube in range(j * q.nx + c, j * q.nx + d + 1):
            if not (bound[cube] > low):
                continue
            tallest = -math.inf
            for i in range(q.begins[cube], q.begins[cube + 1]):
                chosen[n] = i
                n += 1 if level[i] > low else 0
                tallest = max(tallest, level[i])
            bound[cube] = tallest
    return n


choose_sights = inner(_choose_sights)


def _sweep_sights(cut: Floats, other: Floats, changed: Ints, xs: Floats, ys: Floats, sign: float,
                  q: Buckets, table: Floats, steps: int, first: int, asked: Bools, bite: Floats,
                  biter: Ints, room: Floats) -> None:  # fmt: skip
    """Sweep steps over sample columns sorted by bucket.

    ``bite`` and ``biter`` take the most that a step ``asked`` for takes off each, and its motion.
    """
    level = np.empty(cut.size)
    for i in range(cut.size):
        level[i] = sign * cut[i] if sign * (cut[i] - other[i]) > EMPTY_COLUMN_MM else -math.inf
    bound = np.full(q.nx * q.ny, math.inf)
    chosen = np.empty(cut.size + 1, np.int64)
    px, py, pz, lines = pointer(room[:8]), pointer(room[8:16]), pointer(room[16:24]), pointer(table)
    for n in range(Index(steps)):
        row = n * Index(TABLE)
        s, f, motion = step_at(lines, row), form_at(lines, row), table[row + Index(STEP_MOTION)]
        count = choose_sights(s, f, q, level, bound, chosen)
        for begin in range(0, count, 8):
            some = min(8, count - begin)
            for k in range(8):
                i = chosen[begin + min(k, some - 1)]
                px[Index(k)], py[Index(k)] = xs[i], ys[i]
            store(pz, Index(0), heights(s, f, load(px, Index(0)), load(py, Index(0))))
            for k in range(some):
                i, z = chosen[begin + k], pz[Index(k)]
                if level[i] - z > ROUNDING_MM:
                    changed[i] = first + np.int32(motion)
                    if asked[n] and level[i] - z > bite[i]:
                        bite[i], biter[i] = level[i] - z, np.int32(motion)
                    there = z - sign * other[i] > EMPTY_COLUMN_MM
                    level[i] = z if there else -math.inf
                    cut[i] = sign * z if there else other[i]


sweep_sights = outer(_sweep_sights)

"""Compiled sweeps: how low a cutter comes over a column, and what it takes off there.

A motion is cut in steps: a piece of a line, or at most a twelfth of a turn of an arc or helix. The
grid is worked off block by block. A block's columns are copied to scratch that stays in the core's
own memory, every step that reaches the block is swept over it in the programs' order, and the
columns are copied back. A column belongs to one block, so that blocks do not know of each other and
may be shared out among threads; what a step met in each of its blocks is put together afterwards,
always in the same order. No result depends on threads or on the width of the machine's registers.

Within a block columns are worked off in octets, eight next to each other in a row, each with the
height of its highest. A step is swept in four turns, each a plain loop: the octets in whose rows
the cutter passes and that stand higher than the step's lowest are listed; their lowest heights are
worked out; they are cut; what was met is measured in those that were. With R the cutter's radius, f
that of its flat end, P(q) the height of its surface at the distance q from its axis (flat: 0; corner
of radius r = R - f; cone of rise k per mm), m the rise per mm, a column at s along a line and d
beside it:

- level: z = z0 + P(distance to the path);
- line: the height over the column is convex along the path; its least lies at s - sign(m) w,
  brought within the step, where w is what `_lags` finds;
- helix: with c the chord from the axis to where it passes the column, q^2 = D^2 + c^2, D the
  distance to the path's circle; `_lags` finds the c of the least value; both ends count too.

Flat, ball and cone are closed forms; a corner's w or c is the one root of a growing function.
Only where a corner never quite leaves a column is the least height on a helix searched for.
The whole call tree stays in this file, since a disk cache of compiled code does not see changes
elsewhere. The field holds float64, `sign` is +1 where the upper face is cut and -1 where the lower
one is: heights in the cutting side's frame are ``sign * field``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from llvmlite import ir
from numba import njit, types
from numba.extending import intrinsic, overload
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Bools = NDArray[np.bool_]
Bytes = NDArray[np.uint8]

TOUCH = 1e-9
"""mm: a column this far outside the rim still counts as under the cutter."""

EMPTY = 1e-9
"""mm: a column with less metal than this is empty, and stays so."""

GRAIN = 1e-12
"""mm: less than this is rounding, not cutting."""

RIM = 1e-3
"""mm: a skin thinner than this at the rim is cut, but is not counted as met."""

BLOCK = 128
"""Cells along the side of a block."""

VOID = 0.05
"""mm: the other side has a void where its face lies this far from where it was."""

STEEP = 1e-6
"""Where the corner's side is this near to upright, roots are found by halves."""

CLOSE = 1e-9
"""mm: when a step of Newton's is no longer than this, the next would change nothing."""


ARC = 2
"""The kind of a motion along an arc."""

# columns of the measures of a step
MOTION, X, Y, Z, LENGTH, VOLUME, LEFT, FRONT, RIGHT, WIDTH, UNDER, TALLEST, SHANK, FLOOR = range(14)

# columns of what a step met in a block: volume is a sum, the others are greatest or least values
TAKEN, LEFTS, FRONTS, RIGHTS, LOW, HIGH, WALL, WALL_AT_SHANK, OVER_VOID, GOUGE, GOUGE_X, GOUGE_Y = (
    range(12)
)

MET = 12

FAR = 0x7FF0000000000000
"""The bits of infinity."""

Index = np.uintp
"""Numbers that are never negative: arrays are reached by them without a look at their ends."""

CHUNK = Index(64)
"""How many roots are looked for together."""

EIGHT = Index(8)
"""Columns of an octet."""

ROOM = 3 * BLOCK * BLOCK + 136
"""Room for each figure of the columns worked on; no power of two, which caches do not like."""

NOWHERE = 1e9
"""mm: where columns of an octet are moved that no cutter shall come over."""

OCTETS = Index(BLOCK * BLOCK // 8)
"""How many octets a block has; what is kept of columns comes after them."""

SLACK = 1e-7
"""mm: bounds of heights are taken this much too low, and distances too short, for rounding."""

# where the figures of the columns worked on begin: place, height, and what leads to it
PX, PY, HEIGHT, AWAY, ALONG, LAG, MU, ETA, BEST = (Index(k * ROOM) for k in range(9))
WORK = 9 * ROOM

# where the edges of rows begin: of all, of what is left out
ROWS, LEFT_EDGE = Index(BLOCK), Index(2 * BLOCK)

RING = 32
"""How many places round the rim are looked at for the metal that stands beside the cutter."""

inner = njit(error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True)
"""Compiles what only compiled code calls; without a way in from Python it takes less time."""

outer = njit(error_model="numpy", nogil=True, cache=True)
"""Compiles what Python calls, keeps it on disk, and lets other threads run meanwhile."""


def pointer(array: NDArray[np.generic]) -> NDArray[np.generic]:
    """Return an array itself; compiled, no more than where it lies, whoever holds it.

    What is passed so is neither counted nor kept: the array has to outlive the call.
    """
    return array


@intrinsic
def _data_of(_: object, array: types.Array) -> tuple[object, object]:
    def build(context, builder, signature, arguments):  # type: ignore[no-untyped-def]
        return context.make_array(signature.args[0])(context, builder, arguments[0]).data

    return types.CPointer(array.dtype)(array), build


@overload(pointer)
def _pointer(array):  # type: ignore[no-untyped-def]
    return lambda array: _data_of(array)


def bits(value: float) -> int:
    """Return the bits of a number that is not negative: they compare as the numbers do.

    Unlike the numbers' own, their greatest is found in several strands at once.
    """
    return int(np.float64(value).view(np.int64))


@intrinsic
def _bits_of(_: object, value: types.Float) -> tuple[object, object]:
    def build(context, builder, signature, arguments):  # type: ignore[no-untyped-def]
        return builder.bitcast(arguments[0], context.get_value_type(types.int64))

    return types.int64(types.float64), build


@overload(bits)
def _bits(value):  # type: ignore[no-untyped-def]
    return lambda value: _bits_of(value)


def number(pattern: int) -> float:
    """Return the number whose bits these are."""
    return float(np.int64(pattern).view(np.float64))


@intrinsic
def _number_of(_: object, pattern: types.Integer) -> tuple[object, object]:
    def build(context, builder, signature, arguments):  # type: ignore[no-untyped-def]
        return builder.bitcast(arguments[0], context.get_value_type(types.float64))

    return types.float64(types.int64), build


@overload(number)
def _number(pattern):  # type: ignore[no-untyped-def]
    return lambda pattern: _number_of(pattern)


def move_eight(to: Floats, k: Index, source: Floats, i: Index) -> None:
    """Copy eight numbers that lie next to each other; compiled, all at once."""
    to[k : k + EIGHT] = source[i : i + EIGHT]


@intrinsic
def _move_eight(
    _: object, to: object, k: object, source: object, i: object
) -> tuple[object, object]:
    def build(context, builder, signature, arguments):  # type: ignore[no-untyped-def]
        builder.store(_load_eight(builder, *arguments[2:]), _eight_at(builder, *arguments[:2]), 8)
        return context.get_dummy_value()

    return types.void(to, k, source, i), build


def _eight_at(builder: Any, array: Any, at: Any) -> Any:
    return builder.bitcast(builder.gep(array, [at]), ir.VectorType(ir.DoubleType(), 8).as_pointer())


def _load_eight(builder: Any, array: Any, at: Any) -> Any:
    return builder.load(_eight_at(builder, array, at), align=8)


@overload(move_eight)
def _moved(to, k, source, i):  # type: ignore[no-untyped-def]
    return lambda to, k, source, i: _move_eight(to, k, source, i)


def sum_of_eight(array: Floats, k: Index) -> float:
    """Return the sum of eight numbers, always added in the same order."""
    a = array[k : k + EIGHT]
    return float(((a[0] + a[4]) + (a[2] + a[6])) + ((a[1] + a[5]) + (a[3] + a[7])))


def _folded(fold: Callable[[Any, Any, Any], Any]) -> Callable[..., Any]:
    """Return what folds eight numbers to one, half by half."""

    def build(context, builder, signature, arguments):  # type: ignore[no-untyped-def]
        eight = _load_eight(builder, *arguments)
        for half in (4, 2, 1):
            low, high = (
                builder.shuffle_vector(
                    eight, eight, ir.Constant(ir.VectorType(ir.IntType(32), half), list(places))
                )
                for places in (range(half), range(half, 2 * half))
            )
            eight = fold(builder, low, high)
        return builder.extract_element(eight, ir.Constant(ir.IntType(32), 0))

    return build


@intrinsic
def _sum_of_eight(_: object, array: object, k: object) -> tuple[object, object]:
    return types.float64(array, k), _folded(lambda builder, a, b: builder.fadd(a, b))


@overload(sum_of_eight)
def _summed(array, k):  # type: ignore[no-untyped-def]
    return lambda array, k: _sum_of_eight(array, k)


def highest_of_eight(array: Floats, k: Index) -> float:
    """Return the greatest of eight numbers."""
    return float(array[k : k + EIGHT].max())


@intrinsic
def _highest_of_eight(_: object, array: object, k: object) -> tuple[object, object]:
    def greater(builder, a, b):  # type: ignore[no-untyped-def]
        return builder.select(builder.fcmp_ordered(">", a, b), a, b)

    return types.float64(array, k), _folded(greater)


@overload(highest_of_eight)
def _highest(array, k):  # type: ignore[no-untyped-def]
    return lambda array, k: _highest_of_eight(array, k)


class Scratch(NamedTuple):
    """What a thread needs to work on a block: the block itself, and columns worked on."""

    level: Floats  # heights of the face that is cut, -inf where empty
    beneath: Floats  # and of the other one
    mark: Floats  # the motion that cut each column last, -1 for none
    kept: Bytes  # which columns are guarded
    peak: Floats  # no column of an octet stands higher
    x: Floats  # of the block's columns
    y: Floats  # and rows
    work: Floats
    at: Longs
    edges: Floats
    columns: Ints
    pieces: Longs


def scratch() -> Scratch:
    """Return what one thread needs."""
    cells = BLOCK * BLOCK
    return Scratch(
        np.empty(cells), np.empty(cells), np.empty(cells), np.zeros(cells, np.uint8),
        np.empty(cells // 8), np.empty(BLOCK), np.empty(BLOCK), np.empty(WORK),
        np.empty(cells + 1, np.int64), np.empty(4 * BLOCK), np.empty(4 * BLOCK, np.int32),
        np.empty(cells + cells // 8, np.int64),
    )  # fmt: skip


def tables(steps: int, nx: int, ny: int) -> tuple[Floats, Ints, Floats, Longs]:
    """Return empty tables: of steps, of their motions, of their measures, of the blocks' lists."""
    blocks = -(-nx // BLOCK) * -(-ny // BLOCK)
    return (
        np.empty(steps * TABLE), np.empty(steps, np.int32), np.zeros((steps, 14)),
        np.zeros(blocks + 1, np.int64),
    )  # fmt: skip


class Work(NamedTuple):
    """Motions in the plane of the part, heights in the cutting side's frame; their cutters."""

    kind: NDArray[np.uint8]  # (M,)
    start: Floats  # (M, 3)
    stop: Floats  # (M, 3)
    centre: Floats  # (M, 2)
    turns: Floats  # (M,)
    radius: Floats  # (M,)
    flat: Floats  # (M,) radius of the flat end
    rise: Floats  # (M,) of a cone per mm, 0 for a corner
    parts: Ints  # (M,) how many steps each is cut in


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
    per_uy: float  # 1 / uy, 0 for a chord along X
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


STEP = len(Step._fields)

# what follows a step's own figures in the table of steps
RADIUS, FLAT, RISE, DONE, TIP, REACH, LOOK = range(STEP, STEP + 7)
TABLE = STEP + 7


def _line_step(ax: float, ay: float, az: float, bx: float, by: float, bz: float) -> Step:
    dx = bx - ax
    dy = by - ay
    length = math.sqrt(dx * dx + dy * dy)
    if length < 1e-9:  # upright: only the lowest place counts
        low = min(az, bz)
        return Step(ax, ay, low, ax, ay, low, 1.0, 0.0, 0.0, 0.0, 0.0, ax, ay, 0.0, 0.0, 1.0, 0.0)
    per_uy = length / dy if abs(dy) > 1e-12 else 0.0
    return Step(
        ax, ay, az, bx, by, bz, dx / length, dy / length, length, per_uy, (bz - az) / length,
        ax, ay, 0.0, 0.0, 1.0, 0.0,
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
                centre[0], centre[1], path, angle, 1.0 if turns > 0.0 else -1.0,
                path * (1.0 - math.cos(0.5 * angle)),
            )  # fmt: skip
    ax = start[0] + f * (stop[0] - start[0])
    ay = start[1] + f * (stop[1] - start[1])
    bx = stop[0] if part == parts - 1 else start[0] + g * (stop[0] - start[0])
    by = stop[1] if part == parts - 1 else start[1] + g * (stop[1] - start[1])
    return line_step(ax, ay, az, bx, by, bz)


step_of = inner(_step_of)


def _step_at(table: Floats, at: Index) -> Step:
    """Return a step from the table of steps."""
    t = table
    return Step(
        t[at], t[at + Index(1)], t[at + Index(2)], t[at + Index(3)], t[at + Index(4)],
        t[at + Index(5)], t[at + Index(6)], t[at + Index(7)], t[at + Index(8)], t[at + Index(9)],
        t[at + Index(10)], t[at + Index(11)], t[at + Index(12)], t[at + Index(13)],
        t[at + Index(14)], t[at + Index(15)], t[at + Index(16)],
    )  # fmt: skip


step_at = inner(_step_at)


# ---- heights over listed columns ---------------------------------------------------------------


def _level_distances(s: Step, work: Floats, low: Index, high: Index) -> None:
    """Fill in the distances of columns to the path of a step, and its height."""
    for k in range(low, high):
        work[HEIGHT + k] = s.az
    if s.path == 0.0:
        for k in range(low, high):
            px = work[PX + k] - s.ax
            py = work[PY + k] - s.ay
            along = px * s.ux + py * s.uy
            d = s.ux * py - s.uy * px
            u = along - min(max(along, 0.0), s.length)
            work[AWAY + k] = math.sqrt(d * d + u * u)
        return
    # the chord's middle lies on the sector's axis, at path * cos(angle / 2) = path - sag
    mx = 0.5 * (s.ax + s.bx) - s.cx
    my = 0.5 * (s.ay + s.by) - s.cy
    share = (s.path - s.sag) * (s.path - s.sag) / s.path
    for k in range(low, high):
        x, y = work[PX + k], work[PY + k]
        vx, vy = x - s.cx, y - s.cy
        rho = math.sqrt(vx * vx + vy * vy)
        ax, ay, bx, by = x - s.ax, y - s.ay, x - s.bx, y - s.by
        end = math.sqrt(min(ax * ax + ay * ay, bx * bx + by * by))
        beside = abs(rho - s.path)
        work[AWAY + k] = beside if vx * mx + vy * my >= rho * share else end


level_distances = inner(_level_distances)


def _raise_by_profile(f: Form, work: Floats, low: Index, high: Index) -> None:
    """Raise heights of the tip by the surface's height above it; inf outside the cutter."""
    reach = f.radius + TOUCH
    if f.flat == f.radius:
        for k in range(low, high):
            z = work[HEIGHT + k]
            work[HEIGHT + k] = z if work[AWAY + k] <= reach else math.inf
    elif f.rise > 0.0:
        for k in range(low, high):
            q = work[AWAY + k]
            z = work[HEIGHT + k] + f.rise * max(min(q, f.radius) - f.flat, 0.0)
            work[HEIGHT + k] = z if q <= reach else math.inf
    else:
        r = f.radius - f.flat
        for k in range(low, high):
            q = work[AWAY + k]
            v = max(q - f.flat, 0.0)
            z = work[HEIGHT + k] + (r - math.sqrt(max(r * r - v * v, 0.0)))
            work[HEIGHT + k] = z if q <= reach else math.inf


raise_by_profile = inner(_raise_by_profile)


def _corner_lags(m: float, f: Form, work: Floats, low: Index, high: Index) -> None:
    """Fill in where a corner's slope along the path equals m: the root of a growing function.

    With c the lag, q^2 = D^2 + c^2, v = q - f the way into the corner and e its height there, the
    surface's rise per mm of path is v W / (q e), W = mu c sqrt(1 - eta c^2). What is brought to
    nought is v^2 W^2 - m^2 q^2 e^2, by Newton's steps kept within halves, for a few columns at once.
    """
    R, flat, mm = f.radius, f.flat, m * m
    r = R - flat
    for first in range(low, high, CHUNK):
        end = first + CHUNK if first + CHUNK < high else high
        for k in range(first, end):
            D, scale, steep = work[AWAY + k], work[MU + k], work[ETA + k]
            most = math.sqrt(max(R * R - D * D, 0.0))
            far = math.sqrt(1.0 / max(steep, 1e-300))
            most = min(most, far)
            least = math.sqrt(max(flat * flat - D * D, 0.0))
            least = min(least, most)
            # near enough where the corner is small beside the flat end: the slope taken at `least`
            q = max(flat, D)
            W = math.sqrt(scale * max(1.0 - steep * least * least, 0.0)) * least
            v = flat + r * m * q / math.sqrt(mm * q * q + W * W)
            guess = math.sqrt(max(v * v - D * D, 0.0))
            guess = max(guess, least)
            work[BEST + k] = least
            work[HEIGHT + k] = most
            work[LAG + k] = min(guess, most)
        for _ in range(80):
            moved = 0
            for k in range(first, end):
                D, scale, steep = work[AWAY + k], work[MU + k], work[ETA + k]
                c, lower, upper = work[LAG + k], work[BEST + k], work[HEIGHT + k]
                cc = c * c
                q = math.sqrt(D * D + cc)
                v = max(q - flat, 0.0)
                ee = max(r * r - v * v, 0.0)
                WW = scale * cc * (1.0 - steep * cc)
                value = v * v * WW - mm * q * q * ee
                dq = c / max(q, 1e-300)
                rate = 2.0 * v * dq * WW + v * v * scale * c * (2.0 - 4.0 * steep * cc)
                rate -= mm * (2.0 * c * ee - 2.0 * q * q * v * dq)
                newer = c - value / (rate if rate > 0.0 else 1.0)
                newer = newer if rate > 0.0 else math.inf  # halved, below
                lower = c if value <= 0.0 else lower
                upper = upper if value <= 0.0 else c
                halved = 0.5 * (lower + upper)
                newer = newer if newer > lower else halved
                newer = newer if newer < upper else halved
                moved += 1 if abs(newer - c) > CLOSE else 0
                work[BEST + k] = lower
                work[HEIGHT + k] = upper
                work[LAG + k] = newer
            if moved == 0:
                break


corner_lags = inner(_corner_lags)


def _cone_lags(m: float, f: Form, turning: bool, work: Floats, low: Index, high: Index) -> None:
    """Fill in where a cone's slope along the path equals m, at least at the rim of its tip."""
    R, flat, mm, kk = f.radius, f.flat, m * m, f.rise * f.rise
    if not turning:
        share = mm / (kk - mm) if mm < kk else math.inf
        for k in range(low, high):
            dd = work[AWAY + k] * work[AWAY + k]
            root = max(flat * flat - dd, dd * share)
            work[LAG + k] = math.sqrt(max(min(root, R * R - dd), 0.0))
        return
    mm /= kk
    for k in range(low, high):
        D, scale, steep = work[AWAY + k], work[MU + k], work[ETA + k]
        dd = D * D
        half = scale - mm
        under = half * half - 4.0 * scale * steep * mm * dd
        root = 2.0 * mm * dd / max(half + math.sqrt(max(under, 0.0)), 1e-300)
        root = root if under >= 0.0 and half > 0.0 else R * R
        root = max(flat * flat - dd, root)
        work[LAG + k] = math.sqrt(max(min(root, R * R - dd), 0.0))


cone_lags = inner(_cone_lags)


def _ball_lags(m: float, R: float, turning: bool, work: Floats, low: Index, high: Index) -> None:
    """Fill in where a ball's slope along the path equals m; beyond reach if nowhere."""
    mm = m * m
    if not turning:
        share = mm / (1.0 + mm)
        for k in range(low, high):
            D = work[AWAY + k]
            work[LAG + k] = math.sqrt(share * max(R * R - D * D, 0.0))
        return
    for k in range(low, high):
        D, scale, steep = work[AWAY + k], work[MU + k], work[ETA + k]
        square = mm * max(R * R - D * D, 0.0)
        half = scale + mm
        under = half * half - 4.0 * scale * steep * square
        root = math.sqrt(2.0 * square / (half + math.sqrt(max(under, 0.0))))
        work[LAG + k] = root if under >= 0.0 else math.sqrt(4.0 / steep)


ball_lags = inner(_ball_lags)


def _rim_lags(R: float, work: Floats, low: Index, high: Index) -> None:
    """Fill in where columns leave the cutter."""
    for k in range(low, high):
        D = work[AWAY + k]
        work[LAG + k] = math.sqrt(max(R * R - D * D, 0.0))


rim_lags = inner(_rim_lags)


def _lags(m: float, f: Form, turning: bool, work: Floats, low: Index, high: Index) -> None:
    """Fill in how far along the path the axis is from each column when it comes lowest over it.

    ``m`` is the rise or fall per mm, positive. Of columns at AWAY beside a line, or from the circle
    of an arc (then a chord, with MU = rho / path and ETA = 1 / (4 rho path), rho being their
    distance from the centre).
    """
    if f.flat == f.radius:
        rim_lags(f.radius, work, low, high)
    elif f.rise > 0.0:
        cone_lags(m, f, turning, work, low, high)
    elif f.flat == 0.0:
        ball_lags(m, f.radius, turning, work, low, high)
    else:
        corner_lags(m, f, work, low, high)


lags = inner(_lags)


def _line_heights(s: Step, f: Form, work: Floats, low: Index, high: Index) -> None:
    """Fill in the heights of a line that climbs or falls."""
    for k in range(low, high):
        px = work[PX + k] - s.ax
        py = work[PY + k] - s.ay
        work[ALONG + k] = px * s.ux + py * s.uy
        work[AWAY + k] = abs(s.ux * py - s.uy * px)
    if 0.0 < f.flat < f.radius and f.rise == 0.0:
        for k in range(low, high):
            work[MU + k] = 1.0
            work[ETA + k] = 0.0
    lags(abs(s.slope), f, False, work, low, high)
    way = 1.0 if s.slope > 0.0 else -1.0
    for k in range(low, high):
        along, d = work[ALONG + k], work[AWAY + k]
        t = min(max(along - way * work[LAG + k], 0.0), s.length)
        u = t - along
        work[HEIGHT + k] = s.az + s.slope * t
        work[AWAY + k] = math.sqrt(d * d + u * u)
    raise_by_profile(f, work, low, high)


line_heights = inner(_line_heights)


def _arcsine(v: float) -> float:
    """Return the arcsine by its series: to all digits up to 0.27, which is 15.6 degrees."""
    q = v * v
    p = 676039.0 / 104857600.0
    p = p * q + 88179.0 / 12058624.0
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
    if not (e > STEEP * r):
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
    reach = f.radius + TOUCH
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


def _end_heights(s: Step, f: Form, work: Floats, low: Index, high: Index) -> None:
    """Fill in the lower of the heights at a helix' two ends, and where more is to be looked for.

    ETA is set to 1 for the columns over which the height may be lower still in between, else 0: not
    for those that the cutter comes to at both ends, had left or was rising over at the upper one,
    or still falls over at the lower one.
    """
    ux, uy, uz, lx, ly, lz, way = s.ax, s.ay, s.az, s.bx, s.by, s.bz, s.sense
    if s.slope > 0.0:
        ux, uy, uz, lx, ly, lz, way = lx, ly, lz, ux, uy, uz, -way
    for k in range(low, high):
        dx, dy = work[PX + k] - ux, work[PY + k] - uy
        q = math.sqrt(dx * dx + dy * dy)
        work[AWAY + k] = q
        work[LAG + k] = q
        work[HEIGHT + k] = uz
    raise_by_profile(f, work, low, high)
    for k in range(low, high):
        dx, dy = work[PX + k] - lx, work[PY + k] - ly
        work[BEST + k] = work[HEIGHT + k]
        work[AWAY + k] = math.sqrt(dx * dx + dy * dy)
        work[HEIGHT + k] = lz
    raise_by_profile(f, work, low, high)
    # the ways at both ends, downward
    gx, gy = way * (uy - s.cy) / s.path, way * (s.cx - ux) / s.path
    hx, hy = way * (ly - s.cy) / s.path, way * (s.cx - lx) / s.path
    R, flat = f.radius, f.flat
    rounded = 1.0 if f.rise == 0.0 and flat < R else 0.0
    r = R - flat
    mm = (s.slope / s.path) ** 2
    for k in range(low, high):
        x, y, upper, lower = work[PX + k], work[PY + k], work[LAG + k], work[AWAY + k]
        a, b = work[BEST + k], work[HEIGHT + k]
        work[BEST + k] = min(a, b)
        behind_upper = (x - ux) * gx + (y - uy) * gy
        behind_lower = (x - lx) * hx + (y - ly) * hy
        v = max(upper - flat, 0.0)
        t = v * behind_upper
        rises = t * t - mm * upper * upper * max(r * r - v * v, 0.0)
        rises = rises if rounded > 0.0 else -1.0
        rises = rises if upper <= R else 0.0
        v = max(lower - flat, 0.0)
        t = v * behind_lower
        falls = mm * lower * lower * max(r * r - v * v, 0.0) - t * t
        falls = falls if rounded > 0.0 else -1.0
        falls = falls if lower <= R else -1.0
        # negative where there may be more
        more = rises if behind_upper > 0.0 else -1.0
        more = max(more, falls if behind_lower > 0.0 else -1.0)
        more = more if max(behind_upper, behind_lower) > 0.0 else 0.0
        work[ETA + k] = 1.0 if more < 0.0 else 0.0


end_heights = inner(_end_heights)


def _moments(s: Step, f: Form, work: Floats, low: Index, high: Index) -> None:
    """Fill in the heights when the axis has passed columns of a helix by their lags, else inf."""
    way = 1.0 if s.slope < 0.0 else -1.0
    half = 0.5 * s.angle
    limit = math.sin(half)
    # unit vectors to the middle of the arc, and square to it the way it turns
    mx = (0.5 * (s.ax + s.bx) - s.cx) / (s.path - s.sag)
    my = (0.5 * (s.ay + s.by) - s.cy) / (s.path - s.sag)
    nx, ny = -s.sense * my, s.sense * mx
    for k in range(low, high):
        vx, vy = work[PX + k] - s.cx, work[PY + k] - s.cy
        lag, D = work[LAG + k], work[ALONG + k]
        rho = math.sqrt(vx * vx + vy * vy)
        share = 1.0 / max(rho, 1e-300)
        cp = (vx * mx + vy * my) * share
        sp = (vx * nx + vy * ny) * share
        h = work[ETA + k] * lag * lag
        ct = 1.0 - 2.0 * h
        st = 2.0 * way * math.sqrt(max(h * (1.0 - h), 0.0))
        sine = sp * ct + cp * st
        cosine = cp * ct - sp * st
        t = half + arcsine(min(max(sine, -0.3), 0.3))
        z = s.az + s.slope * t
        z = z if abs(sine) <= limit else math.inf
        z = z if cosine > 0.0 else math.inf
        work[HEIGHT + k] = z if h <= 1.0 else math.inf
        work[AWAY + k] = math.sqrt(D * D + lag * lag)
    raise_by_profile(f, work, low, high)


moments = inner(_moments)


def _between_ends(s: Step, f: Form, work: Floats, at: Longs, n: Index, free: Index) -> None:
    """Lower the heights of ``n`` columns of a helix to what the cutter reaches between its ends."""
    end = free + n
    for k in range(n):
        i = Index(at[k])
        work[PX + free + k] = work[PX + i]
        work[PY + free + k] = work[PY + i]
    for k in range(free, end):
        dx, dy = work[PX + k] - s.cx, work[PY + k] - s.cy
        rho = math.sqrt(dx * dx + dy * dy)
        D = abs(rho - s.path)
        work[AWAY + k] = D
        work[ALONG + k] = D
        work[MU + k] = rho / s.path
        work[ETA + k] = 0.25 / (max(rho, 1e-30) * s.path)
    lags(abs(s.slope) / s.path, f, True, work, free, end)
    moments(s, f, work, free, end)
    for k in range(n):
        i = Index(at[k])
        work[BEST + i] = min(work[BEST + i], work[HEIGHT + free + k])
    if f.rise > 0.0:  # where the cutter leaves a column that it never rises over
        for k in range(free, end):
            work[AWAY + k] = work[ALONG + k]
        rim_lags(f.radius, work, free, end)
        moments(s, f, work, free, end)
        for k in range(n):
            i = Index(at[k])
            work[BEST + i] = min(work[BEST + i], work[HEIGHT + free + k])


between_ends = inner(_between_ends)


def _helix_heights(s: Step, f: Form, work: Floats, at: Longs, low: Index, high: Index,
                   free: Index) -> None:  # fmt: skip
    """Fill in the heights of a helix; there is room for as many columns again from ``free`` on."""
    end_heights(s, f, work, low, high)
    n = 0
    for k in range(low, high):
        at[n] = k
        n += 1 if work[ETA + k] > 0.0 else 0
    if n > 0:
        between_ends(s, f, work, at, Index(n), free)
    R, flat = f.radius, f.flat
    if f.rise == 0.0 and 0.0 < flat < R:
        # beyond this the slope of the corner grows all the way until it leaves the column
        least = R * R + 0.385 * R * (R - flat)
        for k in range(low, high):
            x, y = work[PX + k], work[PY + k]
            dx, dy = x - s.cx, y - s.cy
            whole = math.sqrt(dx * dx + dy * dy) + s.path
            if whole * whole < least and whole > flat:
                work[BEST + k] = min(work[BEST + k], searched_height(s, f, x, y))
    for k in range(low, high):
        work[HEIGHT + k] = work[BEST + k]


helix_heights = inner(_helix_heights)


def _heights(s: Step, f: Form, work: Floats, at: Longs, low: Index, high: Index,
             free: Index) -> None:  # fmt: skip
    """Fill in the lowest heights of the cutter over the columns listed from low to high."""
    if s.slope == 0.0:
        level_distances(s, work, low, high)
        raise_by_profile(f, work, low, high)
    elif s.path == 0.0:
        line_heights(s, f, work, low, high)
    else:
        helix_heights(s, f, work, at, low, high, free)


heights = inner(_heights)


# ---- which columns a step may cut --------------------------------------------------------------


def _capsule_edges(s: Step, R: float, ys: Floats, j: Index, rows: Index, edges: Floats,
                   to: Index) -> None:  # fmt: skip
    """Fill in from where to where in X rows lie within R of a chord; inf, -inf for none."""
    RR = R * R if R >= 0.0 else -1.0
    for k in range(rows):
        da = ys[j + k] - s.ay
        db = ys[j + k] - s.by
        q = RR - da * da
        w = math.sqrt(max(q, 0.0))
        low = s.ax - w if q >= 0.0 else math.inf
        high = s.ax + w if q >= 0.0 else -math.inf
        q = RR - db * db
        w = math.sqrt(max(q, 0.0))
        other = s.bx - w if q >= 0.0 else math.inf
        low = min(low, other)
        other = s.bx + w if q >= 0.0 else -math.inf
        edges[to + k] = low
        edges[to + ROWS + k] = max(high, other)
    if s.per_uy == 0.0 or RR < 0.0:
        return
    for side in (-R, R):
        for k in range(rows):
            low, high = edges[to + k], edges[to + ROWS + k]
            t = (ys[j + k] - s.ay - side * s.ux) * s.per_uy
            x = s.ax - side * s.uy + t * s.ux
            x = x if t <= s.length else math.nan
            x = x if t >= 0.0 else math.nan
            edges[to + k] = x if x < low else low
            edges[to + ROWS + k] = x if x > high else high


capsule_edges = inner(_capsule_edges)


def _disc_edges(x: float, y: float, R: float, ys: Floats, j: Index, rows: Index, edges: Floats,
                to: Index) -> None:  # fmt: skip
    """Fill in from where to where in X rows lie within R of a place; inf, -inf for none."""
    RR = R * R if R >= 0.0 else -1.0
    for k in range(rows):
        d = ys[j + k] - y
        q = RR - d * d
        w = math.sqrt(max(q, 0.0))
        edges[to + k] = x - w if q >= 0.0 else math.inf
        edges[to + ROWS + k] = x + w if q >= 0.0 else -math.inf


disc_edges = inner(_disc_edges)


def _as_columns(x0: float, per_cell: float, rows: Index, edges: Floats, columns: Ints,
                to: Index) -> None:  # fmt: skip
    """Turn two edges in X into the first column and the end of columns, within those of the row."""
    for k in range(rows):
        low, high = float(columns[k]), float(columns[ROWS + k])
        left = np.ceil((edges[to + k] - x0) * per_cell)
        left = min(max(left, low), high)
        right = np.floor((edges[to + ROWS + k] - x0) * per_cell) + 1.0
        right = min(max(right, left), high)
        columns[to + k] = np.int32(left)
        columns[to + ROWS + k] = np.int32(right)


as_columns = inner(_as_columns)


def _spans(s: Step, f: Form, done: bool, p: Place, b: Block, ys: Floats, j: Index, rows: Index,
           edges: Floats, columns: Ints) -> bool:  # fmt: skip
    """Fill in from where to where rows of a block can be cut, from its row ``j`` on.

    ``columns`` (4 rows, flat): a row of the step is 0 to 1; from 2 to 3 the end face had been, if
    the answer is that there is such a place. ``edges`` is room for as many floats. An arc is taken
    as its chord, with its sag added to the cutter. ``done``: the start's footprint was swept by the
    step before.
    """
    core = f.radius + TOUCH if f.flat == f.radius else f.flat
    rising = s.slope >= 0.0
    capsule_edges(s, f.radius + s.sag + TOUCH, ys, j, rows, edges, Index(0))
    moves = s.path > f.radius + TOUCH if s.path > 0.0 else s.length > 0.0
    if done and rising and moves and core < f.radius:
        # nothing behind the start can be lower than the step before has left it
        ux = s.ux if s.path == 0.0 else -s.sense * (s.ay - s.cy) / s.path
        uy = s.uy if s.path == 0.0 else s.sense * (s.ax - s.cx) / s.path
        if abs(ux) > 1e-9:
            lean = uy / ux
            for k in range(rows):
                x = s.ax - (ys[j + k] - s.ay) * lean
                low, high = edges[k], edges[ROWS + k]
                edges[k] = max(low, x - TOUCH) if ux > 0.0 else low
                edges[ROWS + k] = high if ux > 0.0 else min(high, x + TOUCH)
    x0 = p.x0 + b.i * p.cell
    for k in range(rows):
        columns[k] = 0
        columns[ROWS + k] = b.nx
    as_columns(x0, p.per_cell, rows, edges, columns, Index(0))
    left = done and rising and s.length > 0.0 and core > 0.0
    if left:
        disc_edges(s.ax, s.ay, core, ys, j, rows, edges, LEFT_EDGE)
        as_columns(x0, p.per_cell, rows, edges, columns, LEFT_EDGE)
    return left


spans = inner(_spans)


def _list_row(begin: int, end: int, left: int, left_end: int, row: Index, y: float, lowest: float,
              peak: Floats, xs: Floats, work: Floats, pieces: Longs, n: Index) -> Index:  # fmt: skip
    """List the octets of a row that are higher than ``lowest``; return how many there are now.

    Columns that are not between begin and end, or are between left and left_end, are moved away.
    """
    for octet in range(Index(begin) // EIGHT, Index(end + 7) // EIGHT):
        if not (peak[row // EIGHT + octet] > lowest):
            continue
        i = int(octet * EIGHT)
        if left <= i and i + 8 <= left_end:
            continue
        pieces[n] = row + octet * EIGHT
        move_eight(work, PX + n * EIGHT, xs, octet * EIGHT)
        for lane in range(EIGHT):
            work[PY + n * EIGHT + lane] = y
        if i < begin or i + 8 > end or (left < i + 8 and i < left_end):
            for lane in range(EIGHT):
                c = i + int(lane)
                if c < begin or c >= end or left <= c < left_end:
                    work[PX + n * EIGHT + lane] = NOWHERE
        n += Index(1)
    return n


list_row = inner(_list_row)


def _list_octets(s: Step, f: Form, done: bool, p: Place, b: Block, peak: Floats, xs: Floats,
                 ys: Floats, work: Floats, edges: Floats, columns: Ints,
                 pieces: Longs) -> Index:  # fmt: skip
    """List the octets of a block that a step may cut; return how many there are."""
    grown = f.radius + s.sag + TOUCH
    low = max(b.j, math.ceil((min(s.ay, s.by) - grown - p.y0) * p.per_cell))
    high = min(b.j + b.ny, math.floor((max(s.ay, s.by) + grown - p.y0) * p.per_cell) + 1)
    n = Index(0)
    if high <= low:
        return n
    rows, j = Index(high - low), Index(low - b.j)
    left = spans(s, f, done, p, b, ys, j, rows, edges, columns)
    lowest = min(s.az, s.bz)
    for k in range(rows):
        begin, end = int(columns[k]), int(columns[ROWS + k])
        if begin < end:
            out, out_end = end, end
            if left:
                out, out_end = int(columns[LEFT_EDGE + k]), int(columns[LEFT_EDGE + ROWS + k])
            row = (j + k) * Index(BLOCK)
            n = list_row(
                begin, end, out, out_end, row, ys[j + k], lowest, peak, xs, work, pieces, n
            )
    return n


list_octets = inner(_list_octets)


def _sloped_heights(s: Step, f: Form, cut: Floats, work: Floats, at: Longs, pieces: Longs,
                    count: Index) -> None:  # fmt: skip
    """Fill in the heights of a step that climbs or falls, over ``count`` octets.

    Only those columns are worked out that stand higher than the step's lowest, raised by the
    surface's height at their least distance to the path. What the end face covers at the lower end
    is cut to the lowest.
    """
    lowest = min(s.az, s.bz)
    x, y = (s.ax, s.ay) if s.slope >= 0.0 else (s.bx, s.by)
    core = f.radius + TOUCH if f.flat == f.radius else f.flat
    size = count * EIGHT
    level_distances(s, work, Index(0), size)
    for each in range(size):
        work[AWAY + each] = max(work[AWAY + each] - SLACK, 0.0)
        work[HEIGHT + each] = lowest - SLACK
    raise_by_profile(f, work, Index(0), size)
    n = Index(0)
    for octet in range(count):
        row = Index(pieces[octet])
        for lane in range(EIGHT):
            k = octet * EIGHT + lane
            over = cut[row + lane] > work[HEIGHT + k]
            work[HEIGHT + k] = math.inf
            if over:
                px, py = work[PX + k], work[PY + k]
                if (px - x) * (px - x) + (py - y) * (py - y) <= core * core:
                    work[HEIGHT + k] = lowest
                else:
                    pieces[OCTETS + n] = k
                    work[PX + size + n] = px
                    work[PY + size + n] = py
                    n += Index(1)
    if n > 0:
        heights(s, f, work, at, size, size + n, size + n)
        for each in range(n):
            work[HEIGHT + Index(pieces[OCTETS + each])] = work[HEIGHT + size + each]


sloped_heights = inner(_sloped_heights)


# ---- cutting a block ---------------------------------------------------------------------------


def _lower(work: Floats, n: Index) -> None:
    """Turn heights into what is left of columns that stand LAG high; fill in what each loses."""
    for k in range(n):
        stood, height = work[LAG + k], work[HEIGHT + k]
        drop = stood - height
        work[AWAY + k] = drop if drop > GRAIN else 0.0
        work[HEIGHT + k] = height if drop > GRAIN else stood


lower = inner(_lower)


def _lower_through(work: Floats, n: Index) -> None:
    """Do the same where voids MU high beneath are reached: what is cut down to one is empty."""
    for k in range(n):
        stood, under, height = work[LAG + k], work[MU + k], work[HEIGHT + k]
        drop = stood - height
        lost = min(drop, stood - under)
        left = height if height - under > EMPTY else -math.inf
        lost = lost if height - under > EMPTY else stood - under
        work[AWAY + k] = lost if drop > GRAIN else 0.0
        work[HEIGHT + k] = left if drop > GRAIN else stood


lower_through = inner(_lower_through)


def _store_octets(cut: Floats, mark: Floats, peak: Floats, work: Floats, pieces: Longs, count: Index,
                  motion: float) -> tuple[float, Index]:  # fmt: skip
    """Store the octets that lost something, and move them to the front; return what, how many."""
    taken = 0.0
    n = Index(0)
    for octet in range(count):
        k = octet * EIGHT
        lost = sum_of_eight(work, AWAY + k)
        if lost > 0.0:
            taken += lost
            row = Index(pieces[octet])
            move_eight(cut, row, work, HEIGHT + k)
            peak[row // EIGHT] = highest_of_eight(work, HEIGHT + k)
            pieces[n] = row
            to = n * EIGHT
            move_eight(work, PX + to, work, PX + k)
            move_eight(work, PY + to, work, PY + k)
            move_eight(work, AWAY + to, work, AWAY + k)
            move_eight(work, MU + to, mark, row)
            n += Index(1)
    for each in range(n * EIGHT):
        made = work[MU + each]
        work[MU + each] = motion if work[AWAY + each] > 0.0 else made
    for octet in range(n):
        move_eight(mark, Index(pieces[octet]), work, MU + octet * EIGHT)
    return taken, n


store_octets = inner(_store_octets)


def _across(s: Step, R: float, work: Floats, n: Index) -> None:
    """Fill in where across the cutter, left positive, columns first come to its rim.

    Inf for columns within `RIM` of the outermost rim; 0 for those that never come to the rim,
    cut by the end face alone, and along Z.
    """
    if s.path > 0.0:
        outmost = (s.path + R - RIM) ** 2
        inmost = (s.path - R + RIM) ** 2 if s.path > R else -1.0
        scale = 0.5 * s.sense / s.path
        square = s.path * s.path + R * R
        for k in range(n):
            dx, dy = work[PX + k] - s.cx, work[PY + k] - s.cy
            squared = dx * dx + dy * dy
            d = (square - squared) * scale
            d = d if abs(d) <= R else 0.0
            d = d if squared <= outmost else math.inf
            work[ALONG + k] = d if squared >= inmost else math.inf
    elif s.length > 0.0:
        for k in range(n):
            d = s.ux * (work[PY + k] - s.ay) - s.uy * (work[PX + k] - s.ax)
            work[ALONG + k] = d if abs(d) <= R - RIM else math.inf
    else:
        limit = (R - RIM) ** 2
        for k in range(n):
            dx, dy = work[PX + k] - s.ax, work[PY + k] - s.ay
            work[ALONG + k] = 0.0 if dx * dx + dy * dy <= limit else math.inf


across_cutter = inner(_across)


def _measure(s: Step, R: float, work: Floats, n: Index, met: Floats, pair: Index) -> None:
    """Fill in what a step met of the columns it cut in a block."""
    across_cutter(s, R, work, n)
    left = front = right = high = 0
    low = FAR
    side, shift = 0.7 * R, 2.0 * R
    for k in range(n):
        d, lost = work[ALONG + k], work[AWAY + k]
        v = bits(lost)
        v = v if d < math.inf else 0
        here = v if d > side else 0
        left = here if here > left else left
        here = v if d < -side else 0
        right = here if here > right else right
        here = v if abs(d) <= side else 0
        front = here if here > front else front
        edge = bits(d + shift)
        here = edge if v > 0 else 0
        high = here if here > high else high
        here = edge if v > 0 else FAR
        low = here if here < low else low
    met[pair + Index(LEFTS)] = number(left)
    met[pair + Index(FRONTS)] = number(front)
    met[pair + Index(RIGHTS)] = number(right)
    if s.length > 0.0 and high > 0:
        met[pair + Index(LOW)] = number(low) - shift
        met[pair + Index(HIGH)] = number(high) - shift


measure = inner(_measure)


def _find_gouge(guard: Bytes, pieces: Longs, count: Index, work: Floats, met: Floats,
                pair: Index) -> None:  # fmt: skip
    """Fill in the deepest cut into a guarded column, and where."""
    for octet in range(count):
        at, n = Index(pieces[octet]), octet * EIGHT
        for k in range(EIGHT):
            taken = work[AWAY + n + k]
            if guard[at + k] > 0 and taken > met[pair + Index(GOUGE)]:
                met[pair + Index(GOUGE)] = taken
                met[pair + Index(GOUGE_X)] = work[PX + n + k]
                met[pair + Index(GOUGE_Y)] = work[PY + n + k]


find_gouge = inner(_find_gouge)


def _cut_step(s: Step, f: Form, done: bool, p: Place, b: Block, void: float, cut: Floats,
              other: Floats, mark: Floats, peak: Floats, guard: Bytes, guarded: bool, xs: Floats,
              ys: Floats, work: Floats, edges: Floats, columns: Ints, pieces: Longs, at: Longs,
              motion: float, met: Floats, pair: Index) -> None:  # fmt: skip
    """Sweep one step over a block."""
    count = list_octets(s, f, done, p, b, peak, xs, ys, work, edges, columns, pieces)
    if count == 0:
        return
    size = count * EIGHT
    if s.slope == 0.0:
        heights(s, f, work, at, Index(0), size, size)
    else:
        sloped_heights(s, f, cut, work, at, pieces, count)
    for octet in range(count):
        move_eight(work, LAG + octet * EIGHT, cut, Index(pieces[octet]))
    if min(s.az, s.bz) - void > EMPTY:
        lower(work, size)
    else:
        for octet in range(count):
            move_eight(work, MU + octet * EIGHT, other, Index(pieces[octet]))
        lower_through(work, size)
    taken, hit = store_octets(cut, mark, peak, work, pieces, count, motion)
    met[pair + Index(TAKEN)] = taken
    if taken > 0.0:
        measure(s, f.radius, work, hit * EIGHT, met, pair)
        if guarded:
            find_gouge(guard, pieces, hit, work, met, pair)


cut_step = inner(_cut_step)


def _highest_on_ring(cut: Floats, p: Place, b: Block, x: float, y: float, radius: float,
                     ring: Floats, best: float, highest: float) -> float:  # fmt: skip
    """Return the height of the highest metal on that part of a circle which lies in a block.

    At least ``best``; no more is looked for once it is ``highest``.
    """
    x = (x - p.x0) * p.per_cell - b.i + 0.5
    y = (y - p.y0) * p.per_cell - b.j + 0.5
    radius *= p.per_cell
    for k in range(RING):
        i = math.floor(x + radius * ring[k])
        j = math.floor(y + radius * ring[k + RING])
        if 0 <= i < b.nx and 0 <= j < b.ny:
            top = cut[Index(j * BLOCK + i)]
            if top > best:
                best = top
                if best >= highest:
                    break
    return best


highest_on_ring = inner(_highest_on_ring)


def _look_round(x: float, y: float, tip: float, R: float, shank: float, p: Place, b: Block,
                cut: Floats, highest: float, ring: Floats, met: Floats,
                pair: Index) -> None:  # fmt: skip
    """Fill in how high metal stands in a block round the rim, and round the shank."""
    rim = R + 0.71 * p.cell
    wall = highest_on_ring(cut, p, b, x, y, rim, ring, -math.inf, highest)
    met[pair + Index(WALL)] = wall
    if shank > 0.0:
        rings = math.ceil((shank - R) / 0.5)
        for k in range(1, rings + 1):
            radius = rim + max(0.0, shank - rim) * k / rings
            wall = highest_on_ring(cut, p, b, x, y, radius, ring, wall, highest)
        met[pair + Index(WALL_AT_SHANK)] = wall


look_round = inner(_look_round)


def _floor_under(p: Place, b: Block, cut: Floats, other: Floats, x: float, y: float, z: float,
                 bed: float) -> float:  # fmt: skip
    """Return the metal that stays under a tip with a void beneath it, inf over solid or air."""
    i = math.floor((x - p.x0) * p.per_cell - b.i + 0.5)
    j = math.floor((y - p.y0) * p.per_cell - b.j + 0.5)
    if 0 <= i < b.nx and 0 <= j < b.ny:
        top, bottom = cut[Index(j * BLOCK + i)], other[Index(j * BLOCK + i)]
        if top > -math.inf and bottom > bed + VOID:
            return max(0.0, min(top, z) - bottom)
    return math.inf


floor_under = inner(_floor_under)


def _load(cut: Floats, other: Floats, guard: Bools, guarded: bool, p: Place, b: Block, level: Floats,
          beneath: Floats, mark: Floats, kept: Bytes,
          peak: Floats) -> tuple[float, float, bool]:  # fmt: skip
    """Copy a block to scratch; return its highest metal, highest void, and if any is guarded.

    Empty columns are -inf high in scratch.
    """
    highest = void = -math.inf
    some = 0
    for k in range(Index(BLOCK * BLOCK)):
        mark[k] = -1.0
    for j in range(b.ny):
        row, under = cut[b.j + j, b.i : b.i + b.nx], other[b.j + j, b.i : b.i + b.nx]
        at = Index(j * BLOCK)
        for i in range(row.size):
            top, bottom = p.sign * row[i], p.sign * under[i]
            level[at + Index(i)] = top if top - bottom > EMPTY else -math.inf
            beneath[at + Index(i)] = bottom
        for i in range(row.size, BLOCK):
            level[at + Index(i)], beneath[at + Index(i)] = -math.inf, 0.0
        for i in range(row.size):
            void = max(void, beneath[at + Index(i)])
        for i in range(Index(0), Index(BLOCK), EIGHT):
            peak[(at + i) // EIGHT] = highest_of_eight(level, at + i)
            highest = max(highest, peak[(at + i) // EIGHT])
        if guarded:
            for i in range(b.nx):
                here = 1 if guard[b.j + j, b.i + i] else 0
                kept[at + Index(i)] = here
                some += here
    return highest, void, some > 0


load = inner(_load)


def _store(cut: Floats, other: Floats, emptied: Ints, changed: Ints, p: Place, b: Block,
           level: Floats, mark: Floats, first: int) -> None:  # fmt: skip
    """Copy the columns of a block that were cut back to the grid."""
    for j in range(b.ny):
        for i in range(b.nx):
            at = Index(j * BLOCK + i)
            if mark[at] >= 0.0:
                k, m = b.i + i, b.j + j
                motion = first + int(mark[at])
                changed[m, k] = motion
                if level[at] > -math.inf:
                    cut[m, k] = p.sign * level[at]
                else:
                    cut[m, k] = other[m, k]
                    if emptied[m, k] < 0:
                        emptied[m, k] = motion


store = inner(_store)


def _sweep_block(p: Place, b: Block, highest: float, void: float, guarded: bool, ring: Floats,
                 bed: float, table: Floats, motion: Ints, listed: Ints, begin: int, end: int,
                 met: Floats, cut: Floats, other: Floats, mark: Floats, peak: Floats, guard: Bytes,
                 xs: Floats, ys: Floats, work: Floats, edges: Floats, columns: Ints, pieces: Longs,
                 at: Longs) -> None:  # fmt: skip
    """Sweep the steps listed from begin to end over a block in scratch."""
    for k in range(Index(begin), Index(end)):
        n = Index(listed[k])
        row, pair = n * Index(TABLE), k * Index(MET)
        s = step_at(table, row)
        f = Form(table[row + Index(RADIUS)], table[row + Index(FLAT)], table[row + Index(RISE)])
        tip, shank = table[row + Index(TIP)], table[row + Index(LOOK)]
        for c in range(Index(MET)):
            met[pair + c] = 0.0
        met[pair + Index(LOW)] = math.inf
        met[pair + Index(HIGH)] = -math.inf
        met[pair + Index(WALL)] = -math.inf
        met[pair + Index(WALL_AT_SHANK)] = -math.inf
        met[pair + Index(OVER_VOID)] = floor_under(p, b, cut, other, s.bx, s.by, tip, bed)
        if highest > min(s.az, s.bz):
            cut_step(
                s, f, table[row + Index(DONE)] > 0.0, p, b, void, cut, other, mark, peak, guard,
                guarded, xs, ys, work, edges, columns, pieces, at, float(motion[n]), met, pair,
            )  # fmt: skip
        if highest > tip or shank > 0.0:
            look_round(s.bx, s.by, tip, f.radius, shank, p, b, cut, highest, ring, met, pair)


sweep_block = inner(_sweep_block)


def _sweep_blocks(cut: Floats, other: Floats, emptied: Ints, changed: Ints, guard: Bools,
                  guarded: bool, p: Place, ring: Floats, bed: float, first: int, table: Floats,
                  motion: Ints, begins: Longs, listed: Ints, low: int, high: int, met: Floats,
                  room: Scratch) -> None:  # fmt: skip
    """Sweep all steps over the blocks from low to high; fill what each met in each of them.

    ``cut`` is the face that is cut and ``other`` the opposite one, (ny, nx). Steps ``listed`` from
    ``begins[b]`` on reach block b; ``met`` (P, 12) has a row for each of those.
    """
    across = (p.nx + BLOCK - 1) // BLOCK
    for place in range(low, high):
        begin, end = begins[place], begins[place + 1]
        if begin == end:
            continue
        i, j = (place % across) * BLOCK, (place // across) * BLOCK
        b = Block(i, j, min(BLOCK, p.nx - i), min(BLOCK, p.ny - j))
        for k in range(BLOCK):
            room.x[k] = p.x0 + (i + k) * p.cell
            room.y[k] = p.y0 + (j + k) * p.cell
        highest, void, guards = load(
            cut, other, guard, guarded, p, b, pointer(room.level), pointer(room.beneath),
            pointer(room.mark), pointer(room.kept), pointer(room.peak),
        )  # fmt: skip
        sweep_block(
            p, b, highest, void, guards, pointer(ring), bed, pointer(table), pointer(motion),
            pointer(listed), begin, end, pointer(met), pointer(room.level), pointer(room.beneath),
            pointer(room.mark), pointer(room.peak), pointer(room.kept), pointer(room.x),
            pointer(room.y), pointer(room.work), pointer(room.edges), pointer(room.columns),
            pointer(room.pieces), pointer(room.at),
        )  # fmt: skip
        store(cut, other, emptied, changed, p, b, room.level, room.mark, first)


sweep_blocks = outer(_sweep_blocks)


# ---- the table of steps, and what they met -----------------------------------------------------


def _follows(w: Work, k: int) -> bool:
    """Return whether motion k begins where the one before ended, with the same cutter."""
    if k == 0 or w.radius[k] != w.radius[k - 1]:
        return False
    if w.flat[k] != w.flat[k - 1] or w.rise[k] != w.rise[k - 1]:
        return False
    return (
        w.start[k, 0] == w.stop[k - 1, 0]
        and w.start[k, 1] == w.stop[k - 1, 1]
        and w.start[k, 2] == w.stop[k - 1, 2]
    )


follows = inner(_follows)


def _measure_place(s: Step, begin: float, rise: float, row: Floats) -> None:
    """Fill in the tip's place at the middle of a step, and the step's length."""
    row[X] = 0.5 * (s.ax + s.bx)
    row[Y] = 0.5 * (s.ay + s.by)
    flat = s.length
    if s.path > 0.0:
        scale = s.path / (s.path - s.sag)
        row[X] = s.cx + (row[X] - s.cx) * scale
        row[Y] = s.cy + (row[Y] - s.cy) * scale
        flat = s.path * s.angle
    row[Z] = begin + 0.5 * rise
    row[LENGTH] = math.sqrt(flat * flat + rise * rise)


measure_place = inner(_measure_place)


def _lay_steps(w: Work, p: Place, face: float, reach: Floats, shank: Floats, table: Floats,
               motion: Ints, steps: Floats, begins: Longs) -> Ints:  # fmt: skip
    """Fill in the table of all steps, and return which of them reach each block.

    ``steps`` (S, 14) gets what does not depend on the plate; ``begins`` (blocks + 1,) where the
    list of each block begins. Steps above the face reach none.
    """
    across = (p.nx + BLOCK - 1) // BLOCK
    boxes = np.empty((motion.size, 4), np.int32)
    begins[:] = 0
    n = 0
    for k in range(w.kind.size):
        done = follows(w, k)
        rise = (w.stop[k, 2] - w.start[k, 2]) / w.parts[k]
        for part in range(w.parts[k]):
            s = step_of(w, k, part)
            begin = w.start[k, 2] + part * rise
            tip = begin + rise
            motion[n] = k
            row = table[n * TABLE : (n + 1) * TABLE]
            row[0], row[1], row[2], row[3], row[4], row[5] = s.ax, s.ay, s.az, s.bx, s.by, s.bz
            row[6], row[7], row[8], row[9], row[10] = s.ux, s.uy, s.length, s.per_uy, s.slope
            row[11], row[12], row[13], row[14], row[15] = s.cx, s.cy, s.path, s.angle, s.sense
            row[16] = s.sag
            row[RADIUS], row[FLAT], row[RISE] = w.radius[k], w.flat[k], w.rise[k]
            row[DONE] = 1.0 if done or part > 0 else 0.0
            row[TIP] = tip
            row[REACH] = reach[k]
            row[LOOK] = 0.0
            found = steps[n]
            found[MOTION] = k
            found[SHANK] = -math.inf
            found[FLOOR] = math.inf
            measure_place(s, begin, rise, found)
            box = boxes[n]
            n += 1
            box[0] = box[2] = 0
            box[1] = box[3] = -1
            if min(begin, tip) >= face:
                continue
            if shank[k] > w.radius[k]:
                if tip + reach[k] >= face:
                    found[SHANK] = face - tip - reach[k]
                else:
                    row[LOOK] = shank[k]
            g = w.radius[k] + s.sag + TOUCH
            h = max(w.radius[k] + 0.71 * p.cell, row[LOOK]) + p.cell
            a = math.ceil((min(min(s.ax, s.bx) - g, s.bx - h) - p.x0) * p.per_cell)
            b = math.floor((max(max(s.ax, s.bx) + g, s.bx + h) - p.x0) * p.per_cell)
            c = math.ceil((min(min(s.ay, s.by) - g, s.by - h) - p.y0) * p.per_cell)
            d = math.floor((max(max(s.ay, s.by) + g, s.by + h) - p.y0) * p.per_cell)
            if a >= p.nx or b < 0 or c >= p.ny or d < 0:
                continue
            box[0], box[1] = max(a, 0) // BLOCK, min(b, p.nx - 1) // BLOCK
            box[2], box[3] = max(c, 0) // BLOCK, min(d, p.ny - 1) // BLOCK
            for j in range(box[2], box[3] + 1):
                for i in range(box[0], box[1] + 1):
                    begins[j * across + i + 1] += 1
    for b in range(begins.size - 1):
        begins[b + 1] += begins[b]
    room = begins.copy()
    listed = np.empty(begins[-1], np.int32)
    for n in range(motion.size):
        for j in range(boxes[n, 2], boxes[n, 3] + 1):
            for i in range(boxes[n, 0], boxes[n, 1] + 1):
                b = j * across + i
                listed[room[b]] = n
                room[b] += 1
    return listed


lay_steps = outer(_lay_steps)


def _put_together(table: Floats, motion: Ints, listed: Ints, met: Floats, cell: float, steps: Floats,
                  volume: Floats, gouge: Floats) -> None:  # fmt: skip
    """Fill in what steps (S, 14) met from what they met in each block, and what motions did."""
    count = steps.shape[0]
    low, high, wall, beside = np.empty(count), np.empty(count), np.empty(count), np.empty(count)
    low[:] = math.inf
    high[:] = wall[:] = beside[:] = -math.inf
    for pair in range(listed.size):
        n = listed[pair]
        row, found = steps[n], met[pair * MET : (pair + 1) * MET]
        row[VOLUME] += found[TAKEN]
        row[LEFT] = max(row[LEFT], found[LEFTS])
        row[FRONT] = max(row[FRONT], found[FRONTS])
        row[RIGHT] = max(row[RIGHT], found[RIGHTS])
        row[FLOOR] = min(row[FLOOR], found[OVER_VOID])
        low[n] = min(low[n], found[LOW])
        high[n] = max(high[n], found[HIGH])
        wall[n] = max(wall[n], found[WALL])
        beside[n] = max(beside[n], found[WALL_AT_SHANK])
        most = gouge[motion[n]]
        if found[GOUGE] > most[0]:
            most[0], most[1], most[2] = found[GOUGE], found[GOUGE_X], found[GOUGE_Y]
    for n in range(count):
        row, data = steps[n], table[n * TABLE : (n + 1) * TABLE]
        R = data[RADIUS]
        row[VOLUME] *= cell * cell
        volume[motion[n]] += row[VOLUME]
        row[UNDER] = max(row[LEFT], max(row[FRONT], row[RIGHT]))
        row[TALLEST] = max(0.0, wall[n] - data[TIP])
        if data[LOOK] > 0.0:
            row[SHANK] = beside[n] - data[TIP] - data[REACH]
        if high[n] >= low[n]:  # cells reach half their side beyond their centres
            to = min(1.0, (high[n] + 0.5 * cell) / R)
            row[WIDTH] = math.asin(to) - math.asin(max(-1.0, (low[n] - 0.5 * cell) / R))
        elif row[UNDER] > 0.0:
            row[WIDTH] = math.pi


put_together = outer(_put_together)


# ---- sights ------------------------------------------------------------------------------------


def _sweep_sights(cut: Floats, other: Floats, emptied: Ints, changed: Ints, xs: Floats, ys: Floats,
                  sign: float, bucket: Longs, x0: float, y0: float, size: float,
                  nx: int, ny: int, w: Work, first: int, room: Scratch) -> None:  # fmt: skip
    """Sweep motions over sights sorted by bucket: ``bucket[b]`` to ``bucket[b + 1]`` lie in b."""
    level = np.empty(cut.size)
    for i in range(cut.size):
        level[i] = sign * cut[i] if sign * (cut[i] - other[i]) > EMPTY else -math.inf
    bound = np.full(nx * ny, math.inf)
    work, at = room.work, room.at
    chosen = np.empty(cut.size + 1, np.int64)
    for k in range(w.kind.size):
        f = Form(w.radius[k], w.flat[k], w.rise[k])
        for part in range(w.parts[k]):
            s = step_of(w, k, part)
            lowest = min(s.az, s.bz)
            grown = f.radius + s.sag + TOUCH
            a = max(0, math.floor((min(s.ay, s.by) - grown - y0) / size))
            b = min(ny - 1, math.floor((max(s.ay, s.by) + grown - y0) / size))
            c = max(0, math.floor((min(s.ax, s.bx) - grown - x0) / size))
            d = min(nx - 1, math.floor((max(s.ax, s.bx) + grown - x0) / size))
            n = 0
            for j in range(a, b + 1):
                for cube in range(j * nx + c, j * nx + d + 1):
                    if not (bound[cube] > lowest):
                        continue
                    highest = -math.inf
                    for i in range(bucket[cube], bucket[cube + 1]):
                        chosen[n] = i
                        n += 1 if level[i] > lowest else 0
                        highest = max(highest, level[i])
                    bound[cube] = highest
            for begin in range(0, n, BLOCK * BLOCK):
                count = min(n - begin, BLOCK * BLOCK)
                for i in range(count):
                    work[PX + Index(i)] = xs[chosen[begin + i]]
                    work[PY + Index(i)] = ys[chosen[begin + i]]
                heights(s, f, pointer(work), pointer(at), Index(0), Index(count), Index(count))
                for i in range(count):
                    c, z = chosen[begin + i], work[HEIGHT + Index(i)]
                    if level[c] - z > GRAIN:
                        changed[c] = first + k
                        level[c] = z
                        cut[c] = sign * z
                        if not (z - sign * other[c] > EMPTY):
                            level[c] = -math.inf
                            cut[c] = other[c]
                            if emptied[c] < 0:
                                emptied[c] = first + k


sweep_sights = outer(_sweep_sights)

"""Pieces that come free: a union-find in reverse time over the motion that emptied each column.

Played backward, columns come back and join; a piece joins what is held at the very motion that,
played forward, cut it free. Stretches of a row that come back together are one node, so that the
work goes with the length of the kerfs and not with the plate's area. The kernels' whole call tree
stays in this file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

import numpy as np
from numpy.typing import NDArray

from knifecam.compiled import inner, outer
from knifecam.sweep.columns import Grid
from knifecam.sweep.sweep_limits import EMPTY_COLUMN_MM, OVERLAP_MM

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Bools = NDArray[np.bool_]
Bytes = NDArray[np.uint8]

STAYS = 1 << 60
"""Later than every motion."""

# rows of a table of stretches of grid rows, whose columns hold together and vanish together, in
# scanning order: the row, the first column, how many, the motion that emptied them (STAYS for none),
# and whether a column of it is held
STRETCH_ROW, STRETCH_COLUMN, STRETCH_LENGTH, STRETCH_TIME, STRETCH_FIRM = range(5)

# rows of a table of joints: two stretches that touch, and the motion that parted them, STAYS for none
JOINT_ONE, JOINT_TWO, JOINT_MOMENT = range(3)

# how a column goes on from the one before it in its row
WHOLE, GONE = 1, 2

INTEGER_ZERO = cast("int", np.int64(0))
"""A 0 of a number's type: for a literal one compiled code would be made twice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoosePiece:
    """A connected set of columns that at some moment had no connection to a held one.

    ``motion`` cut it free (-1: it never was connected). ``area`` mm2 and ``cells`` are those at
    that moment; ``place`` is a column of it, its middle where the middle belongs to it; ``last``
    tells whether any of it still exists at the end.
    """

    motion: int
    area: float
    place: tuple[float, float]
    cells: int
    last: bool


def _parted(top: Floats, bottom: Floats, changed: Ints, j: int, i: int, m: int, k: int) -> int:
    """Return the motion that parted two neighbour columns, [j, i] and [m, k]; STAYS for none.

    A column that was emptied was whole until then. Where intervals do not overlap at the end,
    the last motion that changed either is the one.
    """
    high, high_too, low, low_too = top[j, i], top[m, k], bottom[j, i], bottom[m, k]
    one, other = changed[j, i], changed[m, k]
    if high == low:
        return other if high_too == low_too and other < one else one
    if high_too == low_too:
        return other
    high = high if high < high_too else high_too
    low = low if low > low_too else low_too
    if high - low > OVERLAP_MM:
        return STAYS
    return one if one > other else other


parted = inner(_parted)


def _alike(top: Floats, bottom: Floats, changed: Ints, j: int, like: Bytes) -> None:
    """Fill in how a row's columns go on from the ones before: `WHOLE`, `GONE` together, or 0.

    Whole are both where neither was emptied and they hold together.
    """
    like[0] = 0
    high, low, when = top[j, 0], bottom[j, 0], changed[j, 0]
    for i in range(1, like.size):
        high_before, low_before, when_before = high, low, when
        high, low, when = top[j, i], bottom[j, i], changed[j, i]
        least = high if high < high_before else high_before
        most = low if low > low_before else low_before
        # intervals that overlap are of columns that were not emptied
        gone = (high == low) & (high_before == low_before) & (when == when_before)
        like[i] = WHOLE * (least - most > OVERLAP_MM) + GONE * gone


alike = inner(_alike)


def _held_any(held: Bools, j: int, begin: int, end: int) -> int:
    found = 0
    for i in range(begin, end):
        found |= held[j, i]
    return found


held_any = inner(_held_any)


def _stretches(top: Floats, bottom: Floats, changed: Ints, held: Bools, nodes: Longs, edges: Longs,
               begin: Longs, like: Bytes) -> tuple[int, int]:  # fmt: skip
    """Fill in the stretches of all rows, and which of them touch; return how many there are.

    ``nodes`` (5, room) and ``edges`` (3, 2 room) are tables of stretches and joints; ``begin``
    (ny + 1,) the first of each row; ``like`` (nx,) is room to work in. Returns -1, -1 if the room
    is too small.
    """
    ny, nx = changed.shape
    n = 0
    e = 0
    above = 0  # the stretch of the row above that ends next
    for j in range(ny):
        begin[j] = n
        if n + nx > nodes.shape[1] or e + 2 * nx > edges.shape[1]:
            return -1, -1
        alike(top, bottom, changed, j, like)
        pair = -1  # the joint of the stretches above and here
        here = up = -1  # the stretches at the column before, and above it
        i = INTEGER_ZERO
        while i < nx:
            up_before = up
            while (
                above < begin[j]
                and nodes[STRETCH_COLUMN, above] + nodes[STRETCH_LENGTH, above] <= i
            ):
                above += 1
            after = nx
            up = -1
            if above < begin[j]:
                after = nodes[STRETCH_COLUMN, above]
                if after <= i:
                    up = above
                    after += nodes[STRETCH_LENGTH, above]
            same = like[i] > 0 and up == up_before and here >= 0
            if same and up >= 0:
                same = pair >= 0 and (like[i] == GONE or edges[JOINT_MOMENT, pair] == STAYS)
            if same:
                # more of the same: no new stretch, and no joint that is not there already
                end = i + 1
                while end < after and like[end] == like[i]:
                    end += 1
                nodes[STRETCH_LENGTH, n - 1] += end - i
                nodes[STRETCH_FIRM, n - 1] |= held_any(held, j, i, end)
                i = end
                continue
            left = top[j, i] - bottom[j, i]
            if not left > EMPTY_COLUMN_MM and (left != 0.0 or changed[j, i] < 0):
                here = -1
                pair = -1
                i += 1
                continue
            moment = -1
            if here >= 0:
                moment = parted(top, bottom, changed, j, i, j, i - 1)
            if moment == STAYS or like[i] == GONE:
                nodes[STRETCH_LENGTH, n - 1] += 1
                nodes[STRETCH_FIRM, n - 1] |= held[j, i]
                if up != up_before:
                    pair = -1
            else:
                nodes[STRETCH_ROW, n] = j
                nodes[STRETCH_COLUMN, n] = i
                nodes[STRETCH_LENGTH, n] = 1
                nodes[STRETCH_TIME, n] = changed[j, i] if left == 0.0 else STAYS
                nodes[STRETCH_FIRM, n] = held[j, i]
                if moment >= 0:
                    edges[JOINT_ONE, e] = n - 1
                    edges[JOINT_TWO, e] = n
                    edges[JOINT_MOMENT, e] = moment
                    e += 1
                n += 1
                pair = -1
            here = n - 1
            i += 1
            if up < 0 or (pair >= 0 and edges[JOINT_MOMENT, pair] == STAYS):
                continue
            moment = parted(top, bottom, changed, j, i - 1, j - 1, i - 1)
            if moment < 0:
                continue
            if pair < 0:
                pair = e
                edges[JOINT_ONE, e] = up
                edges[JOINT_TWO, e] = n - 1
                edges[JOINT_MOMENT, e] = moment
                e += 1
            elif moment > edges[JOINT_MOMENT, pair]:
                edges[JOINT_MOMENT, pair] = moment
        above = begin[j]
    begin[ny] = n
    return n, e


stretches = outer(_stretches)


def _root(parent: Longs, i: int) -> int:
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


root = inner(_root)


def _note(k: int, row: int, pieces: Longs, nodes: Longs, begin: Longs, parent: Longs, state: Longs,
          moments: Floats) -> None:  # fmt: skip
    """Fill in a piece: its root, cells, column and row, and whether it lasts.

    The column is that at its middle, or at the middle of one of its stretches.
    """
    size = state[ROOT_SIZE, k]
    i = int(moments[0, k] / size + 0.5)
    j = int(moments[1, k] / size + 0.5)
    n, after = begin[j], begin[j + 1]
    while after - n > 1:
        half = (n + after) // 2
        if nodes[STRETCH_COLUMN, half] <= i:
            n = half
        else:
            after = half
    in_it = (
        n < after
        and nodes[STRETCH_COLUMN, n] <= i < nodes[STRETCH_COLUMN, n] + nodes[STRETCH_LENGTH, n]
    )
    if not in_it or root(parent, n) != k:
        i, j = nodes[STRETCH_COLUMN, k] + nodes[STRETCH_LENGTH, k] // 2, nodes[STRETCH_ROW, k]
    pieces[row, 0] = k
    pieces[row, 1] = size
    pieces[row, 2] = i
    pieces[row, 3] = j
    pieces[row, 4] = state[ROOT_LAST, k]


note = inner(_note)

# rows of what is known of the piece that a root stands for
ROOT_SIZE, ROOT_TOUCHED, ROOT_LAST, ROOT_HELD = range(4)


def _freed(nodes: Longs, begin: Longs, edges: Longs, order: Longs, parent: Longs, state: Longs,
           moments: Floats, pieces: Longs) -> int:  # fmt: skip
    """Fill in the pieces, played backward, and return how many there are.

    ``pieces`` (P, 5): motion, cells, column, row, whether it lasts. ``order`` sorts the joints by
    their moments, latest first. ``parent`` (n,), ``state`` (4, n) and ``moments`` (2, n) are room
    to work in.
    """
    count = parent.size
    for k in range(count):
        length = nodes[STRETCH_LENGTH, k]
        parent[k] = k
        state[ROOT_SIZE, k] = length
        state[ROOT_TOUCHED, k] = -2
        state[ROOT_LAST, k] = nodes[STRETCH_TIME, k] == STAYS
        state[ROOT_HELD, k] = nodes[STRETCH_FIRM, k]
        moments[0, k] = length * (nodes[STRETCH_COLUMN, k] + 0.5 * (length - 1))
        moments[1, k] = length * float(nodes[STRETCH_ROW, k])
    found = INTEGER_ZERO
    e = 0
    while e < order.size:
        now = edges[JOINT_MOMENT, order[e]]
        waiting = found
        while e < order.size and edges[JOINT_MOMENT, order[e]] == now:
            a = root(parent, edges[JOINT_ONE, order[e]])
            b = root(parent, edges[JOINT_TWO, order[e]])
            e += 1
            if a == b:
                continue
            for turn in range(2):
                # a piece as this motion left it, seen before it joins anything
                k = b if turn else a
                fresh = (
                    state[ROOT_TOUCHED, k] != now and now < STAYS and nodes[STRETCH_TIME, k] != now
                )
                if fresh and state[ROOT_HELD, k] == 0:
                    note(k, waiting, pieces, nodes, begin, parent, state, moments)
                    waiting += 1
                state[ROOT_TOUCHED, k] = now
            if state[ROOT_SIZE, a] < state[ROOT_SIZE, b]:
                a, b = b, a
            parent[b] = a
            state[ROOT_SIZE, a] += state[ROOT_SIZE, b]
            state[ROOT_HELD, a] |= state[ROOT_HELD, b]
            state[ROOT_LAST, a] |= state[ROOT_LAST, b]
            moments[0, a] += moments[0, b]
            moments[1, a] += moments[1, b]
        # those that have joined what is held were cut free by this motion
        for k in range(found, waiting):
            if state[ROOT_HELD, root(parent, pieces[k, 0])] > 0:
                pieces[found, 0] = now
                for q in range(1, 5):
                    pieces[found, q] = pieces[k, q]
                found += 1
    for k in range(count):
        if parent[k] == k and state[ROOT_HELD, k] == 0:
            note(k, found, pieces, nodes, begin, parent, state, moments)
            pieces[found, 0] = -1
            found += 1
    return found


freed = outer(_freed)


def _touching(grid: Grid, held: Bools) -> tuple[Longs, Longs, Longs]:
    """Return the tables of stretches and of joints, and the first stretch of each row."""
    ny, nx = grid.top.shape
    room = 16 * (nx + ny) + nx
    while True:
        nodes, edges = np.empty((5, room), np.int64), np.empty((3, 2 * room), np.int64)
        begin, like = np.zeros(ny + 1, np.int64), np.empty(nx, np.uint8)
        n, e = stretches(grid.top, grid.bottom, grid.changed, held, nodes, edges, begin, like)
        if n >= 0:
            return nodes[:, :n].copy(), edges[:, :e].copy(), begin
        room *= 8


def loose_pieces(grid: Grid, held: Bools, *, least_area: float = 0.05) -> tuple[LoosePiece, ...]:
    """Return every piece that was cut free of what is held, in the order of the cuts.

    Also pieces that are cut away afterwards. Neighbour columns hold together while their intervals
    overlap by more than 0.02 mm. A column that is emptied counts as whole until then; where two
    that stay overlap no more at the end, the last motion that changed either counts as the one
    that parted them.

    Parameters
    ----------
    grid : Grid
        Cut by both sides.
    held : (ny, nx) bool
        Columns that are held: the plate's frame, screws.
    least_area : float, mm2
        Pieces that were smaller when they came free are left out.
    """
    firm = np.array(held, dtype=bool)
    if firm.shape != grid.top.shape:
        raise ValueError(f"held {firm.shape} must have the grid's shape {grid.top.shape}")
    nodes, edges, begin = _touching(grid, firm)
    order = np.argsort(-edges[JOINT_MOMENT], kind="stable")
    stretch_count = nodes.shape[1]
    freed_pieces = np.empty((2 * stretch_count + 1, 5), np.int64)
    parent, state = np.empty(stretch_count, np.int64), np.empty((4, stretch_count), np.int64)
    moments = np.empty((2, stretch_count))
    count = freed(nodes, begin, edges, order, parent, state, moments, freed_pieces)
    area = grid.cell**2
    pieces = (
        LoosePiece(
            motion=int(when),
            area=float(cells * area),
            place=(float(grid.x0 + i * grid.cell), float(grid.y0 + j * grid.cell)),
            cells=int(cells),
            last=bool(last),
        )
        for when, cells, i, j, last in freed_pieces[:count].tolist()
        if cells * area >= least_area
    )
    return tuple(sorted(pieces, key=lambda p: (p.motion, p.place)))

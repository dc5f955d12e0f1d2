"""Pieces that come free: a union-find in reverse time over the motion that emptied each column.

Played backward, columns come back and join; a piece joins what is held at the very motion that,
played forward, cut it free. Stretches of a row that come back together are one node, so that the
work goes with the length of the kerfs and not with the plate's area. The kernels' whole call tree
stays in this file.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from knifecam.simulator.columns import Grid

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Bools = NDArray[np.bool_]

STAYS = 1 << 60
"""Later than every motion."""

OVERLAP = 0.02
"""mm: neighbour columns hold together when their intervals overlap by more than this."""

EMPTY = 1e-9
"""mm: a column with less metal than this is empty."""

inner = njit(no_cpython_wrapper=True, no_cfunc_wrapper=True)
"""Compiles what only compiled code calls: no way in from Python, hence half the time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
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


class Stretches(NamedTuple):
    """Stretches of rows whose columns hold together and vanish together, in scanning order."""

    row: Longs
    column: Longs  # the first
    length: Longs
    time: Longs  # the motion that emptied them, STAYS for none
    firm: Bools  # a column of it is held
    begin: Longs  # (ny + 1,) the first of each row


class Joints(NamedTuple):
    """Pairs of stretches that touch, and the motion that parted them, STAYS for none."""

    one: Longs
    two: Longs
    moment: Longs


def _parted(top: Floats, bottom: Floats, emptied: Ints, changed: Ints, other_top: Floats,
            other_bottom: Floats, other_emptied: Ints, other_changed: Ints, i: int,
            k: int) -> int:  # fmt: skip
    """Return the motion that parted two neighbour columns, STAYS for none.

    A column that was emptied was whole until then. Where intervals do not overlap at the end,
    the last motion that changed either is the one.
    """
    first = emptied[i] if emptied[i] >= 0 else STAYS
    second = other_emptied[k] if other_emptied[k] >= 0 else STAYS
    if min(first, second) < STAYS:
        return min(first, second)
    if min(top[i], other_top[k]) - max(bottom[i], other_bottom[k]) > OVERLAP:
        return STAYS
    return max(changed[i], other_changed[k])


parted = inner(_parted)


def _joined(top: Floats, bottom: Floats, emptied: Ints, whole: NDArray[np.uint8]) -> None:
    """Fill in which columns of a row never were emptied, like the one before, and hold to it."""
    whole[0] = 0
    for i in range(1, top.size):
        least = min(top[i] - bottom[i], top[i - 1] - bottom[i - 1])
        overlap = min(top[i], top[i - 1]) - max(bottom[i], bottom[i - 1])
        there = max(emptied[i], emptied[i - 1]) < 0
        whole[i] = 1 if there and least > EMPTY and overlap > OVERLAP else 0


joined = inner(_joined)


def _same_above(above: Longs, whole: NDArray[np.uint8], i: int, nx: int) -> int:
    """Return the end of those columns from i on that hold together under the same stretch."""
    first = above[i]
    while i < nx and whole[i] > 0 and above[i] == first:
        i += 1
    return i


same_above = inner(_same_above)


def _gone(top: Floats, bottom: Floats, changed: Ints, emptied: Ints) -> None:
    """Fill in the motion that emptied each column of a row, -1 for none."""
    for i in range(top.size):
        emptied[i] = changed[i] if top[i] == bottom[i] else -1


gone = inner(_gone)


def _stretches(top: Floats, bottom: Floats, changed: Ints, held: Bools, nodes: Longs, edges: Longs,
               begin: Longs) -> tuple[int, int]:  # fmt: skip
    """Fill in the stretches of all rows, and which of them touch; return how many there are.

    ``nodes`` (5, room): row, first column, length, time, firm; ``edges`` (3, 2 room): two
    stretches and the moment they part; ``begin`` (ny + 1,). Returns -1, -1 if the room is too small.
    """
    ny, nx = changed.shape
    n = 0
    e = 0
    above = np.empty(nx, np.int64)
    here = np.empty(nx, np.int64)
    whole = np.empty(nx, np.uint8)
    g, g_up = np.empty(nx, np.int32), np.empty(nx, np.int32)
    for i in range(nx):
        above[i] = -1
    for j in range(ny):
        begin[j] = n
        if n + nx > nodes.shape[1] or e + 2 * nx > edges.shape[1]:
            return -1, -1
        up = max(j - 1, 0)
        t, b, c, t_up, b_up, c_up = top[j], bottom[j], changed[j], top[up], bottom[up], changed[up]
        g, g_up = g_up, g
        gone(t, b, c, g)
        pair = -1  # the joint of the stretches above and here
        joined(t, b, g, whole)
        i = -1
        while i < nx - 1:
            i += 1
            same = i > 0 and whole[i] > 0 and above[i] == above[i - 1] and here[i - 1] >= 0
            if same and (above[i] < 0 or (pair >= 0 and edges[2, pair] == STAYS)):
                # more of the same: no new stretch, and no joint that is not there already
                end = same_above(above, whole, i, nx)
                nodes[2, n - 1] += end - i
                for k in range(i, end):
                    here[k] = n - 1
                    nodes[4, n - 1] |= held[j, k]
                i = end - 1
                continue
            if g[i] < 0 and not (t[i] - b[i] > EMPTY):
                here[i] = -1
                pair = -1
                continue
            moment = -1
            if i > 0 and here[i - 1] >= 0:
                moment = parted(t, b, g, c, t, b, g, c, i, i - 1)
            if moment >= 0 and g[i] == g[i - 1] and (g[i] >= 0 or moment == STAYS):
                nodes[2, n - 1] += 1
                nodes[4, n - 1] |= held[j, i]
                if above[i] != above[i - 1]:
                    pair = -1
            else:
                nodes[0, n] = j
                nodes[1, n] = i
                nodes[2, n] = 1
                nodes[3, n] = g[i] if g[i] >= 0 else STAYS
                nodes[4, n] = held[j, i]
                if moment >= 0:
                    edges[0, e] = n - 1
                    edges[1, e] = n
                    edges[2, e] = moment
                    e += 1
                n += 1
                pair = -1
            here[i] = n - 1
            if above[i] < 0 or (pair >= 0 and edges[2, pair] == STAYS):
                continue
            moment = parted(t, b, g, c, t_up, b_up, g_up, c_up, i, i)
            if moment < 0:
                continue
            if pair < 0:
                pair = e
                edges[0, e] = above[i]
                edges[1, e] = n - 1
                edges[2, e] = moment
                e += 1
            else:
                edges[2, pair] = max(edges[2, pair], moment)
        above, here = here, above
    begin[ny] = n
    return n, e


stretches = njit(error_model="numpy", cache=True)(_stretches)


def _root(parent: NDArray[np.int64], i: int) -> int:
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


root = inner(_root)


def _middle(k: int, parent: Longs, s: Stretches, size: Longs, x: Floats,
            y: Floats) -> tuple[int, int]:  # fmt: skip
    """Return the column at the middle of a piece, or the middle of one of its stretches."""
    i = int(x[k] / size[k] + 0.5)
    j = int(y[k] / size[k] + 0.5)
    n, after = s.begin[j], s.begin[j + 1]
    while after - n > 1:
        half = (n + after) // 2
        if s.column[half] <= i:
            n = half
        else:
            after = half
    if n < after and s.column[n] <= i < s.column[n] + s.length[n] and root(parent, n) == k:
        return i, j
    return s.column[k] + s.length[k] // 2, s.row[k]


middle = inner(_middle)


def _freed(s: Stretches, joints: Joints, order: Longs, pieces: Longs) -> int:
    """Fill in the pieces, played backward, and return how many there are.

    ``pieces`` (P, 5): motion, cells, column, row, whether it lasts. ``order`` sorts the joints by
    their moments, latest first.
    """
    count = s.row.size
    parent = np.empty(count, np.int64)
    size = np.empty(count, np.int64)
    touched = np.empty(count, np.int64)
    last = np.empty(count, np.bool_)
    x = np.empty(count)
    y = np.empty(count)
    for k in range(count):
        parent[k] = k
        size[k] = s.length[k]
        x[k] = s.length[k] * (s.column[k] + 0.5 * (s.length[k] - 1))
        y[k] = s.length[k] * float(s.row[k])
        last[k] = s.time[k] == STAYS
        touched[k] = -2
    firm = s.firm
    found = 0
    e = 0
    while e < order.size:
        now = joints.moment[order[e]]
        waiting = found
        while e < order.size and joints.moment[order[e]] == now:
            a = root(parent, joints.one[order[e]])
            b = root(parent, joints.two[order[e]])
            e += 1
            if a == b:
                continue
            for k in (a, b):
                # a piece as this motion left it, seen before it joins anything
                if touched[k] != now and now < STAYS and not firm[k] and s.time[k] != now:
                    i, j = middle(k, parent, s, size, x, y)
                    pieces[waiting, 0] = k
                    pieces[waiting, 1] = size[k]
                    pieces[waiting, 2] = i
                    pieces[waiting, 3] = j
                    pieces[waiting, 4] = last[k]
                    waiting += 1
                touched[k] = now
            if size[a] < size[b]:
                a, b = b, a
            parent[b] = a
            size[a] += size[b]
            x[a] += x[b]
            y[a] += y[b]
            firm[a] |= firm[b]
            last[a] |= last[b]
        # those that have joined what is held were cut free by this motion
        for k in range(found, waiting):
            if firm[root(parent, pieces[k, 0])]:
                pieces[found, 0] = now
                for q in range(1, 5):
                    pieces[found, q] = pieces[k, q]
                found += 1
    for k in range(count):
        if parent[k] == k and not firm[k]:
            i, j = middle(k, parent, s, size, x, y)
            pieces[found, 0] = -1
            pieces[found, 1] = size[k]
            pieces[found, 2] = i
            pieces[found, 3] = j
            pieces[found, 4] = last[k]
            found += 1
    return found


freed = njit(cache=True)(_freed)


def _touching(grid: Grid, held: Bools) -> tuple[Stretches, Joints]:
    """Return the stretches of all rows, and which of them touch."""
    ny, nx = grid.top.shape
    room = 16 * (nx + ny) + nx
    while True:
        nodes, edges = np.empty((5, room), np.int64), np.empty((3, 2 * room), np.int64)
        begin = np.zeros(ny + 1, np.int64)
        n, e = stretches(grid.top, grid.bottom, grid.changed, held, nodes, edges, begin)
        if n >= 0:
            firm = nodes[4, :n] > 0
            row, column, length, time = nodes[:4, :n]
            return Stretches(row, column, length, time, firm, begin), Joints(*edges[:, :e])
        room *= 8


def loose_pieces(grid: Grid, held: Bools, *, least_area: float = 0.05) -> tuple[Piece, ...]:
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
    found, joints = _touching(grid, firm)
    order = np.argsort(-joints.moment, kind="stable")
    freed_pieces = np.empty((2 * len(found.row) + 1, 5), np.int64)
    count = freed(found, joints, order, freed_pieces)
    area = grid.cell**2
    pieces = (
        Piece(
            motion=int(when),
            area=float(cells * area),
            place=(float(grid.x0 + i * grid.cell), float(grid.y0 + j * grid.cell)),
            cells=int(cells),
            last=bool(last),
        )
        for when, cells, i, j, last in freed_pieces[:count]
        if cells * area >= least_area
    )
    return tuple(sorted(pieces, key=lambda p: (p.motion, p.place)))

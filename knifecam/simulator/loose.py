"""Pieces that come free: a union-find in reverse time over the motion that emptied each column.

Played backward, columns come back and join; a piece joins what is held at the very motion that,
played forward, cut it free. Stretches of a row that come back together are one node, so that the
work goes with the length of the kerfs and not with the plate's area. The kernels' whole call tree
stays in this file.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from knifecam.simulator.columns import Grid

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]

OVERLAP = 0.02
"""mm: neighbour columns hold together when their intervals overlap by more than this."""

EMPTY = 1e-9
"""mm: a column with less metal than this is empty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A connected set of columns that at some moment had no connection to a held one.

    ``motion`` cut it free (-1: no motion that emptied a column did: it was never connected, or it
    is parted only by intervals that do not overlap at the end). ``area`` mm2 and ``cells`` are
    those at that moment; ``place`` is a column of it, its middle where the middle belongs to it;
    ``last`` tells whether any of it still exists at the end.
    """

    motion: int
    area: float
    place: tuple[float, float]
    cells: int
    last: bool


def _connected(top: Floats, bottom: Floats, gone: Ints, other_top: Floats, other_bottom: Floats,
               other_gone: Ints, i: int, k: int) -> bool:  # fmt: skip
    """Return whether two neighbour columns hold together; one that was emptied was whole."""
    if gone[i] >= 0 or other_gone[k] >= 0:
        return True
    shared = min(top[i], other_top[k]) - max(bottom[i], other_bottom[k])
    return shared > OVERLAP


connected = njit(cache=True)(_connected)


def _nodes_and_edges(
    top: Floats, bottom: Floats, gone: Ints, held: Bools, stays: int
) -> tuple[
    NDArray[np.int64], NDArray[np.int64], NDArray[np.int64], NDArray[np.int64], NDArray[np.int64],
    NDArray[np.int64], Bools, NDArray[np.int64],
]:  # fmt: skip
    """Return the stretches of all rows, and which of them touch.

    Nodes: row, first column, length, time (the motion that emptied them, or ``stays``), held;
    where each row's nodes begin. Edges: two nodes each.
    """
    ny, nx = gone.shape
    room = 1024
    row = np.empty(room, np.int64)
    column = np.empty(room, np.int64)
    length = np.empty(room, np.int64)
    time = np.empty(room, np.int64)
    firm = np.empty(room, np.bool_)
    begin = np.zeros(ny + 1, np.int64)
    one = np.empty(room, np.int64)
    two = np.empty(room, np.int64)
    nodes = 0
    edges = 0
    above = np.full(nx, -1, np.int64)
    here = np.full(nx, -1, np.int64)
    for j in range(ny):
        begin[j] = nodes
        t, b, g, f = top[j], bottom[j], gone[j], held[j]
        if nodes + nx >= row.size:
            room = 2 * (nodes + nx)
            row = np.concatenate((row[:nodes], np.empty(room - nodes, np.int64)))
            column = np.concatenate((column[:nodes], np.empty(room - nodes, np.int64)))
            length = np.concatenate((length[:nodes], np.empty(room - nodes, np.int64)))
            time = np.concatenate((time[:nodes], np.empty(room - nodes, np.int64)))
            firm = np.concatenate((firm[:nodes], np.empty(room - nodes, np.bool_)))
        if edges + 2 * nx >= one.size:
            room = 2 * (edges + 2 * nx)
            one = np.concatenate((one[:edges], np.empty(room - edges, np.int64)))
            two = np.concatenate((two[:edges], np.empty(room - edges, np.int64)))
        joined = False
        for i in range(nx):
            here[i] = -1
            if g[i] < 0 and not (t[i] - b[i] > EMPTY):
                joined = False
                continue
            bound = i > 0 and here[i - 1] >= 0 and connected(t, b, g, t, b, g, i, i - 1)
            if bound and g[i] == g[i - 1]:
                length[nodes - 1] += 1
                firm[nodes - 1] |= f[i]
            else:
                row[nodes] = j
                column[nodes] = i
                length[nodes] = 1
                time[nodes] = g[i] if g[i] >= 0 else stays
                firm[nodes] = f[i]
                if bound:
                    one[edges] = nodes - 1
                    two[edges] = nodes
                    edges += 1
                nodes += 1
                joined = False
            here[i] = nodes - 1
            if j > 0 and above[i] >= 0:
                if i > 0 and above[i] != above[i - 1]:
                    joined = False
                if not joined and connected(t, b, g, top[j - 1], bottom[j - 1], gone[j - 1], i, i):
                    one[edges] = above[i]
                    two[edges] = here[i]
                    edges += 1
                    joined = True
            else:
                joined = False
        above, here = here, above
    begin[ny] = nodes
    return (row[:nodes], column[:nodes], length[:nodes], time[:nodes], one[:edges], two[:edges],
            firm[:nodes], begin)  # fmt: skip


nodes_and_edges = njit(cache=True)(_nodes_and_edges)


def _root(parent: NDArray[np.int64], i: int) -> int:
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


root = njit(cache=True)(_root)


def _middle(k: int, parent: NDArray[np.int64], size: NDArray[np.int64], x: Floats, y: Floats,
            row: NDArray[np.int64], column: NDArray[np.int64], length: NDArray[np.int64],
            begin: NDArray[np.int64]) -> tuple[int, int]:  # fmt: skip
    """Return the column at the middle of a piece, or the middle of one of its stretches."""
    j = int(y[k] / size[k] + 0.5)
    i = int(x[k] / size[k] + 0.5)
    n = begin[j] + np.searchsorted(column[begin[j] : begin[j + 1]], i, side="right") - 1
    if n >= begin[j] and i < column[n] + length[n] and root(parent, n) == k:
        return i, j
    return column[k] + length[k] // 2, row[k]


middle = njit(cache=True)(_middle)


def _freed(row: NDArray[np.int64], column: NDArray[np.int64], length: NDArray[np.int64],
           time: NDArray[np.int64], one: NDArray[np.int64], two: NDArray[np.int64], firm: Bools,
           begin: NDArray[np.int64], order: NDArray[np.int64], moment: NDArray[np.int64],
           stays: int) -> list[tuple[int, int, int, int, bool]]:  # fmt: skip
    """Return (time, cells, column, row, last) of every piece, played backward.

    ``order`` sorts the edges by ``moment``, the time from which they are absent, latest first.
    """
    count = row.size
    parent = np.arange(count)
    size = length.copy()
    x = length * (column + 0.5 * (length - 1))
    y = length * row.astype(np.float64)
    fixed = firm.copy()
    last = time == stays
    touched = np.full(count, np.int64(-2))
    pieces = [(0, 0, 0, 0, False)]
    pieces.clear()
    waiting = [(0, 0, 0, 0, False)]
    waiting.clear()
    e = 0
    while e < order.size:
        now = moment[order[e]]
        waiting.clear()
        while e < order.size and moment[order[e]] == now:
            a = root(parent, one[order[e]])
            b = root(parent, two[order[e]])
            e += 1
            if a == b:
                continue
            for k in (a, b):
                # a piece as it was after this motion, seen before it joins anything
                if touched[k] != now:
                    if not fixed[k] and not (time[k] == now and now != stays) and now != stays:
                        i, j = middle(k, parent, size, x, y, row, column, length, begin)
                        waiting.append((k, size[k], i, j, last[k]))
                    touched[k] = now
            if size[a] < size[b]:
                a, b = b, a
            parent[b] = a
            size[a] += size[b]
            x[a] += x[b]
            y[a] += y[b]
            fixed[a] |= fixed[b]
            last[a] |= last[b]
            touched[a] = now
        for k, cells, i, j, stayed in waiting:
            if fixed[root(parent, k)]:
                pieces.append((now, cells, i, j, stayed))
    for k in range(count):
        if parent[k] == k and not fixed[k]:
            i, j = middle(k, parent, size, x, y, row, column, length, begin)
            pieces.append((-1, size[k], i, j, last[k]))
    return pieces


freed = njit(cache=True)(_freed)


def loose_pieces(grid: Grid, held: Bools, *, least_area: float = 0.05) -> tuple[Piece, ...]:
    """Return every piece that was cut free of what is held, in the order of the cuts.

    Also pieces that are cut away afterwards. Columns that are emptied count as whole until then;
    those that stay count with their intervals at the end, so where only intervals that do not
    overlap part a piece, ``motion`` may be earlier than the true moment.

    Parameters
    ----------
    grid : Grid
        Cut by both sides.
    held : (ny, nx) bool
        Columns that are held: the plate's frame, screws.
    least_area : float, mm2
        Pieces that were smaller when they came free are left out.
    """
    firm = np.ascontiguousarray(held, dtype=bool)
    if firm.shape != grid.emptied.shape:
        raise ValueError(f"held {firm.shape} must have the grid's shape {grid.emptied.shape}")
    stays = 1 << 60
    row, column, length, time, one, two, stiff, begin = nodes_and_edges(
        grid.top, grid.bottom, grid.emptied, firm, stays
    )
    if not len(row):
        return ()
    moment = np.minimum(time[one], time[two])
    order = np.argsort(-moment, kind="stable")
    found = freed(row, column, length, time, one, two, stiff, begin, order, moment, stays)
    area = grid.cell**2
    pieces = (
        Piece(
            motion=int(when),
            area=cells * area,
            place=(grid.x0 + i * grid.cell, grid.y0 + j * grid.cell),
            cells=int(cells),
            last=bool(last),
        )
        for when, cells, i, j, last in found
        if cells * area >= least_area
    )
    return tuple(sorted(pieces, key=lambda p: (p.motion, p.place)))

"""Which cells of a grid lie inside a curve: exact distances, worked out only near the curve.

The signed distance changes by at most 1 mm a mm, so a block of cells whose middle lies further from
the limit than half its diagonal is decided by that middle alone.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Blade
from knifecam.curve import Curve, circle, signed_distance
from knifecam.simulator.columns import SURE, Grid

Bools = NDArray[np.bool_]
Longs = NDArray[np.int64]

BLOCK = 16
"""Cells along a block's side, then a quarter of it, then cells one by one."""

OFF_WALL = SURE
"""mm: nearer to a wall it is the wall, not the face, that is judged, however fine the cells are."""


class Patch(NamedTuple):
    """Some cells of a grid: those of a ``window``, rows and columns, that ``mask`` marks."""

    window: tuple[slice, slice]
    mask: Bools

    def cells(self) -> tuple[Longs, Longs]:
        """Return the rows and the columns of the cells in the grid."""
        rows, columns = np.nonzero(self.mask)
        return rows + self.window[0].start, columns + self.window[1].start


def blade_cells(blade: Blade, grid: Grid) -> Bools:
    """Return the cells `OFF_WALL` or more, and a cell, inside the blade, off its bores and slots."""
    off = max(grid.cell, OFF_WALL)
    inside = deeper_than(grid, blade.outline, off)
    openings = [circle(bore.centre, bore.diameter) for bore in blade.bores]
    openings += [slot.outline for slot in blade.slots]
    for opening in openings:
        patch = patch_deeper(grid, opening, -off)
        inside[patch.window] &= ~patch.mask
    return inside


def deeper_than(grid: Grid, curve: Curve, depth: float) -> Bools:
    """Return which cells, (ny, nx), `patch_deeper` finds."""
    inside = np.zeros(grid.top.shape, bool)
    patch = patch_deeper(grid, curve, depth)
    inside[patch.window] = patch.mask
    return inside


def patch_deeper(grid: Grid, curve: Curve, depth: float) -> Patch:
    """Return the cells that have their centres more than ``depth`` mm inside the closed curve.

    A negative ``depth`` takes in cells up to that distance outside.
    """
    rows, columns = grid.top.shape
    low_x, low_y, high_x, high_y = curve.bounds
    grown = max(0.0, -depth) + grid.cell
    j = _window(low_x - grown, high_x + grown, grid.x0, grid.cell, columns)
    i = _window(low_y - grown, high_y + grown, grid.y0, grid.cell, rows)
    tall, wide = max(0, i[1] - i[0]), max(0, j[1] - j[0])
    whole = np.zeros((_blocks(tall) * BLOCK, _blocks(wide) * BLOCK), bool)
    down, across = np.indices((_blocks(tall), _blocks(wide))).reshape(2, -1)
    _decide(whole, grid, (i[0], j[0]), curve, depth, (down, across), BLOCK)
    window = slice(i[0], i[0] + tall), slice(j[0], j[0] + wide)
    return Patch(window, np.ascontiguousarray(whole[:tall, :wide]))


def _blocks(cells: int) -> int:
    return -(-cells // BLOCK)


def _window(low: float, high: float, first: float, cell: float, count: int) -> tuple[int, int]:
    begin = int(np.floor((low - first) / cell))
    end = int(np.ceil((high - first) / cell)) + 1
    return max(0, begin), min(count, end)


def _decide(
    inside: Bools, grid: Grid, first: tuple[int, int], curve: Curve, depth: float,
    blocks: tuple[Longs, Longs], size: int,
) -> None:  # fmt: skip
    """Mark blocks of ``size`` cells, rows and columns of them, splitting the undecided.

    ``first``: row and column, in the grid, of the first cell of ``inside``.
    """
    down, across = blocks
    if not len(down):
        return
    half = (size - 1) / 2
    x = grid.x0 + grid.cell * (first[1] + size * across + half)
    y = grid.y0 + grid.cell * (first[0] + size * down + half)
    middles = np.stack([x, y], axis=1)
    beyond = signed_distance(middles, curve) - depth
    if size == 1:
        inside[down, across] = beyond > 0.0
        return
    reach = half * np.sqrt(2) * grid.cell + 1e-9
    tall, wide = inside.shape
    in_blocks = inside.reshape(tall // size, size, wide // size, size)
    within = beyond > reach
    in_blocks[down[within], :, across[within], :] = True
    open_ = np.abs(beyond) <= reach
    step = np.arange(4)
    rows = np.broadcast_to(4 * down[open_, None, None] + step[:, None], (np.sum(open_), 4, 4))
    columns = np.broadcast_to(4 * across[open_, None, None] + step, rows.shape)
    _decide(inside, grid, first, curve, depth, (rows.ravel(), columns.ravel()), size // 4)

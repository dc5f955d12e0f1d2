"""Which cells of a grid lie inside a curve: exact distances, worked out only near the curve.

The signed distance changes by at most 1 mm a mm, so a block of cells whose middle lies further from
the limit than half its diagonal is decided by that middle alone.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, signed_distance
from knifecam.simulator.columns import Grid

Bools = NDArray[np.bool_]

BLOCK = 16
"""Cells along a block's side, then a quarter of it, then cells one by one."""


def deeper_than(grid: Grid, curve: Curve, depth: float) -> Bools:
    """Return which cells have their centres more than ``depth`` mm inside the closed curve.

    A negative ``depth`` takes in cells up to that distance outside.
    """
    rows, columns = grid.top.shape
    inside = np.zeros((rows, columns), bool)
    low_x, low_y, high_x, high_y = curve.bounds
    grown = max(0.0, -depth) + grid.cell
    j = _window(low_x - grown, high_x + grown, grid.x0, grid.cell, columns)
    i = _window(low_y - grown, high_y + grown, grid.y0, grid.cell, rows)
    if i[0] >= i[1] or j[0] >= j[1]:
        return inside
    down, across = np.meshgrid(
        np.arange(i[0], i[1], BLOCK), np.arange(j[0], j[1], BLOCK), indexing="ij"
    )
    _decide(grid, curve, depth, inside, down.ravel(), across.ravel(), BLOCK)
    return inside


def cells_of(mask: Bools, grid: Grid, curve: Curve) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return rows and columns of the cells of ``mask`` (ny, nx) in the box of a curve."""
    low_x, low_y, high_x, high_y = curve.bounds
    j = _window(low_x, high_x, grid.x0, grid.cell, mask.shape[1])
    i = _window(low_y, high_y, grid.y0, grid.cell, mask.shape[0])
    rows, columns = np.nonzero(mask[i[0] : max(i), j[0] : max(j)])
    return rows + i[0], columns + j[0]


def _window(low: float, high: float, first: float, cell: float, count: int) -> tuple[int, int]:
    begin = int(np.floor((low - first) / cell))
    end = int(np.ceil((high - first) / cell)) + 1
    return max(0, begin), min(count, end)


def _decide(
    grid: Grid, curve: Curve, depth: float, inside: Bools,
    down: NDArray[np.int64], across: NDArray[np.int64], size: int,
) -> None:  # fmt: skip
    """Mark blocks of ``size`` cells with corners at (down, across), splitting the undecided."""
    if not len(down):
        return
    half = (size - 1) / 2
    middles = np.stack(
        [grid.x0 + grid.cell * (across + half), grid.y0 + grid.cell * (down + half)], axis=1
    )
    beyond = signed_distance(middles, curve) - depth
    reach = half * np.sqrt(2) * grid.cell + 1e-9 if size > 1 else 0.0
    if size == 1:
        inside[down, across] = beyond > reach
        return
    for k in np.flatnonzero(beyond > reach):
        inside[down[k] : down[k] + size, across[k] : across[k] + size] = True
    open_ = np.abs(beyond) <= reach
    part = size // 4
    step = part * np.arange(4)
    rows = (down[open_][:, None, None] + step[None, :, None] + 0 * step[None, None, :]).ravel()
    columns = (across[open_][:, None, None] + 0 * step[None, :, None] + step[None, None, :]).ravel()
    within = (rows < inside.shape[0]) & (columns < inside.shape[1])
    _decide(grid, curve, depth, inside, rows[within], columns[within], part)

"""One motion looked at closer: swept over a small fine grid of what all before it has left.

How fine it is follows from the motion, not from the plate's cells, so that what is read here is the
same whatever those are.
"""

from __future__ import annotations

import numpy as np

from knifecam.measure.sample_columns import Rows, Sides, chosen_motions, near_motions
from knifecam.shop import Order
from knifecam.sweep.columns import Grid, Swept, cut_grid, plate_grid
from knifecam.sweep.side_program import SideProgram

FINEST_CELL_MM, MOST_CELLS = 0.005, 250_000
"""mm, and cells: so fine is the grid, or so many cells has it."""


def sweep_closely(order: Order, sides: Sides, side: SideProgram, motion: int) -> Swept:
    """Return what one motion of a side meets of what side A and the motions before it have left."""
    low, high = np.array(order.setup.plate.bounds).reshape(2, 2)
    box = np.stack(side.covers)[:, motion] * np.asarray(side.frame.signs[:2])
    low, high = np.maximum(low, box.min(axis=0)), np.minimum(high, box.max(axis=0))
    high = np.maximum(high, low + FINEST_CELL_MM)
    cell = max(FINEST_CELL_MM, float(np.sqrt(np.prod(high - low) / MOST_CELLS)))
    grid = plate_grid((*low, *high), order.setup.plate.thickness, cell)
    for other in sides:
        if other is side or (other is not None and other.name == "A"):
            rows = near_motions(other, np.stack([low, high]))
            _cut(grid, order, other, rows[rows < motion] if other is side else rows)
    return _cut(grid, order, side, np.array([motion]))


def _cut(grid: Grid, order: Order, side: SideProgram, rows: Rows) -> Swept:
    shapes = side.shapes
    return cut_grid(
        grid, chosen_motions(side.swept_motions(), rows), side.cutter_radius[rows], shapes.corner[rows],
        side=side.name, flip=order.setup.flip, first=0, tip=shapes.tip[rows],
        half_angle=shapes.half_angle[rows],
    )  # fmt: skip

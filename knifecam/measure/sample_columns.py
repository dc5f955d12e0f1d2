"""What both sides left at chosen places, by sample columns; one motion looked at closer.

Sample columns are cut side by side, each through its own exact place. A motion looked at closer is
swept over a small fine grid of what all before it has left. How fine that grid is follows from the
motion, not from the plate's cells, so that what is read there is the same whatever those are.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Motions
from knifecam.measure.measure_limits import FINEST_CELL_MM, MOST_CELLS
from knifecam.shop import Order
from knifecam.sweep.columns import (
    Grid,
    SampleColumns,
    Swept,
    cut_by_steps,
    cut_grid,
    cut_samples,
    plate_grid,
    sample_columns,
)
from knifecam.sweep.side_program import SideProgram

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

Sides = tuple[SideProgram | None, SideProgram | None]

Rows = slice | NDArray[np.int64]
"""Which motions of a side: a slice, or their numbers, rising."""


@dataclass(frozen=True, eq=False, kw_only=True)
class SampledPlaces:
    """Columns at exact places of the part.

    ``points`` (n, 2) mm; ``heights`` (2, n) mm: of the face toward side A above the mid-plane and
    of the face toward side B below it; ``last`` (2, n): the global index of the motion that last
    cut each face, -1 for none; ``emptied`` (n,): the motion that emptied the column, -1 for none.
    """

    points: Floats
    heights: Floats
    last: Ints
    emptied: Ints

    @property
    def thickness(self) -> Floats:
        """(n,) mm: metal between the faces."""
        return np.asarray(self.heights[0] + self.heights[1])


def read_places(order: Order, sides: Sides, points: Floats) -> SampledPlaces:
    """Return what the sides that are given leave at ``points`` (n, 2), part frame."""
    columns = sample_columns(points, order.setup.plate.thickness)
    last = np.full((2, len(columns)), -1, np.int32)
    gone = np.full(len(columns), -1, np.int32)
    for which, side in enumerate(sides):
        if side is None or not len(columns):
            continue
        columns.changed[:] = -1
        cut_by_steps(columns, side.laid, side=side.name, first=side.first)
        last[which] = columns.changed
        gone = np.where(gone < 0, columns.emptied, gone)
    return SampledPlaces(
        points=np.asarray(points, dtype=float).reshape(-1, 2),
        heights=np.stack([columns.top, -columns.bottom]),
        last=last,
        emptied=gone,
    )


def cut_with_some(columns: SampleColumns, side: SideProgram, flip: str, rows: Rows) -> None:
    """Cut sample columns, in place, with some of a side's motions in turn.

    ``emptied`` and ``changed`` count among those.
    """
    shapes = side.shapes
    cut_samples(
        columns,
        chosen_motions(side.swept_motions(), rows),
        side.cutter_radius[rows],
        shapes.corner[rows],
        side=side.name,
        flip=flip,
        first=side.first,
        tip=shapes.tip[rows],
        half_angle=shapes.half_angle[rows],
    )


def chosen_motions(motions: Motions, rows: Rows) -> Motions:
    """Return only some of the motions."""
    return Motions(
        motions.kind[rows], motions.start[rows], motions.stop[rows], motions.centre[rows],
        motions.turns[rows], motions.feed[rows],
    )  # fmt: skip


def near_motions(side: SideProgram, places: Floats, *, within: float = 0.01) -> NDArray[np.int64]:
    """Return the numbers of the motions below the face whose cutters may come over any place.

    ``places`` (n, 2) in the part frame; ``within`` mm beside the cutter count too.
    """
    turned = places * side.frame.signs[:2]
    low, high = turned.min(axis=0), turned.max(axis=0)
    lower, upper = side.covers
    (x, y), (u, v) = lower.T, upper.T
    beside = (x < high[0] + within) & (y < high[1] + within)
    beside &= (u > low[0] - within) & (v > low[1] - within)
    return np.flatnonzero(beside & side.below_face)


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

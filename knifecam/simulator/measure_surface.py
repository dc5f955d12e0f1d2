"""The blade's ground surfaces, cell by cell: what is wanted there and what was left.

A cell's column is exact at its centre, so the comparison is exact there, whatever the cell's size.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Blade
from knifecam.blade.broken import break_ends, near_break_ends
from knifecam.blade.surface import half_thickness
from knifecam.curve import circle
from knifecam.shop import Order
from knifecam.simulator.bevelled import FLUSH, Places, lies_of, places_on
from knifecam.simulator.columns import Grid
from knifecam.simulator.measure_mask import cells_of, deeper_than

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

APART = 0.1
"""mm between the cells that are compared, or one cell."""

BLOCK = 4
"""Cells along the side of a block that is looked at as a whole."""

RIM = 0.006
"""mm: nearer to a wall than this the wall is judged, not the surface."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Surface:
    """One side's ground surfaces.

    ``flat`` (ny, nx): the cells of the blade's flat, which no cutter may touch. ``rows`` and
    ``columns`` (n,): the cells that lie on bevels and edge breaks; ``places`` what is wanted there;
    ``height`` (n,) mm above the mid-plane toward the side what was left, ``last`` (n,) the global
    index of the motion that last cut it, -1 for none. ``apart`` mm: the root of the area
    that each stands for.
    """

    flat: Bools
    rows: Ints
    columns: Ints
    places: Places
    height: Floats
    last: NDArray[np.int32]
    apart: float

    @property
    def deviation(self) -> Floats:
        """(n,) mm of metal above the wanted surface, along Z; negative where too much went."""
        return np.asarray(self.height - self.places.target)

    def cut(self, grid: Grid) -> Surface:
        """Return the surface with what the grid has there; to be taken as soon as it is cut."""
        at = self.rows, self.columns
        height = grid.top[at] if self.places.side == "A" else -grid.bottom[at]
        return replace(self, height=height.copy(), last=grid.changed[at].copy())


def wanted_surfaces(order: Order, grid: Grid, inside: Bools) -> tuple[Surface, Surface]:
    """Return side A's and side B's surfaces, uncut.

    ``inside`` (ny, nx): cells a cell or more inside the blade.
    """
    if not any(_is_ground(order.blade, side) for side in "AB"):
        rows, points = np.zeros(0, int), np.zeros((0, 2))
        none = [_surface(inside, rows, rows, places_on(order.blade, points, side), grid)
                for side in "AB"]  # fmt: skip
        return none[0], none[1]
    near_a = _near_slopes(order, grid, "A")
    near_b = near_a if _alike(order.blade) else _near_slopes(order, grid, "B")
    looked = (near_a | near_b) & _off_walls(order, grid) & _spread(grid)
    rows, columns = cells_of(looked, grid, order.blade.outline)
    points = np.stack([grid.x[columns], grid.y[rows]], axis=1)
    lies = lies_of(order.blade, points)
    found = []
    for side, near in (("A", near_a), ("B", near_b)):
        places = places_on(order.blade, points, side, metal=True, lies=lies)
        surface = _surface(inside & ~near, rows, columns, places, grid)
        found.append(_without_flat(order.blade, surface, grid, inside))
    return found[0], found[1]


def _without_flat(blade: Blade, surface: Surface, grid: Grid, inside: Bools) -> Surface:
    """Return the surface of the cells that slope; those on the flat are added to ``flat``."""
    places, rows, columns = surface.places, surface.rows, surface.columns
    target = places.target
    level = np.isfinite(target) & (target >= blade.thickness / 2 - FLUSH)
    surface.flat[rows[level], columns[level]] = inside[rows[level], columns[level]]
    for end, reach, _ in break_ends(blade, places.side):
        surface.flat[deeper_than(grid, circle(end, 2 * reach), 0.0)] = False
    sloped = np.isfinite(target) & ~level
    sloped &= ~near_break_ends(blade, places.points, places.side)
    return replace(
        surface, rows=rows[sloped], columns=columns[sloped], places=places.chosen(sloped),
        height=surface.height[sloped], last=surface.last[sloped],
    )  # fmt: skip


def _alike(blade: Blade) -> bool:
    """Return whether both sides are wanted alike."""
    both = all(bevel.sides == "both" and bevel.edge_at == 0.0 for bevel in blade.bevels)
    return both and not blade.breaks and all(bore.depth is None for bore in blade.bores)


def _spread(grid: Grid) -> Bools:
    """Return cells about `APART` from each other, (ny, nx), on a lattice askew to rows and columns.

    Cells in straight rows would keep step with passes, and show always the same part of a cusp.
    """
    every = _every(grid)
    span = every**2 + 1 if every > 1 else 1
    at = np.arange(span)
    one = (at[None, :] - every * at[:, None]) % span == 0
    rows, columns = grid.top.shape
    return np.tile(one, (-(-rows // span), -(-columns // span)))[:rows, :columns]


def _every(grid: Grid) -> int:
    return max(1, int(APART / grid.cell + 1e-9))


def _apart(grid: Grid) -> float:
    every = _every(grid)
    return float(grid.cell * (np.sqrt(every**2 + 1) if every > 1 else 1.0))


def _is_ground(blade: Blade, side: str) -> bool:
    bevelled = any(bevel.on(side) for bevel in blade.bevels)
    return bevelled or any(one.side == side for one in blade.breaks) or bool(blade.jimping)


def _near_slopes(order: Order, grid: Grid, side: str) -> Bools:
    """Return the cells of blocks in or beside which the blade is not at its full thickness.

    None on a side that is all flat.
    """
    rows, columns = grid.top.shape
    if not _is_ground(order.blade, side):
        return np.zeros((rows, columns), bool)
    down, across = -(-rows // BLOCK), -(-columns // BLOCK)
    half = (BLOCK - 1) / 2
    x = grid.x0 + grid.cell * (BLOCK * np.arange(across) + half)
    y = grid.y0 + grid.cell * (BLOCK * np.arange(down) + half)
    near = np.zeros((down, across), bool)
    within = _window(order, x, y)
    points = np.stack(np.broadcast_arrays(x[None, within[1]], y[within[0], None]), axis=-1)
    target = half_thickness(order.blade, points.reshape(-1, 2), side).reshape(points.shape[:2])
    low = np.zeros((down, across), bool)
    low[within] = ~(target >= order.blade.thickness / 2 - FLUSH)
    padded = np.pad(low, 1)
    for i in range(3):
        for j in range(3):
            near |= padded[i : i + down, j : j + across]
    inside = np.zeros((down, across), bool)
    inside[within] = True
    near &= inside
    return np.repeat(np.repeat(near, BLOCK, axis=0), BLOCK, axis=1)[:rows, :columns]


def _window(order: Order, x: Floats, y: Floats) -> tuple[slice, slice]:
    """Return the rows and columns of blocks that the blade's outline covers."""
    low_x, low_y, high_x, high_y = order.blade.outline.bounds
    j = np.flatnonzero((x > low_x - 0.5) & (x < high_x + 0.5))
    i = np.flatnonzero((y > low_y - 0.5) & (y < high_y + 0.5))
    if not len(i) or not len(j):
        return slice(0, 0), slice(0, 0)
    return slice(int(i[0]), int(i[-1]) + 1), slice(int(j[0]), int(j[-1]) + 1)


def _off_walls(order: Order, grid: Grid) -> Bools:
    blade = order.blade
    off = deeper_than(grid, blade.outline, RIM)
    holes = [circle(bore.centre, bore.diameter) for bore in blade.bores]
    holes += [slot.outline for slot in blade.slots]
    holes += [circle(c, one.diameter) for one in blade.jimping for c in one.centres]
    for hole in holes:
        off &= ~deeper_than(grid, hole, -grid.cell)
    return off


def _surface(flat: Bools, rows: Ints, columns: Ints, places: Places, grid: Grid) -> Surface:
    return Surface(
        flat=flat.copy(), rows=rows, columns=columns, places=places,
        height=np.full(len(rows), grid.thickness / 2), last=np.full(len(rows), -1, np.int32),
        apart=_apart(grid),
    )  # fmt: skip

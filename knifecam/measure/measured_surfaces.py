"""Ground surfaces cell by cell, the cells that count, and the border of plate that is left.

The signed distance changes by at most 1 mm a mm, so a block of cells whose middle lies further from
the limit than half its diagonal is decided by that middle alone.

A cell's column is exact at its centre, so the comparison is exact there, whatever the cell's size.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Blade
from knifecam.blade.finished_surface import break_ends, half_thickness, near_break_ends
from knifecam.curve import ARC, Curve, circle, signed_distance
from knifecam.measure.bevel_places import SurfacePlaces, bevel_places, places_on
from knifecam.measure.measure_limits import (
    COMPARED_CELLS_MM,
    CUTS_FACE_MM,
    FLAT_WITHIN_MM,
    LEAST_BLOCK_MM,
    REACH_PLACES,
    WALL_MARGIN_MM,
    WALL_OFF_MM,
)
from knifecam.measure.nominal import opened_walls
from knifecam.shop import Order
from knifecam.sweep.columns import Grid
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_limits import SURE_CELL_MM

if TYPE_CHECKING:
    from knifecam.measure.case import Case


Bools = NDArray[np.bool_]


Longs = NDArray[np.int64]


MASK_BLOCK = 16
"""Cells along a block's side, then a quarter of it, then cells one by one."""


OFF_WALL = SURE_CELL_MM
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
    j = _mask_window(low_x - grown, high_x + grown, grid.x0, grid.cell, columns)
    i = _mask_window(low_y - grown, high_y + grown, grid.y0, grid.cell, rows)
    tall, wide = max(0, i[1] - i[0]), max(0, j[1] - j[0])
    whole = np.zeros((_blocks(tall) * MASK_BLOCK, _blocks(wide) * MASK_BLOCK), bool)
    down, across = np.indices((_blocks(tall), _blocks(wide))).reshape(2, -1)
    _decide(whole, grid, (i[0], j[0]), curve, depth, (down, across), MASK_BLOCK)
    window = slice(i[0], i[0] + tall), slice(j[0], j[0] + wide)
    return Patch(window, np.ascontiguousarray(whole[:tall, :wide]))


def _blocks(cells: int) -> int:
    return -(-cells // MASK_BLOCK)


def _mask_window(low: float, high: float, first: float, cell: float, count: int) -> tuple[int, int]:
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


Floats = NDArray[np.float64]


Ints = NDArray[np.int64]


BLOCK_CELLS = 4
"""Cells along the side of a block that is looked at as a whole, or so many as `LEAST_BLOCK_MM` holds."""


TILE_BLOCKS = 4
"""Blocks along the side of a tile, to leave out at once what is far outside."""


@dataclass(frozen=True, eq=False, kw_only=True)
class GroundSurface:
    """One side's ground surfaces.

    ``flat`` (ny, nx): the cells of the blade's flat, which no cutter may touch; none any more once
    the surface is cut, since it is as large as the plate. ``rows`` and ``columns`` (n,): the cells
    that lie on bevels and edge breaks; ``places`` what is wanted there;
    ``height`` (n,) mm above the mid-plane toward the side what was left, ``last`` (n,) the global
    index of the motion that last cut it, -1 for none. ``apart`` mm: the root of the area
    that each stands for.
    """

    flat: Bools
    rows: Ints
    columns: Ints
    places: SurfacePlaces
    height: Floats
    last: NDArray[np.int32]
    apart: float

    @property
    def deviation(self) -> Floats:
        """(n,) mm of metal above the wanted surface, along Z; negative where too much went."""
        return np.asarray(self.height - self.places.target)

    def cut(self, grid: Grid) -> GroundSurface:
        """Return the surface with what the grid has there; to be taken as soon as it is cut."""
        at = self.rows, self.columns
        height = grid.top[at] if self.places.side == "A" else -grid.bottom[at]
        return replace(
            self, flat=np.zeros((0, 0), bool), height=height.copy(), last=grid.changed[at].copy()
        )


def nominal_surfaces(order: Order, grid: Grid) -> tuple[GroundSurface, GroundSurface]:
    """Return side A's and side B's surfaces, uncut, whether the grid has been cut or not."""
    inside = blade_cells(order.blade, grid)
    kept = {"A": inside, "B": _off_relief(order, grid, inside)}
    if not any(_is_ground(order.blade, side) for side in "AB"):
        rows, points = np.zeros(0, int), np.zeros((0, 2))
        none = [_surface(kept[side].copy(), rows, rows, places_on(order.blade, points, side), grid)
                for side in "AB"]  # fmt: skip
        return none[0], none[1]
    near_a = _near_slopes(order, grid, "A")
    near_b = near_a if _alike(order.blade) else _near_slopes(order, grid, "B")
    rows, columns = _looked_at(order, grid, near_a | near_b, inside)
    points = np.stack([grid.x[columns], grid.y[rows]], axis=1)
    lies = bevel_places(order.blade, points)
    found = []
    for side, near in (("A", near_a), ("B", near_b)):
        places = places_on(order.blade, points, side, metal=True, lies=lies)
        mine = kept[side]
        surface = _surface(_off_blocks(mine, near, _block(grid)), rows, columns, places, grid)
        surface = _chosen(surface, mine[rows, columns] | ~inside[rows, columns])
        found.append(_without_flat(order.blade, surface, grid, mine))
    return found[0], found[1]


def _off_relief(order: Order, grid: Grid, inside: Bools) -> Bools:
    """Return those of the cells ``inside`` that side B reaches nowhere by opening skins wider."""
    off = inside
    for wall, wider in opened_walls(order, "B"):
        if wider > 0.0 and wider + WALL_OFF_MM > grid.cell:
            off = off.copy() if off is inside else off
            patch = patch_deeper(grid, wall, -wider - WALL_OFF_MM)
            off[patch.window] &= ~patch.mask
    return off


def off_openings(order: Order, points: Floats, side: str) -> Bools:
    """Return which places (n, 2) lie `WALL_MARGIN_MM` off bores and slots, however wide a side
    opens them, (n,)."""
    off, (x, y) = np.ones(len(points), bool), points.T
    for wall, wider in opened_walls(order, side):
        low_x, low_y, high_x, high_y = wall.bounds
        gap = wider + WALL_MARGIN_MM
        near = (x > low_x - gap) & (x < high_x + gap) & (y > low_y - gap) & (y < high_y + gap)
        off[near] = off[near] & (signed_distance(points[near], wall) < -gap)
    return off


def _without_flat(blade: Blade, surface: GroundSurface, grid: Grid, inside: Bools) -> GroundSurface:
    """Return the surface of the cells that slope; those on the flat are added to ``flat``."""
    places, rows, columns = surface.places, surface.rows, surface.columns
    target = places.target
    level = np.isfinite(target) & (target >= blade.thickness / 2 - FLAT_WITHIN_MM)
    surface.flat[rows[level], columns[level]] = inside[rows[level], columns[level]]
    for end, reach, _ in break_ends(blade, places.side):
        patch = patch_deeper(grid, circle(end, 2 * reach), 0.0)
        surface.flat[patch.window] &= ~patch.mask
    sloped = np.isfinite(target) & ~level
    return _chosen(surface, sloped & ~near_break_ends(blade, places.points, places.side))


def _chosen(surface: GroundSurface, cells: Bools) -> GroundSurface:
    """Return the surface of only some of its cells, (n,)."""
    return replace(
        surface, rows=surface.rows[cells], columns=surface.columns[cells],
        places=surface.places.chosen(cells), height=surface.height[cells], last=surface.last[cells],
    )  # fmt: skip


def _alike(blade: Blade) -> bool:
    """Return whether both sides are wanted alike."""
    both = all(bevel.sides == "both" and bevel.edge_at == 0.0 for bevel in blade.bevels)
    return both and not blade.breaks and all(bore.depth is None for bore in blade.bores)


def _looked_at(order: Order, grid: Grid, near: Bools, inside: Bools) -> tuple[Ints, Ints]:
    """Return rows and columns of the cells of ``near`` blocks that are compared, off the walls.

    They stand about `COMPARED_CELLS_MM` from each other on a lattice askew to rows and columns: cells in
    straight rows would keep step with passes, and show always the same part of a cusp.
    """
    every = _every(grid)
    span = every**2 + 1 if every > 1 else 1
    tall, wide = grid.top.shape
    i, j = (np.flatnonzero(near.any(axis=axis)) for axis in (1, 0))
    if not len(i):
        return np.zeros(0, int), np.zeros(0, int)
    block = _block(grid)
    rows = np.arange(block * i[0], min(block * (i[-1] + 1), tall))[:, None]
    turns = np.arange(block * j[0] // span, min(block * (j[-1] + 1), wide) // span + 1)
    columns = span * turns + (every * rows) % span
    rows, columns = np.broadcast_arrays(rows, columns)
    among = columns < wide
    among[among] = near[rows[among] // block, columns[among] // block]
    rows, columns = rows[among], columns[among]
    off = _off_walls(order, grid, rows, columns, inside)
    return rows[off], columns[off]


def _block(grid: Grid) -> int:
    """Return how many cells lie along the side of a block."""
    return max(BLOCK_CELLS, int(LEAST_BLOCK_MM / grid.cell + 1e-9))


def _every(grid: Grid) -> int:
    return max(1, int(COMPARED_CELLS_MM / grid.cell + 1e-9))


def _apart(grid: Grid) -> float:
    every = _every(grid)
    return float(grid.cell * (np.sqrt(every**2 + 1) if every > 1 else 1.0))


def _is_ground(blade: Blade, side: str) -> bool:
    bevelled = any(bevel.on(side) for bevel in blade.bevels)
    return bevelled or any(one.side == side for one in blade.breaks) or bool(blade.jimping)


def _near_slopes(order: Order, grid: Grid, side: str) -> Bools:
    """Return the blocks of cells in or beside which the blade is not at its full thickness.

    None on a side that is all flat.
    """
    block = _block(grid)
    down, across = (-(-count // block) for count in grid.top.shape)
    near = np.zeros((down, across), bool)
    if not _is_ground(order.blade, side):
        return near
    x = _middles(grid.x0, grid.cell, block, across)
    y = _middles(grid.y0, grid.cell, block, down)
    within = _window(order, x, y)
    reached = np.zeros((down, across), bool)
    reached[within] = _reached(order, grid)[within]
    i, j = np.nonzero(reached)
    target = half_thickness(order.blade, np.stack([x[j], y[i]], axis=1), side)
    low = np.zeros((down, across), bool)
    low[within] = ~reached[within]
    low[i, j] = ~(target >= order.blade.thickness / 2 - FLAT_WITHIN_MM)
    padded = np.pad(low, 1)
    for k in range(3):
        for n in range(3):
            near |= padded[k : k + down, n : n + across]
    return near & reached


def _middles(first: float, cell: float, size: int, count: int) -> Floats:
    """Return the middles, mm, of blocks of ``size`` cells in a row."""
    return np.asarray(first + cell * (size * np.arange(count) + (size - 1) / 2), float)


def _reached(order: Order, grid: Grid) -> Bools:
    """Return the blocks of those tiles, of some blocks each, that the inside of the outline reaches."""
    size = TILE_BLOCKS * _block(grid)
    down, across = (-(-count // size) for count in grid.top.shape)
    x = _middles(grid.x0, grid.cell, size, across)
    y = _middles(grid.y0, grid.cell, size, down)
    points = np.stack(np.broadcast_arrays(x[None, :], y[:, None]), axis=-1).reshape(-1, 2)
    reach = size * grid.cell / np.sqrt(2)
    tiles = signed_distance(points, order.blade.outline).reshape(down, across) > -reach
    return np.repeat(np.repeat(tiles, TILE_BLOCKS, axis=0), TILE_BLOCKS, axis=1)


def _off_blocks(cells: Bools, blocks: Bools, size: int) -> Bools:
    """Return those of ``cells`` (ny, nx) that lie in none of the blocks of ``size`` cells."""
    off = ~np.repeat(blocks, size, axis=1)[:, : cells.shape[1]]
    found = cells.copy()
    for k in range(size):
        rows = found[k::size]
        rows &= off[: len(rows)]
    return found


def _window(order: Order, x: Floats, y: Floats) -> tuple[slice, slice]:
    """Return the rows and columns of blocks that the blade's outline covers."""
    low_x, low_y, high_x, high_y = order.blade.outline.bounds
    j = np.flatnonzero((x > low_x - 0.5) & (x < high_x + 0.5))
    i = np.flatnonzero((y > low_y - 0.5) & (y < high_y + 0.5))
    if not len(i) or not len(j):
        return slice(0, 0), slice(0, 0)
    return slice(int(i[0]), int(i[-1]) + 1), slice(int(j[0]), int(j[-1]) + 1)


def _off_walls(order: Order, grid: Grid, rows: Ints, columns: Ints, inside: Bools) -> Bools:
    """Return which cells lie in the blade, off its walls; those ``inside`` do but for notches."""
    blade = order.blade
    off = inside[rows, columns]
    points = np.stack([grid.x[columns], grid.y[rows]], axis=1)
    beside = np.flatnonzero(~off)
    off[beside] = signed_distance(points[beside], blade.outline) > WALL_MARGIN_MM
    holes = [circle(bore.centre, bore.diameter) for bore in blade.bores]
    holes += [slot.outline for slot in blade.slots]
    holes += [circle(c, one.diameter) for one in blade.jimping for c in one.centres]
    for hole in holes:
        low_x, low_y, high_x, high_y = hole.bounds
        gap = 2 * grid.cell
        beside = np.flatnonzero(
            (points[:, 0] > low_x - gap) & (points[:, 0] < high_x + gap)
            & (points[:, 1] > low_y - gap) & (points[:, 1] < high_y + gap)
        )  # fmt: skip
        off[beside] &= ~(signed_distance(points[beside], hole) > -max(grid.cell, WALL_MARGIN_MM))
    return off


def _surface(
    flat: Bools, rows: Ints, columns: Ints, places: SurfacePlaces, grid: Grid
) -> GroundSurface:
    return GroundSurface(
        flat=flat, rows=rows, columns=columns, places=places,
        height=np.full(len(rows), grid.thickness / 2), last=np.full(len(rows), -1, np.int32),
        apart=_apart(grid),
    )  # fmt: skip


PLATE_EDGES = ((0, -1.0), (0, 1.0), (1, -1.0), (1, 1.0))
"""The plate's edges: axis, and the sign of the way toward it."""


def least_border(case: Case) -> tuple[float, tuple[float, float]]:
    """Return the least width between cut ground and the plate's edge, mm, and where it is.

    Reference bores do not count. inf where nothing was cut, 0 where a cut runs over the edge.
    """
    bounds = np.array(case.order.setup.plate.bounds).reshape(2, 2)
    found: list[tuple[float, tuple[float, float]]] = [(np.inf, (np.nan, np.nan))]
    for side in case.given():
        rows = _cutting(case, side, bounds)
        for axis, sign in PLATE_EDGES if len(rows) else ():
            ways, place = _farthest(side, rows, axis, sign)
            edge = bounds[1 if sign > 0 else 0, axis]
            found.append((max(0.0, float(sign * edge - ways)), place))
    return min(found, key=lambda row: row[0])


def _cutting(case: Case, side: SideProgram, bounds: Floats) -> Ints:
    """Return the motions that cut the face over the plate, but for those in reference bores."""
    m = side.swept_motions()
    below = np.fmin(m.start[:, 2], m.stop[:, 2]) < side.face - CUTS_FACE_MM
    low, high = _boxes(side)
    over = (low < bounds[1]).all(axis=1) & (high > bounds[0]).all(axis=1)
    ends = np.stack([m.start[:, :2], m.stop[:, :2]]) * np.asarray(side.frame.signs[:2])
    for opening in case.openings:
        if opening.kind == "reference":
            box = np.array(opening.outline.bounds).reshape(2, 2)
            over &= ~((ends > box[0]) & (ends < box[1])).all(axis=(0, 2))
    return np.flatnonzero(below & over)


def _boxes(side: SideProgram) -> tuple[Floats, Floats]:
    """Return the boxes in which the motions' cutters stay, part frame, (M, 2) each."""
    ends = np.stack(side.covers) * np.asarray(side.frame.signs[:2])
    return ends.min(axis=0), ends.max(axis=0)


def _farthest(
    side: SideProgram, rows: Ints, axis: int, sign: float
) -> tuple[float, tuple[float, float]]:
    """Return how far cuts reach along an axis of the part, by its sign, mm, and where.

    Boxes bound the reach: only motions whose box goes past the farthest known are looked at.
    """
    low, high = _boxes(side)
    bound = high[rows, axis] if sign > 0 else -low[rows, axis]
    best, place = -np.inf, (np.nan, np.nan)
    left = np.argsort(-bound, kind="stable")
    while len(left) and bound[left[0]] > best:
        some, left = left[:256], left[256:]
        far, at = _reach(side, rows[some], axis, sign)
        k = int(np.argmax(far))
        if far[k] > best:
            best, place = float(far[k]), (float(at[k, 0]), float(at[k, 1]))
    return best, place


def _reach(side: SideProgram, rows: Ints, axis: int, sign: float) -> tuple[Floats, Floats]:
    """Return how far each motion cuts the face along an axis, (k,) mm, and where, (k, 2)."""
    m = side.swept_motions()
    start, stop, arcs = m.start[rows, None], m.stop[rows, None], m.kind[rows] == ARC
    arm = m.start[rows, :2] - m.centre[rows]
    begun, turned = np.arctan2(arm[:, 1], arm[:, 0]), 2 * np.pi * m.turns[rows]
    even = np.broadcast_to(np.linspace(0.0, 1.0, REACH_PLACES), (len(rows), REACH_PLACES))
    share = np.concatenate([even, _quarters(begun, turned)], axis=1)
    at = start + share[:, :, None] * (stop - start)
    angle = begun[:, None] + share * turned[:, None]
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=2)
    round_ = m.centre[rows, None] + m.radii[rows, None, None] * ring
    plane = np.where(arcs[:, None, None], round_, at[..., :2]) * np.asarray(side.frame.signs[:2])
    depth = side.face - at[..., 2]
    wide = np.where(depth > CUTS_FACE_MM, side.shapes.radius_at(rows[:, None], depth), -np.inf)
    far = sign * plane[..., axis] + wide
    k, each = far.argmax(axis=1), np.arange(len(rows))
    return far[each, k], plane[each, k]


def _quarters(begun: Floats, turned: Floats) -> Floats:
    """Return the shares of arcs at which they head along an axis, (k, 8); 0 where they do not."""
    low = np.minimum(begun, begun + turned)
    quarter = np.pi / 2 * (np.ceil(low / (np.pi / 2))[:, None] + np.arange(8))
    share = (quarter - begun[:, None]) / np.where(turned == 0.0, np.inf, turned)[:, None]
    return np.where((share >= 0.0) & (share <= 1.0), share, 0.0)

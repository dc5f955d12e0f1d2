"""What both programs leave of the blade, column by column, and nothing of how they did it.

The judge asks what every step met. Where only the surfaces count, as for a closer look at cusps,
the same columns come much sooner: the lowest steps are swept first, so that few columns are cut
twice; none is measured; and only the part of the plate in which the blade lies is looked at.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.errors import ProgramError
from knifecam.measure.measured_surfaces import GroundSurface, nominal_surfaces
from knifecam.quantity import bare, mm, told, um
from knifecam.report.report_limits import BESIDE_BLADE_MM, FINE_CELL_MM
from knifecam.rs274.program_reader import read_program
from knifecam.shop import Order
from knifecam.sweep import column_kernel
from knifecam.sweep.columns import Grid, plate_grid, refuse_cells
from knifecam.sweep.side_program import SideProgram, side_of, stored_of
from knifecam.sweep.sweep_steps import BlockLists, SweepSteps, list_blocks
from knifecam.sweep.threads import run_in_threads, thread_shares, usable_threads


@dataclass(frozen=True, eq=False, kw_only=True)
class BladeSurface:
    """The blade's part of the plate as both programs leave it, and its surfaces there.

    Parameters
    ----------
    grid : Grid
        Columns over the blade's box and `BESIDE_BLADE_MM` mm around, within the plate. ``changed``
        holds a motion that left a column's face as it is; side B's count on from side A's.
    sides : (Side or None, Side or None)
        A and B as they were read.
    surfaces : (Surface or None, Surface or None)
        Theirs; None for a side without a program.
    """

    grid: Grid
    sides: tuple[SideProgram | None, SideProgram | None]
    surfaces: tuple[GroundSurface | None, GroundSurface | None]


def blade_surface(
    order: Order, texts: tuple[str | None, str | None], *, cell: float = FINE_CELL_MM
) -> BladeSurface:
    """Return what both programs leave of the blade.

    Every column's faces are exact at its centre, as those of `judge` are (1e-9 mm; 1e-6 mm for
    ball and bull-nose cutters on helices). Nothing is judged.

    Parameters
    ----------
    order : Order
    texts : (str or None, str or None)
        Side A's and side B's program; None: that side is not cut.
    cell : float, mm

    Raises
    ------
    ProgramError
        When a program cannot be read; it tells which side's.
    KnifecamError
        When the cells would not fit into the memory at hand; nothing has been done then.
    """
    refuse_cells(_blade_bounds(order), cell)
    sides: list[SideProgram | None] = []
    for name, text in zip("AB", texts, strict=True):
        first = sum(len(side) for side in sides if side is not None)
        sides.append(None if text is None else _read(order, name, text, first))
    grid = plate_grid(_blade_bounds(order), order.setup.plate.thickness, cell)
    surfaces: list[GroundSurface | None] = []
    with ThreadPoolExecutor(1) as beside:
        wanted = beside.submit(nominal_surfaces, order, grid)
        for which, side in enumerate(sides):
            if side is not None:
                cut_to_surface(grid, side.laid, side=side.name, first=side.first)
            surfaces.append(None if side is None else wanted.result()[which].cut(grid))
    return BladeSurface(grid=grid, sides=(sides[0], sides[1]), surfaces=(surfaces[0], surfaces[1]))


def _read(order: Order, name: str, text: str, first: int) -> SideProgram:
    try:
        return side_of(order, name, text, read_program(text, stored_of(order.setup)), first)
    except ProgramError as error:
        raise ProgramError(f"side {name}: {error.unplaced}", error.line) from error


def _blade_bounds(order: Order) -> tuple[float, float, float, float]:
    low_x, low_y, high_x, high_y = order.blade.outline.bounds
    left, down, right, up = order.setup.plate.bounds
    return (
        max(low_x - BESIDE_BLADE_MM, left), max(low_y - BESIDE_BLADE_MM, down),
        min(high_x + BESIDE_BLADE_MM, right), min(high_y + BESIDE_BLADE_MM, up),
    )  # fmt: skip


def cut_to_surface(
    grid: Grid, laid: SweepSteps, *, side: str, first: int, threads: int | None = None
) -> None:
    """Cut the grid, in place, as all steps together leave it.

    Parameters
    ----------
    grid : Grid
    laid : SweepSteps
        The side's motions as steps; as few as can be serve best.
    side : str
        "A" or "B".
    first : int
        Motion m is written to ``changed`` as ``first + m``.
    threads : int, optional
        As many as can run at once, if not given. The heights are the same to the last bit.
    """
    sign = 1.0 if side == "A" else -1.0
    cut, other = (grid.top, grid.bottom) if side == "A" else (grid.bottom, grid.top)
    ny, nx = cut.shape
    place = column_kernel.Place(grid.x0, grid.y0, grid.cell, 1.0 / grid.cell, nx, ny, sign)
    bare = np.zeros(1 + int(laid.motion.max(initial=0)))
    listed = list_blocks(laid, place, grid.thickness / 2, bare, bare)
    steps = _lowest_first(laid, listed)

    def sweep(low: int, high: int) -> None:
        column_kernel.leave_blocks(
            cut.ravel(), other.ravel(), grid.changed.ravel(), place, first,
            laid.table.ravel(), listed.begins, steps, low, high, *column_kernel.scratch(),
        )  # fmt: skip

    most = usable_threads() if threads is None else threads
    run_in_threads(sweep, thread_shares(listed.begins, most), most)


def _lowest_first(laid: SweepSteps, listed: BlockLists) -> NDArray[np.int32]:
    """Return the listed steps, each block's lowest first."""
    low = np.minimum(laid.column("az"), laid.column("bz"))
    rank = np.empty(len(low), np.int32)
    rank[np.argsort(low, kind="stable")] = np.arange(len(low), dtype=np.int32)
    block = np.repeat(np.arange(len(listed.begins) - 1), np.diff(listed.begins))
    return listed.step[np.lexsort((rank[listed.step], block))]


@dataclass(frozen=True, slots=True, kw_only=True)
class SurfaceDeviation:
    """How far one ground surface is off, along Z.

    Parameters
    ----------
    side, name : str
        "A" or "B"; the bevel's name, or "edge breaks".
    count : int
        Places that were compared.
    rms, left, gouged : float, mm
        Root of the mean square; the most metal above the wanted surface, and the most below it.
    left_at, gouged_at : (float, float), mm
        Where, in the part frame.
    left_line, gouged_line : int
        Program lines that last cut there, 0 for none.
    """

    side: str
    name: str
    count: int
    rms: float
    left: float
    left_at: tuple[float, float]
    left_line: int
    gouged: float
    gouged_at: tuple[float, float]
    gouged_line: int


def surface_deviations(order: Order, blade_surface: BladeSurface) -> tuple[SurfaceDeviation, ...]:
    """Return how far each bevel, and all edge breaks of a side, are off."""
    found = []
    for side, surface in zip(blade_surface.sides, blade_surface.surfaces, strict=True):
        if side is None or surface is None:
            continue
        names = ["edge breaks", *(bevel.name for bevel in order.blade.bevels)]
        for index, name in enumerate(names, start=-1):
            rows = np.flatnonzero(surface.places.bevel == index)
            if len(rows):
                found.append(_off(side, surface, name, rows))
    return tuple(found)


def _off(
    side: SideProgram, surface: GroundSurface, name: str, rows: NDArray[np.int64]
) -> SurfaceDeviation:
    off = surface.deviation[rows]
    ends = rows[[int(np.argmax(off)), int(np.argmin(off))]]
    places = [(float(x), float(y)) for x, y in surface.places.points[ends]]
    lines = [
        int(side.trace.line[last - side.first]) if last >= side.first else 0
        for last in surface.last[ends].tolist()
    ]
    return SurfaceDeviation(
        side=side.name, name=name, count=len(rows), rms=float(np.sqrt(np.mean(off**2))),
        left=max(0.0, float(off.max())), left_at=places[0], left_line=lines[0],
        gouged=max(0.0, -float(off.min())), gouged_at=places[1], gouged_line=lines[1],
    )  # fmt: skip


def deviation_lines(
    found: tuple[SurfaceDeviation, ...], cell: float, units: str = "mm"
) -> Iterator[str]:
    """Yield what is told of ground surfaces, in "mm" or "in"."""
    for line in _off_lines(found, cell):
        yield told(line, units)


def _off_lines(found: tuple[SurfaceDeviation, ...], cell: float) -> Iterator[str]:
    yield f"ground surfaces, measured with cells of {mm(cell):g}; nothing is judged"
    for one in found:
        yield (
            f"side {one.side}, {one.name}: {one.count} places, rms {um(1e3 * one.rms):.2f}; "
            f"most metal left {um(1e3 * one.left):.2f} at {_place(one.left_at)} "
            f"(line {one.left_line}); deepest gouge {um(1e3 * one.gouged):.2f} at "
            f"{_place(one.gouged_at)} (line {one.gouged_line})"
        )
    if not found:
        yield "no bevel or edge break is ordered on the sides given"


def _place(at: tuple[float, float]) -> str:
    return f"X {bare(at[0]):.2f} Y {bare(at[1]):.2f}"

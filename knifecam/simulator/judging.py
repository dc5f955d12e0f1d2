"""The judge: both programs' texts are read, a plate is cut with them, and measured.

Nothing of the planner is looked at: what the order wants is the only measure.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from copy import deepcopy
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import circle
from knifecam.cutting import Engagement
from knifecam.errors import ProgramError
from knifecam.quantity import told
from knifecam.shop import Order
from knifecam.simulator.case import Case
from knifecam.simulator.columns import (
    SURE,
    Grid,
    Swept,
    cells_fit,
    cut_grid,
    plate_grid,
    refuse_cells,
)
from knifecam.simulator.engaged import engagement_of
from knifecam.simulator.judge import (
    bare,
    bevel,
    clearance,
    climb,
    climb_detail,
    cutter,
    detail,
    disturbed,
    dwell,
    entry,
    feeds,
    gouge,
    keep_out,
    loose,
    messages,
    mismatch,
    overhang,
    plate_frame,
    probe,
    reach,
    seating,
    section,
    spindle,
    stops,
    support,
    surface_speed,
    tab,
    thin_edge,
    travel,
    uncut,
    wall_stock,
    words,
)
from knifecam.simulator.loose import Piece, loose_pieces
from knifecam.simulator.measure_bevel import measure_bevels
from knifecam.simulator.measure_bores import measure_openings
from knifecam.simulator.measure_break import measure_breaks
from knifecam.simulator.measure_edge import measure_edges
from knifecam.simulator.measure_mask import patch_deeper
from knifecam.simulator.measure_notch import measure_notches
from knifecam.simulator.measure_plunge import measure_plunges
from knifecam.simulator.measure_surface import Surface, wanted_surfaces
from knifecam.simulator.measure_tabs import measure_bridges
from knifecam.simulator.measure_tip import measure_tip
from knifecam.simulator.measure_walls import measure_wall
from knifecam.simulator.measure_web import measure_webs
from knifecam.simulator.measures import measures
from knifecam.simulator.misplaced import Misplacement
from knifecam.simulator.origin import Origin, origin_of
from knifecam.simulator.reader import read_program
from knifecam.simulator.side import Side, side_of
from knifecam.simulator.trace import Trace
from knifecam.simulator.unseen import not_judged
from knifecam.simulator.verdict import Finding, Verdict
from knifecam.simulator.wanted import wanted

Bools = NDArray[np.bool_]

COARSE = 0.2
"""mm: the cell of the grid where only sights count."""

WIDEST = 0.1
"""mm: no wider cells are cut where the grid counts: cusps lie as near to each other."""

CHIP = 0.1
"""mm2: smaller pieces are not followed."""

JUDGES: tuple[Callable[[Case], Iterable[Finding]], ...] = (
    words.find, cutter.find, spindle.find, feeds.find, stops.find, travel.find, entry.find,
    climb.find, climb_detail.find, reach.find, keep_out.find, gouge.find, uncut.find,
    mismatch.find, tab.find, loose.find, plate_frame.find, support.find, seating.find, disturbed.find,
    bevel.find, thin_edge.find, detail.find, probe.find, bare.find,
    dwell.find, overhang.find, clearance.find, messages.find, surface_speed.find, section.find,
    wall_stock.find,
)  # fmt: skip


@dataclass(frozen=True, eq=False, kw_only=True)
class Judged:
    """The verdict and all it rests on."""

    verdict: Verdict
    case: Case

    @property
    def traces(self) -> tuple[Trace | None, Trace | None]:
        """What the programs made the mill do."""
        a, b = self.case.sides
        return (a.trace if a else None, b.trace if b else None)

    @property
    def swept(self) -> tuple[Swept | None, Swept | None]:
        """What each side's motions met."""
        a, b = self.case.sides
        return (a.swept if a else None, b.swept if b else None)

    @cached_property
    def engagement(self) -> tuple[Engagement | None, Engagement | None]:
        """The whole record of what each side's steps met, worked out when it is first asked for.

        None for a side that was not given, could not be read, or was judged by sights alone.
        """
        a, b = self.case.sides
        return tuple(
            engagement_of(side, self.case.order, before=before)
            if side is not None and side.swept is not None
            else None
            for side, before in ((a, None), (b, a))
        )  # type: ignore[return-value]

    @property
    def grid(self) -> Grid:
        """The plate as it was left."""
        return self.case.grid

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """What came free."""
        return self.case.pieces


def judge(
    order: Order,
    texts: tuple[str | None, str | None],
    *,
    cell: float = 0.05,
    only_sights: bool = False,
) -> Judged:
    """Return the verdict on the programs of side A and side B.

    Parameters
    ----------
    order : Order
    texts : (str or None, str or None)
        Side A's and side B's program; None: that side is not cut, and what depends on it is not
        judged.
    cell : float, mm
        Side of the grid's cells; no finding depends on it. Wider ones than `WIDEST` are cut as that;
        those wider than `SURE` only clear a program: what comes near a limit in them is judged
        again in cells of `SURE`.
    only_sights : bool
        Judge words, walls and tabs only, and nothing that wants a fine grid.

    Raises
    ------
    ValueError
        When neither side's program is given.
    KnifecamError
        When the cells would not fit into the memory at hand; nothing has been done then.
    """
    if only_sights:
        (case,) = _cases(order, texts, (Misplacement(),), COARSE, False)
        return _judged(case, origin_of(order, texts), only_sights=True)
    return next(_lying(order, texts, (Misplacement(),), cell))


def judge_misplaced(
    order: Order,
    texts: tuple[str | None, str | None],
    places: Sequence[Misplacement],
    *,
    cell: float = 0.05,
) -> Iterator[Judged]:
    """Yield the verdict for each way side B may lie; side A is read and cut once.

    Parameters
    ----------
    order, texts, cell
        As `judge` takes them; side B's program must be there.
    places : sequence of Misplacement

    Raises
    ------
    ValueError
        When side B's program is not given.
    """
    if texts[1] is None:
        raise ValueError("texts[1]=None: only side B can be misplaced, and it is not there")
    yield from _lying(order, texts, places, cell)


def _lying(
    order: Order, texts: tuple[str | None, str | None], places: Sequence[Misplacement], cell: float
) -> Iterator[Judged]:
    """Yield the verdict for each way side B may lie; what wide cells find is judged in narrower ones."""
    origin = origin_of(order, texts)
    cases = _cases(order, texts, places, min(cell, WIDEST), True)
    coarse = cell > SURE and cells_fit(order.setup.plate.bounds, SURE)
    for place, case in zip(places, cases, strict=True):
        judged = _judged(replace(case, coarse=coarse), origin, only_sights=False)
        if coarse and judged.verdict.findings:
            (closer,) = _cases(order, texts, (place,), SURE, True)
            judged = _judged(closer, origin, only_sights=False)
        yield judged


def _judged(case: Case, origin: Origin, *, only_sights: bool) -> Judged:
    units = case.order.units
    found = sorted((one for find in JUDGES for one in find(case)), key=_order_of)
    verdict = Verdict(
        findings=tuple(one.told_in(units) for one in found),
        measures=measures(case),
        not_judged=tuple(told(row, units) for row in not_judged(case, only_sights=only_sights)),
        origin=origin,
    )
    return Judged(verdict=verdict, case=case)


def _cases(
    order: Order,
    texts: tuple[str | None, str | None],
    places: Sequence[Misplacement],
    cell: float,
    keep: bool,
) -> Iterator[Case]:
    """Yield the case of each way side B may lie, all after one side A."""
    if all(text is None for text in texts):
        raise ValueError("texts=(None, None) must hold the program of one side or of both")
    refuse_cells(order.setup.plate.bounds, cell, grids=min(len(places), 2))
    (a, b), unread = _read(order, texts)
    grid = plate_grid(order.setup.plate.bounds, order.setup.plate.thickness, cell)
    # what is wanted is worked out, and sights are taken, while the grid is cut
    with ThreadPoolExecutor(1) as beside:
        cut_a = beside.submit(_cut_freely, order, a, grid)
        surfaces = wanted_surfaces(order, grid)
        begun = [beside.submit(_begin, order, grid, surfaces, a, cut_a, keep)]
        del surfaces  # masks as large as the plate, of which only side B's is wanted from now on

        def both(lies: Side | None, last: bool) -> _Cut:
            return _cut_b(order, (begun.pop() if last else begun[0]).result(), lies, last, keep)

        for place in places:
            lies = b if b is None or place == Misplacement() else b.misplaced(place)
            cut = beside.submit(both, lies, place is places[-1])
            yield _measured(order, unread, _by_sights(order, (a, lies)), cut.result())


def _cut_freely(order: Order, side: Side | None, grid: Grid) -> Swept | None:
    """Cut the grid with one side, not yet knowing what it must not touch."""
    return None if side is None else _swept(order, side, grid, None)


@dataclass(frozen=True, eq=False)
class _Begun:
    """The plate after side A, that side with what it met, the surface it left, and side B's."""

    grid: Grid
    wanted_b: Surface
    a: Side | None
    surface_a: Surface | None


def _begin(
    order: Order, grid: Grid, surfaces: tuple[Surface, Surface], a: Side | None,
    cut_a: Future[Swept | None], keep: bool,
) -> _Begun:  # fmt: skip
    """Return the plate cut with side A: once more, minding its flats, if they have been touched."""
    (surface, wanted_b), swept = surfaces, cut_a.result()
    if a is None or swept is None:
        return _Begun(grid, wanted_b, None, None)
    if _touched(grid, surface.flat):
        grid.top[:], grid.bottom[:], grid.changed[:] = grid.thickness / 2, -grid.thickness / 2, -1
        return _Begun(grid, wanted_b, *cut_side(order, a, grid, surface, keep=keep))
    return _Begun(grid, wanted_b, a.with_swept(swept) if keep else a, surface.cut(grid))


def _touched(grid: Grid, cells: Bools) -> bool:
    """Return whether any of the cells has been cut; looked at by rows, for masks are large."""
    return any(np.any(row & (cut >= 0)) for row, cut in zip(cells, grid.changed, strict=True))


@dataclass(frozen=True, eq=False)
class _Cut:
    """The plate after both sides, those with what they met, and the surfaces they left."""

    grid: Grid
    sides: tuple[Side | None, Side | None]
    surfaces: tuple[Surface | None, Surface | None]


def _cut_b(order: Order, begun: _Begun, b: Side | None, last: bool, keep: bool) -> _Cut:
    """Cut the grid with side B too; a copy of it, unless this is the last time."""
    grid = begun.grid if last else deepcopy(begun.grid)
    b, surface_b = cut_side(order, b, grid, begun.wanted_b, keep=keep)
    return _Cut(grid, (begun.a, b), (begun.surface_a, surface_b))


def _order_of(finding: Finding) -> tuple[str, int, str, str]:
    return finding.side, finding.line, finding.kind, finding.message


def _read(
    order: Order, texts: tuple[str | None, str | None]
) -> tuple[tuple[Side | None, Side | None], tuple[tuple[str, ProgramError], ...]]:
    sides: list[Side | None] = []
    unread: list[tuple[str, ProgramError]] = []
    first = 0
    for name, text in zip("AB", texts, strict=True):
        side = None
        if text is not None:
            try:
                side = side_of(order, name, text, read_program(text, order.setup), first)
                first += len(side)
            except ProgramError as error:
                unread.append((name, error))
        sides.append(side)
    return (sides[0], sides[1]), tuple(unread)


def cut_side(
    order: Order, side: Side | None, grid: Grid, surface: Surface, *, keep: bool
) -> tuple[Side | None, Surface | None]:
    """Cut the grid, of which ``surface`` is wanted, with one side.

    Return it with what it met, unless that is not to be kept, and the surface it left.
    """
    if side is None:
        return None, None
    swept = _swept(order, side, grid, surface.flat)
    return side.with_swept(swept) if keep else side, surface.cut(grid)


def _swept(order: Order, side: Side, grid: Grid, protected: Bools | None) -> Swept:
    return cut_grid(
        grid, side.swept_motions(), side.cutter_radius, side.shapes.corner,
        side=side.name, flip=order.setup.flip, first=side.first, protected=protected,
        reach=side.shapes.reach, shank=side.shapes.shank,
        tip=side.shapes.tip, half_angle=side.shapes.half_angle,
    )  # fmt: skip


def _by_sights(order: Order, sides: tuple[Side | None, Side | None]) -> dict[str, Any]:
    """Return those parts of a case that are measured at exact places, without the grid."""
    want = wanted(order)
    return {
        "wanted": want,
        "wall": measure_wall(order.blade, want, sides),
        "grounds": measure_bevels(order, sides),
        "edges": measure_edges(order, sides),
        "plunges": measure_plunges(order, sides),
        "tip": measure_tip(order, sides),
        "breaks": measure_breaks(order, sides),
        "notches": measure_notches(order, sides),
    }


def _measured(
    order: Order, unread: tuple[tuple[str, ProgramError], ...], sighted: dict[str, Any], cut: _Cut
) -> Case:
    want = sighted["wanted"]
    with ThreadPoolExecutor(1) as beside:
        bridges = beside.submit(measure_bridges, order, want, cut.sides, cut.grid)
        openings = measure_openings(order, cut.sides, cut.grid)
        unscrewed, pieces = pieces_of(order, cut.grid)
        webs = measure_webs(want.outline, sighted["wall"], openings)
    return Case(
        order=order,
        sides=cut.sides,
        unread=unread,
        grid=cut.grid,
        surfaces=cut.surfaces,
        webs=webs,
        openings=openings,
        bridges=bridges.result(),
        pieces=pieces,
        pieces_unscrewed=unscrewed,
        **sighted,
    )


def pieces_of(order: Order, grid: Grid) -> tuple[tuple[Piece, ...], tuple[Piece, ...]]:
    """Return the loose pieces without and with screws."""
    held = _rim_cells(grid)
    unscrewed = loose_pieces(grid, held, least_area=CHIP)
    if order.setup.hold.kind != "bores":
        return unscrewed, unscrewed
    _screw(held, order, grid)
    return unscrewed, loose_pieces(grid, held, least_area=CHIP)


def _rim_cells(grid: Grid) -> Bools:
    """Return the outermost cells: clamps hold the plate by them."""
    rim = np.zeros(grid.top.shape, bool)
    rim[[0, -1], :] = True
    rim[:, [0, -1]] = True
    return rim


def _screw(held: Bools, order: Order, grid: Grid) -> None:
    """Mark the cells under the heads of the screws as held, but for those of the bores."""
    for bore in order.blade.bores:
        if bore.name in order.setup.hold.screws:
            head = max(order.setup.hold.head_diameter, bore.diameter + 4 * grid.cell)
            under = patch_deeper(grid, circle(bore.centre, head), 0.0)
            rows, columns = patch_deeper(
                grid, circle(bore.centre, bore.diameter), -grid.cell
            ).cells()
            first_row, first_column = (part.start for part in under.window)
            under.mask[rows - first_row, columns - first_column] = False
            held[under.window] |= under.mask

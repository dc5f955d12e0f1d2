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
from knifecam.judge import (
    bevel_findings,
    collisions,
    cutting_loads,
    edge_breaks_and_jimping,
    gouges,
    hand_stops,
    loose_piece_findings,
    milling_direction,
    program_faults,
    rapids_and_entry,
    seating,
    spindle_and_feeds,
    stop_messages,
    tab_findings,
    uncut_metal,
    worst_case,
)
from knifecam.judge.findings import Finding, Origin, Verdict, origin_of
from knifecam.judge.judge_limits import LEAST_PIECE_MM2, SAMPLES_ONLY_CELL_MM, WIDEST_CELL_MM
from knifecam.judge.stop_messages import unread_stops
from knifecam.judge.verdict_figures import measures
from knifecam.measure.case import Case
from knifecam.measure.measured_bevel import measure_plunges, measured_bevels
from knifecam.measure.measured_edge import measure_breaks, measure_edges, measure_tip
from knifecam.measure.measured_openings import measure_notches, measure_openings, measure_webs
from knifecam.measure.measured_surfaces import GroundSurface, nominal_surfaces, patch_deeper
from knifecam.measure.measured_tabs import measured_tabs
from knifecam.measure.measured_wall import measure_wall
from knifecam.measure.nominal import nominal
from knifecam.quantity import mm, told
from knifecam.rs274.program_reader import read_program
from knifecam.rs274.trace import Trace
from knifecam.shop import Order
from knifecam.shop.setup import Misplacement
from knifecam.sweep.columns import Grid, Swept, cells_fit, cut_grid, plate_grid, refuse_cells
from knifecam.sweep.contact_record import engagement_of
from knifecam.sweep.loose_pieces import LoosePiece, loose_pieces
from knifecam.sweep.side_program import SideProgram, side_of, stored_of
from knifecam.sweep.sweep_limits import SURE_CELL_MM

NEVER = (
    "chips or a burr under the plate, which lift it on side B",
    "bow of the plate that is relieved when it is opened",
    "a cutter pulled out of its collet, worn, chipped or running out",
    "chips packed in the trench",
    "a wrong length or work offset typed at the mill, or a wrong cutter in the spindle",
    "cutter force, deflection and heat",
)


def _lowest_rapid(side: SideProgram) -> float:
    """Return how far above the plate the lowest rapid sideways runs, mm."""
    m = side.motions
    across = side.rapid & (np.hypot(*(m.stop - m.start)[:, :2].T) > 0.0)
    height = np.minimum(m.start, m.stop)[across, 2].min(initial=np.inf) - side.face
    return round(float(height), 3)


def not_judged(case: Case, *, only_sights: bool = False) -> tuple[str, ...]:
    """Return plain sentences."""
    rows: list[str] = []
    unread = {name for name, _ in case.unread}
    for name, side in zip("AB", case.sides, strict=True):
        if side is None:
            why = "its program could not be read" if name in unread else "no program was given"
            rows.append(f"side {name}: {why}")
    if not case.whole:
        rows.append("tabs, the meeting of both sides, and bores opened from the other side")
        if case.order.blade.bevels:
            rows.append("the land along the edge, and whether both sides' bevels mirror each other")
    mill = case.order.setup.mill
    for side in case.given():
        if mill.machine_zero is None or mill.machine_zero["AB".index(side.name)] is None:
            rows.append(
                f"travel against machine limits on side {side.name}: machine zero is not known; "
                f"only its extent was judged"
            )
        if silent := unread_stops(side):
            rows.append(silent)
        gauge = case.order.setup.gauge
        if (side.trace.cutter == gauge).any():
            rows.append(f"where the gauge pin, number {gauge}, goes on side {side.name}")
        if not any(box.side == side.name for box in case.order.setup.clamps):
            rows.append(
                f"clamps on side {side.name}: the order names none; nothing may stand higher than"
                f" {mm(_lowest_rapid(side)):g} above the plate, or where a cut goes"
            )
    for ground in case.grounds:
        if not any(len(line.cusps) > 2 for line in ground.lines):
            rows.append(
                f"cusps from pass to pass of bevel {ground.bevel.name} on side {ground.side}: its "
                f"lines cross no two of them; what stays above it anywhere was judged"
            )
    if case.order.setup.workholding.tip_clamp:
        rows.append(
            "the clamp of the maker's own on the far end: where it stands and what meets it"
        )
    if not only_sights and case.grid.cell > SURE_CELL_MM and not case.coarse:
        rows.append(
            f"what lies between cells of {mm(case.grid.cell):g}: those of {mm(SURE_CELL_MM):g}, by which"
            " findings are made, do not fit into the memory at hand"
        )
    if only_sights:
        rows.append("everything that wants a fine grid: contact, feeds in metal, depths, hands")
    return (*rows, *NEVER)


Bools = NDArray[np.bool_]


JUDGES: tuple[Callable[[Case], Iterable[Finding]], ...] = (
    program_faults.find_words,
    spindle_and_feeds.find_cutter,
    spindle_and_feeds.find_spindle,
    spindle_and_feeds.find_feeds,
    hand_stops.find_stops,
    program_faults.find_travel,
    rapids_and_entry.find_entry,
    milling_direction.find_climb,
    milling_direction.find_climb_detail,
    collisions.find_reach,
    collisions.find_keep_out,
    gouges.find,
    uncut_metal.find,
    seating.find_mismatch,
    tab_findings.find,
    loose_piece_findings.find_loose,
    seating.find_plate_border,
    loose_piece_findings.find_support,
    seating.find_seating,
    worst_case.find,
    bevel_findings.find_bevel,
    bevel_findings.find_thin_edge,
    edge_breaks_and_jimping.find,
    program_faults.find_probe,
    hand_stops.find_bare,
    spindle_and_feeds.find_dwell,
    loose_piece_findings.find_overhang,
    rapids_and_entry.find_clearance,
    stop_messages.find_messages,
    cutting_loads.find_surface_speed,
    cutting_loads.find_section,
    cutting_loads.find_wall_stock,
)


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

        None for a side that was not given, could not be read, or was judged by sample columns alone.
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
    def pieces(self) -> tuple[LoosePiece, ...]:
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
        Side of the grid's cells; no finding depends on it. Wider ones than `WIDEST_CELL_MM` are cut
        as that; those wider than `SURE_CELL_MM` only clear a program: what comes near a limit in them is
        judged again in cells of `SURE_CELL_MM`.
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
        (case,) = _cases(order, texts, (Misplacement(),), SAMPLES_ONLY_CELL_MM, False)
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
    cases = _cases(order, texts, places, min(cell, WIDEST_CELL_MM), True)
    coarse = cell > SURE_CELL_MM and cells_fit(order.setup.plate.bounds, SURE_CELL_MM)
    for place, case in zip(places, cases, strict=True):
        judged = _judged(replace(case, coarse=coarse), origin, only_sights=False)
        if coarse and judged.verdict.findings:
            (closer,) = _cases(order, texts, (place,), SURE_CELL_MM, True)
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
    # what is wanted is worked out, and sample columns are taken, while the grid is cut
    with ThreadPoolExecutor(1) as beside:
        cut_a = beside.submit(_cut_freely, order, a, grid)
        surfaces = nominal_surfaces(order, grid)
        begun = [beside.submit(_begin, order, grid, surfaces, a, cut_a, keep)]
        del surfaces  # masks as large as the plate, of which only side B's is wanted from now on

        def both(lies: SideProgram | None, last: bool) -> _Cut:
            return _cut_b(order, (begun.pop() if last else begun[0]).result(), lies, last, keep)

        for place in places:
            lies = b if b is None or place == Misplacement() else b.misplaced(place)
            cut = beside.submit(both, lies, place is places[-1])
            yield _measured(order, unread, _by_sights(order, (a, lies)), cut.result())


def _cut_freely(order: Order, side: SideProgram | None, grid: Grid) -> Swept | None:
    """Cut the grid with one side, not yet knowing what it must not touch."""
    return None if side is None else _swept(order, side, grid, None)


@dataclass(frozen=True, eq=False)
class _Begun:
    """The plate after side A, that side with what it met, the surface it left, and side B's."""

    grid: Grid
    wanted_b: GroundSurface
    a: SideProgram | None
    surface_a: GroundSurface | None


def _begin(
    order: Order, grid: Grid, surfaces: tuple[GroundSurface, GroundSurface], a: SideProgram | None,
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
    sides: tuple[SideProgram | None, SideProgram | None]
    surfaces: tuple[GroundSurface | None, GroundSurface | None]


def _cut_b(order: Order, begun: _Begun, b: SideProgram | None, last: bool, keep: bool) -> _Cut:
    """Cut the grid with side B too; a copy of it, unless this is the last time."""
    grid = begun.grid if last else deepcopy(begun.grid)
    b, surface_b = cut_side(order, b, grid, begun.wanted_b, keep=keep)
    return _Cut(grid, (begun.a, b), (begun.surface_a, surface_b))


def _order_of(finding: Finding) -> tuple[str, int, str, str]:
    return finding.side, finding.line, finding.kind, finding.message


def _read(
    order: Order, texts: tuple[str | None, str | None]
) -> tuple[tuple[SideProgram | None, SideProgram | None], tuple[tuple[str, ProgramError], ...]]:
    sides: list[SideProgram | None] = []
    unread: list[tuple[str, ProgramError]] = []
    first = 0
    for name, text in zip("AB", texts, strict=True):
        side = None
        if text is not None:
            try:
                side = side_of(order, name, text, read_program(text, stored_of(order.setup)), first)
                first += len(side)
            except ProgramError as error:
                unread.append((name, error))
        sides.append(side)
    return (sides[0], sides[1]), tuple(unread)


def cut_side(
    order: Order, side: SideProgram | None, grid: Grid, surface: GroundSurface, *, keep: bool
) -> tuple[SideProgram | None, GroundSurface | None]:
    """Cut the grid, of which ``surface`` is wanted, with one side.

    Return it with what it met, unless that is not to be kept, and the surface it left.
    """
    if side is None:
        return None, None
    swept = _swept(order, side, grid, surface.flat)
    return side.with_swept(swept) if keep else side, surface.cut(grid)


def _swept(order: Order, side: SideProgram, grid: Grid, protected: Bools | None) -> Swept:
    return cut_grid(
        grid, side.swept_motions(), side.cutter_radius, side.shapes.corner,
        side=side.name, flip=order.setup.flip, first=side.first, protected=protected,
        reach=side.shapes.reach, shank=side.shapes.shank,
        tip=side.shapes.tip, half_angle=side.shapes.half_angle,
    )  # fmt: skip


def _by_sights(
    order: Order, sides: tuple[SideProgram | None, SideProgram | None]
) -> dict[str, Any]:
    """Return those parts of a case that are measured at exact places, without the grid."""
    want = nominal(order)
    return {
        "wanted": want,
        "wall": measure_wall(order.blade, want, sides),
        "grounds": measured_bevels(order, sides),
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
        bridges = beside.submit(measured_tabs, order, want, cut.sides, cut.grid)
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


def pieces_of(order: Order, grid: Grid) -> tuple[tuple[LoosePiece, ...], tuple[LoosePiece, ...]]:
    """Return the loose pieces without and with screws."""
    held = _plate_edge_cells(grid)
    unscrewed = loose_pieces(grid, held, least_area=LEAST_PIECE_MM2)
    if order.setup.workholding.kind != "bores":
        return unscrewed, unscrewed
    _screw(held, order, grid)
    return unscrewed, loose_pieces(grid, held, least_area=LEAST_PIECE_MM2)


def _plate_edge_cells(grid: Grid) -> Bools:
    """Return the outermost cells: clamps hold the plate by them."""
    at_edge = np.zeros(grid.top.shape, bool)
    at_edge[[0, -1], :] = True
    at_edge[:, [0, -1]] = True
    return at_edge


def _screw(held: Bools, order: Order, grid: Grid) -> None:
    """Mark the cells under the heads of the screws as held, but for those of the bores."""
    for bore in order.blade.bores:
        if bore.name in order.setup.workholding.screws:
            head = max(order.setup.workholding.head_diameter, bore.diameter + 4 * grid.cell)
            under = patch_deeper(grid, circle(bore.centre, head), 0.0)
            rows, columns = patch_deeper(
                grid, circle(bore.centre, bore.diameter), -grid.cell
            ).cells()
            first_row, first_column = (part.start for part in under.window)
            under.mask[rows - first_row, columns - first_column] = False
            held[under.window] |= under.mask

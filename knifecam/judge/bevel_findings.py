"""Contact, stock and direction of finished bevels; edges too thin, or milled thin."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, Message, at_line, first_and_worst, rounded_place
from knifecam.judge.judge_limits import (
    DECIDED_SIN,
    HEIGHT_SLACK_MM,
    JUDGED_LEAST_LAND_MM,
    LAND_OFF_MM,
    NEAR_AXIS_SHARE,
    SHORT_STEP_CELLS,
    STOCK_MORE_MM,
    STOCK_SLACK_TIMES,
)
from knifecam.judge.rapids_and_entry import mean_depths
from knifecam.judge.worst_case import DISTURBANCES, Disturbance, height_lost, plate_thicker
from knifecam.measure.bevel_contact import BevelContact, bevel_contact
from knifecam.measure.bevel_places import BEVEL_FINISH, PLUNGE, cusp_height, plunge_margin
from knifecam.measure.case import Case
from knifecam.measure.measure_limits import LEVEL_RAD
from knifecam.measure.measured_edge import MeasuredEdge
from knifecam.measure.step_stages import BEVEL_ROUGH, BEVEL_SEMI
from knifecam.quantity import mm
from knifecam.shop import Order, Setup
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_steps import ContactSteps

Floats = NDArray[np.float64]


Bools = NDArray[np.bool_]


FINISH_STOCK, SEMI_STOCK = "a finishing pass", "a semi-finishing pass"


def find_bevel(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds near-axis, bevel-stock, conventional and down-slope."""
    for side in case.given():
        if side.swept is None or not len(side.swept.engagement):
            continue
        rows = side.steps
        yield from _levels(case, side, rows)
        lefts = sorted({c.allowance for c in case.order.cuttings(BEVEL_SEMI)} - {0.0})
        for bevel in case.order.blade.bevels:
            if bevel.on(side.name):
                touching, *semi = bevel_contact(case.order, side, rows, bevel, above=(0.0, *lefts))
                yield from _dead_centre(case.order, side, rows, touching)
                yield from _stock(case.order, side, rows, touching, FINISH_STOCK)
                yield from _conventional(case.order, side, rows, touching)
                yield from _down_slope(case.order, side, rows, touching)
                for above in semi:
                    yield from _stock(case.order, side, rows, above, SEMI_STOCK)


def _of_plunge(
    order: Order, side: SideProgram, rows: ContactSteps, touching: BevelContact
) -> Bools:
    """Return which steps belong to the plunge's own cut: by its cutter, in it or beside it."""
    numbers = [c.cutter for c in order.cuttings(PLUNGE)]
    cutter = side.trace.cutter[rows.motion[touching.rows]]
    return np.asarray(np.isin(cutter, numbers) & (touching.past > plunge_margin(order)))


def _dead_centre(
    order: Order, side: SideProgram, rows: ContactSteps, touching: BevelContact
) -> Iterator[Finding]:
    """Yield finishing contact near the cutter's axis; the plunge's ball has no other way."""
    motion = rows.motion[touching.rows]
    least = NEAR_AXIS_SHARE * 2 * side.shapes.radius[motion]
    bad = (touching.contact < least) & ~_of_plunge(order, side, rows, touching)
    hits, contact, limit = touching.rows[bad], touching.contact[bad], least[bad]

    def tell(k: int) -> Message:
        sentence = (
            f"finishes bevel {touching.bevel.name} at {mm(contact[k]):.3f} from the axis of cutter "
            f"{int(side.trace.cutter[rows.motion[hits[k]]])}, where it hardly moves; "
            f"{mm(limit[k]):.3f} or more is wanted"
        )
        return sentence, float(contact[k]), float(limit[k])

    yield from first_and_worst(
        Kind.NEAR_AXIS, side, rows.motion[hits], tell=tell, badness=limit - contact,
        places=rows.place[hits],
    )  # fmt: skip


def planned_stock(order: Order, slope: Floats) -> Floats:
    """Return what the stage before leaves a finishing pass, (k,) mm along Z, its cusps with it.

    Where nothing is ordered before it the finishing pass takes its own stepdown.
    """
    for stage in (BEVEL_SEMI, BEVEL_ROUGH):
        entries = order.cuttings(stage)
        if entries:
            found = np.zeros(len(slope))
            for entry in entries:
                cutter = order.cutter(entry.cutter)
                ball = cutter.corner >= cutter.radius
                cusp = cusp_height(entry.stepover, slope, cutter.corner, ball=ball)
                found = np.maximum(found, entry.allowance + cusp / np.cos(slope))
            return found
    alone = max((c.stepdown for c in order.cuttings(BEVEL_FINISH)), default=np.inf)
    return np.full(len(slope), alone)


def stock_of_semi(order: Order, slope: Floats) -> Floats:
    """Return what roughing leaves a semi-finishing pass to take, (k,) mm along Z.

    Roughing in levels leaves stairs as high as its stepdown, roughing in passes leaves cusps.
    """
    rough = order.cuttings(BEVEL_ROUGH)
    if not rough:
        return np.full(len(slope), np.inf)
    own = min((c.allowance for c in order.cuttings(BEVEL_SEMI)), default=0.0)
    found = np.zeros(len(slope))
    for entry in rough:
        cutter = order.cutter(entry.cutter)
        ball = cutter.corner >= cutter.radius
        cusp = cusp_height(entry.stepover, slope, cutter.corner, ball=ball) / np.cos(slope)
        found = np.maximum(found, entry.allowance - own + np.maximum(cusp, entry.stepdown))
    return found


def _stock(
    order: Order, side: SideProgram, rows: ContactSteps, touching: BevelContact, what: str
) -> Iterator[Finding]:
    """Yield steps that meet more than the stage before should have left."""
    stage = BEVEL_FINISH if what == FINISH_STOCK else BEVEL_SEMI
    numbers = [c.cutter for c in order.cuttings(stage)]
    mine = np.isin(side.trace.cutter[rows.motion[touching.rows]], numbers)
    mine &= ~_of_plunge(order, side, rows, touching)
    depth = rows.engagement.under[touching.rows]
    planned = planned_stock if what == FINISH_STOCK else stock_of_semi
    limit = planned(order, touching.slope) * STOCK_SLACK_TIMES + STOCK_MORE_MM
    bad = mine & (depth > limit)
    hits, deep, allowed = touching.rows[bad], depth[bad], limit[bad]

    def tell(k: int) -> Message:
        sentence = (
            f"{what} of bevel {touching.bevel.name} meets {mm(deep[k]):.3f} of metal; "
            f"{mm(allowed[k]):.3f} is planned for it"
        )
        return sentence, float(deep[k]), float(allowed[k])

    yield from first_and_worst(
        Kind.BEVEL_STOCK, side, rows.motion[hits], tell=tell, badness=deep - allowed,
        places=rows.place[hits],
    )  # fmt: skip


def _conventional(
    order: Order, side: SideProgram, rows: ContactSteps, touching: BevelContact
) -> Iterator[Finding]:
    heading, uphill = rows.heading[touching.rows], touching.uphill
    turn = heading[:, 0] * uphill[:, 1] - heading[:, 1] * uphill[:, 0]
    bad = (turn > DECIDED_SIN) & ~_of_plunge(order, side, rows, touching)
    hits = touching.rows[bad]

    def tell(_: int) -> Message:
        sentence = (
            f"finishes bevel {touching.bevel.name} with its metal on the left of travel, "
            f"conventionally"
        )
        return sentence, None, None

    yield from first_and_worst(
        Kind.CONVENTIONAL, side, rows.motion[hits], tell=tell, places=rows.place[hits],
        remedy="travel with the blade's back on the right, in this side's own frame",
    )  # fmt: skip


def _down_slope(
    order: Order, side: SideProgram, rows: ContactSteps, touching: BevelContact
) -> Iterator[Finding]:
    """Yield finishing that runs down the slope: the end's flat scrapes ahead of the corner."""
    heading, uphill = rows.heading[touching.rows], touching.uphill
    falls = np.sum(heading * uphill, axis=1)
    bad = (falls < -DECIDED_SIN) & (rows.fall[touching.rows] > 0.0)
    bad &= ~_of_plunge(order, side, rows, touching)
    hits, steep = touching.rows[bad], np.degrees(np.arccos(np.clip(-falls[bad], -1.0, 1.0)))

    def tell(k: int) -> Message:
        sentence = (
            f"finishes bevel {touching.bevel.name} down the slope, {steep[k]:.0f} degrees off "
            f"straight down; the cutter's flat end scrapes there"
        )
        return sentence, float(steep[k]), float(np.degrees(np.arccos(DECIDED_SIN)))

    yield from first_and_worst(
        Kind.DOWN_SLOPE, side, rows.motion[hits], tell=tell, places=rows.place[hits],
        badness=-falls[bad],
    )  # fmt: skip


def _levels(case: Case, side: SideProgram, rows: ContactSteps) -> Iterator[Finding]:
    """Yield level steps that only rough a bevel and go deeper than that stage's stepdown."""
    rough = max((c.stepdown for c in case.order.cuttings(BEVEL_ROUGH)), default=np.inf)
    limit = float(case.near(rough, rough * STOCK_SLACK_TIMES + STOCK_MORE_MM))
    only = case.roughs_bevel[side.name] & (np.abs(rows.fall) < LEVEL_RAD) & rows.moving
    e, radius = rows.engagement, side.shapes.radius[rows.motion]
    # in the mean over what is met too: at its end a level's rim meets the fillet of the one above
    across = radius * (1.0 - np.cos(np.minimum(e.width, np.pi)))
    mean, depth = mean_depths(rows, across, SHORT_STEP_CELLS * case.seen), e.under
    deep = (depth > limit) & (mean > limit)
    hits = np.flatnonzero(only & deep & ~side.rapid[rows.motion])

    def tell(k: int) -> Message:
        found = float(depth[hits[k]])
        sentence = (
            f"roughs a bevel and meets {mm(found):.3f} of metal in one level; stage 'bevel-rough' "
            f"takes {mm(rough):g}, {mm(limit):.3f} with what corners leave"
        )
        return sentence, found, limit

    yield from first_and_worst(
        Kind.BEVEL_STOCK, side, rows.motion[hits], tell=tell, badness=depth[hits],
        places=rows.place[hits], remedy="add the level that is missing",
    )  # fmt: skip


def find_thin_edge(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind thin-edge, and uncut for lands that are too thick."""
    for edge in case.edges:
        yield from _thinner(edge)
        yield from _thicker(edge)
        yield from _disturbed(edge, case)
        yield from _milled_last(edge, case)


def land_range(case: Case, edge: MeasuredEdge) -> dict[str, tuple[float, float]]:
    """Return the least and the greatest land, mm, under every disturbance."""
    found = {}
    for disturbance in DISTURBANCES:
        land = edge.land + land_more(case.order.setup, disturbance, edge)
        found[disturbance.name] = float(land.min()), float(land.max())
    return found


def land_more(setup: Setup, disturbance: Disturbance, edge: MeasuredEdge) -> Floats:
    """Return by how much the land grows at the edge's places, (n,) mm.

    A face that no cutter met lies on the fixture while the other is cut, and is the plate's own: there
    the land is what the side that cuts leaves above the fixture. Where both cut, what is above either
    fixture together exceeds the land by the plate's thickness.
    """
    plate = plate_thicker(setup, disturbance, edge.points[:, 0])
    above = [
        np.where(edge.finished[k] >= 0, height_lost(setup, disturbance, side), plate)
        for k, side in enumerate("AB")
    ]
    return np.asarray(above[0] + above[1] - plate)


def _thinner(edge: MeasuredEdge) -> Iterator[Finding]:
    lack = edge.wanted - edge.land
    k = int(np.argmax(lack))
    if not lack[k] > LAND_OFF_MM:
        return
    sentence = (
        f"bevel {edge.bevel.name}: the land is {mm(edge.land[k]):.4f} at {mm(edge.stations[k]):.1f} "
        f"along the edge; {mm(edge.wanted[k]):.4f} is ordered, {mm(LAND_OFF_MM):g} less is allowed"
    )
    yield at_line(
        Kind.THIN_EDGE, "B", 0, sentence,
        place=rounded_place([*edge.points[k], edge.bevel.edge_at]), measured=float(edge.land[k]),
        allowed=float(edge.wanted[k] - LAND_OFF_MM),
    )  # fmt: skip


def _thicker(edge: MeasuredEdge) -> Iterator[Finding]:
    # where another bevel's face runs over the edge, that bevel's cusps are judged, not a land
    more = np.where(edge.own, edge.land - edge.wanted, -np.inf)
    k = int(np.argmax(more))
    if not more[k] > LAND_OFF_MM:
        return
    sentence = (
        f"bevel {edge.bevel.name}: the land is {mm(edge.land[k]):.4f} at {mm(edge.stations[k]):.1f} "
        f"along the edge; {mm(edge.wanted[k]):.4f} is ordered, {mm(LAND_OFF_MM):g} more is allowed"
    )
    yield at_line(
        Kind.UNCUT, "B", 0, sentence, "finish bevels and plunges finer beside the edge, to their depth",
        place=rounded_place([*edge.points[k], edge.bevel.edge_at]), measured=float(edge.land[k]),
        allowed=float(edge.wanted[k] + LAND_OFF_MM),
    )  # fmt: skip


def _disturbed(edge: MeasuredEdge, case: Case) -> Iterator[Finding]:
    lands = land_range(case, edge)
    name = min(lands, key=lambda key: lands[key][0])
    found = lands[name][0]
    if not found < JUDGED_LEAST_LAND_MM - HEIGHT_SLACK_MM:
        return
    disturbance = next(d for d in DISTURBANCES if d.name == name)
    k = int(np.argmin(edge.land + land_more(case.order.setup, disturbance, edge)))
    sentence = (
        f"{name}, the land of bevel {edge.bevel.name} is {mm(found):.3f}; "
        f"{mm(JUDGED_LEAST_LAND_MM):g} must remain"
    )
    yield at_line(
        Kind.THIN_EDGE,
        "B",
        0,
        sentence,
        _steadier(edge, k),
        place=rounded_place([*edge.points[k], edge.bevel.edge_at]),
        measured=found,
        allowed=JUDGED_LEAST_LAND_MM,
    )


def _steadier(edge: MeasuredEdge, k: int) -> str:
    """Return what keeps the land at a place from being moved so far."""
    cut = [side for side, last in zip("AB", edge.finished[:, k], strict=True) if last >= 0]
    if len(cut) == 1:
        return f"order a thicker land, or zero Z of side {cut[0]} on the fixture"
    return "order a thicker land, or zero Z of one side on the face and of the other on the fixture"


def _milled_last(edge: MeasuredEdge, case: Case) -> Iterator[Finding]:
    """Yield where the wall of an edge was milled after both its bevels had been finished."""
    if edge.bevel.sides != "both":
        return
    late = (edge.finished >= 0).all(axis=0) & (edge.opened > edge.finished.max(axis=0))
    hits = np.flatnonzero(late)
    if not len(hits):
        return
    side, _ = case.side_of(int(edge.opened[hits[0]]))
    hits = hits[edge.opened[hits] >= side.first]
    land = edge.land[hits]
    heights = np.full(len(hits), edge.bevel.edge_at)

    def tell(k: int) -> Message:
        sentence = (
            f"mills the side of the edge of bevel {edge.bevel.name} when both its bevels are "
            f"finished and only {mm(land[k]):.3f} is left to bear it"
        )
        return sentence, float(land[k]), None

    yield from first_and_worst(
        Kind.THIN_EDGE, side, edge.opened[hits] - side.first, tell=tell,
        places=np.column_stack([edge.points[hits], heights]),
        remedy="open the edge side and finish its wall before the last bevel is cut",
    )  # fmt: skip

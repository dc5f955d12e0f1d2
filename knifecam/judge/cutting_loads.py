"""How much metal a cutter takes, how fast its teeth run through it, and what finishing meets."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.cutting.engagement import surface_speed
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, Message, first_and_worst
from knifecam.judge.judge_limits import (
    FASTER_TIMES,
    ROUNDED_SPEED_SHARE,
    SECTION_SHARE,
    SHORT_STEP_CELLS,
    SLOT_SECTION_TIMES,
    SLOWER_TIMES,
    STEEP_RAD,
    STEPDOWN_SLACK_TIMES,
    STOCK_MORE_MM,
    STOCK_SLACK_TIMES,
    TAB_SAMPLE_MM,
)
from knifecam.judge.rapids_and_entry import judged_rows, way_means
from knifecam.measure.case import Case, stub_half
from knifecam.measure.measure_limits import DEPTH_ROUNDING_MM, ONTO_WALL_SHARE, WEB_SLACK_TIMES
from knifecam.measure.measured_openings import MeasuredOpening
from knifecam.measure.measured_stock import Met, stock_met, taken_by
from knifecam.measure.measured_wall import MeasuredWall, measure_wall
from knifecam.measure.step_stages import (
    BORE,
    CLEAR,
    NECK,
    NOTCH,
    ROUGH,
    SLOT,
    contact_radius,
    stretched,
    wall_stock,
)
from knifecam.quantity import mm, mm2, quantity
from knifecam.shop import Order
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_limits import LEAST_CONTACT_MM3
from knifecam.sweep.sweep_steps import ContactSteps

Floats = NDArray[np.float64]


Ints = NDArray[np.int64]


def find_section(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind section."""
    for side in case.given():
        if side.swept is not None and len(side.swept.engagement):
            yield from _sections(side, case)


def _sections(side: SideProgram, case: Case) -> Iterator[Finding]:
    rows, limits = side.steps, case.stages[side.name]
    e, radius = rows.engagement, side.shapes.radius[rows.motion]
    tried = judged_rows(case, side) & rows.moving & (np.abs(rows.fall) < STEEP_RAD)
    tried &= (e.volume > LEAST_CONTACT_MM3) & ~side.rapid[rows.motion] & limits.opens
    tried &= side.shapes.half_angle[rows.motion] == 0.0
    at = np.flatnonzero(tried)
    mean = way_means(rows, e.volume, SHORT_STEP_CELLS * case.seen)[at]
    # a strip may seem a row of cells wider than it is, whatever its cells
    row = case.seen * (1.0 + _lead(rows, at, radius[at], case.seen))
    mean = np.minimum(mean, 2 * radius[at] * e.under[at]) - row * e.under[at]
    section = np.maximum(mean, 0.0)
    # the way of the metal on arcs makes sections less: only what seems too much is laid along it
    most, allowed = _most(side, at, slots=limits.slot, section=section)
    much = ~(section <= case.near(most / SLOT_SECTION_TIMES, allowed))
    at, section = at[much], section[much]
    section = section / stretched(case.order, side, rows, at, over=SHORT_STEP_CELLS * case.seen)
    most, allowed = _most(side, at, slots=limits.slot, section=section)
    bad = ~(section <= case.near(most / SLOT_SECTION_TIMES, allowed))
    hits, found, most = at[bad], section[bad], allowed[bad]

    def tell(k: int) -> Message:
        number = int(side.trace.cutter[rows.motion[hits[k]]])
        deep = float(e.under[hits[k]])
        sentence = (
            f"takes section={mm2(found[k]):.3f} across its way, up to {mm(deep):.3f} deep; cutter "
            f"{number} takes at most {mm2(most[k]):.3f} there"
        )
        return sentence, float(found[k]), float(most[k])

    yield from first_and_worst(
        Kind.SECTION, side, rows.motion[hits], tell=tell, badness=found / most,
        places=rows.place[hits],
    )  # fmt: skip


def _most(side: SideProgram, at: Ints, *, slots: Floats, section: Floats) -> tuple[Floats, Floats]:
    """Return what section the stage is given, and what is still allowed, (k,) mm2 each.

    ``slots`` (S,) mm is how deep the stages of all steps may slot.
    """
    rows = side.steps
    wide = 2 * side.shapes.radius[rows.motion[at]]
    slot, largest = wide * slots[at], SECTION_SHARE * wide**2
    thin = section <= ONTO_WALL_SHARE * wide * rows.engagement.under[at]
    most = np.where(thin, largest, np.minimum(SLOT_SECTION_TIMES * slot, largest))
    return most, np.maximum(STEPDOWN_SLACK_TIMES * slot, most)


def _lead(rows: ContactSteps, at: Ints, radius: Floats, cell: float) -> Floats:
    """Return how much of its own length more of a row of cells a step meets out of the air, (k,).

    A row as wide as a cell, at the flank, is met half a chord ahead of the axis, sqrt(2 R cell).
    """
    e = rows.engagement
    first = np.append(0.0, e.volume)[at] <= LEAST_CONTACT_MM3  # by the step before
    way = np.maximum(e.length[at], SHORT_STEP_CELLS * cell)
    return np.where(first, np.sqrt(2 * radius * cell) / way, 0.0)


def find_surface_speed(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind surface-speed."""
    for side in case.given():
        if side.swept is not None:
            yield from _speeds(side, case)


def _speeds(side: SideProgram, case: Case) -> Iterator[Finding]:
    rows, limits = side.steps, case.stages[side.name]
    turning = (side.trace.spindle != 0) & (side.trace.speed > 0)
    at = np.flatnonzero(case.meets(side) & turning[rows.motion])
    speed = side.trace.speed[rows.motion[at]]
    fastest, slowest = FASTER_TIMES * limits.fastest[at], SLOWER_TIMES * limits.slowest[at]
    quick, slow = (
        speed > fastest * (1 + ROUNDED_SPEED_SHARE),
        speed < slowest * (1 - ROUNDED_SPEED_SHARE),
    )
    yield from _speed_told(side, rows, at[quick], (speed[quick], limits.fastest[at][quick]), "fast")
    yield from _speed_told(side, rows, at[slow], (speed[slow], limits.slowest[at][slow]), "slow")


def _speed_told(
    side: SideProgram, rows: ContactSteps, hits: Ints, of: tuple[Floats, Floats], how: str
) -> Iterator[Finding]:
    """Yield the hits; ``of``: the spindle's speed there and what the order gives, rev/min."""
    motion, (speed, given) = rows.motion[hits], of
    widest = 2 * contact_radius(side, rows, hits)
    factor, word = (FASTER_TIMES, "more") if how == "fast" else (SLOWER_TIMES, "less")

    def tell(k: int) -> Message:
        found, wanted = (surface_speed(float(n), float(widest[k])) for n in (speed[k], given[k]))
        sentence = (
            f"{quantity(found, 'm/min'):.4g} at the contact ({speed[k]:g} rev/min); cutter "
            f"{int(side.trace.cutter[motion[k]])} is given {quantity(wanted, 'm/min'):.4g} there "
            f"({given[k]:g} rev/min), no {word} than {factor * wanted:.4g}"
        )
        return sentence, found, factor * wanted

    yield from first_and_worst(
        Kind.SURFACE_SPEED, side, motion, tell=tell, badness=np.abs(np.log(speed / given)),
        places=rows.place[hits], remedy=f"give S{given[0]:g} for this cut" if len(hits) else "",
    )  # fmt: skip


OPENING = {"bore": (BORE,), "reference": (BORE,), "slot": (SLOT,), "": (ROUGH, CLEAR, NECK, NOTCH)}
"""Stages that go into metal beside each kind of wall, level by level or turn by turn."""


def find_wall_stock(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind wall-stock."""
    for which, side in enumerate(case.sides):
        if side is None or not len(side) or (side.name == "B" and not case.whole):
            continue
        left = wall_stock(case.order)
        found = [*_wall(case, side, which, case.wall, left)]
        if not found and (at := _beside_tabs(case, side)) is not None:
            found = [*_wall(case, side, which, at, left, fillets=_fillets(case.order, left))]
        yield from found
        for opening in case.openings:
            yield from _wall(case, side, which, opening, _left_in(case.order, opening))


def _beside_tabs(case: Case, side: SideProgram) -> MeasuredWall | None:
    """Return the wall beside the tabs, looked at closely; None on side A and where there are none.

    There side B's cutters rise. What a thicker one left is met over less than the usual spacing,
    and as high as a tab.
    """
    if side.name == "A" or not case.bridges:
        return None
    wanted, stations = case.wanted, []
    for bridge in case.bridges:
        half = stub_half(case, bridge.waist)
        away = np.arange(bridge.waist / 2, half, TAB_SAMPLE_MM)
        stations += [bridge.station - away, bridge.station + away]
    low = min(wanted.tab_low, *(bridge.bottom for bridge in case.bridges)) - TAB_SAMPLE_MM
    count = int(np.ceil((wanted.floor_b - low) / TAB_SAMPLE_MM)) + 1
    heights = np.round(np.linspace(low, wanted.floor_b, count), 6)
    around = np.unique(np.concatenate(stations) % wanted.outline.length)
    return measure_wall(case.order.blade, wanted, case.sides, heights, stations=around)


def _fillets(order: Order, left: float) -> float:
    """Return how high roughing's corners stand out too far over and under the web, mm in all.

    At h above a floor a corner r leaves r - sqrt(r^2 - (r - h)^2) beyond ``left``. Heights
    `TAB_SAMPLE_MM` to each other show that with the web, the usual ones step over it.
    """
    more = (STOCK_SLACK_TIMES - 1.0) * left + STOCK_MORE_MM
    corners = [order.cutter(c.cutter).corner for c in order.cutting if c.stage in (ROUGH, CLEAR)]
    return 2.0 * max(
        (r - np.sqrt(2.0 * r * more - more**2) for r in corners if r > more), default=0.0
    )


def _left_in(order: Order, opening: MeasuredOpening) -> float:
    """Return what the stage before a bore's or slot's finish is to leave on its wall, mm."""
    if opening.kind == "slot":
        return max((c.allowance for c in order.cuttings(SLOT)), default=0.0)
    return order.boring.undersize / 2 if opening.fitted else 0.0


def _wall(
    case: Case,
    side: SideProgram,
    which: int,
    wall: MeasuredWall | MeasuredOpening,
    left: float,
    *,
    fillets: float = 0.0,
) -> Iterator[Finding]:
    if wall.sides[which] is None or not len(wall.points):
        return
    opening = isinstance(wall, MeasuredOpening)
    past = wall.past[which] if isinstance(wall, MeasuredOpening) else None
    met = stock_met(side, wall, which, STOCK_SLACK_TIMES * left + STOCK_MORE_MM, past)
    least = case.order.trench.web * WEB_SLACK_TIMES + fillets if not opening else 0.0
    stages = OPENING[wall.kind if isinstance(wall, MeasuredOpening) else ""]
    over = met.deep > _levels(case.order, side, met, stages, least)
    if over.any():
        met = taken_by(side, wall, which, met, over)
        over &= met.deep > _levels(case.order, side, met, stages, least)
    name = wall.name if isinstance(wall, MeasuredOpening) else "the outline"
    yield from _stock_told(side, wall, met, over, name)


def _levels(
    order: Order, side: SideProgram, met: Met, stages: tuple[str, ...], least: float
) -> Floats:  # fmt: skip
    """Return how deep each pass may go into metal whatever stands beside it, (H, n) mm."""
    number = np.asarray(side.trace.cutter)[np.maximum(met.motion, 0)]
    found = np.full(number.shape, least)
    for entry in order.cutting:
        if entry.stage in stages:
            found = np.where(number == entry.cutter, np.maximum(found, entry.stepdown), found)
    return found * STEPDOWN_SLACK_TIMES + DEPTH_ROUNDING_MM


def _stock_told(
    side: SideProgram,
    wall: MeasuredWall | MeasuredOpening,
    met: Met,
    over: NDArray[np.bool_],
    name: str,
) -> Iterator[Finding]:
    level, at = np.nonzero(over)
    stock, deep = met.stock[level, at], met.deep[level, at]

    def tell(k: int) -> Message:
        found = float(stock[k])
        amount = f"{mm(found):.3f}" if np.isfinite(found) else f"more than {mm(0.5)}"
        sentence = (
            f"finishes the wall of {name} and meets {amount} of metal off it, {mm(deep[k]):.3f} deep "
            f"in one pass; {mm(met.allowed):.3f} is planned to be left for it"
        )
        return sentence, found if np.isfinite(found) else None, met.allowed

    places = np.column_stack([wall.points[at], wall.heights[level]])
    yield from first_and_worst(
        Kind.WALL_STOCK, side, met.motion[level, at], tell=tell,
        badness=np.minimum(stock, 1.0) * deep, places=places,
    )  # fmt: skip

"""What finishing passes meet on walls, bores and slots, against what the stage before was to leave."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.quantity import mm
from knifecam.shop import Order
from knifecam.simulator.case import Case
from knifecam.simulator.judge.bevel import STOCK_MORE, STOCK_SLACK
from knifecam.simulator.judge.entry import SLACK
from knifecam.simulator.judge.hit import Told, folded
from knifecam.simulator.measure_bores import Opening
from knifecam.simulator.measure_stock import Met, stock_met, taken_by
from knifecam.simulator.measure_walls import Wall, measure_wall
from knifecam.simulator.side import Side
from knifecam.simulator.stage import (
    BORE,
    CLEAR,
    NECK,
    NOTCH,
    ROUGH,
    ROUNDING,
    SLOT,
    WEB_SLACK,
    wall_stock,
)
from knifecam.simulator.stub import stub_half
from knifecam.simulator.verdict import Finding

Floats = NDArray[np.float64]

OPENING = {"bore": (BORE,), "reference": (BORE,), "slot": (SLOT,), "": (ROUGH, CLEAR, NECK, NOTCH)}
"""Stages that go into metal beside each kind of wall, level by level or turn by turn."""

CLOSE = 0.025
"""mm between the places and heights that are looked at beside tabs."""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind wall-stock."""
    for which, side in enumerate(case.sides):
        if side is None or not len(side) or (side.name == "B" and not case.whole):
            continue
        left = wall_stock(case.order)
        found = [*_wall(case, side, which, case.wall, left)]
        if not found and (at := _beside_tabs(case, side)) is not None:
            found = [*_wall(case, side, which, at, left)]
        yield from found
        for opening in case.openings:
            yield from _wall(case, side, which, opening, _left_in(case.order, opening))


def _beside_tabs(case: Case, side: Side) -> Wall | None:
    """Return the wall beside the tabs, looked at closely; None on side A and where there are none.

    There side B's cutters rise. What a thicker one left is met over less than the usual spacing,
    and as high as a tab.
    """
    if side.name == "A" or not case.bridges:
        return None
    wanted, stations = case.wanted, []
    for bridge in case.bridges:
        half = stub_half(case, bridge.waist)
        away = np.arange(bridge.waist / 2, half, CLOSE)
        stations += [bridge.station - away, bridge.station + away]
    low = min(wanted.tab_low, *(bridge.bottom for bridge in case.bridges)) - CLOSE
    count = int(np.ceil((wanted.floor_b - low) / CLOSE)) + 1
    heights = np.round(np.linspace(low, wanted.floor_b, count), 6)
    around = np.unique(np.concatenate(stations) % wanted.outline.length)
    return measure_wall(case.order.blade, wanted, case.sides, heights, stations=around)


def _left_in(order: Order, opening: Opening) -> float:
    """Return what the stage before a bore's or slot's finish is to leave on its wall, mm."""
    if opening.kind == "slot":
        return max((c.allowance for c in order.cuttings(SLOT)), default=0.0)
    return order.boring.undersize / 2 if opening.fitted else 0.0


def _wall(
    case: Case, side: Side, which: int, wall: Wall | Opening, left: float
) -> Iterator[Finding]:
    if wall.sides[which] is None or not len(wall.points):
        return
    opening = isinstance(wall, Opening)
    past = wall.past[which] if isinstance(wall, Opening) else None
    met = stock_met(side, wall, which, STOCK_SLACK * left + STOCK_MORE, past)
    least = case.order.trench.web * WEB_SLACK if not opening else 0.0
    stages = OPENING[wall.kind if isinstance(wall, Opening) else ""]
    over = met.deep > _levels(case.order, side, met, stages, least)
    if over.any():
        met = taken_by(side, wall, which, met, over)
        over &= met.deep > _levels(case.order, side, met, stages, least)
    name = wall.name if isinstance(wall, Opening) else "the outline"
    yield from _told(side, wall, met, over, name)


def _levels(
    order: Order, side: Side, met: Met, stages: tuple[str, ...], least: float
) -> Floats:  # fmt: skip
    """Return how deep each pass may go into metal whatever stands beside it, (H, n) mm."""
    number = np.asarray(side.trace.cutter)[np.maximum(met.motion, 0)]
    found = np.full(number.shape, least)
    for entry in order.cutting:
        if entry.stage in stages:
            found = np.where(number == entry.cutter, np.maximum(found, entry.stepdown), found)
    return found * SLACK + ROUNDING


def _told(
    side: Side, wall: Wall | Opening, met: Met, over: NDArray[np.bool_], name: str
) -> Iterator[Finding]:
    level, at = np.nonzero(over)
    stock, deep = met.stock[level, at], met.deep[level, at]

    def tell(k: int) -> Told:
        found = float(stock[k])
        amount = f"{mm(found):.3f}" if np.isfinite(found) else f"more than {mm(0.5)}"
        sentence = (
            f"finishes the wall of {name} and meets {amount} of metal off it, {mm(deep[k]):.3f} deep "
            f"in one pass; {mm(met.allowed):.3f} is planned to be left for it"
        )
        return sentence, found if np.isfinite(found) else None, met.allowed

    places = np.column_stack([wall.points[at], wall.heights[level]])
    yield from folded(
        "wall-stock", side, met.motion[level, at], tell=tell,
        badness=np.minimum(stock, 1.0) * deep, places=places,
        remedy="rough the wall closer first, to the allowance ordered",
    )  # fmt: skip

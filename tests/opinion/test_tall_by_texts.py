"""Refusals of tall clamps and screw heads against the simulator, which reads the programs alone.

One blade's programs are written once, with rapids above everything; then clamps of random heights
are thought to stand at random places, and what the simulator's cutters run into there is compared
with what the planner refuses. Within the room it keeps, 0.1 mm, either answer is right. Where a
clamp stands beside the place at which lengths are checked, the planner checks them elsewhere, so
these texts say nothing of it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import Bore
from knifecam.errors import PlanError
from knifecam.judge import collisions
from knifecam.judge.prove import judge
from knifecam.measure.case import Case
from knifecam.planning import Plan, lay_out
from knifecam.planning.sequence import refuse_touching
from knifecam.program import write_program
from knifecam.program.length_check_places import check_place
from knifecam.rules.clamp_rules import clamps, tall
from knifecam.rules.rules_limits import OBSTACLE_GAP_MM
from knifecam.shop import Clamp, Order, Registration, Workholding
from tests.agreement.bevelled import bevelled_order
from tests.agreement.orders import simple_order

COUNT = 40


def high_above(order: Order, **changes: object) -> Order:
    """Return the order with rapids 90 mm above the plate."""
    mill = replace(order.setup.mill, rapid_height=90.0, change_height=95.0)
    return replace(order, setup=replace(order.setup, mill=mill, **changes))  # type: ignore[arg-type]


def with_clamp(order: Order, clamp: Clamp) -> Order:
    return replace(order, setup=replace(order.setup, clamps=(clamp,)))


def touched(case: Case, order: Order) -> bool:
    """Whether the simulator's cutters run into what stands there in this order."""
    return any(f.kind == "keep-out" for f in collisions.find_keep_out(replace(case, order=order)))


def refused(order: Order, cuts: object) -> bool:
    try:
        refuse_touching(order, cuts)  # type: ignore[arg-type]
    except PlanError:
        return True
    return False


def smaller(clamp: Clamp, by: float) -> Clamp:
    """Return the clamp, ``by`` mm smaller on every side and at its top."""
    return replace(
        clamp, x_low=clamp.x_low + by, x_high=clamp.x_high - by, y_low=clamp.y_low + by,
        y_high=clamp.y_high - by, height=clamp.height - by,
    )  # fmt: skip


def beside_check(order: Order, place: tuple[float, float], clamp: Clamp) -> bool:
    """Whether a clamp stands within a holder's radius and 5 mm of where lengths are checked."""
    x, y = place
    gap = np.hypot(
        max(clamp.x_low - x, 0.0, x - clamp.x_high), max(clamp.y_low - y, 0.0, y - clamp.y_high)
    )
    return bool(gap <= max(cutter.holder for cutter in order.cutters) / 2 + 5.0)


def random_clamps(order: Order, plan: Plan, rng: np.random.Generator) -> list[Clamp]:
    """Clamps of 6 x 8 mm anywhere on the plate, 4 to 60 mm high, that stand 5 mm off all paths."""
    plate = order.setup.plate
    found: list[Clamp] = []
    checks = {side: check_place(order, plan, side) for side in "AB"}
    while len(found) < COUNT:
        x, y = rng.uniform((0.0, 0.0), (plate.length - 6.0, plate.width - 8.0))
        clamp = Clamp(
            side="AB"[int(rng.integers(2))], x_low=x, x_high=x + 6.0, y_low=y, y_high=y + 8.0,
            height=float(rng.uniform(4.0, 60.0)),
        )  # fmt: skip
        if clamp.side == "B" and order.setup.flip == "X":
            clamp = replace(clamp, y_low=-clamp.y_high, y_high=-clamp.y_low)
        if not list(clamps(with_clamp(order, clamp))) and not beside_check(
            order, checks[clamp.side], clamp
        ):
            found.append(clamp)
    return found


REFERENCE = (Bore(name="P1", centre=(-47.0, 0.0), diameter=6.0, depth=2.7),)

ORDERS = {
    "plain": lambda: high_above(
        simple_order(), registration=Registration(kind="edges", bores=REFERENCE)
    ),
    "bevelled": lambda: high_above(bevelled_order()),
}


@pytest.mark.parametrize("name", ORDERS)
def test_clamps_are_refused_where_the_texts_run_into_them(name: str) -> None:
    order = ORDERS[name]()
    plan = lay_out(order)
    texts = tuple(write_program(order, plan, side).text for side in "AB")
    case = judge(order, (texts[0], texts[1]), cell=0.3).case
    seen = {"touched": 0, "passed": 0, "closed": 0}
    for clamp in random_clamps(order, plan, np.random.default_rng(7)):
        there = with_clamp(order, clamp)
        measured, closed = refused(there, plan.cuts), bool(list(tall(there)))
        if not measured:
            assert not touched(case, there), clamp
            seen["passed"] += 1
        if closed:
            assert measured, clamp
            seen["closed"] += 1
        if measured and refused(with_clamp(order, smaller(clamp, 2 * OBSTACLE_GAP_MM)), plan.cuts):
            assert touched(case, there), clamp
            seen["touched"] += 1
            assert closed or name == "bevelled", clamp
    assert min(seen.values()) >= 10, seen


@pytest.mark.parametrize("height", [3.0, 8.0, 12.0, 17.0, 21.0, 22.5, 24.0, 30.0])
def test_screw_heads_are_refused_where_the_texts_run_into_them(height: float) -> None:
    hold = Workholding(kind="bores", screws=("B1",), head_diameter=12.0, head_height=height)
    order = high_above(simple_order(), workholding=hold)
    low = replace(hold, head_height=3.0)
    planned = replace(order, setup=replace(order.setup, workholding=low))
    plan = lay_out(planned)
    texts = tuple(write_program(planned, plan, side).text for side in "AB")
    case = judge(order, (texts[0], texts[1])).case
    assert refused(order, plan.cuts) == touched(case, order)
    assert bool(list(tall(order))) == touched(case, order)

"""A finished face is the work of one cutter: the change comes before it, not in the middle."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from knifecam.judge.prove import judge
from knifecam.planning import lay_out
from knifecam.planning.plan import Cut
from knifecam.planning.planning_limits import LIFE_USED_SHARE
from knifecam.program import write_program
from knifecam.shop import Bevelling, Order
from knifecam.shop.order_record import BEVEL_FINISH, BEVEL_ROUGH, BEVEL_SEMI
from tests.agreement.bevel_blades import ordered, shop, straight_blade
from tests.agreement.bevelled import bevelled_order


def living(order: Order, life: float) -> Order:
    return replace(order, cutting=tuple(replace(c, life=life) for c in order.cutting))


def finishing(order: Order, side: str) -> list[Cut]:
    return [c for c in lay_out(order).side(side) if c.stage == BEVEL_FINISH]


def needed(order: Order) -> tuple[float, float]:
    """Return the contact minutes of the bevels' stages before finishing on side A, and finishing's."""
    cuts = lay_out(living(order, 1000.0)).side("A")
    before = sum(c.minutes for c in cuts if c.stage in (BEVEL_ROUGH, BEVEL_SEMI))
    return before, sum(c.minutes for c in cuts if c.stage == BEVEL_FINISH)


def test_one_cutter_finishes_where_it_lives_long_enough():
    order = ordered(straight_blade(), shop())
    before, finish = needed(order)
    life = (max(before, finish) + 0.5 * min(before, finish)) / LIFE_USED_SHARE
    (cut,) = finishing(living(order, life), "A")
    assert cut.fresh
    assert cut.minutes == pytest.approx(finish)


def test_a_worn_cutter_stays_where_it_lives_to_the_end():
    order = ordered(straight_blade(), shop())
    (cut,) = finishing(living(order, (sum(needed(order)) + 0.1) / LIFE_USED_SHARE), "A")
    assert not cut.fresh


def test_a_face_that_outlives_every_cutter_is_finished_in_parts():
    order = ordered(straight_blade(), shop())
    _, finish = needed(order)
    assert len(finishing(living(order, 0.6 * finish / LIFE_USED_SHARE), "A")) >= 2


def test_the_fresh_cutter_is_in_before_the_land_is_measured():
    """The maker has one stop after the other, and no change follows the trimmed Z."""
    order = replace(ordered(straight_blade(), shop()), bevelling=Bevelling(measure_stop=True))
    slow = tuple(
        replace(c, feed=c.feed / 3) if c.stage == BEVEL_FINISH else c for c in order.cutting
    )
    order = replace(order, cutting=slow)  # the finish takes longer than what comes before it
    before, finish = needed(order)
    assert finish > before
    order = living(order, (max(before, finish) + 0.5 * min(before, finish)) / LIFE_USED_SHARE)
    plan = lay_out(order)
    (cut,) = [c for c in plan.side("B") if c.stage == BEVEL_FINISH]
    assert cut.fresh
    text = write_program(order, plan, "B").text.rpartition(": BEVELS FINISHED,")[2]
    stops = [text.index(one) for one in ("FIT A FRESH CUTTER 3", "MEASURE THE LAND", "G43 H3")]
    assert stops == sorted(stops)


def test_a_fresh_cutter_that_goes_in_after_others_is_seen_by_what_its_stop_asks_for():
    """Side B's trench begins with a fresh cutter 1, after bevels and plunges by 3 and 4."""
    order = living(bevelled_order(), 13.4)
    plan = lay_out(order)
    (trench,) = [c for c in plan.side("B") if c.name == "OUTLINE TRENCH"]
    assert trench.fresh
    a, b = (write_program(order, plan, side).text for side in "AB")
    assert judge(order, (a, b), cell=0.2).verdict.findings == ()
    ground, _, rest = b.partition(": OUTLINE TRENCH,")
    for spoilt in (
        rest.replace("FIT A FRESH CUTTER 1", "FIT CUTTER 1", 1),
        re.sub(r"(FIT A FRESH CUTTER 1,.*\)\n)M0", r"\1M1", rest, count=1),
    ):
        assert spoilt != rest
        text = f"{ground}: OUTLINE TRENCH,{spoilt}"
        kinds = {f.kind for f in judge(order, (a, text)).verdict.findings}
        assert "life" in kinds

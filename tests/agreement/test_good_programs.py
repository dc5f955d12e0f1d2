"""Two hundred good orders become programs in which the judge finds nothing.

The orders are those of `good_orders.py`. An order may be refused before a path is written, for a
reason a maker understands; then the next one of its kind is taken, so that two hundred are proved.
A sample runs always; `KNIFECAM_GOOD_ORDERS=all` runs them all (about six minutes).
"""

from __future__ import annotations

import os
import re
from dataclasses import replace

import pytest

from knifecam.errors import OrderError, PlanError
from knifecam.judge.prove import Judged, judge
from knifecam.planning import lay_out
from knifecam.program import write_program
from knifecam.rules.rule_passes import contradictions, feasible
from knifecam.shop import Order
from tests.agreement.good_orders import good_order
from tests.agreement.orders import simple_order

COUNT, ATTEMPTS = 200, 5
SAMPLE = (20, 22, 24, 39, 83, 96, 98, 108, 134, 144, 184, 199)
CHOSEN = range(COUNT) if os.environ.get("KNIFECAM_GOOD_ORDERS") == "all" else SAMPLE

MICRON = 1e-3
"""mm"""

SENSIBLE = (
    r"room for \d tabs only",
    r"no stretch of the outline has \S+ mm for a tab",
    r"windows of \S+ mm in all take half the outline",
    r"cutter of \S+ mm leaves no helix",
    r"has no room for a tab, which wants \S+ mm of gentle, free outline on either side",
    r"all 2 tabs stand together and hold a blade \S+ mm long like a hinge",
)
"""Reasons for which these orders may be refused before a path is written."""


def planned(index: int) -> tuple[Order, tuple[str, str], list[str]]:
    """Return the first order of an index that can be made, its texts, and why others cannot."""
    refused: list[str] = []
    for attempt in range(ATTEMPTS):
        order = good_order(index, attempt)
        assert contradictions(order) == ()
        try:
            if lines := feasible(order):
                raise OrderError(lines)
            plan = lay_out(order)
            texts = (write_program(order, plan, "A").text, write_program(order, plan, "B").text)
        except (OrderError, PlanError) as error:
            refused += error.lines
            continue
        return order, texts, refused
    raise AssertionError(f"none of {ATTEMPTS} orders can be made: {refused}")


def told(judged: Judged) -> str:
    return "; ".join(f"{f.kind} {f.side}{f.line}: {f.message}" for f in judged.verdict.findings)


def measured_within(judged: Judged, order: Order) -> None:
    """Check what the design promises of the arithmetic: tabs, walls, bores, both sides' fit."""
    measures = judged.verdict.measures
    for tab in measures["tabs"]:
        assert tab["thickness"][0] == pytest.approx(order.tabs.thickness, abs=1 * MICRON)
        assert tab["waist"] == pytest.approx(order.tabs.waist, abs=20 * MICRON)
    for side in "AB":
        assert measures["outline"][side]["gouge"] <= 5 * MICRON
        assert measures["outline"][side]["left"] <= 5 * MICRON
    assert measures["outline"]["mismatch"] <= 1 * MICRON
    for bore in measures["bores"]:
        assert (bore["mismatch"] or 0.0) <= 1 * MICRON
        assert bore["diameter_a"] == pytest.approx(bore["wanted"], abs=2 * MICRON)


@pytest.mark.parametrize("index", CHOSEN)
def test_a_good_order_is_proved(index: int) -> None:
    order, texts, refused = planned(index)
    for line in refused:
        assert any(re.search(reason, line) for reason in SENSIBLE), line
    judged = judge(order, texts, cell=0.1)
    assert judged.verdict.ok, told(judged)
    measured_within(judged, order)


def test_a_relieved_neck_goes_deeper_than_its_flutes() -> None:
    """Levels of 0.08 mm, 2.75 mm deep in all: flutes of 2 mm do, for the neck behind is thinner.

    The slot's wall is finished at full depth, so that it is left out here.
    """
    order = simple_order()
    short = replace(order.cutters[0], flute_length=2.0)
    plain = replace(order.blade, slots=())
    order = replace(order, blade=plain, cutters=(short, order.cutters[1]))
    assert feasible(order) == ()
    plan = lay_out(order)
    texts = (write_program(order, plan, "A").text, write_program(order, plan, "B").text)
    judged = judge(order, texts, cell=0.2)
    assert judged.verdict.ok, told(judged)

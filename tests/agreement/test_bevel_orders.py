"""Random orders of bevelled blades are proved, or refused beforehand for a reason a maker accepts.

The orders are those of `bevel_orders.py`. A sample runs always; `KNIFECAM_BEVEL_ORDERS=200` runs so
many.
"""

from __future__ import annotations

import os
import re

import pytest

from knifecam.errors import PlanError
from knifecam.judge.prove import judge
from knifecam.planning import lay_out
from knifecam.program import write_program
from knifecam.rules.rule_passes import contradictions, feasible
from tests.agreement.bevel_orders import random_bevel_order

MICRON = 1e-3
"""mm"""

SAMPLE = (0, 1, 2, 9, 13, 23, 48, 140)
"""A blade past its cutters' flutes, one too narrow, one too near the fixture, and five that are
proved."""

CHOSEN = range(int(os.environ.get("KNIFECAM_BEVEL_ORDERS", "0"))) or SAMPLE

SENSIBLE = (
    r"flute_length=\S+ mm is less than the \S+ mm wall",
    r"reach=\S+ mm is less than the \S+ mm it goes into",
    r"grind height=\S+ mm on side . is more than the blade's width",
    r"is cleared beside the edge to \S+ mm (above|into) the fixture",
    r"would be cleared beside an edge to \S+ mm (above|into) the fixture",
    r"recurve of radius \S+ mm is tighter than",
    r"plunge of radius=\S+ mm hollows side . to \S+ mm",
    r"no cutter serves stage",
    r"no entry for stage",
    r"plunge 1 does not cross the edge",
    r"room for \d tabs only",
    r"no stretch of the outline has \S+ mm for a tab",
    r"windows of \S+ mm in all take half the outline",
    r"corner=\S+ mm thickens the tab's root",
    r"bevels leave \S+ mm at .* of the outline, less than the land",
    r"leaves no helix",
    r"a bay near .* closes",
    r"life=\S+ min must be at least \S+ min, since one pass of",
    r"touches a slope of \S+ degrees \S+ mm from its axis, where it rubs",
    r"does not fit a plate of",
    r"outline crosses or touches itself at",
    r"the edge turns by \S+ degrees; its end tangents cross",
)
"""Reasons for which these orders may be refused."""


@pytest.mark.parametrize("index", CHOSEN)
def test_it_is_proved_or_refused_for_a_reason(index: int) -> None:
    order = random_bevel_order(index)
    try:
        refused = [*contradictions(order), *feasible(order)]
        if not refused:
            plan = lay_out(order)
    except PlanError as error:
        refused = list(error.lines)
    for line in refused:
        assert any(re.search(reason, line) for reason in SENSIBLE), line
    if refused:
        return
    texts = (write_program(order, plan, "A").text, write_program(order, plan, "B").text)
    judged = judge(order, texts, cell=0.4)
    found = [f"{f.kind} {f.side}{f.line}: {f.message}" for f in judged.verdict.findings]
    assert not found
    for bevel in judged.verdict.measures["bevels"]:
        assert abs(bevel["symmetry"] or 0.0) <= 2 * MICRON
        assert bevel["land"]["most_off"] <= 5 * MICRON
        for side in bevel["sides"].values():
            assert side["most_gouged"]["amount"] <= 1 * MICRON


def test_straight_ways_of_a_plunge_over_a_hollow_bevel_leave_no_higher_cusps() -> None:
    """A ball of 3 mm runs past a plunge over a hollow of radius 119 mm: its ways bridge it."""
    order = random_bevel_order(492)
    assert order.blade.bevels[0].profile == "hollow"
    plan = lay_out(order)
    texts = (write_program(order, plan, "A").text, write_program(order, plan, "B").text)
    assert judge(order, texts, cell=0.15).verdict.findings == ()


def test_a_ball_rolls_over_the_ridge_of_a_belly_beside_a_plunge() -> None:
    """Straight from one slope to the other it went 2.5 um below the ridge."""
    order = random_bevel_order(100)
    assert order.blade.bevels[0].profile == "convex"
    plan = lay_out(order)
    texts = (write_program(order, plan, "A").text, write_program(order, plan, "B").text)
    assert judge(order, texts, cell=0.1).verdict.findings == ()

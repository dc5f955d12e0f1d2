"""Bores and slots through bevels: made and proved, or refused beforehand with what would do."""

from __future__ import annotations

import os
from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import Bore
from knifecam.errors import OrderError, PlanError
from knifecam.judge.prove import judge
from knifecam.making import make
from knifecam.measure.measure_limits import WALL_MARGIN_MM
from knifecam.measure.measured_surfaces import off_openings
from knifecam.planning import lay_out
from knifecam.program import write_program
from knifecam.shop import Order
from tests.agreement.pierced_orders import pierced_order
from tests.agreement.test_guard_corners import guarded

PROVED = 1, 6, 15
"""A nose that goes over a slot, a bore's ground at the bevel's height, a skin opened in a bevel."""

SEEDS = range(40) if os.environ.get("KNIFECAM_ALL") else PROVED


def pierced(relief: float) -> Order:
    """Return a blade with a guard and a bore in its bevel, 7 mm from the edge, opened wider."""
    order = guarded(8.0)
    bore = Bore(name="B2", centre=(20.0, 7.0), diameter=5.0)
    blade = replace(order.blade, bores=(*order.blade.bores, bore))
    return replace(order, blade=blade, boring=replace(order.boring, oversize=relief))


@pytest.mark.parametrize("relief", [0.04, 0.5])
def test_a_bore_in_a_bevel_may_be_opened_wider(relief: float) -> None:
    """Side B opens it by the relief past the bevel's height, which was taken for a gouge."""
    assert make(pierced(relief)).verdict.findings == ()


def test_what_is_opened_wider_than_ordered_gouges_the_bevel() -> None:
    wider = pierced(0.3)
    plan = lay_out(wider)
    a, b = (write_program(wider, plan, side).text for side in "AB")
    found = judge(pierced(0.04), (a, b)).verdict.findings
    assert {f.kind for f in found} == {"gouge"}
    assert any("below bevel edge" in f.message for f in found)
    assert any("past the wall of B1" in f.message for f in found)


def test_a_bore_takes_of_the_bevel_what_its_side_opens() -> None:
    """2.5 mm, and on side B half the relief more; the bore met from both sides takes no relief."""
    order = pierced(0.3)
    ways = np.array([2.5, 2.5 + 2 * WALL_MARGIN_MM, 2.65, 2.65 + 2 * WALL_MARGIN_MM])
    points = np.column_stack([20.0 + ways, np.full(4, 7.0)])
    assert off_openings(order, points, "A").tolist() == [False, True, True, True]
    assert off_openings(order, points, "B").tolist() == [False, False, False, True]
    met = tuple(replace(bore, both_sides=True) for bore in order.blade.bores)
    order = replace(order, blade=replace(order.blade, bores=met))
    assert off_openings(order, points, "B").tolist() == [False, True, True, True]


@pytest.mark.parametrize("index", SEEDS)
def test_what_goes_through_a_bevel_is_proved_or_refused(index: int) -> None:
    order = pierced_order(index)
    try:
        made = make(order)
    except (PlanError, OrderError):
        assert index not in PROVED
        return
    assert made.verdict.findings == ()

"""Necked tabs from the order through both texts to the cut blade."""

from __future__ import annotations

import pytest

from knifecam.making import make
from knifecam.shop.tab_neck import neck_of, stress_raiser
from tests.agreement.details import necked


@pytest.fixture(scope="module", params=[0.0, 0.05], ids=["flat", "bull-nose"])
def made(request):
    return make(necked(corner=request.param))


def test_the_programs_are_proved(made):
    assert made.verdict.findings == ()


def test_the_cut_necks_are_what_was_planned(made):
    wanted = neck_of(made.order)
    for row in made.verdict.measures["tabs"]:
        assert row["thickness"] == pytest.approx([0.4, 0.4], abs=0.001)
        assert row["waist"] == pytest.approx(1.8, abs=0.02)
        neck = row["neck"]
        assert neck["thickness"] == pytest.approx(0.2, abs=0.001)
        assert neck["width"] == pytest.approx(wanted.width, abs=0.04)
        assert (
            wanted.stub - 1e-6 <= neck["stub_height"] <= wanted.stub + 0.02 + 1e-6
        )  # a sight further
        # a sight 0.02 mm off the wall sees the circle's chord there, 2 sqrt(0.5^2 - 0.48^2) less
        assert neck["at_wall"] == pytest.approx(wanted.at_wall - 0.28, abs=0.06)


def test_the_measured_neck_snaps_at_the_wall(made):
    """Width over raised stress is less at the wall than in the middle of the track."""
    foot = stress_raiser(0.2, 3.0, made.order.cutter(5).corner)
    slant = neck_of(made.order).mean - neck_of(made.order).width
    for bridge in made.judged.case.bridges:
        assert bridge.neck is not None
        at_wall = bridge.neck.at_wall + 0.28 + slant
        assert at_wall / foot <= bridge.neck.width + slant + 0.05
        low, high = (bridge.snapping(s) for s in (2500.0, 3500.0))
        planned = made.plan.tabs[0].moment
        assert (low, high) == pytest.approx(planned, rel=0.03)

"""Edge breaks from the order through both texts to the cut blade."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import EdgeBreak
from knifecam.making import make
from knifecam.shop import Hold
from tests.agreement.details import broken, chamfer_mill, jimped, top_stretch, with_cutter
from tests.agreement.orders import simple_order


def all_round(width: float = 0.3, angle: float = math.pi / 4) -> tuple[EdgeBreak, ...]:
    """Breaks of outline, bore and slot on both sides."""
    return tuple(
        EdgeBreak(name=f"E{k}", of=of, side=side, width=width, angle=angle)
        for k, of in enumerate(("outline", "B1", "S1"), start=1)
        for side in "AB"
    )


def screwed():
    order = broken(*all_round(0.25))
    hold = Hold(kind="bores", screws=("B1",), head_diameter=9.0, head_height=3.0)
    return replace(order, setup=replace(order.setup, hold=hold))


def between_notches():
    """Both sides of the upper edge beside jimping are broken, and the lower edge."""
    order = jimped()
    outline = order.blade.outline
    stretches = (top_stretch(outline, 1.0, -20.0), top_stretch(outline, 25.5, 21.5))
    breaks = tuple(
        EdgeBreak(name="E1", of="outline", side=side, width=0.25, stretches=stretches)
        for side in "AB"
    )
    order = replace(order, blade=replace(order.blade, breaks=breaks))
    return with_cutter(order, chamfer_mill(), "break")


ORDERS = {
    "all round": lambda: broken(*all_round()),
    "narrow, blunt mill": lambda: broken(*all_round(0.2), tip=1.0),
    "30 degrees": lambda: broken(*all_round(0.35, math.radians(30)), angle=math.radians(30)),
    "screwed": screwed,
    "beside jimping": between_notches,
}


@pytest.fixture(scope="module", params=ORDERS)
def made(request):
    return make(ORDERS[request.param](), cell=0.1)


def test_the_programs_are_proved(made):
    assert made.verdict.findings == ()


def test_every_break_is_as_wide_and_steep_as_ordered(made):
    rows = made.judged.case.breaks
    assert {(b.one.of, b.one.side) for b in rows} == {
        (one.of, one.side) for one in made.order.blade.breaks
    }
    for row in rows:
        assert row.within.any()
        assert row.widths[row.within] == pytest.approx(
            np.full(row.within.sum(), row.one.width), abs=0.002
        )
        assert row.angles[row.within] == pytest.approx(
            np.full(row.within.sum(), row.one.angle), abs=np.radians(0.2)
        )


def test_orders_without_breaks_are_planned_as_before():
    plain = make(simple_order(), cell=0.2)
    assert [c.name for c in plain.plan.side("B")] == [
        "BORES OPENED", "SLOTS OPENED", "OUTLINE TRENCH", "OUTLINE WALL",
    ]  # fmt: skip

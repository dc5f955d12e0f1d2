"""Edge breaks from the order through both texts to the cut blade."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from functools import partial

import numpy as np
import pytest

from knifecam.blade import EdgeBreak
from knifecam.curve import polyline
from knifecam.making import check, make
from knifecam.planning import lay_out
from knifecam.program import write_program
from knifecam.shop import Workholding
from tests.agreement.details import broken, chamfer_mill, jimped, top_stretch, with_cutter
from tests.agreement.orders import rounded, simple_order


def all_round(width: float = 0.3, angle: float = math.pi / 4) -> tuple[EdgeBreak, ...]:
    """Breaks of outline, bore and slot on both sides."""
    return tuple(
        EdgeBreak(name=f"E{k}", of=of, side=side, width=width, angle=angle)
        for k, of in enumerate(("outline", "B1", "S1"), start=1)
        for side in "AB"
    )


def screwed():
    order = broken(*all_round(0.25))
    hold = Workholding(kind="bores", screws=("B1",), head_diameter=9.0, head_height=3.0)
    return replace(order, setup=replace(order.setup, workholding=hold))


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


def sharp(side: str, of: str):
    """The upper edge has a square notch, the slot sharp corners: their cutters leave both round."""
    steep = math.radians(60)
    one = EdgeBreak(name="E1", of=of, side=side, width=0.2, angle=steep)
    order = broken(one, tip=0.1, angle=steep)
    corners = [(-30, -10), (30, -10), (30, 10), (3, 10), (3, 7), (-3, 7), (-3, 10), (-30, 10)]
    outline = polyline([(float(x), float(y)) for x, y in corners])
    slot = replace(order.blade.slots[0], outline=rounded(5, -3, 20, 3, 1e-4))
    blade = replace(order.blade, outline=outline, slots=(slot,), bores=())
    return replace(order, blade=blade, boring=replace(order.boring, oversize=0.1))


ORDERS = {
    "all round": lambda: broken(*all_round()),
    "narrow, blunt mill": lambda: broken(*all_round(0.2), tip=1.0),
    "30 degrees": lambda: broken(*all_round(0.35, math.radians(30)), angle=math.radians(30)),
    "screwed": screwed,
    "beside jimping": between_notches,
    **{
        f"sharp {of}, {side}": partial(sharp, side, of) for of in ("S1", "outline") for side in "AB"
    },
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


@pytest.mark.parametrize(("side", "of"), [("A", "S1"), ("B", "S1"), ("A", "outline")])
def test_a_break_that_cuts_across_an_inner_corner_is_found(side, of):
    """The cutter of radius 1.5 leaves arcs; on the chord of its own of 1.25 the cone stands 0.37 mm
    farther off in their middle, more than the break is wide."""
    order = sharp(side, of)
    plan, which = lay_out(order), "AB".index(side)
    texts = [write_program(order, plan, name).text for name in "AB"]
    begun, tail = texts[which].split("EDGE BREAKS", 1)
    turns = re.compile(r"G3 (X\S+ Y\S+) I(\S+) J(\S+)")

    def chord(arc: re.Match[str]) -> str:
        tight = 1.15 < math.hypot(float(arc[2]), float(arc[3])) < 1.3
        return f"G1 {arc[1]}" if tight else arc[0]

    texts[which] = begun + "EDGE BREAKS" + turns.sub(chord, tail)
    findings = check(order, (texts[0], texts[1])).verdict.findings
    told = [one for one in findings if "edge break E1" in one.message]
    assert [(one.kind, one.side) for one in told] == [("uncut", side)]

"""Cutters and stations that an order states are honoured, or refused beforehand by their key."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString

from knifecam.blade import Bore
from knifecam.blade.cutter_limits import least_wheel
from knifecam.curve import place_at
from knifecam.errors import KnifecamError
from knifecam.making import make
from knifecam.planning.bevel_cuts import bevel_passes_on
from knifecam.planning.cleared_cuts import keep_tabs_off
from knifecam.planning.cleared_stretches import cleared_stretches
from knifecam.planning.outline_cuts import clearing_lanes, side_outline
from knifecam.rules.rule_passes import contradictions
from knifecam.shop import Order, Workholding
from knifecam.shop.defaults import propose_cutter, propose_cutting
from knifecam.shop.side_view import SideContext, floors
from tests.agreement.bevel_blades import ordered, shop, straight_blade
from tests.agreement.bevelled import bevelled_order

LONG_LIFE = 600.0


def cleared_by(order: Order, kind: str, diameter: float, corner: float) -> Order:
    """Return the order with a cutter 9 that clears beside its edges, all living long."""
    added = propose_cutter(9, kind, diameter, corner=corner if kind == "bull-nose" else None)
    entry = replace(propose_cutting(added, "clear", blade=order.blade), life=LONG_LIFE)
    others = [replace(c, life=LONG_LIFE) for c in order.cutting if c.stage != "clear"]
    return replace(order, cutters=(*order.cutters, added), cutting=(*others, entry))


@pytest.mark.parametrize(
    ("kind", "diameter", "corner"),
    [("flat", 6.0, 0.0), ("bull-nose", 8.0, 0.2), ("bull-nose", 4.0, 0.25), ("flat", 1.5, 0.0)],
)
def test_a_stated_clearing_cutter_is_honoured(kind: str, diameter: float, corner: float) -> None:
    """A thick one left wedges at its lanes' ends: the trench's passes came down on them."""
    order = cleared_by(ordered(straight_blade(), shop()), kind, diameter, corner)
    made = make(order, cell=0.1)
    assert made.verdict.findings == ()
    assert {cut.cutter for cut in made.plan.cuts if cut.name == "CLEARED FOR BEVELS"} == {9}


def test_a_thin_clearing_cutter_opens_all_that_the_walls_passes_reach() -> None:
    """The finisher of 3 mm took 1.69 mm on both sides past the lanes, and 0.23 mm past the lap's lift."""
    order = cleared_by(bevelled_order(land=0.7), "bull-nose", 1.0, 0.1)
    assert make(order, cell=0.2).verdict.findings == ()


def test_a_thin_roughing_cutter_opens_beside_what_a_thick_clearing_one_left() -> None:
    """It stepped into the strip on the wall, a mean 0.09 mm deep where 0.06 is allowed (`slot-depth`)."""
    order = cleared_by(bevelled_order(land=0.7), "bull-nose", 4.0, 0.1)
    thin = replace(propose_cutter(10, "bull-nose", 2.0, corner=0.1), flute_length=3.2)
    entry = replace(propose_cutting(thin, "rough", blade=order.blade), life=LONG_LIFE)
    others = [c for c in order.cutting if c.stage != "rough"]
    order = replace(order, cutters=(*order.cutters, thin), cutting=(*others, entry))
    order = replace(order, trench=replace(order.trench, width=4.0))
    assert make(order, cell=0.2).verdict.findings == ()


def test_a_clearing_cutter_of_ten_millimetres_leaves_the_frame_or_is_refused() -> None:
    """Its one lane is wider than what the bevel's cutters sweep; the frame is counted from there."""
    order = cleared_by(bevelled_order(), "bull-nose", 10.0, 0.2)
    with pytest.raises(KnifecamError, match=r"plate: 7\.\d+ mm stay outside .* outline\.border="):
        make(order, cell=0.2)


def test_a_rounded_clearing_cutter_is_refused() -> None:
    """Its fillet, up to 1 mm high, was met in a slot."""
    order = cleared_by(ordered(straight_blade(), shop()), "bull-nose", 6.0, 1.0)
    with pytest.raises(KnifecamError, match=r'cutter 9 in stage "clear": corner=1\.000 mm'):
        make(order, cell=0.2)


@pytest.mark.parametrize(
    ("stage", "kind"),
    [("clear", "ball"), ("clear", "chamfer"), ("slot", "ball"), ("bore", "ball"),
     ("rough", "chamfer"), ("finish", "ball"), ("bevel-rough", "chamfer"), ("plunge-line", "flat")],
)  # fmt: skip
def test_a_kind_that_does_not_make_what_a_stage_wants_is_refused(stage: str, kind: str) -> None:
    order = bevelled_order()
    added = propose_cutter(9, kind, 3.0)
    entry = replace(propose_cutting(order.cutters[0], "rough"), cutter=9, stage=stage)
    order = replace(order, cutters=(*order.cutters, added), cutting=(*order.cutting, entry))
    assert any(
        f'cutting of cutter 9 in stage "{stage}": kind="{kind}"' in line
        for line in contradictions(order)
    )


def test_the_trench_beside_a_hollow_edge_comes_down_on_opened_ground() -> None:
    """A blade of 4 mm, hollow ground, screwed through its bores, round the corner of its tip.

    The lanes that open the edge end before the corner's arc, the trench's passes began within it.
    """
    blade = straight_blade(5.0, thickness=4.0)
    bevel = blade.bevels[0]
    wheel = round(1.3 * max(least_wheel(bevel, 4.0, side) for side in "AB"), 1)
    bores = tuple(
        Bore(name=name, centre=(x, 0.0), diameter=5.0) for name, x in (("B1", -45.0), ("B2", -15.0))
    )
    hollow = replace(bevel, profile="hollow", wheel=wheel)
    order = ordered(replace(blade, bevels=(hollow,), bores=bores), shop())
    order = replace(
        order, cutting=tuple(replace(c, life=LONG_LIFE) for c in order.cutting),
        setup=replace(
            order.setup, workholding=Workholding(kind="bores", screws=("B1", "B2"), head_diameter=8.0)
        ),
        tabs=replace(order.tabs, count=1),
    )  # fmt: skip
    assert make(order, cell=0.05).verdict.findings == ()


def test_no_tab_may_stand_where_a_lane_clears() -> None:
    """Against shapely: lanes as bands. A cutter of 10 mm clears 3.5 mm further than the trench's."""
    order = cleared_by(ordered(straight_blade(), shop(), border=30.0), "bull-nose", 10.0, 0.2)
    grounds = {
        s: [bevel_passes_on(SideContext(order=order, side=s), order.blade.bevels[0])] for s in "AB"
    }
    opened = cleared_stretches(order, grounds, floors(order).a_rough)
    outline, tabs = order.blade.outline, order.tabs
    kept = keep_tabs_off(order, opened).tabs.no_tabs
    reach = tabs.waist / 2 + tabs.thickness / math.tan(tabs.ramp_down) + 1.5
    seen = side_outline(SideContext(order=order, side="A"), opened)
    lanes = clearing_lanes(seen, seen.opened[0])
    swept = [LineString(curve.points(0.001)).buffer(5.0) for curve in lanes.curves]
    stations = np.arange(0.0, outline.length, 0.5)
    for station in stations:
        around = station + np.linspace(-reach, reach, 41)
        if any(stretch.holds(around, outline.length).any() for stretch in kept):
            continue
        near = station + np.linspace(-1, 1, 9) * tabs.waist / 2
        places, headings = place_at(outline, near)
        outward = np.stack([np.sin(headings), -np.cos(headings)], axis=1)
        for away in (0.1, 2.0, 3.8):
            line = LineString(places + away * outward)
            assert not any(band.intersects(line) for band in swept), station

"""One small blade with everything: bevels and plunge on both sides, jimping, edge breaks, necks."""

from __future__ import annotations

from dataclasses import replace

import pytest

from knifecam.blade import EdgeBreak
from knifecam.blade.jimping import fitted_row
from knifecam.curve import Stretch, station_of
from knifecam.making import make
from knifecam.order.build_details import flat_stretches
from knifecam.shop import Order
from tests.agreement.bevelled import bevelled_order
from tests.agreement.details import chamfer_mill, with_cutter
from tests.agreement.orders import cutter


def whole_blade() -> Order:
    """Return the bevelled blade with all details."""
    order = bevelled_order()
    blade, outline = order.blade, order.blade.outline
    start, end = (float(s) for s in station_of(outline, [(6.0, 8.0), (-6.0, 8.0)]))
    row = fitted_row(
        outline, Stretch(start=start, end=end), name="J1", diameter=2.5, depth=0.45, pitch=2.8
    )
    blade = replace(blade, jimping=(row,))
    breaks = [
        EdgeBreak(name="E1", of="outline", side=side, width=0.25,
                  stretches=flat_stretches(blade, side, 0.25))
        for side in "AB"
    ]  # fmt: skip
    breaks += [EdgeBreak(name="E2", of="B1", side=side, width=0.25) for side in "AB"]
    order = replace(
        order, blade=replace(blade, breaks=tuple(breaks)), tabs=replace(order.tabs, neck=0.2)
    )
    small = replace(cutter(7, diameter=1.0, corner=0.0), flute_length=1.5, neck=0.9, reach=6.0)
    order = with_cutter(order, replace(cutter(5, diameter=2.0), reach=8.0), "notch")
    return with_cutter(with_cutter(order, chamfer_mill(6), "break"), small, "neck")


@pytest.fixture(scope="module")
def made():
    return make(whole_blade())


def test_the_whole_blade_is_proved(made):
    assert made.verdict.findings == ()


def test_its_work_goes_in_the_bench_s_order(made):
    names = [c.name for c in made.plan.side("B")]
    order = (
        "BORES OPENED", "JIMPING OPENED", "OUTLINE GROOVE", "EDGE BREAKS", "CLEARED FOR BEVELS",
        "BEVELS FINISHED", "OUTLINE TRENCH", "OUTLINE WALL", "NECKS OF THE TABS",
    )  # fmt: skip
    places = [names.index(name) for name in order]
    assert places == sorted(places)
    a = [c.name for c in made.plan.side("A")]
    assert a.index("JIMPING") < a.index("OUTLINE TRENCH") < a.index("EDGE BREAKS")
    assert a.index("EDGE BREAKS") < a.index("BEVELS ROUGHED")


def test_breaks_stay_off_the_bevel_and_the_jimping(made):
    blade = made.order.blade
    whole = blade.outline.length
    for one in blade.breaks:
        for stretch in one.stretches:
            assert not stretch.holds(blade.jimping[0].stretch.start, whole)
            assert not stretch.holds((blade.bevels[0].edge.start + 10.0) % whole, whole)
    for row in made.judged.case.breaks:
        assert row.widths[row.within] == pytest.approx(row.one.width, abs=0.002)

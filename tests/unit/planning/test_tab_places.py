"""Tabs: where they stand, and where the axis stops beside them."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely

from knifecam.blade import Bore
from knifecam.curve import Stretch, circle, place_at, polyline, rectangle, station_of
from knifecam.curve.motions import sampled
from knifecam.errors import PlanError
from knifecam.planning import lay_out
from knifecam.planning.tab_places import place_tabs, reaches, tangent_beside, window_on
from knifecam.quantity import told
from knifecam.rules.rule_passes import feasible
from knifecam.rules.workholding_rules import holding, wanted_count
from knifecam.shop import Workholding
from knifecam.shop.defaults import tab_count
from tests.agreement.orders import rounded, simple_order


def test_a_flat_end_reaches_its_radius():
    order = simple_order(corner=0.0)
    assert reaches(order.cutter(1), np.radians(45), np.radians(20)) == pytest.approx((1.5, 1.5))


def test_a_corner_radius_reaches_as_its_envelope_does():
    """The lowest places of a torus moving at a slope, by brute force."""
    order = simple_order(corner=0.3)
    cutter = order.cutter(1)
    rise, ramp_down = np.radians(45), np.radians(20)
    for slope, reach in zip((rise, ramp_down), reaches(cutter, rise, ramp_down), strict=True):
        back = np.linspace(0, 1.0, 200_001)  # how far the axis is from the window's end
        depth = back * np.tan(slope)  # how far its tip is below the window there
        section = (
            cutter.radius
            - cutter.corner
            + np.sqrt(np.maximum(cutter.corner**2 - np.maximum(cutter.corner - depth, 0) ** 2, 0))
        )
        assert (section - back).max() == pytest.approx(reach, abs=1e-6)


def test_the_axis_stops_a_waist_and_two_radii_apart_on_straight_and_bent_tracks():
    order = simple_order(corner=0.0)
    for track in (rectangle(0, 0, 100, 50).clockwise(), circle((0, 0), 120).clockwise()):
        place = place_at(track, 40.0)[0][0]
        tangent = tangent_beside(track.counter_clockwise(), place)
        window = window_on(track, place, tangent, order, order.cutter(1), -1.0)
        ends = place_at(track, [window.start, window.end])[0]
        assert np.hypot(*(ends[1] - ends[0])) == pytest.approx(1.5 + 3.0, abs=1e-9)


def test_tabs_keep_off_the_stretches_they_must():
    order = simple_order()
    whole = order.blade.outline.length
    kept = (Stretch(start=0.0, end=0.45 * whole),)
    order = replace(order, tabs=replace(order.tabs, count=2, no_tabs=kept))
    tabs, _ = place_tabs(order, 4.0)
    assert len(tabs) == 2
    assert all(t.station > 0.45 * whole + 4.0 - 0.5 for t in tabs)


def test_a_tab_without_room_is_moved_with_a_message():
    order = simple_order()
    corner = order.blade.outline.stations[1] - 2.0  # 2 mm before a rounded corner of radius 4
    order = replace(order, tabs=replace(order.tabs, stations=(float(corner),)))
    tabs, notes = place_tabs(order, 4.0)
    assert len(tabs) == 1
    assert "has no room there; moved to" in notes[0]


def test_a_tab_with_room_only_far_off_is_refused_with_where_the_nearest_is():
    """A rectangle 60 x 24 mm: from the square corner at (60, 0) on, 9 mm are kept free."""
    order = simple_order()
    blade = replace(order.blade, outline=rectangle(0.0, 0.0, 60.0, 24.0), slots=())
    kept = (Stretch(start=60.0, end=69.0),)
    tabs = replace(order.tabs, stations=(30.0, 61.0), no_tabs=kept)
    with pytest.raises(PlanError) as refused:
        place_tabs(replace(order, blade=blade, tabs=tabs), 4.0)
    (line,) = refused.value.lines
    assert line.startswith("tabs.stations[2]=61.00 mm, at (60.00, 1.00), has no room for a tab")
    # 4 mm before the corner, or 4 mm past what is kept free; 0.5 mm apart are looked at
    found = re.search(r"the nearest that has is station (\S+) mm, at \((\S+), (\S+)\)", line)
    station, x, y = (float(word) for word in found.groups())
    assert station == pytest.approx(55.5, abs=0.51)
    assert (x, y) == (pytest.approx(station, abs=0.01), 0.0)


def test_a_tab_beside_another_is_refused_too():
    order = simple_order()
    blade = replace(order.blade, outline=rectangle(0.0, 0.0, 60.0, 24.0), slots=())
    tabs = replace(order.tabs, stations=(30.0, 31.0))
    with pytest.raises(
        PlanError, match=r"tabs\.stations\[2\]=31\.00 mm, .* wants 4\.0 mm of gentle"
    ):
        place_tabs(replace(order, blade=blade, tabs=tabs), 4.0)


def test_too_many_tabs_are_refused_with_what_would_do():
    order = simple_order()
    order = replace(order, tabs=replace(order.tabs, count=24))
    with pytest.raises(
        PlanError,
        match=r"tabs.count=24: room for 10 tabs only, at \(30\.00, .* order tabs.count=10, a smaller",
    ):
        place_tabs(order, 4.0)


def test_no_stretch_at_all_is_refused():
    order = simple_order()
    order = replace(order, blade=replace(order.blade, outline=circle((0, 0), 22)))
    with pytest.raises(PlanError, match="no stretch of the outline has"):
        place_tabs(order, 4.0)


def long_blade(*, length=230.0, **changes):
    """A plain blade 24 mm wide; ``changes`` are those of its tabs."""
    order = simple_order()
    blade = replace(order.blade, outline=rounded(0, 0, length, 24, 4), slots=())
    return replace(order, blade=blade, tabs=replace(order.tabs, **changes))


def held_by(order, *screws, **changes):
    hold = Workholding(kind="bores", screws=screws, head_diameter=9.0, **changes)
    return replace(order, setup=replace(order.setup, workholding=hold))


def refusals(order):
    return tuple(map(told, holding(order)))


def test_the_number_of_tabs_is_the_orders_whatever_else_holds():
    order = simple_order()
    for count in (0, 1, 3):
        tabbed = replace(order, tabs=replace(order.tabs, count=count))
        assert wanted_count(tabbed) == wanted_count(held_by(tabbed, "B1")) == count
    stations = (66.0, 140.0)  # on the short sides, at x = 30 and x = -30
    given = held_by(replace(order, tabs=replace(order.tabs, stations=stations)), "B1")
    tabs, notes = place_tabs(given, 4.0)
    assert [tab.place[0] for tab in tabs] == pytest.approx([30.0, -30.0])
    assert notes == ()


def test_no_tab_at_all_is_refused_unless_screws_hold_safely():
    bores = (
        Bore(name="B1", centre=(12.0, 12.0), diameter=5.0),
        Bore(name="B2", centre=(30.0, 12.0), diameter=5.0),
    )
    none = long_blade(length=60.0, count=0)
    none = replace(none, blade=replace(none.blade, bores=bores))
    assert 'tabs.count=0 with workholding.kind="tabs" leaves nothing' in refusals(none)[0]
    one = refusals(held_by(none, "B1"))
    assert "the blade turns about its only screw, in bore 'B1'" in one[0]
    # the far corners are arcs of 4 mm about (56, 20) and (56, 4): hypot(44, 8) + 4 = 48.721,
    # read at chords 0.01 mm within the arc
    assert re.search(r"the far end, at \(59\.\d\d, \d+\.\d\d\), hangs out 48\.717 mm", one[1])
    # from B2 hypot(26, 8) + 4 = 31.2, more than 10 x 3
    two = refusals(held_by(none, "B1", "B2"))
    assert len(two) == 1
    assert "more than 10 thicknesses, 30.0 mm; order tabs.count = 1" in two[0]
    assert refusals(held_by(none, "B1", "B2", tip_clamp=True)) == ()
    assert refusals(held_by(none, "B1", tip_clamp=True)) == ()
    assert refusals(held_by(replace(none, tabs=replace(none.tabs, count=1)), "B1")) == ()
    near = replace(none, blade=replace(none.blade, outline=rounded(0, 0, 50, 24, 4)))
    assert refusals(held_by(near, "B1", "B2")) == ()


def test_one_tab_is_a_hinge_for_a_long_blade():
    assert "one tab holds a blade 230.0 mm long like a hinge" in refusals(long_blade(count=1))[0]
    assert refusals(long_blade(count=1, stations=(5.0,)))
    assert refusals(long_blade(count=1, length=59.0)) == ()
    assert refusals(long_blade(count=2)) == ()


def test_tabs_that_stand_together_are_a_hinge_too():
    """Stations run along the lower edge of a blade 230 mm long, so apart is apart along it."""
    together = long_blade(stations=(100.0, 125.0))
    where = r"from \(104\.00, 0\.00\), \(129\.00, 0\.00\)"
    with pytest.raises(PlanError, match=f"all 2 tabs stand together and hold a blade 230.*{where}"):
        place_tabs(together, 4.0)
    clamp = replace(
        together, setup=replace(together.setup, workholding=Workholding(tip_clamp=True))
    )
    assert place_tabs(clamp, 4.0)[1] == ()


def test_an_end_that_hangs_out_far_is_refused_and_a_wide_gap_noted():
    with pytest.raises(
        PlanError,
        match=r"hangs out 1\d\d\.\d+ mm beyond the last tab, more than 90 mm: that at \(230\.00, ",
    ):
        place_tabs(long_blade(stations=(20.0, 100.0)), 4.0)
    tabs, notes = place_tabs(long_blade(stations=(20.0, 190.0)), 4.0)
    assert len(tabs) == 2
    assert tuple(map(told, notes)) == (
        "tabs stand up to 170 mm apart along the blade; 60 mm is stiff, so fill the grooves well,"
        " or order more tabs",
    )


@pytest.mark.parametrize("length", [70.0, 119.0, 180.0, 259.0, 300.0, 460.0, 700.0])
@pytest.mark.parametrize("kept", [False, True])
def test_by_default_tabs_stand_near_enough(length, kept):
    """Also where one long edge is kept free; along the blade no gap is wider than 90 mm."""
    order = long_blade(length=length, count=tab_count(length))
    if kept:
        edge = (Stretch(start=0.0, end=length - 8.0),)
        order = replace(order, tabs=replace(order.tabs, no_tabs=edge))
    tabs, notes = place_tabs(order, 4.0)
    assert notes == ()
    assert len(tabs) == tab_count(length)
    x = np.sort([tab.place[0] for tab in tabs])
    assert np.diff(x).max() <= 90.0
    assert max(x[0], length - x[-1]) <= 30.0


def dovetailed(angle, station):
    """A plain blade with a notch in its lower edge, its sides ``angle`` rad from its ground.

    A tab is ordered ``station`` mm from the notch's inner corner at (12, -4).
    """
    order = simple_order(corner=0.0)
    out = 11.0 / math.tan(angle)
    corners = [(-40, -15), (-12 + out, -15), (-12, -4), (12, -4), (12 - out, -15), (40, -15), (40, 15),
               (-40, 15)]  # fmt: skip
    outline = polyline([(float(x), float(y)) for x, y in corners])
    at = float(station_of(outline, [(12.0, -4.0)])[0]) + station
    tabs = replace(
        order.tabs, stations=(at, 110.0), ramp_up=math.radians(60), ramp_down=math.radians(25)
    )
    blade = replace(order.blade, outline=outline, bores=(), slots=())
    return replace(order, blade=blade, tabs=tabs)


@pytest.mark.parametrize("angle", [60, 70, 80, 90, 110, 130])
def test_no_pass_comes_to_a_tab_round_an_inner_corner(angle):
    """By shapely: a tab of the ordered waist across the trench, and all passes below its own height."""
    order = dovetailed(math.radians(angle), 3.0)
    plan = lay_out(order)
    low, turn = -plan.floors.tab, np.array([1.0, -1.0])
    for tab in plan.tabs:
        along = np.array([math.cos(tab.heading), math.sin(tab.heading)])
        across = np.array([along[1], -along[0]])
        half, place = tab.waist / 2 - 0.01, np.array(tab.place)
        corners = [
            (place + a * along + b * across) * turn
            for a, b in ((-half, 0), (half, 0), (half, 3.2), (-half, 3.2))
        ]
        for cut in (c for c in plan.side("B") if c.name.startswith("OUTLINE")):
            m, cutter = cut.motions, order.cutter(cut.cutter)
            deep = np.flatnonzero(np.maximum(m.start[:, 2], m.stop[:, 2]) < low - 1e-6)
            level = type(m)(*(getattr(m, name)[deep] for name in m.__dataclass_fields__))
            axes = shapely.points(sampled(level, 0.02)[:, :2])
            room = shapely.distance(axes, shapely.Polygon(corners)).min(initial=np.inf)
            assert room >= cutter.radius - 0.005, (tab.station, cut.name)


def test_a_tab_without_room_beside_an_inner_corner_is_told_a_station_that_has():
    order = dovetailed(math.radians(60), 2.5)
    with pytest.raises(PlanError, match="has no room for a tab") as caught:
        lay_out(order)
    there = float(re.search(r"station (\d+\.\d+)", told(caught.value.lines[0]))[1])
    ordered = replace(order, tabs=replace(order.tabs, stations=(there, 110.0)))
    assert [tab.station for tab in lay_out(ordered).tabs] == pytest.approx([there, 110.0])


@pytest.mark.parametrize(
    ("thickness", "waist", "least"),
    [(0.25, 0.1, "tabs.waist=0.27 mm"), (0.25, 0.27, None), (0.3, 0.05, "tabs.waist=0.07 mm"),
     (0.45, 0.1, None)],
)  # fmt: skip
def test_tabs_too_narrow_to_hold_are_refused(thickness, waist, least):
    """Side B's Z may be 0.03 off: at 0.22 mm flanks of 45 and 20 degrees widen a waist of 0.267 by
    0.824: 2500 x 0.0484 (0.267^2 + 4 x 0.267 x 1.091 + 1.091^2) / 12 (0.267 + 2 x 1.091) = 10.0 N mm.
    """
    order = simple_order(corner=0.05)
    tabs = replace(order.tabs, thickness=thickness, waist=waist)
    lines = [told(line) for line in feasible(replace(order, tabs=tabs)) if "too weak" in line]
    assert len(lines) == (least is not None)
    assert all(f"order {least} or more" in line for line in lines)

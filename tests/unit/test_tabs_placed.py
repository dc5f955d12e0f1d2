"""Tabs: where they stand, and where the axis stops beside them."""

from dataclasses import replace

import numpy as np
import pytest

from knifecam.curve import Stretch, circle, place_at, rectangle
from knifecam.errors import PlanError
from knifecam.planning.tabs import (
    place_tabs,
    reaches,
    tangent_beside,
    wanted_count,
    window_on,
)
from knifecam.shop import Hold
from tests.agreement.orders import simple_order


def test_a_flat_end_reaches_its_radius():
    order = simple_order(corner=0.0)
    assert reaches(order.cutter(1), np.radians(45), np.radians(20)) == pytest.approx((1.5, 1.5))


def test_a_corner_radius_reaches_as_its_envelope_does():
    """The lowest places of a torus moving at a slope, by brute force."""
    order = simple_order(corner=0.3)
    cutter = order.cutter(1)
    rise, descent = np.radians(45), np.radians(20)
    for slope, reach in zip((rise, descent), reaches(cutter, rise, descent), strict=True):
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
    order = replace(order, tabs=replace(order.tabs, count=2, keep_off=kept))
    tabs, _ = place_tabs(order, 4.0)
    assert len(tabs) == 2
    assert all(t.station > 0.45 * whole + 4.0 - 0.5 for t in tabs)


def test_a_tab_without_room_is_moved_with_a_message():
    order = simple_order()
    corner = order.blade.outline.stations[1] + 3.0  # in a rounded corner of radius 4
    order = replace(order, tabs=replace(order.tabs, stations=(float(corner),)))
    tabs, notes = place_tabs(order, 4.0)
    assert len(tabs) == 1
    assert "has no room there; moved to" in notes[0]


def test_too_many_tabs_are_refused_with_what_would_do():
    order = simple_order()
    order = replace(order, tabs=replace(order.tabs, count=60))
    with pytest.raises(PlanError, match="order fewer tabs, a smaller waist"):
        place_tabs(order, 4.0)


def test_no_stretch_at_all_is_refused():
    order = simple_order()
    order = replace(order, blade=replace(order.blade, outline=circle((0, 0), 22)))
    with pytest.raises(PlanError, match="no stretch of the outline has"):
        place_tabs(order, 4.0)


def test_screws_need_a_tip_tab_only_beyond_ten_thicknesses():
    order = simple_order()
    near = replace(order, setup=replace(order.setup, hold=Hold(kind="bores", screws=("B1",))))
    assert wanted_count(near) == 1  # 45 mm from the bore to the far corner, T 3
    clamped = replace(
        order, setup=replace(order.setup, hold=Hold(kind="bores", screws=("B1",), tip_clamp=True))
    )
    assert wanted_count(clamped) == 0


def test_of_stations_a_screwed_blade_takes_the_one_nearest_to_its_tip():
    order = simple_order()
    hold = Hold(kind="bores", screws=("B1",), head_diameter=9.0)
    stations = (66.0, 140.0)  # on the short sides, at x = 30 and x = -30
    order = replace(
        order,
        setup=replace(order.setup, hold=hold),
        tabs=replace(order.tabs, stations=stations),
    )
    tabs, notes = place_tabs(order, 4.0)
    assert [tab.place[0] for tab in tabs] == pytest.approx([30.0])  # the bore is at x = -15
    assert notes == (
        "screws hold the blade: of the tabs' stations only 66.00 mm, nearest to the tip, is taken",
    )

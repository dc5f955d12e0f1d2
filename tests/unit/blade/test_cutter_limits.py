"""Limits with hand-worked numbers, and brute force where a formula was derived here."""

import math
from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import Bevel, Blade, Bore, EdgeBreak, Slot
from knifecam.blade.cutter_limits import (
    chamfer_axis,
    contact_arm,
    effective_plunge_radius,
    gentlest,
    greatest_recurve_cutter,
    greatest_sag,
    inner_corner,
    least_recurve,
    least_wheel,
    recurve,
    steepest_edge,
)
from knifecam.curve import Stretch, polyline, rectangle

FIVE = math.radians(5)
PLATE = rectangle(0, 0, 100, 30)
BEVEL = Bevel(name="V", edge=Stretch(start=0, end=100), angle=math.atan(1.3 / 15), land=0.4)
BLADE = Blade(outline=PLATE, thickness=3.0, bevels=(BEVEL,))


def underside(radius, corner, arm):
    """Height of a cutter's end at ``arm`` from its axis."""
    out = np.maximum(np.abs(arm) - (radius - corner), 0.0)
    return corner - np.sqrt(np.maximum(corner**2 - out**2, 0.0))


@pytest.mark.parametrize("cutter", [(3.0, 1.0), (2.0, 0.5), (3.0, 3.0), (3.0, 1e-9)])
@pytest.mark.parametrize("angle_deg", [1.5, 5, 12, 25])
def test_the_contact_arm_is_where_a_dropped_cutter_touches_a_slope(cutter, angle_deg):
    radius, corner = cutter
    arm = np.linspace(-radius, radius, 400_001)
    lack = arm * math.tan(math.radians(angle_deg)) - underside(radius, corner, arm)
    touch = arm[np.argmax(lack)]
    assert contact_arm(radius, corner, math.radians(angle_deg)) == pytest.approx(touch, abs=5e-4)


def test_the_recurve_limit_of_a_6_mm_cutter_with_corner_1_at_5_degrees():
    assert least_recurve(3.0, 1.0, FIVE) == pytest.approx(2.0872, abs=5e-5)
    assert greatest_recurve_cutter(least_recurve(3.0, 1.0, FIVE), 1.0, FIVE) == pytest.approx(3.0)


def test_a_bull_nose_of_6_mm_with_corner_05_acts_like_29_mm_along_a_plunge_at_5_degrees():
    """design.md's figure."""
    assert effective_plunge_radius(3.0, 0.5, FIVE) == pytest.approx(29.18, abs=0.005)
    assert effective_plunge_radius(2.0, 2.0, FIVE) == pytest.approx(2.0)


@pytest.mark.parametrize(("radius", "corner"), [(3.0, 0.5), (3.0, 1.0), (2.0, 2.0)])
def test_the_effective_radius_is_that_of_the_groove_a_cutter_leaves(radius, corner):
    """Tips run up a slope; the groove's lowest points across the travel lie on a circle's cap."""
    a = math.radians(8)
    across = np.array([0.02, 0.05])
    floors = []
    for x in (0.0, *across):
        along = np.linspace(-radius, radius, 200_001)
        reach = np.hypot(along, x)
        inside = reach <= radius
        z = underside(radius, corner, reach[inside]) - along[inside] * math.tan(a)
        floors.append(z.min())
    rise = (np.array(floors[1:]) - floors[0]) * math.cos(a)
    got = across**2 / 2 / rise
    assert got == pytest.approx(effective_plunge_radius(radius, corner, a), rel=2e-3)


def test_the_wheel_of_a_hollow_is_more_than_h_over_sin_2a():
    # tan a = 13 / 150, sin 2a = 2 tan / (1 + tan^2) = 0.172041; 15 / 0.172041 = 87.1885
    assert least_wheel(BEVEL, 3.0, "A") == pytest.approx(87.1885, abs=0.0005)


def test_the_sag_of_a_convex_bevel_is_less_than_half_the_chord_times_tan_half_a():
    # chord 15.0562, tan(a / 2) = (sqrt(1 + tan^2) - 1) / tan = 0.043252
    assert greatest_sag(BEVEL, 3.0, "A") == pytest.approx(7.5281 * 0.043252, abs=5e-5)


def test_a_chamfer_mill_s_axis_stands_off_by_tip_and_run():
    assert chamfer_axis(0.1, 0.3, math.radians(45)) == pytest.approx(0.4)
    assert chamfer_axis(0.5, 0.4, math.radians(30)) == pytest.approx(0.7309, abs=5e-5)


def test_a_recurve_is_the_tightest_bend_away_from_the_blade():
    bay = polyline([(0, 0), (40, 0), (70, 0), (100, 0), (100, 30), (0, 30)],
                   bulges=[0, -0.2, 0, 0, 0, 0])  # fmt: skip
    smooth = Stretch(start=40.0, end=float(bay.stations[2]))
    one = replace(BEVEL, edge=smooth)
    assert recurve(one, replace(BLADE, outline=bay)) == pytest.approx(30 * 1.04 / 0.8)
    assert recurve(BEVEL, BLADE) == math.inf


def test_inner_corners_are_seen_from_the_waste():
    ell = polyline([(0, 0), (100, 0), (100, 10), (40, 10), (40, 30), (0, 30)])
    blade = replace(
        BLADE,
        outline=ell,
        bores=(Bore(name="B", centre=(20, 20), diameter=5.0),),
        slots=(Slot(name="S", outline=rectangle(5, 15, 10, 18)),),
    )
    broken = EdgeBreak(name="E", of="outline", side="A", width=0.3)
    assert inner_corner(broken, blade) == 0.0
    before = replace(broken, stretches=(Stretch(start=105, end=165),))
    assert inner_corner(before, blade) == math.inf
    assert inner_corner(replace(broken, of="B"), blade) == pytest.approx(2.5)
    assert inner_corner(replace(broken, of="S"), blade) == 0.0


def test_the_steepest_edge_and_the_gentlest_slope_of_a_profile():
    hollow = replace(BEVEL, profile="hollow", wheel=100.0)
    half = math.asin(math.hypot(15, 1.3) / 200)
    assert steepest_edge(hollow, 3.0) == pytest.approx(BEVEL.angle - half)
    assert gentlest(hollow, 3.0) == pytest.approx(BEVEL.angle - half)
    convex = replace(BEVEL, profile="convex", sag=0.2)
    assert steepest_edge(convex, 3.0) > BEVEL.angle > gentlest(convex, 3.0)
    assert gentlest(BEVEL, 3.0) == pytest.approx(BEVEL.angle)

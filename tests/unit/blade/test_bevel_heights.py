"""Profiles against points worked out by hand."""

import math

import numpy as np
import pytest

from knifecam.blade import Bevel, edge_height, grind_height, height_at, slope_at
from knifecam.blade.bevel_geometry import edge_angle, grind_angle
from knifecam.curve import Stretch

ANGLE = math.atan(1.3 / 15)
NM = 1e-6


def bevel(**figures):
    usual = {"name": "V", "edge": Stretch(start=0, end=100), "angle": ANGLE, "land": 0.4}
    return Bevel(**{**usual, **figures})


def test_the_land_s_borders_lie_half_the_land_from_its_middle():
    moved = bevel(edge_at=0.3)
    assert edge_height(moved, "A") == pytest.approx(0.5)
    assert edge_height(moved, "B") == pytest.approx(-0.1)
    with pytest.raises(ValueError, match="side='C'"):
        edge_height(moved, "C")


def test_a_flat_profile_is_a_line_everywhere():
    d = np.array([-3.0, 0.0, 7.5, 15.0, 20.0])
    want = 0.2 + d * 1.3 / 15
    np.testing.assert_allclose(height_at(bevel(), 3.0, "A", d), want, atol=NM)
    np.testing.assert_allclose(slope_at(bevel(), 3.0, "A", d), 1.3 / 15, atol=NM)


def test_one_sided_bevels_have_their_own_height_on_each_side():
    chisel = bevel(sides="A", edge_at=-1.3, land=0.4)
    assert grind_height(chisel, 3.0, "A") == pytest.approx(2.6 / math.tan(ANGLE))
    assert grind_height(chisel, 3.0, "A") == pytest.approx(30.0)
    assert chisel.on("A")
    assert not chisel.on("B")


def circle_through(chord_start, chord_end, radius, above):
    """Centre of the circle of ``radius`` over a chord, by the perpendicular bisector."""
    (x0, y0), (x1, y1) = chord_start, chord_end
    length = math.hypot(x1 - x0, y1 - y0)
    up = np.array([-(y1 - y0), x1 - x0]) / length
    middle = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    return middle + (1 if above else -1) * up * math.sqrt(radius**2 - length**2 / 4)


@pytest.mark.parametrize("wheel", [90.0, 150.0, 1e5, 1e8])
def test_a_hollow_is_an_arc_of_the_wheel_between_edge_and_flat(wheel):
    hollow = bevel(profile="hollow", wheel=wheel)
    d = np.linspace(0, 15, 31)
    h = height_at(hollow, 3.0, "A", d)
    assert h[[0, -1]] == pytest.approx([0.2, 1.5], abs=1e-12)
    if wheel < 1e4:
        centre = circle_through((0, 0.2), (15, 1.5), wheel, True)
        np.testing.assert_allclose(np.hypot(d - centre[0], h - centre[1]), wheel, atol=1e-9)
    # sagitta c^2 / 8R of a flat arc, plumb under the chord's middle: over cos a
    sagitta = (15**2 + 1.3**2) / 8 / wheel / math.cos(ANGLE)
    assert h[15] == pytest.approx(0.85 - sagitta, abs=max(2e-3 * sagitta, 1e-12))


def test_a_convex_profile_rises_by_its_sag_over_the_chord():
    convex = bevel(profile="convex", sag=0.2)
    chord = math.hypot(15, 1.3)
    radius = (chord**2 / 4 + 0.04) / 0.4
    assert radius == pytest.approx(141.78125)  # by hand: (56.6725 + 0.04) / 0.4
    centre = circle_through((0, 0.2), (15, 1.5), radius, False)
    d = np.linspace(0, 15, 31)
    h = height_at(convex, 3.0, "B", d)
    np.testing.assert_allclose(np.hypot(d - centre[0], h - centre[1]), radius, atol=1e-9)
    foot = 7.5 - 0.2 * math.sin(ANGLE)  # the arc's top over the chord's middle
    assert height_at(convex, 3.0, "B", foot) == pytest.approx(0.85 + 0.2 * math.cos(ANGLE), abs=NM)


@pytest.mark.parametrize("figures", [{"profile": "hollow", "wheel": 120.0},
                                     {"profile": "convex", "sag": 0.25}])  # fmt: skip
def test_arcs_go_on_by_their_end_tangents(figures):
    bent = bevel(**figures)
    d = np.array([-4.0, -1.0, 15.0 + 1.0, 15.0 + 5.0])
    h, slope = height_at(bent, 3.0, "A", d), slope_at(bent, 3.0, "A", d)
    first, last = math.tan(edge_angle(bent, 3.0, "A")), math.tan(grind_angle(bent, 3.0, "A"))
    np.testing.assert_allclose(
        h, [0.2 - 4 * first, 0.2 - first, 1.5 + last, 1.5 + 5 * last], atol=1e-12
    )
    np.testing.assert_allclose(slope, [first, first, last, last], atol=1e-12)
    assert (h[2:] > 1.5).all()


def test_end_tangents_stand_at_the_arc_s_half_angle_to_the_chord():
    hollow = bevel(profile="hollow", wheel=100.0)
    half = math.asin(math.hypot(15, 1.3) / 200)
    assert math.degrees(half) == pytest.approx(4.3175, abs=0.0005)
    assert edge_angle(hollow, 3.0, "A") == pytest.approx(ANGLE - half, abs=1e-12)
    assert grind_angle(hollow, 3.0, "A") == pytest.approx(ANGLE + half, abs=1e-12)


@pytest.mark.parametrize(
    ("figures", "message"),
    [
        (
            {"profile": "hollow", "wheel": 87.0},
            "wheel=87.0 mm dips below the edge; use more than 87.18",
        ),
        ({"profile": "convex", "sag": 0.33}, "below 0.3256 mm"),
        ({"profile": "convex", "sag": 0.0}, "must be above 0"),
    ],
)
def test_profiles_that_do_not_rise_all_the_way_are_refused(figures, message):
    for ask in (height_at, slope_at):
        with pytest.raises(ValueError, match=message):
            ask(bevel(**figures), 3.0, "A", [1.0])


def test_profiles_just_inside_the_limit_rise_all_the_way():
    for figures in ({"profile": "hollow", "wheel": 87.3}, {"profile": "convex", "sag": 0.325}):
        assert (slope_at(bevel(**figures), 3.0, "A", np.linspace(-5, 20, 200)) > 0).all()

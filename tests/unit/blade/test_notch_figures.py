"""Rows of notches: mouths, lands and fits worked out by hand."""

import math

import numpy as np
import pytest

from knifecam.blade.blade_limits import LEAST_NOTCH_LAND_MM
from knifecam.blade.jimping import axes, fitted_row, land_between, least_land, mouths
from knifecam.curve import Stretch, circle, distance, rectangle

PLATE = rectangle(0, 0, 100, 30)
BACK = Stretch(start=150, end=180)
NOTCH = {"name": "J", "diameter": 2.5, "depth": 0.45, "pitch": 2.7}


def test_a_notch_goes_its_depth_into_the_blade():
    (centre,) = axes(PLATE, np.array([150.0]), diameter=2.5, depth=0.45)
    assert centre == pytest.approx((80.0, 30.8))
    assert distance([centre], PLATE)[0] == pytest.approx(1.25 - 0.45)


def test_a_mouth_on_a_straight_back_is_a_chord():
    (ends,) = mouths(PLATE, np.array([150.0]), diameter=2.5, depth=0.45)
    half = math.sqrt(0.45 * (2.5 - 0.45))  # 0.96047
    assert half == pytest.approx(0.96047, abs=5e-6)
    assert ends == pytest.approx([150 - half, 150 + half], abs=1e-9)


def test_a_mouth_on_a_round_back_follows_the_two_circles():
    outline = circle((0, 0), 40.0)
    (ends,) = mouths(outline, np.array([10.0]), diameter=2.5, depth=0.45)
    far = 20 + 0.8
    half = 20 * math.acos((20**2 + far**2 - 1.25**2) / (2 * 20 * far))
    assert ends == pytest.approx([10 - half, 10 + half], abs=1e-6)


def test_diameter_1_5_depth_0_5_pitch_1_6_leaves_0_19():
    """bench.md's example of teeth that chip: 1.6 - 2 sqrt(0.5 x 1.0) = 0.1858."""
    land = least_land(PLATE, np.array([150.0, 151.6]), diameter=1.5, depth=0.5)
    assert land == pytest.approx(0.19, abs=0.005)


def test_a_row_fills_its_stretch_from_mouth_to_mouth():
    row = fitted_row(PLATE, BACK, **NOTCH)
    half = math.sqrt(0.45 * 2.05)
    room = 30 - 2 * half
    assert len(row.centres) == round(room / 2.7) + 1 == 11
    assert row.pitch == pytest.approx(room / 10)
    assert row.centres[0] == pytest.approx((80 - half, 30.8))
    assert row.centres[-1] == pytest.approx((50 + half, 30.8))
    assert land_between(row, PLATE) == pytest.approx(room / 10 - 2 * half)


def test_a_pitch_that_would_leave_slivers_is_widened():
    row = fitted_row(PLATE, BACK, name="J", diameter=1.5, depth=0.5, pitch=1.6)
    assert land_between(row, PLATE) >= LEAST_NOTCH_LAND_MM
    assert row.pitch > 1.6
    closer = np.linspace(0, 30 - 2 * math.sqrt(0.5), len(row.centres) + 1)
    assert closer[1] - 2 * math.sqrt(0.5) < LEAST_NOTCH_LAND_MM


def test_notches_deeper_than_their_radius_are_nearest_at_their_middles():
    land = least_land(PLATE, np.array([150.0, 153.0]), diameter=2.5, depth=2.0)
    assert land == pytest.approx(0.5)


def test_a_short_stretch_takes_one_notch_or_says_that_it_takes_none():
    one = fitted_row(PLATE, Stretch(start=150, end=152.2), **NOTCH)
    assert one.centres == (pytest.approx((78.9, 30.8)),)
    assert land_between(one, PLATE) == math.inf
    with pytest.raises(ValueError, match=r"stretch of 1\.500 mm is shorter than the mouth"):
        fitted_row(PLATE, Stretch(start=150, end=151.5), **NOTCH)


@pytest.mark.parametrize("figures", [{"depth": 0.0}, {"depth": 2.5}, {"depth": math.nan},
                                     {"pitch": 0.0}])  # fmt: skip
def test_figures_that_are_no_notch_are_refused(figures):
    with pytest.raises(ValueError, match="mm must be"):
        fitted_row(PLATE, BACK, **{**NOTCH, **figures})


def test_a_row_may_pass_the_outline_s_start():
    row = fitted_row(PLATE, Stretch(start=250, end=10), **NOTCH)
    assert len(row.centres) >= 7
    assert row.stretch == Stretch(start=250, end=10)

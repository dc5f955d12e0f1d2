"""Cusps between passes, against figures worked out by hand.

A ball of radius r on the flat leaves the sagitta of a chord as long as the step s: r - sqrt(r^2 -
s^2 / 4) (plane geometry). Those for a corner radius and a flat end on a slope are derived from the
envelope of two like profiles, and were checked by brute force to 2e-6.
"""

from __future__ import annotations

import math

import pytest

from knifecam.measure.bevel_places import cusp_height


@pytest.mark.parametrize(
    ("radius", "step", "cusp", "half_a_unit"),
    [
        pytest.param(3.0, 0.5, 0.0104348, 5e-8, id="D6, step 0.5"),
        pytest.param(5.0, 6.0, 1.0, 1e-12, id="a triangle of 3, 4 and 5"),
        pytest.param(0.25, 0.05, 0.00125314, 5e-9, id="D0.5, step 0.05"),
    ],
)
def test_ball_on_the_flat(radius: float, step: float, cusp: float, half_a_unit: float) -> None:
    found = float(cusp_height(step, 0.0, radius, ball=True))
    assert math.isclose(found, cusp, abs_tol=half_a_unit)


def test_ball_on_a_slope() -> None:
    """r 3, step 0.5 at 20 degrees: 0.011820."""
    found = float(cusp_height(0.5, math.radians(20), 3.0, ball=True))
    assert math.isclose(found, 0.011820, abs_tol=5e-7)


@pytest.mark.parametrize(
    ("step", "slope_deg", "cusp"), [(0.3, 10.0, 0.052094), (0.1, 4.953, 0.00863)]
)
def test_flat_end_on_a_slope(step: float, slope_deg: float, cusp: float) -> None:
    found = float(cusp_height(step, math.radians(slope_deg), 0.0))
    assert math.isclose(found, cusp, abs_tol=5e-6)


@pytest.mark.parametrize(
    ("corner", "step", "slope_deg", "cusp"),
    [
        (0.5, 0.3, 45.0, 0.047231),
        (0.5, 0.05, 5.0, 0.000630),
        (0.5, 0.2, 5.0, 0.007906),
        (0.5, 0.3, 10.0, 0.020823),
        (0.1, 0.3, 30.0, 0.113397),
    ],
)
def test_corner_radius_on_a_slope(
    corner: float, step: float, slope_deg: float, cusp: float
) -> None:
    found = float(cusp_height(step, math.radians(slope_deg), corner))
    assert math.isclose(found, cusp, abs_tol=2e-6)

"""Bending of stepped cutters against beams worked by hand, and against scipy's quadrature."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from knifecam.cutting.cutter_bending import (
    CARBIDE_N_MM2,
    FLUTE_SHARE,
    BarPiece,
    bar_pieces,
    bending_stress_per_newton,
    deflection_per_newton,
)
from knifecam.shop import Cutter

UM = 1e-3


def mill(diameter, reach, stickout, **more):
    lengths = {"flute_length": 1.5 * diameter, "neck": 0.947 * diameter, "shank": 6.0} | more
    return Cutter(
        number=1, kind="flat", diameter=diameter, reach=reach, stickout=stickout, **lengths
    )  # fmt: skip


def bar(*rows):
    return tuple(BarPiece(low=a, high=b, thin=c, thick=d) for a, b, c, d in rows)


def inertia(diameter):
    return math.pi * diameter**4 / 64


def test_a_plain_bar_is_the_cantilever_of_the_books():
    """F L^3 / 3 E I at the load; between load and holder F s^2 (3 l - s) / 6 E I."""
    plain = bar((0.0, 18.0, 4.8, 4.8))
    stiff = CARBIDE_N_MM2 * inertia(4.8)
    assert deflection_per_newton(plain, 0.0) == pytest.approx(18.0**3 / 3 / stiff)
    assert 100 * deflection_per_newton(plain, 0.0) == pytest.approx(0.012434, abs=5e-7)
    assert deflection_per_newton(plain, 3.0) == pytest.approx(15.0**2 * (3 * 18 - 15) / 6 / stiff)
    assert deflection_per_newton(plain, 0.0, at=8.0) == pytest.approx(
        10.0**2 * (3 * 18 - 10) / 6 / stiff
    )
    stress = bending_stress_per_newton(plain, 3.0)
    assert stress == pytest.approx(15.0 * 32 / math.pi / 4.8**3)


def test_two_steps_by_hand():
    """A thin part of 8 mm on a thick one of 12: (8^3 / I1 + (20^3 - 8^3) / I2) / 3 E."""
    stepped = bar((0.0, 8.0, 2.0, 2.0), (8.0, 20.0, 6.0, 6.0))
    hand = (8.0**3 / inertia(2.0) + (20.0**3 - 8.0**3) / inertia(6.0)) / 3 / CARBIDE_N_MM2
    assert deflection_per_newton(stepped, 0.0) == pytest.approx(hand, rel=1e-12)
    worst = max(8.0 / 2.0**3, 20.0 / 6.0**3) * 32 / math.pi
    assert bending_stress_per_newton(stepped, 0.0) == pytest.approx(worst)


@pytest.mark.parametrize("cone", [0.05, 0.3, 0.8, 1.5])
def test_a_cone_is_what_quadrature_gives(cone):
    pieces = bar_pieces(mill(3.0, 9.0, 40.0, cone=cone))

    def diameter(x):
        piece = next(one for one in pieces if x <= one.high)
        return piece.thin + piece.widening * (x - piece.low)

    ends = sorted({one.high for one in pieces[:-1]})
    x = np.linspace(0.0, 40.0, 20001)
    wide = np.array([diameter(v) for v in x])
    for force_at, at in ((0.0, 0.0), (2.5, 0.0), (1.0, 4.0)):
        low = max(force_at, at)

        def strained(x, force_at=force_at, at=at):
            return (x - force_at) * (x - at) / inertia(diameter(x)) / CARBIDE_N_MM2

        steps = [x for x in ends if x > low]
        whole, _ = quad(strained, low, 40.0, points=steps, limit=200)
        found = deflection_per_newton(pieces, force_at, at=at)
        assert found == pytest.approx(whole, rel=1e-7)
        stress = ((x - force_at) / wide**3).max() * 32 / math.pi
        assert bending_stress_per_newton(pieces, force_at) == pytest.approx(stress, rel=2e-3)


def test_the_stress_of_a_cone_is_greatest_where_it_is_half_as_wide_again():
    cone = bar((0.0, 20.0, 2.0, 8.0))
    found = minimize_scalar(lambda x: -x / (2.0 + 0.3 * x) ** 3, bounds=(0, 20), method="bounded")
    assert bending_stress_per_newton(cone, 0.0) == pytest.approx(-found.fun * 32 / math.pi)


def test_pieces_of_a_cutter_from_the_tip_up():
    found = bar_pieces(mill(3.0, 6.0, 18.0, cone=math.pi / 4, neck=2.8))
    rows = [(one.low, one.high, one.thin, one.thick) for one in found]
    assert np.array(rows) == pytest.approx(
        np.array(
            [(0, 4.5, FLUTE_SHARE * 3, FLUTE_SHARE * 3), (4.5, 6, 2.8, 2.8),
             (6, 7.6, 2.8, 6), (7.6, 18, 6, 6)]
        )
    )  # fmt: skip


def test_a_holder_may_grip_the_cone_and_flutes_may_reach_past_the_neck():
    gripped = bar_pieces(mill(3.0, 6.0, 6.8, cone=math.pi / 4, neck=2.8))
    assert gripped[-1] == BarPiece(low=6.0, high=6.8, thin=2.8, thick=pytest.approx(4.4))
    fluted = bar_pieces(mill(6.0, 5.0, 20.0, flute_length=13.0))
    assert [(one.low, one.high) for one in fluted] == [(0.0, 13.0), pytest.approx((13.0, 13.159))
                                                       , pytest.approx((13.159, 20.0))]  # fmt: skip


@pytest.mark.parametrize(
    ("diameter", "reach", "stickout", "compliance"),
    [
        (3.0, 12.0, 24.0, 0.42),
        (3.0, 6.0, 18.0, 0.10),
        (6.0, 24.0, 35.0, 0.41),
        (6.0, 12.0, 20.0, 0.08),
    ],
)
def test_long_and_short_cutters_in_um_a_newton(diameter, reach, stickout, compliance):
    """Worked out before by the trapezoid rule, without a cone; half a unit of the last digit."""
    pieces = bar_pieces(mill(diameter, reach, stickout, cone=math.radians(85)))
    assert deflection_per_newton(pieces, 0.0) / UM == pytest.approx(compliance, abs=0.005)


def test_forces_side_by_side_are_those_one_by_one():
    pieces = bar_pieces(mill(3.0, 12.0, 24.0))
    heights = np.array([0.0, 0.7, 5.0, 13.0])
    together = deflection_per_newton(pieces, heights), bending_stress_per_newton(pieces, heights)
    for k, height in enumerate(heights):
        assert together[0][k] == pytest.approx(float(deflection_per_newton(pieces, height)))
        assert together[1][k] == pytest.approx(float(bending_stress_per_newton(pieces, height)))
    assert np.all(np.diff(together[0]) < 0.0)

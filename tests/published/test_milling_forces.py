"""Forces and power of milling, and bending of end mills, against published examples and formulas.

Mitsubishi Materials, Cutting power for face milling (technical information of its general catalogue;
page and year are not at hand) and its course on end mills. E. Budak, Y. Altintas, E. J. A. Armarego,
Prediction of milling force coefficients from orthogonal cutting data, J. Eng. Ind. 118 (1996): mean
forces of a slot (formula from memory). What is marked as derived was worked out by hand.
"""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from knifecam.cutting.cutter_bending import BarPiece, deflection_per_newton
from knifecam.cutting.cutting_force import CuttingSteel, cutting_force, hardened_steel
from knifecam.cutting.engagement import engaged_angle, feed_per_tooth, spindle_speed
from knifecam.shop import Cutter


def mill(diameter, flutes, corner=0.0):
    return Cutter(
        number=1, kind="bull-nose" if corner else "flat", diameter=diameter, corner=corner,
        flutes=flutes, flute_length=2 * diameter, neck=0.95 * diameter, reach=2 * diameter,
        shank=diameter, stickout=3 * diameter, holder=max(25.0, diameter),
    )  # fmt: skip


def constant(kc):
    return CuttingSteel(kc11=kc, mc=0.0, along=0.0, across=0.0)


def test_mitsubishi_cutting_power_for_face_milling():
    """D 250, 12 teeth, 80 m/min, 280 mm/min, 2 deep, 80 wide, kc 1800: 1.68 kW at 80 % efficiency.

    Power follows from the metal removed, so that a fifth of the diameter (50 mm, the largest here) does.
    """
    speed = spindle_speed(80.0, 250.0)
    tooth = float(feed_per_tooth(280.0, 12, speed))
    share = 50.0 / 250.0
    angle = float(engaged_angle(80.0 * share, 50.0))
    found = cutting_force(
        mill(50.0, 12), constant(1800.0), entry=0.0, exit_=angle, axial=2.0, feed_per_tooth=tooth,
    )  # fmt: skip
    watts = float(found.power(speed)[0]) / share
    assert watts / 0.8 / 1000 == pytest.approx(1.68, abs=0.005)


def test_power_two_ways_at_6_mm():
    """D 6, 4 teeth, 0.3 wide, 3 deep, fz 0.03, kc 15162.06, 80 m/min: 115.830 W (derived)."""
    speed = spindle_speed(80.0, 6.0)
    assert speed == pytest.approx(4244.132, abs=5e-4)
    angle = float(engaged_angle(0.3, 6.0))
    assert math.degrees(angle) == pytest.approx(25.8419, abs=5e-5)
    mean = 2 * 0.3 * 0.03 / (6.0 * angle)
    assert mean == pytest.approx(0.0066515, abs=5e-8)
    kc = hardened_steel(60.0).kc11 * mean**-0.25
    assert kc == pytest.approx(15162.06, abs=0.005)
    found = cutting_force(
        mill(6.0, 4), constant(kc), entry=0.0, exit_=angle, axial=3.0, feed_per_tooth=0.03,
    )  # fmt: skip
    assert 3.0 * 0.3 * 509.296 * kc / 60e3 == pytest.approx(115.830, abs=5e-4)
    assert found.power(speed) == pytest.approx(115.830, rel=1e-4)  # 192 places a turn
    # Kienzle's force at each place of the arc, rather than at the mean chip, takes 4 % less
    kienzle = CuttingSteel(kc11=4330.0, along=0.0, across=0.0)
    whole = cutting_force(
        mill(6.0, 4), kienzle, entry=0.0, exit_=angle, axial=3.0, feed_per_tooth=0.03
    )
    torque = 3.0 * 3.0 * 4330.0 * 4 / (2 * math.pi)
    torque *= quad(lambda t: (0.03 * math.sin(t)) ** 0.75, 0.0, angle)[0]
    assert whole.mean_torque == pytest.approx(torque, rel=1e-3)
    assert float(whole.power(speed)[0]) / 115.830 == pytest.approx(0.961, abs=0.002)


@pytest.mark.parametrize(
    ("chip", "kc"), [(0.005, 16283), (0.01, 13693), (0.02, 11514), (0.05, 9157)]
)
def test_kienzle_at_60_hrc(chip, kc):
    """Specific force 4330 h^-0.25 (derived), as one tooth without edge forces meets it ahead."""
    steel = CuttingSteel(kc11=hardened_steel(60.0).kc11, share=0.0, along=0.0, across=0.0)
    found = cutting_force(
        mill(6.0, 1), steel, entry=0.0, exit_=math.pi, axial=1.0, feed_per_tooth=chip, helix=0.0
    )
    assert found.across / chip == pytest.approx(kc, rel=1e-3)


def test_budak_altintas_armarego_mean_forces_of_a_slot():
    """N a (K fz / 4 + Ke / pi), the normal one against the feed, the tangential one across it."""
    steel = CuttingSteel(kc11=1800.0, mc=0.0, share=0.35, along=24.0, across=43.0)
    found = cutting_force(
        mill(19.0, 4), steel, entry=0.0, exit_=math.pi, axial=2.54, feed_per_tooth=0.05
    )
    # the helix changes no mean but the axial one
    along, across = (4 * 2.54 * (k * 0.05 / 4 + e / math.pi) for k, e in ((630, 43), (1800, 24)))
    assert found.mean_along == pytest.approx(-along, rel=1e-3)
    assert found.mean_aside == pytest.approx(across, rel=1e-3)
    axial = 4 * 2.54 * 1800 * math.tan(math.radians(35)) * 0.05 / math.pi / 1.0
    assert found.mean_lift == pytest.approx(axial, rel=1e-3)


def test_mitsubishi_course_deflection_by_length_and_diameter():
    """Twice the length: 8 times; twice the diameter: a 16th, 25 um becoming 1.5 (printed rounded)."""

    def bent(length, diameter):
        bar = (BarPiece(low=0.0, high=length, thin=diameter, thick=diameter),)
        return float(deflection_per_newton(bar, 0.0))

    assert bent(36.0, 4.8) / bent(18.0, 4.8) == pytest.approx(8.0)
    assert 25.0 * bent(18.0, 9.6) / bent(18.0, 4.8) == pytest.approx(1.5625)


@pytest.mark.parametrize(
    ("width", "depth", "corner", "diameter", "tooth", "across"),
    [
        (3.0, 0.075, 0.15, 3.0, 0.011, 19), (3.0, 0.13, 0.15, 3.0, 0.0081, 26),
        (0.9, 0.45, 0.15, 3.0, 0.0087, 73), (0.19, 1.65, 0.15, 3.0, 0.016, 119),
        (0.16, 2.5, 0.15, 3.0, 0.0175, 109), (6.0, 0.27, 0.2, 6.0, 0.010, 61),
        (6.0, 0.27, 1.0, 6.0, 0.0146, 89), (2.8, 0.58, 1.0, 6.0, 0.0105, 126),
    ],
)  # fmt: skip
def test_eight_cuts_worked_out_before_with_coarse_slices(
    width, depth, corner, diameter, tooth, across
):
    """kc1.1 4500: an earlier sum took the edge of a corner for shorter, at least 4 slices to a depth.

    Shallow slots on corners come out up to 14 % above it, what stands on the flank within 2 %.
    """
    steel = CuttingSteel(kc11=4500.0)
    angle = float(engaged_angle(min(width, diameter), diameter))
    found = cutting_force(
        mill(diameter, 4, corner), steel, entry=math.pi - angle, exit_=math.pi, axial=depth,
        feed_per_tooth=tooth,
    )  # fmt: skip
    assert -0.02 <= float(found.across[0]) / across - 1.0 <= 0.14


@pytest.mark.parametrize(
    ("width", "depth", "tooth", "lift"),
    [(0.19, 1.65, 0.016, 66), (0.16, 2.5, 0.0175, 60), (0.06, 2.5, 0.010, 21)],
)
def test_lift_of_full_depth_laps_and_of_a_wall_finished(width, depth, tooth, lift):
    """An earlier sum let the helix turn the force of the rubbing edge up as well, by tan 35.

    So do torque and radius here, to 2 %. The chip's share of it is what lifts.
    """
    angle = float(engaged_angle(width, 3.0))
    steel = CuttingSteel(kc11=4500.0)
    found = cutting_force(
        mill(3.0, 4, 0.15), steel, entry=math.pi - angle, exit_=math.pi, axial=depth,
        feed_per_tooth=tooth,
    )  # fmt: skip
    tangent = math.tan(math.radians(35))
    assert found.torque / 1.5 * tangent == pytest.approx(lift, rel=0.02)
    assert 0.62 <= float(found.lift[0]) / lift <= 0.82

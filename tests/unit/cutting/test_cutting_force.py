"""Cutting forces against closed forms, and against sums that share nothing with them but the formula."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from knifecam.cutting.cutting_force import (
    HELIX_RAD,
    CuttingForce,
    CuttingSteel,
    cutting_force,
    hardened_steel,
)
from knifecam.cutting.engagement import engaged_angle
from knifecam.shop import Cutter

PLAIN = CuttingSteel(kc11=5000.0, mc=0.0, share=0.4, along=0.0, across=0.0)
"""A steel whose specific force does not vary, and edges that rub nothing."""

DEEP, TOOTH = 1.2, 0.01

PEAK = 0.03
"""Share of the greatest force by which peaks may be off: a place of the turn is a narrow arc's tenth."""


def mill(kind="flat", diameter=3.0, corner=0.0, flutes=4, **more):
    lengths = {"flute_length": 2 * diameter, "neck": 0.95 * diameter, "reach": 3 * diameter}
    return Cutter(
        number=1, kind=kind, diameter=diameter, corner=corner, flutes=flutes, shank=6.0,
        stickout=24.0, **lengths, **more,
    )  # fmt: skip


def force(cutter, steel=PLAIN, *, entry=0.0, exit_=math.pi, axial=DEEP, tooth=TOOTH, **more):
    return cutting_force(
        cutter, steel, entry=entry, exit_=exit_, axial=axial, feed_per_tooth=tooth, **more
    )


def test_one_tooth_in_a_slot_peaks_straight_ahead():
    """There h = fz: Ft = kc a fz across the feed, 0.4 of it against the feed; both at once."""
    found = force(mill(flutes=1), helix=0.0)
    most = 5000.0 * DEEP * TOOTH
    assert found.across == pytest.approx(most * math.hypot(1.0, 0.4), rel=2e-3)
    assert found.torque == pytest.approx(most * 1.5, rel=2e-3)
    assert found.lift == 0.0
    assert found.press == pytest.approx(0.0, abs=1e-9)
    assert found.height == pytest.approx(DEEP / 2)


@pytest.mark.parametrize(("entry", "exit_"), [(0.0, 180.0), (90.0, 180.0), (0.0, 90.0), (0, 40.0)])
def test_means_without_helix_are_the_integrals_over_the_arc(entry, exit_):
    """Slot, half of it by climb, half conventionally, and a lane beside a wall."""
    steel = CuttingSteel(kc11=5000.0, mc=0.0, share=0.4, along=15.0, across=25.0)
    low, high = math.radians(entry), math.radians(exit_)
    found = force(mill(), steel, entry=low, exit_=high, helix=0.0)

    def mean(share):
        return 4 * DEEP / (2 * math.pi) * quad(share, low, high)[0]

    def along(t):
        return 5000.0 * TOOTH * math.sin(t) + 15.0

    def inward(t):
        return 0.4 * 5000.0 * TOOTH * math.sin(t) + 25.0

    feed = mean(lambda t: -along(t) * math.cos(t) - inward(t) * math.sin(t))
    left = mean(lambda t: along(t) * math.sin(t) - inward(t) * math.cos(t))
    size = math.hypot(feed, left)
    assert found.mean_along == pytest.approx(feed, abs=1e-3 * size)
    assert found.mean_aside == pytest.approx(left, abs=1e-3 * size)
    assert found.mean_torque == pytest.approx(1.5 * mean(along), rel=1e-3)


@pytest.mark.parametrize("corner", [0.0, 0.15, 0.5, 1.5])
@pytest.mark.parametrize("width", [0.2, 1.5, 3.0])
def test_power_is_specific_force_times_metal_removed(corner, width):
    """Whatever helix and corner: P = kc Q. Round corners take a slot's section, or a wall's arc."""
    cutter = mill("ball" if corner == 1.5 else "bull-nose" if corner else "flat", corner=corner)
    angle = float(engaged_angle(width, 3.0))
    found = force(cutter, entry=math.pi - angle, axial=1.0)

    def radius(z):
        return 1.5 - corner + math.sqrt(max(corner**2 - max(corner - z, 0.0) ** 2, 0.0))

    section = quad(lambda z: radius(z) * (1 - math.cos(angle)), 0.0, 1.0, points=[corner / 2])[0]
    rate = section * TOOTH * 4 * 8000  # mm3/min
    assert found.power(8000.0) == pytest.approx(5000.0 * rate / 60 / 1000, rel=4e-3)


def test_the_helix_lifts_the_work_by_its_tangent():
    """One tooth in a shallow slot: down on the cutter Ft tan 35, at the flank, without friction."""
    found = force(mill(flutes=1), axial=0.01)
    assert found.lift == pytest.approx(found.torque / 1.5 * math.tan(HELIX_RAD), rel=1e-6)
    assert found.press == 0.0


def test_a_corner_radius_presses_the_work_down():
    """A quarter circle, no helix: the mean over it of cos kappa sin kappa makes half the share."""
    cutter = mill("bull-nose", corner=0.5, flutes=1)
    found = force(cutter, axial=0.5, helix=0.0)
    most = 5000.0 * TOOTH * 0.5 * 0.4 / 2
    assert found.press == pytest.approx(most, rel=2e-3)
    assert found.lift == 0.0


def test_signs_of_climb_and_conventional():
    """Climb throws the cutter off a wall on its right; conventional draws it into one on its left."""
    arc = math.radians(30)
    climb = force(mill(), entry=math.pi - arc)
    conventional = force(mill(), entry=0.0, exit_=arc)
    assert climb.aside > 0.0
    assert climb.mean_along > 0.0
    assert conventional.mean_along < 0.0
    steel = CuttingSteel(kc11=5000.0, mc=0.0, share=0.0, along=0.0, across=0.0)
    assert force(mill(), steel, entry=0.0, exit_=arc).aside > 0.0  # toward its wall on the left


def naive(cutter, steel, entry, exit_, axial, tooth, runout, turns=1440, heights=600):
    """Forces by vectors: the edge's tangent, the surface's normal, the way of the tooth."""
    lead = math.tan(HELIX_RAD) / cutter.radius
    pitch = 2 * math.pi / cutter.flutes
    z = (np.arange(heights) + 0.5) * axial / heights
    dz = axial / heights
    if cutter.kind == "chamfer":
        cone = z < cutter.cone_height
        radius = np.where(cone, cutter.tip / 2 + z * np.tan(cutter.half_angle), cutter.radius)
        slope = np.where(cone, np.tan(cutter.half_angle), 0.0)
    else:
        c = cutter.corner
        low = np.maximum(c - z, 0.0)
        reach = np.sqrt(c**2 - low**2)
        radius = cutter.radius - c + np.where(low > 0.0, reach, c)
        slope = np.where(low > 0.0, low / np.where(low > 0.0, reach, 1.0), 0.0)
    ds = dz * np.hypot(1.0, slope)
    out, up = 1.0 / np.hypot(1.0, slope), -slope / np.hypot(1.0, slope)  # normal of the surface
    takes = [min(tooth + runout, cutter.flutes * tooth)]
    takes += [(cutter.flutes * tooth - takes[0]) / max(1, cutter.flutes - 1)] * (cutter.flutes - 1)
    rows = np.zeros((turns, 4))
    for k in range(turns):
        for j, take in enumerate(takes):
            t = np.mod(2 * np.pi * k / turns + j * pitch - lead * z, 2 * np.pi)
            cut = (t > entry) & (t < exit_)
            spoke = np.stack([np.sin(t), np.cos(t), 0 * t])  # feed, left, up
            way = np.stack([np.cos(t), -np.sin(t), 0 * t])
            normal = out * spoke + np.stack([0 * t, 0 * t, up])
            rising = np.stack([-up * spoke[0], -up * spoke[1], out])
            h = np.maximum(take * (normal * np.array([[1.0], [0], [0]])).sum(0), 0.0)
            chip = np.where(cut, steel.kc11 * h ** (1 - steel.mc), 0.0) * ds
            rub = cut * ds
            # the edge goes up ds and back along the way by r lead dz: its slant
            slant = radius * lead * dz / ds
            vector = -(chip + steel.along * rub) * way
            vector -= (steel.share * chip + steel.across * rub) * normal
            vector -= chip * slant * rising
            rows[k, :3] += vector.sum(axis=1)
            rows[k, 3] += ((chip + steel.along * rub) * radius).sum()
    return rows


CASES = {
    "flat in a slot": (mill(), 0.0, math.pi, 0.13, 0.0),
    "lap at full depth": (mill("bull-nose", corner=0.15), 2.67, math.pi, 2.5, 0.0),
    "corner in a lane": (mill("bull-nose", 6.0, 1.0), 1.6, math.pi, 0.58, 0.0),
    "ball": (mill("ball", 3.0, 1.5, 2), 0.9, 2.2, 0.4, 0.0),
    "cone": (mill("chamfer", 6.0, tip=0.4, half_angle=0.6), 2.2, math.pi, 1.1, 0.0),
    "runout": (mill("bull-nose", corner=0.15), 0.0, math.pi, 0.2, 0.005),
    "runout of three": (mill(flutes=3), 2.4, math.pi, 1.2, 0.004),
}


@pytest.mark.parametrize("name", CASES)
def test_forces_are_those_of_dense_sums_of_vectors(name):
    cutter, entry, exit_, axial, runout = CASES[name]
    steel = hardened_steel(60.0)
    found = force(cutter, steel, entry=entry, exit_=exit_, axial=axial, runout=runout)
    rows = naive(cutter, steel, entry, exit_, axial, TOOTH, runout)
    across = np.hypot(rows[:, 0], rows[:, 1])
    size = across.max()
    assert found.across == pytest.approx(size, rel=PEAK)
    assert found.torque == pytest.approx(rows[:, 3].max(), rel=PEAK)
    assert found.mean_torque == pytest.approx(rows[:, 3].mean(), rel=0.01)
    means = (found.mean_along, found.mean_aside, found.mean_lift)
    for mean, k, sign in zip(means, range(3), (1, 1, -1), strict=True):
        assert mean == pytest.approx(sign * rows[:, k].mean(), abs=0.01 * size)
    assert abs(found.along) == pytest.approx(abs(rows[:, 0]).max(), abs=PEAK * size)
    assert abs(found.aside) == pytest.approx(abs(rows[:, 1]).max(), abs=PEAK * size)
    assert found.lift == pytest.approx(max(0.0, -rows[:, 2].min()), abs=PEAK * size)
    assert found.press == pytest.approx(max(0.0, rows[:, 2].max()), abs=PEAK * size)


def test_thousands_at_once_are_what_each_is_alone():
    generator = np.random.default_rng(3)
    entry, axial = generator.uniform(0.0, 3.0, 2500), generator.uniform(0.0, 2.0, 2500)
    cutter, steel = mill("bull-nose", corner=0.15), hardened_steel(58.0)
    together = force(cutter, steel, entry=entry, axial=axial)
    for k in (0, 999, 1000, 2499):
        alone = force(cutter, steel, entry=entry[k], axial=axial[k])
        for name in CuttingForce.__dataclass_fields__:
            assert getattr(together, name)[k] == pytest.approx(getattr(alone, name)[0], rel=1e-9)


def test_layers_of_one_arc_are_one_layer():
    cutter, steel = mill("bull-nose", corner=0.15), hardened_steel(60.0)
    whole = force(cutter, steel, entry=2.0, axial=1.3)
    parted = force(
        cutter, steel, entry=[[2.0, 2.0, 2.0]], exit_=[[math.pi] * 3], axial=[[0.1, 0.1, 1.3]]
    )
    for name in CuttingForce.__dataclass_fields__:
        assert getattr(parted, name) == pytest.approx(getattr(whole, name), rel=2e-3, abs=1e-9)


def test_a_floor_and_a_wall_add_up_in_the_mean():
    """A slot 0.2 deep, and above it 0.06 of stock on a wall 2.8 high."""
    cutter, steel = mill(), hardened_steel(60.0)
    arc = math.pi - float(engaged_angle(0.06, 3.0))
    both = force(cutter, steel, entry=[[0.0, arc]], exit_=[[math.pi] * 2], axial=[[0.2, 2.8]])
    floor = force(cutter, steel, axial=0.2)
    wall, missing = (force(cutter, steel, entry=arc, axial=a) for a in (2.8, 0.2))
    for name in ("mean_along", "mean_aside", "mean_lift", "mean_torque"):
        parts = [getattr(one, name)[0] for one in (floor, wall, missing)]
        assert getattr(both, name) == pytest.approx(parts[0] + parts[1] - parts[2], rel=1e-2)
    assert both.across < floor.across + wall.across


def test_no_metal_no_feed_no_force():
    nothing = force(mill(), hardened_steel(60.0), entry=[0.0, 1.0, 0.0], exit_=[3.0, 1.0, 3.0],
                    axial=[0.0, 1.0, 1.0], tooth=[0.01, 0.01, 0.0])  # fmt: skip
    assert not nothing.across.any()
    assert not nothing.lift.any()
    assert not nothing.torque.any()


def test_a_leading_tooth_takes_all_at_most():
    """Runout beyond what the other teeth have to give: one tooth takes the whole turn's feed."""
    steel = CuttingSteel(kc11=5000.0, mc=0.0, share=0.4, along=0.0, across=0.0)
    lone = force(mill(flutes=1), steel, tooth=4 * TOOTH, helix=0.0)
    led = force(mill(), steel, runout=1.0, helix=0.0)
    assert led.across == pytest.approx(lone.across, rel=2e-3)
    assert led.mean_torque == pytest.approx(lone.mean_torque, rel=1e-9)


@pytest.mark.parametrize(("hardness", "kc11"), [(40, 3090), (55, 3690), (61.5, 4540), (66, 5170)])
def test_specific_force_by_hardness(hardness, kc11):
    assert hardened_steel(hardness).kc11 == pytest.approx(kc11)

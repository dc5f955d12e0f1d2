"""What a semi-finish leaves a finishing pass, and that the pass begins above it, by brute force."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from knifecam.paths.paths_limits import LEAD_SPARE_MM
from knifecam.paths.plunge_motions import lead_for
from knifecam.shop import Bevelling, Cutter, Order
from knifecam.shop.defaults import propose_cutting
from knifecam.shop.order_record import BEVEL_FINISH, BEVEL_SEMI
from tests.agreement.bevel_blades import ordered, shop, straight_blade


def order_of(cusp: float, angle_deg: float, corner: float) -> Order:
    cutters = shop(nose=4.0, corner=corner)
    order = ordered(straight_blade(angle_deg=angle_deg), cutters)
    cutting = tuple(
        propose_cutting(order.cutter(c.cutter), c.stage, blade=order.blade, cusp=cusp)
        for c in order.cutting
    )
    return replace(order, cutting=cutting, bevelling=Bevelling(cusp=cusp))


def left_by(order: Order) -> float:
    """Return the most that the semi-finish's passes leave plumb above a slope, mm.

    Cutters dropped on the raised slope ``stepover`` apart, their undersides sampled: a flat of
    R - r and a corner of r.
    """
    entry = order.cuttings(BEVEL_SEMI)[0]
    cutter: Cutter = order.cutter(entry.cutter)
    slope = math.tan(order.blade.bevels[0].angle)
    flat, r = cutter.radius - cutter.corner, cutter.corner
    across = np.linspace(-cutter.radius, cutter.radius, 4001)
    out = np.clip(np.abs(across) - flat, 0.0, r)
    under = r - np.sqrt(r**2 - out**2)
    lift = (slope * across - under).max() + entry.allowance
    places = np.linspace(0.0, entry.stepover, 801)
    lowest = np.full(len(places), np.inf)
    reach = math.ceil(cutter.radius / entry.stepover) + 1
    for nth in range(-reach, reach + 1):
        axis = nth * entry.stepover
        heights = np.interp(places - axis, across, under, left=np.inf, right=np.inf)
        lowest = np.minimum(lowest, slope * axis + lift + heights)
    return float((lowest - slope * places).max())


@pytest.mark.parametrize("cusp", [0.003, 0.01, 0.02, 0.03, 0.05])
@pytest.mark.parametrize(("angle_deg", "corner"), [(5.0, 0.5), (9.0, 0.2), (12.0, 1.0)])
def test_a_finishing_pass_begins_above_what_the_semi_finish_left(
    cusp: float, angle_deg: float, corner: float
) -> None:
    order = order_of(cusp, angle_deg, corner)
    allowance = order.cuttings(BEVEL_SEMI)[0].allowance
    left = left_by(order)
    assert allowance < left <= allowance + 0.05 / math.cos(math.radians(angle_deg)) + 1e-4
    assert lead_for(order, BEVEL_FINISH).fall >= left - 2e-4


def test_usual_cusps_leave_the_usual_way_in() -> None:
    assert lead_for(order_of(0.003, 5.0, 0.5), BEVEL_FINISH).fall == pytest.approx(
        0.05 + LEAD_SPARE_MM
    )


def test_a_wide_step_that_is_ordered_is_met_from_higher() -> None:
    """2.085 mm on 5 degrees by a corner of 0.5 leave 0.15 mm more than the allowance."""
    order = order_of(0.03, 5.0, 0.5)
    cutting = tuple(
        replace(c, stepover=2.085) if c.stage == BEVEL_SEMI else c for c in order.cutting
    )
    wide = replace(order, cutting=cutting)
    assert left_by(wide) == pytest.approx(0.20, abs=0.005)
    assert lead_for(wide, BEVEL_FINISH).fall == pytest.approx(left_by(wide), abs=5e-4)

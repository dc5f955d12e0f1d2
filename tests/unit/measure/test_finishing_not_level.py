"""Bevels finished up and down the slope: the blade of `hand_bevel`, passes in planes x = constant.

On a slope of the angle a, straight up from the edge, a bull-nose touches ahead of its axis, whatever
way it goes: at y with its axis at y - r sin a - (R - r) and its tip at h(y) + r cos a - r. The line of
such places is straight, so a pass is one straight motion that rises as the slope does.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from knifecam.judge.prove import judge
from knifecam.measure.bevel_places import cusp_aslant
from tests.unit.judge import hand_bevel as hand
from tests.unit.judge import hand_written as plain

FACE = plain.THICK / 2


def up_passes(way, *, apart, low=14.0, high=36.0, left=0.0, level=0.0):
    """Side A's bevel with its semi-finish, then passes straight up or down over part of it."""
    w = plain.Writer(face=0.0)
    w.lines = plain.side_a().removesuffix("M2\n").splitlines()
    hand.bevel_cuts(w, "A", first=4, count=7, stages=("rough", "semi") if not level else ("rough",))
    hand.begin_cut(w, "CUT 8 OF 8: BEVEL UP, CUTTER 2", "G54", 2)
    b = hand.Beside(w, "A")
    first, last = (hand.passes(hand.width(), left)[k] for k in (0, 1))
    ends = ((first.y, first.z), (last.y, last.z))
    ends = ends if way == "up" else ends[::-1]
    for x in np.arange(low, high, apart):
        w.rapid_z(5.0)
        b.rapid(x, ends[0][0])
        w.rapid_z(0.5)
        b.line(x, *((ends[0][0], ends[0][1] - FACE)))
        b.line(x, ends[1][0], ends[1][1] - FACE)
    w.rapid_z(5.0)
    plain.end_cut(w)
    w.say("M2")
    return "\n".join(w.lines) + "\n"


def found(text, order=None, cell=0.05):
    verdict = judge(order or hand.order(), (text, None), cell=cell).verdict
    return {f.kind: f for f in verdict.findings}, verdict


def test_passes_up_the_slope_are_no_finding_of_the_stock_they_meet():
    kinds, _ = found(up_passes("up", apart=0.1))
    assert not {"bevel-stock", "near-axis", "conventional", "down-slope"} & set(kinds)


def test_passes_down_the_slope_are_found_as_such():
    kinds, _ = found(up_passes("down", apart=0.1))
    assert "down-slope" in kinds
    assert kinds["down-slope"].measured == pytest.approx(0.0, abs=0.5)


@pytest.mark.parametrize("way", ["up", "down"])
def test_a_semi_finish_left_out_is_found_whatever_the_way(way):
    """Roughing leaves 0.12 and its cusps plumb above the slope, semi-finishing 0.05 and its own."""
    kinds, _ = found(up_passes(way, apart=0.2, level=1.0))
    assert "bevel-stock" in kinds
    assert kinds["bevel-stock"].measured > 0.12


def test_a_ball_that_goes_up_touches_as_near_its_axis_as_along():
    order = hand.order()
    ball = replace(order.cutters[1], kind="ball", corner=hand.R)
    with hand.figures(CORNER=hand.R, ANGLE=math.radians(8.0), LAND=1.6):
        text = up_passes("up", apart=0.2)
        bevel = hand.bevel()
    order = replace(
        order, cutters=(order.cutters[0], ball), blade=replace(order.blade, bevels=(bevel,))
    )
    kinds, _ = found(text, order)
    assert kinds["near-axis"].measured == pytest.approx(2.0 * math.sin(math.radians(8.0)), rel=1e-6)


def test_a_cusp_counts_by_the_way_of_the_passes():
    """R 3, r 1, 5 degrees: 0.755 mm apart up the slope leave 3 um, 0.155 along it do.

    r + (R - r) / sin a = 23.95 mm; s^2 / 8 rho: 0.755^2 / 191.6 = 2.975 um; worked by hand.
    """
    slope = np.full(2, math.radians(5.0))
    up = np.array([1.0, 1e-9])
    assert cusp_aslant(0.755, slope, (3.0, 1.0), up)[0] == pytest.approx(2.975e-3, rel=1e-3)
    along = (0.155 / math.cos(slope[0])) ** 2 / 8
    assert cusp_aslant(0.155, slope, (3.0, 1.0), up)[1] == pytest.approx(along, rel=4e-3)


def test_an_order_for_one_way_does_not_allow_its_stepover_s_cusps_the_other_way():
    """0.8 mm apart, ordered so: up the slope that is s^2 / 8 (r + (R - r) / sin a), by hand 12.7 um.

    Along it 0.8 mm would leave 0.1 mm and more. Passes 1.2 mm apart leave 28 um and are found.
    """
    rho = hand.CORNER + (hand.R - hand.CORNER) / math.sin(hand.ANGLE)
    order = hand.order()
    order = replace(
        order,
        cutting=tuple(
            replace(c, stepover=0.8) if c.stage == "bevel-finish" else c for c in order.cutting
        ),
    )
    text = up_passes("up", apart=1.2)
    side = judge(order, (text, None), cell=0.05)
    surface = side.case.surfaces[0]
    assert surface is not None
    over = [f for f in side.verdict.findings if f.kind == "uncut" and "bevel main" in f.message]
    assert over
    inner = [
        k
        for k, (x, y) in enumerate(surface.places.points)
        if 17 < x < 33 and 1.0 < y < hand.width() - 1.0
    ]
    off = surface.deviation[inner] * math.cos(hand.ANGLE)
    assert off.max() == pytest.approx(1.2**2 / 8 / rho, rel=0.06)
    assert 0.8**2 / 8 / rho * 1.1 < off.max()

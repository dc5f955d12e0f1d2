"""Necks of tabs at the wall, on hand-worked figures, and what of them is refused."""

import math
from dataclasses import replace

import numpy as np
import pytest

from knifecam.curve import distance
from knifecam.planning import lay_out
from knifecam.rules.rule_passes import feasible
from knifecam.shop import Workholding
from knifecam.shop.defaults import propose_cutting
from knifecam.shop.side_view import floors
from knifecam.shop.tab_neck import neck_of, stress_raiser, widened
from tests.agreement.details import necked
from tests.agreement.orders import cutter, simple_order


def test_the_stress_at_a_fillet_by_hand():
    """D/d 15, d/r 2: (14 / (80.55 - 4.8) x 2)^0.85 = 0.36964^0.85 = 0.4291."""
    assert stress_raiser(0.2, 3.0, 0.1) == pytest.approx(1.4291, abs=5e-5)
    assert stress_raiser(0.2, 3.0, 0.05) > stress_raiser(0.2, 3.0, 0.1)
    assert stress_raiser(0.2, 3.0, 0.0) == stress_raiser(0.2, 3.0, 0.05)  # no edge is sharper


def test_a_tab_widens_to_the_wall_as_the_circles_beside_it_do():
    """D 3, 1 mm off the wall: 3 - 2 sqrt(1.5^2 - 0.5^2) = 0.172; at the wall D, at R nothing."""
    finish = cutter(2)
    assert widened(finish, 1.0) == pytest.approx(3 - 2 * math.sqrt(2.0))
    assert widened(finish, 0.0) == pytest.approx(3.0)
    assert widened(finish, 1.5) == pytest.approx(0.0)


def test_the_neck_s_sizes_by_hand():
    """Corner 0.05: foot 1 + 0.7393^0.85 = 1.7735, mean width 1 / 0.7735 = 1.293; flanks at 45 and 20
    degrees, 0.2 thick, slant it by 0.2 x 3.7475 / 2 = 0.375: 0.918, rounded up 1.0."""
    neck = neck_of(necked())
    assert neck.width == pytest.approx(1.0)
    assert neck.mean == pytest.approx(1.375, abs=5e-4)
    assert neck.at_wall == pytest.approx(2.0)
    # behind: D/d 2, (1 / 5.94 x 4)^0.85 = 0.7145: 2.375 x 1.7145 / 1.7735 - 0.1716 - 1.1242 = 1.000
    assert neck.waist == pytest.approx(1.0, abs=0.1)


def test_the_stub_is_what_side_a_s_corners_leave_at_the_foot():
    """Allowance 0.06 and a corner of 0.1, less sqrt(2 x 0.1 x 0.002) = 0.02."""
    assert neck_of(necked()).stub == pytest.approx(0.14)


def test_at_its_sizes_the_wall_is_the_weakest_place():
    for corner in (0.0, 0.05, 0.1):
        for thickness in (0.15, 0.2, 0.25):
            order = necked(corner=corner, neck=thickness)
            neck = neck_of(order)
            foot = stress_raiser(thickness, 3.0, corner)
            at_wall = (neck.mean + 1.0) / foot
            assert at_wall <= neck.mean + 1e-9
            behind = neck.waist + widened(order.cutter(2), 1.0)
            behind += (0.4 - thickness / 2) * (1 + 1 / math.tan(order.tabs.ramp_down))
            assert at_wall <= behind / stress_raiser(thickness, 0.4, corner) + 1e-9


def test_necks_are_cut_last_and_leave_the_neck_on_side_a_s_floor():
    order = necked()
    plan = lay_out(order)
    cut = plan.cuts[-1]
    assert (cut.side, cut.name, cut.stage) == ("B", "NECKS OF THE TABS", "neck")
    deep = floors(order)
    assert cut.bottom == pytest.approx(-deep.b_finish)
    m = cut.motions
    over = []
    for tab in plan.tabs:
        place = np.array(tab.place) * (1, -1)  # turned about X
        ends = [np.hypot(*(at[:, :2] - place).T) for at in (m.start, m.stop)]
        level = (m.kind == 1) & (m.start[:, 2] == m.stop[:, 2])
        over.append(m.start[level & (ends[0] < 2.0) & (ends[1] < 2.0), 2].min())
    assert over == pytest.approx([-(deep.a_rough - 0.2)] * 2)  # 0.2 mm above side A's floor
    low = (m.kind != 0) & (np.abs(m.stop - m.start)[:, :2].max(axis=1) > 0)
    assert distance(m.stop[low, :2], order.blade.outline).min() == pytest.approx(0.5, abs=1e-6)


def test_the_plan_tells_what_snaps_a_neck_and_what_it_leaves():
    """1.375 x 0.2^2 / 6 = 0.009165 mm3 at 2500 and 3500 N/mm2."""
    plan = lay_out(necked())
    tab = plan.tabs[0]
    assert tab.moment == pytest.approx((22.91, 32.08), abs=0.01)
    assert (tab.neck, tab.stub) == (0.2, pytest.approx(2.0))
    assert tab.stub_height == pytest.approx(0.14)
    assert any("toward side A" in note for note in plan.notes)
    plain = lay_out(simple_order()).tabs[0]
    assert (plain.neck, plain.stub_height) == (0.0, 0.0)


def refused(order, *words):
    lines = [line for line in feasible(order) if all(word in line for word in words)]
    assert len(lines) == 1, feasible(order)


def with_small(order, **changes):
    return replace(
        order, cutters=tuple(replace(c, **changes) if c.number == 5 else c for c in order.cutters)
    )


def test_sound_necks_are_not_refused():
    assert feasible(necked()) == ()


def test_levels_deeper_than_a_neck_s_cutter_takes_are_refused_not_cut_in_silence():
    order = necked()
    deep = replace(order, cutting=tuple(
        replace(c, stepdown=0.03) if c.stage == "neck" else c for c in order.cutting
    ))  # fmt: skip
    refused(deep, 'cutting of cutter 5 in stage "neck": stepdown=0.03 mm must be at most 0.025 mm')
    assert propose_cutting(cutter(5, diameter=1.5), "neck").stepdown == 0.025


def test_a_tab_that_would_snap_behind_its_neck_is_refused():
    least = neck_of(necked(corner=0.1)).waist
    assert least > 1.8
    refused(necked(corner=0.1, waist=1.8), f"order tabs.waist={least:.2f} mm or more")


def test_necks_too_thin_or_hardly_thinner_than_the_tab_are_refused():
    refused(necked(neck=0.1), "0.15 to 0.25 mm is usual")
    refused(necked(neck=0.35), "0.15 to 0.25 mm is usual")


def test_neck_cutters_too_thick_or_round_are_refused():
    refused(with_small(necked(), diameter=1.9), "the stub stays wide and thick")
    refused(with_small(necked(), corner=0.2), "the stub stays wide and thick")


def test_neck_cutters_too_short_for_the_trench_are_refused():
    refused(with_small(necked(), reach=2.0), "less than the 2.55 mm it goes into the trench")
    refused(with_small(necked(), neck=1.0), "is not relieved")


def test_trenches_of_round_cutters_leave_too_long_a_stub():
    order = necked()
    entries = tuple(replace(c, allowance=0.14) if c.stage == "rough" else c for c in order.cutting)
    refused(replace(order, cutting=entries), "stand out 0.220 mm")


def test_a_blade_held_by_screws_alone_has_no_tab_to_neck():
    order = necked()
    hold = Workholding(kind="bores", screws=("B1",), tip_clamp=True)
    none = replace(order.tabs, count=0)
    refused(
        replace(order, setup=replace(order.setup, workholding=hold), tabs=none), "no tabs to neck"
    )

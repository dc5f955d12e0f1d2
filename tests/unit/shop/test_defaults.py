"""Proposals by thickness, diameter and stage. All expected figures are common practice."""

from __future__ import annotations

import itertools
import math

import pytest

from knifecam.rules.cutter_rules import SERVES, check_cutters, check_cutting
from knifecam.shop import Mill
from knifecam.shop.defaults import (
    border_width,
    feed_for,
    feed_per_tooth,
    meeting_depth,
    overlap,
    propose_cutter,
    propose_cutting,
    propose_tabs,
    propose_trench,
    spindle_for,
    stepdown_for,
    surface_speed,
    tab_count,
    tab_thickness,
    tab_waist,
    trench_width,
    wall_stock,
)
from knifecam.shop.order_record import STAGES


@pytest.mark.parametrize(
    ("thickness", "tab", "waist"),
    [
        (2.0, 0.30, 1.2), (3.0, 0.40, 1.5), (4.0, 0.50, 1.5), (5.0, 0.55, 1.8), (6.0, 0.60, 2.0),
        (2.5, 0.35, 1.35), (3.5, 0.45, 1.5), (1.5, 0.30, 1.2), (8.0, 0.60, 2.0),
    ],
)  # fmt: skip
def test_tabs_by_thickness(thickness: float, tab: float, waist: float) -> None:
    assert tab_thickness(thickness) == pytest.approx(tab, abs=0.005)
    assert tab_waist(thickness) == pytest.approx(waist, abs=0.005)
    assert propose_tabs(thickness, 200.0).thickness == tab_thickness(thickness)


@pytest.mark.parametrize(("length", "count"), [(80, 3), (150, 4), (230, 4), (300, 6), (400, 6)])
def test_tabs_by_length(length: float, count: int) -> None:
    assert tab_count(length) == count


@pytest.mark.parametrize(
    ("thickness", "depth"), [(2, 0.6), (3, 0.6), (4, 0.6), (4.1, 2.05), (6, 3.0), (1.0, 0.5)]
)
def test_the_sides_meet_shallow_in_thin_plate_and_else_in_the_middle(
    thickness: float, depth: float
) -> None:
    assert meeting_depth(thickness) == pytest.approx(depth)


@pytest.mark.parametrize(
    ("a", "b", "least"), [(0, 0, 0.2), (0.05, 0.05, 0.2), (0.2, 0.2, 0.5), (0.2, 0.5, 0.8)]
)
def test_no_ridge_is_left_where_the_sides_meet(a: float, b: float, least: float) -> None:
    assert overlap(a, b) == pytest.approx(least)


@pytest.mark.parametrize("diameter", [1.0, 1.5, 2.0, 3.0, 4.0, 6.0])
def test_the_trench_has_room_for_both_cutters(diameter: float) -> None:
    stock = wall_stock(diameter)
    width = trench_width(diameter, diameter, stock)
    assert width >= 1.25 * diameter
    assert width >= diameter + stock + 0.25
    assert width <= max(1.4 * diameter, diameter + stock + 0.35)


@pytest.mark.parametrize(("diameter", "stock"), [(2.0, 0.04), (3.0, 0.06), (4.0, 0.08)])
def test_figures_by_diameter(diameter: float, stock: float) -> None:
    assert wall_stock(diameter) == stock
    assert stepdown_for("rough", diameter) == pytest.approx(0.045 * diameter, abs=5e-4)
    assert 0.02 * diameter <= stepdown_for("bore", diameter) <= 0.045 * diameter


@pytest.mark.parametrize("stage", ["rough", "bore", "clear"])
def test_figures_grow_with_the_diameter(stage: str) -> None:
    cutters = [propose_cutter(1, "flat", d / 10) for d in range(5, 121)]
    levels = [stepdown_for(stage, c.diameter) for c in cutters]
    teeth = [feed_per_tooth(c, stage, stepdown=1.0, stepover=1.0) for c in cutters]
    for seen in (levels, teeth, [wall_stock(c.diameter) for c in cutters]):
        assert all(0 < a <= b for a, b in itertools.pairwise(seen))


@pytest.mark.parametrize(
    ("diameter", "corner", "stage", "depth", "tooth_um"),
    [
        (3.0, 0.15, "rough", 0.13, 8.1),
        (6.0, 0.2, "clear", 0.27, 10.0),
        (6.0, 1.0, "clear", 0.27, 14.6),
        (6.0, 1.0, "bevel-rough", 0.30, 14.7),
    ],
)
def test_the_greatest_chip_decides_the_feed(
    diameter: float, corner: float, stage: str, depth: float, tooth_um: float
) -> None:
    """Chips of 8 um on 3 mm, 10 on 6: a level ``depth`` deep thins them on the corner.

    Hand-worked: fz = chip / sqrt(1 - ((r - h) / r)^2) at full width; a bevel's level 0.35 diameters
    wide thins it by 2 sqrt(0.35 x 0.65) = 0.954 besides.
    """
    cutter = propose_cutter(1, "bull-nose", diameter, corner=corner)
    found = feed_per_tooth(cutter, stage, stepdown=depth, stepover=0.35 * diameter)
    assert 1000 * found == pytest.approx(tooth_um, abs=0.06)


def test_surface_speed_falls_by_15_percent_at_64_hrc() -> None:
    assert 50e3 <= surface_speed("rough", 60) <= 70e3
    assert 70e3 <= surface_speed("finish", 60) <= 100e3
    assert surface_speed("rough", 62) == surface_speed("rough", 58)
    assert surface_speed("rough", 64) == pytest.approx(0.85 * surface_speed("rough", 62))


def test_frame_is_never_less_than_8_mm() -> None:
    assert border_width(2.0) == 8.0
    assert border_width(4.0) == 10.0


def test_spindle_and_feed_of_a_catalogue() -> None:
    # Ingersoll general catalogue 2011, p. 451: D 0.375 in, 4 flutes, 450 ft/min, 0.004 in a tooth
    # gives 4584 rev/min and 73.3 in/min; the spindle is cut to whole turns here
    spindle = spindle_for(450 * 304.8, 0.375 * 25.4)
    assert spindle == 4583
    assert feed_for(spindle, 4, 0.004 * 25.4) / 25.4 == pytest.approx(73.3, abs=0.05)


@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("diameter", [0.8, 1.5, 2.0, 3.0, 4.0, 6.0, 12.0])
@pytest.mark.parametrize("mill", [Mill(), Mill(spindle_low=8000, spindle_high=9000, feed_high=90)])
def test_a_proposal_is_within_the_mill(stage: str, diameter: float, mill: Mill) -> None:
    cutter, fitting = (propose_cutter(1, kind, diameter) for kind in ("flat", SERVES[stage][0]))
    entry = propose_cutting(cutter, stage, hardness_hrc=61.0, mill=mill)
    assert list(check_cutting([entry], [fitting], mill)) == []
    wanted = surface_speed(stage, 61.0)
    if mill.spindle_low < entry.spindle < mill.spindle_high:
        assert math.pi * diameter * entry.spindle <= wanted
        assert math.pi * diameter * (entry.spindle + 1) > wanted


@pytest.mark.parametrize(
    ("kind", "corner"), [("flat", None), ("ball", None), ("bull-nose", 0.2), ("bull-nose", None)]
)
@pytest.mark.parametrize("diameter", [0.5, 1.5, 2.0, 3.0, 6.0, 8.0, 20.0, 40.0])
def test_a_proposed_cutter_is_sound(kind: str, corner: float | None, diameter: float) -> None:
    cutter = propose_cutter(1, kind, diameter, corner=corner)
    assert list(check_cutters([cutter])) == []
    away = cutter.reach + (cutter.shank - cutter.neck) / 2 / math.tan(cutter.cone)
    assert cutter.stickout >= away + 10.0 - 1e-9


def test_a_proposed_trench_follows_its_cutters() -> None:
    cutter = propose_cutter(1, "bull-nose", 3.0, corner=0.2)
    trench = propose_trench(3.0, cutter, cutter, 0.06)
    assert (trench.depth_a, trench.overlap, trench.width, trench.border) == (0.6, 0.5, 3.9, 8.0)

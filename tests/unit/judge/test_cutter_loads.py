"""Loads of a program written by hand: one flat cutter of 3 mm, 4 flutes, 8000 rev/min."""

from __future__ import annotations

import math

import numpy as np
import pytest

from knifecam.cutting.cutter_bending import bar_pieces, deflection_per_newton
from knifecam.cutting.cutting_force import cutting_force, hardened_steel
from knifecam.judge.cutter_loads import CutterLoads, cutter_loads, heaviest_loads, met_metal
from knifecam.judge.prove import judge
from knifecam.report.screen_lines import measure_lines
from knifecam.rs274.restart_points import cut_starts
from tests.unit.judge import hand_written

TOOTH = hand_written.FEED / (4 * 8000)

LEVEL = 0.2333
"""mm: the depth of a level of side A's trench."""

CELL = 0.05


@pytest.fixture(scope="module")
def judged():
    found = judge(hand_written.order(), (hand_written.side_a(), hand_written.side_b()))
    assert found.verdict.ok
    return found


def metal_of(judged, which):
    side = judged.case.sides[which]
    return side, met_metal(side, judged.case)


def by_formula(judged, entry, axial):
    cutter = judged.case.order.cutters[0]
    steel = hardened_steel(judged.case.order.blade.steel.hardness_hrc)
    return cutter, cutting_force(
        cutter, steel, entry=entry, exit_=math.pi, axial=axial, feed_per_tooth=TOOTH
    )


def test_a_slot_bends_the_cutter_as_the_formulas_say(judged):
    """A full slot, a level of the trench deep: teeth in metal for half a turn, whatever cells see."""
    side, metal = metal_of(judged, 0)
    e = side.steps.engagement
    rows = metal.rows
    slot = np.flatnonzero(
        (e.left[rows] > 0.9 * LEVEL)
        & (e.front[rows] > 0.9 * LEVEL)
        & (e.right[rows] > 0.9 * LEVEL)
        & (side.steps.fall[rows] == 0.0)
        & (np.abs(e.under[rows] - LEVEL) < 2e-4)
        & (np.abs(metal.tooth - TOOTH) < 1e-9)
    )
    assert len(slot) > 20
    assert np.median(metal.section[slot]) == pytest.approx(3 * LEVEL, rel=0.01)
    loads = cutter_loads(side, judged.case, metal.chosen(slot))
    cutter, force = by_formula(judged, 0.0, LEVEL)
    for name in ("across", "lift", "press", "torque"):
        assert getattr(loads, name) == pytest.approx(float(getattr(force, name)[0]), rel=1e-3)
    bent = float(force.across[0] * deflection_per_newton(bar_pieces(cutter), force.height)[0])
    assert loads.deflection == pytest.approx(bent, rel=0.01)
    assert metal.chip[slot] == pytest.approx(TOOTH, rel=1e-6)


def test_a_finishing_lap_is_a_wall_as_thin_as_its_stock(judged):
    """0.06 on the right along the straight wall; along the grid's rows a cell more or less is seen."""
    side, metal = metal_of(judged, 0)
    place, rows = side.steps.engagement.place, metal.rows
    starts = [k for k, text in enumerate(side.text.splitlines(), 1) if "WALL" in text]
    lap = np.flatnonzero(
        (np.asarray(side.trace.line)[side.steps.motion[rows]] > starts[-1])
        & (np.abs(place[rows, 1] + hand_written.RADIUS) < 1e-3)
        & (np.abs(place[rows, 0] - 35) < 4)
    )
    assert len(lap) > 5
    arc = metal.exit[lap, 1] - metal.entry[lap, 1]
    seen = hand_written.RADIUS * (1.0 - np.cos(arc))
    assert np.median(seen) == pytest.approx(hand_written.STOCK, abs=CELL / 2)
    assert metal.exit[lap, 1] == pytest.approx(math.pi)
    assert not metal.top[lap, 0].any()
    loads = cutter_loads(side, judged.case, metal.chosen(lap))
    k = int(np.argsort(seen)[len(seen) // 2])
    _, force = by_formula(judged, math.pi - float(arc[k]), float(metal.top[lap[k], 1]))
    assert loads.across[k] == pytest.approx(float(force.across[0]), rel=1e-6)
    assert np.all(loads.aside > 0.0)
    assert np.all(loads.lift > loads.press)


@pytest.mark.parametrize("which", [0, 1])
def test_those_looked_at_hold_the_greatest_loads_of_each_cut(judged, which):
    side, metal = metal_of(judged, which)
    begins = np.searchsorted(side.trace.line, cut_starts(side.text))
    some, cut = heaviest_loads(side, judged.case, metal, begins)
    every = cutter_loads(side, judged.case, metal)
    of_all = np.searchsorted(begins, side.steps.motion[metal.rows], side="right") - 1
    assert len(some.across) < len(every.across) / 3
    names = set(CutterLoads.__dataclass_fields__) - {"metal", "press", "along", "aside"}
    for k in range(len(begins)):
        for name in names:
            whole = getattr(every, name)[of_all == k].max(initial=0.0)
            found = getattr(some, name)[cut == k].max(initial=0.0)
            assert found == pytest.approx(whole, rel=0.01, abs=0.5), (k, name)


def test_the_verdict_tells_them_by_cut_and_the_screen_the_greatest(judged):
    sides = judged.verdict.measures["sides"]
    cuts = [(name, cut) for name, side in sides.items() for cut in side["cuts"]]
    known = [(name, cut) for name, cut in cuts if cut["loads"]]
    side, most = max(known, key=lambda row: row[1]["loads"]["across"])
    loads, greatest = most["loads"], sides[side]["greatest_force"]
    assert greatest["line"] == loads["line"] >= most["line"]
    assert greatest["across"] == loads["across"] >= max(loads["along"], loads["aside"])
    assert loads["cutter"] == judged.case.order.cutters[0].number
    (line,) = [row for row in measure_lines(judged.verdict.measures) if "greatest force" in row]
    assert f"side {side} line {loads['line']}, {greatest['cut']}: {loads['across']:.0f} N" in line
    assert "CUTTER" not in greatest["cut"]
    assert f"by {1000 * loads['deflection']:.0f} um" in line
    (inches,) = [r for r in measure_lines(judged.verdict.measures, "in") if "greatest force" in r]
    assert f"{loads['across'] / 4.4482216152605:.1f} lbf across" in inches


def test_where_the_spindle_stands_no_load_is_known(judged):
    texts = tuple(
        text.replace("M3", "M5") for text in (hand_written.side_a(), hand_written.side_b())
    )
    found = judge(hand_written.order(), texts)
    for side in found.verdict.measures["sides"].values():
        assert side["greatest_force"] is None
        assert all(cut["loads"] is None for cut in side["cuts"])
        assert side["heaviest_cut"]["force"] is None

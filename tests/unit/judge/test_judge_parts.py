"""Small parts of the judge on hand-worked cases."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import Bore
from knifecam.curve import Curve, circle, signed_distance
from knifecam.judge.collisions import widest_radius_below
from knifecam.judge.findings import first_and_worst
from knifecam.judge.seating import ways_it_seats
from knifecam.judge.spindle_and_feeds import contact_minutes, contact_spells
from knifecam.judge.worst_case import Disturbance, thicker_between
from knifecam.measure.measured_surfaces import deeper_than
from knifecam.rs274.program_reader import read_program
from knifecam.rs274.restart_points import dwelled, modes_in_force
from knifecam.shop import Cutter, Setup
from knifecam.sweep.columns import plate_grid
from knifecam.sweep.side_program import SideProgram, bounds, side_of, stored_of
from tests.unit.judge import hand_written as hand


def side(text: str, setup: Setup | None = None) -> SideProgram:
    order = hand.order()
    return side_of(order, "A", text, read_program(text, stored_of(setup or order.setup)), 0)


HEAD = "G21 G17 G90 G94 G54\nT1 M6\nS8000 M3\nG4 P1\nG4 P2\nM7\nG43 H1\nG0 Z5\n"


def test_modes_are_followed_act_by_act() -> None:
    text = HEAD + "G0 X1 Y1\nG1 Z-1 F100\nM9\nM5\nM0\nM4\nM8\nG1 X2\nM2\n"
    seen = {s.act.line: s for s in modes_in_force(side(text).trace)}
    assert (seen[13].spindle, seen[13].mist) == (0, False)
    last = seen[max(seen)]
    assert (last.spindle, last.mist, last.flood) == (-1, False, True)


def test_dwells_add_up_from_the_last_start() -> None:
    text = HEAD + "G1 X1 F100\nM3\nG1 X2\nG4 P5\nG1 X3\nM2\n"
    assert dwelled(side(text).trace).tolist() == [3.0, 3.0, 0.0, 5.0]


def test_a_fresh_cutter_starts_a_new_life() -> None:
    plain = HEAD + "G1 X300 F100\nM5\nM9\nT1 M6\nG1 X0\nM2\n"
    fresh = HEAD + "G1 X300 F100\nM5\nM9\nM0\nT1 M6\nG1 X0\nM2\n"
    assert len(contact_spells(side(plain))[1]) == 2
    cut = side(fresh)
    assert (-1, -1) in contact_spells(cut)[1]
    cut.__dict__["contact"] = np.ones(len(cut), bool)
    minutes = [round(m, 6) for m, _ in contact_minutes(cut)[1]]
    assert minutes == [3.0, 3.0]


def test_bounds_are_exact_on_arcs_and_leave_out_the_unknown() -> None:
    text = "G21 G90 G94 G54\nG0 Z5\nG0 X10 Y0\nG3 X0 Y10 I-10 J0 F100\nG2 X10 Y0 I0 J-10\nM2\n"
    low, high = bounds(side(text))
    assert low == pytest.approx([0.0, 0.0, 5.0], abs=1e-12)
    assert high == pytest.approx([10.0, 10.0, 5.0], abs=1e-12)
    full = "G21 G90 G94 G54\nG0 Z5\nG0 X10 Y0\nG3 X10 I-10 F100\nM2\n"
    low, high = bounds(side(full))
    assert low[:2] == pytest.approx([-10.0, -10.0])
    assert high[:2] == pytest.approx([10.0, 10.0])


@pytest.mark.parametrize(
    ("places", "sizes", "blind", "ways"),
    [
        # bench.md: "two equal pins seat four ways"; along the flip axis and through
        ([(0, 0), (80, 0)], (6, 6), False, 4),
        ([(0, 0), (80, 0)], (6, 6), True, 2),
        ([(0, 0), (80, 0)], (6, 5), False, 2),
        ([(0, 0), (80, 0)], (6, 5), True, 1),
        ([(0, 0), (80, 7)], (6, 6), True, 2),
        ([(0, 0), (80, 0), (20, 9)], (6, 6, 6), False, 1),
        ([(0, 0), (80, 0), (40, 9)], (6, 6, 6), False, 2),
    ],
)
def test_ways_a_plate_seats(
    places: list[tuple[float, float]], sizes: tuple[float, ...], blind: bool, ways: int
) -> None:
    bores = tuple(
        Bore(name=str(k), centre=at, diameter=d, depth=2.7 if blind else None)
        for k, (at, d) in enumerate(zip(places, sizes, strict=True))
    )
    found = ways_it_seats(bores, "X")
    assert len(found) == ways
    assert "turned over about X" in found


def test_a_cutter_is_as_wide_as_its_widest_part_below() -> None:
    cutter = Cutter(
        number=1, kind="flat", diameter=2.0, flute_length=4.0, neck=1.9, reach=10.0,
        cone=math.radians(45), shank=6.0, stickout=30.0, holder=25.0,
    )  # fmt: skip
    heights = np.array([-1.0, 0.5, 9.0, 11.0, 20.0, 31.0])
    assert widest_radius_below(cutter, heights) == pytest.approx([0.0, 1.0, 1.0, 1.95, 3.0, 12.5])


@pytest.mark.parametrize("depth", [0.0, 0.3, -0.4])
def test_cells_inside_a_curve_as_point_by_point(depth: float) -> None:
    grid = plate_grid((-7.0, -6.0, 8.0, 9.0), 3.0, 0.23)
    bulged = Curve([(-4, -3), (5, -4), (6, 5), (0, 1), (-5, 6)], [0.3, -0.2, 0.5, 0.0, 0.9])
    x, y = np.meshgrid(grid.x, grid.y)
    points = np.stack([x.ravel(), y.ravel()], axis=1)
    for curve in (bulged, circle((7.0, 8.0), 5.0), circle((30.0, 0.0), 5.0)):
        every = (signed_distance(points, curve) > depth).reshape(x.shape)
        assert np.array_equal(deeper_than(grid, curve, depth), every)


@pytest.mark.parametrize(
    ("zeros", "grown"),
    [(("face", "fixture"), 0.0), (("face", "face"), 0.05), (("fixture", "fixture"), -0.05)],
)
def test_a_thicker_plate_by_hand(zeros: tuple[str, str], grown: float) -> None:
    """A's height w above the fixture and B's height v: each moves with its face, or not at all.

    Thickness kept is w + v - T: with one face and one fixture it stays, with two faces it grows by
    the difference, with two fixtures it shrinks by it.
    """
    setup = replace(hand.order().setup, z_zero=zeros)
    change = Disturbance(name="", thickness=0.05)
    assert thicker_between(setup, change, 20.0) == pytest.approx(grown)
    assert thicker_between(setup, Disturbance(name="", zero_high=0.03), 20.0) == pytest.approx(0.03)


def test_many_hits_become_the_first_and_the_worst() -> None:
    text = HEAD + "".join(f"G1 X{k} F100\n" for k in range(1, 9)) + "M2\n"
    cut = side(text)
    badness = [1.0, 2.0, 9.0, 3.0]
    found = list(
        first_and_worst("feed", cut, [2, 3, 5, 6], tell=lambda k: (f"hit {k}", badness[k], 0.5),
               remedy="less", badness=badness)
    )  # fmt: skip
    assert [f.line for f in found] == [10, 13]
    assert found[0].message == "hit 0 (and 2 more lines)"
    assert found[1].message == "hit 2 (the worst)"
    assert list(first_and_worst("feed", cut, [], tell=lambda k: ("", None, None), remedy="")) == []

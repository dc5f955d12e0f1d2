"""What motions take, on a hand-made record of a few pairs of motions and places."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from knifecam.rs274.program_reader import read_program
from knifecam.sweep.side_program import stored_of
from tests.sabotage.oracle.bite import _loads
from tests.sabotage.oracle.cut import Pairs
from tests.sabotage.oracle.form import Strokes
from tests.sabotage.oracle.harm import HARMFUL, NEAR
from tests.sabotage.oracle.life import fresh_edges, longest
from tests.sabotage.oracle.side_cut import SideCut
from tests.sabotage.oracle.stock import stock
from tests.unit.judge import hand_written as hand

HEAD = "(CUT 1 OF 1: BEVELS)\nG21 G17 G90 G94 G54\nT1 M6\nG43 H1\nS8000 M3\n"
TEXT = HEAD + "G0 Z5\nG1 X1 F100\nG1 X2\nG1 X3\nM2\n"
"""Motions 1 to 3 feed 1 mm each at 100 mm/min."""


def side_cut(rows: list[tuple[int, int, float, float, float]], far: list[float]) -> SideCut:
    """Rows are motion, place, height, nearest way of the axis, metal removed; a cutter of radius 2."""
    trace = read_program(TEXT, stored_of(hand.order().setup))
    count = len(trace.motions)
    motion, place, height, near, removed = (np.array(column) for column in zip(*rows, strict=True))
    return SideCut(
        name="A", trace=trace, face=1.5,
        strokes=Strokes(
            start=np.zeros((count, 3)), stop=np.zeros((count, 3)), centre=np.zeros((count, 2)),
            turns=np.zeros(count), radius=np.full(count, 2.0), flat=np.full(count, 2.0),
            rise=np.zeros(count),
        ),
        pairs=Pairs(motion=motion, place=place, height=height, near=near),
        removed=removed, level=np.zeros(len(far)), far=np.array(far),
    )  # fmt: skip


def test_what_is_taken_under_the_middle_well_inside_and_anywhere() -> None:
    cut = side_cut(
        [
            (1, 0, 1.4, 0.9, 0.10), (1, 1, 1.3, 1.7, 0.20), (1, 2, 1.2, 1.8, 0.30),
            (2, 3, 0.5, 0.0, 0.25), (2, 4, 1.4, 0.0, 0.05),
        ],
        [-1.5, -1.5, -1.5, 0.5, -1.5],
    )  # fmt: skip
    # within a half of the radius, more than 0.06 of the diameter (0.24 mm) off the rim, and at the rim
    assert (cut.core[1], cut.inner[1], cut.bite[1]) == (0.10, 0.20, 0.30)
    # at place 3 no metal is left below, at place 4 there is
    assert (cut.sheared[2], cut.solid[2]) == (0.25, 0.05)
    assert cut.sheared[1] == 0.0


def test_metal_is_wide_where_it_reaches_from_the_axis_to_the_rim() -> None:
    """The flat end's radius is 2 too: within 0.5 mm of the axis, and from 1.8 mm off it on."""
    strip = side_cut([(1, 0, 0.9, 0.4, 0.20), (1, 1, 0.9, 1.7, 0.20)], [-1.5, -1.5])
    slot = side_cut([(1, 0, 0.9, 0.4, 0.20), (1, 1, 0.9, 1.9, 0.19)], [-1.5, -1.5])
    assert (strip.solid[1], strip.broad_solid[1]) == (0.20, 0.0)
    assert (slot.solid[1], slot.broad_solid[1], slot.broad_sheared[1]) == (0.20, 0.19, 0.0)


def test_a_stage_left_out_is_met_by_the_finishing_pass() -> None:
    """0.05 mm ordered; without it the pass meets what roughing left, 0.13 mm."""
    final, on_bevel = np.array([0.0, 0.0]), np.array([True, True])
    good = side_cut([(2, 0, 0.002, 0.5, 0.05), (1, 1, 0.05, 0.5, 0.25)], [-1.5, -1.5])
    wrong = side_cut([(2, 0, 0.002, 0.5, 0.13), (1, 1, 0.05, 0.5, 0.25)], [-1.5, -1.5])
    assert list(stock(good, good, final, on_bevel)) == []
    one, in_all = stock(good, wrong, final, on_bevel)
    assert one.grade == in_all.grade == HARMFUL
    assert one.amount == in_all.amount == pytest.approx(2.6)


@pytest.mark.parametrize(("places", "grade"), [(1, NEAR), (3, HARMFUL)])
def test_stock_that_passes_share_is_met_all_the_same(places: int, grade: str) -> None:
    """Two passes take 0.025 mm each of the 0.05 ordered. Where the stage before is missing the first
    takes 0.105 and stays above the finished height; at one place of five that is near."""
    count = 5

    def finished(wrong: int) -> SideCut:
        first = [(1, k, 0.025, 0.5, 0.105 if k < wrong else 0.025) for k in range(count)]
        last = [(2, k, 0.002, 0.5, 0.025) for k in range(count)]
        return side_cut([*first, *last], [-1.5] * count)

    final, on_bevel = np.zeros(count), np.ones(count, bool)
    assert list(stock(finished(0), finished(0), final, on_bevel)) == []
    (found,) = stock(finished(0), finished(places), final, on_bevel)
    assert found.grade == grade
    assert found.amount == pytest.approx(0.13 / 0.05)


@pytest.mark.parametrize(
    ("stage", "depth", "grade"),
    [("rough", 0.25, NEAR), ("rough", 0.1, HARMFUL), ("finish", 0.25, HARMFUL)],
)
def test_a_load_is_held_to_what_the_order_gives(stage: str, depth: float, grade: str) -> None:
    """0.226 mm where 0.1 is usual; a finishing stage's stepdown is a wall's height and gives none."""
    order = hand.order()
    given = [replace(c, stepdown=depth if c.stage == stage else 0.1) for c in order.cutting]
    usual, found = (
        side_cut([(1, 0, 0.9, 0.4, deep), (1, 1, 0.9, 1.9, deep)], [-1.5, -1.5])
        for deep in (0.1, 0.226)
    )
    (told,) = _loads(replace(order, cutting=tuple(given)), usual, found)
    assert (told.grade, told.amount) == (grade, 0.226)


def test_minutes_are_those_of_motions_in_metal() -> None:
    cut = side_cut([(1, 0, 1.4, 0.0, 0.1), (3, 0, 1.3, 0.0, 0.1)], [-1.5])
    assert longest(cut, 1) == pytest.approx(2.0 / 100.0)
    assert longest(cut, 2) == 0.0


@pytest.mark.parametrize(
    ("between", "fresh"),
    [
        ("M5\nM0\nT1 M6\n", [2]),
        ("M5\nT1 M6\n", []),
        ("M5\nM1\nT1 M6\n", []),
        ("M5\nM0\nT2 M6\nM0\nT1 M6\n", []),
        ("M5\nT2 M6\n(MSG, FIT A FRESH CUTTER 1)\nM0\nT1 M6\n", [2]),
    ],
)
def test_a_hand_puts_a_fresh_cutter_in(between: str, fresh: list[int]) -> None:
    text = HEAD + "G0 Z5\nG1 X1 F100\n" + between + "G43 H1\nG1 X2\nM2\n"
    assert list(fresh_edges(read_program(text, stored_of(hand.order().setup)), 1)) == fresh

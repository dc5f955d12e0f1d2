"""No finding depends on the cell: by hand against closed forms, and on the planner's programs spoilt.

The judge sweeps the cutter over a grid of cells. What it finds in them, on which side and line, and
how much of it, is to be the same however wide they are.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from knifecam.judge.findings import Finding
from knifecam.judge.prove import judge
from knifecam.shop import Order
from tests.agreement.orders import simple_order
from tests.sabotage.harness import (
    Texts,
    inserted,
    moved,
    nth,
    pass_travelled_back,
    rows,
    without_cut,
)
from tests.sabotage.made import texts_of
from tests.unit.judge import hand_written as hand

CELLS = (0.2, 0.02)
"""mm: what those of 0.2 find is judged again in those of 0.05, and told as these find it."""


def found(order: Order, texts: Texts, kind: str, cell: float) -> tuple[Finding, ...]:
    judged = judge(order, texts, cell=cell)
    return tuple(one for one in judged.verdict.findings if one.kind == kind)


@pytest.mark.parametrize(("cell", "short"), [(0.2, 0.15), (0.02, 0.15), (0.05, 0.001)])
def test_a_frame_is_what_the_outermost_cut_leaves(cell: float, short: float) -> None:
    """The trench's rim is 4 mm off the blade, the plate's edge 15: 11 mm stay, and more is ordered."""
    stays = hand.EDGE - hand.TRENCH
    order = hand.order()
    order = replace(order, trench=replace(order.trench, border=stays + short))
    (one,) = found(order, (hand.side_a(), hand.side_b()), "border", cell)
    assert one.measured == pytest.approx(stays, abs=1e-6)


def grazing(deep: float, way: float) -> str:
    """Side A's program with a rapid along the trench's outer wall, ``deep`` mm inside it.

    The wall is that below the blade's lower edge, which has no tabs: the floor lies 0.7 mm deep.
    """
    text, s = hand.side_a(), hand.seen("A", "X")
    y = s.y - hand.TRENCH + hand.RADIUS - deep
    down, x = -(hand.MEET + hand.OVERLAP / 2), s.x + hand.LENGTH / 2
    end = nth(text, r"^G0 Z5\.0000", cut="WALL", number=-1)
    return inserted(
        text, end,
        f"G0 X{x:.4f} Y{s.y - hand.RADIUS - 0.6:.4f}\nG0 X{x:.4f} Y{y:.4f} Z{down:.4f}\n"
        f"G0 X{x + way:.4f} Y{y:.4f}",
    )  # fmt: skip


@pytest.mark.parametrize("deep", [0.03, 0.3])
def test_a_rapid_that_grazes_a_wall_is_told_with_what_it_takes(deep: float) -> None:
    """On its way to the wall it takes the segment of a circle, 0.7 mm deep, along it ``deep`` mm."""
    way, text, high = 3.0, grazing(deep, 3.0), hand.MEET + hand.OVERLAP / 2
    angle = 2 * math.acos(1 - deep / hand.RADIUS)
    segment = hand.RADIUS**2 * (angle - math.sin(angle)) / 2
    told = [found(hand.order(), (text, hand.side_b()), "rapid-contact", cell) for cell in CELLS]
    for first, worst in told:
        assert rows(text)[first.line - 1].endswith("Z-0.7000")
        assert (first.line, first.measured) == (told[0][0].line, told[0][0].measured)
        assert (worst.line, worst.measured) == (first.line + 1, told[0][1].measured)
    share = 0.02 + 0.005 / deep  # of a row of the finest cells
    assert told[0][0].measured == pytest.approx(segment * high, rel=share)
    assert told[0][1].measured == pytest.approx(deep * way * high, rel=share)


@pytest.mark.parametrize("deep", [0.02, 0.1])
def test_a_fall_beside_a_wall_is_told_however_little_of_it_is_met(deep: float) -> None:
    """A feed straight down into the trench that takes a crescent of its outer wall, 0.7 mm high."""
    text, s = hand.side_a(), hand.seen("A", "X")
    end = nth(text, r"^G0 Z5\.0000", cut="WALL", number=-1)
    x, y = s.x + hand.LENGTH / 2, s.y - hand.TRENCH + hand.RADIUS - deep
    high = hand.MEET + hand.OVERLAP / 2
    text = inserted(text, end, f"G0 Z5.0\nG0 X{x:.4f} Y{y:.4f}\nG0 Z0.5\nG1 Z-{high:.4f} F100")
    told = [found(hand.order(), (text, hand.side_b()), "steep-entry", cell) for cell in CELLS]
    for (one,) in told:
        assert one.line == end + 3
        assert one.measured == pytest.approx(high, abs=1e-6)


@pytest.mark.parametrize("past", [0.03, 0.0995])
def test_a_wall_cut_too_deep_is_told_alike(past: float) -> None:
    """Side A's roughing laps shifted, so that they go ``past`` mm into the blade's lower edge."""
    text = moved(hand.side_a(), "Y", past + hand.STOCK, cut="GROOVE")
    told = [found(hand.order(), (text, hand.side_b()), "gouge", cell) for cell in CELLS]
    assert told[0]
    for some in told:
        assert [(one.line, one.message.split(";")[0][:9]) for one in some] == [
            (one.line, one.message.split(";")[0][:9]) for one in told[0]
        ]
        for one, other in zip(some, told[0], strict=True):
            assert one.measured == pytest.approx(other.measured, rel=0.02)


@cache
def planned() -> tuple[Order, tuple[str, str]]:
    order = simple_order()
    a, b = texts_of(order)
    assert a is not None
    assert b is not None
    return order, (a, b)


SPOILT: dict[str, Callable[[str], str]] = {
    "as planned": lambda text: text,
    "trench's roughing 0.012 mm lower": lambda text: moved(text, "Z", -0.012, cut="OUTLINE TRENCH"),
    "trench's roughing 0.05 mm aside": lambda text: moved(text, "Y", 0.05, cut="OUTLINE TRENCH"),
    "bores left out": lambda text: without_cut(text, ": BORES"),
    "a lap the other way": lambda text: pass_travelled_back(text, "OUTLINE WALL", 0),
}


@pytest.mark.parametrize("change", SPOILT)
def test_programs_are_found_alike_in_all_cells(change: str) -> None:
    """The planner's programs of a small blade, and side A's spoilt in ways that cells tell."""
    order, (a, b) = planned()
    fine, other = (
        sorted(
            ((one.kind, one.side, one.line), one.measured or 0.0)
            for one in judge(order, (SPOILT[change](a), b), cell=cell).verdict.findings
        )
        for cell in (0.02, 0.1)
    )
    assert bool(fine) == (change != "as planned")
    assert [one for one, _ in other] == [one for one, _ in fine]
    assert [amount for _, amount in other] == pytest.approx([x for _, x in fine], rel=0.02)

"""A slot of which one side is open is judged by how far across the cutter it goes, in mm.

A flat cutter of 6 mm comes into the frame from beside the plate, opens a lane in two levels of
0.25 mm, and takes a second lane beside it at 0.5 mm in one. With metal from straight aside up to the
angle a ahead of the cutter's centre it goes R (1 - cos a) across, the distance between both lanes.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from knifecam.judge.prove import judge
from knifecam.shop import Cutter, Cutting, Order
from tests.unit.judge import hand_written as plain

DIAMETER, STEPDOWN, DEEP = 6.0, 0.25, 0.5
LANE, LONG = 2.0, 40.0
CELL = 0.05


def order() -> Order:
    """Return the plain order with a cutter of 6 mm that roughs."""
    base = plain.order()
    wide = Cutter(
        number=2, kind="flat", diameter=DIAMETER, flutes=4, flute_length=12.0, neck=5.8, reach=15.0,
        shank=6.0, stickout=30.0, ramp=math.radians(2.0),
    )  # fmt: skip
    roughing = Cutting(
        cutter=2, stage="rough", spindle=4000, feed=plain.FEED, stepdown=STEPDOWN, stepover=1.8
    )
    return replace(base, cutters=(*base.cutters, wide), cutting=(*base.cutting, roughing))


def lane(w: plain.Writer, y: float, depth: float, long: float, step: float) -> None:
    """Come in from beside the plate and go along it, in pieces of ``step`` mm."""
    w.rapid_xy(-DIAMETER, y)
    w.line(-DIAMETER, y, -depth)
    for k in range(1, round(long / step) + 1):
        w.line(k * step, y, -depth)
    w.rapid_z(5.0)


def told(beside: float, levels: tuple[float, ...], step: float = LONG) -> list[list[float]]:
    """Return what slot-depth tells where a lane is taken ``beside`` another, a bit longer one.

    Depth, width and what is allowed, mm, of each finding.
    """
    w = plain.Writer(face=0.0)
    plain.head(w)
    plain.begin_cut(w, "CUT 1 OF 1: FRAME, CUTTER 2", "G54")
    w.lines = [row.replace("T1 M6", "T2 M6").replace("G43 H1", "G43 H2") for row in w.lines]
    for depth in (STEPDOWN, DEEP):
        lane(w, LANE, depth, LONG + DIAMETER, LONG + DIAMETER)
    for depth in levels:
        lane(w, LANE + beside, depth, LONG, step)
    plain.end_cut(w)
    w.say("M2", "")
    findings = judge(order(), ("\n".join(w.lines), None), cell=CELL).verdict.findings
    found = [f.message for f in findings if f.kind == "slot-depth"]
    return [[float(n) for n in re.findall(r"\d+\.\d+", message)] for message in found]


def test_three_quarters_of_a_wide_cutter_are_a_slot() -> None:
    ((depth, across, allowed),) = told(0.75 * DIAMETER, (DEEP,))
    assert depth == pytest.approx(DEEP, rel=0.05)
    assert across == pytest.approx(0.75 * DIAMETER, abs=CELL)
    assert allowed == pytest.approx(1.1 * STEPDOWN + 0.01)


def test_half_of_a_cutter_is_none() -> None:
    assert told(0.5 * DIAMETER, (DEEP,)) == []


def test_pieces_shorter_than_a_cell_hide_and_feign_nothing() -> None:
    """Each by itself takes a row of cells, or nothing."""
    step = CELL / 5
    assert told(0.75 * DIAMETER, (STEPDOWN, DEEP), step) == []
    found = told(0.75 * DIAMETER, (DEEP,), step)
    assert max(depth for depth, _, _ in found) == pytest.approx(DEEP, rel=0.1)

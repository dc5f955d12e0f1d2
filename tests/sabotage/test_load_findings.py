"""Programs that overload a cutter on purpose, each found for its own reason."""

from __future__ import annotations

import pytest

from knifecam.judge.prove import judge
from knifecam.shop import Order
from tests.unit.judge import hand_bevel as hand
from tests.unit.judge import hand_written as plain

Made = tuple[Order, str]


def _far_too_fast() -> Made:
    return plain.order(), plain.side_a().replace("S8000", "S23900")


def _rough_far_off_the_wall() -> Made:
    kept, plain.STOCK = plain.STOCK, 0.4
    try:
        text = plain.side_a()
    finally:
        plain.STOCK = kept
    return plain.order(), text


def _a_strip_between_grooves() -> Made:
    """Two grooves 1.2 mm deep, in levels of 0.2 mm, and what stands between them mown at once."""
    w = plain.Writer(face=0.0)
    plain.head(w)
    plain.begin_cut(w, "CUT 1 OF 1: GROOVES", "G54")
    for y in (4.0, 8.4):
        for level in range(1, 7):
            w.rapid_xy(20.0, y)
            w.rapid_z(0.5)
            w.line(20.0, y, -0.2 * (level - 1))
            w.line(30.0, y, -0.2 * level)
            w.line(60.0, y, -0.2 * level)
            w.line(20.0, y, -0.2 * level)
            w.rapid_z(5.0)
    w.rapid_xy(20.0, 6.2)
    w.rapid_z(0.5)
    w.line(20.0, 6.2, -1.2)
    w.line(56.0, 6.2, -1.2)
    plain.end_cut(w)
    w.say("M2")
    return plain.order(), "\n".join(w.lines) + "\n"


def _down_the_slope() -> Made:
    w = plain.Writer(face=0.0)
    w.lines = plain.side_a().removesuffix("M2\n").splitlines()
    hand.bevel_cuts(w, "A", first=4, count=7, stages=("rough", "semi"))
    hand.begin_cut(w, "CUT 8 OF 8: BEVEL DOWN, CUTTER 2", "G54", 2)
    edge, grind = hand.passes(hand.width())
    for x in range(20, 40):
        b = hand.Beside(w, "A")
        w.rapid_z(5.0)
        b.rapid(float(x), grind.y)
        w.rapid_z(0.5)
        b.line(float(x), grind.y, grind.z - plain.THICK / 2)
        b.line(float(x), edge.y, edge.z - plain.THICK / 2)
    plain.end_cut(w)
    w.say("M2")
    return hand.order(), "\n".join(w.lines) + "\n"


SABOTAGES = [
    ("surface-speed", _far_too_fast),
    ("wall-stock", _rough_far_off_the_wall),
    ("section", _a_strip_between_grooves),
    ("down-slope", _down_the_slope),
]


@pytest.mark.parametrize(("kind", "made"), SABOTAGES)
def test_an_overload_is_found_for_its_own_reason(kind: str, made) -> None:  # type: ignore[no-untyped-def]
    order, text = made()
    found = judge(order, (text, None)).verdict.findings
    assert kind in {f.kind for f in found}
    assert all(f.message and f.remedy for f in found if f.kind == kind)

"""What single passes take: pillars, walls' stock, levels; hand-written programs, figures by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from knifecam.judge.prove import judge
from tests.unit.judge import hand_bevel, hand_written

ORDER = hand_written.order(
    cutting=tuple(
        replace(c, stepdown=0.075 if c.stage == "rough" else c.stepdown)
        for c in hand_written.order().cutting
    )
)
HEAD = ["G21 G17 G90 G94 G40 G49 G80 G61 G54", "G92.1", "T1 M6", "S8000 M3", "G4 P3", "M7", "G43 H1",
        "G0 Z5"]  # fmt: skip


def found(lines, kind, order=ORDER, cell=0.05):
    text = "\n".join([*HEAD, *lines, "G0 Z5", "M5", "M9", "M2"]) + "\n"
    rows = judge(order, (text, None), cell=cell).verdict.findings
    return [f for f in rows if f.kind == kind]


def strip(wide, deep):
    """A strip left between two grooves, each milled in levels of 0.075 mm, mown along at once.

    In the plate below the blade, X and Y from its corner. Grooves of 3 mm stand 3 + wide apart.
    """
    y = (4.0, 4.0 + 3.0 + wide)
    rows = []
    for level in np.arange(0.075, deep + 1e-9, 0.075):
        for at in y:
            rows += [f"G0 X20 Y{at:.4f}", "G0 Z0.5", "G1 Z0 F300",
                     f"G1 X25 Z{-level:.4f} F150", "G1 X60 F300", "G1 X20", "G0 Z5"]  # fmt: skip
    middle = (y[0] + y[1]) / 2
    return [*rows, f"G0 X{21.0:.4f} Y{middle:.4f}", "G0 Z0.5", f"G1 Z{-deep:.4f} F150",
            "G1 X56 F300"]  # fmt: skip


@pytest.mark.parametrize(("wide", "deep", "bad"), [
    (1.0, 0.3, False),  # 0.30 mm2, where twice a slot of 0.075 by 3 is 0.45
    (1.0, 0.6, True),  # 0.60
    (1.5, 0.225, False),  # 0.34
    (0.4, 0.9, False),  # 0.36
])  # fmt: skip
def test_a_strip_is_mown_as_deep_as_its_width_allows(wide, deep, bad):
    rows = found(strip(wide, deep), "section")
    assert bool(rows) == bad
    if bad:
        assert rows[0].allowed == pytest.approx(0.45)
        assert rows[-1].measured == pytest.approx(wide * deep, rel=0.1)


def test_what_the_order_gives_a_slot_is_never_too_much():
    """A stage of 0.3 mm by 3 is 0.9 mm2, more than 0.065 of the square: 1.1 times it is allowed."""
    deep = replace(ORDER, cutting=tuple(replace(c, stepdown=0.3) for c in ORDER.cutting))
    assert not found(strip(1.0, 0.9), "section", deep)
    rows = found(strip(1.2, 0.975), "section", deep)
    assert rows
    assert rows[0].allowed == pytest.approx(1.1 * 0.9)


@pytest.fixture
def stock(monkeypatch):
    def write(amount):
        monkeypatch.setattr(hand_written, "STOCK", amount)
        a, b = hand_written.side_a(), hand_written.side_b()
        monkeypatch.undo()
        rows = judge(hand_written.order(), (a, b)).verdict.findings
        return [f for f in rows if f.kind == "wall-stock"]

    return write


@pytest.mark.parametrize(
    ("amount", "bad"), [(0.06, False), (0.09, False), (0.10, True), (0.4, True)]
)
def test_a_wall_s_finish_meets_no_more_than_was_to_be_left(stock, amount, bad):
    """Ordered 0.06: 1.25 times that and 0.02 mm is 0.095, as for bevels."""
    rows = stock(amount)
    assert bool(rows) == bad
    if bad:
        assert {f.side for f in rows} == {"A", "B"}
        assert rows[0].allowed == pytest.approx(0.095)
        assert rows[0].measured == pytest.approx(amount, abs=1e-4)
        assert "the outline" in rows[0].message


def test_a_groove_that_is_left_out_is_met_whole():
    """Without roughing the finish meets solid metal on its whole height."""
    text = hand_written.side_a()
    before, rest = text.split("(CUT 2 OF 3")
    lone = before + "(CUT 3 OF 3" + rest.split("(CUT 3 OF 3")[1]
    rows = judge(hand_written.order(), (lone, None)).verdict.findings
    rows = [f for f in rows if f.kind == "wall-stock"]
    assert rows
    assert rows[0].measured is None
    assert "more than 0.5 mm" in rows[0].message


def test_roughing_after_the_finish_does_not_count():
    """The same two cuts in the other order: the finish meets all of it."""
    head, cut_1, cut_2, cut_3 = (part for part in hand_written.side_a().split("(CUT "))
    cut_3, end = cut_3.rsplit("M2", 1)
    text = "(CUT ".join([head, cut_1, cut_3, cut_2]) + "M2" + end
    rows = judge(hand_written.order(), (text, None)).verdict.findings
    assert [f for f in rows if f.kind == "wall-stock"]


def test_a_bore_s_helix_takes_its_pitch_a_turn():
    """0.1 mm a turn, where 0.25 is ordered: that is no stock, though solid metal stands before it."""
    assert not [f for f in judge(hand_written.order(), (hand_written.side_a(), None))
                .verdict.findings if f.kind == "wall-stock"]  # fmt: skip


@pytest.mark.parametrize(("turn", "bad"), [(0.25, False), (1.375, True)])
def test_a_rounded_digit_of_the_way_off_a_bore_s_wall_takes_nothing(turn, bad):
    """0.2 um beyond the helix at full depth: it comes nearest, but the turns have taken the metal.

    Ordered 0.25 mm a turn; of deeper turns those are told that took too much.
    """
    x, y = 15.0 + hand_written.BORE_AT[0], 15.0 + hand_written.BORE_AT[1]
    depths = np.arange(turn, 2.75 + 1e-9, turn)
    rows = [f"G0 X{x + 0.5} Y{y}", "G0 Z0.1", "G1 Z0 F150"]
    rows += [f"G3 X{x + 0.5} Y{y} Z{-deep:.4f} I-0.5 J0" for deep in depths]
    rows += [f"G3 X{x + 0.5} Y{y} I-0.5 J0", f"G1 X{x + 0.5002}", f"G1 X{x}"]
    told = found(rows, "wall-stock", hand_written.order(), cell=0.1)
    assert bool(told) == bad
    assert all(len(HEAD) + 4 <= f.line <= len(HEAD) + 3 + len(depths) for f in told)


@pytest.mark.parametrize(("every", "bad"), [(0.1, False), (0.2, True)])
def test_a_bevels_roughing_is_held_to_its_own_stepdown(every, bad):
    """Levels of 0.1 mm as ordered, then every second left out; the semi-finish is given 0.5."""
    order = hand_bevel.order()
    order = replace(order, cutting=tuple(
        replace(c, stepdown=0.1) if c.stage == "bevel-rough" else c for c in order.cutting))  # fmt: skip
    w = hand_written.Writer(face=0.0)
    hand_written.head(w)
    hand_bevel.begin_cut(w, "CUT 1 OF 1: BEVEL ROUGH", "G54", 2)
    beside = hand_bevel.Beside(w, "A")
    rows = [
        hand_bevel.Pass(0.0, y, hand_written.THICK / 2 - depth)
        for depth in np.arange(every, 0.85, every)
        for y in np.arange(-2.2, 6.0, 1.3)
        if hand_written.THICK / 2 - depth >= hand_bevel.height(y + 2.0) + 0.12
    ]
    hand_bevel.slope(beside, rows)
    hand_written.end_cut(w)
    w.say("M2")
    verdict = judge(order, ("\n".join(w.lines) + "\n", None)).verdict
    found_ = [f for f in verdict.findings if f.kind == "bevel-stock"]
    assert bool(found_) == bad
    if bad:
        assert found_[0].measured == pytest.approx(0.2, abs=1e-6)
        assert found_[0].allowed == pytest.approx(0.145)

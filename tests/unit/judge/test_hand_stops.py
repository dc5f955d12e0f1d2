"""Where hands work: what the judge takes for a stop, a change and a check, and what it costs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from knifecam.curve import Motions
from knifecam.judge.hand_stops import length_checks, why_no_length_check
from knifecam.judge.prove import judge
from knifecam.judge.spindle_and_feeds import contact_spells
from knifecam.planning import lay_out
from knifecam.planning.plan import Cut, cutter_lines, waste_notes
from knifecam.rs274.program_reader import read_program
from knifecam.rules.rule_passes import contradictions
from knifecam.shop import Clamp, Mill
from knifecam.sweep.run_time import duration_of
from knifecam.sweep.side_program import side_of, stored_of
from knifecam.sweep.sweep_limits import CHANGE_BY_HAND_S, STOP_S
from tests.agreement.orders import cutter, cutting, simple_order

HEAD = "G21 G90 G94 G61 G54\nT1 M6\nG43 H1\n"


def side(text, order=None):
    order = order or simple_order()
    return side_of(order, "A", text, read_program(text, stored_of(order.setup)), 0)


def why(body):
    """Return why the second stop of a text is no length check."""
    one = side(HEAD + body)
    stops = [act for act in one.trace.acts if act.kind == "stop"]
    return why_no_length_check(one, stops[1], Mill())


GOOD = "G1 Z50 F600\nG0 X10 Y10\nM0\nG1 Z10 F200\nM0\nG0 Z50\nM0\nM2\n"


@pytest.mark.parametrize(
    ("old", "new", "reason"),
    [
        ("", "", ""),
        ("G1 Z10 F200", "G0 Z10", "straight down by feed"),
        ("G1 Z10 F200", "G1 X11 Z10 F200", "straight down by feed"),
        ("G1 Z50 F600", "G1 Z49 F600", "straight down by feed from that height"),
        ("G0 X10 Y10\nM0", "M0\nG0 X10 Y10", "no stop up there"),
        ("M0\nG0 Z50", "M0\nG0 X11 Z50", "straight up"),
        ("M0\nG0 Z50", "M0\nG0 Z40", "straight up to that height"),
        ("G0 Z50\nM0\nM2", "M2", "straight up"),
    ],
)
def test_a_low_stop_is_a_length_check_only_between_two_high_ones(old, new, reason):
    assert (
        why(GOOD.replace(old, new)) == reason
        if not reason
        else reason in why(GOOD.replace(old, new))
    )


def test_the_stops_of_a_length_check_are_no_occasion_for_other_work():
    one = side(HEAD + "G1 Z50 F600\nM0\n" + GOOD)
    lines = one.text.splitlines()
    checks = length_checks(one, Mill())
    assert [lines[k - 1] for k in sorted(checks)] == ["M0"] * 3
    first = lines.index("M0") + 1
    assert first not in checks


@pytest.mark.parametrize(("halt", "edges"), [("M0", 2), ("M1", 1), ("M60", 2)])
def test_a_stop_that_a_switch_leaves_out_brings_no_fresh_cutter(halt, edges):
    text = f"{HEAD}G1 Z50 F600\nX1\n{halt}\nT1 M6\nG43 H1\nG1 Z50 F600\nX2\nM2\n"
    found = contact_spells(side(text))[1]
    assert sum(low < 0 for low, _ in found) == edges - 1


def test_optional_stops_and_cutters_that_stay_take_no_time():
    mill = Mill(change_by_hand=True)
    texts = (
        "G21 G90\nT1 M6\nG0 X10\nM1\nT1 M6\nG0 X20\nM2\n",  # one cutter, nothing else
        "G21 G90\nT1 M6\nG0 X10\nM0\nT1 M6\nG0 X20\nM2\n",  # a fresh one of the same number
        "G21 G90\nT1 M6\nG0 X10\nM0\nT2 M6\nG0 X20\nM2\n",
    )
    waits = []
    for text in texts:
        took = duration_of(read_program(text), mill)
        waits.append((float(took.changing.sum()), float(took.stopping.sum())))
    once, twice = CHANGE_BY_HAND_S, 2 * CHANGE_BY_HAND_S
    assert waits == [(once, 0.0), (twice, STOP_S), (twice, STOP_S)]


def test_the_verdict_says_that_no_clamps_are_known_and_how_high_rapids_run():
    order = simple_order()
    text = (
        "G21 G17 G90 G94 G61 G54\nM0\nT1 M6\nG43 H1\nG0 Z50\nG0 X1 Y1\nG0 Z7.5\nG0 X9\nG0 Z50\nM2\n"
    )
    told = judge(order, (text, None)).verdict.not_judged
    wanted = "clamps on side A: the order names none; nothing may stand higher than 7.5 mm above"
    assert any(line.startswith(wanted) for line in told)
    clamp = Clamp(side="A", x_low=-90, y_low=0, x_high=-80, y_high=8, height=2.0)
    known = replace(order, setup=replace(order.setup, clamps=(clamp,)))
    told = judge(known, (text, None)).verdict.not_judged
    assert not any("clamps" in line for line in told)


def cut(stage, minutes):
    nothing = Motions(
        np.zeros(0), np.zeros((0, 3)), np.zeros((0, 3)), np.zeros((0, 2)), np.zeros(0), np.zeros(0)
    )
    return Cut(
        name=stage, side="A", cutter=1, stage=stage, spindle=1.0, motions=nothing,
        minutes=minutes, bottom=0.0,
    )  # fmt: skip


def test_openings_that_take_most_of_the_time_are_told():
    assert list(waste_notes([cut("slot", 10.0), cut("rough", 10.0)])) == []
    (note,) = waste_notes([cut("slot", 12.0), cut("bore", 3.0), cut("rough", 8.0)])
    assert note.startswith("slots take 12 of 23 min of cutting: they are milled out whole, since")
    (note,) = waste_notes([cut("bore", 12.0), cut("fit", 3.0), cut("rough", 8.0)])
    assert note.startswith("bores take 15 of 23 min")


def test_the_summary_tells_how_many_cutters_are_needed():
    order = simple_order()
    assert next(iter(cutter_lines(order, lay_out(order)))).startswith(
        "cutter 1: 1 needed (used on both sides), about "
    )
    worn = replace(order, cutting=tuple(replace(c, life=9.0) for c in order.cutting))
    plan = lay_out(worn)
    line = next(iter(cutter_lines(worn, plan)))
    fresh = sum(c.fresh for c in plan.cuts if c.cutter == 1)
    assert line.startswith(f"cutter 1: {fresh + 1} needed")


def test_the_summary_tells_what_of_the_cutter_table_was_not_used():
    """A shop has one table for all blades: what this one leaves alone is told in one line."""
    order = simple_order()
    plan = lay_out(order)
    named = [line for line in cutter_lines(order, plan) if line.startswith("not used: ")]
    assert named == ['not used: cutter 2 in stage "fit"']
    wider = replace(
        order,
        cutters=(*order.cutters, cutter(7, diameter=5.0), cutter(9, diameter=6.0)),
        cutting=(*order.cutting, cutting(7, "bore"), cutting(2, "bore")),
    )
    *_, last = cutter_lines(wider, lay_out(wider))
    assert last == 'not used: cutters 7 and 9; cutter 2 in stage "fit"; cutter 2 in stage "bore"'


@pytest.mark.parametrize(
    ("setup", "mill", "line"),
    [
        ({}, {"change_height": 250.0}, "mill.change_height=250 mm must be at least"),
        ({}, {"rapid_height": 60.0}, "mill.change_height=50 mm must be at least rapid_height=60"),
        ({"gap_height": 50.0}, {}, "less than mill.change_height=50 mm"),
    ],
)
def test_heights_for_hands_that_contradict_each_other_are_refused(setup, mill, line):
    order = simple_order()
    assert contradictions(order) == ()
    changed = replace(order.setup, mill=replace(order.setup.mill, **mill), **setup)
    assert line in "\n".join(contradictions(replace(order, setup=changed)))
    silent = replace(changed, gap_stop=False)
    if setup.get("gap_height") == 50.0:
        assert contradictions(replace(order, setup=silent)) == ()

"""What stops tell the hand: the page states it, the planner writes it, the judge reads it."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from knifecam.judge.prove import judge
from knifecam.judge.stop_messages import PATTERNS, said_at_stops
from knifecam.planning import lay_out, stop_texts
from knifecam.program import write_program
from knifecam.quantity import told
from knifecam.rs274.program_reader import read_program
from knifecam.sweep.side_program import side_of, stored_of
from tests.agreement.orders import simple_order
from tests.sabotage.made import made

ROOT = Path(__file__).parents[3]
PAGE = (ROOT / "docs/reference/stops.md").read_text()
ROWS = re.findall(r"^\| `(\w+)` \| `([^`]+)` \|", PAGE, re.M)


def said(*lines):
    """Return what the stop says that follows some lines."""
    order = simple_order()
    text = "G21 G90\n" + "\n".join(lines) + "\nM0\nM2\n"
    side = side_of(order, "A", text, read_program(text, stored_of(order.setup)), 0)
    return next(iter(said_at_stops(side)))


@pytest.mark.parametrize(("kind", "message"), ROWS)
def test_the_page_s_messages_are_read_as_it_says(kind, message):
    assert said(f"(MSG, {message})").kind == kind
    assert said(f"(msg,  {message.lower()})").kind == kind
    assert said(f"(MSG, {message} NOW)").kind in ("", "screws", "pins")


def test_every_kind_that_is_read_stands_on_the_page():
    assert {kind for kind, _ in ROWS} == set(PATTERNS)


def test_the_planner_writes_the_page_s_messages():
    """Each from figures worked out by eye, in the page's order."""
    assert [message for _, message in ROWS] == [
        stop_texts.fit(3, fresh=False),
        stop_texts.fit(3, fresh=True),
        stop_texts.fit(3, fresh=True, edge=(2, 6)),
        stop_texts.stays(3),
        stop_texts.read_gap(3, "50.00"),
        stop_texts.block_under(3, "10.00", ("6.0", "-6.0")),
        stop_texts.take_block("10.00"),
        stop_texts.fill("THE GROOVES"),
        stop_texts.fill("GROOVES, BEVELS AND CLEARED GROUND"),
        stop_texts.FILLED,
        stop_texts.screws(("B1", "B4")),
        stop_texts.CLAMP_NOW,
        told(stop_texts.gauge_pins((("B1", 6.35), ("B2", 5.0)))),
        told(stop_texts.gauge_pins((("B1", 6.35), ("B2", 5.0))), "in"),
        told(stop_texts.measure_land(0.05)),
        told(stop_texts.measure_land(0.05), "in"),
    ]
    assert f"`{stop_texts.turn_over('Y', 'G55')}`" in PAGE


def test_a_message_cut_short_is_read_from_the_remarks_above():
    names = ", ".join(f"B{k}" for k in range(1, 20))
    whole = f"(PUT THE SCREWS IN NOW: BORES {names[:40]})", f"({names[40:]})"
    one = said(*whole, "(MSG, PUT THE SCREWS IN NOW: BORES B1, B2, ...)")
    assert one.kind == "screws"
    assert one.values["bores"].replace(" ", "") == names.replace(" ", "")


@pytest.mark.parametrize("lines", [(), ("(MSG, LOOK AT IT)",), ("(FIT CUTTER 1, SET H1)",)])
def test_other_words_are_not_read(lines):
    assert said(*lines).kind == ""


def found_in(name, side, old, new):
    """Return what is found once a text of a good order is changed."""
    good = made(name)
    texts = list(good.texts)
    k = "AB".index(side)
    changed = re.sub(old, new, texts[k], count=1)
    assert changed != texts[k]
    texts[k] = changed
    verdict = judge(good.order, (texts[0], texts[1])).verdict
    return [one.message for one in verdict.findings if one.kind == "stop-text"], verdict


@pytest.mark.parametrize(
    ("name", "side", "old", "new", "why"),
    [
        ("plain", "A", r"FIT CUTTER 1, SET H1", "FIT CUTTER 2, SET H1", "T1 is called next"),
        ("plain", "A", r"FIT CUTTER 1, SET H1", "FIT CUTTER 1, SET H2", "H1 is used next"),
        (
            "plain",
            "B",
            r"FIT CUTTER 2, SET H2",
            "FIT CUTTER 7, SET H7",
            "the order has no cutter 7",
        ),
        ("plain", "A", r"GAP UNDER CUTTER 1", "GAP UNDER CUTTER 2", "cutter 1 is in the spindle"),
        ("plain", "A", r"MUST BE 50\.00", "MUST BE 40.00", "tip stands 50.000 mm above the plate"),
        ("plain", "A", r": 10\.00 MUST", ": 20.00 MUST", "the tip stands 10.000 mm above"),
        (
            "plain",
            "A",
            r"(?<=MSG, )(.*)BLOCK ON (.*) X6\.0",
            r"\1BLOCK ON \2 X9.0",
            "stands at X6.000 Y6.000",
        ),
        ("plain", "A", r"BLOCK OF 10\.00", "BLOCK OF 12.00", "the order's block is 10 mm high"),
        ("plain", "A", r"CUTTER 1 STAYS IN", "CUTTER 2 STAYS IN", "cutter 1 is in the spindle"),
        ("plain", "A", r"OVER ABOUT X", "OVER ABOUT Y", "the order has X and G55"),
        ("plain", "A", r"SIDE B USES G55", "SIDE B USES G56", "the order has X and G55"),
        (
            "plain",
            "A",
            r"\(MSG, FILL THE GROOVES, SCRAPE FLUSH\)\n",
            "",
            "side A's voids are filled",
        ),
        ("plain", "B", r"\(MSG, IS ALL[^\n]*\n", "", "whether all that side A opened"),
        ("plain", "A", r"\(MSG, FIT CUTTER 2[^\n]*\n", "", "cutter 2 is to be fitted"),
        ("screwed", "B", r"\(MSG, PUT THE SCREWS[^\n]*\n", "", "screws are put in before"),
        ("screwed", "B", r"BORES B1\)", "BORES B2)", "the order has them in B1"),
        (
            "fitted",
            "A",
            r"B1 5\.000 MM",
            "B1 6.000 MM",
            'no fitted bore of the order is "B1 6.000 MM"',
        ),
    ],
)
def test_a_message_that_says_the_wrong_thing_is_found(name, side, old, new, why):
    found, _ = found_in(name, side, old, new)
    assert any(why in line for line in found), found


def test_a_worn_cutter_is_not_fitted_for_itself():
    order = simple_order()
    worn = replace(order, cutting=tuple(replace(c, life=9.0) for c in order.cutting))
    plan = lay_out(worn)
    texts = [write_program(worn, plan, side).text for side in "AB"]
    k = next(k for k in (0, 1) if "A FRESH CUTTER" in texts[k])
    assert not judge(worn, (texts[0], texts[1])).verdict.findings
    other = re.sub(r"NUMBER (\d)", lambda m: f"NUMBER {int(m[1]) + 1}", texts[k], count=1)
    assert other != texts[k]
    numbered = judge(worn, (other, texts[1]) if k == 0 else (texts[0], other)).verdict
    assert any("is the one that follows" in f.message for f in numbered.findings)
    texts[k] = texts[k].replace("A FRESH CUTTER", "CUTTER", 1)
    found = judge(worn, (texts[0], texts[1])).verdict.findings
    assert any(f.kind == "stop-text" and "only a fresh one" in f.message for f in found)


def test_other_words_are_told_as_not_judged_and_never_passed_in_silence():
    found, verdict = found_in("plain", "A", r"MSG, READ Z: THE GAP UNDER", "MSG, LOOK UNDER")
    assert found == []
    assert any("tells the hand" in line for line in verdict.not_judged)


def test_inches_are_read_as_inches():
    order = simple_order()
    inch = replace(order, setup=replace(order.setup, mill=replace(order.setup.mill, units="in")))
    plan = lay_out(inch)
    a, b = (write_program(inch, plan, side).text for side in "AB")
    assert not judge(inch, (a, b)).verdict.findings
    spoilt = a.replace("BLOCK OF 0.394", "BLOCK OF 0.400", 1)
    found = judge(inch, (spoilt, b)).verdict.findings
    assert [one.kind for one in found] == ["stop-text"]

"""Programs that count in inches cut the same blade as those in millimetres."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from orders import simple_order

from knifecam.judge.prove import judge
from knifecam.planning.sequence import lay_out
from knifecam.program import align_program, write_program
from knifecam.rs274.program_reader import read_program
from knifecam.shop import Order

MICRON = 1e-3


def in_inches() -> Order:
    order = simple_order()
    return replace(order, setup=replace(order.setup, mill=replace(order.setup.mill, units="in")))


def texts_of(order: Order) -> tuple[str, str]:
    plan = lay_out(order)
    return write_program(order, plan, "A").text, write_program(order, plan, "B").text


def test_the_mill_runs_the_same_way_within_the_last_digits():
    """5 decimals of an inch and 4 of a millimetre: at most 0.127 + 0.05 um apart on any axis."""
    for inch, mm in zip(texts_of(in_inches()), texts_of(simple_order()), strict=True):
        assert "G20" in inch
        assert "G21" not in inch
        there, here = read_program(inch).motions, read_program(mm).motions
        assert abs(there.lengths.sum() - here.lengths.sum()) < 0.1
        assert there.stop.min(axis=0) == pytest.approx(here.stop.min(axis=0), abs=0.18 * MICRON)
        assert there.stop.max(axis=0) == pytest.approx(here.stop.max(axis=0), abs=0.18 * MICRON)
        digits = re.findall(r"^G[0-3] .*X(-?\d+\.\d+)", inch, re.M)
        assert {len(d.split(".")[1]) for d in digits} == {5}


def test_both_sides_are_proved():
    order = in_inches()
    verdict = judge(order, texts_of(order), cell=0.2).verdict
    assert verdict.ok, verdict.findings
    for tab in verdict.measures["tabs"]:
        assert tab["thickness"][0] == pytest.approx(order.tabs.thickness, abs=1 * MICRON)
        assert tab["waist"] == pytest.approx(order.tabs.waist, abs=20 * MICRON)
    outline = verdict.measures["outline"]
    assert outline["A"]["gouge"] < 5 * MICRON
    assert outline["mismatch"] < 1 * MICRON


def test_remarks_say_that_they_are_in_inches():
    order = in_inches()
    a, b = texts_of(order)
    for text in (a, b):
        assert "LENGTHS ARE IN INCHES" in text
    assert f"{order.setup.plate.length / 25.4:.2f} X" in a
    assert "G20" in align_program(order, lay_out(order))

"""Where the minutes go: rows of cuts by hand, in closed form, and their sums."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import pytest

from knifecam.judge.minutes import bench_minutes, check_stops, fittings
from knifecam.judge.prove import judge
from knifecam.making import Made, make
from knifecam.report.screen_lines import minute_lines
from knifecam.shop import Mill
from knifecam.sweep.sweep_limits import CHANGE_S, STOP_S
from tests.agreement.orders import simple_order
from tests.unit.judge import hand_written as hand
from tests.unit.judge.test_hand_stops import side

TWO_SLOTS = """\
G21 G17 G90 G94 G40 G49 G80 G61.1 G54
(CUT 1 OF 2: SLOT BELOW, CUTTER 1, DOWN TO Z-0.2000)
T1 M6
S8000 M3
G4 P3
M7
G43 H1
G0 Z5
G0 X10 Y4
G1 Z-0.2 F120
G1 X40 F300
G0 Z5
(CUT 2 OF 2: SLOT ABOVE WITH A NAME OF MANY WORDS, PART 1 OF 2,)
(CUTTER 1, DOWN TO Z-0.1000)
G0 X20 Y46
G1 Z-0.1 F120
G1 X30 F300
G0 Z5
M5
M9
M2
"""
"""Each motion begins and ends at rest; the first two come from places nobody told, and take no time."""


@cache
def made() -> Made:
    order = simple_order()
    return make(order, cell=0.2)


def at_rest(length: float, speed: float, rate: float) -> float:
    """Return the seconds of a trapezoid from rest to rest: L / v + v / a where v^2 / a <= L."""
    assert speed**2 / rate <= length
    return length / speed + speed / rate


def test_two_slots_by_hand():
    """Slots of D x L and two half discs, 0.2 and 0.1 deep; rapids at 100 mm/s in X and Y, 50 in Z."""
    mill = Mill(change_by_hand=False, change_height=5.0, acceleration=500.0,
                rapid=(6000.0, 6000.0, 3000.0))  # fmt: skip
    measures = judge(hand.order(mill=mill), (TWO_SLOTS, None)).verdict.measures
    one, two = measures["cuts"]
    assert one["name"] == "SLOT BELOW"
    assert two["name"] == "SLOT ABOVE WITH A NAME OF MANY WORDS"
    assert [(row["side"], row["cutter"], row["items"]) for row in (one, two)] == [("A", 1, 1)] * 2
    ends = math.pi * hand.RADIUS**2
    assert one["volume"] == pytest.approx(0.2 * (3.0 * 30 + ends), rel=2e-3)
    assert two["volume"] == pytest.approx(0.1 * (3.0 * 10 + ends), rel=2e-3)
    first = at_rest(5.2, 2.0, 500) + at_rest(30, 5.0, 500) + at_rest(5.2, 50.0, 500)
    across = math.hypot(20, 42)
    second = at_rest(across, 100 * across / 42, 500) + at_rest(5.1, 2.0, 500)
    second += at_rest(10, 5.0, 500) + at_rest(5.1, 50.0, 500)
    assert one["minutes"] == pytest.approx(first / 60, abs=0.0005)
    assert two["minutes"] == pytest.approx(second / 60, abs=0.0005)
    whole = first + second + CHANGE_S + 3.0
    minutes = measures["minutes"]
    assert minutes["mill"] == pytest.approx(whole / 60, abs=0.0005)
    assert (minutes["hand_stops"], minutes["cutter_changes"]) == (0, 1)
    assert one["rate"] == pytest.approx(60 * 0.2 * (90 + ends) / first, rel=2e-3)
    assert one["share"] == pytest.approx(first / whole, abs=1e-5)
    assert minutes["collets"] == minutes["holders"] == minutes["mill"]


def test_a_program_without_heads_is_one_row():
    text = "\n".join(line for line in TWO_SLOTS.splitlines() if not line.startswith("("))
    (row,) = judge(hand.order(), (text, None)).verdict.measures["cuts"]
    assert row["name"] == "THE WHOLE PROGRAM"


def fitted(number: int, words: str) -> str:
    return (
        f"(MSG, {words})\nM0\nT{number} M6\nG43 H{number}\nG1 Z50 F600\nG0 X6 Y-6\nM0\n"
        "G1 Z10 F200\nM0\nG0 Z50\nM0\nG1 X7\n"
    )


def test_holders_are_checked_once_an_item_and_collets_at_each_fitting():
    """Cutters 1, 2, 1 again, a fresh 1, 2 again: five fittings of three items, three stops each."""
    words = ["CUTTER 1, SET H1", "CUTTER 2, SET H2", "CUTTER 1, SET H1",
             "A FRESH CUTTER 1, SET H1", "CUTTER 2, SET H2"]  # fmt: skip
    numbers = [1, 2, 1, 1, 2]
    text = "G21 G90 G94\n" + "".join(
        fitted(number, f"FIT {word}") for number, word in zip(numbers, words, strict=True)
    )
    found = fittings(side(text + "M2\n"), Mill())
    assert [(one.cutter, one.item, one.checks) for one in found] == [
        (1, 0, 3), (2, 0, 3), (1, 0, 3), (1, 1, 3), (2, 0, 3),
    ]  # fmt: skip
    assert check_stops(found, holders_keep_length=False) == 15
    assert check_stops(found, holders_keep_length=True) == 9


def test_rows_and_waits_are_the_whole_run_time_and_volume():
    measures = made().verdict.measures
    sides, minutes = measures["sides"].values(), measures["minutes"]
    waits = minutes["stops"] + minutes["changes"] + minutes["dwells"]
    assert sum(row["minutes"] for row in measures["cuts"]) + waits == pytest.approx(
        sum(side["minutes"] for side in sides), abs=0.02
    )
    assert sum(row["volume"] for row in measures["cuts"]) == pytest.approx(
        sum(side["volume"] for side in sides), abs=0.02
    )
    assert minutes["mill"] == pytest.approx(sum(s["minutes"] for s in sides), abs=0.002)
    assert sum(row["share"] for row in measures["cuts"]) + waits / minutes["mill"] == pytest.approx(
        1.0, abs=1e-3
    )


def test_programs_that_check_each_fitting_take_the_sum_for_collets():
    measures = made().verdict.measures
    minutes = measures["minutes"]
    assert minutes["collets"] == minutes["mill"]
    sides = [one for one in made().judged.case.sides if one is not None]
    mill = made().order.setup.mill
    again = sum(
        len(found) - len({(f.cutter, f.item) for f in found})
        for found in (fittings(one, mill) for one in sides)
    )
    saved = 3 * again * STOP_S / 60
    assert minutes["mill"] - minutes["holders"] == pytest.approx(saved, abs=0.002)


def test_parts_of_a_cut_share_a_row_with_the_count_of_cutters():
    heads = TWO_SLOTS.replace("SLOT BELOW", "SLOT, PART 1 OF 2")
    heads = heads.replace(
        "SLOT ABOVE WITH A NAME OF MANY WORDS, PART 1 OF 2,)", "SLOT, PART 2 OF 2,)"
    )
    text = heads.replace("G0 X20 Y46", "M5\nM9\nM0\nT1 M6\nS8000 M3\nG4 P3\nM7\nG0 X20 Y46")
    (row,) = judge(hand.order(), (text, None)).verdict.measures["cuts"]
    assert (row["name"], row["items"]) == ("SLOT", 2)


def test_the_bench_works_only_for_the_sides_that_are_cut():
    order = hand.order()
    assert sum(bench_minutes(order, "A").values()) == 15
    assert sum(bench_minutes(order, "AB").values()) == 70
    bare = replace(order, setup=replace(order.setup, support="none"))
    assert sum(bench_minutes(bare, "AB").values()) == 40


def row(name: str, minutes: float, whole: float) -> dict[str, object]:
    return {"side": "A", "name": name, "cutter": 1, "items": 1, "volume": 10 * minutes,
            "minutes": minutes, "rate": 10.0, "share": minutes / whole}  # fmt: skip


@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_table_has_at_most_twenty_rows_and_keeps_its_sums(units: str):
    took = [float(k) for k in range(1, 31)]
    rows = [row(f"CUT {'X' * k}", k, sum(took)) for k in map(int, took)]
    measures = {"cuts": rows, "minutes": made().verdict.measures["minutes"]}
    lines = list(minute_lines(measures, units))
    table = lines[1 : [line.startswith("stops") for line in lines].index(True)]
    assert len(table) == 20
    assert max(map(len, lines)) <= 100
    assert len(set(map(len, table))) == 1
    assert table[-1].split()[:3] == ["11", "shorter", "cuts"]
    assert float(table[-1].split()[-4]) == pytest.approx(sum(range(1, 12)))


def test_cuts_under_a_hundredth_share_a_row():
    rows = [row(f"LONG {k}", 50.0, 300.0) for k in range(5)] + [
        row(f"SHORT {k}", 2.0, 300.0) for k in range(3)
    ]
    lines = list(minute_lines({"cuts": rows, "minutes": made().verdict.measures["minutes"]}))
    assert [line.split()[1:2] for line in lines[1:6]] == [["LONG"]] * 5
    assert lines[6].split()[:3] == ["3", "shorter", "cuts"]

"""An order in inches speaks inches everywhere, and its figures are those of mm over 25.4."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from knifecam.errors import KnifecamError
from knifecam.judge.verdict_figures import line_loads
from knifecam.making import Made, check, make, summary
from knifecam.order import order_from_text
from knifecam.report.explain import explain
from knifecam.report.screen_lines import finding_lines, measure_lines
from knifecam.shop import Order
from knifecam.sweep.side_program import stored_of
from tests.agreement.bevelled import bevelled_order
from tests.agreement.inch_twins import inch_twin
from tests.golden.specimens import CLAMPS, EXAMPLES, demo_text

POUND = 0.45359237 * 9.80665
"""N of a pound-force."""

POUND_INCH = 25.4 * POUND
"""N mm of an inch of pound-force."""

FELLOWS = {
    "mm": ("in", 25.4), "um": ("uin", 0.0254), "mm2": ("in2", 25.4**2), "mm3": ("in3", 25.4**3),
    "mm3/min": ("in3/min", 25.4**3), "mm/min": ("in/min", 25.4), "N mm": ("in lbf", POUND_INCH),
    "m/min": ("ft/min", 0.3048), "N": ("lbf", POUND),
}  # fmt: skip
"""The inch fellow of each unit, and how much of the unit it is."""

METRIC = re.compile(r"(?<![A-Za-z])(mm|um|MM|UM)([23]|/min|/s\^2)?(?![A-Za-z])|\bm/min|mm/")
NUMBER = re.compile(r"(?<![0-9.])[-+]?\d+(?:\.\d+)?(?:e-\d+)?")


def inch_order(text: str) -> Order:
    return order_from_text(inch_twin(text), folder=EXAMPLES)


CELLS = {"hunter-104": 0.05, "netting-knife-60": 0.3, "petty-150": 0.3}
"""mm: what wide cells do not clear is judged twice."""


@cache
def made(name: str) -> Made:
    return make(inch_order(demo_text(name)), cell=CELLS[name])


@cache
def small() -> Made:
    """Return a blade of 44 mm with a bevel and a plunge, told and programmed in inches."""
    order = bevelled_order()
    mill = replace(order.setup.mill, units="in")
    return make(replace(order, units="in", setup=replace(order.setup, mill=mill)))


def metric(order: Order) -> Order:
    """Return the same order, told in mm."""
    return replace(order, units="mm")


def texts_of(one: Made) -> tuple[str, str]:
    return one.programs[0].text, one.programs[1].text


def figures(line: str) -> list[tuple[float, float]]:
    """Return the numbers of a line, each with a unit of its last digit: limits are rounded up or down."""
    found = []
    for word in NUMBER.findall(line):
        decimals = len(word.partition("e")[0].partition(".")[2])
        found.append((float(word), 1.000001 * 10.0**-decimals))
    return found


def agree(mm: str, inch: str) -> bool:
    """Return whether each number of a line is the other line's, or that in an inch fellow's unit."""
    sizes = {1.0, *(size for _, size in FELLOWS.values())}
    pairs = list(zip(figures(mm), figures(inch), strict=True))
    return all(
        any(abs(a / size - b) <= last_a / size + last_b + 1e-6 * abs(b) for size in sizes)
        for (a, last_a), (b, last_b) in pairs
    )


def words(line: str) -> str:
    """Return a line without its numbers and units, and with single spaces between a table's columns."""
    units = "|".join(sorted({re.escape(u) for pair in FELLOWS.items() for u in (pair[0], pair[1][0])},
                            key=len, reverse=True))  # fmt: skip
    line = line.replace(" an in of way", " a in of way")
    bare = re.sub(rf"(?<![A-Za-z])(?:{units})(?![A-Za-z0-9])", "", NUMBER.sub("", line))
    return re.sub(" +", " ", bare)


def hold(mm: Sequence[str], inch: Sequence[str]) -> None:
    """Hold lines told in inches to the same lines told in mm."""
    assert [words(line) for line in inch] == [words(line) for line in mm]
    for one, other in zip(mm, inch, strict=True):
        assert METRIC.search(other) is None, other
        assert agree(one, other), (one, other)


# the field knife's lines are all among the others'
@pytest.mark.parametrize("name", CELLS)
def test_what_a_demo_in_inches_says(name: str) -> None:
    inch = made(name)
    assert inch.verdict.ok
    order = metric(inch.order)
    mm = replace(inch, order=order, judged=check(order, texts_of(inch), cell=CELLS[name]))
    hold(list(summary(mm, Path("out"))), list(summary(inch, Path("out"))))
    assert inch.verdict.measures == mm.verdict.measures, "figures of the verdict stay in mm"
    hold(mm.verdict.not_judged, inch.verdict.not_judged)
    assumed = list(summary(inch, Path("out"), assumed=True))
    assert not [line for line in assumed if METRIC.search(line)]
    for text in (*texts_of(inch), inch.align, inch.offsets or ""):
        assert "G20" in text or not text
        assert not [line for line in text.splitlines() if METRIC.search(line)]


def spoilt() -> Iterator[tuple[str, str]]:
    """Yield both texts of the small blade, one of them changed so that something is found."""
    a, b = texts_of(small())
    changes = (
        (r" F([0-9.]+)", lambda m: f" F{9 * float(m[1]):.2f}"),
        (r"G1 Z(-?[0-9.]+)", lambda m: f"G1 Z{float(m[1]) - 0.02:.5f}"),
        (r"\bS([0-9]+) M3", lambda m: f"S{int(m[1]) // 3} M3"),
        (
            r"THE GAP UNDER CUTTER ([0-9]+) MUST BE [0-9.]+",
            lambda m: f"THE GAP UNDER CUTTER {m[1]} MUST BE 9.000",
        ),
        (r"X(-?[0-9.]+)", lambda m: f"X{float(m[1]) + 0.01:.5f}"),
    )
    for old, new in changes:
        yield re.sub(old, new, a), b
        yield a, re.sub(old, new, b)


@pytest.mark.parametrize("which", range(10))
def test_what_is_found_in_spoilt_programs_is_told_in_inches(which: int) -> None:
    inch = small()
    texts = next(itertools.islice(spoilt(), which, None))
    orders = inch.order, metric(inch.order)
    found, same = (check(order, texts).verdict for order in orders)
    assert found.findings
    lines, others = (
        [one for one in finding_lines(v, o) if "not set in the order" not in one]
        for v, o in zip((found, same), orders, strict=True)
    )
    hold(sorted(others, key=words), sorted(lines, key=words))
    hold(list(measure_lines(same.measures)), list(measure_lines(found.measures, "in")))
    assert [one.measured for one in found.findings] == [one.measured for one in same.findings]


def test_what_each_line_does_is_told_in_inches() -> None:
    inch = small()
    side, record = inch.judged.case.sides[0], inch.judged.engagement[0]
    assert side is not None
    assert record is not None
    loads, text = line_loads(side, record), texts_of(inch)[0]
    told = [
        list(explain(text, stored_of(inch.order.setup), loads=loads, units=units))
        for units in ("mm", "in")
    ]
    # the program's own lines stand there as they are written
    mm, other = ([row for row in rows if row.startswith("          ")] for rows in told)
    hold(mm, other)


REFUSED = (
    ("field-knife-230x32", r"length = \d+", "length = 100"),
    ("field-knife-230x32", r"\[setup\]", "[outline]\nwidth = 1.0\n[setup]"),
    ("field-knife-230x32", r"\[setup\]", "[tabs]\nthickness = 2.9\n[setup]"),
    ("field-knife-230x32", r"\[setup\]", "[tabs]\nstations = [3]\n[setup]"),
    ("field-knife-230x32", r"\[setup\]", CLAMPS.replace("x = [2, 14]", "x = [100, 140]") + "[setup]"),
    ("petty-150", r"\[setup\]", "[bores]\nskin = 0.01\n[setup]"),
    ("hunter-104", r"wheel = 125", "wheel = 20"),
    ("hunter-104", r"plunge_radius = 6", "plunge_radius = -1"),
    ("hunter-104", r"neck = 0\.2", "neck = 0.45"),
    ("hunter-104", r"length = 262", "length = -262"),
    ("hunter-104", r"land = 1\.2", "land = 3.6"),
    ("petty-150", r"\[setup\]", "[outline]\ndepth_a = 0.1\n[setup]"),
    ("petty-150", r"\[setup\]", "[mill]\napproach_gap = 0.04\n[setup]"),
    ("petty-150", r"width = 72", ""),
)  # fmt: skip
"""A demo, and what is put in place of what in it that is refused."""


def refusal(text: str) -> list[str]:
    try:
        make(order_from_text(text, folder=EXAMPLES), cell=0.5)
    except KnifecamError as error:
        return list(error.lines)
    return []


@pytest.mark.parametrize(("name", "old", "new"), REFUSED)
def test_a_refusal_is_told_in_inches(name: str, old: str, new: str) -> None:
    text, count = re.subn(old, new, demo_text(name), count=1)
    assert count
    mm = refusal(f'units = "mm"\n{text}')
    assert mm
    hold(mm, refusal(inch_twin(text)))

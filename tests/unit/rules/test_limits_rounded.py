"""A limit that a line tells would do, in both units: it is rounded to the side that keeps it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from knifecam.order import order_from_text
from knifecam.quantity import least_mm, mm, most_mm, told
from knifecam.rules.rule_passes import feasible

EXAMPLES = Path(__file__).parents[3] / "examples"


@pytest.mark.parametrize(
    ("text", "metric", "inch"),
    [
        (f"{most_mm(19.51266):.3f}", "19.512 mm", "0.7682 in"),
        (f"{least_mm(19.51234):.3f}", "19.513 mm", "0.7683 in"),
        (f"{mm(19.51266):.3f}", "19.513 mm", "0.7682 in"),
        (f"{most_mm(0.1 + 0.2):.1f}", "0.3 mm", "0.01 in"),
        (f"{least_mm(0.1 + 0.2):.1f}", "0.3 mm", "0.02 in"),
        (f"{most_mm(-0.126):.2f}", "-0.13 mm", "-0.005 in"),
    ],
)
def test_a_limit_is_rounded_to_the_side_that_keeps_it(text: str, metric: str, inch: str) -> None:
    assert (told(text), told(text, "in")) == (metric, inch)


def refusals(figure: str) -> list[str]:
    """Return why a bevel of that figure is refused on the netting knife, whose blade is narrow."""
    text = (EXAMPLES / "netting-knife-60.toml").read_text().replace("height = 11 ", f"{figure} ")
    lines = feasible(order_from_text(text, folder=EXAMPLES))
    return [told(line) for line in lines if "grind height" in line]


def test_the_cure_of_a_bevel_wider_than_its_blade_is_one() -> None:
    found = re.search(
        r"use (\S+) degrees or more, a height of (\S+) mm or less", refusals("height = 40")[0]
    )
    assert found
    assert refusals(f"height = {found[2]}") == []
    assert refusals(f"angle = {found[1]}") == []
    assert refusals(f"height = {float(found[2]) + 0.002}") != []

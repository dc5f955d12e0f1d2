"""Ridges where both sides meet on the wall of a slot, against a circle's closed form."""

from __future__ import annotations

import math
from functools import cache

import pytest

from knifecam.judge.prove import judge
from knifecam.measure.measure_limits import WALL_OFF_MM
from knifecam.shop import Order
from tests.sabotage.harness import matching
from tests.sabotage.made import made

FLOOR, CORNER, WIDER, THICK = 0.27, 0.1, 0.02, 3.0
"""mm; side A ends 0.02 above the skin of 0.25, side B opens it wider by half its relief."""


def short(past: float) -> float:
    """Return how far above its tip a cutter that runs ``past`` a wall first comes within
    `WALL_OFF_MM`, mm."""
    return CORNER - math.sqrt(CORNER**2 - (CORNER - WALL_OFF_MM - past) ** 2)


@cache
def good() -> tuple[Order, tuple[str, str]]:
    spoilt = made("plain")
    a, b = spoilt.texts
    assert a is not None
    assert b is not None
    return spoilt.order, (a, b)


def opened_to(tip: float) -> str:
    """Return side B's program with its slot opened only down to Z ``tip``, over the fixture."""
    lines = good()[1][1].splitlines()
    rows = [k - 1 for k in matching(good()[1][1], r"Z2\.4500", cut="SLOTS OPENED")]
    for k in rows:
        lines[k] = lines[k].replace("Z2.4500", f"Z{tip:.4f}")
    return "\n".join(lines) + "\n"


def ridge(tip: float) -> float:
    """Return how high metal stands between both sides' corners, mm; negative where they overlap."""
    return FLOOR + short(0.0) - (THICK - tip - short(WIDER))


@pytest.mark.parametrize("tip", [2.5, 2.61, 2.625, 2.634, 2.6539, 2.7])
def test_a_ridge_in_a_slot_is_found_however_low(tip: float) -> None:
    order, (a, _) = good()
    assert (order.boring.skin, order.boring.oversize) == (0.25, 2 * WIDER)
    assert {c.corner for c in order.cutters} == {CORNER}
    found = judge(order, (a, opened_to(tip))).verdict.findings
    told = [f for f in found if f.kind == "uncut" and "S1" in f.message]
    assert bool(told) == (ridge(tip) > 0.0), (tip, ridge(tip), found)

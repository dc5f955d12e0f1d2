"""Travel against machine coordinates, which may begin anywhere."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from knifecam.judge.findings import Finding, Verdict
from knifecam.judge.prove import judge
from tests.unit.judge import hand_written as hand

Triple = tuple[float, float, float]

ZERO = (100.0, 100.0, -90.0)


@cache
def judged(travel: Triple, begin: Triple) -> Verdict:
    """The hand-written programs; both zeros lie at (100, 100, -90) in machine coordinates."""
    order = hand.order()
    mill = replace(order.setup.mill, travel=travel, travel_from=begin, machine_zero=(ZERO, ZERO))
    stood = replace(order, setup=replace(order.setup, mill=mill))
    return judge(stood, (hand.side_a(), hand.side_b()), only_sights=True).verdict


def travels(travel: Triple, begin: Triple) -> list[Finding]:
    return [f for f in judged(travel, begin).findings if f.kind == "travel"]


def test_z_may_count_down_from_zero_at_the_top() -> None:
    assert travels((400.0, 300.0, 200.0), (0.0, -100.0, -200.0)) == []


def test_where_the_way_is_long_enough_the_remedy_names_its_beginning() -> None:
    found = travels((400.0, 300.0, 200.0), (0.0, -100.0, 0.0))
    assert {f.side for f in found} == {"A", "B"}
    for one in found:
        assert "the mill has 0 to 200 mm" in one.message
        assert one.allowed == 0.0
        assert one.measured == pytest.approx(-90.0, abs=6.0)
        assert one.remedy.startswith("check mill.travel_from[3], where the machine coordinates")
        assert "minus its travel where Z counts down" in one.remedy
        assert f"mill.machine_zero_{one.side.lower()}" in one.remedy


def test_where_the_way_is_too_short_a_longer_mill_is_the_remedy() -> None:
    found = travels((40.0, 300.0, 200.0), (90.0, -100.0, -200.0))
    assert {f.remedy for f in found} == {"use a mill of longer travel"}

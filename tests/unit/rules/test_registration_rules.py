"""Pins that seat one way only; hand-worked arrangements."""

from __future__ import annotations

import math

import pytest

from knifecam.blade import Bore
from knifecam.rules.setup_rules import check_registration
from knifecam.shop import Registration


def pins(*places: tuple[float, float, float]) -> Registration:
    bores = tuple(
        Bore(name=f"p{k}", centre=(x, y), diameter=d, depth=2.7)
        for k, (x, y, d) in enumerate(places, start=1)
    )
    return Registration(kind="pins", bores=bores)


@pytest.mark.parametrize(
    ("places", "turn"),
    [
        ([(0, 0, 6), (100, 0, 6)], 180),
        ([(0, 0, 6), (100, 0, 5)], 0),
        ([(0, 0, 6), (100, 0, 5.9)], 180),
        ([(0, 0, 6), (100, 0, 6), (50, 0, 6)], 180),
        ([(0, 0, 6), (100, 0, 6), (30, 0, 6)], 0),
        ([(0, 0, 6), (100, 0, 6), (60, 20, 6)], 0),
        ([(0, 0, 6), (100, 0, 6), (50, 50 * math.sqrt(3), 6)], 120),
        ([(0, 0, 6), (100, 0, 6), (100, 40, 6), (0, 40, 6)], 180),
        ([(0, 0, 6), (100, 0, 5), (100, 40, 6), (0, 40, 5)], 180),
    ],
)
def test_a_plate_seats_one_way(places: list[tuple[float, float, float]], turn: int) -> None:
    lines = list(check_registration(pins(*places)))
    assert bool(lines) == bool(turn)
    if turn:
        assert f"turned by {turn} deg" in lines[0] or f"turned by {360 - turn} deg" in lines[0]

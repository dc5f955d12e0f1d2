"""Stretches that pass the outline's start, and what two of them share."""

import numpy as np
import pytest

from knifecam.curve import Stretch, rectangle
from knifecam.curve.stations import is_whole, length_of, part_of, shared

PLATE = rectangle(0, 0, 100, 30)  # 260 mm round


def on(start, end):
    return Stretch(start=start, end=end)


@pytest.mark.parametrize(
    ("start", "end", "length"),
    [(10, 40, 30), (250, 20, 30), (0, 260, 260), (5, 5, 0), (270, 280, 10), (-10, 10, 20)],
)
def test_lengths(start, end, length):
    assert length_of(PLATE, on(start, end)) == pytest.approx(length)
    assert is_whole(PLATE, on(start, end)) == (length == 260)


def test_a_part_runs_along_the_outline_over_its_start():
    part = part_of(PLATE, on(250, 20))
    np.testing.assert_allclose(part.vertices, [(0, 10), (0, 0), (20, 0)], atol=1e-12)
    assert part.length == pytest.approx(30)


@pytest.mark.parametrize(
    ("one", "other", "both"),
    [
        (on(10, 40), on(30, 60), 10),
        (on(10, 40), on(40, 60), 0),
        (on(250, 20), on(255, 5), 10),
        (on(250, 20), on(10, 30), 10),
        (on(10, 30), on(250, 20), 10),
        (on(255, 258), on(250, 20), 3),
        (on(200, 50), on(40, 210), 20),
        (on(0, 260), on(250, 20), 30),
    ],
)
def test_what_two_stretches_share(one, other, both):
    assert shared(PLATE, one, other) == pytest.approx(both, abs=1e-9)
    assert shared(PLATE, other, one) == pytest.approx(both, abs=1e-9)

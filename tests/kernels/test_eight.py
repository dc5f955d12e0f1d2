"""Eight numbers at a time: what the names mean compiled is what they mean in plain Python, to the bit."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numba import njit

from knifecam.sweep.vector8 import (
    EIGHT,
    Index,
    choose,
    eight,
    highest,
    lane,
    least,
    load,
    lowest,
    most,
    pattern,
    pointer,
    root,
    store,
    store_whole,
    total,  # fmt: skip
)


def of_numbers(one, two, s, out):
    """Every name once, results written eight by eight."""
    one, two, out = pointer(one), pointer(two), pointer(out)
    a, b = load(one, Index(0)), load(two, Index(0))
    near = (a < b) | (a >= s) & ~(b == s)
    for k, found in enumerate((
        a + b, a - b, a * b, a / b, s + a, s - b, b * s, s / a, -a, root(a), least(a, b), most(a, s),
        choose(near, a, b), choose(near, s, b), choose(a <= b, a, s), choose(a > s, 1.0, -1.0),
        eight(s), eight(total(a)), eight(highest(a)), eight(lowest(b)), eight(float(pattern(near))),
        eight(lane(a, 5)),
    )):  # fmt: skip
        store(out, Index(k) * EIGHT, found)


def of_whole(numbers, s, out):
    """Write some of eight numbers as whole ones."""
    a = load(pointer(numbers), Index(0))
    store_whole(pointer(out), Index(0), a > s, a)


@pytest.mark.parametrize("seed", range(20))
def test_compiled_as_plain(seed):
    rng = np.random.default_rng(seed)
    one, two = rng.normal(0, 3, 8), rng.normal(0, 3, 8)
    one[seed % 8], two[(seed + 3) % 8] = math.inf, one[(seed + 3) % 8]
    results = []
    for do in (of_numbers, njit(error_model="numpy")(of_numbers)):
        out = np.zeros(22 * 8)
        do(one, two, 0.5, out)
        results.append(out)
    assert np.array_equal(*results)


def test_their_meaning_by_hand():
    out = np.zeros(22 * 8)
    njit(error_model="numpy")(of_numbers)(np.arange(8.0), np.full(8, 4.0), 2.0, out)
    rows = out.reshape(22, 8)
    assert list(rows[0]) == [4, 5, 6, 7, 8, 9, 10, 11]
    assert list(rows[9]) == [math.sqrt(k) for k in range(8)]
    assert list(rows[10]) == [0, 1, 2, 3, 4, 4, 4, 4]
    assert list(rows[11]) == [2, 2, 2, 3, 4, 5, 6, 7]
    assert list(rows[17:20, 0]) == [28, 7, 4]
    assert rows[21, 0] == 5
    assert rows[20, 0] == 0b11111111  # less than 4, or at least 2 where the other is not 2


def test_whole_numbers_are_written_where_the_answer_is_yes():
    out = np.full(8, -1, np.int32)
    njit(error_model="numpy")(of_whole)(np.arange(8.0), 4.5, out)
    assert list(out) == [-1, -1, -1, -1, -1, 5, 6, 7]

"""Numbers become digits in one place."""

import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from knifecam.program.rs274_words import MM_UNIT, integer, word


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (12.34, "X12.3400"),
        (-0.00001, "X0.0000"),
        (-0.0, "X0.0000"),
        (1e-12, "X0.0000"),
        (-3.19999999999999, "X-3.2000"),
        (123456.789, "X123456.7890"),
        (2.00005, "X2.0000"),
    ],
)
def test_words(value, text):
    assert word("X", value) == text


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_finite_is_refused(value):
    with pytest.raises(ValueError, match="cannot be written"):
        word("X", value)


def test_whole_numbers_have_no_point():
    assert integer("S", 8000.0) == "S8000"


@given(st.floats(-5000, 5000))
@example(5e-05)
@example(-5e-05)
@example(2.00005)
def test_digits_go_there_and_back(value):
    """What is written reads back as what was snapped, within half of the last digit."""
    text = word("Y", value)[1:]
    assert float(text) == MM_UNIT.snapped_all(np.array(value))
    assert abs(Decimal(text) - Decimal(value)) <= Decimal("0.00005000001")
    assert set(text) <= set("-0123456789.")

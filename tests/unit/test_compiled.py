"""Parts are linked into what calls them, and no machine code is made of them alone."""

from __future__ import annotations

import math

import numba
import numpy as np
import pytest

from knifecam import compiled
from knifecam.simulator import ahead


def _hypotenuse(a, b):
    return math.sqrt(a * a + b * b)


def _longest(sides, part):
    best = 0.0
    for i in range(sides.shape[0]):
        best = max(best, part(sides[i, 0], sides[i, 1]))
    return best


SIDES = np.array([[3.0, 4.0], [5.0, 12.0], [8.0, 15.0]])


@pytest.mark.parametrize("way", [compiled.inner, compiled.close])
def test_a_caller_has_what_its_part_says(way):
    part = way(_hypotenuse)

    @numba.njit
    def longest(sides):
        best = 0.0
        for i in range(sides.shape[0]):
            best = max(best, part(sides[i, 0], sides[i, 1]))
        return best

    assert longest(SIDES) == _longest(SIDES, _hypotenuse) == 17.0
    (made,) = part.overloads.values()
    kept = type(made.library).__name__ == "_PartLibrary"
    assert kept == (numba.version_info.short in compiled.TRIED)
    if kept:
        assert made.library.get_pointer_to_function(made.fndesc.llvm_func_name) == 0


def test_a_part_raises_through_its_caller():
    @compiled.inner
    def root(x):
        if x < 0.0:
            raise ValueError("x is below 0")
        return math.sqrt(x)

    @numba.njit
    def twice(x):
        return 2.0 * root(x)

    assert twice(9.0) == 6.0
    with pytest.raises(ValueError, match="x is below 0"):
        twice(-1.0)


def test_a_kernel_that_can_be_kept_nowhere_is_compiled_all_the_same():
    """As where no folder can be written to: code that no file holds has no place either."""
    room = {}
    exec(compile("def twice(x):\n    return 2.0 * x\n", "<nowhere>", "exec"), room)
    with pytest.raises(RuntimeError, match="cannot cache"):
        numba.njit(cache=True)(room["twice"])
    twice = compiled.outer(room["twice"])
    assert twice(1.5) == 3.0
    assert twice.stats.cache_path is None
    assert ahead.stored(twice)  # nothing to compile ahead

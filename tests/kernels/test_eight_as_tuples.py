"""With a compiler whose vectors were not tried, eight numbers are tuples: a sweep has the same bits."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from numba import njit
from test_eight import of_numbers, of_whole
from test_threads import cut

from knifecam.compiled import NO_VECTORS, code_folder
from knifecam.sweep import vector8

ROOT = Path(__file__).parents[2]


def digests() -> list[str]:
    """Return digests of every name's results, and of what sweeps with all cutters leave and meet."""
    found = []
    compiled, whole = njit(error_model="numpy")(of_numbers), njit(error_model="numpy")(of_whole)
    for seed in range(50):
        one, two = np.random.default_rng(seed).normal(0, 3, (2, 8))
        one[seed % 8], two[(seed + 3) % 8] = np.inf, one[(seed + 3) % 8]
        one[(seed + 5) % 8] = (0.0, -0.0, np.nan)[seed % 3]
        out, marks = np.zeros(22 * 8), np.full(8, -1, np.int32)
        compiled(one, two, 0.5, out)
        whole(np.abs(two), 2.0, marks)
        found.append(hashlib.sha256(out.tobytes() + marks.tobytes()).hexdigest())
    for seed in range(6):
        digest = hashlib.sha256()
        for values in cut(1, seed):
            digest.update(np.ascontiguousarray(values).tobytes())
        found.append(digest.hexdigest())
    return found


def asked(code: str, **places: str) -> list[str]:
    """Return what a fresh interpreter prints, word by word."""
    done = subprocess.run(
        [sys.executable, "-c", code], env=os.environ | places, cwd=ROOT, capture_output=True,
        text=True, check=True,
    )  # fmt: skip
    return done.stdout.split()


def test_tuples_and_vectors_give_the_same_bits():
    code = (
        "import sys; sys.path.insert(0, 'tests/kernels');"
        "from test_eight_as_tuples import code_folder, digests, vector8;"
        "print(vector8.vectors_used, code_folder().name, *digests())"
    )
    used, folder, *of_tuples = asked(code, **{NO_VECTORS: "1"})
    assert used == "False"
    assert folder != code_folder().name
    assert of_tuples == digests()


@pytest.mark.parametrize(
    "change",
    [
        "numba.__version__ = '0.59.1'",
        "numba.__version__ = '1.0.0'",
        "numba.__version__ = 'unknown'",
        "import numba.extending; sys.modules['numba.core.imputils'] = None",
    ],
)
def test_vectors_are_left_where_the_compiler_is_another(change):
    code = f"import sys, numba; {change}\nfrom knifecam.sweep import vector8; print(vector8.vectors_used)"
    assert asked(code) == ["False"]


def test_vectors_are_used_where_they_were_tried():
    assert vector8.vectors_used or os.environ.get(NO_VECTORS)

"""Where compiled code is kept: by the sources it was made of, so that none of others can run."""

from __future__ import annotations

import math
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import numba
import numpy as np
import pytest

from knifecam import compiled

ROOT = Path(__file__).parents[2]
SIDES = np.array([[3.0, 4.0], [5.0, 12.0], [8.0, 15.0]])


def _hypotenuse(a, b):
    return math.sqrt(a * a + b * b)


@pytest.mark.parametrize("way", [compiled.inner, compiled.close])
def test_a_caller_has_what_its_part_says(way):
    part = way(_hypotenuse)

    @numba.njit
    def longest(sides):
        best = 0.0
        for i in range(sides.shape[0]):
            best = max(best, part(sides[i, 0], sides[i, 1]))
        return best

    assert longest(SIDES) == 17.0


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


def test_a_kernel_that_can_be_kept_nowhere_is_compiled_all_the_same(monkeypatch):
    """As where no folder can be written to: code that no file holds has no place either."""
    room = {}
    exec(compile("def twice(x):\n    return 2.0 * x\n", "<nowhere>", "exec"), room)
    with pytest.raises(RuntimeError, match="cannot cache"):
        numba.njit(cache=True)(room["twice"])
    assert compiled.outer(room["twice"])(1.5) == 3.0
    monkeypatch.setattr(compiled, "code_folder", lambda: None)
    twice = compiled.outer(_hypotenuse)
    assert twice(3.0, 4.0) == 5.0
    assert twice.stats.cache_path is None


PART = "from knifecam.compiled import inner\n\npart = inner(lambda x: {factor} * x)\n"
WHOLE = (
    "from knifecam.compiled import outer\nfrom knifecam.part import part\n\n\n"
    "def _whole(x):\n    return part(x)\n\n\nwhole = outer(_whole)\n"
)
ASK = "from knifecam.whole import whole; print(whole(1.0), sum(whole.stats.cache_hits.values()))"


def _asked(folder: Path) -> list[str]:
    places = {"PYTHONPATH": str(folder), "NUMBA_CACHE_DIR": str(folder / "kept")}
    done = subprocess.run(
        [sys.executable, "-c", ASK],
        cwd=folder,
        env=os.environ | places,
        check=True,
        capture_output=True,
        text=True,
    )
    return done.stdout.split()


def test_code_of_other_sources_never_runs(tmp_path):
    """A part changes in another file than its caller's, whose own file stays as it was."""
    package = tmp_path / "knifecam"
    package.mkdir()
    (package / "__init__.py").write_text("")
    shutil.copy(ROOT / "knifecam/compiled.py", package)
    (package / "whole.py").write_text(WHOLE)
    (package / "part.py").write_text(PART.format(factor=2.0))
    assert _asked(tmp_path) == ["2.0", "0"]
    assert _asked(tmp_path) == ["2.0", "1"]
    (package / "part.py").write_text(PART.format(factor=3.0))
    assert _asked(tmp_path) == ["3.0", "0"]


def test_code_of_sources_that_nothing_uses_goes(tmp_path):
    day = 24 * 3600.0
    for name, days in (("a", 0), ("b", 0), ("c", 0), ("d", 6), ("e", 8), ("f", 90)):
        (tmp_path / name).mkdir()
        os.utime(tmp_path / name, (time.time() - days * day,) * 2)
    compiled._drop_older(tmp_path)
    assert {folder.name for folder in tmp_path.iterdir()} == {"a", "b", "c", "d"}


def test_the_last_states_of_the_sources_stay_however_old(tmp_path):
    for age, name in enumerate(("new", "old", "older", "oldest")):
        (tmp_path / name).mkdir()
        os.utime(tmp_path / name, (1e9 - age, 1e9 - age))
    compiled._drop_older(tmp_path)
    assert {folder.name for folder in tmp_path.iterdir()} == {"new", "old", "older"}


def test_other_code_keeps_its_own_place():
    before = numba.config.CACHE_DIR
    compiled.outer(_hypotenuse)
    assert before == numba.config.CACHE_DIR

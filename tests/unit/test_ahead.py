"""Compiling in other processes: what they store is found, and nothing rests on them."""

import gc
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import pytest

from knifecam.simulator import ahead
from knifecam.simulator.rehearsal import REHEARSALS

ROOT = Path(__file__).parents[2]


def run(code, folder, **environment):
    """Run code in a new process whose compiled code is kept in a folder."""
    places = {"PYTHONPATH": str(ROOT), "NUMBA_CACHE_DIR": str(folder)}
    done = subprocess.run(
        [sys.executable, "-c", code], env=places | environment, cwd=folder, text=True,
        capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done.stdout


CHILD_COMPILES = """
import time
from knifecam.shop import Mill
from knifecam.simulator import ahead, duration, rehearsal
times = rehearsal.REHEARSALS["times"]
rehearsal.REHEARSALS = {"times": times}
ahead.threads_at_hand = lambda: 2
ahead.kernels = lambda: (duration.trapezoids,)
assert not ahead.stored(duration.trapezoids)
with ahead.compiling() as compiled:
    until = time.monotonic() + 60
    while not ahead.stored(duration.trapezoids) and time.monotonic() < until:
        time.sleep(0.05)
    compiled()
times()
print(*(sum(c.values()) for c in duration.trapezoids.stats[1:]))
"""


def test_what_a_child_compiles_is_loaded(tmp_path):
    """One kernel in an empty cache: a hit on the disk and no miss in the first process."""
    assert run(CHILD_COMPILES, tmp_path).split() == ["1", "0"]


NOTHING_IS_NEW = """
import sys
import knifecam
from knifecam.simulator.rehearsal import REHEARSALS
from tests.agreement.bevelled import bevelled_order

def compiled(rooms):
    return {
        (name, key): list(one.signatures)
        for name in list(sys.modules) if name.startswith(rooms)
        for key, one in vars(sys.modules[name]).items()
        if hasattr(one, "signatures") and one.stats.cache_path is not None and one.signatures
    }

knifecam.make
for rehearsal in REHEARSALS.values():
    rehearsal()
rooms = ("knifecam.simulator", "knifecam.curve", "knifecam.blade")
before = compiled(rooms)
assert len(before) >= 10, before
assert knifecam.make(bevelled_order()).verdict.ok
assert compiled(rooms) == before, set(compiled(rooms)) ^ set(before)
"""


def test_rehearsals_compile_all_that_judging_calls():
    """After them a blade with a bevel is planned and judged with no new code but the planner's."""
    subprocess.run([sys.executable, "-c", NOTHING_IS_NEW], check=True, cwd=ROOT)


def test_a_child_ends_with_its_input(tmp_path):
    """As it does when the first process is killed: also in the middle of compiling."""
    child = subprocess.Popen(
        [sys.executable, "-m", "knifecam.simulator.ahead"], stdin=subprocess.PIPE,
        stdout=subprocess.PIPE, text=True, cwd=ROOT,
        env={"PYTHONPATH": str(ROOT), "NUMBA_CACHE_DIR": str(tmp_path)},
    )  # fmt: skip
    with child:
        assert child.stdout.readline() == "free\n"
        child.stdin.write("sweep\n")
        child.stdin.flush()
        time.sleep(2.0)
        assert child.poll() is None
        child.stdin.close()
        assert child.wait(timeout=10) == 0
        assert child.stdout.read() == ""


@pytest.fixture
def two(monkeypatch):
    """Return the children started from now on, as if nothing were compiled and two cores at hand."""
    started = []
    real = ahead._child

    @contextmanager
    def child():
        with real() as one:
            started.append(one)
            yield one

    monkeypatch.setattr(ahead, "_child", child)
    monkeypatch.setattr(ahead, "threads_at_hand", lambda: 2)
    monkeypatch.setattr(ahead, "stored", lambda kernel: False)
    return started


@pytest.fixture
def rehearsed(monkeypatch):
    """Return the names of what this process rehearses; it does nothing but note them."""
    names = []
    monkeypatch.setattr(ahead, "rehearse", names.append)
    return names


def test_a_child_that_is_killed_does_no_harm(two, rehearsed):
    with ahead.compiling() as compiled:
        two[0].kill()
        two[0].wait()
        compiled()
    assert set(REHEARSALS) - set(rehearsed) <= {"sweep"}  # it may have begun the first


def test_a_child_that_dies_at_once_does_no_harm(two, rehearsed, monkeypatch, tmp_path):
    broken = tmp_path / "broken"
    broken.write_text("#!/bin/sh\nexit 3\n")
    broken.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(broken))
    with ahead.compiling() as compiled:
        compiled()
    assert set(REHEARSALS) - set(rehearsed) <= {"sweep"}


def test_a_child_that_cannot_be_started_does_no_harm(two, rehearsed, monkeypatch):
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    with ahead.compiling() as compiled:
        compiled()
    assert not two
    assert not rehearsed


def test_no_child_outlives_the_block(two):
    with pytest.raises(KeyboardInterrupt), ahead.compiling():
        raise KeyboardInterrupt
    assert len(two) == 1
    assert two[0].returncode is not None
    assert gc.isenabled()


@pytest.mark.parametrize(
    "change", [("stored", lambda kernel: True), ("threads_at_hand", lambda: 1)]
)
def test_no_child_where_it_has_nothing_to_do(two, rehearsed, monkeypatch, change):
    """All is on the disk, or one core is all there is."""
    monkeypatch.setattr(ahead, *change)
    with ahead.compiling() as compiled:
        compiled()
    assert not two
    assert not rehearsed


def test_no_child_where_nothing_is_compiled(tmp_path):
    code = """
from knifecam.simulator import ahead
ahead.threads_at_hand = lambda: 2
assert all(ahead.stored(kernel) for kernel in ahead.kernels())
"""
    run(code, tmp_path, NUMBA_DISABLE_JIT="1")


def test_a_kernel_is_stored_only_while_it_is_younger_than_its_source(tmp_path):
    code = """
import os
from pathlib import Path
from knifecam.simulator import ahead, duration, rehearsal
assert not ahead.stored(duration.trapezoids)
rehearsal.times()
assert ahead.stored(duration.trapezoids)
for index in Path(duration.trapezoids.stats.cache_path).glob("*.nbi"):
    os.utime(index, (0, 0))
assert not ahead.stored(duration.trapezoids)
"""
    run(code, tmp_path)


def test_help_starts_nothing():
    code = """
import contextlib, sys
from knifecam.cli import main
with contextlib.suppress(SystemExit):
    main(["make", "--help"])
assert "subprocess" not in sys.modules
assert "knifecam.simulator.ahead" not in sys.modules
"""
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT, stdout=subprocess.DEVNULL)

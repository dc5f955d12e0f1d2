"""Stage times from drawing to verdict for the first demo, at 0.05 mm cells.

    python -m pytest tests/benchmarks/test_make_speed.py --benchmark-enable

Everything is warmed once first, so compiled code is loaded. The first-ever time, with an empty
cache of compiled code, is printed by `test_first_ever`, which runs the command.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

import knifecam
from knifecam.judge.prove import judge
from knifecam.report.surface_deviation import blade_surface, surface_deviations

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "examples/field-knife-230x32.toml"


@pytest.fixture(scope="module")
def made():
    return knifecam.make(knifecam.load_order(DEMO))


def test_load(benchmark, made):
    """Drawing and order to a checked record."""
    order = benchmark(knifecam.load_order, DEMO)
    assert order == made.order


def test_refusals_and_plan(benchmark, made):
    """Closed rules, then both sides' cuts."""

    def plan():
        assert not knifecam.feasible(made.order)
        return knifecam.lay_out(made.order)

    assert len(benchmark(plan).cuts) == len(made.plan.cuts)


def test_write(benchmark, made):
    """Both programs' text."""

    def write():
        return [knifecam.write_program(made.order, made.plan, side).text for side in "AB"]

    assert benchmark(write) == [program.text for program in made.programs]


def test_judge(benchmark, made):
    """Reading, cutting, measuring, judging both texts."""
    texts = tuple(program.text for program in made.programs)
    judged = benchmark.pedantic(judge, args=(made.order, texts), rounds=5)
    assert judged.verdict.ok


def test_field_and_deviation_alone(benchmark, made):
    """What both texts leave of the blade at 0.02 mm cells, and how far its surfaces are off."""
    texts = tuple(program.text for program in made.programs)

    def surfaces():
        return surface_deviations(made.order, blade_surface(made.order, texts))

    found = benchmark.pedantic(surfaces, rounds=5, warmup_rounds=1)
    assert len(found) == 2


def test_all(benchmark):
    """From the order's file to the verdict."""
    done = benchmark.pedantic(lambda: knifecam.make(knifecam.load_order(DEMO)), rounds=5)
    assert done.verdict.ok


def test_first_ever(tmp_path, capsys):
    """The command in a new process with an empty cache of compiled code, and once more."""
    command = [sys.executable, "-m", "knifecam", "make", str(DEMO), "--out", str(tmp_path / "made")]
    environment = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path / "compiled")}
    seconds = []
    for _ in range(2):
        begun = time.perf_counter()
        subprocess.run(command, check=True, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL)
        seconds.append(time.perf_counter() - begun)
    with capsys.disabled():
        print("\nfirst ever {:.1f} s, again in a new process {:.1f} s".format(*seconds))

"""What limits a sweep on one core: memory, arithmetic, or what each step costs besides.

Run with ``--benchmark-enable -s``. Three ceilings are measured beside the sweep, in one thread and one
run: copying an array of the grid's size, cutting rows of eight columns that stay in the core's own
memory by the ball's closed form alone, and steps that reach the grid but find nothing to cut.
"""

from __future__ import annotations

import time

import numpy as np
import pytest
from numba import njit

from knifecam.curve import FEED, Motions
from knifecam.sweep.columns import cut_grid, plate_grid
from knifecam.sweep.vector8 import EIGHT, Index, choose, least, load, pointer, root, store

CELL, RADIUS, LENGTH = 0.05, 3.0, 180.0


@njit(error_model="numpy")
def rows_of_eight(level, x, rounds, R):
    """Cut the same columns over and over, each time a little deeper."""
    level, x = pointer(level), pointer(x)
    for n in range(rounds):
        low = -1e-6 * n
        for k in range(Index(0), Index(512), EIGHT):
            px = load(x, k)
            qq = px * px + 0.25
            z = choose(qq <= R * R, low + R - root(R * R - qq), np.inf)
            store(level, k, least(load(level, k), z))


def lanes(depth: float) -> Motions:
    """Six straight slots side by side, level."""
    y = 4.0 + 6.0 * np.arange(6)
    start = np.column_stack([np.full(6, 10.0), y, np.full(6, depth)])
    stop = start + np.array([LENGTH, 0.0, 0.0])
    return Motions(
        np.full(6, FEED, np.uint8), start, stop, np.zeros((6, 2)), np.zeros(6), np.ones(6)
    )


def best(do, rounds: int = 5) -> float:
    """Least processor time, s."""
    times = []
    for _ in range(rounds):
        begin = time.process_time()
        do()
        times.append(time.process_time() - begin)
    return min(times)


@pytest.mark.benchmark
def test_what_limits_a_sweep(benchmark) -> None:
    """Arithmetic in the core: copying the columns takes a small part of the time."""
    if not benchmark.enabled:
        benchmark(lambda: None)
        return
    grid = plate_grid((0, 0, 200, 40), 2.0, CELL)
    there = np.empty_like(grid.top)
    copied = best(lambda: np.copyto(there, grid.top)) / grid.top.size
    level, x = np.full(512, 9.0), np.linspace(-2.5, 2.5, 512)
    rows_of_eight(level, x, 1, RADIUS)
    formula = best(lambda: rows_of_eight(level, x, 20000, RADIUS)) / (20000 * 512)
    cutters = {"flat": 0.0, "bull-nose": 0.3, "ball": RADIUS}
    found = {name: per_column(corner) for name, corner in cutters.items()}
    empty = per_step_that_cuts_nothing()
    print(f"\ncopied {copied * 1e9:.2f} ns a column ({16e-9 / copied:.1f} GB/s);"
          f" a ball's form alone {formula * 1e9:.2f} ns; a step that cuts nothing {empty * 1e6:.2f} us;"
          f" swept, ns a column: { {k: round(v * 1e9, 2) for k, v in found.items()} }")  # fmt: skip
    benchmark.pedantic(lambda: per_column(0.0), rounds=1)
    assert copied < 0.5 * min(found.values())


def per_column(corner: float) -> float:
    """Seconds for each column that slots through fresh metal cut, each of them once."""

    def cut() -> None:
        grid = plate_grid((0, 0, 200, 40), 2.0, CELL)
        begin = time.process_time()
        swept = cut_grid(grid, lanes(0.5), RADIUS, corner, side="A", flip="X", first=0, threads=1)
        times.append((time.process_time() - begin) / np.count_nonzero(grid.changed >= 0))
        assert swept.volume.sum() > 0.0

    times: list[float] = []
    for _ in range(5):
        cut()
    return min(times)


def per_step_that_cuts_nothing() -> float:
    """Seconds for each step that passes again where all is cut already, below the plate's face."""
    grid = plate_grid((0, 0, 200, 40), 2.0, CELL)
    again = {"side": "A", "flip": "X", "first": 0, "threads": 1}
    steps = len(cut_grid(grid, lanes(0.5), RADIUS, 0.0, **again).engagement)
    return best(lambda: cut_grid(grid, lanes(0.5), RADIUS, 0.0, **again)) / steps

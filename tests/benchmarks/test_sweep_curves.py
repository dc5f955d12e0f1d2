"""How a sweep's time grows with the path and with the columns: run with ``--benchmark-enable -s``.

Processor seconds in one thread, so that what else the machine does counts little.
"""

from __future__ import annotations

import time

import numpy as np
import pytest
from test_sweep_speed import RADIUS, moves, wander

from knifecam.sweep.columns import cut_grid, plate_grid


def seconds(count: int, cell: float) -> float:
    """Time of sweeping ``count`` moves of a bull-nose cutter, best of three."""
    path = moves(level(count))
    best = np.inf
    for _ in range(3):
        grid = plate_grid((0, 0, 200, 40), 2.0, cell)
        begin = time.process_time()
        cut_grid(grid, path, RADIUS, 0.3, side="A", flip="X", first=0, threads=1)
        best = min(best, time.process_time() - begin)
    return best


def level(count: int) -> np.ndarray:
    """A path that goes 0.2 mm deeper every 1,500 moves, as cuts in layers do."""
    path = wander(count)
    path[:, 2] = 0.8 - 0.2 * (np.arange(count + 1) // 1500)
    return path


def grows(name: str, sizes, times) -> float:
    """Print a curve; return the power of the size by which its time grows."""
    power = float(np.polyfit(np.log(sizes), np.log(times), 1)[0])
    rows = " ".join(f"{size:.4g}: {took:.3f} s" for size, took in zip(sizes, times, strict=True))
    print(f"\n{name} {rows}; grows by the power {power:.2f}")
    return power


@pytest.mark.benchmark
def test_time_by_path(benchmark) -> None:
    """Twice the moves take about twice the time."""
    if not benchmark.enabled:
        benchmark(lambda: None)
        return
    counts = [1500, 3000, 6000, 12000]
    times = benchmark.pedantic(lambda: [seconds(n, 0.05) for n in counts], rounds=1)
    assert 0.7 < grows("moves of 0.5 mm", counts, times) < 1.15


@pytest.mark.benchmark
def test_time_by_columns(benchmark) -> None:
    """Twice the columns take no more than twice the time."""
    if not benchmark.enabled:
        benchmark(lambda: None)
        return
    cells = [0.1, 0.07, 0.05, 0.035, 0.025]
    columns = [200 * 40 / cell**2 for cell in cells]
    times = benchmark.pedantic(lambda: [seconds(6000, cell) for cell in cells], rounds=1)
    assert 0.5 < grows("columns", columns, times) < 1.15

"""How fast sweeps are beside a plain compiled double loop: run with ``--benchmark-enable -s``.

Both cut the same grid with the same short inclined moves, in one run and one thread; the ratio is
what counts. Before it is taken, both have to leave the same heights.
"""

from __future__ import annotations

import math
import time

import numpy as np
import pytest
from numba import njit

from knifecam.curve import FEED, Motions
from knifecam.sweep.columns import cut_grid, plate_grid

RADIUS, LENGTH, CELL = 3.0, 0.5, 0.05

MOVES, COMPARED = 6000, 300
"""How many moves are swept, and how many of them the double loop cuts: rates are compared."""

CUTTERS = {
    # corner, radius of a conical cutter's flat tip, half angle; 0 for none
    "flat": (0.0, 0.0, 0.0),
    "ball": (RADIUS, 0.0, 0.0),
    "bull-nose": (1.0, 0.0, 0.0),
    "cone": (0.0, 0.5, math.radians(45)),
}
KINDS = {"flat": 0, "ball": 1, "bull-nose": 2, "cone": 3}


def wander(count: int) -> np.ndarray:
    """A path over the plate in moves of 0.5 mm, each climbing or falling: (count + 1, 3)."""
    rng = np.random.default_rng(4)
    heading = np.cumsum(rng.normal(0.0, 0.15, count))
    steps = LENGTH * np.column_stack([np.cos(heading), np.sin(heading)])
    at = np.cumsum(np.vstack([[20.0, 20.0], steps]), axis=0)
    # folded back where it would leave the plate's middle
    x = 10 + np.abs((at[:, 0] - 10) % 360 - 180)
    y = 6 + np.abs((at[:, 1] - 6) % 56 - 28)
    z = 0.4 * np.sin(np.arange(count + 1) * 0.21) - 0.5
    return np.column_stack([x, y, z])


def moves(path: np.ndarray) -> Motions:
    """The path as motions."""
    count = len(path) - 1
    none, turns = np.zeros((count, 2)), np.zeros(count)
    kind, feed = np.full(count, FEED, np.uint8), np.full(count, 1000.0)
    return Motions(kind, path[:-1], path[1:], none, turns, feed)


@njit(error_model="numpy")
def boxes(top, x0, y0, cell, path, kind, R, r, flat, slope):
    """Cut every cell of each move's bounding box in float64: a closed form, or a dozen halves."""
    cells = 0
    for n in range(len(path) - 1):
        ax, ay, az = path[n]
        bx, by, bz = path[n + 1]
        length = math.hypot(bx - ax, by - ay)
        ux, uy, m = (bx - ax) / length, (by - ay) / length, (bz - az) / length
        sense = 1.0 if m > 0.0 else -1.0
        for j in range(int((min(ay, by) - R - y0) / cell), int((max(ay, by) + R - y0) / cell) + 2):
            for i in range(
                int((min(ax, bx) - R - x0) / cell), int((max(ax, bx) + R - x0) / cell) + 2
            ):
                cells += 1
                px, py = x0 + i * cell - ax, y0 + j * cell - ay
                s, d = px * ux + py * uy, abs(ux * py - uy * px)
                if d > R:
                    continue
                rho = math.sqrt(R * R - d * d)
                if kind == 0:
                    w = rho
                elif kind == 1:
                    w = abs(m) * rho / math.sqrt(1.0 + m * m)
                elif kind == 3:
                    w = max(math.sqrt(max(flat * flat - d * d, 0.0)),
                            abs(m) * d / math.sqrt(slope * slope - m * m))  # fmt: skip
                    w = min(w, rho)
                else:
                    low = math.sqrt(max(flat * flat - d * d, 0.0))
                    high = rho
                    for _ in range(12):
                        w = 0.5 * (low + high)
                        q = math.sqrt(d * d + w * w)
                        v = q - flat
                        rate = v / math.sqrt(max(r * r - v * v, 1e-30)) * w / max(q, 1e-30)
                        if rate > abs(m):
                            high = w
                        else:
                            low = w
                t = min(max(s - sense * w, 0.0), length)
                q = math.sqrt(d * d + (s - t) * (s - t))
                if q > R + 1e-9:
                    continue
                z = az + m * t
                if kind == 3:
                    z += slope * max(q - flat, 0.0)
                elif kind != 0:
                    v = max(q - flat, 0.0)
                    z += r - math.sqrt(max(r * r - v * v, 0.0))
                if z < top[j, i]:
                    top[j, i] = z
    return cells


@pytest.mark.parametrize("name", CUTTERS)
def test_sweep_of_short_inclined_moves(benchmark, name: str) -> None:
    """At least 8 times the plain double loop, on 4000 x 800 cells."""
    corner, tip, half = CUTTERS[name]
    path = wander(MOVES)
    flat = tip if half else RADIUS - corner
    slope = 1.0 / math.tan(half) if half else 0.0

    def ours(count: int):
        grid = plate_grid((0, 0, 200, 40), 2.0, CELL)
        begin = time.process_time()
        cut_grid(grid, moves(path[: count + 1]), RADIUS, corner, side="A", flip="X", first=0, threads=1,
                 tip=np.full(count, tip), half_angle=np.full(count, half))  # fmt: skip
        return (time.process_time() - begin) / count, grid

    def plain():
        grid = plate_grid((0, 0, 200, 40), 2.0, CELL)
        some, kind = path[: COMPARED + 1], KINDS[name]
        begin = time.process_time()
        cells = boxes(grid.top, grid.x0, grid.y0, CELL, some, kind, RADIUS, corner, flat, slope)
        return (time.process_time() - begin) / COMPARED, grid, cells / COMPARED

    # rounding decides on the rim: columns exactly on it may differ
    apart = np.abs(ours(COMPARED)[1].top - plain()[1].top)
    assert np.quantile(apart, 0.9999) < 1e-5
    if not benchmark.enabled:
        benchmark(lambda: None)
        return
    fast = min(ours(MOVES)[0] for _ in range(2))
    slow, _, cells = min((plain() for _ in range(2)), key=lambda one: one[0])
    print(f"\n{name}: {fast * 1e6:.1f} us a move, {cells / fast / 1e9:.2f} against"
          f" {cells / slow / 1e9:.3f} thousand million cells/s, {slow / fast:.1f} times")  # fmt: skip
    benchmark.pedantic(lambda: ours(COMPARED), rounds=1)
    assert slow / fast >= 8.0

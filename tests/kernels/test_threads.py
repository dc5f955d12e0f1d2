"""Threads change no bit of a result."""

from __future__ import annotations

import numpy as np
import pytest
from random_motions import as_motions, random_chain

from knifecam.sweep import columns
from knifecam.sweep import threads as threads_module
from knifecam.sweep.columns import cut_grid, plate_grid


def cut(threads, seed):
    """All arrays that two sides' motions of mixed cutters leave, on a grid of several blocks."""
    rng = np.random.default_rng(seed)
    grid = plate_grid((-6, -6, 6, 6), 2.0, 0.03)
    guard = np.hypot(*np.meshgrid(grid.x, grid.y)) < 1.5
    arrays = []
    for first, side in ((0, "A"), (40, "B")):
        motions = as_motions(random_chain(rng, 40, box=5.5))
        radius, cone = rng.uniform(0.3, 1.5, 40), rng.random(40) < 0.3
        swept = cut_grid(
            grid, motions, radius, np.where(cone, 0.0, radius * rng.choice([0.0, 0.2, 1.0], 40)),
            side=side, flip="X", first=first, protected=guard, reach=0.5, shank=2.0, threads=threads,
            tip=0.2 * radius, half_angle=np.where(cone, 0.6, 0.0),
        )  # fmt: skip
        arrays += [getattr(swept.engagement, n) for n in swept.engagement.__dataclass_fields__]
        arrays += [swept.volume, swept.gouge, swept.gouge_place]
    return [*arrays, grid.top, grid.bottom, grid.emptied, grid.changed]


@pytest.mark.parametrize("seed", range(3))
def test_one_two_and_eight_threads_give_the_same_bits(monkeypatch, seed):
    monkeypatch.setattr(threads_module, "WORTH", 1)
    one = cut(1, seed)
    assert one[1].size > 0
    for threads in (2, 8):
        for a, b in zip(one, cut(threads, seed), strict=True):
            assert a.tobytes() == b.tobytes()


def test_a_fault_in_a_thread_is_told(monkeypatch):
    def fail(*_):
        raise MemoryError

    monkeypatch.setattr(columns.column_kernel, "sweep_blocks", fail)
    monkeypatch.setattr(threads_module, "WORTH", 1)
    with pytest.raises(MemoryError):
        cut(2, 0)


def test_shares_hold_all_items_once_and_about_the_same_work():
    rng = np.random.default_rng(1)
    begins = np.append(0, np.cumsum(rng.integers(0, 900, 200)))
    parts = threads_module.thread_shares(begins, 2)
    assert [i for low, high in parts for i in range(low, high)] == list(range(200))
    work = [begins[high] - begins[low] for low, high in parts]
    assert max(work) < begins[-1] / 16 + 900
    assert threads_module.thread_shares(begins, 1) == [(0, 200)]
    assert threads_module.thread_shares(np.zeros(4, np.int64), 8) == [(0, 3)]

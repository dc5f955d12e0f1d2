"""The same kernels with the compiler switched off give the same results."""

from __future__ import annotations

import importlib.util
import sys

import numba
import numpy as np
import pytest
from random_motions import as_motions, random_chain

from knifecam.sweep import column_kernel, columns, exact_walls, loose_pieces


def plain(module):
    """The module once more, its kernels left as plain Python; under a name of its own."""
    spec = importlib.util.spec_from_file_location(f"plain_{module.__name__}", module.__file__)
    twin = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = twin
    before, numba.config.DISABLE_JIT = numba.config.DISABLE_JIT, 1
    try:
        spec.loader.exec_module(twin)
    finally:
        numba.config.DISABLE_JIT = before
        del sys.modules[spec.name]
    return twin


@pytest.fixture(scope="module")
def plain_kernel():
    twin = plain(column_kernel)
    assert not hasattr(twin.sweep_blocks, "py_func")
    return twin


def close(a, b):
    return np.allclose(a, b, rtol=0.0, atol=1e-12, equal_nan=True)


CONES = [{"tip": 0.0, "half_angle": np.pi / 4}, {"tip": 0.15, "half_angle": 0.4}]


@pytest.mark.parametrize(
    ("corner", "cone"),
    [(0.0, {}), (0.25, {}), (0.8, {}), *((0.0, cone) for cone in CONES)],
    ids=["flat", "bull-nose", "ball", "pointed cone", "cone"],
)
@pytest.mark.parametrize("seed", range(6))
def test_columns(plain_kernel, monkeypatch, corner, cone, seed):
    rng = np.random.default_rng([seed, int(100 * corner), int(100 * cone.get("tip", 0.0))])
    motions = as_motions(random_chain(rng, 5))
    reach, shank = np.full(5, 0.5), np.full(5, 1.2)
    points = rng.uniform(-4, 4, (150, 2))
    results = []
    for chosen in (column_kernel, plain_kernel):
        monkeypatch.setattr(columns, "column_kernel", chosen)
        grid = columns.plate_grid((-4, -4, 4, 4), 2.0, 0.4)
        watched = columns.sample_columns(points, 2.0)
        guard = np.hypot(*np.meshgrid(grid.x, grid.y)) < 1.5
        given = {"flip": "X", "protected": guard, "reach": reach, "shank": shank, **cone}
        swept = [columns.cut_grid(grid, motions, 0.8, corner, side="A", first=0, **given)]
        swept += [columns.cut_grid(grid, motions, 0.8, corner, side="B", first=5, **given)]
        columns.cut_samples(watched, motions, 0.8, corner, side="B", flip="Y", first=0, **cone)
        results.append((grid, watched, swept))
    (grid, watched, swept), (plain_grid, plain_watched, plain_swept) = results
    for name in ("top", "bottom", "emptied", "changed"):
        assert close(getattr(grid, name), getattr(plain_grid, name)), name
        assert close(getattr(watched, name), getattr(plain_watched, name)), name
    for one, two in zip(swept, plain_swept, strict=True):
        for name in ("volume", "gouge", "gouge_place"):
            assert close(getattr(one, name), getattr(two, name)), name
        for name in one.engagement.__dataclass_fields__:
            assert close(getattr(one.engagement, name), getattr(two.engagement, name)), name


@pytest.mark.parametrize("seed", range(6))
def test_walls(monkeypatch, seed):
    rng = np.random.default_rng(seed)
    motions = as_motions(random_chain(rng, 5))
    points = rng.uniform(-4, 4, (60, 2))
    given = (points, [-0.5, 0.3, 1.5], motions, 0.8, rng.choice([0.0, 0.3, 0.8]))
    compiled = exact_walls.wall_error(*given)
    monkeypatch.setattr(exact_walls, "wall_errors", plain(exact_walls).wall_errors)
    error, motion = exact_walls.wall_error(*given)
    # a search by sections stops where a smooth least value no longer shows: 1e-9 mm
    assert np.allclose(compiled[0], error, rtol=0.0, atol=1e-9)
    assert np.array_equal(compiled[1], motion)


@pytest.mark.parametrize("seed", range(6))
def test_loose_pieces(monkeypatch, seed):
    rng = np.random.default_rng(seed)
    grid = columns.plate_grid((0, 0, 30, 20), 2.0, 1.0)
    grid.changed[:] = np.where(rng.random((20, 30)) < 0.5, rng.integers(0, 9, (20, 30)), -1)
    np.copyto(grid.bottom, grid.top, where=grid.changed >= 0)
    held = rng.random((20, 30)) < 0.03
    compiled = loose_pieces.loose_pieces(grid, held)
    twin = plain(loose_pieces)
    monkeypatch.setattr(loose_pieces, "stretches", twin.stretches)
    monkeypatch.setattr(loose_pieces, "freed", twin.freed)
    assert compiled == loose_pieces.loose_pieces(grid, held)
    assert compiled

"""The walks that measure offsets: plain and compiled alike, and against a naive reference."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numba
import numpy as np
import pytest

from knifecam.curve import Curve, polyline
from knifecam.curve.curve import boxes_of
from knifecam.paths import offset_check
from knifecam.paths.offset import offset
from knifecam.paths.offset_check import OffsetSide, _standing, _steps

OUTLINE = polyline([(0, 0), (30, -2), (60, 0), (62, 20), (40, 18), (20, 24), (0, 20)],
                   bulges=[0.1, -0.2, 0.3, 0, -0.5, 0.2, 0])  # fmt: skip

NAMES = ("piece_of", "size", "gap", "outside", "nearest", "place", "check_path", "check_source")


@numba.njit
def gap(x, y, table, k):
    return offset_check.gap(x, y, offset_check.piece_of(table, k))


@numba.njit
def place(t, table, k, half, sine, cosine):
    return offset_check.place(t, offset_check.piece_of(table, k), half, sine, cosine)


@numba.njit
def nearest(x, y, but, reach, enough, table, boxes, wide, group):
    among = offset_check.Searched(table, boxes, wide, group)
    return offset_check.nearest(x, y, but, reach, enough, among)


@pytest.fixture(params=["compiled", "plain"])
def kernels(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch):
    """The ways in from Python, of which only the walks are the package's own."""
    inner = (gap, place, nearest)
    if request.param == "plain":
        inner = tuple(kernel.py_func for kernel in inner)
        for name in NAMES:
            monkeypatch.setattr(offset_check, name, getattr(offset_check, f"_{name}"))
    return SimpleNamespace(
        gap=inner[0], place=inner[1], nearest=inner[2],
        check_path=offset_check.check_path, check_source=offset_check.check_source,
    )  # fmt: skip


def naive_gap(point: np.ndarray, curve: Curve) -> float:
    """Distance to 20,000 places a piece, by hypot alone."""
    rows = [curve.piece_points(k, np.linspace(0, 1, 4001)) for k in range(len(curve))]
    return float(np.hypot(*(np.concatenate(rows) - point).T).min())


def test_gap_is_the_distance_to_a_piece(kernels) -> None:
    rng = np.random.default_rng(4)
    for k in range(len(OUTLINE)):
        piece = Curve(OUTLINE.vertices[[k, (k + 1) % 7]], [OUTLINE.bulges[k], 0.0], closed=False)
        for point in rng.uniform(-10, 70, (8, 2)):
            found = kernels.gap(point[0], point[1], OUTLINE.table, k)
            assert found == pytest.approx(naive_gap(point, piece), abs=1e-4)


def test_place_runs_along_a_piece(kernels) -> None:
    for k in range(len(OUTLINE)):
        half = OUTLINE.angles[k] / 2
        for t in (0.0, 0.3, 1.0):
            found = kernels.place(t, OUTLINE.table, k, half, math.sin(half), math.cos(half))
            np.testing.assert_allclose(found, OUTLINE.piece_points(k, [t])[0], atol=1e-12)


def test_nearest_leaves_out_what_it_is_told(kernels) -> None:
    among = (OUTLINE.table, *boxes_of(OUTLINE.table))
    for x, y in ((30.0, 10.0), (-5.0, 3.0), (61.0, 30.0)):
        d, k = kernels.nearest(x, y, -1, math.inf, -1.0, *among)
        gaps = [kernels.gap(x, y, OUTLINE.table, j) for j in range(len(OUTLINE))]
        assert (d, k) == (min(gaps), int(np.argmin(gaps)))
        gaps[k] = math.inf
        assert kernels.nearest(x, y, k, math.inf, -1.0, *among)[0] == min(gaps)
        assert kernels.nearest(x, y, -1, d / 2, -1.0, *among) == (d / 2, -1)


@pytest.mark.parametrize("away", [2.0, -2.0])
@pytest.mark.parametrize("off", [0.0, 0.01])
def test_walks_find_how_far_a_path_is_off(kernels, away: float, off: float) -> None:
    side = OffsetSide.of(OUTLINE, away)
    (path,) = offset(OUTLINE, away + math.copysign(off, away))
    source = (side.source.table, *side.source.boxes)
    low, high, count = kernels.check_path(path.table, path.lengths, _steps(path, 2.0), *source, 2.0)
    assert (low, high) == pytest.approx((2.0 + off, 2.0 + off), abs=1e-9)
    assert count > 100
    standing, parts = _standing(side.source, 2.0, off + 1e-5)
    along = (path.table, *path.boxes)
    missed = kernels.check_source(*standing, parts, 2.0 + off + 1e-5, 1e-7, *along, *source)
    assert missed == pytest.approx(off, abs=2e-3 if off else 1e-7)

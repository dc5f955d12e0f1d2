"""The way round by the integer clipper, which must hold its band by itself."""

from __future__ import annotations

import importlib
import math

import numpy as np
import pytest

from knifecam.curve import Curve, circle, distance, polyline, rectangle
from knifecam.errors import PlanError
from knifecam.paths import measure_offset, offset
from knifecam.paths.offset import find_offset
from knifecam.paths.offset_fallback import clipped_chains

BAY = polyline(
    [(0, 0), (60, 0), (60, 30), (40, 30), (20, 30), (0, 30)], bulges=[0, 0, 0, 0.3, 0, 0]
)
NOTCH = polyline([(0, 0), (40, 0), (40, 20), (25, 20), (22, 6), (18, 6), (15, 20), (0, 20)],
                 bulges=[0, 0.1, 0, 0, -1, 0, 0, -0.2])  # fmt: skip


module = importlib.import_module("knifecam.paths.offset")  # the package's name is the function


def clipped(curve: Curve, away: float, tolerance: float) -> tuple[Curve, ...]:
    curves = [Curve(v, b) for v, b in clipped_chains(curve, away, tolerance)]
    return tuple(c.reversed() for c in curves) if away > 0 else tuple(curves)


@pytest.mark.parametrize("tolerance", [0.0005, 0.002, 0.01])
@pytest.mark.parametrize("away", [3.0, -3.0, 0.7, -0.7])
@pytest.mark.parametrize("curve", [BAY, NOTCH, circle((1, 2), 30), rectangle(0, 0, 40, 20)])
def test_fitted_path_stays_in_its_band(curve: Curve, away: float, tolerance: float) -> None:
    loops = clipped(curve, away, tolerance)
    deviation = measure_offset(curve, loops, away, room=tolerance)
    assert deviation.loops_right
    assert deviation.nearer <= 1e-6
    assert deviation.farther <= tolerance
    assert deviation.missed <= tolerance


def test_fitted_path_has_about_as_many_pieces_as_the_exact_one() -> None:
    for curve in (BAY, NOTCH):
        for away in (3.0, -3.0):
            pieces = sum(map(len, clipped(curve, away, 0.0005)))
            assert pieces <= 2 * sum(map(len, offset(curve, away)))


def test_many_short_lines_become_few_arcs() -> None:
    a = np.linspace(0, 2 * np.pi, 3001)[:-1]
    (path,) = clipped(polyline(np.stack([20 * np.cos(a), 20 * np.sin(a)], axis=1)), 3.0, 0.0005)
    assert len(path) < 12
    assert np.abs(np.hypot(*path.points(1e-3).T) - 23).max() < 0.0005


def test_nothing_left_gives_no_loops() -> None:
    assert clipped(circle((0, 0), 5), -2.5, 0.0005) == ()


@pytest.mark.parametrize("away", [3.0, -3.0])
def test_offset_takes_the_clipper_where_the_pieces_do_not_close(
    away: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(module, "exact_chains", lambda source, distance: None)
    found = find_offset(BAY, away, 0.0005)
    assert found.way == "clipped"
    assert found.deviation.nearer <= 1e-6
    assert found.deviation.farther <= 0.0005


def test_offset_nudges_the_distance_first(monkeypatch: pytest.MonkeyPatch) -> None:
    exact = module.exact_chains
    monkeypatch.setattr(
        module, "exact_chains", lambda source, d: None if d == 3.0 else exact(source, d)
    )
    found = find_offset(BAY, 3.0, 0.0005)
    assert found.way == "nudged"
    off = distance(found.loops[0].points(0.001), BAY)
    assert 3.0 <= off.min() <= off.max() <= 3.0005


def test_wrong_path_is_refused_whatever_way_it_came(monkeypatch: pytest.MonkeyPatch) -> None:
    wrong = [(circle((30, 15), 2).vertices, circle((30, 15), 2).bulges)]
    monkeypatch.setattr(module, "exact_chains", lambda source, distance: wrong)
    monkeypatch.setattr(module, "clipped_chains", lambda curve, distance, tolerance: wrong)
    with pytest.raises(PlanError, match="does not cross itself"):
        offset(BAY, -3.0)


def test_tolerance_must_leave_room() -> None:
    for tolerance in (0.0, 1e-6, math.nan):
        with pytest.raises(ValueError, match="tolerance"):
            offset(BAY, 1.0, tolerance=tolerance)

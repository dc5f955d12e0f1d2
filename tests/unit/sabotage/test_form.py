"""The oracle's closed forms against hand-worked heights and against looking at every place."""

from __future__ import annotations

import numpy as np
import pytest

from tests.sabotage.oracle.cut import Pairs, bins_of, pairs_of, walked
from tests.sabotage.oracle.form import Strokes, heights

FLAT, BULL, BALL, CONE = (3.0, 3.0, 0.0), (3.0, 2.5, 0.0), (3.0, 0.0, 0.0), (3.0, 0.1, 1.0)
"""Radius, radius of the flat end, rise of the cone."""


def strokes(rows: list[tuple], form: tuple[float, float, float]) -> Strokes:
    start, stop, centre, turns = zip(*rows, strict=True)
    count = len(rows)
    return Strokes(
        start=np.array(start, float), stop=np.array(stop, float), centre=np.array(centre, float),
        turns=np.array(turns, float), radius=np.full(count, form[0]), flat=np.full(count, form[1]),
        rise=np.full(count, form[2]),
    )  # fmt: skip


def line(start: tuple, stop: tuple) -> tuple:
    return start, stop, (0.0, 0.0), 0.0


def low(rows: list[tuple], form: tuple[float, float, float], x: float, y: float) -> float:
    return float(heights(strokes(rows, form), np.array([x]), np.array([y]))[0][0])


def test_heights_worked_by_hand() -> None:
    level = [line((0.0, 0.0, -1.0), (10.0, 0.0, -1.0))]
    assert low(level, FLAT, 5.0, 2.999) == -1.0
    assert low(level, FLAT, 5.0, 3.001) == np.inf
    assert low(level, BALL, 5.0, 1.8) == pytest.approx(-1.0 + 3.0 - 2.4, abs=1e-12)  # 3-4-5
    assert low(level, BULL, 5.0, 2.9) == pytest.approx(-1.0 + 0.5 - 0.3, abs=1e-12)  # 3-4-5 again
    assert low(level, CONE, 5.0, 1.1) == pytest.approx(0.0, abs=1e-12)
    assert low(level, FLAT, 12.9, 0.0) == -1.0
    # a flat end falling along a slope of 1 in 10 touches a place behind with its leading rim's end
    ramp = [line((0.0, 0.0, 0.0), (10.0, 0.0, -1.0))]
    assert low(ramp, FLAT, 5.0, 0.0) == pytest.approx(-0.8, abs=1e-9)
    # a ball along it: its axis' distance to the place is least square to the slope
    assert low(ramp, BALL, 5.0, 0.0) == pytest.approx(2.5 - 3.0 * np.hypot(1.0, 0.1), abs=1e-9)
    upright = [line((0.0, 0.0, 5.0), (0.0, 0.0, -2.0))]
    assert low(upright, FLAT, 1.0, 1.0) == -2.0
    circle = [((2.0, 0.0, -1.0), (2.0, 0.0, -1.0), (0.0, 0.0), 1.0)]
    assert low(circle, BALL, -3.8, 0.0) == pytest.approx(-0.4, abs=1e-12)
    # a flat end going round leaves at a place what it had when it last came over it
    helix = [((2.0, 0.0, 0.0), (2.0, 0.0, -1.0), (0.0, 0.0), 1.0)]
    assert low(helix, FLAT, 4.5, 0.0) == pytest.approx(-1.0, abs=1e-9)


def looked(row: tuple, form: tuple[float, float, float], x: float, y: float) -> float:
    """The least height over a place with the way in 40,000 steps."""
    (start, stop, centre, turns), (radius, flat, rise) = row, form
    t = np.linspace(0.0, 1.0, 40001)
    a, b = np.array(start), np.array(stop)
    at = a + t[:, None] * (b - a)
    if turns:
        arm = a[:2] - centre
        angle = np.arctan2(arm[1], arm[0]) + 2 * np.pi * turns * t
        at[:, 0] = centre[0] + np.hypot(*arm) * np.cos(angle)
        at[:, 1] = centre[1] + np.hypot(*arm) * np.sin(angle)
    away = np.hypot(at[:, 0] - x, at[:, 1] - y)
    out, corner = np.maximum(away - flat, 0.0), radius - flat
    up = out * rise if rise else corner - np.sqrt(np.maximum(corner**2 - out**2, 0.0))
    return float(np.where(away <= radius, at[:, 2] + up, np.inf).min())


@pytest.mark.parametrize("form", [FLAT, BULL, BALL, CONE])
def test_heights_against_looking_at_every_place(form: tuple[float, float, float]) -> None:
    rng = np.random.default_rng(11)
    for _ in range(150):
        start = rng.uniform(-4.0, 4.0, 3)
        stop = start + rng.uniform(-4.0, 4.0, 3) * (1.0, 1.0, rng.choice([0.0, 0.2]))
        row: tuple = line(tuple(start), tuple(stop))
        if rng.uniform() < 0.5:
            centre, turns = start[:2] + rng.uniform(-3.0, 3.0, 2), rng.uniform(-1.0, 1.0)
            row = (tuple(start), tuple(stop), tuple(centre), turns)
        x, y = start[:2] + rng.uniform(-5.0, 5.0, 2)
        seen, own = looked(row, form, x, y), low([row], form, x, y)
        if np.isfinite(seen):
            assert own <= seen + 1e-9
            # steps of 1e-3 mm at most, and slopes of the surface of 1 but at a corner's rim
            assert own >= seen - 4e-2
        if np.isfinite(own) and np.isinf(seen):
            assert own > -10.0


def test_walk_counts_what_each_motion_takes() -> None:
    pairs = Pairs(
        motion=np.array([0, 2, 3, 1]), place=np.array([0, 0, 0, 1]),
        height=np.array([0.5, 0.8, -0.25, -2.0]), near=np.zeros(4),
    )  # fmt: skip
    taken = walked(pairs, np.arange(3), 1.0, np.full(3, -1.0))
    assert taken.removed == pytest.approx([0.5, 0.0, 0.75, 2.0], abs=1e-9)
    assert taken.level == pytest.approx([-0.25, -2.0, 1.0], abs=1e-9)


def test_pairs_miss_no_place_that_a_motion_comes_over() -> None:
    rng = np.random.default_rng(12)
    x, y = rng.uniform(-20.0, 20.0, (2, 900))
    rows = [line(tuple(rng.uniform(-30, 30, 3)), tuple(rng.uniform(-30, 30, 3))) for _ in range(30)]
    for a in rng.uniform(-20, 20, (30, 3)):
        centre, turns = rng.uniform(-20, 20, 2), rng.uniform(-1, 1)
        arm = complex(*(a[:2] - centre)) * np.exp(2j * np.pi * turns)
        end = (centre[0] + arm.real, centre[1] + arm.imag, rng.uniform(-20, 20))
        rows.append((tuple(a), end, tuple(centre), turns))
    all_ = strokes(rows, BULL)
    found = pairs_of(all_, np.arange(len(all_)), x, y, bins_of(x, y), np.inf)
    motion, place = (a.ravel() for a in np.meshgrid(np.arange(60), np.arange(900)))
    every = heights(all_.rows(motion), x[place], y[place])[0]
    assert len(found.place) == np.count_nonzero(np.isfinite(every)) > 500

"""Short pieces are taken out of paths without moving them toward the metal to be left."""

from __future__ import annotations

import math

import numpy as np
import pytest

from knifecam.curve import Curve, circle, distance, polyline, signed_distance
from knifecam.paths.offset_loops import tidied
from knifecam.paths.paths_limits import SHORTEST_PIECE_MM

MOST = 0.0005


def tidy(curve: Curve) -> tuple[Curve, float]:
    vertices, bulges, moved = tidied(curve.vertices, curve.bulges, MOST)
    return Curve(vertices, bulges), moved


def cut_corner(size: float) -> Curve:
    """Return a square of 10 mm whose first corner is cut by ``size`` mm each way."""
    return polyline([(size, 0), (10, 0), (10, 10), (0, 10), (0, size)])


def test_long_pieces_are_left_alone() -> None:
    curve = circle((0, 0), 5)
    vertices, bulges, moved = tidied(curve.vertices, curve.bulges, MOST)
    assert vertices is curve.vertices
    assert bulges is curve.bulges
    assert moved == 0.0


@pytest.mark.parametrize("size", [1e-7, 1e-6, 1e-5, 1e-4, 3e-4, 6e-4, 8e-4, 1e-3, 1.4e-3])
def test_cut_corner_goes_or_grows_to_the_left(size: float) -> None:
    """The chain runs counter-clockwise: what is left on its right may only grow."""
    before = cut_corner(size)
    after, moved = tidy(before)
    assert signed_distance(after.points(0.1), before).min() >= -1e-9
    assert after.lengths.min() >= SHORTEST_PIECE_MM
    assert distance(before.points(0.1), after).max() <= moved + 1e-9
    assert moved <= MOST


@pytest.mark.parametrize("angle", [1e-5, 1e-4, 5e-4, 1.9e-3])
def test_slight_convex_arc_becomes_a_mitre(angle: float) -> None:
    """A corner arc of 1 mm radius between two lines, run clockwise: it bulges to the left."""
    start, c = np.array([5.0, 1.0]), np.array([5.0, 0.0])
    end = c + np.array([math.sin(angle), math.cos(angle)])
    far = end + 5 * np.array([math.cos(angle), -math.sin(angle)])
    chain = polyline(np.array([(0, 1), start, end, far, (10, -9), (0, -9)]),
                     bulges=[0, -math.tan(angle / 4), 0, 0, 0, 0])  # fmt: skip
    after, moved = tidy(chain)
    assert len(after) == 5
    assert moved <= angle**2 / 3
    off = signed_distance(after.points(0.1), chain.counter_clockwise())
    assert off.max() <= 1e-9  # clockwise: the metal is inside, so the path may only go outside


def test_row_of_short_pieces_on_a_curve() -> None:
    a = np.linspace(0, 2 * np.pi, 8001)[:-1]
    curve = polyline(np.stack([2 * np.cos(a), 2 * np.sin(a)], axis=1))
    assert curve.lengths.max() < SHORTEST_PIECE_MM
    after, _ = tidy(curve)
    assert after.lengths.min() >= SHORTEST_PIECE_MM
    assert np.abs(np.hypot(*after.vertices.T) - 2).max() < 1e-6


def test_thin_loop_keeps_a_short_line_but_no_short_arc() -> None:
    after, _ = tidy(polyline([(0, 0), (20, 0), (20, 0.0015), (0, 0.0015)], bulges=[0, 1, 0, 1]))
    short = after.lengths < SHORTEST_PIECE_MM
    assert (after.bulges[short] == 0).all()


def test_loop_too_small_to_be_one_goes() -> None:
    for curve in (circle((0, 0), 0.0015), polyline([(0, 0), (5, 0), (5, 1e-6), (0, 1e-6)])):
        assert len(tidied(curve.vertices, curve.bulges, MOST)[0]) == 0

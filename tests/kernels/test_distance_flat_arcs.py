"""Distances to flat arcs keep all digits, and searching by boxes changes no result."""

from __future__ import annotations

import math

import numpy as np
import pytest

from knifecam.curve import Curve, distance, nearest, polyline, winding


@pytest.mark.parametrize("radius", [1e3, 1e6, 1e9, 1e12, 1e13])
def test_distance_to_a_flat_arc(radius: float) -> None:
    """An arc of 400 mm rises chord^2 / (8 radius); off its middle the distance is what remains."""
    bulge = 400 / (4 * radius)
    arc = Curve(np.array([[-200.0, 0.0], [200.0, 0.0]]), [bulge, 0.0], closed=False)
    rise = 200 * bulge
    off = distance([[0.0, -3.0], [0.0, 3.0], [0.0, -rise]], arc)
    np.testing.assert_allclose(off, [abs(3 - rise), 3 + rise, 0.0], atol=1e-12)


def test_inside_of_a_flat_arc_is_told_within_a_picometre() -> None:
    curve = polyline([(-200, 0), (200, 0), (0, 90)], bulges=[1e-9, 0, 0])
    rise = 200 * 1e-9
    np.testing.assert_array_equal(winding([[0, -rise + 1e-12], [0, -rise - 1e-12]], curve), [1, 0])


def naive(point: np.ndarray, curve: Curve) -> float:
    """Distance by the angles of arcs, as a textbook has it."""
    best = math.inf
    for k in range(len(curve)):
        a, b = curve.starts[k], curve.ends[k]
        best = min(best, math.dist(point, a), math.dist(point, b))
        if curve.is_arc[k]:
            c, whole = curve.centres[k], curve.angles[k]
            gone = math.atan2(*(point - c)[::-1]) - math.atan2(*(a - c)[::-1])
            if (gone * math.copysign(1, whole)) % (2 * math.pi) <= abs(whole):
                best = min(best, abs(math.dist(point, c) - curve.radii[k]))
        else:
            t = float((point - a) @ (b - a) / ((b - a) @ (b - a)))
            if 0 <= t <= 1:
                best = min(best, math.dist(point, a + t * (b - a)))
    return best


@pytest.mark.parametrize("count", [3, 12, 60])
def test_nearest_agrees_with_the_naive_reference(count: int) -> None:
    rng = np.random.default_rng(count)
    a = np.linspace(0, 2 * np.pi, count, endpoint=False)
    r = rng.uniform(10, 20, count)
    bulges = rng.uniform(-1, 1, count) * (rng.random(count) < 0.6)
    curve = Curve(np.stack([3 * r * np.cos(a), r * np.sin(a)], axis=1), bulges)
    points = rng.uniform(-70, 70, (200, 2))
    found, _ = nearest(points, curve)
    np.testing.assert_allclose(found, [naive(p, curve) for p in points], atol=1e-10)


def test_order_of_points_changes_nothing() -> None:
    rng = np.random.default_rng(9)
    curve = polyline(rng.uniform(-50, 50, (200, 2)))
    points = rng.uniform(-60, 60, (300, 2))
    mixed = rng.permutation(300)
    one, other = nearest(points, curve), nearest(points[mixed], curve)
    np.testing.assert_array_equal(one[0][mixed], other[0])
    np.testing.assert_array_equal(one[1][mixed], other[1])

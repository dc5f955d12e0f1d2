"""Offsets of outlines on a lattice: walls, arcs and corners meet exactly everywhere at once.

Unions of square cells with corners chamfered, rounded or bitten by round radii, offset by round
distances: walls exactly twice the distance apart, arcs of exactly the distance, cusps and touches
are the rule, and half of them are turned, so that nothing is exact in floating point any more.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely.geometry import Polygon, box

from knifecam.curve import Curve, Placement, distance, placed, polyline, signed_distance
from knifecam.paths import offset
from knifecam.paths.offset import find_offset

QUARTER = math.tan(math.pi / 8)
DISTANCES = (0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0, math.sqrt(0.5), math.sqrt(2))


def cells(rng: np.random.Generator) -> np.ndarray:
    """Return the corners of a connected union of 2 x 2 cells, counter-clockwise."""
    while True:
        filled = np.argwhere(rng.random(rng.integers(3, 8, 2)) < 0.6)
        union = shapely.union_all([box(2 * i, 2 * j, 2 * i + 2, 2 * j + 2) for i, j in filled])
        if union.is_empty:
            continue
        largest = max(getattr(union, "geoms", [union]), key=lambda part: part.area)
        ring = shapely.orient_polygons(Polygon(largest.exterior).simplify(0)).exterior
        return np.array(ring.coords)[:-1]


def lattice_outline(rng: np.random.Generator) -> Curve:
    """Return an outline of cells with its corners sharp, chamfered, rounded or bitten."""
    corners = cells(rng)
    vertices, bulges = [], []
    for k, here in enumerate(corners):
        before, after = corners[k - 1] - here, corners[(k + 1) % len(corners)] - here
        kind, radius = rng.integers(0, 4), float(rng.choice([0.25, 0.5, 1.0]))
        turn = -np.sign(before[0] * after[1] - before[1] * after[0])
        if kind == 0:
            vertices.append(here)
            bulges.append(0.0)
            continue
        vertices += [here + radius * v / np.hypot(*v) for v in (before, after)]
        bulges += [(0.0, QUARTER * turn, -QUARTER * turn)[kind - 1], 0.0]
    points = np.array(vertices)
    real = np.hypot(*(np.roll(points, -1, axis=0) - points).T) > 1e-9
    return Curve(points[real], np.array(bulges)[real])


@pytest.mark.parametrize("seed", range(6))
def test_no_coincidence_defeats_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    exact = 0
    for nth in range(40):
        curve = lattice_outline(rng)
        away = float(rng.choice(DISTANCES) * rng.choice([-1, 1]))
        if not Polygon(curve.points(1e-5)).is_valid:
            continue
        if nth % 2:
            curve = placed(curve, Placement(angle=float(rng.uniform(0, 6.3)), x=7.0, y=-3.3))
        found = find_offset(curve, away, 0.0005)
        exact += found.way == "exact"
        for loop in found.loops:
            points = loop.points(1e-4)
            off = distance(points, curve)
            assert off.min() >= abs(away) - 1e-6
            assert off.max() <= abs(away) + 0.0005
            assert (np.sign(signed_distance(points, curve)) == -np.sign(away)).all()
        wanted = Polygon(curve.points(1e-3)).buffer(away, quad_segs=90).area
        assert sum(loop.area for loop in found.loops) == pytest.approx(wanted, abs=0.1)
    assert exact >= 38


@pytest.mark.parametrize("away", [0.7, -0.7, 3.0, -3.0])
def test_cusps_both_ways(away: float) -> None:
    """Two arcs meet with no angle between them: a notch of the body that ends in nothing."""
    cusp = polyline([(-10, 4), (-10, 0), (-4, 0), (0, 4), (4, 0), (10, 0), (10, 4)],
                    bulges=[0, 0, QUARTER, QUARTER, 0, 0, 0.2])  # fmt: skip
    for curve in (cusp, cusp.reversed()):
        found = find_offset(curve, away, 0.0005)
        wanted = Polygon(curve.points(1e-4)).buffer(away, quad_segs=200).area
        assert sum(loop.area for loop in found.loops) == pytest.approx(wanted, abs=0.02)


def test_distance_larger_than_the_outline() -> None:
    rng = np.random.default_rng(8)
    for _ in range(20):
        curve = lattice_outline(rng)
        if not Polygon(curve.points(1e-5)).is_valid:
            continue
        assert offset(curve, -40.0) == ()
        outer, *holes = offset(curve, 400.0)
        assert not holes
        hull = Polygon(curve.points(1e-3)).convex_hull
        wanted = hull.area + hull.length * 400 + math.pi * 400**2
        assert outer.area == pytest.approx(wanted, rel=1e-3)

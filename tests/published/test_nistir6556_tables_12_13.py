"""The contour of Tables 12 and 13 of the RS274/NGC report, and Steiner's formula.

T. R. Kramer, F. M. Proctor, E. Messina, The NIST RS274NGC Interpreter - Version 3, NISTIR 6556,
2000: a triangle of sides 3, 4 and 5 inches with corners rounded to 1, cut with compensation for
a cutter of diameter 1 (Table 12), and the same path programmed for the nominal cutter, corrected
by the difference of a worn one, 0.97 (Table 13). The areas and lengths follow by Steiner's formula
for parallel curves of convex ones: A + L r + pi r^2 and L + 2 pi r.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from knifecam.curve import Curve, polyline
from knifecam.paths import offset

ARITHMETIC = 1e-9


def contour(radius: float) -> Curve:
    """Return the triangle 3, 4, 5 grown by a radius, written vertex by vertex."""
    corners = np.array([(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)])
    vertices, bulges = [], []
    for k in range(3):
        here, after, before = corners[k], corners[(k + 1) % 3], corners[k - 1]
        for side in (here - before, after - here):
            normal = np.array([side[1], -side[0]]) / np.hypot(*side)
            vertices.append(here + radius * normal)
        turn = math.pi - math.acos(
            np.dot(before - here, after - here)
            / np.hypot(*(before - here))
            / np.hypot(*(after - here))
        )
        bulges += [math.tan(turn / 4), 0.0]
    return polyline(vertices, bulges=bulges)


def test_contour_of_table_12_has_its_area_and_length() -> None:
    assert contour(1.0).area == pytest.approx(21.14159, abs=5e-6)
    assert contour(1.0).length == pytest.approx(18.28319, abs=5e-6)


def test_centre_path_of_table_12_with_a_cutter_of_1() -> None:
    (path,) = offset(contour(1.0), 0.5)
    assert path.length == pytest.approx(21.42478, abs=5e-6)
    assert path.area == pytest.approx(31.06858, abs=5e-6)  # table 13's nominal path
    np.testing.assert_allclose(sorted(path.radii[path.is_arc]), [1.5] * 3, atol=ARITHMETIC)


def test_actual_path_of_table_13_with_a_cutter_of_0_97() -> None:
    (path,) = offset(contour(1.5), -0.015)
    assert path.length == pytest.approx(21.33053, abs=5e-6)
    np.testing.assert_allclose(sorted(path.radii[path.is_arc]), [1.485] * 3, atol=ARITHMETIC)


@pytest.mark.parametrize("radius", [0.01, 0.25, 0.5, 1.0, 2.0, 10.0])
def test_the_family_follows_steiner(radius: float) -> None:
    triangle = polyline([(0, 0), (4, 0), (0, 3)])
    for start, grown in ((triangle, radius), (contour(radius), -0.5 * radius)):
        (path,) = offset(start, grown)
        r = grown if start is triangle else radius + grown
        assert path.area == pytest.approx(6 + 12 * r + math.pi * r * r, abs=ARITHMETIC)
        assert path.length == pytest.approx(12 + 2 * math.pi * r, abs=ARITHMETIC)


def test_rectangle_100_by_30_grown_by_3() -> None:
    """L' = L + 2 pi r and A' = A + L r + pi r^2: 278.8496 and 3808.2743."""
    (path,) = offset(polyline([(0, 0), (100, 0), (100, 30), (0, 30)]), 3.0)
    assert path.length == pytest.approx(278.8496, abs=5e-5)
    assert path.area == pytest.approx(3808.2743, abs=5e-5)


def test_rectangle_100_by_30_shrunk_by_3() -> None:
    """Inward the corners stay sharp: 94 by 24, area 2256, length 236."""
    (path,) = offset(polyline([(0, 0), (100, 0), (100, 30), (0, 30)]), -3.0)
    assert path.area == pytest.approx(2256.0, abs=ARITHMETIC)
    assert path.length == pytest.approx(236.0, abs=ARITHMETIC)
    assert path.corners is not None
    assert path.corners.all()

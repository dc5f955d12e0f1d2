"""Which side of a prolonged curve: compiled and plain kernels agree."""

from __future__ import annotations

import numpy as np

from knifecam.curve import Curve, nearest
from knifecam.curve.distance import _on_left, _vertex_tangents, on_left, prolonged


def test_compiled_and_plain_agree_on_lines_arcs_and_corners():
    rng = np.random.default_rng(11)
    vertices = np.column_stack([np.arange(8) * 10.0, rng.uniform(-6, 6, 8)])
    curve = prolonged(Curve(vertices, rng.choice([0.0, 0.2, -0.3], 8), False), 60.0)
    points = np.vstack([rng.uniform((-40, -30), (110, 30), (1500, 2)), curve.vertices])
    _, pieces = nearest(points, curve)
    compiled, plain = np.zeros((2, len(points)), bool)
    for judged, kernel in ((compiled, on_left), (plain, _on_left)):
        kernel(points, pieces, curve.table, _vertex_tangents(curve), judged)
    np.testing.assert_array_equal(compiled, plain)
    assert 0.2 < plain.mean() < 0.8

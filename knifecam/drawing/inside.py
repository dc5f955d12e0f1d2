"""Which loops lie in which, and which cross."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from knifecam.drawing.crossing import find_crossings, segments_of_curves
from knifecam.drawing.record import Chain

CHORDS = 1e-3
"""mm: chords that stay this near to the arcs serve to tell inside from outside."""


def crossings_between(chains: Sequence[Chain]) -> list[tuple[int, int, tuple[float, float]]]:
    """Return which chains cross or touch each other: both numbers, and one place, mm."""
    if len(chains) < 2:
        return []
    curves = [chain.curve for chain in chains]
    segments, owner = segments_of_curves(curves, [np.zeros(len(c), np.int64) for c in curves])
    found = find_crossings(segments)
    places: dict[tuple[int, int], tuple[float, float]] = {}
    for k in np.lexsort((found.place[:, 1], found.place[:, 0])):
        a, b = sorted((int(owner[found.first[k]]), int(owner[found.second[k]])))
        if a != b:
            x, y = found.place[k]
            places.setdefault((a, b), (float(x), float(y)))
    return [(a, b, place) for (a, b), place in sorted(places.items())]


def holders(loops: Sequence[Chain]) -> NDArray[np.bool_]:
    """Return (N, N): whether loop j, which crosses none, lies inside loop i."""
    inside = np.zeros((len(loops), len(loops)), dtype=bool)
    if len(loops) < 2:
        return inside
    areas = shapely.polygons([shapely.linearrings(c.curve.points(CHORDS)) for c in loops])
    marks = shapely.points([c.curve.vertices[0] for c in loops])
    sizes = np.array([abs(c.curve.area) for c in loops])
    mark, area = shapely.STRtree(areas).query(marks, predicate="within")
    chosen = sizes[area] > sizes[mark]
    inside[area[chosen], mark[chosen]] = True
    return inside


def within(curve_points: NDArray[np.float64], loop: Chain) -> NDArray[np.bool_]:
    """Return which points (K, 2) lie inside a loop."""
    area = shapely.polygons(shapely.linearrings(loop.curve.points(CHORDS)))
    shapely.prepare(area)
    return np.asarray(shapely.contains_xy(area, curve_points[:, 0], curve_points[:, 1]))

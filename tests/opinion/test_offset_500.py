"""Offsets of 500 random outlines against shapely and pyclipper; distances settle disputes.

shapely's own buffer can be wrong where an outline is drawn densely, so whoever disagrees is judged
place by place: in the difference of two regions a place is taken, and its distance to the outline
says which of the two is right.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
import shapely
from outlines import CHORD, buffered, clipped, random_distance, random_outline, region
from shapely.geometry import LinearRing, MultiPolygon, Polygon

from knifecam.curve import Curve
from knifecam.paths.offset import find_offset

ROUNDS = 10
EACH = 50
SLACK = 3 * CHORD
"""mm: the other libraries' chords, arcs and the chords of our path may each be off by `CHORD`."""


def wrong_parts(
    curve: Curve, distance: float, found: Polygon | MultiPolygon, other: Polygon | MultiPolygon
) -> tuple[int, int]:
    """Return how many parts of the difference tell against ``found`` and against ``other``.

    The offset region is every place farther inside than the distance, or nearer than it outside.
    """
    parts = shapely.get_parts(found.symmetric_difference(other))
    cores = shapely.buffer(parts[shapely.area(parts) > SLACK**2], -SLACK)
    places = shapely.point_on_surface(cores[~shapely.is_empty(cores)])  # the rest is a thin rim
    if len(places) == 0:
        return 0, 0
    ring = LinearRing(curve.points(CHORD / 10))
    inward = np.where(shapely.contains(Polygon(ring), places), 1, -1)
    belongs = -inward * shapely.distance(ring, places) < distance
    return (
        int(np.sum(shapely.contains(found, places) != belongs)),
        int(np.sum(shapely.contains(other, places) != belongs)),
    )


@pytest.mark.parametrize("nth", range(ROUNDS))
def test_random_outlines_agree_or_the_other_is_wrong(nth: int, record_property) -> None:
    rng = np.random.default_rng(6556 + nth)
    count: Counter[str] = Counter()
    for _ in range(EACH):
        curve, distance = random_outline(rng), random_distance(rng)
        found = find_offset(curve, distance, 0.0005)
        count[found.way] += 1
        ours = region(found.loops)
        for name, other in (
            ("shapely", buffered(curve, distance)),
            ("pyclipper", clipped(curve, distance)),
        ):
            mine, theirs = wrong_parts(curve, distance, ours, other)
            assert mine == 0, f"{name} is right about an offset of {distance} mm of {curve}"
            count[f"{name} wrong"] += theirs > 0
            if theirs:
                continue
            rim = SLACK * (ours.length + other.length) / 2
            assert abs(ours.area - other.area) <= rim, name
            assert _counts(ours) == _counts(other) or _slight(ours, other), name
    record_property("count", dict(count))
    print(dict(count))
    assert count["exact"] >= 0.98 * EACH
    assert count["pyclipper wrong"] == 0


def _counts(shape: Polygon | MultiPolygon) -> tuple[int, int]:
    """How many parts a region has, and how many holes."""
    parts = [part for part in getattr(shape, "geoms", [shape]) if not part.is_empty]
    return len(parts), sum(len(part.interiors) for part in parts)


def _slight(ours: Polygon | MultiPolygon, other: Polygon | MultiPolygon) -> bool:
    """Whether two regions differ only by a part thinner than the chords."""
    return bool(ours.symmetric_difference(other).buffer(-SLACK).is_empty)


@pytest.mark.parametrize("nth", range(4))
def test_hausdorff_distance_to_shapely_is_chords(nth: int) -> None:
    rng = np.random.default_rng(12 + nth)
    for _ in range(10):
        curve, distance = random_outline(rng), random_distance(rng)
        ours, other = region(find_offset(curve, distance, 0.0005).loops), buffered(curve, distance)
        if ours.is_empty or sum(wrong_parts(curve, distance, ours, other)):
            continue
        gap = shapely.hausdorff_distance(ours.boundary, other.boundary)
        assert gap <= 20 * CHORD  # chords are magnified where two sides meet at a shallow angle

"""Random outlines of lines and arcs with concave parts, and the regions other libraries give."""

from __future__ import annotations

import numpy as np
import pyclipper
import shapely
from shapely.geometry import MultiPolygon, Polygon

from knifecam.curve import Curve

CHORD = 0.002
"""mm: chords given to the other libraries stay this near to the arcs."""

GRID = 1e6
"""Steps of pyclipper's integers to the mm."""


def random_outline(rng: np.random.Generator) -> Curve:
    """Return a star of 6 to 30 vertices, 40 to 150 mm long, most sides arcs either way."""
    while True:
        count = int(rng.integers(6, 31))
        around = np.sort(rng.uniform(0, 2 * np.pi, count))
        if np.diff(np.append(around, around[0] + 2 * np.pi)).min() < 0.04:
            continue
        radius = rng.uniform(8, 30, count)
        vertices = np.stack([2.5 * radius * np.cos(around), radius * np.sin(around)], axis=1)
        bulges = rng.uniform(-0.5, 0.5, count) * (rng.random(count) < 0.7)
        curve = Curve(vertices, bulges)
        if Polygon(curve.points(1e-6)).is_valid:
            return curve if rng.random() < 0.5 else curve.reversed()


def random_distance(rng: np.random.Generator) -> float:
    """Return a distance of 0.5 to 5 mm, inward or outward."""
    return float(rng.uniform(0.5, 5.0) * rng.choice([-1, 1]))


def region(loops: tuple[Curve, ...], tolerance: float = CHORD) -> Polygon | MultiPolygon:
    """Return what counter-clockwise loops enclose, less what clockwise ones do."""
    rings = [(loop.area > 0, Polygon(loop.points(tolerance))) for loop in loops]
    solid = shapely.union_all([polygon for outer, polygon in rings if outer])
    holes = shapely.union_all([polygon for outer, polygon in rings if not outer])
    return solid.difference(holes)


def buffered(curve: Curve, distance: float) -> Polygon | MultiPolygon:
    """Return shapely's offset region, of chords."""
    quarter = int(np.ceil(np.pi / 4 / np.arccos(1 - CHORD / abs(distance)))) + 1
    return Polygon(curve.points(CHORD)).buffer(distance, quad_segs=quarter)


def clipped(curve: Curve, distance: float) -> Polygon | MultiPolygon:
    """Return pyclipper's offset region, of chords on a grid of a nanometre."""
    clipper = pyclipper.PyclipperOffset(2.0, CHORD * GRID)
    points = np.rint(curve.counter_clockwise().points(CHORD) * GRID).astype(np.int64)
    clipper.AddPath(points.tolist(), pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    loops = [np.array(loop) / GRID for loop in clipper.Execute(distance * GRID)]
    outer = [Polygon(p) for p, c in zip(loops, map(_is_outer, loops), strict=True) if c]
    holes = [Polygon(p) for p, c in zip(loops, map(_is_outer, loops), strict=True) if not c]
    return shapely.union_all(outer).difference(shapely.union_all(holes))


def _is_outer(points: np.ndarray) -> bool:
    x, y = points.T
    return float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) > 0

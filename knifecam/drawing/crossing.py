"""Where lines and arcs cross or touch each other, exactly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from knifecam.curve import Curve
from knifecam.curve.curve import Floats
from knifecam.drawing.segment import Ints, Segments

TOUCH = 1e-6
"""mm: ends that come this near to another segment touch it."""

THIN = 1e-3
"""mm: neighbours that part and meet again without leaving more between them do not cross."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crossings:
    """Places (K, 2) in mm where segments ``first`` and ``second`` (K,) cross or touch."""

    first: Ints
    second: Ints
    place: Floats


def segments_of_curves(curves: list[Curve], groups: list[Ints]) -> tuple[Segments, Ints]:
    """Return the pieces of curves side by side, and which curve each belongs to.

    ``groups`` holds the group of every piece. Neighbours within a curve are joined.
    """
    counts = np.array([len(c) for c in curves], dtype=np.int64)
    first = np.concatenate([[0], np.cumsum(counts)])
    mate = np.full(2 * int(first[-1]), -1, dtype=np.int64)
    for curve, low, high in zip(curves, first[:-1], first[1:], strict=True):
        k = np.arange(low, high if curve.closed else high - 1)
        after = low + (k + 1 - low) % (high - low)
        mate[2 * k + 1] = 2 * after
        mate[2 * after] = 2 * k + 1
    owner = np.repeat(np.arange(len(curves)), counts)
    none = np.zeros((0, 2))
    return (
        Segments(
            start=np.concatenate([none, *(c.starts for c in curves)]),
            end=np.concatenate([none, *(c.ends for c in curves)]),
            bulge=np.concatenate([none[:, 0], *(c.bulges[: len(c)] for c in curves)]),
            piece=owner,
            group=np.concatenate([np.zeros(0, np.int64), *groups]),
            mate=mate,
        ),
        owner,
    )


def find_crossings(segments: Segments) -> Crossings:
    """Return all places where segments of one group cross or touch, but where they are joined.

    Exact but for rounding: of lines and arcs, not of chords. Neighbours that meet again within
    `THIN` of each other, as tangent ones do by rounding, do not cross.
    """
    i, j = segments.pairs(TOUCH)
    # the second of a pair is a line if either is: the quadratic terms then drop out
    swap = segments.bulge[j] != 0
    i, j = np.where(swap, j, i), np.where(swap, i, j)
    point, along = _radical_line(segments, i, j)
    at, places = _on_line(segments, i, point, along)
    first, second = i[at], j[at]
    real = _holds(segments, first, places) & _holds(segments, second, places)
    first, second, places = first[real], second[real], places[real]
    crossing = ~_joined_there(segments, first, second, places)
    return Crossings(first=first[crossing], second=second[crossing], place=places[crossing])


def _circle(segments: Segments, k: Ints) -> tuple[Floats, Floats, Floats]:
    """Return a (K,), g (K, 2), c (K,) of ``a p.p + g.p + c``, which is 0 on circle or line.

    Points are seen from the chord's middle of ``k``; scaled so that lines have a = 0.
    """
    start, end, b = segments.start[k], segments.end[k], segments.bulge[k]
    half = np.hypot(*(end - start).T) / 2
    along = (end - start) / (2 * half)[:, None]
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    rise = half * (1 - b**2)
    return 2 * b, -2 * rise[:, None] * normal, -2 * b * half**2


def _radical_line(segments: Segments, i: Ints, j: Ints) -> tuple[Floats, Floats]:
    """Return a point (K, 2) and a direction (K, 2) of the line that holds all common points."""
    a, g, c = _circle(segments, i)
    d, h, e = _circle(segments, j)
    here = (segments.start[i] + segments.end[i]) / 2
    away = (segments.start[j] + segments.end[j]) / 2 - here
    # the second circle seen from the middle of the first
    e = e + d * (away**2).sum(axis=1) - (h * away).sum(axis=1)
    h = h - 2 * d[:, None] * away
    slope = np.where((d == 0)[:, None], h, a[:, None] * h - d[:, None] * g)
    level = np.where(d == 0, e, a * e - d * c)
    size = np.hypot(*slope.T)
    some = size > 1e-14 * (np.hypot(*g.T) + np.hypot(*h.T))
    size = np.where(some, size, 1.0)
    normal = slope / size[:, None]
    point = np.where(some[:, None], -normal * (level / size)[:, None], np.nan)
    return point + here, np.stack([-normal[:, 1], normal[:, 0]], axis=1)


def _on_line(segments: Segments, i: Ints, point: Floats, along: Floats) -> tuple[Ints, Floats]:
    """Return the common points of lines and the circles of ``i``: which pair, and where."""
    a, g, c = _circle(segments, i)
    rel = point - (segments.start[i] + segments.end[i]) / 2
    half_b = a * (rel * along).sum(axis=1) + (g * along).sum(axis=1) / 2
    rest = a * (rel**2).sum(axis=1) + (g * rel).sum(axis=1) + c
    inside = half_b**2 - a * rest
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        q = -(half_b + np.copysign(np.sqrt(np.maximum(inside, 0.0)), half_b))
        ways = np.stack([rest / q, q / a])
    good = np.isfinite(ways) & (inside >= -1e-12 * half_b**2)
    which, pair = np.nonzero(good)
    return pair, point[pair] + ways[which, pair][:, None] * along[pair]


def _holds(segments: Segments, k: Ints, places: Floats) -> np.ndarray:
    """Return which places, known to lie on the circle or line of ``k``, lie on the segment."""
    start, end, bulge = segments.start[k], segments.end[k], segments.bulge[k]
    half = np.hypot(*(end - start).T) / 2
    along = (end - start) / (2 * half)[:, None]
    rel = places - (start + end) / 2
    x = (rel * along).sum(axis=1)
    y = along[:, 0] * rel[:, 1] - along[:, 1] * rel[:, 0]
    flat = np.abs(y) <= TOUCH + np.abs(bulge) * half
    return np.asarray((np.abs(x) <= half + TOUCH) & flat & (y * np.sign(bulge) <= TOUCH))


def _joined_there(segments: Segments, first: Ints, second: Ints, places: Floats) -> np.ndarray:
    """Return which places are the joint of two neighbours, or as good as that."""
    joined = np.zeros(len(places), dtype=bool)
    curvature = segments.curvature
    for end in (0, 1):
        other = segments.mate[2 * first + end]
        neighbours = (other >= 0) & (other // 2 == second)
        joint = np.where(end == 1, segments.end[first], segments.start[first])
        away = np.hypot(*(places - joint).T)
        # curvatures seen travelling away from the joint
        one = curvature[first] * (1 if end == 0 else -1)
        two = curvature[second] * np.where(other % 2 == 0, 1, -1)
        lens = np.abs(one - two) * away**2 / 8
        joined |= neighbours & ((away <= 2 * TOUCH) | (lens <= THIN))
    return joined

"""Signed distance from open curves that go on by their end tangents without end.

The kernel takes plain arrays; its whole call tree stays in this file, since a disk cache of
compiled code does not see changes elsewhere.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.compiled import outer
from knifecam.curve.curve import Curve, Floats
from knifecam.curve.distance import nearest

PROLONGED_BY_MM = 1024.0
"""mm by which curves are prolonged at least: more than any blade is long."""

ROW_BY_ROW_FROM_POINTS = 5000
"""From so many points on it pays to walk them row by row."""


def rows_of(points: ArrayLike) -> Floats:
    """Return ``points`` as contiguous rows (K, 2)."""
    rows = np.ascontiguousarray(np.atleast_2d(np.asarray(points, dtype=float)))
    if rows.shape[-1] != 2:
        raise ValueError(f"points {rows.shape} must be (K, 2)")
    return rows


@lru_cache(maxsize=256)
def prolonged(curve: Curve, past: float) -> Curve:
    """Return the open curve with a straight tangent of ``past`` mm before and after it."""
    if curve.closed:
        raise ValueError("only an open curve has end tangents")
    if not (math.isfinite(past) and past > 0):
        raise ValueError(f"past={past} mm must be finite and greater than 0")
    first, last = float(curve.start_headings[0]), float(curve.end_headings[-1])
    before = curve.vertices[0] - past * np.array([math.cos(first), math.sin(first)])
    after = curve.vertices[-1] + past * np.array([math.cos(last), math.sin(last)])
    bulges = np.concatenate([[0.0], curve.bulges[:-1], [0.0, 0.0]])
    return Curve(np.vstack([before, curve.vertices, after]), bulges, closed=False)


def reach_of(curve: Curve, points: Floats) -> float:
    """Return how far from the curve's ends, in mm, the box of ``points`` (K, 2) goes at most."""
    x, y = points[:, 0].copy(), points[:, 1].copy()
    corners = np.array([(u, v) for u in (x.min(), x.max()) for v in (y.min(), y.max())])
    ends = curve.vertices[[0, -1]]
    return float(np.hypot(*(corners[:, None] - ends).reshape(-1, 2).T).max())


def reaching(curve: Curve, points: Floats) -> Curve:
    """Return the open curve prolonged far enough for its tangents to pass all ``points``.

    By `PROLONGED_BY_MM` or a power of two, so that a point's distance does not depend on its company.
    """
    need = max(PROLONGED_BY_MM, reach_of(curve, points)) if len(points) else PROLONGED_BY_MM
    return prolonged(curve, 2.0 ** math.ceil(math.log2(need)))


def in_rows(points: Floats) -> NDArray[np.int64]:
    """Return an order of ``points`` (K, 2) in which each is near the one before.

    The search for the nearest piece starts from the piece of the point before.
    """
    count = len(points)
    if count < ROW_BY_ROW_FROM_POINTS:
        return np.arange(count)
    x, y = points[:, 0].copy(), points[:, 1].copy()
    span_y = float(y.max() - y.min())
    steps = np.abs(x[1::97] - x[:-1:97]) + np.abs(y[1::97] - y[:-1:97])
    if float(steps.mean()) < 0.02 * (float(x.max() - x.min()) + span_y):
        return np.arange(count)
    row = np.floor((y - y.min()) / max(span_y, 1e-9) * 64)
    return np.lexsort((np.where(row % 2 == 0, x, -x), row))


def signed_line_distance(points: ArrayLike, curve: Curve) -> Floats:
    """Return the distance in mm, (K,), from the open curve, positive on the left of its travel.

    The curve goes on by its end tangents without end. The result's size is the distance to the
    nearest place of all that, exact but for rounding. The sides are those of the nearest place;
    they divide the plane in two as long as the prolonged curve does not cross itself.
    """
    rows = rows_of(points)
    order = in_rows(rows)
    walked = np.ascontiguousarray(rows[order])
    line = reaching(curve, walked)
    distances, pieces = nearest(walked, line)
    left = np.empty(len(rows), bool)
    on_left(walked, pieces, line.table, _vertex_tangents(line), left)
    found = np.empty(len(rows))
    found[order] = np.where(left, distances, -distances)
    return found


@lru_cache(maxsize=256)
def _vertex_tangents(curve: Curve) -> Floats:
    """Sum (N, 2) of the unit tangents that arrive at and leave each vertex of an open curve."""
    tangents = np.zeros((len(curve) + 1, 2))
    leaving, arriving = curve.start_headings, curve.end_headings
    tangents[:-1] += np.stack([np.cos(leaving), np.sin(leaving)], axis=1)
    tangents[1:] += np.stack([np.cos(arriving), np.sin(arriving)], axis=1)
    return tangents


def _on_left(
    points: Floats, pieces: NDArray[np.int64], table: Floats, tangents: Floats,
    left: NDArray[np.bool_],
) -> None:  # fmt: skip
    """Fill in whether each point lies on the left of the curve at its nearest place.

    At a vertex the mean of both tangents decides: the points nearest to a vertex lie within half
    the turn of that mean's normal.
    """
    for i in range(points.shape[0]):
        k = pieces[i]
        px, py = points[i, 0], points[i, 1]
        ax, ay, bx, by = table[k, 0], table[k, 1], table[k, 2], table[k, 3]
        vx, vy, wx, wy = px - ax, py - ay, px - bx, py - by
        if table[k, 6] == 0.0:
            dx = bx - ax
            dy = by - ay
            if vx * dx + vy * dy > 0.0 and wx * dx + wy * dy < 0.0:
                left[i] = dx * vy - dy * vx >= 0.0
                continue
        else:
            sign = 1.0 if table[k, 7] > 0 else -1.0
            cx, cy = table[k, 4], table[k, 5]
            ux = ax - cx
            uy = ay - cy
            after = sign * (ux * vy - uy * vx)
            before = sign * (wx * (by - cy) - wy * (bx - cx))
            if after > 0.0 and before > 0.0:
                power = vx * vx + vy * vy + 2.0 * (vx * ux + vy * uy)
                left[i] = sign * power <= 0.0
                continue
        if vx * vx + vy * vy <= wx * wx + wy * wy:
            left[i] = tangents[k, 0] * vy - tangents[k, 1] * vx >= 0.0
        else:
            left[i] = tangents[k + 1, 0] * wy - tangents[k + 1, 1] * wx >= 0.0


on_left = outer(_on_left)

"""Exact distances from points to curves of lines and arcs.

The kernel takes plain arrays; the whole call tree stays in this file, since a disk cache of
compiled code does not see changes elsewhere.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import ArrayLike, NDArray

from knifecam.curve.curve import Curve, Floats


def _piece_distance(
    px: float, py: float, ax: float, ay: float, bx: float, by: float,
    cx: float, cy: float, radius: float, angle: float,
) -> float:  # fmt: skip
    if radius == 0.0:
        dx = bx - ax
        dy = by - ay
        squared = dx * dx + dy * dy
        t = ((px - ax) * dx + (py - ay) * dy) / squared if squared > 0.0 else 0.0
        t = min(1.0, max(0.0, t))
        return math.hypot(px - ax - t * dx, py - ay - t * dy)
    # in the arc's sector: the point turned from the arc's middle by less than half its angle
    mx = (ax + bx) / 2 - cx
    my = (ay + by) / 2 - cy
    if abs(angle) > math.pi - 1e-9:
        sign = 1.0 if angle > 0 else -1.0
        mx = sign * (by - ay)
        my = -sign * (bx - ax)
    vx = px - cx
    vy = py - cy
    rho = math.hypot(vx, vy)
    middle = math.hypot(mx, my)
    if (vx * mx + vy * my) >= rho * middle * math.cos(angle / 2):
        return abs(rho - radius)
    return min(math.hypot(px - ax, py - ay), math.hypot(px - bx, py - by))


piece_distance = njit(cache=True)(_piece_distance)


def _nearest_pieces(
    points: Floats, starts: Floats, ends: Floats, centres: Floats, radii: Floats, angles: Floats
) -> tuple[Floats, NDArray[np.int64]]:
    count = points.shape[0]
    best = np.full(count, np.inf)
    piece = np.zeros(count, np.int64)
    for i in range(count):
        px = points[i, 0]
        py = points[i, 1]
        for k in range(starts.shape[0]):
            ax, ay, bx, by = starts[k, 0], starts[k, 1], ends[k, 0], ends[k, 1]
            reach = best[i]
            # an arc of at most half a turn lies within its radius of the box of its ends
            grown = radii[k]
            if (
                px < min(ax, bx) - reach - grown
                or px > max(ax, bx) + reach + grown
                or py < min(ay, by) - reach - grown
                or py > max(ay, by) + reach + grown
            ):
                continue
            d = piece_distance(
                px, py, ax, ay, bx, by, centres[k, 0], centres[k, 1], radii[k], angles[k]
            )
            if d < best[i]:
                best[i] = d
                piece[i] = k
    return best, piece


nearest_pieces = njit(cache=True)(_nearest_pieces)


def _winding_numbers(
    points: Floats, starts: Floats, ends: Floats, centres: Floats, radii: Floats, angles: Floats
) -> NDArray[np.int64]:
    """Winding number: crossings of a ray toward +X, plus the caps between arcs and their chords."""
    count = points.shape[0]
    total = np.zeros(count, np.int64)
    for i in range(count):
        px = points[i, 0]
        py = points[i, 1]
        turns = 0
        for k in range(starts.shape[0]):
            ax, ay, bx, by = starts[k, 0], starts[k, 1], ends[k, 0], ends[k, 1]
            side = (bx - ax) * (py - ay) - (by - ay) * (px - ax)
            if ay <= py < by and side > 0:
                turns += 1
            elif by <= py < ay and side < 0:
                turns -= 1
            if radii[k] > 0.0:
                # a point on the chord counts on the side where the ray's rule above has put it
                left = side > 0 or (side == 0 and (by < ay or (by == ay and bx > ax)))
                inside = math.hypot(px - centres[k, 0], py - centres[k, 1]) < radii[k]
                if inside and angles[k] > 0 and not left:
                    turns += 1
                elif inside and angles[k] < 0 and left:
                    turns -= 1
        total[i] = turns
    return total


winding_numbers = njit(cache=True)(_winding_numbers)


def _rows(points: ArrayLike) -> Floats:
    rows = np.ascontiguousarray(np.atleast_2d(np.asarray(points, dtype=float)))
    if rows.shape[-1] != 2:
        raise ValueError(f"points {rows.shape} must be (M, 2)")
    return rows


def nearest(points: ArrayLike, curve: Curve) -> tuple[Floats, NDArray[np.int64]]:
    """Return the distance in mm from each point to the curve, and the piece it is nearest to."""
    distances, pieces = nearest_pieces(_rows(points), *curve.arrays())
    return distances, pieces


def distance(points: ArrayLike, curve: Curve) -> Floats:
    """Return the distance in mm, (M,), from each of ``points`` (M, 2) to the curve."""
    return nearest(points, curve)[0]


def winding(points: ArrayLike, curve: Curve) -> NDArray[np.int64]:
    """Return how often the closed curve runs counter-clockwise round each point, (M,)."""
    return np.asarray(winding_numbers(_rows(points), *curve.arrays()))


def signed_distance(points: ArrayLike, curve: Curve) -> Floats:
    """Return the signed distance in mm, (M,): positive inside the closed curve.

    Exact but for rounding: a point at a distance d has ``abs(result) == d`` to 1e-12 mm.
    """
    if not curve.closed:
        raise ValueError("an open curve has no inside: use distance")
    rows = _rows(points)
    inside = winding(rows, curve) != 0
    return np.where(inside, 1.0, -1.0) * distance(rows, curve)

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
    # in the arc's sector, of at most half a turn: left of one end's arm and right of the other's
    sign = 1.0 if angle > 0 else -1.0
    ux = ax - cx
    uy = ay - cy
    vx = px - ax
    vy = py - ay
    after = sign * (ux * vy - uy * vx)
    before = sign * ((px - bx) * (by - cy) - (py - by) * (bx - cx))
    if after >= 0.0 and before >= 0.0:
        # the power of the point over the sum keeps full precision however large the radius is
        power = vx * vx + vy * vy + 2.0 * (vx * ux + vy * uy)
        return abs(power) / (math.hypot(px - cx, py - cy) + radius)
    return min(math.hypot(vx, vy), math.hypot(px - bx, py - by))


piece_distance = njit(cache=True)(_piece_distance)


def _boxes(starts: Floats, ends: Floats, angles: Floats, group: int) -> tuple[Floats, Floats]:
    """Boxes (N, 4) of pieces and of every ``group`` of them in a row: x low, y low, x high, y high.

    An arc of at most half a turn lies within its rise of the box of its ends.
    """
    count = starts.shape[0]
    boxes = np.empty((count, 4))
    wide = np.empty(((count + group - 1) // group, 4))
    for k in range(count):
        ax, ay, bx, by = starts[k, 0], starts[k, 1], ends[k, 0], ends[k, 1]
        rise = math.hypot(bx - ax, by - ay) / 2 * math.tan(abs(angles[k]) / 4) * 1.000001
        boxes[k, 0] = min(ax, bx) - rise
        boxes[k, 1] = min(ay, by) - rise
        boxes[k, 2] = max(ax, bx) + rise
        boxes[k, 3] = max(ay, by) + rise
        g = k // group
        first = k % group == 0
        for c in range(2):
            # column by column: a row at once would compile the error of shapes that do not fit
            low, high = boxes[k, c], boxes[k, c + 2]
            wide[g, c] = low if first else min(wide[g, c], low)
            wide[g, c + 2] = high if first else max(wide[g, c + 2], high)
    return boxes, wide


find_boxes = njit(cache=True)(_boxes)


def _box_gap(
    px: float, py: float, low_x: float, low_y: float, high_x: float, high_y: float
) -> float:
    """Squared distance from a point to a box."""
    dx = max(low_x - px, 0.0, px - high_x)
    dy = max(low_y - py, 0.0, py - high_y)
    return dx * dx + dy * dy


box_gap = njit(cache=True)(_box_gap)


def _nearest_pieces(
    points: Floats, starts: Floats, ends: Floats, centres: Floats, radii: Floats, angles: Floats
) -> tuple[Floats, NDArray[np.int64]]:
    """The piece of the point before bounds the search: points come in a row along some curve."""
    count = points.shape[0]
    pieces = starts.shape[0]
    best = np.full(count, np.inf)
    piece = np.zeros(count, np.int64)
    group = int(math.sqrt(pieces) / 1.5) + 1
    boxes, wide = find_boxes(starts, ends, angles, group)
    last = 0
    for i in range(count):
        px = points[i, 0]
        py = points[i, 1]
        bound = piece_distance(
            px, py, starts[last, 0], starts[last, 1], ends[last, 0], ends[last, 1],
            centres[last, 0], centres[last, 1], radii[last], angles[last],
        )  # fmt: skip
        bound = bound * bound * 1.000001 + 1e-24
        for g in range(wide.shape[0]):
            if box_gap(px, py, wide[g, 0], wide[g, 1], wide[g, 2], wide[g, 3]) > bound:
                continue
            for k in range(g * group, min(pieces, (g + 1) * group)):
                if box_gap(px, py, boxes[k, 0], boxes[k, 1], boxes[k, 2], boxes[k, 3]) > bound:
                    continue
                d = piece_distance(
                    px, py, starts[k, 0], starts[k, 1], ends[k, 0], ends[k, 1],
                    centres[k, 0], centres[k, 1], radii[k], angles[k],
                )  # fmt: skip
                if d < best[i]:
                    best[i] = d
                    piece[i] = k
                    bound = min(bound, d * d * 1.000001 + 1e-24)
        last = piece[i]
    return best, piece


nearest_pieces = njit(cache=True)(_nearest_pieces)


def _winding_numbers(
    points: Floats, starts: Floats, ends: Floats, centres: Floats, radii: Floats, angles: Floats
) -> NDArray[np.int64]:
    """Winding number: crossings of a ray toward +X, plus the caps between arcs and their chords."""
    count = points.shape[0]
    pieces = starts.shape[0]
    total = np.zeros(count, np.int64)
    boxes, _ = find_boxes(starts, ends, angles, pieces)
    low = boxes[:, 1].copy()
    high = boxes[:, 3].copy()
    for i in range(count):
        px = points[i, 0]
        py = points[i, 1]
        turns = 0
        for k in range(pieces):
            if py < low[k] or py > high[k]:
                continue  # neither the chord's crossing nor the cap reaches that far
            ax, ay, bx, by = starts[k, 0], starts[k, 1], ends[k, 0], ends[k, 1]
            side = (bx - ax) * (py - ay) - (by - ay) * (px - ax)
            if ay <= py < by and side > 0:
                turns += 1
            elif by <= py < ay and side < 0:
                turns -= 1
            if radii[k] > 0.0:
                # a point on the chord counts on the side where the ray's rule above has put it
                left = side > 0 or (side == 0 and (by < ay or (by == ay and bx > ax)))
                vx = px - ax
                vy = py - ay
                ux = ax - centres[k, 0]
                uy = ay - centres[k, 1]
                inside = vx * vx + vy * vy + 2.0 * (vx * ux + vy * uy) < 0.0  # power of the point
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

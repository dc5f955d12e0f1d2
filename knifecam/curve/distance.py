"""Exact distances from points to curves of lines and arcs, closed or prolonged by their end tangents.

The kernels take plain arrays; their whole call tree stays in this file, since a disk cache of
compiled code does not see changes elsewhere.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.compiled import inner, outer
from knifecam.curve.curve import Curve, Floats, Piece
from knifecam.curve.curve_limits import PROLONGED_BY_MM, ROW_BY_ROW_FROM_POINTS

INTEGER_ZERO = cast("int", np.int64(0))
"""A 0 of a number's type: for a literal one compiled code would be made twice."""


def _piece_of(table: Floats, k: int) -> Piece:
    return Piece(
        table[k, 0], table[k, 1], table[k, 2], table[k, 3],
        table[k, 4], table[k, 5], table[k, 6], table[k, 7],
    )  # fmt: skip


piece_of = inner(_piece_of)


def _piece_distance(px: float, py: float, p: Piece) -> float:
    vx = px - p.ax
    vy = py - p.ay
    if p.radius == 0.0:
        dx = p.bx - p.ax
        dy = p.by - p.ay
        squared = dx * dx + dy * dy
        t = (vx * dx + vy * dy) / squared if squared > 0.0 else 0.0
        t = t if t > 0.0 else 0.0
        t = t if t < 1.0 else 1.0
        return math.hypot(vx - t * dx, vy - t * dy)
    # in the arc's sector, of at most half a turn: left of one end's arm and right of the other's
    sign = 1.0 if p.angle > 0 else -1.0
    ux = p.ax - p.cx
    uy = p.ay - p.cy
    wx = px - p.bx
    wy = py - p.by
    after = sign * (ux * vy - uy * vx)
    before = sign * (wx * (p.by - p.cy) - wy * (p.bx - p.cx))
    if after >= 0.0 and before >= 0.0:
        # the power of the point over the sum keeps full precision however large the radius is
        power = vx * vx + vy * vy + 2.0 * (vx * ux + vy * uy)
        return abs(power) / (math.hypot(px - p.cx, py - p.cy) + p.radius)
    first = math.hypot(vx, vy)
    last = math.hypot(wx, wy)
    return first if first < last else last


piece_distance = inner(_piece_distance)


def _box_gap(px: float, py: float, boxes: Floats, k: int) -> float:
    """Squared distance from a point to a box."""
    left = boxes[k, 0] - px
    right = px - boxes[k, 2]
    below = boxes[k, 1] - py
    above = py - boxes[k, 3]
    dx = left if left > right else right
    dy = below if below > above else above
    dx = dx if dx > 0.0 else 0.0
    dy = dy if dy > 0.0 else 0.0
    return dx * dx + dy * dy


box_gap = inner(_box_gap)


def _nearest_pieces(
    points: Floats, table: Floats, boxes: Floats, wide: Floats, group: int, found: Floats,
    piece: NDArray[np.int64],
) -> None:  # fmt: skip
    """Fill in the distances and the pieces.

    The piece of the point before bounds the search: points come in a row along some curve.
    """
    pieces = table.shape[0]
    last = INTEGER_ZERO
    for i in range(points.shape[0]):
        px = points[i, 0]
        py = points[i, 1]
        best = math.inf
        near = 0
        bound = piece_distance(px, py, piece_of(table, last))
        bound = bound * bound * 1.000001 + 1e-24
        for g in range(wide.shape[0]):
            if box_gap(px, py, wide, g) > bound:
                continue
            end = (g + 1) * group
            for k in range(g * group, end if end < pieces else pieces):
                if box_gap(px, py, boxes, k) > bound:
                    continue
                d = piece_distance(px, py, piece_of(table, k))
                if d < best:
                    best = d
                    near = k
                    nearer = d * d * 1.000001 + 1e-24
                    bound = nearer if nearer < bound else bound
        found[i] = best
        piece[i] = near
        last = near


nearest_pieces = outer(_nearest_pieces)


def _turns_by(px: float, py: float, p: Piece) -> int:
    """Return what a piece adds to the winding number of a point: crossing, and cap of an arc."""
    turns = 0
    side = (p.bx - p.ax) * (py - p.ay) - (p.by - p.ay) * (px - p.ax)
    if p.ay <= py < p.by and side > 0:
        turns += 1
    elif p.by <= py < p.ay and side < 0:
        turns -= 1
    if p.radius > 0.0:
        # a point on the chord counts on the side where the ray's rule above has put it
        left = side > 0 or (side == 0 and (p.by < p.ay or (p.by == p.ay and p.bx > p.ax)))
        vx = px - p.ax
        vy = py - p.ay
        ux = p.ax - p.cx
        uy = p.ay - p.cy
        inside = vx * vx + vy * vy + 2.0 * (vx * ux + vy * uy) < 0.0  # power of the point
        if inside and p.angle > 0 and not left:
            turns += 1
        elif inside and p.angle < 0 and left:
            turns -= 1
    return turns


turns_by = inner(_turns_by)


def _winding_numbers(
    points: Floats, table: Floats, boxes: Floats, total: NDArray[np.int64]
) -> None:
    """Fill in winding numbers: crossings of a ray toward +X, and the caps of arcs on chords."""
    for i in range(points.shape[0]):
        py = points[i, 1]
        turns = 0
        for k in range(table.shape[0]):
            # else neither the chord's crossing nor the cap reaches that far
            if boxes[k, 1] <= py <= boxes[k, 3]:
                turns += turns_by(points[i, 0], py, piece_of(table, k))
        total[i] = turns


winding_numbers = outer(_winding_numbers)


def _rows(points: ArrayLike) -> Floats:
    """Return points (M, 2), C-contiguous and writeable: kernels are compiled for no others."""
    rows = np.require(np.atleast_2d(points), np.float64, ("C", "W"))
    if rows.shape[-1] != 2:
        raise ValueError(f"points {rows.shape} must be (M, 2)")
    return rows


def nearest(points: ArrayLike, curve: Curve) -> tuple[Floats, NDArray[np.int64]]:
    """Return the distance in mm from each point to the curve, and the piece it is nearest to."""
    rows = _rows(points)
    found, pieces = np.empty(len(rows)), np.empty(len(rows), np.int64)
    nearest_pieces(rows, curve.table, *curve.boxes, found, pieces)
    return found, pieces


def distance(points: ArrayLike, curve: Curve) -> Floats:
    """Return the distance in mm, (M,), from each of ``points`` (M, 2) to the curve."""
    return nearest(points, curve)[0]


def winding(points: ArrayLike, curve: Curve) -> NDArray[np.int64]:
    """Return how often the closed curve runs counter-clockwise round each point, (M,)."""
    rows = _rows(points)
    total = np.empty(len(rows), np.int64)
    winding_numbers(rows, curve.table, curve.boxes.each, total)
    return total


def signed_distance(points: ArrayLike, curve: Curve) -> Floats:
    """Return the signed distance in mm, (M,): positive inside the closed curve.

    Exact but for rounding: a point at a distance d has ``abs(result) == d`` to 1e-12 mm.
    """
    if not curve.closed:
        raise ValueError("an open curve has no inside: use distance")
    rows = _rows(points)
    inside = winding(rows, curve) != 0
    return np.where(inside, 1.0, -1.0) * distance(rows, curve)


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

"""Walking along a path and its source to measure one against the other.

Kernels on plain arrays of pieces, as `Curve.arrays` gives them. The whole call tree is in this
file, since a disk cache of compiled code does not see changes elsewhere.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from knifecam.curve.curve import Floats

CLOSE = 1e-9
"""mm: where the piece walked along is no farther than this, the others need not be asked."""


def _size(x: float, y: float) -> float:
    return math.sqrt(x * x + y * y)


size = njit(cache=True)(_size)


def _gap(
    px: float, py: float, k: int, starts: Floats, ends: Floats, centres: Floats, radii: Floats,
    angles: Floats,
) -> float:  # fmt: skip
    """Distance from a point to piece k."""
    ax, ay, bx, by = starts[k, 0], starts[k, 1], ends[k, 0], ends[k, 1]
    vx = px - ax
    vy = py - ay
    if radii[k] == 0.0:
        dx = bx - ax
        dy = by - ay
        squared = dx * dx + dy * dy
        t = (vx * dx + vy * dy) / squared if squared > 0.0 else 0.0
        t = min(1.0, max(0.0, t))
        return size(vx - t * dx, vy - t * dy)
    sign = 1.0 if angles[k] > 0 else -1.0
    ux = ax - centres[k, 0]
    uy = ay - centres[k, 1]
    wx = bx - centres[k, 0]
    wy = by - centres[k, 1]
    after = sign * (ux * vy - uy * vx)
    before = sign * ((px - bx) * wy - (py - by) * wx)
    if after >= 0.0 and before >= 0.0:
        power = vx * vx + vy * vy + 2.0 * (vx * ux + vy * uy)
        return abs(power) / (size(px - centres[k, 0], py - centres[k, 1]) + radii[k])
    return min(size(vx, vy), size(px - bx, py - by))


gap = njit(cache=True)(_gap)


def _boxes(starts: Floats, ends: Floats, angles: Floats) -> Floats:
    """Boxes (N + G, 4) of the pieces, then of rows of sqrt(N) + 4 of them."""
    count = starts.shape[0]
    group = int(math.sqrt(count)) + 4
    groups = (count + group - 1) // group
    boxes = np.empty((count + groups, 4))
    boxes[count:, :2] = np.inf
    boxes[count:, 2:] = -np.inf
    for k in range(count):
        rise = math.hypot(ends[k, 0] - starts[k, 0], ends[k, 1] - starts[k, 1]) / 2
        rise *= math.tan(abs(angles[k]) / 4) * 1.000001
        g = count + k // group
        for axis in range(2):
            boxes[k, axis] = min(starts[k, axis], ends[k, axis]) - rise
            boxes[k, axis + 2] = max(starts[k, axis], ends[k, axis]) + rise
            boxes[g, axis] = min(boxes[g, axis], boxes[k, axis])
            boxes[g, axis + 2] = max(boxes[g, axis + 2], boxes[k, axis + 2])
    return boxes


find_boxes = njit(cache=True)(_boxes)


def _outside(px: float, py: float, row: int, boxes: Floats) -> float:
    """Squared distance from a point to a box."""
    dx = max(boxes[row, 0] - px, 0.0, px - boxes[row, 2])
    dy = max(boxes[row, 1] - py, 0.0, py - boxes[row, 3])
    return dx * dx + dy * dy


outside = njit(cache=True)(_outside)


def _nearest(
    px: float, py: float, but: int, reach: float, enough: float, boxes: Floats, starts: Floats,
    ends: Floats, centres: Floats, radii: Floats, angles: Floats,
) -> tuple[float, int]:  # fmt: skip
    """Nearest piece within ``reach``, piece ``but`` left out; the first within ``enough`` will do."""
    count = starts.shape[0]
    group = int(math.sqrt(count)) + 4
    best = reach
    found = -1
    for g in range(boxes.shape[0] - count):
        if outside(px, py, count + g, boxes) > best * best:
            continue
        for k in range(g * group, min(count, (g + 1) * group)):
            if k == but or outside(px, py, k, boxes) > best * best:
                continue
            d = gap(px, py, k, starts, ends, centres, radii, angles)
            if d < best:
                best = d
                found = k
                if d <= enough:
                    return best, found
    return best, found


nearest = njit(cache=True)(_nearest)


def _place(
    t: float, k: int, starts: Floats, ends: Floats, half: float, sine: float, cosine: float
) -> tuple[float, float]:
    """Place on piece k at the fraction t of it; half its angle, and that one's sine and cosine.

    With a chord's half angle h a place of an arc is sin(t h)/sin(h) of the chord from its start,
    turned by (1 - t) h to its right: full precision however flat the arc.
    """
    dx = ends[k, 0] - starts[k, 0]
    dy = ends[k, 1] - starts[k, 1]
    if half == 0.0:
        return starts[k, 0] + t * dx, starts[k, 1] + t * dy
    rise = math.sin(t * half)
    run = math.cos(t * half)
    scale = rise / sine
    c = scale * (run * cosine + rise * sine)
    s = scale * (rise * cosine - run * sine)
    return starts[k, 0] + dx * c - dy * s, starts[k, 1] + dx * s + dy * c


place = njit(cache=True)(_place)


def _walk_path(
    starts: Floats, ends: Floats, centres: Floats, radii: Floats, angles: Floats,
    lengths: Floats, steps: Floats,
    s_starts: Floats, s_ends: Floats, s_centres: Floats, s_radii: Floats, s_angles: Floats,
    away: float,
) -> tuple[float, float, int]:  # fmt: skip
    """Least and greatest distance from the path to the source (s_), and places measured.

    The piece of the source nearest to a path piece's middle is measured at every step. Of the
    others nothing can come within the distance sooner than they are farther than it: that far the
    walk goes at once.
    """
    boxes = find_boxes(s_starts, s_ends, s_angles)
    low = np.inf
    high = 0.0
    count = 0
    own = 0
    for j in range(starts.shape[0]):
        half = angles[j] / 2
        sine = math.sin(half)
        cosine = math.cos(half)
        x, y = place(0.5, j, starts, ends, half, sine, cosine)
        d = gap(x, y, own, s_starts, s_ends, s_centres, s_radii, s_angles)
        d, k = nearest(x, y, own, d, -1.0, boxes, s_starts, s_ends, s_centres, s_radii, s_angles)
        own = k if k >= 0 else own
        parts = math.ceil(lengths[j] / steps[j])
        for i in range(parts + 1):
            x, y = place(i / parts, j, starts, ends, half, sine, cosine)
            d = gap(x, y, own, s_starts, s_ends, s_centres, s_radii, s_angles)
            low = min(low, d)
            if d > max(high, away + CLOSE):
                d, _ = nearest(
                    x, y, -1, d, high, boxes, s_starts, s_ends, s_centres, s_radii, s_angles
                )
            high = max(high, d)
        count += parts + 1
        s = 0.0
        while True:
            x, y = place(s / lengths[j], j, starts, ends, half, sine, cosine)
            d, _ = nearest(
                x, y, own, away + lengths[j], -1.0, boxes,
                s_starts, s_ends, s_centres, s_radii, s_angles,
            )  # fmt: skip
            low = min(low, d)
            count += 1
            if s >= lengths[j]:
                break
            s = min(lengths[j], s + max(steps[j], d - away))
    return low, high, count


walk_path = njit(cache=True)(_walk_path)


def _walk_source(
    w_starts: Floats, w_ends: Floats, l_starts: Floats, l_ends: Floats, w_angles: Floats,
    parts: NDArray[np.int64], larger: float, near: float,
    starts: Floats, ends: Floats, centres: Floats, radii: Floats, angles: Floats,
    s_starts: Floats, s_ends: Floats, s_centres: Floats, s_radii: Floats, s_angles: Floats,
) -> float:  # fmt: skip
    """Greatest distance to the path from where a cutter touching the source (s_) can stand.

    Its way (w_) along each piece of the source is measured in the middles of ``parts``: at an end in
    a sharp inner corner it would stand outside. Where the path is within ``near`` nothing more is
    asked; elsewhere whether a cutter of the radius ``larger``, on its own way (l_), has room there.
    """
    boxes = find_boxes(starts, ends, angles)
    s_boxes = find_boxes(s_starts, s_ends, s_angles)
    worst = 0.0
    last = 0
    for j in range(parts.shape[0]):
        half = w_angles[j] / 2
        sine = math.sin(half)
        cosine = math.cos(half)
        for i in range(parts[j]):
            t = (i + 0.5) / parts[j]
            x, y = place(t, j, w_starts, w_ends, half, sine, cosine)
            d = np.inf
            if starts.shape[0] > 0:
                d = gap(x, y, last, starts, ends, centres, radii, angles)
            if d > near:
                d, k = nearest(x, y, -1, d, near, boxes, starts, ends, centres, radii, angles)
                if k >= 0:
                    last = k
            if d <= worst:
                continue
            if d > near:
                x, y = place(t, j, l_starts, l_ends, half, sine, cosine)
                free, _ = nearest(
                    x, y, -1, larger - 1e-9, larger - 1e-9, s_boxes,
                    s_starts, s_ends, s_centres, s_radii, s_angles,
                )  # fmt: skip
                if free < larger - 1e-9:
                    continue
            worst = d
    return worst


walk_source = njit(cache=True)(_walk_source)


def arrays_of(rows: list[tuple[Floats, ...]]) -> tuple[Floats, ...]:
    """Return the arrays of several curves' pieces in a row; of none where there are none.

    Always fresh arrays: compiled code is made anew for read-only ones and for views.
    """
    if not rows:
        return np.zeros((0, 2)), np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0), np.zeros(0)
    joined: list[NDArray[np.float64]] = [np.concatenate(parts) for parts in zip(*rows, strict=True)]
    return tuple(joined)

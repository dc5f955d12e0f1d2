"""A naive reference: the cutter stamped at many moments of a motion. It imports nothing of ours.

A motion is (kind, start, stop, centre, turns): kind 2 is an arc or helix, others are straight.
"""

from __future__ import annotations

import numpy as np

FIRST_STAMPS = 401
"""Moments stamped at first; three finer rounds follow round the best of them."""


def surface(distance, radius, corner, cone=None):
    """Height of the cutter's surface above its tip, at distances up to its radius.

    A cone is (radius of its flat tip, angle between it and the axis).
    """
    if cone is not None:
        return np.maximum(distance - cone[0], 0.0) / np.tan(cone[1])
    inner = np.maximum(distance - (radius - corner), 0.0)
    return corner - np.sqrt(np.maximum(corner**2 - inner**2, 0.0))


def section(above, radius, corner, cone=None):
    """Radius of the cutter at heights above its tip."""
    if cone is not None:
        return np.minimum(cone[0] + above * np.tan(cone[1]), radius)
    rest = np.clip(corner - above, 0.0, corner)
    return radius - corner + np.sqrt(corner**2 - rest**2)


def place(motion, t):
    """Tip of the cutter at ``t``, 0 to 1: x, y, z."""
    kind, start, stop, centre, turns = motion
    z = start[2] + (stop[2] - start[2]) * t
    if kind != 2:
        return start[0] + (stop[0] - start[0]) * t, start[1] + (stop[1] - start[1]) * t, z
    rx, ry = start[0] - centre[0], start[1] - centre[1]
    angle = np.arctan2(ry, rx) + 2 * np.pi * turns * t
    reach = np.hypot(rx, ry)
    return centre[0] + reach * np.cos(angle), centre[1] + reach * np.sin(angle), z


def refined(of, count):
    """Least value of ``of(t)``, which returns (count, len(t)) values, for ``count`` places.

    Looked for round the three lowest of the first moments that are lower than both neighbours.
    """
    t = np.broadcast_to(np.linspace(0.0, 1.0, FIRST_STAMPS), (count, FIRST_STAMPS))
    values = of(t)
    best = values.min(axis=1)
    beside = np.pad(values, ((0, 0), (1, 1)), constant_values=np.inf)
    bottom = (values <= beside[:, :-2]) & (values <= beside[:, 2:])
    lowest_three = np.argsort(np.where(bottom, values, np.inf), axis=1)[:, :3]
    for start in lowest_three.T:
        width = 1.5 / (FIRST_STAMPS - 1)
        middle = t[np.arange(count), start]
        for _ in range(3):
            finer = np.clip(middle[:, None] + np.linspace(-width, width, 61), 0.0, 1.0)
            values = of(finer)
            best = np.minimum(best, values.min(axis=1))
            middle = finer[np.arange(count), values.argmin(axis=1)]
            width /= 30
    return best


def lowest(motion, radius, corner, x, y, cone=None):
    """Lowest height of the cutter over each place, inf where it never is; and how near its axis came."""

    def distance(t):
        px, py, _ = place(motion, t)
        return np.hypot(px - x[:, None], py - y[:, None])

    def height(t):
        q = distance(t)
        z = place(motion, t)[2] + surface(np.minimum(q, radius), radius, corner, cone)
        # far away, but least where it is nearest, so that the finer rounds begin there
        return np.where(q <= radius, z, 1e6 + q)

    nearest = refined(distance, len(x))
    heights = refined(height, len(x))
    return np.where(heights < 1e5, heights, np.inf), nearest


def cut_columns(columns, motion, radius, corner, side, flip, cone=None):
    """Cut [x, y, top, bottom] in the part frame, in place; return which columns became empty."""
    x, y, top, bottom = columns
    if side == "A":
        height, nearest = lowest(motion, radius, corner, x, y, cone)
        full = top - bottom > 1e-9
        np.copyto(top, np.maximum(np.minimum(top, height), bottom), where=full)
    else:
        sx, sy = (1.0, -1.0) if flip == "X" else (-1.0, 1.0)
        height, nearest = lowest(motion, radius, corner, sx * x, sy * y, cone)
        full = top - bottom > 1e-9
        np.copyto(bottom, np.minimum(np.maximum(bottom, -height), top), where=full)
    return full & (top - bottom <= 1e-9), nearest


def wall_error(motion, radius, corner, x, y, height, cone=None):
    """Least distance to the axis less the cutter's section at a height, inf where it never reaches."""

    def error(t):
        px, py, z = place(motion, t)
        q = np.hypot(px - x[:, None], py - y[:, None])
        above = np.broadcast_to(height - z, q.shape)
        return np.where(
            above >= 0.0, q - section(np.maximum(above, 0), radius, corner, cone), 1e6 - above
        )

    found = refined(error, len(x))
    return np.where(found < 1e5, found, np.inf)

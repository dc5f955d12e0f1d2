"""Where the blade has no metal: outside its outline, in bores, slots and notches."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from knifecam.blade.blade import Blade
from knifecam.curve import Curve, distance, winding
from knifecam.curve.curve import Floats

WALL_IS_METAL_MM = 1e-9
"""mm: points this close to a wall count as metal, so that sample columns on the outline see the blade."""


def is_open(blade: Blade, points: Floats) -> NDArray[np.bool_]:
    """Return which ``points`` (K, 2) have no metal at any height, (K,).

    Blind bores are not among them: `blind_floor` tells their depth.
    """
    gone = is_outside(blade.outline, points)
    for bore in blade.bores:
        if bore.depth is None:
            gone |= _in_circle(points, bore.centre, bore.diameter / 2 - WALL_IS_METAL_MM)
    for row in blade.jimping:
        for centre in row.centres:
            gone |= _in_circle(points, centre, row.diameter / 2 - WALL_IS_METAL_MM)
    for slot in blade.slots:
        gone |= is_inside(slot.outline, points)
    return gone


def blind_floor(blade: Blade, points: Floats, side: str) -> Floats:
    """Return the height (K,) mm of blind bores' floors; inf elsewhere, and on side B."""
    floor = np.full(len(points), math.inf)
    for bore in blade.bores:
        if bore.depth is not None and side == "A":
            in_bore = _in_circle(points, bore.centre, bore.diameter / 2 - WALL_IS_METAL_MM)
            floor[in_bore] = np.minimum(floor[in_bore], blade.thickness / 2 - bore.depth)
    return floor


def is_outside(outline: Curve, points: Floats) -> NDArray[np.bool_]:
    """Return which ``points`` (K, 2) lie outside the closed curve, by more than `WALL_IS_METAL_MM`."""
    gone = np.ones(len(points), bool)
    near = np.flatnonzero(_in_bounds(outline, points))
    rows = np.ascontiguousarray(points[near])
    beyond = winding(rows, outline) == 0
    beyond[beyond] = distance(rows[beyond], outline) > WALL_IS_METAL_MM
    gone[near] = beyond
    return gone


def is_inside(outline: Curve, points: Floats) -> NDArray[np.bool_]:
    """Return which ``points`` (K, 2) lie inside the closed curve, by more than `WALL_IS_METAL_MM`."""
    inner = np.zeros(len(points), bool)
    near = np.flatnonzero(_in_bounds(outline, points))
    rows = np.ascontiguousarray(points[near])
    deep = winding(rows, outline) != 0
    deep[deep] = distance(rows[deep], outline) > WALL_IS_METAL_MM
    inner[near] = deep
    return inner


def _in_bounds(outline: Curve, points: Floats) -> NDArray[np.bool_]:
    low_x, low_y, high_x, high_y = outline.bounds
    x, y = points[:, 0], points[:, 1]
    return np.asarray(
        (x >= low_x - WALL_IS_METAL_MM)
        & (x <= high_x + WALL_IS_METAL_MM)
        & (y >= low_y - WALL_IS_METAL_MM)
        & (y <= high_y + WALL_IS_METAL_MM)
    )


def _in_circle(points: Floats, centre: tuple[float, float], radius: float) -> NDArray[np.bool_]:
    """Return which ``points`` (K, 2) are nearer to the centre than the radius, (K,)."""
    inside: NDArray[np.bool_] = np.abs(points[:, 0] - centre[0]) < radius
    near = np.flatnonzero(inside)
    apart = np.hypot(points[near, 0] - centre[0], points[near, 1] - centre[1])
    inside[near] = apart < radius
    return inside

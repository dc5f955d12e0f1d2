"""The broken faces of edge breaks.

A break falls from the blade's face at its width from the wall to ``width tan(angle)`` below the
face at the wall. It holds exactly square to its stretch. How it ends depends on how the mill
lifts: within its width and `FADE_BEYOND_WIDTH_MM` of a stretch's end the finished blade may have
either surface.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.blade.blade import Blade, EdgeBreak
from knifecam.curve import Curve, circle, nearest
from knifecam.curve.curve import Floats
from knifecam.curve.prolonged_distance import rows_of
from knifecam.curve.stations import is_whole, part_of

FADE_BEYOND_WIDTH_MM = 0.5
"""mm beyond a break's width that it may take to fade out at an open end. A cone's section at the
face alone reaches sqrt(w (2c + w)) past its axis, twice the width or more where w is small."""

FOOT_PAST_END_MM = 1e-9
"""mm: a foot no further past a stretch's end than this still belongs to it."""


def break_curves(broken: EdgeBreak, blade: Blade) -> tuple[Curve, ...]:
    """Return the curves of the outline, bore or slot along which the break runs.

    Raises
    ------
    ValueError
        When the blade has no such bore or slot.
    """
    if broken.of == "outline":
        if not broken.stretches or any(is_whole(blade.outline, s) for s in broken.stretches):
            return (blade.outline,)
        return tuple(part_of(blade.outline, stretch) for stretch in broken.stretches)
    for bore in blade.bores:
        if bore.name == broken.of:
            return (circle(bore.centre, bore.diameter),)
    for slot in blade.slots:
        if slot.name == broken.of:
            return (slot.outline,)
    raise ValueError(f"edge break {broken.name!r}: the blade has no bore or slot {broken.of!r}")


def break_height(broken: EdgeBreak, blade: Blade, points: ArrayLike) -> Floats:
    """Return the height (K,) mm of the broken face above the mid-plane; inf beside it."""
    rows = rows_of(points)
    height = np.full(len(rows), math.inf)
    for curve in break_curves(broken, blade):
        near = np.flatnonzero(_in_reach(curve, rows, broken.width))
        away = _square_distance(np.ascontiguousarray(rows[near]), curve)
        fall = (broken.width - away) * math.tan(broken.angle)
        face = np.where(away < broken.width, blade.thickness / 2 - fall, math.inf)
        height[near] = np.minimum(height[near], face)
    return height


def break_ends(blade: Blade, side: str) -> tuple[tuple[Floats, float, float], ...]:
    """Return each open end of a side's breaks: its place (2,), how far about it the break may fade
    out, and how deep the break goes, mm."""
    return tuple(
        (end, broken.width + FADE_BEYOND_WIDTH_MM, broken.depth)
        for broken in blade.breaks
        if broken.side == side
        for curve in break_curves(broken, blade)
        if not curve.closed
        for end in curve.vertices[[0, -1]]
    )


def near_break_ends(blade: Blade, points: ArrayLike, side: str) -> NDArray[np.bool_]:
    """Return which ``points`` (K, 2) are where a break may fade out at an open end, (K,)."""
    rows = rows_of(points)
    close = np.zeros(len(rows), bool)
    for end, reach, _ in break_ends(blade, side):
        close |= np.hypot(*(rows - end).T) <= reach
    return close


def _square_distance(points: Floats, curve: Curve) -> Floats:
    """Distance (K,) mm to the curve; inf where the nearest place is an open end, passed."""
    away, pieces = nearest(points, curve)
    if curve.closed:
        return away
    ends = (
        (0, curve.vertices[0], curve.start_headings[0], -1.0),
        (len(curve) - 1, curve.vertices[-1], curve.end_headings[-1], 1.0),
    )
    for piece, end, heading, way in ends:
        arm = points - end
        past = way * (arm[:, 0] * math.cos(heading) + arm[:, 1] * math.sin(heading))
        at_end = (pieces == piece) & (np.hypot(*arm.T) <= away + FOOT_PAST_END_MM)
        away = np.where(at_end & (past > FOOT_PAST_END_MM), math.inf, away)
    return away


def _in_reach(curve: Curve, points: Floats, width: float) -> NDArray[np.bool_]:
    low_x, low_y, high_x, high_y = curve.bounds
    x, y = points[:, 0], points[:, 1]
    return np.asarray(
        (x >= low_x - width) & (x <= high_x + width) & (y >= low_y - width) & (y <= high_y + width)
    )

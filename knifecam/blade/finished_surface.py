"""The blade's finished surface, bevels and edge breaks: how far its faces lie from the mid-plane.

One definition serves paths, mass and simulator. On each side it is the least of half the
thickness, the bevels (profile plus the rise past the plunge) and the edge breaks; where there is
no metal it is minus infinity. Heights are above the mid-plane toward the side: +z on A, -z on B.

A break falls from the blade's face at its width from the wall to ``width tan(angle)`` below the
face at the wall. It holds exactly square to its stretch. How it ends depends on how the mill
lifts: within its width and `FADE_BEYOND_WIDTH_MM` of a stretch's end the finished blade may have
either surface.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.blade.bevel import Bevel, height_at
from knifecam.blade.blade import Blade, EdgeBreak, blind_floor, is_open
from knifecam.blade.blade_limits import FADE_BEYOND_WIDTH_MM, FOOT_PAST_END_MM
from knifecam.curve import Curve, circle, nearest
from knifecam.curve.curve import Floats
from knifecam.curve.distance import in_rows, prolonged, rows_of, signed_line_distance
from knifecam.curve.stations import is_whole, part_of


def edge_curve(bevel: Bevel, outline: Curve) -> Curve:
    """Return the edge as an open curve, the blade on its left."""
    return part_of(outline, bevel.edge)


def prolonged_edge(bevel: Bevel, outline: Curve, past: float) -> Curve:
    """Return the edge with a straight tangent of ``past`` mm before its start and after its end."""
    return prolonged(edge_curve(bevel, outline), past)


def edge_distance(bevel: Bevel, outline: Curve, points: ArrayLike) -> Floats:
    """Return the distance d (K,) mm of ``points`` (K, 2) from the edge, positive on the blade's side.

    The edge goes on by its end tangents without end, or its ends would dish. Exact but for
    rounding; no two points' distances differ by more than the points are apart.
    """
    return signed_line_distance(points, edge_curve(bevel, outline))


def past_plunge(bevel: Bevel, points: ArrayLike) -> Floats:
    """Return how far ``points`` (K, 2) lie past the plunge, (K,) mm: below 0 within the bevel.

    With two plunges the greater counts; a bevel without any gives -inf.
    """
    rows = rows_of(points)
    past = np.full(len(rows), -math.inf)
    for plunge in bevel.plunges:
        past = np.maximum(past, signed_line_distance(rows, plunge.line))
    return past


def rise(radius: float, angle: float, s: ArrayLike) -> Floats:
    """Return (Rp - sqrt(Rp^2 - s^2)) / cos a, (K,) mm; 0 before the line, inf past the radius.

    A cylinder of ``radius`` that lies in a flat bevel of ``angle`` rises by this over it: its
    section square to the bevel is Rp - sqrt(Rp^2 - s^2), seen plumb 1 / cos a as much.
    """
    s = np.asarray(s, dtype=float)
    on = np.clip(s, 0.0, radius)
    risen = on**2 / (radius + np.sqrt(radius**2 - on**2)) / math.cos(angle)
    return np.where(s > radius, math.inf, risen)


def plunge_rise(bevel: Bevel, s: ArrayLike) -> Floats:
    """Return f(s) (K,) mm: what the plunge adds to the profile ``s`` (K,) mm past its line.

    It is the same for all plunges of one radius; with different radii use `bevel_height`, which
    takes each plunge with its own.
    """
    s = np.asarray(s, dtype=float)
    radii = {plunge.radius for plunge in bevel.plunges}
    if len(radii) > 1:
        raise ValueError(f"bevel {bevel.name!r}: plunges of different radii {sorted(radii)} mm")
    return rise(radii.pop(), bevel.angle, s) if radii else np.where(s > 0, math.inf, 0.0)


def bevel_height(bevel: Bevel, blade: Blade, points: ArrayLike, side: str) -> Floats:
    """Return the height h(d) + f(s), (K,) mm, of the bevel's surface; inf past its plunges.

    It is not limited by half the thickness and knows nothing of openings.
    """
    rows = rows_of(points)
    d = edge_distance(bevel, blade.outline, rows)
    height = height_at(bevel, blade.thickness, side, d)
    added = np.zeros(len(rows))
    for plunge in bevel.plunges:
        s = signed_line_distance(rows, plunge.line)
        added = np.maximum(added, rise(plunge.radius, bevel.angle, s))
    return height + added


def least_bevel(blade: Blade, points: ArrayLike, side: str) -> Floats:
    """Return the least height (K,) mm of the side's bevels; inf where there is none."""
    rows = rows_of(points)
    least = np.full(len(rows), math.inf)
    for bevel in blade.bevels:
        if bevel.on(side):
            least = np.minimum(least, bevel_height(bevel, blade, rows, side))
    return least


def half_thickness(blade: Blade, points: ArrayLike, side: str) -> Floats:
    """Return the finished height (K,) mm of ``side`` over the mid-plane at ``points`` (K, 2).

    It is min(T/2, bevels, edge breaks); -inf outside the outline and in through bores, slots and
    notches, whose walls themselves count as metal (within `openings.WALL`). In a blind bore side A
    has its floor. Edge breaks hold square to their stretches; near a stretch's end
    (`broken.near_break_ends`) either surface may stand.
    """
    if side not in ("A", "B"):
        raise ValueError(f"side={side!r} must be 'A' or 'B'")
    rows = rows_of(points)
    order = in_rows(rows)
    ordered = np.ascontiguousarray(rows[order])
    metal = np.flatnonzero(~is_open(blade, ordered))
    solid = np.ascontiguousarray(ordered[metal])
    half = np.minimum(blade.thickness / 2, least_bevel(blade, solid, side))
    for broken in blade.breaks:
        if broken.side == side:
            half = np.minimum(half, break_height(broken, blade, solid))
    half = np.minimum(half, blind_floor(blade, solid, side))
    found = np.full(len(rows), -math.inf)
    found[order[metal]] = half
    return found


def bevelled(blade: Blade, points: ArrayLike, side: str) -> NDArray[np.bool_]:
    """Return where (K,) a bevel of ``side`` lies below half the thickness, openings or not."""
    return np.asarray(least_bevel(blade, points, side) < blade.thickness / 2)


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

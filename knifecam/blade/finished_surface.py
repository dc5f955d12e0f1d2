"""The blade's finished surface: how far each side's face lies from the mid-plane.

One definition serves paths, mass and simulator. On each side it is the least of half the
thickness, the bevels (profile plus the rise past the plunge) and the edge breaks; where there is
no metal it is minus infinity. Heights are above the mid-plane toward the side: +z on A, -z on B.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.blade.bevel import Bevel, height_at
from knifecam.blade.blade import Blade
from knifecam.blade.edge_break_face import break_height
from knifecam.blade.openings import blind_floor, is_open
from knifecam.curve import Curve
from knifecam.curve.curve import Floats
from knifecam.curve.prolonged_distance import in_rows, prolonged, rows_of, signed_line_distance
from knifecam.curve.stations import part_of


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
    walked = np.ascontiguousarray(rows[order])
    metal = np.flatnonzero(~is_open(blade, walked))
    solid = np.ascontiguousarray(walked[metal])
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

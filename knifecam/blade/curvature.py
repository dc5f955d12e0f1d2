"""How tightly the finished surface is curved: what a cutter must be smaller than.

The surface is z(x, y) = h(d) + f(s); the second derivatives of the distances d and s to curves of
lines and arcs are known in closed form: along the parallel curve -k / (1 - k d) for a curve of
curvature k (positive to the left), 0 square to it. Principal curvatures of z(x, y) are Monge's
formulas. References: M. do Carmo, Differential Geometry of Curves and Surfaces, 1976, section 3-3
(from memory).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike

from knifecam.blade.bevel import Bevel, Plunge
from knifecam.blade.blade import Blade
from knifecam.blade.figures import across
from knifecam.blade.line_distance import reaching, rows_of, signed_line_distance
from knifecam.blade.profile import arc_radius, grind_height, height_at, slope_at
from knifecam.blade.surface import edge_curve, rise
from knifecam.curve import Curve, nearest, resample
from knifecam.curve.curve import Floats

STEPS = 60
"""Places along and past the plunge line at which its surface is examined."""


def distance_frame(points: ArrayLike, curve: Curve) -> tuple[Floats, Floats, Floats]:
    """Return the signed distance (K,), its gradient (K, 2) and its bend (K,) 1/mm.

    The curve is open and goes on by its tangents, left of it is positive. ``bend`` is the second
    derivative of the distance along the parallel curve; turns too small to be corners do not count.
    """
    rows = rows_of(points)
    line = reaching(curve, rows)
    d = signed_line_distance(rows, curve)
    _, piece = nearest(rows, line)
    heading = line.start_headings[piece]
    normal = np.stack([-np.sin(heading), np.cos(heading)], axis=1)
    arc, way = line.is_arc[piece], np.sign(line.angles[piece])
    inward = (np.where(arc[:, None], line.centres[piece], 0.0) - rows) * way[:, None]
    away = np.hypot(*inward.T)
    bent = arc & (away > 0)
    normal = np.where(bent[:, None], inward / np.where(away > 0, away, 1.0)[:, None], normal)
    radius = np.where(arc, way * np.where(arc, line.radii[piece], 0.0), 1e18)
    corners = np.asarray(line.corners)
    for vertex in (piece, piece + 1):  # nearest to a vertex: a fan about it
        arm = rows - line.vertices[vertex]
        apart = np.hypot(*arm.T)
        fan = (np.abs(apart - np.abs(d)) <= 1e-12 * (1 + apart)) & (apart > 0)
        fan &= np.abs(np.sum(normal * arm, axis=1)) < apart * (1 - 1e-12)
        unit = arm / np.where(apart > 0, apart, 1.0)[:, None]
        normal = np.where(fan[:, None], unit * np.sign(d)[:, None], normal)
        radius = np.where(fan & corners[vertex], 0.0, radius)
    return d, normal, -1.0 / (radius - d)


def hollow_radius(
    bevel: Bevel, plunge: Plunge, blade: Blade, points: ArrayLike, side: str
) -> Floats:
    """Return the least radius (K,) mm of the hollows in h(d) + f(s); inf where it hollows nowhere.

    ``points`` (K, 2) lie less than the plunge's radius past its line.
    """
    rows = rows_of(points)
    d, along_d, bend_d = distance_frame(rows, edge_curve(bevel, blade.outline))
    s, along_s, bend_s = distance_frame(rows, plunge.line)
    slope = slope_at(bevel, blade.thickness, side, d)
    curl = _profile_bend(bevel, blade.thickness, side, d, slope)
    left = np.sqrt(plunge.radius**2 - np.clip(s, 0.0, plunge.radius) ** 2)
    climb = np.clip(s, 0.0, plunge.radius) / left / math.cos(bevel.angle)
    lift = np.where(s >= 0, plunge.radius**2 / left**3 / math.cos(bevel.angle), 0.0)
    gradient = slope[:, None] * along_d + climb[:, None] * along_s
    across = [_second(along_d, curl, slope * bend_d), _second(along_s, lift, climb * bend_s)]
    xx, xy, yy = across[0] + across[1]
    p, q = gradient.T
    room = 1 + p**2 + q**2
    mean = ((1 + q**2) * xx - 2 * p * q * xy + (1 + p**2) * yy) / (2 * room**1.5)
    gauss = (xx * yy - xy**2) / room**2
    most = mean + np.sqrt(np.maximum(mean**2 - gauss, 0.0))
    return np.where(most > 0, 1 / np.where(most > 0, most, 1.0), np.inf)


def least_plunge_radius(bevel: Bevel, plunge: Plunge, blade: Blade, side: str) -> float:
    """Return the least radius in mm of the hollow along one plunge of the bevel.

    It is looked for at `STEPS` squared places between the plunge's line and where the surface
    reaches the flat or stands plumb. A straight plunge square to a straight edge of a flat bevel
    gives the plunge's own radius; slanted and bent ones give other figures.
    """
    width = grind_height(bevel, blade.thickness, side)
    line = across(plunge.line, blade.outline)
    _, places, headings = resample(line, max(width / STEPS, 0.02))
    d, _, _ = distance_frame(places, edge_curve(bevel, blade.outline))
    kept = np.flatnonzero((d >= 0) & (d <= width))
    if len(kept) == 0:
        return math.inf
    kept = kept[np.unique(np.linspace(0, len(kept) - 1, STEPS).astype(int))]
    past = plunge.radius * np.sin(np.linspace(0.0, 1.5, STEPS))
    left = np.stack([-np.sin(headings[kept]), np.cos(headings[kept])], axis=1)
    points = (places[kept][:, None] + past[None, :, None] * left[:, None]).reshape(-1, 2)
    d, s = (
        signed_line_distance(points, c) for c in (edge_curve(bevel, blade.outline), plunge.line)
    )
    height = height_at(bevel, blade.thickness, side, d) + rise(plunge.radius, bevel.angle, s)
    low = (height < blade.thickness / 2) & (s < plunge.radius) & (d >= -1e-9)
    if not low.any():
        return math.inf
    return float(hollow_radius(bevel, plunge, blade, points[low], side).min())


def _profile_bend(bevel: Bevel, thickness: float, side: str, d: Floats, slope: Floats) -> Floats:
    """h''(d) of an arc of radius R: (1 + h'^2)^1.5 / R, hollow positive; 0 on tangents."""
    radius = arc_radius(bevel, thickness, side)
    on = (d >= 0) & (d <= grind_height(bevel, thickness, side))
    sign = -1.0 if bevel.profile == "convex" else 1.0
    return np.where(on, sign * (1 + slope**2) ** 1.5 / radius, 0.0)


def _second(normal: Floats, square: Floats, along: Floats) -> Floats:
    """Second derivatives xx, xy, yy (3, K) of a function of one distance."""
    x, y = normal.T
    return np.stack(
        [square * x * x + along * y * y, (square - along) * x * y, square * y * y + along * x * x]
    )

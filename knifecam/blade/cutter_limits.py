"""Which cutter touches a recurve, a plunge, an inner corner: closed formulas.

Each is a number; `refusals` compares them with a blade's figures and says why it cannot be made.
Cutters are given by their radius R and corner radius r in mm: a ball has r = R, a flat end r = 0.

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

from knifecam.blade.bevel import SIDES, Bevel, Plunge, arc_radius, grind_height, height_at, slope_at
from knifecam.blade.bevel_geometry import (
    edge_angle,
    grind_angle,
    least_turn_radius,
    prolonged_across,
)
from knifecam.blade.blade import Blade, EdgeBreak
from knifecam.blade.blade_limits import PLUNGE_PLACES, VALUES_AGREE_MM
from knifecam.blade.finished_surface import break_curves, edge_curve, rise
from knifecam.curve import Curve, nearest, resample
from knifecam.curve.curve import Floats
from knifecam.curve.distance import reaching, rows_of, signed_line_distance
from knifecam.quantity import mm, most_mm


def contact_arm(radius: float, corner: float, slope: float) -> float:
    """Return how far the axis stands from where a cutter touches a slope, mm: R - r + r sin a.

    The corner's centre lies R - r from the axis; the normal of a face of ``slope`` rad leans from
    the axis by as much, and the corner's surface is r along it.
    """
    return radius - corner + corner * math.sin(slope)


def least_recurve(radius: float, corner: float, slope: float) -> float:
    """Return the least radius in mm of an edge that bends away from the blade: R - r + r sin a.

    The axis of a cutter that touches the edge itself runs `contact_arm` outside it. A recurve
    of a lesser radius has no parallel curve there: the cutter cannot touch all of it.
    """
    return contact_arm(radius, corner, slope)


def greatest_recurve_cutter(rho: float, corner: float, slope: float) -> float:
    """Return the greatest radius R in mm that still goes into a recurve of radius ``rho`` mm."""
    return rho + corner - corner * math.sin(slope)


def effective_plunge_radius(radius: float, corner: float, slope: float) -> float:
    """Return the radius in mm that a cutter leaves along a plunge: r + (R - r) / sin a.

    Running up a face of ``slope`` rad, the torus of the end is seen along the travel; in the section
    square to it the lowest place is curved like a torus at the angle a from its axis: the
    principal radius across is r + (R - r) / sin a. A ball gives R, a flat end R / sin a.
    """
    return corner + (radius - corner) / math.sin(slope)


def least_wheel(bevel: Bevel, thickness: float, side: str) -> float:
    """Return the wheel's radius in mm above which a hollow rises from the edge on: H / sin 2a.

    The chord c = H / cos a of a radius R stands at asin(c / 2R) to its end tangents; that must be
    less than the chord's own angle a, so R > H / (2 sin a cos a).
    """
    return grind_height(bevel, thickness, side) / math.sin(2 * bevel.angle)


def greatest_sag(bevel: Bevel, thickness: float, side: str) -> float:
    """Return the sag in mm below which a convex profile still rises at the grind line.

    An arc over a chord c whose end tangents stand at a to it has the sagitta (c / 2) tan(a / 2).
    """
    chord = grind_height(bevel, thickness, side) / math.cos(bevel.angle)
    return chord / 2 * math.tan(bevel.angle / 2)


def chamfer_axis(tip_radius: float, run: float, half_angle: float) -> float:
    """Return how far a chamfer mill's axis stands from the wall, mm: r_tip + k tan(half angle).

    ``run`` k is how far the tip lies below the lower border of the break.
    """
    return tip_radius + run * math.tan(half_angle)


def inner_corner(broken: EdgeBreak, blade: Blade) -> float:
    """Return the least radius in mm of inner corners along the break, as the mill sees them.

    The mill's axis runs `chamfer_axis` off the wall, in the waste: an inner corner of a lesser
    radius keeps the break. Outlines turn right there, openings' walls, counter-clockwise, left.
    """
    turn = "right" if broken.of == "outline" else "left"
    return min(least_turn_radius(curve, turn) for curve in break_curves(broken, blade))


def recurve(bevel: Bevel, blade: Blade) -> float:
    """Return the least radius in mm to which the edge bends away from the blade; inf for none."""
    return least_turn_radius(edge_curve(bevel, blade.outline), "right")


def steepest_edge(bevel: Bevel, thickness: float) -> float:
    """Return the greatest angle in rad of the bevel's profile at the edge, of its sides."""
    return max(edge_angle(bevel, thickness, side) for side in ("A", "B") if bevel.on(side))


def gentlest(bevel: Bevel, thickness: float) -> float:
    """Return the least angle in rad of the bevel's profile, of its sides: there a cutter acts largest."""
    return min(
        min(edge_angle(bevel, thickness, side), grind_angle(bevel, thickness, side))
        for side in ("A", "B")
        if bevel.on(side)
    )


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

    It is looked for at `PLUNGE_PLACES` squared places between the plunge's line and where the surface
    reaches the flat or stands plumb. A straight plunge square to a straight edge of a flat bevel
    gives the plunge's own radius; slanted and bent ones give other figures.
    """
    width = grind_height(bevel, blade.thickness, side)
    line = prolonged_across(plunge.line, blade.outline)
    _, places, headings = resample(line, max(width / PLUNGE_PLACES, 0.02))
    d, _, _ = distance_frame(places, edge_curve(bevel, blade.outline))
    kept = np.flatnonzero((d >= 0) & (d <= width))
    if len(kept) == 0:
        return math.inf
    kept = kept[np.unique(np.linspace(0, len(kept) - 1, PLUNGE_PLACES).astype(int))]
    past = plunge.radius * np.sin(np.linspace(0.0, 1.5, PLUNGE_PLACES))
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


def cutter_refused(bevel: Bevel, blade: Blade, *, radius: float, corner: float) -> tuple[str, ...]:
    """Return why a cutter of ``radius`` and ``corner`` mm cannot touch all of the bevel's edge."""
    slope = steepest_edge(bevel, blade.thickness)
    rho, least = recurve(bevel, blade), least_recurve(radius, corner, slope)
    if rho >= least - VALUES_AGREE_MM:
        return ()
    where = f"{bevel.path}: the edge's recurve of radius {mm(rho):.3f}"
    return (
        f"{where} is tighter than R - r + r sin a = {mm(least):.3f} of a cutter of"
        f" {mm(2 * radius):.3f} with corner={mm(corner):.3f}; use one of at most"
        f" {most_mm(2 * max(0.0, greatest_recurve_cutter(rho, corner, slope))):.3f} or widen the recurve",
    )


def plunge_cutter_refused(
    bevel: Bevel, blade: Blade, *, radius: float, corner: float
) -> tuple[str, ...]:
    """Return at which plunges a cutter of ``radius`` and ``corner`` mm would gouge."""
    lines = []
    acts = effective_plunge_radius(radius, corner, gentlest(bevel, blade.thickness))
    for plunge in bevel.plunges:
        for side in filter(bevel.on, SIDES):
            least = least_plunge_radius(bevel, plunge, blade, side)
            if not acts <= least + VALUES_AGREE_MM:
                lines.append(
                    f"{bevel.path}: plunge of radius={mm(plunge.radius):.3f} hollows side"
                    f"{bevel.rests('plunge_radius')}"
                    f" {side} to {mm(least):.3f}; a cutter of {mm(2 * radius):.3f} with"
                    f" corner={mm(corner):.3f} acts there like {mm(acts):.3f}; use a ball of at most"
                    f" {most_mm(2 * least):.3f}"
                )
    return tuple(lines)

"""The closed formulas behind what a blade and a cutter can do together.

Each is a number; `refusals` compares them with a blade's figures and says why it cannot be made.
Cutters are given by their radius R and corner radius r in mm: a ball has r = R, a flat end r = 0.
"""

from __future__ import annotations

import math

from knifecam.blade.bevel import Bevel
from knifecam.blade.blade import Blade
from knifecam.blade.broken import broken_curves
from knifecam.blade.edge_break import EdgeBreak
from knifecam.blade.figures import edge_angle, grind_angle, least_turn_radius
from knifecam.blade.profile import grind_height
from knifecam.blade.surface import edge_curve

LEAST_ANGLE, GREATEST_ANGLE = math.radians(1.5), math.radians(25.0)
"""rad: bevels a side; kitchen blades want 1.8 to 2.2 degrees (common practice)."""


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
    return min(least_turn_radius(curve, turn) for curve in broken_curves(broken, blade))


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

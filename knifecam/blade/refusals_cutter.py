"""Which cutters cannot make a blade: recurves, plunges and inner corners too tight for them."""

from __future__ import annotations

from knifecam.blade.bevel import SIDES, Bevel
from knifecam.blade.blade import Blade
from knifecam.blade.curvature import least_plunge_radius
from knifecam.blade.limits import (
    effective_plunge_radius,
    gentlest,
    greatest_recurve_cutter,
    inner_corner,
    least_recurve,
    recurve,
    steepest_edge,
)
from knifecam.quantity import mm, most_mm

SAME = 1e-6
"""mm: figures that differ by less agree."""


def cutter_refused(bevel: Bevel, blade: Blade, *, radius: float, corner: float) -> tuple[str, ...]:
    """Return why a cutter of ``radius`` and ``corner`` mm cannot touch all of the bevel's edge."""
    slope = steepest_edge(bevel, blade.thickness)
    rho, least = recurve(bevel, blade), least_recurve(radius, corner, slope)
    if rho >= least - SAME:
        return ()
    where = f"bevel '{bevel.name}': the edge's recurve of radius {mm(rho):.3f}"
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
            if not acts <= least + SAME:
                lines.append(
                    f"bevel '{bevel.name}': plunge of radius={mm(plunge.radius):.3f} hollows side"
                    f" {side} to {mm(least):.3f}; a cutter of {mm(2 * radius):.3f} with"
                    f" corner={mm(corner):.3f} acts there like {mm(acts):.3f}; use a ball of at most"
                    f" {most_mm(2 * least):.3f}"
                )
    return tuple(lines)


def break_cutter_refused(blade: Blade, *, axis: float) -> tuple[str, ...]:
    """Return which breaks have inner corners that a mill with its axis ``axis`` mm off keeps."""
    return tuple(
        f"edge break '{broken.name}': an inner corner of radius {mm(inner_corner(broken, blade)):.3f}"
        f" of {broken.of} is out of reach of an axis {mm(axis):.3f} off the wall; end the stretch"
        " before it, or use a mill with a smaller tip"
        for broken in blade.breaks
        if not inner_corner(broken, blade) >= axis - SAME
    )

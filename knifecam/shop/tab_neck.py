"""How wide a tab's neck along the blade's wall must be, so that it snaps there and not behind.

A round cutter that runs tangent to the wall leaves the neck widest at the wall: by its diameter more
than in the middle of its track. It still snaps at the wall where the fillet at its foot raises the
stress by more than that; so the neck is made wide enough, and the tab behind it must be too. That
fillet lies on the face toward side B, which is stretched when the blade is bent toward side A.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from knifecam.shop.cutter import Cutter
from knifecam.shop.order_record import FINISH, NECK, ROUGH, Cutting, Order, Tabs
from knifecam.shop.shop_limits import (
    LEAST_NECK_WIDTH_MM,
    PLANNED_NECK_FILLET_MM,
    SHARPEST_MM,
    WIDTH_STEP_MM,
)


def stress_raiser(thin: float, thick: float, fillet: float) -> float:
    """Return how many times a fillet between two thicknesses raises the stress of bending.

    ``1 + ((D/d - 1) / (5.37 D/d - 4.8) d/r) ^ 0.85`` for a stepped flat bar.

    References
    ----------
    Heywood, Designing by Photoelasticity, 1952 (the formula from memory).
    """
    step = thick / thin
    return float(1 + ((step - 1) / (5.37 * step - 4.8) * thin / max(fillet, SHARPEST_MM)) ** 0.85)


@dataclass(frozen=True, slots=True, kw_only=True)
class TabNeck:
    """A neck's sizes, mm.

    ``thickness`` as left; ``width`` of its narrow face in the middle of the cutter's track, where it
    is narrowest, and ``at_wall``; ``mean`` over its thickness, for its flanks are slanted. ``stub`` is
    how far what stays on the blade stands out: the fillets at its foot. ``waist`` is the least waist
    of the tab with which the neck snaps at the wall.
    """

    thickness: float
    width: float
    at_wall: float
    mean: float
    stub: float
    waist: float


def neck_of(order: Order) -> TabNeck:
    """Return the neck of the order's tabs."""
    rough, finish, neck = (order.cuttings(stage)[0] for stage in (ROUGH, FINISH, NECK))
    return neck_sizes(
        order.tabs,
        order.blade.thickness,
        small=order.cutter(neck.cutter),
        finish=order.cutter(finish.cutter),
        rough=(order.cutter(rough.cutter), rough),
    )


def neck_sizes(
    tabs: Tabs, thickness: float, *, small: Cutter, finish: Cutter, rough: tuple[Cutter, Cutting]
) -> TabNeck:
    """Return the neck of tabs; its width is the least with which it snaps at the wall.

    Bent by one moment it breaks where width over raised stress is least. Widths are means over the
    neck's thickness: m in the middle of the track of a cutter D wide, m + D at the wall, where the
    fillet raises the stress k times, so m >= D / (k - 1). Behind the neck the tab must not be
    narrower than what breaks at the wall.
    """
    foot = stress_raiser(tabs.neck, thickness, small.corner)
    back = stress_raiser(tabs.neck, tabs.thickness, small.corner)
    flank = 1 / math.tan(tabs.ramp_up) + 1 / math.tan(tabs.ramp_down)
    slant = tabs.neck * flank / 2
    width = max(LEAST_NECK_WIDTH_MM, _rounded_up(small.diameter / (foot - 1) - slant))
    at_wall = width + slant + small.diameter
    beyond = widened(finish, small.diameter) + (tabs.thickness - tabs.neck / 2) * flank
    return TabNeck(
        thickness=tabs.neck,
        width=width,
        at_wall=width + small.diameter,
        mean=width + slant,
        stub=stub_height(small, finish, rough),
        waist=max(0.0, _rounded_up(at_wall * back / foot - beyond)),
    )


def stub_height(small: Cutter, finish: Cutter, rough: tuple[Cutter, Cutting]) -> float:
    """Return how far off the wall a neck is thicker than its least by `PLANNED_NECK_FILLET_MM` or
    more, mm.

    The neck's cutter leaves its corner r at the foot, and so does side A's finishing cutter; side A's
    roughing cutter leaves its own beyond the wall's allowance: each rises by FOOT at r less
    sqrt(2 r FOOT).
    """
    corners = ((0.0, small.corner), (0.0, finish.corner), (rough[1].allowance, rough[0].corner))
    return max(
        away + r - math.sqrt(2 * r * min(PLANNED_NECK_FILLET_MM, r / 2)) for away, r in corners
    )


def widened(finish: Cutter, away: float) -> float:
    """Return by how much a tab is wider than its waist ``away`` mm off the wall, mm.

    The finishing cutter's circles on both sides of it touch the wall: D - 2 sqrt(R^2 - (R - a)^2).
    """
    half = math.sqrt(max(0.0, finish.radius**2 - (finish.radius - away) ** 2))
    return finish.diameter - 2 * half


def _rounded_up(value: float) -> float:
    return round(math.ceil(round(value / WIDTH_STEP_MM, 6)) * WIDTH_STEP_MM, 6)

"""Plain blades with details, for tests: jimping, patterns, edge breaks, necked tabs."""

from __future__ import annotations

import math
from dataclasses import replace

from knifecam.blade import EdgeBreak
from knifecam.blade.jimping import fitted_row
from knifecam.curve import Curve, Stretch, station_of
from knifecam.shop import Cutter, Order
from knifecam.shop.defaults import propose_cutting
from tests.agreement.orders import cutter, simple_order

LONG_LIFE = 600.0


def with_cutter(order: Order, added: Cutter, *stages: str) -> Order:
    """Return the order with one more cutter, working in stages as proposed."""
    entries = [replace(propose_cutting(added, stage), life=LONG_LIFE) for stage in stages]
    return replace(order, cutters=(*order.cutters, added), cutting=(*order.cutting, *entries))


def top_stretch(outline: Curve, right: float, left: float) -> Stretch:
    """Return the stretch of the plain blade's upper edge between two X, counter-clockwise."""
    start, end = station_of(outline, [(right, 10.0), (left, 10.0)])
    return Stretch(start=float(start), end=float(end))


def jimped(
    *, diameter: float = 2.5, depth: float = 0.45, pitch: float = 2.8, reach: float = 8.0
) -> Order:
    """Return the plain blade with jimping on its upper edge, by a 2 mm cutter."""
    order = simple_order()
    outline = order.blade.outline
    row = fitted_row(
        outline, top_stretch(outline, 20.0, 4.0), name="J1", diameter=diameter, depth=depth,
        pitch=pitch,
    )  # fmt: skip
    thin = replace(cutter(3, diameter=2.0), reach=reach, flute_length=min(4.0, reach))
    order = replace(order, blade=replace(order.blade, jimping=(row,)))
    return with_cutter(order, thin, "notch")


def chamfer_mill(number: int = 4, *, tip: float = 0.2, angle: float = math.pi / 4) -> Cutter:
    """Return a chamfer mill of 6 mm that breaks edges at ``angle`` rad against the face."""
    return Cutter(
        number=number, kind="chamfer", diameter=6.0, tip=tip, half_angle=math.pi / 2 - angle,
        flute_length=12.0, neck=5.9, reach=14.0, shank=6.0, stickout=24.0,
    )  # fmt: skip


def broken(*breaks: EdgeBreak, tip: float = 0.2, angle: float = math.pi / 4) -> Order:
    """Return the plain blade with edge breaks."""
    order = simple_order()
    order = replace(order, blade=replace(order.blade, breaks=breaks))
    return with_cutter(order, chamfer_mill(tip=tip, angle=angle), "break")


def necked(*, corner: float = 0.05, waist: float = 1.8, neck: float = 0.2) -> Order:
    """Return the plain blade with tabs necked by a 1 mm cutter."""
    order = simple_order()
    small = replace(cutter(5, diameter=1.0, corner=corner), flute_length=1.5, neck=0.9, reach=6.0)
    order = replace(order, tabs=replace(order.tabs, waist=waist, neck=neck))
    return with_cutter(order, small, "neck")

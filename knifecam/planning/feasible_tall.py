"""Which clamps and screws stand too tall beside the trench and the bores: closed inequalities.

The cutter's axis comes to within a known distance of them, and they reach a known height above its
tip: within that height nothing may turn that is wider than the distance.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.curve import Curve, resample
from knifecam.planning.standing import (
    SPARE,
    Thing,
    clamps_on,
    free_within,
    heads,
    too_tall,
    widest_within,
)
from knifecam.shop import Cutter, Cutting, Order
from knifecam.shop.depths import floors
from knifecam.shop.side_view import curve_on, height_on

SPACING = 0.1
"""mm between the places of the outline at which the distance to a clamp is taken."""


def tall(order: Order) -> Iterator[str]:
    """Cutters, shanks and holders pass what stands above the plate, as deep as they go there."""
    deep, outline = floors(order), order.blade.outline
    for side, floor in (("A", deep.a_rough), ("B", height_on("B", deep.b_finish))):
        seen = curve_on(side, outline, order.setup.flip)
        for thing in clamps_on(order, side):
            gap = _beside(seen, thing)
            yield from _along_trench(order, thing, gap, floor, beyond=True)
            yield from _at_bores(order, thing) if side == "A" else ()
        for head in heads(order) if side == "B" else ():
            yield from _along_trench(order, head, _beside(seen, head), floor, beyond=False)


def _beside(outline: Curve, thing: Thing) -> float:
    """Return how far a thing stands from the outline's wall, mm."""
    return float(thing.away(resample(outline, SPACING)[1]).min())


def _along_trench(
    order: Order, thing: Thing, gap: float, floor: float, *, beyond: bool
) -> Iterator[str]:
    """Yield why the trench's cutters do not pass a thing ``gap`` mm off the wall.

    It stands ``beyond`` the trench, or on the blade, on the wall's other side.
    """
    for stage in ("rough", "finish"):
        for entry in order.cuttings(stage):
            cutter = order.cutter(entry.cutter)
            room = gap - _outermost(order, entry, cutter) if beyond else gap + cutter.radius
            yield from _passing(order, thing, cutter, room, floor, f"in stage '{stage}'")


def _outermost(order: Order, entry: Cutting, cutter: Cutter) -> float:
    """Return how far from the wall the axis goes, mm."""
    if entry.stage == "finish":
        return cutter.radius
    return max(cutter.radius + entry.allowance, order.trench.width - cutter.radius)


def _at_bores(order: Order, thing: Thing) -> Iterator[str]:
    """Yield why no cutter that bores on side A passes a clamp there."""
    deep, half = floors(order), order.blade.thickness / 2
    for bore in (*order.blade.bores, *order.setup.registration.bores):
        if bore.both_sides:
            continue  # it stops midway; what its passes meet is measured as they are planned
        floor = deep.a_bore if bore.depth is None else half - bore.depth
        away = float(thing.away(np.array([bore.centre]))[0])
        lines: list[str] = []
        for entry in order.cuttings("bore"):
            cutter = order.cutter(entry.cutter)
            room = away - (bore.diameter / 2 - cutter.radius)
            found = list(_passing(order, thing, cutter, room, floor, f"over bore '{bore.name}'"))
            if not found:
                break
            lines += found
        else:
            yield from lines


def _passing(
    order: Order, thing: Thing, cutter: Cutter, room: float, floor: float, where: str
) -> Iterator[str]:
    """Yield why a cutter whose axis stays ``room`` mm off does not pass, its tip at ``floor``."""
    above = order.blade.thickness / 2 + thing.height - floor
    lacking = float(widest_within(cutter, np.array([above]))[0]) - (room - SPARE)
    if lacking > 0:
        lower = above - float(free_within(cutter, np.array([room - SPARE]))[0])
        yield too_tall(thing, cutter, where=where, lower=lower, further=lacking)

"""Random orders with details, each from a seed: jimping, edge breaks and necks on good orders.

Nobody has looked whether they can be made.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from knifecam.blade import EdgeBreak, Jimping
from knifecam.blade.jimping import fitted_row
from knifecam.curve import Stretch
from knifecam.shop import Cutter, Order
from knifecam.shop.cutter import CHAMFER
from knifecam.shop.defaults import propose_cutter, propose_cutting
from tests.agreement.good_orders import good_order

Rng = np.random.Generator

LONG_LIFE = 300.0


def detailed_order(index: int) -> Order:
    """Return the order of that index."""
    return with_details(np.random.default_rng([77, index]), good_order(index))


def with_details(rng: Rng, order: Order) -> Order:
    """Return the order with jimping, edge breaks and necks, each by chance."""
    order = replace(order, cutting=tuple(replace(c, life=LONG_LIFE) for c in order.cutting))
    if rng.random() < 0.5:
        order = jimped(rng, order)
    if rng.random() < 0.7:
        order = broken(rng, order)
    if rng.random() < 0.4:
        order = necked(rng, order)
    return order


def working(order: Order, cutter: Cutter, stage: str) -> Order:
    """Return the order with one more cutter, working as proposed."""
    entry = replace(propose_cutting(cutter, stage, mill=order.setup.mill), life=LONG_LIFE)
    return replace(order, cutters=(*order.cutters, cutter), cutting=(*order.cutting, entry))


def jimped(rng: Rng, order: Order) -> Order:
    outline = order.blade.outline
    start, room = rng.uniform(0, outline.length), rng.uniform(6, 25)
    row: Jimping = fitted_row(
        outline, Stretch(start=start, end=(start + room) % outline.length), name="J1",
        diameter=float(rng.choice([2.0, 2.5, 3.0])), depth=float(rng.choice([0.4, 0.45, 0.5])),
        pitch=float(rng.uniform(2.4, 3.5)),
    )  # fmt: skip
    order = replace(order, blade=replace(order.blade, jimping=(row,)))
    return working(order, propose_cutter(30, "flat", float(rng.choice([1.5, 1.6, 2.0]))), "notch")


def broken(rng: Rng, order: Order) -> Order:
    blade, outline = order.blade, order.blade.outline
    width, angle = float(rng.choice([0.2, 0.25, 0.3, 0.4])), float(rng.choice([45, 45, 30, 60]))
    found = []
    for side in "AB":
        start, room = rng.uniform(0, outline.length), rng.uniform(5, 0.5 * outline.length)
        stretches = (Stretch(start=start, end=(start + room) % outline.length),)
        for row in blade.jimping:
            low, high = row.stretch.end + 0.5, row.stretch.start - 0.5
            stretches = (Stretch(start=low % outline.length, end=high % outline.length),)
        if not blade.jimping and rng.random() < 0.6:
            stretches = ()
        one = EdgeBreak(
            name="E1", of="outline", side=side, width=width, angle=math.radians(angle),
            stretches=stretches,
        )  # fmt: skip
        found += [one] if rng.random() < 0.8 else []
        found += [
            replace(one, name="E2", of=opening.name, stretches=())
            for opening in (*blade.bores, *blade.slots)
            if rng.random() < 0.5
        ]
    order = replace(order, blade=replace(blade, breaks=tuple(found)))
    return working(order, chamfer_mill(rng, angle), "break")


def chamfer_mill(rng: Rng, angle: float) -> Cutter:
    mill = replace(
        propose_cutter(31, CHAMFER, float(rng.choice([4.0, 6.0]))),
        half_angle=math.radians(90 - angle), tip=float(rng.choice([0.1, 0.2, 0.5, 1.0])),
    )  # fmt: skip
    flutes = max(mill.flute_length, mill.cone_height)
    reach = max(mill.reach, flutes + 0.5)
    return replace(
        mill, flute_length=flutes, reach=reach, stickout=max(mill.stickout, reach + 12)
    )  # fmt: skip


def necked(rng: Rng, order: Order) -> Order:
    waist = max(order.tabs.waist, float(rng.choice([1.5, 2.0, 2.5])))
    order = replace(
        order, tabs=replace(order.tabs, neck=float(rng.choice([0.15, 0.2, 0.25])), waist=waist)
    )
    corner, diameter = float(rng.choice([0.0, 0.05, 0.1])), float(rng.choice([1.0, 1.2, 1.5]))
    kind = "bull-nose" if corner else "flat"
    small = propose_cutter(32, kind, diameter, corner=corner or None)
    return working(order, replace(small, reach=8.0, stickout=22.0), "neck")

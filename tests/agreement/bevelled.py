"""A small blade with a bevel and its plunge, for tests: 44 x 16 x 2.5 mm, 12 degrees a side."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from knifecam.blade import Bevel, Blade, Bore, Plunge
from knifecam.curve import Curve, Stretch, station_of
from knifecam.shop import Cutter, Mill, Order, Plate, Setup, Tabs
from knifecam.shop.cutter_choice import choose_cutters
from knifecam.shop.defaults import propose_cutter, propose_cutting, propose_trench
from tests.agreement.orders import rounded

THICK, ANGLE_DEG, LAND, PLUNGE_RADIUS = 2.5, 12.0, 0.4, 5.0
FRAME = 18.0
LONG_LIFE = 600.0


def cutters() -> tuple[Cutter, ...]:
    """Two end mills of 3 mm, a bull-nose of 4 mm and a ball of 4 mm."""
    return (
        propose_cutter(1, "bull-nose", 3.0, corner=0.1),
        propose_cutter(2, "bull-nose", 3.0, corner=0.1),
        propose_cutter(3, "bull-nose", 4.0, corner=0.5),
        propose_cutter(4, "ball", 4.0),
    )


def outline() -> Curve:
    return rounded(-22.0, -8.0, 22.0, 8.0, 3.0)


def bevel(**changes: object) -> Bevel:
    """Return the bevel on the lower edge, to the right of its plunge at x = -6."""
    start, end = station_of(outline(), [(-12.0, -8.0), (19.0, -8.0)])
    line = Curve(np.array([(-6.0, -30.0), (-6.0, 30.0)]), np.zeros(2), closed=False)
    made = Bevel(
        name="main", edge=Stretch(start=float(start), end=float(end)),
        angle=math.radians(ANGLE_DEG), land=LAND,
        plunges=(Plunge(line=line, radius=PLUNGE_RADIUS),),
    )  # fmt: skip
    return replace(made, **changes)  # type: ignore[arg-type]


def bevelled_order(**changes: object) -> Order:
    """Return the order; ``changes`` are those of the bevel."""
    blade = Blade(
        outline=outline(), thickness=THICK, bevels=(bevel(**changes),),
        bores=(Bore(name="B1", centre=(-15.0, 1.0), diameter=5.0),),
    )  # fmt: skip
    return order_for(blade)


def order_for(blade: Blade) -> Order:
    """Return an order for a blade, everything not stated as proposed."""
    low_x, low_y, high_x, high_y = blade.outline.bounds
    thick = blade.thickness
    corner = (low_x - FRAME, low_y - FRAME)
    plate = Plate(
        length=high_x - low_x + 2 * FRAME, width=high_y - low_y + 2 * FRAME, thickness=thick,
        corner=corner,
        measured=tuple((x, y, thick) for x in (low_x, high_x) for y in (low_y, high_y)),
    )  # fmt: skip
    own = cutters()
    by_number = {c.number: c for c in own}
    cutting = tuple(
        replace(propose_cutting(by_number[number], stage, blade=blade), life=LONG_LIFE)
        for stage, number in choose_cutters(own, blade)
    )
    rough = next(c for c in cutting if c.stage == "rough")
    finish = next(c for c in cutting if c.stage == "finish")
    trench = propose_trench(
        thick, by_number[rough.cutter], by_number[finish.cutter], rough.allowance
    )
    return Order(
        name="small bevelled blade", blade=blade,
        setup=Setup(plate=plate, mill=Mill(), datum=(corner, corner)), cutters=own,
        cutting=cutting, tabs=Tabs(count=2), trench=trench,
    )  # fmt: skip

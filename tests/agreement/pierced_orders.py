"""Random orders of blades with bores and slots in and beside their bevels, each from a seed.

Bevels flat, hollow or convex, on one side or on both; openings anywhere in them, across the grind
line and in the plunge, round or not, fitted, blind, met from both sides, now and then with their
edges broken; skins opened 0 to 0.5 mm wider, or a relieved fixture. Nobody has looked whether they can
be made.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from knifecam.blade import Blade, Bore, EdgeBreak, Slot
from knifecam.curve import circle, distance, rectangle, resample, signed_distance
from knifecam.shop import Boring, Order, Tabs
from knifecam.shop.defaults import propose_cutter
from tests.agreement.bevel_blades import across, between, ordered, rounded_polygon
from tests.agreement.details import chamfer_mill
from tests.agreement.good_orders import tidy
from tests.agreement.orders import rounded
from tests.agreement.wider_orders import LONG_LIFE, ground

Rng = np.random.Generator

LENGTH, WIDTH = 44.0, 20.0

RELIEFS = (0.0, 0.02, 0.04, 0.04, 0.08, 0.14, 0.25, 0.5)


def pierced_order(index: int) -> Order:
    """Return the order of that index."""
    rng = np.random.default_rng([47, index])
    thickness = tidy(rng.uniform(2.0, 4.5))
    blade = pierced_blade(rng, thickness)
    corner = float(rng.choice([0.05, 0.1, 0.1, 0.13]))
    ends = [propose_cutter(k, "bull-nose", 2.0, corner=corner) for k in (1, 2)]
    cutters = [
        *(replace(c, flute_length=max(5.2, c.flute_length), reach=8.0) for c in ends),
        propose_cutter(3, "bull-nose", 6.0, corner=1.0), propose_cutter(4, "ball", 5.0),
        replace(chamfer_mill(5), diameter=2.0, tip=0.1, flute_length=0.95, neck=1.9, reach=6.0),
    ]  # fmt: skip
    tabs = Tabs(count=3, waist=1.5, thickness=0.4)
    order = ordered(
        blade, cutters, name=f"pierced {index}", border=26.0, tabs=tabs,
        flip=str(rng.choice(["X", "Y"])),
    )  # fmt: skip
    order = replace(order, cutting=tuple(replace(c, life=LONG_LIFE) for c in order.cutting))
    boring = Boring(oversize=float(rng.choice(RELIEFS)), skin=float(rng.choice([0.15, 0.25, 0.6])))
    if rng.random() < 0.15:
        setup = replace(order.setup, fixture_allowance=1.0)
        return replace(order, setup=setup, boring=Boring(opening="relieved", through=0.4))
    return replace(order, boring=boring)


def pierced_blade(rng: Rng, thickness: float) -> Blade:
    """Return a bar with one bevel along its lower edge and one to three openings in or beside it."""
    outline = rounded_polygon(
        [(-24.0, 0.0, 3.0), (LENGTH, 0.0, 0.0), (LENGTH, WIDTH, 3.0), (-24.0, WIDTH, 3.0)]
    )
    bevel = ground(rng, thickness, 0.6 * WIDTH, between(outline, (2.5, 0.0), (LENGTH, 0.0)))
    at = float(rng.uniform(4.0, 10.0))
    plunge = across((at, -60.0), (at, 60.0), radius=bevel.plunges[0].radius)
    blade = Blade(outline=outline, thickness=thickness, bevels=(replace(bevel, plunges=(plunge,)),))
    for k in range(int(rng.integers(1, 4))):
        blade = with_opening(rng, blade, k)
    if rng.random() < 0.2:
        of = rng.choice([one.name for one in (*blade.bores, *blade.slots)])
        broken = EdgeBreak(name="E1", of=str(of), side=str(rng.choice(["A", "B"])), width=0.3)
        blade = replace(blade, breaks=(broken,))
    return blade


def with_opening(rng: Rng, blade: Blade, number: int) -> Blade:
    """Return the blade with one more bore or slot, where there is metal for it."""
    for _ in range(40):
        x, y = tidy(rng.uniform(2.0, LENGTH - 5.0)), tidy(rng.uniform(4.5, WIDTH - 4.0))
        if rng.random() < 0.7:
            wide = float(rng.choice([3.0, 4.0, 5.0, 6.35]))
            more: Bore | Slot = Bore(
                name=f"B{number}", centre=(x, y), diameter=wide, fitted=bool(rng.random() < 0.2),
                both_sides=bool(rng.random() < 0.15),
            )  # fmt: skip
            wall = circle((x, y), wide)
        else:
            long, high = tidy(rng.uniform(4.0, 12.0)), float(rng.choice([3.0, 4.0, 5.0]))
            wall = rounded(x, y, x + long, y + high, 1.4)
            if rng.random() < 0.3:
                wall = rectangle(x, y, x + long, y + high)
            more = Slot(name=f"S{number}", outline=wall)
        if roomy(blade, wall):
            break
    else:
        return blade
    if isinstance(more, Bore):
        return replace(blade, bores=(*blade.bores, more))
    return replace(blade, slots=(*blade.slots, more))


def roomy(blade: Blade, wall) -> bool:
    """Tell whether an opening leaves 1.6 mm of metal to the outline and to the others."""
    places = resample(wall, 0.2)[1]
    if signed_distance(places, blade.outline).min() < 1.6:
        return False
    others = [circle(b.centre, b.diameter) for b in blade.bores]
    others += [s.outline for s in blade.slots]
    return all(
        distance(places, one).min() > 1.6 and signed_distance(places[:1], one)[0] < 0.0
        for one in others
    )

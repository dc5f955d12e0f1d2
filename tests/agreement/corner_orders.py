"""Random orders with inner corners from sharp to 3 mm, each from a seed.

Outlines with a notch in the back, a guard, or both; slots whose corners are sharp, rounded or a
hair wider than the cutter; cutters of 2 to 4 mm, the finishing one now and then thinner or
thicker; plates 2.5 to 5 mm thick. Nobody has looked whether they can be made.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from knifecam.blade import Blade, Slot
from knifecam.curve import Curve
from knifecam.shop import Cutter, Order
from knifecam.shop.defaults import propose_cutter, propose_tabs, propose_trench, wall_stock
from tests.agreement.good_orders import (
    Rng,
    assembled,
    filleted,
    openings,
    stands_free,
    tabs_of,
    tidy,
)

LONG_LIFE = 300.0


def corner_order(index: int) -> Order:
    """Return the order of that index."""
    rng = np.random.default_rng([31, index])
    thickness = tidy(rng.choice([2.5, 3.0, 3.5, 4.0, 5.0]) + rng.uniform(-0.03, 0.03), 3)
    length, width = tidy(rng.uniform(55, 110), 1), tidy(rng.uniform(18, 34), 1)
    cutters = mills(rng, thickness)
    outline = without_stubs(guarded(rng, length, width, cutters[0].radius))
    bores, _ = openings(rng, outline, cutters[-1].diameter)
    slots = slot_in(rng, outline, cutters, [])
    if slots:
        bores = ()
    tabs = replace(propose_tabs(thickness, length), count=int(rng.integers(2, 4)))
    trench = propose_trench(thickness, cutters[0], cutters[1], wall_stock(cutters[0].diameter))
    blade = Blade(outline=outline, thickness=thickness, bores=bores, slots=slots)
    order = assembled(rng, index, blade, cutters, tabs_of(rng, tabs, outline), trench)
    entries = tuple(replace(c, life=LONG_LIFE) for c in order.cutting)
    return replace(order, name=f"corner order {index}", cutting=entries)


def mills(rng: Rng, thickness: float) -> tuple[Cutter, ...]:
    """Return two cutters for the outline, alike or not, and now and then a thinner one."""
    sizes = [d for d in (2.0, 2.5, 3.0, 3.5, 4.0) if d >= 0.55 * thickness]
    size = float(rng.choice(sizes))
    diameters = [tidy(size - rng.uniform(0, 0.04), 3) for _ in range(2)]
    if rng.random() < 0.3:
        diameters.append(sizes[0])
    corner = float(rng.choice([0.0, 0.05, 0.1]))
    made = []
    for number, diameter in enumerate(diameters, start=1):
        one = propose_cutter(number, "bull-nose" if corner else "flat", diameter, corner=corner)
        flutes = tidy(max(2 * diameter, thickness + 0.3))
        made.append(replace(one, flute_length=flutes, reach=tidy(max(one.reach, flutes))))
    return tuple(made)


def inner_radius(rng: Rng, radius: float) -> float:
    """Return the radius of an inner corner: sharp, round, or near the cutter's own."""
    kind = rng.integers(3)
    if kind == 0:
        return 0.0
    return tidy(rng.uniform(0.1, 3.0) if kind == 1 else radius + rng.uniform(-0.05, 0.15), 3)


def guarded(rng: Rng, length: float, width: float, radius: float) -> Curve:
    """Return a blade with a guard below, a notch in its back, or both; inner corners by chance."""
    x, y = length / 2, width / 2
    step, end = tidy(rng.uniform(3.2, 0.3 * width)), tidy(rng.uniform(1.5, 4.0))
    points, radii = [(-x, -y)], [end]
    if rng.random() < 0.6:
        at = tidy(rng.uniform(-0.3, 0.1) * length)
        lean = tidy(rng.uniform(-0.3, 0.8) * step)
        points += [(at, -y), (at + lean, -y + step), (x, -y + step)]
        radii += [0.5, inner_radius(rng, radius), end]
    else:
        points, radii = [*points, (x, -y)], [*radii, end]
    points, radii = [*points, (x, y)], [*radii, end]
    if len(points) == 3 or rng.random() < 0.6:
        wide = tidy(rng.uniform(4.4, 8.0) * radius)
        at, deep = tidy(rng.uniform(-0.1, 0.3) * length), tidy(rng.uniform(1.5, 4.0))
        corners = inner_radius(rng, radius), inner_radius(rng, radius)
        points += [(at + wide / 2, y), (at + wide / 2, y - deep)]
        points += [(at - wide / 2, y - deep), (at - wide / 2, y)]
        fitting = [min(r, deep - 0.6) for r in corners]
        radii += [0.5, *fitting, 0.5]
    return filleted([*points, (-x, y)], [*radii, end])


def without_stubs(curve: Curve) -> Curve:
    """Return the curve without the pieces of no length that sharp corners leave."""
    long_enough = np.hypot(*(np.roll(curve.vertices, -1, axis=0) - curve.vertices).T) > 1e-9
    return Curve(curve.vertices[long_enough], curve.bulges[long_enough])


def slot_in(
    rng: Rng, outline: Curve, cutters: tuple[Cutter, ...], taken: list[Curve]
) -> tuple[Slot, ...]:
    """Return one slot with metal all round, most times."""
    x0, y0, x1, y1 = outline.bounds
    smallest = cutters[-1].diameter
    for _ in range(60 if rng.random() < 0.8 else 0):
        half = tidy(rng.uniform(0.56, 1.6) * smallest), tidy(rng.uniform(1.0, 4.0) + smallest)
        x, y = tidy(rng.uniform(x0, x1)), tidy(0.5 * rng.uniform(y0, y1))
        corners = [(x - half[1], y - half[0]), (x + half[1], y - half[0]),
                   (x + half[1], y + half[0]), (x - half[1], y + half[0])]  # fmt: skip
        if rng.random() < 0.3:
            corners[2] = (x + half[1] - tidy(rng.uniform(0.0, half[1])), y + half[0])
        round_ = [min(inner_radius(rng, smallest / 2), 0.9 * half[0]) for _ in corners]
        curve = without_stubs(filleted(corners, round_))
        if stands_free(curve, outline, taken):
            return (Slot(name="S1", outline=curve),)
    return ()

"""Random orders of blades with bevels, each from a seed: what makers of many kinds might ask for.

Blades 60 to 140 mm long with a needle tip, a sheepsfoot, a cleaver's front, a recurve or a choil;
1.5 to 25 degrees a side, plates of 2 to 6 mm, lands of 0.1 to 0.8 mm, cutters of 1 to 8 mm; flat,
hollow or convex, on both sides or on one. Nobody has looked whether they can be made.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from knifecam.blade import Bevel, Blade, Bore, grind_height
from knifecam.blade.cutter_limits import greatest_sag, least_wheel
from knifecam.curve import Curve
from knifecam.shop import Cutter, Order, Tabs
from knifecam.shop.defaults import propose_cutter, propose_tabs
from tests.agreement.bevel_blades import Corner, across, between, ordered, rounded_polygon

Rng = np.random.Generator
Point = tuple[float, float]


def needle(rng: Rng, length: float, width: float) -> tuple[list[Corner], Point, Point]:
    """Return corners, heel and tip: a belly that rises to a point below the back."""
    belly, rise = rng.uniform(0.3, 0.6) * length, rng.uniform(0.4, 0.9) * width
    radius = round(rng.uniform(0.5, 1.0) * belly, 1)
    tip = (length, rise)
    corners = [(length - belly, 0.0, radius), (*tip, 0.0), (0.6 * length, width, 60.0)]
    return corners, (0.0, 0.0), tip


def sheepsfoot(rng: Rng, length: float, width: float) -> tuple[list[Corner], Point, Point]:
    """A straight edge; the back comes down to it."""
    tip = (length, 0.0)
    return [(*tip, 0.0), (length - 0.9 * width, width, round(1.2 * width, 1))], (0.0, 0.0), tip


def cleaver(rng: Rng, length: float, width: float) -> tuple[list[Corner], Point, Point]:
    """A straight edge and a front square to it."""
    tip = (length, 0.0)
    return [(*tip, 0.0), (length, width, 3.0)], (0.0, 0.0), tip


def recurved(rng: Rng, length: float, width: float) -> tuple[list[Corner], Point, Point]:
    """An edge drawn in, then a belly."""
    deep = rng.uniform(0.02, 0.06) * length
    radius = round(rng.uniform(15.0, 120.0), 1)
    tip = (length, 0.7 * width)
    corners = [
        (0.3 * length, deep, radius), (0.68 * length, -deep, round(0.3 * length, 1)), (*tip, 0.0),
        (0.6 * length, width, 50.0),
    ]  # fmt: skip
    return corners, (0.0, 0.0), tip


FORMS: tuple[Callable[[Rng, float, float], tuple[list[Corner], Point, Point]], ...] = (
    needle, sheepsfoot, cleaver, recurved,
)  # fmt: skip


def outlined(rng: Rng, form: int) -> tuple[Curve, Point, Point, float, float]:
    """Return outline, heel and tip of the edge, its length, and the blade's width."""
    length, width = round(rng.uniform(35, 90), 1), round(rng.uniform(14, 32), 1)
    front, heel, tip = FORMS[form](rng, length, width)
    tang, choil = round(rng.uniform(30, 60), 1), bool(rng.random() < 0.5)
    drop = round(rng.uniform(2.5, 6.0), 1) if choil else 0.0
    back: list[Corner] = [(-tang, width, 5.0), (-tang, 0.15 * width, 5.0)]
    neck: list[Corner] = [(-11.0, 0.15 * width, 4.5), (-9.0, -drop, 1.0), (-4.5, -drop, 1.0)]
    low = [*neck, (0.0, 0.0, 4.5)] if choil else [(-8.0, 0.15 * width, 6.0), (0.0, 0.0, 1.5)]
    outline = rounded_polygon([*low, *front, *back])
    return outline, heel, tip, length, width


def profiled(rng: Rng, bevel: Bevel, thickness: float) -> dict[str, object]:
    """Return what makes a bevel hollow or convex, now and then."""
    choice = rng.random()
    if choice < 0.6:
        return {}
    sides = [s for s in "AB" if bevel.on(s)]
    if choice < 0.8:
        least = max(least_wheel(bevel, thickness, s) for s in sides)
        return {"profile": "hollow", "wheel": round(float(least * rng.uniform(1.2, 4.0)), 2)}
    most = min(greatest_sag(bevel, thickness, s) for s in sides)
    return {"profile": "convex", "sag": round(float(most * rng.uniform(0.2, 0.8)), 4) or 1e-4}


def cutters_for(rng: Rng) -> tuple[Cutter, ...]:
    """Return what stands on the shelf: end mills, a bull-nose cutter, a ball."""
    mill = float(rng.choice([1.0, 1.5, 2.0, 2.5, 3.0, 4.0]))
    nose = float(rng.choice([3.0, 4.0, 6.0, 8.0]))
    corner = float(rng.choice([0.3, 0.5, 1.0]))
    ball = float(rng.choice([3.0, 4.0, 5.0, 6.0]))
    return (
        propose_cutter(1, "bull-nose", mill, corner=0.1),
        propose_cutter(2, "bull-nose", mill, corner=0.1),
        propose_cutter(3, "bull-nose", nose, corner=corner),
        propose_cutter(4, "ball", ball),
    )


def random_bevel_order(index: int) -> Order:
    """Return the order of that index."""
    rng = np.random.default_rng([31, index])
    outline, heel, tip, length, width = outlined(rng, index % len(FORMS))
    thickness = round(float(rng.uniform(2.0, 6.0)), 2)
    land = round(float(rng.uniform(0.1, 0.8)), 2)
    sides = str(rng.choice(["both", "both", "both", "A", "B"]))
    flush = (thickness - land) / 2
    edge_at = {"both": 0.0, "A": -flush, "B": flush}[sides]
    rise = flush if sides == "both" else thickness - land
    wanted = rise / (rng.uniform(0.25, 0.85) * width)
    free = math.tan(math.radians(rng.uniform(1.5, 25.0)))
    angle = math.atan(min(max(wanted if rng.random() < 0.7 else free, 0.0262), 0.4663))
    lean = rng.uniform(-0.3, 0.3)
    at = rng.uniform(6.0, 14.0)
    plunge = across(
        (at - 60 * lean, -60.0), (at + 60 * lean, 60.0), radius=round(rng.uniform(3.0, 8.0), 1)
    )
    bevel = Bevel(
        name="edge", edge=between(outline, (heel[0] + 2.5, heel[1]), tip), angle=float(angle),
        land=land, sides=sides, edge_at=edge_at, plunges=(plunge,),
    )  # fmt: skip
    if grind_height(bevel, thickness, "A" if bevel.on("A") else "B") > 0:
        changes = {name: getattr(bevel, name) for name in bevel.__dataclass_fields__}
        bevel = Bevel(**(changes | profiled(rng, bevel, thickness)))  # type: ignore[arg-type]
    bores = (Bore(name="B1", centre=(-20.0, 0.6 * width), diameter=5.0),)
    blade = Blade(outline=outline, thickness=thickness, bevels=(bevel,), bores=bores)
    tabs = propose_tabs(thickness, length)
    tabs = Tabs(count=int(rng.integers(2, 4)), waist=tabs.waist, thickness=tabs.thickness)
    return ordered(
        blade, cutters_for(rng), name=f"bevelled {index}", border=30.0, tabs=tabs,
        flip=str(rng.choice(["X", "Y"])),
    )  # fmt: skip

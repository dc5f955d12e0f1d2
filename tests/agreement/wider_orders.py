"""Random orders of every kind a shop may ask for, each from a seed: good, bevelled, detailed.

They widen `good_orders.py`, `bevel_orders.py` and `detailed_orders.py` by what those lack: daggers,
guards with fillets, inner corners from sharp to 3 mm, bays that the trench's cutter closes, tabs
stated by station beside clearings, cutters that the order forces on a stage, programs in inches,
reliefs from 0 to 0.5 mm, clamps and screws. `features.py` tells which of them an order has. Nobody
has looked whether they can be made.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from shapely import Polygon

from knifecam.blade import Bevel, Blade, Bore, grind_height
from knifecam.curve import Curve, Stretch, circle, signed_distance
from knifecam.shop import Cutter, Mill, Order, Tabs, Workholding
from knifecam.shop.cutter_choice import choose_cutters
from knifecam.shop.defaults import (
    propose_cutter,
    propose_cutting,
    propose_tabs,
    propose_trench,
)
from knifecam.shop.order_record import FINISH, ROUGH, SLOT
from tests.agreement.bevel_blades import Corner, across, between, ordered, rounded_polygon
from tests.agreement.bevel_orders import FORMS as FRONTS
from tests.agreement.bevel_orders import cutters_for, profiled
from tests.agreement.corner_orders import guarded, inner_radius, slot_in, without_stubs
from tests.agreement.detailed_orders import with_details
from tests.agreement.good_orders import clamps, filleted, good_order, tidy

Rng = np.random.Generator
Point = tuple[float, float]

LONG_LIFE = 300.0

FIRST = 10_000
"""Seeds of good orders below this are those of `good_orders.py`."""


def wider_good(index: int) -> Order:
    """Return the good order of that index."""
    rng = np.random.default_rng([41, index])
    chance = rng.random()
    form = notched if chance < 0.3 else closing if chance < 0.45 else None
    order = replace(good_order(FIRST + index, form=form), name=f"good {index}")
    if rng.random() < 0.3:
        order = slotted(rng, order)
    if rng.random() < 0.15:
        order = replace(order, tabs=replace(order.tabs, stations=spread(rng, order)))
    return widened(rng, order)


def wider_detailed(index: int) -> Order:
    """Return the good order of that index with jimping, edge breaks and necks by chance."""
    rng = np.random.default_rng([42, index])
    return replace(with_details(rng, wider_good(FIRST + index)), name=f"detailed {index}")


def wider_bevel(index: int) -> Order:
    """Return the bevelled order of that index: a dagger, a blade with a guard, or a plainer one."""
    rng = np.random.default_rng([43, index])
    cutters = thick_enough(cutters_for(rng), thickness := tidy(rng.uniform(2.0, 6.0)))
    make = dagger if rng.random() < 0.25 else single
    blade = make(rng, thickness, cutters[0].radius)
    low, _, high, _ = blade.outline.bounds
    usual = propose_tabs(thickness, high - low)
    tabs = Tabs(count=int(rng.integers(2, 4)), waist=usual.waist, thickness=usual.thickness)
    order = ordered(
        blade, cutters, name=f"bevelled {index}", border=30.0, tabs=tabs,
        flip=str(rng.choice(["X", "Y"])),
    )  # fmt: skip
    if rng.random() < 0.5:
        order = replace(order, cutting=tuple(replace(c, life=LONG_LIFE) for c in order.cutting))
    if rng.random() < 0.3:
        order = replace(order, tabs=replace(order.tabs, stations=beside_edges(rng, order)))
    if rng.random() < 0.3:
        order = screwed(rng, order)
    if rng.random() < 0.3:
        setup = order.setup
        held = clamps(rng, setup.plate, setup.datum, setup.flip, ())
        order = replace(order, setup=replace(setup, clamps=held))
    return widened(rng, order)


# --- outlines ------------------------------------------------------------------------------------
def notched(rng: Rng, length: float, width: float, radius: float) -> Curve:
    """Return a plain blade with a guard, a notch, or both, and inner corners by chance."""
    return without_stubs(guarded(rng, length, max(width, 16.0), radius))


def closing(rng: Rng, length: float, width: float, radius: float) -> Curve:
    """Return a bar with a bay in its lower edge whose mouth is about as wide as the trench."""
    x, y = length / 2, max(width, 16.0) / 2
    mouth = tidy(rng.uniform(1.1, 2.6) * 2 * radius)
    deep = tidy(rng.uniform(0.8, 1.1) * y)
    lean = tidy(rng.uniform(0.1, 0.5) * deep)
    at = tidy(rng.uniform(-0.2, 0.2) * length)
    left, right = at - mouth / 2, at + mouth / 2
    points = [(-x, -y), (left, -y), (left - lean, -y + deep), (right + lean, -y + deep),
              (right, -y), (x, -y), (x, y), (-x, y)]  # fmt: skip
    inner = [min(inner_radius(rng, radius), 0.3 * mouth + 0.2 * lean) for _ in range(2)]
    return without_stubs(filleted(points, [2.0, 0.4, *inner, 0.4, 2.0, 2.0, 2.0]))


def single(rng: Rng, thickness: float, radius: float) -> Blade:
    """Return a blade with one edge, before it now and then a guard with a fillet of any radius."""
    while True:
        outline, heel, tip, width, tang = drawn(rng, radius)
        if Polygon(outline.points(0.01)).is_valid and not turns_back(outline):
            break
    bevel = ground(rng, thickness, 0.5 * width, between(outline, (heel[0] + 2.5, heel[1]), tip))
    bores = [Bore(name="B1", centre=(-20.0, 0.6 * width), diameter=5.0)]
    if tang > 42.0:
        bores.append(Bore(name="B2", centre=(9.0 - tang, 0.6 * width), diameter=5.0))
    return Blade(outline=outline, thickness=thickness, bevels=(bevel,), bores=tuple(bores))


def turns_back(curve: Curve) -> bool:
    """Tell whether a curve turns by more than 150 degrees at a vertex: two radii overlap there."""
    turn = np.roll(curve.start_headings, -1) - curve.end_headings
    return bool((np.cos(turn) < math.cos(math.radians(150.0))).any())


def drawn(rng: Rng, radius: float) -> tuple[Curve, Point, Point, float, float]:
    """Return an outline, heel and tip of its edge, its width, and the tang's length."""
    length, width = tidy(rng.uniform(35, 90), 1), tidy(rng.uniform(14, 32), 1)
    front, heel, tip = FRONTS[int(rng.integers(len(FRONTS)))](rng, length, width)
    tang = tidy(rng.uniform(32, 60), 1)
    back: list[Corner] = [(-tang, width, 5.0), (-tang, 0.15 * width, 5.0)]
    low: list[Corner] = [(-8.0, 0.15 * width, 6.0), (0.0, 0.0, 1.5)]
    if rng.random() < 0.6:
        drop = tidy(rng.uniform(2.5, 6.0), 1)
        fillet = min(inner_radius(rng, radius), 1.3 * drop)
        low = [(-11.0, 0.15 * width, max(4.5, radius)), (-9.0, -drop, 1.0), (-4.5, -drop, 1.0),
               (0.0, 0.0, fillet)]  # fmt: skip
    return rounded_polygon([*low, *front, *back]), heel, tip, width, tang


def dagger(rng: Rng, thickness: float, radius: float) -> Blade:
    """Return a blade with two edges that meet in the tip, four bevels, and most times a guard."""
    length, half = tidy(rng.uniform(45, 100), 1), tidy(rng.uniform(8, 15), 1)
    tang, handle = tidy(rng.uniform(32, 50), 1), tidy(rng.uniform(7.0, 10.0), 1)
    waist = tidy(rng.uniform(0.75, 1.0) * half)
    below: list[Corner] = [(-tang, -handle, 3.0)]
    if rng.random() < 0.7:
        drop = tidy(half + rng.uniform(2.5, 6.0), 1)
        fillet = min(inner_radius(rng, radius), 2.5)
        below += [(-9.5, -handle, max(3.0, radius)), (-9.5, -drop, 1.0), (-4.5, -drop, 1.0),
                  (-4.5, -half, fillet)]  # fmt: skip
    else:
        below += [(-4.5, -half, 2.0)]
    below += [(0.5 * length, -waist, tidy(rng.uniform(30, 200), 1))]
    tip = (length, 0.0, float(rng.choice([0.0, 0.0, 0.4])))
    above: list[Corner] = [(x, -y, r) for x, y, r in reversed(below)]
    outline = rounded_polygon([*below, tip, *above])
    point = (length, 0.0)
    lower = ground(rng, thickness, 0.6 * half, between(outline, (2.5, -half), point))
    upper = replace(lower, name="upper", edge=between(outline, point, (2.5, half)))
    if rng.random() < 0.3:
        upper = replace(upper, land=tidy(lower.land + rng.uniform(0.0, 0.3)))
    bores = [Bore(name="B1", centre=(-18.0, 0.0), diameter=5.0)]
    if tang > 38.0:
        bores.append(Bore(name="B2", centre=(9.0 - tang, 0.0), diameter=5.0))
    return Blade(outline=outline, thickness=thickness, bevels=(lower, upper), bores=tuple(bores))


def ground(rng: Rng, thickness: float, rise: float, edge: Stretch) -> Bevel:
    """Return a bevel on an edge, about ``rise`` mm high, of any of the three shapes."""
    sides = str(rng.choice(["both", "both", "both", "both", "A", "B"]))
    thinnest = 0.2 if sides == "both" else 0.45
    land = tidy(min(rng.uniform(thinnest, 0.9), 0.4 * thickness))
    flush = (thickness - land) / 2
    edge_at = {"both": 0.0, "A": -flush, "B": flush}[sides]
    tall = flush if sides == "both" else thickness - land
    angle = math.atan(min(max(tall / (rng.uniform(0.5, 1.6) * rise), 0.0262), 0.4663))
    lean, at = rng.uniform(-0.25, 0.25), rng.uniform(7.0, 14.0)
    plunge = across(
        (at - 60 * lean, -60.0), (at + 60 * lean, 60.0), radius=tidy(rng.uniform(3.5, 8.0), 1)
    )
    bevel = Bevel(
        name="edge", edge=edge, angle=angle, land=land, sides=sides, edge_at=edge_at,
        plunges=(plunge,),
    )  # fmt: skip
    if grind_height(bevel, thickness, "A" if bevel.on("A") else "B") > 0:
        bevel = replace(bevel, **profiled(rng, bevel, thickness))
    return bevel


# --- what it is made with ------------------------------------------------------------------------
def thick_enough(cutters: Sequence[Cutter], thickness: float) -> tuple[Cutter, ...]:
    """Return the cutters, the first two with flutes and reach for a wall of the plate."""
    flutes = [tidy(max(c.flute_length, thickness + 0.4)) for c in cutters[:2]]
    long = [
        replace(c, flute_length=f, reach=max(c.reach, f), stickout=max(c.stickout, f + 15.0))
        for c, f in zip(cutters[:2], flutes, strict=True)
    ]
    return (*long, *cutters[2:])


def slotted(rng: Rng, order: Order) -> Order:
    """Return the order with one slot of any inner corners, where its cutters find room for it."""
    blade = order.blade
    taken = [circle(bore.centre, bore.diameter) for bore in blade.bores]
    slots = slot_in(rng, blade.outline, order.cutters, taken)
    if not slots:
        return order
    blade = replace(blade, slots=slots)
    entries = [c for c in order.cutting if c.stage != SLOT]
    chosen = next(n for stage, n in choose_cutters(order.cutters, blade) if stage == SLOT)
    entry = propose_cutting(order.cutter(chosen), SLOT, mill=order.setup.mill)
    return replace(order, blade=blade, cutting=(*entries, entry))


def spread(rng: Rng, order: Order) -> tuple[float, ...]:
    """Return stations for the tabs, evenly along the outline from anywhere."""
    whole, count = order.blade.outline.length, order.tabs.count
    first = rng.uniform(0.0, whole / count)
    return tuple(tidy(first + k * whole / count) for k in range(count))


def beside_edges(rng: Rng, order: Order) -> tuple[float, ...]:
    """Return stations for the tabs: the first a few mm past an edge's end, the others spread."""
    blade = order.blade
    whole = blade.outline.length
    begun = blade.bevels[0].edge.start % whole
    ended = blade.bevels[-1].edge.end % whole
    free = (begun - ended) % whole
    first = min(tidy(rng.uniform(3.0, 18.0)), free / 2)
    rest = (free - first) / order.tabs.count
    ways = [first + k * rest for k in range(order.tabs.count)]
    if rng.random() < 0.5:
        ways = [free - way for way in ways]
    return tuple(tidy((ended + way) % whole) for way in ways)


def screwed(rng: Rng, order: Order) -> Order:
    """Return the order held by screws in its bores, with a tab or two beside them or a clamp."""
    names = tuple(bore.name for bore in order.blade.bores)
    room = [float(signed_distance(np.array([b.centre]), order.blade.outline)[0])
            for b in order.blade.bores]  # fmt: skip
    head = tidy(min(8.0, 2 * min(room) - 1.2), 1)
    clamp = bool(rng.random() < 0.3)
    hold = Workholding(kind="bores", screws=names, head_diameter=max(head, 5.5), tip_clamp=clamp)
    count = 0 if clamp else int(rng.integers(1, 3))
    return replace(
        order, setup=replace(order.setup, workholding=hold),
        tabs=replace(order.tabs, count=count, stations=order.tabs.stations[:count]),
    )  # fmt: skip


def widened(rng: Rng, order: Order) -> Order:
    """Return the order with a relief of its own, a forced cutter, or programs in inches."""
    for chance, change in ((0.6, relieved), (0.35, forced), (0.25, in_inches)):
        if rng.random() < chance:
            order = change(rng, order)
    return order


def relieved(rng: Rng, order: Order) -> Order:
    """Return the order with bores opened wider on side B: from not at all to 0.5 mm."""
    relief = float(rng.choice([0.0, 0.0, 0.02, 0.08, 0.14, 0.25, tidy(rng.uniform(0.0, 0.5)), 0.5]))
    return replace(order, boring=replace(order.boring, oversize=relief))


def in_inches(rng: Rng, order: Order) -> Order:
    """Return the order for a mill that counts in inches, its gaps in sizes of such a shop."""
    mill: Mill = replace(
        order.setup.mill, units="in", rapid_height=float(rng.choice([5.08, 6.35, 12.7])),
        approach_gap=float(rng.choice([0.254, 0.508, 1.27])), change_height=50.8,
    )  # fmt: skip
    setup = replace(order.setup, mill=mill, gap_height=12.7, gauge_diameter=6.35)
    return replace(order, setup=setup)


def forced(rng: Rng, order: Order) -> Order:
    """Return the order with one stage forced on another cutter: one of its own, or one more."""
    stage = str(rng.choice(sorted({entry.stage for entry in order.cutting})))
    known = {c.number: c for c in order.cutters}
    usual = known[order.cuttings(stage)[0].cutter]
    others = [c for c in order.cutters if c.kind == usual.kind and c.number != usual.number]
    if others and rng.random() < 0.4:
        taken = others[int(rng.integers(len(others)))]
        cutters = order.cutters
    else:
        taken = resized(usual, float(rng.choice([0.5, 0.65, 0.8, 0.8, 1.2, 1.5])))
        cutters = (*order.cutters, taken)
    entry = replace(
        propose_cutting(taken, stage, mill=order.setup.mill, blade=order.blade),
        life=order.cuttings(stage)[0].life,
    )
    kept = [c for c in order.cutting if c.stage != stage]
    order = replace(order, cutters=cutters, cutting=(*kept, entry))
    return with_trench(order) if stage in (ROUGH, FINISH) else order


def resized(cutter: Cutter, times: float) -> Cutter:
    """Return a cutter 40 of the same kind and build, so many times as thick."""
    diameter = tidy(cutter.diameter * times)
    corner = tidy(min(cutter.corner, 0.3 * diameter)) if cutter.kind == "bull-nose" else None
    made = propose_cutter(40, cutter.kind, diameter, corner=corner)
    if cutter.kind == "chamfer":
        tall = replace(made, half_angle=cutter.half_angle)
        flutes = max(made.flute_length, tall.cone_height)
        made = replace(tall, flute_length=flutes)
    flutes = tidy(max(made.flute_length, cutter.flute_length))
    reach = max(made.reach, cutter.reach, flutes)
    stickout = max(made.stickout, cutter.stickout, reach + 15.0)
    return replace(made, flute_length=flutes, reach=reach, stickout=stickout)


def with_trench(order: Order) -> Order:
    """Return the order with the trench that its roughing and finishing cutters want."""
    rough, finish = order.cuttings(ROUGH)[0], order.cuttings(FINISH)[0]
    trench = propose_trench(
        order.blade.thickness, order.cutter(rough.cutter), order.cutter(finish.cutter),
        rough.allowance, order.blade.bevels,
    )  # fmt: skip
    return replace(order, trench=trench)


WIDER: dict[str, Callable[[int], Order]] = {
    "good": wider_good, "bevel": wider_bevel, "detailed": wider_detailed,
}  # fmt: skip

"""Two hundred good orders, each from a seed: what a small shop might ask for in a year.

Blades 50 to 150 mm long, 12 to 30 mm wide and 2 to 6 mm thick, of seven forms; one to four bores,
now and then a slot; either flip, every registration and hold; cutters of 2 to 4 mm, flat or
bull-nose. What an order leaves out is what `knifecam.shop.defaults` proposes.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from knifecam.blade import Blade, Bore, Slot
from knifecam.curve import Curve, Stretch, circle, distance, resample, signed_distance
from knifecam.shop import (
    Boring,
    Clamp,
    Cutter,
    MeasuredBore,
    Mill,
    Order,
    Plate,
    Registration,
    Setup,
    Tabs,
    Trench,
    Workholding,
)
from knifecam.shop.cutter_choice import choose_cutters
from knifecam.shop.defaults import (
    propose_cutter,
    propose_cutting,
    propose_tabs,
    propose_trench,
    wall_stock,
)
from knifecam.shop.setup import OFFSETS
from tests.agreement.plain_biarcs import fit_biarcs

Rng = np.random.Generator
Point = tuple[float, float]

WEB = 1.6
"""mm of metal between openings, and from them to the outline."""


def tidy(value: float, digits: int = 2) -> float:
    """Round as a maker would write it."""
    return round(float(value), digits)


def filleted(points: list[Point], radii: list[float]) -> Curve:
    """Return the counter-clockwise polygon with an arc in each corner, inner corners too."""
    vertices, bulges = [], []
    count = len(points)
    for k in range(count):
        before, at, after = (np.array(points[(k + d) % count]) for d in (-1, 0, 1))
        u, v = at - before, after - at
        u, v = u / np.hypot(*u), v / np.hypot(*v)
        turn = math.atan2(u[0] * v[1] - u[1] * v[0], float(u @ v))
        run = radii[k] * math.tan(abs(turn) / 2)
        vertices += [at - run * u, at + run * v]
        bulges += [math.tan(turn / 4), 0.0]
    return Curve(np.array(vertices), np.array(bulges))


# --- forms ---------------------------------------------------------------------------------------
def rounded(rng: Rng, length: float, width: float, _: float) -> Curve:
    x, y = length / 2, width / 2
    corners = [(-x, -y), (x, -y), (x, y), (-x, y)]
    return filleted(corners, [tidy(rng.uniform(1.5, 0.45 * width)) for _ in corners])


def tapered(rng: Rng, length: float, width: float, _: float) -> Curve:
    x, y = length / 2, width / 2
    tip = tidy(rng.uniform(0.4, 0.8) * width)
    drop = tidy(rng.uniform(0.0, width - tip))
    low, high = -y + drop, -y + drop + tip
    radii = [tidy(rng.uniform(1.0, 0.3 * tip)) for _ in range(4)]
    return filleted([(-x, -y), (x, low), (x, high), (-x, y)], radii)


def drop_point(rng: Rng, length: float, width: float, _: float) -> Curve:
    x, y = length / 2, width / 2
    belly, spine = tidy(rng.uniform(0.15, 0.3) * length), tidy(rng.uniform(0.2, 0.4) * length)
    point_y = tidy(rng.uniform(-0.1, 0.3) * width)
    points = [(-x, -y), (x - belly, -y), (x, point_y), (x - spine, y), (-x, y)]
    radii = [3.0, tidy(rng.uniform(0.4, 0.8) * belly), 1.5, tidy(rng.uniform(10, 25)), 3.0]
    return filleted(points, radii)


def waisted(rng: Rng, length: float, width: float, _: float) -> Curve:
    """A handle drawn in on both sides by flat concave arcs."""
    x, y = length / 2, width / 2
    middle = tidy(rng.uniform(-0.2, 0.2) * length)
    low, high = (tidy(rng.uniform(0.05, 0.15) * width) for _ in range(2))
    points = [(-x, -y), (middle, -y + low), (x, -y), (x, y), (middle, y - high), (-x, y)]
    end = tidy(rng.uniform(2.0, 0.35 * width))
    return filleted(points, [end, tidy(rng.uniform(40, 90)), end, end, 60.0, end])


def choiled(rng: Rng, length: float, width: float, radius: float) -> Curve:
    """A bay for the finger in the lower edge, its inner arcs a little wider than the cutter."""
    x, y = length / 2, width / 2
    deep = tidy(min(rng.uniform(0.2, 0.3) * width, 0.12 * length))
    room = tidy(min(radius * rng.uniform(1.3, 4.0), deep / 0.3 - 1.0))
    left = tidy(-0.2 * length)
    right = left + 2 * deep + 1.2 * room
    points = [
        (-x, -y), (left, -y), (left + deep, -y + deep), (right - deep, -y + deep), (right, -y),
        (x, -y), (x, y), (-x, y),
    ]  # fmt: skip
    end = tidy(rng.uniform(2.0, 0.3 * width))
    return filleted(points, [end, 1.0, room, room, 1.0, end, end, end])


def flowing(rng: Rng, length: float, width: float, _: float) -> Curve:
    """A smooth loop without a straight line, drawn in here and there, followed by arcs."""
    dents = rng.uniform(0.0, 0.05, 2) * rng.choice([-1, 1], 2)
    lean = rng.uniform(-0.08, 0.08)

    def loop(t: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        grown = 1 + dents[0] * np.cos(2 * t) + dents[1] * np.cos(3 * t)
        slope = -2 * dents[0] * np.sin(2 * t) - 3 * dents[1] * np.sin(3 * t)
        x, y = length / 2 * grown * np.cos(t), width / 2 * grown * np.sin(t)
        dx = length / 2 * (slope * np.cos(t) - grown * np.sin(t))
        dy = width / 2 * (slope * np.sin(t) + grown * np.cos(t))
        return np.stack([x, y + lean * x], axis=1), np.stack([dx, dy + lean * dx], axis=1)

    fitted = fit_biarcs(loop, (0.0, 2 * math.pi))
    return Curve(fitted.vertices[:-1], fitted.bulges[:-1])


def leaf(rng: Rng, length: float, width: float, _: float) -> Curve:
    """Two bowed edges that meet in a point, and a straight butt with true corners."""
    x, y = length / 2, width / 2
    butt = tidy(rng.uniform(0.5, 0.8) * y)
    bulge = (y - butt / 2) / length * rng.uniform(0.9, 1.6)
    return Curve(np.array([(-x, -butt), (x, 0.0), (-x, butt)]), np.array([bulge, bulge, 0.0]))


Form = Callable[[Rng, float, float, float], Curve]
"""Makes an outline by length, width and the cutter's radius, mm."""

FORMS: tuple[Form, ...] = (
    rounded, tapered, drop_point, waisted, choiled, flowing, leaf,
)  # fmt: skip


# --- what is in the blade ------------------------------------------------------------------------
def openings(
    rng: Rng, outline: Curve, smallest: float
) -> tuple[tuple[Bore, ...], tuple[Slot, ...]]:
    """Return bores and perhaps a slot, each with metal all round."""
    taken: list[Curve] = []
    bores: list[Bore] = []
    x0, y0, x1, y1 = outline.bounds
    for k in range(int(rng.integers(1, 5))):
        for _ in range(40):
            diameter = tidy(rng.uniform(max(3.5, 1.08 * smallest), 8.0), 1)
            centre = (tidy(rng.uniform(x0, x1)), tidy(0.3 * rng.uniform(y0, y1)))
            curve = circle(centre, diameter)
            if stands_free(curve, outline, taken):
                fitted, both = rng.random() < 0.2, rng.random() < 0.1
                bores.append(
                    Bore(
                        name=f"B{k + 1}",
                        centre=centre,
                        diameter=diameter,
                        fitted=bool(fitted and not both),
                        both_sides=bool(both),
                    )
                )
                taken.append(curve)
                break
    slots: list[Slot] = []
    for _ in range(40 if rng.random() < 0.25 else 0):
        half = tidy(rng.uniform(0.75, 1.3) * smallest), tidy(rng.uniform(3.0, 8.0) + smallest)
        x, y = tidy(rng.uniform(x0, x1)), tidy(0.2 * rng.uniform(y0, y1))
        corners = [(x - half[1], y - half[0]), (x + half[1], y - half[0]),
                   (x + half[1], y + half[0]), (x - half[1], y + half[0])]  # fmt: skip
        curve = filleted(corners, [tidy(0.95 * half[0])] * 4)
        if 0.95 * half[0] >= 1.15 * smallest / 2 and stands_free(curve, outline, taken):
            slots.append(Slot(name="S1", outline=curve))
            break
    return tuple(bores), tuple(slots)


def stands_free(curve: Curve, outline: Curve, taken: list[Curve]) -> bool:
    """Whether an opening keeps `WEB` to the outline and to the others."""
    points = resample(curve, 0.2)[1]
    if signed_distance(points, outline).min() < WEB:
        return False
    return all(distance(points, other).min() >= WEB and
               signed_distance(points[:1], other)[0] < 0 for other in taken)  # fmt: skip


# --- what it is made with ------------------------------------------------------------------------
def end_mills(rng: Rng, thickness: float, tab: float, smallest_bore: float) -> tuple[Cutter, ...]:
    """Return two cutters of one size for the outline, and a smaller one where a bore wants it."""
    sizes = [d for d in (2.0, 2.5, 3.0, 3.5, 4.0) if d >= 0.55 * thickness]
    size = float(rng.choice(sizes))
    corner = 0.0 if rng.random() < 0.4 else tidy(rng.uniform(0.03, tab / 3 - 0.004))
    kind = "bull-nose" if corner else "flat"
    diameters = [tidy(size - rng.uniform(0, 0.015), 3) for _ in range(2)]
    if smallest_bore < 1.3 * size:
        diameters.append(tidy(smallest_bore / 1.45, 1))
    made = []
    for number, diameter in enumerate(diameters, start=1):
        one = propose_cutter(number, kind, diameter, corner=min(corner, diameter / 10))
        flutes = max(2 * diameter, thickness + 0.3)
        made.append(replace(one, flute_length=tidy(flutes), reach=tidy(max(one.reach, flutes))))
    return tuple(made)


def reference_bores(rng: Rng, kind: str, plate: Plate, depth: float | None) -> tuple[Bore, ...]:
    """Return two unequal bores in the frame, far apart along the plate."""
    if kind == "edges":
        return ()
    x0, y0, x1, y1 = plate.bounds
    level = tidy(rng.uniform(y0 + 14, y1 - 14))
    return (
        Bore(name="R1", centre=(tidy(x0 + 5.5), level), diameter=6.0, depth=depth),
        Bore(name="R2", centre=(tidy(x1 - 5.5), level), diameter=5.0, depth=depth),
    )


def clamps(
    rng: Rng, plate: Plate, datum: tuple[Point, Point], flip: str, taken: tuple[Bore, ...]
) -> tuple[Clamp, ...]:
    """Return a clamp on the plate's left edge for each side, in that side's program frame.

    It stands above or below a bore that is there.
    """
    found = []
    x0, y0, _, y1 = plate.bounds
    for side, zero in zip("AB", datum, strict=True):
        low = tidy(rng.uniform(y0 + 1, y1 - 11))
        if taken and abs(low + 5 - taken[0].centre[1]) < 14:
            low = tidy(y0 - 6 if taken[0].centre[1] > (y0 + y1) / 2 else y1 - 4)
        signs = (1.0, 1.0) if side == "A" else {"X": (1.0, -1.0), "Y": (-1.0, 1.0)}[flip]
        rim = (np.array([(x0 - 10, low), (x0 + 4, low + 10)]) - zero) * signs
        (left, lower), (right, upper) = rim.min(axis=0), rim.max(axis=0)
        found.append(
            Clamp(
                side=side,
                x_low=tidy(left),
                y_low=tidy(lower),
                x_high=tidy(right),
                y_high=tidy(upper),
                height=tidy(rng.uniform(3.0, 12.0), 1),
            )
        )
    return tuple(found)


def found_after_flip(
    rng: Rng, bores: tuple[Bore, ...], datum: Point, flip: str
) -> tuple[MeasuredBore, ...]:
    """Return where the reference bores lie after the flip: the plate shifted and turned a little."""
    signs = {"X": (1.0, -1.0), "Y": (-1.0, 1.0)}[flip]
    turn, shift = math.radians(rng.uniform(-0.4, 0.4)), rng.uniform(-0.5, 0.5, 2)
    c, s = math.cos(turn), math.sin(turn)
    rows = []
    for bore in bores:
        x, y = (np.array(bore.centre) - datum) * signs
        seen = np.array([c * x - s * y, s * x + c * y]) + shift + rng.uniform(-0.003, 0.003, 2)
        rows.append(MeasuredBore(bore=bore.name, x=tidy(seen[0], 3), y=tidy(seen[1], 3)))
    return tuple(rows)


def plate_for(rng: Rng, outline: Curve, trench: Trench, thickness: float, more: float) -> Plate:
    """Return a plate with frame enough round the trench, and ``more`` mm at both short ends."""
    edges = trench.width + trench.border + rng.uniform(0.2, 5.0, 4)
    edges[[0, 2]] += more
    x0, y0, x1, y1 = outline.bounds
    corner = (tidy(x0 - edges[0]), tidy(y0 - edges[1]))
    length, width = math.ceil(x1 + edges[2] - corner[0]), math.ceil(y1 + edges[3] - corner[1])
    places = tuple(
        (corner[0] + u * length, corner[1] + v * width, thickness + off)
        for u, v, off in (
            (0.1, 0.1, -0.004),
            (0.9, 0.1, 0.004),
            (0.9, 0.9, 0.002),
            (0.1, 0.9, -0.002),
        )
    )
    return Plate(length=length, width=width, thickness=thickness, corner=corner, measured=places)


def mill_for(rng: Rng, plate: Plate, datum: tuple[Point, Point], flip: str) -> Mill:
    """Return a mill; now and then it is known where the zeros lie on it, the plate mid-table."""
    middle = (np.array(plate.bounds[:2]) + plate.bounds[2:]) / 2
    places = []
    for side, zero in zip("AB", datum, strict=True):
        signs = (1.0, 1.0) if side == "A" else {"X": (1.0, -1.0), "Y": (-1.0, 1.0)}[flip]
        x, y = np.array((200.0, 125.0)) - (middle - zero) * signs
        places.append((tidy(x, 1), tidy(y, 1), 90.0))
    return Mill(
        machine_zero=(places[0], places[1]) if rng.random() < 0.3 else None,
        change_by_hand=bool(rng.random() < 0.7),
        coolant_code="M7" if rng.random() < 0.8 else "M8",
        approach_gap=tidy(rng.choice([0.3, 0.5, 1.0])),
        rapid_height=tidy(rng.choice([5.0, 8.0])),
    )


def held(rng: Rng, outline: Curve, bores: tuple[Bore, ...]) -> Workholding:
    """Return the hold: tabs, or screws in the bores that have room for a head."""
    room = {b.name: float(signed_distance(np.array([b.centre]), outline)[0]) for b in bores}
    fit = [b for b in bores if room[b.name] >= (b.diameter + 3.0) / 2 + 0.6]
    if rng.random() < 0.7 or not fit:
        return Workholding()
    head = max(b.diameter for b in fit) + 3.0
    screws = tuple(b.name for b in fit if room[b.name] >= head / 2 + 0.6)
    return Workholding(kind="bores", screws=screws, head_diameter=head) if screws else Workholding()


def good_order(index: int, attempt: int = 0, form: Form | None = None) -> Order:
    """Return the order of that index; another of its kind for every further attempt.

    Its outline is of the ``form``, or of one of `FORMS` by index.
    """
    rng = np.random.default_rng([20, index, attempt])
    thickness = tidy(
        rng.choice([2.0, 2.5, 3.0, 3.2, 4.0, 4.5, 5.0, 6.0]) + rng.uniform(-0.03, 0.03), 3
    )
    length, width = tidy(rng.uniform(50, 150), 1), tidy(rng.uniform(12, 30), 1)
    tabs = propose_tabs(thickness, length)
    probe = tidy(rng.uniform(3.5, 5.0), 1)
    cutters = end_mills(rng, thickness, tabs.thickness, probe)
    form = form or FORMS[index % len(FORMS)]
    outline = form(rng, length, width, cutters[0].radius)
    bores, slots = openings(rng, outline, cutters[-1].diameter)
    tabs = tabs_of(rng, replace(tabs, count=int(rng.integers(2, 6))), outline)
    stock = wall_stock(cutters[0].diameter)
    trench = propose_trench(thickness, cutters[0], cutters[1], stock)
    blade = Blade(outline=outline, thickness=thickness, bores=bores, slots=slots)
    return assembled(rng, index, blade, cutters, tabs, trench)


def tabs_of(rng: Rng, tabs: Tabs, outline: Curve) -> Tabs:
    """Return the tabs; now and then at stations of the order's own, or off a stretch of it."""
    whole = outline.length
    if rng.random() < 0.15:
        first = rng.uniform(0.0, whole / tabs.count)
        stations = tuple(tidy(first + k * whole / tabs.count) for k in range(tabs.count))
        return replace(tabs, stations=stations)
    if rng.random() < 0.2:
        start = rng.uniform(0.0, whole)
        kept = Stretch(start=tidy(start), end=tidy((start + 0.3 * whole) % whole))
        return replace(tabs, no_tabs=(kept,))
    return tabs


def assembled(
    rng: Rng, index: int, blade: Blade, cutters: tuple[Cutter, ...], tabs: Tabs, trench: Trench
) -> Order:
    """Return the order of a blade: plate, registration, hold, zeros and cutting data."""
    kind = str(rng.choice(["edges", "pins", "bores"]))
    clamped = rng.random() < 0.25
    more = 4.0 + 8.0 * (kind != "edges") + 10.0 * clamped
    plate = plate_for(rng, blade.outline, trench, blade.thickness, more)
    depth = None if kind == "bores" else tidy(blade.thickness - 0.3, 3)
    reference = reference_bores(rng, kind, plate, depth)
    relieved = kind == "bores" or rng.random() < 0.1
    zeros = (plate.corner, (0.0, 0.0), (tidy(plate.bounds[2]), plate.corner[1]))
    first = zeros[int(rng.integers(3))]
    datum = (first, first if rng.random() < 0.6 else zeros[int(rng.integers(3))])
    flip = "XY"[int(rng.integers(2))]
    measured = ()
    if kind == "bores" and rng.random() < 0.8:
        measured = found_after_flip(rng, reference, datum[1], flip)
    offsets = rng.choice(len(OFFSETS), 2, replace=False)
    setup = Setup(
        plate=plate, mill=mill_for(rng, plate, datum, flip), flip=flip, datum=datum,
        registration=Registration(kind=kind, bores=reference, measured=measured),
        workholding=held(rng, blade.outline, blade.bores),
        z_zero=(str(rng.choice(["face", "fixture"])), str(rng.choice(["fixture", "fixture", "face"]))),
        offsets=(OFFSETS[offsets[0]], OFFSETS[offsets[1]]),
        clamps=clamps(rng, plate, datum, flip, reference) if clamped else (),
        gap_stop=bool(rng.random() < 0.8),
        fixture_allowance=0.6 if relieved else 0.0,
    )  # fmt: skip
    stages = choose_cutters(cutters, blade, reference)
    named = {c.number: c for c in cutters}
    return Order(
        name=f"good order {index}",
        blade=blade,
        setup=setup,
        cutters=cutters,
        cutting=tuple(propose_cutting(named[n], stage) for stage, n in stages),
        tabs=tabs,
        trench=trench,
        boring=Boring(opening="relieved" if relieved else "skin"),
    )

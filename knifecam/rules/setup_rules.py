"""Plate, border, offsets, datum and travel; whether the plate finds its place again after the flip.

The same lines stand for orders read from TOML and for those built in Python; keys are named as in
the TOML, list entries counted from 1. What a field may hold by itself its record checks. Guards are
written so that NaN fails.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from knifecam.blade import Blade, Bore
from knifecam.curve import signed_distance
from knifecam.quantity import NAME, Place, bare, basis, keyed, least_mm, mm, most_mm, stated
from knifecam.record import as_written
from knifecam.rules.rules_limits import (
    LARGEST_PLATE_TRAVELS,
    PINS_SEAT_WITHIN_MM,
    UNEQUAL_PINS_MM,
    WEB_TO_OUTLINE_MM,
)
from knifecam.rules.trench_rules import lies_beside
from knifecam.shop import Order
from knifecam.shop.cutter import Cutter
from knifecam.shop.order_record import Trench
from knifecam.shop.setup import Mill, Plate, Registration, Setup
from knifecam.shop.side_view import SideContext, points_on


def travel(order: Order) -> Iterator[str]:
    """The trench, the reference bores and the zero that is touched are within the mill's travel."""
    plate, mill = order.setup.plate, order.setup.mill
    for axis, size, name in ((0, plate.length, "length"), (1, plate.width, "width")):
        if not size <= LARGEST_PLATE_TRAVELS * mill.travel[axis]:
            yield (
                f"plate.{name}={mm(size):g} must be at most twice the mill's travel in {'XY'[axis]},"
                f" {stated(f'mill.travel[{axis + 1}]', mm(mill.travel[axis])):g}; cut the plate down"
            )
            return
    for side in "AB":
        yield from _of_side(order, side)


def _of_side(order: Order, side: str) -> Iterator[str]:
    mill = order.setup.mill
    low, high = _extent(order, side)
    zero = None if mill.machine_zero is None else mill.machine_zero["AB".index(side)]
    for axis, name in enumerate("XYZ"):
        way, begin = mill.travel[axis], mill.travel_from[axis]
        if not high[axis] - low[axis] <= way + 1e-6:
            what = "trench, reference bores and program zero" if axis < 2 else "rapids and floors"
            yield (
                f"side {side}: {what} span {mm(high[axis] - low[axis]):.2f} in {name}, more than"
                f" {stated(f'mill.travel[{axis + 1}]', mm(way)):g}; use a mill of longer travel"
                + (f", or put plate.datum_{side.lower()} nearer to the blade" if axis < 2 else "")
            )
        elif zero is not None:
            first, last = zero[axis] + low[axis], zero[axis] + high[axis]
            if not (first >= begin - 1e-6 and last <= begin + way + 1e-6):
                yield (
                    f"side {side}: {name} runs from {bare(first):.2f} to {mm(last):.2f} in machine"
                    f" coordinates, the mill's from {bare(begin):g} to {mm(begin + way):g}"
                    f"{basis('mill.travel', 'mill.travel_from')}; set"
                    f" mill.machine_zero_{side.lower()} as the mill shows it, and"
                    f" mill.travel_from[{axis + 1}] to the lowest coordinate of the axis"
                    + (" (minus the travel where Z counts down from the top)" if axis == 2 else "")
                )


def _extent(order: Order, side: str) -> tuple[np.ndarray, np.ndarray]:
    """Return what the axes must reach at least on a side, seen from its program zero, (3,) each."""
    setup, bench = order.setup, SideContext(order=order, side=side)
    index = "AB".index(side)
    rough = order.cuttings("rough")
    beside = order.trench.width - min((order.cutter(c.cutter).radius for c in rough), default=0.0)
    x0, y0, x1, y1 = order.blade.outline.bounds
    places = [(x0 - beside, y0 - beside), (x1 + beside, y1 + beside), setup.datum[index]]
    if side == "A":
        places += [bore.centre for bore in setup.registration.bores]
    seen = points_on(side, places, setup.flip) - points_on(side, setup.datum[index], setup.flip)
    half = order.blade.thickness / 2
    zero = half if setup.z_zero[index] == "face" else -half
    deep = half - order.trench.depth_a if side == "A" else -half + order.trench.depth_a
    low, high = min(0.0, deep - zero), bench.rapid_z - zero
    return np.append(seen.min(axis=0), low), np.append(seen.max(axis=0), high)


def border_left(order: Order) -> Iterator[str]:
    """Plate stays round the trench; reference bores stand in that frame."""
    plate, blade, width = order.setup.plate, order.blade, order.trench.width
    low_x, low_y, high_x, high_y = plate.bounds
    x0, y0, x1, y1 = blade.outline.bounds
    sides = {"left": x0 - low_x, "right": high_x - x1, "lower": y0 - low_y, "upper": high_y - y1}
    for name, room in sides.items():
        left = room - width
        if not left >= order.trench.border - 1e-9:
            yield (
                f"plate: only {mm(left):.2f} is left outside the trench at the {name} edge;"
                f" {stated('outline.border', mm(order.trench.border)):.2f} is wanted: use a larger"
                " plate or move its corner"
            )
    for bore in order.setup.registration.bores:
        away = -float(signed_distance(bore.centre, blade.outline)[0]) - bore.diameter / 2
        edge = (
            min(
                bore.centre[0] - low_x,
                high_x - bore.centre[0],
                bore.centre[1] - low_y,
                high_y - bore.centre[1],
            )
            - bore.diameter / 2
        )
        if not (away - width >= WEB_TO_OUTLINE_MM and edge >= WEB_TO_OUTLINE_MM):
            yield (
                f"registration.bores: bore '{bore.name}'"
                f" {lies_beside(away - width, 'the trench')} and"
                f" stands {mm(edge):.2f} from the plate's edge; at least {mm(WEB_TO_OUTLINE_MM)} each"
                " must stay"
            )


def check_mill(mill: Mill) -> Iterator[str]:
    """Yield what contradicts itself in the mill."""
    if not mill.spindle_low <= mill.spindle_high:
        yield (
            f"{stated('mill.spindle_low', mill.spindle_low):g} rev/min must be at most"
            f" {keyed('mill.spindle_high', mill.spindle_high):g} rev/min"
        )
    if not mill.rapid_height <= mill.change_height <= mill.travel[2]:
        yield (
            f"{stated('mill.change_height', mm(mill.change_height)):g} must be at least"
            f" {keyed('mill.rapid_height', mm(mill.rapid_height)):g} and at most the travel of Z,"
            f" {mm(mill.travel[2]):g}{basis('mill.travel')}"
        )


def check_plate(plate: Plate) -> Iterator[str]:
    """Yield what contradicts itself in the plate."""
    if len(plate.measured) < 4:
        yield f"plate.thickness: measured at {len(plate.measured)} places; measure at four or more"
    if not plate.spread <= plate.allowed_spread + 1e-9:
        yield (
            f"plate.thickness: spread={mm(plate.spread):.3f} must be at most"
            f" {most_mm(plate.allowed_spread):g}, for it goes straight into tabs and land; grind"
            " the plate,"
            " take another, or allow more with plate.spread"
        )
    low_x, low_y, high_x, high_y = plate.bounds
    for place, (x, y, _) in enumerate(plate.measured, start=1):
        if not (low_x - 1e-6 <= x <= high_x + 1e-6 and low_y - 1e-6 <= y <= high_y + 1e-6):
            yield (
                f"plate.thickness[{place}]: the place {Place(x - low_x, y - low_y):g}{NAME} is not on the"
                f" plate of {bare(plate.length):g} x {mm(plate.width):g}; places count from its"
                " lower left"
            )


def check_blade_in_plate(plate: Plate, blade: Blade) -> Iterator[str]:
    """Yield where the blade is not within the plate, or not as thick as it."""
    if not abs(plate.thickness - blade.thickness) <= 1e-9:
        yield (
            f"{stated('blade.thickness', mm(blade.thickness)):g} must be the plate's measured mean,"
            f" {mm(plate.thickness):g}: its flats are the plate's faces"
        )
    low, high = blade.outline.bounds[:2], blade.outline.bounds[2:]
    p_low, p_high = plate.bounds[:2], plate.bounds[2:]
    out = [
        f"{mm(over):.2f} past its {edge} edge"
        for over, edge in (
            (p_low[0] - low[0], "left"),
            (p_low[1] - low[1], "lower"),
            (high[0] - p_high[0], "right"),
            (high[1] - p_high[1], "upper"),
        )
        if not over <= 0
    ]
    if out:
        yield (
            f"plate: the blade of {bare(high[0] - low[0]):.2f} x {mm(high[1] - low[1]):.2f} is not within"
            f" the plate of {bare(plate.length):g} x {mm(plate.width):g}: {', '.join(out)}; take a larger"
            f" plate or move plate.corner{basis('plate.corner')}"
        )


def check_setup(setup: Setup, cutters: Sequence[Cutter]) -> Iterator[str]:
    """Yield what contradicts itself in the setup."""
    if setup.offsets[0] == setup.offsets[1]:
        yield (
            f"{stated('setup.offsets', as_written(setup.offsets))} must be two"
            " different ones: each side has its own zero"
        )
    if setup.gauge in [c.number for c in cutters]:
        yield f"{stated('setup.gauge', setup.gauge)} is a cutter's number; give the gauge pin its own"
    if setup.gap_stop and not setup.gap_height < setup.mill.change_height:
        yield (
            f"{stated('setup.gap_height', mm(setup.gap_height)):g} must be less than"
            f" {stated('mill.change_height', mm(setup.mill.change_height)):g}"
        )


def check_registration(registration: Registration) -> Iterator[str]:
    """Yield what contradicts itself in the registration."""
    kind, bores = registration.kind, registration.bores
    names = [b.name for b in bores]
    for name in sorted({n for n in names if names.count(n) > 1}):
        yield f'registration.bores: the name "{name}" stands twice; give every bore its own'
    if kind in ("pins", "bores") and len(bores) < 2:
        yield (
            f"registration.bores: {len(bores)} given; registration by {kind} wants at least two, far"
            " apart in the waste"
        )
    elif kind == "pins" and (turn := _seats_turned(bores)):
        yield (
            f"registration.bores: the plate seats on these pins turned by {turn} deg too; make the"
            f" diameters differ by {least_mm(UNEQUAL_PINS_MM)} or more, or add a third bore off their"
            " line"
        )
    yield from _of_measured(registration)


def _of_measured(registration: Registration) -> Iterator[str]:
    measured = registration.measured
    names = [b.name for b in registration.bores]
    known = ", ".join(f'"{n}"' for n in names) or "none"
    for place, found in enumerate(measured, start=1):
        if found.bore not in names:
            yield (
                f'registration.measured[{place}].bore="{found.bore}" is no reference bore; known are'
                f" {known}"
            )
    if measured and registration.kind != "bores":
        yield (
            f'registration.measured has no use with kind="{registration.kind}"; write kind="bores"'
        )
    if registration.kind == "bores" and measured and len({m.bore for m in measured}) < 2:
        yield "registration.measured: one bore only; measure at least two, or none before the flip"


def _seats_turned(bores: Sequence[Bore]) -> int:
    """Return the angle in whole degrees of a wrong seating by a turn in the plane, else 0."""
    centres = np.array([b.centre for b in bores])
    widths = np.array([b.diameter for b in bores])
    arms = centres - centres.mean(axis=0)
    bearing = np.arctan2(arms[:, 1], arms[:, 0])
    for other in range(1, len(bores)):
        angle = bearing[other] - bearing[0]
        c, s = np.cos(angle), np.sin(angle)
        turned = arms @ np.array([[c, s], [-s, c]])
        apart = np.hypot(*(turned[:, None] - arms[None]).transpose(2, 0, 1))
        fits = (apart <= PINS_SEAT_WITHIN_MM) & (
            np.abs(widths[:, None] - widths[None]) < UNEQUAL_PINS_MM
        )
        degrees = round(math.degrees(angle)) % 360
        if degrees and fits.any(axis=1).all() and fits.any(axis=0).all():
            return degrees
    return 0


def check_reference_bores(
    registration: Registration, plate: Plate, blade: Blade, trench: Trench
) -> Iterator[str]:
    """Yield which reference bores do not stand in the waste, clear of the trench."""
    x_low, y_low, x_high, y_high = plate.bounds
    for place, bore in enumerate(registration.bores, start=1):
        where = f'registration.bores[{place}] "{bore.name}"'
        x, y = bore.centre
        radius = bore.diameter / 2
        room = min(x - x_low, x_high - x, y - y_low, y_high - y) - radius
        if not room > 0:
            yield f"{where} at {Place(x, y):g}{NAME} must lie within the plate; it passes its edge"
            continue
        wanted = radius + trench.width
        away = float(signed_distance(np.array([bore.centre]), blade.outline)[0])
        if not -away >= wanted:
            yield (
                f"{where} at {Place(x, y):g}{NAME} must stand outside the trench, its middle"
                f" {least_mm(wanted):.2f} or more from the outline; it is {mm(max(0.0, -away)):.2f}"
                " outside it"
            )
        if bore.depth is not None and not bore.depth <= plate.thickness:
            yield (
                f"{where}: depth={mm(bore.depth):g} must be at most the plate's thickness,"
                f" {mm(plate.thickness):g}"
            )
    yield from _overlapping(registration.bores)


def _overlapping(bores: Sequence[Bore]) -> Iterator[str]:
    for i, first in enumerate(bores):
        for second in bores[i + 1 :]:
            apart = math.dist(first.centre, second.centre)
            if not apart > (first.diameter + second.diameter) / 2:
                yield f'registration.bores: "{first.name}" and "{second.name}" run into each other'

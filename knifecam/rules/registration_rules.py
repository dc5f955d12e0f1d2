"""Whether the plate finds its place again after the flip, and in one way only; one line each.

Keys are named as in the TOML of an order, list entries counted from 1. Guards are written so that
NaN fails.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from knifecam.blade import Blade, Bore
from knifecam.curve import signed_distance
from knifecam.quantity import NAME, Place, least_mm, mm
from knifecam.shop.order_record import Trench
from knifecam.shop.setup import Plate, Registration

UNEQUAL = 0.2
"""mm: pins that differ by less are equal, for one enters the other's bore."""

PINS_SEAT_WITHIN_MM = 0.3
"""mm: a plate turned to within this of its pins seats on them."""


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
            f" diameters differ by {least_mm(UNEQUAL)} or more, or add a third bore off their line"
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
        fits = (apart <= PINS_SEAT_WITHIN_MM) & (np.abs(widths[:, None] - widths[None]) < UNEQUAL)
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

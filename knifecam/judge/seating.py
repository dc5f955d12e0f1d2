"""Whether the plate can be laid down wrongly, and how much of it is left round the blade."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bore
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding
from knifecam.judge.first_and_worst import LAST_DIGIT_MM, at_line, rounded_place
from knifecam.measure.case import Case
from knifecam.quantity import mm
from knifecam.sweep.side_frames import HALF_TURNS

Floats = NDArray[np.float64]


SEATS_WITHIN_MM = 0.05
"""mm: how far a bore may stand off its pin and still go over it (common practice)."""


SAME_BORE_MM = 0.1
"""mm: bores whose diameters differ by less take each other's pins (common practice)."""


LAID_WAYS = {
    "not turned over": (1.0, 1.0),
    "not turned over, half a turn round": (-1.0, -1.0),
    "turned over about X": (1.0, -1.0),
    "turned over about Y": (-1.0, 1.0),
}


def find_seating(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind seating."""
    setup = case.order.setup
    if setup.registration.kind == "pins":
        yield from _pins(setup.registration.bores, setup.flip)
    side = case.sides[1]
    for name, left in side.frame.residuals if side is not None else ():
        if not left <= SEATS_WITHIN_MM:
            sentence = f"the fit of the measured bores leaves {mm(left):.3f} at {name}"
            yield at_line(
                Kind.SEATING, "B", 0, f"{sentence}; {mm(SEATS_WITHIN_MM):g} is allowed",
                "measure the bores again: one place is wrong", measured=left, allowed=SEATS_WITHIN_MM,
            )  # fmt: skip
    if setup.workholding.kind == "bores":
        known = {bore.name for bore in case.order.blade.bores if bore.depth is None}
        for name in setup.workholding.screws:
            if name not in known:
                sentence = f"screw {name!r} has no through bore of the blade to go into"
                yield at_line(
                    Kind.SEATING, "B", 0, sentence, "name bores that go through the blade"
                )


def _pins(bores: tuple[Bore, ...], flip: str) -> Iterator[Finding]:
    if len(bores) < 2:
        sentence = f"bores={len(bores)} seat the plate; it can turn about a single pin"
        yield at_line(Kind.SEATING, "B", 0, sentence, "use two pins or more, of unequal diameters")
        return
    fits = ways_it_seats(bores, flip)
    if len(fits) > 1:
        sentence = f"the pins take the plate in {len(fits)} ways: {'; '.join(fits)}"
        yield at_line(
            Kind.SEATING, "B", 0, sentence,
            "make the bores blind from side A and of unequal diameters, or set a third one aside",
            measured=float(len(fits)), allowed=1.0,
        )  # fmt: skip


def ways_it_seats(bores: tuple[Bore, ...], flip: str) -> list[str]:
    """Return the ways in which the plate goes over the pins of side B, of the four there are.

    The plate may be shifted as it likes. A bore that is blind from side A takes no pin unless
    side A lies on the fixture.
    """
    places = np.array([bore.centre for bore in bores])
    sizes = np.array([bore.diameter for bore in bores])
    pins = places * HALF_TURNS[flip][:2]
    blind = any(bore.depth is not None for bore in bores)
    fits = []
    for name, signs in LAID_WAYS.items():
        face_up = signs[0] * signs[1] > 0
        if not (face_up and blind) and _fits_over(places * signs, pins, sizes):
            fits.append(name)
    return fits


def _fits_over(places: Floats, pins: Floats, sizes: Floats) -> bool:
    """Whether bores at ``places`` go over ``pins`` of the same diameters after some shift."""
    for k in range(len(pins)):
        moved = places + (pins[k] - places[0])
        off = np.hypot(*(moved[:, None, :] - pins[None, :, :]).transpose(2, 0, 1))
        alike = np.abs(sizes[:, None] - sizes[None, :]) < SAME_BORE_MM
        taken = (off <= SEATS_WITHIN_MM) & alike
        if taken.any(axis=1).all() and taken.any(axis=0).all():
            return True
    return False


def find_plate_frame(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind border."""
    width, place = case.least_frame
    wanted = case.order.trench.border
    if not np.isfinite(width) or width >= wanted - LAST_DIGIT_MM:
        return
    sentence = (
        f"the plate's border is {mm(width):.2f} wide at its narrowest; {mm(wanted):g} is wanted"
    )
    given = [side.name for side in case.given()]
    yield Finding(
        kind=Kind.BORDER, side=given[0], line=0, message=sentence, place=rounded_place([*place, 0.0]),
        measured=width, allowed=wanted,
    )  # fmt: skip

"""From the model's sections to plate, mill, registration and setup."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import fields
from typing import cast

from knifecam.blade import Blade, Bore
from knifecam.curve import Curve
from knifecam.order.model_stand import (
    CORNERS,
    KeepOutSection,
    MillSection,
    PlateSection,
    ReferenceBoreSection,
    RegistrationSection,
    SetupSection,
)
from knifecam.order.quantity import LENGTH, show
from knifecam.order.reading import Notes
from knifecam.order.section import PLACE, Place
from knifecam.order.settle import Proposal, assume, in_words, settled
from knifecam.shop import (
    Boring,
    Hold,
    KeepOut,
    Measured,
    Mill,
    Plate,
    Registration,
    Setup,
)
from knifecam.shop.defaults import relieved_depth
from knifecam.shop.setup import ALLOWED_SPREAD

PIN_DIAMETERS, INCH_PINS = (6.0, 5.0), (6.35, 4.7625)
"""mm; the second 0.250 and 0.1875 in."""

CHANGE_HEIGHT, BLOCK, GAUGE = 50.8, 12.7, 6.35
"""mm: 2.000, 0.500 and 0.250 in, sizes that inch shops have, for what is 50, 10 and 6 mm elsewhere."""

BLIND = 0.3
"""mm: a blind reference bore leaves this much of the plate."""


def plate_of(section: PlateSection, outline: Curve, notes: Notes) -> Plate:
    """Return the plate; its thickness is the mean of what was measured."""
    corner = section.corner
    if corner is None:
        x_low, y_low, x_high, y_high = outline.bounds
        corner = (
            round((x_low + x_high - section.length) / 2, 6),
            round((y_low + y_high - section.width) / 2, 6),
        )
        assume(section, "corner", corner, "the blade in the middle of the plate", "plate", notes)
    measured = tuple(
        (round(corner[0] + x, 9), round(corner[1] + y, 9), t) for x, y, t in _places(section)
    )
    return Plate(
        length=section.length,
        width=section.width,
        thickness=round(math.fsum(t for _, _, t in measured) / len(measured), 6),
        corner=corner,
        measured=measured,
        allowed_spread=ALLOWED_SPREAD if section.spread is None else section.spread,
    )


def _places(section: PlateSection) -> tuple[tuple[float, float, float], ...]:
    """Return (x, y, thickness) seen from the plate's lower left corner."""
    seen = section.thickness
    at = ((0.0, 0.0), (section.length, 0.0), (section.length, section.width), (0.0, section.width))
    return tuple(one if isinstance(one, tuple) else (*at[k], one) for k, one in enumerate(seen))


def mill_of(section: MillSection, notes: Notes) -> Mill:
    """Return the mill."""
    zeros = (section.machine_zero_a, section.machine_zero_b)
    idle = {} if zeros != (None, None) else {"travel_from": "without mill.machine_zero_a or _b"}
    why = "a small mill's; state your own"
    sizes = {"change_height": (CHANGE_HEIGHT, why)} if notes.inch_sizes else {}
    known = settled(section, "mill", notes, usual=why, proposals=sizes, idle=idle)
    if zeros == (None, None):
        notes.assumed.append(
            "mill.machine_zero_a and mill.machine_zero_b are unknown (travel is judged by its extent"
            " only)"
        )
    places = (section.change_place_a, section.change_place_b)
    return Mill(
        **known,
        machine_zero=None if zeros == (None, None) else zeros,
        change_place=None if places == (None, None) else places,
    )


def registration_of(
    section: RegistrationSection, plate: Plate, outline: Curve, notes: Notes
) -> Registration:
    """Return the registration; pins without bores are proposed two, unequal, at the plate's ends."""
    kind = section.kind or Registration().kind
    if section.kind is None:
        assume(section, "kind", kind, "usual", "registration", notes)
    if section.bores or kind == "edges":
        bores = tuple(
            _reference(one, f"registration.bores[{place}]", kind, plate, notes)
            for place, one in enumerate(section.bores, start=1)
        )
    else:
        bores = _proposed_bores(kind, plate, outline, notes)
    measured = tuple(Measured(bore=m.bore, x=m.x, y=m.y) for m in section.measured)
    if kind == "bores" and not measured:
        notes.assumed.append(
            "registration.measured = none (side B is written for the nominal place; measure after the"
            " flip and make it again)"
        )
    return Registration(kind=kind, bores=bores, measured=measured)


def _reference(
    section: ReferenceBoreSection, path: str, kind: str, plate: Plate, notes: Notes
) -> Bore:
    depth, fitted = section.depth, section.fitted
    blind = round(plate.thickness - BLIND, 6) if kind == "pins" else None
    if depth is None:
        said = "through" if blind is None else blind
        assume(section, "depth", said, "common practice", path, notes)
    if fitted is None:
        fitted = kind == "pins"
        assume(section, "fitted", fitted, f'registration by "{kind}"', path, notes)
    return Bore(
        name=section.name,
        centre=section.centre,
        diameter=section.diameter,
        depth=blind if depth is None else None if isinstance(depth, str) else depth,
        fitted=fitted,
    )


def _proposed_bores(kind: str, plate: Plate, outline: Curve, notes: Notes) -> tuple[Bore, ...]:
    """Return two unequal bores in the middle of the waste at the plate's left and right ends."""
    x_low, y_low, x_high, y_high = plate.bounds
    left, right = (x_low + outline.bounds[0]) / 2, (x_high + outline.bounds[2]) / 2
    pins = INCH_PINS if notes.inch_sizes else PIN_DIAMETERS
    bores = tuple(
        Bore(
            name=f"reference-{place}",
            centre=(round(x, 6), round((y_low + y_high) / 2, 6)),
            diameter=diameter,
            depth=round(plate.thickness - BLIND, 6) if kind == "pins" else None,
            fitted=kind == "pins",
        )
        for place, (x, diameter) in enumerate(zip((left, right), pins, strict=True), 1)
    )
    notes.assumed += [
        f'registration.bores[{place}] = "{b.name}" of {show(b.diameter, LENGTH, notes.units)} at'
        f" {in_words(b.centre, PLACE, notes.units)} (in the middle of the waste at the plate's end;"
        " common practice)"
        for place, b in enumerate(bores, 1)
    ]
    return bores


def keep_out_of(section: KeepOutSection) -> KeepOut:
    """Return the keep-out."""
    return KeepOut(
        side=section.side,
        x_low=section.x[0],
        y_low=section.y[0],
        x_high=section.x[1],
        y_high=section.y[1],
        height=section.height,
        name=section.name or "clamp",
    )


def setup_of(
    section: SetupSection,
    plate_section: PlateSection,
    keep_outs: Sequence[KeepOutSection],
    plate: Plate,
    mill: Mill,
    registration: Registration,
    hold: Hold,
    boring: Boring,
    blade: Blade,
    notes: Notes,
) -> Setup:
    """Return the setup of both sides."""
    deep = relieved_depth(boring) if boring.bed == "relieved" else 0.0
    sizes: dict[str, Proposal] = {}
    if notes.inch_sizes:
        sizes = {"gap_height": (BLOCK, "usual"), "gauge_diameter": (GAUGE, "usual")}
    known = settled(
        section,
        "setup",
        notes,
        proposals=sizes | {"bed_allowance": (deep, "by the bed the bores are opened into")},
        idle={"gap_height": "with gap_stop=false"} if section.gap_stop is False else {},
    )
    return Setup(
        **known,
        plate=plate,
        mill=mill,
        registration=registration,
        hold=hold,
        datum=_datum(plate_section, plate, registration, blade, notes),
        z_zero=_z_zero(plate_section, notes),
        keep_out=tuple(keep_out_of(one) for one in keep_outs),
    )


def _z_zero(section: PlateSection, notes: Notes) -> tuple[str, str]:
    usual = cast(tuple[str, str], next(f.default for f in fields(Setup) if f.name == "z_zero"))
    found = []
    for key, given, zero in zip(
        ("z_zero_a", "z_zero_b"), (section.z_zero_a, section.z_zero_b), usual, strict=True
    ):
        if given is None:
            assume(section, key, zero, "common practice", "plate", notes)
        found.append(given or zero)
    return found[0], found[1]


def _datum(
    section: PlateSection,
    plate: Plate,
    registration: Registration,
    blade: Blade,
    notes: Notes,
) -> tuple[Place, Place]:
    bores = (*registration.bores, *blade.bores)
    if section.datum_a is not None:
        first = _named_place(section.datum_a, "plate.datum_a", plate, bores, notes)
    elif registration.kind == "pins" and registration.bores:
        first = registration.bores[0].centre
        why = f'reference bore "{registration.bores[0].name}"'
        assume(section, "datum_a", first, why, "plate", notes)
    else:
        first = plate.corner
        assume(section, "datum_a", first, "the plate's lower left corner", "plate", notes)
    if section.datum_b is None:
        assume(section, "datum_b", first, "the same physical place as on side A", "plate", notes)
        return first, first
    return first, _named_place(section.datum_b, "plate.datum_b", plate, bores, notes)


def _named_place(
    given: str | Place, path: str, plate: Plate, bores: Sequence[Bore], notes: Notes
) -> Place:
    if isinstance(given, tuple):
        return given
    x_low, y_low, x_high, y_high = plate.bounds
    corners = ((x_low, y_low), (x_high, y_low), (x_high, y_high), (x_low, y_high))
    places = dict(zip(CORNERS, corners, strict=True)) | {b.name: b.centre for b in bores}
    if given not in places:
        notes.troubles.append(
            f'{path}="{given}" is no place; known are {", ".join(places)}, or a point [x, y]'
        )
        return plate.corner
    return places[given]

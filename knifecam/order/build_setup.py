"""From an order's tables to cutters and cutting data, plate, mill, registration and setup."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import fields
from typing import cast

from knifecam.blade import Blade, Bore
from knifecam.curve import Curve
from knifecam.order.fill_defaults import (
    Proposal,
    in_words,
    note_assumed,
    refuse_idle,
    with_defaults,
)
from knifecam.order.key_values import LENGTH, PLACE, SURFACE, TOOTH, Place, show
from knifecam.order.order_limits import (
    BLIND_SKIN_MM,
    INCH_BLOCK_MM,
    INCH_CHANGE_HEIGHT_MM,
    INCH_GAUGE_MM,
    INCH_PINS_MM,
    PIN_DIAMETERS_MM,
    REACH_SPARE_MM,
)
from knifecam.order.order_tables import (
    CORNERS,
    ClampSection,
    CutterSection,
    CuttingSection,
    MillSection,
    PlateSection,
    ReferenceBoreSection,
    RegistrationSection,
    SetupSection,
)
from knifecam.order.toml_text import OrderNotes
from knifecam.quantity import mm, quantity
from knifecam.rules.cutter_rules import stages_needed
from knifecam.shop import (
    Bevelling,
    Boring,
    Clamp,
    Cutter,
    Cutting,
    MeasuredBore,
    Mill,
    Plate,
    Registration,
    Setup,
    Workholding,
)
from knifecam.shop.assumptions import AS_USUAL, MEASURE, PRACTICE, USUAL, Assumption, Why
from knifecam.shop.cutter import BULL_NOSE, CHAMFER
from knifecam.shop.cutter_choice import choose_cutters
from knifecam.shop.defaults import (
    contact_diameter,
    corner_for,
    feed_for,
    propose_cutter,
    propose_cutting,
    relieved_depth,
    shank_for,
    spindle_for,
    stickout_for,
    surface_speed,
)
from knifecam.shop.order_record import (
    BEVEL_ROUGH,
    BEVEL_SEMI,
    BORE,
    BREAK,
    CLEAR,
    FINISH,
    FIT,
    NECK,
    NOTCH,
    PLUNGE,
    ROUGH,
    SLOT,
    cutting_path,
)
from knifecam.shop.shop_limits import ALLOWED_SPREAD_MM


def cutter_of(section: CutterSection, place: int, thickness: float, notes: OrderNotes) -> Cutter:
    """Return the cutter; what is not stated of its build is guessed by its diameter.

    Its neck reaches through a plate of ``thickness`` mm, and little further: the longer, the more it
    bends.
    """
    path, diameter = f"cutters[{place}]", section.diameter
    usual = propose_cutter(section.number, section.kind, diameter)
    flute = section.flute_length or min(usual.flute_length, section.reach or math.inf)
    reach = section.reach or max(usual.reach, flute, round(thickness + REACH_SPARE_MM, 1))
    shank = section.shank or shank_for(diameter)
    neck = section.neck or min(usual.neck, shank)
    cone = usual.cone if section.cone is None else section.cone
    why = Why("guessed by diameter; measure yours", MEASURE)
    proposals: dict[str, Proposal] = {
        "corner": (usual.corner, "by its kind"),
        "flute_length": (flute, why),
        "neck": (neck, why),
        "reach": (reach, why),
        "shank": (shank, why),
        "stickout": (stickout_for(reach, neck, shank, cone), why),
    }
    if section.kind == BULL_NOSE and section.corner is None:
        notes.troubles.append(
            f"{path}.corner is missing; a bull-nose cutter must state its corner radius, greater than"
            f" 0 and less than {mm(diameter / 2):g}"
        )
    unsaid: tuple[str, ...] = ("tip", "half_angle")
    if section.kind == CHAMFER:
        proposals["tip"], unsaid = (usual.tip, why), ()
    elif section.tip is not None or section.half_angle is not None:
        notes.troubles.append(
            f"{path}: tip and half_angle are those of a chamfer mill; leave them out"
        )
    if (
        section.kind != BULL_NOSE
        and section.corner is None
        and corner_for(section.kind, diameter) == 0.0
    ):
        section = section.model_copy(update={"corner": 0.0})
    return Cutter(
        **with_defaults(
            section,
            path,
            notes,
            proposals=proposals,
            unsaid=unsaid,
            measure=("flutes",),
            owner=f"cutter {section.number}",
        )
    )


def cutting_of(
    sections: Sequence[CuttingSection],
    cutters: Sequence[Cutter],
    mill: Mill,
    blade: Blade,
    registration: Registration,
    notes: OrderNotes,
    necks: bool = False,
    bevelling: Bevelling | None = None,
) -> tuple[Cutting, ...]:
    """Return the cutting data: what is given, and a proposal for every stage left out.

    ``necks``: whether tabs are necked.
    """
    cusp = (bevelling or Bevelling()).cusp
    known = {c.number: c for c in cutters}
    needed = stages_needed(blade, registration, necks=necks)
    found: list[Cutting] = []
    for place, section in enumerate(sections, start=1):
        if section.cutter not in known:
            numbers = ", ".join(str(n) for n in known)
            notes.troubles.append(
                f"cutting[{place}].cutter={section.cutter} is not among the order's cutters"
                f" ({numbers})"
            )
        elif section.steel in (None, blade.steel.name):
            path = f"cutting[{place}]"
            _refuse_idle(section, path, needed, [c.stage for c in found], notes)
            entry = _entry(section, path, known[section.cutter], mill, blade, notes, cusp)
            found.append(entry)
    given = {s.stage for s in sections if s.steel in (None, blade.steel.name)}
    for stage, number in choose_cutters(cutters, blade, registration.bores, necks=necks):
        if stage not in given:
            others = {s.steel for s in sections if s.stage == stage and s.steel}
            found.append(_proposed(known[number], stage, mill, blade, notes, cusp, others))
    return tuple(found)


LEAVES = (SLOT, ROUGH, CLEAR, BEVEL_ROUGH, BEVEL_SEMI, PLUNGE)
"""Stages that leave an allowance; of the others, 0 is the only one that holds."""


ONE_PASS = (FIT, FINISH, NECK)
"""Stages that go along a wall in one pass, so that no step aside is theirs."""


IN_LEVELS = (BORE, SLOT, ROUGH, NOTCH, NECK, CLEAR, BEVEL_ROUGH)
"""Stages that go down in levels or turns; the others are at their depth at once."""


BY_SIZE = (BORE, FIT, SLOT, NOTCH, BREAK)
"""Stages in which the size of what is cut chooses among several entries."""


def _refuse_idle(
    section: CuttingSection,
    path: str,
    needed: Sequence[str],
    earlier: Sequence[str],
    notes: OrderNotes,
) -> None:
    """Refuse an entry, or a key of it, that has no effect on this blade."""
    stage, idle = section.stage, {}
    if stage not in needed:
        idle["stage"] = "on this blade, which has nothing for it"
    elif stage in earlier and stage not in BY_SIZE:
        idle["stage"] = "in a second entry for it"
    refuse_idle(section, path, idle | _idle_in(stage, section.allowance), notes)


def _idle_in(stage: str, allowance: float | None) -> dict[str, str]:
    """Return the keys that a stage has no use for, on any blade, and why."""
    idle = {}
    if stage not in LEAVES and allowance:
        idle["allowance"] = f'in stage "{stage}"'
    if stage not in IN_LEVELS:
        idle["stepdown"] = f'in stage "{stage}", which is at its depth at once'
    if stage in ONE_PASS:
        idle["stepover"] = f'in stage "{stage}", which goes along the wall in one pass'
    return idle


def _proposed(
    cutter: Cutter,
    stage: str,
    mill: Mill,
    blade: Blade,
    notes: OrderNotes,
    cusp: float,
    others: Collection[str] = (),
) -> Cutting:
    """Return the proposal for a stage; ``others`` are the steels that the order's entries are for."""
    hardness = blade.steel.hardness_hrc
    named = " and ".join(f'"{steel}"' for steel in sorted(others))
    why = f"what is stated holds for steel {named} only; " if others else ""
    entry = propose_cutting(
        cutter, stage, hardness_hrc=hardness, mill=mill, blade=blade, cusp=cusp, data=notes.data
    )
    tooth = entry.feed / (entry.spindle * cutter.flutes)
    data = (
        f"{entry.spindle:g} rev/min, {quantity(entry.feed, 'mm/min'):g} ({mm(tooth):.4f} a tooth),"
        f" stepdown {mm(entry.stepdown):g}, stepover {mm(entry.stepover):g}, allowance"
        f" {mm(entry.allowance):g}, life {entry.life:g} min"
    )
    why += f"by diameter {mm(cutter.diameter):g} and {hardness:g} HRC; common practice"
    notes.assumed.append(Assumption(table="cutting", value=data, why=Why(why), owner=entry.path))
    return entry


def _entry(
    section: CuttingSection,
    path: str,
    cutter: Cutter,
    mill: Mill,
    blade: Blade,
    notes: OrderNotes,
    cusp: float,
) -> Cutting:
    hardness = blade.steel.hardness_hrc
    usual = propose_cutting(
        cutter, section.stage, hardness_hrc=hardness, mill=mill, blade=blade, cusp=cusp,
        data=notes.data,
    )  # fmt: skip
    why = f"by diameter {mm(cutter.diameter):g}; common practice"
    owner = cutting_path(cutter.number, section.stage)
    spindle = _spindle(section, path, cutter, mill, usual, hardness, notes)
    feed = _feed(section, path, cutter, usual, spindle, mill, notes)
    rest, idle = {}, _idle_in(section.stage, section.allowance)
    for key in ("stepdown", "stepover", "allowance", "life"):
        rest[key] = getattr(section, key)
        if rest[key] is None:
            rest[key] = getattr(usual, key)
        if getattr(section, key) is None and key not in idle:
            note_assumed(section, key, rest[key], why, path, notes, owner=owner)
    return Cutting(cutter=section.cutter, stage=section.stage, spindle=spindle, feed=feed, **rest)


def _spindle(
    section: CuttingSection,
    path: str,
    cutter: Cutter,
    mill: Mill,
    usual: Cutting,
    hardness: float,
    notes: OrderNotes,
) -> float:
    speed = section.surface_speed
    if section.spindle is not None and speed is not None:
        notes.troubles.append(
            f"{path}: spindle and surface_speed say the same thing twice; keep one of them"
        )
    if section.spindle is not None:
        return section.spindle
    if speed is None:
        usually = show(surface_speed(section.stage, hardness, notes.data), SURFACE, notes.units)
        why = f"by {usually}, in the mill's range"
        note_assumed(section, "spindle", usual.spindle, why, path, notes, owner=usual.path)
        return usual.spindle
    diameter = contact_diameter(cutter)
    spindle = spindle_for(speed, diameter)
    low, high = mill.spindle_low, mill.spindle_high
    if not (low <= spindle <= high):
        reachable = [show(n * math.pi * diameter, SURFACE, notes.units) for n in (low, high)]
        notes.troubles.append(
            f"{path}.surface_speed={show(speed, SURFACE, notes.units)} wants {spindle:g} rev/min of"
            " cutter"
            f" {cutter.number}; the mill turns {low:g} to {high:g} rev/min, which is"
            f" {reachable[0]} to {reachable[1]}"
        )
        return min(max(spindle, low), high)
    return spindle


def _feed(
    section: CuttingSection,
    path: str,
    cutter: Cutter,
    usual: Cutting,
    spindle: float,
    mill: Mill,
    notes: OrderNotes,
) -> float:
    tooth = section.feed_per_tooth
    if section.feed is not None and tooth is not None:
        notes.troubles.append(
            f"{path}: feed and feed_per_tooth say the same thing twice; keep one of them"
        )
    if section.feed is not None:
        return section.feed
    if tooth is None:
        tooth = usual.feed / (usual.spindle * cutter.flutes)
        feed = min(feed_for(spindle, cutter.flutes, tooth), mill.feed_high)
        why = f"by {show(tooth, TOOTH, notes.units)}"
        note_assumed(section, "feed", feed, why, path, notes, owner=usual.path)
        return feed
    return feed_for(spindle, cutter.flutes, tooth)


def plate_of(section: PlateSection, outline: Curve, notes: OrderNotes) -> Plate:
    """Return the plate; its thickness is the mean of what was measured."""
    corner = section.corner
    if corner is None:
        x_low, y_low, x_high, y_high = outline.bounds
        corner = (
            round((x_low + x_high - section.length) / 2, 6),
            round((y_low + y_high - section.width) / 2, 6),
        )
        note_assumed(
            section, "corner", corner, "the blade in the middle of the plate", "plate", notes
        )
    measured = tuple(
        (round(corner[0] + x, 9), round(corner[1] + y, 9), t) for x, y, t in _places(section)
    )
    return Plate(
        length=section.length,
        width=section.width,
        thickness=round(math.fsum(t for _, _, t in measured) / len(measured), 6),
        corner=corner,
        measured=measured,
        allowed_spread=ALLOWED_SPREAD_MM if section.spread is None else section.spread,
    )


def _places(section: PlateSection) -> tuple[tuple[float, float, float], ...]:
    """Return (x, y, thickness) seen from the plate's lower left corner."""
    seen = section.thickness
    at = ((0.0, 0.0), (section.length, 0.0), (section.length, section.width), (0.0, section.width))
    return tuple(one if isinstance(one, tuple) else (*at[k], one) for k, one in enumerate(seen))


DECIDES = ("travel", "spindle_low", "spindle_high", "feed_high", "coolant_code")
"""What of a mill decides whether it can do the work; the rest is alike on many."""


def mill_of(section: MillSection, notes: OrderNotes) -> Mill:
    """Return the mill."""
    zeros = (section.machine_zero_a, section.machine_zero_b)
    idle = {} if zeros != (None, None) else {"travel_from": "without mill.machine_zero_a or _b"}
    why = Why("a small mill's; state your own", USUAL)
    sizes: dict[str, Proposal] = {}
    if notes.inch_sizes:
        sizes["change_height"] = (INCH_CHANGE_HEIGHT_MM, why)
    known = with_defaults(
        section, "mill", notes, usual=why, proposals=sizes, idle=idle, measure=DECIDES
    )
    if zeros == (None, None):
        unknown = Why("travel is judged by its extent only", MEASURE)
        notes.assumed.append(
            Assumption(table="mill", value="machine_zero_a and _b are unknown", why=unknown)
        )
    if section.pace is None:
        note_assumed(section, "pace", "usual", AS_USUAL, "mill", notes)
    places = (section.change_place_a, section.change_place_b)
    return Mill(
        **known,
        machine_zero=None if zeros == (None, None) else zeros,
        change_place=None if places == (None, None) else places,
    )


def registration_of(
    section: RegistrationSection, plate: Plate, outline: Curve, notes: OrderNotes
) -> Registration:
    """Return the registration; pins without bores are proposed two, unequal, at the plate's ends."""
    kind = section.kind or Registration().kind
    if section.kind is None:
        note_assumed(section, "kind", kind, AS_USUAL, "registration", notes)
    if section.bores or kind == "edges":
        bores = tuple(
            _reference(one, f"registration.bores[{place}]", kind, plate, notes)
            for place, one in enumerate(section.bores, start=1)
        )
    else:
        bores = _proposed_bores(kind, plate, outline, notes)
    measured = tuple(MeasuredBore(bore=m.bore, x=m.x, y=m.y) for m in section.measured)
    if kind == "bores" and not measured:
        why = "side B is written for the nominal place; measure after the flip and make it again"
        notes.assumed.append(
            Assumption(table="registration", key="measured", value="none", why=Why(why))
        )
    return Registration(kind=kind, bores=bores, measured=measured)


def _reference(
    section: ReferenceBoreSection, path: str, kind: str, plate: Plate, notes: OrderNotes
) -> Bore:
    depth, fitted = section.depth, section.fitted
    blind = round(plate.thickness - BLIND_SKIN_MM, 6) if kind == "pins" else None
    if depth is None:
        said = "through" if blind is None else blind
        note_assumed(section, "depth", said, PRACTICE, path, notes)
    if fitted is None:
        fitted = kind == "pins"
        note_assumed(section, "fitted", fitted, f'registration by "{kind}"', path, notes)
    return Bore(
        name=section.name,
        centre=section.centre,
        diameter=section.diameter,
        depth=blind if depth is None else None if isinstance(depth, str) else depth,
        fitted=fitted,
    )


def _proposed_bores(kind: str, plate: Plate, outline: Curve, notes: OrderNotes) -> tuple[Bore, ...]:
    """Return two unequal bores in the middle of the waste at the plate's left and right ends."""
    x_low, y_low, x_high, y_high = plate.bounds
    left, right = (x_low + outline.bounds[0]) / 2, (x_high + outline.bounds[2]) / 2
    pins = INCH_PINS_MM if notes.inch_sizes else PIN_DIAMETERS_MM
    bores = tuple(
        Bore(
            name=f"reference-{place}",
            centre=(round(x, 6), round((y_low + y_high) / 2, 6)),
            diameter=diameter,
            depth=round(plate.thickness - BLIND_SKIN_MM, 6) if kind == "pins" else None,
            fitted=kind == "pins",
        )
        for place, (x, diameter) in enumerate(zip((left, right), pins, strict=True), 1)
    )
    why = Why("in the middle of the waste at the plate's end; common practice")
    for place, b in enumerate(bores, 1):
        size, centre = show(b.diameter, LENGTH, notes.units), in_words(b.centre, PLACE, notes.units)
        notes.assumed.append(
            Assumption(
                table="registration", key=f"bores[{place}]", why=why,
                value=f'"{b.name}" of {size} at {centre}',
            )
        )  # fmt: skip
    return bores


def clamp_of(section: ClampSection) -> Clamp:
    """Return the keep-out."""
    return Clamp(
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
    clamps: Sequence[ClampSection],
    plate: Plate,
    mill: Mill,
    registration: Registration,
    hold: Workholding,
    boring: Boring,
    blade: Blade,
    notes: OrderNotes,
) -> Setup:
    """Return the setup of both sides."""
    deep, why = 0.0, "nothing is cut into the fixture"
    if boring.opening == "relieved":
        deep, why = relieved_depth(boring), "bores are opened into a relief of the fixture"
    sizes: dict[str, Proposal] = {}
    if notes.inch_sizes:
        sizes = {
            "gap_height": (INCH_BLOCK_MM, AS_USUAL),
            "gauge_diameter": (INCH_GAUGE_MM, AS_USUAL),
        }
    known = with_defaults(
        section,
        "setup",
        notes,
        proposals=sizes | {"fixture_allowance": (deep, why)},
        idle={"gap_height": "with gap_stop=false"} if section.gap_stop is False else {},
    )
    return Setup(
        **known,
        plate=plate,
        mill=mill,
        registration=registration,
        workholding=hold,
        datum=_datum(plate_section, plate, registration, blade, notes),
        z_zero=_z_zero(plate_section, notes),
        clamps=tuple(clamp_of(one) for one in clamps),
    )


def _z_zero(section: PlateSection, notes: OrderNotes) -> tuple[str, str]:
    usual = cast(tuple[str, str], next(f.default for f in fields(Setup) if f.name == "z_zero"))
    found = []
    for key, given, zero in zip(
        ("z_zero_a", "z_zero_b"), (section.z_zero_a, section.z_zero_b), usual, strict=True
    ):
        if given is None:
            note_assumed(section, key, zero, PRACTICE, "plate", notes)
        found.append(given or zero)
    return found[0], found[1]


def _datum(
    section: PlateSection,
    plate: Plate,
    registration: Registration,
    blade: Blade,
    notes: OrderNotes,
) -> tuple[Place, Place]:
    bores = (*registration.bores, *blade.bores)
    if section.datum_a is not None:
        first = _named_place(section.datum_a, "plate.datum_a", plate, bores, notes)
    elif registration.kind == "pins" and registration.bores:
        first = registration.bores[0].centre
        why = f'reference bore "{registration.bores[0].name}"'
        note_assumed(section, "datum_a", first, why, "plate", notes)
    else:
        first = plate.corner
        note_assumed(section, "datum_a", first, "the plate's lower left corner", "plate", notes)
    if section.datum_b is None:
        note_assumed(
            section, "datum_b", first, "the same physical place as on side A", "plate", notes
        )
        return first, first
    return first, _named_place(section.datum_b, "plate.datum_b", plate, bores, notes)


def _named_place(
    given: str | Place, path: str, plate: Plate, bores: Sequence[Bore], notes: OrderNotes
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

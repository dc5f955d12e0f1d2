"""What stands at the head of a program, in plain phrases."""

from __future__ import annotations

import math
import re
import textwrap
from collections.abc import Iterator

from knifecam import __version__
from knifecam.curve.curve import Floats
from knifecam.planning.bevel_notes import bevel_facts
from knifecam.planning.plan import Plan, carried_from_side_a, cutters_used_on, waste_notes
from knifecam.program.length_check_places import clamp_distance
from knifecam.program.rs274_words import MM_UNIT, Unit, unit_of
from knifecam.program.zero_and_flip_fit import ProgramFrame, registration_words
from knifecam.quantity import mm2, moments, told
from knifecam.shop import Cutter, Mill, Order
from knifecam.shop.side_view import SideContext, points_on

PHRASE_CHARACTERS = 74
"""Characters a phrase may have, so that lines stay under 80."""

CAUTIONS = (
    "GUARDS CLOSED, EYES PROTECTED, NO GLOVES NEAR THE SPINDLE",
    "RUN IT IN AIR FIRST. HOT CHIPS FLY, HARD CUTTERS SHATTER",
    "A LOOSE BLADE IS A KNIFE: EXPECT A SHARP EDGE",
    "MACHINE AND CUTTER MAKERS' INSTRUCTIONS AND LOCAL RULES COME FIRST",
    "THIS PROGRAM KNOWS OF YOUR MACHINE ONLY WHAT THE ORDER SAYS",
)


def comment_text(text: str) -> str:
    """Return text as a comment can hold it: plain capitals, square brackets for round ones."""
    square = text.translate({ord("("): "[", ord(")"): "]"})
    return "".join(c if " " <= c <= "~" else "?" for c in square).upper()


def comment_lines(text: str) -> list[str]:
    """Return text as comment lines, short enough, and about as long as each other."""
    words = comment_text(text)
    rows = textwrap.wrap(words, PHRASE_CHARACTERS) or [""]
    width = PHRASE_CHARACTERS
    while len(rows) > 1 and width > PHRASE_CHARACTERS // 2:
        width -= 1
        narrower = textwrap.wrap(words, width)
        if len(narrower) > len(rows) or max(map(len, narrower)) > width:
            break
        rows = narrower if len(narrower) == len(rows) else rows
    return [f"({_silent(row)})" for row in rows]


def _silent(row: str) -> str:
    """Return a row that no control shows as a message, as one that begins with ``MSG,`` would be.

    White space among the letters makes no difference to them (NISTIR 6556, section 3.3).
    """
    return f"- {row}" if re.match(r"\s*M\s*S\s*G\s*,", row) else row


def cutter_phrase(cutter: Cutter, unit: Unit = MM_UNIT) -> str:
    """Return one cutter in words."""
    corner = f", CORNER {unit.told(cutter.corner, 3)}" if cutter.corner else ""
    return (
        f"CUTTER {cutter.number}: {cutter.kind} {unit.told(cutter.diameter, 3)}{corner},"
        f" {cutter.flutes} FLUTES, STICKOUT {unit.told(cutter.stickout, 1)}"
    )


def header_lines(
    order: Order, plan: Plan, side: str, frame: ProgramFrame, bare: tuple[float, float] | None
) -> Iterator[str]:
    """Yield the header of one side's program; lengths are checked at ``bare``, None for nowhere."""
    for text in _texts(order, plan, side, frame, bare):
        yield from comment_lines(told(text, order.setup.mill.units))


def _texts(
    order: Order, plan: Plan, side: str, frame: ProgramFrame, bare: tuple[float, float] | None
) -> Iterator[str]:
    setup, plate, unit = order.setup, order.setup.plate, unit_of(order)
    index = "AB".index(side)
    yield f"{order.name}, SIDE {side}"
    yield f"KNIFECAM {__version__}, ORDER {order.digest or 'BUILT BY HAND'}"
    if setup.mill.name != Mill().name:
        yield f"FOR THE MILL {setup.mill.name}"
    yield from CAUTIONS
    yield (
        f"PLATE {unit.told(plate.length, 1)} X {unit.told(plate.width, 1)} X"
        f" {unit.told(plate.thickness, 3)},"
        f" {order.blade.steel.name} {order.blade.steel.hardness_hrc:.0f} HRC"
    )
    zero = (
        "THE PLATE'S UPPER FACE" if setup.z_zero[index] == "face" else "THE FIXTURE UNDER THE PLATE"
    )
    yield f"ZERO {setup.offsets[index]}: Z0 IS {zero}"
    yield "SET ALL CUTTER LENGTHS FROM ONE REFERENCE"
    yield from _air_texts(order, plan, side, unit)
    if unit is not MM_UNIT:
        yield "ALL LENGTHS ARE IN INCHES, IN THESE REMARKS TOO"
    for name, bounds in (("PLATE", plate.bounds), ("BLADE", order.blade.outline.bounds)):
        low, high = _span(order, side, frame, bounds)
        x, y = (f"{unit.told(low[k], 2)} TO {unit.told(high[k], 2)}" for k in (0, 1))
        yield f"{name} AT X {x}, Y {y}"
    if side == "B":
        yield (
            f"THE PLATE IS TURNED OVER ABOUT {setup.flip}, LOCATED FROM SIDE A BY"
            f" {setup.registration.kind}"
        )
        yield from _lie_texts(frame, unit)
    yield from registration_words(order, side, frame)
    yield from _clamp_texts(order, side, unit)
    yield from _cutter_texts(order, plan, side, unit)
    yield f"{setup.mill.coolant_code} IS AIR BLAST: NO FLOOD, IT CRACKS HOT CARBIDE"
    if bare is not None:
        x, y = (unit.told(v, 1) for v in bare)
        yield f"CUTTER LENGTHS ARE CHECKED WITH A BLOCK ON BARE PLATE AT X{x} Y{y}"
        yield f"KEEP CLAMPS {unit.told(clamp_distance(order, plan, side), 1)} AWAY FROM THERE"
        yield "RESTART AT ANY CUT WITH OPTIONAL STOPS ON: THEY CHECK LENGTHS AGAIN"
    if side == "B":
        for count, tab in enumerate(plan.tabs, start=1):
            x, y = frame.of(points_on(side, tab.place, order.setup.flip))[0]
            yield (
                f"TAB {count} AT X {unit.told(x, 1)} Y {unit.told(y, 1)}:"
                f" {unit.told(tab.thickness, 2)} THICK, WAIST {unit.told(tab.waist, 2)}"
            )
        yield from _snapping_texts(plan)
    notes = (*plan.notes, *bevel_facts(order), *waste_notes(plan.cuts))
    if notes:
        yield "NOTES ON THE PLAN; PLACES ARE THE DRAWING'S:"
    yield from notes


def _air_texts(order: Order, plan: Plan, side: str, unit: Unit) -> Iterator[str]:
    """Yield how far Z0 is raised so that the whole program runs above the plate."""
    step = 5.0 if unit is MM_UNIT else unit.size / 4
    deep = order.blade.thickness / 2 - min((c.bottom for c in plan.side(side)), default=0.0)
    raised = unit.told(math.ceil((deep + order.setup.mill.rapid_height) / step - 1e-9) * step, 1)
    yield (
        f"TO RUN IN AIR: RAISE Z0 OF {order.setup.offsets['AB'.index(side)]} BY {raised}, RUN, LOWER IT"
        " AGAIN"
    )
    yield f"IN AIR THE GAPS AT STOPS ARE {raised} MORE"


def _snapping_texts(plan: Plan) -> Iterator[str]:
    """Yield what breaks the tabs, by the smallest section as planned, once for tabs that are alike."""
    for snaps, section, place in dict.fromkeys(
        (moments(*tab.moment), round(tab.section, 2), "NECK" if tab.neck else "SECTION")
        for tab in plan.tabs
    ):
        yield f"A TAB AS PLANNED: {place} {mm2(section):.2f}, BREAKS AT ABOUT {snaps}"


def _clamp_texts(order: Order, side: str, unit: Unit) -> Iterator[str]:
    """Yield how high things may stand where the order names none."""
    if any(box.side == side for box in order.setup.clamps):
        return
    bench = SideContext(order=order, side=side)
    high = unit.told(bench.rapid_z - bench.top, 1)
    yield "THE ORDER NAMES NO CLAMPS ON THIS SIDE"
    yield f"KEEP CLAMPS UNDER {high} ABOVE THE PLATE AND OUT OF ALL CUTS"
    yield f"RAPIDS RUN {high} ABOVE THE PLATE"
    if order.setup.workholding.tip_clamp and side == "B":
        yield "A STOP BEFORE THE TRENCH ASKS FOR A CLAMP ON THE BLADE'S FAR END: KEEP IT AS LOW"


def _cutter_texts(order: Order, plan: Plan, side: str, unit: Unit) -> Iterator[str]:
    """Yield the side's cutters, how long each number works, and how many of it go in."""
    for number in dict.fromkeys(cut.cutter for cut in plan.side(side)):
        minutes = sum(cut.minutes for cut in plan.side(side) if cut.cutter == number)
        count = cutters_used_on(plan, number, side)
        kept = ""
        if carried_from_side_a(plan, number) and side == "B":
            kept = ", START WITH SIDE A'S LAST ONE" if count > 1 else ", THE LAST ONE OF SIDE A"
        yield cutter_phrase(order.cutter(number), unit)
        yield f"CUTTER {number}: ABOUT {minutes:.0f} MIN OF CUTTING, {count} NEEDED{kept}"


def _lie_texts(frame: ProgramFrame, unit: Unit) -> Iterator[str]:
    if frame.lie.angle or frame.lie.x or frame.lie.y:
        yield (
            f"WRITTEN FOR THE PLATE AS MEASURED: SHIFTED X {unit.told(frame.lie.x, 4)}"
            f" Y {unit.told(frame.lie.y, 4)}, TURNED {frame.lie.angle * 57.29577951308232:.5f} DEG"
        )


def _span(
    order: Order, side: str, frame: ProgramFrame, bounds: tuple[float, float, float, float]
) -> tuple[Floats, Floats]:
    x0, y0, x1, y1 = bounds
    corners = points_on(side, [(x0, y0), (x1, y0), (x1, y1), (x0, y1)], order.setup.flip)
    placed = frame.of(corners)
    return placed.min(axis=0), placed.max(axis=0)

"""What stands at the head of a program, in plain phrases."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator

from knifecam.curve.curve import Floats
from knifecam.planning.flip import points_on
from knifecam.planning.plan import Plan
from knifecam.program.frame import ProgramFrame
from knifecam.program.number import MM, Unit
from knifecam.shop import Cutter, Order
from knifecam.version import __version__

WIDTH = 74
"""Characters a phrase may have, so that lines stay under 80."""

CAUTIONS = (
    "GUARDS CLOSED, EYES PROTECTED, NO GLOVES NEAR THE SPINDLE",
    "RUN IT IN AIR FIRST. HOT CHIPS FLY, HARD CUTTERS SHATTER",
    "A LOOSE BLADE IS A KNIFE. MAKERS' INSTRUCTIONS AND LOCAL RULES STAND",
    "ABOVE THIS PROGRAM; IT KNOWS NOTHING OF YOUR MACHINE BUT THE ORDER",
)


def phrase(text: str) -> list[str]:
    """Return text as comment lines: plain capitals, no brackets inside, short enough."""
    plain = re.sub(r"[()]", "-", text)
    plain = plain.encode("ascii", "replace").decode("ascii").upper()
    return [f"({line})" for line in textwrap.wrap(plain, WIDTH) or [""]]


def cutter_phrase(cutter: Cutter, unit: Unit = MM) -> str:
    """Return one cutter in words."""
    corner = f", CORNER {unit.told(cutter.corner, 3)}" if cutter.corner else ""
    return (
        f"CUTTER {cutter.number}: {cutter.kind} {unit.told(cutter.diameter, 3)}{corner},"
        f" {cutter.flutes} FLUTES, OUT {unit.told(cutter.stickout, 1)}"
    )


def header_lines(
    order: Order, plan: Plan, side: str, frame: ProgramFrame, unit: Unit = MM
) -> Iterator[str]:
    """Yield the header of one side's program."""
    for text in _texts(order, plan, side, frame, unit):
        yield from phrase(text)


def _texts(order: Order, plan: Plan, side: str, frame: ProgramFrame, unit: Unit) -> Iterator[str]:
    setup, plate = order.setup, order.setup.plate
    index = "AB".index(side)
    yield f"{order.name}, SIDE {side}"
    yield f"KNIFECAM {__version__}, ORDER {order.digest or 'BUILT BY HAND'}"
    yield from CAUTIONS
    yield (
        f"PLATE {unit.told(plate.length, 1)} X {unit.told(plate.width, 1)} X"
        f" {unit.told(plate.thickness, 3)},"
        f" {order.blade.steel.name} {order.blade.steel.hardness_hrc:.0f} HRC"
    )
    zero = "THE PLATE'S UPPER FACE" if setup.z_zero[index] == "face" else "THE BED"
    yield f"ZERO {setup.offsets[index]}: Z0 IS {zero}, ONE REFERENCE FOR ALL CUTTER LENGTHS"
    if unit is not MM:
        yield "LENGTHS IN INCHES, IN THESE REMARKS TOO UNLESS THEY SAY MM"
    for name, bounds in (("PLATE", plate.bounds), ("BLADE", order.blade.outline.bounds)):
        low, high = _span(order, side, frame, bounds)
        x, y = (f"{unit.told(low[k], 2)} TO {unit.told(high[k], 2)}" for k in (0, 1))
        yield f"THE {name} LIES IN X {x}, Y {y}"
    if side == "B":
        yield f"THE PLATE IS TURNED OVER ABOUT {setup.flip}, HELD TO SIDE A BY {setup.registration.kind}"
        yield from _registration_texts(frame, unit)
    used = dict.fromkeys(cut.cutter for cut in plan.side(side))
    for number in used:
        minutes = sum(cut.minutes for cut in plan.side(side) if cut.cutter == number)
        yield f"{cutter_phrase(order.cutter(number), unit)}, ABOUT {minutes:.0f} MIN"
    yield f"AIR IS {setup.mill.air_word}; FLOOD CRACKS HOT CARBIDE"
    if side == "B":
        for count, tab in enumerate(plan.tabs, start=1):
            x, y = frame.of(points_on(side, tab.place, order.setup.flip))[0]
            yield (
                f"TAB {count} AT X {unit.told(x, 1)} Y {unit.told(y, 1)}:"
                f" {unit.told(tab.thickness, 2)} THICK, WAIST {unit.told(tab.waist, 2)},"
                f" SNAPS AT {tab.moment[0]:.0f} TO {tab.moment[1]:.0f} N MM"
            )
    yield from plan.notes


def _registration_texts(frame: ProgramFrame, unit: Unit) -> Iterator[str]:
    if frame.lie.angle or frame.lie.x or frame.lie.y:
        yield (
            f"WRITTEN FOR THE PLATE AS IT LIES: SHIFTED {unit.told(frame.lie.x, 4)},"
            f" {unit.told(frame.lie.y, 4)}, TURNED {frame.lie.angle * 57.29577951308232:.5f} DEG"
        )


def _span(
    order: Order, side: str, frame: ProgramFrame, bounds: tuple[float, float, float, float]
) -> tuple[Floats, Floats]:
    x0, y0, x1, y1 = bounds
    corners = points_on(side, [(x0, y0), (x1, y0), (x1, y1), (x0, y1)], order.setup.flip)
    placed = frame.of(corners)
    return placed.min(axis=0), placed.max(axis=0)

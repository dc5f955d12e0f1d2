"""What stands at the head of a program, in plain phrases."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator

from knifecam.curve.curve import Floats
from knifecam.planning.flip import points_on
from knifecam.planning.plan import Plan
from knifecam.program.frame import ProgramFrame
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


def cutter_phrase(cutter: Cutter) -> str:
    """Return one cutter in words."""
    corner = f", CORNER {cutter.corner:.3f}" if cutter.corner else ""
    return (
        f"CUTTER {cutter.number}: {cutter.kind} {cutter.diameter:.3f}{corner}, {cutter.flutes} FLUTES,"
        f" OUT {cutter.stickout:.1f}"
    )


def header_lines(order: Order, plan: Plan, side: str, frame: ProgramFrame) -> Iterator[str]:
    """Yield the header of one side's program."""
    for text in _texts(order, plan, side, frame):
        yield from phrase(text)


def _texts(order: Order, plan: Plan, side: str, frame: ProgramFrame) -> Iterator[str]:
    setup, plate = order.setup, order.setup.plate
    index = "AB".index(side)
    yield f"{order.name}, SIDE {side}"
    yield f"KNIFECAM {__version__}, ORDER {order.digest or 'BUILT BY HAND'}"
    yield from CAUTIONS
    yield (
        f"PLATE {plate.length:.1f} X {plate.width:.1f} X {plate.thickness:.3f},"
        f" {order.blade.steel.name} {order.blade.steel.hardness_hrc:.0f} HRC"
    )
    zero = "THE PLATE'S UPPER FACE" if setup.z_zero[index] == "face" else "THE BED"
    yield f"ZERO {setup.offsets[index]}: Z0 IS {zero}, ONE REFERENCE FOR ALL CUTTER LENGTHS"
    low, high = _span(order, side, frame, plate.bounds)
    yield f"THE PLATE LIES IN X {low[0]:.2f} TO {high[0]:.2f}, Y {low[1]:.2f} TO {high[1]:.2f}"
    low, high = _span(order, side, frame, order.blade.outline.bounds)
    yield f"THE BLADE LIES IN X {low[0]:.2f} TO {high[0]:.2f}, Y {low[1]:.2f} TO {high[1]:.2f}"
    if side == "B":
        yield f"THE PLATE IS TURNED OVER ABOUT {setup.flip}, HELD TO SIDE A BY {setup.registration.kind}"
        yield from _registration_texts(order, frame)
    used = dict.fromkeys(cut.cutter for cut in plan.side(side))
    for number in used:
        minutes = sum(cut.minutes for cut in plan.side(side) if cut.cutter == number)
        yield f"{cutter_phrase(order.cutter(number))}, ABOUT {minutes:.0f} MIN"
    yield f"AIR IS {setup.mill.air_word}; FLOOD CRACKS HOT CARBIDE"
    if side == "B":
        for count, tab in enumerate(plan.tabs, start=1):
            x, y = frame.of(points_on(side, tab.place, order.setup.flip))[0]
            yield (
                f"TAB {count} AT X {x:.1f} Y {y:.1f}: {tab.thickness:.2f} THICK, WAIST {tab.waist:.2f},"
                f" SNAPS AT {tab.moment[0]:.0f} TO {tab.moment[1]:.0f} N MM"
            )
    yield from plan.notes


def _registration_texts(order: Order, frame: ProgramFrame) -> Iterator[str]:
    if frame.lie.angle or frame.lie.x or frame.lie.y:
        yield (
            f"WRITTEN FOR THE PLATE AS IT LIES: SHIFTED {frame.lie.x:.4f}, {frame.lie.y:.4f},"
            f" TURNED {frame.lie.angle * 57.29577951308232:.5f} DEG"
        )


def _span(
    order: Order, side: str, frame: ProgramFrame, bounds: tuple[float, float, float, float]
) -> tuple[Floats, Floats]:
    x0, y0, x1, y1 = bounds
    corners = points_on(side, [(x0, y0), (x1, y0), (x1, y1), (x0, y1)], order.setup.flip)
    placed = frame.of(corners)
    return placed.min(axis=0), placed.max(axis=0)

"""A plan's side as RS-274 text that a maker can follow at the machine.

Only words and codes of RS274/NGC (NISTIR 6556). Comments are plain phrases in parentheses, lines
stay under 80 characters, and the same plan gives the same bytes. Every cut begins with its full
modal state, so that work can be taken up again at any of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.planning.plan import Cut, Plan
from knifecam.program.frame import ProgramFrame, program_frame
from knifecam.program.header import cutter_phrase, header_lines, phrase
from knifecam.program.motion import motion_lines
from knifecam.program.number import UNITS, Unit, integer, word
from knifecam.shop import Order

MODES = "G17 G90 G94 G40 G49 G80 G61"
"""XY plane, absolute, feed a minute, no compensation, lengths or cycles, exact path."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """One side's text.

    ``line_of_motion`` holds, for the motions of all the side's cuts one after the other, the
    1-based line that makes each of them; 0 where a motion vanished in rounding.
    """

    side: str
    text: str
    line_of_motion: NDArray[np.int32]


def unit_of(order: Order) -> Unit:
    """Return what the mill's programs count in."""
    return UNITS[order.setup.mill.units]


def start_block(order: Order, offset: str) -> str:
    """Return the line that states every mode, and the work offset."""
    return f"{unit_of(order).code} {MODES} {offset}"


def write_program(order: Order, plan: Plan, side: str) -> Program:
    """Return the program of one side."""
    cuts = plan.side(side)
    frame = program_frame(order, side)
    unit = unit_of(order)
    modes = start_block(order, order.setup.offsets["AB".index(side)])
    lines = [*header_lines(order, plan, side, frame, unit), modes, "G92.1", "M5", "M9"]
    numbers = np.zeros(sum(len(cut.motions) for cut in cuts), np.int32)
    first, in_spindle, used = 0, 0, set[int]()
    for count, cut in enumerate(cuts, start=1):
        moved = frame.motions(cut.motions)
        lines += phrase(
            f"CUT {count} OF {len(cuts)}: {cut.name}, CUTTER {cut.cutter},"
            f" DOWN TO {unit.word('Z', frame.height(cut.bottom))}"
        )
        lines += phrase(_extent(cut, moved.stop, unit))
        lines.append(modes)
        lines += _stop(cut.stop)
        if cut.fresh and in_spindle not in (0, cut.cutter):
            lines.append(f"{integer('T', cut.cutter)} M6")  # the worn one, to be taken out
        if cut.fresh or (order.setup.mill.change_by_hand and cut.cutter != in_spindle):
            lines += _stop(_change_words(order, cut))
        lines.append(f"{integer('T', cut.cutter)} M6")
        if order.setup.gap_stop and (cut.fresh or cut.cutter not in used):
            lines += _gap_stop(order, cut, frame, moved.stop[0])
        lines += _under_way(order, cut)
        for line, k in motion_lines(moved, unit):
            lines.append(line)
            numbers[first + k] = len(lines)
        lines += ["M5", "M9", *_stop(cut.after)]
        first, in_spindle = first + len(cut.motions), cut.cutter
        used.add(cut.cutter)
    lines += _closing(order, side)
    return Program(side=side, text="\n".join([*lines, "M2"]) + "\n", line_of_motion=numbers)


def _extent(cut: Cut, places: np.ndarray, unit: Unit) -> str:
    (x0, y0, _), (x1, y1, _) = places.min(axis=0), places.max(axis=0)
    return (
        f"X {unit.told(x0, 1)} TO {unit.told(x1, 1)}, Y {unit.told(y0, 1)} TO {unit.told(y1, 1)},"
        f" ABOUT {cut.minutes:.1f} MIN IN CONTACT"
    )


def _stop(words: tuple[str, ...]) -> list[str]:
    """Return a hand stop; the cutter is up, spindle and air are off."""
    return [*(line for one in words for line in phrase(one)), "M0"] if words else []


def _change_words(order: Order, cut: Cut) -> tuple[str, ...]:
    fit = "FIT A FRESH" if cut.fresh else "FIT"
    return (f"{fit} {cutter_phrase(order.cutter(cut.cutter), unit_of(order))}, SET H{cut.cutter}",)


def _gap_stop(order: Order, cut: Cut, frame: ProgramFrame, start: np.ndarray) -> list[str]:
    gap, unit = order.setup.gap_height, unit_of(order)
    low = frame.height(order.blade.thickness / 2) + gap
    high = max(float(start[2]), low)
    return [
        f"G43 {integer('H', cut.cutter)}",
        f"G0 {unit.word('Z', high)}",
        f"G0 {unit.word('X', start[0])} {unit.word('Y', start[1])}",
        f"G0 {unit.word('Z', low)}",
        *_stop((f"A BLOCK OF {unit.told(gap, 2)} MUST JUST PASS UNDER CUTTER {cut.cutter}",)),
        f"G0 {unit.word('Z', high)}",
    ]


def _under_way(order: Order, cut: Cut) -> list[str]:
    """Return spindle up to speed, air on, length in force."""
    mill = order.setup.mill
    return [
        f"{integer('S', cut.spindle)} M3",
        f"G4 {word('P', mill.spin_up, 1)}",
        mill.air_word,
        f"G43 {integer('H', cut.cutter)}",
    ]


def _closing(order: Order, side: str) -> list[str]:
    setup = order.setup
    words: list[str] = []
    if side == "A":
        if setup.support == "filled":
            words.append("FILL THE GROOVES, SCRAPE FLUSH: PROUD FILLER LIFTS THE PLATE")
        words.append(f"THEN TURN THE PLATE OVER ABOUT {setup.flip}; SIDE B USES {setup.offsets[1]}")
    elif setup.hold.kind == "tabs":
        words.append("SNAP THE TABS BUTT FIRST, WITH GLOVES, CUTTER OUT AND SPINDLE STILL")
    else:
        words.append("HOLD THE BLADE BEFORE THE SCREWS COME OUT")
    return [line for one in words for line in phrase(one)]

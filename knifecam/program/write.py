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
from knifecam.program.number import integer, word
from knifecam.shop import Order

MODES = "G21 G17 G90 G94 G40 G49 G80 G61"
"""mm, XY plane, absolute, feed a minute, no compensation, lengths or cycles, exact path."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Program:
    """One side's text.

    ``line_of_motion`` holds, for the motions of all the side's cuts one after the other, the
    1-based line that makes each of them; 0 where a motion vanished in rounding.
    """

    side: str
    text: str
    line_of_motion: NDArray[np.int32]


def write_program(order: Order, plan: Plan, side: str) -> Program:
    """Return the program of one side."""
    cuts = plan.side(side)
    frame = program_frame(order, side)
    offset = order.setup.offsets["AB".index(side)]
    lines = [*header_lines(order, plan, side, frame), f"{MODES} {offset}", "G92.1", "M5", "M9"]
    numbers = np.zeros(sum(len(cut.motions) for cut in cuts), np.int32)
    first, in_spindle, used = 0, 0, set[int]()
    for count, cut in enumerate(cuts, start=1):
        moved = frame.motions(cut.motions)
        lines += phrase(
            f"CUT {count} OF {len(cuts)}: {cut.name}, CUTTER {cut.cutter},"
            f" DOWN TO {word('Z', frame.height(cut.bottom))}"
        )
        lines += phrase(_extent(cut, moved.stop))
        lines.append(f"{MODES} {offset}")
        lines += _stop(cut.stop)
        if cut.fresh and in_spindle not in (0, cut.cutter):
            lines.append(f"{integer('T', cut.cutter)} M6")  # the worn one, to be taken out
        if cut.fresh or (order.setup.mill.change_by_hand and cut.cutter != in_spindle):
            lines += _stop(_change_words(order, cut))
        lines.append(f"{integer('T', cut.cutter)} M6")
        if order.setup.gap_stop and (cut.fresh or cut.cutter not in used):
            lines += _gap_stop(order, cut, frame, moved.stop[0])
        lines += _under_way(order, cut)
        for line, k in motion_lines(moved):
            lines.append(line)
            numbers[first + k] = len(lines)
        lines += ["M5", "M9", *_stop(cut.after)]
        first, in_spindle = first + len(cut.motions), cut.cutter
        used.add(cut.cutter)
    lines += _closing(order, side)
    return Program(side=side, text="\n".join([*lines, "M2"]) + "\n", line_of_motion=numbers)


def _extent(cut: Cut, places: np.ndarray) -> str:
    low, high = places.min(axis=0), places.max(axis=0)
    return (
        f"X {low[0]:.1f} TO {high[0]:.1f}, Y {low[1]:.1f} TO {high[1]:.1f},"
        f" ABOUT {cut.minutes:.1f} MIN IN CONTACT"
    )


def _stop(words: tuple[str, ...]) -> list[str]:
    """Return a hand stop; the cutter is up, spindle and air are off."""
    return [*(line for one in words for line in phrase(one)), "M0"] if words else []


def _change_words(order: Order, cut: Cut) -> tuple[str, ...]:
    fit = "FIT A FRESH" if cut.fresh else "FIT"
    return (f"{fit} {cutter_phrase(order.cutter(cut.cutter))}, SET H{cut.cutter}",)


def _gap_stop(order: Order, cut: Cut, frame: ProgramFrame, start: np.ndarray) -> list[str]:
    gap = order.setup.gap_height
    low = frame.height(order.blade.thickness / 2) + gap
    high = max(float(start[2]), low)
    return [
        f"G43 {integer('H', cut.cutter)}",
        f"G0 {word('Z', high)}",
        f"G0 {word('X', start[0])} {word('Y', start[1])}",
        f"G0 {word('Z', low)}",
        *_stop((f"A BLOCK OF {gap:.2f} MUST JUST PASS UNDER CUTTER {cut.cutter}",)),
        f"G0 {word('Z', high)}",
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

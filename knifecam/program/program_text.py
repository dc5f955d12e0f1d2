"""A plan's side as RS-274 text that a maker can follow at the machine.

Only words and codes of RS274/NGC (NISTIR 6556). Comments are plain phrases in parentheses, lines
stay under 80 characters, and the same plan gives the same bytes. Every cut begins with its full
modal state, so that work can be taken up again at any of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Motions
from knifecam.planning.plan import Cut, Plan, which_edge
from knifecam.planning.stop_texts import FILLED, fill, turn_over
from knifecam.program.hand_work import (
    OPTIONAL_STOP_WORD,
    STOP_WORD,
    cutter_change,
    goes_in,
    length_check,
    move_aside,
    move_over,
    stop,
)
from knifecam.program.length_check_places import check_place
from knifecam.program.program_head import comment_lines, header_lines
from knifecam.program.rs274_words import Unit, extent, integer, motion_lines, unit_of, word
from knifecam.program.zero_and_flip_fit import ProgramFrame, mark_words, program_frame
from knifecam.quantity import told
from knifecam.shop import Order
from knifecam.shop.side_view import SideContext

Place = Sequence[float] | np.ndarray
"""X and Y of a program, mm."""

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


def start_block(order: Order, offset: str) -> str:
    """Return the line that states every mode, and the work offset."""
    return f"{unit_of(order).code} {MODES} {offset}"


def write_program(order: Order, plan: Plan, side: str) -> Program:
    """Return the program of one side.

    Every cut begins with full modal state, its cutter and the check of its length, and ends with
    the tip at the change height, spindle and air off.
    """
    cuts, frame = plan.side(side), program_frame(order, side)
    unit = unit_of(order)
    modes = start_block(order, order.setup.offsets["AB".index(side)])
    bare = check_place(order, plan, side) if order.setup.gap_stop else None
    lines = [*header_lines(order, plan, side, frame, bare), modes, "G92.1", "M5", "M9"]
    numbers = np.zeros(sum(len(cut.motions) for cut in cuts), np.int32)
    first = 0
    for count, cut in enumerate(cuts):
        moved = frame.motions(cut.motions)
        lines += comment_lines(
            f"CUT {count + 1} OF {len(cuts)}: {cut.name}, CUTTER {cut.cutter},"
            f" DOWN TO {unit.word('Z', frame.height(cut.bottom))}"
        )
        lines += comment_lines(_extent(order, cut, moved, unit))
        lines += [*comment_lines(f"ABOUT {cut.minutes:.1f} MIN OF CUTTING"), modes]
        lines += _brought(order, plan, cut, frame, bare or moved.stop[0])
        lines += _under_way(order, cut)
        for line, k in motion_lines(moved, unit):
            lines.append(line)
            numbers[first + k] = len(lines)
        lines += _away(order, cuts, count, frame)
        first += len(cut.motions)
    lines += _closing(order, side, frame)
    return Program(side=side, text="\n".join([*lines, "M2"]) + "\n", line_of_motion=numbers)


def _brought(order: Order, plan: Plan, cut: Cut, frame: ProgramFrame, over_it: Place) -> list[str]:
    """Return how a cut's cutter comes into the spindle, over a place, and proves its length there."""
    cuts = plan.side(cut.side)
    count = next(k for k, one in enumerate(cuts) if one is cut)
    before = cuts[count - 1] if count else None
    bench = SideContext(order=order, side=cut.side)
    up, face = frame.height(bench.change_z), frame.height(bench.top)
    new = goes_in(order, cut, before) or cut.cutter not in [c.cutter for c in cuts[:count]]
    halt = STOP_WORD if new else OPTIONAL_STOP_WORD
    return [
        f"{integer('S', cut.spindle)} M5",
        "M9",
        *cutter_change(order, cut, before, edge=which_edge(plan, cut)),
        *(stop((FILLED,)) if count == 0 and _filled(order, cut.side) else ()),
        *stop(_told(order, cut.stop)),
        *move_over(order, cut.cutter, over_it, up),
        *(
            length_check(order, cut.cutter, over_it, face=face, up=up, halt=halt)
            if order.setup.gap_stop
            else ()
        ),
    ]


def _away(order: Order, cuts: Sequence[Cut], count: int, frame: ProgramFrame) -> list[str]:
    """Return how the tip goes up after a cut, and aside where a hand comes next."""
    cut, after = cuts[count], cuts[count + 1] if count + 1 < len(cuts) else None
    bench = SideContext(order=order, side=cut.side)
    lines = [unit_of(order).word("G0 Z", frame.height(bench.change_z)), "M5", "M9"]
    if after is None or cut.after or after.stop or goes_in(order, after, cut):
        lines += move_aside(order, cut.side)
    return [*lines, *stop(_told(order, cut.after))]


def _extent(order: Order, cut: Cut, motions: Motions, unit: Unit) -> str:
    """Return from where to where the whole cutter goes."""
    low, high = extent(motions)
    radius = order.cutter(cut.cutter).radius
    x, y = (f"{unit.told(low[k] - radius, 1)} TO {unit.told(high[k] + radius, 1)}" for k in (0, 1))
    return f"CUTTER WITHIN X {x}, Y {y}"


def _told(order: Order, words: Sequence[str]) -> tuple[str, ...]:
    """Return what a stop tells the hand, in the mill's unit."""
    return tuple(told(one, order.setup.mill.units) for one in words)


def _under_way(order: Order, cut: Cut) -> list[str]:
    """Return spindle up to speed and air on."""
    mill = order.setup.mill
    return [
        f"{integer('S', cut.spindle)} M3",
        f"G4 {word('P', mill.spin_up, 1)}",
        mill.coolant_code,
    ]


def _filled(order: Order, side: str) -> bool:
    """Return whether side A's voids must have been filled before this side is cut."""
    return side == "B" and order.setup.support == "filled"


def _fill_words(order: Order) -> tuple[str, ...]:
    """Return what the maker must fill before the plate is turned over."""
    opened = "GROOVES, BEVELS AND CLEARED GROUND" if order.blade.bevels else "THE GROOVES"
    return (fill(opened), "PROUD FILLER LIFTS THE PLATE; A VOID LETS IT BEND")


def _closing(order: Order, side: str, frame: ProgramFrame) -> list[str]:
    setup = order.setup
    words: list[str] = []
    if side == "A":
        words.append(mark_words(order, frame))
        words.append(turn_over(setup.flip, setup.offsets[1]))
    elif setup.workholding.kind == "tabs":
        words.append("BREAK THE TABS BUTT FIRST, WITH GLOVES, SPINDLE STILL AND CUTTER OUT")
    else:
        words.append("HOLD THE BLADE WHILE THE SCREWS COME OUT")
    lines = [line for one in words for line in comment_lines(one)]
    if side == "A" and setup.support == "filled":
        lines += stop(_fill_words(order))
    return lines

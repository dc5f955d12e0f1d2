"""Which modes are in force where, and whether a program can be started again at a cut.

The rest of the program is read as if the mill had just been switched on: what it uses without
having said it, it inherits from lines that are not run again.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from knifecam.errors import ProgramError
from knifecam.rs274.modal_state import ALL_KNOWN, EVERY_MODE, PLACE_BIT, State, Stored, names_of
from knifecam.rs274.motion_record import Record
from knifecam.rs274.program_reader import lines_of, read_lines
from knifecam.rs274.trace import Act, Trace

_CUT = re.compile(
    r"[ \t]*(?:N[ \t]*[0-9]+[ \t]*)?\([ \t]*CUT[ \t]+[0-9]+[ \t]+OF[ \t]+[0-9]+[ \t]*:",
    re.IGNORECASE,
)


_MAY_RELY_LATE = re.compile(r"#|G[ \t]*(?:0[ \t]*)*(?:8[ \t]*[1-9]|\[)", re.IGNORECASE)
"""Parameters and cycles, which may rely on something long after all modes have been said."""


def cut_starts(text: str) -> list[int]:
    """Return the lines (1-based) whose comment begins with `CUT n OF m:`."""
    return [
        number for number, raw in enumerate(lines_of(text), 1) if "(" in raw and _CUT.match(raw)
    ]


def read_from(text: str, line: int, stored: Stored | None = None, *, slots: int = 99) -> Trace:
    """Return what the program does when it is started at ``line`` (1-based).

    The lines before it are not run; the modes are those before a program begins, the place of
    every axis is unknown. Lines keep their numbers.

    Raises
    ------
    ValueError
        For a line the text does not have.
    ProgramError
        As `read_program`, so also where the rest cannot do without what was left out.
    """
    state, record = State(slots=slots, stored=stored or Stored()), Record()
    for _ in read_lines(text, state, record, first=line):
        pass
    return record.trace()


def inherited(
    text: str, line: int, stored: Stored | None = None, *, slots: int = 99
) -> tuple[str, ...]:
    """Return what the program uses from ``line`` on without having said it there.

    Plain words for modes, feed, cutter, places of axes and parameters, in a fixed order; empty
    where the program can be started at that line. With ``line=1`` it tells what the whole program
    leaves to the state the mill happens to be in. The shift of G92 and G40 are not looked at.

    Raises
    ------
    ValueError
        For a line the text does not have.
    ProgramError
        Where the rest is wrong by itself, whatever it inherits.
    """
    state, record = State(slots=slots, stored=stored or Stored(), tolerant=True), Record()
    to_the_end = _may_rely_late(text)
    try:
        for _ in read_lines(text, state, record, first=line):
            if not to_the_end and _settled(state):
                break
    except ProgramError:
        if not state.relied:
            raise
    return names_of(state.relied)


@lru_cache(maxsize=4)
def _may_rely_late(text: str) -> bool:
    """Return whether a text has parameters or cycles; asked once for each of its cuts."""
    return _MAY_RELY_LATE.search(text) is not None


def _settled(state: State) -> bool:
    """Return whether nothing more can be inherited, whatever follows."""
    place = PLACE_BIT if state.known == ALL_KNOWN else 0
    return (state.given | state.relied | place) & EVERY_MODE == EVERY_MODE


HAND_STOP = "stop"


@dataclass(frozen=True, slots=True, kw_only=True)
class ModesInForce:
    """What runs when an act comes up: spindle (1, 0, -1), mist and flood."""

    act: Act
    spindle: int
    mist: bool
    flood: bool


def modes_in_force(trace: Trace) -> Iterator[ModesInForce]:
    """Yield every act with what ran just before it."""
    spindle, mist, flood = 0, False, False
    for act in trace.acts:
        yield ModesInForce(act=act, spindle=spindle, mist=mist, flood=flood)
        if act.kind == "spindle":
            spindle = {30: 1, 40: -1}.get(round(act.number), 0)
        elif act.kind == "change":
            spindle = 0
        elif act.kind == "coolant":
            word = round(act.number)
            mist = word == 70 or (mist and word != 90)
            flood = word == 80 or (flood and word != 90)


def dwelled(trace: Trace) -> NDArray[np.float64]:
    """Return for each motion the seconds dwelled since the spindle was last started, (M,).

    inf where the spindle never was started or stopped: other findings speak of that.
    """
    waited = np.full(len(trace.line), np.inf)
    seconds = np.inf
    for act in trace.acts:
        if act.kind == "spindle" and round(act.number) in (30, 40):
            seconds = 0.0
        elif act.kind == "dwell":
            seconds += act.number
        else:
            continue
        waited[act.before :] = seconds
    return waited


def since(trace: Trace, kinds: tuple[str, ...]) -> NDArray[np.int64]:
    """Return for each motion the index of the last act of one of ``kinds`` before it, or -1."""
    last = np.full(len(trace.line), -1)
    for k, act in enumerate(trace.acts):
        if act.kind in kinds:
            last[act.before :] = k
    return last

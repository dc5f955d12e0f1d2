"""Whether a program can be started again at a cut, as a maker does after a stop.

The rest of the program is read as if the mill had just been switched on: what it uses without
having said it, it inherits from lines that are not run again.
"""

from __future__ import annotations

import re
from functools import lru_cache

from knifecam.errors import ProgramError
from knifecam.shop import Setup
from knifecam.simulator.reader import lines_of, read_lines
from knifecam.simulator.rs274.modal import ALL_KNOWN, EVERY_MODE, PLACE, State, names_of
from knifecam.simulator.rs274.record import Record
from knifecam.simulator.trace import Trace

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


def read_from(text: str, line: int, setup: Setup | None = None, *, slots: int = 99) -> Trace:
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
    state, record = State(setup=setup, slots=slots), Record()
    for _ in read_lines(text, state, record, first=line):
        pass
    return record.trace()


def inherited(
    text: str, line: int, setup: Setup | None = None, *, slots: int = 99
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
    state, record = State(setup=setup, slots=slots, tolerant=True), Record()
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
    place = PLACE if state.known == ALL_KNOWN else 0
    return (state.given | state.relied | place) & EVERY_MODE == EVERY_MODE

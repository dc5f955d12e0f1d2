"""Reads RS274/NGC programs: from text to what the mill is made to do.

The reader follows NISTIR 6556 and refuses by name what it does not understand; nothing is skipped.

- Units, distance mode and G92 are worked into the places: they are mm in the work offset in force.
- F is kept as it is written: after G20 or G21 the same number means the other unit.
- The place where the mill starts is unknown: `START_PLACE_MM` is assumed, and `Trace.known` tells
  which axes are known where each motion starts. Incremental motions, arcs and G92 need a known
  place.
- A change of work offset or of length offset leaves the mill where it is. Where both zeros are
  known (by G10 L2, the mill's `machine_zero`, or `Stored`) the place gets its new numbers; else the
  numbers stay and their axes become unknown: all three for a work offset, Z for a length offset.
- Length offsets are not added: the place is that of the tip when H is that of the cutter.
- Before the program says otherwise the modes are millimetres, G17, G90, G94, G64, G54, G98, no
  length offset, no cutter, spindle and coolant off, no motion in force.
- What the mill holds in its memory (parameters, lengths, diameters) is unknown unless `Stored`
  tells it, and what depends on it is refused; so are rotary axes.
- A cycle, a corner under compensation and an arc in G18 or G19 make several motions of one line.

`docs/reference/rs274.md` lists what is read, what is refused, and what was decided where the
standard is silent.

References: T. R. Kramer, F. M. Proctor, E. Messina, NISTIR 6556 (2000).
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from knifecam.errors import ProgramError
from knifecam.rs274.execution import execute
from knifecam.rs274.fast_lines import PlainText
from knifecam.rs274.line_words import read_block
from knifecam.rs274.modal_state import State, Stored
from knifecam.rs274.motion_record import Record
from knifecam.rs274.trace import Trace

__all__ = ["decoded", "lines_of", "read_lines", "read_program"]

_PERCENT = "%"
_OPENING = re.compile(rb"((?:[ \t\r]*+\n)*+[ \t\r]*+%)[ \t\r]*+(?:\n|\Z)")
_MARK = "\ufeff"
"""The mark some editors put before a text in UTF-8; it is no part of it."""


def decoded(content: bytes) -> str:
    """Return the text of a program's file: ASCII, or UTF-8 with or without its mark.

    Raises
    ------
    ProgramError
        For other bytes, with their line.
    """
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        byte = f"byte {error.object[error.start]:#04x}"
        raise ProgramError(f"{byte} is no plain text; write the program in ASCII", line) from error


def read_program(
    text: str,
    stored: Stored | None = None,
    *,
    slots: int = 99,
    block_delete: str = "off",
) -> Trace:
    """Return what a program makes the mill do.

    Parameters
    ----------
    text : str
        The whole program; lines end with a line feed, or carriage return and line feed.
    stored : Stored, optional
        What the mill holds in its memory: parameters, lengths, diameters, zeros of work offsets.
    slots : int
        The highest number a cutter or a length offset may have.
    block_delete : {"off", "on"}
        Whether lines that begin with `/` are skipped; they are read in either case.

    Raises
    ------
    ProgramError
        With the first line that breaks the standard or is not understood.

    Examples
    --------
    >>> trace = read_program("G21 G90 G0 X1 Y2 Z3\\nG1 Z-1 F100\\nM2\\n")
    >>> trace.motions.stop.tolist()
    [[1.0, 2.0, 3.0], [1.0, 2.0, -1.0]]
    """
    state, record = State(slots=slots, stored=stored or Stored()), Record()
    _check_choice(block_delete)
    content = text.removeprefix(_MARK).encode("utf-8", "surrogatepass")
    _read_plain_and_other(content, state, record, skips=block_delete == "on")
    return record.trace()


def _read_plain_and_other(text: bytes, state: State, record: Record, *, skips: bool) -> None:
    """Execute a program in UTF-8: plain lines by compiled code, all others one by one."""
    opening, at, closing = _percent_places(text)
    end = len(text) if closing < 0 else closing
    plain, lookup = PlainText(text, end), state.parameter
    number, ended = opening + 1, False
    try:
        while not ended:
            at, number = plain.read(at, number, state, record)
            if at >= end:
                break
            stop = text.find(b"\n", at)
            stop = len(text) if stop < 0 else stop
            block = read_block(text[at:stop].decode("utf-8", "surrogatepass"), lookup)
            ended = not (skips and block.skipped) and execute(block, state, record, number)
            at, number = stop + 1, number + 1
    except ProgramError as error:
        raise ProgramError(error.unplaced, error.line or number) from None
    _check_end(opening, closing >= 0, max(1, number - 1), ended=ended)
    if not ended:
        record.act("end", number, text=_PERCENT)


def read_lines(
    text: str, state: State, record: Record, *, first: int = 1, block_delete: str = "off"
) -> Iterator[int]:
    """Execute a program line by line from line ``first`` on; yield each line's number after it.

    Raises
    ------
    ValueError
        For a ``first`` that is not a line of the text, or an unknown ``block_delete``.
    ProgramError
        With the first line that breaks the standard or is not understood.
    """
    _check_choice(block_delete)
    lines = lines_of(text)
    if not 1 <= first <= max(len(lines), 1):
        raise ValueError(f"line={first} must be from 1 to {len(lines)}, the text's last line")
    opening, closing = _percent_lines(lines)
    lookup, skips = state.parameter, block_delete == "on"
    number, ended = first, False
    try:
        for number in range(max(first, opening + 1), closing or len(lines) + 1):
            block = read_block(lines[number - 1], lookup)
            ended = not (skips and block.skipped) and execute(block, state, record, number)
            yield number
            if ended:
                break
    except ProgramError as error:
        raise ProgramError(error.unplaced, error.line or number) from None
    _check_end(opening, closing > 0, number, ended=ended)
    if not ended:
        record.act("end", closing, text=_PERCENT)
        yield closing


def _check_end(opening: int, closed: bool, number: int, *, ended: bool) -> None:
    if opening and not closed:
        raise ProgramError("the program begins with '%' and must end with a line of '%'", opening)
    if not (ended or closed):
        raise ProgramError("the text must end with M2 or M30, or stand between '%' lines", number)


def _check_choice(block_delete: str) -> None:
    if block_delete not in ("off", "on"):
        raise ValueError(f"block_delete={block_delete!r} must be 'off' or 'on'")


def lines_of(text: str) -> list[str]:
    """Return the lines of a text; only line feeds end a line."""
    lines = text.removeprefix(_MARK).split("\n")
    if lines[-1] == "":
        lines.pop()
    return lines


def _percent_places(text: bytes) -> tuple[int, int, int]:
    """Return the number of the opening percent line, where the next begins, where the closing does.

    0 and 0 where there is no opening one, -1 where there is no closing one.
    """
    opened = _OPENING.match(text)
    if not opened:
        return 0, 0, -1
    at = opened.end()
    number = text.count(b"\n", 0, opened.end(1)) + 1
    found = text.find(b"%", at)
    while found >= 0:
        begin, stop = text.rfind(b"\n", 0, found) + 1, text.find(b"\n", found)
        if text[begin : stop if stop >= 0 else len(text)].strip(b" \t\r") == b"%":
            return number, at, begin
        found = text.find(b"%", stop) if stop >= 0 else -1
    return number, at, -1


def _percent_lines(lines: list[str]) -> tuple[int, int]:
    """Return the numbers of the opening and closing percent lines, 0 where there is none."""
    opening = 0
    for number, raw in enumerate(lines, 1):
        stripped = raw.strip(" \t\r")
        if stripped == _PERCENT:
            if opening:
                return opening, number
            opening = number
        elif stripped and not opening:
            return 0, 0
    return opening, 0

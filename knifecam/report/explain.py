"""What each line of a program makes the mill do, in plain words."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, RAPID
from knifecam.errors import ProgramError
from knifecam.quantity import bare, mm, quantity, told
from knifecam.rs274.codes import OFFSET_CODES, TO_OLD_G98, g_name
from knifecam.rs274.modal_state import ALL_KNOWN, AXES, State, Stored
from knifecam.rs274.motion_record import Note, Record
from knifecam.rs274.program_reader import lines_of, read_lines
from knifecam.rs274.trace import CONTINUOUS, EXACT_PATH, EXACT_STOP, Act
from knifecam.shop import Setup
from knifecam.sweep.side_frames import side_frame, to_side
from knifecam.sweep.side_frames import to_part as from_side

MOST_WORD_LINES = 24
"""Lines of words for one line of the program, at most."""

Floats = NDArray[np.float64]
ToPart = Callable[[Floats], Floats]
"""Brings program places (M, 3) into the part frame, mm."""

_SPINDLE = {30: "clockwise", 40: "counter-clockwise", 50: "off"}
_COOLANT = {70: "mist on", 80: "flood on", 90: "off"}
_SIDES = {1: "left", -1: "right"}
_PATH = {EXACT_PATH: "G61", EXACT_STOP: "G61.1", CONTINUOUS: "G64"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """One line: its number, its text, what it did, and the modes it changed, in plain words.

    ``refused`` holds why reading ended here; it is empty otherwise.
    """

    line: int
    text: str
    did: tuple[str, ...]
    modes: tuple[str, ...] = ()
    refused: str = ""


def to_part_frame(setup: Setup, side: str) -> ToPart:
    """Return what brings program places of side "A" or "B" into the part frame."""
    frame = side_frame(setup, side)
    return lambda places: from_side(frame, to_side(frame, places))


def explained_lines(
    text: str,
    stored: Stored | None = None,
    *,
    to_part: ToPart | None = None,
    slots: int = 99,
    units: str = "mm",
) -> Iterator[Explained]:
    """Yield every line that is read, up to the program's end or the first that is refused."""
    state = State(slots=slots, stored=stored or Stored())
    record, lines = Record(), lines_of(text)
    modes, motions, acts = _modes(state), 0, 0
    try:
        for number in read_lines(text, state, record):
            did = _done(record, state, acts, motions, to_part)
            changed = _modes(state)
            yield Explained(
                line=number,
                text=lines[number - 1].strip(),
                did=tuple(told(one, units) for one in did),
                modes=tuple(told(f"{k} {v}", units) for k, v in changed.items() if v != modes[k]),
            )
            modes, motions, acts = changed, len(record), len(record.acts)
    except ProgramError as error:
        raw = lines[error.line - 1].strip() if 0 < error.line <= len(lines) else ""
        yield Explained(line=error.line, text=raw, did=(), refused=told(error.unplaced, units))


def explain(
    text: str,
    stored: Stored | None = None,
    *,
    to_part: ToPart | None = None,
    slots: int = 99,
    loads: Mapping[int, str] | None = None,
    units: str = "mm",
) -> Iterator[str]:
    """Yield lines to print: each line of the program, and below it what it made the mill do.

    Parameters
    ----------
    text : str
        The program.
    to_part : callable, optional
        Brings program places (M, 3) into the part frame, as `to_part_frame` does; the ends of motions
        are given there too, where the text tells all three axes.
    slots : int
        The highest number a cutter or a length offset may have.
    stored : Stored, optional
        What the mill holds in its memory.
    loads : mapping of line numbers to str, optional
        What the cutter met there, as `line_loads` tells it.
    units : str
        What quantities are told in, "mm" or "in".
    """
    for row in explained_lines(text, stored, to_part=to_part, slots=slots, units=units):
        yield f"{row.line:6d}  {row.text}".rstrip()
        for words in row.did:
            yield f"          {words}"
        if loads and row.line in loads:
            yield f"          {told(loads[row.line], units)}"
        if row.modes:
            yield f"          now {', '.join(row.modes)}"
        if row.refused:
            yield f"          refused: {row.refused}"


def _done(
    record: Record, state: State, acts: int, motions: int, to_part: ToPart | None
) -> tuple[str, ...]:
    """Return what the line did in its order; long rows of motions are shortened."""
    did: list[str] = []
    notes = {note.first: note for note in record.notes if note.first >= motions}
    waiting = iter([*record.acts[acts:], None])
    act = next(waiting)
    motion = motions
    while act is not None or motion < len(record):
        if act is not None and act.before <= motion:
            did.append(_act(act))
            act = next(waiting)
        elif motion in notes:
            note = notes[motion]
            did.append(f"{note.text}, as {note.count} straight pieces:")
            did += _pieces(record, note, to_part)
            motion += note.count
        else:
            did.append(_motion(record, motion, to_part))
            motion += 1
    if len(did) > MOST_WORD_LINES:
        half = MOST_WORD_LINES // 2
        did[half:-half] = [f"({len(did) - 2 * half} more like these)"]
    return tuple(did)


def _pieces(record: Record, note: Note, to_part: ToPart | None) -> list[str]:
    """Return the first and the last of the pieces that stand for a curve."""
    ends = sorted({note.first, note.first + note.count - 1})
    return [f"  {_motion(record, motion, to_part)}" for motion in ends]


def _modes(state: State) -> dict[str, str]:
    """Return the modes that no act speaks of."""
    return {
        "motion": "none" if state.motion is None else g_name(state.motion),
        "units": "mm" if state.units == 1.0 else "inches",
        "plane": g_name(state.plane),
        "distance": "absolute" if state.absolute else "incremental",
        "feed mode": "inverse time" if state.inverse_time else "per minute",
        "feed": "not set" if math.isnan(state.feed) else f"{state.feed:g}",
        "speed": f"{state.speed:g} rev/min",
        "selected": f"cutter {state.selected}",
        "return": "to the starting height" if state.retract == TO_OLD_G98 else "to R",
        "compensation": (
            f"{_SIDES[state.side]} by {mm(state.radius):.4f}" if state.side else "off"
        ),
    }


def _act(act: Act) -> str:
    code = round(act.number)
    plain = {
        "comment": f"comment: {act.text.strip()}",
        "stop": f"stops (M{code // 10})",
        "end": "ends" if act.text else f"ends (M{code // 10})",
        "change": f"changes to cutter {code}",
        "spindle": f"spindle {_SPINDLE.get(code, '')}",
        "coolant": f"coolant {_COOLANT.get(code, '')}",
        "override": f"overrides {'on' if code == 480 else 'off'}",
        "dwell": f"waits {act.number:g} s",
        "length": f"length offset H{code}" if code else "no length offset",
        "path": f"path mode {g_name(code)}",
        "set-offset": f"sets the zero of work offset {code} to {act.text or 'what it was'}",
        "shift": f"{g_name(code)}: shift is now {act.text}",
        "home": f"returns home ({g_name(code)})",
        "probe": "probes: stops where it touches, at the latest",
    }
    if act.kind == "offset":
        return f"work offset {g_name(OFFSET_CODES[code - 1])}"
    return plain[act.kind]


def _motion(record: Record, motion: int, to_part: ToPart | None) -> str:
    row, known = record.row(motion), (record.known_before(motion), record.known_after(motion))
    words = f"from {_place(row[1:4], known[0])} to {_place(row[4:7], known[1])}"
    if to_part is not None and known[1] == ALL_KNOWN:
        x, y, z = to_part(np.array([row[4:7]]))[0]
        words += f" (part X{bare(x):.4f} Y{bare(y):.4f} Z{bare(z):.4f})"
    rise = row[6] - row[3]
    if row[0] == RAPID:
        return f"rapid {words}"
    if row[0] != ARC:
        return (
            f"straight {words}, {mm(math.dist(row[1:4], row[4:7])):.4f} at"
            f" {quantity(row[10], 'mm/min'):.1f}"
        )
    radius, turns = math.hypot(row[1] - row[7], row[2] - row[8]), row[9]
    length = math.hypot(2 * math.pi * abs(turns) * radius, rise)
    direction = "clockwise" if turns < 0 else "counter-clockwise"
    return (
        f"{direction} {'helix' if rise else 'arc'} {words} about X{bare(row[7]):.4f}"
        f" Y{bare(row[8]):.4f}, radius {mm(radius):.4f},"
        f" {abs(turns) * 360:.3f} degrees, {mm(length):.4f} at {quantity(row[10], 'mm/min'):.1f}"
    )


def _place(place: tuple[float, ...], known: int) -> str:
    """Return a place in words, with a question mark for every axis the text does not tell."""
    return " ".join(
        f"{letter.upper()}{bare(value):.4f}" if known & 1 << axis else f"{letter.upper()}?"
        for axis, (letter, value) in enumerate(zip(AXES, place, strict=True))
    )

"""Straight motions: rapids, feeds, the ways home, and the probe.

References: NISTIR 6556, 2.1.2.5 and 2.1.2.6 (feed along the path), 3.5.1, 3.5.2 (G0, G1),
3.5.12 (G53), 3.5.17 (G90, G91), 3.5.19 (G93, G94).

References: NISTIR 6556, 3.5.8 (G28, G30), Table 2 (parameters).

A probe stops where it touches, which no text tells. The motion is recorded as a feed to the
programmed place, the furthest it may go; where the axes it moved then stand is unknown.

References: NISTIR 6556, 3.5.9 (G38.2).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from knifecam.curve import FEED, RAPID
from knifecam.errors import ProgramError
from knifecam.quantity import mm
from knifecam.rs274 import modal_state
from knifecam.rs274.codes import HOME_G28, PROBE_G38_2, Place, g_name
from knifecam.rs274.line_words import HOMES
from knifecam.rs274.modal_state import AXES, PROBED, State
from knifecam.rs274.motion_record import Record
from knifecam.rs274.rs274_limits import LEAST_PROBE_MM

RAPID_NEEDS = modal_state.UNITS_BIT | modal_state.OFFSET_BIT | modal_state.DISTANCE_MODE_BIT


FEED_NEEDS = (
    RAPID_NEEDS
    | modal_state.FEED_MODE_BIT
    | modal_state.PATH_BIT
    | modal_state.LENGTH_BIT
    | modal_state.SPINDLE_BIT
    | modal_state.SPEED_BIT
    | modal_state.COOLANT_BIT
    | modal_state.CUTTER_BIT
)
"""What a rapid and a feed motion rely on."""


Words = Mapping[str, float]


def axis_bits(words: Words) -> int:
    """Return the bits of the axes that have a word."""
    return ("x" in words) | ("y" in words) << 1 | ("z" in words) << 2


def rely_for_rapid(words: Words, state: State) -> None:
    """Note the modes a rapid relies on."""
    state.relied |= RAPID_NEEDS & ~state.given
    if "z" in words:
        state.relied |= modal_state.LENGTH_BIT & ~state.given


def rapid(stop: Place, told: int, state: State, record: Record, line: int) -> None:
    """Send the tip to a place by a rapid."""
    row = (RAPID, state.x, state.y, state.z, *stop, 0.0, 0.0, 0.0, 0.0)
    record.go(row, line, state, told=told)


def feed_straight(
    stop: Place, feed: float, state: State, record: Record, line: int, *, told: int = 0
) -> None:
    """Send the tip straight to a place at a feed."""
    row = (FEED, state.x, state.y, state.z, *stop, 0.0, 0.0, 0.0, feed)
    record.go(row, line, state, told=told)


def target(words: Words, state: State) -> Place:
    """Return where the axis words lead, mm in the work offset in force.

    Under compensation that is a place of the programmed path, elsewhere one of the tip.
    """
    x, y, z = state.x, state.y, state.z
    if state.corner is not None:
        x, y = state.corner
    units = state.units
    if state.absolute:
        shift = state.shift
        if "x" in words:
            x = words["x"] * units + shift[0]
        if "y" in words:
            y = words["y"] * units + shift[1]
        if "z" in words:
            z = words["z"] * units + shift[2]
        return x, y, z
    for axis, letter in enumerate(AXES):
        if letter in words:
            state.rely_on_place(1 << axis, f"G91 {letter.upper()}{words[letter]:g}")
    return (
        x + words.get("x", 0.0) * units,
        y + words.get("y", 0.0) * units,
        z + words.get("z", 0.0) * units,
    )


def in_machine(words: Words, state: State) -> Place:
    """Return where a G53 line leads, mm in the work offset in force."""
    place = list(state.place)
    for axis, letter in enumerate(AXES):
        if letter in words:
            name = f"G53 {letter.upper()}{words[letter]:g}"
            place[axis] = from_machine(name, axis, words[letter] * state.units, state)
    return place[0], place[1], place[2]


def from_machine(name: str, axis: int, value: float, state: State) -> float:
    """Return a machine coordinate as one of the tip in the work offset in force, both mm.

    Raises
    ------
    ProgramError
        Where the zero of the work offset is not known, or for Z the length offset.
    """
    origin = state.origin(state.offset, axis)
    length: float | None = 0.0 if axis < 2 else state.tip_length()
    if length is None:
        raise ProgramError(
            f"{name} is not understood: where the tip then stands depends on the cutter's "
            "length, which no text tells; use a height in the work offset"
        )
    if origin is None:
        raise ProgramError(
            f"{name} is not understood: where the program's zero lies in machine coordinates "
            "is unknown; give machine_zero of the mill"
        )
    return value - origin - length


def feed_of(name: str, words: Words, state: State, length: float) -> float:
    """Return the feed along a path of that length in mm, mm/min.

    Raises
    ------
    ProgramError
        In G93 where the line has no F, and else where F is 0 or not said since G93.
    """
    if state.inverse_time:
        feed = words.get("f", 0.0)
        if not feed > 0:
            raise ProgramError(f"{name} in G93 must have an F word greater than 0 in its line")
        # a motion of no length takes its time standing; any feed says so
        return length * feed or feed
    if not state.given & modal_state.FEED_BIT:
        state.relied |= modal_state.FEED_BIT
        if state.tolerant:
            return state.units
    if math.isnan(state.feed):
        raise ProgramError(f"{name} in G94: after G93 no F has told the feed; set F first")
    if not state.feed > 0:
        raise ProgramError(f"{name} at feed F=0: set F greater than 0 first")
    return state.feed * state.units


def straight(
    motion: int, words: Words, stop: Place, state: State, record: Record, line: int
) -> None:
    """Do G1: send the tip straight where the words lead."""
    feed = feed_of(g_name(motion), words, state, math.dist(state.place, stop))
    feed_straight(stop, feed, state, record, line, told=axis_bits(words))


def go_home(code: int, words: Words, state: State, record: Record, line: int) -> None:
    """Do G28 or G30: by rapid where the axis words lead, if there are any, then home.

    Raises
    ------
    ProgramError
        Under compensation, and where the text does not tell where home lies.
    """
    name = g_name(code)
    if state.side:
        raise ProgramError(f"{name} cannot be used while compensation is on")
    rely_for_rapid({"z": 0.0}, state)
    home = [_home(code, axis, state) for axis in range(3)]
    between = axis_bits(words)
    record.act("home", line, code)
    if between:
        state.add_motions(1)
        rapid(target(words, state), between, state, record, line)
    rapid((home[0], home[1], home[2]), modal_state.ALL_KNOWN, state, record, line)


def _home(code: int, axis: int, state: State) -> float:
    """Return where home lies along an axis, mm in the work offset in force."""
    first = HOMES[0 if code == HOME_G28 else 6]
    number, name = first + axis, f"{g_name(code)} {AXES[axis].upper()}"
    if number not in state.parameters and not state.tolerant:
        raise ProgramError(
            f"{g_name(code)} is not understood: #{number}, where home lies, is stored in the mill "
            "and the text does not tell it"
        )
    return from_machine(name, axis, state.parameter(number) * state.units, state)


def probe(words: Words, stop: Place, state: State, record: Record, line: int) -> None:
    """Do G38.2.

    Raises
    ------
    ProgramError
        In G93, under compensation, without feed, and where the place is unknown or too near.
    """
    name = g_name(PROBE_G38_2)
    if state.side:
        raise ProgramError(f"{name} cannot be used while compensation is on")
    if state.inverse_time:
        raise ProgramError(f"{name} cannot be used in G93")
    moved = axis_bits(words)
    state.rely_on_place(moved, name)
    feed = feed_of(name, words, state, 1.0)
    away = math.dist(state.place, stop)
    if not away >= LEAST_PROBE_MM:
        raise ProgramError(
            f"{name} goes {mm(away):.4f}; it must have {mm(LEAST_PROBE_MM):g} or more to go"
        )
    record.act("probe", line, PROBE_G38_2)
    feed_straight(stop, feed, state, record, line)
    state.forget(moved)
    record.reached = state.known
    for number in PROBED:
        state.parameters.pop(number, None)

"""Straight motions, arcs and helices.

References: NISTIR 6556, 2.1.2.5 and 2.1.2.6 (feed along the path, helices included),
3.5.1 to 3.5.3 (G0, G1, G2, G3), 3.5.12 (G53), 3.5.19 (G93, G94).
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from knifecam.curve import ARC, FEED, RAPID
from knifecam.errors import ProgramError
from knifecam.simulator.rs274 import modal
from knifecam.simulator.rs274.arcs import centre_form, radius_form
from knifecam.simulator.rs274.codes import (
    ARCS,
    CLOCKWISE_G2,
    RAPID_G0,
    XY_G17,
    XZ_G18,
    YZ_G19,
    g_name,
)
from knifecam.simulator.rs274.modal import AXES, State
from knifecam.simulator.rs274.record import Record

_RAPID_NEEDS = modal.UNITS | modal.OFFSET | modal.DISTANCE
_FEED_NEEDS = (
    _RAPID_NEEDS
    | modal.FEED_MODE
    | modal.PATH
    | modal.LENGTH
    | modal.SPINDLE
    | modal.SPEED
    | modal.COOLANT
    | modal.CUTTER
)
_X_AND_Y = 0b011
_IN_PLANE = {XY_G17: ("x", "y"), XZ_G18: ("x", "z"), YZ_G19: ("y", "z")}
_OFFSETS = {XY_G17: "ij", XZ_G18: "ik", YZ_G19: "jk"}

Words = Mapping[str, float]


def move(
    motion: int, words: Words, state: State, record: Record, line: int, *, in_machine: bool
) -> None:
    """Send the tip where the words say and record the motion.

    Raises
    ------
    ProgramError
        For motions the standard forbids, and those that depend on what the text does not tell.
    """
    start = state.place
    stop = _in_machine(words, state) if in_machine else _target(words, state)
    if motion == RAPID_G0:
        state.relied |= _RAPID_NEEDS & ~state.given
        if "z" in words:
            state.relied |= modal.LENGTH & ~state.given
        row: tuple[float, ...] = (RAPID, *start, *stop, 0.0, 0.0, 0.0, 0.0)
    else:
        state.relied |= _FEED_NEEDS & ~state.given
        if motion in ARCS:
            row = _arc(motion, words, state, start, stop)
        else:
            feed = _feed(motion, words, state, math.dist(start, stop))
            row = (FEED, *start, *stop, 0.0, 0.0, 0.0, feed)
    record.motion(row, line, state)
    state.x, state.y, state.z = stop
    if state.known != modal.ALL_KNOWN:
        _learn(words, state)


def _learn(words: Words, state: State) -> None:
    for axis, letter in enumerate(AXES):
        if letter in words:
            state.known |= 1 << axis


def _target(words: Words, state: State) -> tuple[float, float, float]:
    """Return where the axis words lead, mm in the work offset in force."""
    x, y, z = state.x, state.y, state.z
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


def _in_machine(words: Words, state: State) -> tuple[float, float, float]:
    """Return where a G53 line leads, mm in the work offset in force."""
    place = list(state.place)
    for axis, letter in enumerate(AXES):
        if letter not in words:
            continue
        name = f"G53 {letter.upper()}{words[letter]:g}"
        if letter == "z":
            raise ProgramError(
                f"{name} is not understood: where the tip then stands depends on the cutter's "
                "length, which no text tells; use a height in the work offset"
            )
        origin = state.origin(state.offset, axis)
        if origin is None:
            raise ProgramError(
                f"{name} is not understood: where the program's zero lies in machine coordinates "
                "is unknown; give machine_zero of the mill"
            )
        place[axis] = words[letter] * state.units - origin
    return place[0], place[1], place[2]


def _feed(motion: int, words: Words, state: State, length: float) -> float:
    """Return the feed along the path, mm/min."""
    if state.inverse_time:
        feed = words.get("f", 0.0)
        if not feed > 0:
            raise ProgramError(
                f"{g_name(motion)} in G93 must have an F word greater than 0 in its line"
            )
        # a motion of no length takes its time standing; any feed says so
        return length * feed or feed
    if not state.given & modal.FEED:
        state.relied |= modal.FEED
        if state.tolerant:
            return state.units
    if not state.feed > 0:
        raise ProgramError(f"{g_name(motion)} at feed F=0: set F greater than 0 first")
    return state.feed * state.units


def _arc(
    motion: int,
    words: Words,
    state: State,
    start: tuple[float, float, float],
    stop: tuple[float, float, float],
) -> tuple[float, ...]:
    state.relied |= modal.PLANE & ~state.given
    if not _is_everyday_arc(words, state):
        _check_arc_words(motion, words, state)
    if state.known & _X_AND_Y != _X_AND_Y:
        state.rely_on_place(_X_AND_Y, g_name(motion))
    units, clockwise = state.units, motion == CLOCKWISE_G2
    if "r" in words:
        x, y, turns = radius_form(start[:2], stop[:2], words["r"] * units, clockwise=clockwise)
    else:
        toward = (words.get("i", 0.0) * units, words.get("j", 0.0) * units)
        x, y, turns = centre_form(start[:2], stop[:2], toward, clockwise=clockwise, units=units)
    round_length = 2 * math.pi * abs(turns) * math.hypot(start[0] - x, start[1] - y)
    length = math.hypot(round_length, stop[2] - start[2])
    return (ARC, *start, *stop, x, y, turns, _feed(motion, words, state, length))


def _is_everyday_arc(words: Words, state: State) -> bool:
    """Return whether the arc is in XY, with X and Y, I and J, and nothing that may not be."""
    return (
        state.plane == XY_G17
        and "i" in words
        and "j" in words
        and "x" in words
        and "y" in words
        and "k" not in words
        and "r" not in words
    )


def _check_arc_words(motion: int, words: Words, state: State) -> None:
    name, plane = g_name(motion), g_name(state.plane)
    offsets = [letter for letter in "ijk" if letter in words]
    if "r" in words and offsets:
        raise ProgramError(f"{name} takes either R or I, J, K, not both")
    if "r" not in words and not offsets:
        raise ProgramError(f"{name} must have R, or I, J, K to its centre")
    for letter in offsets:
        if letter not in _OFFSETS[state.plane]:
            raise ProgramError(f"{letter.upper()} has no use for {name} in the plane of {plane}")
    first, second = _IN_PLANE[state.plane]
    if first not in words and second not in words:
        pair = f"{first.upper()} or {second.upper()}"
        raise ProgramError(f"{name} in the plane of {plane} must have {pair} in its line")
    if state.plane != XY_G17:
        raise ProgramError(f"{name} in {plane} is not understood: arcs are read in G17 only")

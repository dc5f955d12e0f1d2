"""What may stand together in one line, and which motion the line makes.

References: NISTIR 6556, 3.3 to 3.7 and the messages of its reference interpreter.
"""

from __future__ import annotations

from collections.abc import Mapping

from knifecam.errors import ProgramError
from knifecam.simulator.rs274.codes import (
    ABSOLUTE_G90,
    ARCS,
    AXIS_USERS,
    BACK_BORE_G87,
    COMPENSATION,
    CYCLES,
    DISTANCE,
    DWELL_G4,
    DWELLING,
    INCREMENTAL_G91,
    LEFT_G41,
    LENGTH,
    LENGTH_G43,
    MACHINE_G53,
    MOTION,
    NO_MOTION_G80,
    PECK_G83,
    RAPID_G0,
    RIGHT_G42,
    SET_OFFSET_G10,
    SHIFT_G92,
    STRAIGHT_G1,
    ZERO,
    g_name,
    integer,
)
from knifecam.simulator.rs274.lines import Block, Codes
from knifecam.simulator.rs274.modal import MOTION as MOTION_MODE
from knifecam.simulator.rs274.modal import State

_EVERYDAY = frozenset("xyzfst")
_ARC_LETTERS = frozenset("ijkr")
_ARC_EVERYDAY = _EVERYDAY | _ARC_LETTERS
_ROTARY = frozenset("abc")
_USERS = {
    "d": "G41 or G42",
    "h": "G43",
    "i": "G2, G3 or G87",
    "j": "G2, G3 or G87",
    "k": "G2, G3 or G87",
    "r": "G2, G3 or a cycle",
    "l": "G10 or a cycle",
    "p": "G4, G10 or a cycle that waits",
    "q": "G83",
}


def motion_of(block: Block, state: State) -> int | None:
    """Return the motion code of the line, ten times its number; None where it makes none.

    Raises
    ------
    ProgramError
        For combinations the standard forbids, words without use, and codes not understood.
    """
    words, codes = block.words, block.g
    has_axes = "x" in words or "y" in words or "z" in words
    if not words.keys() <= _ARC_EVERYDAY:
        _refuse_rotary(words)
    motion = _chosen(codes, state, has_axes=has_axes)
    if not words.keys() <= (_ARC_EVERYDAY if motion in ARCS else _EVERYDAY):
        _refuse_stray(words, codes, motion)
    if ZERO in codes:
        _check_group_zero(block, state, motion, has_axes=has_axes)
    if LENGTH in codes and codes[LENGTH] == LENGTH_G43 and "h" not in words:
        raise ProgramError("G43 must have an H word")
    if "t" in words or "h" in words or "d" in words:
        _check_slots(words, state.slots)
    return motion


def _refuse_rotary(words: Mapping[str, float]) -> None:
    for letter in sorted(words.keys() & _ROTARY):
        raise ProgramError(
            f"{letter.upper()}={words[letter]:g} moves a rotary axis; the mill has X, Y and Z only"
        )


def _chosen(codes: Codes, state: State, *, has_axes: bool) -> int | None:
    explicit, taken = codes.get(MOTION), codes.get(ZERO) in AXIS_USERS
    if explicit == NO_MOTION_G80:
        if has_axes and not taken:
            raise ProgramError("G80 ends motion: no axis word may stand in its line")
        return None
    if explicit is not None:
        if taken:
            pair = f"{g_name(codes[ZERO])} and {g_name(explicit)}"
            raise ProgramError(f"{pair} both use axis words; they cannot stand in one line")
        if not has_axes:
            raise ProgramError(f"{g_name(explicit)} must have an axis word in its line")
        return explicit
    if taken or not has_axes:
        return None
    if state.motion is None:
        if not state.tolerant:
            raise ProgramError("axis words stand without a motion in force; give one in the line")
        state.motion = STRAIGHT_G1
    state.relied |= MOTION_MODE & ~state.given
    return state.motion


def _refuse_stray(words: Mapping[str, float], codes: Codes, motion: int | None) -> None:
    zero = codes.get(ZERO)
    used = set(_EVERYDAY)
    if motion in ARCS:
        used |= _ARC_LETTERS
    elif motion in CYCLES:
        used |= _used_by_cycle(motion)
    if codes.get(LENGTH) == LENGTH_G43:
        used.add("h")
    if codes.get(COMPENSATION) in (LEFT_G41, RIGHT_G42):
        used.add("d")
    if zero == SET_OFFSET_G10:
        used |= {"l", "p"}
    if zero == DWELL_G4:
        used.add("p")
    for letter in sorted(words.keys() - used):
        raise ProgramError(
            f"{letter.upper()}={words[letter]:g} has no use in this line; it goes with "
            f"{_USERS[letter]}"
        )


def _used_by_cycle(code: int | None) -> set[str]:
    used = {"l", "r"}
    if code in DWELLING:
        used.add("p")
    if code == PECK_G83:
        used.add("q")
    if code == BACK_BORE_G87:
        used |= {"i", "j", "k"}
    return used


def _check_group_zero(block: Block, state: State, motion: int | None, *, has_axes: bool) -> None:
    zero, words = block.g.get(ZERO), block.words
    if zero == MACHINE_G53:
        if motion not in (RAPID_G0, STRAIGHT_G1):
            raise ProgramError("G53 goes with G0 or G1 and an axis word only")
        distance = block.g.get(DISTANCE, ABSOLUTE_G90 if state.absolute else INCREMENTAL_G91)
        if distance == INCREMENTAL_G91:
            raise ProgramError("G53 cannot be used in G91")
    elif zero == DWELL_G4 and "p" not in words:
        raise ProgramError("G4 must have a P word: the seconds to wait")
    elif zero == SHIFT_G92 and not has_axes:
        raise ProgramError("G92 must have an axis word")
    elif zero == SET_OFFSET_G10:
        if round(words.get("l", 0)) != 2:
            raise ProgramError("G10 is understood with L2 only")
        if "p" not in words or not 1 <= integer(words["p"], "P of G10") <= 9:
            raise ProgramError("P of G10 L2 must be from 1 to 9, the number of a work offset")


def _check_slots(words: Mapping[str, float], slots: int) -> None:
    for letter in "dht":
        if letter in words and not round(words[letter]) <= slots:
            raise ProgramError(f"{letter.upper()}={words[letter]:g} must be at most {slots}")

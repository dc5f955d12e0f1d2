"""What a line does, in the standard's order, and which words may stand together.

References: NISTIR 6556, 3.5 (G codes) and Table 8 (step 20).

References: NISTIR 6556, 3.3 to 3.7 and the messages of its reference interpreter.

References: NISTIR 6556, Table 8 (order of execution), 3.5 and 3.6 (what each code does).
"""

from __future__ import annotations

from collections.abc import Mapping

from knifecam.errors import ProgramError
from knifecam.rs274 import canned_cycles, codes, radius_compensation
from knifecam.rs274.arc_motion import turn
from knifecam.rs274.codes import (
    ABSOLUTE_G90,
    ARCS,
    AXIS_USERS,
    BACK_BORE_G87,
    COMPENSATION_GROUP,
    CYCLES,
    DISTANCE_GROUP,
    DWELL_G4,
    DWELLING,
    INCREMENTAL_G91,
    LEFT_G41,
    LENGTH_G43,
    LENGTH_GROUP,
    MACHINE_G53,
    MOTION_GROUP,
    NO_MOTION_G80,
    PECK_G83,
    PROBE_G38_2,
    RAPID_G0,
    RIGHT_G42,
    SET_OFFSET_G10,
    SHIFT_G92,
    STRAIGHT_G1,
    ZERO_GROUP,
    g_name,
    integer,
)
from knifecam.rs274.line_words import Block, Codes
from knifecam.rs274.modal_state import (
    AXES,
    COOLANT_BIT,
    CUTTER_BIT,
    DISTANCE_MODE_BIT,
    FEED_BIT,
    OFFSET_BIT,
    PATH_BIT,
    PLANE_BIT,
    RETURN_BIT,
    SELECTED_BIT,
    SPEED_BIT,
    SPINDLE_BIT,
    UNITS_BIT,
    State,
    zero_parameter,
)
from knifecam.rs274.modal_state import MOTION_BIT as MOTION_MODE
from knifecam.rs274.motion_record import Record
from knifecam.rs274.rs274_limits import MM_PER_INCH
from knifecam.rs274.straight_motion import (
    FEED_NEEDS,
    Words,
    axis_bits,
    go_home,
    in_machine,
    probe,
    rapid,
    rely_for_rapid,
    straight,
    target,
)
from knifecam.rs274.trace import (
    CLOCKWISE,
    CONTINUOUS,
    COUNTER_CLOCKWISE,
    EXACT_PATH,
    EXACT_STOP,
    OFF,
)


def move(
    motion: int, words: Words, state: State, record: Record, line: int, *, in_mill: bool
) -> None:
    """Send the tip where the words say and record the motions.

    Raises
    ------
    ProgramError
        For motions the standard forbids, and those that depend on what the text does not tell.
    """
    if motion in CYCLES:
        canned_cycles.run(motion, words, state, record, line)
        return
    if in_mill and state.side:
        raise ProgramError("G53 cannot be used while compensation is on")
    stop = in_machine(words, state) if in_mill else target(words, state)
    if motion == RAPID_G0:
        rely_for_rapid(words, state)
    else:
        state.relied |= FEED_NEEDS & ~state.given
    if motion == PROBE_G38_2:
        probe(words, stop, state, record, line)
    elif state.side:
        radius_compensation.move(motion, words, stop, state, record, line)
    elif motion == RAPID_G0:
        rapid(stop, axis_bits(words), state, record, line)
    elif motion in ARCS:
        turn(motion, words, stop, state, record, line)
    else:
        straight(motion, words, stop, state, record, line)


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
    if ZERO_GROUP in codes:
        _check_group_zero(block, state, motion, has_axes=has_axes)
    if LENGTH_GROUP in codes and codes[LENGTH_GROUP] == LENGTH_G43 and "h" not in words:
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
    explicit, taken = codes.get(MOTION_GROUP), codes.get(ZERO_GROUP) in AXIS_USERS
    if explicit == NO_MOTION_G80:
        if has_axes and not taken:
            raise ProgramError("G80 ends motion: no axis word may stand in its line")
        return None
    if explicit is not None:
        if taken:
            pair = f"{g_name(codes[ZERO_GROUP])} and {g_name(explicit)}"
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
    zero = codes.get(ZERO_GROUP)
    used = set(_EVERYDAY)
    if motion in ARCS:
        used |= _ARC_LETTERS
    elif motion in CYCLES:
        used |= _used_by_cycle(motion)
    if codes.get(LENGTH_GROUP) == LENGTH_G43:
        used.add("h")
    if codes.get(COMPENSATION_GROUP) in (LEFT_G41, RIGHT_G42):
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
    zero, words = block.g.get(ZERO_GROUP), block.words
    if zero == MACHINE_G53:
        if motion not in (RAPID_G0, STRAIGHT_G1):
            raise ProgramError("G53 goes with G0 or G1 and an axis word only")
        distance = block.g.get(DISTANCE_GROUP, ABSOLUTE_G90 if state.absolute else INCREMENTAL_G91)
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


_TURNS = {30: CLOCKWISE, 40: COUNTER_CLOCKWISE, 50: OFF}


_PATHS = {610: EXACT_PATH, 611: EXACT_STOP, 640: CONTINUOUS}


_ENDS = (20, 300)


_SHIFTS = (codes.SHIFT_G92, codes.CLEAR_G92_1, codes.SUSPEND_G92_2, codes.RESTORE_G92_3)


_NOT_COMPENSATED = (codes.SET_OFFSET_G10, *_SHIFTS)


_SHIFT_PARAMETER = 5211


def execute(block: Block, state: State, record: Record, line: int) -> bool:
    """Do what the line says; return whether it ended the program.

    Raises
    ------
    ProgramError
        For what the standard forbids here, and for what is not understood.
    """
    motion = motion_of(block, state)
    words, g, m = block.words, block.g, block.m
    if block.comment is not None:
        record.act("comment", line, text=block.comment)
    if codes.FEED_MODE_GROUP in g:
        state.select_feed_mode(inverse_time=g[codes.FEED_MODE_GROUP] == codes.INVERSE_TIME_G93)
    if "f" in words and not state.inverse_time:
        state.feed = words["f"]
        state.given |= FEED_BIT
    if "s" in words or "t" in words:
        _set_speed_and_cutter(words, state, record)
    if m:
        _run_machine(m, state, record, line)
    explicit = codes.MOTION_GROUP in g
    if len(g) > explicit:
        _set_modes(g, words, state, record, line)
        _do_group_zero(g.get(codes.ZERO_GROUP), words, state, record, line)
    if explicit:
        if motion != state.motion:
            state.motion, state.cycle = motion, None
        state.given |= MOTION_MODE
    if motion is not None:
        in_mill = codes.ZERO_GROUP in g and g[codes.ZERO_GROUP] == codes.MACHINE_G53
        move(motion, words, state, record, line, in_mill=in_mill)
    for index, value in block.settings:
        state.parameters[index] = value
    return codes.STOP_GROUP in m and _stopped(m[codes.STOP_GROUP], state, record, line)


def _set_speed_and_cutter(words: Words, state: State, record: Record) -> None:
    if "s" in words:
        state.speed = words["s"]
        state.given |= SPEED_BIT
        record.stale = True
    if "t" in words:
        state.selected = round(words["t"])
        state.given |= SELECTED_BIT


def _run_machine(m: Codes, state: State, record: Record, line: int) -> None:
    if codes.CHANGE_GROUP in m:
        state.relied |= SELECTED_BIT & ~state.given
        state.cutter, state.spindle = state.selected, OFF
        state.given |= CUTTER_BIT | SPINDLE_BIT
        record.act("change", line, state.cutter)
    if codes.SPINDLE_GROUP in m:
        state.spindle = _TURNS[m[codes.SPINDLE_GROUP]]
        state.given |= SPINDLE_BIT
        record.act("spindle", line, m[codes.SPINDLE_GROUP])
    if codes.COOLANT_GROUP in m:
        code = m[codes.COOLANT_GROUP]
        state.mist = code == 70 or (state.mist and code != 90)
        state.flood = code == 80 or (state.flood and code != 90)
        state.given |= COOLANT_BIT
        record.act("coolant", line, code)
    if codes.OVERRIDE_GROUP in m:
        record.act("override", line, m[codes.OVERRIDE_GROUP])


def _set_modes(g: Codes, words: Words, state: State, record: Record, line: int) -> None:
    """Steps 10 to 18: dwell, plane, units, length, work offset, path, distance, return level."""
    if g.get(codes.ZERO_GROUP) == codes.DWELL_G4:
        record.act("dwell", line, words["p"])
    if codes.PLANE_GROUP in g:
        _refuse_under_compensation(g[codes.PLANE_GROUP], state, but=codes.XY_G17)
        state.plane = g[codes.PLANE_GROUP]
        state.given |= PLANE_BIT
    if codes.UNITS_GROUP in g:
        _refuse_under_compensation(g[codes.UNITS_GROUP], state)
        state.units = MM_PER_INCH if g[codes.UNITS_GROUP] == codes.INCHES_G20 else 1.0
        state.given |= UNITS_BIT
    if codes.COMPENSATION_GROUP in g:
        radius_compensation.switch(g[codes.COMPENSATION_GROUP], words, state)
    if codes.LENGTH_GROUP in g:
        h = round(words["h"]) if g[codes.LENGTH_GROUP] == codes.LENGTH_G43 else 0
        state.select_length(h)
        record.act("length", line, h)
    if codes.OFFSET_GROUP in g:
        _refuse_under_compensation(g[codes.OFFSET_GROUP], state)
        system = 1 + codes.OFFSET_CODES.index(g[codes.OFFSET_GROUP])
        state.select_offset(system)
        state.given |= OFFSET_BIT
        record.act("offset", line, system)
    if codes.PATH_GROUP in g:
        state.path = _PATHS[g[codes.PATH_GROUP]]
        state.given |= PATH_BIT
        record.act("path", line, g[codes.PATH_GROUP])
    if codes.DISTANCE_GROUP in g:
        state.absolute = g[codes.DISTANCE_GROUP] == codes.ABSOLUTE_G90
        state.given |= DISTANCE_MODE_BIT
    if codes.RETURN_GROUP in g:
        state.retract = g[codes.RETURN_GROUP]
        state.given |= RETURN_BIT


def _refuse_under_compensation(code: int, state: State, but: int = -1) -> None:
    if state.side and code != but:
        raise ProgramError(f"{g_name(code)} cannot be used while compensation is on")


def _do_group_zero(code: int | None, words: Words, state: State, record: Record, line: int) -> None:
    """Step 19: homes, G10 and the G92 family."""
    if code in _NOT_COMPENSATED:
        _refuse_under_compensation(code, state)
    if code in (codes.HOME_G28, codes.HOME_G30):
        go_home(code, words, state, record, line)
    elif code == codes.SET_OFFSET_G10:
        _set_offset(words, state, record, line)
    elif code == codes.SHIFT_G92:
        _shift(words, state)
    elif code == codes.CLEAR_G92_1:
        state.shift = [0.0, 0.0, 0.0]
        state.parameters.update(dict.fromkeys(range(_SHIFT_PARAMETER, _SHIFT_PARAMETER + 6), 0.0))
    elif code == codes.SUSPEND_G92_2:
        state.shift = [0.0, 0.0, 0.0]
    elif code == codes.RESTORE_G92_3:
        state.relied |= UNITS_BIT & ~state.given
        state.shift = [state.parameter(_SHIFT_PARAMETER + k) * state.units for k in range(3)]
    if code in _SHIFTS:
        shown = " ".join(
            f"{axis.upper()}{value:+.4f}" for axis, value in zip(AXES, state.shift, strict=True)
        )
        record.act("shift", line, code, shown)


def _set_offset(words: Words, state: State, record: Record, line: int) -> None:
    system = round(words["p"])
    state.relied |= (UNITS_BIT | OFFSET_BIT) & ~state.given
    said = []
    for axis, letter in enumerate(AXES):
        if letter in words:
            state.parameters[zero_parameter(system, axis)] = words[letter]
            state.set_origin(system, axis, words[letter] * state.units)
            said.append(f"{letter.upper()}{words[letter] * state.units:.4f}")
    record.act("set-offset", line, system, " ".join(said))


def _shift(words: Words, state: State) -> None:
    state.relied |= UNITS_BIT & ~state.given
    for axis, letter in enumerate(AXES):
        if letter in words:
            state.rely_on_place(1 << axis, f"{g_name(codes.SHIFT_G92)} {letter.upper()}")
            state.shift[axis] = state.place[axis] - words[letter] * state.units
    for axis in range(3):
        state.parameters[_SHIFT_PARAMETER + axis] = state.shift[axis] / state.units


def _stopped(code: int, state: State, record: Record, line: int) -> bool:
    ends = code in _ENDS
    record.act("end" if ends else "stop", line, code)
    if ends:
        state.end()
    return ends

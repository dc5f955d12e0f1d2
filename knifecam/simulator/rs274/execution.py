"""What one line does, step by step in the standard's order.

References: NISTIR 6556, Table 8 (order of execution), 3.5 and 3.6 (what each code does).
"""

from __future__ import annotations

from knifecam.errors import ProgramError
from knifecam.simulator.rs274 import codes, compensated
from knifecam.simulator.rs274.codes import g_name
from knifecam.simulator.rs274.combinations import motion_of
from knifecam.simulator.rs274.homes import go_home
from knifecam.simulator.rs274.lines import Block, Codes
from knifecam.simulator.rs274.modal import (
    AXES,
    COOLANT,
    CUTTER,
    DISTANCE,
    FEED,
    INCH,
    MOTION,
    OFFSET,
    PATH,
    PLANE,
    RETURN,
    SELECTED,
    SPEED,
    SPINDLE,
    UNITS,
    State,
    zero_parameter,
)
from knifecam.simulator.rs274.motion import move
from knifecam.simulator.rs274.record import Record
from knifecam.simulator.rs274.travel import Words
from knifecam.simulator.trace import (
    CLOCKWISE,
    CONTINUOUS,
    COUNTER_CLOCKWISE,
    EXACT_PATH,
    EXACT_STOP,
    OFF,
)

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
    if codes.FEED_MODE in g:
        state.select_feed_mode(inverse_time=g[codes.FEED_MODE] == codes.INVERSE_TIME_G93)
    if "f" in words and not state.inverse_time:
        state.feed = words["f"]
        state.given |= FEED
    if "s" in words or "t" in words:
        _set_speed_and_cutter(words, state, record)
    if m:
        _run_machine(m, state, record, line)
    explicit = codes.MOTION in g
    if len(g) > explicit:
        _set_modes(g, words, state, record, line)
        _do_group_zero(g.get(codes.ZERO), words, state, record, line)
    if explicit:
        if motion != state.motion:
            state.motion, state.cycle = motion, None
        state.given |= MOTION
    if motion is not None:
        in_mill = codes.ZERO in g and g[codes.ZERO] == codes.MACHINE_G53
        move(motion, words, state, record, line, in_mill=in_mill)
    for index, value in block.settings:
        state.parameters[index] = value
    return codes.STOP in m and _stopped(m[codes.STOP], state, record, line)


def _set_speed_and_cutter(words: Words, state: State, record: Record) -> None:
    if "s" in words:
        state.speed = words["s"]
        state.given |= SPEED
        record.stale = True
    if "t" in words:
        state.selected = round(words["t"])
        state.given |= SELECTED


def _run_machine(m: Codes, state: State, record: Record, line: int) -> None:
    if codes.CHANGE in m:
        state.relied |= SELECTED & ~state.given
        state.cutter, state.spindle = state.selected, OFF
        state.given |= CUTTER | SPINDLE
        record.act("change", line, state.cutter)
    if codes.SPINDLE in m:
        state.spindle = _TURNS[m[codes.SPINDLE]]
        state.given |= SPINDLE
        record.act("spindle", line, m[codes.SPINDLE])
    if codes.COOLANT in m:
        code = m[codes.COOLANT]
        state.mist = code == 70 or (state.mist and code != 90)
        state.flood = code == 80 or (state.flood and code != 90)
        state.given |= COOLANT
        record.act("coolant", line, code)
    if codes.OVERRIDE in m:
        record.act("override", line, m[codes.OVERRIDE])


def _set_modes(g: Codes, words: Words, state: State, record: Record, line: int) -> None:
    """Steps 10 to 18: dwell, plane, units, length, work offset, path, distance, return level."""
    if g.get(codes.ZERO) == codes.DWELL_G4:
        record.act("dwell", line, words["p"])
    if codes.PLANE in g:
        _refuse_under_compensation(g[codes.PLANE], state, but=codes.XY_G17)
        state.plane = g[codes.PLANE]
        state.given |= PLANE
    if codes.UNITS in g:
        _refuse_under_compensation(g[codes.UNITS], state)
        state.units = INCH if g[codes.UNITS] == codes.INCHES_G20 else 1.0
        state.given |= UNITS
    if codes.COMPENSATION in g:
        compensated.switch(g[codes.COMPENSATION], words, state)
    if codes.LENGTH in g:
        h = round(words["h"]) if g[codes.LENGTH] == codes.LENGTH_G43 else 0
        state.select_length(h)
        record.act("length", line, h)
    if codes.OFFSET in g:
        _refuse_under_compensation(g[codes.OFFSET], state)
        system = 1 + codes.OFFSET_CODES.index(g[codes.OFFSET])
        state.select_offset(system)
        state.given |= OFFSET
        record.act("offset", line, system)
    if codes.PATH in g:
        state.path = _PATHS[g[codes.PATH]]
        state.given |= PATH
        record.act("path", line, g[codes.PATH])
    if codes.DISTANCE in g:
        state.absolute = g[codes.DISTANCE] == codes.ABSOLUTE_G90
        state.given |= DISTANCE
    if codes.RETURN in g:
        state.retract = g[codes.RETURN]
        state.given |= RETURN


def _refuse_under_compensation(code: int, state: State, but: int = -1) -> None:
    if state.hand and code != but:
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
        state.relied |= UNITS & ~state.given
        state.shift = [state.parameter(_SHIFT_PARAMETER + k) * state.units for k in range(3)]
    if code in _SHIFTS:
        shown = " ".join(
            f"{axis.upper()}{value:+.4f}" for axis, value in zip(AXES, state.shift, strict=True)
        )
        record.act("shift", line, code, shown)


def _set_offset(words: Words, state: State, record: Record, line: int) -> None:
    system = round(words["p"])
    state.relied |= (UNITS | OFFSET) & ~state.given
    said = []
    for axis, letter in enumerate(AXES):
        if letter in words:
            state.parameters[zero_parameter(system, axis)] = words[letter]
            state.set_origin(system, axis, words[letter] * state.units)
            said.append(f"{letter.upper()}{words[letter] * state.units:.4f}")
    record.act("set-offset", line, system, " ".join(said))


def _shift(words: Words, state: State) -> None:
    state.relied |= UNITS & ~state.given
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

"""The cycles G81 to G89: drilling, pecking, tapping, boring.

Words stay in force while the same cycle does, in the same plane. Every cycle first lifts to R
where the tip is below it; then for each repeat it goes over the place, down to R, and does what
the code says across the plane.

References: NISTIR 6556, 3.5.16 (cycles), 3.5.20 (G98, G99) and, for the gap of G83, the report's
reference interpreter.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from knifecam.errors import ProgramError
from knifecam.quantity import mm
from knifecam.rs274 import codes, modal_state
from knifecam.rs274.codes import AXES_OF, CENTRE_LETTERS, Place, g_name, placed
from knifecam.rs274.modal_state import AXES, Cycle, State
from knifecam.rs274.motion_record import Record
from knifecam.rs274.rs274_limits import MOST_ADDED_MOTIONS, ONE_PLACE_MM, PECK_GAP_MM
from knifecam.rs274.straight_motion import (
    FEED_NEEDS,
    Words,
    axis_bits,
    feed_of,
    feed_straight,
    rapid,
)
from knifecam.rs274.trace import CLOCKWISE, COUNTER_CLOCKWISE, OFF

_SPINDLE_CODES = {CLOCKWISE: 30, COUNTER_CLOCKWISE: 40, OFF: 50}
_TURNING = (codes.BORE_STOP_G86, codes.BACK_BORE_G87, codes.BORE_BY_HAND_G88)
_MOST_STEPS = 12
"""More motions than any cycle makes in one repeat, apart from the pecks of G83."""


class Hole:
    """One repeat of a cycle: where it goes and the means to go there; mm in the work offset."""

    __slots__ = (
        "across", "clear", "cycle", "depth", "feed", "line", "record", "state", "told", "top",
    )  # fmt: skip

    def __init__(self, cycle: Cycle, state: State, record: Record, line: int) -> None:
        self.cycle, self.state, self.record, self.line = cycle, state, record, line
        self.across = AXES_OF[state.plane][2]
        self.top = self.depth = self.clear = self.feed = 0.0
        self.told = 0

    def go_rapid(self, place: Place) -> None:
        """Go to a place by a rapid, if the tip is not there."""
        if not _is_at(place, self.state):
            rapid(place, self.told, self.state, self.record, self.line)

    def rapid_to(self, height: float) -> None:
        """Go across the plane by a rapid, if the tip is not there or may not be."""
        bit = 1 << self.across
        place = placed(self.state.place, self.across, height)
        if not (_is_at(place, self.state) and self.state.known & bit):
            rapid(place, bit, self.state, self.record, self.line)

    def feed_to(self, height: float) -> None:
        """Go across the plane at the feed."""
        place = placed(self.state.place, self.across, height)
        if not _is_at(place, self.state):
            feed_straight(place, self.feed, self.state, self.record, self.line)

    def dwell(self) -> None:
        """Wait P seconds."""
        self.record.act("dwell", self.line, self.cycle.words["p"])

    def turn(self, spindle: int) -> None:
        """Let the spindle turn so, or stop."""
        self.state.spindle = spindle
        self.record.act("spindle", self.line, _SPINDLE_CODES[spindle])


def _is_at(place: Place, state: State) -> bool:
    """Return whether the tip stands there already."""
    return math.dist(place, state.place) < ONE_PLACE_MM


def run(code: int, words: Words, state: State, record: Record, line: int) -> None:
    """Do a cycle.

    Raises
    ------
    ProgramError
        For words that are missing, R below the bottom, a spindle that does not turn as it must,
        and cycles in G93 or under compensation.
    """
    cycle = _filled(code, words, state)
    _check(code, words, state, cycle)
    state.relied |= (FEED_NEEDS | modal_state.RETURN_BIT | modal_state.PLANE_BIT) & ~state.given
    hole = Hole(cycle, state, record, line)
    hole.told = axis_bits(words) & ~(1 << hole.across)
    state.rely_on_place(1 << hole.across, g_name(code))
    over = _heights(code, words, state, hole)
    hole.feed = feed_of(g_name(code), words, state, 1.0)
    repeats = round(words.get("l", 1.0))
    steps = _MOST_STEPS + (3 * _pecks(hole) if code == codes.PECK_G83 else 0)
    if not state.added + repeats * steps <= MOST_ADDED_MOTIONS:
        state.add_motions(repeats * steps)
    before = len(record)
    if state.place[hole.across] < hole.top - ONE_PLACE_MM:
        rapid(placed(state.place, hole.across, hole.top), 0, state, record, line)
    for _ in range(repeats):
        hole.go_rapid(_beside(over, state, hole))
        hole.rapid_to(hole.top)
        _DONE[code](hole)
    state.add_motions(max(0, len(record) - before - 1))
    state.cycle = cycle


def _filled(code: int, words: Words, state: State) -> Cycle:
    """Return the words of the cycle, those that stay in force filled in."""
    across = AXES[AXES_OF[state.plane][2]]
    kept = state.cycle.words if state.cycle and state.cycle.plane == state.plane else {}
    said = {letter: words[letter] for letter in ("r", across, *"pqijk") if letter in words}
    cycle = Cycle(plane=state.plane, words={**kept, **said})
    due = ["r", across]
    if code in codes.DWELLING:
        due.append("p")
    elif code == codes.PECK_G83:
        due.append("q")
    elif code == codes.BACK_BORE_G87:
        due += ["i", "j", "k"]
    for letter in due:
        if letter not in cycle.words:
            raise ProgramError(
                f"{g_name(code)} must have {letter.upper()} in the line that begins it"
            )
    return cycle


def _check(code: int, words: Words, state: State, cycle: Cycle) -> None:
    name = g_name(code)
    if state.side:
        raise ProgramError(f"{name} cannot be used while compensation is on")
    if state.inverse_time:
        raise ProgramError(f"{name} cannot be used in G93")
    if "l" in words and round(words["l"]) == 0:
        raise ProgramError(f"L=0 of {name} must be 1 or more")
    if code == codes.TAP_G84 and state.spindle != CLOCKWISE:
        raise ProgramError(f"{name} must have the spindle turning clockwise")
    if code in _TURNING and state.spindle == OFF:
        raise ProgramError(f"{name} must have the spindle turning")


def _heights(code: int, words: Words, state: State, hole: Hole) -> Place:
    """Set how high the cycle goes, and return the step in the plane from one repeat to the next.

    In G90 it is the place itself, and repeats stay there.
    """
    cycle, across, units = hole.cycle, hole.across, state.units
    old = state.place[across]
    top, bottom = cycle.words["r"] * units, cycle.words[AXES[across]] * units
    if state.absolute:
        hole.top, hole.depth = top + state.shift[across], bottom + state.shift[across]
    else:
        hole.top = old + top
        hole.depth = hole.top + bottom
    letter = AXES[across].upper()
    if not hole.top >= hole.depth - ONE_PLACE_MM:
        raise ProgramError(
            f"R of {g_name(code)} lies {mm(hole.depth - hole.top):g} below its {letter}"
        )
    hole.clear = hole.top if state.retract == codes.TO_R_G99 else max(old, hole.top)
    steps = [0.0, 0.0, 0.0]
    for axis, name in enumerate(AXES):
        if axis == across:
            continue
        if state.absolute:
            said = words[name] * units + state.shift[axis] if name in words else state.place[axis]
            steps[axis] = said
        elif name in words:
            state.rely_on_place(1 << axis, f"G91 {name.upper()}{words[name]:g}")
            steps[axis] = words[name] * units
    return steps[0], steps[1], steps[2]


def _beside(over: Place, state: State, hole: Hole) -> Place:
    """Return the place over the hole at the height the tip has."""
    x, y, z = over
    if not state.absolute:
        x, y, z = state.x + x, state.y + y, state.z + z
    return placed((x, y, z), hole.across, state.place[hole.across])


def _pecks(hole: Hole) -> int:
    way = hole.top - hole.depth - ONE_PLACE_MM
    return math.ceil(way / (hole.cycle.words["q"] * hole.state.units))


def _drill(hole: Hole) -> None:
    hole.feed_to(hole.depth)
    hole.rapid_to(hole.clear)


def _drill_and_wait(hole: Hole) -> None:
    hole.feed_to(hole.depth)
    hole.dwell()
    hole.rapid_to(hole.clear)


def _peck(hole: Hole) -> None:
    step = hole.cycle.words["q"] * hole.state.units
    for k in range(1, _pecks(hole)):
        reached = hole.top - k * step
        if not reached > hole.depth + ONE_PLACE_MM:
            break
        hole.feed_to(reached)
        hole.rapid_to(hole.clear)
        hole.rapid_to(min(reached + PECK_GAP_MM, hole.clear))
    hole.feed_to(hole.depth)
    hole.rapid_to(hole.clear)


def _tap(hole: Hole) -> None:
    hole.feed_to(hole.depth)
    hole.turn(OFF)
    hole.turn(COUNTER_CLOCKWISE)
    hole.feed_to(hole.clear)
    hole.turn(OFF)
    hole.turn(CLOCKWISE)


def _bore(hole: Hole) -> None:
    hole.feed_to(hole.depth)
    hole.feed_to(hole.clear)


def _bore_and_stop(hole: Hole) -> None:
    turning = hole.state.spindle
    hole.feed_to(hole.depth)
    hole.dwell()
    hole.turn(OFF)
    hole.rapid_to(hole.clear)
    hole.turn(turning)


def _bore_back(hole: Hole) -> None:
    turning, state, units = hole.state.spindle, hole.state, hole.state.units
    cycle, shifted, offset = hole.cycle, hole.state.absolute, [0.0, 0.0, 0.0]
    first, second, across = AXES_OF[state.plane]
    named = [cycle.words[letter] for letter in CENTRE_LETTERS]
    offset[first], offset[second] = named[first] * units, named[second] * units
    top = named[across] * units + (state.shift[across] if shifted else hole.depth)
    over = state.place
    aside = (over[0] + offset[0], over[1] + offset[1], over[2] + offset[2])
    hole.go_rapid(aside)
    hole.turn(OFF)
    hole.rapid_to(hole.depth)
    hole.go_rapid(placed(over, across, hole.depth))
    hole.turn(turning)
    hole.feed_to(top)
    hole.feed_to(hole.depth)
    hole.turn(OFF)
    hole.go_rapid(placed(aside, across, hole.depth))
    hole.rapid_to(hole.clear)
    hole.go_rapid(placed(over, across, hole.clear))
    hole.turn(turning)


def _bore_by_hand(hole: Hole) -> None:
    turning, state = hole.state.spindle, hole.state
    hole.feed_to(hole.depth)
    hole.dwell()
    hole.turn(OFF)
    hole.record.act("stop", hole.line, 0)
    # the hand lifts the tip, as far as no text tells; the next motion is taken to start at clear
    state.x, state.y, state.z = placed(state.place, hole.across, hole.clear)
    state.forget(1 << hole.across)
    hole.record.reached = state.known
    hole.turn(turning)


def _bore_and_wait(hole: Hole) -> None:
    hole.feed_to(hole.depth)
    hole.dwell()
    hole.feed_to(hole.clear)


_DONE: dict[int, Callable[[Hole], None]] = {
    codes.DRILL_G81: _drill,
    codes.DWELL_G82: _drill_and_wait,
    codes.PECK_G83: _peck,
    codes.TAP_G84: _tap,
    codes.BORE_G85: _bore,
    codes.BORE_STOP_G86: _bore_and_stop,
    codes.BACK_BORE_G87: _bore_back,
    codes.BORE_BY_HAND_G88: _bore_by_hand,
    codes.BORE_DWELL_G89: _bore_and_wait,
}

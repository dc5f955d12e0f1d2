"""Arcs and helices in three planes.

Pairs are the two coordinates of the plane, so that counter-clockwise is seen from the plus end of
the axis across it.

References: NISTIR 6556, 3.5.3 (G2 and G3).

In G17 an arc or a helix is one motion. In G18 and G19 it is a row of short straight feeds whose
ends lie on it, since columns are swept by arcs about Z only: `ARC_CHORD_MM` is the most by which a chord
leaves the arc, on its hollow side.

References: NISTIR 6556, 3.5.3 (G2 and G3).
"""

from __future__ import annotations

import math

from knifecam.curve import ARC
from knifecam.errors import ProgramError
from knifecam.quantity import bare, mm
from knifecam.rs274 import modal_state
from knifecam.rs274.codes import AXES_OF, CENTRE_LETTERS, CLOCKWISE_G2, XY_G17, Place, g_name
from knifecam.rs274.modal_state import AXES, State
from knifecam.rs274.motion_record import Note, Record
from knifecam.rs274.rs274_limits import (
    ARC_CHORD_MM,
    HALF_CHORD_SLACK_TIMES,
    LEAST_RADIUS_MM,
    MM_PER_INCH,
    ONE_PLACE_MM,
    TOLERANCE_INCH,
    TOLERANCE_MM,
)
from knifecam.rs274.straight_motion import Words, axis_bits, feed_of, feed_straight

FULL_TURN_RAD = 2 * math.pi


Pair = tuple[float, float]


Arc = tuple[float, float, float]
"""Both coordinates of the centre in mm, and turns, positive counter-clockwise, at most 1 in size."""


def tolerance_of(units: float) -> float:
    """Return how far the radii of an arc may differ, mm."""
    return TOLERANCE_MM if units == 1.0 else TOLERANCE_INCH * MM_PER_INCH


def check_radii(first: float, last: float, units: float) -> None:
    """Refuse radii that are 0, or differ by more than the standard allows.

    Raises
    ------
    ProgramError
    """
    if not (first > LEAST_RADIUS_MM and last > LEAST_RADIUS_MM):
        raise ProgramError("the arc's radius is 0: its offsets must lead from start to centre")
    if not abs(first - last) <= tolerance_of(units):
        raise ProgramError(
            f"the arc's radius is {mm(first):.5f} at its start and {mm(last):.5f} at its end; "
            f"they may differ by {mm(tolerance_of(units)):g}"
        )


def size(x: float, y: float) -> float:
    """Return the length of a vector: plain arithmetic, so that compiled code gets the same."""
    return math.sqrt(x * x + y * y)


def are_one(start: Pair, stop: Pair) -> bool:
    """Return whether two places of a plane are one."""
    return size(stop[0] - start[0], stop[1] - start[1]) < ONE_PLACE_MM


def check_apart(start: Pair, stop: Pair) -> None:
    """Refuse an arc given by R from a place to itself: nothing tells where its centre lies.

    Raises
    ------
    ProgramError
    """
    if are_one(start, stop):
        raise ProgramError("an arc given by R must end elsewhere than it starts; use its centre")


def turns_about(centre: Pair, start: Pair, stop: Pair, *, clockwise: bool) -> float:
    """Return the turns from start to stop about a centre; a whole one where they are the same."""
    out_x, out_y = start[0] - centre[0], start[1] - centre[1]
    in_x, in_y = stop[0] - centre[0], stop[1] - centre[1]
    angle = math.atan2(out_x * in_y - out_y * in_x, out_x * in_x + out_y * in_y)
    if are_one(start, stop):
        angle = 0.0
    if clockwise:
        return (angle if angle < 0 else angle - FULL_TURN_RAD) / FULL_TURN_RAD
    return (angle if angle > 0 else angle + FULL_TURN_RAD) / FULL_TURN_RAD


def centre_form(start: Pair, stop: Pair, toward: Pair, *, clockwise: bool, units: float) -> Arc:
    """Return the arc whose centre lies ``toward`` (mm) from its start.

    An end at the start makes a full turn.

    Raises
    ------
    ProgramError
        Where the radius is 0, or the radii at start and end differ by more than the standard's
        tolerance.
    """
    x, y = start[0] + toward[0], start[1] + toward[1]
    check_radii(size(start[0] - x, start[1] - y), size(stop[0] - x, stop[1] - y), units)
    return x, y, turns_about((x, y), start, stop, clockwise=clockwise)


def radius_form(start: Pair, stop: Pair, radius: float, *, clockwise: bool) -> Arc:
    """Return the arc of that radius in mm: at most half a turn, or more if it is negative.

    Raises
    ------
    ProgramError
        Where start and end are the same, or further apart than the diameter.
    """
    check_apart(start, stop)
    chord_x, chord_y = stop[0] - start[0], stop[1] - start[1]
    chord, reach = size(chord_x, chord_y), abs(radius)
    if not chord / 2 <= reach * HALF_CHORD_SLACK_TIMES:
        raise ProgramError(
            f"R={mm(radius):g} is less than half the {mm(chord):.5f} from the arc's start to its end"
        )
    half = min(chord / 2, reach)
    away = math.sqrt((reach - half) * (reach + half))
    # the centre lies right of the chord for a short clockwise or a long counter-clockwise arc
    side = away if clockwise == (radius > 0) else -away
    x = (start[0] + stop[0]) / 2 + side * chord_y / chord
    y = (start[1] + stop[1]) / 2 - side * chord_x / chord
    turns = math.asin(half / reach) / math.pi
    turns = turns if radius > 0 else 1 - turns
    return x, y, -turns if clockwise else turns


def turn(motion: int, words: Words, stop: Place, state: State, record: Record, line: int) -> None:
    """Do G2 or G3: send the tip along an arc or a helix to a place.

    Raises
    ------
    ProgramError
        For words that give no arc, and where the text does not tell where the arc starts.
    """
    check_arc_words(motion, words, state)
    start, told = state.place, axis_bits(words)
    first, second, across = AXES_OF[state.plane]
    state.rely_on_place(1 << first | 1 << second, g_name(motion))
    ends = (start[first], start[second]), (stop[first], stop[second])
    arc = arc_of(motion, words, state, *ends)
    rise = stop[across] - start[across]
    feed = feed_of(g_name(motion), words, state, helix_length(arc, ends[0], rise))
    if state.plane == XY_G17:
        record.go((ARC, *start, *stop, *arc, feed), line, state, told=told)
    else:
        _chords(arc, stop, feed, told, state, record, line)


def arc_of(motion: int, words: Words, state: State, start: Pair, stop: Pair) -> Arc:
    """Return the arc from start to stop that R or the offsets to its centre give, in its plane."""
    clockwise, units = motion == CLOCKWISE_G2, state.units
    if "r" in words:
        return radius_form(start, stop, words["r"] * units, clockwise=clockwise)
    first, second, _ = AXES_OF[state.plane]
    toward = (
        words.get(CENTRE_LETTERS[first], 0.0) * units,
        words.get(CENTRE_LETTERS[second], 0.0) * units,
    )
    return centre_form(start, stop, toward, clockwise=clockwise, units=units)


def helix_length(arc: Arc, start: Pair, rise: float) -> float:
    """Return the length of an arc, or of a helix where it rises, mm."""
    x, y, turns = arc
    return size(FULL_TURN_RAD * abs(turns) * size(start[0] - x, start[1] - y), rise)


def check_arc_words(motion: int, words: Words, state: State) -> None:
    """Refuse the words of an arc where they do not give one in the plane in force."""
    state.relied |= modal_state.PLANE_BIT & ~state.given
    name, plane = g_name(motion), g_name(state.plane)
    first, second, across = AXES_OF[state.plane]
    offsets = [letter for letter in CENTRE_LETTERS if letter in words]
    if "r" in words and offsets:
        raise ProgramError(f"{name} takes either R or I, J, K, not both")
    if "r" not in words and not offsets:
        raise ProgramError(f"{name} must have R, or I, J, K to its centre")
    if CENTRE_LETTERS[across] in offsets:
        letter = CENTRE_LETTERS[across].upper()
        raise ProgramError(f"{letter} has no use for {name} in the plane of {plane}")
    if AXES[first] not in words and AXES[second] not in words:
        pair = " or ".join(sorted((AXES[first].upper(), AXES[second].upper())))
        raise ProgramError(f"{name} in the plane of {plane} must have {pair} in its line")


def _chords(
    arc: Arc, stop: Place, feed: float, told: int, state: State, record: Record, line: int
) -> None:
    """Add the straight feeds that stand for an arc in G18 or G19."""
    first, second, across = AXES_OF[state.plane]
    start = state.place
    out_x, out_y = start[first] - arc[0], start[second] - arc[1]
    reach = max(size(out_x, out_y), size(stop[first] - arc[0], stop[second] - arc[1]))
    count = chord_count(reach, arc[2])
    state.add_motions(count - 1)
    record.notes.append(Note(first=len(record), count=count, text=_words(arc, reach, state)))
    grown = size(stop[first] - arc[0], stop[second] - arc[1]) / size(out_x, out_y) - 1
    for k in range(1, count + 1):
        part = k / count
        angle, scale = FULL_TURN_RAD * arc[2] * part, 1 + grown * part
        cos, sin = scale * math.cos(angle), scale * math.sin(angle)
        place = [0.0, 0.0, 0.0]
        place[first] = arc[0] + out_x * cos - out_y * sin
        place[second] = arc[1] + out_x * sin + out_y * cos
        place[across] = start[across] + (stop[across] - start[across]) * part
        end = stop if k == count else (place[0], place[1], place[2])
        feed_straight(end, feed, state, record, line, told=told)


def chord_count(radius: float, turns: float) -> int:
    """Return into how many chords an arc is cut, so that none leaves it by more than `ARC_CHORD_MM`."""
    if radius <= ARC_CHORD_MM:
        return max(1, math.ceil(4 * abs(turns)))
    # half a chord's angle h has radius (1 - cos h) = CHORD
    half = 2 * math.asin(math.sqrt(ARC_CHORD_MM / 2 / radius))
    return max(1, math.ceil(math.pi * abs(turns) / half))


def _words(arc: Arc, radius: float, state: State) -> str:
    first, second, _ = AXES_OF[state.plane]
    direction = "clockwise" if arc[2] < 0 else "counter-clockwise"
    centre = f"{AXES[first].upper()}{bare(arc[0]):.4f} {AXES[second].upper()}{bare(arc[1]):.4f}"
    return (
        f"{direction} in {g_name(state.plane)} about {centre}, radius {mm(radius):.4f}, "
        f"{abs(arc[2]) * 360:.3f} degrees"
    )

"""Arcs and helices as a line of the program gives them, in all three planes.

In G17 an arc or a helix is one motion. In G18 and G19 it is a row of short straight feeds whose
ends lie on it, since columns are swept by arcs about Z only: `CHORD` is the most by which a chord
leaves the arc, on its hollow side.

References: NISTIR 6556, 3.5.3 (G2 and G3).
"""

from __future__ import annotations

import math

from knifecam.curve import ARC
from knifecam.errors import ProgramError
from knifecam.quantity import bare, mm
from knifecam.simulator.rs274 import modal
from knifecam.simulator.rs274.arcs import FULL, Arc, Pair, centre_form, radius_form, size
from knifecam.simulator.rs274.codes import CLOCKWISE_G2, XY_G17, g_name
from knifecam.simulator.rs274.modal import AXES, State
from knifecam.simulator.rs274.planes import AXES_OF, OFFSETS, Place
from knifecam.simulator.rs274.record import Note, Record
from knifecam.simulator.rs274.travel import Words, axis_bits, feed_of, feed_straight

CHORD = 1e-4
"""mm: the most by which the chords of an arc in G18 or G19 leave it."""


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
        words.get(OFFSETS[first], 0.0) * units,
        words.get(OFFSETS[second], 0.0) * units,
    )
    return centre_form(start, stop, toward, clockwise=clockwise, units=units)


def helix_length(arc: Arc, start: Pair, rise: float) -> float:
    """Return the length of an arc, or of a helix where it rises, mm."""
    x, y, turns = arc
    return size(FULL * abs(turns) * size(start[0] - x, start[1] - y), rise)


def check_arc_words(motion: int, words: Words, state: State) -> None:
    """Refuse the words of an arc where they do not give one in the plane in force."""
    state.relied |= modal.PLANE & ~state.given
    name, plane = g_name(motion), g_name(state.plane)
    first, second, across = AXES_OF[state.plane]
    offsets = [letter for letter in OFFSETS if letter in words]
    if "r" in words and offsets:
        raise ProgramError(f"{name} takes either R or I, J, K, not both")
    if "r" not in words and not offsets:
        raise ProgramError(f"{name} must have R, or I, J, K to its centre")
    if OFFSETS[across] in offsets:
        letter = OFFSETS[across].upper()
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
        angle, scale = FULL * arc[2] * part, 1 + grown * part
        cos, sin = scale * math.cos(angle), scale * math.sin(angle)
        place = [0.0, 0.0, 0.0]
        place[first] = arc[0] + out_x * cos - out_y * sin
        place[second] = arc[1] + out_x * sin + out_y * cos
        place[across] = start[across] + (stop[across] - start[across]) * part
        end = stop if k == count else (place[0], place[1], place[2])
        feed_straight(end, feed, state, record, line, told=told)


def chord_count(radius: float, turns: float) -> int:
    """Return into how many chords an arc is cut, so that none leaves it by more than `CHORD`."""
    if radius <= CHORD:
        return max(1, math.ceil(4 * abs(turns)))
    # half a chord's angle h has radius (1 - cos h) = CHORD
    half = 2 * math.asin(math.sqrt(CHORD / 2 / radius))
    return max(1, math.ceil(math.pi * abs(turns) / half))


def _words(arc: Arc, radius: float, state: State) -> str:
    first, second, _ = AXES_OF[state.plane]
    hand = "clockwise" if arc[2] < 0 else "counter-clockwise"
    centre = f"{AXES[first].upper()}{bare(arc[0]):.4f} {AXES[second].upper()}{bare(arc[1]):.4f}"
    return (
        f"{hand} in {g_name(state.plane)} about {centre}, radius {mm(radius):.4f}, "
        f"{abs(arc[2]) * 360:.3f} degrees"
    )

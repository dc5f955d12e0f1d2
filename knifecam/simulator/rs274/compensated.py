"""Motions under cutter radius compensation, as lines of the program give them.

References: NISTIR 6556, 3.5.10 (G40, G41, G42) and Appendix B.
"""

from __future__ import annotations

import math

from knifecam.curve import ARC, FEED, RAPID
from knifecam.errors import ProgramError
from knifecam.simulator.rs274 import codes, compensation, modal
from knifecam.simulator.rs274.arcs import FULL, Pair, check_apart, size
from knifecam.simulator.rs274.codes import ARCS, CLOCKWISE_G2, LEFT_G41, RAPID_G0, g_name
from knifecam.simulator.rs274.compensation import Piece
from knifecam.simulator.rs274.modal import State
from knifecam.simulator.rs274.planes import OFFSETS, Place
from knifecam.simulator.rs274.record import Record
from knifecam.simulator.rs274.travel import Words, axis_bits, feed_of
from knifecam.simulator.rs274.turning import arc_of, check_arc_words

_X_AND_Y = 0b011


def switch(code: int, words: Words, state: State) -> None:
    """Do G40, G41 or G42.

    Raises
    ------
    ProgramError
        For G41 and G42 while either is on or G17 is not, and for a diameter that is not known.
    """
    name = g_name(code)
    if code == codes.NO_COMPENSATION_G40:
        state.hand, state.corner = 0, None
        return
    if state.hand:
        raise ProgramError(f"{name}: compensation is on already; end it by G40 first")
    state.rely(modal.PLANE)
    if state.plane != codes.XY_G17:
        raise ProgramError(f"{name} must stand in the plane of G17")
    if "d" not in words:
        state.rely(modal.CUTTER)
    number = round(words["d"]) if "d" in words else state.cutter
    diameter = state.stored.diameter(number)
    if diameter is None:
        raise ProgramError(
            f"{name} is not understood: the diameter of D{number} is stored in the mill, which the "
            "text does not tell; write the path of the cutter's axis"
        )
    hand = 1 if code == LEFT_G41 else -1
    state.hand, state.radius = (hand, diameter / 2) if diameter >= 0 else (-hand, -diameter / 2)
    state.corner = None


def move(motion: int, words: Words, stop: Place, state: State, record: Record, line: int) -> None:
    """Do G0 to G3 under compensation: ``stop`` is the programmed end.

    Raises
    ------
    ProgramError
        For paths the cutter cannot follow, and where the text does not tell where the axis stands.
    """
    state.rely_on_place(_X_AND_Y, f"{g_name(motion)} under compensation")
    end = stop[:2]
    pieces = _arc(motion, words, end, state) if motion in ARCS else _line(motion, end, state)
    lengths = _lengths(pieces, state.place, stop[2])
    rapid = motion == RAPID_G0
    feed = 0.0 if rapid else feed_of(g_name(motion), words, state, sum(lengths))
    last = len(pieces) - 1
    for k, (x, y, centre_x, centre_y, turns) in enumerate(pieces):
        if k < last and not lengths[k] > 0:
            continue
        z = stop[2] if k == last else state.z
        kind = ARC if turns else RAPID if rapid else FEED
        row = (kind, state.x, state.y, state.z, x, y, z, centre_x, centre_y, turns, feed)
        record.go(row, line, state, told=axis_bits(words) if k == last else 0)
    state.corner = end


def _line(motion: int, end: Pair, state: State) -> list[Piece]:
    axis = state.x, state.y
    if state.corner is None:
        return [(*compensation.first_line(axis, end, state.radius, state.hand), 0.0, 0.0, 0.0)]
    return compensation.next_line(
        axis, state.corner, end, state.radius, state.hand, rounded=motion != RAPID_G0
    )


def _arc(motion: int, words: Words, end: Pair, state: State) -> list[Piece]:
    check_arc_words(motion, words, state)
    axis, clockwise = (state.x, state.y), motion == CLOCKWISE_G2
    if state.corner is not None:
        arc = arc_of(motion, words, state, state.corner, end)
        return compensation.next_arc(axis, state.corner, end, arc, state.radius, state.hand)
    if state.radius == 0:
        arc = arc_of(motion, words, state, axis, end)
        return [(*end, *arc)]
    if "r" in words:
        centre = compensation.centre_of_first(
            axis, end, words["r"] * state.units, state.radius, state.hand, clockwise=clockwise
        )
    else:
        toward = [words.get(letter, 0.0) * state.units for letter in OFFSETS[:2]]
        centre = axis[0] + toward[0], axis[1] + toward[1]
    sense = -1.0 if clockwise else 1.0
    pieces = compensation.first_arc(
        axis, end, (*centre, sense), state.radius, state.hand, units=state.units
    )
    if "r" in words:
        check_apart(axis, pieces[-1][:2])
    return pieces


def _lengths(pieces: list[Piece], start: Place, z: float) -> list[float]:
    """Return the lengths of the pieces, mm; the last one goes to the height ``z``."""
    x, y, lengths = start[0], start[1], []
    for end_x, end_y, centre_x, centre_y, turns in pieces:
        chord = size(end_x - x, end_y - y)
        lengths.append(FULL * abs(turns) * size(x - centre_x, y - centre_y) if turns else chord)
        x, y = end_x, end_y
    lengths[-1] = math.hypot(lengths[-1], z - start[2])
    return lengths

"""Arcs and helices in a plane: their centres and their turns.

Pairs are the two coordinates of the plane, so that counter-clockwise is seen from the plus end of
the axis across it.

References: NISTIR 6556, 3.5.3 (G2 and G3).
"""

from __future__ import annotations

import math

from knifecam.errors import ProgramError
from knifecam.quantity import mm
from knifecam.simulator.rs274.modal import INCH

TOLERANCE_MM = 0.002
TOLERANCE_INCH = 0.0002
"""How far the radii at start and end of an arc may differ, in the program's units."""

LEAST_RADIUS = 1e-9
"""mm: what is smaller is no radius."""

ONE_PLACE = 1e-6
"""mm: places nearer than this are one: the sums that lead there differ in their last bits."""

HALF_CHORD_SLACK = 1 + 1e-12

FULL = 2 * math.pi

Pair = tuple[float, float]
Arc = tuple[float, float, float]
"""Both coordinates of the centre in mm, and turns, positive counter-clockwise, at most 1 in size."""


def tolerance_of(units: float) -> float:
    """Return how far the radii of an arc may differ, mm."""
    return TOLERANCE_MM if units == 1.0 else TOLERANCE_INCH * INCH


def check_radii(first: float, last: float, units: float) -> None:
    """Refuse radii that are 0, or differ by more than the standard allows.

    Raises
    ------
    ProgramError
    """
    if not (first > LEAST_RADIUS and last > LEAST_RADIUS):
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
    return size(stop[0] - start[0], stop[1] - start[1]) < ONE_PLACE


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
        return (angle if angle < 0 else angle - FULL) / FULL
    return (angle if angle > 0 else angle + FULL) / FULL


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
    if not chord / 2 <= reach * HALF_CHORD_SLACK:
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

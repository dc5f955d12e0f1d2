"""Arcs and helices in the XY plane: their centres and their turns.

References: NISTIR 6556, 3.5.3 (G2 and G3).
"""

from __future__ import annotations

import math

from knifecam.errors import ProgramError
from knifecam.simulator.rs274.modal import INCH

TOLERANCE_MM = 0.002
TOLERANCE_INCH = 0.0002
"""How far the radii at start and end of an arc may differ, in the program's units."""

LEAST_RADIUS = 1e-9
"""mm: what is smaller is no radius."""

HALF_CHORD_SLACK = 1 + 1e-12

Arc = tuple[float, float, float]
"""Centre x and y in mm, and turns, positive counter-clockwise, at most 1 in size."""


def centre_form(
    start: tuple[float, float],
    stop: tuple[float, float],
    toward: tuple[float, float],
    *,
    clockwise: bool,
    units: float,
) -> Arc:
    """Return the arc whose centre lies ``toward`` (I, J in mm) from its start.

    An end equal to the start makes a full turn.

    Raises
    ------
    ProgramError
        Where the radius is 0, or the radii at start and end differ by more than the standard's
        tolerance.
    """
    x, y = start[0] + toward[0], start[1] + toward[1]
    out_x, out_y = start[0] - x, start[1] - y
    in_x, in_y = stop[0] - x, stop[1] - y
    first, last = math.hypot(out_x, out_y), math.hypot(in_x, in_y)
    if not (first > LEAST_RADIUS and last > LEAST_RADIUS):
        raise ProgramError("the arc's radius is 0: I and J must lead from its start to its centre")
    tolerance = TOLERANCE_MM if units == 1.0 else TOLERANCE_INCH * INCH
    if not abs(first - last) <= tolerance:
        raise ProgramError(
            f"the arc's radius is {first:.5f} mm at its start and {last:.5f} mm at its end; "
            f"they may differ by {tolerance:g} mm"
        )
    angle = math.atan2(out_x * in_y - out_y * in_x, out_x * in_x + out_y * in_y)
    if start == stop:
        angle = 0.0
    if clockwise:
        return x, y, (angle if angle < 0 else angle - 2 * math.pi) / (2 * math.pi)
    return x, y, (angle if angle > 0 else angle + 2 * math.pi) / (2 * math.pi)


def radius_form(
    start: tuple[float, float], stop: tuple[float, float], radius: float, *, clockwise: bool
) -> Arc:
    """Return the arc of that radius in mm: at most half a turn, or more if it is negative.

    Raises
    ------
    ProgramError
        Where start and end are the same, or further apart than the diameter.
    """
    if start == stop:
        raise ProgramError("an arc given by R must end elsewhere than it starts; use I and J")
    chord_x, chord_y = stop[0] - start[0], stop[1] - start[1]
    chord, size = math.hypot(chord_x, chord_y), abs(radius)
    if not chord / 2 <= size * HALF_CHORD_SLACK:
        raise ProgramError(
            f"R={radius:g} mm is less than half the {chord:.5f} mm from the arc's start to its end"
        )
    half = min(chord / 2, size)
    away = math.sqrt((size - half) * (size + half))
    # the centre lies right of the chord for a short clockwise or a long counter-clockwise arc
    side = away if clockwise == (radius > 0) else -away
    x = (start[0] + stop[0]) / 2 + side * chord_y / chord
    y = (start[1] + stop[1]) / 2 - side * chord_x / chord
    turns = math.asin(half / size) / math.pi
    turns = turns if radius > 0 else 1 - turns
    return x, y, -turns if clockwise else turns

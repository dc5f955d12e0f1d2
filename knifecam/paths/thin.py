"""Tracks of few arcs round outlines that are drawn with thousands of short lines."""

from __future__ import annotations

from knifecam.curve import Curve
from knifecam.errors import PlanError
from knifecam.paths.fallback import fit
from knifecam.paths.measure import is_measured, measure_offset
from knifecam.paths.offset import offset
from knifecam.quantity import mm, most_mm

MANY = 250
"""Pieces above which a track is fitted anew."""

CHORD = 1e-4
"""mm: points for the fit are taken so near to each other."""

NUDGE = 0.2
"""Share of the band by which a fitted track keeps farther off, so that it is never too near."""


def thin_offset(wall: Curve, away: float, band: float) -> tuple[Curve, ...]:
    """Return the loops ``away`` mm off the closed wall, of few pieces.

    Every point of a loop is at least ``away`` and at most ``away + band`` mm from the wall (metal
    left). Loops of at most `MANY` pieces stay exact.

    Raises
    ------
    PlanError
        When the fitted loops do not measure right.
    """
    loops = offset(wall, away)
    if all(len(loop) <= MANY for loop in loops):
        return loops
    moved = away + NUDGE * band if away > 0 else away - NUDGE * band
    room = (1 - NUDGE) * band
    fitted = [fit(loop.points(CHORD), wall, abs(moved), room) for loop in offset(wall, moved)]
    found = tuple(Curve(*chain) for chain in fitted if chain is not None)
    if len(found) != len(loops):
        raise PlanError(f"a track {mm(away):.3f} off a dense outline could not be fitted by arcs")
    deviation = measure_offset(wall, found, away)
    if not is_measured(deviation, nearer=1e-6, farther=band):
        raise PlanError(
            f"a track {mm(away):.3f} off a dense outline comes {mm(deviation.nearer):.6f} too near or"
            f" strays by {mm(deviation.farther):.4f}; at most {most_mm(band)} is allowed"
        )
    return found

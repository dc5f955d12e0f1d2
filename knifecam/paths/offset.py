"""Parallel curves of closed curves of lines and arcs."""

from __future__ import annotations

import numpy as np

from knifecam.curve import Curve
from knifecam.errors import PlanError
from knifecam.paths.measure import is_measured, measure_offset
from knifecam.paths.raw import SHORTEST, _picked, raw_offsets
from knifecam.paths.stitch import as_curve, kept, loops, near_pieces

EXACT = 1e-6
"""mm: how far a path found the exact way may be from the distance."""


def offset(curve: Curve, distance: float, *, tolerance: float = 0.0005) -> tuple[Curve, ...]:
    """Return the loops of all places ``distance`` mm from the closed ``curve`` on one side.

    Every point of the path is at least ``abs(distance)`` - 1e-6 mm from the curve, and at most
    ``abs(distance) + tolerance``: metal is left, never gouged.
    """
    if not curve.closed:
        raise ValueError("an open curve encloses nothing to offset: close it first")
    if not np.isfinite(distance):
        raise ValueError(f"distance={distance} mm must be finite")
    if distance == 0:
        return (curve.counter_clockwise(),)
    found = exact_offset(curve, distance)
    if found is not None and is_measured(
        measure_offset(curve, found, distance), nearer=EXACT, farther=EXACT
    ):
        return found
    return fall_back(curve, distance, tolerance)


def fall_back(curve: Curve, distance: float, tolerance: float) -> tuple[Curve, ...]:
    """Return the offset by a distance larger by less than ``tolerance``, where touches come apart.

    What defeats the exact way are pieces that touch without crossing: at one distance only.
    """
    for share in (0.03, 0.11, 0.23, 0.37):
        found = exact_offset(curve, float(distance + np.copysign(share * tolerance, distance)))
        if found is not None and is_measured(
            measure_offset(curve, found, distance), nearer=EXACT, farther=tolerance
        ):
            return found
    raise PlanError(
        f"offset distance={distance:.4f} mm of a curve of {len(curve)} pieces: no way gave a path "
        "that measures right; look for pieces of the outline that cross or touch one another"
    )


def exact_offset(curve: Curve, distance: float) -> tuple[Curve, ...] | None:
    """Return the loops of the offset, not yet measured; None where the pieces do not close."""
    inside_left = curve.counter_clockwise()
    source = inside_left if distance < 0 else inside_left.reversed()
    away = abs(distance)
    pieces = raw_offsets(source, away)
    pieces = _picked(pieces, np.flatnonzero(near_pieces(pieces, source, away)))
    if len(pieces) == 0:
        return ()
    found = loops(pieces, *kept(pieces, source, away))
    if found is None:
        return None
    curves = [as_curve(pieces, loop) for loop in found]
    real = [c for c in curves if c is not None and c.length > 4 * SHORTEST]
    if distance > 0:
        real = [c.reversed() for c in real]
    return tuple(sorted(real, key=lambda c: -abs(c.area)))

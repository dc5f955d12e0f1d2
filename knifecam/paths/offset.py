"""Parallel curves of closed curves, measured before they are returned; refits of dense outlines."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from knifecam.curve import Curve
from knifecam.curve.crossings import split_stations
from knifecam.curve.curve import Floats
from knifecam.curve.pieces import as_pieces, picked
from knifecam.errors import PlanError
from knifecam.paths.offset_check import Deviation, OffsetSide, is_measured, measure_offset, measured
from knifecam.paths.offset_fallback import clipped_chains, fit
from knifecam.paths.offset_loops import chain_of, kept, loops, near_pieces, tidied
from knifecam.paths.paths_limits import (
    EXACT_PATH_MM,
    FARTHER_SHARE,
    FIT_CHORD_MM,
    NUDGE_SHARES,
    REFIT_FROM_PIECES,
    SHORTEST_PIECE_MM,
)
from knifecam.paths.raw_offset import raw_offsets
from knifecam.quantity import Place, mm, most_mm

Way = Literal["exact", "nudged", "clipped"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Offset:
    """An offset, the way it was found, and what it measured.

    Parameters
    ----------
    loops : tuple of Curve
        Outward the outer loop first, counter-clockwise, then clockwise holes; inward all
        counter-clockwise; the larger first.
    way : 'exact', 'nudged' or 'clipped'
        In closed form; in closed form for a distance larger by a part of the tolerance; by the
        integer clipper, with arcs fitted.
    deviation : Deviation
    """

    loops: tuple[Curve, ...]
    way: Way
    deviation: Deviation


def offset(curve: Curve, distance: float, *, tolerance: float = 0.0005) -> tuple[Curve, ...]:
    """Return the loops of all places ``distance`` mm from the closed ``curve`` on one side.

    Every point of the path is at least ``abs(distance) - 1e-6`` mm from the curve and at most
    ``abs(distance) + tolerance``; found the exact way, within 1e-6 mm of the distance but for
    corners cut where a piece under 2 um was taken out. Metal is left, never gouged.

    Parameters
    ----------
    curve : Curve
        Closed, without crossings; its sense of travel does not matter.
    distance : float, mm
        Positive outward of the enclosed area, negative inward, 0 the curve itself.
    tolerance : float, mm

    Returns
    -------
    tuple of Curve
        Outward the outer loop first, counter-clockwise, then the clockwise holes that arise where
        a bay closes; inward all loops, counter-clockwise, the larger first; empty if nothing is
        left.

    Raises
    ------
    PlanError
        If no way gives a path that measures right.
    """
    if not curve.closed:
        raise ValueError("an open curve encloses nothing to offset: close it first")
    if not math.isfinite(distance):
        raise ValueError(f"distance={distance} mm must be finite")
    if not (math.isfinite(tolerance) and tolerance >= 10 * EXACT_PATH_MM):
        raise ValueError(f"tolerance={tolerance} mm must be {10 * EXACT_PATH_MM} mm or more")
    if distance == 0:
        return (curve.counter_clockwise(),)
    return find_offset(curve, distance, tolerance).loops


def find_offset(curve: Curve, distance: float, tolerance: float) -> Offset:
    """Return the first offset that measures right, of the exact way and those round it."""
    side = OffsetSide.of(curve, distance)
    for way, found, farther in _ways(side, distance, tolerance):
        deviation = measured(
            side, found.loops, room=max(farther, SHORTEST_PIECE_MM if found.dropped else 0.0)
        )
        missed = tolerance if found.moved else farther
        if is_measured(deviation, nearer=EXACT_PATH_MM, farther=farther, missed=missed):
            return Offset(loops=found.loops, way=way, deviation=deviation)
    raise PlanError(
        f"offset distance={mm(distance):.4f}: no way found a path that measures right; the curve of "
        f"{len(curve)} pieces {_fault(curve)}"
    )


def _fault(curve: Curve) -> str:
    pieces = as_pieces(curve)
    row, gone = split_stations(pieces)
    if len(row) == 0:
        return "does not cross itself: a distance a little different may do"
    x, y = pieces.at(row[:1], gone[:1])[0][0]
    return f"crosses or touches itself at {Place(x, y):.4f}: draw it without"


Chain = tuple[Floats, Floats]
"""Vertices (N, 2) and bulges (N,) of a closed loop with the metal to be left on its right."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """Loops not yet measured, how far tidying moved them, mm, and whether it left any out."""

    loops: tuple[Curve, ...]
    moved: float
    dropped: bool


def _ways(
    side: OffsetSide, distance: float, tolerance: float
) -> Iterator[tuple[Way, _Found, float]]:
    """Yield ways, the loops they give, and how much farther than the distance they may be, mm."""
    chains = exact_chains(side.source, side.away)
    if chains is not None:
        found = _finished(side, chains, tolerance - EXACT_PATH_MM)
        yield "exact", found, EXACT_PATH_MM + found.moved
    for share in NUDGE_SHARES:
        chains = exact_chains(side.source, side.away + share * tolerance)
        if chains is not None:
            yield "nudged", _finished(side, chains, (1 - share) * tolerance), tolerance
    clipped = clipped_chains(side.enclosing, distance, tolerance)
    yield "clipped", _finished(side, clipped, tolerance / 10), tolerance


def exact_chains(source: Curve, away: float) -> list[Chain] | None:
    """Return the loops ``away`` mm left of the closed curve in closed form, not yet measured.

    None where the pieces do not close.
    """
    pieces = raw_offsets(source, away)
    pieces = picked(pieces, np.flatnonzero(near_pieces(pieces, source, away)))
    if len(pieces) == 0:
        return []
    parts = kept(pieces, source, away)
    found = loops(pieces, parts)
    return None if found is None else [chain_of(pieces, parts, loop) for loop in found]


def _finished(side: OffsetSide, chains: list[Chain], most: float) -> _Found:
    tidy = [tidied(*chain, most) for chain in chains]
    real = [_curve(side, vertices, bulges) for vertices, bulges, _ in tidy if len(vertices)]
    if len(real) > 1:
        real.sort(key=lambda path: -abs(path.area))
    moved = max((moved for _, _, moved in tidy), default=0.0)
    return _Found(loops=tuple(real), moved=moved, dropped=len(real) < len(tidy))


def _curve(side: OffsetSide, vertices: Floats, bulges: Floats) -> Curve:
    """Return the loop, outward turned to run the other way; its first vertex stays the first."""
    if side.inward:
        return Curve(vertices, bulges)
    return Curve(np.concatenate([vertices[:1], vertices[:0:-1]]), -bulges[::-1])


def refitted_offset(wall: Curve, away: float, band: float) -> tuple[Curve, ...]:
    """Return the loops ``away`` mm off the closed wall, of few pieces.

    Every point of a loop is at least ``away`` and at most ``away + band`` mm from the wall (metal
    left). Loops of at most `REFIT_FROM_PIECES` pieces stay exact.

    Raises
    ------
    PlanError
        When the fitted loops do not measure right.
    """
    loops = offset(wall, away)
    if all(len(loop) <= REFIT_FROM_PIECES for loop in loops):
        return loops
    moved = away + FARTHER_SHARE * band if away > 0 else away - FARTHER_SHARE * band
    room = (1 - FARTHER_SHARE) * band
    fitted = [
        fit(loop.points(FIT_CHORD_MM), wall, abs(moved), room) for loop in offset(wall, moved)
    ]
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

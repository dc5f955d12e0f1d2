"""Plunges as they were cut: sample columns in lines square to the plunge's line, and the circle
they lie on.

Over the bevel the surface rises as the arc of a circle that lies in the bevel and touches it along
the line: y = Rp - sqrt(Rp^2 - (s - s0)^2), s past the line and y the rise square to the bevel. The
squares of its equation are linear in 2 s0 and 2 Rp, so both come from least squares.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bevel, Plunge, height_at
from knifecam.curve import place_at
from knifecam.curve.prolonged_distance import signed_line_distance
from knifecam.measure.bevel_places import SurfacePlaces, places_on, surface_cosine
from knifecam.measure.measured_surfaces import off_openings
from knifecam.measure.sample_columns import Sides, read_places
from knifecam.shop import Order

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

PLUNGE_LINES, PLUNGE_SAMPLE_MM, PLUNGE_LINES_TRIED = 5, 0.01, 101
"""Lines across a plunge, mm from sample column to sample column in them, and places tried for lines."""

BEFORE = 1.0
"""mm before the plunge's line where its lines begin."""

BELOW_FLAT = 0.02
"""mm below the flat, and above the bevel: the circle is fitted between."""

LEAST_RISE = 0.2
"""mm: a line that rises less over the bevel tells nothing of the circle."""


@dataclass(frozen=True, eq=False, kw_only=True)
class MeasuredPlunge:
    """One plunge on one side: circles of its lines, and how far its surface is off.

    ``radii`` and ``shifts`` (L,) mm: radius, and how far past its line it begins. ``off`` (n,) mm
    square to the surface, ``points`` (n, 2).
    """

    bevel: Bevel
    number: int
    side: str
    wanted: float
    radii: Floats
    shifts: Floats
    off: Floats
    points: Floats


def measure_plunges(order: Order, sides: Sides) -> tuple[MeasuredPlunge, ...]:
    """Return every plunge on every side that is given."""
    found = []
    for bevel in order.blade.bevels:
        for number, plunge in enumerate(bevel.plunges, 1):
            points, count = _lines(order, bevel, plunge)
            if not count:
                continue
            seen = read_places(order, sides, points)
            for which, side in enumerate("AB"):
                if bevel.on(side) and sides[which] is not None:
                    height = seen.heights[which]
                    found.append(_risen(order, bevel, number, side, points, height, count))
    return tuple(found)


def _lines(order: Order, bevel: Bevel, plunge: Plunge) -> tuple[Floats, int]:
    """Return the sample columns of all lines, one after another, and how many lines there are."""
    side = "A" if bevel.on("A") else "B"
    half = order.blade.thickness / 2
    tried = np.linspace(0.0, plunge.line.length, PLUNGE_LINES_TRIED)
    foot, headings = place_at(plunge.line, tried)
    places = places_on(order.blade, foot, side)
    room = half - places.target
    rows = np.flatnonzero(np.isfinite(places.target) & (room > LEAST_RISE) & (places.bevel >= 0))
    if not len(rows):
        return np.zeros((0, 2)), 0
    rows = np.unique(rows[np.round(np.linspace(0, len(rows) - 1, PLUNGE_LINES)).astype(int)])
    past = np.stack([-np.sin(headings[rows]), np.cos(headings[rows])], axis=1)
    run = np.arange(-BEFORE, plunge.radius, PLUNGE_SAMPLE_MM)
    points = foot[rows][:, None, :] + run[None, :, None] * past[:, None, :]
    return points.reshape(-1, 2), len(rows)


def _risen(
    order: Order, bevel: Bevel, number: int, side: str, points: Floats, height: Floats, count: int
) -> MeasuredPlunge:
    plunge = bevel.plunges[number - 1]
    places = places_on(order.blade, points, side)
    past = signed_line_distance(points, plunge.line)
    mine = off_openings(order, points, side)
    mine &= places.bevel == order.blade.bevels.index(bevel)
    above = np.where(mine, height - np.where(mine, places.target, 0.0), 0.0)
    off = np.where(mine, above * _upright(order, places, mine), 0.0)
    radii, shifts = [], []
    for line in np.arange(len(points)).reshape(count, -1):
        circle = _circle(order, bevel, side, places, height, past, line[mine[line]])
        if circle is not None:
            radii.append(circle[0])
            shifts.append(circle[1])
    inside = mine & (past > 0.0)
    return MeasuredPlunge(
        bevel=bevel, number=number, side=side, wanted=plunge.radius, radii=np.array(radii),
        shifts=np.array(shifts), off=off[inside], points=points[inside],
    )  # fmt: skip


def _upright(order: Order, places: SurfacePlaces, mine: Bools) -> Floats:
    found = np.ones(len(mine))
    found[mine] = surface_cosine(order.blade, places.chosen(mine))
    return found


def _circle(
    order: Order, bevel: Bevel, side: str, places: SurfacePlaces, height: Floats, past: Floats,
    rows: NDArray[np.int64],
) -> tuple[float, float] | None:  # fmt: skip
    """Return radius and shift of the circle through a line's lowest sample columns."""
    thickness = order.blade.thickness
    base = height_at(bevel, thickness, side, places.edge[rows])
    rise = (height[rows] - base) * np.cos(bevel.angle)
    fit = (past[rows] > 0.0) & (rise > BELOW_FLAT) & (height[rows] < thickness / 2 - BELOW_FLAT)
    s, y = past[rows][fit], rise[fit]
    low = _lowest(s, height[rows][fit] - places.target[rows][fit])
    s, y = s[low], y[low]
    if len(s) < 3:
        return None
    shift, radius = 0.0, np.nan
    for _ in range(4):  # s^2 + y^2 + s0^2 = 2 s0 s + 2 Rp y
        found = np.linalg.lstsq(
            np.stack([2 * s, 2 * y], axis=1), s**2 + y**2 + shift**2, rcond=None
        )[0]
        shift, radius = float(found[0]), float(found[1])
    return radius, shift


def _lowest(s: Floats, off: Floats) -> NDArray[np.int64]:
    """Return where the deviation has its least between its crests, or all where it has none."""
    if len(s) < 3:
        return np.arange(len(s))
    least = np.flatnonzero((off[1:-1] <= off[:-2]) & (off[1:-1] < off[2:])) + 1
    return least if len(least) >= 3 else np.arange(len(s))

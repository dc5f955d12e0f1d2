"""Jimping as it was cut: the notches' walls from both sides, their axes, pitch and depth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Jimping
from knifecam.curve import circle, signed_distance, station_of
from knifecam.shop import Order
from knifecam.simulator.measure_walls import BESIDE_FACE, Reached, WallSamples, wall_there
from knifecam.simulator.seen import Sides

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

ROUND_PLACES, LEVELS = 120, 7
"""Places round a notch and heights at which its wall is measured."""

INSIDE = 0.02
"""mm inside the outline: from there on a notch has a wall."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Notch:
    """One notch: its wall's ``points`` (n, 2) and ``heights`` (H,), and what each side left there.

    ``there`` (H, n): where it has a wall. ``station`` mm along the outline; ``axis`` mm, the middle
    of the circle its wall lies on; ``diameter`` and ``depth`` mm as cut, None where not reached.
    """

    row: Jimping
    number: int
    station: float
    points: Floats
    heights: Floats
    there: Bools
    sides: tuple[Reached | None, Reached | None]
    axis: tuple[float, float] | None
    diameter: float | None
    depth: float | None

    @property
    def left(self) -> Floats:
        """(H, n) mm: what both sides leave together, -inf where there is no wall."""
        given = [s.error for s in self.sides if s is not None]
        return np.where(self.there, np.minimum.reduce(given), -np.inf)


def measure_notches(order: Order, sides: Sides) -> tuple[Notch, ...]:
    """Return all notches of all rows, as the sides that are given leave them."""
    if sides == (None, None):
        return ()
    return tuple(
        _notch(order, sides, row, number, np.asarray(centre))
        for row in order.blade.jimping
        for number, centre in enumerate(row.centres, 1)
    )


def _notch(order: Order, sides: Sides, row: Jimping, number: int, centre: Floats) -> Notch:
    outline, half = order.blade.outline.counter_clockwise(), order.blade.thickness / 2
    angle = np.arange(ROUND_PLACES) * (2 * np.pi / ROUND_PLACES)
    outward = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    points = centre + row.diameter / 2 * outward
    inside = signed_distance(points, outline) > INSIDE
    points, outward = points[inside], outward[inside]
    heights = np.round(np.linspace(-half + BESIDE_FACE, half - BESIDE_FACE, LEVELS), 6)
    samples = WallSamples(
        wall=circle((float(centre[0]), float(centre[1])), row.diameter),
        points=points, normals=-outward,
        there=lambda heights: wall_there(order.blade, points, -outward, heights),
    )  # fmt: skip
    there, reached = samples.there(heights), samples.reached(sides, samples.near(sides, heights))
    errors = np.minimum.reduce([r.error for r in reached if r is not None])
    axis, diameter = _round(row, centre, outward, np.where(there, errors, np.nan))
    depth = None
    if axis is not None and diameter is not None:
        depth = diameter / 2 + float(signed_distance(np.array([axis]), outline)[0])
    return Notch(
        row=row, number=number, station=float(station_of(outline, centre[None])[0]),
        points=points, heights=heights, there=there, sides=reached, axis=axis,
        diameter=diameter, depth=depth,
    )  # fmt: skip


def _round(
    row: Jimping, centre: Floats, outward: Floats, error: Floats
) -> tuple[tuple[float, float] | None, float | None]:
    """Return middle and diameter of the circle the wall lies on, from the worst of its heights."""
    known = np.isfinite(error).any(axis=0)
    if np.count_nonzero(known) < 3:
        return None, None
    rim = np.nanmax(np.where(np.isfinite(error), error, np.nan)[:, known], axis=0)
    design = np.column_stack([outward[known], np.ones(len(rim))])
    x, y, grown = np.linalg.lstsq(design, -rim, rcond=None)[0]
    return (float(centre[0] + x), float(centre[1] + y)), float(row.diameter + 2 * grown)

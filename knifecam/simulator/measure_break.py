"""Edge breaks as they were cut: sights in short lines square to the wall, and the faces they lie on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import EdgeBreak
from knifecam.blade.broken import broken_curves, near_break_ends
from knifecam.blade.surface import half_thickness
from knifecam.curve import Curve, resample
from knifecam.shop import Order
from knifecam.simulator.seen import Sides, see
from knifecam.simulator.wanted import opened_wider

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

ALONG, PLACES = 1.0, 400
"""mm between lines along a break, and how many there are at most."""

SIGHTS = 24
"""Sights in a line, from the wall to half as far again as the break is wide."""

RIM = 0.006
"""mm from the wall where a line begins."""

FLUSH = 0.002
"""mm: a face this near to the flat is not broken."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Broken:
    """One edge break: at ``points`` (n, 2) of its wall the ``widths`` (n,) mm across the face and
    the ``angles`` (n,) rad of the broken face; width 0 where nothing is broken. ``within`` (n,):
    the break is whole there, not at its ends, over notches or where the blade is thinner.
    ``last`` (n,): the motion that cut it, -1 for none."""

    one: EdgeBreak
    points: Floats
    normals: Floats
    widths: Floats
    angles: Floats
    within: Bools
    last: NDArray[np.int32]
    curve: Curve


def measure_breaks(order: Order, sides: Sides) -> tuple[Broken, ...]:
    """Return all edge breaks of the sides that are given."""
    found = []
    for one in order.blade.breaks:
        which = "AB".index(one.side)
        if sides[which] is not None:
            alone = (sides[0], None) if which == 0 else (None, sides[1])
            found += [
                _measured(order, alone, one, curve) for curve in broken_curves(one, order.blade)
            ]
    return tuple(found)


def _measured(order: Order, sides: Sides, one: EdgeBreak, curve: Curve) -> Broken:
    half, which = order.blade.thickness / 2, "AB".index(one.side)
    _, points, headings = resample(curve, max(ALONG, curve.length / PLACES))
    left = np.stack([-np.sin(headings), np.cos(headings)], axis=1)
    inward = left if one.of == "outline" else -left
    run = np.linspace(RIM + _opened(order, one), 1.5 * one.width, SIGHTS)
    places = points[:, None, :] + run[None, :, None] * inward[:, None, :]
    seen = see(order, sides, places.reshape(-1, 2))
    height = seen.heights[which].reshape(len(points), SIGHTS)
    wanted = half_thickness(order.blade, seen.points, one.side).reshape(height.shape)
    plain = half - np.maximum(one.width - run, 0.0) * np.tan(one.angle)
    ends = near_break_ends(order.blade, points, one.side)
    whole = np.abs(wanted - plain[None, :]).max(axis=1) < 1e-6
    widths, angles = _faces(run, half - height, one)
    last = seen.last[which].reshape(height.shape)
    return Broken(
        one=one, points=points, normals=-inward, widths=widths, angles=angles, within=whole & ~ends,
        last=last.max(axis=1), curve=curve,
    )  # fmt: skip


def _opened(order: Order, one: EdgeBreak) -> float:
    """Return how far off the wanted wall a bore or slot is opened on side B, mm."""
    if one.side == "A" or one.of == "outline":
        return 0.0
    return opened_wider(order, next((b for b in order.blade.bores if b.name == one.of), None))


def _faces(run: Floats, drop: Floats, one: EdgeBreak) -> tuple[Floats, Floats]:
    """Return width and angle of the face that each line's sights lie on, from their drop."""
    widths, angles = np.zeros(len(drop)), np.full(len(drop), np.nan)
    for k, row in enumerate(drop):
        on = np.flatnonzero(row > FLUSH)
        if len(on) < 2:
            continue
        slope, start = np.polyfit(run[on], row[on], 1)
        if slope < 0.0:
            widths[k], angles[k] = -start / slope, np.arctan(-slope)
        else:  # no face falls outward: the flat itself was cut
            widths[k], angles[k] = run[on[-1]], 0.0
    return widths, angles

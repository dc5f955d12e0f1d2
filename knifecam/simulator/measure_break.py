"""Edge breaks as they were cut: sights in short lines square to the wall, and the faces they lie on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import EdgeBreak
from knifecam.blade.broken import broken_curves, near_break_ends
from knifecam.blade.surface import half_thickness
from knifecam.curve import Curve, resample, signed_distance
from knifecam.shop import Order
from knifecam.simulator.measure_walls import (
    BESIDE_FACE,
    REACHABLE,
    WALL,
    axes_beside,
    near_error,
)
from knifecam.simulator.seen import Sides, see
from knifecam.simulator.side import Side
from knifecam.simulator.wanted import opened_wider

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

ALONG, PLACES = 1.0, 400
"""mm between lines along a break, and how many there are at most."""

SIGHTS = 24
"""Sights in a line, from the wall to half as far again as the break is wide."""

RIM = 0.006
"""mm from the wall where a line begins."""

STRAY = 0.01
"""mm to both sides of a place by which it is seen where a wall stands nearest."""

FLUSH = 0.002
"""mm: a face this near to the flat is not broken."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Broken:
    """One edge break: at ``points`` (n, 2) of its wall the ``widths`` (n,) mm across the face and
    the ``angles`` (n,) rad of the broken face; width 0 where nothing is broken. The wall is the
    wanted one, and what its cutters left round where that stands before it. ``within`` (n,):
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
                _measured(order, sides, alone, one, curve)
                for curve in broken_curves(one, order.blade)
            ]
    return tuple(found)


def _measured(order: Order, sides: Sides, alone: Sides, one: EdgeBreak, curve: Curve) -> Broken:
    half, which = order.blade.thickness / 2, "AB".index(one.side)
    _, points, headings = resample(curve, max(ALONG, curve.length / PLACES))
    left = np.stack([-np.sin(headings), np.cos(headings)], axis=1)
    inward = left if one.of == "outline" else -left
    opened = _opened(order, one)
    run = np.linspace(RIM + opened, 1.5 * one.width, SIGHTS)
    drawn = points[:, None, :] + run[None, :, None] * inward[:, None, :]
    wanted = half_thickness(order.blade, drawn.reshape(-1, 2), one.side).reshape(drawn.shape[:2])
    plain = half - np.maximum(one.width - run, 0.0) * np.tan(one.angle)
    ends = near_break_ends(order.blade, points, one.side)
    whole = np.abs(wanted - plain[None, :]).max(axis=1) < 1e-6
    wall = order.blade.outline if one.of == "outline" else curve
    points, outward = _standing(order, sides, one, (wall, points, -inward))
    places = points[:, None, :] - run[None, :, None] * outward[:, None, :]
    seen = see(order, alone, places.reshape(-1, 2))
    height = seen.heights[which].reshape(len(points), SIGHTS)
    widths, angles = _faces(run, half - height, one)
    last = seen.last[which].reshape(height.shape)
    return Broken(
        one=one, points=points, normals=outward, widths=widths, angles=angles, within=whole & ~ends,
        last=last.max(axis=1), curve=curve,
    )  # fmt: skip


def _standing(
    order: Order, sides: Sides, one: EdgeBreak, wanted: tuple[Curve, Floats, Floats]
) -> tuple[Floats, Floats]:
    """Return places (n, 2) of the wall as it was cut just below a break, and what is square to it.

    They are those of the ``wanted`` wall and its normals but where its cutters do not reach: there the
    place is the nearest of what stands, as far before it as the wanted wall is where it was opened
    wider. How it stands is seen where that side cut, without the chamfer mills.
    """
    wall, points, normals = wanted
    opened, sign = _opened(order, one), 1 if one.side == "A" else -1
    deep = one.depth + BESIDE_FACE
    level = sign * (order.blade.thickness / 2 - (min(deep, order.boring.skin) if opened else deep))

    def near(at: Floats) -> list[tuple[Side, Floats, NDArray[np.int32]]]:
        """Return what each side's cutters left at places, (n,) mm, and their last motions."""
        given = ((s, np.array([level * s.frame.signs[2]])) for s in sides if s is not None)
        rows = ((side, *near_error(side, at, height, cones=False)) for side, height in given)
        return [(side, error[0], motion[0]) for side, error, motion in rows]

    def stock(at: Floats) -> Floats:
        """Return how far cutters stayed off places, (n,) mm; NaN where they did not come near."""
        least = np.min([error for _, error, _ in near(at)], axis=0)
        return np.where(np.isfinite(least), least, np.nan)

    radius = min((_finisher(*row, opened) for row in near(points)), default=np.inf)
    hidden, at = _arc_of_cutter(wall, points, normals, radius)
    if not len(hidden):
        return points, normals
    left = stock(at)
    nearer = -np.stack([stock(at + step) - stock(at - step) for step in STRAY * np.eye(2)], axis=1)
    seen = np.isfinite(left) & np.isfinite(nearer).all(axis=1)
    points, normals = points.copy(), normals.copy()
    normals[hidden[seen]] = nearer[seen] / np.hypot(*nearer[seen].T)[:, None]
    points[hidden[seen]] = at[seen] + (left[seen] + opened)[:, None] * normals[hidden[seen]]
    return points, normals


def _arc_of_cutter(
    wall: Curve, points: Floats, normals: Floats, radius: float
) -> tuple[NDArray[np.intp], Floats]:
    """Return which places of a wall a cutter of ``radius`` mm does not reach, (k,), and the nearest
    places (k, 2) that it does come to; none for a radius of inf.
    """
    none = np.empty(0, np.intp), np.empty((0, 2))
    if not np.isfinite(radius):
        return none
    off = np.abs(signed_distance(points + radius * normals, wall))
    hidden = np.flatnonzero(off < radius - REACHABLE)
    axes = axes_beside(wall, points[hidden], normals[hidden], radius) if len(hidden) else none[1]
    if not len(axes):
        return none
    apart = points[hidden, None] - axes[None]
    arm = apart[np.arange(len(hidden)), np.argmin(np.hypot(*apart.transpose(2, 0, 1)), axis=1)]
    return hidden, points[hidden] + (radius / np.hypot(*arm.T) - 1.0)[:, None] * arm


def _finisher(side: Side, error: Floats, motion: NDArray[np.int32], opened: float) -> float:
    """Return the least radius of the cutters that finished a wall, or opened it wider; inf: none."""
    done = (motion >= 0) & ((np.abs(error) <= WALL) | (np.abs(error + opened) <= WALL))
    return float(side.shapes.radius[np.unique(motion[done])].min(initial=np.inf))


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

"""How thick the blade is behind its tip."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bevel
from knifecam.blade.surface import edge_curve, half_thickness
from knifecam.curve import Curve, signed_distance
from knifecam.shop import Order
from knifecam.simulator.seen import Sides, see

Floats = NDArray[np.float64]

BEHIND = (1.0, 3.0, 5.0)
"""mm from the tip."""

APART = 0.02
"""mm between the sights at one distance."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tip:
    """The blade's tip: ``place`` mm, part frame; rows of (mm behind it, thickness, wanted)."""

    place: tuple[float, float]
    rows: tuple[tuple[float, float, float], ...]


def measure_tip(order: Order, sides: Sides) -> Tip | None:
    """Return the greatest thickness at each distance from the tip; None without bevels or sides.

    The tip is that end of the first bevel's edge which lies farther from the handle.
    """
    if None in sides or not order.blade.bevels:
        return None
    place = tip_of(order, order.blade.bevels[0])
    points = [_arc(place, behind, order.blade.outline) for behind in BEHIND]
    seen = see(order, sides, np.concatenate(points))
    upper, lower = (half_thickness(order.blade, seen.points, side) for side in "AB")
    wanted = upper + lower
    ends = np.cumsum([len(p) for p in points])
    rows = []
    for behind, low, high in zip(BEHIND, [0, *ends[:-1]], ends, strict=True):
        if high > low:
            most = float(np.max(wanted[low:high]))
            rows.append((behind, float(seen.thickness[low:high].max()), most))
    return Tip(place=(float(place[0]), float(place[1])), rows=tuple(rows))


def tip_of(order: Order, bevel: Bevel) -> Floats:
    """Return the end of a bevel's edge farther from plunge, bores or the outline's middle."""
    blade = order.blade
    ends = edge_curve(bevel, blade.outline).vertices[[0, -1]]
    if bevel.plunges:
        handle = np.mean([p.line.vertices.mean(axis=0) for p in bevel.plunges], axis=0)
    elif blade.bores:
        handle = np.mean([bore.centre for bore in blade.bores], axis=0)
    else:
        handle = blade.outline.points(0.1).mean(axis=0)
    return np.asarray(ends[int(np.argmax(np.hypot(*(ends - handle).T)))])


def _arc(place: Floats, behind: float, outline: Curve) -> Floats:
    """Return places inside the blade at one distance from its tip."""
    count = int(np.ceil(2 * np.pi * behind / APART))
    angle = np.arange(count) * (2 * np.pi / count)
    points = place + behind * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return np.asarray(points[signed_distance(points, outline) > APART])

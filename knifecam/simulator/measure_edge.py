"""The land along the edge, by sights a hair inside it and a hair outside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bevel
from knifecam.blade.surface import edge_curve, half_thickness, past_plunge
from knifecam.curve import place_at
from knifecam.shop import Order
from knifecam.simulator.seen import Seen, Sides, see

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

ALONG = 0.1
"""mm between the places along the edge."""

FROM_END = 0.1
"""mm from the edge's ends where the land is not taken."""

HAIR = 0.005
"""mm inside and outside the edge: where the sights stand."""

INSIDE = 0.05
"""mm inside the edge: where it is seen when the bevels were finished."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Edge:
    """The land of one bevel.

    ``stations`` (n,) mm along the edge, ``points`` (n, 2) of the part. ``wanted`` and ``land`` (n,)
    mm: whole thickness at the edge. ``finished`` (2, n): the motion that last cut side A's and side
    B's face beside it; ``opened`` (n,): the motion that emptied the column outside it, -1 for none.
    """

    bevel: Bevel
    index: int
    stations: Floats
    points: Floats
    wanted: Floats
    land: Floats
    finished: NDArray[np.int32]
    opened: NDArray[np.int32]


def measure_edges(order: Order, sides: Sides) -> tuple[Edge, ...]:
    """Return the land of every bevel; none unless both sides were cut."""
    if None in sides:
        return ()
    found = (_edge(order, sides, k, bevel) for k, bevel in enumerate(order.blade.bevels))
    return tuple(edge for edge in found if len(edge.stations))


def _edge(order: Order, sides: Sides, index: int, bevel: Bevel) -> Edge:
    blade = order.blade
    curve = edge_curve(bevel, blade.outline)
    span = max(curve.length - 2 * FROM_END, 0.0)
    stations = FROM_END + np.linspace(0.0, span, max(2, int(np.ceil(span / ALONG)) + 1))
    points, headings = place_at(curve, stations)
    inward = np.stack([-np.sin(headings), np.cos(headings)], axis=1)
    rows = (past_plunge(bevel, points) < 0.0) & _whole(order, points + INSIDE * inward)
    stations, points, inward = stations[rows], points[rows], inward[rows]
    count = len(stations)
    seen = see(
        order, sides,
        np.concatenate([points + HAIR * inward, points + INSIDE * inward, points - HAIR * inward]),
    )  # fmt: skip
    near = points + HAIR * inward
    above = sum(
        seen.heights[which][:count] - half_thickness(blade, near, side)
        for which, side in enumerate("AB")
    )
    wanted = _wanted(order, points, inward)
    return Edge(
        bevel=bevel, index=index, stations=stations, points=points, wanted=wanted,
        land=wanted + above, finished=seen.last[:, count : 2 * count],
        opened=_opened(seen, count),
    )  # fmt: skip


def _opened(seen: Seen, count: int) -> NDArray[np.int32]:
    return seen.emptied[2 * count :]


def _whole(order: Order, points: Floats) -> Bools:
    """Return where there is blade on both sides: not in notches, bores and slots."""
    if not len(points):
        return np.zeros(0, bool)
    return np.asarray(np.isfinite(half_thickness(order.blade, points, "A")))


def _wanted(order: Order, points: Floats, inward: Floats) -> Floats:
    """Return the wanted thickness at the edge itself, (n,) mm."""
    near, far = points + HAIR * inward, points + 2 * HAIR * inward
    one, two = (
        sum(half_thickness(order.blade, rows, side) for side in "AB") for rows in (near, far)
    )
    return np.asarray(2 * one - two)

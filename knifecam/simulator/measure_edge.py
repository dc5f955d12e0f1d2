"""The land along the edge, by sights a hair inside it and a hair outside it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bevel
from knifecam.blade.surface import edge_curve, edge_distance, half_thickness, past_plunge
from knifecam.curve import place_at, station_of
from knifecam.shop import Order
from knifecam.simulator.frame import side_frame, to_part, to_program_plane, to_side_plane
from knifecam.simulator.seen import Seen, Sides, see
from knifecam.simulator.side import Side

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

ALONG = 0.1
"""mm between the places along the edge."""

FROM_END = 0.1
"""mm from the edge's ends where the land is not taken."""

HAIR = 0.005
"""mm inside and outside the edge: where the sights stand."""

OWN = 0.005
"""mm: where another bevel's face takes more than this off a land, it is that bevel's."""

INSIDE = 0.05
"""mm inside the edge: where it is seen when the bevels were finished."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Edge:
    """The land of one bevel along its edge as it lies: where a side is misplaced, at the inner wall.

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

    @property
    def own(self) -> Bools:
        """Where (n,) the bevel makes its edge: elsewhere another's face runs over it, with its cusps."""
        return np.asarray(self.wanted >= self.bevel.land - OWN)


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
    outside, wanted = points - HAIR * inward, _wanted(order, points, inward)
    if any(side.frame != side_frame(order.setup, side.name) for side in filter(None, sides)):
        points, kept = _as_it_lies(order, sides, bevel, points, inward)
        stations, points, inward, outside, wanted = (
            rows[kept] for rows in (stations, points, inward, outside, wanted)
        )
    count = len(stations)
    near = points + HAIR * inward
    seen = see(order, sides, np.concatenate([near, points + INSIDE * inward, outside]))
    land = sum(
        seen.heights[which][:count] - _climb(order, side, near, near + HAIR * inward)
        for which, side in enumerate(filter(None, sides))
    )
    return Edge(
        bevel=bevel, index=index, stations=stations, points=points, wanted=wanted,
        land=np.asarray(land, float), finished=seen.last[:, count : 2 * count],
        opened=_opened(seen, count),
    )  # fmt: skip


def _meant(order: Order, side: Side, points: Floats) -> Floats:
    """Return where of the part a side's program takes places (n, 2) to be: there, if it lies right."""
    nominal = side_frame(order.setup, side.name)
    if side.frame == nominal:
        return points
    programmed = to_program_plane(side.frame, to_part(side.frame, points))
    return to_part(nominal, to_side_plane(nominal, programmed))


def _as_it_lies(
    order: Order, sides: Sides, bevel: Bevel, points: Floats, inward: Floats
) -> tuple[Floats, Bools]:
    """Return places moved inward to where no side's edge is farther in, and which have an edge there.

    Within 1e-3 mm for displacements up to 0.3 mm along edges of radius 20 mm and more.
    """
    outline, given = order.blade.outline, [side for side in sides if side is not None]
    for side in (*given, *given):
        off = edge_distance(bevel, outline, _meant(order, side, points))
        points = points + np.maximum(-off, 0.0)[:, None] * inward
    edge, kept = edge_curve(bevel, outline), np.ones(len(points), bool)
    for side in given:
        meant = _meant(order, side, points)
        along = station_of(edge, meant)
        kept &= (along > FROM_END / 2) & (along < edge.length - FROM_END / 2)
        kept &= past_plunge(bevel, meant) < 0.0
        for deep in (HAIR, 2 * HAIR, INSIDE):
            kept &= _whole(order, _meant(order, side, points + deep * inward))
    return points, kept


def _climb(order: Order, side: Side, near: Floats, far: Floats) -> Floats:
    """Return how much a side's wanted face rises from one place to another, (n,) mm."""
    rows = [half_thickness(order.blade, _meant(order, side, p), side.name) for p in (far, near)]
    return np.asarray(rows[0] - rows[1])


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

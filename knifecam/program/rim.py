"""The plate's rim: the two edges zero is counted from, and the corner that is marked on it.

An edge is named as it lies on side A. After the flip the same physical edge lies elsewhere, and a
rectangle looks the same end for end: only the mark tells one corner from the others.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from knifecam.program.frame import ProgramFrame
from knifecam.program.number import Unit, unit_of
from knifecam.shop import Order
from knifecam.shop.side_view import points_on

Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One edge of the plate: its ``name`` on side A, ``ends`` and unit vector ``outward``.

    In the part frame, mm.
    """

    name: str
    ends: tuple[Point, Point]
    outward: Point

    @property
    def length(self) -> float:
        """From end to end, mm."""
        (x0, y0), (x1, y1) = self.ends
        return abs(x1 - x0) + abs(y1 - y0)

    def beside(self, share: float, away: float) -> Point:
        """Return the place at a share of the length, ``away`` mm outside the edge."""
        (x0, y0), (x1, y1) = self.ends
        u, v = self.outward
        return x0 + share * (x1 - x0) + away * u, y0 + share * (y1 - y0) + away * v


def zero_edges(order: Order) -> tuple[Edge, Edge]:
    """Return the plate's edges nearest to side A's datum: one along Y, one along X."""
    x0, y0, x1, y1 = order.setup.plate.bounds
    left = Edge(name="LEFT", ends=((x0, y0), (x0, y1)), outward=(-1.0, 0.0))
    right = Edge(name="RIGHT", ends=((x1, y0), (x1, y1)), outward=(1.0, 0.0))
    lower = Edge(name="LOWER", ends=((x0, y0), (x1, y0)), outward=(0.0, -1.0))
    upper = Edge(name="UPPER", ends=((x0, y1), (x1, y1)), outward=(0.0, 1.0))
    x, y = order.setup.datum[0]
    return left if x - x0 <= x1 - x else right, lower if y - y0 <= y1 - y else upper


def corner(order: Order) -> Point:
    """Return the corner where both edges meet, part frame: the one that is marked."""
    upright, level = zero_edges(order)
    return upright.ends[0][0], level.ends[0][1]


def lies(edge: Edge, order: Order, side: str, frame: ProgramFrame) -> tuple[str, str, float]:
    """Return how an edge lies in a side's program: its name there, its axis and its place in mm."""
    places = [edge.beside(0.5, 0.0), edge.beside(0.5, 1.0)]
    at, out = frame.of(points_on(side, places, order.setup.flip))
    axis = int(np.argmax(np.abs(out - at)))
    names = (("LEFT", "RIGHT"), ("LOWER", "UPPER"))[axis]
    return names[int(out[axis] > at[axis])], "XY"[axis], float(at[axis])


def at_words(place: Point, order: Order, side: str, frame: ProgramFrame) -> str:
    """Return a place of the part in words of a side's program."""
    unit = unit_of(order)
    x, y = frame.of(points_on(side, place, order.setup.flip))[0]
    return f"X {unit.told(float(x), 2)} Y {unit.told(float(y), 2)}"


def mark_words(order: Order, frame: ProgramFrame) -> str:
    """Return what side A asks for before the flip: a mark that side B can be known by."""
    upright, level = zero_edges(order)
    return (
        f"MARK THE RIM AT THE {upright.name} {level.name} CORNER,"
        f" {at_words(corner(order), order, 'A', frame)}, FOR SIDE B"
    )


def registration_words(order: Order, side: str, frame: ProgramFrame) -> Iterator[str]:
    """Yield what holds both sides to each other, as the maker finds it on this side."""
    kind, unit = order.setup.registration.kind, unit_of(order)
    if kind == "edges":
        yield from _edge_words(order, side, frame, unit)
    elif side == "B":
        for bore in order.setup.registration.bores:
            what = f"DOWEL FOR {bore.name}" if kind == "pins" else f"REFERENCE BORE {bore.name}"
            yield (
                f"{what}, {unit.told(bore.diameter, 3)}, AT"
                f" {at_words(bore.centre, order, side, frame)}"
            )


def _edge_words(order: Order, side: str, frame: ProgramFrame, unit: Unit) -> Iterator[str]:
    for edge in zero_edges(order):
        name, axis, value = lies(edge, order, side, frame)
        where = f"{axis} {unit.told(value, 2)}"
        if side == "A":
            yield f"TOUCH THE {name} EDGE AT {where}; SIDE B WANTS THE SAME EDGE"
        else:
            yield f"TOUCH SIDE A'S {edge.name} EDGE AGAIN: IT IS NOW THE {name} ONE, AT {where}"

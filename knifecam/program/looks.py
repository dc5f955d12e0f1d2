"""What a gauge pin looks at once the plate is turned over, before the first chip."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from knifecam.blade import Bore
from knifecam.program.frame import program_frame
from knifecam.program.number import unit_of
from knifecam.program.rim import Edge, corner, zero_edges
from knifecam.shop import KeepOut, Order
from knifecam.shop.side_view import points_on

VISITED = 3
"""At most so many bores are visited."""

SHARES = (0.15, 0.3, 0.5, 0.7, 0.85)
"""Where along an edge the pin may stand beside it."""

BESIDE = 2.0
"""mm the pin keeps off things on the table."""

SHOWN = {
    "bores": "A WRONG FLIP, A WRONG ZERO, A PLATE TURNED END FOR END STAND OFF BORES OR MARK",
    "edges": (
        "NO BORE CAN BE SEEN FROM HERE: EACH IS BLIND OR UNDER A SKIN. EDGES AND MARK SHOW A"
        " WRONG FLIP, A WRONG ZERO, A PLATE TURNED END FOR END, AND NO MORE"
    ),
    "pins": (
        "NO BORE CAN BE SEEN FROM HERE: EACH IS BLIND OR UNDER A SKIN. BARE DOWELS SHOW THE"
        " ZERO, THE RIM AND ITS MARK A WRONG FLIP OR A PLATE END FOR END, ROUGHLY"
    ),
}
"""What the program can show, by what it visits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """A place in the part frame, mm, where the pin stops, and what must be seen there."""

    place: tuple[float, float]
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Looks:
    """The looks before the plate lies there (``bare``) and after; ``shown`` is what they can show."""

    shown: str
    bare: tuple[Look, ...] = ()
    laid: tuple[Look, ...] = ()


def seen_from_b(order: Order) -> tuple[Bore, ...]:
    """Return the bores that side A opens through the plate: no others can be seen after the flip."""
    if order.boring.bed != "relieved":
        return ()
    bores = (*order.setup.registration.bores, *order.blade.bores)
    return tuple(b for b in bores if b.depth is None and not b.both_sides)


def bores_to_visit(order: Order) -> tuple[Bore, ...]:
    """Return up to three bores, far from each other, that go through on side A."""
    bores = [b for b in seen_from_b(order) if _is_free(order, b.centre)]
    if not bores:
        return ()
    chosen = [min(bores, key=lambda b: b.centre)]
    while len(chosen) < min(VISITED, len(bores)):
        rest = [b for b in bores if b not in chosen]
        chosen.append(max(rest, key=lambda b: min(_apart(b, c) for c in chosen)))
    return tuple(chosen)


def _apart(first: Bore, second: Bore) -> float:
    (x, y), (u, v) = first.centre, second.centre
    return float(((x - u) ** 2 + (y - v) ** 2) ** 0.5)


def _is_free(order: Order, place: tuple[float, float]) -> bool:
    """Whether the pin can stand at a place of the part, clear of what stands on side B."""
    x, y = program_frame(order, "B").of(points_on("B", place, order.setup.flip))[0]
    room = order.setup.gauge_diameter / 2 + BESIDE

    def clear(box: KeepOut) -> bool:
        inside_x = box.x_low - room < x < box.x_high + room
        return not (inside_x and box.y_low - room < y < box.y_high + room)

    return all(clear(box) for box in order.setup.keep_out if box.side == "B")


def _edge_looks(order: Order) -> Iterator[Look]:
    """Yield two places beside the longer of the zero's edges, one beside the other."""
    first, second = sorted(zero_edges(order), key=lambda e: e.length, reverse=True)
    for edge, count in ((first, 2), (second, 1)):
        away = order.setup.gauge_diameter / 2
        free = [p for s in SHARES if _is_free(order, p := edge.beside(s, away))]
        chosen = (free[0], free[-1]) if count == 2 else (free[len(free) // 2],) if free else ()
        for place in dict.fromkeys(chosen if free else ()):
            yield Look(place=place, words=_edge_words(order, edge))


def _edge_words(order: Order, edge: Edge) -> str:
    touches = "TOUCHES" if order.setup.registration.kind == "edges" else "NEARLY TOUCHES"
    return f"A SQUARE ON SIDE A'S {edge.name} EDGE {touches} THE PIN?"


def _mark_looks(order: Order) -> Iterator[Look]:
    """Yield the marked corner, the pin beside both its edges."""
    away = order.setup.gauge_diameter / 2
    (u, _), (_, v) = (edge.outward for edge in zero_edges(order))
    x, y = corner(order)
    place = (x + away * u, y + away * v)
    if _is_free(order, place):
        yield Look(place=place, words="IS SIDE A'S MARK ON THE RIM AT THIS CORNER?")


def looks(order: Order) -> Looks:
    """Return what can be seen of this order's plate: bores that go through, else its rim."""
    unit, registration = unit_of(order), order.setup.registration
    mark = tuple(_mark_looks(order))
    bores = bores_to_visit(order)
    if bores:
        over = tuple(
            Look(
                place=b.centre,
                words=f"IS BORE {b.name}, {unit.told(b.diameter, 3)}, STRAIGHT UNDER THE PIN?",
            )
            for b in bores
        )
        return Looks(shown=SHOWN["bores"], laid=(*over, *mark))
    laid = (*_edge_looks(order), *mark)
    if registration.kind != "pins":
        return Looks(shown=SHOWN["edges"], laid=laid)
    dowels = tuple(
        Look(
            place=b.centre,
            words=f"IS THE DOWEL FOR {b.name}, {unit.told(b.diameter, 3)}, STRAIGHT UNDER THE PIN?",
        )
        for b in registration.bores
    )
    return Looks(shown=SHOWN["pins"], bare=dowels, laid=laid)

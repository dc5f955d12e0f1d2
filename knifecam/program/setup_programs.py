"""Programs that help to set up: the flip check with a gauge pin, work offsets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from knifecam.blade import Bore
from knifecam.errors import PlanError
from knifecam.planning.plan import Plan
from knifecam.program.hand_work import move_aside, move_over, slow, stop
from knifecam.program.length_check_places import check_place
from knifecam.program.program_head import comment_lines
from knifecam.program.program_limits import (
    LOWERING_FEED_MM_MIN,
    PIN_ABOVE_MM,
    PIN_KEEPS_OFF_MM,
    PIN_PLACE_SHARES,
)
from knifecam.program.program_text import start_block
from knifecam.program.rs274_words import integer, unit_of
from knifecam.program.zero_and_flip_fit import (
    PlateEdge,
    ProgramFrame,
    marked_corner,
    program_frame,
    zero_edges,
)
from knifecam.shop import Clamp, Order
from knifecam.shop.side_view import SideContext, points_on

VISITED = 3
"""At most so many bores are visited."""


WHAT_IT_SHOWS = {
    "bores": (
        "WITH A WRONG FLIP, A WRONG ZERO OR A PLATE TURNED END FOR END THE PIN STANDS BESIDE"
        " BORES OR MARK",
    ),
    "edges": (
        "NO BORE CAN BE SEEN ON THIS SIDE: EACH IS BLIND OR UNDER A SKIN",
        "PLATE EDGES AND MARK SHOW ONLY A WRONG FLIP, A WRONG ZERO OR A PLATE END FOR END",
    ),
    "pins": (
        "NO BORE CAN BE SEEN ON THIS SIDE: EACH IS BLIND OR UNDER A SKIN",
        "THE BARE DOWELS SHOW A WRONG ZERO",
        "PLATE EDGES AND MARK SHOW, ROUGHLY, A WRONG FLIP OR A PLATE END FOR END",
    ),
}
"""What the program can show, by what it visits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlipCheck:
    """A place in the part frame, mm, where the pin stops, and what must be seen there."""

    place: tuple[float, float]
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FlipChecks:
    """The looks before the plate lies there (``bare``) and after; ``shown`` is what they can show."""

    shown: tuple[str, ...]
    bare: tuple[FlipCheck, ...] = ()
    laid: tuple[FlipCheck, ...] = ()


def seen_from_b(order: Order) -> tuple[Bore, ...]:
    """Return the bores that side A opens through the plate: no others can be seen after the flip."""
    if order.boring.opening != "relieved":
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
    room = order.setup.gauge_diameter / 2 + PIN_KEEPS_OFF_MM

    def clear(box: Clamp) -> bool:
        inside_x = box.x_low - room < x < box.x_high + room
        return not (inside_x and box.y_low - room < y < box.y_high + room)

    return all(clear(box) for box in order.setup.clamps if box.side == "B")


def _edge_looks(order: Order) -> Iterator[FlipCheck]:
    """Yield two places beside the longer of the zero's edges, one beside the other."""
    first, second = sorted(zero_edges(order), key=lambda e: e.length, reverse=True)
    for edge, count in ((first, 2), (second, 1)):
        away = order.setup.gauge_diameter / 2
        free = [p for s in PIN_PLACE_SHARES if _is_free(order, p := edge.beside(s, away))]
        chosen = (free[0], free[-1]) if count == 2 else (free[len(free) // 2],) if free else ()
        for place in dict.fromkeys(chosen if free else ()):
            yield FlipCheck(place=place, words=_edge_words(order, edge))


def _edge_words(order: Order, edge: PlateEdge) -> str:
    touches = "TOUCHES" if order.setup.registration.kind == "edges" else "NEARLY TOUCHES"
    return f"A SQUARE ON SIDE A'S {edge.name} PLATE EDGE {touches} THE PIN?"


def _mark_looks(order: Order) -> Iterator[FlipCheck]:
    """Yield the marked corner, the pin beside both its edges."""
    away = order.setup.gauge_diameter / 2
    (u, _), (_, v) = (edge.outward for edge in zero_edges(order))
    x, y = marked_corner(order)
    place = (x + away * u, y + away * v)
    if _is_free(order, place):
        yield FlipCheck(place=place, words="IS SIDE A'S MARK ON THE PLATE EDGE AT THIS CORNER?")


def flip_checks(order: Order) -> FlipChecks:
    """Return what can be seen of this order's plate: bores that go through, else its edge."""
    unit, registration = unit_of(order), order.setup.registration
    mark = tuple(_mark_looks(order))
    bores = bores_to_visit(order)
    if bores:
        over = tuple(
            FlipCheck(
                place=b.centre,
                words=f"IS BORE {b.name}, {unit.told(b.diameter, 3)}, STRAIGHT UNDER THE PIN?",
            )
            for b in bores
        )
        return FlipChecks(shown=WHAT_IT_SHOWS["bores"], laid=(*over, *mark))
    laid = (*_edge_looks(order), *mark)
    if registration.kind != "pins":
        return FlipChecks(shown=WHAT_IT_SHOWS["edges"], laid=laid)
    dowels = tuple(
        FlipCheck(
            place=b.centre,
            words=f"IS THE DOWEL FOR {b.name}, {unit.told(b.diameter, 3)}, STRAIGHT UNDER THE PIN?",
        )
        for b in registration.bores
    )
    return FlipChecks(shown=WHAT_IT_SHOWS["pins"], bare=dowels, laid=laid)


OFFSET_NUMBERS = {
    "G54": 1, "G55": 2, "G56": 3, "G57": 4, "G58": 5, "G59": 6, "G59.1": 7, "G59.2": 8, "G59.3": 9,
}  # fmt: skip


ABOVE_ALL = "MACHINE MAKER'S INSTRUCTIONS AND LOCAL RULES COME FIRST"


def align_program(order: Order, plan: Plan) -> str:
    """Return the program that checks the flip before the first chip, with a gauge pin.

    The spindle stays still. The pin stands high over each place, feeds down to 1 mm above the
    plate's upper face, stops, and lifts again. It visits bores that go through; where there is
    none, the bare dowels, places just outside the zero's edges, and the marked corner. The gap is
    read where side B checks lengths: on bare plate, or on the fixture while the plate is off.
    """
    setup, frame, unit = order.setup, program_frame(order, "B"), unit_of(order)
    bench = SideContext(order=order, side="B")
    up, seen = frame.height(bench.change_z), flip_checks(order)
    bare, laid = seen.bare, seen.laid
    floor = -bench.top if bare else bench.top
    lines = [
        *comment_lines(f"{order.name}, SIDE B: FLIP CHECK WITH A GAUGE PIN"),
        *comment_lines(
            "THE SPINDLE STANDS STILL, NOTHING IS CUT. KEEP HANDS CLEAR WHILE AXES MOVE"
        ),
        *comment_lines("RUN IT WITH FEED OVERRIDE LOW, A HAND AT THE STOP"),
        *comment_lines(ABOVE_ALL),
        *comment_lines(f"ORDER {order.digest or 'BUILT BY HAND'}"),
        *(line for one in seen.shown for line in comment_lines(one)),
        *comment_lines(
            f"THE PIN STOPS {unit.told(PIN_ABOVE_MM, 2)} ABOVE THE PLATE: PUT NOTHING UNDER IT"
        ),
        start_block(order, setup.offsets[1]),
        "G92.1",
        "M5",
        "M9",
        *(stop(("LEAVE THE PLATE OFF: THE BARE DOWELS COME FIRST",)) if bare else ()),
        *stop(
            (f"PUT THE GAUGE PIN OF {unit.told(setup.gauge_diameter, 3)} IN, SET H{setup.gauge}",)
        ),
        f"{integer('T', setup.gauge)} M6",
    ]
    if bare or laid:
        lines += move_over(order, setup.gauge, _read_at(order, plan, frame, (*bare, *laid)[0]), up)
        gap = unit.told(bench.change_z - floor, 2)
        lines += stop((f"READ Z: THE GAP UNDER THE PIN MUST BE {gap}",))
    lines += _visits(order, frame, bare, bench)
    if bare:
        lines += [*move_aside(order, "B"), *stop(("LAY THE PLATE ON ITS DOWELS AND CLAMP IT",))]
    lines += _visits(order, frame, laid, bench)
    closing = comment_lines("TAKE THE PIN OUT BEFORE STARTING SIDE B'S PROGRAM")
    return "\n".join([*lines, *move_aside(order, "B"), *closing, "M2"]) + "\n"


def _read_at(
    order: Order, plan: Plan, frame: ProgramFrame, first: FlipCheck
) -> tuple[float, float]:
    """Return where the gap under the pin is read; over the first look where no check has a place."""
    try:
        return check_place(order, plan, "B")
    except PlanError:
        if order.setup.gap_stop:
            raise
        return _of(order, frame, first)


def _of(order: Order, frame: ProgramFrame, look: FlipCheck) -> tuple[float, float]:
    x, y = frame.of(points_on("B", look.place, order.setup.flip))[0]
    return float(x), float(y)


def _visits(
    order: Order, frame: ProgramFrame, looks: tuple[FlipCheck, ...], bench: SideContext
) -> Iterator[str]:
    """Yield how the pin goes over each place high up, feeds down, stops and lifts."""
    unit, up = unit_of(order), frame.height(bench.change_z)
    for look in looks:
        x, y = _of(order, frame, look)
        yield f"G0 {unit.word('X', x)} {unit.word('Y', y)}"
        yield slow(order, frame.height(bench.top + PIN_ABOVE_MM), LOWERING_FEED_MM_MIN)
        yield from stop((look.words,))
        yield f"G0 {unit.word('Z', up)}"


def offsets_program(order: Order) -> str | None:
    """Return the program that sets both work offsets, or None where machine zero is not known.

    `G10 L2` stands here and nowhere else: in a cutting program it would overwrite a fresh
    touch-off with old numbers.
    """
    zeros = order.setup.mill.machine_zero
    if zeros is None:
        return None
    set_now = " AND ".join(
        name for name, zero in zip(order.setup.offsets, zeros, strict=True) if zero is not None
    )
    lines = [
        *comment_lines(f"{order.name}: WORK OFFSETS AS ORDERED. TOUCH OFF AFTERWARDS, NOT BEFORE"),
        *comment_lines(
            f"THIS OVERWRITES {set_now} IN THE MILL'S MEMORY: NOTE DOWN THE OLD VALUES FIRST"
        ),
        *comment_lines("A WRONG ZERO DRIVES A CUTTER INTO THE TABLE: READ THE OFFSETS BACK"),
        *comment_lines("MAKE THE FIRST MOVES IN SINGLE BLOCK, WITH OVERRIDE LOW"),
        *comment_lines(ABOVE_ALL),
    ]
    unit = unit_of(order)
    lines.append(start_block(order, order.setup.offsets[0]))
    for name, zero in zip(order.setup.offsets, zeros, strict=True):
        if zero is not None:
            x, y, z = zero
            number = integer("P", OFFSET_NUMBERS[name])
            place = " ".join(unit.word(a, v) for a, v in zip("XYZ", (x, y, z), strict=True))
            lines.append(f"G10 L2 {number} {place}")
    return "\n".join([*lines, "M2"]) + "\n"

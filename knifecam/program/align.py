"""Programs beside the two that cut: a check of the flip, and the work offsets."""

from __future__ import annotations

from collections.abc import Iterator

from knifecam.errors import PlanError
from knifecam.planning.plan import Plan
from knifecam.program.bare import check_place
from knifecam.program.frame import ProgramFrame, program_frame
from knifecam.program.hand import LOWERING, aside, over, slow, stop
from knifecam.program.header import phrase
from knifecam.program.looks import Look, looks
from knifecam.program.number import integer, unit_of
from knifecam.program.write import start_block
from knifecam.shop import Order
from knifecam.shop.side_view import Bench, points_on

OFFSET_NUMBERS = {
    "G54": 1, "G55": 2, "G56": 3, "G57": 4, "G58": 5, "G59": 6, "G59.1": 7, "G59.2": 8, "G59.3": 9,
}  # fmt: skip

ABOVE_ALL = "MAKERS' INSTRUCTIONS AND LOCAL RULES STAND ABOVE THIS PROGRAM"

PIN_ABOVE = 1.0
"""mm above the plate's upper face: where the pin stops to be looked at."""


def align_program(order: Order, plan: Plan) -> str:
    """Return the program that checks the flip before the first chip, with a gauge pin.

    The spindle stays still. The pin stands high over each place, feeds down to 1 mm above the
    plate's upper face, stops, and lifts again. It visits bores that go through; where there is
    none, the bare dowels, places just outside the zero's edges, and the marked corner. The gap is
    read where side B checks lengths: on bare plate, or on the bed while the plate is off.
    """
    setup, frame, unit = order.setup, program_frame(order, "B"), unit_of(order)
    bench = Bench(order=order, side="B")
    up, seen = frame.height(bench.change_z), looks(order)
    bare, laid = seen.bare, seen.laid
    floor = -bench.top if bare else bench.top
    lines = [
        *phrase(f"{order.name}, SIDE B: IS THE PLATE TURNED OVER RIGHT?"),
        *phrase("NOTHING TURNS, NOTHING IS CUT. KEEP HANDS CLEAR WHILE AXES MOVE"),
        *phrase(f"FEED OVERRIDE LOW, A HAND AT THE STOP. {ABOVE_ALL}"),
        *phrase(f"ORDER {order.digest or 'BUILT BY HAND'}"),
        *phrase(seen.shown),
        *phrase(f"THE PIN STOPS {unit.told(PIN_ABOVE, 2)} ABOVE THE PLATE; PUT NOTHING UNDER IT"),
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
        lines += over(order, setup.gauge, _read_at(order, plan, frame, (*bare, *laid)[0]), up)
        gap = unit.told(bench.change_z - floor, 2)
        lines += stop((f"READ Z: THE GAP UNDER THE PIN MUST BE {gap}",))
    lines += _visits(order, frame, bare, bench)
    if bare:
        lines += [*aside(order, "B"), *stop(("LAY THE PLATE ON ITS DOWELS AND CLAMP IT",))]
    lines += _visits(order, frame, laid, bench)
    closing = phrase("TAKE THE PIN OUT BEFORE SIDE B'S PROGRAM IS STARTED")
    return "\n".join([*lines, *aside(order, "B"), *closing, "M2"]) + "\n"


def _read_at(order: Order, plan: Plan, frame: ProgramFrame, first: Look) -> tuple[float, float]:
    """Return where the gap under the pin is read; over the first look where no check has a place."""
    try:
        return check_place(order, plan, "B")
    except PlanError:
        if order.setup.gap_stop:
            raise
        return _of(order, frame, first)


def _of(order: Order, frame: ProgramFrame, look: Look) -> tuple[float, float]:
    x, y = frame.of(points_on("B", look.place, order.setup.flip))[0]
    return float(x), float(y)


def _visits(
    order: Order, frame: ProgramFrame, looks: tuple[Look, ...], bench: Bench
) -> Iterator[str]:
    """Yield how the pin goes over each place high up, feeds down, stops and lifts."""
    unit, up = unit_of(order), frame.height(bench.change_z)
    for look in looks:
        x, y = _of(order, frame, look)
        yield f"G0 {unit.word('X', x)} {unit.word('Y', y)}"
        yield slow(order, frame.height(bench.top + PIN_ABOVE), LOWERING)
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
        *phrase(f"{order.name}: WORK OFFSETS AS ORDERED. TOUCH OFF AFTERWARDS, NOT BEFORE"),
        *phrase(
            f"THIS OVERWRITES {set_now} IN THE MILL'S MEMORY: NOTE DOWN FIRST WHAT STANDS THERE"
        ),
        *phrase("A WRONG ZERO DRIVES A CUTTER INTO THE TABLE: READ THE OFFSETS BACK, THEN"),
        *phrase(f"FIRST MOVES IN SINGLE BLOCK, OVERRIDE LOW. {ABOVE_ALL}"),
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

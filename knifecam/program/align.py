"""Programs beside the two that cut: a check of the flip, and the work offsets."""

from __future__ import annotations

from knifecam.blade import Bore
from knifecam.planning.flip import points_on
from knifecam.program.frame import program_frame
from knifecam.program.header import phrase
from knifecam.program.number import integer
from knifecam.program.write import start_block, unit_of
from knifecam.shop import Order

OFFSET_NUMBERS = {
    "G54": 1, "G55": 2, "G56": 3, "G57": 4, "G58": 5, "G59": 6, "G59.1": 7, "G59.2": 8, "G59.3": 9,
}  # fmt: skip

VISITED = 3
"""At most so many bores are visited."""


def bores_to_visit(order: Order) -> tuple[Bore, ...]:
    """Return up to three bores of side A, far from each other, that a gauge pin can enter."""
    bores = [*order.setup.registration.bores, *order.blade.bores]
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


def align_program(order: Order) -> str:
    """Return the program that stops over bores of side A once the plate is turned over.

    The spindle stays still; a gauge pin in it must stand over each bore. A wrong flip, a wrong
    zero and a plate turned end for end all show before the first chip.
    """
    setup = order.setup
    frame, unit = program_frame(order, "B"), unit_of(order)
    heights = [k.height for k in setup.keep_out if k.side == "B"]
    above = order.blade.thickness / 2 + max([0.0, *heights]) + max(setup.mill.rapid_height, 5.0)
    lines = [
        *phrase(f"{order.name}, SIDE B: IS THE PLATE TURNED OVER RIGHT?"),
        *phrase("NOTHING TURNS, NOTHING IS CUT. KEEP HANDS CLEAR WHILE AXES MOVE"),
        *phrase(f"ORDER {order.digest or 'BUILT BY HAND'}"),
        start_block(order, setup.offsets[1]),
        "G92.1",
        "M5",
        "M9",
        *phrase(f"PUT A GAUGE PIN IN THE SPINDLE, ITS LENGTH IN H{setup.gauge}"),
        "M0",
        f"{integer('T', setup.gauge)} M6",
        f"G43 {integer('H', setup.gauge)}",
        f"G0 {unit.word('Z', frame.height(above))}",
    ]
    for bore in bores_to_visit(order):
        x, y = frame.of(points_on("B", bore.centre, setup.flip))[0]
        lines += [
            f"G0 {unit.word('X', x)} {unit.word('Y', y)}",
            *phrase(
                f"BORE {bore.name}, DIAMETER {unit.told(bore.diameter, 3)}: IS IT UNDER THE PIN?"
            ),
            "M0",
        ]
    return "\n".join([*lines, f"G0 {unit.word('Z', frame.height(above))}", "M2"]) + "\n"


def offsets_program(order: Order) -> str | None:
    """Return the program that sets both work offsets, or None where machine zero is not known.

    `G10 L2` stands here and nowhere else: in a cutting program it would overwrite a fresh
    touch-off with old numbers.
    """
    zeros = order.setup.mill.machine_zero
    if zeros is None:
        return None
    lines = [*phrase(f"{order.name}: WORK OFFSETS AS ORDERED. TOUCH OFF AFTERWARDS, NOT BEFORE")]
    unit = unit_of(order)
    lines.append(start_block(order, order.setup.offsets[0]))
    for name, zero in zip(order.setup.offsets, zeros, strict=True):
        if zero is not None:
            x, y, z = zero
            number = integer("P", OFFSET_NUMBERS[name])
            place = " ".join(unit.word(a, v) for a, v in zip("XYZ", (x, y, z), strict=True))
            lines.append(f"G10 L2 {number} {place}")
    return "\n".join([*lines, "M2"]) + "\n"

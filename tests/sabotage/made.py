"""Good orders and the programs the planner writes for them, each made once."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np

from knifecam.blade import Bore, EdgeBreak
from knifecam.planning import lay_out
from knifecam.program import write_program
from knifecam.shop import Boring, Clamp, MeasuredBore, Mill, Order, Registration, Workholding
from tests.agreement.details import broken, jimped, necked
from tests.agreement.orders import cutter, simple_order
from tests.sabotage.harness import Spoilt, Texts


def with_setup(order: Order, **changes: object) -> Order:
    return replace(order, setup=replace(order.setup, **changes))  # type: ignore[arg-type]


def with_plate(order: Order, **changes: object) -> Order:
    return with_setup(order, plate=replace(order.setup.plate, **changes))  # type: ignore[arg-type]


def with_bore(order: Order, **changes: object) -> Order:
    bores = (replace(order.blade.bores[0], **changes),)  # type: ignore[arg-type]
    return replace(order, blade=replace(order.blade, bores=bores))


def with_cutter(order: Order, number: int, **changes: float | str) -> Order:
    changed = tuple(replace(c, **changes) if c.number == number else c for c in order.cutters)  # type: ignore[arg-type]
    return replace(order, cutters=changed)


def longer() -> Order:
    """The plain blade in a plate of 134 mm, zeros on its middle."""
    order = with_plate(simple_order(), length=134.0, corner=(-67.0, -30.0))
    return with_setup(order, datum=((0.0, 0.0), (0.0, 0.0)))


def centred() -> Order:
    """The plain blade with both zeros on its middle."""
    return with_setup(simple_order(), datum=((0.0, 0.0), (0.0, 0.0)))


def on_pins() -> Order:
    """Two unequal blind bores seat on pins."""
    bores = (
        Bore(name="P1", centre=(-60.0, 4.0), diameter=6.0, depth=2.7),
        Bore(name="P2", centre=(60.0, 4.0), diameter=5.0, depth=2.7),
    )
    return with_setup(longer(), registration=Registration(kind="pins", bores=bores))


def on_measured_bores() -> Order:
    """Two bores were measured after the flip; the plate lies 0.2 degrees askew."""
    bores = (
        Bore(name="P1", centre=(-60.0, 4.0), diameter=6.0),
        Bore(name="P2", centre=(60.0, 4.0), diameter=5.0),
    )
    turn, shift = math.radians(0.2), np.array([0.15, -0.08])
    c, s = math.cos(turn), math.sin(turn)
    measured = []
    for bore in bores:
        x, y = bore.centre[0], -bore.centre[1]
        u, v = np.array([c * x - s * y, s * x + c * y]) + shift
        measured.append(MeasuredBore(bore=bore.name, x=round(u, 3), y=round(v, 3)))
    order = with_setup(
        longer(), fixture_allowance=0.6,
        registration=Registration(kind="bores", bores=bores, measured=tuple(measured)),
    )  # fmt: skip
    return replace(order, boring=Boring(opening="relieved"))


def screwed() -> Order:
    """A screw through the bore holds the blade, and a tab at its far end."""
    order = simple_order()
    return with_setup(
        replace(order, tabs=replace(order.tabs, count=1)),
        workholding=Workholding(kind="bores", screws=("B1",), head_diameter=9.0, head_height=3.0),
    )


def fitted() -> Order:
    """The bore takes a pin."""
    return with_bore(simple_order(), fitted=True)


def wide_bore() -> Order:
    """The bore is wider than one helix clears."""
    return with_bore(simple_order(), diameter=9.0)


def clamped() -> Order:
    """A clamp on either side, clear of the paths."""
    clamps = (
        Clamp(side="A", x_low=-80.0, y_low=-8.0, x_high=-62.0, y_high=8.0, height=8.0),
        Clamp(side="B", x_low=62.0, y_low=-8.0, x_high=80.0, y_high=8.0, height=8.0),
    )
    return with_setup(longer(), clamps=clamps)


def zeroed() -> Order:
    """It is known where the zeros lie on the mill."""
    mill = Mill(machine_zero=((100.0, 80.0, 60.0), (100.0, 140.0, 60.0)))
    return with_setup(simple_order(), mill=mill)


def on_faces() -> Order:
    """Both zeros lie on the plate's upper face."""
    return with_setup(simple_order(), z_zero=("face", "face"))


def round_about(width: float = 0.3) -> Order:
    """The edges of outline, bore and slot are broken on both sides."""
    breaks = (
        EdgeBreak(name="E1", of=of, side=side, width=width)
        for of in ("outline", "B1", "S1")
        for side in "AB"
    )
    return broken(*breaks)


def thick_finish() -> Order:
    """The wall is finished by a cutter thicker than the one that roughs the trench."""
    order = simple_order()
    return replace(order, cutters=(order.cutters[0], cutter(2, diameter=3.4)))


ORDERS: dict[str, Callable[[], Order]] = {
    "plain": simple_order, "centred": centred, "pins": on_pins, "measured": on_measured_bores,
    "screwed": screwed, "fitted": fitted, "wide bore": wide_bore, "clamped": clamped,
    "zeroed": zeroed, "faces": on_faces, "thick finish": thick_finish, "jimped": jimped,
    "necked": necked, "broken": round_about,
}  # fmt: skip


def texts_of(order: Order) -> Texts:
    """Return both programs as the planner writes them, feasible or not."""
    plan = lay_out(order)
    return write_program(order, plan, "A").text, write_program(order, plan, "B").text


@cache
def made(name: str) -> Spoilt:
    """Return a good order of that name and its good texts."""
    order = ORDERS[name]()
    return Spoilt(order=order, texts=texts_of(order))

"""Setups gone wrong: the flip, seating, things in the way, what comes loose."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from knifecam.blade import Bore
from knifecam.curve import Curve
from knifecam.shop import MeasuredBore, Mill, Order
from tests.sabotage import harness as spoil
from tests.sabotage.case import (
    BORES,
    TRENCH,
    WALL,
    inserting,
    on_order,
    on_plan,
    on_text,
    sabotage,
    whole,
)
from tests.sabotage.harness import Spoilt
from tests.sabotage.made import made, with_bore, with_setup


# --- flip and seating ----------------------------------------------------------------------------
def _half_turn(text: str) -> str:
    for letter in "XYIJ":
        text = spoil.mapped(text, letter, lambda v: -v)
    return text


def _mirrored(text: str) -> str:
    for letter in "YJ":
        text = spoil.mapped(text, letter, lambda v: -v)
    return spoil.arcs_turned(text)


on_text("gouge", "B", "half a turn round", whole(_half_turn), of="centred")
on_text("conventional", "B", "mirrored", whole(_mirrored), of="centred")
on_order(
    "gouge",
    "A",
    "bore drawn 0.05 elsewhere",
    lambda o: with_bore(o, centre=(-15.0, 0.05)),
)
on_order("gouge", "B", "flipped about Y", lambda o: with_setup(o, flip="Y"), of="centred")
on_order("uncut", "B", "flipped about Y, zero on a corner", lambda o: with_setup(o, flip="Y"))


on_order(
    "uncut", "B", "zero of side B on the face", lambda o: with_setup(o, z_zero=("face", "face"))
)
on_order(
    "gouge",
    "B",
    "zero of side B 0.05 aside",
    lambda o: with_setup(o, datum=(o.setup.datum[0], (-55.0, -29.95))),
)


@sabotage("work-offset", "A", "both texts changed over")
def _changed_over() -> Spoilt:
    good = made("plain")
    return Spoilt(order=good.order, texts=(good.texts[1], good.texts[0]))


@sabotage("fixture-cut", "B", "side A's program on side B")
def _twice() -> Spoilt:
    good = made("centred")
    a = good.texts[0]
    assert a
    return Spoilt(order=good.order, texts=(a, a.replace("G54", "G55")))


def _with_bores(order: Order, *bores: Bore) -> Order:
    return with_setup(order, registration=replace(order.setup.registration, bores=bores))


on_plan(
    "seating",
    "B",
    "equal pins, bores through",
    lambda o: o,
    of="pins",
    of_order=lambda o: _with_bores(
        o, *(replace(b, diameter=6.0, depth=None) for b in o.setup.registration.bores)
    ),
)
on_plan(
    "seating",
    "B",
    "equal pins in the middle",
    lambda o: o,
    of="pins",
    of_order=lambda o: _with_bores(
        o,
        *(replace(b, diameter=6.0, centre=(b.centre[0], 0.0)) for b in o.setup.registration.bores),
    ),
)
on_order(
    "seating",
    "B",
    "a bore measured wrongly",
    lambda o: with_setup(
        o,
        registration=replace(
            o.setup.registration,
            measured=(o.setup.registration.measured[0], MeasuredBore(bore="P2", x=60.4, y=-3.7)),
        ),
    ),
    of="measured",
)
on_plan(
    "gouge",
    "B",
    "the plate lies askew, the text does not know",
    lambda o: with_setup(o, registration=replace(o.setup.registration, measured=())),
    of="measured",
)
on_order("unsupported", "B", "grooves not filled", lambda o: with_setup(o, support="none"))
on_order(
    "travel",
    "A",
    "zero at the mill's end",
    lambda o: with_setup(
        o,
        mill=Mill(
            machine_zero=((10.0, 80.0, 60.0), (100.0, 240.0, 199.0)), travel=(90.0, 250.0, 200.0)
        ),
    ),
    of="zeroed",
)


# --- things in the way ---------------------------------------------------------------------------
def _clamp_moved(side: str, by: float) -> Callable[[Order], Order]:
    def change(order: Order) -> Order:
        moved = tuple(
            replace(k, x_low=k.x_low + by, x_high=k.x_high + by) if k.side == side else k
            for k in order.setup.clamps
        )
        return with_setup(order, clamps=moved)

    return change


on_order("keep-out", "A", "clamp in the path", _clamp_moved("A", 32.0), of="clamped")
on_order("keep-out", "B", "clamp in the path", _clamp_moved("B", -30.0), of="clamped")
on_text(
    "keep-out",
    "A",
    "rapid into a clamp",
    inserting("G0 Z6.0\nG0 X-70.0 Y0.0\nG0 Z13.0", r"^G0 X", cut=TRENCH),
    of="clamped",
)
on_order("border", "A", "clamp 2 beside the trench", _clamp_moved("A", 26.0), of="clamped")
on_order(
    "keep-out",
    "B",
    "screw heads 30 wide",
    lambda o: with_setup(o, workholding=replace(o.setup.workholding, head_diameter=30.0)),
    of="screwed",
)


def _outline_moved(order: Order) -> Order:
    outline = order.blade.outline
    moved = Curve(outline.vertices + np.array([0.0, 9.5]), outline.bulges)
    return replace(order, blade=replace(order.blade, outline=moved, bores=(), slots=()))


on_plan("border", "A", "outline moved by 9.5", _outline_moved, of_order=_outline_moved)


# --- what comes loose ----------------------------------------------------------------------------
def _outer_helix_alone(text: str, cut: str) -> str:
    """A wide bore's inner helices dropped: the core stays."""
    lines = spoil.rows(text)
    last = spoil.value(lines[spoil.nth(text, "^G3 .*Z", cut=cut, number=-1) - 1], "X")
    first = spoil.nth(text, "^G3 ", cut=cut)
    text = spoil.dropped(text, first, spoil.nth(text, f"^G3 X{last:.4f}", cut=cut) - 1)
    return spoil.everywhere(text, r"^G0 X\S+ Y", f"G0 X{last:.4f} Y", cut=cut)


@sabotage("loose-slug", "B", "a wide bore not cleared inside")
def _slug() -> Spoilt:
    good = made("wide bore")
    a, b = good.texts
    assert a
    assert b
    return Spoilt(
        order=good.order, texts=(_outer_helix_alone(a, BORES), _outer_helix_alone(b, BORES))
    )


def _ring(text: str) -> tuple[str, int | None]:
    """A ring cut through the plate's waste beside the blade."""
    depth, turns = 3.0, 42
    helix = [
        f"G2 X97.0000 Y-30.0000 Z{3.0 - depth * (k + 1) / turns:.4f} I-3.5000 J0.0000"
        for k in range(turns)
    ]
    lines = [
        "G0 Z8.0000", "G0 X97.0000 Y-30.0000", "G0 Z3.5000", "G1 Z3.0000 F120.0", *helix,
        "G2 X97.0000 Y-30.0000 I-3.5000 J0.0000",
    ]  # fmt: skip
    line = spoil.nth(text, "^G0 Z8", cut=WALL, number=-1)
    return spoil.inserted(text, line, "\n".join(lines)), line + len(lines) - 1


on_text("loose-waste", "B", "a ring in the waste", _ring)

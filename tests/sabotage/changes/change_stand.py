"""What stands otherwise than the order says: plate, flip, zeros, clamps, cutters."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from knifecam.shop import Clamp, Order, Setup
from knifecam.shop.cutter import BALL
from knifecam.shop.setup import Misplacement
from tests.sabotage.changes.kind import amount
from tests.sabotage.oracle.strokes import mirrored

Rng = np.random.Generator
Texts = tuple[str, str]


FLUSH = Misplacement()
"""As the programs take the plate to lie."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """An order and texts, with the plate lying on side B as ``lies`` tells."""

    order: Order
    texts: Texts
    lies: Misplacement = FLUSH


StandChange = Callable[[Stand, Rng], Stand]
STANDS: dict[str, StandChange] = {}


def stand(name: str) -> Callable[[StandChange], StandChange]:
    """Keep a change of the stand as a kind."""

    def keep(change: StandChange) -> StandChange:
        STANDS[name] = change
        return change

    return keep


def _setup(one: Stand, **changes: object) -> Stand:
    setup: Setup = replace(one.order.setup, **changes)  # type: ignore[arg-type]
    return replace(one, order=replace(one.order, setup=setup))


@stand("the plate of another thickness")
def thickness(one: Stand, rng: Rng) -> Stand:
    plate = one.order.setup.plate
    return _setup(one, plate=replace(plate, thickness=plate.thickness + amount(rng, 0.03, 0.5)))


@stand("turned over about the other axis")
def flip(one: Stand, rng: Rng) -> Stand:
    return _setup(one, flip="X" if one.order.setup.flip == "Y" else "Y")


@stand("side B run with side A's program")
def unturned(one: Stand, rng: Rng) -> Stand:
    text = one.texts[0].replace(one.order.setup.offsets[0], one.order.setup.offsets[1])
    return replace(one, texts=(one.texts[0], text))


@stand("the sides' programs exchanged")
def exchanged(one: Stand, rng: Rng) -> Stand:
    first, second = one.order.setup.offsets
    a = one.texts[1].replace(second, first)
    return replace(one, texts=(a, one.texts[0].replace(first, second)))


@stand("side B's program mirrored, paths and all")
def mirrored_text(one: Stand, rng: Rng) -> Stand:
    letters = "YJ" if mirrored(one.order.setup, "B")[0] > 0 else "XI"
    rows = []
    for row in one.texts[1].splitlines():
        if row[:3] in ("G0 ", "G1 ", "G2 ", "G3 "):
            for letter in letters:
                row = row.replace(f" {letter}-", f" {letter}+").replace(f" {letter}", f" {letter}-")
                row = row.replace(f"{letter}-+", f"{letter}")
            row = {"G2": "G3", "G3": "G2"}.get(row[:2], row[:2]) + row[2:]
        rows.append(row)
    return replace(one, texts=(one.texts[0], "\n".join(rows) + "\n"))


@stand("the plate turned a little on side B")
def turned(one: Stand, rng: Rng) -> Stand:
    return replace(one, lies=Misplacement(angle=float(np.radians(amount(rng, 0.01, 1.0)))))


@stand("the plate half a turn round on side B")
def half_turn(one: Stand, rng: Rng) -> Stand:
    return replace(one, lies=Misplacement(angle=np.pi))


@stand("the plate aside on side B")
def aside(one: Stand, rng: Rng) -> Stand:
    way = rng.uniform(0.0, 2 * np.pi)
    size = abs(amount(rng, 0.01, 1.0))
    return replace(one, lies=Misplacement(x=float(size * np.cos(way)), y=float(size * np.sin(way))))


@stand("a chip under the plate on side B")
def raised(one: Stand, rng: Rng) -> Stand:
    return replace(one, lies=Misplacement(z=abs(amount(rng, 0.02, 0.3))))


@stand("a zero touched off aside")
def datum(one: Stand, rng: Rng) -> Stand:
    side, axis = int(rng.integers(2)), int(rng.integers(2))
    places = [list(place) for place in one.order.setup.datum]
    places[side][axis] += amount(rng, 0.02, 1.0)
    return _setup(one, datum=(tuple(places[0]), tuple(places[1])))


@stand("Z0 on the fixture for the face, or the face for the fixture")
def zero(one: Stand, rng: Rng) -> Stand:
    zeros, side = list(one.order.setup.z_zero), int(rng.integers(2))
    zeros[side] = "fixture" if zeros[side] == "face" else "face"
    return _setup(one, z_zero=tuple(zeros))


@stand("a clamp where it should not be")
def clamp(one: Stand, rng: Rng) -> Stand:
    side = str(rng.choice(["A", "B"]))
    low_x, low_y, high_x, high_y = one.order.setup.plate.bounds
    place = np.array([rng.uniform(low_x, high_x), rng.choice([low_y, high_y])])
    place = (place - one.order.setup.datum["AB".index(side)]) * mirrored(one.order.setup, side)
    x, y = float(place[0]), float(place[1])
    wide, deep = float(rng.uniform(8.0, 20.0)), float(rng.uniform(4.0, 25.0))
    box = Clamp(
        side=side, x_low=x - wide / 2, x_high=x + wide / 2, y_low=y - deep, y_high=y + deep,
        height=float(rng.uniform(2.0, 12.0)),
    )  # fmt: skip
    return _setup(one, clamps=(*one.order.setup.clamps, box))


def _cutter(one: Stand, number: int, **changes: float | str) -> Stand:
    cutters = tuple(
        replace(c, **changes) if c.number == number else c  # type: ignore[arg-type]
        for c in one.order.cutters
    )
    return replace(one, order=replace(one.order, cutters=cutters))


def _grown(one: Stand, rng: Rng, by: float) -> Stand:
    cutter = one.order.cutters[int(rng.integers(len(one.order.cutters)))]
    size = cutter.diameter + by
    corner = size / 2 if cutter.kind == BALL else cutter.corner
    return _cutter(one, cutter.number, diameter=size, corner=corner, neck=min(cutter.neck, size))


@stand("a cutter worn thinner")
def worn(one: Stand, rng: Rng) -> Stand:
    return _grown(one, rng, -abs(amount(rng, 0.005, 0.2)))


@stand("a cutter that runs out, thicker")
def thicker(one: Stand, rng: Rng) -> Stand:
    return _grown(one, rng, abs(amount(rng, 0.005, 0.2)))


@stand("a cutter of another corner")
def corner(one: Stand, rng: Rng) -> Stand:
    chosen = [c for c in one.order.cutters if 0 < c.corner < c.diameter / 2]
    cutter = chosen[int(rng.integers(len(chosen)))]
    new = min(cutter.diameter / 2, max(0.0, cutter.corner + amount(rng, 0.03, 0.5)))
    return _cutter(one, cutter.number, corner=new)


@stand("two cutters exchanged in their places")
def places(one: Stand, rng: Rng) -> Stand:
    rows = one.order.cutters
    first, second = (int(k) for k in rng.choice(len(rows), 2, replace=False))
    a, b = rows[first], rows[second]
    new = list(rows)
    new[first], new[second] = replace(b, number=a.number), replace(a, number=b.number)
    return replace(one, order=replace(one.order, cutters=tuple(new)))


@stand("a cutter with a short neck")
def short(one: Stand, rng: Rng) -> Stand:
    cutter = one.order.cutters[int(rng.integers(len(one.order.cutters)))]
    reach = float(rng.uniform(0.4, 1.2)) * one.order.setup.plate.thickness
    return _cutter(one, cutter.number, reach=reach, flute_length=min(cutter.flute_length, reach))


@stand("a cutter sunk in its holder")
def sunk(one: Stand, rng: Rng) -> Stand:
    cutter = one.order.cutters[int(rng.integers(len(one.order.cutters)))]
    out = float(rng.uniform(0.5, 1.5)) * one.order.setup.plate.thickness
    return _cutter(
        one, cutter.number, stickout=out, reach=min(cutter.reach, out),
        flute_length=min(cutter.flute_length, out),
    )  # fmt: skip

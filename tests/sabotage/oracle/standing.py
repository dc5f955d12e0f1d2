"""What cutter, shank and holder run into besides the cut: clamps, and metal beside them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from knifecam.shop import Clamp, Order
from tests.sabotage.oracle import harm
from tests.sabotage.oracle.cut import pairs_of, sorted_pairs, walked
from tests.sabotage.oracle.effect import Effect
from tests.sabotage.oracle.field import Field
from tests.sabotage.oracle.harm import HARMFUL, HARMLESS, NEAR
from tests.sabotage.oracle.places import places_along
from tests.sabotage.oracle.side_cut import SideCut
from tests.sabotage.oracle.strokes import zero_of

Floats = NDArray[np.float64]

ROOM = 5.0
"""mm: a cut nearer to a clamp than this is near (common practice)."""


def collisions(reference: Field, mutant: Field) -> Iterator[Effect]:
    """Yield collisions that a changed program or stand may cause."""
    order, before = mutant.order, reference.order
    for good, side in zip(reference.sides, mutant.sides, strict=True):
        if side is good and order is before:
            continue
        for box in order.setup.clamps:
            if box.side == side.name:
                yield from _into(box, order, side)
        if order.cutters != before.cutters:
            yield from _above(mutant, side)
    if abs(order.setup.plate.thickness - order.blade.thickness) > abs(
        before.setup.plate.thickness - before.blade.thickness
    ):
        off = abs(order.setup.plate.thickness - order.blade.thickness)
        grade = harm.FLOOR.of(off)
        if grade != HARMLESS:
            yield Effect(
                grade=grade, what="a plate of another thickness than the blade", amount=off
            )


def _into(box: Clamp, order: Order, side: SideCut) -> Iterator[Effect]:
    """Yield how far the cutter, its shank or holder run into a clamp, sampled along every path."""
    worst, beside = 0.0, np.inf
    zero = zero_of(order.setup, side.name)
    for cutter in order.cutters:
        rows = np.flatnonzero(side.trace.cutter == cutter.number)
        at, owner = places_along(side.trace.motions, rows)
        tip = at[:, 2] + zero - side.face
        for above, wide in (
            (0.0, cutter.diameter / 2),
            (cutter.reach, cutter.shank / 2),
            (cutter.stickout, cutter.holder / 2),
        ):  # fmt: skip
            away = _gap(box, at)
            under = tip + above < box.height - 1e-6
            worst = max(worst, float(np.where(under, wide - away, 0.0).max(initial=0.0)))
        busy = side.bite[owner] > harm.CONTACT
        beside = min(beside, float((_gap(box, at)[busy] - cutter.diameter / 2).min(initial=np.inf)))
    grade = harm.HITS.of(worst)
    if grade != HARMLESS:
        yield Effect(grade=grade, what="runs into a clamp", amount=worst)
    elif beside < ROOM:
        yield Effect(grade=NEAR, what="cuts close to a clamp", amount=beside)


def _gap(box: Clamp, at: Floats) -> Floats:
    dx = np.maximum(np.maximum(box.x_low - at[:, 0], at[:, 0] - box.x_high), 0.0)
    dy = np.maximum(np.maximum(box.y_low - at[:, 1], at[:, 1] - box.y_high), 0.0)
    return np.hypot(dx, dy)


def _above(field: Field, side: SideCut) -> Iterator[Effect]:
    """Yield metal that stands where a shank or holder goes: cut with them, after each motion."""
    order, sights = field.order, field.sights
    worst = 0.0
    rows = np.arange(len(side.strokes))
    far = (
        -np.maximum(field.sides[0].level, -side.face)
        if side.name == "B"
        else np.full(len(sights), -side.face)
    )
    for part in ("shank", "holder"):
        wide, above = np.ones(len(rows)), np.full(len(rows), 1e4)
        for cutter in order.cutters:
            mine = side.trace.cutter == cutter.number
            size = getattr(cutter, part) / 2
            if size > cutter.diameter / 2:
                wide[mine], above[mine] = size, cutter.reach if part == "shank" else cutter.stickout
        lift = above[:, None] * np.array([0.0, 0.0, 1.0])
        thick = replace(
            side.strokes, start=side.strokes.start + lift, stop=side.strokes.stop + lift, radius=wide,
            flat=wide, rise=np.zeros(len(rows)),
        )  # fmt: skip
        low = rows[np.minimum(thick.start[:, 2], thick.stop[:, 2]) < side.face]
        if not len(low):
            continue
        upper = pairs_of(thick, low, sights.x, sights.y, field.bins, side.face)
        both = sorted_pairs(
            [
                replace(side.pairs, motion=2 * side.pairs.motion),
                replace(upper, motion=2 * upper.motion + 1),
            ]
        )
        taken = walked(both, np.arange(len(sights)), side.face, far)
        worst = max(worst, float(taken.removed[both.motion % 2 == 1].max(initial=0.0)))
    grade = HARMFUL if worst > 0.1 else NEAR if worst > 1e-3 else HARMLESS
    if grade != HARMLESS:
        yield Effect(grade=grade, what="shank or holder run into metal", amount=worst)

"""On which hand of travel walls are finished."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.curve import RAPID
from knifecam.shop import Order
from tests.sabotage.oracle import harm
from tests.sabotage.oracle.effect import Effect
from tests.sabotage.oracle.field import Field
from tests.sabotage.oracle.harm import HARMFUL, NEAR
from tests.sabotage.oracle.side_cut import SideCut
from tests.sabotage.oracle.sights import ALONG, VOID
from tests.sabotage.oracle.strokes import mirrored


def hands(reference: Field, mutant: Field) -> Iterator[Effect]:
    """Yield how much more of the walls is finished on the wrong hand of travel, mm."""
    if mutant.order is not reference.order:
        return
    for good, side in zip(reference.sides, mutant.sides, strict=True):
        if side is good:
            continue
        more = against(mutant.order, side, mutant) - against(mutant.order, good, mutant)
        if more > 0.0:
            grade = HARMFUL if more > harm.AGAINST else NEAR
            yield Effect(grade=grade, what="a wall finished on the wrong hand", amount=more)


def against(order: Order, side: SideCut, field: Field) -> float:
    """Return the length of walls finished with the blade on the left of travel, mm."""
    pairs, strokes, sights = side.pairs, side.strokes, field.sights
    rows = np.flatnonzero((sights.role[pairs.place] == VOID) & (side.removed > harm.CONTACT))
    motion, place = pairs.motion[rows], pairs.place[rows]
    radius = strokes.radius[motion]
    skims = (pairs.near[rows] > radius - 0.03) & (side.trace.motions.kind[motion] != RAPID)
    motion, place = motion[skims], place[skims]
    at = np.column_stack([sights.x[place], sights.y[place]])
    way = (strokes.stop - strokes.start)[motion, :2]
    arm = at - strokes.centre[motion]
    sense = np.sign(strokes.turns[motion])
    arc = sense != 0.0
    way = np.where(arc[:, None], sense[:, None] * np.column_stack([-arm[:, 1], arm[:, 0]]), way)
    toward = sights.toward[place]
    hand = np.sign(way[:, 0] * toward[:, 1] - way[:, 1] * toward[:, 0])
    signs = mirrored(order.setup, side.name)
    wrong = hand * signs[0] * signs[1] < 0.0
    return float(len(np.unique(place[wrong]))) * ALONG

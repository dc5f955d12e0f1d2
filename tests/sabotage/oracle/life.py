"""How long each edge is in metal, against the life that the order states for its cutter."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import RAPID
from knifecam.rs274.trace import Trace
from tests.sabotage.oracle import harm
from tests.sabotage.oracle.effect import Effect
from tests.sabotage.oracle.field import Field
from tests.sabotage.oracle.harm import HARMLESS
from tests.sabotage.oracle.side_cut import SideCut

Floats = NDArray[np.float64]


def lives(reference: Field, mutant: Field) -> Iterator[Effect]:
    """Yield edges that are longer in metal than before, and longer than they live."""
    for good, side in zip(reference.sides, mutant.sides, strict=True):
        if side is good:
            continue
        for number in sorted({c.cutter for c in mutant.order.cutting}):
            life = max(c.life for c in mutant.order.cutting if c.cutter == number)
            before, after = (longest(one, number) for one in (good, side))
            grade = harm.LIFE.of(after / life)
            if after > before + harm.LIFE_MORE and grade != HARMLESS:
                what = "an edge is longer in metal than it lives"
                yield Effect(grade=grade, what=what, amount=after / life)


def longest(side: SideCut, number: int) -> float:
    """Return the most minutes that one edge of a cutter is in metal."""
    m = side.trace.motions
    busy = (side.bite > harm.CONTACT) & (m.kind != RAPID) & (m.feed > 0.0)
    minutes = np.where(busy, m.lengths / np.maximum(m.feed, 1e-9), 0.0)
    mine = side.trace.cutter == number
    fresh = [0, *fresh_edges(side.trace, number), len(minutes)]
    return max(float(minutes[low:high][mine[low:high]].sum()) for low, high in pairwise(fresh))


def fresh_edges(trace: Trace, number: int) -> Iterator[int]:
    """Yield the motions before which a hand puts a fresh cutter of that number in.

    It does so at a sure stop with no motion between it and the change, where the number is the one
    in the spindle already or where a message there says that a fresh one goes in.
    """
    held, stop, told = 0, -1, -1
    for act in trace.acts:
        if act.kind == "stop" and round(act.number) != harm.OPTIONAL:
            stop = act.before
        elif act.kind == "comment" and "FRESH" in act.text.upper():
            told = act.before
        elif act.kind == "change":
            here = act.before
            if round(act.number) == number and stop == here and (held == number or told == here):
                yield here
            held = round(act.number)

"""The oracle: what a change does, without the judge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from knifecam.errors import ProgramError
from knifecam.rs274.program_reader import read_program
from knifecam.rs274.trace import Trace
from knifecam.shop import Order
from knifecam.sweep.side_program import stored_of
from tests.sabotage.changes.change_stand import FLUSH, Stand
from tests.sabotage.oracle.bite import bites
from tests.sabotage.oracle.closer import looked_closer
from tests.sabotage.oracle.effect import Effect, effects, graded
from tests.sabotage.oracle.facts import facts
from tests.sabotage.oracle.field import Field, reference
from tests.sabotage.oracle.hand import hands
from tests.sabotage.oracle.harm import HARMFUL, NEAR
from tests.sabotage.oracle.life import lives
from tests.sabotage.oracle.standing import collisions

REFUSED = "refused"


@dataclass(frozen=True, slots=True, kw_only=True)
class Classed:
    """The class of a change (``refused`` where the reader does not take the text), and why."""

    grade: str
    effects: tuple[Effect, ...] = ()


class Oracle:
    """Good programs at exact places, and what becomes of them."""

    def __init__(self, order: Order, texts: tuple[str, str]) -> None:
        self.order, self.texts = order, texts
        self.traces = (
            read_program(texts[0], stored_of(order.setup)),
            read_program(texts[1], stored_of(order.setup)),
        )
        self.good: Field = reference(order, self.traces)

    def classed(self, stand: Stand) -> Classed:
        """Return the class of a changed stand."""
        try:
            traces = tuple(
                old if text == good else read_program(text, stored_of(stand.order.setup))
                for old, text, good in zip(self.traces, stand.texts, self.texts, strict=True)
            )
        except ProgramError:
            return Classed(grade=REFUSED)
        read = (traces[0], traces[1])
        found = self._found(stand, read)
        if not found and stand.texts != self.texts and self._other_words(stand, read):
            found = [Effect(grade=NEAR, what="other words that do the same", amount=0.0)]
        return Classed(grade=graded(found), effects=tuple(found))

    def _found(self, stand: Stand, traces: tuple[Trace, Trace]) -> list[Effect]:
        """Return what the change does, after a closer look where the first shows no harm."""
        lies = stand.lies if stand.lies != FLUSH else None
        mutant = self.good.recut(stand.order, traces, lies)
        found = _compared(self.good, mutant)
        if graded(found) == HARMFUL or stand.order is not self.order or lies:
            return found
        closer = looked_closer(self.good, mutant)
        return found if closer is None else _compared(closer, closer.recut(stand.order, traces))

    def _other_words(self, stand: Stand, traces: tuple[Trace, Trace]) -> bool:
        """Return whether a text moves the mill exactly as before: its words matter elsewhere."""
        for old, new, good, text in zip(self.traces, traces, self.texts, stand.texts, strict=True):
            if text != good:
                rows = (old.motions, new.motions)
                names = ("kind", "start", "stop", "centre", "turns", "feed")
                if all(np.array_equal(*(getattr(m, name) for m in rows)) for name in names):
                    return True
        return False


def _compared(good: Field, mutant: Field) -> list[Effect]:
    rules = (effects, facts, bites, lives, hands, collisions)
    return [effect for rule in rules for effect in rule(good, mutant)]

"""Trials: changes done to good programs, the oracle's class of each, and what the judge finds."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from knifecam.shop import Order
from tests.sabotage.changes import (
    change_lines,
    change_loads,
    change_numbers,
    change_stand,
    change_words,
)
from tests.sabotage.changes.argued import argued
from tests.sabotage.changes.change_stand import STANDS, Stand
from tests.sabotage.changes.kind import KINDS
from tests.sabotage.changes.prudence import PRUDENCE
from tests.sabotage.changes.quick import Bench, Found, judged_whole
from tests.sabotage.changes.text import Text
from tests.sabotage.oracle.effect import Effect
from tests.sabotage.oracle.harm import HARMFUL, HARMLESS, NEAR
from tests.sabotage.oracle.oracle import REFUSED, Oracle

FILLED = (change_lines, change_loads, change_numbers, change_stand, change_words)
"""Importing these has filled `KINDS` and `STANDS`."""

CELL, FINE = 0.2, 0.05
"""mm: walls, tabs and lines across bevels are measured by sights, which no cell makes coarser; what
is harmful and not found so is judged again with the cell that `make` and `check` judge with."""

SIDES = ("A", "B")


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One change: its kind, the side it is done to ("" for the stand), and the seed of its amount."""

    kind: str
    side: str
    place: int
    seed: int


def kinds() -> tuple[str, ...]:
    """Return the names of all kinds of change."""
    return (*(one.name for one in KINDS), *STANDS)


def changes(texts: tuple[str, str], count: int, seed: int, *, stands: int = 1) -> list[Change]:
    """Return about ``count`` changes, each kind and side alike often, at places drawn by chance.

    The same arguments give the same changes. Kinds of the stand, which cost more, come last, ``stands``
    times each.
    """
    rng = np.random.default_rng(seed)
    places = {
        (n, side): len(one.places(Text.of(text)))
        for n, one in enumerate(KINDS) for side, text in zip(SIDES, texts, strict=True)
    }  # fmt: skip
    last = [Change(kind=name, side="", place=0, seed=int(rng.integers(2**31)))
            for _ in range(stands) for name in STANDS]  # fmt: skip
    rows: list[Change] = []
    left = {key: list(rng.permutation(many)) for key, many in places.items() if many}
    while len(rows) + len(last) < count and left:
        for key in list(left):
            n, side = key
            rows.append(Change(kind=KINDS[n].name, side=side, place=int(left[key].pop()),
                               seed=int(rng.integers(2**31))))  # fmt: skip
            if not left[key]:
                del left[key]
    return [*rows[: max(0, count - len(last))], *last]


def changed(order: Order, texts: tuple[str, str], change: Change) -> Stand:
    """Return the order and the texts with a change done to them."""
    good, rng = Stand(order=order, texts=texts), np.random.default_rng(change.seed)
    if change.kind in STANDS:
        return STANDS[change.kind](good, rng)
    one = next(k for k in KINDS if k.name == change.kind)
    which = SIDES.index(change.side)
    text, places = _places(texts[which], change.kind)
    new = one.change(text, places[change.place], rng).whole()
    return Stand(order=order, texts=(new, texts[1]) if which == 0 else (texts[0], new))


@lru_cache(maxsize=512)
def _places(text: str, kind: str) -> tuple[Text, Sequence[Any]]:
    """Return a text's lines and the places where a kind can be done to it."""
    lines = Text.of(text)
    return lines, next(k for k in KINDS if k.name == kind).places(lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One change with its class, why (worst first), and the judge's first finding, empty for none.

    ``argued`` says why the judge need not find what it does not find.
    """

    change: Change
    grade: str
    effects: tuple[Effect, ...]
    found: Found
    argued: str = ""

    @property
    def told(self) -> str:
        """How it went, one of `OUTCOMES`."""
        return outcome(self.grade, self.found.kind, self.argued)


CAUGHT, MISSED, ARGUED, ALARM, PASSED = "caught", "missed", "argued", "alarm", "passed"
PRUDENT, NEAR_FOUND, NEAR_PASSED = "prudent", "near, found", "near, passed"
OUTCOMES = (REFUSED, CAUGHT, MISSED, ARGUED, NEAR_FOUND, NEAR_PASSED, PASSED, PRUDENT, ALARM)


def outcome(grade: str, found: str, argued: str) -> str:
    """Return how a change went, from its class, the kind of the first finding, and the argument.

    Harmful ones are caught, missed, or argued; harmless ones passed, found by a rule of prudence, or
    false alarms; those between are near.
    """
    if grade == REFUSED:
        return REFUSED
    if grade == HARMFUL:
        return CAUGHT if found else ARGUED if argued else MISSED
    if grade == HARMLESS:
        return PASSED if not found else PRUDENT if found in PRUDENCE else ALARM
    return NEAR_FOUND if found else NEAR_PASSED


class Trials:
    """Good programs of one order, the oracle and the judge at them."""

    def __init__(self, order: Order, texts: tuple[str, str], *, cell: float = CELL) -> None:
        self.order, self.texts = order, texts
        self.oracle, self.bench = Oracle(order, texts), Bench(order, texts, cell)

    def of(self, change: Change) -> Trial:
        """Return how one change went."""
        one = changed(self.order, self.texts, change)
        classed = self.oracle.classed(one)
        worst = sorted(classed.effects, key=lambda e: (HARMFUL, NEAR).index(e.grade))
        found = self.bench.found(one)
        if classed.grade == HARMFUL and not found.kind and self.bench.cell > FINE:
            found = judged_whole(one, FINE)
        why = "" if found.kind else argued(classed.effects, self.texts, one.texts)
        return Trial(
            change=change, grade=classed.grade, effects=tuple(worst), found=found, argued=why
        )


def try_changes(
    order: Order, texts: tuple[str, str], count: int, *, seed: int = 1, cell: float = CELL
) -> Iterator[Trial]:
    """Yield how about ``count`` changes of good programs go, the same ones for the same seed.

    Parameters
    ----------
    order : Order
    texts : (str, str)
        Side A's and side B's programs, which the judge finds nothing in.
    count : int
    seed : int
    cell : float, mm
        Of the judge's grid.
    """
    trials = Trials(order, texts, cell=cell)
    for change in changes(texts, count, seed):
        yield trials.of(change)


def tally(trials: Iterable[Trial]) -> dict[str, Counter[str]]:
    """Return how many changes of each kind went which way."""
    found: dict[str, Counter[str]] = {}
    for trial in trials:
        found.setdefault(trial.change.kind, Counter())[trial.told] += 1
    return found


def report(found: dict[str, Counter[str]]) -> Iterator[str]:
    """Yield the lines of a table: a kind a line, an outcome a column, and the sums."""
    wide = max((len(kind) for kind in found), default=4)
    yield " ".join([" " * wide, *(f"{name:>12}" for name in OUTCOMES)])
    whole: Counter[str] = Counter()
    for kind in sorted(found):
        yield " ".join([kind.ljust(wide), *(f"{found[kind][name]:12d}" for name in OUTCOMES)])
        whole.update(found[kind])
    yield " ".join(["all".ljust(wide), *(f"{whole[name]:12d}" for name in OUTCOMES)])

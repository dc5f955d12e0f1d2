"""A sample of what `python -m tests.sabotage` does by thousands: changes of every kind drawn by
chance, each classed by the oracle, none that is harmful passed by the judge."""

from __future__ import annotations

from collections import Counter
from functools import cache

import numpy as np

from knifecam.judge.prove import JUDGES, judge_misplaced
from tests.sabotage.changes.change_stand import STANDS
from tests.sabotage.changes.quick import ALONE, TOGETHER, UNSWEPT
from tests.sabotage.changes.trial import (
    ALARM,
    CAUGHT,
    MISSED,
    Change,
    Trial,
    Trials,
    changes,
    kinds,
)
from tests.sabotage.made import made

COUNT, SEED = 60, 3


@cache
def trials() -> Trials:
    good = made("plain")
    a, b = good.texts
    assert a is not None
    assert b is not None
    return Trials(good.order, (a, b))


def chosen(count: int, seed: int) -> list[Change]:
    """Return changes of kinds drawn by chance."""
    every = changes(trials().texts, 600, seed)
    return [every[k] for k in np.random.default_rng(seed).permutation(len(every))[:count]]


def told(rows: list[Trial], outcome: str) -> list[str]:
    return [f"{t.change} {t.effects[:3]} {t.found}" for t in rows if t.told == outcome]


def test_no_sampled_harm_is_missed_and_nothing_harmless_is_found() -> None:
    rows = [trials().of(change) for change in chosen(COUNT, SEED)]
    seen = Counter(row.told for row in rows)
    assert told(rows, MISSED) == []
    assert told(rows, ALARM) == []
    assert seen[CAUGHT] >= COUNT // 3, seen


def test_asking_sparingly_finds_what_judging_whole_finds() -> None:
    one = trials()
    from tests.sabotage.changes.trial import changed

    for change in chosen(400, 8)[:8]:
        stand = changed(one.order, one.texts, change)
        (whole,) = judge_misplaced(stand.order, stand.texts, [stand.lies], cell=one.bench.cell)
        assert bool(one.bench.found(stand).kind) == (not whole.verdict.ok), change


def test_every_rule_of_the_judge_is_asked() -> None:
    assert {*ALONE, *TOGETHER, *UNSWEPT} == set(JUDGES)


def test_the_same_seed_gives_the_same_changes() -> None:
    texts = trials().texts
    assert changes(texts, 300, 5) == changes(texts, 300, 5)
    assert changes(texts, 300, 5) != changes(texts, 300, 6)


def test_there_are_kinds_enough() -> None:
    assert len(kinds()) == len(set(kinds())) >= 100
    tried = {change.kind for change in changes(trials().texts, 600, 1)}
    # one kind wants side A's offset on side B's program or the other way round, and finds none
    assert set(STANDS) <= tried
    assert len(tried) >= 100

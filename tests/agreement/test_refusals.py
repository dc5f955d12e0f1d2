"""Orders that are refused are told so by a key to change and the place or the thing it is about.

Seeded orders of `wider_orders.py`, planned but not judged. A sample runs always;
`KNIFECAM_GOOD_ORDERS=all` looks at 300.
"""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest

from knifecam.errors import KnifecamError
from knifecam.planning import lay_out
from knifecam.rules.rule_passes import contradictions, feasible
from tests.agreement.features import SHARE, tally
from tests.agreement.refusal import keys_in, places_in
from tests.agreement.wider_orders import WIDER

SAMPLE = {
    "good": (8, 9, 15, 17, 18, 21),
    "bevel": (0, 2, 5, 8, 9, 12, 13, 15, 17, 19, 24, 25, 28),
    "detailed": (0, 1, 2, 3, 5, 6, 10, 11, 12, 13, 14, 15, 16, 17, 23, 24, 25, 26, 27, 28, 29),
}
"""Orders that are refused; one that is planned says nothing."""

ALL = os.environ.get("KNIFECAM_GOOD_ORDERS") == "all"


def refusals(kind: str, index: int) -> Iterator[str]:
    """Yield why an order is refused; nothing where it is planned."""
    try:
        order = WIDER[kind](index)
        lines = (*contradictions(order), *feasible(order))
        yield from lines
        if not lines:
            lay_out(order)
    except KnifecamError as refused:
        yield from refused.lines


@pytest.mark.parametrize("kind", SAMPLE)
def test_every_refusal_names_a_key_and_a_place(kind: str) -> None:
    told = [
        line for index in (range(300) if ALL else SAMPLE[kind]) for line in refusals(kind, index)
    ]
    assert len(told) >= len(SAMPLE[kind])
    for line in told:
        assert keys_in(line), line
        assert places_in(line), line


@pytest.mark.parametrize(
    ("line", "keys", "placed"),
    [
        ("tabs.waist=1.500 mm: too narrow", {"waist"}, True),
        ("cutter 3: corner=0.500 mm thickens the tab's root", {"corner"}, True),
        ("an end of the blade hangs out 12 mm; clamp it", set(), False),
        ("room for 2 tabs only, 3 are wanted; order fewer", set(), False),
        ("the outline's width is too small; use a smaller cutter", set(), False),
    ],
)
def test_what_counts_as_key_and_place(line: str, keys: set[str], *, placed: bool) -> None:
    assert keys <= keys_in(line)
    assert bool(keys_in(line)) == bool(keys)
    assert bool(places_in(line)) == placed


@pytest.mark.parametrize("kind", WIDER)
def test_the_seeded_orders_hold_what_they_should(kind: str) -> None:
    count = 300 if ALL else 60
    counts = tally(kind, range(count))
    # a sample's share strays from the generator's by about 4 in a hundred
    least = SHARE if ALL else SHARE / 2
    assert {name: n for name, n in counts.items() if not n >= least * count} == {}

"""Harm that the judge need not find, and why: `docs/explanation/what-the-simulator-cannot-see.md`."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from tests.sabotage.oracle.effect import Effect
from tests.sabotage.oracle.harm import HARMFUL

LOST_STOP = "a stop for the hand is lost"

ASKING = ("FILL GROOVES", "IS ALL THAT SIDE A OPENED FILLED", "TRY THE GAUGE PINS")
"""What the messages of stops begin with that only ask a hand to look or to fill: the cut is the same
without them, and the text does not tell whether the hand did it."""


def argued(effects: Sequence[Effect], good: tuple[str, str], changed: tuple[str, str]) -> str:
    """Return why the judge need not find a change's harm; empty where it must."""
    if {e.what for e in effects if e.grade == HARMFUL} != {LOST_STOP}:
        return ""
    before, after = (sorted(m for t in texts for m in _asked(t)) for texts in (good, changed))
    if len(after) < len(before):
        return "a stop that only asks a hand to fill or to measure"
    return ""


def _asked(text: str) -> list[str]:
    """Return the messages right before sure stops that only ask."""
    rows = text.splitlines()
    return [
        row for row, after in pairwise(rows)
        if row.startswith("(MSG, ") and after.strip() == "M0" and row[6:].startswith(ASKING)
    ]  # fmt: skip

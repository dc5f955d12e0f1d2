"""A kind of harmful change: where it can be done, and how."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.sabotage.changes.text import Text

Places = Callable[[Text], Sequence[Any]]
Change = Callable[[Text, Any, np.random.Generator], Text]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """``places`` lists where a text can be changed so, ``change`` does it at one of them.

    Where the change has an amount, the generator gives it: the same generator, the same change.
    """

    name: str
    places: Places
    change: Change


KINDS: list[Kind] = []


def kind(name: str, places: Places) -> Callable[[Change], Change]:
    """Keep a change as a kind."""

    def keep(change: Change) -> Change:
        KINDS.append(Kind(name=name, places=places, change=change))
        return change

    return keep


def amount(rng: np.random.Generator, low: float = 0.02, high: float = 1.0) -> float:
    """Return a length between two, every size alike, of either sign, on a step of 0.0001 mm."""
    size = float(np.exp(rng.uniform(np.log(low), np.log(high))))
    return round(size, 4) * (1.0 if rng.uniform() < 0.5 else -1.0)

"""Thin metal cut over a void that nothing fills."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.quantity import mm
from knifecam.simulator.case import Case
from knifecam.simulator.columns import cut_laid, sights
from knifecam.simulator.judge.hit import Told, folded
from knifecam.simulator.verdict import Finding

THIN, DEEP = 0.3, 0.3
"""mm: thinner metal over a deeper void wants support (common practice)."""

MOST_PLACES = 5000
"""How many places are looked at, spread over the program."""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind unsupported."""
    upper, lower = case.sides
    if case.order.setup.support != "none" or lower is None or upper is None:
        return
    if lower.swept is None:
        return
    rows = lower.steps
    e = rows.engagement
    thin = np.flatnonzero((e.volume > 1e-6) & (e.floor < THIN))
    thin = thin[:: max(1, len(thin) // MOST_PLACES)]
    seen = sights(rows.place[thin, :2], case.order.setup.plate.thickness)
    cut_laid(seen, upper.laid, side=upper.name, first=upper.first)
    void = case.wanted.face_a - seen.top
    over = void > DEEP
    hits, depth = thin[over], void[over]

    def tell(k: int) -> Told:
        floor = float(e.floor[hits[k]])
        sentence = (
            f"cuts with {mm(floor):.3f} of metal left over a void of {mm(depth[k]):.2f} "
            f"that nothing fills"
        )
        return sentence, floor, THIN

    yield from folded(
        "unsupported", lower, rows.motion[hits], tell=tell, badness=depth,
        places=rows.place[hits], remedy="fill side A's grooves before the flip, scraped flush",
    )  # fmt: skip

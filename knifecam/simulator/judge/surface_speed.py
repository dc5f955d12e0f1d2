"""How fast teeth run through the metal, against what the order gives their stage."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.cutting.speeds import surface_speed
from knifecam.quantity import quantity
from knifecam.simulator.case import Case
from knifecam.simulator.contact import contact_radius
from knifecam.simulator.judge.hit import Told, folded
from knifecam.simulator.side import Side
from knifecam.simulator.steps import Steps
from knifecam.simulator.verdict import Finding

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FASTER, SLOWER = 1.5, 2 / 3
"""A tooth may run faster or slower than the order gives its stage by these factors: half as fast
again wears it several times as fast (Taylor's law, v T^n constant, n 0.2 to 0.3 for coated carbide:
from memory), and a third slower it rubs."""

ROUNDED = 1e-3
"""Share by which S may be off in the text."""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind surface-speed."""
    for side in case.given():
        if side.swept is not None:
            yield from _speeds(side, case)


def _speeds(side: Side, case: Case) -> Iterator[Finding]:
    rows, limits = side.steps, case.stages[side.name]
    turning = (side.trace.spindle != 0) & (side.trace.speed > 0)
    at = np.flatnonzero(case.meets(side) & turning[rows.motion])
    speed = side.trace.speed[rows.motion[at]]
    fastest, slowest = FASTER * limits.fastest[at], SLOWER * limits.slowest[at]
    quick, slow = speed > fastest * (1 + ROUNDED), speed < slowest * (1 - ROUNDED)
    yield from _told(side, rows, at[quick], (speed[quick], limits.fastest[at][quick]), "fast")
    yield from _told(side, rows, at[slow], (speed[slow], limits.slowest[at][slow]), "slow")


def _told(
    side: Side, rows: Steps, hits: Ints, of: tuple[Floats, Floats], how: str
) -> Iterator[Finding]:
    """Yield the hits; ``of``: the spindle's speed there and what the order gives, rev/min."""
    motion, (speed, given) = rows.motion[hits], of
    widest = 2 * contact_radius(side, rows, hits)
    factor, word = (FASTER, "more") if how == "fast" else (SLOWER, "less")

    def tell(k: int) -> Told:
        found, wanted = (surface_speed(float(n), float(widest[k])) for n in (speed[k], given[k]))
        sentence = (
            f"{quantity(found, 'm/min'):.4g} at the contact ({speed[k]:g} rev/min); cutter "
            f"{int(side.trace.cutter[motion[k]])} is given {quantity(wanted, 'm/min'):.4g} there "
            f"({given[k]:g} rev/min), no {word} than {factor * wanted:.4g}"
        )
        return sentence, found, factor * wanted

    yield from folded(
        "surface-speed", side, motion, tell=tell, badness=np.abs(np.log(speed / given)),
        places=rows.place[hits], remedy=f"give S{given[0]:g} for this cut" if len(hits) else "",
    )  # fmt: skip

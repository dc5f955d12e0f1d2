"""How much metal a cutter takes across its way: the section of the chips together, mm2."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.quantity import mm, mm2
from knifecam.simulator.case import Case
from knifecam.simulator.contact import stretched
from knifecam.simulator.judge.entry import SHORT, SLACK, STEEP, judged_rows, way_means
from knifecam.simulator.judge.hit import Told, folded
from knifecam.simulator.side import CONTACT, Side
from knifecam.simulator.stage import THIN
from knifecam.simulator.steps import Steps
from knifecam.simulator.verdict import Finding

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LARGEST = 0.065
"""Of the diameter's square: from a slot 0.07 diameters deep to a side cut 1.3 diameters deep and 0.05
wide, makers' tables for 55 to 65 HRC give no more (a general catalogue of 2022, p. 1301 and 1283)."""

TWICE = 2.0
"""A cutter may take this many times what a full slot of its stage takes, up to `LARGEST`: depth for
width, so that half a slot's width may be four levels deep; strips of `THIN` up to `LARGEST` at once."""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind section."""
    for side in case.given():
        if side.swept is not None and len(side.swept.engagement):
            yield from _sections(side, case)


def _sections(side: Side, case: Case) -> Iterator[Finding]:
    rows, limits = side.steps, case.stages[side.name]
    e, radius = rows.engagement, side.shapes.radius[rows.motion]
    tried = judged_rows(case, side) & rows.moving & (np.abs(rows.fall) < STEEP)
    tried &= (e.volume > CONTACT) & ~side.rapid[rows.motion] & limits.opens
    tried &= side.shapes.half_angle[rows.motion] == 0.0
    at = np.flatnonzero(tried)
    mean = way_means(rows, e.volume, SHORT * case.seen)[at]
    # a strip may seem a row of cells wider than it is, whatever its cells
    row = case.seen * (1.0 + _lead(rows, at, radius[at], case.seen))
    mean = np.minimum(mean, 2 * radius[at] * e.under[at]) - row * e.under[at]
    section = np.maximum(mean, 0.0)
    # the way of the metal on arcs makes sections less: only what seems too much is laid along it
    most, allowed = _most(side, at, slots=limits.slot, section=section)
    much = ~(section <= case.near(most / TWICE, allowed))
    at, section = at[much], section[much]
    section = section / stretched(case.order, side, rows, at, over=SHORT * case.seen)
    most, allowed = _most(side, at, slots=limits.slot, section=section)
    bad = ~(section <= case.near(most / TWICE, allowed))
    hits, found, most = at[bad], section[bad], allowed[bad]

    def tell(k: int) -> Told:
        number = int(side.trace.cutter[rows.motion[hits[k]]])
        deep = float(e.under[hits[k]])
        sentence = (
            f"takes section={mm2(found[k]):.3f} across its way, up to {mm(deep):.3f} deep; cutter "
            f"{number} takes at most {mm2(most[k]):.3f} there"
        )
        return sentence, float(found[k]), float(most[k])

    yield from folded(
        "section", side, rows.motion[hits], tell=tell, badness=found / most,
        places=rows.place[hits],
        remedy="take it in levels, or in thinner laps: what stands there was left by a pass before",
    )  # fmt: skip


def _most(side: Side, at: Ints, *, slots: Floats, section: Floats) -> tuple[Floats, Floats]:
    """Return what section the stage is given, and what is still allowed, (k,) mm2 each.

    ``slots`` (S,) mm is how deep the stages of all steps may slot.
    """
    rows = side.steps
    wide = 2 * side.shapes.radius[rows.motion[at]]
    slot, largest = wide * slots[at], LARGEST * wide**2
    thin = section <= THIN * wide * rows.engagement.under[at]
    most = np.where(thin, largest, np.minimum(TWICE * slot, largest))
    return most, np.maximum(SLACK * slot, most)


def _lead(rows: Steps, at: Ints, radius: Floats, cell: float) -> Floats:
    """Return how much of its own length more of a row of cells a step meets out of the air, (k,).

    A row as wide as a cell, at the flank, is met half a chord ahead of the axis, sqrt(2 R cell).
    """
    e = rows.engagement
    first = np.append(0.0, e.volume)[at] <= CONTACT  # by the step before
    way = np.maximum(e.length[at], SHORT * cell)
    return np.where(first, np.sqrt(2 * radius * cell) / way, 0.0)

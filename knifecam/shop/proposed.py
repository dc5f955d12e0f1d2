"""Cutting data far from what would be proposed: noted loudly, and refused beyond what can be meant.

Only what loads a cutter is compared: depth and way sideways in solid metal, feed of a tooth, speed
of the rim. Less than proposed is slow, not dangerous, and passes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from knifecam.quantity import quantity
from knifecam.shop.cutter import Cutter
from knifecam.shop.defaults import (
    contact_diameter,
    feed_per_tooth,
    stepdown_for,
    stepover_for,
    surface_speed,
)
from knifecam.shop.order_record import Cutting
from knifecam.shop.stages import BORE, BREAK, FINISH, FIT, NECK, NOTCH, ROUGH, SLOT

NOTED, REFUSED = 3.0, 10.0
"""Times the proposed stepdown, stepover or feed of a tooth."""

NOTED_SPEED, REFUSED_SPEED = 1.5, 3.0
"""Times the proposed surface speed."""

HARDNESSES = (50.0, 66.0)
"""HRC: the proposals hold for plates between these (common practice for hardened tool steel)."""

DEEP, ASIDE = (BORE, SLOT, ROUGH, NOTCH, NECK), (BORE, SLOT, ROUGH, NOTCH, BREAK)
RUN = (*DEEP, FIT, FINISH, BREAK)
"""Stages whose stepdown, stepover and speeds are compared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Excess:
    """How far a value lies above what would be proposed, and from where on it is told."""

    where: str
    key: str
    value: float
    proposed: float
    unit: str
    noted: float
    refused: float

    @property
    def times(self) -> float:
        """Return how many times the proposal it is."""
        return self.value / self.proposed

    def said(self) -> str:
        """Return it in words."""
        return (
            f"{self.where}: {self.key}={quantity(self.value, self.unit):.4g} is {self.times:.3g}"
            " times the"
            f" {quantity(self.proposed, self.unit):.4g} that would be proposed"
        )


def excesses(
    cutting: Sequence[Cutting], cutters: Sequence[Cutter], hardness_hrc: float
) -> Iterator[Excess]:
    """Yield what lies above its proposal by more than is noted."""
    known = {c.number: c for c in cutters}
    for entry in cutting:
        if entry.cutter in known:
            for one in _compared(entry, known[entry.cutter], hardness_hrc):
                if one.proposed > 0 and one.times > one.noted * (1 + 1e-9):
                    yield one


def _compared(entry: Cutting, cutter: Cutter, hardness_hrc: float) -> Iterator[Excess]:
    where, stage, diameter = entry.path, entry.stage, contact_diameter(cutter)
    rows: list[tuple[str, float, float, str]] = []
    if stage in DEEP:
        rows.append(("stepdown", entry.stepdown, stepdown_for(stage, cutter.diameter), "mm"))
    if stage in ASIDE:
        rows.append(("stepover", entry.stepover, stepover_for(stage, cutter.diameter), "mm"))
    if stage in RUN and entry.spindle > 0 and cutter.flutes >= 1:
        tooth = entry.feed / (entry.spindle * cutter.flutes)
        rows.append(("feed_per_tooth", tooth, feed_per_tooth(diameter), "mm"))
    for key, value, usual, unit in rows:
        yield Excess(
            where=where, key=key, value=value, proposed=usual, unit=unit, noted=NOTED,
            refused=REFUSED,
        )  # fmt: skip
    if stage in RUN:
        yield Excess(
            where=where, key="surface_speed", value=math.pi * diameter * entry.spindle / 1000,
            proposed=surface_speed(stage, hardness_hrc) / 1000, unit="m/min", noted=NOTED_SPEED,
            refused=REFUSED_SPEED,
        )  # fmt: skip


def of_excess(
    cutting: Sequence[Cutting], cutters: Sequence[Cutter], hardness_hrc: float
) -> Iterator[str]:
    """Yield what lies so far above its proposal that it is taken for a mistake."""
    for one in excesses(cutting, cutters, hardness_hrc):
        if one.times > one.refused * (1 + 1e-9):
            most = one.refused * one.proposed
            yield (
                f"{one.said()}; at most {quantity(most, one.unit):.4g} is taken, so check the"
                " figure typed"
            )

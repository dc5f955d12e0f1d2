"""Whether cutters and their holders pass what stands above the plate: clamps, heads of screws."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from knifecam.curve import Motions
from knifecam.curve.curve import Floats
from knifecam.curve.motions import sampled_places
from knifecam.errors import PlanError
from knifecam.planning.plan import Cut
from knifecam.planning.stop_texts import SCREWS_IN
from knifecam.rules.clamp_rules import (
    OBSTACLE_GAP_MM,
    Obstacle,
    clamps_on,
    height_free_within,
    screw_heads,
    too_tall_line,
    widest_within,
)
from knifecam.shop import Cutter, Order

PASS_STEP_MM = 0.1
"""mm between the places of a pass that are looked at."""


def refuse_touching(order: Order, cuts: Sequence[Cut]) -> None:
    """Raise `PlanError` where a cutter or its holder would run into a clamp or a screw's head.

    Every place of every pass is looked at, rapids too; heads stand from the stop on at which the
    screws are put in. One line for each thing and cutter tells the worst.
    """
    worst: dict[tuple[str, int], _Lack] = {}
    screwed = False
    clamps = {side: tuple(clamps_on(order, side)) for side in "AB"}
    for cut in cuts:
        screwed = screwed or any(words.startswith(SCREWS_IN) for words in cut.stop)
        for thing in (*clamps[cut.side], *(screw_heads(order) if screwed else ())):
            found, key = _lack(order, cut, thing), (thing.name, cut.cutter)
            if found is not None:
                worst[key] = found if key not in worst else worst[key].with_(found)
    if worst:
        raise PlanError([one.told() for one in worst.values()])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lack:
    """How much further away, or lower, a thing would have to be for a cutter to pass it, mm."""

    thing: Obstacle
    cutter: Cutter
    name: str
    further: float
    lower: float

    def with_(self, other: _Lack) -> _Lack:
        """Return the worse of both, as low as both want it."""
        worse = max(self, other, key=lambda one: one.further)
        return replace(worse, lower=max(self.lower, other.lower))

    def told(self) -> str:
        where = f"in the cut {self.name}"
        return too_tall_line(
            self.thing, self.cutter, where=where, lower=self.lower, further=self.further
        )


def _lack(order: Order, cut: Cut, thing: Obstacle) -> _Lack | None:
    """Return what a cut lacks beside a thing, None where it passes."""
    cutter, top = order.cutter(cut.cutter), order.blade.thickness / 2 + thing.height
    places = _near(cut.motions, thing, max(cutter.holder / 2, cutter.shank / 2, cutter.radius), top)
    if not len(places):
        return None
    above, room = top - places[:, 2] + OBSTACLE_GAP_MM, thing.away(places[:, :2]) - OBSTACLE_GAP_MM
    further = float(np.max(widest_within(cutter, above) - room))
    if not further > 0:
        return None
    lower = float(np.max(above - height_free_within(cutter, room)))
    return _Lack(thing=thing, cutter=cutter, name=cut.name, further=further, lower=lower)


def _near(motions: Motions, thing: Obstacle, widest: float, top: float) -> Floats:
    """Return the places (K, 3) of all motions that may come within ``widest`` mm below ``top``."""
    spread = np.where(motions.turns != 0.0, 2 * motions.radii, 0.0)[:, None]
    first, last = motions.start[:, :2], motions.stop[:, :2]
    reach = widest + thing.round_ + OBSTACLE_GAP_MM + spread
    close = (np.minimum(first, last) - reach < thing.high) & (
        np.maximum(first, last) + reach > thing.low
    )
    low = np.minimum(motions.start[:, 2], motions.stop[:, 2]) < top
    kept = np.flatnonzero(close.all(axis=1) & low)
    return sampled_places(motions.only(kept), PASS_STEP_MM) if len(kept) else np.zeros((0, 3))

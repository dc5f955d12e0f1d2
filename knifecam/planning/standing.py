"""Whether cutters and their holders pass what stands above the plate: clamps, heads of screws."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from knifecam.curve import Motions
from knifecam.curve.curve import Floats
from knifecam.curve.motions import sampled_places
from knifecam.errors import PlanError
from knifecam.planning.plan import Cut
from knifecam.planning.stop_words import SCREWS_IN
from knifecam.quantity import mm, most_mm
from knifecam.shop import Cutter, Order
from knifecam.shop.side_view import points_on

SPACING = 0.1
"""mm between the places of a pass that are looked at."""

SPARE = 0.1
"""mm that stay at least between anything that turns and what stands there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thing:
    """A rectangle on a side's plate, in that side's frame, mm, ``height`` mm above its face.

    Grown by ``round_`` mm: a screw's head is a place grown by its radius.
    """

    name: str
    low: tuple[float, float]
    high: tuple[float, float]
    round_: float
    height: float

    def away(self, places: Floats) -> Floats:
        """Return how far places (K, 2) are from it, (K,) mm; 0 over it."""
        gone = np.maximum(np.maximum(self.low - places, places - self.high), 0.0)
        return np.asarray(np.maximum(np.hypot(*gone.T) - self.round_, 0.0))


def clamps_on(order: Order, side: str) -> Iterator[Thing]:
    """Yield the side's clamps in its frame."""
    setup = order.setup
    datum = points_on(side, setup.datum["AB".index(side)], setup.flip)[0]
    for clamp in setup.keep_out:
        if clamp.side == side:
            x, y = datum
            yield Thing(
                name=f"keep_out '{clamp.name}' on side {side}", round_=0.0, height=clamp.height,
                low=(clamp.x_low + x, clamp.y_low + y), high=(clamp.x_high + x, clamp.y_high + y),
            )  # fmt: skip


def heads(order: Order) -> Iterator[Thing]:
    """Yield the heads of the screws that hold the blade on side B, in its frame."""
    setup = order.setup
    for bore in order.blade.bores if setup.hold.kind == "bores" else ():
        if bore.name in setup.hold.screws:
            x, y = (float(c) for c in points_on("B", bore.centre, setup.flip)[0])
            yield Thing(
                name=f"the screw's head over bore '{bore.name}'", low=(x, y), high=(x, y),
                round_=setup.hold.head_diameter / 2, height=setup.hold.head_height,
            )  # fmt: skip


def widest_within(cutter: Cutter, above: Floats) -> Floats:
    """Return the greatest radius, mm, that turns within ``above`` mm of the tip, (K,).

    The flutes, then the neck and its cone up to the shank, from ``stickout`` on the holder.
    """
    cone = cutter.neck / 2 + np.maximum(above - cutter.reach, 0.0) * np.tan(cutter.cone)
    shaft = np.maximum(np.minimum(cone, cutter.shank / 2), cutter.radius)
    held = max(cutter.holder / 2, cutter.radius)
    wide = np.where(above > cutter.stickout, held, shaft)
    return np.asarray(np.where(above > 0, wide, 0.0))


def free_within(cutter: Cutter, room: Floats) -> Floats:
    """Return how far above the tip nothing turns wider than ``room`` (K,) mm; inf for all of it, (K,)."""
    cone = cutter.reach + (room - cutter.neck / 2) / np.tan(cutter.cone)
    free = np.where(room < max(cutter.radius, cutter.neck / 2), 0.0, cone)
    free = np.where(room >= max(cutter.shank / 2, cutter.radius), np.inf, free)
    free = np.minimum(free, cutter.stickout)
    return np.where(room >= max(cutter.holder / 2, cutter.radius), np.inf, free)


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
        for thing in (*clamps[cut.side], *(heads(order) if screwed else ())):
            found, key = _lack(order, cut, thing), (thing.name, cut.cutter)
            if found is not None:
                worst[key] = found if key not in worst else worst[key].with_(found)
    if worst:
        raise PlanError([one.told() for one in worst.values()])


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lack:
    """How much further away, or lower, a thing would have to be for a cutter to pass it, mm."""

    thing: Thing
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
        return too_tall(
            self.thing, self.cutter, where=where, lower=self.lower, further=self.further
        )


def _lack(order: Order, cut: Cut, thing: Thing) -> _Lack | None:
    """Return what a cut lacks beside a thing, None where it passes."""
    cutter, top = order.cutter(cut.cutter), order.blade.thickness / 2 + thing.height
    places = _near(cut.motions, thing, max(cutter.holder / 2, cutter.shank / 2, cutter.radius), top)
    if not len(places):
        return None
    above, room = top - places[:, 2] + SPARE, thing.away(places[:, :2]) - SPARE
    further = float(np.max(widest_within(cutter, above) - room))
    if not further > 0:
        return None
    lower = float(np.max(above - free_within(cutter, room)))
    return _Lack(thing=thing, cutter=cutter, name=cut.name, further=further, lower=lower)


def too_tall(thing: Thing, cutter: Cutter, *, where: str, lower: float, further: float) -> str:
    """Return why a cutter does not pass a thing, which would have to be lower or further away."""
    low = math.floor(10 * (thing.height - lower) + 1e-6) / 10
    ways = ["let the cutter stick out further"]
    if low > 0:
        ways = [f"take a lower one, of at most {most_mm(low):.1f}", *ways]
    if thing.round_ == 0.0:
        ways = [f"set it {mm(math.ceil(10 * further - 1e-6) / 10):.1f} further away", *ways]
    return (
        f"{thing.name}, height={mm(thing.height):.2f}, stands in the way of cutter {cutter.number}"
        f" {where}: {mm(cutter.diameter):.2f} wide, its shank {mm(cutter.shank):.2f}, its holder"
        f" {mm(cutter.holder):.2f} from {mm(cutter.stickout):.2f} above the tip; {', or '.join(ways)}"
    )


def _near(motions: Motions, thing: Thing, widest: float, top: float) -> Floats:
    """Return the places (K, 3) of all motions that may come within ``widest`` mm below ``top``."""
    spread = np.where(motions.turns != 0.0, 2 * motions.radii, 0.0)[:, None]
    first, last = motions.start[:, :2], motions.stop[:, :2]
    reach = widest + thing.round_ + SPARE + spread
    close = (np.minimum(first, last) - reach < thing.high) & (
        np.maximum(first, last) + reach > thing.low
    )
    low = np.minimum(motions.start[:, 2], motions.stop[:, 2]) < top
    kept = np.flatnonzero(close.all(axis=1) & low)
    return sampled_places(motions.only(kept), SPACING) if len(kept) else np.zeros((0, 3))

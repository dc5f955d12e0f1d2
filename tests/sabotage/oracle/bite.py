"""What cutters meet in metal: rapids, feeds and chips, loads, falls, the stock of finishing passes,
minutes against a life. An own walk along the motions.

Each is compared with the same of the good program, so that only what the change has done is told.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, RAPID
from knifecam.shop import Cutting, Order
from tests.sabotage.oracle import harm
from tests.sabotage.oracle.effect import Effect, most_of
from tests.sabotage.oracle.field import Field
from tests.sabotage.oracle.harm import HARMFUL, HARMLESS, NEAR, Band
from tests.sabotage.oracle.side_cut import SideCut
from tests.sabotage.oracle.sights import BEVEL, GROUND, TRENCH, VOID, VOID_NEAR
from tests.sabotage.oracle.stock import stock

WALLS = ("finish", "fit")
"""Stages whose stepdown is the height of a wall."""

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def bites(reference: Field, mutant: Field) -> Iterator[Effect]:
    """Yield what both sides' cutters meet otherwise than with the good programs."""
    for which, (good, side) in enumerate(zip(reference.sides, mutant.sides, strict=True)):
        if side is good and mutant.order is reference.order:
            continue
        yield from _rapids(good, side)
        yield from _feeds(mutant.order, good, side)
        yield from _stage_feeds(mutant.order, good, side)
        yield from _wall_feeds(mutant, good, side)
        yield from _speeds(good, side)
        yield from _loads(mutant.order, good, side)
        yield from _levels(mutant.order, good, side)
        yield from _tall(mutant.order, side)
        yield from _wide(good, side)
        yield from _falls(mutant.order, good, side)
        yield from _wall_stock(
            mutant.order, good, side, np.isin(mutant.sights.role, (VOID, VOID_NEAR))
        )
        final = reference.sides[which].level
        yield from stock(good, side, final, reference.sights.role == BEVEL)


def _cutting(side: SideCut) -> Bools:
    return np.asarray((side.bite > harm.CONTACT) & (side.trace.motions.kind != RAPID))


def _rapids(good: SideCut, side: SideCut) -> Iterator[Effect]:
    rapid = side.trace.motions.kind == RAPID
    yield from most_of("metal met by a rapid", side.bite[rapid], harm.RAPID)


def _feeds(order: Order, good: SideCut, side: SideCut) -> Iterator[Effect]:
    """Yield feeds that the mill does not have, and feeds and chips unlike the order's."""
    feed, cuts = side.trace.motions.feed, _cutting(side)
    wrong = ~((feed > 0) & (feed <= order.setup.mill.feed_high))
    wrong &= side.trace.motions.kind != RAPID
    if wrong.any():
        grade = HARMFUL if (wrong & cuts).any() else NEAR
        yield Effect(
            grade=grade, what="no feed, or more than the mill's", amount=float(wrong.sum())
        )
    for number in sorted({c.cutter for c in order.cutting}):
        entries = [c for c in order.cutting if c.cutter == number]
        mine = cuts & (side.trace.cutter == number)
        for what, given in (
            ("feed", [c.feed for c in entries]),
            ("chip", [c.feed / c.spindle for c in entries]),
        ):
            found, base = _of(side, what), _of(good, what)[_cutting(good) & _by(good, number)]
            yield from most_of(f"{what} too great", found[mine] / max(given), harm.QUICK)
            least = min(min(given), float(base.min(initial=np.inf)))
            if mine.any() and found[mine].min() < harm.SLOW * least:
                low = float(found[mine].min())
                yield Effect(grade=NEAR, what=f"{what} so small that it rubs", amount=low)


def _stage_feeds(order: Order, good: SideCut, side: SideCut) -> Iterator[Effect]:
    """Yield feeds unlike those of the stage that a cut is of, at the rim where that makes a hole.

    Of which stage a cut is tells the spindle's speed that the good program turns there.
    """
    for name, rows in side.cuts.items():
        feed = _stage_feed(order, good, good.cuts.get(name, slice(0)))
        if feed > 0.0:
            found = np.where(_cutting(side), _rim_feeds(side), 0.0)[rows] / feed
            wide = side.inner[rows] > harm.CONTACT
            yield from most_of("feed too great for its stage", found[wide], harm.QUICK)
            beside = Band(low=harm.QUICK.low, high=np.inf)
            yield from most_of("feed too great for its stage", found[~wide], beside)


def _wall_feeds(mutant: Field, good: SideCut, side: SideCut) -> Iterator[Effect]:
    """Yield rims that run faster on arcs than those of the good cut, and than ordered.

    Along a wall that is harmful, in openings and the trench near it is near.
    """
    feeds = side.trace.motions.kind != RAPID
    for roles, band in (
        ((VOID, VOID_NEAR), harm.QUICK), ((GROUND, TRENCH), Band(low=harm.QUICK.low, high=np.inf)),
    ):  # fmt: skip
        found = side.rim_feeds(mutant.sights, roles) * feeds
        usual = good.rim_feeds(mutant.sights, roles)
        for name, rows in side.cuts.items():
            mine = good.cuts.get(name, slice(0))
            most = max(_stage_feed(mutant.order, good, mine), float(usual[mine].max(initial=0.0)))
            if most > 0.0:
                yield from most_of("feed too great at the rim", found[rows] / most, band)


def _stage_feed(order: Order, good: SideCut, rows: slice) -> float:
    """Return the greatest feed that the order gives the stages that a good cut may be of."""
    return max((c.feed for c in _stages(order, good, rows)), default=0.0)


def _stages(order: Order, good: SideCut, rows: slice) -> list[Cutting]:
    """Return what the order gives the cutter of a good cut where it turns as fast as that cut."""
    pairs = set(zip(good.trace.cutter[rows], good.trace.speed[rows], strict=True))
    return [
        c for c in order.cutting
        if any(c.cutter == number and abs(c.spindle - speed) < 1.0 for number, speed in pairs)
    ]  # fmt: skip


def _rim_feeds(side: SideCut) -> Floats:
    """Return the feed of each motion, at the rim where the axis goes round within its radius, (M,)."""
    m = side.trace.motions
    bend = np.where(m.kind == ARC, np.hypot(*(m.start[:, :2] - m.centre).T), np.inf)
    hole = (bend > 0.0) & (bend <= side.strokes.radius) & (np.abs(m.turns) >= 1.0 - 1e-6)
    return np.asarray(
        m.feed * np.where(hole, 1.0 + side.strokes.radius / np.maximum(bend, 1e-9), 1.0)
    )


def _speeds(good: SideCut, side: SideCut) -> Iterator[Effect]:
    """Yield a spindle that turns faster or slower in metal than in the same cut of the good program."""
    cuts, usual = _cutting(side), _cutting(good)
    for name, rows in side.cuts.items():
        mine = good.cuts.get(name, slice(0))
        before, after = good.trace.speed[mine][usual[mine]], side.trace.speed[rows][cuts[rows]]
        if not (len(before) and len(after) and before.min() > 0.0):
            continue
        yield from most_of("teeth too fast for their stage", after / before.max(), harm.FAST)
        slow = before.min() / np.maximum(after[after > 0.0], 1.0)
        yield from most_of("teeth so slow that they rub", slow, harm.LAGS)


def _of(side: SideCut, what: str) -> Floats:
    feed = side.trace.motions.feed
    return np.asarray(feed / np.maximum(side.trace.speed, 1.0) if what == "chip" else feed)


def _by(side: SideCut, number: int) -> Bools:
    return np.asarray(side.trace.cutter == number)


def _greatest(good: SideCut, of: Floats, number: int) -> float:
    mine = _by(good, number) & (good.trace.motions.kind != RAPID)
    return float(of[mine].max(initial=0.0))


def _loads(order: Order, good: SideCut, side: SideCut) -> Iterator[Effect]:
    """Yield more metal under a cutter's middle than it took before, and metal above its flutes.

    Metal with none left below is another load, as of a web that a finishing pass shears. It is
    harmful where it is wide, and more than the order gives the cutter to take in one pass.
    """
    cuts = _cutting(side)
    for number in sorted({c.cutter for c in order.cutting}):
        mine = cuts & _by(side, number)
        turning = mine & (side.trace.spindle == 1)
        tall = side.bite[mine] - order.cutter(number).flute_length
        yield from most_of("metal above the flutes", tall, Band(low=0.0, high=0.1))
        if not _greatest(good, good.inner, number) > 0.0:
            continue
        given = _given(order, number)
        for what, usual, found, broad in (
            ("more metal under the cutter than it takes", good.solid, side.solid, side.broad_solid),
            (
                "a thicker web under it than it takes",
                good.sheared,
                side.sheared,
                side.broad_sheared,
            ),
        ):
            most = max(_greatest(good, usual, number), harm.LEAST_LOAD)
            near = Band(low=harm.LOAD.low * most + harm.LOAD_NEAR, high=np.inf)
            twice = max(harm.LOAD.high * most, harm.LOAD.low * given) + harm.LOAD_SLACK
            harmful = float(broad[turning].max(initial=0.0))
            if harmful >= twice:
                yield Effect(grade=HARMFUL, what=what, amount=harmful)
            else:
                yield from most_of(what, found[turning], near)


def _levels(order: Order, good: SideCut, side: SideCut) -> Iterator[Effect]:
    """Yield a cut deeper, over all its cutter's width, than it is and than its stage is given."""
    for name, rows in side.cuts.items():
        mine = good.cuts.get(name, slice(0))
        feeds = good.trace.motions.kind[mine] != RAPID
        usual = float(good.solid[mine][feeds].max(initial=0.0))
        given = max((c.stepdown for c in _stages(order, good, mine)), default=np.inf)
        found = float(side.broad_solid[rows][_cutting(side)[rows]].max(initial=0.0))
        if (
            usual > 0.0
            and found >= max(harm.LOAD.high * usual, harm.LOAD.low * given) + harm.LOAD_NEAR
        ):
            yield Effect(grade=HARMFUL, what="a level of its stage left out", amount=found)


def _tall(order: Order, side: SideCut) -> Iterator[Effect]:
    """Yield pillars and strips mown in one go, wide enough to reach from the axis toward the rim."""
    turning = _cutting(side) & (side.trace.spindle == 1)
    for number in sorted({c.cutter for c in order.cutting}):
        mine = turning & _by(side, number)
        found = float(side.standing[mine].max(initial=0.0))
        if found >= max(harm.TALL, harm.TALL_LEVELS * _given(order, number)) > 0.0:
            yield Effect(grade=HARMFUL, what="a pillar mown in one go", amount=found)


def _wall_stock(order: Order, good: SideCut, side: SideCut, beside: Bools) -> Iterator[Effect]:
    """Yield metal within the rim of passes that finish a wall, where the good ones meet none such.

    It is harmful well within it and taller than any level, near where it is taller than is usual.
    ``beside`` (n,): sights just off a wall.
    """
    finished, usually = side.finishing(beside), good.finishing(beside)
    for name, rows in side.cuts.items():
        mine = good.cuts.get(name, slice(0))
        finishes = finished[rows] & _cutting(side)[rows]
        if not finishes.any():
            continue
        numbers = np.unique(side.trace.cutter[rows][finishes])
        given = max(_given(order, int(number)) for number in numbers)
        for grade, usual, found in (
            (HARMFUL, good.inner, side.inner), (NEAR, good.off_rim, side.off_rim),
        ):  # fmt: skip
            most = float(usual[mine][usually[mine]].max(initial=0.0))
            limit = max(harm.LOAD.high * most, harm.LOAD.low * given) + harm.WALL_TALL
            if grade == NEAR:
                limit = harm.LOAD.low * most + harm.LOAD_NEAR
            met = float(found[rows][finishes].max())
            if met >= limit:
                yield Effect(grade=grade, what="a wall's finishing pass meets more", amount=met)
                break


def _given(order: Order, number: int) -> float:
    """Return the greatest depth that the order gives a cutter in metal, mm: no wall's height."""
    rows = [c.stepdown for c in order.cutting if c.cutter == number and c.stage not in WALLS]
    return max(rows, default=0.0)


def _wide(good: SideCut, side: SideCut) -> Iterator[Effect]:
    """Yield cuts well within the rim that are deeper than the same cut of the good program takes."""
    feeds, usual = (one.trace.motions.kind != RAPID for one in (side, good))
    for name, rows in side.cuts.items():
        if name in good.cuts:
            mine = good.cuts[name]
            most = max(float(good.inner[mine][usual[mine]].max(initial=0.0)), harm.LEAST_LOAD)
            band = Band(low=harm.LOAD.low * most + harm.LOAD_NEAR, high=np.inf)
            yield from most_of("a cut wider and deeper", side.inner[rows][feeds[rows]], band)


def _falls(order: Order, good: SideCut, side: SideCut) -> Iterator[Effect]:
    """Yield feeds that fall more steeply than the cutter may: into solid metal, or into any."""
    for what, usual, found in (
        (HARMFUL, _slopes(good, good.core), _slopes(side, side.core)),
        (NEAR, _slopes(good, good.bite), _slopes(side, side.bite)),
    ):
        for cutter in order.cutters:
            least = max(_greatest(good, usual, cutter.number), np.tan(np.radians(harm.DESCENT)))
            mine = _by(side, cutter.number) & (side.trace.motions.kind != RAPID)
            steepest = float(found[mine].max(initial=0.0)) / least
            grade = harm.STEEPER.of(steepest)
            if grade != HARMLESS:
                grade = grade if what == HARMFUL else NEAR
                yield Effect(grade=grade, what="a steep fall into metal", amount=steepest)


def _slopes(side: SideCut, met: Floats) -> Floats:
    """Return how steeply motions fall that meet metal, (M,)."""
    m = side.trace.motions
    drop = m.start[:, 2] - m.stop[:, 2]
    flat = np.where(m.kind == ARC, 2 * np.pi * np.abs(m.turns) * m.radii,
                    np.hypot(*(m.stop - m.start)[:, :2].T))  # fmt: skip
    into = (met > harm.FALLS_INTO) & (drop > 0.0)
    return np.where(into, drop / np.maximum(flat, 1e-6), 0.0)

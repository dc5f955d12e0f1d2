"""What a program does on the way, whatever metal it leaves: an own walk along the motions.

Each fact is compared with the same fact of the good program, so that only what the change has done
is told.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, RAPID
from knifecam.sabotage import harm
from knifecam.sabotage.effect import Effect
from knifecam.sabotage.field import Field, SideCut
from knifecam.sabotage.harm import HARMFUL, HARMLESS, NEAR, Band
from knifecam.sabotage.places import places_along
from knifecam.sabotage.sights import ALONG, VOID
from knifecam.sabotage.strokes import mirrored, zero_of
from knifecam.shop import Order
from knifecam.simulator.trace import CONTINUOUS, Act

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

OFFSETS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")
CLEARS = 921
"""G92.1, which only clears a shift."""

OPTIONAL = 10
"""M1, which a switch of the mill leaves out."""


def facts(reference: Field, mutant: Field) -> Iterator[Effect]:
    """Yield what both sides do otherwise than the good programs did."""
    for good, side in zip(reference.sides, mutant.sides, strict=True):
        if side is good and mutant.order is reference.order:
            continue
        for rule in (_modes, _tables, _cuts, _falls, _stops, _hands):
            yield from rule(mutant.order, good, side, mutant)


def _one(grade: str, what: str, amount: float = 0.0) -> Iterator[Effect]:
    if grade != HARMLESS:
        yield Effect(grade=grade, what=what, amount=amount)


def _any(what: str, rows: Bools, grade: str = HARMFUL) -> Iterator[Effect]:
    if rows.any():
        yield from _one(grade, what, float(rows.sum()))


def _most(what: str, amount: Floats, band: Band) -> Iterator[Effect]:
    if len(amount):
        yield from _one(band.of(float(amount.max())), what, float(amount.max()))


def _lowest(side: SideCut) -> Floats:
    return np.minimum(side.strokes.start[:, 2], side.strokes.stop[:, 2])


def _known(order: Order, side: SideCut) -> Bools:
    return np.isin(side.trace.cutter, [c.number for c in order.cutters])


def _modes(order: Order, good: SideCut, side: SideCut, field: Field) -> Iterator[Effect]:
    """Yield what is in force while metal is met, and what the words did to zeros."""
    trace, mill = side.trace, order.setup.mill
    cuts, rapid = side.bite > harm.CONTACT, trace.motions.kind == RAPID
    yield from _any("metal met with the spindle off", cuts & (trace.spindle == 0))
    yield from _any("metal met with the spindle backward", cuts & (trace.spindle < 0))
    fits = (trace.speed >= mill.spindle_low) & (trace.speed <= mill.spindle_high)
    yield from _any("metal met at a speed the spindle has not", cuts & ~fits)
    own, other = (trace.mist, trace.flood) if mill.air_word == "M7" else (trace.flood, trace.mist)
    yield from _any("metal met without air", cuts & ~own)
    yield from _any("metal met with flood on hot carbide", cuts & other)
    yield from _any("metal met with corners rounded", cuts & (trace.path == CONTINUOUS) & ~rapid)
    mine = OFFSETS.index(order.setup.offsets["AB".index(side.name)]) + 1
    yield from _any("moves in another work offset", trace.offset != mine)
    low = _lowest(side) < side.face + mill.rapid_height + 1e-3
    low |= (
        trace.motions.stop[:, 2] + zero_of(order.setup, side.name)
    ) < side.face + mill.rapid_height
    yield from _any("low with another length, or none", low & (trace.length != trace.cutter))
    pin = trace.cutter == order.setup.gauge
    yield from _any("low with a cutter the order does not have", low & ~_known(order, side) & ~pin)
    for act in trace.acts:
        if act.kind == "set-offset" or (act.kind == "shift" and round(act.number) != CLEARS):
            yield from _one(HARMFUL, "a zero that was touched off is overwritten")


def _tables(order: Order, good: SideCut, side: SideCut, field: Field) -> Iterator[Effect]:
    """Yield where the mill or the bed ends, and rapids low over the plate."""
    mill, m = order.setup.mill, side.trace.motions
    told = np.asarray(side.trace.known)
    for axis in range(3):
        at = m.stop[np.append(told[1:, axis], True)[: len(m)], axis]
        if axis < 2:
            arcs = np.flatnonzero((m.kind == ARC) & told[:, axis])
            at = np.append(at, places_along(m, arcs, most=17)[0][:, axis])
        reach = float(np.ptp(at)) if len(at) else 0.0
        if reach > mill.travel[axis] + harm.BED.high:
            yield from _one(HARMFUL, f"more travel of {'XYZ'[axis]} than the mill has", reach)
    known = _known(order, side)
    sunk = np.where(known, -order.setup.plate.thickness / 2 - _lowest(side), -np.inf)
    yield from _most("the bed cut", sunk - order.setup.bed_allowance, harm.BED)
    across = np.hypot(*(m.stop - m.start)[:, :2].T) > 1e-6
    low = (m.kind == RAPID) & across & (_lowest(side) < side.face + mill.rapid_height - 1e-3)
    yield from _any("a rapid across lower than rapids run", low[1:], NEAR)


def _cuts(order: Order, good: SideCut, side: SideCut, field: Field) -> Iterator[Effect]:
    """Yield rapids in metal, loads, feeds and chips."""
    trace, kind = side.trace, side.trace.motions.kind
    yield from _most("metal met by a rapid", side.bite[kind == RAPID], harm.RAPID)
    cuts = (side.bite > harm.CONTACT) & (kind != RAPID)
    feed = trace.motions.feed
    yield from _any(
        "no feed, or more than the mill's",
        cuts & ~((feed > 0) & (feed <= order.setup.mill.feed_high)),
    )
    for number in sorted({c.cutter for c in order.cutting}):
        entries = [c for c in order.cutting if c.cutter == number]
        mine = cuts & (trace.cutter == number)
        cutter = order.cutter(number)
        chip = feed / np.maximum(trace.speed, 1.0)
        for what, found, given in (
            ("feed", feed, [c.feed for c in entries]),
            ("chip", chip, [c.feed / c.spindle for c in entries]),
        ):
            yield from _most(f"{what} too great", found[mine] / max(given), harm.QUICK)
            base = _least_in(good, number, what)
            if mine.any() and found[mine].min() < harm.SLOW * min(min(given), base):
                yield from _one(NEAR, f"{what} so small that it rubs", float(found[mine].min()))
        heavy = side.core[mine & (trace.spindle == 1)]
        most = _greatest(good, good.core, number)
        if len(heavy) and most > 0.0:
            over = (float(heavy.max()) - harm.LOAD_SLACK) / most
            yield from _one(
                harm.LOAD.of(over), "more metal under the cutter than it takes", float(heavy.max())
            )
        tall = side.bite[mine] - cutter.flute_length
        yield from _most("metal above the flutes", tall, Band(low=0.0, high=0.1))


def _least_in(good: SideCut, number: int, what: str) -> float:
    trace = good.trace
    mine = (good.bite > harm.CONTACT) & (trace.motions.kind != RAPID) & (trace.cutter == number)
    found = trace.motions.feed / (np.maximum(trace.speed, 1.0) if what == "chip" else 1.0)
    return float(found[mine].min()) if mine.any() else np.inf


def _greatest(good: SideCut, of: Floats, number: int) -> float:
    mine = (good.trace.cutter == number) & (good.trace.motions.kind != RAPID)
    return float(of[mine].max()) if mine.any() else 0.0


def _falls(order: Order, good: SideCut, side: SideCut, field: Field) -> Iterator[Effect]:
    """Yield feeds that fall into solid metal more steeply than the cutter may."""
    slope, usual = _slopes(side), _slopes(good)
    for cutter in order.cutters:
        least = max(_greatest(good, usual, cutter.number), np.tan(np.radians(harm.DESCENT)))
        mine = (side.trace.cutter == cutter.number) & (side.trace.motions.kind != RAPID)
        yield from _most("a fall into solid metal too steep", slope[mine] / least, harm.STEEPER)


def _slopes(side: SideCut) -> Floats:
    """Return how steeply motions fall that meet metal under the middle of their cutters, (M,)."""
    m = side.trace.motions
    drop = m.start[:, 2] - m.stop[:, 2]
    flat = np.where(m.kind == ARC, 2 * np.pi * np.abs(m.turns) * m.radii,
                    np.hypot(*(m.stop - m.start)[:, :2].T))  # fmt: skip
    solid = (side.core > harm.FALLS_INTO) & (drop > 0.0)
    return np.where(solid, drop / np.maximum(flat, 1e-6), 0.0)


def _stops(order: Order, good: SideCut, side: SideCut, field: Field) -> Iterator[Effect]:
    """Yield what is amiss where hands work, and metal met before the spindle is up to speed."""
    sure, fewer = _halts(side), _halts(good)
    if len(sure[True]) < len(fewer[True]):
        yield from _one(
            HARMFUL, "a stop for the hand is lost", float(len(fewer[True]) - len(sure[True]))
        )
    elif sure != fewer:
        yield from _one(NEAR, "stops elsewhere, at other heights, or other optional ones")
    spinning = False
    for act in side.trace.acts:
        if act.kind == "spindle":
            spinning = round(act.number) != 50
        hand = act.kind == "change" or (act.kind == "stop" and round(act.number) != OPTIONAL)
        if hand and spinning:
            yield from _one(HARMFUL, "hands work while the spindle turns")
        if hand and act.before and _height(side, act) < harm.AT_HAND:
            yield from _one(HARMFUL, "hands work right over the plate", _height(side, act))
    for wait in _waits(side):
        share = wait / order.setup.mill.spin_up if order.setup.mill.spin_up else 1.0
        if share < 1.0 - 1e-9:
            grade = HARMFUL if share < harm.WAIT else NEAR
            yield from _one(grade, "metal met before the spindle is up to speed", wait)
    if [a.number for a in side.trace.acts if a.kind == "change"] != [
        a.number for a in good.trace.acts if a.kind == "change"
    ]:
        yield from _one(NEAR, "other changes of cutter")


def _height(side: SideCut, act: Act) -> float:
    return float(side.strokes.stop[act.before - 1, 2]) - side.face


def _halts(side: SideCut) -> dict[bool, list[float]]:
    """Return the heights over the plate of sure and of optional stops, in turn."""
    found: dict[bool, list[float]] = {True: [], False: []}
    for act in side.trace.acts:
        if act.kind == "stop":
            height = _height(side, act) if act.before else np.inf
            height = height if height < 1e3 else np.inf
            found[round(act.number) != OPTIONAL].append(
                round(height, 3) if height < np.inf else height
            )
    return found


def _waits(side: SideCut) -> Iterator[float]:
    """Yield how long the spindle has had, s, when it first meets metal after each start."""
    acts = [a for a in side.trace.acts if a.kind in ("spindle", "dwell")]
    busy = np.flatnonzero(side.bite > harm.CONTACT)
    for k, act in enumerate(acts):
        if act.kind != "spindle" or round(act.number) == 50:
            continue
        later = next((a.before for a in acts[k + 1 :] if a.kind == "spindle"), len(side.bite))
        first = busy[(busy >= act.before) & (busy < later)]
        if len(first):
            yield sum(a.number for a in acts[k + 1 :] if a.kind == "dwell" and a.before <= first[0]
                      and a.before <= later)  # fmt: skip


def _hands(order: Order, good: SideCut, side: SideCut, field: Field) -> Iterator[Effect]:
    """Yield how much more of the walls is finished on the wrong hand of travel, mm."""
    if order is not field.order:
        return
    more = against(order, side, field) - against(order, good, field)
    if more > 0.0:
        grade = HARMFUL if more > harm.AGAINST else NEAR
        yield from _one(grade, "a wall finished on the wrong hand", more)


def against(order: Order, side: SideCut, field: Field) -> float:
    """Return the length of walls finished with the blade on the left of travel, mm."""
    pairs, strokes, sights = side.pairs, side.strokes, field.sights
    rows = np.flatnonzero((sights.role[pairs.place] == VOID) & (side.removed > harm.CONTACT))
    motion, place = pairs.motion[rows], pairs.place[rows]
    radius = strokes.radius[motion]
    skims = (pairs.near[rows] > radius - 0.03) & (side.trace.motions.kind[motion] != RAPID)
    motion, place = motion[skims], place[skims]
    at = np.column_stack([sights.x[place], sights.y[place]])
    way = (strokes.stop - strokes.start)[motion, :2]
    arm = at - strokes.centre[motion]
    sense = np.sign(strokes.turns[motion])
    arc = sense != 0.0
    way = np.where(arc[:, None], sense[:, None] * np.column_stack([-arm[:, 1], arm[:, 0]]), way)
    toward = sights.toward[place]
    hand = np.sign(way[:, 0] * toward[:, 1] - way[:, 1] * toward[:, 0])
    signs = mirrored(order.setup, side.name)
    wrong = hand * signs[0] * signs[1] < 0.0
    return float(len(np.unique(place[wrong]))) * ALONG

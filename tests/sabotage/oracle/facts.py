"""Modes, zeros, lengths, travel, the fixture, and what stops at which hands work: an own walk along the
motions and words of a program, whatever metal it leaves."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, RAPID
from knifecam.rs274.trace import CONTINUOUS, Act
from knifecam.shop import Order
from tests.sabotage.oracle import harm
from tests.sabotage.oracle.effect import Effect
from tests.sabotage.oracle.field import Field
from tests.sabotage.oracle.harm import HARMFUL, HARMLESS, NEAR
from tests.sabotage.oracle.places import places_along
from tests.sabotage.oracle.side_cut import SideCut
from tests.sabotage.oracle.strokes import zero_of

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

OFFSETS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")
CLEARS = 921
"""G92.1, which only clears a shift."""


def facts(reference: Field, mutant: Field) -> Iterator[Effect]:
    """Yield what both sides do otherwise than the good programs did."""
    for good, side in zip(reference.sides, mutant.sides, strict=True):
        if side is good and mutant.order is reference.order:
            continue
        for rule in (_modes, _tables, _stops):
            yield from rule(mutant.order, good, side, mutant)


def _one(grade: str, what: str, amount: float = 0.0) -> Iterator[Effect]:
    if grade != HARMLESS:
        yield Effect(grade=grade, what=what, amount=amount)


def _any(what: str, rows: Bools, grade: str = HARMFUL) -> Iterator[Effect]:
    if rows.any():
        yield from _one(grade, what, float(rows.sum()))


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
    own, other = (
        (trace.mist, trace.flood) if mill.coolant_code == "M7" else (trace.flood, trace.mist)
    )
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
    """Yield where the mill or the fixture ends, and rapids low over the plate."""
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
    below = float(sunk.max(initial=-np.inf)) - order.setup.fixture_allowance
    yield from _one(harm.BED.of(below), "the fixture cut", below)
    across = np.hypot(*(m.stop - m.start)[:, :2].T) > 1e-6
    standing = [box.height for box in order.setup.clamps if box.side == side.name]
    plane = side.face + mill.rapid_height + max([0.0, *standing])
    low = (m.kind == RAPID) & across & (_lowest(side) < plane - 1e-3)
    yield from _any("a rapid across lower than rapids run", low[1:], NEAR)
    falling = (m.kind == RAPID) & (m.stop[:, 2] < m.start[:, 2] - 1e-6)
    low = falling & (_lowest(side) < side.face + mill.approach_gap - 1e-3)
    yield from _any("a rapid down lower than feed begins", low[1:], NEAR)


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
    yield from _in_metal(side)
    yield from _messages(side, good)
    for act in side.trace.acts:
        if act.kind == "spindle":
            spinning = round(act.number) != 50
        hand = act.kind == "change" or (act.kind == "stop" and round(act.number) != harm.OPTIONAL)
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


def _messages(side: SideCut, good: SideCut) -> Iterator[Effect]:
    """Yield messages to the hand that are others than those of the good program, cut by cut.

    A cut done twice tells them twice.
    """
    usual: dict[str, list[list[str]]] = {}
    before, after = ([text for _, told in _told(one) for text in told] for one in (good, side))
    if before == after:
        return
    for cut, told in _told(good):
        usual.setdefault(cut, []).append(told)
    others = fewer = 0
    for cut, told in _told(side):
        known = usual.get(cut, [])
        fewer += told not in known and any(len(told) < len(one) for one in known)
        others += told not in known and not any(len(told) < len(one) for one in known)
    lost = len(before) - len(after)
    if others:
        yield from _one(HARMFUL, "the hand is told otherwise", float(others))
    elif fewer or lost > 0:
        yield from _one(NEAR, "a message to the hand is lost", float(max(fewer, lost)))
    elif lost < 0:
        yield from _one(NEAR, "the hand is told once more", float(-lost))


def _told(side: SideCut) -> list[tuple[str, list[str]]]:
    """Return each cut's remark, "" before the first, with its messages to the hand."""
    found: list[tuple[str, list[str]]] = [("", [])]
    for act in side.trace.acts:
        text = " ".join(act.text.split()) if act.kind == "comment" else ""
        if text.startswith("CUT "):
            found.append((text, []))
        elif "MSG" in text:
            found[-1][1].append(text)
    return found


def _in_metal(side: SideCut) -> Iterator[Effect]:
    """Yield stops, dwells and switches of the spindle between two motions that both meet metal.

    A cutter that has met metal right before and meets it right after stands in it, unless it was
    lifted: another speed is given there too, told by the motions' own.
    """
    busy = side.bite > harm.CONTACT
    between = np.zeros(len(busy), bool)
    between[1:] = busy[1:] & busy[:-1]
    for act in side.trace.acts:
        still = act.kind in ("stop", "change", "spindle") or (
            act.kind == "dwell" and act.number > 0
        )
        if still and 0 < act.before < len(busy) and between[act.before]:
            yield from _one(HARMFUL, f"a {act.kind} with the cutter in metal", act.number)
    speed = side.trace.speed
    other = np.zeros(len(busy), bool)
    other[1:] = np.abs(speed[1:] - speed[:-1]) > harm.SPEED * speed[1:]
    yield from _any("another speed with the cutter in metal", between & other)


def _height(side: SideCut, act: Act) -> float:
    return float(side.strokes.stop[act.before - 1, 2]) - side.face


def _halts(side: SideCut) -> dict[bool, list[float]]:
    """Return the heights over the plate of sure and of optional stops, in turn."""
    found: dict[bool, list[float]] = {True: [], False: []}
    for act in side.trace.acts:
        if act.kind == "stop":
            height = _height(side, act) if act.before else np.inf
            height = height if height < 1e3 else np.inf
            found[round(act.number) != harm.OPTIONAL].append(
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

"""Feeds, and the contact minutes they add up to."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.quantity import bare, mm, quantity
from knifecam.shop import Order
from knifecam.simulator.case import Case
from knifecam.simulator.contact import contact_feed
from knifecam.simulator.judge.gaps import stopped_by
from knifecam.simulator.judge.hit import Told, at_motion, folded
from knifecam.simulator.side import Side
from knifecam.simulator.steps import Steps
from knifecam.simulator.trace import Act
from knifecam.simulator.verdict import Finding

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

QUICKER = 1.5
"""A contact may be this much quicker than the feed that the order gives its stage."""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds feed and life."""
    for side in case.given():
        yield from _limits(side, case.order.setup.mill.feed_high)
        if side.swept is not None:
            yield from _too_quick(side, case)
        yield from _life(side, case.order)


def _limits(side: Side, highest: float) -> Iterator[Finding]:
    feed = side.motions.feed
    hits = np.flatnonzero(~side.rapid & ~((feed > 0) & (feed <= highest)))

    def tell(k: int) -> Told:
        found = float(feed[hits[k]])
        sentence = (
            f"feed={quantity(found, 'mm/min'):g} must be above 0 and at most"
            f" {quantity(highest, 'mm/min'):g}"
        )
        return sentence, found, highest

    yield from folded("feed", side, hits, tell=tell, remedy="give F within the mill's limits")


def _too_quick(side: Side, case: Case) -> Iterator[Finding]:
    """Yield where the contact moves far faster, or a tooth takes far more, than the stage is given."""
    rows, limits = side.steps, case.stages[side.name]
    at = np.flatnonzero(case.meets(side))
    motion = rows.motion[at]
    feed = contact_feed(case.order, side, rows, at)
    given, tooth = limits.feed[at], limits.tooth[at]
    quick = np.flatnonzero(~(feed <= QUICKER * given + 1e-6))

    def tell(k: int) -> Told:
        row = quick[k]
        axis, found = float(side.motions.feed[motion[row]]), float(feed[row])
        how = "" if found == axis else f", which is {bare(axis):g} at the axis on this arc"
        sentence = (
            f"feed={quantity(found, 'mm/min'):.5g} in metal{how}; cutter"
            f" {int(side.trace.cutter[motion[row]])} is"
            f" given at most {quantity(given[row], 'mm/min'):g} there, half as much again at corners"
        )
        return sentence, found, QUICKER * float(given[row])

    yield from folded(
        "feed", side, motion[quick], tell=tell, badness=feed[quick] / given[quick],
        places=rows.place[at[quick]], remedy="lower F on this line",
    )  # fmt: skip
    yield from _too_thick(side, case.order, rows, at, (feed, tooth))


def _too_thick(
    side: Side, order: Order, rows: Steps, at: Ints, of: tuple[Floats, Floats]
) -> Iterator[Finding]:
    """Yield where a tooth takes far more than the order lets it: F is right but S is too low.

    ``of``: the contact's feed and what the order gives a tooth, (k,) mm/min and mm.
    """
    (feed, given), motion = of, rows.motion[at]
    flutes = np.ones(len(at))
    for cutter in order.cutters:
        flutes[side.trace.cutter[motion] == cutter.number] = cutter.flutes
    speed = side.trace.speed[motion]
    chip = np.where(speed > 0, feed / np.maximum(speed, 1.0) / flutes, 0.0)
    hits = np.flatnonzero(~(chip <= QUICKER * given + 1e-9))

    def tell(k: int) -> Told:
        found, limit = float(chip[hits[k]]), float(given[hits[k]])
        sentence = (
            f"a tooth of cutter {int(side.trace.cutter[motion[hits[k]]])} takes {mm(found):.4f} at "
            f"this feed and spindle speed; the order gives it at most {mm(limit):.4f} there, half as "
            f"much again is let pass"
        )
        return sentence, found, QUICKER * limit

    yield from folded(
        "feed", side, motion[hits], tell=tell, badness=chip[hits] / given[hits],
        places=rows.place[at[hits]], remedy="raise S or lower F",
    )  # fmt: skip


def spells(side: Side) -> dict[int, list[tuple[int, int]]]:
    """Return by cutter the motion ranges cut with one and the same edge.

    After a stop by hand that no switch leaves out, a change to the number already in the spindle
    brings a fresh cutter, and a change to another number where the stop's message asks for one.
    """
    ranges: dict[int, list[tuple[int, int]]] = {}
    held, begun, stopped, asked = 0, 0, False, False
    for act in side.trace.acts:
        stopped = stopped_by(act, stopped)
        asked = asked or _asks_for_fresh(act)
        if act.kind == "change":
            ranges.setdefault(held, []).append((begun, act.before))
            number = round(act.number)
            if stopped and (number == held or asked):
                ranges.setdefault(number, []).append((-1, -1))
            held, begun, stopped, asked = number, act.before, False, False
    ranges.setdefault(held, []).append((begun, len(side)))
    return ranges


def _asks_for_fresh(act: Act) -> bool:
    """Return whether a message (NISTIR 6556, 3.3) asks for a fresh cutter."""
    words = act.text.upper().replace(",", " ").split() if act.kind == "comment" else []
    return words[:1] == ["MSG"] and "FRESH" in words


def contact_minutes(side: Side) -> dict[int, list[tuple[float, int]]]:
    """Return by cutter, for each edge it is used with, contact minutes and the last motion."""
    spent = np.where(side.contact, side.minutes, 0.0)
    found: dict[int, list[tuple[float, int]]] = {}
    for number, ranges in spells(side).items():
        rows = [(0.0, -1)]
        for low, high in ranges:
            if low < 0:
                rows.append((0.0, -1))
                continue
            minutes, last = rows[-1]
            busy = np.flatnonzero(spent[low:high])
            rows[-1] = (
                minutes + float(spent[low:high].sum()),
                low + int(busy[-1]) if len(busy) else last,
            )
        found[number] = [row for row in rows if row[1] >= 0]
    return {number: rows for number, rows in found.items() if rows}


def _life(side: Side, order: Order) -> Iterator[Finding]:
    for number, rows in contact_minutes(side).items():
        stated = [c.life for c in order.cutting if c.cutter == number]
        if not stated:
            continue
        for minutes, last in rows:
            if not minutes <= max(stated) + 1e-9:
                sentence = (
                    f"cutter {number} is in metal for {minutes:.1f} min; "
                    f"its life is {max(stated):g} min"
                )
                told = (sentence, minutes, max(stated))
                yield at_motion("life", side, last, told, "split the cut and change the cutter")

"""Feeds, and the contact minutes they add up to."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.shop import Order
from knifecam.simulator.case import Case
from knifecam.simulator.judge.gaps import stopped_by
from knifecam.simulator.judge.hit import Told, at_motion, folded
from knifecam.simulator.side import Side
from knifecam.simulator.trace import Act
from knifecam.simulator.verdict import Finding

QUICKER = 1.5
"""A contact may be this much quicker than the greatest feed the order gives the cutter."""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds feed and life."""
    for side in case.given():
        yield from _limits(side, case.order.setup.mill.feed_high)
        yield from _too_quick(side, case.order)
        yield from _too_thick(side, case.order)
        yield from _life(side, case.order)


def _limits(side: Side, highest: float) -> Iterator[Finding]:
    feed = side.motions.feed
    hits = np.flatnonzero(~side.rapid & ~((feed > 0) & (feed <= highest)))

    def tell(k: int) -> Told:
        found = float(feed[hits[k]])
        sentence = f"feed={found:g} mm/min must be above 0 and at most {highest:g} mm/min"
        return sentence, found, highest

    yield from folded("feed", side, hits, tell=tell, remedy="give F within the mill's limits")


def _too_quick(side: Side, order: Order) -> Iterator[Finding]:
    feed = side.motions.feed
    for number in sorted({c.cutter for c in order.cutting}):
        greatest = max(c.feed for c in order.cutting if c.cutter == number)
        allowed = QUICKER * greatest
        mine = (side.trace.cutter == number) & side.contact & ~side.rapid
        hits = np.flatnonzero(mine & ~(feed <= allowed + 1e-6))

        def tell(
            k: int,
            hits: NDArray[np.int64] = hits,
            number: int = number,
            allowed: float = allowed,
        ) -> Told:
            found = float(feed[hits[k]])
            sentence = (
                f"feed={found:g} mm/min in metal; cutter {number} is given at most "
                f"{allowed / QUICKER:g} mm/min, half as much again at corners"
            )
            return sentence, found, allowed

        yield from folded(
            "feed", side, hits, tell=tell, badness=feed[hits], remedy="lower F on this line"
        )


def _too_thick(side: Side, order: Order) -> Iterator[Finding]:
    """Yield where a tooth takes far more than the order lets it: F is right but S is too low."""
    for number in sorted({c.cutter for c in order.cutting}):
        flutes = order.cutter(number).flutes
        greatest = max(c.feed / c.spindle for c in order.cutting if c.cutter == number) / flutes
        mine = (side.trace.cutter == number) & side.contact & ~side.rapid & (side.trace.speed > 0)
        chip = side.motions.feed / np.maximum(side.trace.speed, 1.0) / flutes
        hits = np.flatnonzero(mine & ~(chip <= QUICKER * greatest + 1e-9))

        def tell(
            k: int,
            hits: NDArray[np.int64] = hits,
            chip: NDArray[np.float64] = chip,
            number: int = number,
            greatest: float = greatest,
        ) -> Told:
            found = float(chip[hits[k]])
            sentence = (
                f"a tooth of cutter {number} takes {found:.4f} mm at this feed and spindle speed; the"
                f" order gives it at most {greatest:.4f} mm, half as much again is let pass"
            )
            return sentence, found, QUICKER * greatest

        yield from folded(
            "feed", side, hits, tell=tell, badness=chip[hits], remedy="raise S or lower F"
        )


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

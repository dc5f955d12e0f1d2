"""Whether a cutter that was put in proves its length before it cuts.

A length check is a stop low over the plate that was reached straight down by feed from a stop high
up, and left straight up to another stop high up: there the gap is read, here a block passes, and
there a hand takes it away before the spindle turns.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.quantity import mm
from knifecam.shop import Mill, Order
from knifecam.simulator.judge.hit import LAST_DIGIT, at_line
from knifecam.simulator.side import Side
from knifecam.simulator.trace import Act
from knifecam.simulator.verdict import Finding

STOP_HEIGHT = 5.0
"""mm above the plate's upper face: the least at which a hand comes near (common practice)."""

STILL = 1e-6
"""mm: a motion that goes less far sideways goes straight up or down."""

OPTIONAL = 10
"""The number of M1, which a switch of the mill leaves out."""


def hand_height(mill: Mill) -> float:
    """Return how far above the plate the tip must be while hands work, mm."""
    return max(STOP_HEIGHT, mill.change_height)


def sideways(side: Side, motion: int) -> float:
    """How far a motion goes in X and Y, mm; inf where it comes from a place nobody told."""
    known, after = np.asarray(side.trace.known)[motion, :2], side.known_after[motion, :2]
    if not np.array_equal(known, after):
        return float("inf")
    if side.motions.turns[motion] != 0.0:
        return float(side.motions.lengths[motion])
    step = side.motions.stop[motion] - side.motions.start[motion]
    return float(np.hypot(step[0], step[1]))


def stopped_by(act: Act, stopped: bool) -> bool:
    """Return whether a hand was at the spindle: since a stop no switch leaves out, until M3 or M5."""
    if act.kind == "stop" and round(act.number) != OPTIONAL:
        return True
    return stopped and act.kind != "spindle"


def why_no_length_check(side: Side, stop: Act, mill: Mill) -> str:
    """Return why a low stop is no length check; empty where it is one."""
    down, up = stop.before - 1, stop.before
    high = side.face + hand_height(mill) - LAST_DIGIT
    starts, stops = side.motions.start, side.motions.stop
    if side.rapid[down] or not sideways(side, down) <= STILL or not starts[down, 2] >= high:
        return "it was not reached straight down by feed from that height"
    if not any(a.kind == "stop" and a.before == down for a in side.trace.acts):
        return "there was no stop up there to read the gap"
    if up >= len(side) or not sideways(side, up) <= STILL or not stops[up, 2] >= high:
        return "it was not left straight up to that height"
    return ""


def length_checks(side: Side, mill: Mill) -> frozenset[int]:
    """Return the lines of all stops that belong to length checks: reading, block, taking it away."""
    stops = [a for a in side.trace.acts if a.kind == "stop" and a.before > 0]
    low = side.face + hand_height(mill) - LAST_DIGIT
    blocks = {
        s.before
        for s in stops
        if side.motions.stop[s.before - 1, 2] < low and not why_no_length_check(side, s, mill)
    }
    near = {before + step for before in blocks for step in (-1, 0, 1)}
    return frozenset(s.line for s in stops if s.before in near)


def find_gaps(side: Side, order: Order) -> Iterator[Finding]:
    """Yield the cutters that go in and cut with no length check, or with the block still there.

    A cutter of another number than the one before, and any that went in at a stop by hand, wants
    stops that no switch leaves out, the one high up where the gap is read among them; on a mill
    that changes by itself, that is its first use.
    """
    if not order.setup.gap_stop:
        return
    acts, held, used, by_hand = side.trace.acts, 0, set[int](), False
    changes = [k for k, act in enumerate(acts) if act.kind == "change"]
    for k, act in enumerate(acts):
        by_hand = stopped_by(act, by_hand)
        if act.kind != "change":
            continue
        number = round(act.number)
        other = number != held and (order.setup.mill.change_by_hand or number not in used)
        end = next((acts[j].before for j in changes if j > k), len(side))
        yield from _checked(side, order, act, end, sure=other or by_hand)
        held, by_hand = number, False
        used.add(number)


def _checked(side: Side, order: Order, change: Act, end: int, *, sure: bool) -> Iterator[Finding]:
    mill, gap = order.setup.mill, order.setup.gap_height
    busy = np.flatnonzero(side.contact[change.before : end])
    if not len(busy):
        return
    cut = change.before + int(busy[0])
    stops = [
        act
        for act in side.trace.acts
        if act.kind == "stop"
        and change.before < act.before <= cut
        and not (sure and round(act.number) == OPTIONAL)
    ]
    kept = "" if sure else " (M1 would do)"
    number = round(change.number)
    blocks = [
        s
        for s in stops
        if _is_at(side, s, gap)
        and side.trace.length[s.before - 1] == number
        and not why_no_length_check(side, s, mill)
        and any(high.before == s.before - 1 for high in stops)
    ]
    cutter = f"cutter {number}"
    if not blocks:
        sentence = (
            f"{cutter} goes in and cuts with no stop at gap={mm(gap):g} to prove its length{kept}"
        )
        remedy = f"after M6 stop high up, feed down to {mm(gap):g}, stop for a block, lift, stop"
        yield at_line("stop", side.name, change.line, sentence, remedy, allowed=gap)
        return
    last = blocks[-1]
    turned = [a.line for a in side.trace.acts if a.kind == "spindle" and a.line > last.line]
    spins = min(turned, default=len(side.text))
    if not any(s.before == last.before + 1 and s.line < spins for s in stops):
        sentence = (
            f"after the block under {cutter} the spindle starts with no stop to take it away{kept}"
        )
        remedy = "lift to the change height, then stop once more before M3"
        yield at_line("stop", side.name, last.line, sentence, remedy)


def _is_at(side: Side, stop: Act, gap: float) -> bool:
    height = float(side.motions.stop[stop.before - 1, 2]) - side.face
    return abs(height - gap) <= LAST_DIGIT

"""The cutter in the spindle and its length offset."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.simulator.case import Case
from knifecam.simulator.judge.hit import LAST_DIGIT, Told, at_line, folded
from knifecam.simulator.side import Side
from knifecam.simulator.verdict import Finding


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds unknown-cutter and length-offset."""
    known = [cutter.number for cutter in case.order.cutters]
    for side in case.given():
        yield from _unknown(side, known, case.order.setup.gauge)
        yield from _length(side, case.order.setup.mill.rapid_height, case.order.setup.gauge)


def _unknown(side: Side, known: list[int], gauge: int) -> Iterator[Finding]:
    listed = ", ".join(str(n) for n in known)
    for act in side.trace.acts:
        number = round(act.number)
        if act.kind == "change" and number not in known and number != gauge:
            sentence = f"cutter={number} is not among the order's cutters ({listed})"
            yield at_line("unknown-cutter", side.name, act.line, sentence, "add it to the order")
    trace = side.trace
    empty = np.flatnonzero((trace.cutter == 0) & ~side.rapid)

    def bare(_: int) -> Told:
        return "feeds before any cutter was called", None, None

    yield from folded("unknown-cutter", side, empty, tell=bare, remedy="call T and M6 first")
    low = side.motions.stop[:, 2] < side.face - 1e-6
    pin = trace.cutter == gauge if gauge not in known else np.zeros(len(side), bool)
    turning = np.flatnonzero(pin & ((trace.spindle != 0) | low))

    def tell(k: int) -> Told:
        spinning = trace.spindle[turning[k]] != 0
        what = "with the spindle on" if spinning else "below the plate's upper face"
        return f"the gauge pin, number {gauge}, moves {what}", None, None

    yield from folded(
        "unknown-cutter", side, turning, tell=tell, remedy="keep the gauge pin still and above"
    )


def _length(side: Side, rapid_height: float, gauge: int) -> Iterator[Finding]:
    trace, motions = side.trace, side.motions
    lowest = np.fmin(motions.start[:, 2], motions.stop[:, 2])
    near = lowest <= side.face + rapid_height + LAST_DIGIT
    wrong = (trace.length != trace.cutter) & (near | side.contact)
    hits = np.flatnonzero(wrong & (trace.cutter != 0) & (trace.cutter != gauge))

    def tell(k: int) -> Told:
        held, found = int(trace.cutter[hits[k]]), int(trace.length[hits[k]])
        word = f"H{found}" if found else "no length offset"
        return f"cutter={held} moves with {word} in force; its own is H{held}", found, held

    yield from folded(
        "length-offset",
        side,
        hits,
        tell=tell,
        remedy="give G43 with the cutter's own number after every change",
    )

"""The straight probe, G38.2.

A probe stops where it touches, which no text tells. The motion is recorded as a feed to the
programmed place, the furthest it may go; where the axes it moved then stand is unknown.

References: NISTIR 6556, 3.5.9 (G38.2).
"""

from __future__ import annotations

import math

from knifecam.errors import ProgramError
from knifecam.quantity import mm
from knifecam.simulator.rs274.codes import PROBE_G38_2, g_name
from knifecam.simulator.rs274.modal import PROBED, State
from knifecam.simulator.rs274.planes import Place
from knifecam.simulator.rs274.record import Record
from knifecam.simulator.rs274.travel import Words, axis_bits, feed_of, feed_straight

LEAST = 0.254
"""mm: how far a probe must have to go; 0.01 inch is the same."""


def probe(words: Words, stop: Place, state: State, record: Record, line: int) -> None:
    """Do G38.2.

    Raises
    ------
    ProgramError
        In G93, under compensation, without feed, and where the place is unknown or too near.
    """
    name = g_name(PROBE_G38_2)
    if state.hand:
        raise ProgramError(f"{name} cannot be used while compensation is on")
    if state.inverse_time:
        raise ProgramError(f"{name} cannot be used in G93")
    moved = axis_bits(words)
    state.rely_on_place(moved, name)
    feed = feed_of(name, words, state, 1.0)
    away = math.dist(state.place, stop)
    if not away >= LEAST:
        raise ProgramError(f"{name} goes {mm(away):.4f}; it must have {mm(LEAST):g} or more to go")
    record.act("probe", line, PROBE_G38_2)
    feed_straight(stop, feed, state, record, line)
    state.forget(moved)
    record.reached = state.known
    for number in PROBED:
        state.parameters.pop(number, None)

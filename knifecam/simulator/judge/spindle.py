"""Spindle and air at the moment a cutter meets metal."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.shop import Mill
from knifecam.simulator.case import Case
from knifecam.simulator.judge.hit import Told, folded
from knifecam.simulator.modes import dwelled
from knifecam.simulator.side import Side
from knifecam.simulator.verdict import Finding

AIR_WORDS = {"M7": "mist", "M8": "flood"}


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds spindle and coolant."""
    mill = case.order.setup.mill
    for side in case.given():
        yield from _turning(side)
        yield from _speed(side, mill)
        yield from _spun_up(side, mill)
        yield from _air(side, mill)


def _turning(side: Side) -> Iterator[Finding]:
    hits = np.flatnonzero(side.contact & (side.trace.spindle != 1))

    def tell(k: int) -> Told:
        off = side.trace.spindle[hits[k]] == 0
        state = "the spindle is off" if off else "the spindle turns backward (M4)"
        return f"meets metal while {state}", None, None

    yield from folded(
        "spindle", side, hits, tell=tell, badness=side.volume[hits], remedy="start it with M3 first"
    )


def _speed(side: Side, mill: Mill) -> Iterator[Finding]:
    speed = side.trace.speed
    fits = (speed >= mill.spindle_low) & (speed <= mill.spindle_high)
    hits = np.flatnonzero((side.trace.spindle != 0) & ~fits)

    def tell(k: int) -> Told:
        found = float(speed[hits[k]])
        allowed = mill.spindle_low if found < mill.spindle_low else mill.spindle_high
        sentence = (
            f"spindle={found:g} rev/min must be within the mill's "
            f"{mill.spindle_low:g}..{mill.spindle_high:g} rev/min"
        )
        return sentence, found, allowed

    yield from folded("spindle", side, hits, tell=tell, remedy="give S within the mill's range")


def _spun_up(side: Side, mill: Mill) -> Iterator[Finding]:
    waited = dwelled(side.trace)
    hits = np.flatnonzero(side.contact & ~(waited >= mill.spin_up - 1e-9))

    def tell(k: int) -> Told:
        found = float(waited[hits[k]])
        sentence = f"dwell={found:g} s after M3; the spindle needs {mill.spin_up:g} s to come up"
        return sentence, found, mill.spin_up

    yield from folded("spindle", side, hits, tell=tell, remedy=f"add G4 P{mill.spin_up:g} after M3")


def _air(side: Side, mill: Mill) -> Iterator[Finding]:
    own = AIR_WORDS.get(mill.air_word, "mist")
    on = {"mist": side.trace.mist, "flood": side.trace.flood}
    other = "flood" if own == "mist" else "mist"
    other_word = next(word for word, name in AIR_WORDS.items() if name == other)
    dry = np.flatnonzero(side.contact & ~on[own])

    def missing(_: int) -> Told:
        return f"meets metal without air: {mill.air_word} is off", None, None

    yield from folded(
        "coolant", side, dry, tell=missing, badness=side.volume[dry],
        remedy=f"give {mill.air_word} before the cut",
    )  # fmt: skip
    wet = np.flatnonzero(side.contact & on[other])

    def wrong(_: int) -> Told:
        return (
            f"{other_word} is on: air is {mill.air_word}, and liquid cracks hot carbide",
            None,
            None,
        )

    yield from folded("coolant", side, wet, tell=wrong, remedy=f"remove {other_word}")

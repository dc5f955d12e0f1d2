"""What was in force when: the acts of a trace followed motion by motion."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.simulator.trace import Act, Trace

HAND_STOP = "stop"


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What runs when an act comes up: spindle (1, 0, -1), mist and flood."""

    act: Act
    spindle: int
    mist: bool
    flood: bool


def standings(trace: Trace) -> Iterator[Standing]:
    """Yield every act with what ran just before it."""
    spindle, mist, flood = 0, False, False
    for act in trace.acts:
        yield Standing(act=act, spindle=spindle, mist=mist, flood=flood)
        if act.kind == "spindle":
            spindle = {30: 1, 40: -1}.get(round(act.number), 0)
        elif act.kind == "change":
            spindle = 0
        elif act.kind == "coolant":
            word = round(act.number)
            mist = word == 70 or (mist and word != 90)
            flood = word == 80 or (flood and word != 90)


def dwelled(trace: Trace) -> NDArray[np.float64]:
    """Return for each motion the seconds dwelled since the spindle was last started, (M,).

    inf where the spindle never was started or stopped: other findings speak of that.
    """
    waited = np.full(len(trace.line), np.inf)
    seconds = np.inf
    for act in trace.acts:
        if act.kind == "spindle" and round(act.number) in (30, 40):
            seconds = 0.0
        elif act.kind == "dwell":
            seconds += act.number
        else:
            continue
        waited[act.before :] = seconds
    return waited


def since(trace: Trace, kinds: tuple[str, ...]) -> NDArray[np.int64]:
    """Return for each motion the index of the last act of one of ``kinds`` before it, or -1."""
    last = np.full(len(trace.line), -1)
    for k, act in enumerate(trace.acts):
        if act.kind in kinds:
            last[act.before :] = k
    return last

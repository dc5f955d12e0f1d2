"""Probing in a program that cuts: the order has no probe, so that a cutter would touch."""

from __future__ import annotations

from collections.abc import Iterator

from knifecam.simulator.case import Case
from knifecam.simulator.judge.hit import Told, at_motion
from knifecam.simulator.side import Side
from knifecam.simulator.verdict import Finding

REMEDY = "probe in a program of its own, with a probe in the spindle and the spindle off"


def find(case: Case) -> Iterator[Finding]:
    """Yield a finding of the kind probe for every G38.2."""
    for side in case.given():
        for act in side.trace.acts:
            if act.kind == "probe":
                yield at_motion("probe", side, act.before, _told(side, act.before), REMEDY)


def _told(side: Side, motion: int) -> Told:
    cutter = int(side.trace.cutter[motion])
    if side.trace.spindle[motion] != 0:
        return f"cutter {cutter} probes while it turns: it mills what it should touch", None, None
    if not side.contact[motion]:
        sentence = f"cutter {cutter} probes and meets no metal up to the end: the mill stops there"
        return sentence, None, None
    sentence = f"cutter {cutter} probes: the order has no probe, and no text tells where it stops"
    return sentence, None, None

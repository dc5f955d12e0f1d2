"""Stops, cutter changes, and the first move after them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.shop import Mill
from knifecam.simulator.case import Case
from knifecam.simulator.judge.hit import LAST_DIGIT, at_line, at_motion
from knifecam.simulator.judge.keep_out import first_outline_cut
from knifecam.simulator.modes import Standing, standings
from knifecam.simulator.side import Side
from knifecam.simulator.trace import Act
from knifecam.simulator.verdict import Finding

STOP_HEIGHT = 5.0
"""mm above the plate's upper face: the least at which a hand comes near (common practice)."""

STILL = 1e-6
"""mm: a motion that goes less far sideways goes straight up or down."""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds stop and first-move."""
    mill = case.order.setup.mill
    for side in case.given():
        for standing in standings(side.trace):
            if standing.act.kind in ("stop", "change"):
                yield from _at_stop(side, standing)
        for act in side.trace.acts:
            if act.kind == "stop":
                yield from _resumed(side, act, mill)
        yield from _first_moves(side, mill)
        yield from _screws(side, case)


def _screws(side: Side, case: Case) -> Iterator[Finding]:
    """Yield where the outline is opened on side B with no stop to put the screws in before."""
    hold = case.order.setup.hold
    if side.name != "B" or hold.kind != "bores" or not hold.screws:
        return
    outline = first_outline_cut(side, case)
    if outline >= len(side):
        return
    opened = int(np.flatnonzero(side.contact[:outline])[-1]) if side.contact[:outline].any() else -1
    if any(a.kind == "stop" and opened < a.before <= outline for a in side.trace.acts):
        return
    sentence = "the outline is opened with no stop after the bores in which screws can be put in"
    yield at_motion("stop", side, outline, (sentence, None, None), "stop with M0 before this cut")


def _named(act: Act) -> str:
    return "the cutter change" if act.kind == "change" else "the stop"


def _at_stop(side: Side, standing: Standing) -> Iterator[Finding]:
    act = standing.act
    remedy = "retract, then M5 and M9, before M0 or M6"
    running = [
        *(["the spindle"] if standing.spindle else []),
        *(["air or coolant"] if standing.mist or standing.flood else []),
    ]
    if running:
        sentence = f"{' and '.join(running)} still on at {_named(act)}"
        yield at_line("stop", side.name, act.line, sentence, remedy)
    if act.before == 0:
        return
    height = float(side.motions.stop[act.before - 1, 2]) - side.face
    if not height >= STOP_HEIGHT - LAST_DIGIT:
        sentence = (
            f"height={height:.3f} mm above the plate at {_named(act)}; "
            f"the tip must be {STOP_HEIGHT:g} mm or more above it"
        )
        yield at_line(
            "stop", side.name, act.line, sentence, remedy, measured=height, allowed=STOP_HEIGHT
        )


def _resumed(side: Side, stop: Act, mill: Mill) -> Iterator[Finding]:
    """Judge how a program goes on after a stop: spindle, dwell, air, then Z."""
    busy = np.flatnonzero(side.contact[stop.before :])
    ends = [a.before for a in side.trace.acts if a.kind == "stop" and a.before > stop.before]
    if not len(busy) or (ends and stop.before + busy[0] >= min(ends)):
        return
    cut = stop.before + int(busy[0])
    between = [a for a in side.trace.acts if stop.before <= a.before <= cut and a.line > stop.line]
    started = [k for k, a in enumerate(between) if a.kind == "spindle" and round(a.number) == 30]
    waited = sum(a.number for a in between[started[-1] :] if a.kind == "dwell") if started else 0.0
    air = {"M7": 70, "M8": 80}.get(mill.air_word, 70)
    missing = [
        *([] if started else ["M3"]),
        *([] if waited >= mill.spin_up - 1e-9 else [f"a dwell of {mill.spin_up:g} s"]),
        *([] if any(a.kind == "coolant" and round(a.number) == air for a in between)
          else [mill.air_word]),
    ]  # fmt: skip
    remedy = "after every stop give M3 with S, the dwell and the air word, then move Z first"
    if missing:
        sentence = f"cuts again after the stop in line {stop.line} without {', '.join(missing)}"
        yield at_motion("stop", side, cut, (sentence, None, None), remedy)
    if not _safe(side, stop.before, side.face + mill.rapid_height):
        sentence = f"moves sideways first after the stop in line {stop.line}, below rapid height"
        yield at_motion("stop", side, stop.before, (sentence, None, None), remedy)


def _safe(side: Side, motion: int, plane: float) -> bool:
    """Whether a motion goes along Z only, or stays at rapid height."""
    start, stop = side.motions.start[motion], side.motions.stop[motion]
    upright = _sideways(side, motion) <= STILL
    return bool(upright or min(start[2], stop[2]) >= plane - LAST_DIGIT)


def _sideways(side: Side, motion: int) -> float:
    """How far a motion goes in X and Y, mm; inf where it comes from a place nobody told."""
    known, after = np.asarray(side.trace.known)[motion, :2], side.known_after[motion, :2]
    if not np.array_equal(known, after):
        return float("inf")
    if side.motions.turns[motion] != 0.0:
        return float(side.motions.lengths[motion])
    step = side.motions.stop[motion] - side.motions.start[motion]
    return float(np.hypot(step[0], step[1]))


def _first_moves(side: Side, mill: Mill) -> Iterator[Finding]:
    plane = side.face + mill.rapid_height
    begun = {
        a.before: f"G43 H{round(a.number)}"
        for a in side.trace.acts
        if a.kind == "length" and a.number > 0
    }
    if len(side):
        begun.setdefault(0, "the program's start")
    for motion, after in sorted(begun.items()):
        if motion >= len(side):
            continue
        stop = float(side.motions.stop[motion, 2])
        remedy = f"move Z alone to {mill.rapid_height:g} mm above the plate first, then X and Y"
        if not _sideways(side, motion) <= STILL:
            sentence = f"the first move after {after} goes sideways; it must be Z only"
            yield at_motion("first-move", side, motion, (sentence, None, None), remedy)
        elif not stop >= plane - LAST_DIGIT:
            height = stop - side.face
            sentence = (
                f"the first move after {after} ends height={height:.3f} mm above the plate; "
                f"rapid height is {mill.rapid_height:g} mm"
            )
            told = (sentence, height, mill.rapid_height)
            yield at_motion("first-move", side, motion, told, remedy)

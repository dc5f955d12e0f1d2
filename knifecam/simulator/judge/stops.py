"""Stops, cutter changes, where hands work, and the first move after them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.quantity import bare, mm
from knifecam.shop import Mill
from knifecam.simulator.case import Case
from knifecam.simulator.judge.gaps import (
    OPTIONAL,
    STILL,
    STOP_HEIGHT,
    find_gaps,
    hand_height,
    length_checks,
    sideways,
    stopped_by,
    why_no_length_check,
)
from knifecam.simulator.judge.hit import LAST_DIGIT, Told, at_line, at_motion, folded
from knifecam.simulator.judge.keep_out import first_outline_cut
from knifecam.simulator.modes import Standing, standings
from knifecam.simulator.side import Side
from knifecam.simulator.trace import Act
from knifecam.simulator.verdict import Finding

HERE = 1e-3
"""mm: a tip so near to a place stands there."""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds stop and first-move."""
    mill = case.order.setup.mill
    for side in case.given():
        for standing in standings(side.trace):
            if standing.act.kind in ("stop", "change", "end"):
                yield from _at_stop(side, standing, mill)
        for act in side.trace.acts:
            if act.kind == "stop":
                yield from _resumed(side, act, mill)
        yield from _by_hand(side, mill)
        yield from find_gaps(side, case.order)
        yield from _first_moves(side, mill)
        yield from _low_rapids(side, mill)
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
    checks = length_checks(side, case.order.setup.mill)
    for act in side.trace.acts:
        sure = act.kind == "stop" and round(act.number) != OPTIONAL and act.line not in checks
        if sure and opened < act.before <= outline:
            return
    sentence = "the outline is opened with no stop after the bores in which screws can be put in"
    yield at_motion("stop", side, outline, (sentence, None, None), "stop with M0 before this cut")


def _named(act: Act) -> str:
    return {"change": "the cutter change", "end": "the program's end"}.get(act.kind, "the stop")


def _at_stop(side: Side, standing: Standing, mill: Mill) -> Iterator[Finding]:
    act = standing.act
    remedy = (
        f"retract to {mm(hand_height(mill)):g} above the plate, then M5 and M9, before M0 or M6"
    )
    running = [
        *(["the spindle"] if standing.spindle else []),
        *(["air or coolant"] if standing.mist or standing.flood else []),
    ]
    if running and act.kind != "end":
        sentence = f"{' and '.join(running)} still on at {_named(act)}"
        yield at_line("stop", side.name, act.line, sentence, remedy)
    if act.before == 0:
        return
    height = float(side.motions.stop[act.before - 1, 2]) - side.face
    alone = act.kind == "change" and not mill.change_by_hand
    least, why = STOP_HEIGHT if alone else hand_height(mill), ""
    if act.kind == "stop" and STOP_HEIGHT - LAST_DIGIT <= height < least - LAST_DIGIT:
        why = why_no_length_check(side, act, mill)
        if not why:
            return
        why = f", and lower is for checking a length only: {why}"
    if not height >= least - LAST_DIGIT:
        sentence = (
            f"height={mm(height):.3f} above the plate at {_named(act)}; "
            f"the tip must be {mm(least):g} or more above it{why}"
        )
        yield at_line("stop", side.name, act.line, sentence, remedy, measured=height, allowed=least)


def _by_hand(side: Side, mill: Mill) -> Iterator[Finding]:
    """Yield cutters that a hand must put in with no stop for it, or away from the place for it."""
    if not mill.change_by_hand:
        return
    held, stopped = 0, False
    for act in side.trace.acts:
        stopped = stopped_by(act, stopped)
        if act.kind != "change":
            continue
        number = round(act.number)
        if number != held:
            if not stopped:
                sentence = f"cutter {number} goes in by hand with no stop right before M6"
                yield at_line("stop", side.name, act.line, sentence, "stop with M0 before M6")
            yield from _aside(side, act, mill)
        held, stopped = number, False


def _aside(side: Side, change: Act, mill: Mill) -> Iterator[Finding]:
    place = mill.change_place["AB".index(side.name)] if mill.change_place else None
    if place is None or change.before == 0:
        return
    x, y = (float(v) for v in side.trace.motions.stop[change.before - 1, :2])
    if not (abs(x - place[0]) <= HERE and abs(y - place[1]) <= HERE):
        sentence = (
            f"the cutter is changed at X{bare(x):.3f} Y{bare(y):.3f}; the order has it done at"
            f" X{bare(place[0]):g} Y{bare(place[1]):g}"
        )
        remedy = "go there high up before the stop"
        yield at_line("stop", side.name, change.line, sentence, remedy)


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
    upright = sideways(side, motion) <= STILL
    return bool(upright or min(start[2], stop[2]) >= plane - LAST_DIGIT)


def _low_rapids(side: Side, mill: Mill) -> Iterator[Finding]:
    """Yield rapids sideways lower than the rapid height: a clamp or a bowed plate may stand there."""
    m, plane = side.motions, side.face + mill.rapid_height - LAST_DIGIT
    known = np.asarray(side.trace.known)
    lowest = np.minimum(m.start[:, 2], m.stop[:, 2])
    across = np.hypot(*(m.stop - m.start)[:, :2].T) > STILL
    hits = np.flatnonzero(side.rapid & known[:, 2] & across & ~(lowest >= plane))

    def tell(k: int) -> Told:
        height = float(lowest[hits[k]]) - side.face
        sentence = (
            f"a rapid goes sideways at height={mm(height):.3f} above the plate; "
            f"rapid height is {mm(mill.rapid_height):g}"
        )
        return sentence, height, mill.rapid_height

    remedy = f"lift to {mm(mill.rapid_height):g} above the plate first"
    yield from folded("first-move", side, hits, tell=tell, remedy=remedy)


def _first_moves(side: Side, mill: Mill) -> Iterator[Finding]:
    begun = {
        a.before: f"G43 H{round(a.number)}"
        for a in side.trace.acts
        if a.kind == "length" and a.number > 0
    }
    changed = {a.before for a in side.trace.acts if a.kind == "change"} | {0}
    if len(side):
        begun.setdefault(0, "the program's start")
    for motion, after in sorted(begun.items()):
        if motion >= len(side):
            continue
        stop = float(side.motions.stop[motion, 2])
        new = motion in changed
        least = hand_height(mill) if new else mill.rapid_height
        plane = side.face + least
        remedy = f"move Z alone to {mm(least):g} above the plate first, then X and Y"
        if not sideways(side, motion) <= STILL:
            sentence = f"the first move after {after} goes sideways; it must be Z only"
            yield at_motion("first-move", side, motion, (sentence, None, None), remedy)
        elif not stop >= plane - LAST_DIGIT:
            height = stop - side.face
            sentence = (
                f"the first move after {after} ends height={mm(height):.3f} above the plate; "
                f"{'change' if new else 'rapid'} height is {mm(least):g}"
            )
            told = (sentence, height, least)
            yield at_motion("first-move", side, motion, told, remedy)

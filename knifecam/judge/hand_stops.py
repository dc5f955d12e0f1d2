"""Stops, cutter changes and first moves; whether a cutter proves its length, on bare plate.

A length check is a stop low over the plate that was reached straight down by feed from a stop high
up, and left straight up to another stop high up: there the gap is read, here a block passes, and
there a hand takes it away before the spindle turns.

Under the cutter nothing may have been cut on that side before the check, and nothing below it on
the other; the place lies in the border, clear of clamps by the holder and `CLAMP_GAP_MM`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from knifecam.curve import signed_distance
from knifecam.judge.collisions import clamp_gaps, first_outline_cut
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, Message, at_line, at_motion, first_and_worst
from knifecam.judge.judge_limits import (
    CLAMP_GAP_MM,
    HERE_MM,
    LAST_DIGIT_MM,
    STILL_MM,
    STOP_HEIGHT_MM,
    UNDER_CUTTER_PLACES,
    UNDER_CUTTER_SHARES,
)
from knifecam.measure.case import Case
from knifecam.measure.sample_columns import cut_with_some, near_motions
from knifecam.quantity import bare, mm
from knifecam.rs274.restart_points import ModesInForce, modes_in_force
from knifecam.rs274.trace import Act
from knifecam.shop import Mill, Order
from knifecam.sweep.columns import SampleColumns, sample_columns
from knifecam.sweep.side_frames import to_part, to_side_plane
from knifecam.sweep.side_program import SideProgram

OPTIONAL_STOP_NUMBER = 10
"""The number of M1, which a switch of the mill leaves out."""


def hand_height(mill: Mill) -> float:
    """Return how far above the plate the tip must be while hands work, mm."""
    return max(STOP_HEIGHT_MM, mill.change_height)


def sideways(side: SideProgram, motion: int) -> float:
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
    if act.kind == "stop" and round(act.number) != OPTIONAL_STOP_NUMBER:
        return True
    return stopped and act.kind != "spindle"


def why_no_length_check(side: SideProgram, stop: Act, mill: Mill) -> str:
    """Return why a low stop is no length check; empty where it is one."""
    down, up = stop.before - 1, stop.before
    high = side.face + hand_height(mill) - LAST_DIGIT_MM
    starts, stops = side.motions.start, side.motions.stop
    if side.rapid[down] or not sideways(side, down) <= STILL_MM or not starts[down, 2] >= high:
        return "it was not reached straight down by feed from that height"
    if not any(a.kind == "stop" and a.before == down for a in side.trace.acts):
        return "there was no stop up there to read the gap"
    if up >= len(side) or not sideways(side, up) <= STILL_MM or not stops[up, 2] >= high:
        return "it was not left straight up to that height"
    return ""


def length_checks(side: SideProgram, mill: Mill) -> frozenset[int]:
    """Return the lines of all stops that belong to length checks: reading, block, taking it away."""
    stops = [a for a in side.trace.acts if a.kind == "stop" and a.before > 0]
    low = side.face + hand_height(mill) - LAST_DIGIT_MM
    blocks = {
        s.before
        for s in stops
        if side.motions.stop[s.before - 1, 2] < low and not why_no_length_check(side, s, mill)
    }
    near = {before + step for before in blocks for step in (-1, 0, 1)}
    return frozenset(s.line for s in stops if s.before in near)


def find_length_checks(side: SideProgram, order: Order) -> Iterator[Finding]:
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


def _checked(
    side: SideProgram, order: Order, change: Act, end: int, *, sure: bool
) -> Iterator[Finding]:
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
        and not (sure and round(act.number) == OPTIONAL_STOP_NUMBER)
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
        yield at_line(Kind.STOP, side.name, change.line, sentence, remedy, allowed=gap)
        return
    last = blocks[-1]
    turned = [a.line for a in side.trace.acts if a.kind == "spindle" and a.line > last.line]
    spins = min(turned, default=len(side.text))
    if not any(s.before == last.before + 1 and s.line < spins for s in stops):
        sentence = (
            f"after the block under {cutter} the spindle starts with no stop to take it away{kept}"
        )
        remedy = "lift to the change height, then stop once more before M3"
        yield at_line(Kind.STOP, side.name, last.line, sentence, remedy)


def _is_at(side: SideProgram, stop: Act, gap: float) -> bool:
    height = float(side.motions.stop[stop.before - 1, 2]) - side.face
    return abs(height - gap) <= LAST_DIGIT_MM


def find_stops(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds stop and first-move."""
    mill = case.order.setup.mill
    for side in case.given():
        for standing in modes_in_force(side.trace):
            if standing.act.kind in ("stop", "change", "end"):
                yield from _at_stop(side, standing, mill)
        for act in side.trace.acts:
            if act.kind == "stop":
                yield from _resumed(side, act, mill)
        yield from _by_hand(side, mill)
        yield from find_length_checks(side, case.order)
        yield from _first_moves(side, mill)
        yield from _low_rapids(side, mill)
        yield from _screws(side, case)


def _screws(side: SideProgram, case: Case) -> Iterator[Finding]:
    """Yield where the outline is opened on side B with no stop to put the screws in before."""
    hold = case.order.setup.workholding
    if side.name != "B" or hold.kind != "bores" or not hold.screws:
        return
    outline = first_outline_cut(side, case)
    if outline >= len(side):
        return
    opened = int(np.flatnonzero(side.contact[:outline])[-1]) if side.contact[:outline].any() else -1
    checks = length_checks(side, case.order.setup.mill)
    for act in side.trace.acts:
        sure = (
            act.kind == "stop"
            and round(act.number) != OPTIONAL_STOP_NUMBER
            and act.line not in checks
        )
        if sure and opened < act.before <= outline:
            return
    sentence = "the outline is opened with no stop after the bores in which screws can be put in"
    yield at_motion(
        Kind.STOP, side, outline, (sentence, None, None), "stop with M0 before this cut"
    )


def _named(act: Act) -> str:
    return {"change": "the cutter change", "end": "the program's end"}.get(act.kind, "the stop")


def _at_stop(side: SideProgram, standing: ModesInForce, mill: Mill) -> Iterator[Finding]:
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
        yield at_line(Kind.STOP, side.name, act.line, sentence, remedy)
    if act.before == 0:
        return
    height = float(side.motions.stop[act.before - 1, 2]) - side.face
    alone = act.kind == "change" and not mill.change_by_hand
    least, why = STOP_HEIGHT_MM if alone else hand_height(mill), ""
    if act.kind == "stop" and STOP_HEIGHT_MM - LAST_DIGIT_MM <= height < least - LAST_DIGIT_MM:
        why = why_no_length_check(side, act, mill)
        if not why:
            return
        why = f", and lower is for checking a length only: {why}"
    if not height >= least - LAST_DIGIT_MM:
        sentence = (
            f"height={mm(height):.3f} above the plate at {_named(act)}; "
            f"the tip must be {mm(least):g} or more above it{why}"
        )
        yield at_line(
            Kind.STOP, side.name, act.line, sentence, remedy, measured=height, allowed=least
        )


def _by_hand(side: SideProgram, mill: Mill) -> Iterator[Finding]:
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
                yield at_line(Kind.STOP, side.name, act.line, sentence, "stop with M0 before M6")
            yield from _aside(side, act, mill)
        held, stopped = number, False


def _aside(side: SideProgram, change: Act, mill: Mill) -> Iterator[Finding]:
    place = mill.change_place["AB".index(side.name)] if mill.change_place else None
    if place is None or change.before == 0:
        return
    x, y = (float(v) for v in side.trace.motions.stop[change.before - 1, :2])
    if not (abs(x - place[0]) <= HERE_MM and abs(y - place[1]) <= HERE_MM):
        sentence = (
            f"the cutter is changed at X{bare(x):.3f} Y{bare(y):.3f}; the order has it done at"
            f" X{bare(place[0]):g} Y{bare(place[1]):g}"
        )
        remedy = "go there high up before the stop"
        yield at_line(Kind.STOP, side.name, change.line, sentence, remedy)


def _resumed(side: SideProgram, stop: Act, mill: Mill) -> Iterator[Finding]:
    """Judge how a program goes on after a stop: spindle, dwell, air, then Z."""
    busy = np.flatnonzero(side.contact[stop.before :])
    ends = [a.before for a in side.trace.acts if a.kind == "stop" and a.before > stop.before]
    if not len(busy) or (ends and stop.before + busy[0] >= min(ends)):
        return
    cut = stop.before + int(busy[0])
    between = [a for a in side.trace.acts if stop.before <= a.before <= cut and a.line > stop.line]
    started = [k for k, a in enumerate(between) if a.kind == "spindle" and round(a.number) == 30]
    waited = sum(a.number for a in between[started[-1] :] if a.kind == "dwell") if started else 0.0
    air = {"M7": 70, "M8": 80}.get(mill.coolant_code, 70)
    missing = [
        *([] if started else ["M3"]),
        *([] if waited >= mill.spin_up - 1e-9 else [f"a dwell of {mill.spin_up:g} s"]),
        *([] if any(a.kind == "coolant" and round(a.number) == air for a in between)
          else [mill.coolant_code]),
    ]  # fmt: skip
    remedy = "after every stop give M3 with S, the dwell and the air word, then move Z first"
    if missing:
        sentence = f"cuts again after the stop in line {stop.line} without {', '.join(missing)}"
        yield at_motion(Kind.STOP, side, cut, (sentence, None, None), remedy)
    if not _safe(side, stop.before, side.face + mill.rapid_height):
        sentence = f"moves sideways first after the stop in line {stop.line}, below rapid height"
        yield at_motion(Kind.STOP, side, stop.before, (sentence, None, None), remedy)


def _safe(side: SideProgram, motion: int, plane: float) -> bool:
    """Whether a motion goes along Z only, or stays at rapid height."""
    start, stop = side.motions.start[motion], side.motions.stop[motion]
    upright = sideways(side, motion) <= STILL_MM
    return bool(upright or min(start[2], stop[2]) >= plane - LAST_DIGIT_MM)


def _low_rapids(side: SideProgram, mill: Mill) -> Iterator[Finding]:
    """Yield rapids sideways lower than the rapid height: a clamp or a bowed plate may stand there."""
    m, plane = side.motions, side.face + mill.rapid_height - LAST_DIGIT_MM
    known = np.asarray(side.trace.known)
    lowest = np.minimum(m.start[:, 2], m.stop[:, 2])
    across = np.hypot(*(m.stop - m.start)[:, :2].T) > STILL_MM
    hits = np.flatnonzero(side.rapid & known[:, 2] & across & ~(lowest >= plane))

    def tell(k: int) -> Message:
        height = float(lowest[hits[k]]) - side.face
        sentence = (
            f"a rapid goes sideways at height={mm(height):.3f} above the plate; "
            f"rapid height is {mm(mill.rapid_height):g}"
        )
        return sentence, height, mill.rapid_height

    remedy = f"lift to {mm(mill.rapid_height):g} above the plate first"
    yield from first_and_worst(Kind.FIRST_MOVE, side, hits, tell=tell, remedy=remedy)


def _first_moves(side: SideProgram, mill: Mill) -> Iterator[Finding]:
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
        if not sideways(side, motion) <= STILL_MM:
            sentence = f"the first move after {after} goes sideways; it must be Z only"
            yield at_motion(Kind.FIRST_MOVE, side, motion, (sentence, None, None), remedy)
        elif not stop >= plane - LAST_DIGIT_MM:
            height = stop - side.face
            sentence = (
                f"the first move after {after} ends height={mm(height):.3f} above the plate; "
                f"{'change' if new else 'rapid'} height is {mm(least):g}"
            )
            told = (sentence, height, least)
            yield at_motion(Kind.FIRST_MOVE, side, motion, told, remedy)


class _Fault(NamedTuple):
    """Where a length check stands that is no bare plate, and by how much, in words."""

    where: str
    size: str = ""


LENGTH_CHECK_REMEDY = "check lengths over the plate's border, where nothing is cut on either side"


def find_bare(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind stop for length checks that stand on no bare plate."""
    for side in case.given():
        told = dict[tuple[float, float, str], list[tuple[Act, _Fault]]]()
        for act, why in _wrong(side, case):
            x, y = side.motions.stop[act.before - 1, :2]
            told.setdefault((round(x, 3), round(y, 3), why.where), []).append((act, why))
        for same in told.values():
            act, why = same[0]
            more = f" (and {len(same) - 1} more there)" if len(same) > 1 else ""
            number = int(side.trace.cutter[act.before - 1])
            sentence = f"the length of cutter {number} is checked {why.where}{why.size}"
            yield at_line(
                Kind.STOP,
                side.name,
                act.line,
                sentence + more,
                LENGTH_CHECK_REMEDY,
                place=_place(side, act),
            )


def _place(side: SideProgram, act: Act) -> tuple[float, float, float]:
    x, y, z = (round(float(v), 4) + 0.0 for v in side.part_stop[act.before - 1])
    return x, y, z


def _wrong(side: SideProgram, case: Case) -> Iterator[tuple[Act, _Fault]]:
    """Yield each length check that stands where it should not, and why."""
    mill = case.order.setup.mill
    for act in side.trace.acts:
        if act.kind != "stop" or act.before < 1 or not side.shapes.known[act.before - 1]:
            continue
        height = float(side.motions.stop[act.before - 1, 2]) - side.face
        low = height < max(mill.change_height, mill.rapid_height) - LAST_DIGIT_MM
        if low and not why_no_length_check(side, act, mill):
            why = _why_not_bare(side, act, case)
            if why:
                yield act, why


def _why_not_bare(side: SideProgram, act: Act, case: Case) -> _Fault | None:
    """Return why a check does not stand on bare plate; None where it does."""
    order, motion = case.order, act.before - 1
    shapes = side.shapes
    places = _under(side, motion)
    x0, y0, x1, y1 = order.setup.plate.bounds
    x, y = places.T
    if not ((x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)).all():
        return _Fault("beside the plate, or over its edge")
    if not (signed_distance(places, order.blade.outline) <= 0.0).all():
        return _Fault("over the blade")
    seen = _seen(case, side, places, motion)
    half = side.thickness / 2
    cut = half - seen.top if side.name == "A" else half + seen.bottom
    other = half + seen.bottom if side.name == "A" else half - seen.top
    for depth, what in ((cut, "over ground that is cut"), (other, "where it is cut from below")):
        if not depth.max() <= LAST_DIGIT_MM:
            return _Fault(what, f": depth={mm(depth.max()):.3f}")
    wide = max(float(w[motion]) for w in (shapes.holder, shapes.shank, shapes.radius))
    at = side.trace.motions.stop[motion, :2]
    for name, gap in clamp_gaps(side, order, at):
        if not gap >= wide + CLAMP_GAP_MM - LAST_DIGIT_MM:
            return _Fault(
                f"beside {name}",
                f": gap={mm(gap - wide):.3f} from the holder; {mm(CLAMP_GAP_MM):g} must stay",
            )
    return None


def _under(side: SideProgram, motion: int) -> np.ndarray:
    """Return places (K, 2) of the part under the cutter where a motion ends."""
    angles = np.arange(UNDER_CUTTER_PLACES) * 2 * np.pi / UNDER_CUTTER_PLACES
    ring = np.column_stack([np.cos(angles), np.sin(angles)])
    shares = np.concatenate([[[0.0, 0.0]], *(share * ring for share in UNDER_CUTTER_SHARES)])
    at = to_side_plane(side.frame, side.trace.motions.stop[motion, :2])
    return to_part(side.frame, at + side.shapes.radius[motion] * shares)


def _seen(case: Case, side: SideProgram, places: np.ndarray, motion: int) -> SampleColumns:
    """Return sample columns there as all of side A, if it lies below, and this side so far, leave
    them."""
    seen = sample_columns(places, case.order.setup.plate.thickness)
    for other in case.given():
        rows = near_motions(other, places)
        if other is side:
            cut_with_some(seen, other, case.order.setup.flip, rows[rows < motion])
        elif other.name == "A":
            cut_with_some(seen, other, case.order.setup.flip, rows)
    return seen

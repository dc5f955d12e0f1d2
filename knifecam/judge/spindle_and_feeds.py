"""Cutters, length offsets, spindle, coolant, feeds; cutters' lives; cutters that stand in metal."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, Message, at_line, at_motion, first_and_worst
from knifecam.judge.hand_stops import stopped_by
from knifecam.judge.judge_limits import (
    LAST_DIGIT_MM,
    QUICKER_TIMES,
    SAME_SPEED_SHARE,
    TIP_PLACES_AROUND,
    TIP_RINGS,
    TOUCHES_WITHIN_MM,
)
from knifecam.judge.stop_messages import said_at_stops
from knifecam.measure.case import Case
from knifecam.measure.sample_columns import cut_with_some, near_motions
from knifecam.measure.step_stages import contact_feed
from knifecam.quantity import bare, mm, quantity
from knifecam.rs274.program_reader import lines_of
from knifecam.rs274.restart_points import dwelled, modes_in_force
from knifecam.shop import Mill, Order
from knifecam.sweep.columns import sample_columns
from knifecam.sweep.side_frames import to_part
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_steps import ContactSteps


def find_cutter(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds unknown-cutter and length-offset."""
    known = [cutter.number for cutter in case.order.cutters]
    for side in case.given():
        yield from _unknown(side, known, case.order.setup.gauge)
        yield from _length(side, case.order.setup.mill.rapid_height, case.order.setup.gauge)


def _unknown(side: SideProgram, known: list[int], gauge: int) -> Iterator[Finding]:
    listed = ", ".join(str(n) for n in known)
    for act in side.trace.acts:
        number = round(act.number)
        if act.kind == "change" and number not in known and number != gauge:
            sentence = f"cutter={number} is not among the order's cutters ({listed})"
            yield at_line(Kind.UNKNOWN_CUTTER, side.name, act.line, sentence)
    trace = side.trace
    empty = np.flatnonzero((trace.cutter == 0) & ~side.rapid)

    def bare(_: int) -> Message:
        return "feeds before any cutter was called", None, None

    yield from first_and_worst(
        Kind.UNKNOWN_CUTTER, side, empty, tell=bare, remedy="call T and M6 first"
    )
    low = side.motions.stop[:, 2] < side.face - 1e-6
    pin = trace.cutter == gauge if gauge not in known else np.zeros(len(side), bool)
    turning = np.flatnonzero(pin & ((trace.spindle != 0) | low))

    def tell(k: int) -> Message:
        spinning = trace.spindle[turning[k]] != 0
        what = "with the spindle on" if spinning else "below the plate's upper face"
        return f"the gauge pin, number {gauge}, moves {what}", None, None

    yield from first_and_worst(
        Kind.UNKNOWN_CUTTER, side, turning, tell=tell, remedy="keep the gauge pin still and above"
    )


def _length(side: SideProgram, rapid_height: float, gauge: int) -> Iterator[Finding]:
    trace, motions = side.trace, side.motions
    lowest = np.fmin(motions.start[:, 2], motions.stop[:, 2])
    near = lowest <= side.face + rapid_height + LAST_DIGIT_MM
    wrong = (trace.length != trace.cutter) & (near | side.contact)
    hits = np.flatnonzero(wrong & (trace.cutter != 0) & (trace.cutter != gauge))

    def tell(k: int) -> Message:
        held, found = int(trace.cutter[hits[k]]), int(trace.length[hits[k]])
        word = f"H{found}" if found else "no length offset"
        return f"cutter={held} moves with {word} in force; its own is H{held}", found, held

    yield from first_and_worst(
        Kind.LENGTH_OFFSET,
        side,
        hits,
        tell=tell,
    )


AIR_WORDS = {"M7": "mist", "M8": "flood"}


def find_spindle(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds spindle and coolant."""
    mill = case.order.setup.mill
    for side in case.given():
        yield from _turning(side)
        yield from _speed(side, mill)
        yield from _spun_up(side, mill)
        yield from _air(side, mill)


def _turning(side: SideProgram) -> Iterator[Finding]:
    hits = np.flatnonzero(side.contact & (side.trace.spindle != 1))

    def tell(k: int) -> Message:
        off = side.trace.spindle[hits[k]] == 0
        state = "the spindle is off" if off else "the spindle turns backward (M4)"
        return f"meets metal while {state}", None, None

    yield from first_and_worst(
        Kind.SPINDLE,
        side,
        hits,
        tell=tell,
        badness=side.volume[hits],
        remedy="start it with M3 first",
    )


def _speed(side: SideProgram, mill: Mill) -> Iterator[Finding]:
    speed = side.trace.speed
    fits = (speed >= mill.spindle_low) & (speed <= mill.spindle_high)
    hits = np.flatnonzero((side.trace.spindle != 0) & ~fits)

    def tell(k: int) -> Message:
        found = float(speed[hits[k]])
        allowed = mill.spindle_low if found < mill.spindle_low else mill.spindle_high
        sentence = (
            f"spindle={found:g} rev/min must be within the mill's "
            f"{mill.spindle_low:g}..{mill.spindle_high:g} rev/min"
        )
        return sentence, found, allowed

    yield from first_and_worst(
        Kind.SPINDLE, side, hits, tell=tell, remedy="give S within the mill's range"
    )


def _spun_up(side: SideProgram, mill: Mill) -> Iterator[Finding]:
    waited = dwelled(side.trace)
    hits = np.flatnonzero(side.contact & ~(waited >= mill.spin_up - 1e-9))

    def tell(k: int) -> Message:
        found = float(waited[hits[k]])
        sentence = f"dwell={found:g} s after M3; the spindle needs {mill.spin_up:g} s to come up"
        return sentence, found, mill.spin_up

    yield from first_and_worst(
        Kind.SPINDLE, side, hits, tell=tell, remedy=f"add G4 P{mill.spin_up:g} after M3"
    )


def _air(side: SideProgram, mill: Mill) -> Iterator[Finding]:
    own = AIR_WORDS.get(mill.coolant_code, "mist")
    on = {"mist": side.trace.mist, "flood": side.trace.flood}
    other = "flood" if own == "mist" else "mist"
    other_word = next(word for word, name in AIR_WORDS.items() if name == other)
    dry = np.flatnonzero(side.contact & ~on[own])

    def missing(_: int) -> Message:
        return f"meets metal without air: {mill.coolant_code} is off", None, None

    yield from first_and_worst(
        Kind.COOLANT, side, dry, tell=missing, badness=side.volume[dry],
        remedy=f"give {mill.coolant_code} before the cut",
    )  # fmt: skip
    wet = np.flatnonzero(side.contact & on[other])

    def wrong(_: int) -> Message:
        return (
            f"{other_word} is on: air is {mill.coolant_code}, and liquid cracks hot carbide",
            None,
            None,
        )

    yield from first_and_worst(Kind.COOLANT, side, wet, tell=wrong, remedy=f"remove {other_word}")


Floats = NDArray[np.float64]


Ints = NDArray[np.int64]


def find_feeds(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds feed and life."""
    for side in case.given():
        yield from _limits(side, case.order.setup.mill.feed_high)
        if side.swept is not None:
            yield from _too_quick(side, case)
        yield from _life(side, case.order)


def _limits(side: SideProgram, highest: float) -> Iterator[Finding]:
    feed = side.motions.feed
    hits = np.flatnonzero(~side.rapid & ~((feed > 0) & (feed <= highest)))

    def tell(k: int) -> Message:
        found = float(feed[hits[k]])
        sentence = (
            f"feed={quantity(found, 'mm/min'):g} must be above 0 and at most"
            f" {quantity(highest, 'mm/min'):g}"
        )
        return sentence, found, highest

    yield from first_and_worst(
        Kind.FEED, side, hits, tell=tell, remedy="give F within the mill's limits"
    )


def _too_quick(side: SideProgram, case: Case) -> Iterator[Finding]:
    """Yield where the contact moves far faster, or a tooth takes far more, than the stage is given."""
    rows, limits = side.steps, case.stages[side.name]
    at = np.flatnonzero(case.meets(side))
    motion = rows.motion[at]
    feed = contact_feed(case.order, side, rows, at)
    given, tooth = limits.feed[at], limits.tooth[at]
    quick = np.flatnonzero(~(feed <= QUICKER_TIMES * given + 1e-6))

    def tell(k: int) -> Message:
        row = quick[k]
        axis, found = float(side.motions.feed[motion[row]]), float(feed[row])
        how = "" if found == axis else f", which is {bare(axis):g} at the axis on this arc"
        sentence = (
            f"feed={quantity(found, 'mm/min'):.5g} in metal{how}; cutter"
            f" {int(side.trace.cutter[motion[row]])} is"
            f" given at most {quantity(given[row], 'mm/min'):g} there, half as much again at corners"
        )
        return sentence, found, QUICKER_TIMES * float(given[row])

    yield from first_and_worst(
        Kind.FEED, side, motion[quick], tell=tell, badness=feed[quick] / given[quick],
        places=rows.place[at[quick]],
    )  # fmt: skip
    yield from _too_thick(side, case.order, rows, at, (feed, tooth))


def _too_thick(
    side: SideProgram, order: Order, rows: ContactSteps, at: Ints, of: tuple[Floats, Floats]
) -> Iterator[Finding]:
    """Yield where a tooth takes far more than the order lets it: F is right but S is too low.

    ``of``: the contact's feed and what the order gives a tooth, (k,) mm/min and mm.
    """
    (feed, given), motion = of, rows.motion[at]
    flutes = np.ones(len(at))
    for cutter in order.cutters:
        flutes[side.trace.cutter[motion] == cutter.number] = cutter.flutes
    speed = side.trace.speed[motion]
    chip = np.where(speed > 0, feed / np.maximum(speed, 1.0) / flutes, 0.0)
    hits = np.flatnonzero(~(chip <= QUICKER_TIMES * given + 1e-9))

    def tell(k: int) -> Message:
        found, limit = float(chip[hits[k]]), float(given[hits[k]])
        sentence = (
            f"a tooth of cutter {int(side.trace.cutter[motion[hits[k]]])} takes {mm(found):.4f} at "
            f"this feed and spindle speed; the order gives it at most {mm(limit):.4f} there, half as "
            f"much again is let pass"
        )
        return sentence, found, QUICKER_TIMES * limit

    yield from first_and_worst(
        Kind.FEED, side, motion[hits], tell=tell, badness=chip[hits] / given[hits],
        places=rows.place[at[hits]], remedy="raise S or lower F",
    )  # fmt: skip


def contact_spells(side: SideProgram) -> dict[int, list[tuple[int, int]]]:
    """Return by cutter the motion ranges cut with one and the same edge.

    After a stop by hand that no switch leaves out, a change to the number already in the spindle
    brings a fresh cutter, and a change to another number where the stop's message asks for one.
    """
    ranges: dict[int, list[tuple[int, int]]] = {}
    fresh = {one.act.line for one in said_at_stops(side) if one.values.get("fresh")}
    held, begun, stopped, asked = 0, 0, False, False
    for act in side.trace.acts:
        stopped = stopped_by(act, stopped)
        asked = asked or (act.kind == "stop" and act.line in fresh)
        if act.kind == "change":
            ranges.setdefault(held, []).append((begun, act.before))
            number = round(act.number)
            if stopped and (number == held or asked):
                ranges.setdefault(number, []).append((-1, -1))
            held, begun, stopped, asked = number, act.before, False, False
    ranges.setdefault(held, []).append((begun, len(side)))
    return ranges


def contact_minutes(side: SideProgram) -> dict[int, list[tuple[float, int]]]:
    """Return by cutter, for each edge it is used with, contact minutes and the last motion."""
    spent = np.where(side.contact, side.minutes, 0.0)
    found: dict[int, list[tuple[float, int]]] = {}
    for number, ranges in contact_spells(side).items():
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


def _life(side: SideProgram, order: Order) -> Iterator[Finding]:
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
                yield at_motion(Kind.LIFE, side, last, told)


_SPEED = re.compile(r"S[ \t]*[0-9.#\[]", re.IGNORECASE)


SPINDLE_SENSES = {30: 1, 40: -1, 50: 0}
"""What M3, M4 and M5 make of the spindle, by the number of their act."""


def find_dwell(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind dwell-in-metal."""
    for side in case.given():
        yield from _standing(side, case)
        yield from _unsettled(side, case.order.setup.mill)


def _standing(side: SideProgram, case: Case) -> Iterator[Finding]:
    """Yield stops, dwells, and starts and stops of the spindle with the cutter in metal."""
    found: dict[str, list[int]] = {}
    for standing in modes_in_force(side.trace):
        act = standing.act
        if act.before < 1 or not _below(side, act.before - 1):
            continue
        what = ""
        if act.kind in ("stop", "change", "end"):
            what = "stops"
        elif act.kind == "dwell" and act.number > 0:
            what = "dwells"
        elif act.kind == "spindle" and SPINDLE_SENSES.get(round(act.number)) != standing.spindle:
            what = "stops the spindle" if round(act.number) == 50 else "starts the spindle"
        if what and _in_metal(side, case, act.before - 1):
            found.setdefault(what, []).append(act.line)
    for what, lines in found.items():
        more = f" (and {len(lines) - 1} more)" if len(lines) > 1 else ""
        yield at_line(
            Kind.DWELL_IN_METAL, side.name, lines[0],
            f"{what} with the cutter in metal{more}: it rubs, burns and breaks there",
        )  # fmt: skip


def _below(side: SideProgram, motion: int) -> bool:
    """Whether a known cutter stands below the face after a motion."""
    return bool(
        side.shapes.known[motion] and side.motions.stop[motion, 2] < side.face - TOUCHES_WITHIN_MM
    )


def _in_metal(side: SideProgram, case: Case, motion: int) -> bool:
    """Whether metal is within `TOUCHES_WITHIN_MM` of the cutter where a motion ends.

    Rings a little wider than the cutter are held against its own heights up its corner or cone;
    under its end metal may stand as high as the end itself.
    """
    shapes, at = side.shapes, side.motions.stop[motion]
    radius, corner = float(shapes.radius[motion]), float(shapes.corner[motion])
    half = float(shapes.half_angle[motion])
    flat = float(shapes.tip[motion]) if half else radius - corner
    rise = (radius - flat) / np.tan(half) if half else corner
    above = rise * np.linspace(0.0, 1.0, TIP_RINGS) ** 2
    wide = shapes.radius_at(np.full(TIP_RINGS, motion), above) + TOUCHES_WITHIN_MM
    radii = np.concatenate([wide, [0.9 * flat, 0.0]])
    heights = np.concatenate([at[2] + above, [at[2] - TOUCHES_WITHIN_MM] * 2])
    angle = np.arange(TIP_PLACES_AROUND) * 2 * np.pi / TIP_PLACES_AROUND
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    places = to_part(side.frame, (at[:2] + radii[:, None, None] * ring).reshape(-1, 2))
    seen = sample_columns(places, case.order.setup.plate.thickness)
    for other in case.given():
        rows = near_motions(other, places)
        if other is side:
            cut_with_some(seen, other, case.order.setup.flip, rows[rows <= motion])
        elif other.name == "A":
            cut_with_some(seen, other, case.order.setup.flip, rows)
    stands = seen.top > seen.bottom
    top = np.where(stands, seen.top if side.name == "A" else -seen.bottom, -np.inf)
    return bool((top > np.repeat(heights, TIP_PLACES_AROUND)).any())


def _unsettled(side: SideProgram, mill: Mill) -> Iterator[Finding]:
    """Yield contact at a speed that was changed with no dwell for the spindle to settle."""
    trace = side.trace
    speed, turning = trace.speed, trace.spindle
    changed = np.flatnonzero(
        (turning[1:] != 0)
        & (turning[1:] == turning[:-1])
        & ~(np.abs(speed[1:] - speed[:-1]) <= SAME_SPEED_SHARE * np.maximum(speed[1:], speed[:-1]))
    ) + 1  # fmt: skip
    busy = np.flatnonzero(side.contact)
    starts = [a.before for a in trace.acts if a.kind == "spindle"]
    hits, waits = [], []
    for k in changed.tolist():
        later = busy[busy >= k]
        if not len(later) or any(k <= s <= later[0] for s in starts):
            continue
        line = _said(side, int(trace.line[k - 1]), int(trace.line[k]))
        waited = sum(
            a.number for a in trace.acts
            if a.kind == "dwell" and a.line >= line and k <= a.before <= later[0]
        )  # fmt: skip
        if not waited >= mill.spin_up - 1e-9:
            hits.append(int(later[0]))
            waits.append((float(speed[k - 1]), float(speed[k]), waited))

    def tell(k: int) -> Message:
        before, after, waited = waits[k]
        sentence = (
            f"meets metal dwell={waited:g} s after the speed was changed from {before:g} to"
            f" {after:g} rev/min; the spindle needs {mill.spin_up:g} s to settle"
        )
        return sentence, waited, mill.spin_up

    remedy = f"lift, give S, and dwell G4 P{mill.spin_up:g} before the next contact"
    yield from first_and_worst(Kind.DWELL_IN_METAL, side, hits, tell=tell, remedy=remedy)


def _said(side: SideProgram, after: int, last: int) -> int:
    """Return the last line past ``after``, up to ``last``, that gives a speed; ``after`` if none."""
    lines = lines_of(side.text)[after:last]
    said = [
        after + k
        for k, row in enumerate(lines, start=1)
        if _SPEED.search(re.sub(r"\([^)]*\)|;.*", "", row))
    ]
    return said[-1] if said else after

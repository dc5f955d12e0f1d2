"""How long a program runs: every motion as a trapezoid of speed, joined at its corners.

The rule, stated so that it can be argued with:

- along the path the mill speeds up and slows down with its acceleration a, and nothing else;
- on arcs its speed stays below sqrt(a r), so that the pull to the centre is at most a;
- at a corner the velocity may change by at most a times `CORNER_S`, as if the control spread the
  corner over that time; exact stop (G61.1), dwells, stops, cutter changes, spindle and air words
  bring it to rest;
- rapids run straight, as fast as the slowest axis allows.

Within that rule the times are exact. Jerk, the control's block time and its look-ahead are not
known to the order, so that a real mill takes longer (common practice: 5 to 20 %).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.compiled import outer
from knifecam.curve import ARC, RAPID, Motions
from knifecam.rs274.trace import EXACT_STOP, Act, Trace
from knifecam.shop import Mill
from knifecam.sweep.sweep_limits import CHANGE_BY_HAND_S, CHANGE_S, CORNER_S, SAME_WAY_SHARE, STOP_S

Floats = NDArray[np.float64]

OPTIONAL_STOP_NUMBER = 10
"""The number of an optional stop: it is counted as left out."""

STANDSTILLS = frozenset({"stop", "end", "change", "dwell", "spindle", "coolant", "home"})
"""Acts at which the axes stand still."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Duration:
    """Seconds: of each motion (M,), and of what happens between them, by the motion that follows.

    ``dwelling``, ``changing`` and ``stopping`` have a row more than there are motions: the last
    is for what comes after all of them.
    """

    moving: Floats
    dwelling: Floats
    changing: Floats
    stopping: Floats

    def between(self, first: int, end: int) -> float:
        """Return the seconds of motions ``first`` up to ``end`` and of the waits before them."""
        waits = self.dwelling + self.changing + self.stopping
        last = end + 1 if end == len(self.moving) else end
        return float(self.moving[first:end].sum() + waits[first:last].sum())

    @property
    def total(self) -> float:
        """All of it."""
        return self.between(0, len(self.moving))


def duration_of(trace: Trace, mill: Mill) -> Duration:
    """Return how long a program runs on ``mill``."""
    count = len(trace.motions)
    rest = np.zeros(count + 1, bool)
    for act in trace.acts:
        rest[act.before] |= act.kind in STANDSTILLS
    rest[:-1] |= np.asarray(trace.path) == EXACT_STOP
    change = CHANGE_BY_HAND_S if mill.change_by_hand else CHANGE_S
    return Duration(
        moving=motion_seconds(trace.motions, mill, rest=rest, known=np.asarray(trace.known)),
        dwelling=_waits(trace.acts, "dwell", count, lambda act: act.number),
        changing=_waits(real_changes(trace.acts), "change", count, lambda _: change),
        stopping=_waits(
            trace.acts,
            "stop",
            count,
            lambda act: 0.0 if act.number == OPTIONAL_STOP_NUMBER else STOP_S,
        ),
    )


def real_changes(acts: Sequence[Act]) -> list[Act]:
    """Return the changes in which a cutter goes in: another number, or any after a hand's stop."""
    found, held, stopped = [], 0.0, False
    for act in acts:
        if act.kind == "stop" and act.number != OPTIONAL_STOP_NUMBER:
            stopped = True
        elif act.kind == "change":
            if act.number != held or stopped:
                found.append(act)
            held, stopped = act.number, False
        elif act.kind == "spindle":
            stopped = False
    return found


def _waits(acts: Sequence[Act], kind: str, count: int, seconds: Callable[[Act], float]) -> Floats:
    spent = np.zeros(count + 1)
    for act in acts:
        if act.kind == kind:
            spent[act.before] += seconds(act)
    return spent


def motion_seconds(
    motions: Motions,
    mill: Mill,
    *,
    rest: NDArray[np.bool_] | None = None,
    known: NDArray[np.bool_] | None = None,
) -> Floats:
    """Return the seconds each motion takes, (M,).

    Parameters
    ----------
    motions : Motions
    mill : Mill
        Its ``rapid`` rates in mm/min and ``acceleration`` in mm/s2.
    rest : (M + 1,) bool, optional
        Where the mill stands still before a motion; it does before the first and after the last.
    known : (M, 3) bool, optional
        Axes whose place is known where a motion starts; the way along the others is not counted.
    """
    count = len(motions)
    if count == 0:
        return np.zeros(0)
    lengths = np.array(motions.lengths)
    if known is not None and not known.all():
        step = np.where(known, motions.stop - motions.start, 0.0)
        straight = motions.kind != ARC
        lengths[straight] = np.sqrt((step[straight] ** 2).sum(axis=1))
    leaves, enters = _directions(motions)
    speed = _speeds(motions, mill, leaves, lengths)
    limits = np.zeros(count + 1)
    turned = np.sqrt(((enters[:-1] - leaves[1:]) ** 2).sum(axis=1))
    corner = mill.acceleration * CORNER_S / np.maximum(turned, SAME_WAY_SHARE)
    limits[1:-1] = np.where(turned > SAME_WAY_SHARE, corner, np.inf)
    limits[1:-1] = np.minimum(limits[1:-1], np.minimum(speed[:-1], speed[1:]))
    if rest is not None:
        limits[rest] = 0.0
    seconds = np.zeros(count)
    trapezoids(lengths, speed, limits, float(mill.acceleration), seconds)
    return seconds


def _directions(motions: Motions) -> tuple[Floats, Floats]:
    """Return the unit directions in which motions leave their starts and enter their stops."""
    leaves = motions.stop - motions.start
    enters = leaves.copy()
    arc = motions.kind == ARC
    if arc.any():
        swept = 2 * np.pi * motions.turns[arc]
        for ends, tangents in ((motions.start, leaves), (motions.stop, enters)):
            arm = (ends[arc, :2] - motions.centre[arc]) * swept[:, None]
            tangents[arc, 0], tangents[arc, 1] = -arm[:, 1], arm[:, 0]
    return _unit(leaves), _unit(enters)


def _unit(ways: Floats) -> Floats:
    size = np.sqrt((ways**2).sum(axis=1, keepdims=True))
    return np.asarray(ways / np.where(size > 0, size, 1.0))


def _speeds(motions: Motions, mill: Mill, leaves: Floats, lengths: Floats) -> Floats:
    """Return the greatest speed of each motion, mm/s."""
    rates = np.array(mill.rapid) / 60.0
    share = np.abs(leaves)
    rapid = np.min(np.where(share > 0, rates / np.where(share > 0, share, 1.0), np.inf), axis=1)
    speed = np.where(motions.kind == RAPID, rapid, motions.feed / 60.0)
    arc = motions.kind == ARC
    flat = 2 * np.pi * np.abs(motions.turns) * motions.radii
    pull = np.sqrt(mill.acceleration * motions.radii) * lengths / np.where(flat > 0, flat, 1.0)
    return np.where(arc, np.minimum(speed, pull), speed)


def _trapezoids(lengths: Floats, speed: Floats, at: Floats, rate: float, seconds: Floats) -> None:
    """Fill in the seconds of each motion that goes; ``at`` holds the greatest speeds between them.

    A pass forward lets no motion end faster than it can have become, one backward lets none end
    faster than the next ones can slow down from; both are exact for trapezoids. ``at`` becomes the
    speeds that are reached.
    """
    count = lengths.size
    now = at[0]
    for k in range(count):
        most, reached = at[k + 1], math.sqrt(now * now + 2.0 * rate * lengths[k])
        now = reached if reached < most else most
        at[k + 1] = now
    for k in range(count - 1, -1, -1):
        after, before, length, top = now, at[k], lengths[k], speed[k]
        reached = math.sqrt(after * after + 2.0 * rate * length)
        now = reached if reached < before else before
        at[k] = now
        if length > 0.0 and top > 0.0:
            squares = now * now + after * after
            peak = math.sqrt(0.5 * squares + rate * length)
            top = peak if peak < top else top
            level = length - (2.0 * top * top - now * now - after * after) / (2.0 * rate)
            level = level if level > 0.0 else 0.0
            seconds[k] = (2.0 * top - now - after) / rate + level / top


trapezoids = outer(_trapezoids)

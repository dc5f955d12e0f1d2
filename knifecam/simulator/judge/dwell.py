"""What happens to the spindle while the cutter stands in metal: it rubs there, or tears on starting."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from knifecam.shop import Mill
from knifecam.simulator.case import Case
from knifecam.simulator.columns import sights
from knifecam.simulator.frame import to_part
from knifecam.simulator.judge.hit import Told, at_line, folded
from knifecam.simulator.modes import standings
from knifecam.simulator.reader import lines_of
from knifecam.simulator.seen import cut_by, near_motions
from knifecam.simulator.side import Side
from knifecam.simulator.verdict import Finding

TOUCHES = 0.02
"""mm: metal so near to a cutter's rim or end touches it, by runout and deflection alone."""

SAME_SPEED = 0.01
"""Share by which a speed may differ with no time to settle."""

AROUND = 24
"""Places round the axis that are looked at on each ring."""

RINGS = 16
"""Rings up a corner or cone, closer to each other near the end, where it is flattest."""

_SPEED = re.compile(r"S[ \t]*[0-9.#\[]", re.IGNORECASE)

SPINDLE = {30: 1, 40: -1, 50: 0}
"""What M3, M4 and M5 make of the spindle, by the number of their act."""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind dwell-in-metal."""
    for side in case.given():
        yield from _standing(side, case)
        yield from _unsettled(side, case.order.setup.mill)


def _standing(side: Side, case: Case) -> Iterator[Finding]:
    """Yield stops, dwells, and starts and stops of the spindle with the cutter in metal."""
    found: dict[str, list[int]] = {}
    for standing in standings(side.trace):
        act = standing.act
        if act.before < 1 or not _below(side, act.before - 1):
            continue
        what = ""
        if act.kind in ("stop", "change", "end"):
            what = "stops"
        elif act.kind == "dwell" and act.number > 0:
            what = "dwells"
        elif act.kind == "spindle" and SPINDLE.get(round(act.number)) != standing.spindle:
            what = "stops the spindle" if round(act.number) == 50 else "starts the spindle"
        if what and _in_metal(side, case, act.before - 1):
            found.setdefault(what, []).append(act.line)
    for what, lines in found.items():
        more = f" (and {len(lines) - 1} more)" if len(lines) > 1 else ""
        yield at_line(
            "dwell-in-metal", side.name, lines[0],
            f"{what} with the cutter in metal{more}: it rubs, burns and breaks there",
            "lift the cutter clear of the metal first",
        )  # fmt: skip


def _below(side: Side, motion: int) -> bool:
    """Whether a known cutter stands below the face after a motion."""
    return bool(side.shapes.known[motion] and side.motions.stop[motion, 2] < side.face - TOUCHES)


def _in_metal(side: Side, case: Case, motion: int) -> bool:
    """Whether metal is within `TOUCHES` of the cutter where a motion ends.

    Rings a little wider than the cutter are held against its own heights up its corner or cone;
    under its end metal may stand as high as the end itself.
    """
    shapes, at = side.shapes, side.motions.stop[motion]
    radius, corner = float(shapes.radius[motion]), float(shapes.corner[motion])
    half = float(shapes.half_angle[motion])
    flat = float(shapes.tip[motion]) if half else radius - corner
    rise = (radius - flat) / np.tan(half) if half else corner
    above = rise * np.linspace(0.0, 1.0, RINGS) ** 2
    wide = shapes.radius_at(np.full(RINGS, motion), above) + TOUCHES
    radii = np.concatenate([wide, [0.9 * flat, 0.0]])
    heights = np.concatenate([at[2] + above, [at[2] - TOUCHES] * 2])
    angle = np.arange(AROUND) * 2 * np.pi / AROUND
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    places = to_part(side.frame, (at[:2] + radii[:, None, None] * ring).reshape(-1, 2))
    seen = sights(places, case.order.setup.plate.thickness)
    for other in case.given():
        rows = near_motions(other, places)
        if other is side:
            cut_by(seen, other, case.order.setup.flip, rows[rows <= motion])
        elif other.name == "A":
            cut_by(seen, other, case.order.setup.flip, rows)
    stands = seen.top > seen.bottom
    top = np.where(stands, seen.top if side.name == "A" else -seen.bottom, -np.inf)
    return bool((top > np.repeat(heights, AROUND)).any())


def _unsettled(side: Side, mill: Mill) -> Iterator[Finding]:
    """Yield contact at a speed that was changed with no dwell for the spindle to settle."""
    trace = side.trace
    speed, turning = trace.speed, trace.spindle
    changed = np.flatnonzero(
        (turning[1:] != 0)
        & (turning[1:] == turning[:-1])
        & ~(np.abs(speed[1:] - speed[:-1]) <= SAME_SPEED * np.maximum(speed[1:], speed[:-1]))
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

    def tell(k: int) -> Told:
        before, after, waited = waits[k]
        sentence = (
            f"meets metal dwell={waited:g} s after the speed was changed from {before:g} to"
            f" {after:g} rev/min; the spindle needs {mill.spin_up:g} s to settle"
        )
        return sentence, waited, mill.spin_up

    remedy = f"lift, give S, and dwell G4 P{mill.spin_up:g} before the next contact"
    yield from folded("dwell-in-metal", side, hits, tell=tell, remedy=remedy)


def _said(side: Side, after: int, last: int) -> int:
    """Return the last line past ``after``, up to ``last``, that gives a speed; ``after`` if none."""
    lines = lines_of(side.text)[after:last]
    said = [
        after + k
        for k, row in enumerate(lines, start=1)
        if _SPEED.search(re.sub(r"\([^)]*\)|;.*", "", row))
    ]
    return said[-1] if said else after

"""On which hand of travel notches of the jimping and edge breaks are cut."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, circle, distance, signed_distance
from knifecam.shop.cutter import CHAMFER
from knifecam.simulator.case import Case
from knifecam.simulator.frame import seen_from
from knifecam.simulator.judge.climb import ASIDE, OUTSIDE, SCRAPE, WITHIN, conventional, finishing
from knifecam.simulator.judge.entry import judged_steps
from knifecam.simulator.measure_notch import Notch
from knifecam.simulator.side import Side
from knifecam.simulator.steps import Steps
from knifecam.simulator.verdict import Finding

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind conventional for notches and edge breaks."""
    for side in case.given():
        if side.swept is None or not len(side.swept.engagement):
            continue
        rows = judged_steps(case, side)
        for notch in case.notches:
            wall = seen_from(
                side.frame, circle(notch.row.centres[notch.number - 1], notch.row.diameter)
            )
            what = f"the wall of notch {notch.number} of jimping {notch.row.name}"
            done = finishing(side, rows, wall, stands=WITHIN)
            hits = done.rows[done.left]
            on_blade = _touching_blade(case, side, rows.at[hits], notch)
            yield from conventional(side, rows, hits[on_blade], what)
        yield from _breaks(case, side, rows)


def _touching_blade(case: Case, side: Side, at: Floats, notch: Notch) -> NDArray[np.bool_]:
    """Return which axes inside a notch touch its wall where that is the blade's, not in the waste."""
    centre = np.array(notch.row.centres[notch.number - 1])
    away = at * side.frame.signs[:2] - centre
    length = np.maximum(np.hypot(*away.T), 1e-9)[:, None]
    touched = centre + away / length * notch.row.diameter / 2
    return np.asarray(WITHIN * signed_distance(touched, case.wanted.outline) > 0.0)


def _breaks(case: Case, side: Side, rows: Steps) -> Iterator[Finding]:
    """Yield where a chamfer mill has the edge it breaks on its left."""
    if not any(one.side == side.name for one in case.order.blade.breaks):
        return
    steps = _of_chamfer_mills(case, side, rows)
    if not len(steps):
        return
    walls = [("the outline", OUTSIDE, case.wanted.outline)]
    walls += [(one.name, WITHIN, one.outline) for one in case.openings]
    seen = [(name, stands, seen_from(side.frame, curve)) for name, stands, curve in walls]
    nearest = np.argmin([distance(rows.at[steps], curve) for _, _, curve in seen], axis=0)
    for k, (name, stands, curve) in enumerate(seen):
        mine = steps[nearest == k]
        left = mine[_blade_on_left(rows, mine, curve, stands)] if len(mine) else mine
        yield from conventional(side, rows, left, f"the edge of {name} that it breaks")


def _of_chamfer_mills(case: Case, side: Side, rows: Steps) -> Ints:
    """Return the steps in which a chamfer mill moves sideways in metal."""
    numbers = [c.number for c in case.order.cutters if c.kind == CHAMFER]
    moving = rows.moving & ~side.rapid[rows.motion]
    return np.flatnonzero(
        rows.cutting(SCRAPE) & moving & np.isin(side.trace.cutter[rows.motion], numbers)
    )


def _blade_on_left(rows: Steps, steps: Ints, wall: Curve, stands: float) -> NDArray[np.bool_]:
    """Return whether the blade is nearer a little to the left of each step's axis.

    The cone's axis may stand on either side of the wall, so that its distance has a sign; where it
    moves rather toward or off the wall than along it, neither hand is told.
    """
    heading = rows.heading[steps]
    aside = rows.at[steps] + ASIDE * np.stack([-heading[:, 1], heading[:, 0]], axis=1)
    inward: Floats = signed_distance(aside, wall) - signed_distance(rows.at[steps], wall)
    return np.asarray(-stands * inward > ASIDE / 2)

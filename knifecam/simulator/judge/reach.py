"""What stands beside the cutter above its flutes: flank, shank and holder."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.quantity import mm
from knifecam.simulator.case import Case
from knifecam.simulator.judge.hit import Told, folded
from knifecam.simulator.side import Side
from knifecam.simulator.steps import Steps
from knifecam.simulator.verdict import Finding

HAIR = 1e-6
"""mm"""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds reach and shank-contact.

    Above its flutes a cutter with a relieved neck may run past metal, but take none; one without
    relief may not even have metal beside it.
    """
    for side in case.given():
        if side.swept is None or not len(side.swept.engagement):
            continue
        rows = side.steps
        yield from _reach(side, rows)
        yield from _shank(side, rows)
        yield from _holder(side, case)


def _reach(side: Side, rows: Steps) -> Iterator[Finding]:
    e = rows.engagement
    flutes = side.shapes.flute_length[rows.motion]
    reach = side.shapes.reach[rows.motion]
    known = side.shapes.known[rows.motion]
    relieved = side.shapes.neck[rows.motion] < side.cutter_radius[rows.motion] - HAIR
    deepest = np.maximum(e.front, np.maximum(e.left, e.right))
    beside = np.where(relieved, deepest, e.tallest)
    rubbing = known & (e.volume > 0) & (beside > flutes + HAIR)
    beyond = known & (e.tallest > reach + HAIR)
    hits = np.flatnonzero(rubbing | beyond)

    def tell(k: int) -> Told:
        row = hits[k]
        tall, past = float(e.tallest[row]), bool(beyond[row])
        limit = float(reach[row] if past else flutes[row])
        name = "reach" if past else "flute_length"
        sentence = (
            f"metal stands {mm(tall):.3f} above the tip; "
            f"cutter {int(side.trace.cutter[rows.motion[row]])} has {name}={mm(limit):g}"
        )
        return sentence, tall, limit

    yield from folded(
        "reach", side, rows.motion[hits], tell=tell, badness=e.tallest[hits],
        places=rows.place[hits], remedy="use a cutter of longer flutes or neck",
    )  # fmt: skip


def _shank(side: Side, rows: Steps) -> Iterator[Finding]:
    shank = rows.engagement.shank
    hits = np.flatnonzero(side.shapes.known[rows.motion] & (shank > HAIR))

    def tell(k: int) -> Told:
        found = float(shank[hits[k]])
        return f"the shank runs {mm(found):.3f} into metal beside the cut", found, 0.0

    yield from folded(
        "shank-contact", side, rows.motion[hits], tell=tell, badness=shank[hits],
        places=rows.place[hits], remedy="use a cutter of longer reach",
    )  # fmt: skip


def _holder(side: Side, case: Case) -> Iterator[Finding]:
    lowest = np.fmin(side.motions.start[:, 2], side.motions.stop[:, 2])
    sunk = side.face - (lowest + side.shapes.stickout)
    deep = side.shapes.known & (sunk > HAIR)
    hits = np.flatnonzero(deep & _over_plate(side, case))

    def tell(k: int) -> Told:
        found = float(sunk[hits[k]])
        return f"the holder goes {mm(found):.3f} below the plate's upper face", found, 0.0

    yield from folded(
        "shank-contact", side, hits, tell=tell, badness=sunk[hits],
        remedy="clamp the cutter with more stickout",
    )  # fmt: skip


def _over_plate(side: Side, case: Case) -> np.ndarray:
    """Return which motions have their holder over the plate, (M,), seen by their ends."""
    x_low, y_low, x_high, y_high = case.order.setup.plate.bounds
    corners = np.array([[x_low, y_low], [x_high, y_high]]) * side.frame.signs[:2]
    low, high = corners.min(axis=0), corners.max(axis=0)
    wide = side.shapes.holder[:, None]
    ends = np.stack([side.motions.start[:, :2], side.motions.stop[:, :2]])
    return np.asarray(np.all((ends > low - wide) & (ends < high + wide), axis=2).any(axis=0))

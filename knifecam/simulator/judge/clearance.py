"""Whether motions through the air keep the order's gaps from plate, clamps and heads of screws.

The plate is taken as high as it was measured anywhere. Only lifts straight up may begin lower, and
rapids in ground that is cut are no concern of the gap once they stay in it.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC
from knifecam.quantity import mm
from knifecam.shop import Order
from knifecam.simulator.case import Case
from knifecam.simulator.columns import sights
from knifecam.simulator.frame import to_part
from knifecam.simulator.judge.disturbed import DISTURBANCES, kept_more, plate_more
from knifecam.simulator.judge.gaps import STILL
from knifecam.simulator.judge.hit import LAST_DIGIT, Told, at_motion, folded
from knifecam.simulator.seen import cut_by, near_motions
from knifecam.simulator.side import Side
from knifecam.simulator.verdict import Finding

Floats = NDArray[np.float64]

LEVEL = 1e-4
"""mm: a feed that falls or rises by no more goes across, and enters nothing."""

SPACING = 1.0
"""mm between the places of a feed where the ground below it is looked at."""

UNTOUCHED = 1e-6
"""mm: less has not been cut off a place."""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind clearance."""
    for side in case.given():
        yield from _across(side, case.order)
        yield from _down(side, case.order)
        yield from _disturbed(side, case.order)
        yield from _fed(side, case)


def bulge(order: Order) -> float:
    """Return how far the plate's thickest measured place stands above its thickness, mm."""
    plate = order.setup.plate
    return max([0.0, *(seen - plate.thickness for _, _, seen in plate.measured)])


def highest(order: Order, side: str) -> float:
    """Return how far above the plate's face the highest of plate, clamps and heads reaches, mm."""
    setup = order.setup
    things = [keep.height for keep in setup.keep_out if keep.side == side]
    if side == "B" and setup.hold.kind == "bores":
        things.append(setup.hold.head_height)
    return max([bulge(order), *things])


def _sideways(side: Side) -> NDArray[np.bool_]:
    m = side.motions
    return np.asarray((np.hypot(*(m.stop - m.start)[:, :2].T) > STILL) | (m.kind == ARC))


def _lowest(side: Side) -> Floats:
    """Return each motion's least height above the face, mm; inf where the text tells none."""
    m, known = side.motions, np.asarray(side.trace.known)[:, 2]
    ends = np.where(known, np.minimum(m.start[:, 2], m.stop[:, 2]), m.stop[:, 2])
    return np.where(side.shapes.known, ends - side.face, np.inf)


def _falls(side: Side) -> NDArray[np.bool_]:
    m = side.motions
    return np.asarray(side.rapid & (m.stop[:, 2] < m.start[:, 2] - STILL))


def _across(side: Side, order: Order) -> Iterator[Finding]:
    """Yield rapids sideways lower than the rapid height above the highest of all that stands there."""
    height = order.setup.mill.rapid_height
    most = highest(order, side.name)
    yield from _lower(
        side, side.rapid & _sideways(side), most + height,
        "a rapid goes sideways at",
        f"the highest of plate, clamps and screws stands {mm(most):.3f} high, and rapids run"
        f" {mm(height):g} above it",
        remedy=f"lift to {mm(most + height):g} above the plate first",
    )  # fmt: skip


def _down(side: Side, order: Order) -> Iterator[Finding]:
    """Yield rapids down that end nearer to the plate than feed must begin."""
    gap = order.setup.mill.approach_gap
    least = gap + bulge(order)
    yield from _lower(
        side, _falls(side), least,
        "a rapid ends",
        f"feed begins {mm(gap):g} above it, {mm(least):.3f} where the plate is thickest",
        remedy=f"end the rapid {mm(least):g} above the plate and feed from there",
    )  # fmt: skip


def _lower(
    side: Side, which: NDArray[np.bool_], least: float, what: str, rule: str, *, remedy: str
) -> Iterator[Finding]:
    """Yield those of some motions that go lower than ``least`` mm above the plate."""
    low = _lowest(side)
    hits = np.flatnonzero(which & ~(low >= least - LAST_DIGIT))

    def tell(k: int) -> Told:
        height = float(low[hits[k]])
        return f"{what} height={mm(height):.3f} above the plate; {rule}", height, least

    yield from folded("clearance", side, hits, tell=tell, badness=-low[hits], remedy=remedy)


def _disturbed(side: Side, order: Order) -> Iterator[Finding]:
    """Yield the lowest rapid down that meets the plate with plate or zero a little off."""
    low = _lowest(side)
    rows = np.flatnonzero(_falls(side) & (low > 0.0))
    if not len(rows):
        return
    x = side.part_stop[rows, 0]
    left = [low[rows] - plate_more(order.setup, d, x) + kept_more(order.setup, d, side.name)
            for d in DISTURBANCES]  # fmt: skip
    d, k = np.unravel_index(int(np.argmin(left)), np.shape(left))
    found = float(left[d][k])
    if not found > 0.0:
        sentence = f"{DISTURBANCES[d].name}, a rapid ends {mm(-found):.3f} below the plate's face"
        remedy = f"end rapids higher: mill.approach_gap = {mm(0.5)} is usual"
        yield at_motion("clearance", side, int(rows[k]), (sentence, found, 0.0), remedy)


def _fed(side: Side, case: Case) -> Iterator[Finding]:
    """Yield feeds across bare plate, meeting nothing, lower than feed begins."""
    m, gap, low = side.motions, case.order.setup.mill.approach_gap, _lowest(side)
    level = np.abs(m.stop[:, 2] - m.start[:, 2]) <= LEVEL
    near = (low >= -LAST_DIGIT) & (low < gap - LAST_DIGIT)
    rows = np.flatnonzero(~side.rapid & _sideways(side) & level & near & ~side.contact)
    hits, ways = [], []
    for k in rows.tolist():
        way = _over_bare(side, case, k)
        if way > 2 * float(side.shapes.radius[k]):
            hits.append(k)
            ways.append(way)

    def tell(k: int) -> Told:
        height = float(low[hits[k]])
        sentence = (
            f"feeds {mm(ways[k]):.1f} across bare plate at height={mm(height):.3f}; nothing goes across"
            f" it lower than {mm(gap):g} but to cut"
        )
        return sentence, height, gap

    remedy = "lift to the rapid height and go across there"
    yield from folded("clearance", side, hits, tell=tell, badness=ways or None, remedy=remedy)


def _over_bare(side: Side, case: Case, motion: int) -> float:
    """Return over how much of its way nothing has been cut under a whole cutter, mm."""
    m, length = side.motions, float(side.motions.lengths[motion])
    count = max(2, int(np.ceil(length / SPACING)))
    at = m.places_at(np.full(count, motion), (np.arange(count) + 0.5) / count)[:, :2]
    angle = np.arange(8) * np.pi / 4
    disc = np.vstack([[[0.0, 0.0]], np.column_stack([np.cos(angle), np.sin(angle)])])
    under = at[:, None] + 0.999 * side.shapes.radius[motion] * disc[None]
    places = to_part(side.frame, under.reshape(-1, 2))
    seen = sights(places, case.order.setup.plate.thickness)
    rows = near_motions(side, places)
    cut_by(seen, side, case.order.setup.flip, rows[rows < motion])
    half = side.thickness / 2
    cut = half - seen.top if side.name == "A" else half + seen.bottom
    x0, y0, x1, y1 = case.order.setup.plate.bounds
    x, y = places.T
    bare = (cut <= UNTOUCHED) & (x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)
    return float(bare.reshape(count, -1).all(axis=1).mean()) * length

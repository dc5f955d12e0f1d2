"""Rapids, steep falls, deep slots, the fixture, and the gaps that motions through air keep.

The plate is taken as high as it was measured anywhere. Only lifts straight up may begin lower, and
rapids in ground that is cut are no concern of the gap once they stay in it.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, Message, at_motion, first_and_worst
from knifecam.judge.judge_limits import (
    FALL_RIM_PLACES,
    LAST_DIGIT_MM,
    LEAST_AREA_MM2,
    LEVEL_FEED_MM,
    ROUNDED_DEPTH_MM,
    SHORT_STEP_CELLS,
    SIDE_B_ALONE_MARGIN_MM,
    SLOT_WIDTH_SHARE,
    STEEP_BITE_MM,
    STEEP_RAD,
    STEPDOWN_SLACK_TIMES,
    STILL_MM,
    SURELY_MET_MM3,
    UNTOUCHED_MM,
    WITHIN_RIM_MM,
)
from knifecam.judge.worst_case import DISTURBANCES, height_lost, plate_thicker
from knifecam.measure.case import Case
from knifecam.measure.measure_limits import DEPTH_ROUNDING_MM, ONTO_WALL_SHARE, WEB_SLACK_TIMES
from knifecam.measure.sample_columns import cut_with_some, near_motions, sweep_closely
from knifecam.measure.step_stages import Given, contact_share, web_over_void
from knifecam.quantity import mm, mm3
from knifecam.shop import Order
from knifecam.sweep.columns import Swept, cut_by_steps, sample_columns
from knifecam.sweep.side_frames import to_part
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_steps import ContactSteps

Floats = NDArray[np.float64]


Ints = NDArray[np.int64]


Bools = NDArray[np.bool_]


def find_entry(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds rapid-contact, steep-entry, slot-depth and fixture-cut."""
    for side in case.given():
        yield from _rapid(side, case)
        yield from _bed(side, case.order.setup.fixture_allowance)
        if side.swept is None or not len(side.swept.engagement):
            continue
        judged = judged_rows(case, side)
        rows, limits = side.steps.chosen(judged), case.stages[side.name].chosen(judged)
        yield from _steep(side, rows, limits, case)
        yield from _slot(side, rows, limits, case)


def judged_rows(case: Case, side: SideProgram) -> Bools:
    """Return which of a side's steps are judged: of side B alone, those off side A's trench, (S,)."""
    rows = side.steps
    if case.whole or side.name == "A":
        return np.ones(len(rows.motion), bool)
    web = case.order.trench.web * WEB_SLACK_TIMES + DEPTH_ROUNDING_MM
    top = min(case.wanted.floor_a - web, case.wanted.tab_low) - SIDE_B_ALONE_MARGIN_MM
    return np.asarray(rows.place[:, 2] < top)


def judged_steps(case: Case, side: SideProgram) -> ContactSteps:
    """Return a side's steps; of side B alone, those that do not come near side A's trench."""
    return side.steps.chosen(judged_rows(case, side))


def _rapid(side: SideProgram, case: Case) -> Iterator[Finding]:
    m = side.motions
    rising = (np.hypot(*(m.stop - m.start)[:, :2].T) <= LEAST_AREA_MM2) & (
        m.stop[:, 2] >= m.start[:, 2]
    )
    tried = np.flatnonzero(side.rapid & side.below_face & side.shapes.known & ~rising)
    sure = side.volume[tried] > SURELY_MET_MM3
    doubted = tried[~sure & (side.swept is not None)].tolist()
    closer = {k: sweep_closely(case.order, case.sides, side, k) for k in doubted}
    met = [k for k, swept in closer.items() if _bites(swept)]
    hits = np.sort(np.concatenate([tried[sure], np.array(met, np.int64)]))

    def tell(k: int) -> Message:
        motion = int(hits[k])
        swept = closer.get(motion) or sweep_closely(case.order, case.sides, side, motion)
        found = float(swept.volume[0])
        return f"a rapid takes {mm3(found):.3f} of metal; it may touch none", found, 0.0

    yield from first_and_worst(Kind.RAPID_CONTACT, side, hits, tell=tell, badness=side.volume[hits])


def _bites(swept: Swept) -> bool:
    """Return whether anything was met but a skin at the rim, where rounding shows."""
    e = swept.engagement
    return bool(
        np.maximum(e.front, np.maximum(e.left, e.right)).max(initial=0.0) > ROUNDED_DEPTH_MM
    )


def _bed(side: SideProgram, allowance: float) -> Iterator[Finding]:
    lowest = np.fmin(side.motions.start[:, 2], side.motions.stop[:, 2])
    depth = side.fixture - lowest
    hits = np.flatnonzero(side.shapes.known & (depth > allowance + LAST_DIGIT_MM))

    def tell(k: int) -> Message:
        found = float(depth[hits[k]])
        sentence = (
            f"the tip goes {mm(found):.4f} below the plate's lower face; "
            f"{mm(allowance):g} is allowed there"
        )
        return sentence, found, allowance

    yield from first_and_worst(Kind.FIXTURE_CUT, side, hits, tell=tell, badness=depth[hits])


def bite_into_solid(rows: ContactSteps) -> Floats:
    """Return how deep each step bites into solid metal, (S,) mm.

    Stock met on one side alone, as along a wall, does not count; for motions along Z everything
    under the cutter does, all their steps together.
    """
    e, upright = rows.engagement, ~rows.moving
    whole = np.bincount(
        rows.motion[upright], e.under[upright], int(rows.motion.max(initial=-1)) + 1
    )
    beside = np.maximum(e.front, np.minimum(e.left, e.right))
    return np.where(upright, whole[rows.motion], beside)


def _steep(side: SideProgram, rows: ContactSteps, limits: Given, case: Case) -> Iterator[Finding]:
    bite = np.maximum(bite_into_solid(rows), _rim_bites(side, case)[rows.motion])
    allowed = case.near(limits.stepdown, limits.stepdown * STEPDOWN_SLACK_TIMES + DEPTH_ROUNDING_MM)
    steepest = np.full(len(rows.motion), np.inf)
    for cutter in case.order.cutters:
        if not cutter.centre_cutting:
            steepest[side.trace.cutter[rows.motion] == cutter.number] = cutter.ramp
    allowed = np.where(rows.fall > STEEP_RAD, 0.0 if case.coarse else STEEP_BITE_MM, allowed)
    feeding = ~side.rapid[rows.motion]
    steep = feeding & (rows.fall > steepest + 1e-3)
    hits = np.flatnonzero(steep & (bite > allowed))
    sheared = web_over_void(case.order, side, case.grid, rows, hits, bite[hits]) & (
        rows.fall[hits] <= STEEP_RAD
    )
    hits = hits[~sheared]

    def tell(k: int) -> Message:
        row = hits[k]
        found, limit = float(bite[row]), float(allowed[row])
        sentence = (
            f"falls at {np.degrees(rows.fall[row]):.1f} degrees into {mm(found):.3f} of metal; "
            f"the cutter may fall into solid at {np.degrees(steepest[row]):.1f} degrees, "
            f"steeper only where {mm(limit):.3f} or less is met"
        )
        return sentence, found, limit

    yield from first_and_worst(
        Kind.STEEP_ENTRY, side, rows.motion[hits], tell=tell, badness=bite[hits] - allowed[hits],
        places=rows.place[hits],
    )  # fmt: skip


def _rim_bites(side: SideProgram, case: Case) -> Floats:
    """Return how deep each motion that feeds straight down bites at its rim, (M,) mm.

    Beside a wall it may take a crescent that no cell sees; so it is read at exact places of the rim.
    """
    found, rows = np.zeros(len(side)), side.steps
    beside = ~rows.moving & (rows.fall > STEEP_RAD) & (rows.engagement.tallest > 0.0)
    down = np.unique(rows.motion[beside & ~side.rapid[rows.motion]])
    if not len(down):
        return found
    angle = np.arange(FALL_RIM_PLACES) * (2 * np.pi / FALL_RIM_PLACES)
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    rims = np.column_stack([side.part_stop[down, :2], side.cutter_radius[down] - WITHIN_RIM_MM])
    rims = np.unique(np.round(rims, 6), axis=0)
    places = (rims[:, None, :2] + rims[:, None, 2:] * ring).reshape(-1, 2)
    seen = sample_columns(places, case.order.setup.plate.thickness)
    asked = np.zeros(len(side), bool)
    asked[down] = True
    upper = case.sides[0]
    if upper is not None and upper is not side:
        cut_by_steps(seen, upper.laid, side=upper.name, first=0)
    bite, motion = cut_by_steps(seen, side.laid, side=side.name, first=0, asked=asked)
    np.maximum.at(found, motion[motion >= 0], bite[motion >= 0])
    return found


def mean_depths(rows: ContactSteps, across: Floats, shortest: float) -> Floats:
    """Return the mean depth of each step over what it takes ``across``, (S,) mm.

    A step of less than ``shortest`` mm shares the volume and area of so much way about its middle.
    """
    e = rows.engagement
    wide = way_means(rows, across * e.length, shortest)
    return np.asarray(way_means(rows, e.volume, shortest) / np.maximum(wide, LEAST_AREA_MM2))


def way_means(rows: ContactSteps, amount: Floats, shortest: float) -> Floats:
    """Return the mean of an amount of each step (S,) over a mm of its way.

    Over ``shortest`` mm of way about its middle, where it is shorter.
    """
    e = rows.engagement
    ends = np.cumsum(e.length)
    middle, half = ends - e.length / 2, np.maximum(e.length, shortest) / 2
    whole, way = np.concatenate([[0.0], np.cumsum(amount)]), np.concatenate([[0.0], ends])
    both = np.interp(middle + half, way, whole) - np.interp(middle - half, way, whole)
    return np.asarray(both / np.maximum(2 * half, LEAST_AREA_MM2))


def _turned_depths(
    case: Case, side: SideProgram, rows: ContactSteps, at: Ints, across: Floats
) -> Floats:  # fmt: skip
    """Return the mean depth of some steps over what they take ``across`` (S,) mm, (k,) mm.

    Beside a wall that turns about the axis' way of radius c the metal is a ring from c + R inward; its
    outside goes (c + R) / c as far as the axis. A ring thinner than `ONTO_WALL_SHARE`, were it all
    as high as its highest place, is stock on a wall, which in a corner the rim meets along both
    walls: no slot.
    """
    e, short = rows.engagement, SHORT_STEP_CELLS * case.seen
    radius, under = side.cutter_radius[rows.motion[at]], e.under[at]
    share = contact_share(case.order, side, rows, at, over=short)
    bend = radius / np.maximum(share - 1.0, LEAST_AREA_MM2)
    outer, area = bend + radius, way_means(rows, e.volume, short)[at]
    # a strip may seem a row of cells wider than it is
    thin = 2 * bend * np.maximum(area / np.maximum(under, LEAST_AREA_MM2) - case.seen, 0.0)
    ring = thin / (outer + np.sqrt(np.maximum(outer**2 - thin, 0.0)))
    wide = np.minimum(across[at], outer)
    mean = 2 * bend * area / np.maximum(wide * (2 * outer - wide), LEAST_AREA_MM2)
    return np.where((share > 1.0) & (ring <= ONTO_WALL_SHARE * 2 * radius), 0.0, mean)


def _slot(side: SideProgram, rows: ContactSteps, limits: Given, case: Case) -> Iterator[Finding]:
    e = rows.engagement
    radius = side.cutter_radius[rows.motion]
    across = radius * (1.0 - np.cos(np.minimum(e.width, np.pi)))
    wide = across > SLOT_WIDTH_SHARE * 2 * radius
    both = np.minimum(e.left, e.right)
    # the mean over the width, since a web that a finishing pass shears is as wide and not as deep
    mean = mean_depths(rows, across, SHORT_STEP_CELLS * case.seen)
    depth = np.maximum(both, np.where(wide, np.minimum(e.front, mean), 0.0))
    allowed = case.near(limits.slot, limits.slot * STEPDOWN_SLACK_TIMES + DEPTH_ROUNDING_MM)
    much = np.flatnonzero((depth > allowed) & (depth > both))
    turned = _turned_depths(case, side, rows, much, across)
    depth[much] = np.maximum(both[much], np.minimum(e.front[much], turned))
    deep = (depth > allowed) & ~side.rapid[rows.motion] & (rows.fall < STEEP_RAD)
    hits = np.flatnonzero(deep)
    hits = hits[~web_over_void(case.order, side, case.grid, rows, hits, depth[hits])]

    def tell(k: int) -> Message:
        row = hits[k]
        found, limit = float(depth[row]), float(allowed[row])
        how = "on both sides at once" if both[row] > limit else f"{mm(float(across[row])):.2f} wide"
        sentence = (
            f"cuts depth={mm(found):.3f} {how}; "
            f"cutter {int(side.trace.cutter[rows.motion[row]])} takes at most {mm(limit):.3f} "
            f"in a slot"
        )
        return sentence, found, limit

    yield from first_and_worst(
        Kind.SLOT_DEPTH, side, rows.motion[hits], tell=tell, badness=depth[hits] - allowed[hits],
        places=rows.place[hits],
    )  # fmt: skip


FEED_SAMPLE_MM = 1.0
"""mm between the places of a feed where the ground below it is looked at."""


def find_clearance(case: Case) -> Iterator[Finding]:
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
    things = [keep.height for keep in setup.clamps if keep.side == side]
    if side == "B" and setup.workholding.kind == "bores":
        things.append(setup.workholding.head_height)
    return max([bulge(order), *things])


def _sideways(side: SideProgram) -> NDArray[np.bool_]:
    m = side.motions
    return np.asarray((np.hypot(*(m.stop - m.start)[:, :2].T) > STILL_MM) | (m.kind == ARC))


def _lowest(side: SideProgram) -> Floats:
    """Return each motion's least height above the face, mm; inf where the text tells none."""
    m, known = side.motions, np.asarray(side.trace.known)[:, 2]
    ends = np.where(known, np.minimum(m.start[:, 2], m.stop[:, 2]), m.stop[:, 2])
    return np.where(side.shapes.known, ends - side.face, np.inf)


def _falls(side: SideProgram) -> NDArray[np.bool_]:
    m = side.motions
    return np.asarray(side.rapid & (m.stop[:, 2] < m.start[:, 2] - STILL_MM))


def _across(side: SideProgram, order: Order) -> Iterator[Finding]:
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


def _down(side: SideProgram, order: Order) -> Iterator[Finding]:
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
    side: SideProgram, which: NDArray[np.bool_], least: float, what: str, rule: str, *, remedy: str
) -> Iterator[Finding]:
    """Yield those of some motions that go lower than ``least`` mm above the plate."""
    low = _lowest(side)
    hits = np.flatnonzero(which & ~(low >= least - LAST_DIGIT_MM))

    def tell(k: int) -> Message:
        height = float(low[hits[k]])
        return f"{what} height={mm(height):.3f} above the plate; {rule}", height, least

    yield from first_and_worst(
        Kind.CLEARANCE, side, hits, tell=tell, badness=-low[hits], remedy=remedy
    )


def _disturbed(side: SideProgram, order: Order) -> Iterator[Finding]:
    """Yield the lowest rapid down that meets the plate with plate or zero a little off."""
    low = _lowest(side)
    rows = np.flatnonzero(_falls(side) & (low > 0.0))
    if not len(rows):
        return
    x = side.part_stop[rows, 0]
    left = [low[rows] - plate_thicker(order.setup, d, x) + height_lost(order.setup, d, side.name)
            for d in DISTURBANCES]  # fmt: skip
    d, k = np.unravel_index(int(np.argmin(left)), np.shape(left))
    found = float(left[d][k])
    if not found > 0.0:
        sentence = f"{DISTURBANCES[d].name}, a rapid ends {mm(-found):.3f} below the plate's face"
        remedy = f"end rapids higher: mill.approach_gap = {mm(0.5)} is usual"
        yield at_motion(Kind.CLEARANCE, side, int(rows[k]), (sentence, found, 0.0), remedy)


def _fed(side: SideProgram, case: Case) -> Iterator[Finding]:
    """Yield feeds across bare plate, meeting nothing, lower than feed begins."""
    m, gap, low = side.motions, case.order.setup.mill.approach_gap, _lowest(side)
    level = np.abs(m.stop[:, 2] - m.start[:, 2]) <= LEVEL_FEED_MM
    near = (low >= -LAST_DIGIT_MM) & (low < gap - LAST_DIGIT_MM)
    rows = np.flatnonzero(~side.rapid & _sideways(side) & level & near & ~side.contact)
    hits, ways = [], []
    for k in rows.tolist():
        way = _over_bare(side, case, k)
        if way > 2 * float(side.shapes.radius[k]):
            hits.append(k)
            ways.append(way)

    def tell(k: int) -> Message:
        height = float(low[hits[k]])
        sentence = (
            f"feeds {mm(ways[k]):.1f} across bare plate at height={mm(height):.3f}; nothing goes across"
            f" it lower than {mm(gap):g} but to cut"
        )
        return sentence, height, gap

    remedy = "lift to the rapid height and go across there"
    yield from first_and_worst(
        Kind.CLEARANCE, side, hits, tell=tell, badness=ways or None, remedy=remedy
    )


def _over_bare(side: SideProgram, case: Case, motion: int) -> float:
    """Return over how much of its way nothing has been cut under a whole cutter, mm."""
    m, length = side.motions, float(side.motions.lengths[motion])
    count = max(2, int(np.ceil(length / FEED_SAMPLE_MM)))
    at = m.places_at(np.full(count, motion), (np.arange(count) + 0.5) / count)[:, :2]
    angle = np.arange(8) * np.pi / 4
    disc = np.vstack([[[0.0, 0.0]], np.column_stack([np.cos(angle), np.sin(angle)])])
    under = at[:, None] + 0.999 * side.shapes.radius[motion] * disc[None]
    places = to_part(side.frame, under.reshape(-1, 2))
    seen = sample_columns(places, case.order.setup.plate.thickness)
    rows = near_motions(side, places)
    cut_with_some(seen, side, case.order.setup.flip, rows[rows < motion])
    half = side.thickness / 2
    cut = half - seen.top if side.name == "A" else half + seen.bottom
    x0, y0, x1, y1 = case.order.setup.plate.bounds
    x, y = places.T
    bare = (cut <= UNTOUCHED_MM) & (x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)
    return float(bare.reshape(count, -1).all(axis=1).mean()) * length

"""What stands in the way of flank, shank and holder: metal, clamps, heads of screws."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, Motions
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, Message, first_and_worst
from knifecam.judge.judge_limits import (
    CLAMP_GAP_MM,
    CLAMP_SAMPLE_MM,
    COLLISION_SLACK_MM,
    LAST_DIGIT_MM,
)
from knifecam.measure.case import Case
from knifecam.quantity import mm
from knifecam.shop import Clamp, Cutter, Order
from knifecam.sweep.side_frames import to_program_plane
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_steps import ContactSteps

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Thing:
    """A keep-out in the program frame: a rectangle grown by ``round_`` mm at its edges.

    ``top`` is its height above the plate's upper face, ``since`` the first motion it stands for.
    """

    name: str
    low: tuple[float, float]
    high: tuple[float, float]
    round_: float
    top: float
    since: int = 0


def find_keep_out(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind keep-out, and of the kind frame for cuts beside a clamp."""
    for side in case.given():
        paths = _Paths(side)
        clamps = [_clamp(k) for k in case.order.setup.clamps if k.side == side.name]
        for thing in (*clamps, *_heads(side, case)):
            yield from _touched(side, paths, thing, case.order)
        for thing in clamps:
            yield from _beside(side, paths, thing)


def _clamp(keep: Clamp) -> _Thing:
    return _Thing(
        name=keep.name,
        low=(min(keep.x_low, keep.x_high), min(keep.y_low, keep.y_high)),
        high=(max(keep.x_low, keep.x_high), max(keep.y_low, keep.y_high)),
        round_=0.0,
        top=keep.height,
    )


def _heads(side: SideProgram, case: Case) -> Iterator[_Thing]:
    """Yield the heads of the screws that hold the blade on side B, from its outline cuts on."""
    hold = case.order.setup.workholding
    if side.name != "B" or hold.kind != "bores":
        return
    since = first_outline_cut(side, case)
    for bore in case.order.blade.bores:
        if bore.name in hold.screws:
            x, y = to_program_plane(side.frame, np.array([bore.centre]) * side.frame.signs[:2])[0]
            yield _Thing(
                name=f"the screw in {bore.name}", low=(float(x), float(y)),
                high=(float(x), float(y)), round_=hold.head_diameter / 2, top=hold.head_height,
                since=since,
            )  # fmt: skip


def first_outline_cut(side: SideProgram, case: Case) -> int:
    """Return the first motion of a side that takes metal outside bores and slots."""
    cutting = np.flatnonzero(side.contact)
    at = side.motions.stop[cutting, :2] * side.frame.signs[:2]
    inside = np.zeros(len(cutting), bool)
    for opening in case.openings:
        low_x, low_y, high_x, high_y = opening.outline.bounds
        inside |= (at[:, 0] >= low_x) & (at[:, 0] <= high_x) & (at[:, 1] >= low_y) & (
            at[:, 1] <= high_y
        )  # fmt: skip
    outside = cutting[~inside]
    return int(outside[0]) if len(outside) else len(side)


class _Paths:
    """A side's motions in the program frame with boxes round them."""

    def __init__(self, side: SideProgram) -> None:
        self.motions = side.trace.motions
        m = self.motions
        ends = np.stack([m.start[:, :2], m.stop[:, :2]])
        arc = (m.kind == ARC)[:, None]
        spread = np.where(arc, m.radii[:, None], 0.0)
        self.low = np.where(arc, m.centre - spread, ends.min(axis=0))
        self.high = np.where(arc, m.centre + spread, ends.max(axis=0))
        self.lowest = np.fmin(m.start[:, 2], m.stop[:, 2]) + (side.frame.zero - side.face)
        known = np.asarray(side.trace.known)
        self.told = known[:, :2].all(axis=1) | side.known_after[:, :2].all(axis=1)

    def near(self, thing: _Thing, reach: Floats, below: Floats) -> NDArray[np.int64]:
        """Return motions that may come within ``reach`` mm of a thing, lower than ``below``."""
        grown = (reach + thing.round_)[:, None]
        close = (self.low < thing.high + grown) & (self.high > thing.low - grown)
        return np.flatnonzero(close.all(axis=1) & (self.lowest < below) & self.told)


def _places(motions: Motions, k: int) -> Floats:
    """Return places along one motion, (n, 3), no further apart than `CLAMP_SAMPLE_MM`."""
    count = max(2, int(np.ceil(motions.lengths[k] / CLAMP_SAMPLE_MM)) + 1)
    return motions.places_at(np.full(count, k), np.linspace(0.0, 1.0, count))


def _gap(points: Floats, thing: _Thing) -> Floats:
    """Return the distance in the plane from the axis to a thing, (n,) mm, 0 inside."""
    away = np.maximum(np.maximum(thing.low - points[:, :2], points[:, :2] - thing.high), 0.0)
    return np.maximum(np.hypot(*away.T) - thing.round_, 0.0)


def clamp_gaps(side: SideProgram, order: Order, at: Floats) -> Iterator[tuple[str, float]]:
    """Yield each clamp of a side and how far a place (2,) of its program is from it, mm."""
    for keep in order.setup.clamps:
        if keep.side == side.name:
            yield keep.name, float(_gap(np.atleast_2d(at), _clamp(keep))[0])


def widest_radius_below(cutter: Cutter, height: Floats) -> Floats:
    """Return the greatest radius of the cutter with its holder below ``height`` above the tip.

    0 where ``height`` is not above the tip.
    """
    taper = np.tan(cutter.cone)
    cone = cutter.neck / 2 + np.maximum(height - cutter.reach, 0.0) * taper
    shaft = np.maximum(np.minimum(cone, cutter.shank / 2), cutter.radius)
    wide = np.where(height > cutter.stickout, max(cutter.holder / 2, cutter.radius), shaft)
    return np.where(height > 0, wide, 0.0)


def _touched(side: SideProgram, paths: _Paths, thing: _Thing, order: Order) -> Iterator[Finding]:
    widest = np.maximum(side.shapes.holder, np.maximum(side.shapes.shank, side.shapes.radius))
    below = np.full(len(side), thing.top)
    hits, depths = [], []
    for k in paths.near(thing, widest, below):
        if k < thing.since or not side.shapes.known[k]:
            continue
        points = _places(paths.motions, int(k))
        height = thing.top - (points[:, 2] + side.frame.zero - side.face)
        wide = widest_radius_below(order.cutter(int(side.trace.cutter[k])), height)
        depth = float(
            np.max(np.where(height > COLLISION_SLACK_MM, wide - _gap(points, thing), -np.inf))
        )
        if depth > COLLISION_SLACK_MM:
            hits.append(int(k))
            depths.append(depth)

    def tell(k: int) -> Message:
        what = "a rapid" if side.rapid[hits[k]] else "the cutter or its holder"
        return f"{what} runs {mm(depths[k]):.3f} into {thing.name}", depths[k], 0.0

    yield from first_and_worst(
        Kind.KEEP_OUT, side, hits, tell=tell, badness=depths or None,
        remedy=f"go over {thing.name} at rapid height, or set it elsewhere",
    )  # fmt: skip


def _beside(side: SideProgram, paths: _Paths, thing: _Thing) -> Iterator[Finding]:
    reach = side.shapes.radius + CLAMP_GAP_MM
    hits, gaps = [], []
    for k in paths.near(thing, reach, np.full(len(side), np.inf)):
        if side.contact[k]:
            gap = float(_gap(_places(paths.motions, int(k)), thing).min() - side.shapes.radius[k])
            if gap < CLAMP_GAP_MM - LAST_DIGIT_MM:
                hits.append(int(k))
                gaps.append(gap)

    def tell(k: int) -> Message:
        sentence = (
            f"cuts {mm(gaps[k]):.3f} from {thing.name}; {mm(CLAMP_GAP_MM):g} must stay between them"
        )
        return sentence, gaps[k], CLAMP_GAP_MM

    yield from first_and_worst(
        Kind.BORDER, side, hits, tell=tell, badness=[-g for g in gaps] or None,
        remedy=f"set {thing.name} further away",
    )  # fmt: skip


def find_reach(case: Case) -> Iterator[Finding]:
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


def _reach(side: SideProgram, rows: ContactSteps) -> Iterator[Finding]:
    e = rows.engagement
    flutes = side.shapes.flute_length[rows.motion]
    reach = side.shapes.reach[rows.motion]
    known = side.shapes.known[rows.motion]
    relieved = side.shapes.neck[rows.motion] < side.cutter_radius[rows.motion] - COLLISION_SLACK_MM
    deepest = np.maximum(e.front, np.maximum(e.left, e.right))
    beside = np.where(relieved, deepest, e.tallest)
    rubbing = known & (e.volume > 0) & (beside > flutes + COLLISION_SLACK_MM)
    beyond = known & (e.tallest > reach + COLLISION_SLACK_MM)
    hits = np.flatnonzero(rubbing | beyond)

    def tell(k: int) -> Message:
        row = hits[k]
        tall, past = float(e.tallest[row]), bool(beyond[row])
        limit = float(reach[row] if past else flutes[row])
        name = "reach" if past else "flute_length"
        sentence = (
            f"metal stands {mm(tall):.3f} above the tip; "
            f"cutter {int(side.trace.cutter[rows.motion[row]])} has {name}={mm(limit):g}"
        )
        return sentence, tall, limit

    yield from first_and_worst(
        Kind.REACH, side, rows.motion[hits], tell=tell, badness=e.tallest[hits],
        places=rows.place[hits],
    )  # fmt: skip


def _shank(side: SideProgram, rows: ContactSteps) -> Iterator[Finding]:
    shank = rows.engagement.shank
    hits = np.flatnonzero(side.shapes.known[rows.motion] & (shank > COLLISION_SLACK_MM))

    def tell(k: int) -> Message:
        found = float(shank[hits[k]])
        return f"the shank runs {mm(found):.3f} into metal beside the cut", found, 0.0

    yield from first_and_worst(
        Kind.SHANK_CONTACT, side, rows.motion[hits], tell=tell, badness=shank[hits],
        places=rows.place[hits],
    )  # fmt: skip


def _holder(side: SideProgram, case: Case) -> Iterator[Finding]:
    lowest = np.fmin(side.motions.start[:, 2], side.motions.stop[:, 2])
    sunk = side.face - (lowest + side.shapes.stickout)
    deep = side.shapes.known & (sunk > COLLISION_SLACK_MM)
    hits = np.flatnonzero(deep & _over_plate(side, case))

    def tell(k: int) -> Message:
        found = float(sunk[hits[k]])
        return f"the holder goes {mm(found):.3f} below the plate's upper face", found, 0.0

    yield from first_and_worst(
        Kind.SHANK_CONTACT, side, hits, tell=tell, badness=sunk[hits],
        remedy="clamp the cutter with more stickout",
    )  # fmt: skip


def _over_plate(side: SideProgram, case: Case) -> np.ndarray:
    """Return which motions have their holder over the plate, (M,), seen by their ends."""
    x_low, y_low, x_high, y_high = case.order.setup.plate.bounds
    corners = np.array([[x_low, y_low], [x_high, y_high]]) * side.frame.signs[:2]
    low, high = corners.min(axis=0), corners.max(axis=0)
    wide = side.shapes.holder[:, None]
    ends = np.stack([side.motions.start[:, :2], side.motions.stop[:, :2]])
    return np.asarray(np.all((ends > low - wide) & (ends < high + wide), axis=2).any(axis=0))

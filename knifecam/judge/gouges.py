"""Where a cutter went past the wanted shape."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, Message, first_and_worst
from knifecam.judge.judge_limits import BORE_DEEPER_MM, BREAK_DEEPER_MM, DENT_MM
from knifecam.measure.bevel_places import surface_cosine
from knifecam.measure.case import Case
from knifecam.measure.measure_limits import WALL_OFF_MM
from knifecam.measure.measured_bevel import BevelLine
from knifecam.measure.measured_openings import MeasuredOpening
from knifecam.measure.measured_surfaces import GroundSurface
from knifecam.measure.measured_wall import SideWall
from knifecam.quantity import mm
from knifecam.sweep.side_program import SideProgram

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind gouge."""
    for which, side in enumerate(case.sides):
        if side is None:
            continue
        yield from _faces(side)
        yield from _bevels(side, case, which)
        yield from _wall(side, case, case.wall.sides[which])
        for opening in case.openings:
            yield from _opening(side, opening, which)
    if case.sides[0] is not None:
        for opening in case.openings:
            yield from _ground(case.sides[0], opening)


def _faces(side: SideProgram) -> Iterator[Finding]:
    if side.swept is None:
        return
    depth = side.swept.gouge
    hits = np.flatnonzero(depth > DENT_MM)
    where = side.swept.gouge_place[hits]
    height = side.face - depth[hits]
    places = np.column_stack([where, height * side.frame.signs[2]])

    def tell(k: int) -> Message:
        found = float(depth[hits[k]])
        return f"takes {mm(found):.3f} off the blade's face", found, 0.0

    yield from first_and_worst(
        Kind.GOUGE, side, hits, tell=tell, badness=depth[hits], places=places
    )


def _bevels(side: SideProgram, case: Case, which: int) -> Iterator[Finding]:
    """Yield cuts below the wanted surface of bevels and edge breaks, in cells and along lines."""
    surface = case.surfaces[which]
    if surface is None:
        return
    lines = [line for g in case.grounds if g.side == side.name for line in g.lines]
    rows = [_low_cells(case, surface), *(_low_sights(line) for line in lines)]
    low = Low(*(np.concatenate([getattr(row, name) for row in rows]) for name in Low._fields))
    hits = np.flatnonzero(low.last >= side.first)
    names = [bevel.name for bevel in case.order.blade.bevels]

    def tell(k: int) -> Message:
        bevel, found = int(low.bevel[hits[k]]), float(low.depth[hits[k]])
        what = f"bevel {names[bevel]}" if bevel >= 0 else "an edge break"
        limit = DENT_MM if bevel >= 0 else BREAK_DEEPER_MM
        return f"goes {mm(found):.4f} below {what}; {mm(limit):g} is allowed", found, limit

    heights = low.heights[hits] * side.frame.signs[2]
    yield from first_and_worst(
        Kind.GOUGE, side, low.last[hits] - side.first, tell=tell, badness=low.depth[hits],
        places=np.column_stack([low.points[hits], heights]),
    )  # fmt: skip


class Low(NamedTuple):
    """Places of bevels and edge breaks that lie too low: ``depth`` mm square to the surface."""

    points: Floats
    heights: Floats
    depth: Floats
    bevel: Ints
    last: Ints


def _low_cells(case: Case, surface: GroundSurface) -> Low:
    deep = surface.deviation < -DENT_MM
    places, height = surface.places.chosen(deep), surface.height[deep]
    depth = (places.target - height) * surface_cosine(case.order.blade, places)
    bad = depth > np.where(places.bevel < 0, BREAK_DEEPER_MM, DENT_MM)
    last = surface.last[deep][bad].astype(np.int64)
    return Low(places.points[bad], height[bad], depth[bad], places.bevel[bad], last)


def _low_sights(line: BevelLine) -> Low:
    low = line.off < -DENT_MM
    at = line.places.chosen(low)
    return Low(at.points, at.target, -line.off[low], at.bevel, line.last[low])


def _wall(side: SideProgram, case: Case, reached: SideWall | None) -> Iterator[Finding]:
    if reached is not None:
        wall = case.wall
        allowed = np.full(len(wall.heights), WALL_OFF_MM)
        yield from _past(side, reached, wall.points, wall.heights, allowed, "the outline")


def _opening(side: SideProgram, opening: MeasuredOpening, which: int) -> Iterator[Finding]:
    reached = opening.sides[which]
    if reached is not None:
        heights = opening.heights
        past = opening.past[which]
        yield from _past(side, reached, opening.points, heights, past, opening.name)


def _past(
    side: SideProgram,
    reached: SideWall,
    points: Floats,
    heights: Floats,
    allowed: Floats,
    what: str,
) -> Iterator[Finding]:
    over = np.where(np.isfinite(reached.error), -reached.error - allowed[:, None], -np.inf)
    level = over.argmax(axis=0)
    place = np.arange(over.shape[1])
    bad = np.flatnonzero(over[level, place] > 0)
    level = level[bad]
    motion = reached.motion[level, bad]
    depth = -reached.error[level, bad]
    places = np.column_stack([points[bad], heights[level]])

    def tell(k: int) -> Message:
        limit = float(allowed[level[k]])
        sentence = (
            f"goes {mm(depth[k]):.4f} past the wall of {what}; {mm(limit):.4f} is allowed there"
        )
        return sentence, float(depth[k]), limit

    yield from first_and_worst(Kind.GOUGE, side, motion, tell=tell, badness=depth, places=places)


def _ground(side: SideProgram, opening: MeasuredOpening) -> Iterator[Finding]:
    lowest = opening.floor[0]
    if opening.through or not lowest < opening.low - BORE_DEEPER_MM:
        return
    depth = opening.low - lowest
    x, y = opening.bore.centre if opening.bore is not None else (np.nan, np.nan)
    near = np.hypot(*(side.part_stop[:, :2] - (x, y)).T) < np.hypot(*np.ptp(opening.points, axis=0))
    deep = np.where(near, side.motions.stop[:, 2], np.inf)
    motion = int(np.argmin(deep))
    told = (f"{opening.name} is {mm(depth):.3f} too deep", depth, BORE_DEEPER_MM)
    yield from first_and_worst(
        Kind.GOUGE, side, [motion], tell=lambda _: told, places=np.array([[x, y, lowest]])
    )

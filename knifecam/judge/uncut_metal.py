"""Metal that should be gone: walls not finished, ridges, bores not opened; corners out of reach.

Inner corners too tight for any finishing cutter stay uncut without being findings: no program could
cut them with the cutters there are.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from knifecam.blade.finished_surface import edge_distance
from knifecam.curve import ARC, Curve, signed_distance
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, rounded_place
from knifecam.judge.judge_limits import (
    ALIKE_MM,
    BORE_SHALLOWER_MM,
    CUSP_MORE_MM,
    CUSP_SLACK_TIMES,
    LEFT_MM2,
)
from knifecam.measure.bevel_contact import rests
from knifecam.measure.bevel_places import (
    SurfacePlaces,
    allowed_cusp,
    plunge_margin,
    surface_cosine,
    upward,
)
from knifecam.measure.case import Case, on_stub
from knifecam.measure.measure_limits import (
    BESIDE_FACE_MM,
    MEETING_MM,
    ON_SURFACE_MM,
    RADIUS_HALVINGS,
    REACHABLE_MM,
    SILENT_MM,
    WALL_OFF_MM,
    WALL_SAMPLE_MM,
)
from knifecam.measure.measured_openings import MeasuredOpening
from knifecam.measure.measured_wall import MeasuredWall, Reaches, SideWall, axes_beside
from knifecam.quantity import mm, mm2
from knifecam.sweep.side_program import SideProgram

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds uncut and ridge."""
    if case.sides == (None, None):
        return
    yield from _outline(case)
    for which, side in enumerate(case.sides):
        if side is not None:
            yield from _bevels(case, side, which)
    for opening in case.openings:
        yield from _walls(opening, case)
        yield from _inside(opening, case)


def _outline(case: Case) -> Iterator[Finding]:
    wall = case.wall
    left = wall_left(case)
    low, high = case.wanted.floor_a - MEETING_MM, case.wanted.floor_b + MEETING_MM
    meeting = (wall.heights > low) & (wall.heights < high)
    elsewhere = left[~meeting].max(axis=0, initial=-np.inf)
    uncut = elsewhere > WALL_OFF_MM
    if uncut.any():
        left_there = np.where(meeting[:, None], -np.inf, left)
        yield _worst(Kind.UNCUT, case, wall, left_there, uncut)
    between = left[meeting].max(axis=0, initial=-np.inf)
    ridge = (between > WALL_OFF_MM) & ~uncut
    if ridge.any():
        yield _worst(
            Kind.PARTING_RIDGE, case, wall, np.where(meeting[:, None], left, -np.inf), ridge
        )


def wall_left(case: Case) -> Floats:
    """Return what stays on the outline's wall, (H, n) mm; -inf where none of it is judged."""
    judged = ~on_stub(case) & case.wall.there & _judged_heights(case)[:, None]
    if any(side is not None for side in case.wall.sides):
        judged &= _reachable(case.wall.sides)[None, :]
    return np.where(judged, case.wall.left, -np.inf)


def _judged_heights(case: Case) -> Bools:
    """Return the heights that the sides given must have finished, (H,)."""
    heights, wanted = case.wall.heights, case.wanted
    if case.whole:
        return np.ones(len(heights), bool)
    for side in case.given():
        corner = float(side.shapes.corner.max(initial=0.0))
        gap = corner + case.order.trench.clearance + BESIDE_FACE_MM
        if side.name == "A":
            return np.asarray(heights > wanted.floor_a + gap)
        return np.asarray(heights < wanted.tab_low - gap)
    return np.zeros(len(heights), bool)


def _reachable(sides: tuple[SideWall | None, SideWall | None]) -> Bools:
    """Return the places that every side given can reach with its smallest cutter.

    Without any side it is one answer for all places: they could be reached.
    """
    return np.atleast_1d(np.logical_and.reduce([s.reachable for s in sides if s is not None]))


def _worst(kind: Kind, case: Case, wall: MeasuredWall, left: Floats, bad: Bools) -> Finding:
    count = int(bad.sum())
    level, k = np.unravel_index(int(np.argmax(np.where(bad[None, :], left, -np.inf))), left.shape)
    height = float(wall.heights[level])
    found = float(left[level, k])
    sides = _short(case, wall, int(k)) if kind is Kind.PARTING_RIDGE else wall.sides
    side, line = _nearest_motion(case, sides, int(level), int(k), height)
    amount = f"{mm(found):.4f}" if np.isfinite(found) else f"more than {mm(0.5)}"
    length = count / len(wall.stations) * case.wanted.outline.length
    if kind is Kind.UNCUT:
        sentence = f"{amount} of metal stays on the outline's wall, along {mm(length):.1f} of it"
        remedy = "finish the wall there"
    else:
        sentence = (
            f"a ridge of {amount} stays where the sides meet, along {mm(length):.1f} of the outline"
        )
        remedy = f"let the sides overlap by their cutters' corner radii and {mm(0.1)} more"
    return Finding(
        kind=kind, side=side, line=line, message=f"{sentence}; {mm(WALL_OFF_MM):g} is allowed",
        place=rounded_place([*wall.points[k], height]),
        measured=found if np.isfinite(found) else None, allowed=WALL_OFF_MM, remedy=remedy,
    )  # fmt: skip


def _short(case: Case, wall: MeasuredWall, k: int) -> Reaches:
    """Return of both sides at a place only that which ends farther short of where it is to end.

    Where both do alike, as their corners' fillets make them, it is side B, which can be cut again.
    """
    a, b = wall.sides
    if a is None or b is None:
        return wall.sides
    low = wall.heights[a.error[:, k] <= WALL_OFF_MM].min(initial=np.inf)
    high = wall.heights[b.error[:, k] <= WALL_OFF_MM].max(initial=-np.inf)
    short_a, short_b = low - case.wanted.floor_a, case.wanted.floor_b - high
    return (a, None) if short_a > short_b + ALIKE_MM else (None, b)


def _nearest_motion(
    case: Case, sides: tuple[SideWall | None, SideWall | None], level: int, k: int, height: float
) -> tuple[str, int]:
    """Return side and line of what came nearest to a place, else the side it belongs to."""
    best, side, line = np.inf, "", 0
    for which, reached in enumerate(sides):
        owner = case.sides[which]
        if reached is not None and owner is not None and reached.error[level, k] < best:
            best, side = float(reached.error[level, k]), owner.name
            line = int(owner.trace.line[reached.motion[level, k]])
    if side:
        return side, line
    given = [s.name for s in case.given()]
    return given[0] if len(given) == 1 else ("A" if height > case.wanted.floor_a else "B"), 0


def _bevels(case: Case, side: SideProgram, which: int) -> Iterator[Finding]:
    """Yield the worst of each bevel where more is left than the ordered stepover leaves."""
    surface, order = case.surfaces[which], case.order
    if surface is None or not len(surface.places):
        return
    high = (surface.deviation > CUSP_MORE_MM) & (surface.places.bevel >= 0)
    places = surface.places.chosen(high)
    off = surface.deviation[high] * surface_cosine(order.blade, places)
    up = upward(order, places, _ways(case, side, places, surface.last[high]))
    predicted = allowed_cusp(order, places, plunge_from=plunge_margin(order), up=up)
    allowed = np.maximum(CUSP_SLACK_TIMES * predicted, predicted + CUSP_MORE_MM)
    over = off - case.near(predicted, allowed)
    for k in np.unique(places.bevel[over > 0]):
        mine = np.flatnonzero((places.bevel == k) & (over > 0))
        worst = mine[int(np.argmax(over[mine]))]
        motion = int(surface.last[high][worst]) - side.first
        area = len(mine) * surface.apart**2
        found, limit = float(off[worst]), float(allowed[worst])
        sentence = (
            f"{mm(found):.4f} stays on bevel {order.blade.bevels[k].name} over {mm2(area):.1f}; "
            f"{mm(limit):.4f} of cusp is allowed there"
        )
        yield Finding(
            kind=Kind.UNCUT, side=side.name, line=int(side.trace.line[motion]) if motion >= 0 else 0,
            message=sentence, measured=found, allowed=limit,
            place=rounded_place([*places.points[worst], places.target[worst] * side.frame.signs[2]]),
            remedy="finish the bevel there, with the ordered stepover",
        )  # fmt: skip


def _ways(case: Case, side: SideProgram, places: SurfacePlaces, last: NDArray[np.int32]) -> Floats:
    """Return the unit ways, part frame, of the motions that last cut places, (n, 2).

    0 where none of this side's did, and where it does not rest on the bevel that is wanted there:
    beside a ridge the other bevel's passes go last, and their way says nothing of this one's cusps.
    """
    order, rest = case.order, np.zeros(len(places), bool)
    if not len(side):
        return np.zeros((len(places), 2))
    m, motion = side.motions, np.clip(last - side.first, 0, len(side) - 1)
    signs, arc = np.asarray(side.frame.signs[:2]), m.kind[motion] == ARC
    at, start, centre = places.points * signs, m.start[motion], m.centre[motion]
    arm, begun, chord = at - centre, start[:, :2] - centre, m.stop[motion] - start
    tangent = np.stack([-arm[:, 1], arm[:, 0]], axis=1)
    way = np.where(arc[:, None], tangent, chord[:, :2]) * signs
    square = np.maximum(np.sum(chord[:, :2] ** 2, axis=1), 1e-18)
    gone = np.clip(np.sum((at - start[:, :2]) * chord[:, :2], axis=1) / square, 0.0, 1.0)
    over = start + gone[:, None] * chord  # the tip where it passes
    size = np.hypot(*begun.T) / np.maximum(np.hypot(*arm.T), 1e-12)
    over[arc, :2] = centre[arc] + size[arc, None] * arm[arc]
    radius, corner = side.shapes.radius[motion], side.shapes.corner[motion]
    for k, bevel in enumerate(order.blade.bevels):
        rows = np.flatnonzero(places.bevel == k)
        if len(rows):
            d = edge_distance(bevel, order.blade.outline, over[rows, :2] * signs)
            tip = rests(order, side.name, bevel, d, (radius[rows], corner[rows]))[2]
            rest[rows] = np.abs(over[rows, 2] - tip) <= ON_SURFACE_MM
    known = (rest & (last >= side.first))[:, None]
    return np.where(known, way / np.maximum(np.hypot(*way.T)[:, None], 1e-12), 0.0)


def opening_left(opening: MeasuredOpening, case: Case) -> Floats:
    """Return what stays on the wall of a bore or slot, (H, n) mm; -inf where it is not judged."""
    reachable = _reachable(opening.sides)
    judged = np.ones(len(opening.heights), bool)
    if not case.whole:
        a_only = case.sides[0] is not None
        skin = case.wanted.face_b + case.order.boring.skin + 0.31
        judged = opening.heights > skin if a_only and opening.through else judged & a_only
    judged = judged[:, None] & reachable[None, :] & opening.there
    return np.where(judged, opening.left, -np.inf)


def _walls(opening: MeasuredOpening, case: Case) -> Iterator[Finding]:
    left = opening_left(opening, case)
    if not left.size or not left.max() > WALL_OFF_MM:
        return
    level, k = np.unravel_index(int(np.argmax(left)), left.shape)
    found, height = float(left[level, k]), float(opening.heights[level])
    side, line = _nearest_motion(case, opening.sides, int(level), int(k), height)
    if not line and case.whole:
        skin = case.wanted.face_b + case.order.boring.skin
        side = "B" if opening.through and height <= skin else "A"
    amount = f"{mm(found):.4f}" if np.isfinite(found) else f"more than {mm(0.5)}"
    sentence = (
        f"{amount} of metal stays on the wall of {opening.name}; {mm(WALL_OFF_MM):g} is allowed"
    )
    yield Finding(
        kind=Kind.UNCUT, side=side, line=line, message=sentence,
        place=rounded_place([*opening.points[k], height]),
        measured=found if np.isfinite(found) else None, allowed=WALL_OFF_MM,
        remedy="finish the bore or slot to its full size and depth",
    )  # fmt: skip


def _inside(opening: MeasuredOpening, case: Case) -> Iterator[Finding]:
    middle = opening.outline.points(0.1).mean(axis=0)
    if opening.through and opening.left_inside > case.near(0.0, LEFT_MM2):
        sentence = (
            f"{opening.name} does not go through over {mm2(opening.left_inside):.2f} of its area"
        )
        yield Finding(
            kind=Kind.UNCUT, side="B", line=0, message=sentence,
            place=rounded_place([*middle, opening.low]), measured=opening.left_inside,
            allowed=LEFT_MM2, remedy="open it over its whole area and depth",
        )  # fmt: skip
    shallow = opening.floor[1] - opening.low
    if not opening.through and case.sides[0] is not None and shallow > BORE_SHALLOWER_MM:
        sentence = (
            f"{opening.name} is {mm(shallow):.3f} too shallow; {mm(BORE_SHALLOWER_MM):g} is allowed"
        )
        yield Finding(
            kind=Kind.UNCUT, side="A", line=0, message=sentence,
            place=rounded_place([*middle, opening.floor[1]]), measured=shallow, allowed=BORE_SHALLOWER_MM,
            remedy="bore it to its depth",
        )  # fmt: skip


class _Places(NamedTuple):
    """Places of a wall: ``points`` and ``normals`` (n, 2), and what the texts leave there (n,) mm."""

    points: Floats
    normals: Floats
    left: Floats


def unreachable_stretches(case: Case) -> list[dict[str, Any]]:
    """Return the stretches, each with its worst place, what stays there, and what would reach it."""
    wall = case.wall
    found = _hidden(
        "outline", case.wanted.outline, wall.points, wall.normals, wall.sides, wall.left
    )
    for one in case.openings:
        if one.kind == "slot":
            found += _hidden(one.name, one.outline, one.points, one.normals, one.sides, one.left)
    return found


def _hidden(
    name: str,
    curve: Curve,
    points: Floats,
    normals: Floats,
    sides: tuple[SideWall | None, SideWall | None],
    left: Floats,
) -> list[dict[str, Any]]:
    given = [s for s in sides if s is not None]
    if not given:
        return []
    hidden = ~np.logical_or.reduce([s.reachable for s in given])
    radius = min(s.radius for s in given)
    upper = left[-1] if sides[0] is not None else left[0]
    if not hidden.all():  # begin at a place that can be touched: no stretch runs over the end
        first = -int(np.argmin(hidden))
        hidden, upper, points, normals = (
            np.roll(a, first, axis=0) for a in (hidden, upper, points, normals)
        )
    edges = np.flatnonzero(np.diff(np.concatenate([[False], hidden, [False]]).astype(int)))
    found = [
        _stretch(name, curve, _Places(points[a:b], normals[a:b], upper[a:b]), float(radius))
        for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]
    return [one for one in found if one["left"] is None or one["left"] >= SILENT_MM]


def _stretch(name: str, curve: Curve, there: _Places, radius: float) -> dict[str, Any]:
    """Return one stretch: what the texts leave, or where they come not near, what must stay."""
    near = _between(curve.vertices, there.points)
    places = np.concatenate([there.points, near])
    told = np.concatenate([there.left, np.full(len(near), np.inf)])
    centres = axes_beside(curve, there.points, there.normals, radius)
    left = np.where(np.isfinite(told), told, _remainder(places, centres, radius))
    worst = int(np.argmax(left))
    diameter = np.floor(200 * _largest(curve, there, radius) + 1e-6) / 100
    return {
        "of": name,
        "place": [round(float(v), 4) + 0.0 for v in places[worst]],
        "left": round(float(left[worst]), 4) if np.isfinite(left[worst]) else None,
        "length": round(len(there.points) * WALL_SAMPLE_MM, 2),
        "cutter_radius": round(radius, 4),
        "largest_cutter": round(float(diameter), 2),
    }


def _between(vertices: Floats, points: Floats) -> Floats:
    """Return the vertices that lie by a stretch's places: its corners are among them."""
    apart = np.hypot(*(vertices[:, None] - points[None]).transpose(2, 0, 1)).min(axis=1)
    return np.asarray(vertices[apart < WALL_SAMPLE_MM])


def _remainder(places: Floats, centres: Floats, radius: float) -> Floats:
    """Return how far places (K, 2) are from the nearest a cutter of ``radius`` can come, mm."""
    if not len(centres):
        return np.full(len(places), np.inf)
    apart = np.hypot(*(places[:, None] - centres[None]).transpose(2, 0, 1)).min(axis=1)
    return np.asarray(np.maximum(apart - radius, 0.0))


def _largest(curve: Curve, there: _Places, radius: float) -> float:
    """Return the greatest radius that touches all places of a stretch, mm."""
    low, high = 0.0, radius
    for _ in range(RADIUS_HALVINGS):
        middle = (low + high) / 2
        away = np.abs(signed_distance(there.points + middle * there.normals, curve))
        low, high = (middle, high) if (away >= middle - REACHABLE_MM).all() else (low, middle)
    return low

"""The outline's wall, measured exactly at many heights from both sides."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Blade
from knifecam.blade.finished_surface import break_ends, half_thickness
from knifecam.curve import Curve, place_at, resample, signed_distance
from knifecam.measure.measure_limits import (
    BESIDE_FACE_MM,
    INWARD_MM,
    LAND_HEIGHTS,
    REACHABLE_MM,
    RIDGE_MM,
    STRETCH_SAMPLE_MM,
    WALL_OFF_MM,
    WALL_SAMPLE_MM,
)
from knifecam.measure.nominal import Nominal
from knifecam.measure.sample_columns import Sides, chosen_motions, near_motions
from knifecam.sweep.exact_walls import wall_error
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_limits import CAME_NEAR_MM

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class SideWall:
    """One side's error at heights and places, (H, n) mm, and the motion that came nearest there.

    Negative: the cutter went past the wall; positive: metal is left; inf: nothing came near.
    ``reachable`` (n,): the side's smallest finishing cutter, of ``radius`` mm, can touch the place.
    """

    error: Floats
    motion: Ints
    reachable: NDArray[np.bool_]
    radius: float


Reaches = tuple[SideWall | None, SideWall | None]
"""What sides A and B left, None where not cut."""


@dataclass(frozen=True, eq=False, kw_only=True)
class MeasuredWall:
    """The wall of the outline: ``stations`` (n,), ``points`` and ``normals`` (n, 2), part frame.

    ``heights`` (H,) in the part frame, rising. ``there`` (H, n): where the blade has a wall, which
    is not above its bevels, edge breaks and notches. ``sides`` are A and B, None where not cut.
    """

    stations: Floats
    points: Floats
    normals: Floats
    heights: Floats
    there: NDArray[np.bool_]
    sides: Reaches

    @property
    def left(self) -> Floats:
        """(H, n) mm: what both sides leave together."""
        given = [s.error for s in self.sides if s is not None]
        if not given:
            return np.full((len(self.heights), len(self.stations)), np.inf)
        return np.minimum.reduce(given)


def measure_wall(
    blade: Blade,
    wanted: Nominal,
    sides: Sides,
    heights: Floats | None = None,
    *,
    stations: Floats | None = None,
) -> MeasuredWall:
    """Return the outline's wall as both sides leave it.

    At the given ``heights`` (H,) mm; without, at the usual ones and where a ridge may hide. At the
    given ``stations`` (n,) mm; without, all round.
    """
    if stations is None:
        stations, points, headings = resample(wanted.outline, WALL_SAMPLE_MM)
    else:
        points, headings = place_at(wanted.outline, stations)
    normals = np.stack([np.sin(headings), -np.cos(headings)], axis=1)

    samples = WallSamples(
        wall=wanted.outline, points=points, normals=normals,
        there=lambda heights: wall_exists(blade, points, normals, heights),
    )  # fmt: skip
    if heights is None:
        usual = np.union1d(wall_heights(wanted), land_heights(blade))
        heights, found = samples.closely(sides, np.union1d(usual, break_heights(blade)))
    else:
        found = samples.reached(sides, samples.near(sides, heights))
    return MeasuredWall(
        stations=stations,
        points=points,
        normals=normals,
        heights=heights,
        there=samples.there(heights),
        sides=found,
    )


Errors = tuple[Floats, Ints] | None
"""One side's errors at heights and places, (H, n) mm, and the motions that came nearest there."""


@dataclass(frozen=True, eq=False, kw_only=True)
class WallSamples:
    """A wall of the part where it is looked at: at ``points`` (n, 2) of the curve ``wall``.

    ``normals`` (n, 2) lead from there to where the cutter stands; ``there`` tells of heights (H,)
    where the blade has a wall at all, (H, n).
    """

    wall: Curve
    points: Floats
    normals: Floats
    there: Callable[[Floats], Bools]

    def closely(self, sides: Sides, heights: Floats) -> tuple[Floats, Reaches]:
        """Return the heights, with more of them where a ridge may hide, and what both sides leave.

        It may between two of which side A reaches only the upper and side B only the lower: whether
        they meet is seen by halves, down to `RIDGE_MM`.
        """
        near = self.near(sides, heights)
        while len(more := hiding(heights, self.reached(sides, near))):
            rising = np.argsort(both := np.concatenate([heights, more]))
            heights = both[rising]
            near = [
                _joined(*pair, rising) for pair in zip(near, self.near(sides, more), strict=True)
            ]
        return heights, self.reached(sides, near)

    def near(self, sides: Sides, heights: Floats) -> list[Errors]:
        """Return both sides' errors at heights; where there is no wall nothing came near."""
        there = self.there(heights)
        return [None if side is None else self._near_one(side, heights, there) for side in sides]

    def _near_one(self, side: SideProgram, heights: Floats, there: Bools) -> Errors:
        error, motion = near_error(side, self.points, heights * side.frame.signs[2])
        return np.where(there, error, np.inf), np.where(there, motion, -1).astype(np.int32)

    def reached(self, sides: Sides, near: Sequence[Errors]) -> Reaches:
        """Return what both sides leave, of their errors."""
        a, b = (
            None if side is None or errors is None else self._reached_one(side, errors)
            for side, errors in zip(sides, near, strict=True)
        )
        return a, b

    def _reached_one(self, side: SideProgram, errors: tuple[Floats, Ints]) -> SideWall:
        radius = smallest_finisher(side, *errors)
        inward = signed_distance(self.points + radius * self.normals, self.wall)
        return SideWall(
            error=errors[0], motion=errors[1], radius=radius,
            reachable=np.abs(inward) >= radius - REACHABLE_MM,
        )  # fmt: skip


def _joined(one: Errors, other: Errors, rows: NDArray[np.intp]) -> Errors:
    """Return errors at one's heights and another's, in the order of ``rows``."""
    if one is None or other is None:
        return None
    return np.concatenate([one[0], other[0]])[rows], np.concatenate([one[1], other[1]])[rows]


def hiding(heights: Floats, sides: Reaches) -> Floats:
    """Return the heights midway between two where each side reaches one and neither both, mm."""
    upper, lower = sides
    if upper is None or lower is None:
        return np.zeros(0)
    a, b = upper.error <= WALL_OFF_MM, lower.error <= WALL_OFF_MM
    apart = a[1:] & ~a[:-1] & b[:-1] & ~b[1:] & (upper.reachable & lower.reachable)[None, :]
    wide = np.diff(heights) > RIDGE_MM
    return np.asarray((heights[:-1] + heights[1:])[wide & apart.any(axis=1)] / 2)


def wall_exists(blade: Blade, points: Floats, normals: Floats, heights: Floats) -> Bools:
    """Return where the blade has a wall at places and heights, (H, n).

    ``normals`` (n, 2) lead from the wall to where the cutter stands.
    """
    if not (blade.bevels or blade.breaks or blade.jimping):
        return np.ones((len(heights), len(points)), bool)
    within = points - INWARD_MM * normals
    high = half_thickness(blade, within, "A") - _faded(blade, within, "A") - BESIDE_FACE_MM
    low = half_thickness(blade, within, "B") - _faded(blade, within, "B") - BESIDE_FACE_MM
    level = heights[:, None]
    slack = 1e-6  # heights are rounded
    there = (level <= high[None, :] + slack) & (-level <= low[None, :] + slack)
    return np.asarray(there & ~_notched(blade, points)[None, :])


def _notched(blade: Blade, points: Floats) -> Bools:
    """Return which places lie inside a notch of the jimping, (n,)."""
    inside = np.zeros(len(points), bool)
    for row in blade.jimping:
        for centre in row.centres:
            inside |= np.hypot(*(points - np.array(centre)).T) < row.diameter / 2 - REACHABLE_MM
    return inside


def _faded(blade: Blade, points: Floats, side: str) -> Floats:
    """Return how far down a wall may be gone where an edge break fades out, (n,) mm."""
    gone = np.zeros(len(points))
    for end, reach, depth in break_ends(blade, side):
        near = np.hypot(*(points - end).T) <= reach
        gone = np.where(near, np.maximum(gone, depth), gone)
    return gone


def land_heights(blade: Blade) -> Floats:
    """Return heights across the lands of the blade's bevels."""
    rows = [
        bevel.edge_at + share * max(bevel.land / 2 - BESIDE_FACE_MM, 0.0)
        for bevel in blade.bevels
        for share in np.linspace(-1.0, 1.0, LAND_HEIGHTS)
    ]
    return np.round(np.array(rows), 6)


def break_heights(blade: Blade) -> Floats:
    """Return the heights just within the outline's edge breaks, where the wall beside them begins.

    A groove round the outline may end little deeper than they do, and nothing else of its side's
    wall be seen.
    """
    half = blade.thickness / 2 - 2 * BESIDE_FACE_MM
    rows = [
        (half - one.depth) * (1 if one.side == "A" else -1)
        for one in blade.breaks
        if one.of == "outline" and one.depth < half
    ]
    return np.round(np.array(rows), 6)


def wall_heights(wanted: Nominal) -> Floats:
    """Return the heights a wall is measured at: beside the faces, midway, and where sides meet."""
    low, high = wanted.face_b + BESIDE_FACE_MM, wanted.face_a - BESIDE_FACE_MM
    zone = np.linspace(wanted.floor_a - BESIDE_FACE_MM, wanted.floor_b + BESIDE_FACE_MM, 13)
    rows = [
        low, (low + wanted.floor_a) / 2, wanted.tab_low - 0.1, wanted.floor_a - 0.25,
        wanted.floor_a - 0.1, *zone, wanted.floor_b + 0.1, wanted.floor_b + 0.25,
        (wanted.floor_b + high) / 2, high,
    ]  # fmt: skip
    return np.unique(np.clip(np.round(rows, 6), low, high))


def near_error(
    side: SideProgram, points: Floats, heights: Floats, *, cones: bool = True
) -> tuple[Floats, Ints]:
    """Return `wall_error` of the motions that come near any of the places of the part.

    Without ``cones``: but for those of chamfer mills.
    """
    motions, chosen = side.swept_motions(), near_motions(side, points, within=2 * CAME_NEAR_MM)
    shapes = side.shapes
    chosen = chosen if cones else chosen[shapes.half_angle[chosen] == 0.0]
    error, motion = wall_error(
        points * side.frame.signs[:2], heights, chosen_motions(motions, chosen),
        side.cutter_radius[chosen], shapes.corner[chosen], tip=shapes.tip[chosen],
        half_angle=shapes.half_angle[chosen],
    )  # fmt: skip
    found = chosen[motion] if len(chosen) else motion
    return error, np.where(motion >= 0, found, -1).astype(np.int32)


def smallest_finisher(side: SideProgram, error: Floats, motion: Ints) -> float:
    """Return the least radius of the cutters that came within `WALL_OFF_MM` of a wall; 0 if none did."""
    finished = (np.abs(error) <= WALL_OFF_MM) & (motion >= 0)
    if not finished.any():
        near = motion[(motion >= 0) & np.isfinite(error)]
        return float(side.shapes.radius[near].min()) if len(near) else 0.0
    return float(side.shapes.radius[np.unique(motion[finished])].min())


def axes_beside(curve: Curve, points: Floats, normals: Floats, radius: float) -> Floats:
    """Return where a cutter's axis can stand near places (n, 2) of a closed curve, (K, 2) mm.

    ``normals`` (n, 2) lead from the places to where the cutter stands.
    """
    _, along, headings = resample(curve.counter_clockwise(), STRETCH_SAMPLE_MM)
    reach = 2 * radius + WALL_SAMPLE_MM
    low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
    near = ((along >= low) & (along <= high)).all(axis=1)
    outward = np.stack([np.sin(headings), -np.cos(headings)], axis=1)[near]
    inside = np.median(signed_distance(points + STRETCH_SAMPLE_MM * normals, curve)) > 0
    axes = along[near] + (-radius if inside else radius) * outward
    return np.asarray(axes[np.abs(signed_distance(axes, curve)) >= radius - REACHABLE_MM])

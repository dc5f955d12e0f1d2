"""The land along the edge, the thickness behind the tip, and edge breaks as they were cut."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bevel, EdgeBreak
from knifecam.blade.finished_surface import (
    break_curves,
    edge_curve,
    edge_distance,
    half_thickness,
    near_break_ends,
    past_plunge,
)
from knifecam.curve import Curve, place_at, resample, signed_distance, station_of
from knifecam.measure.measure_limits import (
    ALONG_EDGE_MM,
    BEHIND_TIP_MM,
    BESIDE_EDGE_MM,
    BESIDE_FACE_MM,
    BREAK_LINE_SAMPLES,
    BREAK_LINE_START_MM,
    BREAK_LINE_STEP_MM,
    FROM_END_MM,
    INSIDE_EDGE_MM,
    MOST_BREAK_LINES,
    OWN_LAND_MM,
    REACHABLE_MM,
    STRAY_MM,
    TIP_SAMPLE_SPACING_MM,
    UNBROKEN_MM,
    WALL_OFF_MM,
)
from knifecam.measure.measured_wall import axes_beside, near_error
from knifecam.measure.nominal import opened_wider
from knifecam.measure.sample_columns import SampledPlaces, Sides, read_places
from knifecam.shop import Order
from knifecam.sweep.side_frames import side_frame, to_part, to_program_plane, to_side_plane
from knifecam.sweep.side_program import SideProgram

Floats = NDArray[np.float64]


Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class MeasuredEdge:
    """The land of one bevel along its edge as it lies: where a side is misplaced, at the inner wall.

    ``stations`` (n,) mm along the edge, ``points`` (n, 2) of the part. ``wanted`` and ``land`` (n,)
    mm: whole thickness at the edge. ``finished`` (2, n): the motion that last cut side A's and side
    B's face beside it; ``opened`` (n,): the motion that emptied the column outside it, -1 for none.
    """

    bevel: Bevel
    index: int
    stations: Floats
    points: Floats
    wanted: Floats
    land: Floats
    finished: NDArray[np.int32]
    opened: NDArray[np.int32]

    @property
    def own(self) -> Bools:
        """Where (n,) the bevel makes its edge: elsewhere another's face runs over it, with its cusps."""
        return np.asarray(self.wanted >= self.bevel.land - OWN_LAND_MM)


def measure_edges(order: Order, sides: Sides) -> tuple[MeasuredEdge, ...]:
    """Return the land of every bevel; none unless both sides were cut."""
    if None in sides:
        return ()
    found = (_edge(order, sides, k, bevel) for k, bevel in enumerate(order.blade.bevels))
    return tuple(edge for edge in found if len(edge.stations))


def _edge(order: Order, sides: Sides, index: int, bevel: Bevel) -> MeasuredEdge:
    blade = order.blade
    curve = edge_curve(bevel, blade.outline)
    span = max(curve.length - 2 * FROM_END_MM, 0.0)
    stations = FROM_END_MM + np.linspace(0.0, span, max(2, int(np.ceil(span / ALONG_EDGE_MM)) + 1))
    points, headings = place_at(curve, stations)
    inward = np.stack([-np.sin(headings), np.cos(headings)], axis=1)
    rows = (past_plunge(bevel, points) < 0.0) & _whole(order, points + INSIDE_EDGE_MM * inward)
    stations, points, inward = stations[rows], points[rows], inward[rows]
    outside, wanted = points - BESIDE_EDGE_MM * inward, _wanted(order, points, inward)
    if any(side.frame != side_frame(order.setup, side.name) for side in filter(None, sides)):
        points, kept = _as_it_lies(order, sides, bevel, points, inward)
        stations, points, inward, outside, wanted = (
            rows[kept] for rows in (stations, points, inward, outside, wanted)
        )
    count = len(stations)
    near = points + BESIDE_EDGE_MM * inward
    seen = read_places(
        order, sides, np.concatenate([near, points + INSIDE_EDGE_MM * inward, outside])
    )
    land = sum(
        seen.heights[which][:count] - _climb(order, side, near, near + BESIDE_EDGE_MM * inward)
        for which, side in enumerate(filter(None, sides))
    )
    return MeasuredEdge(
        bevel=bevel, index=index, stations=stations, points=points, wanted=wanted,
        land=np.asarray(land, float), finished=seen.last[:, count : 2 * count],
        opened=_opened(seen, count),
    )  # fmt: skip


def _meant(order: Order, side: SideProgram, points: Floats) -> Floats:
    """Return where of the part a side's program takes places (n, 2) to be: there, if it lies right."""
    nominal = side_frame(order.setup, side.name)
    if side.frame == nominal:
        return points
    programmed = to_program_plane(side.frame, to_part(side.frame, points))
    return to_part(nominal, to_side_plane(nominal, programmed))


def _as_it_lies(
    order: Order, sides: Sides, bevel: Bevel, points: Floats, inward: Floats
) -> tuple[Floats, Bools]:
    """Return places moved inward to where no side's edge is farther in, and which have an edge there.

    Within 1e-3 mm for displacements up to 0.3 mm along edges of radius 20 mm and more.
    """
    outline, given = order.blade.outline, [side for side in sides if side is not None]
    for side in (*given, *given):
        off = edge_distance(bevel, outline, _meant(order, side, points))
        points = points + np.maximum(-off, 0.0)[:, None] * inward
    edge, kept = edge_curve(bevel, outline), np.ones(len(points), bool)
    for side in given:
        meant = _meant(order, side, points)
        along = station_of(edge, meant)
        kept &= (along > FROM_END_MM / 2) & (along < edge.length - FROM_END_MM / 2)
        kept &= past_plunge(bevel, meant) < 0.0
        for deep in (BESIDE_EDGE_MM, 2 * BESIDE_EDGE_MM, INSIDE_EDGE_MM):
            kept &= _whole(order, _meant(order, side, points + deep * inward))
    return points, kept


def _climb(order: Order, side: SideProgram, near: Floats, far: Floats) -> Floats:
    """Return how much a side's wanted face rises from one place to another, (n,) mm."""
    rows = [half_thickness(order.blade, _meant(order, side, p), side.name) for p in (far, near)]
    return np.asarray(rows[0] - rows[1])


def _opened(seen: SampledPlaces, count: int) -> NDArray[np.int32]:
    return seen.emptied[2 * count :]


def _whole(order: Order, points: Floats) -> Bools:
    """Return where there is blade on both sides: not in notches, bores and slots."""
    if not len(points):
        return np.zeros(0, bool)
    return np.asarray(np.isfinite(half_thickness(order.blade, points, "A")))


def _wanted(order: Order, points: Floats, inward: Floats) -> Floats:
    """Return the wanted thickness at the edge itself, (n,) mm."""
    near, far = points + BESIDE_EDGE_MM * inward, points + 2 * BESIDE_EDGE_MM * inward
    one, two = (
        sum(half_thickness(order.blade, rows, side) for side in "AB") for rows in (near, far)
    )
    return np.asarray(2 * one - two)


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredTip:
    """The blade's tip: ``place`` mm, part frame; rows of (mm behind it, thickness, wanted)."""

    place: tuple[float, float]
    rows: tuple[tuple[float, float, float], ...]


def measure_tip(order: Order, sides: Sides) -> MeasuredTip | None:
    """Return the greatest thickness at each distance from the tip; None without bevels or sides.

    The tip is that end of the first bevel's edge which lies farther from the handle.
    """
    if None in sides or not order.blade.bevels:
        return None
    place = tip_of(order, order.blade.bevels[0])
    points = [_arc(place, behind, order.blade.outline) for behind in BEHIND_TIP_MM]
    seen = read_places(order, sides, np.concatenate(points))
    upper, lower = (half_thickness(order.blade, seen.points, side) for side in "AB")
    wanted = upper + lower
    ends = np.cumsum([len(p) for p in points])
    rows = []
    for behind, low, high in zip(BEHIND_TIP_MM, [0, *ends[:-1]], ends, strict=True):
        if high > low:
            most = float(np.max(wanted[low:high]))
            rows.append((behind, float(seen.thickness[low:high].max()), most))
    return MeasuredTip(place=(float(place[0]), float(place[1])), rows=tuple(rows))


def tip_of(order: Order, bevel: Bevel) -> Floats:
    """Return the end of a bevel's edge farther from plunge, bores or the outline's middle."""
    blade = order.blade
    ends = edge_curve(bevel, blade.outline).vertices[[0, -1]]
    if bevel.plunges:
        handle = np.mean([p.line.vertices.mean(axis=0) for p in bevel.plunges], axis=0)
    elif blade.bores:
        handle = np.mean([bore.centre for bore in blade.bores], axis=0)
    else:
        handle = blade.outline.points(0.1).mean(axis=0)
    return np.asarray(ends[int(np.argmax(np.hypot(*(ends - handle).T)))])


def _arc(place: Floats, behind: float, outline: Curve) -> Floats:
    """Return places inside the blade at one distance from its tip."""
    count = int(np.ceil(2 * np.pi * behind / TIP_SAMPLE_SPACING_MM))
    angle = np.arange(count) * (2 * np.pi / count)
    points = place + behind * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return np.asarray(points[signed_distance(points, outline) > TIP_SAMPLE_SPACING_MM])


@dataclass(frozen=True, eq=False, kw_only=True)
class MeasuredEdgeBreak:
    """One edge break: at ``points`` (n, 2) of its wall the ``widths`` (n,) mm across the face and
    the ``angles`` (n,) rad of the broken face; width 0 where nothing is broken. The wall is the
    wanted one, and what its cutters left round where that stands before it. ``within`` (n,):
    the break is whole there, not at its ends, over notches or where the blade is thinner.
    ``last`` (n,): the motion that cut it, -1 for none."""

    one: EdgeBreak
    points: Floats
    normals: Floats
    widths: Floats
    angles: Floats
    within: Bools
    last: NDArray[np.int32]
    curve: Curve


def measure_breaks(order: Order, sides: Sides) -> tuple[MeasuredEdgeBreak, ...]:
    """Return all edge breaks of the sides that are given."""
    found = []
    for one in order.blade.breaks:
        which = "AB".index(one.side)
        if sides[which] is not None:
            alone = (sides[0], None) if which == 0 else (None, sides[1])
            found += [
                _measured(order, sides, alone, one, curve)
                for curve in break_curves(one, order.blade)
            ]
    return tuple(found)


def _measured(
    order: Order, sides: Sides, alone: Sides, one: EdgeBreak, curve: Curve
) -> MeasuredEdgeBreak:
    half, which = order.blade.thickness / 2, "AB".index(one.side)
    _, points, headings = resample(curve, max(BREAK_LINE_STEP_MM, curve.length / MOST_BREAK_LINES))
    left = np.stack([-np.sin(headings), np.cos(headings)], axis=1)
    inward = left if one.of == "outline" else -left
    opened = _break_opened(order, one)
    run = np.linspace(BREAK_LINE_START_MM + opened, 1.5 * one.width, BREAK_LINE_SAMPLES)
    drawn = points[:, None, :] + run[None, :, None] * inward[:, None, :]
    wanted = half_thickness(order.blade, drawn.reshape(-1, 2), one.side).reshape(drawn.shape[:2])
    plain = half - np.maximum(one.width - run, 0.0) * np.tan(one.angle)
    ends = near_break_ends(order.blade, points, one.side)
    whole = np.abs(wanted - plain[None, :]).max(axis=1) < 1e-6
    wall = order.blade.outline if one.of == "outline" else curve
    points, outward = _standing(order, sides, one, (wall, points, -inward))
    places = points[:, None, :] - run[None, :, None] * outward[:, None, :]
    seen = read_places(order, alone, places.reshape(-1, 2))
    height = seen.heights[which].reshape(len(points), BREAK_LINE_SAMPLES)
    widths, angles = _faces(run, half - height, one)
    last = seen.last[which].reshape(height.shape)
    return MeasuredEdgeBreak(
        one=one, points=points, normals=outward, widths=widths, angles=angles, within=whole & ~ends,
        last=last.max(axis=1), curve=curve,
    )  # fmt: skip


def _standing(
    order: Order, sides: Sides, one: EdgeBreak, wanted: tuple[Curve, Floats, Floats]
) -> tuple[Floats, Floats]:
    """Return places (n, 2) of the wall as it was cut just below a break, and what is square to it.

    They are those of the ``wanted`` wall and its normals but where its cutters do not reach: there the
    place is the nearest of what stands, as far before it as the wanted wall is where it was opened
    wider. How it stands is seen where that side cut, without the chamfer mills.
    """
    wall, points, normals = wanted
    opened, sign = _break_opened(order, one), 1 if one.side == "A" else -1
    deep = one.depth + BESIDE_FACE_MM
    level = sign * (order.blade.thickness / 2 - (min(deep, order.boring.skin) if opened else deep))

    def near(at: Floats) -> list[tuple[SideProgram, Floats, NDArray[np.int32]]]:
        """Return what each side's cutters left at places, (n,) mm, and their last motions."""
        given = ((s, np.array([level * s.frame.signs[2]])) for s in sides if s is not None)
        rows = ((side, *near_error(side, at, height, cones=False)) for side, height in given)
        return [(side, error[0], motion[0]) for side, error, motion in rows]

    def stock(at: Floats) -> Floats:
        """Return how far cutters stayed off places, (n,) mm; NaN where they did not come near."""
        least = np.min([error for _, error, _ in near(at)], axis=0)
        return np.where(np.isfinite(least), least, np.nan)

    radius = min((_finisher(*row, opened) for row in near(points)), default=np.inf)
    hidden, at = _arc_of_cutter(wall, points, normals, radius)
    if not len(hidden):
        return points, normals
    left = stock(at)
    nearer = -np.stack(
        [stock(at + step) - stock(at - step) for step in STRAY_MM * np.eye(2)], axis=1
    )
    seen = np.isfinite(left) & np.isfinite(nearer).all(axis=1)
    points, normals = points.copy(), normals.copy()
    normals[hidden[seen]] = nearer[seen] / np.hypot(*nearer[seen].T)[:, None]
    points[hidden[seen]] = at[seen] + (left[seen] + opened)[:, None] * normals[hidden[seen]]
    return points, normals


def _arc_of_cutter(
    wall: Curve, points: Floats, normals: Floats, radius: float
) -> tuple[NDArray[np.intp], Floats]:
    """Return which places of a wall a cutter of ``radius`` mm does not reach, (k,), and the nearest
    places (k, 2) that it does come to; none for a radius of inf.
    """
    none = np.empty(0, np.intp), np.empty((0, 2))
    if not np.isfinite(radius):
        return none
    off = np.abs(signed_distance(points + radius * normals, wall))
    hidden = np.flatnonzero(off < radius - REACHABLE_MM)
    axes = axes_beside(wall, points[hidden], normals[hidden], radius) if len(hidden) else none[1]
    if not len(axes):
        return none
    apart = points[hidden, None] - axes[None]
    arm = apart[np.arange(len(hidden)), np.argmin(np.hypot(*apart.transpose(2, 0, 1)), axis=1)]
    return hidden, points[hidden] + (radius / np.hypot(*arm.T) - 1.0)[:, None] * arm


def _finisher(side: SideProgram, error: Floats, motion: NDArray[np.int32], opened: float) -> float:
    """Return the least radius of the cutters that finished a wall, or opened it wider; inf: none."""
    done = (motion >= 0) & (
        (np.abs(error) <= WALL_OFF_MM) | (np.abs(error + opened) <= WALL_OFF_MM)
    )
    return float(side.shapes.radius[np.unique(motion[done])].min(initial=np.inf))


def _break_opened(order: Order, one: EdgeBreak) -> float:
    """Return how far off the wanted wall a bore or slot is opened on side B, mm."""
    if one.side == "A" or one.of == "outline":
        return 0.0
    return opened_wider(order, next((b for b in order.blade.bores if b.name == one.of), None))


def _faces(run: Floats, drop: Floats, one: EdgeBreak) -> tuple[Floats, Floats]:
    """Return width and angle of the face that each line's sample columns lie on, from their drop."""
    widths, angles = np.zeros(len(drop)), np.full(len(drop), np.nan)
    for k, row in enumerate(drop):
        on = np.flatnonzero(row > UNBROKEN_MM)
        if len(on) < 2:
            continue
        slope, start = np.polyfit(run[on], row[on], 1)
        if slope < 0.0:
            widths[k], angles[k] = -start / slope, np.arctan(-slope)
        else:  # no face falls outward: the flat itself was cut
            widths[k], angles[k] = run[on[-1]], 0.0
    return widths, angles

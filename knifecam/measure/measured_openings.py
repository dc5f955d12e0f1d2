"""Bores, slots and notches as they were cut, and the webs between them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bore, Jimping
from knifecam.curve import Curve, circle, distance, resample, signed_distance, station_of
from knifecam.measure.measure_limits import (
    BESIDE_FACE_MM,
    BORE_PLACES,
    FARTHEST_WEB_MM,
    NOTCH_LEVELS,
    NOTCH_PLACES,
    NOTCH_WALL_FROM_MM,
    OPENED_WIDER_MM,
    WALL_OFF_MM,
    WALL_SAMPLE_MM,
)
from knifecam.measure.measured_surfaces import OFF_WALL, patch_deeper
from knifecam.measure.measured_wall import MeasuredWall, Reaches, SideWall, WallSamples, wall_exists
from knifecam.measure.nominal import bore_bottom, opened_wider
from knifecam.measure.sample_columns import Sides
from knifecam.shop import Order
from knifecam.sweep.columns import Grid
from knifecam.sweep.side_program import SideProgram

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedCircle:
    """A circle fitted to a wall: its diameter, and its middle off the wanted one, mm."""

    diameter: float
    x: float
    y: float


@dataclass(frozen=True, eq=False, kw_only=True)
class MeasuredOpening:
    """A bore or slot of the blade, or a bore of the registration ("reference").

    Parameters
    ----------
    kind : {"bore", "slot", "reference"}
    outline : Curve
        Counter-clockwise, part frame.
    bore : Bore or None
    low : float, mm
        Part height at which it ends: the lower face of the plate for those that go through.
    through, fitted : bool
    points, normals : (n, 2) float
        Places of the wall and where the cutter stands from there.
    heights : (H,) float, mm
        Part frame, rising.
    there : (H, n) bool
        Where there is a wall: not above edge breaks.
    past : (2, H) float, mm
        How far each side's cutter may go past the wall at each height.
    sides : of A and B, None where not cut
    rounds : circles of side A and B, None where a side does not reach all round
    left_inside : float, mm2
        Area inside where metal is left above the wanted end.
    floor : (lowest, highest) part height of the ground of a blind bore, mm
    """

    name: str
    kind: str
    outline: Curve
    bore: Bore | None
    low: float
    through: bool
    fitted: bool
    points: Floats
    normals: Floats
    heights: Floats
    there: NDArray[np.bool_]
    past: Floats
    sides: Reaches
    rounds: tuple[FittedCircle | None, FittedCircle | None]
    left_inside: float
    floor: tuple[float, float]

    @property
    def left(self) -> Floats:
        """(H, n) mm: what both sides leave together."""
        given = [s.error for s in self.sides if s is not None]
        if not given:
            return np.full((len(self.heights), len(self.points)), np.inf)
        return np.minimum.reduce(given)


def measure_openings(
    order: Order, sides: tuple[SideProgram | None, SideProgram | None], grid: Grid
) -> tuple[MeasuredOpening, ...]:
    """Return all bores and slots as they were cut."""
    found = [_bore(order, sides, grid, bore, "bore") for bore in order.blade.bores]
    found += [
        _opening(order, sides, grid, slot.name, "slot", slot.outline.counter_clockwise(), None)
        for slot in order.blade.slots
    ]
    found += [
        _bore(order, sides, grid, bore, "reference") for bore in order.setup.registration.bores
    ]
    return tuple(found)


def _bore(
    order: Order,
    sides: tuple[SideProgram | None, SideProgram | None],
    grid: Grid,
    bore: Bore,
    kind: str,
) -> MeasuredOpening:
    return _opening(order, sides, grid, bore.name, kind, circle(bore.centre, bore.diameter), bore)


def _opening(
    order: Order, sides: tuple[SideProgram | None, SideProgram | None], grid: Grid,
    name: str, kind: str, outline: Curve, bore: Bore | None,
) -> MeasuredOpening:  # fmt: skip
    points, normals = _places(outline, bore)
    half = order.setup.plate.thickness / 2
    low = -half if bore is None else bore_bottom(bore, order)
    through = low <= -half
    corner = max((float(s.shapes.corner.max(initial=0.0)) for s in sides if s), default=0.0)

    def there(heights: Floats) -> NDArray[np.bool_]:
        if kind == "reference":
            return np.ones((len(heights), len(points)), bool)
        return wall_exists(order.blade, points, normals, heights)

    samples = WallSamples(wall=outline, points=points, normals=normals, there=there)
    heights, found = samples.closely(sides, _heights(order, low, corner))
    return MeasuredOpening(
        name=name,
        kind=kind,
        outline=outline,
        bore=bore,
        low=low,
        through=through,
        fitted=bore is not None and bore.fitted,
        points=points,
        normals=normals,
        heights=heights,
        there=there(heights),
        past=_past(order, heights, corner, opened_wider(order, bore)),
        sides=found,
        rounds=(
            _round(bore, normals, found[0], above=True),
            _round(bore, normals, found[1], above=False),
        ),
        left_inside=_left_inside(grid, outline, points, found) if through else 0.0,
        floor=_floor(grid, outline, corner),
    )


def _places(outline: Curve, bore: Bore | None) -> tuple[Floats, Floats]:
    if bore is None:
        _, points, headings = resample(outline, WALL_SAMPLE_MM)
        return points, np.stack([-np.sin(headings), np.cos(headings)], axis=1)
    angle = np.arange(BORE_PLACES) * (2 * np.pi / BORE_PLACES)
    outward = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    return np.asarray(bore.centre) + bore.diameter / 2 * outward, -outward


def _heights(order: Order, low: float, corner: float) -> Floats:
    half = order.setup.plate.thickness / 2
    high = half - BESIDE_FACE_MM
    if low > -half:
        ground = low + corner + BESIDE_FACE_MM
        return np.unique(np.clip([ground, (ground + high) / 2, high], ground, high))
    skin = -half + order.boring.skin
    rows = [
        low + BESIDE_FACE_MM, (low + skin) / 2, skin + BESIDE_FACE_MM, skin + 0.1, skin + corner + 0.3,
        -half / 2, -0.1, 0.0, 0.1, half / 2, high,
    ]  # fmt: skip
    return np.unique(np.clip(np.round(rows, 6), low + BESIDE_FACE_MM, high))


def _past(order: Order, heights: Floats, corner: float, wider: float) -> Floats:
    """Return how far each side may go past the wall: side B ``wider`` mm where it opens a skin."""
    allowed = np.full((2, len(heights)), WALL_OFF_MM)
    top = -order.setup.plate.thickness / 2 + order.boring.skin + 2 * corner + OPENED_WIDER_MM
    allowed[1] += np.where(heights <= top + 1e-9, wider, 0.0)
    return allowed


def _round(
    bore: Bore | None, normals: Floats, reached: SideWall | None, *, above: bool
) -> FittedCircle | None:
    """Return the circle a side left of a bore, at its own face's end."""
    if bore is None or reached is None:
        return None
    round_ = np.flatnonzero(np.isfinite(reached.error).all(axis=1))
    if not len(round_):
        return None
    error = reached.error[round_[-1 if above else 0]]
    radius = bore.diameter / 2 - error
    x, y = -2 * np.mean(radius[:, None] * normals, axis=0)
    return FittedCircle(diameter=float(2 * radius.mean()), x=float(x), y=float(y))


def _left_inside(grid: Grid, outline: Curve, points: Floats, reached: Reaches) -> float:
    """Return the area inside a through opening where metal is left, mm2.

    Corners that no cutter reaches do not count; 0 unless both sides were cut.
    """
    upper, lower = reached
    if upper is None or lower is None:
        return 0.0
    rows, columns = patch_deeper(grid, outline, max(grid.cell, OFF_WALL)).cells()
    left = grid.top[rows, columns] > grid.bottom[rows, columns]
    rows, columns = rows[left], columns[left]
    if not len(rows):
        return 0.0
    places = np.stack([grid.x[columns], grid.y[rows]], axis=1)
    apart = [np.hypot(*(places - point).T) for point in points]
    open_ = (upper.reachable & lower.reachable)[np.argmin(apart, axis=0)]
    return float(np.count_nonzero(open_)) * grid.cell**2


def _floor(grid: Grid, outline: Curve, corner: float) -> tuple[float, float]:
    """Return the lowest and the highest ground of an opening inside its corners, mm."""
    patch = patch_deeper(grid, outline, max(grid.cell, OFF_WALL) + corner)
    if not patch.mask.any():
        return np.nan, np.nan
    ground = grid.top[patch.window][patch.mask]
    return float(ground.min()), float(ground.max())


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredWeb:
    """The narrowest metal between ``one`` and ``other`` (or "outline"), mm, and where it is."""

    one: str
    other: str
    width: float
    place: tuple[float, float]


def measure_webs(
    outline: Curve, wall: MeasuredWall, openings: tuple[MeasuredOpening, ...]
) -> tuple[MeasuredWeb, ...]:
    """Return the narrowest web of every opening of the blade, and between neighbours.

    The walls' greatest error into the metal is taken off.
    """
    mine = [o for o in openings if o.kind != "reference"]
    past = _past_web(wall.left)
    found = [_web(o, outline, "outline", past) for o in mine]
    for k, one in enumerate(mine):
        for other in mine[k + 1 :]:
            if _apart(one.outline, other.outline) < FARTHEST_WEB_MM:
                found.append(_web(one, other.outline, other.name, _past_web(other.left)))
    return tuple(found)


def _past_web(left: Floats) -> float:
    """Return how far a cutter went past a wall at most, mm."""
    return max(0.0, -float(left.min(initial=0.0)))


def _apart(one: Curve, other: Curve) -> float:
    a, b = np.array(one.bounds), np.array(other.bounds)
    gap = np.maximum(0.0, np.maximum(a[:2] - b[2:], b[:2] - a[2:]))
    return float(np.hypot(*gap))


def _web(opening: MeasuredOpening, other: Curve, name: str, past: float) -> MeasuredWeb:
    away = distance(opening.points, other)
    k = int(np.argmin(away))
    x, y = opening.points[k]
    return MeasuredWeb(
        one=opening.name, other=name, width=float(away[k]) - past - _past_web(opening.left),
        place=(float(x), float(y)),
    )  # fmt: skip


Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class MeasuredNotch:
    """One notch: its wall's ``points`` (n, 2) and ``heights`` (H,), and what each side left there.

    ``there`` (H, n): where it has a wall. ``station`` mm along the outline; ``axis`` mm, the middle
    of the circle its wall lies on; ``diameter`` and ``depth`` mm as cut, None where not reached.
    """

    row: Jimping
    number: int
    station: float
    points: Floats
    heights: Floats
    there: Bools
    sides: tuple[SideWall | None, SideWall | None]
    axis: tuple[float, float] | None
    diameter: float | None
    depth: float | None

    @property
    def left(self) -> Floats:
        """(H, n) mm: what both sides leave together, -inf where there is no wall."""
        given = [s.error for s in self.sides if s is not None]
        return np.where(self.there, np.minimum.reduce(given), -np.inf)


def measure_notches(order: Order, sides: Sides) -> tuple[MeasuredNotch, ...]:
    """Return all notches of all rows, as the sides that are given leave them."""
    if sides == (None, None):
        return ()
    return tuple(
        _notch(order, sides, row, number, np.asarray(centre))
        for row in order.blade.jimping
        for number, centre in enumerate(row.centres, 1)
    )


def _notch(order: Order, sides: Sides, row: Jimping, number: int, centre: Floats) -> MeasuredNotch:
    outline, half = order.blade.outline.counter_clockwise(), order.blade.thickness / 2
    angle = np.arange(NOTCH_PLACES) * (2 * np.pi / NOTCH_PLACES)
    outward = np.stack([np.cos(angle), np.sin(angle)], axis=1)
    points = centre + row.diameter / 2 * outward
    inside = signed_distance(points, outline) > NOTCH_WALL_FROM_MM
    points, outward = points[inside], outward[inside]
    heights = np.round(np.linspace(-half + BESIDE_FACE_MM, half - BESIDE_FACE_MM, NOTCH_LEVELS), 6)
    samples = WallSamples(
        wall=circle((float(centre[0]), float(centre[1])), row.diameter),
        points=points, normals=-outward,
        there=lambda heights: wall_exists(order.blade, points, -outward, heights),
    )  # fmt: skip
    there, reached = samples.there(heights), samples.reached(sides, samples.near(sides, heights))
    errors = np.minimum.reduce([r.error for r in reached if r is not None])
    axis, diameter = _round_notch(row, centre, outward, np.where(there, errors, np.nan))
    depth = None
    if axis is not None and diameter is not None:
        depth = diameter / 2 + float(signed_distance(np.array([axis]), outline)[0])
    return MeasuredNotch(
        row=row, number=number, station=float(station_of(outline, centre[None])[0]),
        points=points, heights=heights, there=there, sides=reached, axis=axis,
        diameter=diameter, depth=depth,
    )  # fmt: skip


def _round_notch(
    row: Jimping, centre: Floats, outward: Floats, error: Floats
) -> tuple[tuple[float, float] | None, float | None]:
    """Return middle and diameter of the circle the wall lies on, from the worst of its heights."""
    known = np.isfinite(error).any(axis=0)
    if np.count_nonzero(known) < 3:
        return None, None
    worst = np.nanmax(np.where(np.isfinite(error), error, np.nan)[:, known], axis=0)
    design = np.column_stack([outward[known], np.ones(len(worst))])
    x, y, grown = np.linalg.lstsq(design, -worst, rcond=None)[0]
    return (float(centre[0] + x), float(centre[1] + y)), float(row.diameter + 2 * grown)

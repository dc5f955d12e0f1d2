"""Entities of a DXF as lines and arcs, placed in the XY plane.

Every flat entity is a shape in a frame of its own: an origin and two axes in space. The frame
holds all at once: the entity's coordinate system (OCS), mirrored where its extrusion points
down, every INSERT round it, and the drawing's unit. Where the axes stay square and equally long,
arcs stay arcs; where not, they are pieces of an ellipse.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from ezdxf.math import fit_points_to_cad_cv
from numpy.typing import ArrayLike

from knifecam.curve.biarcs import Spline, fit_biarcs, uniform_knots
from knifecam.curve.curve import Floats
from knifecam.drawing.drawing_limits import (
    FARTHEST_COORDINATE_MM,
    MOST_ARC_PAIRS,
    MOST_FIT_TRIES,
    OUT_OF_PLANE_MM,
    ROUNDING_SHARE,
    SQUARE_SHARE,
)
from knifecam.drawing.drawing_record import Origin, Piece, shown_mm
from knifecam.errors import DrawingError, ShapeError
from knifecam.quantity import mm, um


@dataclass(slots=True, eq=False)
class Follower:
    """Follows the curves of one drawing by arcs within 1 um, and counts the tries."""

    at: str = ""
    """The entity whose turn it is."""

    tried: int = 0
    ovals: dict[tuple[float, ...], tuple[Floats, Floats]] = field(default_factory=dict)
    """Pieces of ellipses that were followed, by their axes and angles."""

    def arcs(self, spline: Spline) -> tuple[Floats, Floats]:
        """Return vertices (N, 2) in mm and bulges (N,) of arcs and lines, open.

        Raises
        ------
        ValueError
            Where the spline cannot be followed, or takes more than `MOST_ARC_PAIRS` pairs of arcs.
        DrawingError
            Where all curves of the drawing so far took more than `MOST_FIT_TRIES` tries.
        """
        most = max(1, MOST_ARC_PAIRS // spline.weight)
        return fit_biarcs(spline, most=most, tally=lambda tries: self._count(tries * spline.weight))

    def _count(self, several: int) -> None:
        """Count tries, each for several where it takes so much longer than a usual spline's."""
        self.tried += several
        if self.tried > MOST_FIT_TRIES:
            raise DrawingError(
                f"{self.at}: by here the splines and ellipses take too long to follow within {um(1)};"
                " they are too large, too winding or too many for a blade: take out what does not"
                " belong to it, draw the rest simpler, and see that the unit is right"
            )


class OffPlaneError(ShapeError):
    """The entity does not lie parallel to the XY plane."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Placing:
    """How the coordinates of a block come into the drawing: ``turn @ p + shift``, mm."""

    turn: Floats
    shift: Floats

    def of(self, points: ArrayLike) -> Floats:
        """Return the placed points (K, 3)."""
        return np.asarray(np.atleast_2d(np.asarray(points, dtype=float)) @ self.turn.T + self.shift)

    def after(self, inner: Placing) -> Placing:
        """Return the placing that does ``inner`` first, then this one."""
        return Placing(turn=self.turn @ inner.turn, shift=self.turn @ inner.shift + self.shift)

    @property
    def size(self) -> tuple[float, float] | None:
        """How many times as large it makes things in the plane and across; None where it does more
        than that, turning within the plane, mirroring and moving."""
        (a, b, e), (c, d, f), (g, h, across) = self.turn.tolist()
        size = float(f"{math.hypot(a, c):.13g}")
        square = (
            abs(a * a + c * c - b * b - d * d) + abs(a * b + c * d) <= ROUNDING_SHARE * size * size
        )
        return (size, across) if square and size > 0 and e == f == g == h == 0 else None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Frame:
    """A plane frame in the XY plane: ``axes @ (x, y) + at`` at the height ``level``, mm."""

    axes: Floats
    at: Floats
    level: float

    @property
    def keeps_circles(self) -> bool:
        """Whether circles stay circles."""
        u, v = self.axes.T
        return bool(
            abs(u @ u - v @ v) <= SQUARE_SHARE * max(u @ u, v @ v)
            and abs(u @ v) <= SQUARE_SHARE * max(u @ u, v @ v)
        )

    @property
    def turning(self) -> float:
        """1 where counter-clockwise stays so, -1 where the frame is mirrored."""
        u, v = self.axes.T
        return float(np.copysign(1.0, u[0] * v[1] - u[1] * v[0]))

    def of(self, points: ArrayLike) -> Floats:
        """Return the points (K, 2) of the drawing."""
        return np.asarray(np.asarray(points, dtype=float) @ self.axes.T + self.at)


def frame_of(placing: Placing, at: ArrayLike, u: ArrayLike, v: ArrayLike, reach: float) -> Frame:
    """Return the frame of an entity that reaches ``reach`` far along its axes."""
    axes = placing.turn @ np.stack([np.asarray(u, float), np.asarray(v, float)], axis=1)
    place = placing.of(at)[0]
    _refuse_rise(float(np.abs(axes[2]).sum()) * reach)
    return Frame(axes=axes[:2], at=place[:2], level=float(place[2]))


def refuse_far(points: Floats) -> None:
    """Refuse what lies too far from the origin to be followed within 1 um."""
    if not (np.abs(points) <= FARTHEST_COORDINATE_MM).all():
        raise ShapeError(
            f"it reaches further than {mm(FARTHEST_COORDINATE_MM):.0f} from the origin: move"
            " the drawing nearer to it, and see that the unit is right"
        )


def level_of(points: Floats) -> float:
    heights = points[:, 2]
    _refuse_rise(float(heights.max() - heights.min()))
    return float(heights[0])


def _refuse_rise(rise: float) -> None:
    if not np.isfinite(rise):
        raise ValueError("its coordinates must be finite")
    if not rise <= OUT_OF_PLANE_MM:
        raise OffPlaneError(f"it rises {shown_mm(rise, 3)} out of the XY plane")


def swept(
    frame: Frame, centre: Floats, radius: float, angles: tuple[float, float], follower: Follower
) -> tuple[Floats, Floats, bool]:
    """Return the arc of a circle in a frame: ``angles`` are its start and sweep, rad.

    Counter-clockwise in the frame; where circles do not stay circles, ``follower`` follows it.
    """
    start, sweep = angles
    closed = sweep >= 2 * np.pi
    if not radius * float(np.abs(frame.axes).max()) > 0:
        return np.repeat(frame.of(centre)[None], 2, axis=0), np.zeros(2), False
    if frame.keeps_circles:
        parts = 1 if sweep <= np.pi else 2
        turned = start + sweep * np.arange(parts + 1) / parts
        rim = centre + radius * np.stack([np.cos(turned), np.sin(turned)], axis=1)
        bulges = np.full(parts + 1, np.tan(min(sweep / parts, np.pi) / 4) * frame.turning)
        count = parts if closed else parts + 1
        return frame.of(rim[:count]), bulges[:count], closed
    refuse_far(frame.axes * radius)
    vertices, bulges = _oval(frame.axes * radius, angles, follower)
    vertices = vertices + frame.of(centre)
    return (vertices[:-1], bulges[:-1], True) if closed else (vertices, bulges, False)


def _oval(axes: Floats, angles: tuple[float, float], follower: Follower) -> tuple[Floats, Floats]:
    """Return the biarcs of ``axes @ (cos t, sin t)`` from a start over a sweep, rad."""
    key = (*(float(a) for a in axes.ravel()), *angles)
    if key not in follower.ovals:
        follower.ovals[key] = _followed(axes, angles, follower)
    return follower.ovals[key]


def _followed(
    axes: Floats, angles: tuple[float, float], follower: Follower
) -> tuple[Floats, Floats]:
    start, sweep = angles
    u, v = axes.T
    principal = float(np.arctan2(2 * (u @ v), u @ u - v @ v)) / 2
    if sweep >= 2 * np.pi:
        start = principal
    end = start + sweep
    first = np.ceil((start - principal) / (np.pi / 2))
    quarters = principal + np.pi / 2 * (first + np.arange(6))
    inner = quarters[(quarters > start) & (quarters < end)]
    return follower.arcs(_conics(axes, np.array([start, *inner, end])))


def _conics(axes: Floats, edges: Floats) -> Spline:
    """Return the pieces of an ellipse between angles, each at most a quarter, as one spline.

    References
    ----------
    Piegl, L., and Tiller, W., The NURBS Book, 2nd edition (1997), section 7.3: a conic of less than
    half a turn is one rational piece of degree 2, its inner point where the tangents at the ends
    meet, weighted by the cosine of half its angle.
    """
    half = np.diff(edges) / 2
    angle = np.empty(2 * len(edges) - 1)
    angle[::2], angle[1::2] = edges, edges[:-1] + half
    weights = np.ones(len(angle))
    weights[1::2] = np.cos(half)
    control = np.stack([np.cos(angle), np.sin(angle)], axis=1) / weights[:, None]
    knots = np.concatenate([edges[:1], np.repeat(edges, 2), edges[-1:]])
    return Spline(control @ axes.T, knots, 2, weights)


def at_most_half_turns(vertices: Floats, bulges: Floats, closed: bool) -> tuple[Floats, Floats]:
    """Return the polyline with arcs of more than half a turn cut in two."""
    last = len(vertices) if closed else len(vertices) - 1
    points: list[Floats] = []
    curved: list[float] = []
    for k in range(len(vertices)):
        bulge = float(bulges[k]) if k < last else 0.0
        start, chord = vertices[k], vertices[(k + 1) % len(vertices)] - vertices[k]
        points.append(start)
        if abs(bulge) <= 1:
            curved.append(bulge)
            continue
        points.append(start + (chord + bulge * np.array([chord[1], -chord[0]])) / 2)
        curved += [float(np.tan(np.arctan(bulge) / 2))] * 2
    return np.array(points), np.array(curved)


def stretched(
    frame: Frame, vertices: Floats, bulges: Floats, closed: bool, follower: Follower
) -> tuple[Floats, Floats]:
    """Return a polyline in a frame that turns its arcs into pieces of ellipses."""
    last = len(vertices) if closed else len(vertices) - 1
    points: list[Floats] = []
    curved: list[float] = []
    for k in range(last):
        start, end, bulge = vertices[k], vertices[(k + 1) % len(vertices)], bulges[k]
        chord = end - start
        if bulge == 0 or not chord.any():
            points.append(frame.of(start))
            curved.append(0.0)
            continue
        middle = (start + end) / 2
        centre = middle + np.array([-chord[1], chord[0]]) * (1 / bulge - bulge) / 4
        radius = float(np.hypot(*(start - centre)))
        sweep = 4 * float(np.arctan(abs(bulge)))
        first = start if bulge > 0 else end
        angle = float(np.arctan2(*(first - centre)[::-1]))
        seen, bent, _ = swept(frame, centre, radius, (angle, sweep), follower)
        if bulge < 0:
            seen, bent = seen[::-1], np.append(-bent[:-1][::-1], 0.0)
        points += [frame.of(start), *seen[1:-1]]
        curved += [float(b) for b in bent[:-1]]
    if not closed:
        points.append(frame.of(vertices[-1]))
        curved.append(0.0)
    return np.array(points), np.array(curved)


Shape = tuple[Floats, Floats, bool, float]
"""Vertices (N, 2), bulges (N,), closed, level."""


def piece_of(entity: Any, origin: Origin, placing: Placing, follower: Follower) -> Piece:
    """Return the entity as lines and arcs.

    Raises
    ------
    OffPlaneError
        Where it does not lie parallel to the XY plane.
    ValueError
        Where it makes no sense: numbers missing or not finite, knots that do not fit.
    """
    vertices, bulges, closed, level = READERS[entity.dxftype()](entity, placing, follower)
    if not (np.isfinite(vertices).all() and np.isfinite(bulges).all() and np.isfinite(level)):
        raise ValueError("its coordinates must be finite")
    refuse_far(vertices)
    return Piece(origin=origin, vertices=vertices, bulges=bulges, closed=closed, level=level)


def moved(piece: Piece, origin: Origin, placing: Placing, size: float) -> Piece:
    """Return a piece that was read ``size`` times as large as it was drawn, where it is placed."""
    turn = placing.turn[:2, :2] / size
    vertices = piece.vertices @ turn.T + placing.shift[:2]
    refuse_far(vertices)
    (a, b), (c, d) = turn.tolist()
    bulges = piece.bulges if a * d > b * c else -piece.bulges
    level = piece.level + float(placing.shift[2])
    return Piece(origin=origin, vertices=vertices, bulges=bulges, closed=piece.closed, level=level)


def mark_place(entity: Any, placing: Placing) -> tuple[float, float]:
    """Return where a POINT stands, (x, y) in mm."""
    place = placing.of(_wanted(entity, "location"))[0]
    if not np.isfinite(place).all():
        raise ValueError("its coordinates must be finite")
    return float(place[0]), float(place[1])


def _wanted(entity: Any, name: str) -> Any:
    if not entity.dxf.hasattr(name):
        raise ValueError(f"its {name.replace('_', ' ')} is missing")
    return entity.dxf.get(name)


def _object_frame(entity: Any, placing: Placing, reach: float, elevation: float = 0.0) -> Frame:
    """Return the frame of an entity whose coordinates are in its object system (OCS)."""
    ocs = entity.ocs()
    u, v, w = np.eye(3)
    if ocs.transform:
        u, v, w = (np.array(ocs.to_wcs(axis).xyz) for axis in (u, v, w))
    return frame_of(placing, elevation * w, u, v, reach)


def _line(entity: Any, placing: Placing, _: Follower) -> Shape:
    points = placing.of([_wanted(entity, "start").xyz, _wanted(entity, "end").xyz])
    return points[:, :2], np.zeros(2), False, level_of(points)


def _circle(entity: Any, placing: Placing, follower: Follower) -> Shape:
    return _round(entity, placing, follower, (0.0, 2 * np.pi))


def _arc(entity: Any, placing: Placing, follower: Follower) -> Shape:
    low, high = (np.radians(_wanted(entity, f"{end}_angle")) for end in ("start", "end"))
    if high == low and _wanted(entity, "radius") != 0:
        raise ValueError("it starts and ends at the same angle: draw a circle or take it out")
    sweep = float((high - low) % (2 * np.pi))
    return _round(entity, placing, follower, (float(low), sweep if sweep > 1e-12 else 2 * np.pi))


def _round(entity: Any, placing: Placing, follower: Follower, angles: tuple[float, float]) -> Shape:
    radius = float(_wanted(entity, "radius"))
    if not radius >= 0:
        raise ValueError(f"radius={radius} must be 0 or greater")
    centre = np.array(_wanted(entity, "center").xyz)
    reach = radius + float(np.hypot(*centre[:2]))
    frame = _object_frame(entity, placing, reach, float(centre[2]))
    vertices, bulges, closed = swept(frame, centre[:2], radius, angles, follower)
    return vertices, bulges, closed, frame.level


def _ellipse(entity: Any, placing: Placing, follower: Follower) -> Shape:
    major = np.array(_wanted(entity, "major_axis").xyz)
    normal = np.array(entity.dxf.extrusion.xyz)
    size = float(np.linalg.norm(normal))
    if not size > 0:
        raise ValueError("its extrusion must not be 0")
    minor = np.cross(normal / size, major) * float(entity.dxf.ratio)
    frame = frame_of(placing, _wanted(entity, "center").xyz, major, minor, 1.0)
    low, high = float(entity.dxf.start_param), float(entity.dxf.end_param)
    if high == low and major.any():
        raise ValueError("it starts and ends at the same place: draw it whole or take it out")
    sweep = (high - low) % (2 * np.pi)
    whole = sweep < 1e-9 or sweep > 2 * np.pi - 1e-9
    vertices, bulges, closed = swept(
        frame, np.zeros(2), 1.0, (low, 2 * np.pi if whole else float(sweep)), follower
    )
    return vertices, bulges, closed, frame.level


def _lwpolyline(entity: Any, placing: Placing, follower: Follower) -> Shape:
    rows = np.array(entity.get_points("xyb"), dtype=float)
    level = float(entity.dxf.elevation)
    return _with_bulges(entity, placing, follower, rows, bool(entity.closed), level)


def _polyline(entity: Any, placing: Placing, follower: Follower) -> Shape:
    frame_control = 16
    chosen = [v for v in entity.vertices if not v.dxf.flags & frame_control]
    places = np.array([v.dxf.location.xyz for v in chosen], dtype=float).reshape(-1, 3)
    if entity.is_3d_polyline:
        if len(places) < 2:
            raise ValueError("it has fewer than two vertices")
        points = placing.of(places)
        return points[:, :2], np.zeros(len(points)), bool(entity.is_closed), level_of(points)
    bulges = np.array([v.dxf.bulge for v in chosen], dtype=float)
    rows = np.column_stack([places[:, :2], bulges]) if len(places) else np.zeros((0, 3))
    level = float(entity.dxf.elevation.z) if entity.dxf.hasattr("elevation") else 0.0
    return _with_bulges(entity, placing, follower, rows, bool(entity.is_closed), level)


def _with_bulges(
    entity: Any,
    placing: Placing,
    follower: Follower,
    rows: Floats,
    closed: bool,
    elevation: float,
) -> Shape:
    if len(rows) < 2:
        raise ValueError("it has fewer than two vertices")
    if not np.isfinite(rows).all():
        raise ValueError("its coordinates must be finite")
    vertices, bulges = at_most_half_turns(rows[:, :2], rows[:, 2], closed)
    frame = _object_frame(entity, placing, float(np.abs(vertices).max()), elevation)
    if frame.keeps_circles or not bulges.any():
        return frame.of(vertices), bulges * frame.turning, closed, frame.level
    vertices, bulges = stretched(frame, vertices, bulges, closed, follower)
    return vertices, bulges, closed, frame.level


def _spline(entity: Any, placing: Placing, follower: Follower) -> Shape:
    control, knots, degree, weights = _spline_values(entity)
    points = placing.of(control)
    level = level_of(points)
    refuse_far(points)
    spline = Spline(points[:, :2], knots, degree, weights)
    if degree == 1:
        return points[:, :2], np.zeros(len(points)), False, level
    vertices, bulges = follower.arcs(spline)
    return vertices, bulges, False, level


def _spline_values(entity: Any) -> tuple[Floats, Floats, int, Floats | None]:
    """Return control points (N, 3), knots, degree and weights; fit points are interpolated."""
    control = np.array(entity.control_points, dtype=float).reshape(-1, 3)
    degree = int(entity.dxf.degree)
    if len(control):
        knots = np.array(entity.knots, dtype=float)
        if not len(knots):
            knots = uniform_knots(len(control), degree)
        weights = np.array(entity.weights, dtype=float) if len(entity.weights) else None
        return control, knots, degree, weights
    fit = np.array(entity.fit_points, dtype=float).reshape(-1, 3)
    if len(fit) < 2:
        raise ValueError("it has neither control points nor two fit points")
    if not np.isfinite(fit).all():
        raise ValueError("its coordinates must be finite")
    if entity.closed:
        raise ValueError(
            "a closed spline of fit points alone does not say how it closes: save it with its"
            " control points"
        )
    apart = np.concatenate([[True], np.abs(np.diff(fit, axis=0)).max(axis=1) > 0])
    fit = fit[apart]
    if len(fit) < 3:
        return fit, uniform_knots(len(fit), 1), 1, None
    ends = ("start_tangent", "end_tangent")
    given = all(entity.dxf.hasattr(name) for name in ends)
    tangents = [entity.dxf.get(name) for name in ends] if given else None
    made = fit_points_to_cad_cv([tuple(p) for p in fit], tangents=tangents)
    return np.array([p.xyz for p in made.control_points]), np.array(made.knots()), 3, None


READERS: dict[str, Callable[[Any, Placing, Follower], Shape]] = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _circle,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
}
"""What is geometry, and how each kind is read."""

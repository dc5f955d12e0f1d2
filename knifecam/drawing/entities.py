"""Entities of a DXF as lines and arcs in the XY plane, in mm."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from ezdxf.math import fit_points_to_cad_cv

from knifecam.curve.curve import Floats
from knifecam.curve.spline import Spline, uniform_knots
from knifecam.drawing.follow import Follower
from knifecam.drawing.frame import (
    Frame,
    Placing,
    at_most_half_turns,
    frame_of,
    level_of,
    refuse_far,
    stretched,
    swept,
)
from knifecam.drawing.record import Origin, Piece

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
        return frame.of(vertices), bulges * frame.hand, closed, frame.level
    vertices, bulges = stretched(frame, vertices, bulges, closed, follower)
    return vertices, bulges, closed, frame.level


def _spline(entity: Any, placing: Placing, follower: Follower) -> Shape:
    control, knots, degree, weights = _spline_figures(entity)
    points = placing.of(control)
    level = level_of(points)
    refuse_far(points)
    spline = Spline(points[:, :2], knots, degree, weights)
    if degree == 1:
        return points[:, :2], np.zeros(len(points)), False, level
    vertices, bulges = follower.arcs(spline)
    return vertices, bulges, False, level


def _spline_figures(entity: Any) -> tuple[Floats, Floats, int, Floats | None]:
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

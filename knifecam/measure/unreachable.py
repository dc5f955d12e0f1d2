"""Stretches of outline and slots that no finishing cutter can touch: inner corners too tight.

They stay uncut without being findings: no program could cut them with the cutters there are.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, signed_distance
from knifecam.measure.case import Case
from knifecam.measure.measure_limits import RADIUS_HALVINGS, REACHABLE_MM, SILENT_MM, WALL_SAMPLE_MM
from knifecam.measure.measured_wall import SideWall, axes_beside

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


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

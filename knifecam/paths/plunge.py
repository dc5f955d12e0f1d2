"""The plunge: passes along lines of equal distance past its line, cut by a cutter that fits in it.

The surface is the bevel and, added to it, a cylinder that lies in the bevel. A cutter of radius R
and corner radius r that touches it where the unit normal is n has its axis at the place touched plus
r n + (R - r) m, m being the direction of n in the plane (a ball has r = R).
"""

from __future__ import annotations

import math

import numpy as np

from knifecam.blade.line_distance import prolonged, signed_line_distance
from knifecam.curve import FEED, Motions, place_at
from knifecam.curve.curve import Floats
from knifecam.paths.beside import beside
from knifecam.paths.bevel import Face, inside, normals
from knifecam.shop import Cutter

CHORD = 3e-4
"""mm: how far straight ways may lie from the places between their ends."""

SPACING = 0.25
"""mm between the places along a pass."""

PAST = 0.1
"""mm above the blade's flat up to which the surface, prolonged, is followed."""

STEP = 1e-5
"""mm: how far apart distances are taken for a direction."""


def effective_radius(cutter: Cutter, angle: float) -> float:
    """Return the radius in mm with which a cutter on a slope of ``angle`` rad meets what rises ahead.

    The section of its corner's torus along the bevel, level with the place touched (differential
    geometry of the torus): r + (R - r) / sin a.
    """
    flat = cutter.radius - cutter.corner
    return cutter.corner + (flat / math.sin(angle) if flat > 1e-9 else 0.0)


def reach_past(face: Face, plunge: int, d: float = 0.0) -> float:
    """Return how far past its line a plunge meets the blade's flat, mm, at ``d`` mm from the edge."""
    radius = face.plunges[plunge][1]
    rise = (face.thickness / 2 - float(face.height(np.array([d]))[0])) * math.cos(face.bevel.angle)
    return math.sqrt(radius**2 - max(0.0, radius - rise) ** 2)


def lines_past(radius: float, first: float, last: float, step: float) -> tuple[float, ...]:
    """Return distances past the line from ``first`` to ``last``, equal steps along the surface, mm.

    Before the line the surface is flat; past it they are equal steps of the arc.
    """

    def along(s: float) -> float:
        return s if s <= 0 else radius * math.asin(min(1.0, s / radius))

    low, high = along(first), along(last)
    count = max(1, math.ceil((high - low) / step - 1e-9))
    marks = np.linspace(low, high, count + 1)
    return tuple(float(m if m <= 0 else radius * math.sin(m / radius)) for m in marks)


def ball_pass(
    face: Face, plunge: int, cutter: Cutter, s: float, *, raised: float, stock: float, feed: float
) -> Motions | None:
    """Return one pass ``s`` mm past the plunge's line, or None where it does not meet the blade.

    It runs with the rising plunge on its right, and begins and ends so far off the blade that what
    stands there, ``stock`` mm above the surface, is not touched on the way down.
    """
    line, radius = face.plunges[plunge]
    way = beside(prolonged(line, 3 * face.past), s)
    count = max(8, math.ceil(way.length / SPACING))
    stations = np.linspace(0.0, way.length, count + 1)
    points, _ = place_at(way, stations)
    d = signed_line_distance(points, face.edge)
    lifted = _rise(face, plunge, s)
    height = face.height(d) + lifted
    on_blade = inside(face, points) & (height < face.thickness / 2 + PAST)
    on_blade &= np.abs(d) < face.width + radius + face.past
    rows = np.flatnonzero(on_blade)
    if not len(rows):
        return None
    off = _clear_run(cutter, float(face.angle(np.zeros(1))[0]), stock)
    low = max(0.0, stations[max(0, rows[0] - 1)] - off)
    high = min(way.length, stations[min(count, rows[-1] + 1)] + off)
    fine = np.linspace(low, high, max(3, math.ceil((high - low) / SPACING) + 1))
    border = float(min(0.0, d[rows].min())) - SPACING - 0.05
    axis = _axis(face, plunge, cutter, place_at(way, fine), s, raised, border)
    axis = _thinned(axis[::-1])
    return Motions(
        kind=np.full(len(axis) - 1, FEED),
        start=axis[:-1],
        stop=axis[1:],
        centre=np.zeros((len(axis) - 1, 2)),
        turns=np.zeros(len(axis) - 1),
        feed=np.full(len(axis) - 1, feed),
    )


def _rise(face: Face, plunge: int, s: float) -> float:
    radius = face.plunges[plunge][1]
    on = min(max(s, 0.0), radius)
    return (radius - math.sqrt(radius**2 - on**2)) / math.cos(face.bevel.angle)


def _clear_run(cutter: Cutter, angle: float, stock: float) -> float:
    """Return how far past the blade's border a pass begins, so that it comes down beside stock, mm."""
    return 0.3 + math.sqrt(2 * cutter.radius * (stock + 0.03))


def _axis(
    face: Face,
    plunge: int,
    cutter: Cutter,
    places: tuple[Floats, Floats],
    s: float,
    raised: float,
    border: float,
) -> Floats:
    """Return the tip's places (K, 3) where the cutter touches the surface at ``places``.

    Further out than ``border`` mm from the edge it goes on level.
    """
    points, headings = places
    radius = face.plunges[plunge][1]
    d = signed_line_distance(points, face.edge)
    slope = np.stack(
        [
            (signed_line_distance(points + step, face.edge)
             - signed_line_distance(points - step, face.edge)) / (2 * STEP)
            for step in (np.array([STEP, 0.0]), np.array([0.0, STEP]))
        ],
        axis=1,
    )  # fmt: skip
    slope /= np.hypot(slope[:, 0], slope[:, 1])[:, None]
    on = min(max(s, 0.0), 0.999999 * radius)
    steep = on / math.sqrt(radius**2 - on**2) / math.cos(face.bevel.angle)
    grade = np.tan(face.angle(d))[:, None] * slope + steep * normals(headings)
    size = np.hypot(grade[:, 0], grade[:, 1])
    upright = 1 / np.sqrt(1 + size**2)
    away = cutter.corner * size * upright + (cutter.radius - cutter.corner)
    axis = points - grade / size[:, None] * away[:, None]
    z = (
        face.height(np.maximum(d, border))
        + _rise(face, plunge, s)
        + raised
        + cutter.corner * (upright - 1)
    )
    return np.column_stack([axis, z])


def _thinned(places: Floats) -> Floats:
    """Return the places (K, 3) of as few straight ways as stay within `CHORD` of all."""
    kept = [0]
    k = 0
    while k < len(places) - 1:
        low, high = k + 1, len(places) - 1
        if _bow(places[k : high + 1]) <= CHORD:
            low = high
        while high - low > 1:
            middle = (low + high) // 2
            if _bow(places[k : middle + 1]) <= CHORD:
                low = middle
            else:
                high = middle
        kept.append(low)
        k = low
    return places[kept]


def _bow(places: Floats) -> float:
    """Return how far places lie from the way between the first and the last, mm."""
    if len(places) < 3:
        return 0.0
    way = places[-1] - places[0]
    long = float(np.sqrt(way @ way))
    arm = places[1:-1] - places[0]
    along = arm @ way / long
    off = np.sum(arm**2, axis=1) - along**2
    return float(np.sqrt(np.maximum(off, 0.0).max()))

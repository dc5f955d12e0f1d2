"""The plunge: passes along lines of equal distance past its line, cut by a cutter that fits in it.

The surface is the bevel and, added to it, a cylinder that lies in the bevel. A cutter of radius R
and corner radius r that touches it where the unit normal is n has its axis at the place touched plus
r n + (R - r) m, m being the direction of n in the plane (a ball has r = R).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np

from knifecam.curve import FEED, Curve, Motions, place_at
from knifecam.curve.curve import Floats
from knifecam.curve.prolonged_distance import prolonged, signed_line_distance
from knifecam.paths.beside import parallels
from knifecam.paths.bevel import Face, inside
from knifecam.paths.slopes import Line, Slopes
from knifecam.shop import Cutter

CHORD = 1e-4
"""mm: how far straight ways may lie from the places between their ends. On a hollow bevel they bridge
it, which adds to the cusps."""

SEEN = 0.2
"""mm between the places at which a way is looked at, whether it meets the blade."""

STEEP = math.radians(25.0)
"""rad: passes that fall more steeply run the other way, upward."""

SPACING = 0.1
"""mm between the places along a pass."""

PAST = 0.1
"""mm above the blade's flat up to which the surface, prolonged, is followed."""


def effective_radius(cutter: Cutter, angle: float) -> float:
    """Return the radius in mm with which a cutter on a slope of ``angle`` rad meets what rises ahead.

    The section of its corner's torus along the bevel, level with the place touched (differential
    geometry of the torus): r + (R - r) / sin a.
    """
    flat = cutter.radius - cutter.corner
    return cutter.corner + (flat / math.sin(angle) if flat > 1e-9 else 0.0)


def reach_past(face: Face, plunge: int, d: float = 0.0) -> float:
    """Return how far past its line a plunge has left the blade's flat, mm, ``d`` mm from the edge.

    It is followed to `PAST` above the flat.
    """
    radius = face.plunges[plunge][1]
    top = face.thickness / 2 + 0.9 * PAST
    rise = (top - float(face.height(np.array([d]))[0])) * math.cos(face.bevel.angle)
    return math.sqrt(radius**2 - max(0.002 * radius, radius - rise) ** 2)


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


def plunge_passes(
    face: Face, plunge: int, cutter: Cutter, lines: Sequence[Line], *, layer: float, feed: float
) -> tuple[Motions, ...]:
    """Return the passes along a plunge's lines that meet the blade.

    They run with the rising plunge on their right, unless they would fall steeply, and begin and
    end so far off the blade that what stands there, ``layer`` mm above what a pass leaves, is not
    touched on the way down.
    """
    line, _ = face.plunges[plunge]
    ways = parallels(prolonged(line, _beyond(face, line)), [one.s for one in lines])
    spans = _spans(face, plunge, cutter, lines, ways, layer)
    chosen = [k for k, span in enumerate(spans) if span is not None]
    rows, stations = [], []
    for k in chosen:
        low, high = spans[k] or (0.0, 0.0)
        fine = np.linspace(low, high, max(3, math.ceil((high - low) / SPACING) + 1))
        rows.append(np.full(len(fine), k))
        stations.append(fine)
    if not chosen:
        return ()
    slopes = Slopes(face=face, plunge=plunge, lines=lines, ways=ways)
    row, axis = slopes.tips(cutter, np.concatenate(rows), np.concatenate(stations))
    bounds = np.searchsorted(row, [*chosen, len(lines)])
    return tuple(
        _motions(_directed(_thinned(axis[low:high][::-1])), feed)
        for low, high in itertools.pairwise(bounds)
    )


def _directed(places: Floats) -> Floats:
    """Return the places in their order, or upward where they fall too steeply."""
    step = np.diff(places, axis=0)
    fall = np.arctan2(-step[:, 2], np.hypot(step[:, 0], step[:, 1]))
    return places[::-1] if fall.max() > STEEP else places


def _motions(places: Floats, feed: float) -> Motions:
    count = len(places) - 1
    return Motions(
        kind=np.full(count, FEED),
        start=places[:-1],
        stop=places[1:],
        centre=np.zeros((count, 2)),
        turns=np.zeros(count),
        feed=np.full(count, feed),
    )


def _beyond(face: Face, line: Curve) -> float:
    """Return how far a plunge's line must be prolonged to pass the whole bevel, mm."""
    ends = np.concatenate([face.edge.vertices, line.vertices[[0, -1]]])
    return float(np.hypot(*np.ptp(ends, axis=0))) + face.width + face.past


def _spans(
    face: Face,
    plunge: int,
    cutter: Cutter,
    lines: Sequence[Line],
    ways: Sequence[Curve],
    layer: float,
) -> list[tuple[float, float] | None]:
    """Return from where to where each pass runs, mm along its way; None where it meets nothing."""
    stations = [np.linspace(0.0, w.length, math.ceil(w.length / SEEN) + 1) for w in ways]
    points = np.concatenate([place_at(w, at)[0] for w, at in zip(ways, stations, strict=True)])
    row = np.repeat(np.arange(len(ways)), [len(at) for at in stations])
    d = signed_line_distance(points, face.edge)
    lifted = np.array([_rise(face, plunge, one.s) for one in lines])[row]
    on_blade = face.height(d) + lifted < face.thickness / 2 + PAST
    on_blade[on_blade] = inside(face, points[on_blade])
    found: list[tuple[float, float] | None] = []
    for k, at in enumerate(stations):
        rows = np.flatnonzero(on_blade[row == k])
        if not len(rows):
            found.append(None)
            continue
        off = 0.3 + math.sqrt(2 * cutter.radius * (lines[k].raised + layer + 0.03))
        low = max(0.0, float(at[max(0, rows[0] - 1)]) - off)
        high = min(ways[k].length, float(at[min(len(at) - 1, rows[-1] + 1)]) + off)
        found.append((low, high))
    return found


def _rise(face: Face, plunge: int, s: float) -> float:
    radius = face.plunges[plunge][1]
    on = min(max(s, 0.0), radius)
    return (radius - math.sqrt(radius**2 - on**2)) / math.cos(face.bevel.angle)


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

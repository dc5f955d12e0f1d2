"""Places by station along a curve; lengths and overlaps of stretches."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve.curve import Curve, Floats, points_on
from knifecam.curve.curve_limits import SAME_STATION_MM
from knifecam.curve.distance import nearest
from knifecam.record import Record


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch(Record):
    """A stretch of a curve between two stations in mm, along its travel.

    On a closed curve ``end`` may be less than ``start``: the stretch then passes the curve's start.
    """

    start: float
    end: float

    def holds(self, stations: ArrayLike, length: float) -> np.ndarray:
        """Return which ``stations`` of a closed curve of ``length`` mm lie in the stretch."""
        gone = (np.asarray(stations, dtype=float) - self.start) % length
        span = (self.end - self.start) % length
        if span == 0.0 and self.end != self.start:
            span = length
        return np.asarray(gone <= span)


def place_at(curve: Curve, stations: ArrayLike) -> tuple[Floats, Floats]:
    """Return points (K, 2) and headings (K,) rad at ``stations``; closed curves wrap round."""
    s = np.atleast_1d(np.asarray(stations, dtype=float))
    s = s % curve.length if curve.closed else np.clip(s, 0.0, curve.length)
    piece = np.clip(np.searchsorted(curve.stations, s, side="right") - 1, 0, len(curve) - 1)
    fraction = (s - curve.stations[piece]) / curve.lengths[piece]
    return points_on(curve, piece, fraction), curve.start_headings[piece] + fraction * curve.angles[
        piece
    ]


def station_of(curve: Curve, points: ArrayLike) -> Floats:
    """Return the station, (K,) mm, of the place on the curve nearest to each point (K, 2)."""
    rows = np.atleast_2d(np.asarray(points, dtype=float))
    _, pieces = nearest(rows, curve)
    found = np.empty(len(rows))
    for i, (point, k) in enumerate(zip(rows, pieces, strict=True)):
        start, end = curve.starts[k], curve.ends[k]
        if curve.is_arc[k]:
            arm, first = point - curve.centres[k], start - curve.centres[k]
            angle = np.arctan2(arm[1], arm[0]) - np.arctan2(first[1], first[0])
            whole = curve.angles[k]
            gone = (angle * np.sign(whole)) % (2 * np.pi)
            if gone > abs(whole):  # beyond an end: the nearer of the two
                gone = 0.0 if 2 * np.pi - gone < gone - abs(whole) else abs(whole)
            t = gone / abs(whole)
        else:
            t = float(np.dot(point - start, end - start) / np.dot(end - start, end - start))
        found[i] = curve.stations[k] + min(1.0, max(0.0, t)) * curve.lengths[k]
    return found


def stations_past(stations: ArrayLike, marks: ArrayLike, length: float) -> Floats:
    """Return how far stations lie past marks of a closed curve, mm, the short way: below 0 before them.

    Both (n,) mm or one number; ``length`` of the whole curve, mm.
    """
    return (np.asarray(stations) - np.asarray(marks) + length / 2) % length - length / 2


def sub_curve(curve: Curve, start: float, end: float) -> Curve:
    """Return the open curve from station ``start`` to ``end`` along the curve's travel.

    On a closed curve ``end`` may pass the start once or more: stations wrap round.
    Ends closer than 1e-9 mm to a vertex take the vertex itself.
    """
    if not end > start:
        raise ValueError(f"end={end} mm must be greater than start={start} mm")
    whole = curve.length
    if not curve.closed and not (start >= -1e-9 and end <= whole + 1e-9):
        raise ValueError(f"stretch {start}..{end} mm leaves the open curve of {whole} mm")
    vertices: list[Floats] = []
    bulges: list[float] = []
    lap = int(np.floor(start / whole)) if curve.closed else 0
    base = lap * whole
    k = int(np.searchsorted(curve.stations, start - base, side="right")) - 1
    k = min(max(k, 0), len(curve) - 1)
    while True:
        low = base + curve.stations[k]
        high = base + curve.stations[k + 1]
        t0 = max(0.0, (start - low) / (high - low))
        t1 = min(1.0, (end - low) / (high - low))
        t0 = 0.0 if t0 * (high - low) < 1e-9 else t0
        t1 = 1.0 if (1 - t1) * (high - low) < 1e-9 else t1
        if (t1 - t0) * (high - low) > 1e-9:
            vertices.append(curve.starts[k] if t0 == 0.0 else curve.piece_points(k, [t0])[0])
            bulges.append(float(np.tan((t1 - t0) * curve.angles[k] / 4)))
            last = curve.ends[k] if t1 == 1.0 else curve.piece_points(k, [t1])[0]
        if high >= end - 1e-9:
            break
        k += 1
        if k == len(curve):
            if not curve.closed:
                break
            k, base = 0, base + whole
    return Curve(np.array([*vertices, last]), np.array([*bulges, 0.0]), closed=False)


def resample(curve: Curve, spacing: float) -> tuple[Floats, Floats, Floats]:
    """Return stations (K,), points (K, 2) and headings (K,) no further than ``spacing`` mm apart.

    Every vertex is among them (with the heading of the piece that leaves it).
    """
    stations = [
        curve.stations[k]
        + curve.lengths[k] * np.arange(n := max(1, int(np.ceil(curve.lengths[k] / spacing)))) / n
        for k in range(len(curve))
    ]
    if not curve.closed:
        stations.append(np.array([curve.length]))
    s = np.concatenate(stations)
    points, headings = place_at(curve, s)
    return s, points, headings


def length_of(outline: Curve, stretch: Stretch) -> float:
    """Return the stretch's length in mm; from a station round to itself is the whole outline."""
    span = (stretch.end - stretch.start) % outline.length
    if span <= SAME_STATION_MM and stretch.end != stretch.start:
        return outline.length
    return span


def is_whole(outline: Curve, stretch: Stretch) -> bool:
    """Return whether the stretch is all of the closed outline."""
    return length_of(outline, stretch) >= outline.length - SAME_STATION_MM


@lru_cache(maxsize=256)
def part_of(outline: Curve, stretch: Stretch) -> Curve:
    """Return the stretch as an open curve along the outline's travel."""
    start = stretch.start % outline.length
    return sub_curve(outline, start, start + length_of(outline, stretch))


def shared(outline: Curve, one: Stretch, other: Stretch) -> float:
    """Return how many mm of the outline two stretches share."""
    whole = outline.length
    low, span = one.start % whole, length_of(outline, one)
    total = 0.0
    for lap in (-whole, 0.0, whole):
        start = other.start % whole + lap
        end = start + length_of(outline, other)
        total += max(0.0, min(low + span, end) - max(low, start))
    return total


def beside_outline(outline: Curve, points: Floats) -> tuple[Floats, Floats]:
    """Return the distance of each point from the outline and the station it is beside, (K,) mm."""
    away, piece = nearest(points, outline)
    start, end = outline.starts[piece], outline.ends[piece]
    chord = end - start
    along = np.sum((points - start) * chord, axis=1) / np.sum(chord**2, axis=1)
    share = np.clip(along, 0.0, 1.0)
    curved = outline.is_arc[piece]
    if curved.any():
        k = piece[curved]
        arm, first = points[curved] - outline.centres[k], start[curved] - outline.centres[k]
        whole = outline.angles[k]
        gone = np.arctan2(arm[:, 1], arm[:, 0]) - np.arctan2(first[:, 1], first[:, 0])
        gone = (gone * np.sign(whole)) % (2 * np.pi)
        over = gone > np.abs(whole)
        nearer_start = 2 * np.pi - gone < gone - np.abs(whole)
        gone = np.where(over, np.where(nearer_start, 0.0, np.abs(whole)), gone)
        share[curved] = gone / np.abs(whole)
    return away, outline.stations[piece] + share * outline.lengths[piece]

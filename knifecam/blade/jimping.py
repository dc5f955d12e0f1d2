"""Jimping: a row of round notches across the outline, for the thumb or finger."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from knifecam.blade.blade_limits import LEAST_NOTCH_LAND_MM
from knifecam.curve import Curve, Stretch, place_at, station_of
from knifecam.curve.curve import Floats
from knifecam.errors import ShapeError
from knifecam.quantity import mm
from knifecam.record import Plain, Point, Record, Within


@dataclass(frozen=True, slots=True, kw_only=True)
class Jimping(Record):
    """A row of notches of ``diameter`` mm, square to the plate, ``depth`` mm into the blade.

    ``pitch`` is the distance along the outline from notch to notch; ``centres`` are the notches'
    axes in the part frame. `fitted_row` makes one for a stretch.
    """

    name: Annotated[str, Plain()]
    stretch: Stretch
    diameter: Annotated[float, Within(above=0.0, most=50.0)]
    depth: Annotated[float, Within(above=0.0, most=25.0)]
    pitch: Annotated[float, Within(above=0.0, most=100.0)]
    centres: tuple[Point, ...] = ()


def fitted_row(
    outline: Curve, stretch: Stretch, *, name: str, diameter: float, depth: float, pitch: float
) -> Jimping:
    """Return the row of notches that fills ``stretch`` of the counter-clockwise outline.

    The mouths of the first and the last notch end where the stretch ends; the pitch is the one
    nearest to the wanted ``pitch`` that does this and leaves `LEAST_NOTCH_LAND_MM` between notches.

    Raises
    ------
    ShapeError
        For a depth that is no notch, or a stretch that holds none.
    """
    if not (math.isfinite(diameter) and 0 < depth < diameter):
        raise ShapeError(f"depth={mm(depth)} must be above 0 and below diameter={mm(diameter)}")
    if not (math.isfinite(pitch) and pitch > 0):
        raise ShapeError(f"pitch={mm(pitch)} must be finite and greater than 0")
    room = (stretch.end - stretch.start) % outline.length or outline.length
    ends = np.array([stretch.start, stretch.start + room])
    first, last = _inset(outline, ends, diameter=diameter, depth=depth)
    if not last >= first:
        raise ShapeError(f"stretch of {mm(room):.3f} is shorter than the mouth of one notch")
    for count in range(max(1, round((last - first) / pitch)), 0, -1):
        stations = np.linspace(first, last, count + 1)
        if least_land(outline, stations, diameter=diameter, depth=depth) >= LEAST_NOTCH_LAND_MM:
            break
    else:
        count, stations = 0, np.array([(first + last) / 2])
    centres = axes(outline, stations, diameter=diameter, depth=depth)
    return Jimping(
        name=name,
        stretch=stretch,
        diameter=diameter,
        depth=depth,
        pitch=(last - first) / count if count else pitch,
        centres=tuple((float(x), float(y)) for x, y in centres),
    )


def axes(outline: Curve, stations: Floats, *, diameter: float, depth: float) -> Floats:
    """Return the axes (K, 2) of notches at ``stations`` (K,) that go ``depth`` mm in."""
    points, headings = place_at(outline, stations)
    outward = np.stack([np.sin(headings), -np.cos(headings)], axis=1)
    return np.asarray(points + (diameter / 2 - depth) * outward)


def mouths(outline: Curve, stations: Floats, *, diameter: float, depth: float) -> Floats:
    """Return where along the outline notches at ``stations`` (K,) begin and end, (K, 2) mm."""
    stations = np.asarray(stations, dtype=float)
    centres = axes(outline, stations, diameter=diameter, depth=depth)
    found = np.empty((len(stations), 2))
    for column, way in enumerate((-1.0, 1.0)):
        low, high = np.zeros(len(stations)), np.full(len(stations), diameter)
        for _ in range(50):
            middle = (low + high) / 2
            points, _ = place_at(outline, stations + way * middle)
            within = np.hypot(*(points - centres).T) < diameter / 2
            low, high = np.where(within, middle, low), np.where(within, high, middle)
        found[:, column] = stations + way * low
    return found


def least_land(outline: Curve, stations: Floats, *, diameter: float, depth: float) -> float:
    """Return the narrowest metal in mm between neighbours at ``stations`` (K,) mm; inf for one.

    It is the lesser of the outline left between two mouths and, for notches that go deeper than
    their radius, the distance between the circles.
    """
    if len(stations) < 2:
        return math.inf
    ends = mouths(outline, stations, diameter=diameter, depth=depth)
    land = float(np.min(ends[1:, 0] - ends[:-1, 1]))
    if depth > diameter / 2:
        centres = axes(outline, stations, diameter=diameter, depth=depth)
        apart = np.hypot(*(centres[1:] - centres[:-1]).T)
        land = min(land, float(np.min(apart)) - diameter)
    return land


def land_between(row: Jimping, outline: Curve) -> float:
    """Return the narrowest metal in mm between neighbouring notches of ``row``; inf for one."""
    if len(row.centres) < 2:
        return math.inf
    stations = np.unwrap(station_of(outline, np.array(row.centres)), period=outline.length)
    return least_land(outline, np.sort(stations), diameter=row.diameter, depth=row.depth)


def _inset(outline: Curve, ends: Floats, *, diameter: float, depth: float) -> tuple[float, float]:
    """Stations of the first and the last notch, whose mouths begin and end at ``ends``."""
    half = math.sqrt(depth * (diameter - depth))
    first, last = float(ends[0]) + half, float(ends[1]) - half
    for _ in range(20):
        found = mouths(outline, np.array([first, last]), diameter=diameter, depth=depth)
        first += float(ends[0] - found[0, 0])
        last += float(ends[1] - found[1, 1])
    return first, last

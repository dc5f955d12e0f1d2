"""What a bevel grinds of the outline past its heel, and how a plunge line crosses the edge."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade.bevel import SIDES, Bevel
from knifecam.blade.blade import Blade
from knifecam.blade.blade_limits import (
    AS_NEAR_TIMES,
    EDGE_SAMPLE_MM,
    GROUND_UNDER_FACE_MM,
    LEAST_AWAY_DEG,
    LEAST_OVER_MM,
    LOOK_SPACING_MM,
    ON_LINE_MM,
)
from knifecam.blade.finished_surface import bevel_height, edge_curve
from knifecam.curve import Curve, Stretch, place_at, resample
from knifecam.curve.curve import Floats
from knifecam.curve.distance import signed_line_distance
from knifecam.curve.stations import length_of
from knifecam.quantity import Place


@dataclass(frozen=True, slots=True, kw_only=True)
class PlungeCrossing:
    """``station`` mm along the edge, the ``place`` looked at before it, and the ``angle``, rad."""

    station: float
    place: tuple[float, float]
    angle: float


def plunge_crossing(edge: Curve, line: Curve) -> PlungeCrossing | None:
    """Return where ``line``, prolonged at its ends, first crosses ``edge``; None if nowhere."""
    stations, points, _ = resample(edge, EDGE_SAMPLE_MM)
    past = signed_line_distance(points, line)
    crossed = np.flatnonzero(np.sign(past[1:]) != np.sign(past[:-1]))
    if not len(crossed):
        return None
    k = int(crossed[0])
    step = stations[k + 1] - stations[k]
    x, y = points[k]
    return PlungeCrossing(
        station=float(stations[k] + past[k] / (past[k] - past[k + 1]) * step),
        place=(float(x), float(y)),
        angle=math.asin(min(1.0, float(abs(past[k + 1] - past[k]) / step))),
    )


EDGE_END_WAYS = np.array([-1, 1])
"""The ways to go from the edge's first and last end: against the outline's travel, and with it."""


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class HeelOverrun:
    """What a bevel grinds of the outline past one heel, going away from it.

    Parameters
    ----------
    places : ndarray (K, 2), mm
        Places of the outline that are ground past the heel, in the order met.
    over : ndarray (K,), mm
        How far past the heel they lie, along the edge's tangent there.
    along : float, mm
        How much of that the outline runs within `LEAST_AWAY_DEG` of the tangent, or comes back to it.
    again : ndarray (2,) or None, mm
        The first place that is ground once more, after the grind line has left the outline.
    longer : Stretch or None
        The edge as far as the outline goes on straight from it; None where it bends at the heel.
    way : int
        1 where the outline's travel leads away from the heel, -1 where it comes to it.
    """

    places: Floats
    over: Floats
    along: float
    again: Floats | None
    longer: Stretch | None
    way: int

    @property
    def past(self) -> float:
        """Return how far past the heel the outline is ground, mm."""
        return float(self.over.max(initial=0.0))

    @property
    def ends(self) -> str:
        """Return the first and last place that is ground, as text."""
        (x0, y0), (x1, y1) = self.places[[0, -1]]
        return f"from {Place(x0, y0):.1f} to {Place(x1, y1):.1f}"


def runs_over(bevel: Bevel, blade: Blade) -> tuple[HeelOverrun, ...]:
    """Return what the bevel grinds past each of its heels; nothing for one where nothing is."""
    edge = edge_curve(bevel, blade.outline)
    ends, _ = place_at(edge, np.array([0.0, edge.length]))
    far = np.hypot(*(ends - _middle(blade)).T)
    found = [past_end(bevel, blade, way) for way in EDGE_END_WAYS[far <= AS_NEAR_TIMES * far.min()]]
    return tuple(run for run in found if run is not None)


def farthest(bevel: Bevel, blade: Blade) -> float:
    """Return how far past either end of its edge the bevel grinds the outline, mm along its tangent."""
    found = (past_end(bevel, blade, way) for way in EDGE_END_WAYS)
    return max((run.past for run in found if run is not None), default=0.0)


def past_end(bevel: Bevel, blade: Blade, way: int) -> HeelOverrun | None:
    """Return what is ground past one end of the edge, its last for ``way`` 1, its first for -1."""
    edge = edge_curve(bevel, blade.outline)
    (heel,), (heading,) = place_at(edge, edge.length if way > 0 else 0.0)
    gone, places = _taken_along(bevel, blade, way)
    off = signed_line_distance(places, edge)
    over = way * (places - heel) @ np.array([math.cos(heading), math.sin(heading)])
    ground = _lowest(bevel, blade, places) < blade.thickness / 2 - GROUND_UNDER_FACE_MM
    counted = ground & (over > 0)
    if not counted.any():
        return None
    connected = np.cumprod(ground).astype(bool)
    apart = np.flatnonzero(counted & ~connected)
    straight = np.flatnonzero(np.cumprod(np.abs(off) <= ON_LINE_MM) & (over > LEAST_OVER_MM))
    return HeelOverrun(
        places=places[counted],
        over=over[counted],
        along=_along(gone, off, over, counted & connected),
        again=places[apart[0]] if len(apart) else None,
        longer=_longer(bevel, way, float(gone[straight[-1]])) if len(straight) else None,
        way=way,
    )


def _longer(bevel: Bevel, way: int, more: float) -> Stretch:
    """Return the bevel's edge ``more`` mm longer at one of its ends."""
    edge = bevel.edge
    if way > 0:
        return Stretch(start=edge.start, end=edge.end + more)
    return Stretch(start=edge.start - more, end=edge.end)


def _taken_along(bevel: Bevel, blade: Blade, way: int) -> tuple[Floats, Floats]:
    """Return places (K, 2) of the outline beyond the edge, and how far (K,) they are from its end."""
    stations, places, _ = resample(blade.outline, LOOK_SPACING_MM)
    gone = (stations - bevel.edge.start) % blade.outline.length
    if way < 0:
        gone = blade.outline.length - gone
    else:
        gone = gone - length_of(blade.outline, bevel.edge)
    rest = blade.outline.length - length_of(blade.outline, bevel.edge)
    order = np.argsort(gone)
    order = order[(gone[order] > 0) & (gone[order] < rest)]
    return gone[order], places[order]


def _lowest(bevel: Bevel, blade: Blade, places: Floats) -> Floats:
    """Return the lesser height (K,) mm of the bevel's sides."""
    low = np.full(len(places), np.inf)
    for side in filter(bevel.on, SIDES):
        low = np.minimum(low, bevel_height(bevel, blade, places, side))
    return low


def _along(stations: Floats, off: Floats, over: Floats, kept: NDArray[np.bool_]) -> float:
    """Return how far along the edge, mm, the kept places run within `LEAST_AWAY_DEG` of its line."""
    least = math.sin(math.radians(LEAST_AWAY_DEG))
    flat = np.diff(off) < least * np.diff(stations)
    return float(np.abs(np.diff(over))[flat & kept[1:] & kept[:-1]].sum())


def _middle(blade: Blade) -> Floats:
    """Return the middle (2,) of the outline's area, mm."""
    _, places, _ = resample(blade.outline, 1.0)
    after = np.roll(places, -1, axis=0)
    cross = places[:, 0] * after[:, 1] - after[:, 0] * places[:, 1]
    return np.asarray(((places + after) * cross[:, None]).sum(axis=0) / (3 * cross.sum()))

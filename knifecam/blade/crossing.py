"""Where a plunge's line crosses an edge, and at what angle."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from knifecam.blade.line_distance import signed_line_distance
from knifecam.curve import Curve, resample

SPACING = 0.05
"""mm between the places of the edge that are looked at."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """``station`` mm along the edge, the ``place`` looked at before it, and the ``angle``, rad."""

    station: float
    place: tuple[float, float]
    angle: float


def crossing_of(edge: Curve, line: Curve) -> Crossing | None:
    """Return where ``line``, prolonged at its ends, first crosses ``edge``; None if nowhere."""
    stations, points, _ = resample(edge, SPACING)
    past = signed_line_distance(points, line)
    crossed = np.flatnonzero(np.sign(past[1:]) != np.sign(past[:-1]))
    if not len(crossed):
        return None
    k = int(crossed[0])
    step = stations[k + 1] - stations[k]
    x, y = points[k]
    return Crossing(
        station=float(stations[k] + past[k] / (past[k] - past[k + 1]) * step),
        place=(float(x), float(y)),
        angle=math.asin(min(1.0, float(abs(past[k + 1] - past[k]) / step))),
    )

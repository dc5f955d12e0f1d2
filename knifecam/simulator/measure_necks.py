"""Necks of tabs along the blade's wall as they were cut, measured by sights."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, place_at
from knifecam.shop import Order

Floats = NDArray[np.float64]

Block = Callable[[Floats, Floats], tuple[Floats, Floats]]
"""Part heights of top and bottom, (S, U) mm, at stations (S,) and distances (U,) off the wall."""

ALONG = 0.02
"""mm between stations looked at."""

FIRST, BESIDE, ACROSS = 0.02, 0.3, 15
"""mm off the wall, and short of the neck's far side, where the first and the last line lie; they are
as close to each other up to the second, and so many from there on."""

BEYOND = 1.5
"""mm past a cutter's diameter to either side of a tab's middle that is looked at."""

FULL = 2e-4
"""mm: a neck is of full thickness where it is this near to that of its middle."""

METAL = 0.02
"""mm: a thinner skin holds nothing."""

FOOT = 0.002
"""mm: where a neck is no thicker than this above its thinnest, its fillet has ended."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Neck:
    """A tab's neck: ``thin`` mm, its least thickness along its middle line; ``width`` mm of its
    narrow face where it is narrowest, ``at_wall`` mm at the blade; ``foot`` mm from the wall at which
    its fillet has ended, which is what stands out once it has snapped there; ``modulus`` mm3, the
    least of mean width and thickness squared over six across it.
    """

    thin: float
    width: float
    at_wall: float
    foot: float
    modulus: float


def neck_reach(order: Order) -> float:
    """Return how far from the wall the tabs' necks reach, mm; 0 where none are ordered."""
    if not order.tabs.neck > 0:
        return 0.0
    return max((order.cutter(c.cutter).diameter for c in order.cuttings("neck")), default=0.0)


def measure_neck(outline: Curve, station: float, reach: float, waist: float, block: Block) -> Neck:
    """Return the neck of the tab at ``station``; its figures are 0 where nothing bridges it."""
    half = waist + reach + BEYOND
    count = int(np.ceil(half / ALONG))
    stations: Floats = station + ALONG * np.arange(-count, count + 1, dtype=np.float64)
    across: Floats = np.concatenate(
        [np.arange(FIRST, BESIDE, FIRST), np.linspace(BESIDE, reach - FIRST, ACROSS)]
    )
    top, bottom = block(stations, across)
    thickness = top - bottom
    least = thickness.min(axis=1)
    best = float(least.max())
    if not best > METAL:
        return Neck(thin=0.0, width=0.0, at_wall=0.0, foot=0.0, modulus=0.0)
    plateau = np.flatnonzero(least >= best - FULL)
    k = int(plateau[np.argmin(np.abs(plateau - len(stations) // 2))])
    narrow = [
        _width(outline, stations, float(u), thickness[:, j] >= thickness[k, j] - FULL, k)
        for j, u in enumerate(across)
    ]
    wide = [
        _width(outline, stations, float(u), thickness[:, j] > METAL, k)
        for j, u in enumerate(across)
    ]
    mean = (np.array(narrow) + np.array(wide)) / 2
    foot = int(np.argmax(thickness[k] <= best + FOOT))
    return Neck(
        thin=best,
        width=float(min(narrow)),
        at_wall=float(narrow[0]),
        foot=float(across[foot]) if foot else 0.0,
        modulus=float((mean * thickness[k] ** 2 / 6).min()),
    )


def _width(
    outline: Curve, stations: Floats, away: float, there: NDArray[np.bool_], k: int
) -> float:
    """Return the width of the run of ``there`` round station ``k``, (S,) bool, mm."""
    low = np.flatnonzero(~there[:k])
    high = np.flatnonzero(~there[k:])
    first = int(low[-1]) + 1 if len(low) else 0
    last = k + int(high[0]) - 1 if len(high) else len(stations) - 1
    ends = stations[[first, last]] + np.array([-0.5, 0.5]) * ALONG
    points, headings = place_at(outline, ends)
    outward = np.stack([np.sin(headings), -np.cos(headings)], axis=1)
    return float(np.hypot(*np.diff(points + away * outward, axis=0)[0]))

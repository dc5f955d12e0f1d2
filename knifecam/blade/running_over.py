"""Bevels that run over the heel: by its tangent a bevel goes on beside whatever follows the edge.

The heel is the end of the edge nearer to the middle of the outline's area, the handle's side; the
other end is the tip, beyond which there is nothing but the back.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.blade.bevel import SIDES, Bevel
from knifecam.blade.blade import Blade
from knifecam.blade.line_distance import signed_line_distance
from knifecam.blade.stretches import length_of
from knifecam.blade.surface import bevel_height, edge_curve
from knifecam.curve import place_at, resample
from knifecam.curve.curve import Floats

MOST_OVER = 5.0
"""mm that a bevel may go on past the heel, along the edge: the heel's own rounded corner."""

LEAST_OVER = 0.5
"""mm: less is not told."""

GROUND = 1e-3
"""mm under the plate's face where the outline counts as ground."""

SPACING = 0.25
"""mm between the places of the outline that are looked at."""

LEAST_CROSSING = 30.0
"""degrees between an edge and a plunge's line: a flatter one does not end the bevel."""


def run_over(bevel: Bevel, blade: Blade) -> Floats:
    """Return places (K, 2) of the outline that are ground past the heel, the nearest to it first."""
    edge = edge_curve(bevel, blade.outline)
    stations, places, _ = resample(blade.outline, SPACING)
    over = _past_heel(bevel, blade, places)
    gone = (stations - bevel.edge.start) % blade.outline.length
    off = (gone > length_of(blade.outline, bevel.edge)) & (over > 0)
    rows = np.flatnonzero(off & (signed_line_distance(places, edge) > 0))
    low = np.full(len(rows), np.inf)
    for side in filter(bevel.on, SIDES):
        low = np.minimum(low, bevel_height(bevel, blade, places[rows], side))
    rows = rows[low < blade.thickness / 2 - GROUND]
    return np.asarray(places[rows[np.argsort(over[rows])]])


def overrun(bevel: Bevel, blade: Blade) -> float:
    """Return how far past the heel, mm along the edge's tangent, the bevel grinds the outline."""
    found = run_over(bevel, blade)
    return float(_past_heel(bevel, blade, found[-1:])[0]) if len(found) else 0.0


def running_over(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """A bevel ends at its heel, or within `MOST_OVER` mm of it; a plunge rises over its radius more."""
    over = overrun(bevel, blade)
    most = MOST_OVER + max((plunge.radius for plunge in bevel.plunges), default=0.0)
    if not over <= most:
        (x0, y0), (x1, y1) = run_over(bevel, blade)[[0, -1]]
        yield (
            f"bevel '{bevel.name}': goes on {over:.1f} mm past the edge's heel and grinds the outline"
            f" from ({x0:.1f}, {y0:.1f}) to ({x1:.1f}, {y1:.1f}); at most {most:g} mm may be: end it by"
            " a plunge across the bevel, or raise the handle above the grind line"
        )


def crossing(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """A plunge's line crosses the edge at `LEAST_CROSSING` degrees or more."""
    edge = edge_curve(bevel, blade.outline)
    stations, places, _ = resample(edge, 0.05)
    for number, plunge in enumerate(bevel.plunges, start=1):
        past = signed_line_distance(places, plunge.line)
        cross = np.flatnonzero(np.sign(past[1:]) != np.sign(past[:-1]))
        if not len(cross):
            continue
        k = int(cross[0])
        change = abs(past[k + 1] - past[k]) / (stations[k + 1] - stations[k])
        angle = float(np.degrees(np.arcsin(min(1.0, change))))
        if not angle >= LEAST_CROSSING:
            x, y = places[k]
            yield (
                f"bevel '{bevel.name}': plunge {number} meets the edge at {angle:.1f} degrees, at"
                f" ({x:.1f}, {y:.1f}); at least {LEAST_CROSSING:g} degrees are wanted, or it runs"
                " along the bevel instead of ending it: draw its line across the bevel"
            )


def _past_heel(bevel: Bevel, blade: Blade, points: Floats) -> Floats:
    """Return how far points (K, 2) lie past the heel, (K,) mm along the edge's tangent there."""
    edge = edge_curve(bevel, blade.outline)
    ends, headings = place_at(edge, np.array([0.0, edge.length]))
    middle = _middle(blade)
    heel = int(np.argmin(np.hypot(*(ends - middle).T)))
    away = np.array([np.cos(headings[heel]), np.sin(headings[heel])]) * (1 if heel else -1)
    return np.asarray((points - ends[heel]) @ away)


def _middle(blade: Blade) -> Floats:
    """Return the middle (2,) of the outline's area, mm."""
    _, places, _ = resample(blade.outline, 1.0)
    after = np.roll(places, -1, axis=0)
    cross = places[:, 0] * after[:, 1] - after[:, 0] * places[:, 1]
    return np.asarray(((places + after) * cross[:, None]).sum(axis=0) / (3 * cross.sum()))

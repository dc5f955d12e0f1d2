"""Bevels that run over the heel: by its tangent a bevel goes on beside whatever follows the edge.

The heel is the end of the edge nearer to the middle of the outline's area, the handle's side; the
other end is the tip, beyond which there is nothing but the back. Both ends are heels where they are
about as near, as of a head knife or a draw knife.

Where the outline turns away from the edge, the bevel runs out over it: its grind line comes to
the outline by itself, as on a skewed edge or over a leaning heel. Where the outline runs along
the edge instead, as a handle does, the bevel would go on unnoticed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.blade.bevel import SIDES, Bevel
from knifecam.blade.blade import Blade
from knifecam.blade.line_distance import signed_line_distance
from knifecam.blade.stretches import length_of
from knifecam.blade.surface import bevel_height, edge_curve
from knifecam.curve import place_at, resample
from knifecam.curve.curve import Floats

MOST_OVER = 5.0
"""mm that a bevel may go on past the heel where the outline runs along the edge: a heel's corner."""

LEAST_AWAY = 20.0
"""degrees from the edge's own line: an outline that turns away by more ends the bevel by itself."""

LEAST_OVER = 0.5
"""mm: less is not told."""

GROUND = 1e-3
"""mm under the plate's face where the outline counts as ground."""

ON_LINE = 0.01
"""mm off the edge's own line within which the outline goes on straight from the edge."""

SPACING = 0.25
"""mm between the places of the outline that are looked at."""

AS_NEAR = 1.1
"""An end of the edge this many times as far from the middle as the other is a heel too."""

LEAST_CROSSING = 30.0
"""degrees between an edge and a plunge's line: a flatter one does not end the bevel."""


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class RunOver:
    """What a bevel grinds of the outline past one heel, walking away from it.

    Parameters
    ----------
    places : ndarray (K, 2), mm
        Places of the outline that are ground past the heel, in the order walked.
    over : ndarray (K,), mm
        How far past the heel they lie, along the edge's tangent there.
    along : float, mm
        How much of that the outline runs within `LEAST_AWAY` of the tangent, or comes back to it.
    again : ndarray (2,) or None, mm
        The first place that is ground once more, after the grind line has left the outline.
    straight : ndarray (2,) or None, mm
        As far as this the outline goes on straight from the edge; None where it bends at the heel.
    """

    places: Floats
    over: Floats
    along: float
    again: Floats | None
    straight: Floats | None

    @property
    def past(self) -> float:
        """Return how far past the heel the outline is ground, mm."""
        return float(self.over.max(initial=0.0))

    @property
    def ends(self) -> str:
        """Return the first and last place that is ground, as text."""
        (x0, y0), (x1, y1) = self.places[[0, -1]]
        return f"from ({x0:.1f}, {y0:.1f}) to ({x1:.1f}, {y1:.1f})"


def runs_over(bevel: Bevel, blade: Blade) -> tuple[RunOver, ...]:
    """Return what the bevel grinds past each of its heels; nothing for one where nothing is."""
    edge = edge_curve(bevel, blade.outline)
    ends, headings = place_at(edge, np.array([0.0, edge.length]))
    far = np.hypot(*(ends - _middle(blade)).T)
    found = []
    for heel in np.flatnonzero(far <= AS_NEAR * far.min()):
        way = 1 if heel else -1
        away = way * np.array([np.cos(headings[heel]), np.sin(headings[heel])])
        run = _past(bevel, blade, ends[heel], away, way)
        if run is not None:
            found.append(run)
    return tuple(found)


def running_over(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """A bevel runs out over an outline that turns away from its edge; along one, `MOST_OVER` at most.

    A plunge rises over its radius more.
    """
    most = MOST_OVER + max((plunge.radius for plunge in bevel.plunges), default=0.0)
    for run in runs_over(bevel, blade):
        if run.past <= most or (run.along <= most and run.again is None):
            continue
        yield (
            f"bevel '{bevel.name}': goes on {run.past:.1f} mm past the edge's heel and grinds the"
            f" outline {run.ends}{_why(run, most)}: end it by a plunge across the bevel, or raise the"
            f" handle above the grind line{_or_longer(run)}"
        )


def _why(run: RunOver, most: float) -> str:
    if run.along <= most and run.again is not None:
        x, y = run.again
        return f", at ({x:.1f}, {y:.1f}) again after its grind line has left the blade"
    return (
        f", {run.along:.1f} mm of it within {LEAST_AWAY:g} degrees of the edge's own line; at most"
        f" {most:g} mm may be"
    )


def _or_longer(run: RunOver) -> str:
    if run.straight is None:
        return ""
    x, y = run.straight
    return f"; or let the edge go on to ({x:.1f}, {y:.1f}), as far as the outline is straight"


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


def _past(bevel: Bevel, blade: Blade, heel: Floats, away: Floats, way: int) -> RunOver | None:
    """Return what is ground past a heel (2,), ``away`` (2,) the unit vector along the edge there.

    ``way`` is 1 where the outline's travel leads away from the heel, -1 where it comes to it.
    """
    stations, places = _walked(bevel, blade, way)
    off = signed_line_distance(places, edge_curve(bevel, blade.outline))
    over = (places - heel) @ away
    ground = (off > -GROUND) & (_lowest(bevel, blade, places) < blade.thickness / 2 - GROUND)
    counted = ground & (over > 0)
    if not counted.any():
        return None
    connected = np.cumprod(ground).astype(bool)
    apart = np.flatnonzero(counted & ~connected)
    straight = np.flatnonzero(np.cumprod(np.abs(off) <= ON_LINE) & (over > LEAST_OVER))
    return RunOver(
        places=places[counted],
        over=over[counted],
        along=_along(stations, off, over, counted & connected),
        again=places[apart[0]] if len(apart) else None,
        straight=places[straight[-1]] if len(straight) else None,
    )


def _walked(bevel: Bevel, blade: Blade, way: int) -> tuple[Floats, Floats]:
    """Return places (K, 2) of the outline beyond the edge, and how far (K,) they are from its end."""
    stations, places, _ = resample(blade.outline, SPACING)
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
    """Return how far along the edge, mm, the kept places run within `LEAST_AWAY` of its line."""
    least = math.sin(math.radians(LEAST_AWAY))
    flat = np.diff(off) < least * np.diff(stations)
    return float(np.abs(np.diff(over))[flat & kept[1:] & kept[:-1]].sum())


def _middle(blade: Blade) -> Floats:
    """Return the middle (2,) of the outline's area, mm."""
    _, places, _ = resample(blade.outline, 1.0)
    after = np.roll(places, -1, axis=0)
    cross = places[:, 0] * after[:, 1] - after[:, 0] * places[:, 1]
    return np.asarray(((places + after) * cross[:, None]).sum(axis=0) / (3 * cross.sum()))

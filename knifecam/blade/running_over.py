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
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from knifecam.blade.bevel import SIDES, Bevel
from knifecam.blade.blade import Blade
from knifecam.blade.crossing import crossing_of
from knifecam.blade.line_distance import signed_line_distance
from knifecam.blade.stretches import length_of
from knifecam.blade.surface import bevel_height, edge_curve
from knifecam.curve import Stretch, place_at, resample
from knifecam.curve.curve import Floats
from knifecam.quantity import Place, mm, most_mm

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

WAYS = np.array([-1, 1])
"""The ways to walk from the edge's first and last end: against the outline's travel, and with it."""

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


def runs_over(bevel: Bevel, blade: Blade) -> tuple[RunOver, ...]:
    """Return what the bevel grinds past each of its heels; nothing for one where nothing is."""
    edge = edge_curve(bevel, blade.outline)
    ends, _ = place_at(edge, np.array([0.0, edge.length]))
    far = np.hypot(*(ends - _middle(blade)).T)
    found = [_past(bevel, blade, way) for way in WAYS[far <= AS_NEAR * far.min()]]
    return tuple(run for run in found if run is not None)


def farthest(bevel: Bevel, blade: Blade) -> float:
    """Return how far past either end of its edge the bevel grinds the outline, mm along its tangent."""
    found = (_past(bevel, blade, way) for way in WAYS)
    return max((run.past for run in found if run is not None), default=0.0)


def running_over(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """A bevel runs out over an outline that turns away from its edge; along one, `MOST_OVER` at most.

    A plunge rises over its radius more.
    """
    for run in runs_over(bevel, blade):
        if _ends(run, _most(bevel)):
            continue
        yield (
            f"bevel '{bevel.name}': goes on {mm(run.past):.1f} past the edge's heel and grinds the"
            f" outline {run.ends}{_why(run, _most(bevel))}: end it by a plunge across the bevel, or"
            f" raise the handle above the grind line{_or_longer(bevel, blade, run)}"
        )


def _most(bevel: Bevel) -> float:
    """Return how far past the heel the bevel may go on along the edge, mm."""
    return MOST_OVER + max((plunge.radius for plunge in bevel.plunges), default=0.0)


def _ends(run: RunOver | None, most: float) -> bool:
    """Return whether the bevel ends soon enough: ``most`` mm along the edge, and nowhere again."""
    if run is None:
        return True
    return run.past <= most or (run.along <= most and run.again is None)


def _why(run: RunOver, most: float) -> str:
    if run.along <= most and run.again is not None:
        x, y = run.again
        return f", at {Place(x, y):.1f} again after its grind line has left the blade"
    return (
        f", {mm(run.along):.1f} of it within {LEAST_AWAY:g} degrees of the edge's own line; at most"
        f" {most_mm(most):g} may be"
    )


def _or_longer(bevel: Bevel, blade: Blade, run: RunOver) -> str:
    """Return that the edge may go on with a straight outline, where the bevel then ends."""
    if run.longer is None:
        return ""
    longer = replace(bevel, edge=run.longer)
    if not _ends(_past(longer, blade, run.way), _most(bevel)):
        return ""
    station = run.longer.end if run.way > 0 else run.longer.start
    ((x, y),) = place_at(blade.outline, station % blade.outline.length)[0]
    return f"; or let the edge go on to {Place(x, y):.1f}, as far as the outline is straight"


def crossing(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """A plunge's line crosses the edge at `LEAST_CROSSING` degrees or more."""
    edge = edge_curve(bevel, blade.outline)
    for number, plunge in enumerate(bevel.plunges, start=1):
        found = crossing_of(edge, plunge.line)
        if found is None:
            continue
        angle, (x, y) = math.degrees(found.angle), found.place
        if not angle >= LEAST_CROSSING:
            yield (
                f"bevel '{bevel.name}': plunge {number} meets the edge at {angle:.1f} degrees, at"
                f" {Place(x, y):.1f}; at least {LEAST_CROSSING:g} degrees are wanted, or it runs"
                " along the bevel instead of ending it: draw its line across the bevel"
            )


def _past(bevel: Bevel, blade: Blade, way: int) -> RunOver | None:
    """Return what is ground past one end of the edge, its last for ``way`` 1, its first for -1."""
    edge = edge_curve(bevel, blade.outline)
    (heel,), (heading,) = place_at(edge, edge.length if way > 0 else 0.0)
    gone, places = _walked(bevel, blade, way)
    off = signed_line_distance(places, edge)
    over = way * (places - heel) @ np.array([math.cos(heading), math.sin(heading)])
    ground = _lowest(bevel, blade, places) < blade.thickness / 2 - GROUND
    counted = ground & (over > 0)
    if not counted.any():
        return None
    connected = np.cumprod(ground).astype(bool)
    apart = np.flatnonzero(counted & ~connected)
    straight = np.flatnonzero(np.cumprod(np.abs(off) <= ON_LINE) & (over > LEAST_OVER))
    return RunOver(
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

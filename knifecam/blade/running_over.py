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
from dataclasses import replace

from knifecam.blade.bevel import Bevel
from knifecam.blade.blade import Blade
from knifecam.blade.finished_surface import edge_curve
from knifecam.blade.heel_overrun import (
    LEAST_AWAY,
    LEAST_CROSSING,
    MOST_OVER,
    RunOver,
    crossing_of,
    past_end,
    runs_over,
)
from knifecam.curve import place_at
from knifecam.quantity import Place, mm, most_mm


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
    if not _ends(past_end(longer, blade, run.way), _most(bevel)):
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

"""Slots and other inner openings: rings from the inside outward, counter-clockwise, then the wall."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np

from knifecam.curve import Curve, Motions, distance
from knifecam.errors import PlanError
from knifecam.paths.follow import PieceFeed, follow
from knifecam.paths.heights import Heights
from knifecam.paths.lead import lead_in, lead_out
from knifecam.paths.offset import offset
from knifecam.quantity import Place, mm

COARSE, FINE = 96, 480
"""Places of a track where a lead is tried, more where none of these has room for its arc."""


def rings(outline: Curve, *, inset: float, stepover: float) -> tuple[Curve, ...]:
    """Return tracks that clear the inside of ``outline``, the innermost first.

    The outermost lies ``inset`` mm inside; each next is ``stepover`` further in, until no room is
    left. All run counter-clockwise, so the wall lies on the right.
    """
    found: list[Curve] = []
    depth = inset
    while True:
        loops = offset(outline, -depth)
        if not loops:
            break
        found.extend(loop.counter_clockwise() for loop in loops)
        depth += stepover
    if not found:
        raise PlanError(
            f"no room for the cutter inside the opening: nothing is left {mm(inset):.3f} inside it;"
            " use a smaller cutter"
        )
    return tuple(reversed(found))


def rough_ring(
    track: Curve, *, top: float, depths: Sequence[float], ramp: float, feed: PieceFeed
) -> Motions:
    """Return all levels of one ring as one chain: each is entered by a ramp along the ring."""
    parts = []
    station, above = 0.0, top
    for level in depths:
        run = (above - level) / np.tan(ramp)
        end = station + run + track.length
        heights = Heights.through([(station, above), (station + run, level)])
        parts.append(follow(track, station, end, heights, feed))
        station, above = end, level
    return Motions.joined(parts)


def finish_ring(
    track: Curve, wall: Curve, *, away: float, stock: float, z: float, radius: float,
    feed: PieceFeed,
) -> Motions:  # fmt: skip
    """Return the finishing lap of an opening's wall at ``z``, led in and out on arcs where they fit.

    ``radius`` is the cutter's, ``away`` mm how far the track lies inside the wall, ``stock`` mm
    what roughing left on it: the cutter comes down clear of that. The lap starts where the opening
    has most room beside the track. On the arcs the rim runs along the wall as it does on the lap
    where they meet, and at its feed.
    """
    station, aside, arm = _roomiest(track, wall, away, stock, radius)
    lap = follow(track, station, station + track.length + 0.8, Heights.level(z), feed)
    first, last = float(lap.feed[0]), float(lap.feed[-1])
    return Motions.joined(
        [
            lead_in(track, station, radius=arm, aside=aside, z=z, feed=first),
            lap,
            lead_out(track, station + 0.8, radius=arm, aside=aside, z=z, feed=last),
        ]
    )


def _roomiest(
    track: Curve, wall: Curve, away: float, stock: float, radius: float
) -> tuple[float, float, float]:
    """Return the station, the free way aside (at most 0.3 mm) and the arc's radius that fit best.

    In a round hole not much wider than the cutter only a small arc leaves the wall, in one of lines
    only from some places of these.
    """
    fine = np.linspace(0, track.length, FINE + 1)[:-1]
    tried = fine[:: FINE // COARSE], fine
    for arm, stations in product((2.0 * radius, radius, radius / 2, radius / 4, radius / 8), tried):
        for aside in (0.3, 0.2, 0.1, 0.05, 0.02):
            for station in stations if aside <= arm else ():
                into = lead_in(track, station, radius=arm, aside=aside, z=0, feed=1.0)
                out = lead_out(track, station + 0.8, radius=arm, aside=aside, z=0, feed=1.0)
                ends = np.array([into.start[0, :2], out.stop[0, :2]])
                if distance(ends, wall).min() >= away + max(0.8 * aside, stock):
                    return float(station), aside, arm
    raise PlanError(
        f"an opening's wall, at {Place(track.vertices[0, 0], track.vertices[0, 1]):.2f}, leaves no room"
        f" to lead a cutter of {mm(2 * radius):.3f} onto it, clear of the {mm(stock):.3f} that roughing"
        " leaves; use a smaller cutter"
    )

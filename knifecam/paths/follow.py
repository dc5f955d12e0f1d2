"""Motions along a curve at given heights, and how single passes are joined into one chain."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from knifecam.curve import ARC, FEED, RAPID, Curve, Motions, sub_curve
from knifecam.curve.curve import Floats
from knifecam.paths.heights import Heights

SAME_PLACE = 1e-6
"""mm: a pass that begins this near the end of the last goes on without lifting."""

PieceFeed = Callable[[float, float], float]
"""Feed in mm/min for a piece of signed turning radius (mm, left positive) and slope (dz/ds)."""


def follow(track: Curve, start: float, end: float, heights: Heights, feed: PieceFeed) -> Motions:
    """Return the motions along ``track`` from station ``start`` to ``end``.

    The tip's height is linear in arc length between the stations of ``heights``, so arcs with a
    change of height are true helices. Nothing is added: every point lies on the track.
    """
    part = sub_curve(track, start, end)
    at = start + part.stations
    kinds, starts, stops, centres, turns, feeds = [], [], [], [], [], []
    for k in range(len(part)):
        inside = heights.stations[
            (heights.stations > at[k] + 1e-6) & (heights.stations < at[k + 1] - 1e-6)
        ]
        cuts = np.concatenate([[at[k]], inside, [at[k + 1]]])
        fractions = (cuts - at[k]) / (at[k + 1] - at[k])
        points = part.piece_points(k, fractions)
        points[0], points[-1] = part.starts[k], part.ends[k]
        z = heights.at(cuts)
        curved = bool(part.is_arc[k])
        radius = float(np.copysign(part.radii[k], part.angles[k])) if curved else np.inf
        for i in range(len(cuts) - 1):
            slope = float((z[i + 1] - z[i]) / (cuts[i + 1] - cuts[i]))
            kinds.append(ARC if curved else FEED)
            starts.append((*points[i], z[i]))
            stops.append((*points[i + 1], z[i + 1]))
            centres.append(tuple(part.centres[k]) if curved else (0.0, 0.0))
            share = fractions[i + 1] - fractions[i]
            turns.append(part.angles[k] * share / (2 * np.pi) if curved else 0.0)
            feeds.append(feed(radius, slope))
    return Motions(*(np.array(v) for v in (kinds, starts, stops, centres, turns, feeds)))


Place = Sequence[float] | Floats


def line(start: Place, stop: Place, feed: float) -> Motions:
    """Return one straight feed motion between two places (x, y, z)."""
    return Motions(
        np.array([FEED]), np.array([start]), np.array([stop]), np.zeros((1, 2)), np.zeros(1),
        np.array([feed]),
    )  # fmt: skip


def arc(start: Place, stop: Place, centre: Place, turns: float, feed: float) -> Motions:
    """Return one arc or helix; ``turns`` is positive counter-clockwise."""
    return Motions(
        np.array([ARC]), np.array([start]), np.array([stop]), np.array([centre]),
        np.array([turns]), np.array([feed]),
    )  # fmt: skip


def _rapid(start: Floats, stop: Floats) -> Motions:
    return Motions(
        np.array([RAPID]), start[None], stop[None], np.zeros((1, 2)), np.zeros(1), np.zeros(1)
    )


def chained(
    passes: Sequence[Motions], *, rapid_z: float, approach_z: float, plunge_feed: float
) -> Motions:
    """Return all passes as one chain that begins and ends at ``rapid_z``.

    Between passes that do not meet, the cutter rises to ``rapid_z``, moves over the next start,
    comes down by rapid to ``approach_z`` and by feed to the pass.
    """
    parts: list[Motions] = []
    at: Floats | None = None
    for one in passes:
        first = one.start[0]
        if at is None or np.abs(first - at).max() > SAME_PLACE:
            above = np.array([first[0], first[1], rapid_z])
            if at is None:
                parts.append(_rapid(above, above))
            else:
                lifted = np.array([at[0], at[1], rapid_z])
                parts.append(_rapid(at, lifted))
                if np.abs(lifted - above).max() > SAME_PLACE:
                    parts.append(_rapid(lifted, above))
            low = np.array([first[0], first[1], max(approach_z, first[2])])
            parts.append(_rapid(above, low))
            if low[2] > first[2]:
                parts.append(line(low, first, plunge_feed))
        parts.append(one)
        at = one.stop[-1]
    if at is not None:
        parts.append(_rapid(at, np.array([at[0], at[1], rapid_z])))
    return Motions.joined(parts)

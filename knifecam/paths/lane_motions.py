"""Trenches along a stretch of the outline: lanes beside it, roughed in levels.

Lanes run clockwise round the blade, which lies on the right of the travel.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from knifecam.curve import Curve, Motions, place_at, station_of, sub_curve
from knifecam.curve.curve import Floats
from knifecam.paths.curve_following import Heights, PieceFeed, follow, highest, line
from knifecam.paths.trench_motions import Track


def places_beside(wall: Curve, stations: Sequence[float], away: float) -> Floats:
    """Return the places (K, 2) ``away`` mm outside the counter-clockwise wall at its stations."""
    places, headings = place_at(wall, stations)
    return places + away * np.stack([np.sin(headings), -np.cos(headings)], axis=1)


def lane_stations(
    track: Curve, wall: Curve, start: float, end: float, away: float
) -> tuple[float, float]:
    """Return where on the clockwise ``track`` the stretch of the wall from ``start`` to ``end`` lies.

    The stations of the wall run counter-clockwise, those of the track clockwise, so the first
    returned is beside ``end``; the second is greater.
    """
    first, last = (float(s) for s in station_of(track, places_beside(wall, [end, start], away)))
    whole = track.length
    span = (last - first) % whole
    expected = (end - start) % wall.length
    if expected > 0.75 * wall.length and span < 0.25 * whole:
        span += whole
    return first, first + span


def lane_curve(track: Curve, first: float, last: float) -> Curve:
    """Return the open curve of a lane between two stations of its closed track."""
    return sub_curve(track, first, last)


def turned_feed(feed: PieceFeed) -> PieceFeed:
    """Return the feed for a lane run against its sense: left turns become right turns."""

    def of(turning: Floats, slope: Floats) -> Floats:
        return feed(-turning, slope)

    return of


def rough_lanes(
    lanes: Sequence[Curve],
    *,
    top: float,
    depths: Sequence[float],
    ramp: float,
    feeds: Sequence[PieceFeed],
    side_feed: float,
) -> tuple[Motions, ...]:
    """Return one pass a level over all lanes, to and fro, each going on where the last ended.

    A level is entered by ramps along the lane itself: forth falling, back level, so that no wedge
    stays.
    """
    passes = []
    ways = [[_flat(_seen(lane, way), _fed(feed, way)) for way in (True, False)]
            for lane, feed in zip(lanes, feeds, strict=True)]  # fmt: skip
    at, forward, above = 0, True, top
    for level in depths:
        lane = _seen(lanes[at], forward)
        parts = [*_entered(lane, above, level, ramp, _fed(feeds[at], forward))]
        order = range(at, len(lanes)) if at == 0 else range(at, -1, -1)
        for k in order:
            along = _raised(ways[k][0 if forward else 1], level)
            if k != at:
                parts.append(line(parts[-1].stop[-1], along.start[0], side_feed))
            parts.append(along)
            forward = not forward
        at = order[-1]
        passes.append(Motions.joined(parts))
        above = level
    return tuple(passes)


def _flat(lane: Curve, feed: PieceFeed) -> Motions:
    return follow(lane, 0.0, lane.length, Heights.level(0.0), feed)


def _raised(motions: Motions, z: float) -> Motions:
    """Return level motions at another height."""
    up = np.array([0.0, 0.0, z])
    return Motions(
        motions.kind, motions.start + up, motions.stop + up, motions.centre, motions.turns,
        motions.feed,
    )  # fmt: skip


def _seen(lane: Curve, forward: bool) -> Curve:
    return lane if forward else lane.reversed()


def _fed(feed: PieceFeed, forward: bool) -> PieceFeed:
    return feed if forward else turned_feed(feed)


def _entered(
    lane: Curve, above: float, level: float, ramp: float, feed: PieceFeed
) -> list[Motions]:
    """Return the ramps from ``above`` down to ``level`` that begin and end at the lane's start."""
    parts = []
    z = above
    while z > level + 1e-9:
        run = min((z - level) / np.tan(ramp), 0.9 * lane.length)
        low = max(level, z - run * np.tan(ramp))
        low = level if low - level < 1e-6 else low
        falling = Heights.through([(0.0, z), (run, low)])
        parts.append(follow(lane, 0.0, run, falling, feed))
        back = lane.reversed()
        level_run = Heights.level(low)
        parts.append(follow(back, lane.length - run, lane.length, level_run, turned_feed(feed)))
        z = low
    return parts


def one_way(track: Track, first: float, last: float, level: float, feed: PieceFeed) -> Motions:
    """Return one pass at ``level`` from a track's station ``first`` to ``last``, over its windows."""
    heights = highest(Heights.level(level), track.heights(level, first, last))
    return follow(track.curve, first, last, heights, feed)

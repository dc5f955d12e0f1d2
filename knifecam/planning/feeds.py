"""Feeds of the cutter's centre for a wanted feed at the wall, and slower where it must be."""

from __future__ import annotations

import numpy as np

from knifecam.paths.follow import PieceFeed

FALLING = np.tan(np.radians(2.5))
"""Slope above which a fall counts as the descent off a tab."""

DESCENT_SHARE, CORNER_SHARE, WEB_SHARE = 0.4, 0.6, 0.6
"""Shares of the feed on descents, in tight inner corners, and through the last web."""


def wall_feed(feed: float, away: float, radius: float) -> PieceFeed:
    """Return the feed for pieces of a track ``away`` mm from the wall on its right.

    Left turns follow an inner corner: a centre on radius c under a wall of radius ``c + away``
    moves at ``feed c / (c + away)`` so that the contact moves at ``feed``; corners tighter than
    twice the cutter's ``radius`` run at 0.6 of the feed at most, descents at 0.4. Right turns never
    run faster than ``feed``.
    """

    def of(turning: float, slope: float) -> float:
        share = 1.0
        if np.isfinite(turning) and turning > 0:
            share = max(0.2, turning / (turning + away))
            if turning + away < 2 * radius:
                share = min(share, CORNER_SHARE)
        if slope < -FALLING:
            share = min(share, DESCENT_SHARE)
        return feed * share

    return of

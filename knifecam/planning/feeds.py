"""Feeds of the cutter's centre for a wanted feed at the wall, and slower where it must be."""

from __future__ import annotations

import numpy as np

from knifecam.curve.curve import Floats
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

    def of(turning: Floats, slope: Floats) -> Floats:
        inner = np.isfinite(turning) & (turning > 0)
        bend = np.where(inner, turning, 1.0)
        share = np.where(inner, np.maximum(0.2, bend / (bend + away)), 1.0)
        tight = inner & (bend + away < 2 * radius)
        share = np.where(tight, np.minimum(share, CORNER_SHARE), share)
        share = np.where(slope < -FALLING, np.minimum(share, DESCENT_SHARE), share)
        return np.asarray(feed * share)

    return of

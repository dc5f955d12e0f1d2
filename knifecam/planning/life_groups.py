"""Passes made into cuts, split where a cutter's life ends; feeds at the wall."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from knifecam.curve import RAPID, Motions
from knifecam.curve.curve import Floats
from knifecam.errors import PlanError
from knifecam.paths.curve_following import PieceFeed, chained
from knifecam.planning.plan import Cut
from knifecam.planning.planning_limits import (
    CORNER_FEED_SHARE,
    FALLING_SLOPE,
    LIFE_USED_SHARE,
    RAMP_DOWN_FEED_SHARE,
)
from knifecam.quantity import keyed
from knifecam.shop import Cutting
from knifecam.shop.side_view import SideContext


def minutes_in_cut(motions: Motions, top: float) -> float:
    """Return the time in min of the feed motions that go below ``top``."""
    low = np.minimum(motions.start[:, 2], motions.stop[:, 2]) < top - 1e-9
    fed = (motions.kind != RAPID) & low
    return float(np.sum(motions.lengths[fed] / motions.feed[fed]))


def _refuse_short(cutting: Cutting, longest: float, what: str) -> None:
    """Refuse a life in which the longest pass of ``what``, in minutes, is not made."""
    if not longest <= cutting.life * LIFE_USED_SHARE:
        raise PlanError(
            f"{cutting.path}: {keyed(f'{cutting.path}.life', cutting.life):g} min must be at least"
            f" {math.ceil(longest / LIFE_USED_SHARE * 10) / 10:g} min, since one pass of {what} takes"
            f" {longest:.1f} min; order that, or more feed"
        )


def cuts_by_life(
    bench: SideContext,
    passes: Sequence[Motions],
    *,
    name: str,
    cutting: Cutting,
    used: dict[int, float],
    stop: Sequence[str] = (),
    after: Sequence[str] = (),
    whole: bool = False,
) -> list[Cut]:
    """Return the passes as one cut, or as several where the cutter's life ends in between.

    ``used`` holds the minutes each cutter has already worked, and is kept up. A ``whole`` cut begins
    with a fresh cutter where that one lives through all of it and the worn one does not.

    Raises
    ------
    PlanError
        When a single pass takes longer than a cutter lives.
    """
    life = cutting.life * LIFE_USED_SHARE
    taken = [minutes_in_cut(one, bench.top) for one in passes]
    _refuse_short(cutting, max(taken, default=0.0), f"{name.lower()} on side {bench.side}")
    total = sum(taken)
    renewed = whole and total <= life < used.get(cutting.cutter, 0.0) + total
    if renewed:
        used[cutting.cutter] = 0.0
    groups: list[tuple[list[Motions], float, bool]] = [([], 0.0, renewed)]
    for one, minutes in zip(passes, taken, strict=True):
        if used.get(cutting.cutter, 0.0) + minutes > life:
            used[cutting.cutter] = 0.0
            if groups[-1][0]:
                groups.append(([], 0.0, True))
            else:
                groups[-1] = ([], 0.0, True)
        group, so_far, fresh = groups[-1]
        groups[-1] = ([*group, one], so_far + minutes, fresh)
        used[cutting.cutter] = used.get(cutting.cutter, 0.0) + minutes
    cuts = []
    for part, (group, minutes, fresh) in enumerate(groups, start=1):
        motions = chained(
            group,
            rapid_z=bench.rapid_z,
            approach_z=bench.approach_z,
            plunge_feed=cutting.feed,
        )
        label = name if len(groups) == 1 else f"{name}, PART {part} OF {len(groups)}"
        cuts.append(
            Cut(
                name=label,
                side=bench.side,
                cutter=cutting.cutter,
                stage=cutting.stage,
                spindle=cutting.spindle,
                motions=motions,
                minutes=minutes,
                bottom=float(motions.stop[:, 2].min()),
                stop=tuple(stop) if part == 1 else (),
                after=tuple(after) if part == len(groups) else (),
                fresh=fresh,
            )
        )
    return cuts


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
        share = np.where(tight, np.minimum(share, CORNER_FEED_SHARE), share)
        share = np.where(slope < -FALLING_SLOPE, np.minimum(share, RAMP_DOWN_FEED_SHARE), share)
        return np.asarray(feed * share)

    return of

"""One side as it stands on the mill: heights to move at, and passes made into cuts."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from knifecam.curve import RAPID, Motions
from knifecam.errors import PlanError
from knifecam.paths.follow import chained
from knifecam.planning.plan import Cut
from knifecam.shop import Cutting
from knifecam.shop.side_view import Bench

LIFE_USED = 0.95
"""Share of a cutter's life that is planned for."""


def minutes_in_cut(motions: Motions, top: float) -> float:
    """Return the time in min of the feed motions that go below ``top``."""
    low = np.minimum(motions.start[:, 2], motions.stop[:, 2]) < top - 1e-9
    fed = (motions.kind != RAPID) & low
    return float(np.sum(motions.lengths[fed] / motions.feed[fed]))


def _refuse_short(cutting: Cutting, longest: float, what: str) -> None:
    """Refuse a life in which the longest pass of ``what``, in minutes, is not made."""
    if not longest <= cutting.life * LIFE_USED:
        raise PlanError(
            f"{cutting.path}: life={cutting.life:g} min must be at least"
            f" {math.ceil(longest / LIFE_USED * 10) / 10:g} min, since one pass of {what} takes"
            f" {longest:.1f} min; order that, or more feed"
        )


def cuts_of(
    bench: Bench,
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
    life = cutting.life * LIFE_USED
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

"""Directions, falls, extents and times of motions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, Motions
from knifecam.cutting import Engagement
from knifecam.shop import Mill
from knifecam.simulator.frame import to_part
from knifecam.simulator.side import Side

Floats = NDArray[np.float64]

UPRIGHT = 1e-9
"""mm: a motion that goes less far sideways has no heading."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Steps:
    """The steps of a side's engagement, with directions.

    ``motion`` (S,); ``place`` (S, 3) in the part frame and ``at`` (S, 2) in the side frame, mm;
    ``heading`` (S, 2) unit vectors in the side frame, 0 for motions along Z; ``fall`` (S,) rad
    below the horizontal, a quarter turn for motions straight down.
    """

    engagement: Engagement
    motion: NDArray[np.int32]
    place: Floats
    at: Floats
    heading: Floats
    fall: Floats

    def chosen(self, rows: NDArray[np.bool_]) -> Steps:
        """Return only some of the steps."""
        e = self.engagement
        return Steps(
            engagement=Engagement(*(getattr(e, name)[rows] for name in e.__dataclass_fields__)),
            motion=self.motion[rows],
            place=self.place[rows],
            at=self.at[rows],
            heading=self.heading[rows],
            fall=self.fall[rows],
        )


def steps(side: Side) -> Steps:
    """Return the steps of a side that has been swept."""
    if side.swept is None:
        raise ValueError(f"side {side.name} has not been swept")
    e = side.swept.engagement
    motion = e.motion
    at = np.asarray(e.place[:, :2])
    heading = _headings(side.motions, motion, at)
    return Steps(
        engagement=e,
        motion=motion,
        place=to_part(side.frame, e.place),
        at=at,
        heading=heading,
        fall=falls(side.motions)[motion],
    )


def _headings(motions: Motions, motion: NDArray[np.int32], at: Floats) -> Floats:
    arc = motions.kind[motion] == ARC
    chord = motions.stop[motion, :2] - motions.start[motion, :2]
    arm = at - motions.centre[motion]
    along = np.sign(motions.turns[motion])[:, None] * np.stack([-arm[:, 1], arm[:, 0]], axis=1)
    way = np.where(arc[:, None], along, chord)
    size = np.hypot(*way.T)
    return np.where((size > UPRIGHT)[:, None], way / np.maximum(size, UPRIGHT)[:, None], 0.0)


def flat_lengths(motions: Motions) -> Floats:
    """Return the lengths of the motions seen from above, (M,) mm."""
    chord = np.hypot(*(motions.stop - motions.start)[:, :2].T)
    round_ = 2 * np.pi * np.abs(motions.turns) * motions.radii
    return np.asarray(np.where(motions.kind == ARC, round_, chord))


def falls(motions: Motions) -> Floats:
    """Return how steeply the motions fall, (M,) rad; negative where they rise."""
    drop = motions.start[:, 2] - motions.stop[:, 2]
    return np.asarray(np.arctan2(drop, flat_lengths(motions)))


def bounds(side: Side) -> tuple[Floats, Floats]:
    """Return the lowest and highest X, Y and Z the program goes to, (3,) each, exact on arcs.

    In the program frame, mm. Places that the text does not tell are left out.
    """
    motions = side.trace.motions
    points = [
        np.where(np.asarray(side.trace.known), motions.start, np.nan),
        np.where(side.known_after, motions.stop, np.nan),
    ]
    arc = np.flatnonzero(motions.kind == ARC)
    if len(arc):
        arm = motions.start[arc, :2] - motions.centre[arc]
        begin = np.arctan2(arm[:, 1], arm[:, 0])
        sign, whole = np.sign(motions.turns[arc]), 2 * np.pi * np.abs(motions.turns[arc])
        for quarter in range(4):
            gone = (sign * (quarter * np.pi / 2 - begin)) % (2 * np.pi)
            hit = gone <= whole
            axis = np.array([(1, 0), (0, 1), (-1, 0), (0, -1)][quarter], dtype=float)
            tops = motions.start[arc[hit]].copy()
            tops[:, :2] = motions.centre[arc[hit]] + motions.radii[arc[hit], None] * axis
            points.append(tops)
    every = np.concatenate(points)
    told = np.isfinite(every)
    low = np.where(told, every, np.inf).min(axis=0)
    high = np.where(told, every, -np.inf).max(axis=0)
    return np.where(low <= high, low, 0.0), np.where(low <= high, high, 0.0)


def rapid_minutes(side: Side, mill: Mill) -> Floats:
    """Return the minutes rapids take at the mill's rates, (M,): the slowest axis counts."""
    step = np.abs(side.motions.stop - side.motions.start)
    told = np.where(np.asarray(side.trace.known), step, 0.0)
    return np.where(side.rapid, (told / np.array(mill.rapid)).max(axis=1), 0.0)

"""The steps of a sweep with their directions."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, Motions
from knifecam.cutting import Engagement
from knifecam.simulator.frame import Frame, to_part

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

    @cached_property
    def moving(self) -> NDArray[np.bool_]:
        """(S,): which steps go sideways."""
        return np.asarray((self.heading[:, 0] != 0.0) | (self.heading[:, 1] != 0.0))

    @cached_property
    def run(self) -> Floats:
        """(S,): how long the steps are seen from above, mm."""
        return np.asarray(self.engagement.length * np.cos(self.fall))

    def cutting(self, scrape: float) -> NDArray[np.bool_]:
        """Return which steps take more than ``scrape`` mm2, (S,): mm3 a millimetre of their way."""
        return np.asarray(
            self.engagement.volume > scrape * np.maximum(self.engagement.length, 1e-9)
        )

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


def steps_of(motions: Motions, engagement: Engagement, frame: Frame) -> Steps:
    """Return the steps in which ``motions`` were swept, both in the side frame."""
    motion = engagement.motion
    at = np.asarray(engagement.place[:, :2])
    return Steps(
        engagement=engagement,
        motion=motion,
        place=to_part(frame, engagement.place),
        at=at,
        heading=_headings(motions, motion, at),
        fall=falls(motions)[motion],
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

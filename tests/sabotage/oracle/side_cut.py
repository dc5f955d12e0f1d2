"""One side's program over the sights, and the most that each of its motions takes there."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from knifecam.rs274.trace import Trace
from tests.sabotage.oracle.cut import Pairs
from tests.sabotage.oracle.form import Strokes
from tests.sabotage.oracle.sights import Sights

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MIDDLE, INNER = 0.5, 0.88
"""Shares of the radius: its middle half, and that within which a cut is wider than the 0.06 of the
diameter that bench rules give a deep cut with one side open (common practice)."""

AXIS, END = 0.25, 0.9
"""Shares of the radius and of that of the flat end. Metal that is met within the one and beyond the
other is wide: a narrower strip twice as deep as a stepdown is no more metal than a stepdown over the
ordinary stepover of 0.3 to 0.4 of the diameter (bench rules)."""

RIM = 0.95
"""Share of the radius: 0.05 of it is more than the 0.02 diameters that are usual on walls."""

FAR = 0.6
"""Share of the radius: metal near the axis and farther out than this is at least a third of it wide."""

ROUNDING = 1e-9
"""mm"""


@dataclass(frozen=True, eq=False, kw_only=True)
class SideCut:
    """One side's program over the sights.

    ``face`` mm above the mid-plane; ``pairs`` with ``removed`` (K,) mm; ``level`` (n,) mm, what the
    side leaves, toward itself; ``far`` (n,) mm, the metal's other face, seen from this side.
    """

    name: str
    trace: Trace
    strokes: Strokes
    face: float
    pairs: Pairs
    removed: Floats
    level: Floats
    far: Floats

    @cached_property
    def bite(self) -> Floats:
        """(M,) mm: the most that each motion takes at a sight."""
        return self._most(1.0)

    @cached_property
    def inner(self) -> Floats:
        """(M,) mm: the most that each takes well within its rim: more than 0.06 of the diameter."""
        return self._most(INNER)

    @cached_property
    def core(self) -> Floats:
        """(M,) mm: the most that each motion takes under the middle half of its cutter."""
        return self._most(MIDDLE)

    @cached_property
    def solid(self) -> Floats:
        """(M,) mm: the most that each takes there where it leaves metal below."""
        return self._most(MIDDLE, through=False)

    @cached_property
    def sheared(self) -> Floats:
        """(M,) mm: the most that each takes there where it leaves none."""
        return self._most(MIDDLE, through=True)

    @cached_property
    def broad_solid(self) -> Floats:
        """(M,) mm: as `solid`, what each takes both near its axis and where its flat end ends."""
        return np.minimum(self._most(AXIS, through=False), self._most(through=False, beyond=END))

    @cached_property
    def broad_sheared(self) -> Floats:
        """(M,) mm: the same where it leaves no metal."""
        return np.minimum(self._most(AXIS, through=True), self._most(through=True, beyond=END))

    @cached_property
    def standing(self) -> Floats:
        """(M,) mm: the most that each takes both near its axis and far from it."""
        return np.minimum(self._most(AXIS), self._most(END, outside=FAR))

    @cached_property
    def off_rim(self) -> Floats:
        """(M,) mm: the most that each takes off its rim, where a wall's stock does not reach."""
        return self._most(RIM)

    def finishing(self, beside: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Return which motions take metal off places marked as just beside a wall, (M,)."""
        rows = self._taking[beside[self.pairs.place[self._taking]]]
        found = np.zeros(len(self.strokes), bool)
        found[self.pairs.motion[rows]] = True
        return found

    def rim_feeds(self, sights: Sights, roles: tuple[int, ...]) -> Floats:
        """Return how fast each motion's rim runs at places of some roles that it takes, (M,) mm/min.

        On an arc it is as much faster than the axis as it is farther from the arc's middle; 0 where
        no such place is taken.
        """
        beside = np.isin(sights.role, roles)
        rows = self._taking[beside[self.pairs.place[self._taking]]]
        place, motion = self.pairs.place[rows], self.pairs.motion[rows]
        s, found = self.strokes, np.zeros(len(self.strokes))
        middle = s.centre[motion]
        away = np.hypot(sights.x[place] - middle[:, 0], sights.y[place] - middle[:, 1])
        bend = np.hypot(*(s.start[motion, :2] - middle).T)
        share = np.where(s.turns[motion] != 0.0, away / np.maximum(bend, ROUNDING), 1.0)
        np.maximum.at(found, motion, self.trace.motions.feed[motion] * share)
        return found

    @cached_property
    def cuts(self) -> dict[str, slice]:
        """Motions of each cut, by the remark it begins with."""
        starts = [a for a in self.trace.acts if a.kind == "comment" and a.text.startswith("CUT ")]
        bounds = [*(a.before for a in starts), len(self.strokes)]
        return {a.text: slice(*ends) for a, ends in zip(starts, pairwise(bounds), strict=True)}

    @cached_property
    def _taking(self) -> Ints:
        """Pairs that take metal: few do."""
        return np.flatnonzero(self.removed > 0.0)

    def _most(
        self, share: float = 1.0, through: bool | None = None, beyond: float = 0.0,
        outside: float = 0.0,
    ) -> Floats:  # fmt: skip
        """Return the most that each motion takes within a share of its radius.

        Only ``beyond`` another share of the radius of its flat end, and ``outside`` one of its own.
        """
        rows = self._taking
        motion, near = self.pairs.motion[rows], self.pairs.near[rows]
        wanted = near <= share * self.strokes.radius[motion]
        wanted &= near >= beyond * self.strokes.flat[motion]
        wanted &= near >= outside * self.strokes.radius[motion]
        if through is not None:
            lowest = self.far[self.pairs.place[rows]] + ROUNDING
            wanted &= (self.pairs.height[rows] <= lowest) == through
        most = np.zeros(len(self.strokes))
        np.maximum.at(most, motion[wanted], self.removed[rows[wanted]])
        return most

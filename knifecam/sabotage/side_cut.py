"""One side's program over the sights, and the most that each of its motions takes there."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from knifecam.sabotage.cut import Pairs
from knifecam.sabotage.form import Strokes
from knifecam.simulator.trace import Trace

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

INNER = 0.75
"""Share of the radius within which a cut is wider than a wall's finishing and its leads: twice the
0.06 of the diameter that bench rules give a deep cut with one side open (common practice)."""

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
        return self._most(np.ones(len(self.removed), bool))

    @cached_property
    def core(self) -> Floats:
        """(M,) mm: the most that each motion takes under the middle half of its cutter."""
        return self._most(self._middle)

    @cached_property
    def solid(self) -> Floats:
        """(M,) mm: the most that each takes there where it leaves metal below."""
        return self._most(self._middle & ~self._through)

    @cached_property
    def sheared(self) -> Floats:
        """(M,) mm: the most that each takes there where it leaves none."""
        return self._most(self._middle & self._through)

    @cached_property
    def inner(self) -> Floats:
        """(M,) mm: the most that each takes well within its rim: more than an eighth of the diameter."""
        near, radius = self.pairs.near, self.strokes.radius[self.pairs.motion]
        return self._most(np.asarray(near < INNER * radius))

    @property
    def _middle(self) -> Bools:
        near, radius = self.pairs.near, self.strokes.radius[self.pairs.motion]
        return np.asarray(near < radius / 2)

    @property
    def _through(self) -> Bools:
        return np.asarray(self.pairs.height <= self.far[self.pairs.place] + ROUNDING)

    def _most(self, rows: Bools) -> Floats:
        most = np.zeros(len(self.strokes))
        np.maximum.at(most, self.pairs.motion[rows], self.removed[rows])
        return most

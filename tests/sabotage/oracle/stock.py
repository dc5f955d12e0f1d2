"""What metal the cuts meet that bring a bevel to its finished height.

Each cut is compared with the same cut of the good program: where a stage before comes down so far, it
takes what it always takes.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import RAPID
from tests.sabotage.oracle import harm
from tests.sabotage.oracle.effect import Effect, most_of
from tests.sabotage.oracle.harm import HARMFUL, NEAR
from tests.sabotage.oracle.side_cut import SideCut

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def stock(good: SideCut, side: SideCut, final: Floats, on_bevel: Bools) -> Iterator[Effect]:
    """Yield how much more of it there is than in the good program, for one pass and for a cut in all.

    ``final`` (n,) mm: the finished height at each place; ``on_bevel`` (n,): which lie on a bevel.
    """
    usual, found = (_finishing(one, final, on_bevel) for one in (good, side))
    for name, rows in side.cuts.items():
        mine = good.cuts.get(name, slice(0))
        base = float(usual[mine].max(initial=0.0))
        if base > 0.0:
            feeds = side.trace.motions.kind[rows] != RAPID
            more = found[rows][feeds] / base
            yield from most_of("a bevel's finishing pass meets more stock", more, harm.STOCK)
            yield from _in_all(
                _together(good, mine, final, on_bevel), _together(side, rows, final, on_bevel)
            )


def _in_all(before: Floats, after: Floats) -> Iterator[Effect]:
    """Yield how much more a cut takes off single places in all its passes.

    It is near where any place has more than any had, and harmful where the places midway have so, as
    when a stage is left out or comes after the one that it is due before.
    """
    if not len(after):
        return
    most = float(after.max() / before.max())
    midway = float(np.median(after) / np.median(before))
    what = "finishing meets more stock in all"
    if harm.STOCK.of(midway) == HARMFUL:
        yield Effect(grade=HARMFUL, what=what, amount=midway)
    elif max(most, midway) > harm.STOCK.low:
        yield Effect(grade=NEAR, what=what, amount=max(most, midway))


def _taking(side: SideCut, final: Floats, on_bevel: Bools) -> tuple[Ints, Bools]:
    """Return the pairs that take metal on bevels, and which of them come to the finished height."""
    rows = np.flatnonzero((side.removed > 0.0) & on_bevel[side.pairs.place])
    off = np.abs(side.pairs.height[rows] - final[side.pairs.place[rows]])
    return rows, np.asarray(off < harm.FINISHED)


def _finishing(side: SideCut, final: Floats, on_bevel: Bools) -> Floats:
    """Return the most that each motion takes where it comes down to the finished bevel, (M,) mm."""
    rows, finished = _taking(side, final, on_bevel)
    most = np.zeros(len(side.strokes))
    np.maximum.at(most, side.pairs.motion[rows[finished]], side.removed[rows[finished]])
    return most


def _together(side: SideCut, cut: slice, final: Floats, on_bevel: Bools) -> Floats:
    """Return what one cut takes in all off each place that it finishes, (k,) mm."""
    rows, finished = _taking(side, final, on_bevel)
    motion, place = side.pairs.motion[rows], side.pairs.place[rows]
    mine = (motion >= cut.start) & (motion < cut.stop)
    whole, done = np.zeros(len(final)), np.zeros(len(final), bool)
    np.add.at(whole, place[mine], side.removed[rows[mine]])
    done[place[mine & finished]] = True
    return np.asarray(whole[done])

"""What finishing passes meet on walls: the metal that stood off each place before its pass came.

At a place and a height of a wall the pass that came nearest has finished it. What stood there is told
by the exact distances of all that was cut before: of the other side, where it came first, and of this
side up to the run of feeds in which the wall there began to be finished. No grid is involved.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.simulator.measure_bores import Opening
from knifecam.simulator.measure_walls import WALL, Reached, Wall
from knifecam.simulator.seen import near_motions, picked
from knifecam.simulator.side import Side
from knifecam.simulator.walls import NEAR, wall_error

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class Met:
    """What one side's passes met at places and heights of a wall, (H, n).

    ``stock`` mm off the wall before the pass, inf for more than 0.5, NaN where that side has not
    finished the wall; ``deep`` mm, how far in height the same pass met more than ``allowed`` mm
    there; ``motion`` the pass.
    """

    stock: Floats
    deep: Floats
    motion: Ints
    allowed: float


def stock_met(
    side: Side, wall: Wall | Opening, which: int, allowed: float, past: Floats | None = None
) -> Met:
    """Return what the passes of side number ``which`` met on a wall.

    Parameters
    ----------
    side : Side
    wall : Wall or Opening
        Measured.
    which : int
        0 for side A.
    allowed : float, mm
    past : (H,) float, mm, optional
        How far a pass may go past the wall and yet finish it.
    """
    reached = wall.sides[which]
    if reached is None:
        raise ValueError(f"side {side.name} has no part in this wall")
    done = _finished(side, reached, past)
    stock = np.full(done.shape, np.nan)
    run = np.cumsum(side.rapid)
    of_run = np.where(done, run[np.maximum(reached.motion, 0)], -1)
    for number in np.unique(of_run[done]):
        mine = of_run == number
        at = np.flatnonzero(mine.any(axis=0))
        levels = np.flatnonzero(mine.any(axis=1))
        first = int(reached.motion[mine].min())
        before = _error_before(side, wall.points[at], wall.heights[levels], first)
        whole = np.full(done.shape, np.inf)
        whole[np.ix_(levels, at)] = before
        stock = np.where(mine, whole, stock)
    before_it = wall.sides[0] if which == 1 else None
    if before_it is not None:
        stock = np.minimum(stock, before_it.error)
    stock -= np.minimum(np.where(done, reached.error, 0.0), 0.0)
    deep = _depths(wall.heights, reached.motion, stock > allowed)
    return Met(stock=stock, deep=deep, motion=reached.motion.astype(np.int64), allowed=allowed)


def _finished(side: Side, reached: Reached, past: Floats | None) -> Bools:
    """Return where a cutter with an upright flank came to the wall."""
    low = -WALL - (np.zeros(len(reached.error)) if past is None else past)
    near = (reached.error <= WALL) & (reached.error >= low[:, None]) & (reached.motion >= 0)
    upright = side.shapes.half_angle[np.maximum(reached.motion, 0)] == 0.0
    return np.asarray(near & upright & side.shapes.known[np.maximum(reached.motion, 0)])


def _error_before(side: Side, points: Floats, heights: Floats, first: int) -> Floats:
    """Return what the motions before one leave at places of the part, (H, n) mm."""
    chosen = near_motions(side, points, within=2 * NEAR)
    chosen = chosen[chosen < first]
    shapes, signs = side.shapes, side.frame.signs
    return wall_error(
        points * signs[:2], heights * signs[2], picked(side.swept_motions(), chosen),
        side.cutter_radius[chosen], shapes.corner[chosen], tip=shapes.tip[chosen],
        half_angle=shapes.half_angle[chosen],
    )[0]  # fmt: skip


def _depths(heights: Floats, motion: NDArray[np.int32], more: Bools) -> Floats:
    """Return how far, between rising heights, one and the same motion met too much, (H, n) mm."""
    joined = more[1:] & more[:-1] & (motion[1:] == motion[:-1])
    gaps = np.where(joined, np.diff(heights)[:, None], 0.0)
    deep = np.zeros(more.shape)
    for k in range(len(gaps)):  # sums of gaps up to a height, then of those above it
        deep[k + 1] = np.where(joined[k], deep[k] + gaps[k], 0.0)
    for k in range(len(gaps) - 1, -1, -1):
        deep[k] = np.where(joined[k], deep[k + 1], deep[k])
    return deep

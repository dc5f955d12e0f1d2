"""What finishing passes meet on walls: the metal that stood off each place before its pass came.

At a place and a height of a wall the pass that came nearest has finished it. What stood there is told
by the exact distances of all that was cut before: of the other side, where it came first, and of this
side up to the run of feeds in which the wall there began to be finished. No grid is involved.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.measure.measure_limits import WALL_OFF_MM
from knifecam.measure.measured_openings import MeasuredOpening
from knifecam.measure.measured_wall import MeasuredWall, SideWall
from knifecam.measure.sample_columns import chosen_motions, near_motions
from knifecam.sweep.exact_walls import wall_error
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_limits import CAME_NEAR_MM

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
    side: SideProgram,
    wall: MeasuredWall | MeasuredOpening,
    which: int,
    allowed: float,
    past: Floats | None = None,
) -> Met:
    """Return what the passes of side number ``which`` met on a wall.

    Parameters
    ----------
    side : SideProgram
    wall : MeasuredWall or MeasuredOpening
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
        first = int(reached.motion[mine].min())
        stock = np.where(mine, _stands(side, wall, which, mine, first), stock)
    deep = _depths(wall.heights, reached.motion, stock > allowed)
    return Met(stock=stock, deep=deep, motion=reached.motion.astype(np.int64), allowed=allowed)


def taken_by(
    side: SideProgram, wall: MeasuredWall | MeasuredOpening, which: int, met: Met, asked: Bools
) -> Met:
    """Return what was met; where ``asked`` (H, n) by the motions that took the stock there.

    Of motions along one way the last may come nearest by a rounded digit, and take nothing.
    """
    motion, run = met.motion.copy(), np.cumsum(side.rapid)
    for named in np.unique(met.motion[asked]):
        mine = asked & (met.motion == named)
        idle = mine & ~(_stands(side, wall, which, mine, int(named)) > met.allowed)
        for cell in np.argwhere(idle):
            one = np.zeros(idle.shape, bool)
            one[tuple(cell)] = True
            low, high = int(np.searchsorted(run, run[named])), int(named)
            while high - low > 1:
                middle = (low + high) // 2
                stands = _stands(side, wall, which, one, middle)[one][0] > met.allowed
                low, high = (middle, high) if stands else (low, middle)
            motion[one] = low
    deep = _depths(wall.heights, motion, met.stock > met.allowed)
    return Met(stock=met.stock, deep=deep, motion=motion, allowed=met.allowed)


def _stands(
    side: SideProgram, wall: MeasuredWall | MeasuredOpening, which: int, mine: Bools, motion: int
) -> Floats:
    """Return what stands off the wall before a motion where ``mine`` (H, n), else inf, (H, n) mm."""
    at, levels = np.flatnonzero(mine.any(axis=0)), np.flatnonzero(mine.any(axis=1))
    whole = np.full(mine.shape, np.inf)
    whole[np.ix_(levels, at)] = _error_before(side, wall.points[at], wall.heights[levels], motion)
    reached, before_it = wall.sides[which], wall.sides[0] if which == 1 else None
    if before_it is not None:
        whole = np.minimum(whole, before_it.error)
    return whole - np.minimum(np.where(mine, reached.error, 0.0), 0.0) if reached else whole


def _finished(side: SideProgram, reached: SideWall, past: Floats | None) -> Bools:
    """Return where a cutter with an upright flank came to the wall."""
    low = -WALL_OFF_MM - (np.zeros(len(reached.error)) if past is None else past)
    near = (reached.error <= WALL_OFF_MM) & (reached.error >= low[:, None]) & (reached.motion >= 0)
    upright = side.shapes.half_angle[np.maximum(reached.motion, 0)] == 0.0
    return np.asarray(near & upright & side.shapes.known[np.maximum(reached.motion, 0)])


def _error_before(side: SideProgram, points: Floats, heights: Floats, first: int) -> Floats:
    """Return what the motions before one leave at places of the part, (H, n) mm."""
    chosen = near_motions(side, points, within=2 * CAME_NEAR_MM)
    chosen = chosen[chosen < first]
    shapes, signs = side.shapes, side.frame.signs
    return wall_error(
        points * signs[:2], heights * signs[2], chosen_motions(side.swept_motions(), chosen),
        side.cutter_radius[chosen], shapes.corner[chosen], tip=shapes.tip[chosen],
        half_angle=shapes.half_angle[chosen],
    )[0]  # fmt: skip


def _depths(heights: Floats, motion: Ints | NDArray[np.int32], more: Bools) -> Floats:
    """Return how far, between rising heights, one and the same motion met too much, (H, n) mm."""
    joined = more[1:] & more[:-1] & (motion[1:] == motion[:-1])
    gaps = np.where(joined, np.diff(heights)[:, None], 0.0)
    deep = np.zeros(more.shape)
    for k in range(len(gaps)):  # sums of gaps up to a height, then of those above it
        deep[k + 1] = np.where(joined[k], deep[k] + gaps[k], 0.0)
    for k in range(len(gaps) - 1, -1, -1):
        deep[k] = np.where(joined[k], deep[k + 1], deep[k])
    return deep

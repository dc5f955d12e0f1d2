"""The rims of steps laid over all that was cut before them: what `knifecam.simulator.rim` is given."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, Motions
from knifecam.simulator import rim
from knifecam.simulator.forms import Forms
from knifecam.simulator.shares import share_out, shares, threads_at_hand
from knifecam.simulator.steps import Steps

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]

SQUARE = 2.0
"""mm: side of the squares by which motions are found."""

LEVEL_TURN, HELIX_TURN = np.pi, np.pi / 6
"""rad: pieces of arcs turn no further."""

HEIGHTS = np.array([0.05, 0.45, 0.9])
"""Where the rims of corners and cones are looked at, as shares of the depth cut, besides at the
cutter's full radius, at the metal's top and where the chip is the thickest."""

LEVEL = 1e-12
"""mm: a motion that rises less is level."""


class Taken(NamedTuple):
    """Motions that cut, in the frame of the side looked at, and their cutters.

    Those of the other side are ``beyond``: their heights are their own side's.
    """

    motions: Motions
    forms: Forms
    beyond: bool = False


def rims_met(steps: Steps, taken: Sequence[Taken], plate: Floats, rows: Rows) -> Floats:
    """Return what the rims of some steps meet, (K, 8): the columns are named in `rim`.

    Parameters
    ----------
    steps : Steps
        Of the motions that are ``taken`` first; each is looked at at its middle.
    taken : sequence of Taken
    plate : (6,) float, mm
        Lower and higher X and Y, bed and face, in the side frame.
    rows : (K,) int
        The steps to look at.
    """
    found = np.zeros((len(rows), rim.FOUND))
    if not len(rows):
        return found
    moments = _moments(steps, taken[0], plate[5], rows)
    pieces = np.concatenate([_pieces(one, -plate[4] if one.beyond else plate[5]) for one in taken])
    pieces = pieces[np.lexsort((pieces[:, rim.LOWEST], -pieces[:, rim.BEYOND]))]
    at = moments[:, [rim.X, rim.Y]]
    x0, y0 = (at.min(axis=0)).tolist()
    nx, ny = (np.ceil(np.ptp(at, axis=0) / SQUARE).astype(int) + 1).tolist()
    begins = np.zeros(nx * ny + 1, np.int64)
    looking = float(moments[:, rim.OWN_RADIUS].max())
    listed = rim.list_pieces(pieces, x0, y0, SQUARE, nx, ny, looking, begins)
    most = int(np.diff(begins).max())

    def look(low: int, high: int) -> None:
        rim.look(
            pieces, begins, listed, x0, y0, SQUARE, nx, ny, plate, HEIGHTS, moments, low, high,
            found, np.empty((most + 1, rim.PIECE)),
        )  # fmt: skip

    threads = threads_at_hand()
    share_out(look, shares(np.arange(len(rows) + 1), threads), threads)
    return found


def _moments(steps: Steps, own: Taken, face: float, chosen: Rows) -> Floats:
    """Return the steps' middles as the kernel takes them, (K, 15)."""
    record, forms, m = steps.engagement, own.forms, own.motions
    motion = record.motion[chosen]
    rows = np.zeros((len(chosen), rim.MOMENT))
    rows[:, [rim.X, rim.Y, rim.Z]] = record.place[chosen]
    rows[:, [rim.HX, rim.HY]] = steps.heading[chosen]
    arc = m.kind[motion] == ARC
    rows[:, rim.BEND] = np.where(arc, np.hypot(*(steps.at[chosen] - m.centre[motion]).T), 0.0)
    rows[:, rim.TURN] = np.sign(m.turns[motion])
    rows[:, rim.OWN_RADIUS] = forms.radius[motion]
    rows[:, rim.OWN_FLAT] = forms.flat[motion]
    rows[:, rim.OWN_RISE] = forms.rise[motion]
    fall = np.maximum(steps.fall[chosen], 0.0)
    rows[:, rim.FORTH], rows[:, rim.DOWN] = np.cos(fall), np.sin(fall)
    under = record.under[chosen]
    rows[:, rim.DEPTH] = np.where(under > 0.0, under, face - rows[:, rim.Z])
    rows[:, rim.OWN_MOTION] = motion
    ways = m.lengths
    begin = np.cumsum(ways) - ways
    rows[:, rim.WAY] = begin[motion] + _in_turn(record.motion)[chosen] * ways[motion]
    return rows


def _in_turn(motion: NDArray[np.int32]) -> Floats:
    """Return how much of its motion lies before the middle of each step, 0 to 1."""
    counts = np.bincount(motion)
    begins = np.cumsum(counts) - counts
    return (np.arange(len(motion)) - begins[motion] + 0.5) / np.maximum(counts[motion], 1)


def _pieces(taken: Taken, face: float) -> Floats:
    """Return the pieces of all motions that come below the plate's face, (E, 25).

    Lines are one piece each, arcs pieces of half a turn, helices of 30 degrees at most.
    """
    m, forms = taken.motions, taken.forms
    below = np.flatnonzero(np.minimum(m.start[:, 2], m.stop[:, 2]) < face)
    turned = np.where(m.kind == ARC, 2 * np.pi * np.abs(m.turns), 0.0)[below]
    sloped = np.abs(m.stop[below, 2] - m.start[below, 2]) > LEVEL
    most = np.where(sloped, HELIX_TURN, LEVEL_TURN)
    counts = np.maximum(1, np.ceil(turned / most - 1e-9)).astype(int)
    motion = np.repeat(below, counts)
    begins = np.cumsum(counts) - counts
    number = np.arange(len(motion)) - np.repeat(begins, counts)
    low = number / np.repeat(counts, counts)
    high = (number + 1) / np.repeat(counts, counts)
    rows = np.zeros((len(motion), rim.PIECE))
    _lay_ways(rows, m, motion, low, high)
    rows[:, rim.RADIUS] = forms.radius[motion]
    rows[:, rim.FLAT] = forms.flat[motion]
    rows[:, rim.RISE] = forms.rise[motion]
    rows[:, rim.MOTION] = motion
    begin = np.cumsum(m.lengths) - m.lengths
    rows[:, rim.SINCE] = begin[motion] + low * m.lengths[motion]
    rows[:, rim.UNTIL] = begin[motion] + high * m.lengths[motion]
    rows[:, rim.BEYOND] = float(taken.beyond)
    return rows


def _lay_ways(rows: Floats, m: Motions, motion: Rows, low: Floats, high: Floats) -> None:
    """Fill in where pieces run: lines by start, direction and length, arcs by centre and angles."""
    start, stop, centre = m.start[motion], m.stop[motion], m.centre[motion]
    rise = (stop - start)[:, 2]
    az = start[:, 2] + low * rise
    drop = (high - low) * rise
    chord = (stop - start)[:, :2]
    size = np.hypot(*chord.T)
    arc = (m.kind[motion] == ARC) & (np.abs(m.turns[motion]) * m.radii[motion] > 1e-9)
    line = ~arc & (size > 1e-9)
    first, last = m.radii[motion], np.hypot(*(stop[:, :2] - centre).T)
    path = first + (last - first) * 0.5 * (low + high)
    whole = 2 * np.pi * m.turns[motion]
    begin = np.arctan2(*(start[:, :2] - centre).T[::-1]) + low * whole
    reach = np.where(arc, np.abs(whole) * (high - low), np.where(line, size, 0.0))
    upright = ~arc & ~line
    level = upright | (np.abs(rise) <= LEVEL)
    rows[:, [rim.AX, rim.AY]] = start[:, :2]
    rows[:, rim.AZ] = np.where(upright, np.minimum(az, az + drop), az)
    along = np.where(line[:, None], chord / np.where(line, size, 1.0)[:, None], (1.0, 0.0))
    rows[:, rim.UX], rows[:, rim.UY] = along.T
    rows[:, rim.SLOPE] = np.where(level, 0.0, drop / np.where(reach > 0.0, reach, 1.0))
    rows[:, rim.REACH] = reach
    rows[:, rim.CX], rows[:, rim.CY] = centre.T
    rows[:, rim.PATH] = np.where(arc, path, 0.0)
    rows[:, rim.BEGIN] = np.pi + (begin - np.pi) % (-2 * np.pi)  # as arctan2 tells directions
    rows[:, rim.SENSE] = np.sign(m.turns[motion])
    rows[:, rim.LOWEST] = np.minimum(az, az + drop)

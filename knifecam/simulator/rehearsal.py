"""Little for each of the judge's compiled kernels to do: once it is done, they are on the disk.

Each rehearsal calls what the judge calls, so that kernels are compiled for the very arrays that
judging hands them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

import numpy as np

from knifecam.blade.line_distance import signed_line_distance
from knifecam.curve import ARC, FEED, Curve, Motions, circle, signed_distance
from knifecam.shop import Mill
from knifecam.simulator.columns import Grid, cut_grid, cut_sights, plate_grid, sights
from knifecam.simulator.duration import motion_seconds
from knifecam.simulator.loose import loose_pieces
from knifecam.simulator.reader import read_program
from knifecam.simulator.walls import wall_error

LINES = "G21 G17 G90\nG0 X0 Y0 Z1\nX1\nX2\nG1 Z0 F100\nX3\nG2 X4 Y1 I0 J1\nG1 X5\nM2\n"

PLACES = np.array([[0.5, 0.5], [1.0, 0.0]])


def _motions() -> Motions:
    """Return a line and a helix of 2 mm, falling into a plate of 1 mm about z = 0."""
    start, stop = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.2]]), np.array([[1.0, 0, 0.2], [2, 1, 0]])
    return Motions(
        np.array([FEED, ARC], np.uint8), start, stop, np.array([[0.0, 0.0], [1.0, 1.0]]),
        np.array([0.0, 0.25]), np.full(2, 100.0),
    )  # fmt: skip


def _plate() -> Grid:
    return plate_grid((-1.0, -1.0, 3.0, 2.0), 1.0, 0.25)


def sweep() -> None:
    """Cut a small plate's grid and two sights."""
    cut_grid(_plate(), _motions(), 1.0, 0.5, side="A", flip="X", first=0)
    cut_sights(sights(PLACES, 1.0), _motions(), 1.0, 0.5, side="A", flip="X", first=0)


def walls() -> None:
    """Measure what a cutter left at two places."""
    wall_error(PLACES, [0.0, 0.5], _motions(), 1.0, 0.5)


def loose() -> None:
    """Look for pieces in a plate that is whole."""
    plate = _plate()
    loose_pieces(plate, np.ones(plate.top.shape, bool))


def plain() -> None:
    """Read a short program."""
    read_program(LINES)


def times() -> None:
    """Time two motions."""
    motion_seconds(_motions(), Mill(acceleration=500.0))


def distances() -> None:
    """Measure from two places to a circle and to a line."""
    signed_distance(PLACES, circle((0.0, 0.0), 2.0))
    signed_line_distance(PLACES, Curve(PLACES, np.zeros(2), closed=False))


REHEARSALS: Mapping[str, Callable[[], None]] = MappingProxyType(
    {one.__name__: one for one in (sweep, plain, loose, walls, times, distances)}
)
"""By name; what takes longest to compile comes first, what plans need too comes last."""

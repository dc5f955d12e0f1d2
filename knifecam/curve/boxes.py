"""A curve's pieces as kernels read them, and the boxes by which they search them."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Piece(NamedTuple):
    """A row of `Curve.table`: a line has radius 0."""

    ax: float
    ay: float
    bx: float
    by: float
    cx: float
    cy: float
    radius: float
    angle: float


class Boxes(NamedTuple):
    """Boxes of pieces (M, 4) and of every ``group`` in a row (G, 4): x low, y low, x high, y high."""

    each: Floats
    wide: Floats
    group: int


def boxes_of(table: Floats) -> Boxes:
    """Return the boxes of pieces (M, 8), rows as `Curve.table` has them.

    An arc of at most half a turn lies within its rise of the box of its ends.
    """
    count = len(table)
    group = int(math.sqrt(count) / 1.5) + 1
    starts, ends = table[:, :2], table[:, 2:4]
    rise = np.hypot(*(ends - starts).T) / 2 * np.tan(np.abs(table[:, 7]) / 4) * 1.000001
    each = np.empty((count, 4))
    each[:, :2] = np.minimum(starts, ends) - rise[:, None]
    each[:, 2:] = np.maximum(starts, ends) + rise[:, None]
    firsts = np.arange(0, count, group)
    wide = np.empty((len(firsts), 4))
    if count:
        wide[:, :2] = np.minimum.reduceat(each[:, :2], firsts)
        wide[:, 2:] = np.maximum.reduceat(each[:, 2:], firsts)
    return Boxes(each, wide, group)

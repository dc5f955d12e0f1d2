"""Extents of motions."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from knifecam.simulator.side import Side

Floats = NDArray[np.float64]


def bounds(side: Side) -> tuple[Floats, Floats]:
    """Return the lowest and highest X, Y and Z the program goes to, (3,) each, exact on arcs.

    In the program frame, mm. Places that the text does not tell are left out.
    """
    motions = side.trace.motions
    points = [
        np.where(np.asarray(side.trace.known), motions.start, np.nan),
        np.where(side.known_after, motions.stop, np.nan),
        motions.farthest(),
    ]
    every = np.concatenate(points)
    told = np.isfinite(every)
    low = np.where(told, every, np.inf).min(axis=0, initial=np.inf)
    high = np.where(told, every, -np.inf).max(axis=0, initial=-np.inf)
    return np.where(low <= high, low, 0.0), np.where(low <= high, high, 0.0)

"""Places sorted into square buckets, so that a motion looks only at those near it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LEAST = 1.0
"""mm: side of a bucket, unless the places lie so far apart that there were too many."""

MOST = 1e6
"""How many buckets there may be."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Buckets:
    """``order`` sorts the places by bucket; bucket b holds those from ``begins[b]`` on.

    Bucket [0, 0] has its lower corner at ``x0, y0`` (mm), ``size`` is the buckets' side;
    bucket b stands in row ``b // nx`` of ``ny``.
    """

    order: NDArray[np.int64]
    begins: NDArray[np.int64]
    x0: float
    y0: float
    size: float
    nx: int
    ny: int


def buckets(places: NDArray[np.float64]) -> Buckets:
    """Return the buckets of at least one place, (n, 2) mm."""
    low = places.min(axis=0)
    width, depth = places.max(axis=0) - low
    size = float(max(LEAST, np.sqrt(width * depth / MOST), width / MOST, depth / MOST))
    nx, ny = int(width / size) + 1, int(depth / size) + 1
    column, row = ((places - low) / size).astype(np.int64).T
    bucket = row * nx + column
    order = np.argsort(bucket, kind="stable")
    begins = np.searchsorted(bucket[order], np.arange(nx * ny + 1)).astype(np.int64)
    return Buckets(
        order=order, begins=begins, x0=float(low[0]), y0=float(low[1]), size=size, nx=nx, ny=ny
    )

"""Places along motions."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, Motions

Floats = NDArray[np.float64]

STEP = 0.25
"""mm between places of a path."""


def places_along(
    m: Motions, rows: NDArray[np.int64], most: int = 20000
) -> tuple[Floats, NDArray[np.int64]]:
    """Return places along some motions, no more than ``most`` on each and `STEP` apart, and the
    motions they are on."""
    count = np.maximum(2, np.ceil(m.lengths[rows] / STEP).astype(int) + 1)
    count = np.minimum(count, most)
    owner = np.repeat(rows, count)
    index = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    t = (index / np.repeat(count - 1, count))[:, None]
    at = m.start[owner] + t * (m.stop[owner] - m.start[owner])
    arm = m.start[owner, :2] - m.centre[owner]
    angle = np.arctan2(arm[:, 1], arm[:, 0]) + 2 * np.pi * m.turns[owner] * t[:, 0]
    round_ = m.centre[owner] + m.radii[owner, None] * np.column_stack(
        [np.cos(angle), np.sin(angle)]
    )
    at[:, :2] = np.where((m.kind[owner] == ARC)[:, None], round_, at[:, :2])
    return at, owner

"""How much of the plate stays round the trench."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from knifecam.simulator.case import Case

TOUCHED = 1e-6
"""mm: a column this much lower has been cut."""


def least_frame(case: Case) -> tuple[float, tuple[float, float]]:
    """Return the least width between cut ground and the plate's edge, mm, and where it is.

    Reference bores do not count. inf where nothing was cut.
    """
    grid = case.grid
    cut = (grid.top < case.wanted.face_a - TOUCHED) | (grid.bottom > case.wanted.face_b + TOUCHED)
    for opening in case.openings:
        if opening.kind == "reference":
            _forget(cut, opening.outline.bounds, grid.x0, grid.y0, grid.cell)
    rows, columns = np.flatnonzero(cut.any(axis=1)), np.flatnonzero(cut.any(axis=0))
    if not len(rows):
        return np.inf, (np.nan, np.nan)
    x_low, y_low, x_high, y_high = case.order.setup.plate.bounds
    half = grid.cell / 2
    x, y = grid.x, grid.y
    j, i = int(columns[0]), int(rows[0])
    k, n = int(columns[-1]), int(rows[-1])
    widths = [
        (x[j] - half - x_low, (x[j], y[np.flatnonzero(cut[:, j])[0]])),
        (x_high - x[k] - half, (x[k], y[np.flatnonzero(cut[:, k])[0]])),
        (y[i] - half - y_low, (x[np.flatnonzero(cut[i])[0]], y[i])),
        (y_high - y[n] - half, (x[np.flatnonzero(cut[n])[0]], y[n])),
    ]
    width, place = min(widths, key=lambda row: float(row[0]))
    return float(width), (float(place[0]), float(place[1]))


def _forget(
    cut: np.ndarray, bounds: tuple[float, float, float, float], x0: float, y0: float, cell: float
) -> None:
    low_x, low_y, high_x, high_y = bounds
    i = max(0, int(np.floor((low_y - y0) / cell)) - 1), int(np.ceil((high_y - y0) / cell)) + 2
    j = max(0, int(np.floor((low_x - x0) / cell)) - 1), int(np.ceil((high_x - x0) / cell)) + 2
    cut[i[0] : max(i[1], 0), j[0] : max(j[1], 0)] = False

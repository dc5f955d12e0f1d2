"""How much of the plate stays round the trench: from the motions themselves, no grid involved."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC
from knifecam.simulator.side import Side

if TYPE_CHECKING:
    from knifecam.simulator.case import Case

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

TOUCHED = 1e-6
"""mm: a cutter this far below the face cuts it."""

PLACES = 33
"""Places along a motion at which its cutter's reach is taken, quarters of arcs apart."""

EDGES = ((0, -1.0), (0, 1.0), (1, -1.0), (1, 1.0))
"""The plate's edges: axis, and the sign of the way toward it."""


def least_frame(case: Case) -> tuple[float, tuple[float, float]]:
    """Return the least width between cut ground and the plate's edge, mm, and where it is.

    Reference bores do not count. inf where nothing was cut, 0 where a cut runs over the edge.
    """
    bounds = np.array(case.order.setup.plate.bounds).reshape(2, 2)
    found: list[tuple[float, tuple[float, float]]] = [(np.inf, (np.nan, np.nan))]
    for side in case.given():
        rows = _cutting(case, side, bounds)
        for axis, sign in EDGES if len(rows) else ():
            ways, place = _farthest(side, rows, axis, sign)
            edge = bounds[1 if sign > 0 else 0, axis]
            found.append((max(0.0, float(sign * edge - ways)), place))
    return min(found, key=lambda row: row[0])


def _cutting(case: Case, side: Side, bounds: Floats) -> Ints:
    """Return the motions that cut the face over the plate, but for those in reference bores."""
    m = side.swept_motions()
    below = np.fmin(m.start[:, 2], m.stop[:, 2]) < side.face - TOUCHED
    low, high = _boxes(side)
    over = (low < bounds[1]).all(axis=1) & (high > bounds[0]).all(axis=1)
    ends = np.stack([m.start[:, :2], m.stop[:, :2]]) * np.asarray(side.frame.signs[:2])
    for opening in case.openings:
        if opening.kind == "reference":
            box = np.array(opening.outline.bounds).reshape(2, 2)
            over &= ~((ends > box[0]) & (ends < box[1])).all(axis=(0, 2))
    return np.flatnonzero(below & over)


def _boxes(side: Side) -> tuple[Floats, Floats]:
    """Return the boxes in which the motions' cutters stay, part frame, (M, 2) each."""
    ends = np.stack(side.covers) * np.asarray(side.frame.signs[:2])
    return ends.min(axis=0), ends.max(axis=0)


def _farthest(side: Side, rows: Ints, axis: int, sign: float) -> tuple[float, tuple[float, float]]:
    """Return how far cuts reach along an axis of the part, by its sign, mm, and where.

    Boxes bound the reach: only motions whose box goes past the farthest known are looked at.
    """
    low, high = _boxes(side)
    bound = high[rows, axis] if sign > 0 else -low[rows, axis]
    best, place = -np.inf, (np.nan, np.nan)
    left = np.argsort(-bound, kind="stable")
    while len(left) and bound[left[0]] > best:
        some, left = left[:256], left[256:]
        far, at = _reach(side, rows[some], axis, sign)
        k = int(np.argmax(far))
        if far[k] > best:
            best, place = float(far[k]), (float(at[k, 0]), float(at[k, 1]))
    return best, place


def _reach(side: Side, rows: Ints, axis: int, sign: float) -> tuple[Floats, Floats]:
    """Return how far each motion cuts the face along an axis, (k,) mm, and where, (k, 2)."""
    m = side.swept_motions()
    start, stop, arcs = m.start[rows, None], m.stop[rows, None], m.kind[rows] == ARC
    arm = m.start[rows, :2] - m.centre[rows]
    begun, turned = np.arctan2(arm[:, 1], arm[:, 0]), 2 * np.pi * m.turns[rows]
    even = np.broadcast_to(np.linspace(0.0, 1.0, PLACES), (len(rows), PLACES))
    share = np.concatenate([even, _quarters(begun, turned)], axis=1)
    at = start + share[:, :, None] * (stop - start)
    angle = begun[:, None] + share * turned[:, None]
    ring = np.stack([np.cos(angle), np.sin(angle)], axis=2)
    round_ = m.centre[rows, None] + m.radii[rows, None, None] * ring
    plane = np.where(arcs[:, None, None], round_, at[..., :2]) * np.asarray(side.frame.signs[:2])
    depth = side.face - at[..., 2]
    wide = np.where(depth > TOUCHED, side.shapes.radius_at(rows[:, None], depth), -np.inf)
    far = sign * plane[..., axis] + wide
    k, each = far.argmax(axis=1), np.arange(len(rows))
    return far[each, k], plane[each, k]


def _quarters(begun: Floats, turned: Floats) -> Floats:
    """Return the shares of arcs at which they head along an axis, (k, 8); 0 where they do not."""
    low = np.minimum(begun, begun + turned)
    quarter = np.pi / 2 * (np.ceil(low / (np.pi / 2))[:, None] + np.arange(8))
    share = (quarter - begun[:, None]) / np.where(turned == 0.0, np.inf, turned)[:, None]
    return np.where((share >= 0.0) & (share <= 1.0), share, 0.0)

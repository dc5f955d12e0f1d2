"""A closer look: many more sights where a change has short motions, whose harm is small in the plane."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tests.sabotage.oracle.field import Field, alike
from tests.sabotage.oracle.form import Strokes
from tests.sabotage.oracle.side_cut import SideCut
from tests.sabotage.oracle.sights import BEVEL, MET, lattice, on_bevels

Floats = NDArray[np.float64]

SHORT = 8.0
"""mm: longer motions are seen by the sights that are there."""

MOST = 24
"""Changed motions that are looked at, the first ones."""

APART, COARSEST = 0.08, 0.25
"""mm between the further sights; where that were coarser than the other figure there are none."""

COUNT = 1000
"""Further sights at most."""

ALONG = 0.5
"""mm between places of a motion round which sights are put."""


def looked_closer(good: Field, mutant: Field) -> Field | None:
    """Return the good field with sights round the short motions that a change touches.

    None where there are none, or too many.
    """
    centres = np.zeros((0, 3))
    for old, new in zip(good.sides, mutant.sides, strict=True):
        head, tail = alike(_rows(old), _rows(new))
        for side in (old, new):
            which = np.arange(head, len(side.strokes) - tail)
            centres = np.concatenate([centres, *_along(side, which)])
    if not len(centres):
        return None
    points = _round(centres)
    if not len(points):
        return None
    role = np.where(on_bevels(good.order, points), BEVEL, MET)
    return good.with_more(points, role)


def _rows(side: SideCut) -> Floats:
    return np.column_stack([side.strokes.table(), side.trace.motions.feed])


def _along(side: SideCut, which: NDArray[np.int64]) -> list[Floats]:
    """Return places of the axis and the radius there, (k, 3), of some of the motions."""
    s = side.strokes
    low = np.minimum(s.start[which, 2], s.stop[which, 2]) < side.face
    return [
        np.column_stack([way, np.full(len(way), s.radius[k])])
        for k in which[low][:MOST]
        if len(way := _way(s, int(k)))
    ]


def _way(s: Strokes, k: int) -> Floats:
    """Return places along a motion in the plane, none where it is long, (n, 2)."""
    start, stop, centre = s.start[k, :2], s.stop[k, :2], s.centre[k]
    angle, arm = 2 * np.pi * s.turns[k], start - centre
    length = abs(angle) * np.hypot(*arm) if angle else np.hypot(*(stop - start))
    if length > SHORT:
        return np.zeros((0, 2))
    t = np.linspace(0.0, 1.0, int(np.ceil(length / ALONG)) + 1)
    if not angle:
        return np.asarray(start + t[:, None] * (stop - start))
    turned = (arm[0] + 1j * arm[1]) * np.exp(1j * angle * t)
    return np.asarray(centre + np.column_stack([turned.real, turned.imag]))


def _round(centres: Floats) -> Floats:
    """Return points within the cutter's radius of any of the places, (n, 2)."""
    low = (centres[:, :2] - centres[:, 2:]).min(axis=0)
    high = (centres[:, :2] + centres[:, 2:]).max(axis=0)
    area = float(np.prod(high - low))
    apart = max(APART, float(np.sqrt(area / COUNT)))
    if apart > COARSEST:
        return np.zeros((0, 2))
    points = lattice((low[0], low[1], high[0], high[1]), apart)
    near = np.zeros(len(points), bool)
    for x, y, radius in centres:
        near |= np.hypot(points[:, 0] - x, points[:, 1] - y) < radius
    return points[near]

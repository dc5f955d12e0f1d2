"""The walk: what every motion takes off every sight, in the order in which the motions come."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.sabotage.oracle.form import Strokes, heights

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

BIN = 2.0
"""mm: side of the squares by which sights are found."""

AT_ONCE = 1_500_000
"""Pairs that are computed together."""

APART = 64.0
"""mm: more than any two heights of columns differ by."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Bins:
    """Places sorted into squares: those of square b are ``order[begins[b]:begins[b + 1]]``."""

    low: Floats
    nx: int
    ny: int
    order: Ints
    begins: Ints


def bins_of(x: Floats, y: Floats) -> Bins:
    """Return the squares of places."""
    low = np.array([x.min(), y.min()])
    column, row = ((x - low[0]) / BIN).astype(int), ((y - low[1]) / BIN).astype(int)
    nx, ny = int(column.max()) + 1, int(row.max()) + 1
    number = row * nx + column
    order = np.argsort(number, kind="stable")
    begins = np.searchsorted(number[order], np.arange(nx * ny + 1))
    return Bins(low=low, nx=nx, ny=ny, order=order, begins=begins)


@dataclass(frozen=True, eq=False, kw_only=True)
class Pairs:
    """Motions that come over places below the face, sorted by place, then motion; (K,) each.

    ``height`` mm above the mid-plane toward the side that cuts; ``near`` mm: how near the axis
    comes in the plane.
    """

    motion: Ints
    place: Ints
    height: Floats
    near: Floats

    def rows(self, which: Ints | Bools) -> Pairs:
        """Return only some of them."""
        return Pairs(
            motion=self.motion[which], place=self.place[which], height=self.height[which],
            near=self.near[which],
        )  # fmt: skip


def sorted_pairs(parts: list[Pairs]) -> Pairs:
    """Return all pairs in one record, sorted."""
    names = ("motion", "place", "height", "near")
    rows = {name: np.concatenate([getattr(p, name) for p in parts]) for name in names}
    key = rows["place"] * (int(rows["motion"].max(initial=0)) + 1) + rows["motion"]
    by = np.argsort(key, kind="stable")  # of runs that are sorted, which this merges
    return Pairs(**{name: rows[name][by] for name in names})


def pairs_of(strokes: Strokes, which: Ints, x: Floats, y: Floats, bins: Bins, face: float) -> Pairs:
    """Return the pairs of some motions (``which`` of ``strokes``) with places at x, y."""
    low = np.minimum(strokes.start[which, 2], strokes.stop[which, 2])
    which = which[np.asarray(low < face)]
    none = np.zeros(0, int)
    parts = [Pairs(motion=none, place=none, height=np.zeros(0), near=np.zeros(0))]
    for motion, place in _candidates(strokes, which, bins):
        may = _may_reach(strokes, motion, x[place], y[place])
        motion, place = motion[may], place[may]
        height, near = heights(strokes.rows(motion), x[place], y[place])
        kept = height < face
        parts.append(
            Pairs(motion=motion[kept], place=place[kept], height=height[kept], near=near[kept])
        )
    return sorted_pairs(parts)


def _candidates(strokes: Strokes, which: Ints, bins: Bins) -> Iterator[tuple[Ints, Ints]]:
    """Yield motions with places in the squares they may come over, many at once."""
    low, high = _boxes(strokes.rows(which))
    size = np.array([bins.nx, bins.ny])
    first = np.clip(((low - bins.low) / BIN).astype(int), 0, size)
    last = np.clip(((high - bins.low) / BIN).astype(int), -1, size - 1)
    outside = np.any(high < bins.low, axis=1)
    wide = np.where(outside[:, None], 0, np.maximum(last - first + 1, 0))
    count = wide.prod(axis=1)
    owner = np.repeat(np.arange(len(which)), count)
    index = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    column = first[owner, 0] + index % np.maximum(wide[owner, 0], 1)
    row = first[owner, 1] + index // np.maximum(wide[owner, 0], 1)
    square = row * bins.nx + column
    held = bins.begins[square + 1] - bins.begins[square]
    if not held.sum():
        return
    cut = np.searchsorted(np.cumsum(held), np.arange(0, held.sum(), AT_ONCE), side="right")
    for begin, end in zip(cut, [*cut[1:], len(held)], strict=True):
        many = held[begin:end]
        motion = np.repeat(which[owner[begin:end]], many)
        within = np.arange(len(motion)) - np.repeat(np.cumsum(many) - many, many)
        yield motion, bins.order[np.repeat(bins.begins[square[begin:end]], many) + within]


def _may_reach(s: Strokes, motion: Ints, x: Floats, y: Floats) -> Bools:
    """Return which places lie in the box of their motion, and in its ring where it is an arc."""
    low, high = _boxes(s)
    within = (x >= low[motion, 0]) & (x <= high[motion, 0])
    within &= (y >= low[motion, 1]) & (y <= high[motion, 1])
    ring = np.hypot(*(s.start[:, :2] - s.centre).T)[motion]
    away = np.hypot(x - s.centre[motion, 0], y - s.centre[motion, 1])
    return within & ((s.turns[motion] == 0.0) | (np.abs(away - ring) <= s.radius[motion] + 1e-6))


def _boxes(s: Strokes) -> tuple[Floats, Floats]:
    """Return the boxes the cutters stay in; an arc of half a turn or less by its rise."""
    ends = np.stack([s.start[:, :2], s.stop[:, :2]])
    turned = np.abs(s.turns)
    radius = np.hypot(*(s.start[:, :2] - s.centre).T)
    rise = np.where(
        turned > 0.0, radius * np.where(turned <= 0.5, 1 - np.cos(np.pi * turned), 2.0), 0.0
    )
    grown = (s.radius + rise)[:, None] + 1e-6
    return ends.min(axis=0) - grown, ends.max(axis=0) + grown


@dataclass(frozen=True, eq=False, kw_only=True)
class Taken:
    """What one side took: ``level`` (n,) mm above the mid-plane toward it of each place it was
    walked for, and ``removed`` (K,) mm by each pair."""

    level: Floats
    removed: Floats


def walked(pairs: Pairs, places: Ints, face: float, other: Floats) -> Taken:
    """Return what pairs take off ``places`` (n, rising; theirs among them), cut from ``face`` down.

    ``other`` (n,) is the far face of the metal, seen from the side that cuts.
    """
    level = np.full(len(places), face)
    if not len(pairs.place):
        return Taken(level=level, removed=np.zeros(0))
    rank = np.searchsorted(places, pairs.place)
    # segments begin lower and lower, so that one running minimum serves all
    running = np.minimum.accumulate(pairs.height - rank * APART) + rank * APART
    running = np.minimum(running, face)
    fresh = np.flatnonzero(np.diff(rank, prepend=-1) > 0)
    before = np.concatenate([[face], running[:-1]])
    before[fresh] = face
    far = other[rank]
    removed = np.where(before > far, np.maximum(before - np.maximum(running, far), 0.0), 0.0)
    ends = np.append(fresh[1:], len(rank)) - 1
    level[rank[ends]] = running[ends]
    return Taken(level=level, removed=removed)

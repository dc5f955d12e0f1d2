"""How low a cutter comes over places: closed forms in plain arrays, one pair a row.

A pair is a motion and a place. The cutter's lower surface is convex and round, so that over a
straight motion the height is a convex function of the way, least where a golden section ends;
level and upright motions, and balls on straight ones, need no search.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

GOLDEN = (np.sqrt(5.0) - 1.0) / 2.0

SEARCHES = 44
"""Golden sections: the way is known to 1e-9 of its length."""

LOOKS = 33
"""Places along a helix from which its lowest is sought."""

LEVEL = 1e-12
"""mm"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Strokes:
    """Motions with their cutters in the part's plane, one a row; heights above the mid-plane.

    ``start``, ``stop`` (M, 3) and ``centre`` (M, 2) mm, toward the side that cuts; ``turns`` (M,),
    0 for straight ones. ``radius``, ``flat`` (radius of the flat end) mm, and ``rise`` (mm per mm
    of a cone, 0 for a corner of radius ``radius - flat``) are the cutter's, (M,).
    """

    start: Floats
    stop: Floats
    centre: Floats
    turns: Floats
    radius: Floats
    flat: Floats
    rise: Floats

    def __len__(self) -> int:
        return len(self.turns)

    def rows(self, which: Ints | slice) -> Strokes:
        """Return only some of them."""
        return Strokes(**{name: getattr(self, name)[which] for name in self.__slots__})

    def table(self) -> Floats:
        """Return one row a motion, (M, 12): equal rows cut alike."""
        return np.column_stack([getattr(self, name) for name in self.__slots__])


def heights(strokes: Strokes, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Return the lowest height over each place, inf where the cutter does not come, and how near
    its axis comes in the plane; row by row, (K,) mm each."""
    found, near = np.full(len(x), np.inf), np.full(len(x), np.inf)
    drop = np.abs(strokes.stop[:, 2] - strokes.start[:, 2])
    round_ = strokes.turns != 0.0
    ball = (strokes.flat == 0.0) & (strokes.rise == 0.0)
    moves = np.hypot(*(strokes.stop - strokes.start)[:, :2].T) > LEVEL
    for rows, rule in (
        (~round_ & ((drop <= LEVEL) | ~moves), _straight),
        (~round_ & (drop > LEVEL) & moves & ball, _ramp),
        (~round_ & (drop > LEVEL) & moves & ~ball, _ramp),
        (round_ & (drop <= LEVEL), _arc),
        (round_ & (drop > LEVEL), _helix),
    ):
        which = np.flatnonzero(rows)
        if len(which):
            found[which], near[which] = rule(strokes.rows(which), x[which], y[which])
    return found, near


def profile(strokes: Strokes, away: Floats) -> Floats:
    """Return the cutter's lower surface above its tip ``away`` mm from the axis; inf beyond it.

    ``away`` is (K,) or (n, K).
    """
    out = np.maximum(away - strokes.flat, 0.0)
    corner = strokes.radius - strokes.flat
    with np.errstate(invalid="ignore"):
        bent = corner - np.sqrt(np.maximum(corner**2 - out**2, 0.0))
    height = np.where(strokes.rise > 0.0, out * strokes.rise, bent)
    return np.where(away <= strokes.radius, height, np.inf)


def _straight(s: Strokes, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    away = np.hypot(*_off(s, _foot(s, x, y), x, y))
    return np.minimum(s.start[:, 2], s.stop[:, 2]) + profile(s, away), away


def _foot(s: Strokes, x: Floats, y: Floats) -> Floats:
    """Return the share of the way at which the axis is nearest to the place."""
    way = s.stop[:, :2] - s.start[:, :2]
    squared = (way**2).sum(axis=1)
    along = (x - s.start[:, 0]) * way[:, 0] + (y - s.start[:, 1]) * way[:, 1]
    return np.clip(along / np.where(squared > 0.0, squared, 1.0), 0.0, 1.0)


def _off(s: Strokes, t: Floats, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    ax = s.start[:, 0] + t * (s.stop[:, 0] - s.start[:, 0])
    ay = s.start[:, 1] + t * (s.stop[:, 1] - s.start[:, 1])
    return x - ax, y - ay


def _ramp(s: Strokes, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    foot = _foot(s, x, y)
    near = np.hypot(*_off(s, foot, x, y))
    found, rows = np.full(len(x), np.inf), np.flatnonzero(near <= s.radius)
    s, x, y, foot = s.rows(rows), x[rows], y[rows], foot[rows]
    way = s.stop[:, :2] - s.start[:, :2]
    length = np.hypot(*way.T)
    across = np.abs(way[:, 0] * (y - s.start[:, 1]) - way[:, 1] * (x - s.start[:, 0])) / length
    along = (way * np.column_stack([x - s.start[:, 0], y - s.start[:, 1]])).sum(axis=1) / length**2
    half = np.sqrt(np.maximum(s.radius**2 - across**2, 0.0)) / length
    low, high = np.clip(along - half, 0.0, 1.0), np.clip(along + half, 0.0, 1.0)

    def at(t: Floats) -> Floats:
        away = np.minimum(np.hypot(*_off(s, t, x, y)), s.radius)
        return s.start[:, 2] + t * (s.stop[:, 2] - s.start[:, 2]) + profile(s, away)

    if np.all((s.flat == 0.0) & (s.rise == 0.0)):
        # a ball is lowest where its middle is a slope's share of its reach along, behind the place
        slope = (s.stop[:, 2] - s.start[:, 2]) / length
        best = along - half * slope / np.sqrt(1.0 + slope**2)
        found[rows] = at(np.clip(best, 0.0, 1.0))
    else:
        found[rows] = np.minimum(_least(at, low, high), at(foot))
    return found, near


def _least(at, low: Floats, high: Floats) -> Floats:  # type: ignore[no-untyped-def]
    """Return the least of a function with a single valley between two bounds, row by row."""
    best = np.minimum(at(low), at(high))
    for _ in range(SEARCHES):
        step = GOLDEN * (high - low)
        left, right = high - step, low + step
        one, two = at(left), at(right)
        best = np.minimum(best, np.minimum(one, two))
        lower = one <= two
        high, low = np.where(lower, right, high), np.where(lower, low, left)
    return np.asarray(best)


def _angles(s: Strokes, x: Floats, y: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return radius, starting angle, swept angle, and the share at which the arc is nearest."""
    arm = s.start[:, :2] - s.centre
    radius, begin = np.hypot(*arm.T), np.arctan2(arm[:, 1], arm[:, 0])
    whole = 2 * np.pi * s.turns
    toward = np.arctan2(y - s.centre[:, 1], x - s.centre[:, 0])
    gone = ((toward - begin) * np.sign(whole)) % (2 * np.pi)
    span = np.abs(whole)
    beyond = gone > span
    nearer = np.where(gone - span < 2 * np.pi - gone, 1.0, 0.0)
    return radius, begin, whole, np.where(beyond, nearer, gone / span)


def _arc(s: Strokes, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    radius, begin, whole, share = _angles(s, x, y)
    away = _beside(s, x, y, radius, begin + share * whole)
    return s.start[:, 2] + profile(s, away), away


def _helix(s: Strokes, x: Floats, y: Floats) -> tuple[Floats, Floats]:
    radius, begin, whole, share = _angles(s, x, y)
    near = _beside(s, x, y, radius, begin + share * whole)
    found, rows = np.full(len(x), np.inf), np.flatnonzero(near <= s.radius)
    s, x, y = s.rows(rows), x[rows], y[rows]
    radius, begin, whole, share = radius[rows], begin[rows], whole[rows], share[rows]

    def at(t: Floats) -> Floats:
        away = _beside(s, x, y, radius, begin + t * whole)
        return s.start[:, 2] + t * (s.stop[:, 2] - s.start[:, 2]) + profile(s, away)

    looks = np.concatenate([np.repeat(np.linspace(0, 1, LOOKS)[:, None], len(x), 1), share[None]])
    seen = at(looks)
    best = np.take_along_axis(looks, seen.argmin(axis=0)[None], 0)[0]
    step = 1.0 / (LOOKS - 1)
    least = _least(at, np.maximum(best - step, 0.0), np.minimum(best + step, 1.0))
    found[rows] = np.minimum(least, seen.min(axis=0))
    return found, near


def _beside(s: Strokes, x: Floats, y: Floats, radius: Floats, angle: Floats) -> Floats:
    """Return how far the axis at an angle of its arc is from the place."""
    return np.asarray(
        np.hypot(
            x - s.centre[:, 0] - radius * np.cos(angle), y - s.centre[:, 1] - radius * np.sin(angle)
        )
    )

"""B-splines, and smooth parametric curves followed by biarcs.

Compiled, from the first tangent to the last arc; the whole call tree is in this file, since a disk
cache of compiled code does not see changes elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from knifecam.compiled import inner, outer
from knifecam.curve.curve import Floats, frozen
from knifecam.curve.curve_limits import (
    AIMED_SHARE,
    LARGEST_BULGE,
    LARGEST_TURN_RAD,
    MOST_HALVINGS,
    ONE_PIECE_MM,
    SAME_KNOT_SHARE,
    SHORTEST_PIECE_MM,
    STRAIGHT_BULGE,
    STRETCH_PLACES,
)
from knifecam.errors import ShapeError
from knifecam.quantity import Place, mm

USUAL_DEGREE = 5
"""Drawings have splines of degree 3, seldom 5; one of 24 takes five times as long to follow."""


@dataclass(frozen=True, eq=False)
class Spline:
    """A B-spline of degree ``degree``: rational where weights are given.

    Parameters
    ----------
    control : (N, 2) float, mm
    knots : (N + degree + 1,) float, not decreasing
    degree : int
    weights : (N,) float, optional
        All greater than 0.

    Raises
    ------
    ValueError
        For counts that do not match, knots that decrease or enclose nothing, weights not above 0,
        or numbers that are not finite.
    """

    control: Floats
    knots: Floats
    degree: int
    weights: Floats

    def __init__(
        self, control: ArrayLike, knots: ArrayLike, degree: int, weights: ArrayLike | None = None
    ) -> None:
        points = frozen(control)
        count = len(points)
        chosen = np.ones(count) if weights is None else weights
        object.__setattr__(self, "control", points)
        object.__setattr__(self, "knots", _tidied(frozen(knots)))
        object.__setattr__(self, "degree", int(degree))
        object.__setattr__(self, "weights", frozen(chosen))
        self._check(count)

    def _check(self, count: int) -> None:
        if not (1 <= self.degree <= 24 and count > self.degree):
            raise ValueError(
                f"a spline of degree {self.degree} wants {self.degree + 1} control points or"
                f" more; it has {count}"
            )
        if len(self.knots) != count + self.degree + 1 or len(self.weights) != count:
            raise ValueError(
                f"{count} control points of degree {self.degree} want {count + self.degree + 1}"
                f" knots and {count} weights; got {len(self.knots)} and {len(self.weights)}"
            )
        knots = self.knots.tolist()
        if not (np.isfinite(self.control).all() and all(map(math.isfinite, knots))):
            raise ValueError("control points and knots must be finite")
        if not self.weights.min() > 0:
            raise ValueError("weights must be greater than 0")
        rises = all(before <= after for before, after in pairwise(knots))
        if not (rises and self.span[1] > self.span[0]):
            raise ValueError("knots must not decrease and must enclose a stretch")

    @property
    def span(self) -> tuple[float, float]:
        """First and last parameter of the curve."""
        return float(self.knots[self.degree]), float(self.knots[-self.degree - 1])

    @property
    def weight(self) -> int:
        """So many times as long as a usual spline's takes each of its points."""
        return -(-self.degree // USUAL_DEGREE)

    @property
    def breaks(self) -> tuple[float, ...]:
        """Inner knots where the tangent may jump: as many in one place as the degree, or more."""
        low, high = self.span
        if not (self.knots[self.degree + 1 : -self.degree - 1] < high).any():
            return ()
        values, counts = np.unique(self.knots, return_counts=True)
        inner = (values > low) & (values < high) & (counts >= self.degree)
        return tuple(float(v) for v in values[inner])

    @cached_property
    def values(self) -> tuple[Floats, Floats, int]:
        """(N, 3) weighted control points and their weights, knots and degree, for kernels."""
        weighted = np.empty((len(self.control), 3))
        weighted[:, :2] = self.control * self.weights[:, None]
        weighted[:, 2] = self.weights
        return weighted, self.knots, self.degree


def uniform_knots(count: int, degree: int) -> Floats:
    """Return the knots of a spline of ``count`` control points that starts and ends on them."""
    inner = np.arange(1, count - degree, dtype=float)
    last = float(count - degree)
    return np.concatenate([np.zeros(degree + 1), inner, np.full(degree + 1, last)])


def _tidied(knots: Floats) -> Floats:
    """Return the knots with those that differ by rounding alone made equal."""
    values = knots.tolist()
    near = SAME_KNOT_SHARE * (values[-1] - values[0]) if values else 0.0
    if not any(0 < after - before <= near for before, after in pairwise(values)):
        return knots
    steps = np.diff(knots)
    if not (steps >= 0).all():
        return knots
    first = np.concatenate([[True], steps > near])
    return frozen(knots[first][np.cumsum(first) - 1])


_ENDLESS, _LOST, _TIGHT, _STILL = 1, 2, 3, 4
"""Why a spline is not followed: too many tries, points that are not finite, too tight, no tangent."""


def fit_biarcs(
    spline: Spline,
    *,
    tolerance: float = 1e-3,
    most: int = 1000,
    tally: Callable[[int], None] = lambda _: None,
) -> tuple[Floats, Floats]:
    """Return vertices (N, 2) in mm and bulges (N,) of arcs and lines that follow a spline.

    Every point of either lies within ``tolerance`` mm of the other, measured along the arcs
    before the result is returned. Pieces meet tangentially except at the spline's breaks, where a
    true corner stays one, and none is shorter than 0.002 mm.

    Parameters
    ----------
    spline : Spline
    tolerance : float, mm
    most : int
        Pairs of arcs; so many are found by at most twice as many tries.
    tally : callable
        Called with the count of tries, whether they found the arcs or not; what it raises goes on.

    Raises
    ------
    ValueError
        When the spline is not finite, stands still over a stretch, bends too tightly to be
        followed by pieces of 0.002 mm, or takes more than ``most`` pairs.
    """
    edges = np.array([spline.span[0], *spline.breaks, spline.span[1]])
    arcs = np.empty((4 * most, 5))
    where = np.empty(2)
    count, tries, fault = follow(*spline.values, edges, tolerance, arcs, where)
    tally(tries)
    if fault:
        raise _refusal(fault, where, tolerance)
    vertices, bulges = np.empty((count + 1, 2)), np.zeros(count + 1)
    vertices[:-1], vertices[-1], bulges[:-1] = (
        arcs[:count, :2],
        arcs[count - 1, 2:4],
        arcs[:count, 4],
    )
    return vertices, bulges


def _refusal(fault: int, where: Floats, tolerance: float) -> ValueError:
    """Return why a spline is not followed, and where: a place, or the parameter of a tangent."""
    if fault == _STILL:
        return ValueError(f"the curve has no tangent at parameter {where[0]}")
    if fault == _LOST:
        return ValueError("points of the curve must be finite")
    place = f"{Place(where[0], where[1]):.4f}"
    if fault == _TIGHT:
        return ShapeError(
            f"the curve bends too tightly near {place} to be followed by pieces"
            f" of {mm(SHORTEST_PIECE_MM)}"
        )
    return ShapeError(
        f"the curve takes too many arcs to be followed within {mm(tolerance)}: it is"
        f" too long or too winding from {place} on; draw it simpler, and see"
        " that the unit is right"
    )


def _at(
    control: Floats, knots: Floats, degree: int, rows: Floats, t: float
) -> tuple[float, float, float, float]:
    """Return x, y and their derivatives by de Boor's recursion in ``rows`` (degree + 2, 3).

    References
    ----------
    de Boor, C., A Practical Guide to Splines (1978), chapter X.
    """
    low = degree
    high = control.shape[0] - 1
    while low < high:  # to the last knot that is not above t
        middle = (low + high + 1) // 2
        if knots[middle] <= t:
            low = middle
        else:
            high = middle - 1
    while low > degree and knots[low] == knots[low + 1]:
        low -= 1
    first = low - degree
    for j in range(degree + 1):
        for m in range(3):
            rows[j, m] = control[first + j, m]
    for r in range(1, degree + 1):
        for j in range(degree + 1 - r):
            knot = knots[first + r + j]
            wide = knots[first + degree + 1 + j] - knot
            wide = wide if wide > 0.0 else 1.0
            share = (t - knot) / wide
            for m in range(3):
                step = rows[j + 1, m] - rows[j, m]
                rows[degree + 1, m] = degree * step / wide  # at last the derivative
                rows[j, m] += share * step
    weight = rows[0, 2]
    x = rows[0, 0] / weight
    y = rows[0, 1] / weight
    slope = rows[degree + 1, 2]
    dx = (rows[degree + 1, 0] - x * slope) / weight
    dy = (rows[degree + 1, 1] - y * slope) / weight
    return x, y, dx, dy


at = inner(_at)


def _look_along(
    control: Floats, knots: Floats, degree: int, low: float, high: float, seen: Floats
) -> float:
    """Fill in x, y, parameter and derivative (P, 5) at equal steps of a stretch; return its turn.

    The turn, in rad, is that of every fourth place; NaN where any is not finite.
    """
    rows = np.empty((degree + 2, 3))
    last = seen.shape[0] - 1
    turn = 0.0
    for k in range(last + 1):
        t = low + (high - low) * (k / last) if k < last else high
        x, y, dx, dy = at(control, knots, degree, rows, t)
        seen[k, 0] = x
        seen[k, 1] = y
        seen[k, 2] = t
        seen[k, 3] = dx
        seen[k, 4] = dy
        if not abs(x) + abs(y) + abs(dx) + abs(dy) < math.inf:
            turn = math.nan
        if k >= 8 and k % 4 == 0:
            ax = seen[k - 4, 0] - seen[k - 8, 0]
            ay = seen[k - 4, 1] - seen[k - 8, 1]
            bx = x - seen[k - 4, 0]
            by = y - seen[k - 4, 1]
            turn += abs(math.atan2(ax * by - ay * bx, ax * bx + ay * by))
    return turn


look_along = inner(_look_along)


def _find_heading(
    control: Floats,
    knots: Floats,
    degree: int,
    here: float,
    other: float,
    there: float,
    seen: Floats,
) -> tuple[float, float]:
    """Return the unit tangent at a parameter ``there``, which is ``here`` or just inside the stretch
    from there to ``other``; where the curve stands still, a little further inside. NaN where it
    has none. ``seen`` (9, 5) is filled in."""
    rows = np.empty((degree + 2, 3))
    look_along(control, knots, degree, here, other, seen)
    general = 0.0
    for k in range(1, 8):
        speed = math.hypot(seen[k, 3], seen[k, 4])
        general = general if speed <= general else speed
    for k in range(2):
        t = there if k == 0 else here + 1e-5 * (other - here)
        _, _, dx, dy = at(control, knots, degree, rows, t)
        size = math.hypot(dx, dy)
        if size > 1e-5 * general or (k == 1 and size > 1e-9 * general):
            return dx / size, dy / size
    return math.nan, math.nan


find_heading = inner(_find_heading)


def _turned(ax: float, ay: float, bx: float, by: float) -> float:
    """Return the angle in rad from a vector to another, positive counter-clockwise."""
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by)


turned = inner(_turned)


def _lay_biarc(waiting: Floats, row: int, seen: Floats, arcs: Floats) -> bool:
    """Fill in the two arcs (2, 5) of a stretch whose tangents reach equally far to their joint.

    Return whether there are such. The tangents stand in a row of ``waiting``, the ends in ``seen``.

    References
    ----------
    Bolton, K. M., Biarc curves, Computer-Aided Design 7 (1975).
    """
    end = seen.shape[0] - 1
    ax = waiting[row, 2]
    ay = waiting[row, 3]
    bx = waiting[row, 4]
    by = waiting[row, 5]
    vx = seen[end, 0] - seen[0, 0]
    vy = seen[end, 1] - seen[0, 1]
    squared = vx * vx + vy * vy
    along = vx * (ax + bx) + vy * (ay + by)
    apart = 1.0 - ax * bx - ay * by
    apart = apart if apart > 0.0 else 0.0
    whole = along + math.sqrt(along * along + 2 * apart * squared)
    if not whole > 0:
        return False
    reach = squared / whole
    x = (seen[0, 0] + seen[end, 0] + reach * (ax - bx)) / 2
    y = (seen[0, 1] + seen[end, 1] + reach * (ay - by)) / 2
    for m in range(2):
        arcs[0, m] = seen[0, m]
        arcs[0, 2 + m] = x if m == 0 else y
        arcs[1, m] = arcs[0, 2 + m]
        arcs[1, 2 + m] = seen[end, m]
    ux = x - seen[0, 0]
    uy = y - seen[0, 1]
    wx = seen[end, 0] - x
    wy = seen[end, 1] - y
    if not (math.hypot(ux, uy) >= SHORTEST_PIECE_MM and math.hypot(wx, wy) >= SHORTEST_PIECE_MM):
        return False
    arcs[0, 4] = math.tan(turned(ax, ay, ux, uy) / 2)
    arcs[1, 4] = math.tan(turned(wx, wy, bx, by) / 2)
    return abs(arcs[0, 4]) <= LARGEST_BULGE and abs(arcs[1, 4]) <= LARGEST_BULGE


lay_biarc = inner(_lay_biarc)


def _deviation(
    x: float, y: float, ax: float, ay: float, bx: float, by: float, bulge: float
) -> float:
    """Return how far in mm a point lies off the circle or line of an arc.

    Keeps its precision however flat the arc is: both terms of |p - c| - r are multiplied by
    twice the bulge before they are taken from each other.
    """
    cx = bx - ax
    cy = by - ay
    half = math.hypot(cx, cy) / 2
    u = x - (ax + bx) / 2
    v = y - (ay + by) / 2
    along = (cx * u + cy * v) / (2 * half)
    beside = (cx * v - cy * u) / (2 * half)
    rise = half * (1 - bulge * bulge)
    above = 2 * bulge * (along * along + beside * beside - half * half) - 2 * beside * rise
    below = math.hypot(2 * bulge * along, 2 * bulge * beside - rise) + half * (1 + bulge * bulge)
    return abs(above / below)


deviation = inner(_deviation)


def _fits(
    control: Floats, knots: Floats, degree: int, arcs: Floats, seen: Floats, limit: float
) -> bool:
    """Return whether the places ``seen`` of a stretch lie within ``limit`` mm of two arcs (2, 5), and
    places along these of the stretch: the nearest seen is refined by Newton's method."""
    last = seen.shape[0] - 1
    turn = 2 * math.atan(arcs[1, 4])
    ax = arcs[1, 2] - arcs[1, 0]
    ay = arcs[1, 3] - arcs[1, 1]
    tx = math.cos(turn) * ax + math.sin(turn) * ay
    ty = math.cos(turn) * ay - math.sin(turn) * ax
    for k in range(last + 1):
        x = seen[k, 0]
        y = seen[k, 1]
        m = 1 if (x - arcs[1, 0]) * tx + (y - arcs[1, 1]) * ty >= 0.0 else 0
        off = deviation(x, y, arcs[m, 0], arcs[m, 1], arcs[m, 2], arcs[m, 3], arcs[m, 4])
        if not off <= limit:
            return False
    rows = np.empty((degree + 2, 3))
    for k in range(2 * (last + 1)):
        m = k // (last + 1)
        share = (k % (last + 1)) / last
        half = 2 * math.atan(arcs[m, 4])
        straight = abs(half) <= 2 * STRAIGHT_BULGE
        scale = share if straight else math.sin(share * half) / math.sin(half)
        turn = 0.0 if straight else (share - 1.0) * half
        c = scale * math.cos(turn)
        s = scale * math.sin(turn)
        ax = arcs[m, 2] - arcs[m, 0]
        ay = arcs[m, 3] - arcs[m, 1]
        x = arcs[m, 0] + ax * c - ay * s
        y = arcs[m, 1] + ax * s + ay * c
        nearest = math.inf
        t = seen[0, 2]
        for j in range(last + 1):
            ux = x - seen[j, 0]
            uy = y - seen[j, 1]
            apart = ux * ux + uy * uy
            if apart < nearest:
                nearest = apart
                t = seen[j, 2]
        for _ in range(3):
            if nearest <= limit * limit:
                break
            px, py, dx, dy = at(control, knots, degree, rows, t)
            ux = x - px
            uy = y - py
            apart = ux * ux + uy * uy
            nearest = apart if apart < nearest else nearest
            t += (ux * dx + uy * dy) / (dx * dx + dy * dy + 1e-300)
            t = t if t > seen[0, 2] else seen[0, 2]
            t = t if t < seen[last, 2] else seen[last, 2]
        if not nearest <= limit * limit:
            return False
    return True


fits = inner(_fits)


def _take(arcs: Floats, count: int, pair: Floats, new: int) -> int:
    """Put one of two arcs (2, 5) behind ``count`` others, or make it one piece with the last where
    both lie on one line or circle within 1e-9 mm; return how many there are."""
    last = count - 1
    if count > 0:
        bulge = math.tan(math.atan(arcs[last, 4]) + math.atan(pair[new, 4]))
        wide = math.hypot(pair[new, 2] - arcs[last, 0], pair[new, 3] - arcs[last, 1])
        whole = abs(bulge) <= 1 and wide > SHORTEST_PIECE_MM
        for k in range(3):
            if not whole:
                break
            x = arcs[last, 2]
            y = arcs[last, 3]
            if k == 1:
                x = (arcs[last, 0] + x + arcs[last, 4] * (y - arcs[last, 1])) / 2
                y = (arcs[last, 1] + y - arcs[last, 4] * (arcs[last, 2] - arcs[last, 0])) / 2
            if k == 2:
                run = pair[new, 2] - pair[new, 0]
                rise = pair[new, 3] - pair[new, 1]
                x = (pair[new, 0] + pair[new, 2] + pair[new, 4] * rise) / 2
                y = (pair[new, 1] + pair[new, 3] - pair[new, 4] * run) / 2
            off = deviation(x, y, arcs[last, 0], arcs[last, 1], pair[new, 2], pair[new, 3], bulge)
            whole = off <= ONE_PIECE_MM
        if whole:
            arcs[last, 2] = pair[new, 2]
            arcs[last, 3] = pair[new, 3]
            arcs[last, 4] = bulge
            return count
    for m in range(5):
        arcs[count, m] = pair[new, m]
    return count + 1


take = inner(_take)


def _follow(
    control: Floats,
    knots: Floats,
    degree: int,
    edges: Floats,
    tolerance: float,
    arcs: Floats,
    where: Floats,
) -> tuple[int, int, int]:
    """Fill in the arcs (A, 5) of the stretches between ``edges``, found by halving until they fit.

    Return how many, the tries, at most A / 2, and what is wrong, 0 where nothing is; ``where`` (2,) is
    its place, or the parameter of a tangent.
    """
    count = 0
    tries = 0
    seen = np.empty((STRETCH_PLACES + 1, 5))
    few = np.empty((9, 5))
    waiting = np.empty((MOST_HALVINGS + 2, 6))  # both parameters and tangents of stretches
    pair = np.empty((2, 5))
    for k in range(edges.shape[0] - 1):
        left = 1
        waiting[0, 0] = edges[k]
        waiting[0, 1] = edges[k + 1]
        for m in range(2):
            here = edges[k + m]
            other = edges[k + 1 - m]
            there = here + 1e-9 * (other - here)
            dx, dy = find_heading(control, knots, degree, here, other, there, few)
            where[0] = here
            if not abs(dx) <= 1.0:
                return count, tries, _STILL
            waiting[0, 2 + 2 * m] = dx
            waiting[0, 3 + 2 * m] = dy
        while left > 0:
            left -= 1
            a = waiting[left, 0]
            b = waiting[left, 1]
            turn = look_along(control, knots, degree, a, b, seen)
            where[0] = seen[0, 0]
            where[1] = seen[0, 1]
            tries += 1
            if 2 * tries > arcs.shape[0]:
                return count, tries, _ENDLESS
            if not abs(turn) < math.inf:
                return count, tries, _LOST
            if (
                turn <= LARGEST_TURN_RAD
                and lay_biarc(waiting, left, seen, pair)
                and fits(control, knots, degree, pair, seen, AIMED_SHARE * tolerance)
            ):
                for m in range(2):
                    count = take(arcs, count, pair, m)
                continue
            half = (STRETCH_PLACES + 1) // 2
            where[0] = seen[half, 0]
            where[1] = seen[half, 1]
            one = math.hypot(
                seen[STRETCH_PLACES, 0] - seen[0, 0], seen[STRETCH_PLACES, 1] - seen[0, 1]
            )
            two = math.hypot(where[0] - seen[0, 0], where[1] - seen[0, 1])
            if not one + two > 2 * SHORTEST_PIECE_MM or left >= MOST_HALVINGS:
                return count, tries, _TIGHT
            middle = (a + b) / 2
            dx, dy = find_heading(control, knots, degree, middle, b, middle, few)
            if not abs(dx) <= 1.0:
                where[0] = middle
                return count, tries, _STILL
            for m in range(6):
                waiting[left + 1, m] = waiting[left, m]
            waiting[left, 0] = middle
            waiting[left, 2] = dx
            waiting[left, 3] = dy
            waiting[left + 1, 1] = middle
            waiting[left + 1, 4] = dx
            waiting[left + 1, 5] = dy
            left += 2
    return count, tries, 0


follow = outer(_follow)

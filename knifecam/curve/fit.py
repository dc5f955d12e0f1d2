"""Splines as lines and arcs, two arcs to a stretch.

Compiled where a curve is asked for its places; the whole call tree is in this file, since a disk
cache of compiled code does not see changes elsewhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from knifecam.compiled import inner, outer
from knifecam.curve.curve import STRAIGHT_BULGE, Floats
from knifecam.curve.spline import Spline
from knifecam.errors import ShapeError
from knifecam.quantity import Place, mm

SHORTEST_PIECE = 0.002
"""mm: no piece of a curve is shorter."""

_PLACES = 40
"""A stretch is measured at so many places, its arcs at twice as many."""

_AIM = 0.98
"""Share of the tolerance that may be used there; the rest is for the places between, where the
deviation, a smooth curve with a few humps, may be (1/40)^2 or so greater."""

_LARGEST_TURN = 1.8
"""rad: a stretch that turns further is halved before two arcs are tried."""

_LARGEST_BULGE = 0.7
"""Of each of two arcs."""

_ONE_PIECE = 1e-9
"""mm: neighbours that lie on one line or circle within it become one piece."""

Vector = tuple[float, float]

Arc = tuple[float, float, float, float, float]
"""x and y of both ends in mm, and the bulge as in `Curve`."""


def fit_biarcs(
    spline: Spline,
    *,
    tolerance: float = 1e-3,
    most: int = 1000,
    each: Callable[[], None] = lambda: None,
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
    each : callable
        Called at each try; what it raises ends the fit.

    Raises
    ------
    ValueError
        When the spline is not finite, stands still over a stretch, bends too tightly to be
        followed by pieces of 0.002 mm, or takes more than ``most`` pairs.
    """
    edges = [spline.span[0], *spline.breaks, spline.span[1]]
    fit = _Fit(spline=spline, tolerance=tolerance, tries=iter(range(2 * most)), each=each)
    arcs: list[Arc] = []
    for low, high in pairwise(edges):
        for arc in fit.follow(low, high):
            merged = _one_piece(arcs.pop(), arc) if arcs else [arc]
            arcs += merged
    vertices = np.array([*(arc[:2] for arc in arcs), arcs[-1][2:4]])
    return vertices, np.array([*(arc[4] for arc in arcs), 0.0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Fit:
    """A spline that is being followed; names as in `fit_biarcs`."""

    spline: Spline
    tolerance: float
    tries: Iterator[int]
    each: Callable[[], None]

    def follow(self, low: float, high: float) -> Iterator[Arc]:
        """Yield the arcs of one smooth stretch, found by halving until they fit."""
        first = self._heading(low, high, low + 1e-9 * (high - low))
        last = self._heading(high, low, high + 1e-9 * (low - high))
        waiting = [(low, high, first, last)]
        while waiting:
            a, b, first, last = waiting.pop()
            seen, turn = self._along(a, b)
            self.each()
            if next(self.tries, None) is None:
                raise ShapeError(
                    f"the curve takes too many arcs to be followed within {mm(self.tolerance)}: it is"
                    f" too long or too winding from {_shown(seen[0])} on; draw it simpler, and see"
                    " that the unit is right"
                )
            if not math.isfinite(turn):
                raise ValueError("points of the curve must be finite")
            arcs = self._arcs(seen, first, last) if turn <= _LARGEST_TURN else None
            if arcs is not None:
                yield from arcs
                continue
            _refuse_tight(seen)
            middle = (a + b) / 2
            through = self._heading(middle, b, middle)
            waiting += [(middle, b, through, last), (a, middle, first, through)]

    def _along(self, low: float, high: float, places: int = _PLACES) -> tuple[Floats, float]:
        """Return places of a stretch and their parameters (P, 5), as `look_along` does, and its turn."""
        seen = np.empty((places + 1, 5))
        turn = look_along(*self.spline.figures, low, high, seen)
        return seen, turn

    def _heading(self, here: float, other: float, at: float) -> Vector:
        """Return the unit tangent at a parameter ``at``, which is ``here`` or just inside the stretch
        from there to ``other``; where the curve stands still, from a little further inside."""
        speeds = [
            math.hypot(dx, dy) for dx, dy in self._along(here, other, 8)[0][1:-1, 3:].tolist()
        ]
        general = max(speeds)
        for t in (at, here + 1e-5 * (other - here)):
            dx, dy = self._along(t, other, 1)[0][0, 3:].tolist()
            size = math.hypot(dx, dy)
            if size > 1e-5 * general:
                break
        if not (math.isfinite(size) and size > 1e-9 * general):
            raise ValueError(f"the curve has no tangent at parameter {here}")
        return dx / size, dy / size

    def _arcs(self, seen: Floats, first: Vector, last: Vector) -> tuple[Arc, Arc] | None:
        """Return two arcs over the places of a stretch, or None where they do not fit."""
        made = _biarc(tuple(seen[0, :2].tolist()), tuple(seen[-1, :2].tolist()), first, last)
        if made is None or not fits(
            *self.spline.figures, np.array(made), seen, _AIM * self.tolerance
        ):
            return None
        return made


def _refuse_tight(seen: Floats) -> None:
    """Refuse to halve a stretch that is too short for pieces."""
    (x, y), (u, v), (p, q) = seen[[0, len(seen) // 2, -1], :2].tolist()
    if not math.hypot(p - x, q - y) + math.hypot(u - x, v - y) > 2 * SHORTEST_PIECE:
        raise ShapeError(
            f"the curve bends too tightly near {Place(u, v):.4f} to be followed by pieces"
            f" of {mm(SHORTEST_PIECE)}"
        )


def _biarc(start: Vector, end: Vector, first: Vector, last: Vector) -> tuple[Arc, Arc] | None:
    """Return the two arcs whose tangents at both ends reach equally far to their joint.

    References
    ----------
    Bolton, K. M., Biarc curves, Computer-Aided Design 7 (1975).
    """
    vx, vy = end[0] - start[0], end[1] - start[1]
    squared = vx * vx + vy * vy
    along = vx * (first[0] + last[0]) + vy * (first[1] + last[1])
    apart = max(1 - first[0] * last[0] - first[1] * last[1], 0.0)
    whole = along + math.sqrt(along * along + 2 * apart * squared)
    if not whole > 0:
        return None
    reach = squared / whole
    x = (start[0] + end[0] + reach * (first[0] - last[0])) / 2
    y = (start[1] + end[1] + reach * (first[1] - last[1])) / 2
    one, two = (x - start[0], y - start[1]), (end[0] - x, end[1] - y)
    if not min(math.hypot(*one), math.hypot(*two)) >= SHORTEST_PIECE:
        return None
    bulges = math.tan(_turned(first, one) / 2), math.tan(_turned(two, last) / 2)
    if not max(abs(bulges[0]), abs(bulges[1])) <= _LARGEST_BULGE:
        return None
    return (*start, x, y, bulges[0]), (x, y, *end, bulges[1])


def _turned(one: Vector, other: Vector) -> float:
    """Return the angle in rad from one vector to another, positive counter-clockwise."""
    cross = one[0] * other[1] - one[1] * other[0]
    return math.atan2(cross, one[0] * other[0] + one[1] * other[1])


def _one_piece(one: Arc, other: Arc) -> list[Arc]:
    """Return two neighbours, as one piece if they lie on one line or circle within 1e-9 mm."""
    bulge = math.tan(math.atan(one[4]) + math.atan(other[4]))
    whole = (*one[:2], *other[2:4], bulge)
    wide = math.hypot(other[2] - one[0], other[3] - one[1])
    if not (abs(bulge) <= 1 and wide > SHORTEST_PIECE):
        return [one, other]
    inside = (one[2:4], _middle(one), _middle(other))
    if not max(_deviation(x, y, *whole) for x, y in inside) <= _ONE_PIECE:
        return [one, other]
    return [whole]


def _middle(arc: Arc) -> Vector:
    ax, ay, bx, by, bulge = arc
    return (ax + bx + bulge * (by - ay)) / 2, (ay + by - bulge * (bx - ax)) / 2


def _shown(place: Floats) -> str:
    return f"{Place(place[0], place[1]):.4f}"


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


look_along = outer(_look_along)


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


fits = outer(_fits)

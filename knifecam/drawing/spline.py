"""B-splines in the plane: points, derivatives, and the knots where the tangent may jump."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve.curve import Floats, frozen

_SAME_KNOT = 1e-9
"""Knots closer than this share of the whole span are one knot."""

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
        object.__setattr__(self, "knots", _tidied(np.asarray(knots, dtype=float)))
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
        if not (np.isfinite(self.control).all() and np.isfinite(self.knots).all()):
            raise ValueError("control points and knots must be finite")
        if not (self.weights > 0).all():
            raise ValueError("weights must be greater than 0")
        if not ((np.diff(self.knots) >= 0).all() and self.span[1] > self.span[0]):
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
        values, counts = np.unique(self.knots, return_counts=True)
        inner = (values > low) & (values < high) & (counts >= self.degree)
        return tuple(float(v) for v in values[inner])

    def __call__(self, parameters: Floats) -> tuple[Floats, Floats]:
        """Return points (K, 2) and derivatives (K, 2) at the parameters (K,)."""
        t = np.clip(np.asarray(parameters, dtype=float), *self.span)
        value, slope = _de_boor(self._homogeneous, self.knots, self.degree, t)
        weight = value[:, 2:]
        points = value[:, :2] / weight
        return points, (slope[:, :2] - points * slope[:, 2:]) / weight

    @cached_property
    def _homogeneous(self) -> Floats:
        """(N, 3): weighted control points and their weights."""
        return np.column_stack([self.control * self.weights[:, None], self.weights])


def uniform_knots(count: int, degree: int) -> Floats:
    """Return the knots of a spline of ``count`` control points that starts and ends on them."""
    inner = np.arange(1, count - degree, dtype=float)
    last = float(count - degree)
    return np.concatenate([np.zeros(degree + 1), inner, np.full(degree + 1, last)])


def _tidied(knots: Floats) -> Floats:
    """Return the knots with those that differ by rounding alone made equal."""
    if len(knots) == 0:
        return frozen(knots)
    near = _SAME_KNOT * float(np.ptp(knots))
    first = np.concatenate([[True], np.diff(knots) > near])
    return frozen(knots[first][np.cumsum(first) - 1] if (np.diff(knots) >= 0).all() else knots)


def _de_boor(control: Floats, knots: Floats, degree: int, t: Floats) -> tuple[Floats, Floats]:
    """Return the spline and its derivative at ``t`` (K,) by de Boor's recursion, (K, D) each.

    References
    ----------
    de Boor, C., A Practical Guide to Splines (1978), chapter X.
    """
    last = len(control) - 1
    span = np.clip(np.searchsorted(knots, t, side="right") - 1, degree, last)
    while ((empty := knots[span] == knots[span + 1]) & (span > degree)).any():
        span = np.where(empty & (span > degree), span - 1, span)
    near = knots[span - degree + np.arange(2 * degree + 2)[:, None]]
    rows = control.T[:, span - degree + np.arange(degree + 1)[:, None]]
    for r in range(1, degree + 1):
        low = near[r : degree + 1]
        wide = near[degree + 1 : 2 * degree + 2 - r] - low
        wide = np.where(wide > 0, wide, 1.0)
        share = (t - low) / wide
        before, after = rows[:, :-1], rows[:, 1:]
        slope = degree * (after - before)[:, -1] / wide[-1]
        rows = (1 - share) * before + share * after
    return rows[:, 0].T, slope.T

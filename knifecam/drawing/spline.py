"""B-splines in the plane: points, derivatives, and the knots where the tangent may jump."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve.curve import Floats, frozen

_SAME_KNOT = 1e-9
"""Knots closer than this share of the whole span are one knot."""


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
    def breaks(self) -> tuple[float, ...]:
        """Inner knots where the tangent may jump: as many in one place as the degree, or more."""
        low, high = self.span
        values, counts = np.unique(self.knots, return_counts=True)
        inner = (values > low) & (values < high) & (counts >= self.degree)
        return tuple(float(v) for v in values[inner])

    def __call__(self, parameters: Floats) -> tuple[Floats, Floats]:
        """Return points (K, 2) and derivatives (K, 2) at the parameters (K,)."""
        t = np.clip(np.asarray(parameters, dtype=float), *self.span)
        value = _de_boor(self._homogeneous, self.knots, self.degree, t)
        slope = _de_boor(self._slopes, self.knots[1:-1], self.degree - 1, t)
        weight = value[:, 2:]
        points = value[:, :2] / weight
        return points, (slope[:, :2] - points * slope[:, 2:]) / weight

    @cached_property
    def _homogeneous(self) -> Floats:
        """(N, 3): weighted control points and their weights."""
        return np.column_stack([self.control * self.weights[:, None], self.weights])

    @cached_property
    def _slopes(self) -> Floats:
        """(N - 1, 3): control points of the derivative."""
        gap = self.knots[self.degree + 1 : -1] - self.knots[1 : -self.degree - 1]
        step = np.diff(self._homogeneous, axis=0) * self.degree
        return np.where(gap > 0, 1 / np.where(gap > 0, gap, 1.0), 0.0)[:, None] * step


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


def _de_boor(control: Floats, knots: Floats, degree: int, t: Floats) -> Floats:
    """Return the spline at ``t`` (K,) by de Boor's recursion, (K, D).

    References
    ----------
    de Boor, C., A Practical Guide to Splines (1978), chapter X.
    """
    last = len(control) - 1
    span = np.clip(np.searchsorted(knots, t, side="right") - 1, degree, last)
    while ((empty := knots[span] == knots[span + 1]) & (span > degree)).any():
        span = np.where(empty & (span > degree), span - 1, span)
    each = np.arange(degree + 1)[:, None]
    rows = np.asarray(control[span - degree + each])
    for r in range(1, degree + 1):
        low = knots[span - degree + each[r:]]
        wide = knots[span + 1 - r + each[r:]] - low
        share = ((t - low) / np.where(wide > 0, wide, 1.0))[..., None]
        rows[r:] = (1 - share) * rows[r - 1 : -1] + share * rows[r:]
    return np.asarray(rows[degree])

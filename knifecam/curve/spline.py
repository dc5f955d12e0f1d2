"""B-splines in the plane: points, derivatives, and the knots where the tangent may jump."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

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
    def figures(self) -> tuple[Floats, Floats, int]:
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
    near = _SAME_KNOT * (values[-1] - values[0]) if values else 0.0
    if not any(0 < after - before <= near for before, after in pairwise(values)):
        return knots
    steps = np.diff(knots)
    if not (steps >= 0).all():
        return knots
    first = np.concatenate([[True], steps > near])
    return frozen(knots[first][np.cumsum(first) - 1])

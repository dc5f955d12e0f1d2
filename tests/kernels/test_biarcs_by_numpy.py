"""Biarcs of splines: plain and compiled alike, and as a fit in numpy of any function has them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import BSpline

from knifecam.curve import Curve, biarcs, distance, resample
from knifecam.curve.biarcs import Spline, uniform_knots
from tests.agreement import plain_biarcs

KERNELS = (
    *("at", "look_along", "find_heading", "turned", "lay_biarc", "deviation", "fits", "take"),
    "follow",
)


@pytest.fixture(params=["compiled", "plain"])
def fit_biarcs(request, monkeypatch):
    """The fit with its kernels compiled, and left as they are written."""
    if request.param == "plain":
        for name in KERNELS:
            monkeypatch.setattr(biarcs, name, getattr(biarcs, f"_{name}"))
    return biarcs.fit_biarcs


def random_spline(seed: int) -> Spline:
    """A curve of one to five spans, of degree 2 to 5, every second one rational."""
    rng = np.random.default_rng(seed)
    degree = int(rng.integers(2, 6))
    count = degree + int(rng.integers(1, 6))
    steps = rng.normal((6.0, 0.0), (3.0, 5.0), (count, 2))
    weights = rng.uniform(0.4, 2.5, count) if seed % 2 else None
    return Spline(np.cumsum(steps, axis=0), uniform_knots(count, degree), degree, weights)


def function(spline: Spline):
    """The same by scipy: places and derivatives at parameters."""
    rows = np.column_stack([spline.control * spline.weights[:, None], spline.weights])
    whole = BSpline(spline.knots, rows, spline.degree)
    slope = whole.derivative()

    def at(t):
        value, rise = whole(t), slope(t)
        places = value[:, :2] / value[:, 2:]
        return places, (rise[:, :2] - places * rise[:, 2:]) / value[:, 2:]

    return at


def off(one: Curve, other: Curve) -> float:
    return float(distance(resample(one, 0.05)[1], other).max())


@pytest.mark.parametrize("seed", range(10))
def test_the_same_arcs_as_numpy_finds(fit_biarcs, seed) -> None:
    spline = random_spline(seed)
    ours = Curve(*fit_biarcs(spline), closed=False)
    theirs = plain_biarcs.fit_biarcs(function(spline), spline.span, breaks=spline.breaks)
    assert len(ours) == len(theirs)
    assert max(off(ours, theirs), off(theirs, ours)) < 1e-7

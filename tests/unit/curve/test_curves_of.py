"""Many curves made at once are what each alone would be."""

from __future__ import annotations

import numpy as np
import pytest

from knifecam.curve import Curve
from knifecam.curve.curve import curves_of

FIGURES = (
    *("vertices", "bulges", "corners", "starts", "ends", "angles", "is_arc", "centres", "radii"),
    *(
        "lengths",
        "stations",
        "start_headings",
        "end_headings",
        "extents",
        "bounds",
        "area",
        "table",
    ),
)


def drawn(seed: int) -> list[Curve]:
    """Return open and closed curves of lines and arcs; the first may be a lone line."""
    rng = np.random.default_rng(seed)
    curves = []
    for _ in range(int(rng.integers(1, 12))):
        closed = bool(rng.integers(2))
        count = int(rng.integers(2, 7))
        bulges = np.where(rng.random(count) < 0.5, 0.0, rng.uniform(-1, 1, count))
        corners = rng.random(count) < 0.5
        if not closed:
            bulges[-1], corners[-1] = 0.0, False
        curves.append(Curve(rng.uniform(-90, 90, (count, 2)), bulges, closed, corners))
    return curves


def together(curves: list[Curve]) -> list[Curve]:
    return curves_of(
        np.concatenate([c.starts for c in curves]),
        np.concatenate([c.bulges[: len(c)] for c in curves]),
        corners=np.concatenate([c.corners[: len(c)] for c in curves]),
        first=np.concatenate([[0], np.cumsum([len(c) for c in curves])]),
        last=np.array([c.ends[-1] for c in curves]),
        closed=np.array([c.closed for c in curves]),
    )


@pytest.mark.parametrize("seed", range(40))
def test_each_has_the_figures_it_has_alone(seed) -> None:
    alone = drawn(seed)
    for one, other in zip(alone, together(alone), strict=True):
        assert one == other
        assert hash(one) == hash(other)
        for name in FIGURES:
            np.testing.assert_array_equal(getattr(one, name), getattr(other, name), name)


@pytest.mark.parametrize("seed", range(10))
def test_bounds_are_those_of_places_along_it(seed) -> None:
    for curve in drawn(seed):
        points = np.concatenate(
            [curve.piece_points(k, np.linspace(0, 1, 2001)) for k in range(len(curve))]
        )
        seen = (*points.min(axis=0), *points.max(axis=0))
        assert np.abs(np.subtract(curve.bounds, seen)).max() < 1e-4


def test_nothing_makes_nothing() -> None:
    none = np.zeros(0)
    assert curves_of(
        none.reshape(0, 2), none, corners=none.astype(bool), first=np.zeros(1, dtype=np.int64),
        last=none.reshape(0, 2), closed=none.astype(bool),
    ) == []  # fmt: skip


@pytest.mark.parametrize("bad", ["infinite", "bulge", "single"])
def test_they_are_refused_as_each_is(bad) -> None:
    curves = drawn(3)
    starts = np.concatenate([c.starts for c in curves])
    bulges = np.concatenate([c.bulges[: len(c)] for c in curves])
    closed = np.array([c.closed for c in curves])
    last = np.array([c.ends[-1] for c in curves])
    first = np.concatenate([[0], np.cumsum([len(c) for c in curves])])
    if bad == "infinite":
        last[np.flatnonzero(~closed)[0], 1] = np.inf
    elif bad == "bulge":
        bulges[0] = 1.5
    else:
        starts, bulges, first = starts[:1], bulges[:1], np.array([0, 1])
        closed, last = np.array([True]), last[:1]
    with pytest.raises(ValueError, match=r"finite|at most 1|two vertices"):
        curves_of(
            starts, bulges, corners=np.zeros(len(bulges), bool), first=first, last=last,
            closed=closed,
        )  # fmt: skip

"""Sweeps in closed form against dense stamps, for every kind of cutter and motion.

The stamps' finest moments lie 1e-8 of a motion apart, so what they find is above the truth by up
to the steepness of the surface times that; nothing else separates the two.
"""

from __future__ import annotations

import os

import naive_stamps
import numpy as np
import pytest
from random_motions import (
    CUTTERS,
    KINDS,
    as_motions,
    corner_of,
    places_near,
    random_chain,
    random_cone,
    random_motion,
)

from knifecam.sweep.columns import cut_grid, cut_samples, plate_grid, sample_columns

COUNT = int(os.environ.get("KNIFECAM_MOTIONS", "1600")) // len(KINDS)
"""Motions of each kind."""

RIM = 1e-6
"""mm: places this near to the rim may be in or out."""

STAMPING = 3e-6
"""mm: what the stamps may miss of a flat end leaving a column on a slope."""


@pytest.mark.parametrize("cutter", CUTTERS)
@pytest.mark.parametrize("kind", KINDS)
def test_a_motion_cuts_as_deep_as_its_stamps(cutter, kind):
    rng = np.random.default_rng([CUTTERS.index(cutter), KINDS.index(kind)])
    for _ in range(COUNT):
        radius = rng.uniform(0.3, 2.0)
        corner = corner_of(cutter, radius, rng)
        motion = random_motion(kind, rng)
        points = places_near(naive_stamps.place, motion, radius, rng, 12)
        found = sample_columns(points, 4.0)
        cut_samples(found, as_motions([motion]), radius, corner, side="A", flip="X", first=7)
        height, nearest = naive_stamps.lowest(motion, radius, corner, *points.T)
        sure = np.abs(nearest - radius) > RIM
        error = (found.top - np.minimum(height, 2.0))[sure]
        assert error.max() <= 1e-11, (radius, corner, motion)
        assert error.min() >= -STAMPING, (radius, corner, motion)
        cut = (height < 2.0)[sure]
        assert np.array_equal(found.changed[sure] == 7, cut)
        assert not (found.emptied >= 0).any()


@pytest.mark.parametrize("kind", KINDS)
def test_a_cone_cuts_as_deep_as_its_stamps(kind):
    rng = np.random.default_rng([KINDS.index(kind), 41])
    for _ in range(COUNT):
        radius = rng.uniform(0.3, 2.0)
        tip, half_angle = cone = random_cone(radius, rng)
        motion = random_motion(kind, rng)
        points = places_near(naive_stamps.place, motion, radius, rng, 12)
        found = sample_columns(points, 4.0)
        cut_samples(
            found, as_motions([motion]), radius, 0.0, side="A", flip="X", first=7,
            tip=tip, half_angle=half_angle,
        )  # fmt: skip
        height, nearest = naive_stamps.lowest(motion, radius, 0.0, *points.T, cone)
        sure = np.abs(nearest - radius) > RIM
        error = (found.top - np.minimum(height, 2.0))[sure]
        assert error.max() <= 1e-11, (radius, cone, motion)
        assert error.min() >= -STAMPING, (radius, cone, motion)
        assert np.array_equal(found.changed[sure] == 7, (height < 2.0)[sure])


@pytest.mark.parametrize("flip", ["X", "Y"])
def test_both_sides_cut_as_their_stamps_do_in_the_part_frame(flip):
    rng = np.random.default_rng(5 if flip == "X" else 6)
    for _ in range(20):
        points = rng.uniform(-4, 4, (60, 2))
        found = sample_columns(points, 2.0)
        columns = [*points.T.copy(), np.full(60, 1.0), np.full(60, -1.0)]
        emptied = np.full(60, -1)
        unsure = np.zeros(60, bool)
        for first, side in ((0, "A"), (100, "B")):
            rows = random_chain(rng, 5)
            radius = rng.uniform(0.5, 1.5)
            corner = rng.choice([0.0, 0.3 * radius, radius])
            cut_samples(found, as_motions(rows), radius, corner, side=side, flip=flip, first=first)
            for m, row in enumerate(rows):
                gone, nearest = naive_stamps.cut_columns(columns, row, radius, corner, side, flip)
                emptied[gone & (emptied < 0)] = first + m
                unsure |= np.abs(nearest - radius) < RIM
        sure = ~unsure
        assert np.abs(found.top - columns[2])[sure].max() < STAMPING
        assert np.abs(found.bottom - columns[3])[sure].max() < STAMPING
        assert np.array_equal(found.emptied[sure], emptied[sure])


@pytest.mark.parametrize("seed", range(40))
def test_the_grid_is_cut_as_sights_at_its_cells_are(seed):
    """The grid's short cuts (rows, cores, blocks, what the step before has swept) change nothing."""
    rng = np.random.default_rng([seed, 11])
    grid = plate_grid((-6, -6, 6, 6), 2.0, 0.13)
    x, y = np.meshgrid(grid.x, grid.y)
    watched = sample_columns(np.column_stack([x.ravel(), y.ravel()]), 2.0)
    for first, side in ((0, "A"), (100, "B")):
        motions = as_motions(random_chain(rng, int(rng.integers(1, 10))))
        radius = rng.uniform(0.3, 1.5)
        corner, cone = rng.choice([0.0, radius, 0.1 * radius, 0.5 * radius]), {}
        if seed % 4 == 3:
            tip, half_angle = random_cone(radius, rng)
            corner, cone = 0.0, {"tip": tip, "half_angle": half_angle}
        before = grid.volume
        given = {"side": side, "flip": "Y", "first": first, **cone}
        swept = cut_grid(grid, motions, radius, corner, **given)
        cut_samples(watched, motions, radius, corner, **given)
        assert swept.volume.sum() == pytest.approx(before - grid.volume, abs=1e-11)
        assert swept.engagement.volume.sum() == pytest.approx(swept.volume.sum(), abs=1e-11)
    assert np.abs(grid.top.ravel() - watched.top).max() < 1e-11
    assert np.abs(grid.bottom.ravel() - watched.bottom).max() < 1e-11
    assert np.array_equal(grid.emptied.ravel(), watched.emptied)
    whole = grid.top - grid.bottom > 1e-9
    assert np.all(grid.top[~whole] == grid.bottom[~whole])


def test_an_arc_whose_ends_differ_in_radius_ends_where_it_should():
    """Rounded programs have arcs like this; the path between is a spiral."""
    row = (2, (5.0, 0.0, 0.0), (0.0, 5.002, 0.0), (0.0, 0.0), 0.25)
    place = sample_columns([[5.0 + 0.9995, 0.0], [0.0, 5.002 + 0.9995], [0.0, 5.002 + 1.0005]], 2.0)
    cut_samples(place, as_motions([row]), 1.0, 0.0, side="A", flip="X", first=0)
    assert list(place.top) == [0.0, 0.0, 1.0]


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"radius": 0.0}, "radius above 0"),
        ({"radius": np.nan}, "radius above 0"),
        ({"corner": 1.5}, "corner from 0"),
        ({"half_angle": np.pi / 2}, "half angle between"),
        ({"half_angle": 0.5, "tip": 1.0}, "tip from 0"),
        ({"half_angle": 0.5, "corner": 0.5}, "no corner"),
        ({"side": "C"}, "side='C'"),
        ({"flip": "Z"}, "flip='Z'"),
        ({"protected": np.zeros((2, 2), bool)}, "grid's shape"),
    ],
)
def test_what_makes_no_sense_is_refused(wrong, message):
    grid = plate_grid((0, 0, 2, 2), 2.0, 0.5)
    motions = as_motions([(1, (0, 0, 0), (1, 0, 0), (0, 0), 0.0)])
    given = {"radius": 1.0, "corner": 0.0, "side": "A", "flip": "X", **wrong}
    radius, corner = given.pop("radius"), given.pop("corner")
    with pytest.raises(ValueError, match=message):
        cut_grid(grid, motions, radius, corner, first=0, **given)
    assert grid.volume == pytest.approx(8.0)

"""Exact walls against dense sampling of the axis' path."""

from __future__ import annotations

import naive_stamps
import numpy as np
import pytest
from random_motions import CUTTERS, KINDS, as_motions, corner_of, places_near, random_motion

from knifecam.sweep.exact_walls import wall_error

TENTH_OF_MICRON = 1e-4


@pytest.mark.parametrize("cutter", CUTTERS)
@pytest.mark.parametrize("kind", KINDS)
def test_a_motion_leaves_the_error_its_samples_show(cutter, kind):
    rng = np.random.default_rng([CUTTERS.index(cutter), KINDS.index(kind), 3])
    for _ in range(60):
        radius = rng.uniform(0.3, 2.0)
        corner = corner_of(cutter, radius, rng)
        motion = random_motion(kind, rng)
        points = places_near(naive_stamps.place, motion, radius + 0.4, rng, 8)
        low, high = sorted((motion[1][2], motion[2][2]))
        heights = [high + corner + 0.1, *rng.uniform(low - 0.1, high + corner, 2)]
        error, found = wall_error(points, heights, as_motions([motion]), radius, corner)
        for row, height in enumerate(heights):
            wanted = naive_stamps.wall_error(motion, radius, corner, *points.T, height)
            sure = np.abs(wanted - 0.5) > TENTH_OF_MICRON
            near = wanted < 0.5
            assert np.array_equal(np.isfinite(error[row])[sure], near[sure])
            near &= sure
            assert np.abs(error[row][near] - wanted[near]).max(initial=0.0) < TENTH_OF_MICRON
            assert np.all(found[row][near] == 0)
            assert np.all(found[row][~np.isfinite(error[row])] == -1)


def test_the_nearest_of_many_motions_counts():
    """Two passes beside a wall at y = 0: the second, 0.05 nearer, made it."""
    motions = as_motions(
        [
            (1, (0, 1.55, 0), (20, 1.55, 0), (0, 0), 0.0),
            (1, (20, 1.5, -1), (0, 1.5, -1), (0, 0), 0.0),
            (0, (0, 1.5, 5), (20, 1.5, 5), (0, 0), 0.0),
        ]
    )
    error, motion = wall_error(
        [[10, 0], [10, -0.03], [10, -0.6]], [0.5, -0.5, -1.5], motions, 1.5, 0.0
    )
    assert error[0] == pytest.approx([0.0, 0.03, np.inf])
    assert error[1] == pytest.approx([0.0, 0.03, np.inf])
    assert np.all(np.isinf(error[2]))
    assert motion.tolist() == [[1, 1, -1], [1, 1, -1], [-1, -1, -1]]


def test_a_wall_is_true_only_above_the_corner():
    """Bull-nose, r 0.3: at h above the floor sqrt(r^2 - (r - h)^2) - r is wanting."""
    motions = as_motions([(1, (0, 0, 0), (9, 0, 0), (0, 0), 0.0)])
    error, _ = wall_error([[4.0, 1.5]], [0.0, 0.1, 0.3, 2.0], motions, 1.5, 0.3)
    assert error[:, 0] == pytest.approx([0.3, 0.3 - np.sqrt(0.09 - 0.04), 0.0, 0.0], abs=1e-12)


def test_a_cut_past_the_wall_is_negative():
    motions = as_motions([(2, (5, 0, 0), (5, 0, 0), (0, 0), 1.0)])
    error, _ = wall_error([[6.48, 0.0], [0.0, -3.53]], [1.0], motions, 1.5, 0.0)
    assert error[0] == pytest.approx([-0.02, -0.03])


@pytest.mark.parametrize(
    ("points", "heights", "radius"),
    [([[np.nan, 0]], [0.0], 1.0), ([[0, 0]], [np.inf], 1.0), ([[0, 0]], [0.0], 0.0)],
)
def test_what_makes_no_sense_is_refused(points, heights, radius):
    motions = as_motions([(1, (0, 0, 0), (9, 0, 0), (0, 0), 0.0)])
    with pytest.raises(ValueError, match=r"must be finite|radius above 0"):
        wall_error(points, heights, motions, radius, 0.0)
    assert wall_error(np.zeros((0, 2)), [0.0], motions, 1.0, 0.0)[0].shape == (1, 0)

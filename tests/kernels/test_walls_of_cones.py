"""Walls beside chamfer mills: closed forms, and dense sampling of the axis' path."""

from __future__ import annotations

import math

import naive_stamps
import numpy as np
import pytest
from random_motions import KINDS, as_motions, places_near, random_motion

from knifecam.sweep.exact_walls import wall_error

TENTH_OF_MICRON = 1e-4


def sampled(motion, radius, tip, half, x, y, height):
    """Least distance to the axis less the cone's section, at moments of the motion."""

    def error(t):
        px, py, z = naive_stamps.place(motion, t)
        q = np.hypot(px - x[:, None], py - y[:, None])
        above = np.broadcast_to(height - z, q.shape)
        section = np.minimum(radius, tip + np.maximum(above, 0.0) * math.tan(half))
        return np.where(above >= 0.0, q - section, 1e6 - above)

    found = naive_stamps.refined(error, len(x))
    return np.where(found < 1e5, found, np.inf)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("half_deg", [30.0, 45.0, 60.0])
def test_a_cone_leaves_the_error_its_samples_show(kind, half_deg):
    rng = np.random.default_rng([KINDS.index(kind), int(half_deg)])
    half = math.radians(half_deg)
    for _ in range(30):
        radius, tip = rng.uniform(1.0, 2.5), rng.uniform(0.0, 0.5)
        motion = random_motion(kind, rng)
        points = places_near(naive_stamps.place, motion, radius + 0.4, rng, 8)
        low, high = sorted((motion[1][2], motion[2][2]))
        rise = (radius - tip) / math.tan(half)
        heights = [high + rise + 0.1, *rng.uniform(low - 0.1, high + rise, 3)]
        error, _ = wall_error(
            points, heights, as_motions([motion]), radius, 0.0, tip=tip, half_angle=half
        )
        for row, height in enumerate(heights):
            wanted = sampled(motion, radius, tip, half, *points.T, height)
            sure = (np.abs(wanted - 0.5) > TENTH_OF_MICRON) & (wanted < 0.5)
            assert np.all(np.isfinite(error[row][sure]))
            off = np.abs(error[row][sure] - wanted[sure])
            assert off.max(initial=0.0) < TENTH_OF_MICRON


def test_a_break_beside_a_wall():
    """Tip 0.1 mm, 45 degrees, axis 0.4 mm off a wall: at h above the tip 0.4 - 0.1 - h is left."""
    motions = as_motions([(1, (0, 0.4, 0), (9, 0.4, 0), (0, 0), 0.0)])
    heights = [0.0, 0.1, 0.3, 0.5]
    error, _ = wall_error([[4.0, 0.0]], heights, motions, 3.0, 0.0, tip=0.1, half_angle=math.pi / 4)
    assert error[:, 0] == pytest.approx([0.3, 0.2, 0.0, -0.2], abs=1e-12)

"""Tracks round dense outlines are of few pieces and keep their distance."""

import numpy as np
import pytest

from knifecam.curve import distance, polyline, resample
from knifecam.paths.offset import offset, refitted_offset
from knifecam.paths.paths_limits import REFIT_FROM_PIECES
from tests.agreement.orders import rounded


def test_sparse_outlines_stay_exact():
    wall = rounded(0, 0, 60, 20, 4)
    assert refitted_offset(wall, 1.5, 0.01) == offset(wall, 1.5)


@pytest.mark.parametrize(("band", "share"), [(0.0005, 0.25), (0.01, 0.05)])
def test_dense_outlines_get_few_arcs_within_the_band(band, share):
    t = np.linspace(0, 2 * np.pi, 1500, endpoint=False)
    bent = np.stack([60 * np.cos(t), 12 * np.sin(t) * (1 + 0.3 * np.cos(t))], axis=1)
    wall = polyline(bent)
    (track,) = refitted_offset(wall, 1.5, band)
    exact = len(offset(wall, 1.5)[0])
    assert exact > REFIT_FROM_PIECES
    assert len(track) < share * exact
    away = distance(resample(track, 0.05)[1], wall)
    assert away.min() >= 1.5 - 1e-6
    assert away.max() <= 1.5 + band + 1e-9

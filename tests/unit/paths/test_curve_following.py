"""Heights along a track."""

import numpy as np
import pytest

from knifecam.paths.curve_following import Heights, highest


def test_the_higher_of_two_is_exact_at_the_crossing():
    falling = Heights.through([(0.0, 1.0), (10.0, -1.0)])
    level = Heights.level(0.0)
    both = highest(falling, level)
    assert 5.0 in both.stations
    s = np.linspace(-1, 12, 131)
    assert both.at(s) == pytest.approx(np.maximum(falling.at(s), 0.0), abs=1e-12)

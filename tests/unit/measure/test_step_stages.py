"""How thick a web a step shears, where a roughed wall's fillet stands at its rim; figures by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from knifecam.measure.step_stages import _web_met
from tests.agreement.orders import simple_order


@pytest.mark.parametrize(
    ("under", "met"), [(0.15, 0.15), (0.272, 0.187), (0.34, 0.187), (0.4, 0.4)]
)
def test_a_fillet_at_the_rim_makes_no_thicker_web(under: float, met: float) -> None:
    """Web 0.2, by 1.25 and 0.01: 0.26; the rougher's corner of 0.1 above it: 0.36. In the mean 0.187.

    Under half the diameter of 3 mm, 1.5 mm, that is 0.2805 mm2.
    """
    engagement = SimpleNamespace(
        volume=np.array([0.2805]), length=np.array([1.0]), width=np.array([np.pi / 2]),
        under=np.array([under]),
    )  # fmt: skip
    rows = SimpleNamespace(engagement=engagement, motion=np.array([0]))
    side = SimpleNamespace(shapes=SimpleNamespace(radius=np.array([1.5])))
    found = _web_met(simple_order(), side, rows, np.array([0]))  # type: ignore[arg-type]
    assert found[0] == pytest.approx(met)

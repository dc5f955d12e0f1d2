"""A neck's thickness before and after, by hand: 0.2 mm thick over 1 mm, with flanks of 45 degrees."""

from __future__ import annotations

import numpy as np
import pytest

from tests.sabotage.oracle.effect import _neck
from tests.sabotage.oracle.harm import HARMFUL, HARMLESS, NEAR

AT = np.linspace(-0.6, 0.6, 121)


def neck(left: float = 0.0, deeper: float = 0.0) -> np.ndarray:
    """Return the thickness where a pass comes nearer from the left, or goes deeper, mm."""
    room = np.minimum(AT + 0.7 - left, 0.7 - AT)
    return np.clip(room, 0.0, 0.2) - deeper


@pytest.mark.parametrize(
    ("after", "grade"),
    [
        (neck(), HARMLESS), (neck(left=0.06), NEAR), (neck(left=0.6), HARMFUL),
        (neck(deeper=0.005), HARMLESS), (neck(deeper=0.05), HARMFUL),
    ],
)  # fmt: skip
def test_a_neck_keeps_its_thickness_and_may_be_a_little_narrower(
    after: np.ndarray, grade: str
) -> None:
    grades = {effect.grade for effect in _neck(AT, neck(), after)}
    assert grade in grades or (grade == HARMLESS and not grades)
    assert HARMFUL not in grades - {grade}

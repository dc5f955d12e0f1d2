"""How long offsets take: run with ``--benchmark-only``; otherwise they are skipped."""

from __future__ import annotations

import numpy as np
import pytest

from knifecam.curve import Curve, polyline
from knifecam.paths import offset, unreachable

KNIFE = polyline(
    [(0, 0), (25, -1), (60, 1), (95, 0), (110, 3), (140, 2), (200, 1), (235, 9), (250, 22),
     (215, 27), (150, 28), (112, 29), (105, 27), (90, 30), (60, 28), (35, 29), (8, 27), (0, 18)],
    bulges=[0.05, -0.08, 0.05, -0.1, 0.03, 0, 0.1, 0.12, 0.03, 0, 0, -0.2, 0.1, 0.06, -0.06, 0.04,
            0.2, 0.1],
)  # fmt: skip


def short_lines(count: int) -> Curve:
    t = np.linspace(0, 2 * np.pi, count, endpoint=False)
    x = 100 * np.cos(t) + 3 * np.cos(2 * t)
    return polyline(np.stack([x, 15 * np.sin(t) + 2 * np.sin(3 * t)], axis=1))


@pytest.mark.parametrize("away", [1.5, -1.5])
def test_knife_outline(benchmark, away: float) -> None:
    """Aim: 3 ms for an outline of 20 to 40 pieces, measured."""
    loops = benchmark(lambda: offset(Curve(KNIFE.vertices, KNIFE.bulges), away))
    assert len(loops) == 1


@pytest.mark.parametrize("away", [1.5, -1.5])
def test_short_lines(benchmark, away: float) -> None:
    """Aim: 250 ms for 3,000 short lines, measured."""
    drawn = short_lines(3000)
    loops = benchmark(lambda: offset(drawn, away))
    assert len(loops) == 1


def test_unreachable_of_a_knife_outline(benchmark) -> None:
    benchmark(lambda: unreachable(KNIFE, 1.5))

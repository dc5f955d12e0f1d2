"""What a cutter cannot touch, against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from knifecam.curve import circle, polyline, rectangle
from knifecam.paths import unreachable

QUARTER = math.tan(math.pi / 8)
ELL = polyline([(0, 0), (40, 0), (40, 10), (20, 10), (20, 30), (0, 30)])


def test_sharp_inner_corner() -> None:
    """At a right angle the cutter's rim stays radius (sqrt 2 - 1) off, and radius to each side."""
    (corner,) = unreachable(ELL, 3.0)
    assert corner.place == pytest.approx((20, 10), abs=1e-9)
    assert corner.start == pytest.approx(70 - 3, abs=1e-6)
    assert corner.end == pytest.approx(70 + 3, abs=1e-6)
    assert corner.remainder == pytest.approx(3 * (math.sqrt(2) - 1), abs=1e-6)
    assert corner.largest == 0.0


def test_stations_follow_the_curve_as_drawn() -> None:
    (corner,) = unreachable(ELL.reversed(), 3.0)
    whole = ELL.length
    assert corner.start == pytest.approx(whole - 73, abs=1e-6)
    assert corner.end == pytest.approx(whole - 67, abs=1e-6)


def test_stretch_over_the_start_of_the_curve_wraps() -> None:
    corners = unreachable(rectangle(0, 0, 40, 20), 3.0, side="inside")
    assert len(corners) == 4
    (over,) = [c for c in corners if c.end < c.start]
    assert over.place == pytest.approx((0, 0), abs=1e-9)
    assert over.start == pytest.approx(120 - 3, abs=1e-6)
    assert over.end == pytest.approx(3, abs=1e-6)


@pytest.mark.parametrize("radius", [0.5, 1.9999, 2.0])
def test_cutter_no_larger_than_a_fillet_reaches_all(radius: float) -> None:
    fillet = polyline([(0, 0), (40, 0), (40, 10), (22, 10), (20, 12), (20, 30), (0, 30)],
                      bulges=[0, 0, 0, -QUARTER, 0, 0, 0])  # fmt: skip
    assert unreachable(fillet, radius) == ()


def test_fillet_tighter_than_the_cutter_names_its_own_radius() -> None:
    """Between the cutter and a quarter fillet stays (radius - fillet) (sqrt 2 - 1)."""
    fillet = polyline([(0, 0), (40, 0), (40, 10), (22, 10), (20, 12), (20, 30), (0, 30)],
                      bulges=[0, 0, 0, -QUARTER, 0, 0, 0])  # fmt: skip
    (corner,) = unreachable(fillet, 3.0)
    assert corner.remainder == pytest.approx(math.sqrt(2) - 1, abs=1e-6)
    assert corner.largest == pytest.approx(2.0, abs=1e-9)
    middle = 22 - math.sqrt(2)
    assert corner.place == pytest.approx((middle, 10 + 2 - math.sqrt(2)), abs=0.02)


def test_fillet_drawn_with_short_lines_counts_as_round() -> None:
    """The chords' corners are no sharp ones: 40 to the quarter circle."""
    a = np.linspace(-np.pi / 2, -np.pi, 41)
    arc = np.stack([22 + 2 * np.cos(a), 12 + 2 * np.sin(a)], axis=1)
    drawn = polyline(np.concatenate([[(0, 0), (40, 0), (40, 10)], arc, [(20, 30), (0, 30)]]))
    (corner,) = unreachable(drawn, 3.0)
    assert corner.largest == pytest.approx(2.0, abs=0.1)
    assert corner.remainder == pytest.approx(math.sqrt(2) - 1, abs=1e-3)


def test_gap_narrower_than_the_cutter_names_half_its_width() -> None:
    """A gap with a round bottom, 4 wide: nothing of its walls and bottom is touched."""
    gap = polyline([(0, 0), (40, 0), (40, 20), (22, 20), (22, 12), (18, 12), (18, 20), (0, 20)],
                   bulges=[0, 0, 0, 0, -1, 0, 0, 0])  # fmt: skip
    corners = unreachable(gap, 2.5)
    assert len(corners) == 1
    assert corners[0].largest == pytest.approx(2.0, abs=1e-6)
    # the cutter rests on the gap's two corners, its rim sqrt(2.5^2 - 2^2) - 2.5 past them
    bottom = math.hypot(0, 10 + 10 - (20 + math.sqrt(2.5**2 - 2**2)))
    assert corners[0].remainder == pytest.approx(20 + 1.5 - 10 - 2.5, abs=1e-6)
    assert bottom > 0


def test_straight_neck_names_half_its_width() -> None:
    """A waist 4 wide between two rooms, from inside."""
    waist = polyline([(0, 0), (10, 0), (10, 8), (30, 8), (30, 0), (40, 0), (40, 20), (30, 20),
                      (30, 12), (10, 12), (10, 20), (0, 20)])  # fmt: skip
    found = [c for c in unreachable(waist, 2.5, side="inside") if 12 < c.place[0] < 28]
    assert len(found) == 2
    for corner in found:
        assert corner.largest == pytest.approx(2.0, abs=1e-6)


def test_nothing_fits() -> None:
    (corner,) = unreachable(circle((1, 2), 5), 3.0, side="inside")
    assert math.isinf(corner.remainder)
    assert (corner.start, corner.end) == (0.0, pytest.approx(5 * math.pi))
    assert corner.largest == pytest.approx(2.5, abs=1e-6)


def test_convex_outline_is_all_reached_from_outside() -> None:
    assert unreachable(rectangle(0, 0, 40, 20), 3.0) == ()
    assert unreachable(circle((0, 0), 20), 30.0) == ()


@pytest.mark.parametrize(
    ("radius", "spacing", "side"),
    [(0.0, 0.1, "outside"), (math.nan, 0.1, "outside"), (1.0, 0.0, "outside"), (1.0, 0.1, "left")],
)
def test_impossible_requests_are_refused(radius: float, spacing: float, side: str) -> None:
    with pytest.raises(ValueError, match="must be"):
        unreachable(ELL, radius, spacing=spacing, side=side)  # type: ignore[arg-type]

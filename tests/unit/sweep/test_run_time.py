"""Times of motions against closed forms worked by hand and against a fine-step integrator."""

from __future__ import annotations

import numpy as np
import pytest

from knifecam.curve import ARC, FEED, RAPID, Motions
from knifecam.rs274.program_reader import read_program
from knifecam.shop import Mill
from knifecam.sweep.run_time import duration_of, motion_seconds
from knifecam.sweep.sweep_limits import CHANGE_S, CORNER_S, STOP_S

MILL = Mill(acceleration=500.0, rapid=(6000.0, 6000.0, 3000.0))


def chain(*places, feed=600.0, kind=FEED):
    rows = np.array(places, dtype=float)
    n = len(rows) - 1
    return Motions(
        np.full(n, kind, np.uint8), rows[:-1], rows[1:], np.zeros((n, 2)), np.zeros(n),
        np.full(n, feed),
    )  # fmt: skip


def test_a_long_straight_feed_is_a_trapezoid():
    """10 mm/s is reached in 0.02 s and 0.1 mm: 0.04 s + 9.8 / 10 s."""
    assert motion_seconds(chain((0, 0, 0), (10, 0, 0)), MILL)[0] == pytest.approx(1.02, rel=1e-12)


def test_a_short_straight_feed_is_a_triangle():
    """0.1 mm: up for 0.05 mm, sqrt(2 x 0.05 / 500) s, and down again."""
    seconds = motion_seconds(chain((0, 0, 0), (0.1, 0, 0)), MILL)[0]
    assert seconds == pytest.approx(2 * np.sqrt(0.1 / 500), rel=1e-12)


def test_rapids_are_as_slow_as_their_slowest_axis():
    """(30, 0, 10): Z at 50 mm/s allows 158.1 mm/s along the path, X at 100 mm/s allows 105.4."""
    length = np.sqrt(1000.0)
    top = 100.0 * length / 30
    seconds = motion_seconds(chain((0, 0, 0), (30, 0, 10), kind=RAPID), MILL)[0]
    reached = min(top, np.sqrt(500.0 * length))
    level = length - reached**2 / 500
    assert seconds == pytest.approx(2 * reached / 500 + max(level, 0) / reached, rel=1e-12)


def test_pieces_of_one_straight_line_take_as_long_as_the_whole():
    whole = motion_seconds(chain((0, 0, 0), (7, 0, 0)), MILL).sum()
    cut = motion_seconds(chain((0, 0, 0), (0.05, 0, 0), (0.9, 0, 0), (7, 0, 0)), MILL).sum()
    assert cut == pytest.approx(whole, rel=1e-12)


def test_a_square_corner_is_passed_with_the_stated_change_of_velocity():
    """500 x 0.005 = 2.5 mm/s of change over sqrt(2): 1.768 mm/s at the corner."""
    seconds = motion_seconds(chain((0, 0, 0), (10, 0, 0), (10, 10, 0)), MILL)
    corner = 500 * CORNER_S / np.sqrt(2)
    up, down = 10.0 / 500, (10.0 - corner) / 500
    level = 10 - 10.0 * up / 2 - (10.0 + corner) * down / 2
    assert seconds == pytest.approx([up + down + level / 10.0] * 2, rel=1e-12)


def test_a_full_circle_keeps_its_pull_below_the_acceleration():
    """r = 0.05 mm: at most sqrt(500 x 0.05) = 5 mm/s, though 10 are asked."""
    circle = Motions(
        np.array([ARC], np.uint8), np.array([[0.05, 0, 0]]), np.array([[0.05, 0, 0]]),
        np.zeros((1, 2)), np.array([100.0]), np.array([600.0]),
    )  # fmt: skip
    length = 100 * 2 * np.pi * 0.05
    assert motion_seconds(circle, MILL)[0] == pytest.approx(5 / 500 + length / 5, rel=1e-12)


def integrated(motions, mill, corners):
    """Seconds by small steps along the path: no faster than any limit allows from where it is."""
    lengths = motions.lengths
    at = np.concatenate([[0.0], np.cumsum(lengths)])
    tops = motions.feed / 60
    limits = [(0.0, 0.0), (at[-1], 0.0), *((at[k + 1], v) for k, v in enumerate(corners))]
    step = at[-1] / 200_000
    s = (np.arange(200_000) + 0.5) * step
    fastest = np.full_like(s, np.inf)
    for place, speed in limits:
        fastest = np.minimum(fastest, np.sqrt(speed**2 + 2 * mill.acceleration * np.abs(s - place)))
    for k, top in enumerate(tops):
        away = np.maximum(0, np.maximum(at[k] - s, s - at[k + 1]))
        fastest = np.minimum(fastest, np.sqrt(top**2 + 2 * mill.acceleration * away))
    return float((step / fastest).sum())


@pytest.mark.parametrize("seed", range(8))
def test_a_crooked_path_takes_what_a_fine_integrator_finds(seed):
    rng = np.random.default_rng(seed)
    places = np.cumsum(rng.normal(0, 1, (14, 3)) * rng.choice([0.02, 0.3, 3], (14, 1)), axis=0)
    motions = chain(*places)
    feeds = rng.uniform(60, 1500, len(motions))
    motions = Motions(
        motions.kind, motions.start, motions.stop, motions.centre, motions.turns, feeds
    )
    ways = np.diff(places, axis=0)
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    corners = MILL.acceleration * CORNER_S / np.linalg.norm(np.diff(ways, axis=0), axis=1)
    found = motion_seconds(motions, MILL).sum()
    assert found == pytest.approx(integrated(motions, MILL, corners), rel=1e-3)


def test_dwells_changes_and_stops_are_counted_where_they_are():
    text = "G21 G90\nT1 M6\nM3 S1000\nG4 P2.5\nG0 X10\nM0\nG1 X20 F600\nM2\n"
    mill = Mill(change_by_hand=False)
    spent = duration_of(read_program(text), mill)
    assert spent.dwelling.sum() == 2.5
    assert spent.changing.sum() == CHANGE_S
    assert spent.stopping.tolist() == [0.0, STOP_S, 0.0]
    assert spent.total == pytest.approx(spent.moving.sum() + 2.5 + CHANGE_S + STOP_S)
    assert spent.moving[1] == pytest.approx(1.02)

"""The trench's tracks, windows and passes, on hand-made tracks."""

import numpy as np
import pytest

from knifecam.curve import Curve, circle, distance
from knifecam.paths.trench_motions import Track, Window, finish_wall, levels, rough_trench


def window(start, end, z=-1.0):
    return Window(start=start, end=end, z=z, ramp_up=np.radians(45), ramp_down=np.radians(20))


def test_levels_are_equal_and_end_at_the_bottom():
    assert levels(1.0, 0.0, 0.3) == pytest.approx((0.75, 0.5, 0.25, 0.0))
    assert levels(1.0, 0.7, 0.3) == pytest.approx((0.7,))


def test_a_window_lifts_the_track_on_every_lap():
    track = Track(curve=circle((0, 0), 20).clockwise(), windows=(window(5.0, 9.0),))
    whole = track.curve.length
    heights = track.heights(-1.5, 0.0, 3 * whole)
    for lap in range(3):
        assert heights.at(np.array([7.0 + lap * whole]))[0] == -1.0
        # 0.5 mm of lift: begins 0.5 mm before at 45 degrees, ends 0.5 / tan 20 after
        assert heights.at(np.array([4.5 + lap * whole]))[0] == pytest.approx(-1.5)
        assert heights.at(np.array([9.0 + 0.5 / np.tan(np.radians(20)) + lap * whole]))[
            0
        ] == pytest.approx(-1.5)


def test_shallow_levels_are_not_lifted():
    track = Track(curve=circle((0, 0), 20).clockwise(), windows=(window(5.0, 9.0),))
    assert (track.heights(-0.5, 0.0, 100.0).z == -0.5).all()


def test_clear_from_passes_the_window():
    track = Track(curve=circle((0, 0), 20).clockwise(), windows=(window(5.0, 9.0),))
    end = 9.0 + 0.5 / np.tan(np.radians(20))
    assert track.clear_from(4.0, 2.0, -1.5) == pytest.approx(end, abs=2e-3)
    assert track.clear_from(20.0, 2.0, -1.5) == 20.0
    assert track.clear_from(4.0, 2.0, -0.5) == 4.0


def test_roughing_takes_each_level_all_round_and_keeps_off_the_wall():
    wall = circle((0, 0), 20)
    tracks = [Track(curve=circle((0, 0), d).clockwise()) for d in (25.0, 23.12)]
    depths = levels(0.0, -0.3, 0.1)
    passes = rough_trench(
        tracks, wall, start=3.0, top=0.05, depths=depths, ramp=np.radians(1), least=1.56,
        feed=lambda turning, slope: np.full(len(slope), 200.0), side_feed=200.0,
    )  # fmt: skip
    assert len(passes) == 3
    for one, level in zip(passes, depths, strict=True):
        assert one.stop[-1, 2] == pytest.approx(level)
        flat = (one.start[:, 2] == level) & (one.stop[:, 2] == level)
        turned = np.abs(one.turns[flat & (one.kind == 2)])
        assert turned.sum() >= 2.0  # both tracks a whole turn at the level
        assert (one.turns[one.kind == 2] < 0).all()  # clockwise
        assert distance(one.stop[:, :2], wall).min() >= 1.56 - 1e-9
        assert np.diff(one.start[1:, :2] - one.stop[:-1, :2]).max() < 1e-9  # one chain
    slopes = [
        (p.stop[:, 2] - p.start[:, 2]) / np.maximum(np.hypot(p.lengths, 0), 1e-9) for p in passes
    ]
    assert min(s.min() for s in slopes) >= -np.tan(np.radians(1)) - 1e-9


@pytest.mark.parametrize("start", np.arange(0.0, 78.0, 6.0))
def test_the_way_from_track_to_track_keeps_off_the_tabs(start):
    """Wherever roughing begins, no motion passes a tab's window below the window's height."""
    wall, high = circle((0, 0), 20), -0.2
    tracks = []
    for diameter in (
        27.0,
        23.12,
    ):  # the window takes 0.3 rad before the top of the round and behind
        curve = circle((0, 0), diameter).clockwise()
        top = 0.75 * curve.length  # from +X clockwise: three quarters lead to the top
        half = 0.3 * diameter / 2
        tracks.append(Track(curve=curve, windows=(window(top - half, top + half, high),)))
    passes = rough_trench(
        tracks, wall, start=start, top=0.05, depths=levels(0.0, -0.6, 0.1), ramp=np.radians(1),
        least=1.56, feed=lambda turning, slope: np.full(len(slope), 200.0), side_feed=200.0,
    )  # fmt: skip
    for one in passes:
        t = np.linspace(0, 1, 40)[:, None]
        for k in range(len(one)):
            places = one.start[k] + t * (one.stop[k] - one.start[k])
            if one.turns[k]:
                arm = one.start[k, :2] - one.centre[k]
                angle = np.arctan2(arm[1], arm[0]) + 2 * np.pi * one.turns[k] * t[:, 0]
                radius = np.hypot(*arm)
                places[:, 0], places[:, 1] = radius * np.cos(angle), radius * np.sin(angle)
            away = np.abs(np.arctan2(places[:, 0], places[:, 1]))
            assert (places[away < 0.3 - 1e-6, 2] >= high - 1e-9).all()


def test_the_finishing_pass_overlaps_its_start_and_leaves_on_arcs():
    wall = Curve(circle((0, 0), 20).vertices, np.ones(2))
    track = Track(curve=circle((0, 0), 23).clockwise())
    motions = finish_wall(
        track, landing=4.0, level=-1.0, entry_z=-0.8, ramp_down=np.radians(20), overlap=0.8,
        radius=4.5, aside=0.3, feed=lambda turning, slope: np.full(len(slope), 100.0), lead_feed=100.0,
    )  # fmt: skip
    # the arc's centre is 11.5 + 4.5 = 16 from the middle, its arm 4.5 turned by acos(1 - 0.3 / 4.5)
    away = np.sqrt(16**2 + 4.5**2 - 2 * 16 * 4.5 * (1 - 0.3 / 4.5)) - 10
    assert distance(motions.start[0, :2], wall)[0] == pytest.approx(away, abs=1e-9)
    assert distance(motions.stop[-1, :2], wall)[0] == pytest.approx(away, abs=1e-9)
    fall = 0.2 / np.tan(np.radians(20))
    on_track = motions.lengths[1:-1]
    ramp = np.hypot(fall, 0.2)
    assert on_track.sum() == pytest.approx(23 * np.pi + 0.8 + ramp, abs=1e-6)
    assert motions.stop[-1, 2] == pytest.approx(-1.0)

"""What a cutter meets, on cuts simple enough to work out by hand.

Plate 4 mm (z -2 to 2), cutter of radius 1.5, cells of 0.05 unless said otherwise.
"""

from __future__ import annotations

import numpy as np
import pytest

from knifecam.curve import ARC, FEED, RAPID, Motions
from knifecam.sweep.columns import cut_grid, plate_grid

R = 1.5
FACE = 2.0


def line(start, stop, kind=FEED):
    return (kind, start, stop, (0.0, 0.0), 0.0)


def motions(*rows):
    kind, start, stop, centre, turns = zip(*rows, strict=True)
    return Motions(
        np.array(kind, np.uint8), np.array(start, float), np.array(stop, float),
        np.array(centre, float), np.array(turns, float), np.zeros(len(rows)),
    )  # fmt: skip


@pytest.fixture
def plate():
    return plate_grid((0, 0, 30, 20), 4.0, 0.05)


def cut(grid, *rows, corner=0.0, side="A", flip="X", **given):
    return cut_grid(grid, motions(*rows), R, corner, side=side, flip=flip, first=0, **given)


def steady(engagement, motion):
    """Steps of a motion without those that begin in the air or in a hole of their own."""
    return np.flatnonzero(engagement.motion == motion)[4:]


def test_a_slot_is_met_all_round_the_front(plate):
    e = cut(plate, line((-3, 10, 1.9), (30, 10, 1.9))).engagement
    rows = steady(e, 0)[2:-4]
    for name in ("left", "front", "right", "under"):
        assert getattr(e, name)[rows] == pytest.approx(0.1)
    assert e.width[rows] == pytest.approx(np.pi)
    assert e.tallest[rows] == pytest.approx(0.1)
    assert e.volume[rows] == pytest.approx(0.1 * 3.0 * e.length[rows], rel=0.03)
    assert np.all(e.floor == np.inf)
    assert np.all(e.shank == -np.inf)


@pytest.mark.parametrize(("y", "hand"), [(4.0, "left"), (-4.0, "right")])
def test_metal_on_one_hand_is_met_there_alone(plate, y, hand):
    """A shoulder is milled back by 0.5: acos(1 - 0.5 / 1.5) of the front is met."""
    heading = 1 if hand == "left" else -1
    cut(plate, line((-9, 10, 0), (39, 10, 0)))
    ends = ((-3, 10.5, 0), (33, 10.5, 0))
    e = cut(plate, line(*ends[::heading])).engagement
    other = {"left": "right", "right": "left"}[hand]
    rows = steady(e, 0)[4:-6]
    assert getattr(e, hand)[rows] == pytest.approx(2.0)
    assert np.all(getattr(e, other)[rows] == 0.0)
    assert np.all(e.front[rows] == 0.0) == (0.3 * R > 0.5)
    assert e.width[rows] == pytest.approx(np.arccos(1 - 0.5 / 1.5), abs=0.06)
    assert e.under[rows] == pytest.approx(2.0)


def test_a_light_pass_touches_one_wall_only(plate):
    """0.06 on the left of a slot: left the whole depth, no front, no right, a narrow width."""
    cut(plate, line((-9, 10, 0), (39, 10, 0)))
    e = cut(plate, line((-3, 10.06, 0), (33, 10.06, 0))).engagement
    rows = steady(e, 0)[4:-6]
    assert e.left[rows] == pytest.approx(2.0)
    assert np.all(e.front[rows] == 0.0)
    assert np.all(e.right == 0.0)
    assert np.all(e.width[rows] < np.arccos(1 - (0.06 + 0.05) / R))


def test_a_spring_pass_meets_nothing(plate):
    """The same line again, and again rounded by half a micron to either side."""
    cut(plate, line((-9, 10.025, 0), (39, 10.025, 0)))  # cells lie on the rim, at 1.5 exactly
    for off in (0.0, 5e-4, -5e-4):
        again = cut(plate, line((-9, 10.025 + off, 0), (39, 10.025 + off, 0)))
        for name in ("left", "front", "right", "under", "width"):
            assert np.all(getattr(again.engagement, name) == 0.0), name
        assert again.engagement.tallest.max() == pytest.approx(2.0)


def test_left_and_right_are_those_of_the_side_that_cuts(plate):
    """On side B, seen from below, the metal stays on the same hand as its own text says."""
    cut(plate, line((-9, -10, 0), (39, -10, 0)), side="B")
    e = cut(plate, line((-3, -9.5, 0), (33, -9.5, 0)), side="B").engagement
    rows = steady(e, 0)[4:-6]
    assert e.left[rows] == pytest.approx(2.0)
    assert np.all(e.right[rows] == 0.0)
    assert e.place[rows, 1] == pytest.approx(-9.5)


def test_a_web_over_a_void_is_met_by_its_thickness(plate):
    """Side B has a groove 3 deep; side A cuts right through the web of 1 over it."""
    cut(plate, line((-9, -10, -1), (39, -10, -1)), side="B")
    e = cut(
        plate, line((-3, 10, 0.5), (33, 10, 0.5)), line((33, 10, 0.2), (-3, 10, 0.2))
    ).engagement
    rows = steady(e, 0)[4:-6]
    assert e.under[rows] == pytest.approx(1.0)
    # nothing is left to be thin under the axis once the rim has passed there
    assert e.floor[np.isfinite(e.floor)] == pytest.approx(0.0)
    assert np.all(np.isinf(e.floor[rows]))
    assert np.all(e.under[e.motion == 1] == 0.0)
    assert (plate.emptied == 0).sum() > 0


def test_the_floor_over_a_void(plate):
    cut(plate, line((-9, -10, -1), (39, -10, -1)), side="B")
    e = cut(plate, line((-3, 10, 1.4), (33, 10, 1.4))).engagement
    inside = (e.place[:, 0] > 1) & (e.place[:, 0] < 29)
    assert e.floor[inside] == pytest.approx(0.4)
    assert e.under[inside] == pytest.approx(0.6)


def test_an_arc_has_its_hands_by_its_own_heading(plate):
    """Counter-clockwise inside a bore opened before: the metal is on the right."""
    centre = (15.0, 10.0)
    cut(plate, line((15, 10, 0), (15, 10, 0)))
    full = [(ARC, (15 + r, 10, 0), (15 + r, 10, 0), centre, 1.0) for r in (1.0, 2.0, 3.0)]
    cut(plate, *full)
    e = cut(plate, (ARC, (18.4, 10, 0), (18.4, 10, 0), centre, 1.0)).engagement
    assert e.right[3:] == pytest.approx(2.0)
    assert np.all(e.left == 0.0)
    # the rim meets metal from where it lies 3 + R from the centre: angle between rim and outward
    axis, wall = 3.4, 3.0 + R
    outward = np.arccos((wall**2 - axis**2 - R**2) / (2 * axis * R))
    assert e.width[4:-4] == pytest.approx(outward, abs=0.12)
    back = cut(plate, (ARC, (18.8, 10, 0), (18.8, 10, 0), centre, -1.0)).engagement
    assert back.left[3:] == pytest.approx(2.0)
    assert np.all(back.right == 0.0)


def test_a_helix_meets_its_pitch_once_it_has_turned():
    plate, centre = plate_grid((0, 0, 6, 6), 4.0, 0.01), (3.0, 3.0)
    helix = (ARC, (3.8, 3, FACE), (3.8, 3, FACE - 0.4), centre, 4.0)
    swept = cut(plate, helix)
    e = swept.engagement
    assert len(e) == 48
    assert e.under[13:] == pytest.approx(0.1, abs=0.01)
    bottomed = cut(plate, (ARC, (3.8, 3, FACE - 0.4), (3.8, 3, FACE - 0.4), centre, 1.0))
    whole = np.pi * (0.8 + R) ** 2 * 0.4
    assert swept.volume.sum() + bottomed.volume.sum() == pytest.approx(whole, rel=1e-3)


def test_a_plunge_has_no_hands(plate):
    e = cut(
        plate, line((15, 10, 5), (15, 10, 2.5), RAPID), line((15, 10, 2.5), (15, 10, 1.0))
    ).engagement
    assert np.all(e.left == 0.0)
    assert np.all(e.right == 0.0)
    assert np.array_equal(e.front, e.under)
    assert (e.motion == 0).sum() == 1  # above the plate: one step
    assert e.under[e.motion == 1] == pytest.approx([0.25, 0.75])
    assert e.width[e.motion == 1] == pytest.approx(np.pi)
    assert e.length == pytest.approx([2.5, 0.75, 0.75])


def test_a_ramp_meets_what_it_falls_by(plate):
    """2 degrees down from the face: each step takes off all that stands over its end."""
    fall = np.tan(np.deg2rad(2.0))
    e = cut(plate, line((5, 10, FACE), (20, 10, FACE - 15 * fall))).engagement
    assert np.all(e.left <= 15 * fall)
    depth = FACE - e.place[:, 2]
    ahead = e.length / 2 * np.sin(np.deg2rad(2.0))
    assert e.under == pytest.approx(depth + ahead, abs=1e-9)


def test_steps_are_short(plate):
    swept = cut(
        plate,
        line((0, 0, 0), (29, 19, 1)),
        (ARC, (29, 19, 1), (29, 19, 1), (28.5, 19), 1.0),
        (ARC, (29, 19, 1), (29, 19, 0), (20, 19), -2.0),
    )
    e = swept.engagement
    assert np.all(e.length <= R / 2 + 1e-9)
    assert np.all(e.length[e.motion == 1] <= 0.5 * np.pi / 6 + 1e-9)
    assert (e.motion == 1).sum() == 12
    assert np.bincount(e.motion, e.volume) == pytest.approx(swept.volume)


def test_the_shank_within_a_wall(plate):
    """A shoulder 2 high beside the axis at 1.5: the shank of radius 3 begins 1.2 above the tip."""
    cut(plate, line((-9, 10, 0), (39, 10, 0)))
    given = {"reach": np.array([1.2]), "shank": np.array([3.0])}
    e = cut(plate, line((5, 10, 0), (25, 10, 0)), **given).engagement
    assert e.shank == pytest.approx(0.8)
    e = cut(plate, line((5, 10, 0), (25, 10, 0)), reach=2.6, shank=3.0).engagement
    assert e.shank == pytest.approx(-0.6)
    e = cut(plate, line((5, 10, 0), (25, 10, 0)), reach=0.5, shank=1.5).engagement
    assert np.all(e.shank == -np.inf)


def test_a_cut_into_protected_columns_says_how_deep_and_where(plate):
    x, y = np.meshgrid(plate.x, plate.y)
    blade = (x > 10) & (x < 20) & (y > 11.4)
    swept = cut(
        plate, line((0, 9.8, 0), (29, 9.8, 0)), line((29, 10, -1), (0, 10, -1)), protected=blade
    )
    assert swept.gouge == pytest.approx([0.0, 3.0])
    assert np.all(np.isnan(swept.gouge_place[0]))
    px, py = swept.gouge_place[1]
    assert 10 < px < 20
    assert 11.4 < py < 11.5


def test_the_tiles_that_are_left_out_change_nothing():
    """A wide pocket in many passes, again and again: the volume stays what it is."""
    grid = plate_grid((0, 0, 12, 12), 4.0, 0.05)
    for z in (1.5, 1.0, 1.0, 1.2, 0.5):
        rows = [line((2, y, z), (10, y, z)) for y in np.arange(2, 10, 1.0)]
        cut(grid, *rows)
        inside = grid.top[60:180, 60:180]
        assert np.all(inside == min(z, inside.max()))
    assert grid.top[60:180, 60:180].max() == 0.5

"""Which inner corners roughing leaves fuller than its allowance, against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from knifecam.curve import Curve, polyline, rectangle
from knifecam.errors import PlanError
from knifecam.paths.offset import offset
from knifecam.paths.paths_limits import CORNER_EXCESS_SHARE
from knifecam.paths.trench_motions import Track, corner_passes, full_corners, met_before, tightest

R, STOCK = 1.5, 0.06
BOX = rectangle(0, 0, 10, 6)
QUARTER = math.tan(math.pi / 8)


def corners_in(wall: Curve) -> tuple[Curve, tuple[Curve, ...], tuple[tuple[float, float], ...]]:
    """Return the track that touches a wall from within, the roughed one, and its full corners."""
    (track,) = offset(wall, -R)
    roughed = offset(wall, -R - STOCK)
    return track, roughed, full_corners(track, roughed, STOCK, R)


def test_a_sharp_corner_is_full_until_its_roughed_vertex_is_as_near_as_the_wall_leaves_it() -> None:
    """(STOCK - s)^2 + STOCK^2 = (STOCK (1 + SHALLOW))^2, s from the corner along either wall."""
    run = STOCK - STOCK * math.sqrt((1 + CORNER_EXCESS_SHARE) ** 2 - 1)
    track, _, found = corners_in(BOX)
    assert len(found) == 4
    at = sorted(((start + end) / 2) % track.length for start, end in found)
    assert np.diff(at) == pytest.approx([7, 3, 7], abs=1e-6)
    assert [end - start for start, end in found] == pytest.approx([2 * run] * 4, abs=1e-6)


def rounded(radius: float) -> Curve:
    r = radius
    points = [(r, 0), (10 - r, 0), (10, r), (10, 6 - r), (10 - r, 6), (r, 6), (0, 6 - r), (0, r)]
    return Curve(np.array(points), np.array([0, QUARTER] * 4))


@pytest.mark.parametrize(("sides", "full"), [(12, 12), (17, 17), (19, 0), (44, 0)])
def test_walls_that_meet_at_less_than_20_degrees_make_no_corner(sides: int, full: int) -> None:
    """A polygon's walls meet at 360 degrees / sides: of 17 at 21.2, of 19 at 18.9."""
    turn = 2 * math.pi * np.arange(sides) / sides
    wall = polyline(np.stack([6 * np.cos(turn), 6 * np.sin(turn)], axis=1))
    assert len(corners_in(wall)[2]) == full


@pytest.mark.parametrize("radius", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("share", [0.02, 0.04, 0.1, 0.25])
def test_what_stands_beside_a_wall_is_met_ahead_on_the_tightest_turn(
    radius: float, share: float
) -> None:
    """By brute force: the rim within 45 degrees of the travel, on a turn about the origin."""
    turn, angle = tightest(share * radius, radius), np.radians(np.linspace(-45, 45, 9001))
    rim = np.stack([turn + radius * np.sin(angle), radius * np.cos(angle)])
    assert turn + radius - np.hypot(*rim).max() == pytest.approx(share * radius, abs=1e-9)


def test_on_any_turn_what_stands_far_beside_is_met_ahead() -> None:
    """Straight on the rim at 45 degrees is R (1 - sqrt(1/2)) = 0.293 R off the wall."""
    assert tightest(0.29, 1.0) < tightest(0.2928, 1.0) < tightest(0.293, 1.0) == math.inf


@pytest.mark.parametrize(("radius", "full"), [(1.51, 4), (1.56, 4), (1.72, 4), (1.73, 0), (3.0, 0)])
def test_a_round_corner_is_full_below_the_radius_that_cutters_want(
    radius: float, full: int
) -> None:
    """Common practice: 1.15 R, here 1.725 mm; there STOCK of the wall is 0.46 mm across the cutter."""
    assert len(corners_in(rounded(radius))[2]) == full


def test_a_narrow_bay_is_one_corner() -> None:
    """Roughing does not go into a bay between 2 R and 2 (R + STOCK) wide; finishing does."""
    points = [(0, 0), (10, 0), (10, 2.45), (16, 2.45), (16, 5.55), (10, 5.55), (10, 8), (0, 8)]
    track, _, found = corners_in(polyline(points))
    longest = max(end - start for start, end in found)
    inside = 2 * (6 - R) + 2 * (3.1 / 2 - R)
    round_the_mouth = R * math.acos(3.1 / 2 / (R + STOCK))
    assert inside < longest < inside + 2 * round_the_mouth
    assert len(found) == 5
    assert all(0 <= start < end < start + track.length for start, end in found)


def test_passes_stay_off_the_wall_and_clear_the_corner_level_by_level() -> None:
    track, roughed, found = corners_in(BOX)
    depths = (1.4, 1.32, 1.24)
    passes = corner_passes(
        Track(curve=track), found, roughed, BOX, radius=R, depths=depths,
        feed=lambda radius, slope: np.full(len(radius), 300.0), side_feed=300.0,
    )  # fmt: skip
    assert len(passes) == 4
    room = shapely.LinearRing([(0, 0), (10, 0), (10, 6), (0, 6)])
    for one, (start, end) in zip(passes, found, strict=True):
        assert np.abs(one.start[1:] - one.stop[:-1]).max() < 1e-12
        assert sorted({round(float(z), 9) for z in one.stop[:, 2]}, reverse=True) == list(depths)
        away = [room.distance(shapely.LineString(ends[:, :2])) for ends in
                np.stack([one.start, one.stop], axis=1) if not np.allclose(*ends[:, :2])]  # fmt: skip
        assert min(away) == pytest.approx(R, abs=1e-9)
        assert np.allclose(one.start[0], one.stop[-1] + [0, 0, depths[0] - depths[-1]])
        assert 0 < end - start < 2 * STOCK


def test_a_corner_without_a_way_to_it_is_refused() -> None:
    track, _, _ = corners_in(BOX)
    beyond = (rectangle(20, 2, 22, 4),)
    with pytest.raises(
        PlanError, match=r"inner corner at .* comes within .* less than the cutter's"
    ):
        corner_passes(
            Track(curve=track), [(0.0, 1.0)], beyond, BOX, radius=R, depths=(1.0,),
            feed=lambda radius, slope: np.full(len(radius), 300.0), side_feed=300.0,
        )  # fmt: skip


@pytest.mark.parametrize(
    ("turn", "length", "beside", "radius"),
    [
        (0.4165, 0.22, 0.07, 1.7435),
        (0.4165, 0.8, 0.07, 1.7435),
        (1.0, 0.5, 0.1, 1.5),
        (3.0, 0.7, 0.05, 1.5),
    ],
)
def test_the_strip_met_before_a_turn(
    turn: float, length: float, beside: float, radius: float
) -> None:
    """As areas by shapely: what a disc newly covers of the stock on the straight's last share."""
    reach = 4 * radius
    rest = turn + radius
    straight = shapely.box(-reach, -reach, radius - beside, 0.0)
    free = straight.union(shapely.Point(-turn, 0).buffer(rest - beside, quad_segs=4000))
    metal = shapely.box(-reach, -reach, radius, 0.0).union(
        shapely.Point(-turn, 0).buffer(rest, quad_segs=4000)
    )
    metal = metal.difference(free.union(shapely.box(-reach, 0.0, -turn, reach)))
    share = length / math.ceil(2 * length / radius)

    def covered(first: float, last: float) -> shapely.Geometry:
        return shapely.LineString([(0, -first), (0, -last)]).buffer(radius, quad_segs=2000)

    new = covered(share, 0.0).difference(covered(reach, share)).intersection(metal)
    assert met_before(turn, length, beside, radius) == pytest.approx(new.area / share, rel=0.01)

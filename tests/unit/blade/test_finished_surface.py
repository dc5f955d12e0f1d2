"""The finished surface at places worked out by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import (
    Bevel,
    Blade,
    Bore,
    EdgeBreak,
    Jimping,
    Plunge,
    Slot,
    bevel_height,
    bevelled,
    edge_distance,
    half_thickness,
    past_plunge,
    plunge_rise,
    prolonged_edge,
)
from knifecam.blade.blade_limits import FADE_BEYOND_WIDTH_MM
from knifecam.blade.finished_surface import break_height, near_break_ends
from knifecam.curve import Curve, Stretch, circle, polyline, rectangle
from knifecam.errors import OrderError

SLOPE = 1.3 / 15
PLATE = rectangle(0, 0, 100, 30)
PLUNGE = Plunge(line=polyline([(20, -5), (20, 40)], closed=False), radius=5.0)
BEVEL = Bevel(name="V", edge=Stretch(start=0, end=100), angle=math.atan(SLOPE), land=0.4)
BLADE = Blade(outline=PLATE, thickness=3.0, bevels=(BEVEL,))
ARC = polyline([(0, 0), (50, 0), (50, 20), (0, 20)], bulges=[0.2, 0, 0, 0])
NM = 1e-6


def with_(**parts):
    return replace(BLADE, **parts)


def test_a_flat_bevel_rises_from_the_land_to_the_flat():
    points = [(50, 0), (50, 7.5), (50, 15), (50, 22)]
    for side in "AB":
        np.testing.assert_allclose(
            half_thickness(BLADE, points, side), [0.2, 0.85, 1.5, 1.5], atol=NM
        )
    np.testing.assert_array_equal(bevelled(BLADE, points, "A"), [True, True, False, False])


def test_a_side_that_is_not_ground_is_flat_and_there_are_two_sides():
    one = with_(bevels=(replace(BEVEL, sides="A", edge_at=-1.3),))
    assert half_thickness(one, [(50, 3)], "B") == pytest.approx(1.5)
    assert half_thickness(one, [(50, 3)], "A") == pytest.approx(-1.1 + 3 * SLOPE)
    assert not bevelled(one, [(50, 3)], "B")[0]
    with pytest.raises(ValueError, match="side='both'"):
        half_thickness(one, [(50, 3)], "both")


def test_the_edge_goes_on_by_its_end_tangents():
    part = replace(BEVEL, edge=Stretch(start=40, end=60))
    points = [(5, 3), (50, 3), (99, 3), (50, -2)]
    np.testing.assert_allclose(edge_distance(part, PLATE, points), [3, 3, 3, -2], atol=1e-12)
    line = prolonged_edge(part, PLATE, 10.0)
    np.testing.assert_allclose(line.vertices[[0, -1]], [(30, 0), (70, 0)], atol=1e-12)
    assert line.length == pytest.approx(40.0)


def test_distance_from_an_arc_and_from_its_tangents():
    # a piece with bulge 0.2: half angle 2 atan 0.2, radius 50 (1 + 0.04) / 0.8 = 65 mm
    bevel = replace(BEVEL, edge=Stretch(start=0, end=float(ARC.stations[1])))
    centre = np.array([25.0, 65 - 5.0])
    half = 2 * math.atan(0.2)
    start_tangent = np.array([math.cos(half), -math.sin(half)])
    below_tangent = -3 * start_tangent + 2 * np.array([math.sin(half), math.cos(half)])
    points = [(25.0, -5.0), centre, (25.0, 10.0), (25.0, -9.0), below_tangent]
    want = [0.0, 65.0, 15.0, -4.0, 2.0]
    np.testing.assert_allclose(edge_distance(bevel, ARC, points), want, atol=1e-12)


def test_a_recurve_counts_its_distance_from_the_far_side_of_its_centre():
    bay = polyline([(0, 0), (50, 0), (50, 20), (0, 20)], bulges=[-0.2, 0, 0, 0])
    bevel = replace(BEVEL, edge=Stretch(start=0, end=float(bay.stations[1])))
    np.testing.assert_allclose(
        edge_distance(bevel, bay, [(25, 5), (25, 9), (25, 2), (25, -60)]),
        [0, 4, -3, -65],
        atol=1e-12,
    )


@pytest.mark.parametrize(
    ("corner", "point", "distance"),
    [
        ((50, 10), (50, 15), 5 * math.cos(math.atan(0.2))),  # turns right: a fan about the corner
        ((50, 10), (50, 5), -5 * math.cos(math.atan(0.2))),
        ((50, -10), (50, -5), 5 * math.cos(math.atan(0.2))),
        ((50, -10), (50, -16), -6.0),
    ],
)
def test_corners_of_the_edge_have_a_side(corner, point, distance):
    bent = polyline([(0, 0), corner, (100, 0), (100, 40), (0, 40)])
    bevel = replace(BEVEL, edge=Stretch(start=0, end=float(bent.stations[2])))
    if corner[1] > 0 and point[1] > corner[1]:
        distance = point[1] - corner[1]
    assert edge_distance(bevel, bent, [point])[0] == pytest.approx(distance, abs=1e-12)


def test_an_edge_that_passes_the_outline_s_start():
    over = replace(BEVEL, edge=Stretch(start=PLATE.length - 5, end=10.0))
    corner = edge_distance(over, PLATE, [(8, 2), (2, 12), (-1, 20)])
    np.testing.assert_allclose(corner, [2, 2, -1], atol=1e-12)


def test_past_the_plunge_a_cylinder_is_added():
    bevel = replace(BEVEL, plunges=(PLUNGE,))
    blade = with_(bevels=(bevel,))
    np.testing.assert_allclose(past_plunge(bevel, [(50, 3), (18, 3), (10, 9)]), [-30, 2, 10])
    cos = math.cos(BEVEL.angle)
    rise = (5 - math.sqrt(21)) / cos  # 0.41898 by hand at s = 2
    assert rise * cos == pytest.approx(0.417424, abs=5e-7)
    heights = bevel_height(bevel, blade, [(50, 3), (18, 3), (14.9, 3)], "A")
    np.testing.assert_allclose(
        heights, [0.2 + 3 * SLOPE, 0.2 + 3 * SLOPE + rise, math.inf], atol=NM
    )
    np.testing.assert_allclose(
        plunge_rise(bevel, [-1, 0, 2, 3, 5, 5.01]),
        [0, 0, rise, 1 / cos, 5 / cos, math.inf],
        atol=NM,
    )
    half = half_thickness(blade, [(18, 3), (15.5, 3), (10, 3)], "A")
    np.testing.assert_allclose(half, [0.2 + 3 * SLOPE + rise, 1.5, 1.5], atol=NM)


def test_the_added_plunge_is_a_cylinder_lying_in_the_bevel():
    blade = with_(bevels=(replace(BEVEL, plunges=(PLUNGE,)),))
    a = BEVEL.angle
    # axis 5 mm over the bevel's line past which it rises, along the line of slope
    on_line, along = np.array([20.0, 0.0, 0.2]), np.array([0.0, math.cos(a), math.sin(a)])
    axis = on_line + 5 * np.array([0.0, -math.sin(a), math.cos(a)])
    x, y = np.meshgrid(np.linspace(17.5, 20, 12), np.linspace(0.1, 6, 12))
    points = np.column_stack([x.ravel(), y.ravel()])
    z = half_thickness(blade, points, "A")
    arm = np.column_stack([points, z]) - axis
    off = np.linalg.norm(arm - np.outer(arm @ along, along), axis=1)
    np.testing.assert_allclose(off[z < 1.5], 5.0, atol=1e-9)
    assert (z < 1.5).sum() > 100


def test_of_two_plunges_the_one_further_past_counts():
    other = Plunge(line=polyline([(80, 40), (80, -5)], closed=False), radius=5.0)
    bevel = replace(BEVEL, plunges=(PLUNGE, other))
    np.testing.assert_allclose(past_plunge(bevel, [(50, 3), (18, 3), (83, 3)]), [-30, 2, 3])
    uneven = replace(BEVEL, plunges=(PLUNGE, replace(other, radius=3.0)))
    with pytest.raises(ValueError, match=r"different radii \[3.0, 5.0\]"):
        plunge_rise(uneven, [1.0])
    low, high = bevel_height(uneven, BLADE, [(18, 3), (82, 3)], "A")
    assert high - low == pytest.approx(
        ((3 - math.sqrt(5)) - (5 - math.sqrt(21))) / math.cos(BEVEL.angle)
    )


def test_a_bevel_without_plunges_has_none():
    np.testing.assert_array_equal(past_plunge(BEVEL, [(3, 3)]), [-math.inf])
    np.testing.assert_array_equal(plunge_rise(BEVEL, [-math.inf, 0.0]), [0, 0])


def test_the_lower_of_two_bevels_counts():
    back = Bevel(name="F", edge=Stretch(start=130, end=230), angle=math.radians(20), land=0.6)
    both = with_(bevels=(BEVEL, back))
    half = half_thickness(both, [(50, 3), (50, 29)], "A")
    np.testing.assert_allclose(half, [0.2 + 3 * SLOPE, 0.3 + math.tan(math.radians(20))], atol=NM)


def test_there_is_no_metal_outside_and_in_openings_and_walls_are_metal():
    blade = with_(
        bores=(Bore(name="B", centre=(50, 22), diameter=6.0),
               Bore(name="D", centre=(70, 22), diameter=6.0, depth=1.0)),
        slots=(Slot(name="S", outline=rectangle(20, 20, 30, 24)),),
        jimping=(Jimping(name="J", stretch=Stretch(start=0, end=1), diameter=2.0, depth=0.5,
                         pitch=3.0, centres=((90.0, 30.5),)),),
    )  # fmt: skip
    gone = [(50, 22), (52.9, 22), (25, 22), (90, 29.6), (-0.1, 5), (50, 30.1), (500, 500)]
    assert np.isneginf(half_thickness(blade, gone, "A")).all()
    walls = [(53, 22), (20, 22), (90, 29.5), (0, 20), (50, 30)]
    np.testing.assert_allclose(half_thickness(blade, walls, "A"), 1.5)
    np.testing.assert_allclose(half_thickness(blade, [(70, 22)], "A"), 0.5)
    np.testing.assert_allclose(half_thickness(blade, [(70, 22)], "B"), 1.5)


def test_edge_breaks_fall_from_the_face_to_the_wall():
    spine = EdgeBreak(name="E", of="outline", side="A", width=0.4, angle=math.radians(30),
                      stretches=(Stretch(start=160, end=200),))  # fmt: skip
    hole = EdgeBreak(name="H", of="B", side="B", width=0.3)
    slot = EdgeBreak(name="G", of="S", side="A", width=0.3)
    blade = with_(
        breaks=(spine, hole, slot),
        bores=(Bore(name="B", centre=(50, 22), diameter=6.0),),
        slots=(Slot(name="S", outline=circle((20, 20), 4.0)),),
    )
    tan = math.tan(math.radians(30))
    half = half_thickness(blade, [(50, 30), (50, 29.8), (50, 29.6), (50, 29)], "A")
    np.testing.assert_allclose(half, [1.5 - 0.4 * tan, 1.5 - 0.2 * tan, 1.5, 1.5], atol=NM)
    np.testing.assert_allclose(half_thickness(blade, [(50, 30)], "B"), 1.5)
    np.testing.assert_allclose(half_thickness(blade, [(53.1, 22), (53.3, 22)], "B"), [1.3, 1.5])
    np.testing.assert_allclose(half_thickness(blade, [(22.1, 20)], "A"), 1.3, atol=NM)
    assert spine.depth == pytest.approx(0.4 * tan)


def test_a_break_ends_square_and_near_its_ends_either_may_stand():
    broken = EdgeBreak(name="E", of="outline", side="A", width=0.4,
                       stretches=(Stretch(start=160, end=200),))  # fmt: skip
    blade = with_(breaks=(broken,))
    # stations 160 and 200 of the plate lie at x = 70 and x = 30 of its back
    points = [(69.9, 29.9), (70.1, 29.9), (30.1, 29.9), (29.9, 29.9)]
    np.testing.assert_allclose(half_thickness(blade, points, "A"), [1.2, 1.5, 1.2, 1.5], atol=NM)
    near = broken.width + FADE_BEYOND_WIDTH_MM
    places = [(70 + 0.99 * near, 30), (69.7, 29.9), (70 - 1.01 * near, 30), (70.7, 29.3)]
    np.testing.assert_array_equal(near_break_ends(blade, places, "A"), [True, True, False, False])
    assert not near_break_ends(blade, places, "B").any()


def test_a_break_without_stretches_runs_all_round():
    for on in ((), (Stretch(start=0, end=260),)):
        broken = EdgeBreak(name="E", of="outline", side="A", width=0.4, stretches=on)
        high = break_height(broken, BLADE, [(0.1, 20), (50, 29.9), (99.9, 0.3), (50, 15)])
        np.testing.assert_allclose(high, [1.2, 1.2, 1.2, math.inf], atol=NM)
        assert not near_break_ends(with_(breaks=(broken,)), [(0, 0)], "A").any()


def test_a_break_of_nothing_says_so():
    broken = EdgeBreak(name="E", of="B9", side="A", width=0.4)
    with pytest.raises(ValueError, match="no bore or slot 'B9'"):
        break_height(broken, BLADE, [(0.1, 20)])


@pytest.mark.parametrize(
    ("record", "figures", "message"),
    [
        (EdgeBreak, {"name": "E", "of": "outline", "side": "C", "width": 0.3}, 'side="C"'),
        (EdgeBreak, {"name": "E", "of": "outline", "side": "A", "width": math.nan}, "width=nan"),
        (EdgeBreak, {"name": "E", "of": "B", "side": "A", "width": 0.3, "angle": 1.6}, "angle=1.6"),
        (Plunge, {"line": PLATE, "radius": 5.0}, "must be an open curve"),
        (Plunge, {"line": PLUNGE.line, "radius": 0.0}, "radius=0.0"),
        (
            Bevel,
            {"name": "V", "edge": Stretch(start=0, end=1), "angle": 0.1, "land": 0.3, "sides": "C"},
            'sides="C"',
        ),
        (
            Bevel,
            {
                "name": "V",
                "edge": Stretch(start=0, end=1),
                "angle": 0.1,
                "land": 0.3,
                "profile": "round",
            },
            'profile="round"',
        ),
        (
            Bevel,
            {"name": "V", "edge": Stretch(start=0, end=1), "angle": -0.1, "land": 0.3},
            "angle=-0.1",
        ),
        (
            Bevel,
            {"name": "V", "edge": Stretch(start=0, end=1), "angle": 0.1, "land": math.nan},
            "land=nan",
        ),
    ],
)
def test_records_are_checked_on_construction(record, figures, message):
    with pytest.raises(OrderError, match=message):
        record(**figures)


def test_records_with_curves_compare_and_hash():
    again = Plunge(line=polyline([(20, -5), (20, 40)], closed=False), radius=5.0)
    assert again == PLUNGE
    assert hash(again) == hash(PLUNGE)
    with pytest.raises(AttributeError):
        again.radius = 3.0


def test_points_are_rows_of_two():
    with pytest.raises(ValueError, match="must be"):
        edge_distance(BEVEL, PLATE, [(1, 2, 3)])


def test_many_points_in_any_order_give_what_few_give():
    rng = np.random.default_rng(3)
    x = np.linspace(0, 100, 60)
    wavy = np.column_stack([np.concatenate([x, x[::-1]]),
                            np.concatenate([2 * np.sin(x / 9), 30 + np.cos(x / 5)])])  # fmt: skip
    outline = Curve(wavy, np.full(120, 0.01))
    bevel = replace(BEVEL, edge=Stretch(start=5.0, end=90.0), plunges=(PLUNGE,))
    blade = Blade(outline=outline, thickness=3.0, bevels=(bevel,))
    points = rng.uniform((-3, -4), (103, 34), (12_000, 2))
    whole = half_thickness(blade, points, "A")
    few = np.concatenate([half_thickness(blade, part, "A") for part in np.array_split(points, 40)])
    np.testing.assert_array_equal(whole, few)

"""Laws of the finished surface, tried on edges of lines and arcs that Hypothesis makes up."""

from __future__ import annotations

import math

import numpy as np
import shapely
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from knifecam.blade import (
    Bevel,
    Blade,
    EdgeBreak,
    Plunge,
    bevel_height,
    edge_distance,
    half_thickness,
    prolonged_edge,
    slope_at,
)
from knifecam.curve import Curve, Stretch, mirrored

LAW = settings(
    derandomize=True,
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)

EXACT = 1e-9


@st.composite
def blades(draw: st.DrawFn) -> Blade:
    """Draw a blade whose edge bends both ways, with a plunge and a break on its back."""
    count = draw(st.integers(2, 7))
    steps = draw(st.lists(st.floats(6, 30), min_size=count, max_size=count))
    y = draw(st.lists(st.floats(-6, 6), min_size=count + 1, max_size=count + 1))
    bulges = draw(
        st.lists(st.sampled_from([0.0, 0.1, -0.1, 0.25, -0.2]), min_size=count, max_size=count)
    )
    x = np.concatenate([[0.0], np.cumsum(steps)])
    low = np.column_stack([x, y])
    high = np.array([[x[-1], 40.0], [0.0, 40.0]])
    outline = Curve(np.vstack([low, high]), np.array([*bulges, 0.0, 0.0, 0.0]))
    assume(shapely.Polygon(outline.points(1e-5)).is_valid)
    at = outline.stations
    angle = draw(st.floats(math.radians(2), math.radians(20)))
    lean = draw(st.floats(-8, 8))
    bend = draw(st.sampled_from([0.0, 0.1, -0.1]))
    line = Curve(np.array([(5.0 - lean, -30.0), (5.0 + lean, 60.0)]), np.array([bend, 0]), False)
    bevel = Bevel(
        name="V",
        edge=Stretch(start=0.0, end=float(at[count])),
        angle=angle,
        land=draw(st.floats(0.1, 0.8)),
        plunges=(Plunge(line=line, radius=draw(st.floats(2, 8))),),
        **draw(st.sampled_from([{}, {"profile": "hollow", "wheel": 900.0},
                                {"profile": "convex", "sag": 0.01}])),
    )  # fmt: skip
    back = Stretch(start=float(at[count + 1]) + 1.0, end=float(at[count + 2]) - 2.0)
    broken = EdgeBreak(name="E", of="outline", side="A", width=0.5, stretches=(back,))
    return Blade(outline=outline, thickness=3.0, bevels=(bevel,), breaks=(broken,))


def places(blade: Blade, seed: int, count: int = 400) -> np.ndarray:
    low_x, low_y, high_x, high_y = blade.outline.bounds
    rng = np.random.default_rng(seed)
    return rng.uniform((low_x - 5, low_y - 5), (high_x + 5, high_y + 5), (count, 2))


@LAW
@given(blades(), st.integers(0, 99))
def test_distance_and_side_are_shapely_s(blade, seed):
    """Second opinion: chords within 1e-7 mm of the prolonged edge, and the region on its left."""
    bevel = blade.bevels[0]
    line = prolonged_edge(bevel, blade.outline, 500.0)
    chords = shapely.LineString(line.points(1e-7))
    assume(chords.is_simple)
    points = places(blade, seed)
    got = edge_distance(bevel, blade.outline, points)
    want = shapely.distance(chords, shapely.points(points))
    np.testing.assert_allclose(np.abs(got), want, atol=2e-7)
    first, last = (np.array(chords.coords[k]) for k in (0, -1))
    far = np.array([0.0, 2000.0])
    left = shapely.Polygon([*chords.coords, last + far, first + far])
    assume(left.is_valid)
    sure = want > 1e-6
    inside = shapely.contains_xy(left, points[:, 0], points[:, 1])
    np.testing.assert_array_equal(got[sure] > 0, inside[sure])


@LAW
@given(blades(), st.integers(0, 99))
def test_no_two_distances_differ_by_more_than_the_points_are_apart(blade, seed):
    bevel = blade.bevels[0]
    points = places(blade, seed)
    chords = shapely.LineString(prolonged_edge(bevel, blade.outline, 500.0).points(1e-3))
    assume(chords.is_simple)
    d = edge_distance(bevel, blade.outline, points)
    apart = np.hypot(*(points[:, None] - points).transpose(2, 0, 1))
    assert (np.abs(d[:, None] - d) <= apart + EXACT).all()


@LAW
@given(blades(), st.integers(0, 99))
def test_nearby_heights_differ_by_no_more_than_the_steepest_slope_allows(blade, seed):
    bevel = blade.bevels[0]
    bare = Bevel(name="V", edge=bevel.edge, angle=bevel.angle, land=bevel.land,
                 profile=bevel.profile, wheel=bevel.wheel, sag=bevel.sag)  # fmt: skip
    chords = shapely.LineString(prolonged_edge(bevel, blade.outline, 500.0).points(1e-3))
    assume(chords.is_simple)
    points = places(blade, seed)
    h = bevel_height(bare, blade, points, "A")
    steepest = slope_at(bare, blade.thickness, "A", np.linspace(-1, 200, 2000)).max()
    apart = np.hypot(*(points[:, None] - points).transpose(2, 0, 1))
    assert (np.abs(h[:, None] - h) <= steepest * apart * (1 + 1e-9) + EXACT).all()


@LAW
@given(blades(), st.integers(0, 99))
def test_a_blade_with_its_edge_in_the_middle_has_two_equal_sides(blade, seed):
    points = places(blade, seed)
    bare = Blade(outline=blade.outline, thickness=blade.thickness, bevels=blade.bevels)
    a, b = (half_thickness(bare, points, side) for side in ("A", "B"))
    np.testing.assert_array_equal(a, b)


@LAW
@given(blades(), st.floats(-0.5, 0.5), st.integers(0, 99))
def test_an_edge_moved_up_is_the_edge_moved_down_seen_from_the_other_side(blade, lift, seed):
    points = places(blade, seed)

    def moved(z):
        one = blade.bevels[0]
        bevel = Bevel(name="V", edge=one.edge, angle=one.angle, land=one.land, edge_at=z,
                      plunges=one.plunges)  # fmt: skip
        return Blade(outline=blade.outline, thickness=blade.thickness, bevels=(bevel,))

    up, down = half_thickness(moved(lift), points, "A"), half_thickness(moved(-lift), points, "B")
    np.testing.assert_array_equal(up, down)


@LAW
@given(blades(), st.sampled_from("XY"), st.integers(0, 99))
def test_a_mirrored_drawing_has_the_mirrored_surface(blade, axis, seed):
    flip = np.array([1.0, -1.0] if axis == "X" else [-1.0, 1.0])
    whole = blade.outline.length

    def turned(stretch):
        return Stretch(start=whole - stretch.end, end=whole - stretch.start)

    one = blade.bevels[0]
    plunges = tuple(
        Plunge(line=mirrored(p.line, axis).reversed(), radius=p.radius) for p in one.plunges
    )
    bevel = Bevel(name="V", edge=turned(one.edge), angle=one.angle, land=one.land,
                  profile=one.profile, wheel=one.wheel, sag=one.sag, plunges=plunges)  # fmt: skip
    broken = EdgeBreak(name="E", of="outline", side="A", width=0.5,
                       stretches=tuple(turned(s) for s in blade.breaks[0].stretches))  # fmt: skip
    seen = Blade(outline=mirrored(blade.outline, axis), thickness=3.0, bevels=(bevel,),
                 breaks=(broken,))  # fmt: skip
    points = places(blade, seed)
    here, there = half_thickness(blade, points, "A"), half_thickness(seen, points * flip, "A")
    np.testing.assert_array_equal(np.isfinite(here), np.isfinite(there))
    metal = np.isfinite(here)
    np.testing.assert_allclose(here[metal], there[metal], atol=EXACT)


@LAW
@given(blades(), st.integers(1, 4), st.integers(0, 99))
def test_the_surface_does_not_depend_on_where_the_outline_starts(blade, by, seed):
    outline = blade.outline
    by %= len(outline)
    rolled = Curve(np.roll(outline.vertices, -by, axis=0), np.roll(outline.bulges, -by))
    gone = float(outline.stations[by])

    def moved(stretch):
        return Stretch(start=(stretch.start - gone) % outline.length,
                       end=(stretch.end - gone) % outline.length)  # fmt: skip

    one = blade.bevels[0]
    bevel = Bevel(name="V", edge=moved(one.edge), angle=one.angle, land=one.land,
                  profile=one.profile, wheel=one.wheel, sag=one.sag, plunges=one.plunges)  # fmt: skip
    broken = EdgeBreak(name="E", of="outline", side="A", width=0.5,
                       stretches=tuple(moved(s) for s in blade.breaks[0].stretches))  # fmt: skip
    same = Blade(outline=rolled, thickness=3.0, bevels=(bevel,), breaks=(broken,))
    points = places(blade, seed)
    here, there = half_thickness(blade, points, "A"), half_thickness(same, points, "A")
    np.testing.assert_array_equal(np.isfinite(here), np.isfinite(there))
    metal = np.isfinite(here)
    np.testing.assert_allclose(here[metal], there[metal], atol=EXACT)


@LAW
@given(blades(), st.integers(0, 99))
def test_nothing_is_thicker_than_the_plate_and_breaks_only_take(blade, seed):
    points = places(blade, seed)
    bare = Blade(outline=blade.outline, thickness=blade.thickness, bevels=blade.bevels)
    whole = half_thickness(bare, points, "A")
    assert (whole <= blade.thickness / 2).all()
    assert (half_thickness(blade, points, "A") <= whole).all()

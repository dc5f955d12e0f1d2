"""Laws of parallel curves, tried on outlines of lines and arcs that Hypothesis makes up."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon

from knifecam.curve import Curve, distance, mirrored, polyline, signed_distance
from knifecam.paths import is_measured, measure_offset, offset, unreachable
from knifecam.paths.offset import find_offset

LAW = settings(
    derandomize=True,
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow],
)

EXACT = 1e-6
TOLERANCE = 0.0005

distances = st.floats(0.3, 6.0)


@st.composite
def outlines(draw: st.DrawFn) -> Curve:
    """Draw a star of lines and arcs, either way round."""
    count = draw(st.integers(3, 16))
    gaps = np.array(draw(st.lists(st.floats(0.3, 1.0), min_size=count, max_size=count)))
    around = np.cumsum(gaps) * 2 * np.pi / gaps.sum()
    radius = np.array(draw(st.lists(st.floats(6, 25), min_size=count, max_size=count)))
    bulges = draw(st.lists(st.sampled_from([0.0, 0.2, -0.2, 0.45, -0.4]), min_size=count,
                           max_size=count))  # fmt: skip
    vertices = np.stack([2 * radius * np.cos(around), radius * np.sin(around)], axis=1)
    curve = Curve(vertices, np.array(bulges))
    assume(Polygon(curve.points(1e-6)).is_valid)
    return curve.reversed() if draw(st.booleans()) else curve


@st.composite
def convex_outlines(draw: st.DrawFn) -> Curve:
    """Draw the convex hull of some points, its corners rounded by 1 mm."""
    places = st.tuples(st.floats(-40, 40), st.floats(-15, 15))
    points = draw(st.lists(places, min_size=3, max_size=12))
    hull = shapely.MultiPoint(points).convex_hull
    assume(hull.geom_type == "Polygon" and hull.buffer(-2.0).area > 1.0)
    corners = np.array(hull.exterior.coords)[:-1]
    step = np.hypot(*(corners - np.roll(corners, 1, axis=0)).T)
    assume(step.min() > 0.01)
    return offset(polyline(corners), 1.0)[0]


@LAW
@given(outlines(), distances, st.sampled_from([1, -1]))
def test_every_place_of_a_path_keeps_its_clearance(curve: Curve, away: float, sense: int) -> None:
    found = find_offset(curve, sense * away, TOLERANCE)
    for loop in found.loops:
        off = distance(loop.points(1e-3), curve)
        assert off.min() >= away - EXACT
        assert off.max() <= away + TOLERANCE
        assert loop.lengths.min() >= 0.0019
        side = np.sign(signed_distance(loop.vertices, curve))
        assert (side == -sense).all()
    assert is_measured(
        measure_offset(curve, found.loops, sense * away, room=0.002), nearer=EXACT,
        farther=TOLERANCE,
    )  # fmt: skip


@LAW
@given(convex_outlines(), distances)
def test_convex_outline_follows_steiner(curve: Curve, away: float) -> None:
    (path,) = offset(curve, away)
    whole = curve.area + curve.length * away + math.pi * away**2
    assert path.area == pytest.approx(whole, rel=1e-9, abs=1e-4)
    assert path.length == pytest.approx(curve.length + 2 * math.pi * away, rel=1e-9, abs=1e-5)


@LAW
@given(convex_outlines(), distances)
def test_convex_outline_comes_back_from_outside(curve: Curve, away: float) -> None:
    (path,) = offset(curve, away)
    (back,) = offset(path, -away)
    assert distance(back.points(0.01), curve).max() <= 2 * EXACT
    assert distance(curve.points(0.01), back).max() <= 2 * EXACT


@LAW
@given(outlines(), distances)
def test_out_and_back_closes_bays_and_takes_nothing_off(curve: Curve, away: float) -> None:
    loops = offset(curve, away)
    assume(len(loops) == 1)
    (back,) = offset(loops[0], -away)
    assert signed_distance(back.points(0.01), curve).max() <= 2 * EXACT + TOLERANCE / 2
    assert abs(back.area) >= abs(curve.area) - EXACT * curve.length


@LAW
@given(outlines(), distances)
def test_in_and_back_opens_corners_and_puts_nothing_on(curve: Curve, away: float) -> None:
    for loop in offset(curve, -away):
        outer, *_ = offset(loop, away)
        assert signed_distance(outer.points(0.01), curve).min() >= -2 * EXACT - TOLERANCE / 2


@LAW
@given(outlines(), st.floats(0.3, 3.0), st.floats(0.3, 3.0))
def test_two_steps_outward_are_one(curve: Curve, first: float, second: float) -> None:
    once, step = offset(curve, first + second), offset(curve, first)
    assume(len(step) == 1 and len(once) == 1)
    (twice, *holes) = offset(step[0], second)
    assume(not holes)
    assert twice.area == pytest.approx(once[0].area, abs=3 * EXACT * twice.length + 1e-3)
    assert distance(twice.points(0.01), once[0]).max() <= 3 * EXACT + TOLERANCE


@LAW
@given(outlines(), distances, st.sampled_from(["X", "Y"]), st.sampled_from([1, -1]))
def test_mirrored_outline_gives_the_mirrored_path(
    curve: Curve, away: float, axis: str, sense: int
) -> None:
    loops, others = offset(curve, sense * away), offset(mirrored(curve, axis), sense * away)
    assert len(loops) == len(others)
    turned = [mirrored(loop, axis) for loop in loops]
    for loop in turned:
        gaps = [distance(loop.points(0.05), other).max() for other in others]
        assert min(gaps) <= EXACT


@LAW
@given(outlines(), st.floats(0.5, 4.0), st.sampled_from(["outside", "inside"]))
def test_what_is_not_reported_is_within_reach(curve: Curve, radius: float, side: str) -> None:
    """Everywhere but on the stretches reported the cutter comes within half a micrometre."""
    loops = offset(curve, radius if side == "outside" else -radius)
    corners = unreachable(curve, radius, side=side)  # type: ignore[arg-type]
    stations = np.linspace(0, curve.length, 700, endpoint=False)
    piece = np.clip(np.searchsorted(curve.stations, stations, side="right") - 1, 0, len(curve) - 1)
    share = (stations - curve.stations[piece]) / curve.lengths[piece]
    points = np.concatenate([
        curve.piece_points(int(k), [t]) for k, t in zip(piece, share, strict=True)
    ])  # fmt: skip
    if not loops:
        assert len(corners) == 1
        assert math.isinf(corners[0].remainder)
        return
    left_over = np.min([distance(points, loop) for loop in loops], axis=0) - radius
    reported = np.zeros(len(stations), bool)
    for corner in corners:
        gone = (stations - corner.start) % curve.length
        span = (corner.end - corner.start) % curve.length or curve.length
        reported |= gone <= span
    assert left_over[~reported].max(initial=0.0) <= 0.0006
    if corners:
        worst = max(corner.remainder for corner in corners)
        assert worst >= left_over.max() - 1e-9

"""Offsets of shapes that break offsets: closed forms, or distances, say what is right."""

from __future__ import annotations

import math

import numpy as np
import pytest

from knifecam.curve import Curve, circle, distance, mirrored, polyline, rectangle
from knifecam.errors import PlanError
from knifecam.paths import is_measured, measure_offset, offset
from knifecam.paths.offset import find_offset

QUARTER = math.tan(math.pi / 8)
"""Bulge of a quarter turn."""

D = 3.0


def rounded(length: float, width: float, radius: float) -> Curve:
    points = [(radius, 0), (length - radius, 0), (length, radius), (length, width - radius),
              (length - radius, width), (radius, width), (0, width - radius), (0, radius)]  # fmt: skip
    return polyline(points, bulges=[0, QUARTER] * 4)


def keyhole(room: float, half_neck: float) -> Curve:
    """Return a plate with a round room that opens to the right through a neck."""
    x = math.sqrt(room**2 - half_neck**2)
    sweep = math.pi - math.asin(half_neck / room)
    bulge = -math.tan(sweep / 4)
    points = [(-15, -15), (25, -15), (25, -half_neck), (x, -half_neck), (-room, 0), (x, half_neck),
              (25, half_neck), (25, 15), (-15, 15)]  # fmt: skip
    return polyline(points, bulges=[0, 0, 0, bulge, bulge, 0, 0, 0, 0])


def needle(angle_deg: float, length: float = 60.0) -> Curve:
    half = length * math.tan(math.radians(angle_deg) / 2)
    return polyline([(0, -half), (length, 0), (0, half)])


def smooth_chain(count: int = 40) -> Curve:
    """Return a closed chain of arcs, tangent where they meet, with bays, by biarcs."""
    t = np.linspace(0, 2 * np.pi, count, endpoint=False)
    r = 1 + 0.25 * np.sin(3 * t + 1) + 0.1 * np.sin(5 * t)
    dr = 0.75 * np.cos(3 * t + 1) + 0.5 * np.cos(5 * t)
    place = np.stack([60 * r * np.cos(t), 25 * r * np.sin(t)], axis=1)
    along = np.stack(
        [60 * (dr * np.cos(t) - r * np.sin(t)), 25 * (dr * np.sin(t) + r * np.cos(t))], axis=1
    )
    along /= np.hypot(*along.T)[:, None]
    vertices, bulges = [], []
    for k in range(count):
        p, q, u, v = place[k], place[(k + 1) % count], along[k], along[(k + 1) % count]
        gap = q - p
        a, b, c = 2 * (1 - u @ v), 2 * gap @ (u + v), -(gap @ gap)
        d = (-b + math.sqrt(b * b - 4 * a * c)) / (2 * a)
        joint = ((p + d * u) + (q - d * v)) / 2
        for start, end, heading, sign in ((p, joint, u, 1), (joint, q, v, -1)):
            chord = end - start
            turn = math.atan2(heading[0] * chord[1] - heading[1] * chord[0], heading @ chord)
            vertices.append(start)
            bulges.append(math.tan(sign * turn / 2))
    return polyline(vertices, bulges=bulges)


def knife() -> Curve:
    """Return a blade of 400 mm with a swell at the grip, a belly and a recurve."""
    points = [(0, 0), (120, 0), (150, 2), (300, 0), (400, 30), (260, 32), (150, 32), (120, 30),
              (60, 34), (10, 32), (0, 25)]  # fmt: skip
    return polyline(points, bulges=[0.03, -0.02, 0.02, 0.12, 0.02, 0, -0.1, -0.05, 0.08, 0.3, 0.05])


def short_lines(count: int = 3000) -> Curve:
    t = np.linspace(0, 2 * np.pi, count, endpoint=False)
    x = 100 * np.cos(t) + 3 * np.cos(2 * t)
    return polyline(np.stack([x, 15 * np.sin(t) + 2 * np.sin(3 * t) + 0.6 * np.sin(9 * t)], axis=1))


def dense_bay(count: int = 1500) -> Curve:
    """Return a 60 x 30 mm blank with a concave bay of radius 40 mm drawn with many points."""
    half = math.asin(20 / 40)
    a = np.linspace(1.5 * np.pi + half, 1.5 * np.pi - half, count)
    bay = np.stack([30 + 40 * np.cos(a), 30 + 40 * math.cos(half) + 40 * np.sin(a)], axis=1)
    return polyline(np.concatenate([[(0, 0), (60, 0), (60, 30)], bay, [(0, 30)]]))


def comb(width: float, teeth: int = 10) -> Curve:
    """Return a comb whose gaps and teeth are twice ``width`` wide."""
    points = [(0.0, 0.0), (4 * teeth * width + 2 * width, 0.0)]
    for k in range(teeth, 0, -1):
        x = 4 * k * width
        points += [(x + 2 * width, 20), (x, 20), (x, 5), (x - 2 * width, 5)]
    return polyline([*points, (2 * width, 20), (0, 20)])


SPECIMENS = {
    "circle": circle((3, 4), 20),
    "rectangle": rectangle(0, 0, 40, 20),
    "rounded, corners of the distance": rounded(40, 20, D),
    "stadium": rounded(40, 20, 10 - 1e-9),
    "fillet of the distance": polyline(
        [(0, 0), (40, 0), (40, 10), (20 + D, 10), (20, 10 + D), (20, 30), (0, 30)],
        bulges=[0, 0, 0, -QUARTER, 0, 0, 0],
    ),
    "neck that closes": keyhole(7, D),
    "neck open by a nanometre": keyhole(7, D + 1e-6),
    "neck open by a micrometre": keyhole(7, D + 1e-3),
    "neck closed by a nanometre": keyhole(7, D - 1e-6),
    "needle of 8 degrees": needle(8),
    "needle of half a degree": needle(0.5),
    "tangent arcs": smooth_chain(),
    "tangent arcs, few": smooth_chain(17),
    "knife of 400 mm": knife(),
    "crescent": polyline([(0, 0), (40, 0)], bulges=[0.5, -0.3]),
    "comb": comb(D),
    "comb, wider by a nanometre": comb(D + 1e-6),
    "dense bay": dense_bay(),
    "3,000 short lines": short_lines(),
    "all but straight arc": polyline(
        [(0, 0), (400, 0), (400, 30), (0, 30)], bulges=[1e-9, 0, -3e-12, 0.2]
    ),
    "repeated vertex": polyline([(0, 0), (0, 0), (40, 0), (40, 0), (40, 20), (0, 20)]),
    "far from the origin": Curve(knife().vertices + np.array([4000, -2500]), knife().bulges),
}


@pytest.mark.parametrize("distance_", [D, -D, 0.5, -0.5, 1.7, -1.7])
@pytest.mark.parametrize("name", SPECIMENS)
def test_specimens_measure_right(name: str, distance_: float) -> None:
    curve = SPECIMENS[name]
    found = find_offset(curve, distance_, 0.0005)
    assert found.way == "exact"
    deviation = measure_offset(curve, found.loops, distance_)
    assert is_measured(deviation, nearer=1e-6, farther=1e-4), deviation
    for loop in found.loops:
        ours = distance(loop.points(1e-3), curve)
        assert np.abs(ours - abs(distance_)).max() < 1e-4
        assert loop.lengths.min() >= 0.002
        assert np.abs(loop.bulges).max() <= 1


@pytest.mark.parametrize("name", SPECIMENS)
def test_sense_of_travel_does_not_matter(name: str) -> None:
    curve = SPECIMENS[name]
    for away in (D, -D):
        one, other = offset(curve, away), offset(curve.reversed(), away)
        assert [loop.area for loop in one] == pytest.approx([loop.area for loop in other], abs=1e-4)


def test_circle_outward_and_inward() -> None:
    for away in (2.0, -2.0, -9.0, -9.99):
        (path,) = offset(circle((3, 4), 20), away)
        assert len(path) == 2
        np.testing.assert_allclose(path.radii, 10 + away, rtol=1e-13)
        np.testing.assert_allclose(path.centres, [[3, 4], [3, 4]], atol=1e-13)


@pytest.mark.parametrize("away", [-10.0, -10.5, -400.0])
def test_nothing_is_left_of_what_is_too_narrow(away: float) -> None:
    for curve in (circle((3, 4), 20), rectangle(0, 0, 40, 20), rounded(40, 20, 5)):
        assert offset(curve, away) == ()


def test_rounded_corner_of_the_distance_becomes_sharp() -> None:
    (path,) = offset(rounded(40, 20, D), -D)
    np.testing.assert_allclose(
        sorted(path.vertices.tolist()), [[3, 3], [3, 17], [37, 3], [37, 17]], atol=1e-9
    )
    assert path.corners is not None
    assert path.corners.all()


def test_outward_loop_is_smooth() -> None:
    (path,) = offset(knife(), D)
    turn = path.start_headings - np.roll(path.end_headings, 1)
    turn = (turn + np.pi) % (2 * np.pi) - np.pi
    corners = path.corners
    assert corners is not None
    assert np.abs(turn[~corners]).max() < 1e-9


def test_bay_that_closes_gives_a_clockwise_hole() -> None:
    outer, hole = offset(keyhole(7, D - 0.01), D)
    assert outer.area > 0 > hole.area
    np.testing.assert_allclose(sorted(hole.radii), [D, D, 7 - D, 7 - D], atol=1e-9)


@pytest.mark.parametrize("more", [0.0, 1e-13, 1e-11, -1e-11, 1e-9, 1e-8, 1e-7, -1e-7, 1e-6, 1e-5])
def test_necks_about_to_close_never_defeat_it(more: float) -> None:
    outlines = [keyhole(7, D + more), comb(D + more), rounded(40, 2 * (D + more), D - 1e-6),
                polyline([(0, 0), (40, 0), (40, 20), (23 + more, 20), (23 + more, 8), (17 - more, 8),
                          (17 - more, 20), (0, 20)])]  # fmt: skip
    for curve in outlines:
        for away in (D, -D):
            found = find_offset(curve, away, 0.0005)
            assert found.deviation.nearer <= 1e-6
            assert found.deviation.farther <= 0.0005


def test_dense_bay_has_the_area_another_library_gets_wrong() -> None:
    """The outline of 1,500 points that loses 16 mm2 in a well-known buffer."""
    (path,) = offset(dense_bay(), -3.0)
    assert path.area == pytest.approx(1145.51, abs=0.005)


def test_outline_of_many_points_agrees_with_its_arc() -> None:
    drawn = dense_bay(4000)
    half = math.asin(20 / 40)
    arc = polyline(
        [(0, 0), (60, 0), (60, 30), (50, 30), (10, 30), (0, 30)],
        bulges=[0, 0, 0, -math.tan(half / 2), 0, 0],
    )
    assert offset(drawn, -3.0)[0].area == pytest.approx(offset(arc, -3.0)[0].area, abs=1e-3)


def test_mirrored_outline_gives_the_mirrored_path() -> None:
    for curve in (knife(), smooth_chain(), keyhole(7, 2.0)):
        for axis in ("X", "Y"):
            for away in (D, -D):
                one, other = offset(curve, away), offset(mirrored(curve, axis), away)
                for a, b in zip(one, other, strict=True):
                    off = distance(mirrored(a, axis).points(0.01), b)
                    assert off.max() < 1e-9


def test_distance_0_gives_the_curve_counter_clockwise() -> None:
    (path,) = offset(knife().clockwise(), 0.0)
    assert path.area > 0
    assert path.length == knife().length


def test_outline_that_crosses_itself_is_refused_with_the_place() -> None:
    bow = polyline([(0, 0), (40, 20), (40, 0), (0, 20)])
    for away in (2.0, -2.0):
        with pytest.raises(PlanError, match=r"crosses or touches itself at \(20\.0000, 10\.0000\)"):
            offset(bow, away)


@pytest.mark.parametrize("away", [math.nan, math.inf])
def test_distance_must_be_finite(away: float) -> None:
    with pytest.raises(ValueError, match="must be finite"):
        offset(circle((0, 0), 10), away)


def test_open_curve_encloses_nothing() -> None:
    with pytest.raises(ValueError, match="close it first"):
        offset(polyline([(0, 0), (10, 0)], closed=False), 1.0)


def test_same_curve_same_bytes() -> None:
    one, other = offset(knife(), -D), offset(Curve(knife().vertices, knife().bulges), -D)
    assert [p.vertices.tobytes() for p in one] == [p.vertices.tobytes() for p in other]

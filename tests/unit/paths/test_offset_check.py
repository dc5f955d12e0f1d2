"""The measure must find what is wrong with an offset: each fault is made on purpose."""

from __future__ import annotations

import numpy as np
import pytest

from knifecam.curve import Curve, circle, polyline, rectangle
from knifecam.paths import is_measured, measure_offset, offset

BLANK = polyline(
    [(0, 0), (60, 0), (60, 30), (40, 30), (20, 30), (0, 30)], bulges=[0, 0, 0, 0.3, 0, 0]
)


def right(loops: tuple[Curve, ...], distance: float) -> bool:
    deviation = measure_offset(BLANK, loops, distance)
    return is_measured(deviation, nearer=1e-6, farther=1e-6)


@pytest.mark.parametrize("distance", [2.0, -2.0])
def test_right_offset_measures_right(distance: float) -> None:
    assert right(offset(BLANK, distance), distance)


@pytest.mark.parametrize("distance", [2.0, -2.0])
@pytest.mark.parametrize("off", [1e-5, -1e-5])
def test_path_at_another_distance_is_found(distance: float, off: float) -> None:
    loops = offset(BLANK, distance + off)
    deviation = measure_offset(BLANK, loops, distance)
    outside = (off > 0) == (distance > 0)
    assert (deviation.farther if outside else deviation.nearer) == pytest.approx(1e-5, rel=1e-6)
    assert not right(loops, distance)


def test_bulge_between_vertices_is_found() -> None:
    """All vertices stay where they should be: only what lies between is wrong."""
    (path,) = offset(BLANK, -2.0)
    line = int(np.argmax(np.where(path.is_arc, 0, path.lengths)))
    for bulge in (1e-6, -1e-6):
        bulges = path.bulges.copy()
        bulges[line] = bulge
        wrong = (Curve(path.vertices, bulges),)
        deviation = measure_offset(BLANK, wrong, -2.0)
        assert max(deviation.nearer, deviation.farther) == pytest.approx(
            path.lengths[line] / 2 * 1e-6, rel=1e-3
        )


def test_narrow_intrusion_between_vertices_is_found() -> None:
    """A spike that ends 2.0 - 0.001 from the path's long side."""
    spike = polyline([(0, 0), (29.9, 0), (30, 8.001), (30.1, 0), (60, 0), (60, 30), (0, 30)])
    straight = offset(rectangle(0, -10, 60, 30), -20.0 + 1e-9)
    assert straight == ()
    box = (rectangle(2.0, 10.0, 58.0, 28.0),)
    deviation = measure_offset(spike, box, -2.0)
    assert deviation.nearer == pytest.approx(0.001, abs=1e-4)


def test_missing_loop_is_found() -> None:
    waist = polyline([(0, 0), (20, 8), (40, 0), (40, 20), (20, 12), (0, 20)])
    both = offset(waist, -2.5)
    assert len(both) == 2
    assert is_measured(measure_offset(waist, both, -2.5), nearer=1e-6, farther=1e-6)
    for one in both:
        deviation = measure_offset(waist, (one,), -2.5)
        assert deviation.nearer < 1e-9
        assert deviation.missed > 5


def test_missing_hole_of_corner_arcs_alone_is_found() -> None:
    """Three points reach into a room: the hole touches nothing but their tips."""
    star = []
    for k in range(3):
        a = 2 * np.pi * k / 3
        star += [(3.2 * np.cos(a), 3.2 * np.sin(a)), (20 * np.cos(a + 1), 20 * np.sin(a + 1))]
    room = polyline(star)
    loops = offset(room, -3.0)
    deviation = measure_offset(room, (), -3.0)
    assert loops
    assert deviation.missed == np.inf


def test_path_all_missing_is_found() -> None:
    assert not right((), -2.0)
    assert not right((), 2.0)


def test_path_on_the_other_side_is_found() -> None:
    for distance in (2.0, -2.0):
        assert not measure_offset(BLANK, offset(BLANK, -distance), distance).loops_right


def test_loops_the_wrong_way_round_are_found() -> None:
    for distance in (2.0, -2.0):
        turned = tuple(loop.reversed() for loop in offset(BLANK, distance))
        assert not measure_offset(BLANK, turned, distance).loops_right


def test_empty_inside_is_right_where_nothing_fits() -> None:
    deviation = measure_offset(circle((0, 0), 5), (), -2.5)
    assert is_measured(deviation, nearer=0.0, farther=0.0)


def test_nan_is_not_measured_right() -> None:
    deviation = measure_offset(BLANK, offset(BLANK, 2.0), 2.0)
    assert not is_measured(deviation, nearer=float("nan"), farther=1.0)

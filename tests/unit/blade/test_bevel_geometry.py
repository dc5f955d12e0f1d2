"""What follows from a bevel's figures, against places and radii worked out by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import Bevel, Blade, Plunge, bevel_height
from knifecam.blade.bevel_geometry import (
    corner_turns,
    grind_line,
    least_turn_radius,
    plunge_border,
    plunge_run,
    plunge_wall,
    ridges,
    width_at,
)
from knifecam.blade.cutter_limits import distance_frame, hollow_radius, least_plunge_radius
from knifecam.curve import Curve, Stretch, polyline, rectangle
from knifecam.curve.distance import signed_line_distance

PLATE = rectangle(0, 0, 100, 30)
PLUNGE = Plunge(line=polyline([(20, -5), (20, 40)], closed=False), radius=5.0)
BEVEL = Bevel(name="V", edge=Stretch(start=0, end=100), angle=math.atan(1.3 / 15), land=0.4)
BLADE = Blade(outline=PLATE, thickness=3.0, bevels=(BEVEL,))


def test_the_grind_line_lies_the_grind_height_over_the_edge():
    (run,) = grind_line(BEVEL, BLADE, "A")
    np.testing.assert_allclose(run[:, 1], 15.0, atol=1e-9)
    np.testing.assert_allclose(run[[0, -1], 0], [0, 100], atol=2e-6)
    assert np.diff(run[:, 0]).max() <= 0.1 + 1e-9


def test_the_grind_line_ends_at_the_plunge_s_line():
    bevel = replace(BEVEL, plunges=(PLUNGE,))
    (run,) = grind_line(bevel, BLADE, "B")
    np.testing.assert_allclose(run[[0, -1], 0], [20, 100], atol=2e-6)


def test_a_plunge_meets_the_flat_along_its_run():
    bevel = replace(BEVEL, plunges=(PLUNGE,))
    up = 1.3 * math.cos(BEVEL.angle)
    run = math.sqrt(25 - (5 - up) ** 2)
    assert plunge_run(bevel, PLUNGE, 3.0, "A") == pytest.approx(run)
    assert run == pytest.approx(3.3577, abs=5e-5)
    border = plunge_border(bevel, PLUNGE, BLADE, "A")
    at_edge = border[np.argmin(np.abs(border[:, 1]))]
    assert at_edge[0] == pytest.approx(20 - run, abs=1e-9)
    for x, y in border:  # where the cylinder's rise is what the bevel lacks
        lack = 1.3 - y * 1.3 / 15
        assert (5 - math.sqrt(25 - (20 - x) ** 2)) / math.cos(BEVEL.angle) == pytest.approx(
            lack, abs=1e-9
        )


def test_a_small_plunge_ends_in_a_plumb_wall():
    small = replace(PLUNGE, radius=1.0)
    cos = math.cos(BEVEL.angle)
    assert plunge_run(BEVEL, small, 3.0, "A") == pytest.approx(1.0)
    assert plunge_wall(BEVEL, small, 3.0, "A") == pytest.approx(1.3 - 1 / cos)
    assert plunge_wall(BEVEL, PLUNGE, 3.0, "A") == 0.0


def belly(radius):
    """A blade whose edge runs 60 mm straight and turns up by 60 degrees."""
    turn = math.pi / 3
    end = (60 + radius * math.sin(turn), radius * (1 - math.cos(turn)))
    points = [(0, 0), (60, 0), end, (end[0] + 5, 40), (0, 40)]
    outline = polyline(points, bulges=[0, math.tan(turn / 4), 0, 0, 0])
    stretch = Stretch(start=0, end=float(outline.stations[2]))
    return replace(BEVEL, edge=stretch), replace(BLADE, outline=outline)


def test_a_belly_tighter_than_the_bevel_is_wide_has_a_ridge():
    bevel, blade = belly(14.0)
    (ridge,) = ridges(bevel, blade, "A", spacing=0.05)
    assert ridge.radius == pytest.approx(14.0)
    # d is the distance to the nearest place: mirror both tangents at the turn's middle
    half = 15 * math.tan(math.pi / 6)  # where the two straight bevels' grind lines meet
    meet = 60 + 14 * math.tan(math.pi / 6) - half
    assert ridge.stretch.start == pytest.approx(meet, abs=0.06)
    assert ridges(*belly(15.5), "A") == ()


def test_a_corner_of_the_edge_starts_a_ridge():
    outline = polyline([(0, 0), (60, 0), (90, 10), (90, 40), (0, 40)])
    bevel = replace(BEVEL, edge=Stretch(start=0, end=float(outline.stations[2])))
    (ridge,) = ridges(bevel, replace(BLADE, outline=outline), "A")
    assert ridge.radius == 0.0
    assert ridge.stretch.start < 60 < ridge.stretch.end


def test_the_grind_line_breaks_off_where_a_ridge_stands():
    bevel, blade = belly(14.0)
    runs = grind_line(bevel, blade, "A")
    assert len(runs) == 2
    np.testing.assert_allclose(runs[0][-1], runs[1][0], atol=1e-3)


def test_turning_radii_are_told_by_side():
    smooth = polyline([(0, 0), (10, 0)], closed=False, bulges=[0.5, 0])
    assert least_turn_radius(smooth, "left") == pytest.approx(6.25)
    assert least_turn_radius(smooth, "right") == math.inf
    assert least_turn_radius(smooth.reversed(), "right") == pytest.approx(6.25)
    assert least_turn_radius(PLATE, "left") == 0.0
    assert least_turn_radius(PLATE, "right") == math.inf
    np.testing.assert_allclose(corner_turns(PLATE), math.pi / 2)


def test_the_width_is_measured_square_to_the_outline():
    assert width_at(PLATE, 50.0) == pytest.approx(30.0)
    assert width_at(PLATE, 110.0) == pytest.approx(100.0)


def test_the_hollow_of_a_square_plunge_is_its_own_radius():
    bevel = replace(BEVEL, plunges=(PLUNGE,))
    assert least_plunge_radius(bevel, PLUNGE, BLADE, "A") == pytest.approx(5.0, abs=1e-9)


def test_a_slanted_plunge_hollows_by_monge_s_formula():
    """At the line itself a slant by p gives Rp / (1 - sin^2 a sin^2 p), worked out by hand."""
    for slant in (-30, 0, 30, 45):
        c, s = math.cos(math.radians(slant)), math.sin(math.radians(slant))
        line = polyline([(50 - 40 * s, -40 * c), (50 + 40 * s, 40 * c)], closed=False)
        plunge = Plunge(line=line, radius=5.0)
        at_line = hollow_radius(
            replace(BEVEL, plunges=(plunge,)), plunge, BLADE, [(50.0, 0.0)], "A"
        )
        want = 5 / (1 - (math.sin(BEVEL.angle) * s) ** 2)
        assert at_line[0] == pytest.approx(want, abs=1e-9)


@pytest.mark.parametrize("figures", [{}, {"profile": "hollow", "wheel": 100.0},
                                     {"profile": "convex", "sag": 0.2}])  # fmt: skip
@pytest.mark.parametrize("line", [[(24, -8, 0), (16, 40, 0)], [(22, -8, 0.1), (18, 40, 0)],
                                  [(22, -8, -0.1), (18, 40, 0)]])  # fmt: skip
def test_hollows_agree_with_differences_of_the_surface(figures, line):
    rows = np.array(line, float)
    plunge = Plunge(line=Curve(rows[:, :2], rows[:, 2], False), radius=6.0)
    bevel = replace(BEVEL, plunges=(plunge,), **figures)
    rng = np.random.default_rng(5)
    points = rng.uniform((14, 0.5), (24, 14), (400, 2))
    s = signed_line_distance(points, plunge.line)
    points = points[(s > 0.2) & (s < 4)]
    step = 2e-4

    def z(dx, dy):
        return bevel_height(bevel, BLADE, points + step * np.array([dx, dy]), "A")

    p, q = (z(1, 0) - z(-1, 0)) / 2 / step, (z(0, 1) - z(0, -1)) / 2 / step
    xx, yy = (
        (z(1, 0) - 2 * z(0, 0) + z(-1, 0)) / step**2,
        (z(0, 1) - 2 * z(0, 0) + z(0, -1)) / step**2,
    )
    xy = (z(1, 1) - z(1, -1) - z(-1, 1) + z(-1, -1)) / 4 / step**2
    metric = np.stack([np.stack([1 + p * p, p * q], -1), np.stack([p * q, 1 + q * q], -1)], -2)
    bend = np.stack([np.stack([xx, xy], -1), np.stack([xy, yy], -1)], -2)
    bend /= np.sqrt(1 + p * p + q * q)[:, None, None]
    most = np.linalg.eigvals(np.linalg.inv(metric) @ bend).real.max(axis=1)
    got = hollow_radius(bevel, plunge, BLADE, points, "A")
    assert len(points) > 50
    np.testing.assert_allclose(1 / got, np.maximum(most, 0), atol=2e-6)


def test_the_frame_of_a_distance_agrees_with_differences():
    edge = Curve(np.array([(0, 0), (20, 0), (30, 5), (45, 0), (60, 12)]),
                 np.array([0.0, 0.2, -0.3, 0.1, 0]), False)  # fmt: skip
    rng = np.random.default_rng(6)
    points = rng.uniform((-10, -10), (70, 25), (500, 2))
    step = 1e-4
    d, normal, bend = distance_frame(points, edge)
    along = np.column_stack([normal[:, 1], -normal[:, 0]])
    ahead, behind = (signed_line_distance(points + k * step * along, edge) for k in (1, -1))
    up, down = (signed_line_distance(points + k * step * normal, edge) for k in (1, -1))
    smooth = np.abs(up - down - 2 * step) < 1e-9  # not on a ridge
    smooth &= (np.abs(ahead - behind) < 1e-9) & (np.abs(d) > 0.3) & (np.abs(bend) < 2)
    assert smooth.mean() > 0.8
    got = (ahead - 2 * d + behind) / step**2
    np.testing.assert_allclose(bend[smooth], got[smooth], atol=1e-4)


def test_turns_too_small_to_be_corners_do_not_tighten_a_plunge():
    """A straight edge drawn as 0.5 mm pieces that zigzag by half a milliradian."""
    x = np.arange(0, 101, 0.5)
    y = np.where(np.arange(len(x)) % 2 == 0, 0.0, 1.2e-4)
    outline = polyline(np.vstack([np.column_stack([x, y]), [(100, 30), (0, 30)]]))
    edge = Stretch(start=float(outline.stations[2]), end=float(outline.stations[196]))
    bevel = replace(BEVEL, edge=edge, plunges=(PLUNGE,))
    blade = replace(BLADE, outline=outline)
    assert least_plunge_radius(bevel, PLUNGE, blade, "A") == pytest.approx(5.0, abs=0.01)

"""Each kind of entity is read as the lines and arcs it is made of."""

from __future__ import annotations

import math

import numpy as np
import pytest

from knifecam.drawing import read_drawing
from knifecam.quantity import told

MICRON = 1e-3
NANO = 1e-6


def only(drawing):
    (chain,) = drawing.chains
    return chain


def test_line_is_itself(dxf):
    path = dxf(lambda d: d.modelspace().add_line((1, 2), (4, 6)))
    chain = only(read_drawing(path))
    assert not chain.closed
    assert chain.curve.vertices.tolist() == [[1, 2], [4, 6]]
    assert chain.curve.length == 5


def test_circle_passes_untouched(dxf):
    path = dxf(lambda d: d.modelspace().add_circle((3, -2), 2.5))
    chain = only(read_drawing(path))
    assert chain.round == ((3.0, -2.0), 5.0)
    assert chain.curve.length == pytest.approx(5 * math.pi, abs=1e-12)


@pytest.mark.parametrize(("low", "high"), [(0, 90), (350, 20), (10, 200), (90, 40), (-30, 30)])
def test_arc_runs_counter_clockwise_from_start_to_end(dxf, low, high):
    path = dxf(lambda d: d.modelspace().add_arc((1, 1), 4, low, high))
    curve = only(read_drawing(path)).curve
    sweep = math.radians((high - low) % 360)
    assert curve.length == pytest.approx(4 * sweep, abs=1e-9)
    ends = {tuple(np.round(curve.vertices[k], 9)) for k in (0, -1)}
    wanted = {
        tuple(np.round((1 + 4 * math.cos(math.radians(a)), 1 + 4 * math.sin(math.radians(a))), 9))
        for a in (low, high)
    }
    assert ends == wanted
    middle = math.radians(low) + sweep / 2
    away = np.hypot(*(curve.points(1e-5) - (1 + 4 * math.cos(middle), 1 + 4 * math.sin(middle))).T)
    assert away.min() < 0.05


def test_lightweight_polyline_keeps_its_bulges(dxf):
    rows = [(0, 0, 0), (10, 0, 1), (10, 6, 0), (0, 6, 0)]
    path = dxf(lambda d: d.modelspace().add_lwpolyline(rows, format="xyb", close=True))
    chain = only(read_drawing(path))
    assert chain.closed
    assert chain.curve.area == pytest.approx(60 + math.pi * 9 / 2, abs=1e-9)
    assert chain.bounds == pytest.approx((0, 0, 13, 6), abs=1e-9)


def test_bulge_above_one_is_an_arc_of_more_than_half_a_turn(dxf):
    rows = [(0, 0, math.tan(math.radians(270) / 4)), (2, 0, 0)]
    path = dxf(lambda d: d.modelspace().add_lwpolyline(rows, format="xyb", close=True))
    curve = only(read_drawing(path)).curve
    radius = math.sqrt(2)
    assert curve.length == pytest.approx(radius * 1.5 * math.pi + 2, abs=1e-9)
    assert curve.area == pytest.approx(radius**2 * 0.75 * math.pi + 1, abs=1e-9)


def test_old_polylines_flat_in_2d_and_3d(dxf):
    def draw(d):
        d.modelspace().add_polyline2d([(0, 0, 0), (4, 0, 1), (4, 2, 0)], format="xyb", close=True)
        d.modelspace().add_polyline3d([(10, 0, 5), (14, 0, 5), (14, 3, 5)], close=True)

    drawing = read_drawing(dxf(draw, version="R12"), strict=False)
    areas = sorted(round(chain.curve.area, 9) for chain in drawing.loops)
    assert areas == [round(4 + math.pi / 2, 9), 6.0]


def test_spline_control_frame_of_a_smoothed_polyline_is_not_drawn(dxf):
    def draw(d):
        line = d.modelspace().add_polyline2d([(0, 0), (5, 0), (10, 0)])
        line.append_vertex((5, 9), dxfattribs={"flags": 16})

    assert only(read_drawing(dxf(draw))).bounds == pytest.approx((0, 0, 10, 0))


def test_ellipse_is_followed_within_a_micron(dxf):
    path = dxf(lambda d: d.modelspace().add_ellipse((5, 5), (30, 10), 0.4))
    curve = only(read_drawing(path)).curve
    assert curve.closed
    assert not curve.corners.any()
    u = np.array([30.0, 10.0])
    v = 0.4 * np.array([-10.0, 30.0])
    seen = np.linalg.solve(np.stack([u, v], axis=1), (curve.points(1e-5) - (5, 5)).T)
    # off the unit circle by dr, off the ellipse by at most dr times the long axis
    assert np.abs(np.hypot(*seen) - 1).max() * np.hypot(30, 10) <= MICRON * np.hypot(*u) / 12


def test_part_of_an_ellipse_starts_and_ends_where_it_should(dxf):
    path = dxf(lambda d: d.modelspace().add_ellipse((0, 0), (20, 0), 0.5, 0.3, 2.0))
    curve = only(read_drawing(path)).curve
    wanted = [(20 * math.cos(t), 10 * math.sin(t)) for t in (0.3, 2.0)]
    ends = sorted(curve.vertices[[0, -1]].tolist())
    assert np.allclose(ends, sorted(wanted), atol=NANO)


def test_round_ellipse_is_a_circle(dxf):
    path = dxf(lambda d: d.modelspace().add_ellipse((1, 2), (0, 3), 1.0))
    assert only(read_drawing(path)).round == (pytest.approx((1, 2)), pytest.approx(6))


def test_spline_keeps_a_true_corner_and_smooths_none(dxf):
    def draw(d):
        spline = d.modelspace().add_spline(degree=3)
        spline.control_points = [(0, 0), (5, 8), (10, 8), (15, 0), (20, 8), (25, 8), (30, 0)]
        spline.knots = [0, 0, 0, 0, 1, 1, 1, 2, 2, 2, 2]

    curve = only(read_drawing(dxf(draw))).curve
    (corner,) = np.flatnonzero(curve.corners)
    assert curve.vertices[corner].tolist() == pytest.approx([15, 0], abs=NANO)


def test_spline_of_degree_one_is_its_lines(dxf):
    def draw(d):
        spline = d.modelspace().add_spline(degree=1)
        spline.control_points = [(0, 0), (5, 0), (5, 5)]
        spline.knots = [0, 0, 1, 2, 2]

    curve = only(read_drawing(dxf(draw))).curve
    assert curve.vertices.tolist() == [[0, 0], [5, 0], [5, 5]]


def test_spline_of_fit_points_passes_through_them(dxf):
    points = [(0, 0), (10, 4), (20, -3), (30, 5)]
    path = dxf(lambda d: d.modelspace().add_spline(points))
    curve = only(read_drawing(path)).curve
    dense = curve.points(1e-6)
    for point in points:
        assert np.hypot(*(dense - point).T).min() < 0.02


def test_closed_spline_of_fit_points_alone_is_a_problem(dxf):
    def draw(d):
        spline = d.modelspace().add_spline([(0, 0), (9, 0), (9, 9), (0, 0)])
        spline.closed = True

    (problem,) = read_drawing(dxf(draw), strict=False).problems
    assert problem.kind == "unreadable"
    assert "control points" in str(problem)


def test_rational_spline_of_a_circle_is_a_bore(dxf):
    half = math.sqrt(0.5)

    def draw(d):
        spline = d.modelspace().add_spline(degree=2)
        spline.control_points = [
            (5, 0), (5, 5), (0, 5), (-5, 5), (-5, 0), (-5, -5), (0, -5), (5, -5), (5, 0),
        ]  # fmt: skip
        spline.knots = [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4]
        spline.weights = [1, half, 1, half, 1, half, 1, half, 1]

    centre, diameter = only(read_drawing(dxf(draw))).round
    assert centre == pytest.approx((0, 0), abs=NANO)
    assert diameter == pytest.approx(10, abs=NANO)


def test_points_are_kept_as_marks_by_layer(dxf):
    def draw(d):
        d.modelspace().add_point((3, 4), dxfattribs={"layer": "TABS"})
        d.modelspace().add_line((0, 0), (1, 0))

    (mark,) = read_drawing(dxf(draw)).marks
    assert (mark.origin.layer, mark.place) == ("TABS", (3.0, 4.0))


def test_what_is_not_geometry_is_listed_and_left_out(dxf):
    def draw(d):
        space = d.modelspace()
        space.add_line((0, 0), (1, 0))
        space.add_text("BACK", dxfattribs={"layer": "NOTES"})
        space.add_mtext("EDGE", dxfattribs={"layer": "NOTES"})
        space.add_hatch()
        space.add_xline((0, 0), (1, 0))

    drawing = read_drawing(dxf(draw))
    assert [(item.kind, item.layer, item.count) for item in drawing.left_out] == [
        ("HATCH", "0", 1),
        ("XLINE", "0", 1),
        ("MTEXT", "NOTES", 1),
        ("TEXT", "NOTES", 1),
    ]


@pytest.mark.parametrize("state", ["off", "freeze"])
def test_hidden_layers_are_left_out_and_told(dxf, state):
    def draw(d):
        layer = d.layers.add("HELP")
        getattr(layer, state)()
        d.modelspace().add_line((0, 0), (1, 0))
        d.modelspace().add_line((5, 0), (6, 0), dxfattribs={"layer": "HELP"})

    drawing = read_drawing(dxf(draw))
    assert len(drawing.pieces) == 1
    (item,) = drawing.left_out
    assert (item.kind, item.layer) == ("LINE", "HELP")


def test_mirrored_extrusion_mirrors_the_entity(dxf):
    down = {"extrusion": (0, 0, -1)}

    def draw(d):
        space = d.modelspace()
        space.add_arc((10, 0), 2, 0, 90, dxfattribs=down)
        space.add_lwpolyline([(1, 5, 1), (3, 5, 0)], format="xyb", dxfattribs=down)
        space.add_circle((20, 1), 1, dxfattribs=down)

    chains = read_drawing(dxf(draw)).chains
    # OCS with Z down: x runs the other way (DXF reference, arbitrary axis algorithm)
    assert chains[0].bounds == pytest.approx((-12, 0, -10, 2), abs=NANO)
    assert chains[1].bounds == pytest.approx((-3, 4, -1, 5), abs=NANO)
    assert chains[2].round[0] == pytest.approx((-20, 1))


@pytest.mark.parametrize(
    "draw",
    [
        lambda s: s.add_line((0, 0, 0), (5, 0, 2)),
        lambda s: s.add_circle((0, 0), 3, dxfattribs={"extrusion": (0, 1, 1)}),
        lambda s: s.add_polyline3d([(0, 0, 0), (5, 0, 0), (5, 5, 1)]),
        lambda s: s.add_ellipse((0, 0, 0), (4, 0, 3), 0.5),
    ],
    ids=["line", "circle", "polyline", "ellipse"],
)
def test_off_the_plane_is_a_problem_that_names_itself(dxf, draw):
    drawing = read_drawing(dxf(lambda d: draw(d.modelspace())), strict=False)
    (problem,) = drawing.problems
    assert problem.kind == "off-plane"
    assert problem.handle
    assert "out of the XY plane" in str(problem)


def test_one_height_is_taken_as_flat_two_are_a_problem(dxf):
    def draw(d, *heights):
        for k, z in enumerate(heights):
            d.modelspace().add_circle((10 * k, 0, z), 3)

    level = read_drawing(dxf(lambda d: draw(d, 7, 7)))
    assert "z=7 mm" in told(level.notes[0])
    drawing = read_drawing(dxf(lambda d: draw(d, 0, 0, 0, 4, 4)), strict=False)
    (problem,) = drawing.problems
    assert problem.kind == "off-plane"
    assert "it and 1 more lie at z=4 mm" in str(problem)


def test_numbers_that_are_not_finite_are_a_problem(dxf):
    path = dxf(lambda d: d.modelspace().add_line((0, 0), (123.5, 0)))
    path.write_text(path.read_text().replace("123.5", "nan"))
    (problem,) = read_drawing(path, strict=False).problems
    assert problem.kind == "unreadable"
    assert "finite" in str(problem)


def test_what_lies_too_far_away_is_a_problem_at_once(dxf):
    def draw(space):
        space.add_ellipse((0, 0), (3e8, 0), 0.5)
        space.add_line((0, 0), (1e7, 0))
        space.add_spline([(0, 0), (1e7, 4), (2e7, 1)])

    problems = read_drawing(dxf(lambda d: draw(d.modelspace())), strict=False).problems
    assert [p.kind for p in problems] == ["unreadable"] * 3
    told = "further than 1000000 mm from the origin: move the drawing nearer to it"
    assert all(told in str(p) for p in problems)

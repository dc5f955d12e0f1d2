"""Repairs and problems: each of its kind, with layer, handle, place and size."""

from __future__ import annotations

import math

import numpy as np
import pytest

from knifecam.drawing import read_drawing
from knifecam.drawing.chains import join_pieces
from knifecam.drawing.drawing_record import Origin, Piece
from knifecam.errors import DrawingError

MICRON = 1e-3
PROFILE = {"layer": "PROFILE"}


def box(space, *, low=(0, 0), high=(40, 20), layer="PROFILE", shift=0.0):
    """Draw a rectangle of four lines, the first of which starts ``shift`` too far right."""
    (a, b), (c, d) = low, high
    corners = [(a, b), (c, b), (c, d), (a, d)]
    lines = []
    for k in range(4):
        start = np.array(corners[k], float) + ((shift, 0) if k == 0 else (0, 0))
        lines.append(space.add_line(start, corners[(k + 1) % 4], dxfattribs={"layer": layer}))
    return lines


def read(dxf, draw, **options):
    handles = {}

    def drawn(d):
        made = draw(d.modelspace())
        if isinstance(made, dict):
            handles.update({name: entity.dxf.handle for name, entity in made.items()})

    units = options.pop("units", 4)
    return read_drawing(dxf(drawn, units=units), strict=False, **options), handles


def test_twin_is_left_out(dxf):
    def draw(space):
        lines = box(space)
        return {"twin": space.add_line((40, 20), (40, 0), dxfattribs=PROFILE), "own": lines[1]}

    drawing, handles = read(dxf, draw)
    (repair,) = drawing.repairs
    assert (repair.kind, repair.layer, repair.handle) == ("twin", "PROFILE", handles["twin"])
    assert repair.place == pytest.approx((40, 10))
    assert repair.size == pytest.approx(20)
    assert f"twin of handle {handles['own']}" in str(repair)
    assert not drawing.problems
    assert len(drawing.loops) == 1
    assert len(drawing.loops[0].curve) == 4


def test_twin_of_a_circle_that_is_drawn_as_two_arcs(dxf):
    def draw(space):
        space.add_circle((5, 5), 2)
        space.add_arc((5, 5), 2, 30, 210)
        space.add_arc((5, 5), 2, 210, 30)

    drawing, _ = read(dxf, draw)
    assert len(drawing.loops) == len(drawing.chains) == 1
    assert not drawing.problems
    assert {r.kind for r in drawing.repairs} == {"overlaid"}


def test_closed_polyline_drawn_twice_is_a_twin(dxf):
    def draw(space):
        points = [(0, 0), (9, 0), (9, 5)]
        space.add_lwpolyline(points, close=True)
        return {"twin": space.add_lwpolyline([points[k] for k in (1, 2, 0)], close=True)}

    drawing, handles = read(dxf, draw)
    (repair,) = drawing.repairs
    assert (repair.kind, repair.handle) == ("twin", handles["twin"])
    assert len(drawing.loops) == 1


def test_empty_pieces_are_left_out(dxf):
    def draw(space):
        box(space)
        return {
            "dot": space.add_line((5, 5), (5, 5), dxfattribs=PROFILE),
            "mite": space.add_line((7, 5), (7.001, 5), dxfattribs=PROFILE),
        }

    drawing, handles = read(dxf, draw)
    assert [(r.kind, r.layer, r.handle) for r in drawing.repairs] == [
        ("empty", "PROFILE", handles["dot"]),
        ("empty", "PROFILE", handles["mite"]),
    ]
    assert drawing.repairs[1].place == (7.0, 5.0)
    assert drawing.repairs[1].size == pytest.approx(0.001)
    assert len(drawing.chains) == 1


def test_loops_that_enclose_nothing_are_left_out(dxf):
    """Shorter than `join` and there and back: what lies in which could not be told of two points."""

    def draw(space):
        box(space)
        return {
            "back": space.add_lwpolyline([(5, 5), (5.005, 5)], close=True),
            "lens": space.add_lwpolyline([(7, 5, 0.1), (7.005, 5, 0.1)], format="xyb", close=True),
            "tiny": space.add_circle((9, 5), 0.004),
        }

    drawing, handles = read(dxf, draw)
    told = [(r.kind, r.handle) for r in drawing.repairs]
    assert told == [("empty", handles["back"]), ("empty", handles["lens"])]
    assert "without enclosing anything" in str(drawing.repairs[0])
    assert drawing.repairs[0].place == pytest.approx((5, 5))
    assert not drawing.problems
    assert len(drawing.loops) == 2


def test_a_drawing_of_nothing_but_such_a_loop_has_no_chain(dxf):
    drawing, _ = read(dxf, lambda s: {"back": s.add_lwpolyline([(5, 5), (5.005, 5)], close=True)})
    assert drawing.chains == ()
    assert [r.kind for r in drawing.repairs] == ["empty"]


def test_doubled_vertex_of_a_polyline_is_left_out(dxf):
    points = [(0, 0), (9, 0), (9, 0), (9, 5), (0, 0)]
    drawing, _ = read(dxf, lambda s: s.add_lwpolyline(points, close=True) and None)
    assert [r.kind for r in drawing.repairs] == ["empty"]
    assert "2 of its segments" in str(drawing.repairs[0])
    (loop,) = drawing.loops
    assert loop.curve.area == pytest.approx(22.5)


def test_overlaid_stretch_is_taken_once(dxf):
    def draw(space):
        space.add_line((0, 0), (25, 0), dxfattribs=PROFILE)
        short = space.add_line((20, 0), (40, 0), dxfattribs=PROFILE)
        space.add_line((40, 0), (40, 20), dxfattribs=PROFILE)
        space.add_line((40, 20), (0, 0), dxfattribs=PROFILE)
        return {"short": short}

    drawing, handles = read(dxf, draw)
    (repair,) = drawing.repairs
    assert (repair.kind, repair.layer, repair.handle) == ("overlaid", "PROFILE", handles["short"])
    assert repair.place == pytest.approx((22.5, 0))
    assert repair.size == pytest.approx(5)
    (loop,) = drawing.loops
    assert loop.curve.area == pytest.approx(400)


def test_overlaid_arcs_of_one_circle_are_taken_once(dxf):
    def draw(space):
        space.add_arc((0, 0), 10, 0, 120)
        space.add_arc((0, 0), 10, 100, 270)
        space.add_arc((0, 0), 10, 270, 10)

    drawing, _ = read(dxf, draw)
    assert [r.kind for r in drawing.repairs] == ["overlaid"] * 2
    assert sorted(r.size for r in drawing.repairs) == pytest.approx(
        [10 * math.radians(10), 10 * math.radians(20)]
    )
    (loop,) = drawing.loops
    assert loop.curve.length == pytest.approx(20 * math.pi, abs=1e-9)
    assert loop.round is not None


def test_piece_wholly_on_another_is_left_out(dxf):
    def draw(space):
        box(space)
        return {"part": space.add_line((10, 0), (15, 0), dxfattribs=PROFILE)}

    drawing, handles = read(dxf, draw)
    (repair,) = drawing.repairs
    assert (repair.kind, repair.handle) == ("overlaid", handles["part"])
    assert "wholly" in str(repair)
    assert len(drawing.loops) == len(drawing.chains) == 1


def test_loops_that_share_an_edge_are_a_problem(dxf):
    def draw(space):
        space.add_lwpolyline([(0, 0), (10, 0), (10, 10), (0, 10)], close=True)
        other = space.add_lwpolyline([(10, 2), (20, 2), (20, 8), (10, 8)], close=True)
        return {"other": other}

    drawing, handles = read(dxf, draw)
    problem = next(p for p in drawing.problems if p.kind == "overlaid")
    assert problem.handle == handles["other"]
    assert problem.place == pytest.approx((10, 5))
    assert problem.size == pytest.approx(6)


def test_needle_tip_is_not_overlaid(dxf):
    """Two edges that part by 2 degrees lie within 0.01 mm of each other near the tip."""
    sine = math.sin(math.radians(2))

    def draw(space):
        for t in np.arange(0, 20, 0.1):
            space.add_line((-t, 0), (-t - 0.1, 0))
            space.add_line((-t, t * sine), (-t - 0.1, (t + 0.1) * sine))
        space.add_line((-20, 0), (-20, 20 * sine))

    drawing, _ = read(dxf, draw)
    assert not drawing.problems
    assert not drawing.repairs
    assert len(drawing.loops) == 1


def test_gap_above_join_is_never_closed_and_told_as_the_house_says(dxf):
    def draw(space):
        lines = box(space, shift=0.31)
        return {"start": lines[0], "end": lines[3]}

    drawing, handles = read(dxf, draw, join=0.05)
    (problem,) = drawing.problems
    assert (problem.kind, problem.layer) == ("gap", "PROFILE")
    assert problem.handle in (handles["start"], handles["end"])
    assert problem.size == pytest.approx(0.31)
    other = handles["end"] if problem.handle == handles["start"] else handles["start"]
    assert str(problem).startswith(
        f"layer 'PROFILE', handle {problem.handle}, LINE: end is 0.31 mm from the next start;"
        " largest gap allowed is 0.05 mm"
    )
    assert f"handle {other}" in str(problem)
    assert not drawing.loops


def test_suggested_join_closes_the_gap(dxf):
    drawing, _ = read(dxf, lambda s: box(s, shift=0.31) and None)
    wanted = float(str(drawing.problems[0]).rpartition("join=")[2])
    again, _ = read(dxf, lambda s: box(s, shift=0.31) and None, join=wanted)
    assert not again.problems
    (repair,) = again.repairs
    assert (repair.kind, repair.size) == ("gap", pytest.approx(0.31))
    assert again.loops[0].curve.area == pytest.approx(800, abs=1e-9)


def test_gaps_of_an_inch_drawing_are_told_in_both_units(dxf):
    drawing, _ = read(dxf, lambda s: box(s, high=(4, 2), shift=0.0005) and None, units=1)
    (problem,) = drawing.problems
    assert "end is 0.0127 mm (0.0005 in) from the next start" in str(problem)
    assert "largest gap allowed is 0.01 mm (0.000394 in)" in str(problem)
    assert str(problem).endswith("join=0.013")


def test_fork_names_all_that_meet(dxf):
    def draw(space):
        lines = box(space)
        return {
            "first": lines[0],
            "second": lines[1],
            "third": space.add_line((40, 0), (60, -9), dxfattribs=PROFILE),
        }

    drawing, handles = read(dxf, draw)
    (problem,) = drawing.problems
    assert (problem.kind, problem.layer) == ("fork", "PROFILE")
    assert problem.place == (40.0, 0.0)
    assert "3 ends meet" in str(problem)
    for handle in handles.values():
        assert handle in str(problem)


def test_construction_lines_at_the_tip_are_a_fork(dxf):
    """Two construction lines end exactly where edge and back meet."""

    def draw(space):
        space.add_line((0, 0), (100, 0))
        space.add_line((0, 20), (100, 0))
        space.add_line((0, 20), (0, 0))
        space.add_line((100, 0), (100, 30))
        space.add_line((100, 0), (130, 0))

    drawing, _ = read(dxf, draw)
    (problem,) = drawing.problems
    assert problem.kind == "fork"
    assert problem.place == (100.0, 0.0)
    assert "4 ends meet" in str(problem)


def test_end_on_another_piece_is_a_fork(dxf):
    def draw(space):
        box(space)
        return {"rib": space.add_line((20, 0), (20, 12), dxfattribs=PROFILE)}

    drawing, handles = read(dxf, draw)
    (problem,) = drawing.problems
    assert (problem.kind, problem.handle) == ("fork", handles["rib"])
    assert problem.place == (20.0, 0.0)


def test_a_scan_that_runs_back_over_itself_is_told_so(dxf):
    """Its own name as the other's led nowhere: there is nothing to put on a layer of its own."""
    chance = np.random.default_rng(1)
    along = 60 - np.arange(600) * 0.1 + chance.normal(0, 0.08, 600)
    top = np.stack([along, 9 + chance.normal(0, 0.002, 600)], axis=1)
    rows = [(0, 0), (60, 0), *top.tolist()]
    drawing, _ = read(dxf, lambda s: s.add_lwpolyline(rows, close=True) and None)
    said = {"fork": "it runs back over itself at (", "crossing": "crosses or touches itself at ("}
    assert {problem.kind for problem in drawing.problems} == set(said)
    for problem in drawing.problems:
        assert said[problem.kind] in str(problem)
        assert str(problem).endswith("draw it so that it passes each place once")


def test_crossing_chains_are_a_problem_with_the_place(dxf):
    def draw(space):
        lines = box(space)
        return {"line": space.add_line((30, 10), (60, 16), dxfattribs=PROFILE), "side": lines[1]}

    drawing, handles = read(dxf, draw)
    (problem,) = drawing.problems
    assert (problem.kind, problem.layer) == ("crossing", "PROFILE")
    assert problem.handle == handles["side"]
    assert handles["line"] in str(problem)
    assert problem.place == pytest.approx((40, 12))


def test_chain_that_crosses_itself_is_a_problem(dxf):
    points = [(0, 0), (10, 0), (10, 10), (4, -4)]
    drawing, _ = read(dxf, lambda s: s.add_lwpolyline(points, close=True) and None)
    (problem,) = drawing.problems
    assert problem.kind == "crossing"
    assert "the chain crosses itself" in str(problem)
    assert problem.place[1] == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("side", [1, -1])
def test_arcs_cross_exactly(dxf, side):
    def draw(space):
        space.add_circle((0, 0), 10)
        space.add_circle((12 * side, 0), 10)

    drawing, _ = read(dxf, draw)
    (problem,) = drawing.problems
    assert problem.place == pytest.approx((6 * side, -8))
    assert "and 1 more place" in str(problem)


def test_helper_rectangle_that_crosses_the_part_is_a_crossing(dxf):
    def draw(space):
        space.add_ellipse((0, 0), (50, 0), 0.3)
        space.add_lwpolyline([(-60, -10), (60, -10), (60, 40), (-60, 40)], close=True)

    drawing, _ = read(dxf, draw)
    assert [p.kind for p in drawing.problems] == ["crossing"]


def test_tangent_joints_are_not_crossings(dxf):
    """A fillet drawn to four decimals: line and circle nearly touch past their joint."""

    def draw(space):
        space.add_line((0, 0), (50.0, 0))
        space.add_arc((50.0, 99.99995), 100, 270, 300)

    drawing, _ = read(dxf, draw)
    assert not drawing.problems
    assert len(drawing.chains) == 1


def test_layers_do_not_disturb_each_other(dxf):
    def draw(space):
        box(space)
        box(space, low=(-5, 5), high=(45, 15), layer="HELP")
        space.add_line((40, 20), (60, 40), dxfattribs={"layer": "HELP2"})

    drawing, _ = read(dxf, draw)
    assert not drawing.problems
    assert len(drawing.loops) == 2


def test_outline_over_two_layers_is_joined_across(dxf):
    def draw(space):
        space.add_line((0, 0), (50, 0), dxfattribs={"layer": "EDGE"})
        space.add_line((50, 0), (0, 20), dxfattribs={"layer": "BACK"})
        space.add_line((0, 20), (0, 0), dxfattribs={"layer": "BACK"})
        space.add_line((0, 30), (50, 30), dxfattribs={"layer": "KEEP"})

    drawing, _ = read(dxf, draw)
    (loop,) = drawing.loops
    assert loop.layers == ("BACK", "EDGE")
    assert len(drawing.open_chains) == 1


def test_ends_within_join_meet_and_tangents_stay(dxf):
    """An arc and a line that miss each other by 8 um stay tangent within 1 mrad."""

    def draw(space):
        space.add_line((0, 0), (60, 0))
        space.add_arc((60.005, 30.006), 30, 270, 360)

    drawing, _ = read(dxf, draw)
    (chain,) = drawing.chains
    curve = chain.curve
    assert not curve.corners.any()
    turn = curve.start_headings[1] - curve.end_headings[0]
    assert abs(math.remainder(turn, 2 * math.pi)) < 1e-6
    (repair,) = drawing.repairs
    assert repair.kind == "gap"
    assert repair.size == pytest.approx(math.hypot(0.005, 0.006), abs=1e-9)


def test_corner_ends_within_join_are_brought_to_where_the_lines_cross(dxf):
    def draw(space):
        space.add_line((0, 0), (39.995, 0))
        space.add_line((40, 0.004), (40, 20))
        space.add_line((40, 20), (0, 0))

    drawing, _ = read(dxf, draw)
    (loop,) = drawing.loops
    assert np.hypot(*(loop.curve.vertices - (40, 0)).T).min() < 1e-12


def test_arc_prolonged_to_a_corner_keeps_its_circle(dxf):
    def draw(space):
        space.add_arc((0, 0), 10, 0.02, 90)
        space.add_line((10.004, 0), (-5, 0))
        space.add_line((0, 10), (-5, 0))

    drawing, _ = read(dxf, draw)
    (loop,) = drawing.loops
    (arc,) = np.flatnonzero(loop.curve.is_arc)
    assert loop.curve.radii[arc] == pytest.approx(10, abs=1e-9)
    assert loop.curve.centres[arc] == pytest.approx((0, 0), abs=1e-9)


def test_pieces_shorter_than_the_tolerance_are_chained_through(dxf):
    """Lines of 4 um between long ones: several ends lie within join, yet there is one chain."""
    points = [(0, 0), (10, 0), (10.004, 0.001), (10.007, 0.004), (10.008, 8), (0, 8)]

    def draw(space):
        for k in range(len(points)):
            space.add_line(points[k], points[(k + 1) % len(points)])

    drawing, _ = read(dxf, draw)
    assert not drawing.problems
    assert len(drawing.loops) == len(drawing.chains) == 1
    assert len(drawing.loops[0].curve) == len(points)


def test_many_gaps_are_told_in_few_lines(dxf):
    def draw(space):
        for k in range(50):
            space.add_line((2 * k, 0), (2 * k + 1.7, 0))

    path = dxf(lambda d: draw(d.modelspace()))
    with pytest.raises(DrawingError) as raised:
        read_drawing(path)
    assert len(raised.value.problems) == 49
    assert len(raised.value.lines) == 21
    assert raised.value.lines[-1] == "and 29 more of kind 'gap', the largest 0.3 mm"


def test_arcs_that_follow_each_other_with_a_slight_corner_do_not_lie_on_each_other():
    """The second turns back by 0.3 degrees: their angles overlap, but they do not."""
    v = np.array(
        [(-22.88690676, 2.2780472), (-26.76648142, -6.3091578), (-47.38133414, -29.84977681)]
    )
    pieces = [
        Piece(
            origin=Origin(layer="0", handle=handle, kind="ARC"),
            vertices=v[k : k + 2],
            bulges=np.array([-0.075, 0.0]),
        )
        for k, handle in enumerate("AB")
    ]
    joined = join_pieces(pieces, 0.01)
    assert joined.repairs == ()
    assert [len(chain.curve) for chain in joined.chains] == [2]


def test_what_has_no_radius_is_left_out_whatever_it_is_called(dxf):
    def draw(space):
        box(space)
        space.add_circle((5, 5), 0, dxfattribs=PROFILE)
        space.add_arc((7, 5), 0, 10, 80, dxfattribs=PROFILE)
        space.add_arc((9, 5), 0, 0, 0, dxfattribs=PROFILE)

    drawing, _ = read(dxf, draw)
    assert not drawing.problems
    assert [(r.kind, r.place) for r in drawing.repairs] == [
        ("empty", (5.0, 5.0)), ("empty", (7.0, 5.0)), ("empty", (9.0, 5.0)),
    ]  # fmt: skip

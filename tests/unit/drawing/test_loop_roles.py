"""Outline, bores, slots and marks: by layer, and by form where no layer is named."""

from __future__ import annotations

import numpy as np
import pytest
from ezdxf.math import Matrix44

from knifecam.curve import rectangle
from knifecam.drawing import Roles, find_parts, no_tab_stretches, read_drawing
from knifecam.errors import DrawingError
from knifecam.quantity import told


def outline(space, layer="PROFILE", shift=0.0):
    """Draw a plain knife-like outline, 100 x 20 mm."""
    points = [(0, 0, 0), (80, 0, 0.2), (100, 15, 0), (60, 20, 0), (0, 20, 0)]
    rows = [(x + shift, y, b) for x, y, b in points]
    return space.add_lwpolyline(rows, format="xyb", close=True, dxfattribs={"layer": layer})


def bores(space, layer="BORES"):
    for x, y in ((30, 10), (10, 12), (10, 8)):
        space.add_circle((x, y), 1.5, dxfattribs={"layer": layer})


def slot(space, layer="SLOTS"):
    points = [(40, 8, 0), (50, 8, 1), (50, 12, 0), (40, 12, 1)]
    space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": layer})


def parts(dxf, draw, roles=None, **options):
    path = dxf(lambda d: draw(d.modelspace()), **options)
    return find_parts(read_drawing(path, strict=False), roles)


def full(space):
    outline(space)
    bores(space)
    slot(space)


ROLES = Roles(outline=("PROFILE",), bores=("BORES",), slots=("SLOTS",))


@pytest.mark.parametrize("roles", [None, ROLES, Roles(bores=("bores",))])
def test_parts_are_found_with_and_without_roles(dxf, roles):
    found = parts(dxf, full, roles)
    assert found.outline.closed
    assert found.outline.area > 0
    assert found.outline.bounds[2] == pytest.approx(100, abs=0.5)
    assert [(b.name, b.centre, b.diameter) for b in found.bores] == [
        ("B1", (10.0, 8.0), 3.0),
        ("B2", (10.0, 12.0), 3.0),
        ("B3", (30.0, 10.0), 3.0),
    ]
    (made,) = found.slots
    assert made.area == pytest.approx(40 + np.pi * 4)


def test_everything_on_the_layer_of_the_outline(dxf):
    def draw(space):
        outline(space, "0")
        bores(space, "0")
        slot(space, "0")
        space.add_line((-50, -50), (200, 90), dxfattribs={"layer": "HELP"})

    found = parts(dxf, draw, Roles(outline=("0",)))
    assert len(found.bores) == 3
    assert len(found.slots) == 1
    assert found.notes == ("layer 'HELP' has no role; not used: 1 LINE",)


def test_bore_of_two_half_turns_and_of_three_arcs(dxf):
    def draw(space):
        outline(space)
        space.add_lwpolyline([(10, 10, 1), (14, 10, 1)], format="xyb", close=True)
        for low in (0, 120, 240):
            space.add_arc((30, 10), 2, low, low + 120)

    found = parts(dxf, draw)
    assert [(b.centre, b.diameter) for b in found.bores] == [
        ((12.0, 10.0), 4.0),
        ((30.0, 10.0), 4.0),
    ]


def test_circle_of_many_lines_is_a_slot_with_a_note(dxf):
    def draw(space):
        outline(space)
        t = np.arange(24) / 24 * 2 * np.pi
        space.add_lwpolyline(
            list(zip(30 + 2 * np.cos(t), 10 + 2 * np.sin(t), strict=True)), close=True
        )

    found = parts(dxf, draw)
    assert not found.bores
    assert "is a circle of 4 mm drawn with 24 lines" in told(found.notes[0])


def test_two_parts_list_the_candidates(dxf):
    def draw(space):
        outline(space)
        outline(space, "SECOND", shift=150)

    with pytest.raises(DrawingError) as raised:
        parts(dxf, draw)
    lines = raised.value.lines
    assert lines[0] == "2 closed loops stand beside each other, none holds all others"
    assert "name the outline's layer" in lines[1]
    assert "layer 'PROFILE', handle" in lines[2] or "layer 'SECOND', handle" in lines[2]
    assert "mm, area" in lines[2]
    assert len(lines) == 4
    assert parts(dxf, draw, Roles(outline=("SECOND",))).outline.bounds[0] == pytest.approx(150)


@pytest.mark.parametrize("layer", ["PROFILE", "PLATE"])
def test_helper_rectangle_round_the_part_is_asked_about(dxf, layer):
    def draw(space):
        outline(space)
        points = [(-10, -10), (110, -10), (110, 30), (-10, 30)]
        space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})

    with pytest.raises(DrawingError, match="plain rectangle round"):
        parts(dxf, draw)


def test_helper_rectangle_with_bores_in_the_part_is_asked_about(dxf):
    def draw(space):
        full(space)
        points = [(-10, -10), (210, -10), (210, 30), (-10, 30)]
        space.add_lwpolyline(points, close=True, dxfattribs={"layer": "PLATE"})

    with pytest.raises(DrawingError) as raised:
        parts(dxf, draw)
    assert "3 deep" in raised.value.lines[0]
    assert any("PLATE" in line and "area 8800 mm2" in line for line in raised.value.lines)
    assert len(parts(dxf, draw, ROLES).bores) == 3


def test_helper_rectangle_crossing_the_part_on_another_layer_is_told(dxf):
    def draw(space):
        outline(space)
        points = [(-10, 5), (110, 5), (110, 60), (-10, 60)]
        space.add_lwpolyline(points, close=True, dxfattribs={"layer": "HELP"})

    with pytest.raises(DrawingError, match="crosses or touches"):
        parts(dxf, draw)
    assert parts(dxf, draw, Roles(outline=("PROFILE",))).outline.area > 0


def test_small_slot_in_a_rectangular_part_is_a_slot(dxf):
    def draw(space):
        space.add_lwpolyline([(0, 0), (100, 0), (100, 40), (0, 40)], close=True)
        slot(space)

    assert len(parts(dxf, draw, Roles(outline=("0",), slots=("SLOTS",))).slots) == 1
    with pytest.raises(DrawingError, match="is a plain rectangle, layer '0'"):
        parts(dxf, draw)


@pytest.mark.parametrize("turn", [0.0, 33.0])
@pytest.mark.parametrize("corner", [0.0, 2.0])
def test_a_lone_rectangle_is_no_outline_unless_someone_says_so(dxf, corner, turn):
    """A plate's edge or an opening, where the knife's own lines are missing; bores in it or not."""
    sweep = np.tan(np.pi / 8)
    rows = [(corner, 0, 0), (60 - corner, 0, sweep), (60, corner, 0), (60, 12 - corner, sweep)]
    rows += [(60 - corner, 12, 0), (corner, 12, sweep), (0, 12 - corner, 0), (0, corner, sweep)]
    rows = rows if corner else [(0, 0, 0), (60, 0, 0), (60, 12, 0), (0, 12, 0)]

    def draw(space):
        made = space.add_lwpolyline(rows, format="xyb", close=True)
        made.transform(Matrix44.z_rotate(np.radians(turn)))
        space.add_circle((10 * np.cos(np.radians(turn)), 10 * np.sin(np.radians(turn)) + 6), 1)

    with pytest.raises(DrawingError) as raised:
        parts(dxf, draw)
    assert "plain rectangle" in raised.value.lines[0]
    assert "outline='0'" in raised.value.lines[1]
    assert len(parts(dxf, draw, Roles(outline=("0",))).bores) == 1


def test_a_knife_drawn_in_inches_that_says_mm_is_asked_about_its_unit(dxf):
    def draw(space):
        rows = [(0, 0), (4.3, 0), (7.9, 0.3), (7.5, 0.8), (0, 1)]
        space.add_lwpolyline(rows, close=True)

    with pytest.raises(DrawingError) as raised:
        parts(dxf, draw)
    assert "if inches were drawn it is 200.66 x 25.4 mm: give units='in'" in raised.value.lines[0]
    with pytest.raises(DrawingError) as raised:  # 3 mm, 76 mm in inches: no word where it is none
        parts(dxf, lambda space: space.add_lwpolyline([(0, 0), (1, 0), (1.5, 0.4)], close=True))
    assert "inches" not in raised.value.lines[0]


def test_a_line_that_crosses_the_knife_is_answered_with_the_layer_to_name(dxf):
    def draw(space):
        outline(space)
        space.add_line((-10, 10), (110, 10), dxfattribs={"layer": "CENTRE"})

    with pytest.raises(DrawingError) as raised:
        parts(dxf, draw)
    assert "close them, or name the outline's layer, outline='PROFILE'" in raised.value.lines[0]
    assert parts(dxf, draw, Roles(outline=("PROFILE",))).layers == ("PROFILE",)


def test_a_drawing_without_a_loop_says_what_would_do(dxf):
    rows = [(0, 0), (80, 0), (100, 15), (60, 20), (0, 20), (0, 3)]
    with pytest.raises(DrawingError) as raised:
        parts(dxf, lambda space: space.add_lwpolyline(rows))
    assert "close the one that is the outline" in raised.value.lines[0]
    assert "ends 3 mm apart" in raised.value.lines[1]


def test_problems_on_layers_without_a_role_do_not_matter(dxf):
    def draw(space):
        full(space)
        for k in range(3):
            space.add_line((100, 15), (120, 15 + 5 * k), dxfattribs={"layer": "HELP"})
        space.add_line((0, 0, 0), (0, 0, 9), dxfattribs={"layer": "HELP"})

    assert len(parts(dxf, draw, ROLES).bores) == 3
    with pytest.raises(DrawingError) as raised:
        parts(dxf, draw)
    assert [p.kind for p in raised.value.problems] == ["off-plane", "fork"]


def test_open_outline_is_refused_by_name(dxf):
    def draw(space):
        space.add_lwpolyline([(0, 0), (50, 0), (50, 20), (0, 17)], dxfattribs={"layer": "PROFILE"})
        bores(space)

    with pytest.raises(DrawingError, match=r"outline: .*LWPOLYLINE is open: .* are 17 mm apart"):
        parts(dxf, draw, Roles(outline=("PROFILE",)))
    with pytest.raises(DrawingError, match="3 closed loops stand beside each other"):
        parts(dxf, draw)


def test_lone_bore_in_an_open_outline_is_not_the_outline(dxf):
    def draw(space):
        space.add_lwpolyline([(0, 0), (50, 0), (50, 20), (0, 17)])
        space.add_circle((25, 10), 3)

    with pytest.raises(DrawingError, match="open chains reach beyond it"):
        parts(dxf, draw)


def test_mark_along_the_edge_does_not_disturb_a_drawing_without_roles(dxf):
    def draw(space):
        full(space)
        space.add_line((5, 0), (80, 0), dxfattribs={"layer": "KEEP"})

    found = parts(dxf, draw)
    assert len(found.bores) == 3
    assert "layer 'KEEP', handle" in found.notes[0]


def test_misplaced_openings_are_refused(dxf):
    def draw(space):
        outline(space)
        for x, y, r in ((10, 10, 3), (10, 10, 1.5), (30, 1, 2), (200, 0, 2)):
            space.add_circle((x, y), r, dxfattribs={"layer": "BORES"})

    with pytest.raises(DrawingError) as raised:
        parts(dxf, draw, Roles(outline=("PROFILE",), bores=("BORES",)))
    text = "\n".join(raised.value.lines)
    assert len(raised.value.lines) == 3
    assert "crosses or touches the outline" in text
    assert "lies outside of the outline at (198, -2)" in text
    assert "one opening cannot hold another" in text


def test_loop_on_the_bores_layer_that_is_no_circle_is_refused(dxf):
    def draw(space):
        outline(space)
        slot(space, "BORES")

    with pytest.raises(DrawingError, match=r"bores: .* is not a circle"):
        parts(dxf, draw, Roles(outline=("PROFILE",), bores=("BORES",)))


def test_layers_that_are_not_there_are_named_together(dxf):
    def draw(d):
        full(d.modelspace())
        d.layers.add("COLD").freeze()
        d.modelspace().add_line((0, 0), (1, 0), dxfattribs={"layer": "COLD"})

    drawing = read_drawing(dxf(draw))
    with pytest.raises(DrawingError) as raised:
        find_parts(drawing, Roles(outline=("EDGE",), tabs=("COLD",)))
    assert raised.value.lines[0] == (
        "outline: layer 'EDGE' is not in the drawing; layers with geometry: 'BORES', 'PROFILE',"
        " 'SLOTS'"
    )
    assert "tabs: layer 'COLD' is left out: it is a frozen layer" in raised.value.lines[1]


def test_tab_places_from_points_circles_and_short_lines(dxf):
    def draw(space):
        outline(space)
        layer = {"layer": "TABS"}
        space.add_point((50, 20), dxfattribs=layer)
        space.add_circle((0, 10), 1, dxfattribs=layer)
        space.add_line((29, -1), (31, 1), dxfattribs=layer)

    found = parts(dxf, draw, Roles(outline=("PROFILE",), tabs=("TABS",)))
    assert found.tabs.tolist() == [[0, 10], [30, 0], [50, 20]]


def test_keep_off_stretches_from_lines_loops_and_points(dxf):
    def draw(space):
        outline(space)
        layer = {"layer": "KEEP"}
        space.add_line((20, -0.5), (60, -0.5), dxfattribs=layer)
        space.add_lwpolyline([(-3, 15), (5, 15), (5, 25), (-3, 25)], close=True, dxfattribs=layer)
        space.add_point((30, 20), dxfattribs=layer)
        space.add_point((40, 21), dxfattribs=layer)

    found = parts(dxf, draw, Roles(outline=("PROFILE",), no_tabs=("KEEP",)))
    line, loop, pair = no_tab_stretches(found.outline, found.no_tabs, found.no_tab_pairs)
    # the outline starts at (0, 0), its vertex of least x and y
    assert (line.start, line.end) == pytest.approx((20, 60))
    whole = found.outline.length
    assert (loop.start, loop.end) == pytest.approx((whole - 25, whole - 15), abs=0.26)
    assert (pair.start, pair.end) == pytest.approx((whole - 60, whole - 50), abs=0.01)


def test_keep_off_over_the_start_wraps_round():
    outline_ = rectangle(0, 0, 100, 20)
    curve = rectangle(-2, -2, 3, 3)
    (stretch,) = no_tab_stretches(outline_, [curve], np.zeros((0, 2, 2)))
    assert stretch.start > stretch.end
    assert stretch.holds([0.0, 2.9, 238.0], outline_.length).all()


def test_keep_off_far_from_the_outline_is_refused():
    outline_ = rectangle(0, 0, 100, 60)
    far = np.array([[[50.0, 30.0], [60.0, 30.0]]])
    with pytest.raises(DrawingError, match="30 mm from the outline"):
        no_tab_stretches(outline_, [], far)


def test_one_point_alone_does_not_mark_a_stretch(dxf):
    def draw(space):
        outline(space)
        space.add_point((30, 20), dxfattribs={"layer": "KEEP"})

    with pytest.raises(DrawingError, match="has no second point"):
        parts(dxf, draw, Roles(outline=("PROFILE",), no_tabs=("KEEP",)))


def test_unknown_unit_stops_the_roles_too(dxf):
    with pytest.raises(DrawingError, match="does not say its unit"):
        parts(dxf, full, ROLES, units=0)


@pytest.mark.parametrize("named", [(), ("PROFILE",)])
def test_an_outline_that_cannot_be_read_is_named_and_nothing_else_taken_for_it(dxf, named):
    """Its layer holds nothing then; the only loop left is a bore."""

    def draw(document):
        space = document.modelspace()
        places = [(0, 0), (float("nan"), 0), (140, 20), (0, 20)]
        space.add_lwpolyline(places, close=True, dxfattribs={"layer": "PROFILE"})
        space.add_circle((20, 10), 2.5, dxfattribs={"layer": "BORES"})

    drawing = read_drawing(dxf(draw), strict=False)
    with pytest.raises(DrawingError) as caught:
        find_parts(drawing, Roles(outline=named))
    (line,) = caught.value.lines
    assert line.startswith("layer 'PROFILE', handle")
    assert "LWPOLYLINE: cannot be understood: its coordinates must be finite" in line


KNIFE = [(0, 0), (120, 0), (230, 0), (270, 12), (200, 30), (0, 28)]
"""Corners of a knife of 270 x 30 mm; its edge runs from the second to the fourth."""


def makers(space, *, edge="EDGE", gap=None, helper=True):
    """Draw the knife line by line, its edge on a layer of its own, and a rectangle 270 x 17."""
    for k, start in enumerate(KNIFE):
        layer = edge if k in (1, 2) else "PROFILE"
        if k != gap:
            space.add_line(start, KNIFE[(k + 1) % len(KNIFE)], dxfattribs={"layer": layer})
    if helper:
        corners = [(0, 6.5), (270, 6.5), (270, 23.5), (0, 23.5)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "HELP"})


@pytest.mark.parametrize("role", ["shapes", "no_tabs", "tabs"])
def test_an_edge_that_is_a_layer_of_the_outline_stays_in_it(dxf, role):
    """It left; the rectangle, the only closed loop then, was milled for the knife."""
    roles = Roles(**{role: ("EDGE",)})
    with pytest.raises(DrawingError) as raised:
        parts(dxf, makers, roles)
    text = "\n".join(raised.value.lines)
    assert "name the outline's layer, outline=['EDGE', 'PROFILE'] or outline='HELP'" in text
    assert "'EDGE' and 'PROFILE'" in text
    assert "270 x 30 mm" in text
    assert "'HELP'" in text
    assert "270 x 17 mm" in text
    named = Roles(**{role: ("EDGE",)}, outline=("EDGE", "PROFILE"))
    for found in (
        parts(dxf, makers, named),
        parts(dxf, lambda space: makers(space, helper=False), roles),
    ):
        assert found.outline.bounds == pytest.approx((0, 0, 270, 30))
        assert found.layers == ("EDGE", "PROFILE")


def test_what_the_outline_shares_with_a_mark_is_told(dxf):
    found = parts(dxf, lambda space: makers(space, helper=False), Roles(shapes=("EDGE",)))
    assert found.notes == ("the outline runs over layer 'EDGE', which marks something besides",)
    (edge,) = dict(found.shapes)["edge"]
    assert edge.length == pytest.approx(110 + np.hypot(40, 12))


@pytest.mark.parametrize("gap", range(6))
def test_a_knife_with_a_line_missing_is_not_the_rectangle_in_it(dxf, gap):
    with pytest.raises(DrawingError) as raised:
        parts(dxf, lambda space: makers(space, edge="PROFILE", gap=gap))
    assert any("'PROFILE'" in line and "mm long" in line for line in raised.value.lines)


def test_an_outline_without_its_edge_says_which_layer_closes_it(dxf):
    with pytest.raises(DrawingError) as raised:
        parts(dxf, makers, Roles(outline=("PROFILE",), shapes=("EDGE",)))
    (line,) = raised.value.lines
    assert line.startswith("outline: layer 'PROFILE'")
    assert "is open" in line
    assert line.endswith("; or name the outline's layer, outline=['EDGE', 'PROFILE']")


@pytest.mark.parametrize("role", ["shapes", "no_tabs"])
def test_a_bore_on_a_layer_of_edge_and_outline_is_a_bore(dxf, role):
    def draw(space):
        makers(space, helper=False)
        space.add_circle((40, 14), 2.5, dxfattribs={"layer": "EDGE"})

    for outline_ in ((), ("EDGE", "PROFILE")):
        found = parts(dxf, draw, Roles(**{role: ("EDGE",)}, outline=outline_))
        assert [b.diameter for b in found.bores] == [5.0]
        marks = dict(found.shapes)["edge"] if role == "shapes" else found.no_tabs
        assert [m.closed for m in marks] == [False]


def test_a_mark_drawn_on_the_edge_does_not_part_it_from_the_outline(dxf):
    def draw(space):
        makers(space, helper=False)
        space.add_line((120, 0), (200, 0), dxfattribs={"layer": "KEEP"})

    found = parts(dxf, draw, Roles(shapes=("EDGE",), no_tabs=("KEEP",)))
    assert found.outline.bounds == pytest.approx((0, 0, 270, 30))
    assert len(found.outline) == 6


def test_a_lone_bore_is_not_the_outline(dxf):
    with pytest.raises(DrawingError, match="is a circle, layer 'BORES'"):
        parts(dxf, lambda space: space.add_circle((0, 0), 3, dxfattribs={"layer": "BORES"}))


def test_a_knife_in_a_large_sheet_is_asked_about(dxf):
    def draw(space):
        makers(space, helper=False)
        corners = [(-500, -500), (800, -500), (800, 500), (-500, 500)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "SHEET"})

    for roles in (None, Roles(shapes=("EDGE", "PROFILE"))):
        with pytest.raises(DrawingError) as raised:
            parts(dxf, draw, roles)
        assert "'EDGE' and 'PROFILE'" in "\n".join(raised.value.lines)


def test_what_cannot_be_read_on_a_layer_with_a_role_is_told(dxf):
    """Without a word the edge was shorter by as much."""

    def draw(space):
        outline(space)
        space.add_line((0, 0), (60, 0), dxfattribs={"layer": "EDGE"})
        space.add_line((60, 0), (80, float("nan")), dxfattribs={"layer": "EDGE"})

    with pytest.raises(DrawingError, match=r"layer 'EDGE', handle .*cannot be understood"):
        parts(dxf, draw, Roles(outline=("PROFILE",), shapes=("EDGE",)))


@pytest.mark.parametrize("role", ["tabs", "no_tabs"])
def test_a_layer_of_the_whole_outline_marks_nothing(dxf, role):
    with pytest.raises(DrawingError, match=f"{role}: layer 'PROFILE' holds the outline"):
        parts(dxf, outline, Roles(**{role: ("PROFILE",)}))


def test_problems_are_told_with_the_layer_that_leaves_them_behind(dxf):
    """The report said that naming it is the cure; it is said where it is one."""

    def forked(space, layer="HELP"):
        outline(space)
        for k in range(3):
            space.add_line((100, 15), (120, 15 + 5 * k), dxfattribs={"layer": layer})

    with pytest.raises(DrawingError) as raised:
        parts(dxf, forked)
    assert raised.value.lines[-1] == (
        "name the outline's layer, outline='PROFILE': then only what lies on layers with a role must"
        " be sound"
    )
    assert parts(dxf, forked, Roles(outline=("PROFILE",))).layers == ("PROFILE",)
    with pytest.raises(DrawingError) as raised:
        parts(dxf, lambda space: forked(space, "PROFILE"))
    assert "name the" not in "\n".join(raised.value.lines)


def test_trying_which_layers_settle_it_comes_to_an_end(dxf):
    """Two outlines over shared layers, each open on its own: trying one tried the other, for ever."""

    def draw(space):
        makers(space, helper=False)
        for k, start in enumerate(KNIFE):
            end = KNIFE[(k + 1) % len(KNIFE)]
            layer = {"layer": ("EDGE", "PROFILE", "BACK")[k % 3]}
            space.add_line((start[0], start[1] + 50), (end[0], end[1] + 50), dxfattribs=layer)

    for roles in (Roles(), Roles(outline=("PROFILE",)), Roles(outline=("PROFILE", "EDGE"))):
        with pytest.raises(DrawingError):
            parts(dxf, draw, roles)


def obround(long, wide, turn):
    """Corners and bulges of two straight sides with half circles between them."""
    along = np.array([np.cos(turn), np.sin(turn)])
    across = np.array([-along[1], along[0]])
    corners = [0 * along, (long - wide) * along]
    rows = [*corners, *(p + wide * across for p in corners[::-1])]
    return [(*p, b) for p, b in zip(rows, (0, 1, 0, 1), strict=True)]


@pytest.mark.parametrize(("long", "wide"), [(60, 8), (120, 6), (50, 45)])
@pytest.mark.parametrize("turn", [0.0, 0.7, np.pi / 2])
def test_a_lone_slot_is_no_outline_unless_someone_says_so(dxf, long, wide, turn):
    """The blade round it was not drawn, and the slot was cut out as the blade."""

    def draw(space):
        rows = obround(long, wide, turn)
        space.add_lwpolyline(rows, format="xyb", close=True, dxfattribs={"layer": "SLOTS"})

    with pytest.raises(DrawingError, match=r"a slot has this form") as raised:
        parts(dxf, draw)
    assert "name the outline's layer, outline='SLOTS'" in raised.value.lines[1]
    assert parts(dxf, draw, Roles(outline=("SLOTS",))).outline.area > 0


def test_a_lone_loop_shorter_than_a_knife_is_no_outline_unless_someone_says_so(dxf):
    def draw(space, long):
        space.add_lwpolyline([(0, 0), (long, 0), (long / 2, 15)], close=True)

    with pytest.raises(DrawingError, match=r"is 39.9 x 15 mm, .* a knife is 40 mm or longer"):
        parts(dxf, lambda space: draw(space, 39.9))
    assert parts(dxf, lambda space: draw(space, 40.0)).outline.bounds[2] == 40.0
    named = Roles(outline=("0",))
    assert parts(dxf, lambda space: draw(space, 39.9), named).outline.area > 0


def test_layers_may_be_given_as_a_list_but_not_as_one_text(dxf):
    assert parts(dxf, full, Roles(outline=["PROFILE"])).layers == ("PROFILE",)
    with pytest.raises(DrawingError, match=r"outline='PROFILE' must be a tuple"):
        Roles(outline="PROFILE")

"""Laws of reading: order and direction of the pieces do not matter, mirrored stays mirrored."""

from __future__ import annotations

import io

import ezdxf
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from knifecam.curve import mirrored
from knifecam.drawing import read_drawing
from knifecam.drawing.chains import join_pieces
from knifecam.drawing.drawing_record import Origin, Piece
from knifecam.errors import DrawingError

SETTINGS = settings(max_examples=40, deadline=None, derandomize=True)


@st.composite
def outlines(draw):
    """Return vertices and bulges of a star-shaped outline of lines and arcs."""
    count = draw(st.integers(3, 24))
    radii = draw(st.lists(st.floats(20, 60), min_size=count, max_size=count))
    limit = 0.3 if count > 6 else 0.1
    bulges = draw(
        st.lists(st.sampled_from([0.0, limit, -limit / 4]), min_size=count, max_size=count)
    )
    angles = (np.arange(count) + 0.2) / count * 2 * np.pi
    radius = np.round(radii, 3)
    return np.stack([radius * np.cos(angles), radius * np.sin(angles)], 1), np.array(bulges)


def pieces_of(vertices, bulges, order, back):
    made = []
    for k in order:
        ends = np.array([vertices[k], vertices[(k + 1) % len(vertices)]])
        bulge = float(bulges[k])
        if back[k]:
            ends, bulge = ends[::-1], -bulge
        origin = Origin(layer="0", handle=f"{k:X}", kind="ARC" if bulge else "LINE")
        made.append(Piece(origin=origin, vertices=ends, bulges=np.array([bulge, 0.0])))
    return made


def loop_of(vertices, bulges, order, back):
    joined = join_pieces(pieces_of(vertices, bulges, order, back), 0.01)
    loops = [c.curve for c in joined.chains if c.closed]
    return loops, joined


@SETTINGS
@given(outlines(), st.randoms(use_true_random=False))
def test_order_and_direction_do_not_matter(outline, random):
    vertices, bulges = outline
    count = len(vertices)
    (plain,), first = loop_of(vertices, bulges, range(count), [False] * count)
    order = random.sample(range(count), count)
    back = [random.random() < 0.5 for _ in range(count)]
    (loop,), second = loop_of(vertices, bulges, order, back)
    assert np.array_equal(loop.vertices, plain.vertices)
    assert np.array_equal(loop.bulges, plain.bulges)
    assert np.array_equal(loop.corners, plain.corners)
    assert len(first.problems) == len(second.problems)


@SETTINGS
@given(outlines(), st.randoms(use_true_random=False))
def test_ends_that_miss_each_other_by_a_little_give_nearly_the_same_loop(outline, random):
    vertices, bulges = outline
    count = len(vertices)
    (plain,), _ = loop_of(vertices, bulges, range(count), [False] * count)
    pieces = pieces_of(vertices, bulges, range(count), [False] * count)
    moved = [
        Piece(
            origin=p.origin,
            vertices=p.vertices + [[random.uniform(-3e-3, 3e-3) for _ in "xy"] for _ in "ab"],
            bulges=p.bulges,
        )
        for p in pieces
    ]
    joined = join_pieces(moved, 0.01)
    (loop,) = [c.curve for c in joined.chains]
    assert loop.closed
    assert len(loop) == len(plain)
    away = np.hypot(*(loop.vertices[:, None] - plain.vertices[None]).transpose(2, 0, 1))
    assert away.min(axis=1).max() <= 0.01


def part_of(piece, low, high):
    """Return the piece from one fraction of its length to another, by its circle's angles."""
    (start, end), bulge = piece.vertices, piece.bulges[0]
    if not bulge:
        ends = np.array([start + low * (end - start), start + high * (end - start)])
    else:
        chord = end - start
        centre = (start + end) / 2 + np.array([-chord[1], chord[0]]) * (1 / bulge - bulge) / 4
        first = np.arctan2(*(start - centre)[::-1])
        angles = first + np.array([low, high]) * 4 * np.arctan(bulge)
        rim = np.stack([np.cos(angles), np.sin(angles)], axis=1)
        ends = centre + np.hypot(*(start - centre)) * rim
    bent = np.tan((high - low) * np.arctan(bulge))
    return Piece(origin=piece.origin, vertices=ends, bulges=np.array([bent, 0.0]))


@SETTINGS
@given(outlines(), st.randoms(use_true_random=False))
def test_what_is_drawn_twice_is_taken_once(outline, random):
    """Stretches drawn again on top of an outline, and pieces cut in two that overlap, change
    nothing of it."""
    vertices, bulges = outline
    count = len(vertices)
    (plain,), first = loop_of(vertices, bulges, range(count), [False] * count)
    pieces = pieces_of(vertices, bulges, range(count), [False] * count)
    drawn = list(pieces)
    for piece in pieces:
        low, high = sorted(random.choice([0.0, 0.2, 0.5, 0.7, 1.0]) for _ in "ab")
        if high > low:
            drawn.append(part_of(piece, low, high))
    cut = drawn.pop(random.randrange(count))
    drawn += [part_of(cut, 0.0, 0.6), part_of(cut, 0.4, 1.0)]
    random.shuffle(drawn)
    joined = join_pieces(drawn, 0.01)
    loops = [c.curve for c in joined.chains if c.closed]
    assert len(loops) == len(joined.chains) == 1
    assert loops[0].area == pytest.approx(plain.area, abs=1e-6)
    assert loops[0].length == pytest.approx(plain.length, abs=1e-6)
    assert len(joined.problems) == len(first.problems)


def dxf_of(vertices, bulges, mirror):
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    block = document.blocks.new("FORM")
    rows = [(x, y, b) for (x, y), b in zip(vertices, bulges, strict=True)]
    block.add_lwpolyline(rows, format="xyb", close=True)
    block.add_circle((3, 1), 2)
    block.add_ellipse((-4, 2), (3, 0), 0.5)
    document.modelspace().add_blockref("FORM", (0, 0), dxfattribs=mirror)
    stream = io.StringIO()
    document.write(stream)
    return io.StringIO(stream.getvalue())


@settings(max_examples=15, deadline=None, derandomize=True)
@given(outlines(), st.sampled_from([("X", {"yscale": -1}), ("Y", {"xscale": -1})]))
def test_mirrored_drawing_gives_mirrored_loops(outline, mirror):
    vertices, bulges = outline
    axis, attributes = mirror
    plain = read_drawing(dxf_of(vertices, bulges, {}), strict=False)
    seen = read_drawing(dxf_of(vertices, bulges, attributes), strict=False)
    assert len(plain.loops) == len(seen.loops) == 3
    for one, other in zip(plain.loops, seen.loops, strict=True):
        wanted = mirrored(one.curve, axis).counter_clockwise()
        assert other.curve.area == pytest.approx(wanted.area, abs=1e-6)
        assert other.curve.length == pytest.approx(wanted.length, abs=1e-6)
        away = np.hypot(*(other.curve.vertices[:, None] - wanted.vertices[None]).transpose(2, 0, 1))
        assert away.min(axis=1).max() < 1e-6


def whole_file():
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    space.add_line((0, 0), (10, 0))
    space.add_lwpolyline([(0, 5, 1), (9, 5, 0)], format="xyb")
    space.add_ellipse((0, 20), (5, 0), 0.5)
    document.blocks.new("B").add_circle((0, 0), 1)
    space.add_blockref("B", (3, 3))
    spline = space.add_spline(degree=3)
    spline.control_points = [(0, 40), (5, 48), (10, 48), (15, 40)]
    spline.knots = [0, 0, 0, 0, 1, 1, 1, 1]
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


WHOLE = whole_file()


def read_or_refuse(data):
    """Return the drawing, or None where it was refused; any other error fails the test."""
    try:
        return read_drawing(io.BytesIO(data), strict=False)
    except DrawingError as fault:
        said = fault.lines
    assert said
    assert all(line.strip() for line in said)
    return None


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.binary(max_size=200))
def test_random_bytes_are_refused_in_order(data):
    read_or_refuse(data)
    read_or_refuse(data + b"\n  0\nEOF\n")
    read_or_refuse(b"AutoCAD Binary DXF\r\n\x1a\x00" + data + b"\x00\x00EOF\x00")


@settings(max_examples=40, deadline=None, derandomize=True)
@given(st.integers(0, len(WHOLE)))
def test_cut_off_files_are_refused(at):
    if at < len(WHOLE.rstrip()):
        assert read_or_refuse(WHOLE[:at].encode()) is None


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    st.integers(WHOLE.index("ENTITIES"), len(WHOLE)),
    st.sampled_from(["", "0", "-1", "nan", "1e308", "inf", "x", "999", "\n"]),
)
def test_changed_lines_are_read_or_refused(at, text):
    """One line of the entities replaced by something else never ends in another error."""
    start = WHOLE.rindex("\n", 0, at) + 1
    stop = WHOLE.find("\n", at)
    read_or_refuse((WHOLE[:start] + text + WHOLE[stop:]).encode())

"""INSERTs: nested, arrayed, mirrored, stretched, and with a Z scale of 0."""

from __future__ import annotations

import math

import numpy as np
import pytest

from knifecam.drawing import read_drawing

MICRON = 1e-3
NANO = 1e-6


def rounds(drawing):
    return sorted((np.round(c.round[0], 6).tolist(), round(c.round[1], 6)) for c in drawing.loops)


def with_hole(d):
    block = d.blocks.new("HOLE", base_point=(1, 0))
    block.add_circle((3, 0), 1)
    return d.modelspace()


def test_insert_moves_turns_and_scales_about_its_base_point(dxf):
    def draw(d):
        with_hole(d).add_blockref(
            "HOLE", (10, 10), dxfattribs={"rotation": 90, "xscale": 2, "yscale": 2, "zscale": 2}
        )

    assert rounds(read_drawing(dxf(draw))) == [([10.0, 14.0], 4.0)]


def test_z_scale_of_zero_changes_nothing_in_the_plane(dxf):
    def draw(d):
        block = d.blocks.new("FORM")
        block.add_circle((3, 0), 1)
        block.add_arc((10, 0), 2, 0, 90)
        block.add_lwpolyline([(20, 0, 1), (24, 0, 0)], format="xyb", close=True)
        block.add_ellipse((38, 8), (2, 0), 0.5)
        for z in (1, 0):
            d.modelspace().add_blockref("FORM", (100 * z, 0), dxfattribs={"zscale": z})

    drawing = read_drawing(dxf(draw))
    lengths = sorted(round(c.curve.length, 9) for c in drawing.chains)
    assert len(lengths) == 8
    assert lengths[::2] == pytest.approx(lengths[1::2], abs=1e-9)


def test_array_stands_in_the_turned_grid_and_is_not_scaled_with_it(dxf):
    def draw(d):
        with_hole(d).add_blockref(
            "HOLE",
            (0, 0),
            dxfattribs={
                "rotation": 90, "xscale": 0.5, "yscale": 0.5, "row_count": 2, "column_count": 3,
                "row_spacing": 10, "column_spacing": 20,
            },
        )  # fmt: skip

    wanted = [
        ([round(-10.0 * row, 6) + 0.0, 1.0 + 20 * column], 1.0)
        for row in (1, 0)
        for column in range(3)
    ]
    assert rounds(read_drawing(dxf(draw))) == wanted


def test_nested_inserts_multiply(dxf):
    def draw(d):
        with_hole(d)
        outer = d.blocks.new("OUTER")
        outer.add_blockref("HOLE", (5, 0), dxfattribs={"rotation": 180})
        d.modelspace().add_blockref(
            "OUTER", (0, 1), dxfattribs={"xscale": 3, "yscale": 3, "zscale": 3}
        )

    drawing = read_drawing(dxf(draw))
    assert rounds(drawing) == [([9.0, 1.0], 6.0)]
    assert "block 'HOLE' (INSERT " in str(drawing.pieces[0].origin)


@pytest.mark.parametrize(
    "mirror", [{"yscale": -1}, {"extrusion": (0, 0, -1)}], ids=["negative scale", "extrusion"]
)
def test_mirrored_insert_mirrors_bulges(dxf, mirror):
    def draw(d):
        block = d.blocks.new("HOOK")
        block.add_lwpolyline([(0, 0, 0.5), (10, 0, 0), (10, 2, 0)], format="xyb", close=True)
        d.modelspace().add_blockref("HOOK", (0, 0), dxfattribs=mirror)

    (chain,) = read_drawing(dxf(draw)).chains
    low_x, low_y, high_x, high_y = chain.bounds
    if "yscale" in mirror:
        assert (low_x, high_x) == pytest.approx((0, 10))
        assert (low_y, high_y) == pytest.approx((-2, 2.5))
    else:
        assert (low_x, high_x) == pytest.approx((-10, 0))
        assert (low_y, high_y) == pytest.approx((-2.5, 2))


def test_unequal_scale_makes_ellipses_of_circles_arcs_and_bulges(dxf):
    def draw(d):
        block = d.blocks.new("FORM")
        block.add_circle((0, 0), 5)
        block.add_lwpolyline([(20, 0, 1), (30, 0, 1)], format="xyb", close=True)
        block.add_arc((50, 0), 5, 0, 180)
        block.add_line((55, 0), (45, 0))
        d.modelspace().add_blockref(
            "FORM", (0, 0), dxfattribs={"xscale": 2, "yscale": 0.5, "rotation": 30}
        )

    drawing = read_drawing(dxf(draw))
    areas = sorted(chain.curve.area for chain in drawing.loops)
    whole = math.pi * 10 * 2.5
    assert areas == pytest.approx([whole / 2, whole, whole], abs=44 * MICRON)  # along 44 mm


def test_unequal_scale_after_a_turn_shears(dxf):
    def draw(d):
        with_hole(d)
        outer = d.blocks.new("OUTER")
        outer.add_blockref("HOLE", (0, 0), dxfattribs={"rotation": 45})
        d.modelspace().add_blockref("OUTER", (0, 0), dxfattribs={"xscale": 3})

    (chain,) = read_drawing(dxf(draw)).chains
    # the circle of radius 1 at (sqrt 2, sqrt 2), stretched three times along X
    x, y = (chain.curve.points(1e-5) - (3 * math.sqrt(2), math.sqrt(2))).T
    assert np.abs(np.hypot(x / 3, y) - 1).max() < 1e-3


def test_layer_zero_takes_the_layer_of_its_insert(dxf):
    def draw(d):
        with_hole(d).add_blockref("HOLE", (0, 0), dxfattribs={"layer": "BORES"})

    (piece,) = read_drawing(dxf(draw)).pieces
    assert piece.origin.layer == "BORES"


def test_frozen_insert_hides_its_block_switched_off_only_layer_zero(dxf):
    def draw(d, state):
        getattr(d.layers.add("PLACE"), state)()
        block = d.blocks.new("FORM")
        block.add_circle((0, 0), 1)
        block.add_circle((9, 0), 1, dxfattribs={"layer": "OWN"})
        d.modelspace().add_blockref("FORM", (0, 0), dxfattribs={"layer": "PLACE"})
        d.modelspace().add_line((20, 0), (30, 0))

    assert len(read_drawing(dxf(lambda d: draw(d, "off"))).pieces) == 2
    assert len(read_drawing(dxf(lambda d: draw(d, "freeze"))).pieces) == 1


def test_block_that_places_itself_and_missing_block_are_problems(dxf):
    def draw(d):
        block = d.blocks.new("LOOP")
        block.add_line((0, 0), (1, 0))
        block.add_blockref("LOOP", (5, 0))
        d.modelspace().add_blockref("LOOP", (0, 0))
        d.modelspace().add_blockref("GONE", (0, 0))

    problems = read_drawing(dxf(draw), strict=False).problems
    assert [p.kind for p in problems] == ["unreadable", "unreadable"]
    assert "places itself" in str(problems[0])
    assert "'GONE'" in str(problems[1])

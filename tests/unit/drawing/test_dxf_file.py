"""Files: versions, binary, streams, units, and what cannot be read."""

from __future__ import annotations

import io
import os

import pytest

from knifecam.drawing import read_drawing, report
from knifecam.errors import DrawingError

VERSIONS = ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]


def form(d):
    space = d.modelspace()
    space.add_line((0, 0), (10, 0))
    space.add_arc((10, 5), 5, 270, 90)
    space.add_line((10, 10), (0, 10))
    space.add_line((0, 10), (0, 0))
    space.add_circle((4, 5), 2)


@pytest.mark.parametrize("binary", [False, True], ids=["text", "binary"])
@pytest.mark.parametrize("version", VERSIONS)
def test_every_version_reads_alike(dxf, version, binary):
    drawing = read_drawing(dxf(form, version=version, binary=binary), units="mm")
    assert drawing.version == version
    assert drawing.binary is binary
    assert sorted(round(c.curve.area, 6) for c in drawing.loops) == [12.566371, 139.269908]


@pytest.mark.parametrize("binary", [False, True], ids=["text", "binary"])
def test_streams_read_like_files(dxf, binary):
    path = dxf(form, binary=binary)
    drawing = read_drawing(io.BytesIO(path.read_bytes()))
    assert len(drawing.loops) == 2
    if not binary:
        assert len(read_drawing(io.StringIO(path.read_text())).loops) == 2


def marked(d):
    """A closed polyline, a parabola as a spline of degree 2, and a line on a layer that is off."""
    d.layers.add("away").off()
    space = d.modelspace()
    space.add_lwpolyline([(0, 0), (9, 0), (5, 9)], close=True)
    space.add_open_spline([(20, 0), (25, 10), (30, 0)], degree=2)
    space.add_line((0, 0), (100, 0), dxfattribs={"layer": "away"})


OLD = {
    "R12": lambda text: text.replace("AC1015", "AC1009"),
    "no version": lambda text: text.replace("  9\n$ACADVER\n  1\nAC1015\n", ""),
    "no header": lambda text: "  0\nSECTION\n" + text[text.index("  2\nTABLES") :],
}


@pytest.mark.parametrize("name", OLD)
def test_marks_of_later_versions_count_more_than_the_version_stated(dxf, name):
    """Read as R12 the polyline came out open, the spline of degree 3, the layer shown."""
    text = dxf(marked, version="R2000").read_text()
    changed = OLD[name](text)
    assert changed != text
    drawing = read_drawing(io.StringIO(changed), units="mm")
    (loop,) = drawing.loops
    assert loop.curve.area == pytest.approx(40.5)
    (parabola,) = (c.curve for c in drawing.chains if not c.curve.closed)
    assert parabola.bounds == pytest.approx((20, 0, 30, 5), abs=1e-3)
    assert [item.count for item in drawing.left_out] == [1]


def test_windows_line_ends_read_alike(dxf):
    path = dxf(form)
    data = path.read_bytes().replace(b"\r\n", b"\n").replace(b"\n", b"\r\n")
    assert len(read_drawing(io.BytesIO(data)).loops) == 2


@pytest.mark.parametrize(
    ("code", "name", "length"),
    [(1, "in", 25.4), (2, "ft", 304.8), (4, "mm", 1.0), (5, "cm", 10.0), (6, "m", 1000.0)],
)
def test_stated_unit_is_used(dxf, code, name, length):
    drawing = read_drawing(dxf(lambda d: d.modelspace().add_line((0, 0), (2, 0)), units=code))
    assert (drawing.units, drawing.factor) == (name, length)
    assert drawing.chains[0].curve.length == pytest.approx(2 * length)


@pytest.mark.parametrize("units", [0, None], ids=["unitless", "absent"])
def test_without_a_unit_the_error_asks(dxf, units):
    path = dxf(form, units=units)
    with pytest.raises(DrawingError, match=r"does not say its unit .*give units='mm'") as raised:
        read_drawing(path)
    assert "15 x 10 units, 381 x 254 mm if these are inches" in str(raised.value)
    assert read_drawing(path, "in").factor == 25.4


def test_given_unit_wins_and_is_told(dxf):
    drawing = read_drawing(dxf(form, units=1), units="MM")
    assert drawing.factor == 1.0
    assert drawing.notes == ("read in mm as ordered ($INSUNITS is 1, in)",)


def test_unknown_unit_is_refused_with_the_known_ones(dxf):
    with pytest.raises(DrawingError, match="units='ell' must be one of mm, cm"):
        read_drawing(dxf(form), units="ell")


@pytest.mark.parametrize("join", [0.0, -1.0, float("nan"), float("inf"), 2.0])
def test_impossible_join_is_refused(dxf, join):
    with pytest.raises(DrawingError, match=r"join=.* must be greater than 0"):
        read_drawing(dxf(form), join=join)


def test_missing_file_is_refused(tmp_path):
    with pytest.raises(DrawingError, match="cannot be opened: no such file"):
        read_drawing(tmp_path / "none.dxf")


def test_what_is_no_file_is_refused_before_it_is_read(tmp_path):
    os.mkfifo(tmp_path / "pipe.dxf")
    with pytest.raises(DrawingError, match=r"pipe.dxf' cannot be opened: it is a pipe, not a file"):
        read_drawing(tmp_path / "pipe.dxf")
    with pytest.raises(DrawingError, match="cannot be opened: it is a device"):
        read_drawing("/dev/zero")
    with (
        open("/dev/zero", "rb") as endless,
        pytest.raises(DrawingError, match="does not end within"),
    ):
        read_drawing(endless)


@pytest.mark.parametrize("content", [b"", b"  \n"])
def test_empty_file_is_refused(tmp_path, content):
    path = tmp_path / "empty.dxf"
    path.write_bytes(content)
    with pytest.raises(DrawingError, match="is empty"):
        read_drawing(path)


def test_file_that_is_no_dxf_is_refused(tmp_path):
    path = tmp_path / "note.dxf"
    path.write_text("hello\nworld\nEOF\n")
    with pytest.raises(DrawingError, match=r"cannot be parsed as DXF: .*save it again"):
        read_drawing(path)


@pytest.mark.parametrize(
    "content",
    [b"%PDF-1.7\n1 0 obj\n<< /Type /Catalog >>\nendobj\ntrailer\n%%EOF\n", b"%PDF-1.4\n1 0 obj\n",
     b"AC1032\x00\x00\x00\x0d\x1f", b"<svg xmlns='http://www.w3.org/2000/svg'/>\n"],
)  # fmt: skip
@pytest.mark.parametrize("as_text", [False, True])
def test_another_kind_of_file_is_told_to_be_no_dxf(content, as_text):
    text = io.StringIO(content.decode()) if as_text else io.BytesIO(content)
    with pytest.raises(DrawingError, match=r"is no DXF: .*DWG or PDF must be converted first"):
        read_drawing(text)


def test_cut_off_file_is_refused_not_read_in_part(dxf):
    path = dxf(form)
    text = path.read_text()
    with pytest.raises(DrawingError, match=r"not a whole DXF: its end \(EOF\) is missing"):
        read_drawing(io.StringIO(text[: len(text) // 2]))


def test_drawing_without_anything_is_refused(dxf):
    with pytest.raises(DrawingError, match="shows no lines or curves in model space"):
        read_drawing(dxf(lambda d: None))


def test_geometry_only_in_paper_space_is_named(dxf):
    path = dxf(lambda d: d.paperspace().add_line((0, 0), (1, 1)))
    with pytest.raises(DrawingError, match=r"paper space 'Layout1' holds 1 LINE: move"):
        read_drawing(path)


def test_geometry_only_in_a_block_nobody_placed_is_named(dxf):
    path = dxf(lambda d: d.blocks.new("KNIFE").add_circle((0, 0), 1))
    with pytest.raises(DrawingError, match=r"block 'KNIFE' holds 1 CIRCLE .*insert it"):
        read_drawing(path)


def test_geometry_only_on_hidden_layers_is_named(dxf):
    def draw(d):
        d.layers.add("HELP").freeze()
        d.modelspace().add_line((0, 0), (1, 0), dxfattribs={"layer": "HELP"})

    with pytest.raises(DrawingError, match="left out: 1 LINE on layer 'HELP': on a frozen layer"):
        read_drawing(dxf(draw))


def test_problems_are_raised_together(dxf):
    def draw(d):
        space = d.modelspace()
        space.add_line((0, 0), (5, 0, 3))
        space.add_line((20, 0), (25, 0))
        space.add_line((25.3, 0), (30, 0))

    with pytest.raises(DrawingError) as raised:
        read_drawing(dxf(draw, units=0))
    assert [p.kind for p in raised.value.problems] == ["units", "off-plane", "gap"]
    assert len(raised.value.lines) == 3


def test_same_file_gives_the_same_drawing(dxf):
    path = dxf(form)
    one, other = read_drawing(path), read_drawing(path)
    assert [c.curve for c in one.chains] == [c.curve for c in other.chains]


UNITS = {
    0: None, 1: "Inches", 2: "Feet", 3: "Miles", 4: "Millimeters", 5: "Centimeters", 6: "Meters",
    7: "Kilometers", 8: "Microinches", 9: "Mils", 10: "Yards", 11: "Angstroms", 12: "Nanometers",
    13: "Microns", 14: "Decimeters", 15: "Decameters", 16: "Hectometers", 17: "Gigameters",
    18: "Astronomical units", 19: "Light years", 20: "Parsecs", 21: "US Survey Feet",
    22: "US Survey Inch", 23: "US Survey Yard", 24: "US Survey Mile",
}  # fmt: skip
"""$INSUNITS, Autodesk's DXF Reference, section HEADER."""

METRES = {
    "Inches": 0.0254, "Feet": 0.3048, "Miles": 1609.344, "Millimeters": 1e-3, "Centimeters": 0.01,
    "Meters": 1.0, "Kilometers": 1e3, "Microinches": 2.54e-8, "Mils": 2.54e-5, "Yards": 0.9144,
    "Angstroms": 1e-10, "Nanometers": 1e-9, "Microns": 1e-6, "Decimeters": 0.1,
    "Decameters": 10.0, "Hectometers": 100.0, "Gigameters": 1e9,
    "Astronomical units": 149_597_870_700.0, "Light years": 9_460_730_472_580_800.0,
    "Parsecs": 3.0856775814913673e16, "US Survey Feet": 0.3048006096012192,
    "US Survey Inch": 0.0254000508001016, "US Survey Yard": 0.9144018288036576,
    "US Survey Mile": 1609.3472186944374,
}  # fmt: skip
"""NIST Special Publication 811 (2008), appendix B.8; the parsec of IAU Resolution 2015 B2."""


@pytest.mark.parametrize("code", [code for code, name in UNITS.items() if name])
def test_every_unit_of_the_format_is_known(dxf, code):
    drawing = read_drawing(
        dxf(lambda d: d.modelspace().add_line((0, 0), (1, 0)), units=code), strict=False
    )
    assert drawing.factor == pytest.approx(1000 * METRES[UNITS[code]], rel=1e-12)
    assert drawing.stated == f"$INSUNITS is {code}, {drawing.units}"
    assert read_drawing(dxf(form), drawing.units, strict=False).factor == drawing.factor


def test_a_unit_that_the_format_does_not_know_asks(dxf):
    with pytest.raises(DrawingError, match=r"\(\$INSUNITS is 25, no unit that a DXF knows\)"):
        read_drawing(dxf(form, units=25))


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
@pytest.mark.parametrize("ends", [b"\n", b"\r\n"])
def test_a_byte_order_mark_is_read_past(dxf, version, ends):
    data = dxf(form, version=version).read_bytes().replace(b"\r\n", b"\n").replace(b"\n", ends)
    plain = read_drawing(io.BytesIO(data), "mm")
    marked = read_drawing(io.BytesIO(b"\xef\xbb\xbf" + data), "mm")
    text = read_drawing(io.StringIO("\ufeff" + data.decode()), "mm")
    for drawing in (marked, text):
        assert [c.curve for c in drawing.chains] == [c.curve for c in plain.chains]
        assert (drawing.version, drawing.notes) == (plain.version, plain.notes)


def test_signs_that_steer_a_terminal_are_written_out(dxf):
    """An escape, a right-to-left override and an isolate, in a layer's, a block's and a file's name."""
    names = "A\x1b[31m", "B\u202ec", "B\u2066c"

    def draw(d):
        for name in names:
            d.layers.add(name)
            d.modelspace().add_line((0, 0), (9, 9), dxfattribs={"layer": name})
        d.blocks.new("C\u202e").add_line((0, 0), (0, 0, 9))
        d.modelspace().add_blockref("C\u202e", (0, 0))

    drawing = read_drawing(dxf(draw, name="d\u202e.dxf"), strict=False)
    lines = [*report(drawing), *map(str, drawing.problems)]
    assert all(line.isprintable() for line in lines)
    assert [layer.name for layer in drawing.layers] == [
        r"A\U+001B[31m", r"B\U+202Ec", r"B\U+2066c",
    ]  # fmt: skip
    assert drawing.name == r"d\U+202E.dxf"


@pytest.mark.parametrize(
    ("whole", "damaged"),
    [
        ("AcDbCircle\n 10\n4.0\n", "AcDbCircle\n 10\n4.0?\n"),
        ("  0\nENDSEC\n  0\nSECTION\n", "  0\nSECTION\n"),
    ],
    ids=["number", "end of a section"],
)
def test_a_damaged_file_is_recovered_and_that_is_told(dxf, capfd, whole, damaged):
    path = dxf(form)
    text = path.read_text()
    assert whole in text
    path.write_text(text.replace(whole, damaged, 1))
    drawing = read_drawing(path)
    assert sorted(round(c.curve.area, 6) for c in drawing.loops) == [12.566371, 139.269908]
    assert drawing.notes[0].startswith("the file is damaged (")
    assert drawing.notes[0].endswith("see that nothing is missing, and save it again as DXF")
    assert report(drawing)[2].startswith("note: the file is damaged")
    assert capfd.readouterr() == ("", "")

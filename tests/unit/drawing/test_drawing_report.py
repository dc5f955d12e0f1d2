"""What `look` prints and draws, also for drawings with problems."""

from __future__ import annotations

import json

import numpy as np
import pytest
from matplotlib.image import imread

from knifecam.drawing import Roles, picture, read_drawing, report, report_data
from knifecam.errors import OutputError


def knife(space):
    rows = [(0, 0, 0), (80, 0, 0.2), (100, 15, 0), (0, 20, 0)]
    space.add_lwpolyline(rows, format="xyb", close=True)
    space.add_circle((10, 10), 2.5)
    space.add_text("BACK", dxfattribs={"layer": "NOTES"})


def broken(space):
    knife(space)
    space.add_line((0, 30), (20, 30))
    space.add_line((20.5, 30), (40, 30))
    space.add_line((0, 30), (20, 30))


def test_report_says_what_was_understood(dxf):
    lines = report(read_drawing(dxf(lambda d: knife(d.modelspace()))))
    assert lines[0] == "drawing 'part.dxf': DXF R2010, text, unit mm ($INSUNITS is 4, mm)"
    text = "\n".join(lines)
    assert "layer '0': 1 CIRCLE, 1 LWPOLYLINE" in text
    assert "loop 2: circle of 5 mm at (10, 10), area 19.63 mm2" in text
    assert "left out: 1 TEXT on layer 'NOTES': text" in text
    assert "1 bore, 0 slots" in text
    assert "  bore B1: 5 mm at (10, 10)" in lines


def test_report_of_an_inch_drawing_gives_both(dxf):
    lines = report(read_drawing(dxf(lambda d: knife(d.modelspace()), units=1)))
    assert "given here in mm" in lines[0]
    assert "2540 x 508 mm (100 x 20 in)" in lines[1]


def test_report_of_problems_numbers_them_and_gives_repairs(dxf):
    drawing = read_drawing(dxf(lambda d: broken(d.modelspace()), units=0), strict=False)
    lines = report(drawing)
    text = "\n".join(lines)
    assert "problem 1 (units): the drawing does not say its unit" in text
    assert "problem 2 (gap): layer '0', handle" in text
    assert "end is 0.5 units from the next start" in text
    assert "repair (twin): layer '0', handle" in text
    assert lines[-1] == "part: not known; mend the 2 problems first"


def test_report_with_roles_lists_what_is_not_clear(dxf):
    drawing = read_drawing(dxf(lambda d: knife(d.modelspace())))
    lines = report(drawing, Roles(outline=("EDGE",)))
    assert lines[-2:] == [
        "part: not clear",
        "  outline: layer 'EDGE' is not in the drawing; layers with geometry: '0'",
    ]


@pytest.mark.parametrize("draw", [knife, broken])
def test_figures_go_through_json(dxf, draw):
    drawing = read_drawing(dxf(lambda d: draw(d.modelspace())), strict=False)
    data = json.loads(json.dumps(report_data(drawing), allow_nan=False))
    assert data["units"] == "mm"
    assert len(data["loops"]) == 2
    if draw is broken:
        assert [p["kind"] for p in data["problems"]] == ["gap"]
        assert set(data["problems"][0]) >= {"layer", "handle", "place", "size", "message"}
        assert data["part"] is None
        assert data["unclear"]
    else:
        assert data["part"]["bores"] == [{"name": "B1", "centre": [10, 10], "diameter": 5}]


@pytest.mark.parametrize("suffix", ["png", "svg"])
@pytest.mark.parametrize("draw", [knife, broken])
def test_picture_is_the_same_each_time(dxf, tmp_path, draw, suffix):
    drawing = read_drawing(dxf(lambda d: draw(d.modelspace())), strict=False)
    one = picture(drawing, tmp_path / f"one.{suffix}")
    other = picture(drawing, tmp_path / f"other.{suffix}")
    assert one.read_bytes() == other.read_bytes()
    assert len(one.read_bytes()) > 1000


def test_picture_uses_one_ink(dxf, tmp_path):
    import matplotlib.image

    drawing = read_drawing(dxf(lambda d: broken(d.modelspace())), strict=False)
    seen = matplotlib.image.imread(picture(drawing, tmp_path / "ink.png"))[..., :3]
    ink, paper = np.array([0x1D, 0x2A, 0x33]) / 255, np.ones(3)
    share = (paper - seen) @ (paper - ink) / ((paper - ink) @ (paper - ink))
    off = np.abs(seen - (paper - share[..., None] * (paper - ink)))
    assert off.max() < 0.02


def test_picture_of_another_kind_is_refused(dxf, tmp_path):
    drawing = read_drawing(dxf(lambda d: knife(d.modelspace())))
    with pytest.raises(OutputError, match=r"must end in .png or .svg"):
        picture(drawing, tmp_path / "knife.bmp")


def test_reading_loads_no_matplotlib():
    import subprocess
    import sys

    code = "import sys, knifecam.drawing; sys.exit('matplotlib' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_picture_names_the_bores_of_a_clear_part(dxf, tmp_path, monkeypatch):
    import matplotlib.axes

    written = []
    real = matplotlib.axes.Axes.annotate

    def annotate(axes, text, *args, **more):
        written.append(text)
        return real(axes, text, *args, **more)

    monkeypatch.setattr(matplotlib.axes.Axes, "annotate", annotate)
    picture(read_drawing(dxf(lambda d: knife(d.modelspace()))), tmp_path / "a.png")
    assert written == ["B1"]
    unclear = read_drawing(dxf(lambda d: broken(d.modelspace())), strict=False)
    picture(unclear, tmp_path / "b.png")
    assert written == ["B1", "1"]  # then only the problem's balloon


def test_problems_of_layers_that_are_not_cut_are_counted_once_the_outline_is_named(dxf, tmp_path):
    def draw(space):
        knife(space)
        for k in range(3):
            space.add_line((0, 40), (20, 40 + k), dxfattribs={"layer": "HELP"})

    drawing = read_drawing(dxf(lambda d: draw(d.modelspace())), strict=False)
    before = "\n".join(report(drawing))
    assert "problem 1 (fork): layer 'HELP'" in before
    assert "name the outline's layer, outline='0': then only what lies on layers" in before
    named = Roles(outline=("0",))
    after = "\n".join(report(drawing, named))
    assert "problem 1" not in after
    assert "2 problems on layers that are not cut; the part is not affected" in after
    assert report_data(drawing, named)["problems"] == []
    one, other = picture(drawing, tmp_path / "a.png"), picture(drawing, tmp_path / "b.png", named)
    assert one.read_bytes() != other.read_bytes()  # no balloon


def test_a_name_with_dollars_is_drawn(dxf, tmp_path):
    drawing = read_drawing(dxf(lambda d: knife(d.modelspace()), name="$a_$^$.dxf"))
    assert picture(drawing, tmp_path / "a.png").exists()


def test_a_caption_stays_on_a_narrow_sheet(dxf, tmp_path):
    """ "as printed" was cut off: the rightmost tenth of an inch has no ink above the frame."""

    def draw(d):
        space = d.modelspace()
        for k in range(3):
            space.add_line((0, 0), (20, 300 + k))

    drawing = read_drawing(dxf(draw, name="a-name-of-some-length.dxf"), strict=False)
    ink = imread(picture(drawing, tmp_path / "a.png"))[:55, -15:, :3]
    assert ink.min() > 0.99

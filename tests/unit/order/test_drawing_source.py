"""Orders that name a drawing: its layers, its troubles, and what of it the digest knows."""

from __future__ import annotations

import os
import shutil
from itertools import pairwise
from pathlib import Path

import ezdxf
import pytest

from knifecam.errors import DrawingError, OrderError
from knifecam.order import load_order
from knifecam.rules.rule_passes import remarks

LAYERS = """
[drawing]
file = "knife.dxf"
outline = "PROFILE"
bores = ["BORES"]
tabs = "TABS"
no_tabs = "KEEP"
"""


def draw(path: Path, units: int = 4, *, gap: float = 0.0, size: float = 1.0) -> None:
    """Write a blade of 140 x 24 with two bores, a tab place and a line to keep off."""
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = units
    space = document.modelspace()

    def scaled(*places: tuple[float, float]) -> list[tuple[float, float]]:
        return [(x * size, y * size) for x, y in places]

    corners = scaled((0, 0), (140, 0), (140, 24), (0, 24 - gap), (0, 0))
    if gap:
        for start, end in pairwise(corners[:4]):
            space.add_line(start, end, dxfattribs={"layer": "PROFILE"})
        space.add_line((0, (24 - 2 * gap) * size), (0, 0), dxfattribs={"layer": "PROFILE"})
    else:
        space.add_lwpolyline(corners[:4], close=True, dxfattribs={"layer": "PROFILE"})
    for centre in scaled((10, 12), (50, 12)):
        space.add_circle(centre, 2.5 * size, dxfattribs={"layer": "BORES"})
    space.add_point(scaled((70, 24))[0], dxfattribs={"layer": "TABS"})
    space.add_line(*scaled((100, 0), (130, 0)), dxfattribs={"layer": "KEEP"})
    document.saveas(path)


@pytest.fixture
def folder(tmp_path: Path, sound: str) -> Path:
    draw(tmp_path / "knife.dxf")
    (tmp_path / "knife.toml").write_text(sound + LAYERS)
    return tmp_path


def test_what_of_the_drawing_is_left_alone_is_told(folder: Path, sound: str) -> None:
    order = load_order(folder / "knife.toml")
    assert not any("not used" in line for line in remarks(order))
    text = sound + LAYERS.replace('bores = ["BORES"]\n', "")
    (folder / "knife.toml").write_text(text)
    order = load_order(folder / "knife.toml")
    assert order.blade.bores == ()
    assert "drawing: layer 'BORES' has no role; not used: 2 CIRCLE" in remarks(order)


def test_the_layers_become_the_blade(folder: Path) -> None:
    order = load_order(folder / "knife.toml")
    assert order.blade.outline.bounds == pytest.approx((0, 0, 140, 24))
    assert order.blade.outline.area == pytest.approx(140 * 24)
    assert [(b.name, b.diameter) for b in order.blade.bores] == [("B1", 5.0), ("B2", 5.0)]
    assert order.blade.bores[1].centre == pytest.approx((50, 12))
    whole = order.blade.outline.length
    (station,) = order.tabs.stations
    (stretch,) = order.tabs.no_tabs
    assert (stretch.end - stretch.start) % whole == pytest.approx(30)
    assert (station - stretch.end) % whole == pytest.approx(10 + 24 + 70)


def test_the_digest_knows_the_drawing_and_not_where_it_lies(folder: Path, tmp_path: Path) -> None:
    first = load_order(folder / "knife.toml").digest
    elsewhere = tmp_path / "elsewhere" / "deep"
    elsewhere.mkdir(parents=True)
    text = (folder / "knife.toml").read_text()
    (elsewhere / "other.toml").write_text(text.replace("knife.dxf", "../blade.dxf"))
    drawing = (folder / "knife.dxf").read_bytes()
    (elsewhere.parent / "blade.dxf").write_bytes(drawing.replace(b"\n", b"\r\n"))
    assert load_order(elsewhere / "other.toml").digest == first
    (elsewhere.parent / "blade.dxf").write_bytes(drawing.replace(b"140.0", b"140.5"))
    assert load_order(elsewhere / "other.toml").digest != first


def test_an_absolute_way_to_the_drawing(folder: Path, tmp_path: Path) -> None:
    shutil.move(folder / "knife.dxf", tmp_path / "moved.dxf")
    order = folder / "knife.toml"
    order.write_text(order.read_text().replace("knife.dxf", (tmp_path / "moved.dxf").as_posix()))
    assert load_order(order).blade.bores


def test_a_drawing_in_inches(folder: Path) -> None:
    metric = load_order(folder / "knife.toml")
    draw(folder / "knife.dxf", units=1, size=1 / 25.4)
    inch = load_order(folder / "knife.toml")
    assert inch.blade.outline.bounds == pytest.approx(metric.blade.outline.bounds, abs=1e-9)


def test_a_drawing_without_units_asks_and_the_order_answers(folder: Path) -> None:
    draw(folder / "knife.dxf", units=0)
    with pytest.raises(DrawingError, match="unit"):
        load_order(folder / "knife.toml")
    text = (folder / "knife.toml").read_text()
    (folder / "knife.toml").write_text(text.replace("[drawing]\n", '[drawing]\nunits = "mm"\n'))
    assert load_order(folder / "knife.toml").blade.bores


def test_trouble_in_the_drawing_alone_is_the_drawings(folder: Path) -> None:
    draw(folder / "knife.dxf", gap=0.3)
    with pytest.raises(DrawingError, match=r"0\.3"):
        load_order(folder / "knife.toml")


def test_a_wider_join_closes_the_gap(folder: Path) -> None:
    draw(folder / "knife.dxf", gap=0.05)
    text = (folder / "knife.toml").read_text()
    (folder / "knife.toml").write_text(text.replace("[drawing]\n", "[drawing]\njoin = 0.06\n"))
    assert load_order(folder / "knife.toml").blade.outline.closed


def test_troubles_of_order_and_drawing_come_together(folder: Path) -> None:
    draw(folder / "knife.dxf", gap=0.3)
    text = (folder / "knife.toml").read_text()
    (folder / "knife.toml").write_text(text + "[tabs]\nwaist = -1\n")
    with pytest.raises(OrderError) as caught:
        load_order(folder / "knife.toml")
    assert any(line.startswith("tabs.waist=-1 mm") for line in caught.value.lines)
    assert any("layer 'PROFILE'" in line for line in caught.value.lines)


def test_a_layer_that_is_not_there(folder: Path) -> None:
    text = (folder / "knife.toml").read_text()
    (folder / "knife.toml").write_text(text.replace('"PROFILE"', '"OUTLINE"'))
    with pytest.raises(DrawingError, match="layer 'OUTLINE' is not in the drawing"):
        load_order(folder / "knife.toml")


@pytest.mark.parametrize("name", [".", "knife.toml"])
def test_what_is_no_drawing(folder: Path, name: str) -> None:
    text = (folder / "knife.toml").read_text()
    (folder / "knife.toml").write_text(text.replace('"knife.dxf"', f'"{name}"'))
    with pytest.raises((DrawingError, OrderError)) as caught:
        load_order(folder / "knife.toml")
    assert name in caught.value.lines[0]


def test_an_order_or_a_drawing_that_is_a_pipe_is_refused_and_not_waited_for(folder: Path) -> None:
    os.mkfifo(folder / "pipe")
    with pytest.raises(OrderError, match='pipe" cannot be read: it is a pipe, not a file'):
        load_order(folder / "pipe")
    text = (folder / "knife.toml").read_text()
    (folder / "knife.toml").write_text(text.replace('"knife.dxf"', '"pipe"'))
    with pytest.raises(OrderError, match=r'drawing\.file="pipe" cannot be read: it is a pipe'):
        load_order(folder / "knife.toml")

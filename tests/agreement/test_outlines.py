"""The ten outlines are what their names say, and come back from a DXF as they were."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from knifecam.curve import signed_distance
from knifecam.drawing import Roles, find_parts, read_drawing
from tests.agreement.outlines import DRAWN, as_dxf

NANO = 1e-6
HOLLOW = 2.2
WEB = 2.0


@pytest.fixture(scope="module", params=DRAWN)
def blade(request):
    return request.param, DRAWN[request.param]()


def test_outline_is_simple_and_counter_clockwise(blade):
    _, drawn = blade
    curve = drawn.outline
    assert curve.closed
    assert curve.area > 0
    assert shapely.LinearRing(curve.points(0.01)).is_simple


def test_inner_radii_can_be_milled(blade):
    _, drawn = blade
    curve = drawn.outline
    hollow = curve.is_arc & (curve.angles < 0)
    assert curve.radii[hollow].min(initial=np.inf) >= HOLLOW
    turn = curve.start_headings - np.roll(curve.end_headings, 1)
    turn = (turn + np.pi) % (2 * np.pi) - np.pi
    # a bend of many short lines is as wide as their length over the turn
    inward = (turn < -1e-6) & (np.minimum(curve.lengths, np.roll(curve.lengths, 1)) < 1.0)
    assert not (turn < -0.05).any()
    assert (curve.lengths[inward] / -turn[inward]).min(initial=np.inf) >= HOLLOW
    for slot in drawn.slots:
        assert slot.outline.radii[slot.outline.is_arc].min() >= HOLLOW


def test_webs_are_wide_enough(blade):
    _, drawn = blade
    for bore in drawn.bores:
        inside = signed_distance([bore.centre], drawn.outline)[0] - bore.diameter / 2
        assert inside >= WEB
        for slot in drawn.slots:
            outside = -signed_distance([bore.centre], slot.outline)[0] - bore.diameter / 2
            assert outside >= WEB
    for k, one in enumerate(drawn.bores):
        for other in drawn.bores[k + 1 :]:
            apart = np.hypot(*np.subtract(one.centre, other.centre))
            assert apart - (one.diameter + other.diameter) / 2 >= WEB
    for slot in drawn.slots:
        assert signed_distance(slot.outline.points(0.01), drawn.outline).min() >= WEB


def test_names_are_true():
    sizes = {name: DRAWN[name]().outline.bounds for name in DRAWN}
    length = {name: b[2] - b[0] for name, b in sizes.items()}
    assert length["tiny"] == pytest.approx(60)
    assert length["long"] == pytest.approx(400)
    assert length["inch_dimensioned"] == pytest.approx(7 * 25.4)
    assert len(DRAWN["short_lines_3000"]().outline) == 3000
    assert len(DRAWN["many_holed"]().bores) == 22


@pytest.mark.parametrize("inches", [False, True], ids=["mm", "inch"])
def test_drawing_comes_back(blade, tmp_path, inches):
    """Bulges, bores and slots within 1 nm, whatever the unit of the drawing."""
    name, drawn = blade
    drawing = read_drawing(as_dxf(drawn, tmp_path / f"{name}.dxf", inches=inches))
    found = find_parts(drawing, Roles(outline=("PROFILE",), bores=("BORES",)))
    assert not drawing.repairs
    assert len(found.outline) == len(drawn.outline)
    assert found.outline.area == pytest.approx(drawn.outline.area, abs=1e-4)
    assert found.outline.length == pytest.approx(drawn.outline.length, abs=1e-6)
    ours = {tuple(np.round(v, 5) + 0.0) for v in drawn.outline.vertices}
    theirs = {tuple(np.round(v, 5) + 0.0) for v in found.outline.vertices}
    assert len(ours ^ theirs) <= 0.02 * len(ours) + 2  # roundings on the half
    assert [b.name for b in found.bores] == [b.name for b in drawn.bores]
    for one, other in zip(found.bores, drawn.bores, strict=True):
        assert one.centre == pytest.approx(other.centre, abs=NANO)
        assert one.diameter == pytest.approx(other.diameter, abs=NANO)


@pytest.mark.parametrize("inches", [False, True], ids=["mm", "inch"])
def test_slots_come_back(tmp_path, inches):
    drawn = DRAWN["many_holed"]()
    drawing = read_drawing(as_dxf(drawn, tmp_path / "holes.dxf", inches=inches))
    found = find_parts(drawing)
    assert len(found.bores) == 22
    for slot, wanted in zip(found.slots, drawn.slots, strict=True):
        assert slot.area == pytest.approx(wanted.outline.area, abs=1e-6)

"""The demo drawings: made by their script, alike each time, and what a maker would want."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from knifecam.drawing import Roles, find_parts, no_tab_stretches, read_drawing

EXAMPLES = Path(__file__).parents[3] / "examples"
NAMES = ("field-knife-230x32.dxf", "petty-150.dxf", "netting-knife-60.dxf", "hunter-104.dxf")
HOLLOW = {NAMES[0]: 3.5, NAMES[1]: 3.0, NAMES[2]: 7.5, NAMES[3]: 4.5}


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    """Return two folders into which the script has drawn the demos."""
    folders = [tmp_path_factory.mktemp(name) for name in ("one", "other")]
    for folder in folders:
        subprocess.run([sys.executable, EXAMPLES / "draw_demos.py", folder], check=True)
    return folders


def parts(path):
    drawing = read_drawing(path)
    slots = ("SLOTS",) if "petty" in path.name else ()
    roles = Roles(outline=("PROFILE",), bores=("BORES",), slots=slots, no_tabs=("EDGE",))
    return drawing, find_parts(drawing, roles)


@pytest.mark.parametrize("name", NAMES)
def test_script_gives_the_same_bytes_each_time(drawn, name):
    one, other = (folder / name for folder in drawn)
    assert one.read_bytes() == other.read_bytes()


@pytest.mark.parametrize("name", NAMES)
def test_files_beside_the_script_are_what_it_draws(drawn, name):
    """Compared as curves: another version of the DXF library may order its tables otherwise."""
    kept, made = read_drawing(EXAMPLES / name), read_drawing(drawn[0] / name)
    assert [c.curve for c in kept.chains] == [c.curve for c in made.chains]
    assert [p.origin.layer for p in kept.pieces] == [p.origin.layer for p in made.pieces]


@pytest.mark.parametrize("name", NAMES)
def test_demo_is_clean_and_can_be_milled(name):
    drawing, found = parts(EXAMPLES / name)
    assert not drawing.problems
    assert not drawing.repairs
    outline = found.outline
    assert np.asarray(outline.corners).sum() == 1  # the tip
    hollow = outline.is_arc & (outline.angles < 0)
    assert hollow.any()
    assert outline.radii[hollow].min() >= HOLLOW[name]
    for slot in found.slots:
        assert slot.radii[slot.is_arc].min() >= 3.0 - 1e-9


@pytest.mark.parametrize("name", NAMES)
def test_edge_is_kept_free_of_tabs(name):
    _, found = parts(EXAMPLES / name)
    (stretch,) = no_tab_stretches(found.outline, found.no_tabs, found.no_tab_pairs)
    tip = found.outline.stations[int(np.flatnonzero(found.outline.corners)[0])]
    assert stretch.end == pytest.approx(tip, abs=1e-6)
    assert 60 < (stretch.end - stretch.start) % found.outline.length < 160


def test_sizes_are_as_the_names_say():
    drawing, field = parts(EXAMPLES / NAMES[0])
    assert field.outline.bounds == pytest.approx((-118, -18, 112, 14))
    assert sorted(b.diameter for b in field.bores) == [5, 5, 5, 6.35]
    assert drawing.units == "mm"
    _, petty = parts(EXAMPLES / NAMES[1])
    assert petty.outline.bounds[2] == pytest.approx(150)
    assert [b.diameter for b in petty.bores] == [4, 4]
    assert len(petty.slots) == 1


@pytest.mark.parametrize("name", NAMES)
def test_without_roles_the_same_part_is_found(name):
    drawing, found = parts(EXAMPLES / name)
    alone = find_parts(drawing)
    assert alone.outline == found.outline
    assert alone.bores == found.bores
    assert alone.slots == found.slots

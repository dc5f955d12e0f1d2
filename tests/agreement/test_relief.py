"""Bores and slots opened wider from side B: whatever the relief and the cell, nothing is found."""

from __future__ import annotations

from dataclasses import replace

import pytest

from knifecam.judge.prove import judge
from knifecam.making import make
from tests.agreement.orders import simple_order


@pytest.mark.parametrize("relief", [0.0, 0.04, 0.14, 0.3, 0.5])
@pytest.mark.parametrize("cell", [0.1, 0.05])
def test_a_skin_opened_wider_by_the_relief_is_no_gouge(relief: float, cell: float) -> None:
    """Half of 0.14 mm is more than a cell of 0.05 mm: what lies beside the wall was taken for flat."""
    order = simple_order()
    order = replace(order, boring=replace(order.boring, oversize=relief))
    judged = make(order, cell=cell).judged
    assert judged.verdict.findings == ()
    opened = {one.name: one.past[1].max() - one.past[0].max() for one in judged.case.openings}
    assert opened == pytest.approx({"B1": relief / 2, "S1": relief / 2})


def test_a_cell_smaller_than_the_relief_finds_no_gouge() -> None:
    judged = make(simple_order(), cell=0.015).judged
    assert judged.verdict.findings == ()


def test_a_face_cut_beside_the_relief_is_a_gouge() -> None:
    """The relief is no leave to cut the face further out."""
    order = simple_order()
    wide = replace(order, boring=replace(order.boring, oversize=0.3))
    texts = tuple(program.text for program in make(wide, cell=0.1).programs)
    narrow = replace(order, boring=replace(order.boring, oversize=0.04))
    found = judge(narrow, texts, cell=0.03).verdict.findings  # type: ignore[arg-type]
    assert {f.kind for f in found} == {"gouge"}
    assert any("off the blade's face" in f.message for f in found)
    assert any("past the wall of B1" in f.message for f in found)

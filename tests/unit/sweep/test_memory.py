"""Cells are weighed against the memory at hand before anything is taken."""

import re
import tracemalloc
from dataclasses import replace

import pytest

from knifecam.errors import KnifecamError
from knifecam.judge.prove import judge, judge_misplaced
from knifecam.report.surface_deviation import blade_surface
from knifecam.shop.setup import Misplacement
from knifecam.sweep import columns
from knifecam.sweep.columns import refuse_cells
from knifecam.sweep.threads import usable_memory
from tests.unit.judge import hand_written as hand

LARGE = (0.0, 0.0, 680.0, 170.0)
TEXTS = (hand.side_a(), hand.side_b())


@pytest.fixture
def two_gigabytes(monkeypatch):
    monkeypatch.setattr(columns, "usable_memory", lambda: 2.5e9)


@pytest.mark.parametrize("grids", [1, 2])
def test_the_cell_that_is_named_would_do_and_no_finer(two_gigabytes, grids):
    with pytest.raises(KnifecamError, match=r"cell=0\.01 mm makes 1156 million cells") as refused:
        refuse_cells(LARGE, 0.01, grids=grids)
    least = float(re.search(r"cell=([0-9.]+) mm or more would do", str(refused.value))[1])
    refuse_cells(LARGE, least, grids=grids)
    with pytest.raises(KnifecamError):
        refuse_cells(LARGE, least - 0.001, grids=grids)


def test_no_memory_at_all_is_refused(monkeypatch):
    monkeypatch.setattr(columns, "usable_memory", lambda: 0)
    with pytest.raises(KnifecamError, match="free some memory"):
        refuse_cells(LARGE, 0.05)


@pytest.mark.parametrize("cell", [float("nan"), 0.0, -0.1])
def test_what_is_no_cell_is_refused_as_such(cell):
    with pytest.raises(ValueError, match="greater than 0"):
        judge(hand.order(), TEXTS, cell=cell)


def test_nothing_is_taken_before(monkeypatch, two_gigabytes):
    order = hand.order()
    plate = replace(order.setup.plate, length=680.0, width=170.0)
    order = replace(order, setup=replace(order.setup, plate=plate))

    def taken(*given):
        raise AssertionError("memory was taken")

    for room in ("knifecam.judge.prove", "knifecam.report.surface_deviation"):
        monkeypatch.setattr(f"{room}.plate_grid", taken)
        monkeypatch.setattr(f"{room}.read_program", taken)
    asked = (
        lambda: judge(order, TEXTS, cell=0.01),
        lambda: next(judge_misplaced(order, TEXTS, (Misplacement(),), cell=0.01)),
        lambda: blade_surface(order, TEXTS, cell=0.001),
    )
    for ask in asked:
        with pytest.raises(KnifecamError, match="million cells"):
            ask()


def test_some_memory_is_usable():
    assert 10e6 < usable_memory() < 1e15


def test_a_cell_takes_no_more_than_it_is_weighed_with():
    peaks, counts = [], []
    for cell in (0.1, 0.03):
        tracemalloc.start()
        found = judge(hand.order(), TEXTS, cell=cell)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        counts.append(found.grid.top.size)
    each = (peaks[1] - peaks[0]) / (counts[1] - counts[0])
    assert 16 < each < columns.CELL_BYTES

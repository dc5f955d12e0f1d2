"""Pictures of bevels: written, of the same bytes each time, and with the worst places told."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from knifecam.judge.prove import Judged, judge
from knifecam.quantity import told
from knifecam.report import deviation_picture as deviation_picture_module
from knifecam.report.deviation_picture import deviation_picture
from knifecam.report.section_picture import sections_picture
from tests.unit.judge import hand_bevel as hand


@cache
def judged() -> Judged:
    return judge(hand.order(), (hand.side_a(), hand.side_b()))


@pytest.mark.parametrize("side", ["A", "B"])
def test_deviation_is_the_same_bytes_each_time(side: str, tmp_path: Path) -> None:
    for name in ("one.png", "two.png"):
        deviation_picture(judged(), side, tmp_path / name)
    one, two = ((tmp_path / name).read_bytes() for name in ("one.png", "two.png"))
    assert one == two
    assert one.startswith(b"\x89PNG")


def test_sections_are_the_same_bytes_each_time(tmp_path: Path) -> None:
    for name in ("one.png", "two.png"):
        sections_picture(judged(), tmp_path / name)
    one, two = ((tmp_path / name).read_bytes() for name in ("one.png", "two.png"))
    assert one == two
    assert one.startswith(b"\x89PNG")


def test_a_land_that_runs_out_is_told_from_its_least_to_its_most() -> None:
    """One figure for a land of 0.409 to 1.202 mm would be right at no place of it."""
    edge = SimpleNamespace(
        bevel=SimpleNamespace(name="back"),
        land=np.array([0.413, 0.8, 1.2032]),
        wanted=np.array([0.409, 0.8, 1.202]),
    )
    stood = cast(Any, SimpleNamespace(case=SimpleNamespace(edges=[edge])))
    row = deviation_picture_module._land_row(stood)
    assert told(row) == "land   back: 0.4130 to 1.2032 mm (ordered 0.409 to 1.202)"

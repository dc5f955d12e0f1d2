"""Pictures of the cut plate: written whole, and the same bytes every time."""

from __future__ import annotations

import struct
import sys
from functools import cache
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import hand_written as hand

from knifecam.simulator.judging import Judged, judge
from knifecam.simulator.picture import picture


@cache
def judged() -> Judged:
    text = hand.side_b().replace("S8000", "S90000")
    return judge(hand.order(), (hand.side_a(), text), cell=0.25)


def size(path: Path) -> tuple[int, int]:
    data = path.read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    wide, tall = struct.unpack(">II", data[16:24])
    return wide, tall


def test_one_sheet_holds_both_views(tmp_path: Path) -> None:
    picture(judged(), tmp_path / "both.png")
    picture(judged(), tmp_path / "a.png", tmp_path / "b.png")
    both, a, b = (size(tmp_path / f"{name}.png") for name in ("both", "a", "b"))
    assert both[0] == a[0] == b[0]
    assert both[1] > a[1]


@pytest.mark.parametrize("again", [1])
def test_the_same_verdict_gives_the_same_bytes(tmp_path: Path, again: int) -> None:
    picture(judged(), tmp_path / "0.png")
    picture(judged(), tmp_path / f"{again}.png")
    assert (tmp_path / "0.png").read_bytes() == (tmp_path / f"{again}.png").read_bytes()

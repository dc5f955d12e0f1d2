"""Pictures of the cut plate: written whole, and the same bytes every time."""

from __future__ import annotations

import struct
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from knifecam.judge.prove import Judged, judge
from knifecam.report import plate_picture
from knifecam.report.plate_picture import Room, mark_size, picture
from knifecam.report.screen_lines import uncut_lines
from knifecam.sweep.side_frames import side_frame
from tests.unit.judge import hand_written as hand


@cache
def judged() -> Judged:
    text = hand.side_b().replace("S8000", "S90000")
    return judge(hand.order(), (hand.side_a(), text))


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


def test_labels_lie_on_no_edge_no_zero_and_no_other_label() -> None:
    """The plate is 1.1 mm a mark unit long: labels keep 1.65 mm off edges, 2.475 off each other."""
    room = Room(judged(), "A")
    scale = mark_size(judged())
    middle = (room.low + room.high) / 2
    edge = np.array([middle[0], room.high[1] + 0.1])
    zero = np.array(side_frame(judged().case.order.setup, "A").datum)
    assert room.clear == pytest.approx(1.5 * scale)
    assert room.first([edge, zero + 1.0, middle, middle + 5.0]) == 2
    assert room.first([middle + 1.0, middle + 5.0]) == 1
    assert room.first([middle, middle + 5.0]) == 0  # nothing is free: the first


def test_labels_keep_off_a_zero_in_the_plate() -> None:
    order = hand.order()
    x0, y0, x1, y1 = order.setup.plate.bounds
    centre = ((x0 + x1) / 2, (y0 + y1) / 2)
    setup = replace(order.setup, datum=(centre, centre))
    moved = SimpleNamespace(case=SimpleNamespace(order=replace(order, setup=setup)))
    room = Room(moved, "A")
    at = np.array(centre)
    assert room.first([at + 0.5, at - 6.0]) == 1
    # nor may a pointer run across it
    left, right, aside = (np.array(p) for p in ((-6.0, 0.0), (6.0, 0.0), (-6.0, 3.0)))
    assert room.first([at + left, at + aside], [at + right, at + 2 * aside]) == 1


def test_uncut_corners_are_numbered_as_on_the_screen() -> None:
    """0.0001 mm is left out there: what stands behind it must not be C2 here and C1 there."""
    common = {"of": "outline", "cutter_radius": 1.5, "largest_cutter": 1.0}
    rows = [
        {**common, "left": left, "place": [x, 2.0, 0.0]} for left, x in ((1e-4, 1.0), (0.2, 7.0))
    ]
    (line,) = uncut_lines({"unreachable": rows})
    assert line.startswith("UNCUT CORNER C1 of outline at (7.00, 2.00)")
    verdict = SimpleNamespace(measures={"unreachable": rows})
    stood = SimpleNamespace(verdict=verdict)
    assert [one["place"][0] for one in plate_picture._corners(stood)] == [7.0]

"""The simulator's own frames, on an asymmetric part worked out by hand.

Plate 100 x 50 x 4 mm, corner at (-10, -5) in the part frame. A letter-L place p = (30, 7, 1) of
the part is followed through both flips by turning a sheet of paper: about X the far edge comes
near and the face goes down (x, -y, -z); about Y the right end goes left (-x, y, -z).
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import Bore
from knifecam.curve import Motions, polyline
from knifecam.errors import OrderError
from knifecam.shop import MeasuredBore, Mill, Plate, Registration, Setup
from knifecam.sweep.side_frames import (
    rigid_fit,
    seen_from,
    side_frame,
    side_motions,
    to_part,
    to_program_plane,
    to_side,
)

PLATE = Plate(length=100.0, width=50.0, thickness=4.0, corner=(-10.0, -5.0))


def setup(flip: str, **changes: object) -> Setup:
    made = Setup(
        plate=PLATE, mill=Mill(), flip=flip, datum=((-10.0, -5.0), (90.0, -5.0)),
        z_zero=("face", "fixture"),
    )  # fmt: skip
    return replace(made, **changes)


def test_side_a_is_the_part_shifted_to_its_datum() -> None:
    frame = side_frame(setup("X"), "A")
    # program (40, 12, -1): 40 right and 12 up of the corner, 1 below the face at z = 2
    assert to_part(frame, to_side(frame, [[40.0, 12.0, -1.0]])).tolist() == [[30.0, 7.0, 1.0]]


def test_side_b_about_x() -> None:
    frame = side_frame(setup("X"), "B")
    # datum (90, -5) lies at (90, 5); p at (30, -7, -1); bed at -2: program (-60, -12, 1)
    program = [[-60.0, -12.0, 1.0]]
    assert to_part(frame, to_side(frame, program)).tolist() == [[30.0, 7.0, 1.0]]
    assert to_program_plane(frame, [[30.0, -7.0]]).tolist() == [[-60.0, -12.0]]


def test_side_b_about_y() -> None:
    frame = side_frame(setup("Y"), "B")
    # datum (90, -5) lies at (-90, -5); p at (-30, 7, -1): program (60, 12, 1)
    assert to_part(frame, to_side(frame, [[60.0, 12.0, 1.0]])).tolist() == [[30.0, 7.0, 1.0]]


@pytest.mark.parametrize(("zero", "height"), [("face", -3.0), ("fixture", 1.0)])
def test_z_counts_from_face_or_bed(zero: str, height: float) -> None:
    frame = side_frame(setup("X", z_zero=("face", zero)), "B")
    assert to_part(frame, to_side(frame, [[0.0, 0.0, height]]))[0, 2] == 1.0


def test_a_turned_plate_is_turned_back() -> None:
    """Two bores found after a turn by 3-4-5: cos 0.8, sin 0.6, and a shift of (2, 1)."""
    bores = (
        Bore(name="one", centre=(0.0, 10.0), diameter=6.0),
        Bore(name="two", centre=(80.0, 10.0), diameter=5.0),
    )
    # nominal program places about X with datum (0, 0): (0, -10), (80, -10)
    measured = (
        MeasuredBore(bore="one", x=6.0 + 2.0, y=-8.0 + 1.0),
        MeasuredBore(bore="two", x=64.0 + 6.0 + 2.0, y=48.0 - 8.0 + 1.0),
    )
    lying = setup(
        "X", datum=((0.0, 0.0), (0.0, 0.0)),
        registration=Registration(kind="bores", bores=bores, measured=measured),
    )  # fmt: skip
    frame = side_frame(lying, "B")
    assert frame.angle == pytest.approx(math.atan2(0.6, 0.8), abs=1e-12)
    assert dict(frame.residuals) == pytest.approx({"one": 0.0, "two": 0.0}, abs=1e-12)
    back = to_part(frame, to_side(frame, [[72.0, 41.0, 0.0]]))
    assert back[0, :2] == pytest.approx([80.0, 10.0], abs=1e-12)
    again = to_program_plane(frame, [[80.0, -10.0]])
    assert again[0] == pytest.approx([72.0, 41.0], abs=1e-12)
    # side A lies as it was clamped
    assert side_frame(lying, "A").angle == 0.0


def test_one_measured_bore_gives_a_shift() -> None:
    assert rigid_fit([[3.0, 4.0]], [[3.5, 3.0]]) == pytest.approx((0.0, 0.5, -1.0))


def test_arcs_keep_their_turns_and_radii() -> None:
    lying = setup(
        "X", registration=Registration(
            kind="bores", bores=(Bore(name="a", centre=(0, 0), diameter=5.0),
                                 Bore(name="b", centre=(50, 0), diameter=5.0)),
            measured=(MeasuredBore(bore="a", x=-90.0, y=-5.0), MeasuredBore(bore="b", x=-40.0, y=-4.0)),
        ),
    )  # fmt: skip
    frame = side_frame(lying, "B")
    arc = Motions(
        np.array([2]), np.array([[1.0, 0, 0]]), np.array([[0, 1.0, -1]]), np.zeros((1, 2)),
        np.array([0.25]), np.array([100.0]),
    )  # fmt: skip
    moved = side_motions(frame, arc)
    assert moved.turns[0] == 0.25
    assert moved.radii[0] == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("flip", ["X", "Y"])
def test_curves_seen_from_below_keep_their_sense(flip: str) -> None:
    curve = polyline([(0, 0), (10, 0), (0, 5)], bulges=[0.0, 0.3, 0.0])
    seen = seen_from(side_frame(setup(flip), "B"), curve)
    assert seen.area == pytest.approx(curve.area)
    signs = {"X": (1, -1), "Y": (-1, 1)}[flip]
    assert {tuple(v) for v in seen.vertices} == {tuple(v * signs) for v in curve.vertices}


def test_unknown_words_are_refused() -> None:
    with pytest.raises(ValueError, match="side='C' must be"):
        side_frame(setup("X"), "C")
    for change in ({"flip": "Z"}, {"z_zero": ("top", "fixture")}):
        with pytest.raises(OrderError, match="must be one of"):
            replace(setup("X"), **change)

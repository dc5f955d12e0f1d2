"""Ends of arcs that differ by no more than sums of floating numbers do are one place.

The places are random numbers of four decimals: sums of such numbers miss each other by the last
bit in about every sixth case, which round numbers chosen by hand do not.
"""

import random

import numpy as np
import pytest

from knifecam.errors import ProgramError
from knifecam.rs274.modal_state import Stored
from knifecam.rs274.program_reader import read_program

HEAD = "G21 G17 G90 G94 G54 G49 G61 F100"
STORED = Stored(diameters={1: 2.0, 2: 0.0})


def numbers(seed: int, *, span: float = 150.0) -> list[float]:
    """Return a place, steps away from it and an offset, of four decimals as programs have them."""
    chance = random.Random(seed)
    return [round(chance.uniform(-span, span), 4) for _ in range(6)]


def by_increments(seed: int) -> tuple[str, str]:
    """Back where it came from in G91: the sum of the steps there and back is not quite 0."""
    x, y, u, v, a, b = numbers(seed)
    there = f"G91 G0 X{u} Y{v}\nX{a} Y{b}\nX{-round(u + a, 4)} Y{-round(v + b, 4)}\nG90"
    return f"G0 X{x} Y{y} Z5\n{there}", f"X{x} Y{y}"


def by_offsets(seed: int) -> tuple[str, str]:
    """Where the place in another work offset says that it stands."""
    x, y, u, v, a, b = numbers(seed)
    zeros = f"G10 L2 P1 X{u} Y{v}\nG10 L2 P2 X{a} Y{b}"
    return (
        f"{zeros}\nG0 X{x} Y{y} Z5\nG55",
        f"X{round(x + u - a, 4)} Y{round(y + v - b, 4)}",
    )


def by_shift(seed: int) -> tuple[str, str]:
    """Where G92 has said that it stands."""
    x, y, u, v, *_ = numbers(seed)
    return f"G0 X{x} Y{y} Z5\nG92 X{u} Y{v}", f"X{u} Y{v}"


def by_units(seed: int) -> tuple[str, str]:
    """The same place in inches and in millimetres."""
    x, y, *_ = numbers(seed, span=6.0)
    x, y = round(x, 3), round(y, 3)
    return (
        f"G20 G0 X{x} Y{y} Z1\nG21",
        f"X{round(25.4 * x, 4)} Y{round(25.4 * y, 4)}",
    )


WAYS = [by_increments, by_offsets, by_shift, by_units]
PLACES = range(300)


def ends_of(text: str):
    """Return the motions of a text, or None where it is refused."""
    return read_program(f"{HEAD}\n{text}\nM2\n", stored=STORED).motions


@pytest.mark.parametrize("way", WAYS)
def test_a_full_circle_is_one_from_wherever_its_start_is_reached(way):
    missed = 0
    for seed in PLACES:
        there, back = way(seed)
        for word, whole in (("G2", -1.0), ("G3", 1.0)):
            m = ends_of(f"{there}\n{word} {back} I7 J3")
            assert np.abs(m.start[-1] - m.stop[-1]).max() < 1e-9
            missed += (m.start[-1] != m.stop[-1]).any()
            assert m.turns[-1] == whole, (seed, there, back)
    assert missed > 20


@pytest.mark.parametrize("way", WAYS)
def test_a_full_circle_by_its_radius_is_refused(way):
    for seed in PLACES:
        there, back = way(seed)
        with pytest.raises(ProgramError, match="an arc given by R must end elsewhere"):
            ends_of(f"{there}\nG2 {back} R7.25")


@pytest.mark.parametrize("plane", ["G18", "G19"])
def test_a_full_circle_across_other_planes(plane):
    letters = "XZ" if plane == "G18" else "YZ"
    for seed in PLACES:
        a, b, u, v, *_ = numbers(seed, span=20.0)
        first, second = letters
        there = f"G0 X0 Y0 Z0\n{first}{a} {second}{b}\nG91 {first}{u} {second}{v}"
        back = f"{first}{-u} {second}{-v}\nG90"
        arc = f"{plane} G2 {first}{a} {second}{b} K3"
        m = ends_of(f"{there}\n{back}\n{arc}")
        # a whole turn of radius 3 in chords of a row
        assert m.lengths[4:].sum() == pytest.approx(6 * np.pi, rel=1e-4), seed


def test_a_full_circle_under_compensation():
    for seed in PLACES:
        x, y, u, *_ = numbers(seed)
        first = round(x - abs(u), 4)
        # along the tangent through the lowest place of a circle of radius 9, by a step, then round
        begin = f"G0 X{round(first - 5, 4)} Y{y} Z0\nG41 D1 G1 X{first} Y{y}\nG91 X{abs(u)}"
        m = ends_of(f"{begin}\nG90 G3 X{x} Y{y} J9")
        assert m.turns[-1] == 1.0, seed
        assert m.lengths[-1] == pytest.approx(16 * np.pi)
        with pytest.raises(ProgramError, match="an arc given by R must end elsewhere"):
            ends_of(f"{begin}\nG90 G3 X{x} Y{y} R9")


def test_a_first_circle_under_compensation():
    """The axis stands where the cutter touches the circle already: 8 = 9 - 1 from its centre."""
    for seed in PLACES:
        x, y, *_ = numbers(seed)
        m = ends_of(f"G0 X{x} Y{round(y + 1, 4)} Z0\nG41 D1 G3 X{x} Y{y} J8")
        assert abs(m.turns[-1]) == 1.0, seed
        assert m.lengths[-1] == pytest.approx(16 * np.pi)
        with pytest.raises(ProgramError, match=r"must end elsewhere|gives no arc to the end"):
            ends_of(f"G0 X{x} Y{round(y + 1, 4)} Z0\nG41 D1 G3 X{x} Y{y} R9")


def test_a_line_to_where_the_path_stands_turns_no_corner():
    """A step of the last bit has no direction: no arc round its end, no inner corner."""
    for seed in PLACES:
        x, y, u, *_ = numbers(seed)
        begin = f"G0 X{x - 9} Y{y} Z0\nG41 D1 G1 X{round(x - 4, 4)} Y{y}"
        steps = f"G91 X4\nX{abs(u)}\nG90"
        end = round(x + abs(u), 4)
        m = ends_of(f"{begin}\n{steps}\nG1 X{end} Y{y} Z-1\nX{end + 3}")
        # the corner after the first motion, which leads slantwise to its place, is a true one
        assert np.flatnonzero(m.turns).tolist() == [2], seed
        assert len(m) == 7
        assert m.stop[-1].tolist() == pytest.approx([end + 3, y + 1, -1])


def test_cycles_go_nowhere_for_the_last_bit():
    """Three pecks of a third of the depth, and R at the height the tip has: no step of nothing."""
    for seed in PLACES:
        chance = random.Random(seed)
        z, q = round(chance.uniform(1, 9), 4), round(chance.uniform(0.3, 2), 4)
        depth = round(3 * q, 4)
        begin = f"G0 X0 Y0 Z{z}\nG91 Z{q}\nZ{-q}\nG90\nG99"
        m = ends_of(f"{begin} G83 X0 Y0 Z{round(z - depth, 4)} R{z} Q{q}")
        # there, up and down; down, up, down, down, up, down, down, up
        assert m.kind.tolist() == [0, 0, 0, 1, 0, 0, 1, 0, 0, 1, 0], seed
        assert m.lengths.min() > 0.01, seed
        top = round(z + q, 4)
        m = ends_of(f"{begin}\nG91 Z{q}\nG90 G81 X1 Z{z} R{top}\nX2 Z{top}")
        assert m.kind.tolist() == [0, 0, 0, 0, 0, 1, 0, 0], seed
        assert m.lengths.min() > 0.01, seed

"""Arcs, helices and feeds.

T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556
(2000): sections 2.1.2.5, 2.1.2.6, 3.5.3, 3.5.19; Tables 12 and 13; sample program C.1. Figures
without a printed value are derived by hand from the printed input.
"""

import numpy as np
import pytest

from knifecam.curve import ARC
from knifecam.errors import ProgramError
from knifecam.rs274.program_reader import read_program


def motions(*lines: str):
    return read_program("\n".join(("G21 G90 F100", *lines, "M2"))).motions


def last(*lines: str) -> tuple[float, float, float]:
    """Return centre x, centre y and degrees of the last motion."""
    m = motions(*lines)
    assert m.kind[-1] == ARC
    return (*m.centre[-1].tolist(), float(m.turns[-1]) * 360)


def test_section_3_5_3_2_example_of_a_helix():
    m = motions("G0 X7 Y7 Z4", "G17 G2 x10 y16 i3 j4 z9")
    assert m.centre[1].tolist() == [10, 11]
    assert m.radii[1] == 5
    assert m.turns[1] * 360 == pytest.approx(-143.1301, abs=5e-5)
    assert m.lengths[1] == pytest.approx(13.454053, abs=5e-7)
    assert m.stop[1].tolist() == [10, 16, 9]
    flat = motions("G0 X7 Y7 Z9", "G17 G2 x10 y16 i3 j4 z9")
    assert flat.lengths[1] == pytest.approx(12.490458, abs=5e-7)


@pytest.mark.parametrize(
    ("words", "y", "degrees"),
    [
        ("G2 X10 R10", -8.66025, -60),
        ("G3 X10 R10", 8.66025, 60),
        ("G2 X10 R-10", 8.66025, -300),
        ("G3 X10 R-10", -8.66025, 300),
    ],
)
def test_section_3_5_3_1_radius_form(words, y, degrees):
    # the centre of R10 over a chord of 10 lies sqrt(100 - 25) from it
    centre_x, centre_y, turned = last("G0 X0 Y0", words)
    assert centre_x == pytest.approx(5, abs=1e-12)
    assert centre_y == pytest.approx(y, abs=5e-6)
    assert turned == pytest.approx(degrees, abs=1e-9)


@pytest.mark.parametrize(("word", "degrees"), [("G2", -180), ("G3", 180)])
def test_section_3_5_3_1_radius_of_exactly_half_the_chord(word, degrees):
    assert last("G0 X0 Y0", f"{word} X10 R5") == pytest.approx((5, 0, degrees))
    assert last("G0 X0 Y0", f"{word} X10 R-5") == pytest.approx((5, 0, degrees))
    # within 1e-12 of it, as the reference interpreter allows
    assert last("G0 X0 Y0", f"{word} X10 R4.9999999999999") == pytest.approx((5, 0, degrees))


def test_message_152_edge_of_the_tolerance_in_mm():
    # end (20, 0.2): 0.0019998 mm, end (20, 0.21): 0.0022048 mm
    assert last("G0 X0 Y0", "G2 X20 Y0.2 I10")[:2] == (10, 0)
    with pytest.raises(ProgramError, match=r"may differ by 0\.002 mm"):
        motions("G0 X0 Y0", "G2 X20 Y0.21 I10")


def test_message_152_edge_of_the_tolerance_in_inches():
    # in inches 0.0002: sqrt(100 + 0.06^2) - 10 = 0.00018, sqrt(100 + 0.065^2) - 10 = 0.000211
    assert last("G20 G0 X0 Y0", "G2 X20 Y0.06 I10")[:2] == (254, 0)
    with pytest.raises(ProgramError, match=r"may differ by 0\.00508 mm"):
        motions("G20 G0 X0 Y0", "G2 X20 Y0.065 I10")


@pytest.mark.parametrize(("word", "turns"), [("G2", -1), ("G3", 1)])
@pytest.mark.parametrize("words", ["X3 Y4 I5", "X3 I5", "Y4 J-2", "X3 Y4 I1 J1", "Y4 I5 Z3"])
def test_section_3_5_3_2_end_at_the_start_is_a_full_turn(word, turns, words):
    m = motions("G0 X3 Y4 Z5", f"{word} {words}")
    assert m.turns[1] == turns


def test_section_3_5_3_2_turns_never_exceed_one_and_keep_their_sense():
    # quarter by quarter round (0, 0), counter-clockwise; the same ends clockwise
    ends = [(1, 0), (0, 1), (-1, 0), (0, -1)]
    for k, (x, y) in enumerate(ends):
        for n, (u, v) in enumerate(ends):
            gone = ((n - k) % 4) / 4 or 1.0
            m = motions(f"G0 X{x} Y{y}", f"G3 X{u} Y{v} I{-x} J{-y}")
            assert m.turns[1] == pytest.approx(gone, abs=1e-15)
            m = motions(f"G0 X{x} Y{y}", f"G2 X{u} Y{v} I{-x} J{-y}")
            assert m.turns[1] == pytest.approx(gone - 1 if gone < 1 else -1, abs=1e-15)


def test_section_3_5_3_2_end_next_to_the_start_is_what_it_says():
    # an end 2e-6 mm ahead is a very short arc, 2e-6 mm behind very nearly a full turn
    ahead = motions("G0 X5 Y0", "G3 X5 Y0.000002 I-5")
    behind = motions("G0 X5 Y0", "G3 X5 Y-0.000002 I-5")
    assert 0 < ahead.turns[1] < 1e-7
    assert 1 - 1e-7 < behind.turns[1] < 1


@pytest.mark.parametrize("y", ["0.0000009", "-0.0000009", "0.000000001", "0"])
def test_section_3_5_3_2_ends_nearer_than_any_mill_tells_are_one_place(y):
    assert motions("G0 X5 Y0", f"G3 X5 Y{y} I-5").turns[1] == 1
    assert motions("G0 X5 Y0", f"G2 X5 Y{y} I-5").turns[1] == -1
    with pytest.raises(ProgramError, match="must end elsewhere"):
        motions("G0 X5 Y0", f"G2 X5 Y{y} R5")


def test_section_3_5_3_2_offsets_are_incremental_in_g91_too():
    m = motions("G0 X7 Y7 Z4", "G91 G2 X3 Y9 I3 J4 Z5")
    assert m.centre[1].tolist() == [10, 11]
    assert m.stop[1].tolist() == [10, 16, 9]


def test_sample_c_1_arc_of_radius_4():
    m = motions("G0 X64 Y4", "G2 X69 Y4 R4")
    assert m.centre[1] == pytest.approx([66.5, 0.877501], abs=5e-7)
    assert m.turns[1] * 360 == pytest.approx(-77.3644, abs=5e-5)
    assert m.lengths[1] == pytest.approx(5.401052, abs=5e-7)


def contour(radius: float) -> list[str]:
    """Return the lines round a 3-4-5 triangle at a distance, clockwise from (-r, 0)."""
    r = radius
    # the hypotenuse from (0, 4) to (3, 0) has the outward normal (0.8, 0.6)
    return [
        f"G0 X{-r:.6f} Y0",
        "G1 Y4",
        f"G2 X{0.8 * r:.6f} Y{4 + 0.6 * r:.6f} I{r:.6f} J0",
        f"G1 X{3 + 0.8 * r:.6f} Y{0.6 * r:.6f}",
        f"G2 X3 Y{-r:.6f} I{-0.8 * r:.6f} J{-0.6 * r:.6f}",
        "G1 X0",
        f"G2 X{-r:.6f} Y0 I0 J{r:.6f}",
    ]


@pytest.mark.parametrize(
    ("radius", "length", "area"),
    [(1.0, 18.28319, 21.14159), (1.5, 21.42478, 31.06858), (1.485, 21.33053, None)],
)
def test_tables_12_and_13_contour_of_three_corners(radius, length, area):
    m = motions(*contour(radius))
    assert np.sum(m.lengths[1:]) == pytest.approx(length, abs=5e-6)
    assert m.turns.sum() == pytest.approx(-1, abs=1e-6)
    if area is not None:
        x, y, u, v = *m.start[1:, :2].T, *m.stop[1:, :2].T
        angle = 2 * np.pi * m.turns[1:]
        swept = np.sum(x * v - u * y) / 2 + np.sum(m.radii[1:] ** 2 * (angle - np.sin(angle))) / 2
        assert -swept == pytest.approx(area, abs=1e-5)


def test_section_2_1_2_6_feed_goes_along_the_helix():
    m = motions("G0 X5 Y0 Z0", "G2 X5 I-5 Z-0.2 F250")
    assert m.feed[1] == 250
    assert m.lengths[1] == pytest.approx(np.hypot(10 * np.pi, 0.2), rel=1e-12)


def test_section_3_5_19_inverse_time_takes_one_over_f_minutes():
    half = motions("G0 X0 Y0 Z0", "G93 G3 X2 I1 Z-3 F5")
    assert half.feed[1] == pytest.approx(5 * np.hypot(np.pi, 3), rel=1e-14)
    m = motions("G0 X0 Y0 Z0", "G93 G1 X30 Y40 F2", "G2 X30 I5 F4", "G0 X0", "G94 G1 X1 F60")
    assert m.lengths[1] / m.feed[1] == pytest.approx(0.5)
    assert m.lengths[2] / m.feed[2] == pytest.approx(0.25)
    assert m.feed.tolist() == pytest.approx([0, 100, 40 * np.pi, 0, 60])


@pytest.mark.parametrize(
    "line", ["G1 X1", "G91 G2 X0 I2", "G81 X1 Z-1 R1", "G38.2 X9", "(a comment) G1 X1"]
)
@pytest.mark.parametrize("between", [("G94",), ("G94", "G0 X3", "X4"), ("G93", "G94", "G94")])
def test_section_3_5_19_after_inverse_time_no_feed_is_told(line, between):
    """Section 3.5.19 keeps no feed of G94 through G93: what the mill then goes at is its own."""
    begin = ("G0 X0 Y0 Z0", "G1 X-1", "G93 G1 X30 Y40 F2", *between)
    before = len(motions(*begin))
    with pytest.raises(ProgramError, match="after G93 no F has told the feed") as refused:
        motions(*begin, line)
    assert refused.value.line == 2 + len(begin)
    told = motions(*begin, "F80", line)
    assert len(told) > before
    assert set(told.feed[before:].tolist()) <= {0.0, 80.0}
    assert motions(*begin[:-1], "G94 F70", "G1 X1").feed[-1] == 70


def test_section_3_5_19_per_minute_said_again_keeps_the_feed():
    assert motions("G0 X0 Y0 Z0", "G94", "G1 X1").feed[-1] == 100

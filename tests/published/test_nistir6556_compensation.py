"""Cutter radius compensation.

T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556
(2000): section 3.5.10 and Appendix B: Table 12 (G41 round a triangle of sides 3, 4, 5 with corners
of 1, entered by a line and an arc), Table 13 (the same, programmed for a cutter of 1.0 and cut with
one of 0.97). Lengths and areas follow by Steiner's formula for parallel curves: 12 + 2 pi r and
6 + 12 r + pi r^2 at the distance r from the triangle.
"""

import math

import numpy as np
import pytest
from shapely import Point, Polygon

from knifecam.curve import ARC, FEED, RAPID
from knifecam.errors import ProgramError
from knifecam.report.explain import explain
from knifecam.rs274.modal_state import Stored
from knifecam.rs274.program_reader import read_program

HEAD = "G21 G17 G90 G94 G54 G49 G61 F100 G0 X0 Y0 Z0"
DIAMETERS = {1: 1.0, 2: 2.0, 7: 0.97, 9: -0.03, 10: 0.03}


# the axis comes along Y0.5 or Y-0.5, so that the path goes straight on at X5 Y0
LEFT = ("G0 Y0.5", "G41 D1 G0 X5 Y0", "G1 X10")
RIGHT = ("G0 Y-0.5", "G42 D1 G0 X5 Y0", "G1 X10")
FOURTH = 4
"""The first motion after `LEFT` or `RIGHT`."""


def read(*lines: str, head: str = HEAD):
    text = "\n".join((head, *lines, "M2"))
    return read_program(text, stored=Stored(diameters=DIAMETERS))


def contour(r: float) -> list[str]:
    """Return the lines clockwise round the triangle (0, 0), (3, 0), (0, 4) at a distance."""
    return [
        "G1 Y4",
        f"G2 X{0.8 * r:.6f} Y{4 + 0.6 * r:.6f} I{r:.6f} J0",
        f"G1 X{3 + 0.8 * r:.6f} Y{0.6 * r:.6f}",
        f"G2 X3 Y{-r:.6f} I{-0.8 * r:.6f} J{-0.6 * r:.6f}",
        "G1 X0",
        f"G2 X{-r:.6f} Y0 I0 J{r:.6f}",
    ]


# from outside: a line toward the contour, then an arc that ends along its first side
ENTRY = ["G0 X-4 Y-2", "G41 D{d} G1 X-2 Y-1", "G3 X-1 Y0 I0 J1"]


def along(m, first: int) -> tuple[float, float]:
    """Return length and enclosed area of the motions from ``first`` on, a closed path."""
    rows = slice(first, None)
    x, y, u, v = *m.start[rows, :2].T, *m.stop[rows, :2].T
    angle = 2 * np.pi * m.turns[rows]
    chords = np.sum(x * v - u * y) / 2
    return float(m.lengths[rows].sum()), float(
        -chords - np.sum(m.radii[rows] ** 2 * (angle - np.sin(angle))) / 2
    )


@pytest.mark.parametrize(("d", "diameter"), [(1, 1.0), (7, 0.97)])
def test_table_12_round_the_contour(d, diameter):
    entry = [line.format(d=d) for line in ENTRY]
    m = read(*entry, *contour(1.0)).motions
    first = len(m) - 6
    away = 1 + diameter / 2
    length, area = along(m, first)
    assert length == pytest.approx(12 + 2 * math.pi * away, abs=5e-6)
    assert area == pytest.approx(6 + 12 * away + math.pi * away**2, abs=2e-5)
    assert np.allclose(m.radii[first:][m.kind[first:] == ARC], away, atol=2e-6)
    assert np.allclose(m.stop[-1], [-away, 0, 0], atol=2e-6)


def test_table_12_length_by_steiner():
    """12 + 3 pi: the report prints the program, not this length."""
    m = read(*[line.format(d=1) for line in ENTRY], *contour(1.0)).motions
    assert along(m, len(m) - 6)[0] == pytest.approx(12 + 3 * math.pi, abs=5e-6)


@pytest.mark.parametrize(("code", "d"), [("G41", 9), ("G42", 10)])
def test_table_13_difference_of_a_worn_cutter(code, d):
    # a negative diameter goes to the other side
    entry = ["G0 X-4 Y0", f"{code} D{d} G1 X-1.5 Y-2", "X-1.5 Y0"]
    m = read(*entry, *contour(1.5)).motions
    length, area = along(m, len(m) - 6)
    assert length == pytest.approx(21.33053, abs=5e-6)
    assert area == pytest.approx(6 + 12 * 1.485 + math.pi * 1.485**2, abs=2e-5)
    assert np.allclose(m.radii[-6:][m.kind[-6:] == ARC], 1.485, atol=2e-6)


def test_first_line_ends_beside_its_end_along_the_tangent():
    # from (0, 0) to the circle of 0.5 about (1.3, 0): 1.2 far, 0.5 to the right of the way
    for code, sign in (("G41", 1), ("G42", -1)):
        m = read(f"{code} D1 G1 X1.3").motions
        assert m.stop[1] == pytest.approx([1.3 - 0.5 * 5 / 13, sign * 0.5 * 12 / 13, 0], abs=1e-12)
        assert m.lengths[1] == pytest.approx(1.2, abs=1e-12)


def test_outer_corner_is_rounded_about_itself():
    # left of a path that turns right by a quarter
    m = read(*LEFT, "Y-10 Z-2").motions
    assert m.kind[FOURTH] == ARC
    assert m.centre[FOURTH].tolist() == [10, 0]
    assert m.turns[FOURTH] == pytest.approx(-0.25, abs=1e-12)
    assert m.stop[FOURTH - 1 :].tolist() == [
        pytest.approx([10, 0.5, 0]), pytest.approx([10.5, 0, 0]), pytest.approx([10.5, -10, -2]),
    ]  # fmt: skip
    m = read(*RIGHT, "Y10").motions
    assert m.turns[FOURTH] == pytest.approx(0.25, abs=1e-12)
    assert m.stop[-1] == pytest.approx([10.5, 10, 0])


def test_the_first_line_need_not_go_along_the_path():
    # from X0 Y0 the tangent to the circle about X5 Y0 is asin(0.1) off the way
    m = read("G41 D1 G0 X5 Y0", "G1 X10").motions
    assert m.turns[2] * 360 == pytest.approx(-math.degrees(math.asin(0.1)))
    assert m.stop[1:, 1].tolist() == [pytest.approx(0.5 * math.cos(math.asin(0.1))), 0.5, 0.5]


def test_a_path_that_turns_back_is_rounded_by_half_a_turn():
    for back in ("X0", "X0 Y-0.001", "X0 Y0.001"):
        m = read(*LEFT, back).motions
        assert m.turns[FOURTH] == pytest.approx(-0.5, abs=1e-4)
        assert m.radii[FOURTH] == pytest.approx(0.5)


def test_a_rapid_takes_no_arc_round_a_corner():
    m = read(*LEFT, "G0 Y-10").motions
    assert m.kind.tolist() == [RAPID] * 3 + [FEED, RAPID]
    assert m.stop[-1] == pytest.approx([10.5, -10, 0])


def test_message_67_inner_corner_and_its_threshold():
    for slope in (0.0101, 0.5, 5):
        with pytest.raises(ProgramError, match="inner corner"):
            read(*LEFT, f"X20 Y{10 * slope}")
        with pytest.raises(ProgramError, match="inner corner"):
            read(*RIGHT, f"X20 Y{-10 * slope}")
    m = read(*LEFT, "X20 Y0.099").motions
    assert len(m) == FOURTH + 1
    assert np.hypot(*(m.stop[-1, :2] - (20, 0.099))) == pytest.approx(0.5)


def test_small_turns_toward_the_cutter_that_make_a_tight_hollow_are_refused():
    # steps of 0.004 that turn by 0.0095 each: a hollow of radius 0.42, the cutter has 0.5
    x, y, angle, lines = 10.0, 0.0, 0.0, [*LEFT]
    for _ in range(20):
        angle += 0.0095
        x, y = x + 0.004 * math.cos(angle), y + 0.004 * math.sin(angle)
        lines.append(f"X{x:.9f} Y{y:.9f}")
    with pytest.raises(ProgramError, match="tightly hollow"):
        read(*lines)


@pytest.mark.parametrize(
    ("code", "word", "hollow"),
    [("G41", "G3", True), ("G41", "G2", False), ("G42", "G2", True), ("G42", "G3", False)],
)
def test_message_167_hollow_arcs(code, word, hollow):
    turn = 1 if word == "G3" else -1
    lines = (f"G0 Y{1 if code == 'G41' else -1}", f"{code} D2 G0 X5 Y0", "G1 X10")
    arc = f"{word} X13 Y{3 * turn} I0 J{3 * turn}"
    m = read(*lines, arc).motions
    assert m.radii[-1] == pytest.approx(2 if hollow else 4)
    assert m.turns[-1] == pytest.approx(turn / 4)
    assert m.stop[-1] == pytest.approx([12 if hollow else 14, 3 * turn, 0])
    for radius in (1, 0.5):
        tight = f"{word} X{10 + radius} Y{radius * turn} I0 J{radius * turn}"
        if hollow:
            with pytest.raises(ProgramError, match="hollow side"):
                read(*lines, tight)
        else:
            assert read(*lines, tight).motions.radii[-1] == pytest.approx(radius + 1)


def test_r_form_and_full_turn_under_compensation():
    m = read(*LEFT, "G2 X13 Y-3 R3", "G2 Y-3 I-3 J0").motions
    assert m.radii[-2:] == pytest.approx([3.5, 3.5])
    assert m.turns[-2:] == pytest.approx([-0.25, -1])


def test_corner_before_an_arc_is_rounded_too():
    # the arc about X10 Y-3 begins along X; that about X7 Y0 begins downward, a quarter to the right
    assert len(read(*LEFT, "G2 X13 Y-3 J-3").motions) == FOURTH + 1
    m = read(*LEFT, "G2 X7 Y-3 I-3").motions
    assert m.turns[FOURTH:] == pytest.approx([-0.25, -0.25])
    assert m.radii[FOURTH:] == pytest.approx([0.5, 3.5])
    assert m.stop[-1] == pytest.approx([7, -3.5, 0])


def test_message_67_before_an_arc():
    with pytest.raises(ProgramError, match="inner corner"):
        read(*LEFT, "G2 X13 Y3 I3")


def test_message_70_cutter_covers_the_end_of_the_first_motion():
    for line in ("X0.5", "X0.3 Y0.4", "Z-1"):
        with pytest.raises(ProgramError, match="would gouge"):
            read("G41 D1", f"G1 {line}")
    read("G41 D1", "G1 X0.5000001")


@pytest.mark.parametrize(
    ("code", "word", "line", "radius"),
    [
        # about (0, 5): the cutter at the origin is 5 away and touches circles of 4.5 and 5.5
        ("G41", "G3", "X5.5 Y5 J5", 5),
        ("G42", "G3", "X4.5 Y5 J5", 5),
        ("G42", "G2", "X-5.5 Y5 J5", 5),
        ("G41", "G2", "X-4.5 Y5 J5", 5),
        ("G41", "G3", "X5.5 Y5 R5.5", 5),
        ("G42", "G3", "X4.5 Y5 R4.5", 5),
        ("G42", "G2", "X-5.5 Y5 R5.5", 5),
        ("G41", "G2", "X-4.5 Y5 R4.5", 5),
    ],
)
def test_appendix_b_first_arc_stays_tangent_to_its_auxiliary_arc(code, word, line, radius):
    m = read(f"{code} D1", f"{word} {line}").motions
    assert m.centre[1] == pytest.approx([0, 5], abs=1e-9)
    assert m.radii[1] == pytest.approx(radius)
    assert m.turns[1] == pytest.approx(0.25 if word == "G3" else -0.25)
    assert m.stop[1, :2] == pytest.approx([5 if word == "G3" else -5, 5])
    # the same from another place
    other = read("G0 X20 Y-7", f"{code} D1 G91", f"{word} {line}").motions
    assert other.centre[2] == pytest.approx([20, -2], abs=1e-9)
    assert other.stop[2, :2] == pytest.approx([25 if word == "G3" else 15, -2])
    assert other.turns[2] == pytest.approx(m.turns[1])


@pytest.mark.parametrize("line", ["G3 X5 Y5 J5", "G2 X-5 Y5 J5", "G3 X5.503 Y5 J5"])
def test_message_152_first_arc_whose_auxiliary_arc_does_not_touch_the_cutter(line):
    with pytest.raises(ProgramError, match="may differ"):
        read("G41 D1", line)


def test_message_153_first_arc_that_cannot_be_built():
    for line in ("G3 X5 R2", "G2 X5 R1", "G3 X0 R5", "G3 X0.1 R5"):
        with pytest.raises(ProgramError, match="gives no arc"):
            read("G41 D1", line)
    with pytest.raises(ProgramError, match="hollow side"):
        read("G41 D1", "G3 X0.6 R0.5")


def test_words_that_are_left_out_mean_the_programmed_place():
    m = read(*LEFT, "Z-1", "Y-10", "G91 Y-1 Z1").motions
    assert m.stop[FOURTH].tolist() == [10, 0.5, -1]
    assert m.stop[-1] == pytest.approx([10.5, -11, 0])


def test_g40_ends_it_and_the_next_motion_leads_to_its_words():
    m = read(*LEFT, "G40", "X11", "Y-10", "G42 G1 X5 D0").motions
    # what is left out keeps the place of the axis
    assert m.stop[FOURTH:].tolist() == [[11, 0.5, 0], [11, -10, 0], [5, -10, 0]]


def test_d0_has_no_radius_and_no_corners():
    lines = ("G1 X5", "X10", "Y10", "X5 Y9", "G3 X3 Y9 R1", "G2 X3 Y9 I0.25", "G0 Y0")
    plain = read(*lines).motions
    m = read("G41 D0", *lines).motions
    for name in ("kind", "start", "stop", "centre", "turns", "feed"):
        assert np.allclose(getattr(m, name), getattr(plain, name), atol=1e-12)


def test_the_cutter_in_the_spindle_gives_d_and_a_change_keeps_the_radius():
    m = read("T2 M6", "G0 Y1", "G41 X5 Y0", "T1 M6", "G1 X10").motions
    assert m.stop[-1].tolist() == [10, 1, 0]


def test_inverse_time_is_that_of_corner_and_line_together():
    m = read(*LEFT, "G93 Y-10 F4").motions
    assert len(m) == FOURTH + 2
    assert (m.lengths[FOURTH:] / m.feed[FOURTH:]).sum() == pytest.approx(0.25)


def test_inverse_time_of_helices_and_ramps_round_corners_anywhere():
    start = ("G0 X3 Y6.5 Z2", "G41 D1 G1 X8 Y6", "X13", "G93")
    for line in ("X14 Y-4 Z-1 F4", "G2 X13 Y0 J-3 Z-5 F4", "G2 X10 Y3 I-3 Z-5 F4", "G0 X9 Z7"):
        m = read(*start, line).motions
        own = [k for k in range(4, len(m)) if m.feed[k] > 0]
        minutes = (m.lengths[own] / m.feed[own]).sum()
        assert minutes == pytest.approx(0.25 if "F4" in line else 0.0)


@pytest.mark.parametrize("line", ["G3 X0.55 Y0.5 J0.5", "G3 X0.55 Y0.5 R0.55"])
def test_appendix_b_first_arc_in_inches(line):
    text = "\n".join((HEAD, "G41 D1", line, "M2")).replace("G21", "G20")
    inches = Stored(diameters={1: 2.54})
    m = read_program(text, stored=inches).motions
    assert m.centre[1] == pytest.approx([0, 12.7], abs=1e-9)
    assert m.radii[1] == pytest.approx(12.7)


def test_places_must_be_known():
    with pytest.raises(ProgramError, match="depends on where X stands"):
        read("G41 D1 G1 X5", head="G21 G17 F100")


def test_explain_tells_hand_and_radius_and_both_motions():
    text = "\n".join((HEAD, *LEFT, "Y-10", "G40", "M2"))
    words = list(explain(text, stored=Stored(diameters=DIAMETERS)))
    assert any("compensation left by 0.5000 mm" in w for w in words)
    at = words.index("     5  Y-10")
    assert words[at + 1].strip().startswith("clockwise arc from X10.0000 Y0.5000 Z0.0000")
    assert words[at + 2].strip().startswith("straight from X10.5000")


@pytest.mark.parametrize("seed", range(20))
def test_random_convex_contours_against_shapely(seed):
    """The axis keeps the radius from the contour: its path is the buffer's outline."""
    chance = np.random.default_rng(seed)
    angles = np.sort(chance.uniform(0, 2 * np.pi, 12))
    corners = np.stack([20 * np.cos(angles), 12 * np.sin(angles)], axis=1).round(4)
    outline = Polygon(corners)
    first = ((corners[0] + corners[1]) / 2).round(6)
    away = (corners[1] - corners[0]) / np.hypot(*(corners[1] - corners[0]))
    entry = first - 40 * away + (away[1], -away[0])
    lines = [f"G0 X{entry[0]:.6f} Y{entry[1]:.6f}"]
    lines.append(f"G42 D2 G1 X{first[0]:.6f} Y{first[1]:.6f}")
    lines += [f"X{x:.4f} Y{y:.4f}" for x, y in [*corners[1:], corners[0]]]
    lines.append(f"X{first[0]:.6f} Y{first[1]:.6f}")
    m = read(*lines).motions
    assert m.lengths[3:].sum() == pytest.approx(outline.length + 2 * math.pi, abs=1e-3)
    for k in range(3, len(m)):
        angles = np.linspace(0, 2 * np.pi * m.turns[k], 50)
        out = m.start[k, :2] - m.centre[k]
        turned = [np.cos(angles) * out[0] - np.sin(angles) * out[1],
                  np.sin(angles) * out[0] + np.cos(angles) * out[1]]  # fmt: skip
        chord = np.linspace(m.start[k, :2], m.stop[k, :2], 50)
        path = m.centre[k] + np.stack(turned, axis=1) if m.kind[k] == ARC else chord
        assert np.allclose([Point(p).distance(outline) for p in path], 1.0, atol=1e-4)


@pytest.mark.parametrize("word", ["IJ", "R"])
@pytest.mark.parametrize(("d", "r"), [(1, 0.5), (2, 1.0)])
@pytest.mark.parametrize("inside", [True, False])
def test_round_corners_follow_steiner_inward_and_outward(inside, d, r, word):
    """A 30 x 20 rectangle with corners of 4, counter-clockwise: L = 68 + 8 pi, A = 536 + 16 pi."""
    arcs = [("X30 Y4", "I0 J4"), ("X26 Y20", "I-4 J0"), ("X0 Y16", "I0 J-4"), ("X4 Y0", "I4 J0")]
    lines = ["X26", "Y16", "X4", "Y4"]
    way = ["G0 X-40 Y" + f"{r if inside else -r}", f"{'G41' if inside else 'G42'} D{d} G1 X4 Y0"]
    for straight, (end, centre) in zip(lines, arcs, strict=True):
        way += [f"G1 {straight}", f"G3 {end} {centre if word == 'IJ' else 'R4'}"]
    m = read(*way).motions
    length, area = along(m, len(m) - 8)
    away = -r if inside else r
    assert len(m) == 3 + 8
    assert length == pytest.approx(68 + 8 * math.pi + 2 * math.pi * away, abs=1e-9)
    whole = 536 + 16 * math.pi + (68 + 8 * math.pi) * away + math.pi * away**2
    assert -area == pytest.approx(whole, abs=1e-8)

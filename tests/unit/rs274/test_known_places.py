"""Where the mill stands, and whether the text tells."""

import pytest

from knifecam.errors import ProgramError
from knifecam.rs274.program_reader import read_program
from knifecam.shop import Mill, Plate, Setup
from knifecam.sweep.side_program import stored_of


def known(*lines: str) -> list[str]:
    """Return the axes known where each motion starts."""
    trace = read_program("\n".join((*lines, "M2")))
    return ["".join(a for a, k in zip("xyz", row, strict=True) if k) for row in trace.known]


def setup(zero_a=None, zero_b=None, offsets=("G54", "G55")) -> Setup:
    plate = Plate(length=100, width=50, thickness=3, corner=(0, 0))
    mill = Mill(machine_zero=(zero_a, zero_b))
    return Setup(plate=plate, mill=mill, datum=((0, 0), (0, 0)), offsets=offsets)


def test_axes_are_known_once_they_were_sent_somewhere():
    assert known("G54 G49", "G0 Z50", "X1", "Y2 Z3", "X4") == ["", "z", "xz", "xyz"]


def test_a_new_work_offset_makes_all_axes_unknown_and_the_same_does_not():
    lines = ("G54", "G0 X1 Y1 Z1", "G54", "X2", "G56", "X3", "X4")
    assert known(*lines) == ["", "xyz", "", "x"]


def test_a_new_length_offset_makes_z_unknown_and_the_same_does_not():
    lines = ("G43 H1", "G0 X1 Y1 Z1", "G43 H1", "X2", "G43 H2", "X3", "G49", "Z1", "G49", "X4")
    assert known(*lines) == ["", "xyz", "xy", "xy", "xyz"]


def test_the_first_work_offset_and_length_offset_are_changes_too():
    # whatever was in force before them was not said
    lines = ("G0 X1 Y1 Z1", "G49", "X2 Y2", "G54", "X3")
    assert known(*lines) == ["", "xy", ""]


def test_a_new_origin_makes_its_axis_unknown():
    lines = ("G54", "G0 X1 Y1 Z1", "G10 L2 P2 X1", "X2", "G10 L2 P1 Y5", "X3")
    assert known(*lines) == ["", "xyz", "xz"]


@pytest.mark.parametrize("line", ["G91 G0 Z5", "G91 G1 X1 F100", "G92 X0", "G2 X1 I1 F100"])
def test_what_depends_on_an_unknown_place_is_refused(line):
    with pytest.raises(ProgramError, match=r"line 2: .* which the program has not said"):
        read_program(f"G54\n{line}\nM2")


def test_an_arc_needs_x_and_y_only():
    assert known("G0 X1 Y0", "G2 X1 I-1 F100") == ["", "xy"]
    with pytest.raises(ProgramError, match="where Y stands"):
        read_program("G0 X1\nG2 X1 I-1 F100\nM2")


def test_incremental_motion_after_a_new_length_offset_is_refused():
    text = "G43 H1\nG0 X1 Y1 Z1\nG43 H2\nG91 X1\nZ1\nM2"
    with pytest.raises(ProgramError, match="line 5: G91 Z1 depends on where Z stands"):
        read_program(text)


def test_g53_goes_to_machine_coordinates_where_they_are_known():
    zeros = setup((100, 40, 30), (200, 80, 30))
    trace = read_program(
        "G54 G0 X1 Y1 Z1\nG53 X110\nG55 Y0\nG53 G0 X110 Y70\nX5\nM2", stored_of(zeros)
    )
    # 110 of the mill is 10 of G54; there the mill's (110, 41, 31) is (-90, -39, 1) of G55
    assert trace.motions.stop.tolist() == [
        [1, 1, 1],
        [10, 1, 1],
        [-90, 0, 1],
        [-90, -10, 1],
        [5, -10, 1],
    ]


def test_g53_in_inches_and_apart_from_g92():
    zeros = setup((100, 40, 30))
    trace = read_program("G54 G0 X1 Y1 Z1\nG92 X50\nG20 G53 X5\nM2", stored_of(zeros))
    assert trace.motions.stop[1, 0] == 5 * 25.4 - 100


@pytest.mark.parametrize(
    ("code", "given"),
    [
        ("G54", None),
        ("G54", setup()),
        ("G55", setup((100, 40, 30))),
        ("G56", setup((100, 40, 30), (100, 40, 30))),
        ("G54", setup((100, 40, 30), (1, 2, 3), ("G54", "G54"))),
    ],
)
def test_g53_without_a_known_machine_zero_is_refused(code, given):
    with pytest.raises(ProgramError, match="line 2: G53 X1 is not understood"):
        read_program(f"{code}\nG53 G0 X1\nM2", given and stored_of(given))


def test_g53_of_one_work_offset_for_both_sides_with_one_zero():
    zeros = setup((100, 40, 30), (100, 40, 30), ("G54", "G54"))
    trace = read_program("G54\nG53 G0 X101\nM2", stored_of(zeros))
    assert trace.motions.stop[0, 0] == 1


def test_g53_follows_g10():
    trace = read_program("G54\nG10 L2 P1 X7\nG53 G0 X10\nM2", stored_of(setup((100, 40, 30))))
    assert trace.motions.stop[0, 0] == 3

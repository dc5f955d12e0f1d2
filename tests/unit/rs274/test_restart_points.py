"""Where a program can be started again, and what it would inherit."""

import pytest

from knifecam.errors import ProgramError
from knifecam.rs274.program_reader import read_program
from knifecam.rs274.restart_points import cut_starts, inherited, read_from
from knifecam.rs274.rs274_limits import START_PLACE_MM

HEADER = """(CUT 1 OF 2: BORES)
G21 G17 G90 G94 G54 G61
T1 M6
G43 H1
S8000 M3
M7
G4 P3
G0 Z20
X5 Y0
G1 Z0 F100
G2 X5 I-5 Z-1
G1 X7
G0 Z20
M5
M9
"""
PROGRAM = f"%\n(PLATE)\n{HEADER}N99 {HEADER.replace('CUT 1', 'cut 2')}M30\n%\n"
FIRST, SECOND = 3, 18


def without(*words: str) -> str:
    """Return the program whose second cut lacks these words."""
    lines = PROGRAM.split("\n")
    for k in range(SECOND, len(lines)):
        lines[k] = " ".join(w for w in lines[k].split(" ") if w not in words)
    return "\n".join(lines)


def test_cuts_begin_at_their_comments():
    assert cut_starts(PROGRAM) == [FIRST, SECOND]
    assert cut_starts("G0 X1 (CUT 1 OF 2: A)\n(A CUT 1 OF 2: B)\n(CUT 1 OF 2)\nM2") == []


def test_a_cut_with_all_it_needs_inherits_nothing():
    assert inherited(PROGRAM, FIRST) == ()
    assert inherited(PROGRAM, SECOND) == ()
    assert inherited(PROGRAM, 1) == ()


@pytest.mark.parametrize(
    ("words", "names"),
    [
        (("G21",), ("units (G20, G21)",)),
        (("G17",), ("plane (G17, G18, G19)",)),
        (("G90",), ("distance mode (G90, G91)",)),
        (("G94",), ("feed mode (G93, G94)",)),
        (("G54",), ("work offset (G54 to G59.3)",)),
        (("G61",), ("path mode (G61, G61.1, G64)",)),
        (("G43", "H1"), ("length offset (G43, G49)",)),
        (("S8000",), ("spindle speed (S)",)),
        (("M3", "M6"), ("spindle (M3, M4, M5)", "cutter in the spindle (M6)")),
        (("M3",), ()),  # M6 has said that it stands still
        (("M7",), ("coolant (M7, M8, M9)",)),
        (("F100",), ("feed (F)",)),
        (("M6",), ("cutter in the spindle (M6)",)),
        (("T1",), ("cutter selected (T)",)),
        (("G0",), ("feed (F)", "motion (G0 to G3)")),  # G1 is in force after an M2
        (("X5", "Y0"), ("place of an axis",)),
        (("M6", "G61", "F100"), (
            "path mode (G61, G61.1, G64)", "feed (F)", "cutter in the spindle (M6)",
        )),
    ],
)  # fmt: skip
def test_what_a_cut_does_not_say_it_inherits(words, names):
    text = without(*words)
    if words == ("X5", "Y0"):
        text = text.replace("G2 I-5", "G2 X5 I-5")
    assert inherited(text, SECOND) == names
    assert inherited(text, FIRST) == ()


def test_a_parameter_of_the_part_that_is_not_run():
    text = PROGRAM.replace("(PLATE)", "#1=20").replace("G0 Z20\nM5", "G0 Z#1\nM5")
    read_program(text)
    assert inherited(text, FIRST) == ("parameters (#)",)
    assert inherited(text, 2) == ()


def test_incremental_motion_relies_on_the_place():
    text = "G21 G17 G90 G94 G54 G49 G0 X1 Y1 Z1\nG91 G0 Z5\nM2"
    assert inherited(text, 2) == (
        "units (G20, G21)",
        "work offset (G54 to G59.3)",
        "length offset (G43, G49)",
        "place of an axis",
    )


def test_g92_and_g10_rely_on_what_they_use():
    place = "G21 G90 G54 G49 G0 X1 Y1 Z1\n"
    assert inherited(f"{place}G21 G92 X5\nM2", 2) == ("place of an axis",)
    assert inherited(f"{place}G92 X5\nM2", 2) == ("units (G20, G21)", "place of an axis")
    assert inherited(f"{place}G10 L2 P1 X5\nM2", 2) == (
        "units (G20, G21)",
        "work offset (G54 to G59.3)",
    )
    assert inherited(f"{place}G21 G55\nG10 L2 P1 X5\nM2", 2) == ()
    assert inherited("G21 G92.3\nM2", 1) == ("parameters (#)",)


def test_a_tail_that_is_wrong_by_itself_is_refused():
    with pytest.raises(ProgramError, match="line 2: G5 is not"):
        inherited("G0 X1\nG5\nM2", 2)
    with pytest.raises(ValueError, match="line=4 must be from 1 to 3"):
        inherited("G0 X1\nG0 X2\nM2\n", 4)


def test_reading_from_a_cut_gives_the_rest_of_the_trace():
    whole, tail = read_program(PROGRAM), read_from(PROGRAM, SECOND)
    count = len(tail.motions)
    assert count == 6
    for name in ("line", "cutter", "length", "spindle", "speed", "mist", "offset", "path"):
        assert getattr(tail, name).tolist() == getattr(whole, name)[-count:].tolist()
    assert tail.motions.stop[2:].tolist() == whole.motions.stop[-count:][2:].tolist()
    assert tail.motions.feed.tolist() == whole.motions.feed[-count:].tolist()
    assert tail.motions.start[0].tolist() == list(START_PLACE_MM)
    assert tail.known[0].tolist() == [False] * 3
    assert tail.acts[-1].kind == "end"


def test_reading_from_a_cut_that_needs_what_was_left_out_is_refused():
    with pytest.raises(ProgramError, match="line 2: axis words stand without a motion"):
        read_from("G0 X1\nX2\nM2", 2)
    with pytest.raises(ProgramError, match="line 2: G1 at feed F=0"):
        read_from("F100\nG1 X2\nM2", 2)


@pytest.mark.parametrize(("said", "missing"), [("G98 ", ()), ("", ("return level (G98, G99)",))])
def test_a_cycle_long_after_all_modes_relies_on_the_return_level(said, missing):
    start = f"{said}G21 G17 G90 G94 G54 G61 G43 H1 T1 M6\nS900 M3 M7\nG0 X1 Y1 Z9\n"
    text = start + "G1 X2 F100\n" * 20 + "G81 X1 Z1 R2\nM2"
    assert inherited(text, 1) == missing
    for spelled in ("g 0 81", "G[80+1]"):
        assert inherited(text.replace("G81", spelled), 1) == missing


def test_a_home_relies_on_parameters_and_compensation_on_the_cutter():
    start = "G21 G17 G90 G94 G54 G49 G61\n"
    assert inherited(start + "G28\nM2", 1) == ("parameters (#)",)
    assert "cutter in the spindle (M6)" in inherited(start + "G0 X1 Y1\nG41\nG0 X9\nM2", 2)


def test_a_home_relies_on_the_modes_of_a_rapid():
    assert inherited("G28\nM2", 1) == (
        "units (G20, G21)",
        "distance mode (G90, G91)",
        "work offset (G54 to G59.3)",
        "length offset (G43, G49)",
        "parameters (#)",
    )

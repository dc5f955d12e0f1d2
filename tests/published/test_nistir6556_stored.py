"""What the mill holds: parameter file, homes, length offsets, and the probe.

T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556
(2000): Table 2 and section 3.2.1 (parameters), 3.5.8 (G28, G30), 3.5.9 (G38.2), 3.5.11 (G43, G49).
"""

import numpy as np
import pytest

from knifecam.curve import FEED, RAPID
from knifecam.errors import ProgramError
from knifecam.report.explain import explain
from knifecam.rs274.modal_state import REQUIRED, Stored, read_parameters
from knifecam.rs274.program_reader import read_program
from knifecam.rs274.restart_points import inherited

HEAD = "G21 G17 G90 G94 G54 G49\nG0 X1 Y2 Z3\n"


def file_of(changes: dict[int, float] | None = None, leave: int = 0) -> str:
    values = dict.fromkeys(REQUIRED, 0.0) | {5220: 1} | (changes or {})
    rows = [f"{number}\t{value}" for number, value in sorted(values.items()) if number != leave]
    return "\n".join(["number  value", "", *rows]) + "\n"


def test_table_2_formula_of_the_zeros():
    zeros = [number for number in REQUIRED if number > 5220]
    assert zeros == [5201 + 20 * n + axis for n in range(1, 10) for axis in range(3)]
    assert REQUIRED[:10] == (5161, 5162, 5163, 5181, 5182, 5183, 5211, 5212, 5213, 5220)
    assert len(REQUIRED) == 10 + 27


def test_parameter_file_is_read():
    held = read_parameters(file_of({5161: 1.5, 5241: -2, 5164: 9, 1: 0.25, 5399: 7}))
    assert (held[5161], held[5241], held[5164], held[5220]) == (1.5, -2, 9, 1)
    assert (held[1], held[5399]) == (0.25, 7)


@pytest.mark.parametrize("number", REQUIRED)
def test_message_154_required_parameter_missing(number):
    with pytest.raises(ProgramError, match=f"#{number} is missing"):
        read_parameters(file_of(leave=number))


@pytest.mark.parametrize("third", ["2", "home in X", "1e3", "(a)", "G28\tX", "", "Maß in X", "\r"])
@pytest.mark.parametrize("gap", [" ", "\t", " \t "])
def test_section_3_2_1_the_third_column_is_not_read(third, gap):
    """Table 2 of the report heads three columns: number, value, and a comment that is not read."""
    head, rows = file_of({5161: 1.5, 1: -0.25}).split("\n\n")
    text = "\n".join(row + gap + third for row in rows.rstrip().split("\n"))
    assert read_parameters(f"{head}\n\n{text}\n") == read_parameters(f"{head}\n\n{rows}")


@pytest.mark.parametrize(
    ("message", "text", "words"),
    [
        (141, file_of() + "5163 1\n", "greater than the number before"),
        (141, file_of() + "5383 1\n", "greater than the number before"),
        (68, file_of({5220: 0}), "from 1 to 9"),
        (68, file_of({5220: 10}), "from 1 to 9"),
        (68, file_of({5220: 1.5}), "from 1 to 9"),
        (142, file_of() + "5400 1\n", "#5399"),
        (0, file_of() + "5398 1x 2\n", "a row must hold"),
        (0, file_of() + "5398 1;home\n", "a row must hold"),
        (0, file_of() + "5398\n", "a row must hold"),
        (0, file_of() + "5398 1e3\n", "a row must hold"),
        (0, file_of() + "\n", "a row must hold"),
        (0, file_of() + "5398 99999999999\n", "larger than"),
        (0, "header\n\n5161 0\nwrong\n", "line 4: a row"),
        (141, "header\n\n5161 0\n5161 0\n", "line 4: #5161 must be greater"),
        (0, "no empty line\n", "an empty line"),
        (0, "", "is missing"),
    ],
)
def test_messages_of_the_parameter_file(message, text, words):
    with pytest.raises(ProgramError, match=words):
        read_parameters(text)


def test_section_3_5_8_home_by_way_of_the_programmed_place():
    held = Stored(parameters=read_parameters(file_of({5161: 10, 5162: 20, 5163: 30, 5221: 4})))
    trace = read_program(HEAD + "G28 X5 Z9\nG28\nM2", stored=held)
    # the zero of G54 lies at X4 of the mill
    assert trace.motions.stop[1:].tolist() == [[5, 2, 9], [6, 20, 30], [6, 20, 30]]
    assert (trace.motions.kind == RAPID).all()
    assert [(a.number, a.before) for a in trace.acts if a.kind == "home"] == [(280, 1), (280, 3)]


def test_section_3_5_8_g30_has_a_home_of_its_own_and_g91_counts_for_the_way_only():
    held = Stored(parameters=read_parameters(file_of({5181: 7, 5183: 50, 5221: 2, 5222: 1})))
    trace = read_program(HEAD + "G91 G30 Z5\nM2", stored=held)
    assert trace.motions.stop[1:].tolist() == [[1, 2, 8], [5, -1, 50]]


def test_homes_may_be_set_by_the_program_in_its_units():
    text = HEAD + "#5161=1 #5162=2 #5163=3\nG20 G28\nM2"
    held = Stored(parameters=dict.fromkeys((5221, 5222, 5223), 0.0))
    assert read_program(text, stored=held).motions.stop[1] == pytest.approx([25.4, 50.8, 76.2])


def test_z_of_home_and_of_g53_follow_the_length_offset():
    zeros = dict.fromkeys((5161, 5162, 5163, 5221, 5222, 5223), 0.0)
    held = Stored(parameters=zeros, lengths={2: 40.0})
    trace = read_program(HEAD + "G43 H2 G28\nG53 G0 Z-10\nG49 G0 X0\nM2", stored=held)
    # the tip is 40 below what the mill counts; with G49 the same place has the mill's number
    assert trace.motions.stop[1:, 2].tolist() == [-40, -50, -10]
    with pytest.raises(ProgramError, match="cutter's length"):
        read_program(HEAD + "G43 H3 G28\nM2", stored=held)


def test_a_known_length_offset_gives_z_its_new_number():
    held = Stored(lengths={1: 30.0, 2: 50.0})
    trace = read_program("G43 H1\nG0 X1 Y1 Z1\nG43 H2\nG91 Z1\nM2", stored=held)
    assert trace.motions.stop[-1, 2] == 1 + 30 - 50 + 1
    assert trace.known[-1].tolist() == [True] * 3


def test_a_restart_relies_on_homes():
    assert "parameters (#)" in inherited("G21 G54 G49 G90\nG28\nM2", 1)


def test_stored_numbers_must_be_finite():
    with pytest.raises(ValueError, match=r"lengths\[1\]=nan must be finite"):
        Stored(lengths={1: float("nan")})


def test_the_work_offset_in_force_is_that_of_the_file():
    held = Stored(parameters=read_parameters(file_of({5220: 3, 5261: 5})))
    trace = read_program("G0 X1\nX#5220\nM2", stored=held)
    assert trace.offset.tolist() == [3, 3]
    assert trace.motions.stop[:, 0].tolist() == [1, 3]


def test_section_3_5_9_probe_goes_no_further_than_the_programmed_place():
    trace = read_program(HEAD + "G38.2 Z-5 F50\nG0 Z9\nX4\nM2")
    m = trace.motions
    assert m.kind[1:].tolist() == [FEED, RAPID, RAPID]
    assert m.stop[1:, 2].tolist() == [-5, 9, 9]
    assert m.feed[1] == 50
    assert trace.known[1:].tolist() == [[True] * 3, [True, True, False], [True] * 3]
    assert [(a.kind, a.number, a.before) for a in trace.acts if a.kind == "probe"] == [
        ("probe", 382, 1)
    ]


def test_section_3_5_9_probe_axes_that_did_not_move_stay_known():
    trace = read_program(HEAD + "F50 G38.2 X9\nG91 G0 Z5\nM2")
    assert trace.motions.stop[-1].tolist() == [9, 2, 8]
    assert trace.known[-1].tolist() == [False, True, True]


def test_section_3_5_9_least_way_of_a_probe():
    read_program(HEAD + "F50 G38.2 Z2.746\nM2")
    read_program(HEAD + "G20 F50 G38.2 X0.0495\nM2")
    with pytest.raises(ProgramError, match=r"0\.254 mm"):
        read_program(HEAD + "F50 G38.2 Z2.7461\nM2")


def test_section_3_5_9_what_a_probe_found_is_not_what_was_stored():
    held = Stored(parameters=read_parameters(file_of({5063: 4})))
    assert read_program(HEAD + "G0 Z#5063\nM2", stored=held).motions.stop[-1, 2] == 4
    with pytest.raises(ProgramError, match="line 4: #5063 is where the probe tripped"):
        read_program(HEAD + "F50 G38.2 Z-5\nG0 Z#5063\nM2", stored=held)


def test_a_probe_may_set_the_zero_only_with_what_the_text_tells():
    with pytest.raises(ProgramError, match="depends on where Z stands"):
        read_program(HEAD + "F50 G38.2 Z-5\nG92 Z0\nM2")


def test_explain_tells_probe_and_home():
    held = Stored(parameters=read_parameters(file_of()))
    words = list(explain(HEAD + "F50 G38.2 Z-5\nG28\nM2", stored=held))
    assert any("probes: stops where it touches, at the latest" in w for w in words)
    assert any("returns home (G28)" in w for w in words)
    assert any(w.strip() == "straight from X1.0000 Y2.0000 Z3.0000 to X1.0000 Y2.0000 Z?, "
               "8.0000 mm at 50.0 mm/min" for w in words)  # fmt: skip


def test_every_motion_ends_where_the_next_begins():
    trace = read_program(HEAD + "F50 G38.2 Z-5\nG0 Z9\nG81 X4 Z1 R2 L2\nG18 G2 X6 Z9 R10\nM2")
    assert np.array_equal(trace.motions.start[1:], trace.motions.stop[:-1])

"""What codes do, and in which order.

T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556
(2000): Table 8 (order of execution), sections 3.5 and 3.6, Table 2 (parameters).
"""

import pytest

from knifecam.errors import ProgramError
from knifecam.rs274.program_reader import read_program


def read(*lines: str):
    return read_program("\n".join((*lines, "M2")))


def stops(*lines: str) -> list[list[float]]:
    return read(*lines).motions.stop.tolist()


def test_table_8_m5_on_a_motion_line_stops_the_spindle_before_the_move():
    trace = read("M3 S1000", "G0 X1", "G1 X2 F100 M5")
    assert trace.spindle.tolist() == [1, 0]
    assert [(a.kind, a.before) for a in trace.acts if a.kind == "spindle"] == [
        ("spindle", 0),
        ("spindle", 1),
    ]


def test_table_8_m2_on_a_motion_line_ends_after_it():
    trace = read_program("M2 G0 X1\n")
    assert len(trace.motions) == 1
    assert [(a.kind, a.before) for a in trace.acts] == [("end", 1)]


def test_table_8_everything_on_one_line():
    line = "G0 X1 M0 G90 G61.1 G55 G43 H2 G21 G17 G4 P1.5 M48 M8 M4 (x)"  # four M words are allowed
    trace = read("T3 M6", line)
    assert [(a.kind, a.number, a.before) for a in trace.acts] == [
        ("change", 3, 0),
        ("comment", 0, 0),
        ("spindle", 40, 0),
        ("coolant", 80, 0),
        ("override", 480, 0),
        ("dwell", 1.5, 0),
        ("length", 2, 0),
        ("offset", 2, 0),
        ("path", 611, 0),
        ("stop", 0, 1),
        ("end", 20, 1),
    ]
    assert (trace.spindle[0], trace.offset[0], trace.length[0], trace.path[0]) == (-1, 2, 2, 1)
    assert (trace.cutter[0], trace.flood[0], trace.mist[0]) == (3, True, False)


def test_table_8_speed_before_spindle_and_cutter_before_spindle():
    trace = read("M3 M6 T4 S900", "G0 X1")
    assert (trace.cutter[0], trace.spindle[0], trace.speed[0]) == (4, 1, 900)


def test_table_8_units_and_distance_before_motion():
    assert stops("G0 X1 Y1 Z1", "X1 G20", "X1 G91", "X0 G21 G90") == [
        [1, 1, 1],
        [25.4, 1, 1],
        [50.8, 1, 1],
        [0, 1, 1],
    ]


def test_table_8_dwell_before_a_motion_in_force():
    trace = read("G0 X1", "G4 P2 X3")
    assert trace.motions.stop[:, 0].tolist() == [1, 3]
    assert [(a.kind, a.number, a.before) for a in trace.acts[:1]] == [("dwell", 2, 1)]


def test_section_3_5_6_units_do_not_convert_the_feed():
    trace = read("G20 F10 G1 X1", "G21 X2")
    assert trace.motions.feed.tolist() == [254, 10]


def test_section_3_6_3_cutter_change_stops_the_spindle_and_leaves_the_coolant():
    trace = read("T1 M6", "M3 S100 M7", "M8", "G0 X1", "T2", "X2", "M6", "X3", "M9", "X4")
    assert trace.cutter.tolist() == [1, 1, 2, 2]
    assert trace.spindle.tolist() == [1, 1, 0, 0]
    assert trace.mist.tolist() == [True, True, True, False]
    assert trace.flood.tolist() == [True, True, True, False]
    assert trace.speed.tolist() == [100] * 4


def test_section_3_6_1_and_3_6_2_stops_and_spindle():
    trace = read("M3 S0", "M1", "M60", "M0", "M4")
    assert [(a.kind, a.number) for a in trace.acts] == [
        ("spindle", 30),
        ("stop", 10),
        ("stop", 600),
        ("stop", 0),
        ("spindle", 40),
        ("end", 20),
    ]


@pytest.mark.parametrize("number", range(1, 10))
def test_table_2_nine_work_offsets(number):
    codes = ["G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3"]
    trace = read(codes[number - 1], "G0 X1", "X#5220")
    assert trace.offset.tolist() == [number, number]
    assert trace.motions.stop[1, 0] == number


def test_section_3_5_18_g92_worked_example():
    lines = ("G0 X4 Y0 Z0", "G92 x7", "G0 X#5211", "X7", "G92 x9", "X#5211", "X9")
    x = [row[0] for row in stops(*lines)]
    # the offset -3 makes the program's 7 the place 4; the next one is -5
    assert x == [4, -3 - 3, 4, -5 - 5, 4]
    assert [(a.kind, a.number) for a in read(*lines).acts[:2]] == [("shift", 920)] * 2


def test_section_3_5_18_g92_family():
    lines = ("G0 X4 Y0 Z0", "G92 X7", "G92.2", "G0 X7", "G92.3", "X7", "G92.1", "X7", "X#5211")
    assert [row[0] for row in stops(*lines)] == [4, 7, 4, 7, 0]


def test_section_3_5_18_g92_of_every_axis_and_its_parameters_in_inches():
    lines = ("G20 G0 X1 Y2 Z3", "G92 X2 Y4 Z8", "G0 X2 Y4 Z9", "G92.2", "G92.3", "X0 Y0 Z0")
    assert stops(*lines)[1:] == [
        pytest.approx([1 * 25.4, 2 * 25.4, 4 * 25.4]),
        pytest.approx([-1 * 25.4, -2 * 25.4, -5 * 25.4]),
    ]


def test_section_3_5_18_g92_ignores_g91_and_applies_to_every_work_offset():
    lines = ("G54", "G0 X4", "G91", "G92 X7", "G90", "G55", "G0 X7")
    assert [row[0] for row in stops(*lines)] == [4, 4]


def test_section_3_5_18_g92_in_inches():
    assert stops("G20", "G0 X4 Y0 Z0", "G92 X7", "G0 X7", "X#5211")[1:] == [
        [pytest.approx(101.6), 0, 0],
        [pytest.approx((-3 - 3) * 25.4), 0, 0],
    ]


def test_section_3_5_5_g10_example_is_recorded():
    trace = read("G10 L2 P1 x3.5 y17.2", "G0 X1", "X#5221 Y#5222")
    act = trace.acts[0]
    assert (act.kind, act.number, act.text) == ("set-offset", 1, "X3.5000 Y17.2000")
    assert trace.motions.stop[:, :2].tolist() == [[1, 0], [3.5, 17.2]]


@pytest.mark.parametrize("number", range(1, 10))
def test_table_2_parameters_of_the_work_offsets(number):
    # 5201 + 20 n + axis, in units of the program
    first = 5201 + 20 * number
    trace = read(f"G20 G10 L2 P{number} X1 Y2 Z3", f"G0 X#{first} Y#{first + 1} Z#{first + 2}")
    assert trace.motions.stop.tolist() == [[25.4, 50.8, pytest.approx(76.2)]]
    assert trace.acts[0].text == "X25.4000 Y50.8000 Z76.2000"


def test_section_3_5_17_incremental_motion_of_every_axis_in_inches():
    assert stops("G20 G0 X1 Y2 Z3", "G91 X10 Y20 Z30", "Z-1")[1:] == [
        pytest.approx([11 * 25.4, 22 * 25.4, 33 * 25.4]),
        pytest.approx([11 * 25.4, 22 * 25.4, 32 * 25.4]),
    ]


def test_section_3_5_5_g10_moves_the_numbers_and_not_the_mill():
    # zero known at 10, then put to 12: the mill standing at 5 stands at 3 of the new numbers
    trace = read("G54", "G10 L2 P1 X10", "G0 X5", "G10 L2 P1 X12", "G91 X1")
    assert trace.motions.start[1, 0] == 3
    assert trace.motions.stop[1, 0] == 4
    trace = read("G54 G10 L2 P1 X10", "G10 L2 P2 X30", "G0 X5", "G55", "G91 X1")
    assert trace.motions.stop[1, 0] == 10 + 5 - 30 + 1


def test_section_3_5_5_g10_ignores_g91_and_takes_no_motion():
    trace = read("G0 X5", "G91 G10 L2 P2 X1 Y2", "X1")
    assert trace.motions.stop[:, 0].tolist() == [5, 6]


def test_section_3_5_9_g43_and_g49():
    trace = read("G43 H0", "G0 Z5", "G43 H7", "Z6", "G43 H7", "Z7", "G49", "Z8")
    assert trace.length.tolist() == [0, 7, 7, 0]
    assert [a.number for a in trace.acts if a.kind == "length"] == [0, 7, 7, 0]


def test_section_3_5_13_path_modes():
    trace = read("G61", "G0 X1", "G61.1", "X2", "G64", "X3")
    assert trace.path.tolist() == [0, 1, 2]


def test_table_4_codes_without_effect_on_motion_are_taken():
    assert stops("G40 G49 G80 G98", "G99 M49", "M48", "G0 X1") == [[1, 0, 1000]]


def test_section_3_5_15_motion_stays_in_force():
    assert stops("G0 X1", "Y2", "G1 Z3 F100", "X4", "G3 X5 I0.5", "X6 I0.5")[-1] == [6, 2, 3]


def test_table_8_group_zero_suspends_the_motion_in_force():
    trace = read("G0 X4 Y4 Z4", "G92 X0", "G92.1 X3")
    assert trace.motions.stop[:, 0].tolist() == [4, 3]


def test_parameters_that_hold_offsets_cannot_be_set():
    for number in (5167, 5211, 5220, 5221, 5390):
        with pytest.raises(ProgramError, match="work offset"):
            read(f"#{number}=1")
    read("#5160=1 #5391=2 #5161=3 #5186=4")


def test_parameters_are_those_of_the_program_only():
    with pytest.raises(ProgramError, match="#5221 is used before"):
        read("G54", "G0 X#5221")
    with pytest.raises(ProgramError, match="#5211 is used before"):
        read("G92.3")

"""Cycles, motion by motion.

T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556
(2000): section 3.5.16 with its two worked examples, 3.5.20 (G98, G99), sample program C.3. The
depths of G83 in C.3 and the other expected motions follow by hand from the rules.
"""

import pytest

from knifecam.curve import RAPID
from knifecam.errors import ProgramError
from knifecam.rs274.program_reader import read_program
from knifecam.rs274.rs274_limits import PECK_GAP_MM

HEAD = "G21 G17 G90 G94 G54 G49 F100\n"


def read(*lines: str):
    return read_program(HEAD + "\n".join((*lines, "M2")))


def done(*lines: str, start: str = "G0 X1 Y2 Z3") -> list[tuple]:
    """Return the motions after the start: R for rapid or F for feed, and where they end."""
    m = read(start, *lines).motions
    kinds = ["R" if kind == RAPID else "F" for kind in m.kind[1:]]
    stops = [tuple(round(v, 9) for v in row) for row in m.stop[1:].tolist()]
    return [(kind, *stop) for kind, stop in zip(kinds, stops, strict=True)]


def test_section_3_5_16_1_first_example():
    assert done("G90 G81 G98 X4 Y5 Z1.5 R2.8") == [
        ("R", 4, 5, 3),
        ("R", 4, 5, 2.8),
        ("F", 4, 5, 1.5),
        ("R", 4, 5, 3),
    ]


def test_section_3_5_16_1_second_example():
    assert done("G91 G81 G98 X4 Y5 Z-0.6 R1.8 L3") == [
        ("R", 1, 2, 4.8),
        ("R", 5, 7, 4.8),
        ("F", 5, 7, 4.2),
        ("R", 5, 7, 4.8),
        ("R", 9, 12, 4.8),
        ("F", 9, 12, 4.2),
        ("R", 9, 12, 4.8),
        ("R", 13, 17, 4.8),
        ("F", 13, 17, 4.2),
        ("R", 13, 17, 4.8),
    ]


def test_section_3_5_20_return_levels():
    assert done("G81 G99 X4 Z1 R2", "X5")[3:] == [("R", 4, 2, 2), ("R", 5, 2, 2),
                                                  ("F", 5, 2, 1), ("R", 5, 2, 2)]  # fmt: skip
    assert done("G81 G98 X4 Z1 R2", "X5")[3:5] == [("R", 4, 2, 3), ("R", 5, 2, 3)]
    # G98 never returns below R
    assert done("G81 G98 X4 Z1 R5")[-1] == ("R", 4, 2, 5)


def test_sample_c_3_depths_of_g83():
    down = [row[3] for row in done("G83 X5 Y6 R0.2 Z-1.1 Q0.21") if row[0] == "F"]
    assert down == pytest.approx([-0.01, -0.22, -0.43, -0.64, -0.85, -1.06, -1.1], abs=1e-12)


def test_g83_lifts_to_clear_and_comes_back_close_to_the_last_depth():
    assert done("G99 G83 X4 Z-1 R1 Q0.8") == [
        ("R", 4, 2, 3),
        ("R", 4, 2, 1),
        ("F", 4, 2, 0.2),
        ("R", 4, 2, 1),
        ("R", 4, 2, 0.2 + PECK_GAP_MM),
        ("F", 4, 2, -0.6),
        ("R", 4, 2, 1),
        ("R", 4, 2, round(-0.6 + PECK_GAP_MM, 9)),
        ("F", 4, 2, -1),
        ("R", 4, 2, 1),
    ]
    # a step that ends at the bottom makes no peck of no depth, one as deep as the hole only one
    assert [r[3] for r in done("G83 X4 Z0 R1 Q0.5") if r[0] == "F"] == [0.5, 0]
    assert [r[3] for r in done("G83 X4 Z0 R1 Q5") if r[0] == "F"] == [0]


def acts(*lines: str) -> list[tuple]:
    """Return dwells, spindle words and stops, each with how many motions of the hole are done."""
    trace = read("G0 X1 Y2 Z3", *lines)
    kinds = ("dwell", "spindle", "stop")
    return [(a.kind, a.number, a.before - 1) for a in trace.acts if a.kind in kinds][1:]


def test_g82_waits_at_the_bottom():
    assert done("G82 X4 Z1 R2 P0.5") == done("G81 X4 Z1 R2")
    assert acts("M3", "G82 X4 Z1 R2 P0.5", "X5") == [("dwell", 0.5, 3), ("dwell", 0.5, 7)]


def test_g84_taps():
    hole = ("G84 X4 Z1 R2",)
    assert done("M3", *hole) == [("R", 4, 2, 3), ("R", 4, 2, 2), ("F", 4, 2, 1), ("F", 4, 2, 3)]
    assert acts("M3", *hole) == [
        ("spindle", 50, 3), ("spindle", 40, 3), ("spindle", 50, 4), ("spindle", 30, 4),
    ]  # fmt: skip
    trace = read("G0 X1 Y2 Z3", "M3 S300", *hole)
    assert trace.spindle.tolist() == [0, 1, 1, 1, -1]
    assert trace.speed[-1] == 300


def test_g85_and_g89_come_out_at_the_feed():
    hole = [("R", 4, 2, 3), ("R", 4, 2, 2), ("F", 4, 2, 1), ("F", 4, 2, 3)]
    assert done("G85 X4 Z1 R2") == hole
    assert done("G89 X4 Z1 R2 P1") == hole
    assert acts("M3", "G89 X4 Z1 R2 P1") == [("dwell", 1, 3)]


@pytest.mark.parametrize(("word", "number"), [("M3", 30), ("M4", 40)])
def test_g86_stops_the_spindle_before_it_comes_out(word, number):
    assert done(word, "G86 X4 Z1 R2 P1") == done("G81 X4 Z1 R2")
    assert acts(word, "G86 X4 Z1 R2 P1") == [
        ("dwell", 1, 3), ("spindle", 50, 3), ("spindle", number, 4),
    ]  # fmt: skip


def test_g87_bores_from_behind_in_twelve_steps():
    hole = "G87 X4 Y5 Z-2 R2 I0.5 J-0.25 K-1"
    assert done("M3", hole) == [
        ("R", 4, 5, 3),
        ("R", 4, 5, 2),
        ("R", 4.5, 4.75, 2),
        ("R", 4.5, 4.75, -2),
        ("R", 4, 5, -2),
        ("F", 4, 5, -1),
        ("F", 4, 5, -2),
        ("R", 4.5, 4.75, -2),
        ("R", 4.5, 4.75, 3),
        ("R", 4, 5, 3),
    ]
    assert acts("M3", hole) == [
        ("spindle", 50, 3), ("spindle", 30, 5), ("spindle", 50, 7), ("spindle", 30, 10),
    ]  # fmt: skip
    # in G91, K counts from the bottom
    assert done("M3 G91", "G87 X3 Y3 Z-4 R-1 I0.5 J-0.25 K1") == done("M3", hole)


def test_g88_stops_for_the_hand_and_leaves_z_unknown():
    trace = read("G0 X1 Y2 Z3", "M3", "G88 X4 Z1 R2 P1", "G0 Z9")
    assert acts("M3", "G88 X4 Z1 R2 P1") == [
        ("dwell", 1, 3), ("spindle", 50, 3), ("stop", 0, 3), ("spindle", 30, 3),
    ]  # fmt: skip
    assert trace.motions.stop[:5, 2].tolist() == [3, 3, 2, 1, 9]
    assert trace.known[4].tolist() == [True, True, False]
    with pytest.raises(ProgramError, match="line 5: G88 depends on where Z stands"):
        read("G0 X1 Y2 Z3", "M3", "G88 X4 Z1 R2 P1", "X5")


def test_g88_after_a_stop_for_the_hand_needs_no_place_for_its_repeats():
    trace = read("G0 X1 Y2 Z3", "M3", "G99 G88 X4 Z1 R2 P1 L2")
    assert trace.motions.stop[:, 2].tolist() == [3, 3, 2, 1, 2, 1]
    assert trace.known[:, 2].tolist() == [False, True, True, True, False, True]


def test_repeats_in_absolute_mode_stay_in_place():
    once = done("G99 G81 X4 Y5 Z1 R2")
    assert done("G99 G81 X4 Y5 Z1 R2 L3") == once + once[2:] * 2


def test_words_stay_in_force_and_l_does_not():
    rows = done("G99 G82 X4 Z1 R2 P0.5 L2", "Y3", "Z0", "X5 R1.5 P1")
    assert [r for r in rows if r[0] == "F"] == [
        ("F", 4, 2, 1), ("F", 4, 2, 1), ("F", 4, 3, 1), ("F", 4, 3, 0), ("F", 5, 3, 0),
    ]  # fmt: skip
    assert rows[-1] == ("R", 5, 3, 1.5)
    # the code may be said again
    assert done("G81 X4 Z1 R2", "G81 X5") == done("G81 X4 Z1 R2", "X5")


def test_sample_c_3_incremental_after_absolute():
    # R and Z are as written: R above where the tip stands, Z from R
    rows = done("G81 X3 Y4 R0.2 Z-1.1", "X1 Y0 R0 G91 L3", "Y-2 R0.1")
    assert rows[3:7] == [("R", 3, 4, 3), ("R", 4, 4, 3), ("F", 4, 4, 1.9), ("R", 4, 4, 3)]
    assert rows[-5:-2] == [("R", 6, 4, 3), ("R", 6, 4, 3.1), ("R", 6, 2, 3.1)]
    assert rows[-2:] == [("F", 6, 2, 2), ("R", 6, 2, 3.1)]


def test_cycles_in_the_other_planes_go_along_the_axis_across_them():
    assert done("G18 G81 X4 Y1 Z5 R1.5") == [
        ("R", 4, 2, 5), ("R", 4, 1.5, 5), ("F", 4, 1, 5), ("R", 4, 2, 5),
    ]  # fmt: skip
    assert done("G19 G99 G81 X-1 Y5 R0") == [
        ("R", 1, 5, 3), ("R", 0, 5, 3), ("F", -1, 5, 3), ("R", 0, 5, 3),
    ]  # fmt: skip
    rows = done("M3 G18", "G87 X4 Y-2 Z5 R1 I0.5 J-1 K0.25")
    assert rows[2] == ("R", 4.5, 1, 5.25)
    assert rows[5] == ("F", 4, -1, 5)


def test_inches_and_shifts():
    assert done("G92 X2 Y3 Z4", "G99 G81 X3 Y3 Z1 R2") == [
        ("R", 2, 2, 3), ("R", 2, 2, 1), ("F", 2, 2, 0), ("R", 2, 2, 1),
    ]  # fmt: skip
    rows = read("G20 G0 X0 Y0 Z1", "G99 G83 X1 Z-1 R0.5 Q1 F2").motions
    assert rows.stop[2:, 2].tolist() == pytest.approx([12.7, -12.7, 12.7, -12.446, -25.4, 12.7])
    assert rows.feed[3] == 2 * 25.4


def test_a_cycle_ends_with_g80_or_another_motion_and_other_lines_leave_it():
    assert done("G81 X4 Z1 R2", "G4 P1", "G92.1", "F50", "X5") == done("G81 X4 Z1 R2", "X5")
    assert done("G81 X4 Z1 R2", "G80", "G0 X9")[-1] == ("R", 9, 2, 3)


def test_the_mode_of_path_is_recorded_as_it_is_written():
    assert read("G64 G0 X1 Y2 Z3", "G81 X4 Z1 R2").path.tolist() == [2] * 5


def test_axes_are_known_as_far_as_the_words_tell():
    trace = read("G99 G0 Z0", "G81 Y5 Z1 R5", "X4")
    axes = ["".join(a for a, k in zip("xyz", row, strict=True) if k) for row in trace.known]
    assert trace.motions.stop[:, 2].tolist() == [0, 5, 5, 1, 5, 5, 1, 5]
    assert axes == ["", "z", "z", "yz", "yz", "yz", "xyz", "xyz"]


def test_incremental_places_must_be_known():
    for axis, line in (("X", "X1"), ("Y", "Y1 L2")):
        with pytest.raises(
            ProgramError, match=f"line 3: G91 {axis}1 depends on where {axis} stands"
        ):
            read("G0 Z3", f"G91 G81 {line} Z-1 R1")

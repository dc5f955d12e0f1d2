"""What the standard's interpreter refuses, by the index of its message.

T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556
(2000): sections 3.3 to 3.8, Appendix E, and the error table of the report's reference interpreter.
Every program begins with two good lines, so that the refused one is line 3.
"""

import pytest

from knifecam.errors import ProgramError
from knifecam.rs274.program_reader import read_program

HEAD = "G21 G17 G90 G94 G54 G40 G49 G80\nG0 X0 Y0 Z5 F100\n"


def refused(lines: str) -> ProgramError:
    """Return why ``lines`` after the head are refused."""
    with pytest.raises(ProgramError) as caught:
        read_program(HEAD + lines + "\nM2\n")
    return caught.value


REPEATED = {
    102: "A", 103: "B", 104: "C", 105: "D", 106: "F", 107: "H", 108: "I", 109: "J", 110: "K",
    111: "L", 112: "P", 113: "Q", 114: "R", 115: "S", 116: "T", 117: "X", 118: "Y", 119: "Z",
}  # fmt: skip


@pytest.mark.parametrize(("message", "letter"), REPEATED.items())
def test_messages_102_to_119_letter_twice(message, letter):
    error = refused(f"G1 X1 {letter}1 Y1 {letter}1")
    assert error.line == 3
    assert error.message == f"{letter} stands twice in the line"


LINES = [
    (12, "G0 E1", "'E'"),
    (12, "G0 X1 ; note", "';'"),
    (12, "G0 O1", "'O'"),
    (12, "G0 U1", "'U'"),
    (12, "G0 V1", "'V'"),
    (12, "G0 W1", "'W'"),
    (12, "G0 X1e3", "'E'"),
    (12, "G0 N10 X1", "first"),
    (12, "(a) N10 G0 X1", "first"),
    (12, "G0 X1 / Y1", "'/'"),
    (12, "%", "'%'"),
    (12, "G0 X1.2.3", "'.'"),
    (13, "N G0 X1", "digits"),
    (13, "N-1 G0 X1", "digits"),
    (98, "N100000 G0 X1", "5 digits"),
    (98, "N000009 G0 X1", "5 digits"),
    (66, "G0 X1 (" + "a" * 250 + ")", "253"),
    (132, "(a (b) c)", "nest"),
    (171, "G0 X1 (open", "closed"),
    (12, "G0 X1 )", "closes no comment"),
    (14, "G0 X(a)1", "cannot begin a number"),
]
CODES = [
    (124, "G-1 X1", "G0 to G99.9"),
    (84, "G100 X1", "G0 to G99.9"),
    (84, "G1.25 X1", "one decimal"),
    (84, "G1.0002 X1", "one decimal"),
    (173, "G5 X1", "G5 is not a code"),
    (173, "G54.1", "G54.1 is not a code"),
    (127, "M-1", "M0 to M99"),
    (100, "M100", "M0 to M99"),
    (135, "M1.5", "integer"),
    (174, "M10", "M10 is not a code"),
    (168, "G0 G1 X1", "G0 and G1"),
    (168, "G54 G55", "G54 and G55"),
    (168, "G4 P1 G92.1", "G4 and G92.1"),
    (168, "G17 G17", "one modal group"),
    (169, "M3 M5", "M3 and M5"),
    (169, "M7 M8", "M7 and M8"),
    (163, "M0 M6 M3 M7 M48", "more than 4"),
]
NUMBERS = [
    (133, "G0 X", "the line ends"),
    (134, "G0 X+", "digit"),
    (123, "F-1", "F=-1"),
    (130, "S-1", "S=-1"),
    (131, "T-1", "T=-1"),
    (125, "G43 H-1", "H=-1"),
    (122, "D-1", "D=-1"),
    (126, "G10 L-2 P1", "L=-2"),
    (129, "G4 P-1", "P=-1"),
    (128, "Q0", "greater than 0"),
    (128, "Q-1", "greater than 0"),
    (135, "T1.5", "integer"),
    (135, "G43 H0.5", "integer"),
    (155, "T100", "at most 99"),
    (166, "G43 H100", "at most 99"),
    (77, "#1 5", "'='"),
    (142, "#5400=1", "5399"),
    (142, "#0=1", "5399"),
]
COMBINATIONS = [
    (5, "G92", "axis word"),
    (6, "G0", "axis word"),
    (6, "G1 F200", "axis word"),
    (6, "G2 I1", "axis word"),
    (56, "G80 X1", "no axis word"),
    (57, "G80\nX1", "without a motion"),
    (61, "G91 G53 G0 X1", "G91"),
    (61, "G91\nG53 G0 X1", "G91"),
    (63, "G1 G92 X1", "G92 and G1"),
    (63, "G0 G10 L2 P1 X1", "G10 and G0"),
    (71, "D1", "D=1"),
    (72, "G4", "P word"),
    (85, "H1", "H=1"),
    (88, "G1 X1 I1", "I=1"),
    (91, "G1 X1 J1", "J=1"),
    (94, "G1 X1 K1", "K=1"),
    (95, "G1 X1 L1", "L=1"),
    (99, "G10 P1 X1", "L2"),
    (99, "G10 L3 P1 X1", "L2"),
    (120, "G53 G2 X1 I1", "G0 or G1"),
    (120, "G80\nG53 X1", ""),
    (137, "G43", "H word"),
    (138, "G10 L2 P1.5 X1", "integer"),
    (139, "G10 L2 P0 X1", "1 to 9"),
    (139, "G10 L2 P10 X1", "1 to 9"),
    (140, "G1 X1 P1", "P=1"),
    (140, "G2 X1 I0.5 P1", "P=1"),
    (144, "G1 X1 Q1", "Q=1"),
    (151, "G1 X1 R1", "R=1"),
]
MOTION = [
    (41, "G1 X1 F0", "F=0"),
    (43, "G2 X1 I0.5 F0", "F=0"),
    (79, "G93 G1 X1", "F word"),
    (79, "G93 F2 G1 X1\nX2", "F word"),
    (78, "G93 G2 X1 I0.5", "F word"),
]
ARCS = [
    (147, "G2 X1", "must have R"),
    (101, "G2 X1 R1 I1", "not both"),
    (92, "G17 G2 X1 I0.5 K1", "K has no use"),
    (86, "G19 G2 Y1 Z1 I1", "I has no use"),
    (89, "G18 G2 X1 Z1 J1", "J has no use"),
    (193, "G17 G2 Z1 I1", "X or Y"),
    (189, "G18 G2 Y1 I1", "X or Z"),
    (190, "G19 G2 X1 J1", "Y or Z"),
    (69, "G2 X0 Y0 R5", "end elsewhere"),
    (7, "G2 X10 R4.9999", "half"),
    (7, "G2 X10 R0", "half"),
    (152, "G2 X20 Y0.21 I10", "may differ"),
    (197, "G2 X1 I0 J0", "radius is 0"),
    (197, "G3 X0 Y0 I0 J0", "radius is 0"),
]
PROBE = [
    (6, "G38.2", "axis word"),  # 192: no X, Y, Z
    (192, "G38.2 A1", "rotary"),
    (44, "G38.2 Z1 A1", "rotary"),
    (162, "G38.2 Z4.75", "0.254 mm or more"),
    (162, "G20 G38.2 Z0.19", "0.254 mm or more"),
    (47, "G93 G38.2 Z0 F2", "cannot be used in G93"),
    (48, "G41 D0\nG38.2 Z0", "compensation is on"),
    (49, "G38.2 Z0 F0", "F=0"),
    (0, "G54 G43 H2 G38.2 Z0", "depends on where Z stands"),
    (0, "G38.2 Z0\nG91 Z1", "depends on where Z stands"),
    (0, "G38.2 Z0\nG1 X#5063", "tripped"),
]
COMPENSATION = [
    (54, "G41 D0\nG41 D0", "on already"),
    (54, "G41 D0\nG42", "on already"),
    (53, "G18\nG41 D0", "plane of G17"),
    (64, "G41 D0\nG18", "G18 cannot be used"),
    (65, "G42 D0\nG19", "G19 cannot be used"),
    (38, "G41 D0\nG92 X1", "G92 cannot be used"),
    (38, "G41 D0\nG92.1", "G92.1 cannot be used"),
    (38, "G41 D0\nG92.2", "G92.2 cannot be used"),
    (38, "G41 D0\nG92.3", "G92.3 cannot be used"),
    (39, "G41 D0\nG20", "G20 cannot be used"),
    (39, "G41 D0\nG21", "G21 cannot be used"),
    (60, "G41 D0\nG28", "G28 cannot be used"),
    (60, "G41 D0\nG30", "G30 cannot be used"),
    (62, "G41 D0\nG53 G0 X1", "G53 cannot be used"),
    (0, "G41 D0\nG54", "G54 cannot be used"),
    (0, "G41 D0\nG59.3", "G59.3 cannot be used"),
    (0, "G41 D0\nG10 L2 P1 X0", "G10 cannot be used"),
    (0, "G41 D0\nG81 X1 Z1 R2", "compensation is on"),
    (164, "G41 D100", "at most 99"),
    (0, "G41 D1", "D1 is stored in the mill"),
    (0, "T3 M6 G42", "D3 is stored in the mill"),
]
CYCLES = [
    (6, "G81", "axis word"),
    (6, "G83 R1 Q1", "axis word"),
    (146, "G81 X1 Z1", "must have R"),
    (195, "G81 X1 R1", "must have Z"),
    (194, "G18 G81 X1 R1", "must have Y"),
    (191, "G19 G81 Y1 R1", "must have X"),
    (150, "G81 X1 Z2 R1", "1 mm below its Z"),
    (149, "G18 G81 Y2 R1", "1 mm below its Y"),
    (148, "G19 G81 X2 R1", "1 mm below its X"),
    (150, "G91 G81 X1 Z1 R1", "1 mm below its Z"),
    (42, "G81 X1 Z1 R2 L0", "L=0"),
    (126, "G81 X1 Z1 R2 L-1", "L=-1"),
    (135, "G81 X1 Z1 R2 L1.5", "integer"),
    (73, "G82 X1 Z1 R2", "must have P"),
    (74, "M3 G86 X1 Z1 R2", "must have P"),
    (75, "M3 G88 X1 Z1 R2", "must have P"),
    (76, "G89 X1 Z1 R2", "must have P"),
    (129, "G82 X1 Z1 R2 P-1", "P=-1"),
    (143, "G83 X1 Z1 R2", "must have Q"),
    (128, "G83 X1 Z1 R2 Q0", "greater than 0"),
    (87, "M3 G87 X1 Z1 R2 J0 K1", "must have I"),
    (90, "M3 G87 X1 Z1 R2 I0 K1", "must have J"),
    (93, "M3 G87 X1 Z1 R2 I0 J1", "must have K"),
    (52, "G81 X1 Z1 R2 A1", "rotary"),
    (50, "G82 X1 Z1 R2 P1 B1", "rotary"),
    (51, "G83 X1 Z1 R2 Q1 C1", "rotary"),
    (157, "G84 X1 Z1 R2", "turning clockwise"),
    (157, "M4 G84 X1 Z1 R2", "turning clockwise"),
    (158, "G86 X1 Z1 R2 P1", "spindle turning"),
    (159, "G87 X1 Z1 R2 I0 J0 K1", "spindle turning"),
    (160, "M5 G88 X1 Z1 R2 P1", "spindle turning"),
    (0, "G93 G81 X1 Z1 R2 F1", "cannot be used in G93"),
    (41, "F0 G81 X1 Z1 R2", "F=0"),
    (140, "G81 X1 Z1 R2 P1", "P=1"),
    (144, "G81 X1 Z1 R2 Q1", "Q=1"),
    (88, "G81 X1 Z1 R2 I1", "I=1"),
    (91, "G82 X1 Z1 R2 P1 J1", "J=1"),
    (94, "G83 X1 Z1 R2 Q1 K1", "K=1"),
    (71, "G81 X1 Z1 R2 D1", "D=1"),
    (63, "G81 G92 X1", "G92 and G81"),
    (120, "G53 G81 X1 Z1 R2", "G0 or G1"),
    (0, "G81 X1 Z1 R2 L200000", "motions"),
    (0, "G83 X1 Z-1 R2 Q0.000001", "motions"),
    (146, "G81 X1 Z1 R2\nG0 X2\nG81 X3 Z1", "must have R"),
    (73, "G81 X1 Z1 R2\nG82 X2 Z1 R2", "must have P"),
    (146, "G81 X1 Z1 R2\nG18 X2 Y1", "must have R"),
    (0, "G43 H1 G81 X1 Z1 R2", "depends on where Z stands"),
]
BY_NAME = [
    (0, "G28", "#5161"),
    (0, "G30 X1", "#5181"),
    (0, "#5161=0 #5162=0 #5163=0\nG28", "machine_zero"),
    (0, "G43 H1\n#5161=0 #5162=0 #5163=0\nG28", "machine_zero"),
    (63, "G28 G0 X1", "G28 and G0"),
    (52, "G0 A1", "rotary"),
    (50, "G0 B1", "rotary"),
    (51, "C1", "rotary"),
    (0, "G53 G0 X1", "machine_zero"),
    (0, "G43 H1 G53 G0 Z1", "cutter's length"),
]
ALL = LINES + CODES + NUMBERS + COMBINATIONS + MOTION + ARCS
ALL += PROBE + COMPENSATION + CYCLES + BY_NAME


@pytest.mark.parametrize(("message", "lines", "words"), ALL)
def test_message(message, lines, words):
    error = refused(lines)
    assert error.line == 3 + lines.count("\n")
    assert words in error.message
    assert str(error).startswith(f"line {error.line}: ")


def test_message_80_percent_is_not_closed():
    with pytest.raises(ProgramError, match="must end with a line of '%'") as caught:
        read_program("\n%\nG0 X1\nM2\n")
    assert caught.value.line == 2


@pytest.mark.parametrize("text", ["", "\n", "G0 X1\n", "G0 X1\nM0\n", "(M2)\n"])
def test_message_81_neither_percent_nor_end(text):
    with pytest.raises(ProgramError, match="M2 or M30"):
        read_program(text)


def test_first_error_ends_reading():
    assert refused("G0 X1\nG1 X1 F0\nG5").line == 4


def test_messages_155_and_166_count_the_slots_of_the_mill():
    read_program("T20 M6\nG43 H20\nM2", slots=20)
    for line in ("T21", "G43 H21"):
        with pytest.raises(ProgramError, match="at most 20"):
            read_program(f"{line}\nM2", slots=20)

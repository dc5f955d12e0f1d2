"""Values of expressions and parameters.

T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556
(2000): sample program C.2, sections 3.3.2.1 to 3.3.2.4. Printed results hold to half a unit of
their last digit; those of longer arithmetic were recomputed from the printed input.
"""

import pytest

from knifecam.errors import ProgramError
from knifecam.rs274.program_reader import read_program

SAMPLE_C_2 = [
    ("[1 + 2]", 3, 0),
    ("[1 - 2]", -1, 0),
    ("[1 --3]", 4, 0),
    ("[2/5]", 0.4, 0),
    ("[3.0 * 5]", 15, 0),
    ("[0 OR 0]", 0, 0),
    ("[0 OR 1]", 1, 0),
    ("[2 or 2]", 1, 0),
    ("[0 AND 0]", 0, 0),
    ("[0 AND 1]", 0, 0),
    ("[2 and 2]", 1, 0),
    ("[0 XOR 0]", 0, 0),
    ("[0 XOR 1]", 1, 0),
    ("[2 xor 2]", 0, 0),
    ("[15 MOD 4.0]", 3, 0),
    ("[1 + 2 * 3 - 4 / 5]", 6.2, 1e-12),
    ("sin[30]", 0.5, 1e-12),
    ("cos[0.0]", 1, 0),
    ("tan[60.0]", 1.7321, 5e-5),
    ("sqrt[3]", 1.7321, 5e-5),
    ("atan[1.7321]/[1.0]", 60.0007, 5e-5),
    ("asin[1.0]", 90, 1e-12),
    ("acos[0.707107]", 45.0, 5e-5),
    ("abs[20.0]", 20, 0),
    ("abs[-1.23]", 1.23, 0),
    ("round[-0.499]", 0, 0),
    ("round[-0.5001]", -1, 0),
    ("round[2.444]", 2, 0),
    ("round[9.975]", 10, 0),
    ("fix[-0.499]", -1, 0),
    ("fix[-0.5001]", -1, 0),
    ("fix[2.444]", 2, 0),
    ("fix[9.975]", 9, 0),
    ("fup[-0.499]", 0, 0),
    ("fup[-0.5001]", 0, 0),
    ("fup[2.444]", 3, 0),
    ("fup[9.975]", 10, 0),
    ("exp[2.3026]", 10.0001, 5e-5),
    ("ln[10.0]", 2.3026, 5e-5),
    ("[2 ** 3.0]", 8, 0),
    ("sqrt[3**2 + 4**2]", 5, 1e-12),
]
SECTION_3_3_2 = [
    ("[2.0 / 3 * 1.5 - 5.5 / 11.0]", 0.5, 1e-12),
    ("FIX[2.8]", 2, 0),
    ("FIX[-2.8]", -3, 0),
    ("FUP[2.8]", 3, 0),
    ("FUP[-2.8]", -2, 0),
]
REFERENCE_INTERPRETER = [
    ("[2**3**2]", 64, 0),
    ("[-7 MOD 3]", 2, 0),
    ("[7 MOD -3]", 1, 0),
    ("[-6 MOD 3]", 0, 0),
    ("acos[-1]", 180, 1e-12),
    ("asin[-1]", -90, 1e-12),
    ("round[0.5]", 1, 0),
    ("round[-0.5]", -1, 0),
    ("atan[0]/[-1]", 180, 1e-12),
    ("atan[-1]/[-1]", -135, 1e-12),
    ("atan[-1]/[0]", -90, 1e-12),
]


def x_of(*lines: str) -> list[float]:
    """Return the X of every motion, mm."""
    text = "G21 G90\n" + "\n".join(lines) + "\nM2\n"
    return [float(x) for x in read_program(text).motions.stop[:, 0]]


@pytest.mark.parametrize(
    ("expression", "result", "within"), SAMPLE_C_2 + SECTION_3_3_2 + REFERENCE_INTERPRETER
)
def test_sample_c_2_and_section_3_3_2_values(expression, result, within):
    assert x_of(f"G0 X{expression}")[0] == pytest.approx(result, abs=within)


def test_sample_c_2_longest_expression():
    long = "[2 + asin[1/2.1+-0.345] / [atan[fix[4.4] * 2.1 * sqrt[16.8]] /[-18]]**2]"
    assert x_of(f"G0 X{long}")[0] == pytest.approx(2.000545077939, abs=5e-13)


def test_sample_c_2_parameter_of_a_parameter():
    assert x_of("#1=2", "##1 = 0.375", "G0 X#2") == [0.375]


def test_section_3_3_2_1_settings_take_effect_after_the_line():
    assert x_of("#3=15", "#3=6 G1 F100 X#3", "X#3") == [15, 6]
    assert x_of("#3=7", "G0 #3=5.0 x#3", "x#3 #3=1.1") == [7, 5]


def test_section_3_3_2_1_hash_binds_before_operators():
    assert x_of("#1=10 #2=20 #3=30", "G0 X[#1+2]", "X#[1+2]") == [12, 30]


def test_section_3_3_3_last_setting_of_a_parameter_wins():
    assert x_of("#3=1 #3=2", "G0 X#3") == [2]


def test_table_2_first_and_last_parameter():
    assert x_of("#1=7 #5399=8", "G0 X#1", "X#5399") == [7, 8]


@pytest.mark.parametrize("index", ["0.99995", "1.00005"])
def test_section_3_3_2_index_close_to_an_integer(index):
    assert x_of("#1=4", f"G0 X#[{index}]") == [4]


@pytest.mark.parametrize(
    ("message", "expression", "words"),
    [
        (8, "acos[1.01]", "from -1 to 1"),
        (9, "asin[-1.01]", "from -1 to 1"),
        (10, "[1/0]", "divides by 0"),
        (10, "[1 MOD 0]", "divides by 0"),
        (11, "[[-2]**0.5]", "integer powers only"),
        (11, "[-2**0.5]", "integer powers only"),
        (14, "-[1]", "must have a digit"),
        (14, "[1+*2]", "cannot begin a number"),
        (14, "=1", "cannot begin a number"),
        (96, "atan[1]/1", "must stand in brackets"),
        (97, "sin30", "must stand in brackets"),
        (121, "sqrt[-0.1]", "must not be negative"),
        (133, "", "the line ends"),
        (134, "-", "must have a digit"),
        (134, ".", "must have a digit"),
        (142, "#0", "from #1 to #5399"),
        (142, "#5400", "from #1 to #5399"),
        (142, "#-1", "from #1 to #5399"),
        (135, "#1.5", "must be an integer"),
        (156, "atan[1]", "'/' must follow"),
        (172, "[1+2", "not closed"),
        (172, "[1", "not closed"),
        (175, "[1 ant 2]", "operator"),
        (176, "[1 mud 2]", "operator"),
        (177, "[1 on 2]", "operator"),
        (178, "[1 xof 2]", "operator"),
        (179, "[1 ^ 2]", "operator"),
        (180, "abc[1]", "not a function"),
        (181, "cot[1]", "not a function"),
        (182, "exq[1]", "not a function"),
        (183, "fab[1]", "not a function"),
        (184, "log[1]", "not a function"),
        (185, "rad[1]", "not a function"),
        (186, "sec[1]", "not a function"),
        (187, "tax[1]", "not a function"),
        (188, "u[1]", "not a function"),
        (196, "ln[0]", "greater than 0"),
        (196, "ln[-1]", "greater than 0"),
    ],
)
def test_messages_of_expressions(message, expression, words):
    with pytest.raises(ProgramError, match=words) as caught:
        x_of(f"G0 X{expression}")
    assert caught.value.line == 2


@pytest.mark.parametrize(
    "expression", ["exp[1000]", "[10**400]", "[10**200*10**200]", "[0**-1]", "tan[1]e3"]
)
def test_results_must_be_finite_and_exponents_do_not_exist(expression):
    with pytest.raises(ProgramError):
        x_of(f"G0 X{expression}")

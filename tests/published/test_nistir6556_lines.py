"""Lines and files: white space, case, comments, percent signs, block delete.

T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556
(2000): sections 3.1 and 3.3, Appendix E; the limit of a line from its reference interpreter.
"""

from itertools import permutations

import numpy as np
import pytest

from knifecam.errors import ProgramError
from knifecam.rs274.program_reader import read_program


def stops(text: str) -> list[list[float]]:
    """Return where every motion ends."""
    return read_program(text).motions.stop.tolist()


def test_section_3_3_white_space_example():
    assert stops("g0x +0. 12 34y 7\nM2") == stops("g0 x+0.1234 y7\nM2") == [[0.1234, 7, 1000]]


def test_section_3_3_tabs_case_and_blank_lines():
    assert stops("\n\n \t\nG\t0 x1\tY 2\n\nm 3 0\n") == [[1, 2, 1000]]


def test_section_3_3_5_words_of_a_line_in_all_120_orders():
    items = ("G1", "X3", "F120", "S800", "M3")
    traces = [read_program(f"{' '.join(p)}\nM2") for p in permutations(items)]
    assert len(traces) == 120
    for trace in traces:
        assert trace.motions.stop.tolist() == [[3, 0, 1000]]
        assert trace.motions.feed.tolist() == [120]
        assert (trace.spindle.tolist(), trace.speed.tolist()) == ([1], [800])


@pytest.mark.parametrize("number", ["N0", "N00007", "n 9 9 999"])
def test_section_3_3_1_line_numbers(number):
    assert stops(f"{number} G0 X1\n{number} X2\nM2") == [[1, 0, 1000], [2, 0, 1000]]


def test_section_3_3_4_comments_and_messages():
    trace = read_program("(a) G0 (b) X1 ( MSG, c d )\n(last)\nM2")
    assert [(a.kind, a.line, a.before, a.text) for a in trace.acts[:2]] == [
        ("comment", 1, 0, " MSG, c d "),
        ("comment", 2, 1, "last"),
    ]


def test_section_3_3_4_white_space_and_case_of_comments_stay():
    assert read_program("( Tab\there )\nM2").acts[0].text == " Tab\there "


def test_appendix_e_percent_ends_the_file():
    trace = read_program("  \n % \nG0 X1\nX2\n%\nnot read at all\n")
    assert trace.motions.stop[:, 0].tolist() == [1, 2]
    assert [(a.kind, a.line, a.number) for a in trace.acts] == [("end", 5, 0)]


@pytest.mark.parametrize(("word", "number"), [("M2", 20), ("M30", 300)])
def test_appendix_e_lines_after_the_end_are_never_read(word, number):
    trace = read_program(f"G0 X1\n{word}\nE O U\n")
    assert [(a.kind, a.number) for a in trace.acts] == [("end", number)]


def test_section_3_3_block_delete_is_read_even_where_it_is_skipped():
    assert stops("/G0 X1\n/N20 X2\nM2") == [[1, 0, 1000], [2, 0, 1000]]
    text = "G0 X1\n/N20 X2\nM2"
    assert read_program(text, block_delete="on").motions.stop[:, 0].tolist() == [1]
    with pytest.raises(ProgramError, match="line 1"):
        read_program("/G0 X\nM2", block_delete="on")
    with pytest.raises(ValueError, match="must be 'off' or 'on'"):
        read_program(text, block_delete="yes")


def test_appendix_e_line_of_253_characters():
    longest = "G0 X1 (" + "a" * 245 + ")"
    assert len(longest) == 253
    assert stops(f"{longest}\nM2") == [[1, 0, 1000]]
    for line in (longest + " ", longest + "\r"):
        with pytest.raises(ProgramError, match="254 characters"):
            read_program(f"{line}\nM2")


def test_carriage_return_and_line_feed_end_a_line():
    assert stops("%\r\nG0 X1\r\n(a)\r\nX2\r\n%\r\n") == [[1, 0, 1000], [2, 0, 1000]]


@pytest.mark.parametrize("code", ["G1", "g01", "G1.", "G+1.0", "G1.00000", "G0.99999", "G[2-1]"])
def test_section_3_3_2_codes_close_to_a_tenth(code):
    trace = read_program(f"F100 {code} X1\nM2")
    assert trace.motions.feed.tolist() == [100]


def test_other_line_ends_and_letters_of_other_alphabets_are_refused():
    # str.splitlines and str.lower would take these for line ends, digits and the letter K
    for line in ("G0 X1\x0bX2", "G0 X1\u2028X2", "G0 X١", "G2 X1 I1 \u212a1", "G0 \ufeffX1"):
        with pytest.raises(ProgramError, match="line 1: character"):
            read_program(f"{line}\nM2")
    for line in ("(a\rG0 X1)", "(a\x00)"):
        with pytest.raises(ProgramError, match="cannot be printed"):
            read_program(f"{line}\nM2")


def test_numbers_are_read_exactly():
    words = ["0.1", "-3.30000", "+.5", "7.", "123456789.123456789", "0.00000000000001"]
    text = "\n".join(f"G0 X{w}" for w in words) + "\nM2"
    assert np.array_equal(read_program(text).motions.stop[:, 0], [float(w) for w in words])

"""Plain lines read by compiled code, and the same lines read one by one.

The readable reader is the reference: motions, modes, acts and refusals must be the same, places to
the last bit. The compiled code's plain twin is run too.
"""

from __future__ import annotations

import random
from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from knifecam.errors import ProgramError
from knifecam.report.explain import explained_lines
from knifecam.rs274 import (
    codes,
    expressions,
    fast_lines,
    line_words,
    program_reader,
)
from knifecam.rs274.execution import execute
from knifecam.rs274.modal_state import State
from knifecam.rs274.motion_record import Record
from knifecam.rs274.program_reader import read_lines, read_program
from knifecam.rs274.rs274_limits import (
    LARGEST_WORD,
    LEAST_RADIUS_MM,
    MM_PER_INCH,
    ONE_PLACE_MM,
    TOLERANCE_INCH,
    TOLERANCE_MM,
)
from knifecam.rs274.trace import Trace

COLUMNS = (
    "line", "cutter", "length", "spindle", "speed", "mist", "flood", "offset", "path", "known",
)  # fmt: skip
MOVES = ("kind", "start", "stop", "centre", "turns", "feed")
HEAD = "G21 G17 G90 G94\nG0 X0 Y0 Z5 F100\n"


def bits(array: np.ndarray) -> bytes:
    return np.ascontiguousarray(array).tobytes()


def same(a: Trace, b: Trace) -> bool:
    """Return whether two traces agree to the last bit, signs of zeros included."""
    return (
        all(bits(getattr(a, n)) == bits(getattr(b, n)) for n in COLUMNS)
        and all(bits(getattr(a.motions, n)) == bits(getattr(b.motions, n)) for n in MOVES)
        and a.acts == b.acts
    )


def one_by_one(text: str) -> Trace | tuple[str, int]:
    state, record = State(), Record()
    try:
        for _ in read_lines(text, state, record):
            pass
    except ProgramError as error:
        return error.message, error.line
    return record.trace()


def at_once(text: str) -> Trace | tuple[str, int]:
    try:
        return read_program(text)
    except ProgramError as error:
        return error.message, error.line


def agree(text: str) -> bool:
    slow, quick = one_by_one(text), at_once(text)
    if isinstance(slow, Trace) and isinstance(quick, Trace):
        return same(slow, quick)
    return slow == quick


def number(chance: random.Random) -> str:
    kinds = (
        lambda: f"{chance.uniform(-99, 99):.{chance.randrange(7)}f}",
        lambda: str(chance.randrange(-50, 50)),
        lambda: f"{chance.uniform(-1, 1):.{chance.randrange(12, 19)}f}",
        lambda: f"{chance.choice('+-')}.{chance.randrange(10**6)}",
        lambda: f"{chance.randrange(10**9)}.{chance.randrange(10**9)}",
        lambda: chance.choice(["0", "-0", "-0.0", "+0.", "00000000.5", "1.", "9007199254740993"]),
        lambda: chance.choice(
            ["", "-", ".", "1.2.3", "1e3", "1 2", "- 1", "[1]", "#1", "1000000000"]
        ),
    )
    return chance.choices(kinds, (50, 20, 10, 5, 3, 3, 0.3))[0]()


def line_of(chance: random.Random) -> str:
    letters = chance.sample("XYZ", chance.randrange(1, 4))
    if chance.random() < 0.25:
        r = round(chance.uniform(0.1, 9), 3)
        return (
            f"G{chance.choice('23')} X{2 * r} Y0 I{r} J0 G91"
            if chance.random() < 0.1
            else (
                f"G{chance.choice('23')} X{number(chance)} Y{number(chance)} I{number(chance)} J0"
            )
        )
    words = [f"{letter}{number(chance)}" for letter in letters]
    words += [f"G{chance.choice(['0', '1', '00', '01', '1.', '0.0'])}"] * (chance.random() < 0.5)
    words += [f"F{abs(float(chance.randrange(1, 999)))}"] * (chance.random() < 0.2)
    chance.shuffle(words)
    words = [f"N{chance.randrange(120000)}"] * (chance.random() < 0.1) + words
    line = chance.choice(["", " ", "\t"]).join(words)
    line = line.lower() if chance.random() < 0.2 else line
    return line + chance.choices(["", "\r", " ", " (c)", " M8"], (80, 5, 5, 1, 2))[0]


def turn_of(chance: random.Random, x: float, y: float) -> tuple[str, float, float]:
    """Return a good arc from a place, and where it ends."""
    r, a, b = chance.uniform(0.5, 20), chance.uniform(0, 7), chance.uniform(0, 7)
    i, j = round(-r * np.cos(a), 5), round(-r * np.sin(a), 5)
    to_x, to_y = round(x + i + r * np.cos(b), 5), round(y + j + r * np.sin(b), 5)
    word = chance.choice(["G2", "G3"])
    if chance.random() < 0.2:
        i = round(2 * r, 3)
        return f"{word} {chance.choice([f'X{x}', f'Y{y} Z{i}'])} {chance.choice('IJ')}{i}", x, y
    return f"{word} X{to_x} Y{to_y} I{i} J{j}", to_x, to_y


@pytest.mark.parametrize("seed", range(150))
def test_random_programs(seed):
    chance = random.Random(seed)
    body, x, y = [], 0.0, 0.0
    for _ in range(60):
        if chance.random() < 0.3:
            arc, x, y = turn_of(chance, x, y)
            body.append(arc)
        elif chance.random() < 0.6:
            x, y = round(chance.uniform(-50, 50), 4), round(chance.uniform(-50, 50), 4)
            body.append(f"G1 X{x} Y{y}")
        elif seed % 2:
            body.append(line_of(chance))
    special = chance.choice(["", "G91", "G20", "G92 X1 Y-2", "G93", "G18", "G80", "T1 M6"])
    body.insert(chance.randrange(1 + len(body)), special)
    text = HEAD + "\n".join(body) + "\nM2\n"
    assert agree(text)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.integers(0, 2**40))
def test_law_random_lines(seed):
    chance = random.Random(seed)
    text = HEAD + "\n".join(line_of(chance) for _ in range(chance.randrange(6))) + "\nM2"
    assert agree(text)


PIECES = ["G0", "G1", "G2", "X", "Y", "I", "J", "F", "N", "1", "-", "+", ".", "0", "9", " ", "\t",
          "\r", "\n", "G91", "G90", "M2", "%", "/", "(a)", "R1", "Z", "K", "M3", "$", "\x00",
          "(", ")", "()", "(\t)", "(ü)", "ü", "(\u2028)", "(\x00)", "(\udc00)", "\ufeff"]  # fmt: skip


@settings(max_examples=600, deadline=None, derandomize=True)
@given(st.lists(st.sampled_from(PIECES), max_size=30))
def test_law_pieces_of_lines(pieces):
    assert agree(HEAD + "".join(pieces) + "\nM2")


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.text(alphabet="GXYZIJFN0123456789.+- \n", max_size=60))
def test_law_plain_characters(text):
    assert agree(HEAD + text + "\nM2")


@pytest.mark.parametrize(
    "text",
    ["", "\n", "%", "%\n", "%\n%", "\n \t\n %\r\nG0 X1\n % \nX2", "%\nG0 X1\nM2\n%\n", "%x\n",
     "%\nG0 X1 (%)\n%", "%\n(%)", "G0 X1", "G0 X1\n%", "M2", "M2\nX", "%\nM2", "X1\n", "\r\n"],
)  # fmt: skip
def test_ends_of_programs(text):
    assert agree(text)
    assert agree(HEAD + text)


COMMENTS = ["(a)", "()", "(A (B)", "(\t)", "(a)(b)", "(ü é \u4e2d)", "(%)", "(a\rb)", "(\x7f)", "(~)",
            "(a) (", "(a))", "(\u200e)", "(\U0001f600)", "(\ud800)", "(a) X3", "(a) N3",
            "X3 (a) 4"]  # fmt: skip


@pytest.mark.parametrize("tail", ["", "(\u2028)"], ids=["printable", "not printable"])
@pytest.mark.parametrize("comment", COMMENTS)
def test_comments_wherever_they_stand(comment, tail):
    for row in (
        "{}",
        "{}G1 X1",
        "N5{}G1 X1",
        "G1{}X1",
        "G1 X1 {} Y2",
        "G1 X1{}",
        "X{}1",
        "{}G2 X9",
    ):
        body = f"X2\nX3 Y1\n{row.format(comment)}\nX4\n\n({comment}\n"
        assert agree(f"{HEAD}{body}M2\n{tail}")
        assert agree(f"{HEAD}{body.rpartition('(')[0]}X5\r\nM2\n{tail}")


@pytest.mark.parametrize("rows", [1, 2, 3, 100])
def test_comments_beyond_the_room_made_at_a_time(rows, monkeypatch):
    monkeypatch.setattr(fast_lines, "_NOTES", rows)
    text = HEAD + "\n".join(f"X{k} (step {k})\n(on) Y{k}" for k in range(30)) + "\nM2"
    assert agree(text)
    acts = read_program(text).acts
    assert [act.text for act in acts[:-1]] == [w for k in range(30) for w in (f"step {k}", "on")]
    assert [act.before for act in acts[:-1]] == list(range(1, 61))


@pytest.mark.parametrize("spaces", [238, 239, 240])
def test_length_of_a_line(spaces):
    for tail in ("", "\r"):
        assert agree(f"{HEAD}G1 X1 Y2 Z3{' ' * spaces}{tail}\nM2")


def test_every_number_is_read_as_float_reads_it():
    chance = np.random.default_rng(5)
    words = [f"{v:.{k}f}" for k in range(10) for v in chance.uniform(-1000, 1000, 3000)]
    text = HEAD + "\n".join(f"X{word}" for word in words) + "\nM2"
    # the shift of G92 is added, so that -0 becomes 0
    expected = np.array([float(word) + 0.0 for word in words])
    assert bits(read_program(text).motions.stop[1:, 0]) == bits(expected)


def counted(text: str) -> Counter:
    """Return how many lines were read by compiled code and how many one by one."""
    state, record, count = State(), Record(), Counter()
    data = text.encode()
    source, at, line = fast_lines.PlainText(data, len(data)), 0, 1
    while at < len(data):
        at, after = source.read(at, line, state, record)
        count["compiled"] += after - line
        line = after
        if at < len(data):
            stop = data.index(b"\n", at)
            block = line_words.read_block(data[at:stop].decode(), state.parameter)
            execute(block, state, record, line)
            count["one by one"] += 1
            at, line = stop + 1, line + 1
    return count


def test_plain_lines_are_read_by_compiled_code():
    body = ["X1 Y2", "g2x3y2i1j0", "N10 G1 Z-1 F20", "", "G91", "X1", "F3 ", "G90 G1 X0", "X-.5\r"]
    text = HEAD + "".join(f"{line}\n" for line in body)
    # head 2, G91, G90 G1 X0, and the line after it: so short a run was not worth it
    assert counted(text) == {"compiled": 6, "one by one": 5}


def test_lines_with_comments_are_read_by_compiled_code():
    body = [f"X{k} Y2\n(step {k})\nN{k} (über) Z-1 (unter)" for k in range(100)]
    text = HEAD + "\n".join(body) + "\n"
    assert counted(text) == {"compiled": 300, "one by one": 2}


def test_the_mark_of_utf_8_is_no_part_of_the_text():
    text = HEAD + "X1 (a)\nM2\n"
    assert same(read_program("\ufeff" + text), read_program(text))
    assert same(
        read_program(program_reader.decoded(b"\xef\xbb\xbf" + text.encode())), read_program(text)
    )
    assert [row.refused for row in explained_lines("\ufeff" + text) if row.refused] == []
    assert agree("\ufeff%\n" + text + "%\n")
    assert not isinstance(at_once(text.replace("X1", "\ufeffX1")), Trace)
    with pytest.raises(ProgramError, match="byte 0xff is no plain text") as refused:
        program_reader.decoded(b"G0\n(\xff)\n")
    assert refused.value.line == 2


def test_lines_that_only_begin_plainly_are_not_tried_each_time(monkeypatch):
    tries = []
    read = fast_lines.read_plain
    monkeypatch.setattr(fast_lines, "read_plain", lambda *given: tries.append(1) or read(*given))
    text = HEAD + "G1 X1 M8\n" * 1000 + "X1\n" * 100
    assert counted(text)["compiled"] >= 100 - fast_lines.LONGEST_PAUSE
    assert len(tries) < 50


def test_constants_are_those_of_the_readable_reader():
    assert fast_lines.LINE_LIMIT == line_words.LINE_LIMIT
    assert 10**fast_lines.DIGITS_BEFORE_POINT <= LARGEST_WORD
    assert (TOLERANCE_MM, TOLERANCE_INCH) == (
        TOLERANCE_MM,
        TOLERANCE_INCH,
    )
    assert MM_PER_INCH == MM_PER_INCH
    assert (LEAST_RADIUS_MM, ONE_PLACE_MM) == (
        LEAST_RADIUS_MM,
        ONE_PLACE_MM,
    )
    assert (codes.CLOCKWISE_G2, codes.COUNTER_CLOCKWISE_G3) == (20, 30)
    assert fast_lines.POWERS.tolist() == [float(f"1e{k}") for k in range(fast_lines.DIGITS + 1)]
    assert expressions.NUMBER.fullmatch("1.")


@pytest.mark.parametrize("seed", range(20))
def test_plain_twin(seed, monkeypatch):
    chance = random.Random(seed)
    text = HEAD + "\n".join(line_of(chance) for _ in range(40)) + "\nM2"
    body = text.replace("G91", "")
    compiled = at_once(body)
    for kernel in ("read_plain", "past_blanks", "past_digits"):
        monkeypatch.setattr(fast_lines, kernel, getattr(fast_lines, f"_{kernel}"))
    twin = at_once(body)
    assert compiled == twin if isinstance(twin, tuple) else same(compiled, twin)


@pytest.mark.parametrize("rows", [1, 2, 5, 100])
def test_motions_beyond_the_room_made_at_a_time(rows, monkeypatch):
    monkeypatch.setattr(fast_lines, "_CHUNK", rows)
    text = HEAD + "\n".join(f"G1 X{k} Y{k % 7}" for k in range(57)) + "\nG4 P1\nX0\nM2"
    assert agree(text)

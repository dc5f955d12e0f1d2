"""Laws of reading: the look of a line does not matter, and no line does harm."""

import random
import time
from contextlib import suppress

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from knifecam.errors import ProgramError
from knifecam.report.explain import explain
from knifecam.rs274.modal_state import MODE_NAMES, Stored
from knifecam.rs274.program_reader import read_program
from knifecam.rs274.restart_points import inherited
from knifecam.rs274.rs274_limits import MOST_ADDED_MOTIONS

QUICK = settings(max_examples=60, deadline=None, derandomize=True)
BLOCKS = [
    ["G0", "X1.25", "Y-2", "Z+30", "G54", "G90"],
    ["G1", "X3", "Z-.5", "F120.5", "S900", "M3", "M7"],
    ["G2", "X5", "Y-2", "I1", "J0", "Z1."],
    ["G3", "X5", "Y3", "R-4.", "M9", "M48"],
    ["T4", "M6", "G43", "H4", "G20", "G61"],
    ["G93", "F4", "G1", "X2", "Y[1+1]", "#3=2"],
    ["X#3", "F2", "M5", "G4", "P1", "G1"],
]


def same(a, b) -> bool:
    """Return whether two traces agree to the last bit."""
    columns = ("line", "cutter", "length", "spindle", "speed", "mist", "flood", "offset", "path")
    moves = ("kind", "start", "stop", "centre", "turns", "feed")
    return (
        all(np.array_equal(getattr(a, n), getattr(b, n)) for n in (*columns, "known"))
        and all(np.array_equal(getattr(a.motions, n), getattr(b.motions, n)) for n in moves)
        and a.acts == b.acts
    )


def text_of(blocks: list[list[str]]) -> str:
    return "\n".join(" ".join(block) for block in blocks) + "\nM2\n"


@QUICK
@given(st.integers(0, 2**32 - 1))
def test_order_of_words_case_and_white_space_do_not_matter(seed):
    chance = random.Random(seed)
    blocks = []
    for block in BLOCKS:
        words = chance.sample(block, len(block))
        letters = "".join(words)
        spread = (
            c + " " * (chance.random() < 0.2) + "\t" * (chance.random() < 0.1) for c in letters
        )
        shown = "".join(c.upper() if chance.random() < 0.5 else c.lower() for c in spread)
        number = f"n {chance.randrange(99999)} " if chance.random() < 0.5 else ""
        blocks.append([number + shown])
    assert same(read_program(text_of(blocks)), read_program(text_of(BLOCKS)))


@QUICK
@given(st.integers(0, 2**32 - 1))
def test_plain_numbers_and_expressions_read_alike(seed):
    chance = random.Random(seed)
    words = [
        [f"{c}{chance.uniform(-50, 50):.{chance.randrange(1, 6)}f}" for c in "XYZ"]
        for _ in range(5)
    ]
    plain = [["G1", *w, "F100"] for w in words]
    bracketed = [["G[1]", *(f"{c[0]}[{c[1:]}]" for c in w), "F[99+1]"] for w in words]
    commented = [["G1", *w, "(c)", "F100"] for w in words]
    expected = read_program(text_of(plain))
    assert same(read_program(text_of(bracketed)), expected)
    got = read_program(text_of(commented))
    assert np.array_equal(got.motions.stop, expected.motions.stop)


def outcome(text: str, stored: Stored | None = None):
    """Return the trace, or the error that refuses the text."""
    try:
        return read_program(text, stored=stored)
    except ProgramError as error:
        return error


PIECES = (
    list("GMXYZIJKRFSTHPLQDABCNEOU%/()[]#=+-*. \t;\r")
    + [str(d) for d in range(10)]
    + ["sin[", "atan[", "]/[", " mod ", "**", "G1", "G2", "X1", "F1", "M3", "1e9", "99999999999"]
    + ["\x00", "é", "٣", "\u2028", "K", "\ufeff"]
    + ["G81", "G83", "G87", "G41", "G18", "G19", "G28", "G38.2", "G91", "G93", "R2", "L9", "D0"]
)
STORED = Stored(
    parameters=dict.fromkeys(range(5161, 5400), 0.0) | {5220: 1.0},
    lengths={1: 10.0},
    diameters={1: 1.0, 2: -0.5},
)


@settings(max_examples=400, deadline=None, derandomize=True)
@given(st.lists(st.lists(st.sampled_from(PIECES), max_size=14).map("".join), max_size=4))
def test_any_lines_are_read_or_refused(lines):
    text = "\n".join(["G0 X0 Y0 Z0 F9", *lines, "M2"])
    result = outcome(text, STORED)
    if isinstance(result, ProgramError):
        assert 1 <= result.line <= text.count("\n") + 1
        assert str(result) == f"line {result.line}: {result.message}"
    else:
        for name in ("start", "stop", "centre", "turns", "feed"):
            assert np.isfinite(getattr(result.motions, name)).all()
        assert (np.abs(result.motions.turns) <= 1).all()
        assert (result.motions.feed >= 0).all()
    assert len(list(explain(text))) >= 1
    with suppress(ProgramError):
        assert set(inherited(text, 1 + len(lines) // 2)) <= set(MODE_NAMES.values())


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text):
    with pytest.raises(ProgramError):
        read_program(text + "\n!")


HARD = {
    "deep brackets": "X" + "[" * 251,
    "closed deep brackets": "G0 X" + "[" * 120 + "1" + "]" * 120,
    "hashes": "G0 X" + "#" * 240 + "1",
    "functions": "G0 X" + "sin[" * 60,
    "signs": "G0 X" + "-" * 240,
    "digits": "G0 X" + "9" * 248,
    "digits then a letter": "G0 " + "X1111111" * 30 + "E",
    "zeros": "G0 X" + "0" * 248,
    "decimals": "G0 X0." + "3" * 246,
    "words": "X1" * 126,
    "m words": "M3" * 126,
    "powers": "G0 X[9" + "**9" * 80 + "]",
    "product": "G0 X[" + "1" * 120 + "*" + "1" * 120 + "]",
    "parameter": "#" + "9" * 240 + "=1",
    "code": "G" + "9" * 250,
    "m code": "M" + "9" * 250,
    "slot": "T" + "9" * 250,
    "comments": "()" * 126,
    "open comment": "(" * 250,
    "long line": "G0 X1" + " " * 1_000_000,
    "long number": "X" + "1" * 1_000_000,
    "long comment": "(" + "a" * 1_000_000 + ")",
    "line number": "N" + "1" * 250,
}


@pytest.mark.parametrize("line", HARD.values(), ids=list(HARD))
def test_hard_lines_take_no_time(line):
    began = time.perf_counter()
    result = outcome(f"{line}\nM2")
    if isinstance(result, ProgramError):
        assert len(result.message) < 300
    assert time.perf_counter() - began < 0.5


WORDS = {
    "X": 9, "Y": 9, "Z": 9, "I": 5, "J": 5, "K": 5, "R": 9, "P": 3, "Q": 2, "L": 4, "D": 3, "H": 2,
    "F": 50,
}  # fmt: skip
LINES = (
    "G0 XYZ", "G1 XY", "XZ", "G2 XYIJ", "G3 XYR", "G2 XYZIJ", "G18 G2 XZR", "G19 G3 YZJK",
    "G17 G81 XYZR", "G81 XZRL", "G82 XZRP", "G83 XZRQ", "M3 G84 XZR", "G85 XZR", "G86 XZRP",
    "G87 XYZRIJK", "G88 XZRP", "G89 XZRPL", "XY", "G41 D", "G42 D", "G40", "G43 H", "G49", "G91",
    "G90", "G20", "G21", "G98", "G99", "G92 XZ", "G92.1", "G28", "G30 X", "G38.2 Z", "G53 G0 XZ",
    "G10 L2 P1 XY", "G55", "G93", "G94", "F", "G61", "G4 P", "M4 S90", "M5", "G80",
)  # fmt: skip


@settings(max_examples=500, deadline=None, derandomize=True)
@given(st.integers(0, 2**40))
def test_law_of_programs_that_are_nearly_right(seed):
    """Motions are finite, arcs are arcs, the chain has no gap but where numbers change."""
    chance = random.Random(seed)
    lines = ["G21 G17 G90 G94 G54 G49 F100 M3 S1", "G0 X0 Y0 Z5"]
    for _ in range(chance.randrange(1, 5)):
        code, *words = chance.choice(LINES).rsplit(" ", 1)
        if code[0] != "G" and not words:
            code, words = "", [code]
        tail = words[0] if words else ""
        if tail and tail.isalpha():
            tail = " ".join(f"{w}{chance.uniform(-0.2, 1) * WORDS[w]:.3f}" if w not in "LDH" else
                            f"{w}{chance.randrange(WORDS[w])}" for w in tail)  # fmt: skip
        lines.append(f"{code} {tail}".strip())
    result = outcome("\n".join([*lines, "M2"]), STORED)
    if isinstance(result, ProgramError):
        assert 1 <= result.line <= len(lines) + 1
        assert len(result.message) < 300
        return
    m = result.motions
    assert all(np.isfinite(getattr(m, n)).all() for n in ("start", "stop", "centre", "turns"))
    arc = m.turns != 0
    assert (m.kind[arc] == 2).all()
    ends = np.hypot(*(m.stop[arc, :2] - m.centre[arc]).T)
    assert np.allclose(m.radii[arc], ends, rtol=0, atol=0.006)
    if not any(word in " ".join(lines) for word in ("G55", "G10", "G43", "G49 ", "G88")):
        assert np.array_equal(m.start[1:], m.stop[:-1]) or "G49" in " ".join(lines[2:])


@pytest.mark.parametrize(
    "line",
    [
        "G81 X1 Z1 R2 L16000",
        "G91 G81 X1000000000 Z-1000000000 R1 L16000",
        "G83 X1 Z-999999999 R1 Q14000",
        "G18 G2 X0 Z9 I999999",
        "G19 G3 Y0 Z5 J-500000000",
        "G41 D1 G1 X999999999 Y-999999999",
        "G28 X999999999",
        "G38.2 Z-999999999",
    ],
)
def test_hostile_words_take_bounded_time_and_memory(line):
    text = "\n".join(["G21 G17 G90 G94 G54 G49 F1", "G0 X0 Y0 Z9", *[line] * 100, "M2"])
    began = time.process_time()
    result = outcome(text, STORED)
    assert time.process_time() - began < 10
    if not isinstance(result, ProgramError):
        assert len(result.motions) <= MOST_ADDED_MOTIONS + 102


def test_a_hundred_thousand_refusable_characters_take_no_time():
    began = time.perf_counter()
    with pytest.raises(ProgramError):
        read_program("G1 X" + "1\n" * 100_000)
    assert time.perf_counter() - began < 2


def test_sums_stay_finite():
    lines = ["G20 G90 G0 X1000000000 Y0 Z0", "G91 F1000000000", *["X1000000000"] * 100, "G93"]
    lines += ["G2 X0 Y0 I1000000000 F1000000000", "G1 X1 F1000000000"]
    motions = read_program("\n".join([*lines, "M2"])).motions
    assert np.isfinite(motions.stop).all()
    assert np.isfinite(motions.feed).all()
    with pytest.raises(ProgramError, match="larger than 1e"):
        read_program("G0 X1000000001\nM2")

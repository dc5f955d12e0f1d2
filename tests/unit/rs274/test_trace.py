"""A program written by hand, and every column of its trace worked out by hand."""

import numpy as np
import pytest

from knifecam.curve import ARC, FEED, RAPID
from knifecam.rs274.program_reader import read_program
from knifecam.rs274.rs274_limits import START_PLACE_MM

PROGRAM = """%
(DRILL A RING, 10 MM)
N10 G21 G17 G90 G94 G40 G49 G54 G61
N20 T2 M6
N30 S6000 M3
N40 M7
N50 G4 P2.5
N60 G43 H2 G0 Z20
N70 X12 Y0
N80 Z0.5
N90 G1 Z0 F60
N100 G3 I-2 J0 Z-0.25 F150
N110 X12 Y0 I-2
N120 G2 X14 Y0 R1 (out)
N130 G1 G91 X1 Y1
N140 G90 G0 Z20 M9
N150 M5
N160 M0
N170 G55 G61.1
N180 T3 M6
N190 G43 H3
N200 S-0 M4
N210 G0 Z5
N220 M30
%
"""
# N100 names no axis of the plane: see below


def test_an_arc_without_a_word_in_its_plane_is_refused():
    with pytest.raises(Exception, match=r"line 12: G3 in the plane of G17 must have X or Y"):
        read_program(PROGRAM)


@pytest.fixture(scope="module")
def trace():
    return read_program(PROGRAM.replace("G3 I-2 J0", "G3 X12 I-2 J0"))


def test_motions(trace):
    m = trace.motions
    rows = [
        (RAPID, START_PLACE_MM, (0, 0, 20), 0),
        (RAPID, (0, 0, 20), (12, 0, 20), 0),
        (RAPID, (12, 0, 20), (12, 0, 0.5), 0),
        (FEED, (12, 0, 0.5), (12, 0, 0), 60),
        (ARC, (12, 0, 0), (12, 0, -0.25), 150),
        (ARC, (12, 0, -0.25), (12, 0, -0.25), 150),
        (ARC, (12, 0, -0.25), (14, 0, -0.25), 150),
        (FEED, (14, 0, -0.25), (15, 1, -0.25), 150),
        (RAPID, (15, 1, -0.25), (15, 1, 20), 0),
        (RAPID, (15, 1, 20), (15, 1, 5), 0),
    ]
    assert m.kind.tolist() == [row[0] for row in rows]
    assert m.start.tolist() == [list(row[1]) for row in rows]
    assert m.stop.tolist() == [list(row[2]) for row in rows]
    assert m.feed.tolist() == [row[3] for row in rows]
    assert m.turns.tolist() == [0, 0, 0, 0, 1, 1, -0.5, 0, 0, 0]
    assert m.centre[4:7].tolist() == [[10, 0], [10, 0], [13, 0]]
    assert not m.centre[[0, 1, 2, 3, 7, 8, 9]].any()


def test_modes(trace):
    assert trace.line.tolist() == [8, 9, 10, 11, 12, 13, 14, 15, 16, 23]
    assert trace.cutter.tolist() == [2] * 9 + [3]
    assert trace.length.tolist() == [2] * 9 + [3]
    assert trace.spindle.tolist() == [1] * 9 + [-1]
    assert trace.speed.tolist() == [6000] * 9 + [0]
    assert trace.mist.tolist() == [True] * 8 + [False] * 2
    assert not trace.flood.any()
    assert trace.offset.tolist() == [1] * 9 + [2]
    assert trace.path.tolist() == [0] * 9 + [1]


def test_acts(trace):
    assert [(a.kind, a.line, a.before, a.number) for a in trace.acts] == [
        ("comment", 2, 0, 0),
        ("length", 3, 0, 0),
        ("offset", 3, 0, 1),
        ("path", 3, 0, 610),
        ("change", 4, 0, 2),
        ("spindle", 5, 0, 30),
        ("coolant", 6, 0, 70),
        ("dwell", 7, 0, 2.5),
        ("length", 8, 0, 2),
        ("comment", 14, 6, 0),
        ("coolant", 16, 8, 90),
        ("spindle", 17, 9, 50),
        ("stop", 18, 9, 0),
        ("offset", 19, 9, 2),
        ("path", 19, 9, 611),
        ("change", 20, 9, 3),
        ("length", 21, 9, 3),
        ("spindle", 22, 9, 40),
        ("end", 24, 10, 300),
    ]


def test_known_axes(trace):
    every = [True] * 3
    assert trace.known.tolist() == [
        [False] * 3, [False, False, True], *[every] * 7, [False] * 3,
    ]  # fmt: skip


def test_columns_have_their_types_and_cannot_be_changed(trace):
    assert trace.line.dtype == np.int32
    assert trace.spindle.dtype == np.int8
    assert trace.mist.dtype == np.bool_
    assert not trace.speed.flags.writeable
    assert not trace.known.flags.writeable


def test_a_program_without_motions():
    trace = read_program("(nothing)\nM2")
    assert len(trace.motions) == 0
    assert trace.known.shape == (0, 3)


def test_defaults_before_the_program_says_otherwise():
    trace = read_program("G0 X1\nM2")
    columns = (trace.cutter, trace.length, trace.spindle, trace.speed, trace.mist, trace.flood)
    assert [c.tolist() for c in columns] == [[0], [0], [0], [0], [False], [False]]
    assert (trace.offset.tolist(), trace.path.tolist()) == ([1], [2])

"""Arcs in G18 and G19.

T. R. Kramer, F. M. Proctor, E. Messina, "The NIST RS274NGC Interpreter - Version 3", NISTIR 6556
(2000): section 3.5.3: seen from the plus end of the axis across the plane, G2 goes clockwise. They
are read as rows of chords within 0.1 um; lengths and places follow from the circle by hand.
"""

import numpy as np
import pytest

from knifecam.curve import FEED
from knifecam.report.explain import explain
from knifecam.rs274.program_reader import read_program

WITHIN = 1e-4
"""mm: how far a chord may leave its arc."""


def chords(*lines: str):
    m = read_program("\n".join(("G21 G90 G94 F100", *lines, "M2"))).motions
    return m.start[1:], m.stop[1:], m


@pytest.mark.parametrize(
    ("plane", "start", "line", "centre", "axes", "turned"),
    [
        # from (10, 0) about (0, 0) of X and Z: seen from +Y, Z is to the right and X up
        ("G18", "X10 Y1 Z0", "G3 X-10 Z0 I-10", (0, 0), (2, 0), 180),
        ("G18", "X10 Y1 Z0", "G2 X-10 Z0 I-10", (0, 0), (2, 0), -180),
        ("G18", "X0 Y1 Z10", "G3 X10 Z0 K-10", (0, 0), (2, 0), 90),
        ("G18", "X0 Y1 Z10", "G2 X10 Z0 K-10", (0, 0), (2, 0), -270),
        ("G18", "X0 Y1 Z10", "G3 X0 Z10 K-10", (0, 0), (2, 0), 360),
        ("G18", "X0 Y1 Z10", "G3 X10 Z0 R10", (0, 0), (2, 0), 90),
        ("G18", "X0 Y1 Z10", "G2 X10 Z0 R-10", (0, 0), (2, 0), -270),
        ("G19", "X1 Y10 Z0", "G3 Y0 Z10 J-10", (0, 0), (1, 2), 90),
        ("G19", "X1 Y10 Z0", "G2 Y0 Z10 J-10", (0, 0), (1, 2), -270),
        ("G19", "X1 Y10 Z0", "G3 Y-10 Z0 J-10 X5", (0, 0), (1, 2), 180),
        ("G19", "X1 Y3 Z-4", "G3 Y3 Z-4 J-3 K4", (0, 0), (1, 2), 360),
        ("G18", "X30 Y1 Z20", "G3 X20 Z10 I-10 Y-3", (20, 20), (2, 0), 90),
        ("G18", "X30 Y1 Z20", "G2 X20 Z10 R-10", (20, 20), (2, 0), -270),
        ("G19", "X1 Y30 Z-20", "G2 Y20 Z-30 J-10", (20, -20), (1, 2), -90),
        ("G20 G19", "X1 Y3 Z-2", "G2 Y2 Z-3 J-1", (50.8, -50.8), (1, 2), -90),
    ],
)
def test_section_3_5_3_arcs_and_helices(plane, start, line, centre, axes, turned):
    starts, stops, m = chords(f"{plane} G0 {start}", line)
    radius = np.hypot(*(starts[0, list(axes)] - centre))
    assert (m.kind[1:] == FEED).all()
    assert np.allclose(np.hypot(*(stops[:, list(axes)] - centre).T), radius, rtol=0, atol=1e-12)
    middles = (starts + stops)[:, list(axes)] / 2
    away = radius - np.hypot(*(middles - centre).T)
    assert away.max() <= WITHIN
    assert away.min() > WITHIN / 2  # and no more chords than that needs
    out = np.vstack([starts[:1], stops])[:, list(axes)] - centre
    angle = np.unwrap(np.arctan2(out[:, 1], out[:, 0]))
    assert np.degrees(angle[-1] - angle[0]) == pytest.approx(turned, abs=1e-9)
    across = ({0, 1, 2} - set(axes)).pop()
    rise = stops[-1, across] - starts[0, across]
    assert np.allclose(np.diff(stops[:, across]), rise / len(stops), atol=1e-12)
    assert m.lengths[1:].sum() == pytest.approx(
        np.hypot(np.radians(abs(turned)) * radius, rise), rel=2e-5
    )
    assert set(m.feed[1:].tolist()) == {2540.0 if "G20" in plane else 100.0}


def test_the_end_is_that_of_the_words():
    _, stops, _ = chords("G0 X7 Y0 Z7", "G18 G2 X16 Z10 I4 K3")
    assert stops[-1].tolist() == [16, 0, 10]


def test_inverse_time_is_that_of_the_whole_arc():
    _, _, m = chords("G0 X10 Y0 Z0", "G93", "G18 G3 X-10 Z0 I-10 F2")
    assert (m.lengths[1:] / m.feed[1:]).sum() == pytest.approx(0.5, rel=2e-5)


def test_every_chord_has_its_line_and_explain_tells_the_arc_once():
    text = "G21 G90 F100\nG0 X10 Y0 Z0\nG18 G3 X-10 Z0 I-10\nM2"
    trace = read_program(text)
    assert set(trace.line[1:].tolist()) == {3}
    words = list(explain(text))
    told = words.index("     3  G18 G3 X-10 Z0 I-10")
    count = len(trace.motions) - 1
    assert words[told + 1].strip() == (
        f"counter-clockwise in G18 about Z0.0000 X0.0000, radius 10.0000 mm, 180.000 degrees, "
        f"as {count} straight pieces:"
    )
    assert len(words[told + 1 : words.index("     4  M2")]) == 4


def test_a_large_arc_is_not_cut_into_chords_without_end():
    with pytest.raises(Exception, match="motions"):
        chords("G0 X0 Y0 Z0", "G18 G2 X0 Z0 I900000000")


def test_radii_that_differ_within_the_tolerance_pass_into_each_other():
    starts, stops, _ = chords("G0 X10 Y0 Z0", "G18 G3 X-10.0019 Z0 I-10")
    radii = np.hypot(*stops[:, [2, 0]].T)
    assert np.allclose(np.diff([10.0, *radii]), 0.0019 / len(stops), atol=1e-12)
    assert starts[0].tolist() == [10, 0, 0]


def test_chords_are_counted_into_the_program_s_motions():
    # 500 chords an arc of radius 10: some 200 000 in all, then no more
    line = "G18 G3 X10 Z0 I-10"
    count = len(chords("G0 X10 Y0 Z0", line)[0])
    most = 200_000 // (count - 1)
    assert len(chords("G0 X10 Y0 Z0", *[line] * most)[0]) == most * count
    with pytest.raises(Exception, match=rf"line {most + 3}: .* 200000 may be added"):
        chords("G0 X10 Y0 Z0", *[line] * (most + 1))


def test_tiny_arcs():
    _, stops, _ = chords("G0 X0 Y0 Z0", "G18 G3 X0 Z0 I0.00005")
    assert 1 <= len(stops) <= 8

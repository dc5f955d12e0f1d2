"""Sample program C.1 of the RS274/NGC report, from its text to its totals.

T. R. Kramer, F. M. Proctor, E. Messina, The NIST RS274NGC Interpreter - Version 3, NISTIR 6556,
2000, appendix C.1: letters engraved with G0, G1, arcs that give I or J alone, full circles that
name one axis, and one arc by radius. The words are the report's, a stroke a line here; its line
numbers and comments are left out. Lengths and times follow from the letters' strokes, worked out
apart from this reader.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from knifecam.curve import ARC, RAPID
from knifecam.rs274.program_reader import read_program
from knifecam.rs274.trace import Trace

STROKES = (
    "g21 g0 x0 y0 z50|t1 m6 m3 f20 s4000|g0 x0 y0 z2",
    "g1 z-0.5|y10|g0 z2|y5|g1 z-0.5|x 7|g0 z2|y0|g1 z-0.5|y10|g0 z2|x11 y2.5",
    "g1 z-0.5|x16|g3 x13.5 y0 i-2.5|g1 x16|g0 z2|x20 y0",
    "g1 z-0.5|y9|g0 z2|x26",
    "g1 z-0.5|y0|g0 z2|x32.5",
    "g1 z-0.5|g2 x32.5 j2.5|g0 z2|x45 y5",
    "g1 z-0.5|x47 y0|x48.5 y3|x50 y0|x52 y5|g0 z2|x57.5 y0",
    "g1 z-0.5|g2 x57.5 j2.5|g0 z2|x64",
    "g1 z-0.5|y5|y4|g2 x69 r4|g0 z2|x73 y0",
    "g1 z-0.5|y9|g0 z2|x81",
    "g1 z-0.5|y0|x79.5|g2 j2.5 y5|g1 x81|g0 z50",
    "m2",
)

PRINTED = 5e-5
"""mm: half a unit of the totals' last digit."""


@pytest.fixture(scope="module")
def trace() -> Trace:
    return read_program("\n".join(STROKES).replace("|", "\n"))


def test_sample_c_1_totals(trace: Trace) -> None:
    """All that follows the first positioning at Z50."""
    motions = trace.motions
    rapid = motions.kind == RAPID
    assert motions.stop[0].tolist() == [0.0, 0.0, 50.0]
    assert motions.lengths[1:][rapid[1:]].sum() == pytest.approx(202.0528, abs=PRINTED)
    assert motions.lengths[~rapid].sum() == pytest.approx(183.4305, abs=PRINTED)
    plunge = ~rapid & (motions.stop[:, 2] < motions.start[:, 2])
    assert plunge.sum() == 12
    assert motions.lengths[plunge].tolist() == [2.5] * 12
    assert motions.lengths[~rapid & ~plunge].sum() == pytest.approx(153.4305, abs=PRINTED)


def test_sample_c_1_time_at_its_feed(trace: Trace) -> None:
    cut = trace.motions.kind != RAPID
    assert set(trace.motions.feed[cut]) == {20.0}
    minutes = (trace.motions.lengths[cut] / trace.motions.feed[cut]).sum()
    assert minutes == pytest.approx(9.1715, abs=PRINTED)


def test_sample_c_1_arcs(trace: Trace) -> None:
    """Three quarters of a circle, two whole ones, the arc of radius 4, and half a circle."""
    motions = trace.motions
    arc = motions.kind == ARC
    assert arc.sum() == 5
    chord = 2 * math.asin(2.5 / 4) / (2 * math.pi)
    np.testing.assert_allclose(motions.turns[arc], [0.75, -1, -1, -chord, -0.5], atol=1e-12)
    np.testing.assert_allclose(motions.radii[arc], [2.5, 2.5, 2.5, 4.0, 2.5], atol=1e-12)
    assert motions.centre[arc][3] == pytest.approx([66.5, 0.877501], abs=5e-7)


def test_sample_c_1_extent_and_modes(trace: Trace) -> None:
    motions = trace.motions
    low = motions.stop[motions.kind != RAPID].min(axis=0)
    high = motions.stop[motions.kind != RAPID].max(axis=0)
    assert low.tolist() == [0.0, 0.0, -0.5]
    assert high.tolist() == [81.0, 10.0, -0.5]
    assert set(trace.speed[1:]) == {4000.0}
    assert set(trace.cutter[1:]) == {1}
    assert set(trace.spindle[1:]) == {1}

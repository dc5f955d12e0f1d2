"""Cycles, arcs in other planes and the probe cut the plate as the motions they stand for do."""

from __future__ import annotations

from functools import cache

import pytest

from knifecam.judge.prove import judge
from tests.unit.judge import hand_written as hand

START = """G21 G17 G90 G94 G40 G49 G80 G54 G61
T1 M6
G43 H1
S8000 M3
M7
G4 P3
G0 Z10
X45 Y25
"""
END = "\nG0 Z10\nM5\nM9\nM30\n"
# the middle of the blade is X45 Y25 of the program, Z0 its upper face


@cache
def found(*lines: str) -> set[str]:
    """Return the kinds of the findings of side A alone."""
    verdict = judge(hand.order(), (START + "\n".join(lines) + END, None)).verdict
    return {finding.kind for finding in verdict.findings}


@cache
def volume(*lines: str) -> float:
    case = judge(hand.order(), (START + "\n".join(lines) + END, None)).case
    return float(case.sides[0].volume.sum())


@pytest.mark.parametrize(
    ("cycle", "written"),
    [
        ("G81 G99 X46 Z-1 R1 F60", ("G0 X46", "Z1", "G1 Z-1 F60", "G0 Z1")),
        (
            "G83 G99 X46 Z-1 R1 Q1.5 F60",
            ("G0 X46", "Z1", "G1 Z-0.5 F60", "G0 Z1", "Z-0.246", "G1 Z-1", "G0 Z1"),
        ),
        ("G85 G98 X46 Z-1 R1 F60", ("G0 X46", "Z1", "G1 Z-1 F60", "Z10")),
    ],
)
def test_a_cycle_gouges_as_the_motions_written_out_do(cycle, written):
    assert "gouge" in found(cycle)
    assert found(cycle) == found(*written)
    assert volume(cycle) == pytest.approx(volume(*written), rel=1e-12)
    assert volume(cycle) > 0


def test_a_harmless_cycle_is_no_gouge():
    assert "gouge" not in found("G81 G99 X46 Z0.5 R1 F60")


def test_an_arc_in_g18_cuts_the_depth_of_its_sagitta():
    # down to 10 - sqrt(10^2 - 3^2) = 0.4606 below its ends, which lie on the face
    line = "G0 Z0.5", "G1 Z0 X42 F60", "G18 G2 X48 Z0 I3 K9.539392"
    assert "gouge" in found(*line)
    case = judge(hand.order(), (START + "\n".join(line) + END, None)).case
    assert case.sides[0].motions.stop[:, 2].min() - hand.THICK / 2 == pytest.approx(
        -0.460608, abs=1e-4
    )


def test_a_probe_is_swept_as_far_as_it_may_go():
    assert "gouge" in found("F60 G38.2 Z-0.5")


@pytest.mark.parametrize("line", ["G41 D1", "G28", "G53 G0 Z0", "G81 X46 Z-1", "G0 A1"])
def test_what_the_text_does_not_tell_is_a_finding(line):
    assert found(line) >= {"syntax"}

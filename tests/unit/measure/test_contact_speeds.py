"""Surface speed and feed at the contact, against the stage's own figures; worked by hand.

Cutter 1 is 3 mm in diameter with 4 flutes. At 8,000 rev/min its rim runs at pi 3 8000 / 1000 = 75.4
m/min. In the bore of 4 mm its axis goes round on a circle of 1 mm in diameter, so the rim along the
wall runs at 4 / (4 - 3) = 4 times the axis' feed (feed inside = feed (Dm - D) / Dm, as catalogues
print it; NISTIR 6556 gives F to the tool's controlled point).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import Slot
from knifecam.curve import Curve, circle
from knifecam.judge.prove import judge
from knifecam.measure.step_stages import _facing, contact_radius, contact_share
from tests.agreement.orders import rounded
from tests.unit.judge import hand_bevel, hand_written

ORDER = hand_written.order()
A, B = hand_written.side_a(), hand_written.side_b()


def found(text, kind, order=ORDER, side=0):
    texts = (text, None) if side == 0 else (A, text)
    return [f for f in judge(order, texts).verdict.findings if f.kind == kind]


def cut(text, phrase, old, new):
    """The text with a word changed in the cut that begins with a phrase."""
    before, rest = text.split(phrase)
    head, *later = rest.split("\nM5\n", 1)
    assert old in head
    return phrase.join([before, "\nM5\n".join([head.replace(old, new), *later])])


def stages(**feeds):
    """The order with other feeds or speeds for some stages."""
    return replace(ORDER, cutting=tuple(
        replace(c, **feeds.get(c.stage, {})) for c in ORDER.cutting))  # fmt: skip


@pytest.mark.parametrize(("spindle", "bad"), [
    (8000, False), (11900, False), (12100, True), (5400, False), (5300, True),
])  # fmt: skip
def test_a_tooth_runs_at_most_half_as_fast_again_and_a_third_slower(spindle, bad):
    text = cut(A, "CUT 3 OF 3", "S8000", f"S{spindle}")
    rows = found(text, "surface-speed")
    assert bool(rows) == bad
    if bad:
        assert rows[0].measured == pytest.approx(3.14159265 * 3.0 * spindle / 1000, rel=1e-6)
        assert rows[0].allowed == pytest.approx(
            75.398 * (1.5 if spindle > 8000 else 2 / 3), rel=1e-4
        )
        assert "rev/min" in rows[0].message
        assert rows[0].remedy == "give S8000 for this cut"


def test_speed_and_feed_raised_together_are_found_as_speed():
    """23,900 for 8,000 rev/min and the feeds three times as great: chips are as ordered."""
    text = A.replace("S8000", "S23900")
    for feed in (75, 150, 300):
        text = text.replace(f" F{feed}\n", f" F{3 * feed}.0\n")
    rows = found(text, "surface-speed")
    assert rows
    assert rows[0].measured == pytest.approx(225.25, abs=0.01)


def test_each_cut_is_held_to_its_own_stage():
    """Finishing is ordered at 14,000: the groove may not be cut so fast, nor the wall at 8,000."""
    order = stages(finish={"spindle": 14000.0, "feed": 525.0}, rough={"allowance": 0.06})
    fast = cut(A, "CUT 3 OF 3", "S8000", "S14000")
    rows = found(fast, "surface-speed", order)
    assert not rows
    rows = found(cut(fast, "CUT 2 OF 3", "S8000", "S14000"), "surface-speed", order)
    assert rows
    assert rows[0].measured == pytest.approx(131.95, abs=0.01)
    lines = fast.splitlines()
    assert "CUT 2 OF 3" in "\n".join(lines[: rows[0].line])


def test_the_stage_is_not_told_from_what_the_text_says_of_itself():
    text = cut(A, "CUT 2 OF 3: GROOVE", "S8000", "S14000").replace("GROOVE", "WALL FINISHED")
    order = stages(finish={"spindle": 14000.0, "feed": 525.0})
    assert found(text, "surface-speed", order)


def test_a_round_corner_is_measured_at_the_top_of_the_metal():
    """Bull-nose R 2, r 0.5: no deeper in metal than d it touches at 1.5 + sqrt(0.25 - (0.5 - d)^2)."""
    order = hand_bevel.order()
    text = hand_bevel.side_a().replace("S8000", "S16000")
    judged = judge(order, (text, None))
    side, rows = judged.case.sides[0], judged.case.sides[0].steps
    at = np.flatnonzero((side.trace.cutter[rows.motion] == 2) & (rows.engagement.under > 0.01))
    deep = rows.engagement.under[at]
    shallow = deep < 0.5
    radius = contact_radius(side, rows, at)
    assert radius[shallow] == pytest.approx(1.5 + np.sqrt(0.25 - (0.5 - deep[shallow]) ** 2))
    assert radius[~shallow] == pytest.approx(2.0)
    worst = max(f.measured for f in judged.verdict.findings if f.kind == "surface-speed")
    assert np.pi * 2 * 1.5 * 16 * 0.99 < worst < np.pi * 2 * 2.0 * 16 + 1e-6


@pytest.mark.parametrize(("axis", "bad"), [(75, False), (110, False), (115, True), (300, True)])
def test_a_bores_feed_is_that_of_the_rim(axis, bad):
    """75 at the axis is 300 at the rim, as ordered; 450 is half as much again, 112.5 at the axis."""
    rows = found(A.replace(" F75\n", f" F{axis}\n"), "feed")
    assert bool(rows) == bad
    if bad:
        feeds = [f for f in rows if "at the axis" in f.message]
        assert feeds[0].measured == pytest.approx(4 * axis)
        assert feeds[0].allowed == pytest.approx(450.0)


def test_lead_arcs_in_a_bore_count_by_how_fast_they_turn_about_it():
    """From its middle onto its wall on half a circle of 0.25 mm: half as fast about the bore."""
    lead = "G1 X27.0000 Y25.0000 Z-2.7500\nG3 X27.5 Y25 I0.25 J0 F75\nG3 X27.5 Y25 I-0.5 J0 F75\n"
    text = A.replace("G1 X27.0000 Y25.0000 Z-2.7500 F75\n", f"{lead}G1 X27 Y25 F75\n")
    assert text != A
    assert not found(text, "feed")


def test_the_greatest_feed_of_another_stage_does_not_count():
    """The finish is given 600 mm/min, so 300 is a third more than 1.5 times what a groove at 150 has."""
    order = stages(finish={"feed": 600.0}, rough={"feed": 150.0})
    slow = cut(A, "CUT 2 OF 3", "F300", "F150")
    assert not found(slow, "feed", order)
    rows = [f for f in found(A, "feed", order) if "mm/min" in f.message]
    assert rows
    assert rows[0].measured == pytest.approx(300.0)
    assert rows[0].allowed == pytest.approx(225.0)


def test_ramps_are_held_to_their_stage_too():
    order = stages(finish={"feed": 900.0})
    text = cut(A, "CUT 2 OF 3", "F150", "F600")
    rows = [f for f in found(text, "feed", order) if "mm/min" in f.message]
    assert rows
    assert rows[0].measured == pytest.approx(600.0)


def test_the_outside_of_a_corner_counts_as_its_axis_and_an_inner_one_by_its_wall():
    """Round the blade's corner of 4 mm the axis, at 5.5, is ahead of the wall: 300 stays 300."""
    assert not found(A, "feed")


def test_a_rise_along_a_straight_wall_is_at_the_axis_feed_up_to_its_corner():
    """In a slot with corners of 2 mm the axis rises at 45 degrees, 0.3 mm along and up, and ends
    where the round begins: the wall beside it is straight all the way, and stands for a run seen
    from above, not for the way through the air, which is 1.4 times as long."""
    slot = Slot(name="S1", outline=rounded(30.0, 6.0, 45.0, 14.0, 2.0))
    order = replace(ORDER, blade=replace(ORDER.blade, slots=(slot,)))
    lines = ("G0 X49.0000 Y27.5000", "G0 Z0.5000", "G1 Z-1.1000 F150", "G1 X57.7000 F300",
             "G1 X58.0000 Z-0.8000", "G0 Z5.0000")  # fmt: skip
    end = "G0 Z5.0000\nM5\nM9\n(CUT 3 OF 3"
    assert end in A
    text = A.replace(end, "\n".join([*lines, end]))
    judged = judge(order, (text, None))
    side = judged.case.sides[0]
    rising = text.splitlines().index("G1 X58.0000 Z-0.8000") + 1
    at = np.flatnonzero(side.trace.line[side.steps.motion] == rising)
    assert len(at)
    assert contact_share(order, side, side.steps, at) == pytest.approx(np.ones(len(at)))


def facing(wall, sides, length):
    """How fast the rim of a cutter of 3 mm runs in steps inside a hole of 12 mm, over the axis."""
    turn = np.linspace(0.0, 2 * np.pi, 3 * sides, endpoint=False) + 0.001
    places = 4.5 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    heading = np.stack([-np.sin(turn), np.cos(turn)], axis=1)
    of = np.full(len(turn), 1.5), np.full(len(turn), min(0.25, 0.45 * length))
    return _facing(places, heading, of, np.arange(len(turn)), wall)


@pytest.mark.parametrize("length", [0.05, 0.2, 1.0])
def test_round_a_hole_the_contact_runs_as_its_wall_is_longer(length):
    """Feed inside = feed (Dm - D) / Dm, as catalogues print it: 12 / (12 - 3) times as fast."""
    assert facing(circle((0, 0), 12.0), 30, length) == pytest.approx(12 / 9, rel=2e-3)


@pytest.mark.parametrize("length", [0.05, 0.2, 1.0])
def test_in_the_corners_of_a_hole_of_24_lines_the_contact_goes_on_at_the_axis_feed(length):
    """From one wall to the next it does not run: it leaves the one and begins on the other."""
    turn = np.arange(24) * 2 * np.pi / 24
    wall = Curve(6.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1), np.zeros(24))
    assert facing(wall, 240, length) == pytest.approx(1.0, abs=0.03)

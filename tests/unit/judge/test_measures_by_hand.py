"""What the judge measures on the hand-written blade, against closed forms worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from knifecam.judge.prove import Judged, judge
from knifecam.measure.measured_tabs import MeasuredTab
from tests.unit.judge import hand_written as hand


@cache
def plain() -> Judged:
    return judge(hand.order(), (hand.side_a(), hand.side_b()))


@pytest.mark.parametrize("which", [0, 1])
def test_a_tab_is_an_hourglass(which: int) -> None:
    """Discs of radius R whose centres stop at +-(waist + D)/2, R from the wall.

    Full width at u from the wall: waist + 2 R - 2 sqrt(R^2 - (u - R)^2). Least, and equal to the
    waist, at u = R; at the wall nearly waist + D.
    """
    bridge = plain().case.bridges[which]
    assert bridge.waist == pytest.approx(hand.WAIST, abs=0.003)
    R, u = hand.RADIUS, 0.02
    at_wall = hand.WAIST + 2 * R - 2 * math.sqrt(R**2 - (u - R) ** 2)
    assert bridge.stub == pytest.approx(at_wall, abs=0.003)


def test_tabs_stand_at_their_stations_and_heights() -> None:
    bridges = plain().case.bridges
    ordered = hand.order().tabs.stations
    # the plateau's middle: the lift's two ramps do not move it
    assert [b.station for b in bridges] == pytest.approx(ordered, abs=0.03)
    floor_a = hand.THICK / 2 - hand.MEET - hand.OVERLAP / 2
    for bridge in bridges:
        assert bridge.top == pytest.approx(floor_a, abs=1e-3)
        assert bridge.bottom == pytest.approx(floor_a - hand.TAB, abs=1e-3)
        assert bridge.thin == pytest.approx(hand.TAB, abs=1e-3)
        # near the wall the finishing passes of both sides stay clear of the roughed ground
        assert bridge.thick == pytest.approx(hand.TAB + 2 * hand.CLEAR, abs=1e-3)


def test_toward_side_a_the_ramps_make_it_wider() -> None:
    """Up at 45 degrees and down at 20 from tab to floor: metal ends where the ramp meets zA."""
    ramps = hand.TAB / math.tan(hand.RISE) + hand.TAB / math.tan(hand.DESCENT)
    bridge = plain().case.bridges[0]
    assert bridge.wide == pytest.approx(hand.WAIST + ramps, abs=0.12)


@pytest.mark.parametrize("waist", [0.6, 1.0, 2.4])
def test_other_waists(waist: float, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hand, "WAIST", waist)
    verdict = judge(hand.order(), (hand.side_a(), hand.side_b())).verdict
    assert verdict.ok
    assert [t["waist"] for t in verdict.measures["tabs"]] == pytest.approx([waist] * 2, abs=0.003)


def test_snapping_moments_of_bench() -> None:
    """bench.md, tab thickness T3: waist 1.5, thickness 0.40 snaps at 100 to 140 N mm."""
    tab = MeasuredTab(
        station=0, span=2, place=(0, 0), thin=0.4, thick=0.4, top=0, bottom=0, waist=1.5, wide=1.5,
        stub=4.5,
    )  # fmt: skip
    assert tab.snapping(2500.0) == pytest.approx(100.0)
    assert tab.snapping(3500.0) == pytest.approx(140.0)


def test_bores_from_both_sides() -> None:
    (row,) = plain().verdict.measures["bores"]
    assert row["diameter_a"] == pytest.approx(hand.BORE, abs=2e-4)
    assert row["diameter_b"] == pytest.approx(hand.BORE + hand.RELIEF, abs=2e-4)
    assert row["off_a"] == pytest.approx(0.0, abs=1e-4)
    assert row["mismatch"] == pytest.approx(0.0, abs=1e-4)


def test_walls_stand_where_they_are_wanted() -> None:
    outline = plain().verdict.measures["outline"]
    for side in "AB":
        assert outline[side]["gouge"] <= 2e-4
        assert outline[side]["left"] <= 2e-4
    assert outline["mismatch"] <= 1e-4
    assert plain().verdict.measures["unreachable"] == []


def test_volume_of_side_a_in_closed_form() -> None:
    """Bore, trench 4 mm wide to 0.7, less the wall's stock between the floors of rough and finish.

    Trench of width w round an outline of length L with convex corners: L w + pi w^2.
    """
    length = 2 * (hand.LENGTH + hand.WIDTH - 4 * hand.CORNER) + 2 * math.pi * hand.CORNER
    w, depth = hand.TRENCH, hand.MEET + hand.OVERLAP / 2
    whole = (length * w + math.pi * w**2) * depth
    thin = (length * hand.STOCK + math.pi * hand.STOCK**2) * hand.CLEAR
    bore = math.pi / 4 * hand.BORE**2 * (hand.THICK - hand.SKIN)
    found = plain().verdict.measures["sides"]["A"]["volume"]
    # lead-in and lead-off stay within the trench
    assert found == pytest.approx(whole - thin + bore, rel=2e-3)


def test_frame_is_what_the_trench_leaves() -> None:
    assert plain().verdict.measures["border"]["least"] == pytest.approx(hand.EDGE - hand.TRENCH)


def test_disturbed_tabs_by_hand() -> None:
    """A from the face, B from the fixture: thickness changes cancel, B's Z adds, a wedge tilts.

    The wedge of 0.02 over 90 mm: between the datum at the plate's end and a tab at x = 44,
    59 mm away, the plate grows by 0.02 * 59 / 90.
    """
    rows = plain().verdict.measures["worst_case_tabs"]
    assert rows["if the plate is 0.05 mm thicker"] == pytest.approx([0.4, 0.4], abs=1e-3)
    assert rows["if side B's Z is set 0.03 mm too high"] == pytest.approx([0.43, 0.43], abs=1e-3)
    wedge = [0.4 - 0.02 * (x + hand.EDGE) / 90 for x in (44.0, 18.0)]
    assert rows["if the plate tapers by 0.02 mm, thicker toward +X"] == pytest.approx(
        wedge, abs=1e-3
    )


def test_disturbed_tabs_with_both_zeros_on_faces() -> None:
    order = hand.order(z_zero=("face", "face"))
    b = hand.side_b()
    text = hand.moved_z(b, -hand.THICK)
    rows = judge(order, (hand.side_a(), text)).verdict.measures["worst_case_tabs"]
    assert rows["if the plate is 0.05 mm thicker"] == pytest.approx([0.45, 0.45], abs=1e-3)
    assert rows["if the plate is 0.05 mm thinner"] == pytest.approx([0.35, 0.35], abs=1e-3)


def test_times() -> None:
    side = plain().verdict.measures["sides"]["A"]
    parts = side["feed_minutes"] + side["rapid_minutes"] + side["waiting_minutes"]
    assert side["minutes"] == pytest.approx(parts, abs=2e-3)
    assert side["minutes"] == pytest.approx(sum(cut["minutes"] for cut in side["cuts"]), abs=3e-3)
    assert side["waiting_minutes"] > 0
    assert [cut["name"][:12] for cut in side["cuts"]] == [
        "CUT 1 OF 3: ", "CUT 2 OF 3: ", "CUT 3 OF 3: ",
    ]  # fmt: skip


def test_an_inner_corner_is_told_and_not_refused() -> None:
    """A blade whose outline has an inner corner of radius 1, cut with a cutter of radius 1.5.

    The hand-written path follows the plain outline; where the blade now turns in by a notch of
    0.2 mm with sharp ends, nothing of 1.5 mm radius can go.
    """
    order = hand.order()
    c = hand.CORNER
    vertices = np.array(order.blade.outline.vertices)
    bulges = np.array(order.blade.outline.bulges)
    notch = np.array([(30.0, 0.0), (30.0, 0.2), (31.0, 0.2), (31.0, 0.0)])
    vertices = np.concatenate([vertices[:1], notch, vertices[1:]])
    bulges = np.concatenate([bulges[:1], np.zeros(4), bulges[1:]])
    outline = type(order.blade.outline)(vertices, bulges)
    notched = replace(order, blade=replace(order.blade, outline=outline))
    assert c < 30
    verdict = judge(notched, (hand.side_a(), hand.side_b())).verdict
    (corner,) = verdict.measures["unreachable"]
    assert corner["left"] == pytest.approx(0.2, abs=1e-3)
    assert corner["largest_cutter"] <= 0.25  # the ends are sharp; the places lie 0.25 mm apart
    assert "uncut" not in {f.kind for f in verdict.findings}


def test_a_corner_too_tight_is_told_with_what_stays_and_what_would_reach_it() -> None:
    """Corners of radius 0.5 in a bay, for a cutter of radius 1.5.

    The corner's middle is 0.5 (sqrt 2 - 1) off the sharp one and the cutter 1.5 (sqrt 2 - 1), so
    (1.5 - 0.5)(sqrt 2 - 1) = 0.4142 stays. The hand-written path comes nowhere near this bay.
    """
    order = hand.order()
    vertices = np.array(order.blade.outline.vertices)
    bulges = np.array(order.blade.outline.bulges)
    b = -np.tan(np.pi / 8)
    bay = np.array([(25.0, 0.0), (25.0, 5.5), (25.5, 6.0), (34.5, 6.0), (35.0, 5.5), (35.0, 0.0)])
    vertices = np.concatenate([vertices[:1], bay, vertices[1:]])
    bulges = np.concatenate([bulges[:1], [0.0, b, 0.0, b, 0.0, 0.0], bulges[1:]])
    outline = type(order.blade.outline)(vertices, bulges)
    bayed = replace(order, blade=replace(order.blade, outline=outline))
    verdict = judge(bayed, (hand.side_a(), hand.side_b())).verdict
    corners = verdict.measures["unreachable"]
    assert len(corners) == 2
    for corner, x in zip(corners, (25.0, 35.0), strict=True):
        assert corner["left"] == pytest.approx(np.sqrt(2) - 1, abs=0.01)
        assert corner["largest_cutter"] == pytest.approx(1.0, abs=0.011)
        assert corner["place"][:2] == pytest.approx([x, 6.0], abs=0.4)


def test_only_sights_finds_the_same_tabs() -> None:
    texts = (hand.side_a(), hand.side_b())
    verdict = judge(hand.order(), texts, only_sights=True).verdict
    assert verdict.ok
    assert [t["waist"] for t in verdict.measures["tabs"]] == pytest.approx([1.5, 1.5], abs=0.003)
    assert any("fine grid" in row for row in verdict.not_judged)


def test_no_text_at_all_is_refused() -> None:
    with pytest.raises(ValueError, match="must hold the program"):
        judge(hand.order(), (None, None))


@pytest.mark.parametrize("texts", [("M2\n", "M2\n"), ("(NOTHING)\n", "X\n"), ("", "M2\n")])
def test_empty_and_broken_texts_are_findings(texts: tuple[str, str]) -> None:
    verdict = judge(hand.order(), texts).verdict
    assert not verdict.ok

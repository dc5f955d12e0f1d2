"""Clearances, overhang, sections of tabs, and stops in metal, on a program written by hand.

`hand_written.py` says where everything lies: side A's face is Z0, the trench's floor Z-0.7, the
cutter 3 mm wide; rapids cross at Z5, feed begins at Z0.5. Limits here are worked out by hand.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from knifecam.curve import polyline
from knifecam.judge import loose_piece_findings
from knifecam.judge.prove import judge
from knifecam.shop import Clamp, Workholding
from tests.unit.judge import hand_written as hand

A, B = hand.side_a(), hand.side_b()


def found(kind, order=None, a=A, b=B):
    """Return the findings of a kind."""
    verdict = judge(order or hand.order(), (a, b)).verdict
    return [one for one in verdict.findings if one.kind == kind]


def nth(text, pattern, number=0):
    """Return where a line that matches begins."""
    return [m.start() for m in re.finditer(pattern, text, re.M)][number]


def inserted(text, pattern, lines, number=0):
    at = nth(text, pattern, number)
    return text[:at] + lines + "\n" + text[at:]


def test_the_good_program_has_none_of_them():
    verdict = judge(hand.order(), (A, B)).verdict
    assert verdict.findings == ()


@pytest.mark.parametrize(("end", "height"), [("0.4990", 0.499), ("0.0010", 0.001)])
def test_a_rapid_that_ends_lower_than_feed_begins(end, height):
    (one,) = found("clearance", a=A.replace("G0 Z0.5000", f"G0 Z{end}", 1))[:1]
    assert one.measured == pytest.approx(height)
    assert one.allowed == pytest.approx(0.5)


def test_gaps_are_kept_where_the_plate_is_thickest():
    """A place 0.02 mm thicker leaves 0.48 of 0.5 mm, and 4.98 of 5 mm."""
    order = hand.order()
    seen = ((-10.0, -10.0, 3.02), (60.0, 20.0, 3.0), (0.0, 20.0, 3.0), (60.0, 0.0, 2.98))
    thick = replace(order, setup=replace(
        order.setup, plate=replace(order.setup.plate, measured=seen)))  # fmt: skip
    limits = {round(one.allowed, 3) for one in found("clearance", thick)}
    assert limits == {0.52, 5.02}


def test_rapids_keep_the_rapid_height_above_clamps():
    """A clamp 2 mm high in a corner: rapids must cross at 7 mm, and cross at 5."""
    clamp = Clamp(side="A", x_low=0.0, y_low=0.0, x_high=4.0, y_high=4.0, height=2.0)
    (one,) = (f for f in found("clearance", hand.order(clamps=(clamp,))) if f.side == "A")
    assert (one.measured, one.allowed) == pytest.approx((5.0, 7.0))
    low = replace(clamp, side="B", height=0.0)
    assert not found("clearance", hand.order(clamps=(low,)))


def test_a_feed_across_bare_plate_is_one_though_it_takes_nothing():
    """10 mm over the blade's flat at Z0; the same 0.5 mm higher passes."""
    at = r"^M5$"
    across = "G0 X40.0000 Y25.0000\nG1 Z{0} F300\nG1 X50.0000\nG0 Z5.0000"
    (one,) = found("clearance", a=inserted(A, at, across.format("0.0000"), 1))
    assert "feeds 10.0 mm across bare plate at height=0.000 mm" in one.message
    assert not found("clearance", a=inserted(A, at, across.format("0.5000"), 1))


def test_rapids_that_a_thicker_plate_would_meet():
    """Side B counts from the fixture: 0.05 mm of plate more meet a rapid that ends 0.04 mm above it."""
    low = B.replace("G0 Z3.5000", "G0 Z3.0400", 1)
    told = [f.message for f in found("clearance", b=low)]
    assert any("0.05 mm thicker, a rapid ends 0.010 mm below" in line for line in told)


@pytest.fixture(scope="module")
def case():
    """Return the good case, with both sides cut."""
    return judge(hand.order(), (A, B)).case


@pytest.mark.parametrize(
    ("length", "places", "measured"),
    [
        (200.0, (80.0, 100.0), 20.0),  # a hinge: 20 mm of 200, where a quarter is 50
        (200.0, (80.0,), 0.0),
        (200.0, (20.0, 100.0), 100.0),  # an end hangs out 100 mm, 90 are allowed
        (200.0, (97.0, 180.0), 97.0),
        (200.0, (20.0, 112.0), None),
        (60.0, (30.0,), None),  # short: one tab holds it
        (62.0, (30.0,), 0.0),
    ],
)
def test_how_far_a_blade_hangs_out_beyond_its_tabs(case, length, places, measured):
    box = polyline([(0, 0), (length, 0), (length, 20), (0, 20)], closed=True)
    tabs = tuple(replace(case.bridges[0], place=(x, 20.0)) for x in places)
    stretched = replace(case, wanted=replace(case.wanted, outline=box), bridges=tabs)
    told = list(loose_piece_findings.find_overhang(stretched))
    assert [one.measured for one in told] == ([] if measured is None else [pytest.approx(measured)])


@pytest.mark.parametrize(("what", "line"), [("dwells", "G4 P1"), ("stops", "M0"), ("stops", "M1")])
def test_a_stop_or_dwell_in_the_trench(what, line):
    """In the groove of side A the cutter stands on its floor, beside the stock."""
    at = nth(A, r"^G2 .* Z-0\.7000", 1)
    spoilt = A[:at] + line + "\n" + A[at:]
    (one,) = found("dwell-in-metal", a=spoilt)
    assert one.message.startswith(f"{what} with the cutter in metal")
    high = inserted(A, r"^M5$", line, 2)
    assert not found("dwell-in-metal", a=high)


def test_the_spindle_stopped_and_started_in_the_cut():
    at = nth(A, r"^G2 .* Z-0\.7000", 1)
    told = found("dwell-in-metal", a=A[:at] + "M5\nM3\nG4 P3\n" + A[at:])
    assert {f.message.split(" with")[0] for f in told} == {
        "stops the spindle", "starts the spindle", "dwells"
    }  # fmt: skip
    # M3 again while it turns changes nothing
    assert not found("dwell-in-metal", a=A[:at] + "M3\nG4 P0\n" + A[at:])


def test_a_cutter_over_deeper_ground_touches_nothing():
    """In the middle of the opened bore, 1 mm of radius clear all round and above the skin."""
    at = nth(A, r"^G0 Z5\.0000", 1)
    head, tail = A[:at], A[at:]
    assert head.splitlines()[-1].startswith("G1 X27.0000 Y25.0000 Z-2.7500")
    assert found("dwell-in-metal", a=f"{head}M0\n{tail}")  # it stands on the skin
    assert not found("dwell-in-metal", a=f"{head}G1 Z-2.7 F100\nM0\n{tail}")


@pytest.mark.parametrize(
    ("form", "wide"),
    [
        ({"kind": "bull-nose", "corner": 1.0}, 0.5 + math.sqrt(1.0 - 0.8**2)),
        ({"kind": "ball", "corner": 1.5}, math.sqrt(1.5**2 - 1.3**2)),
        ({"kind": "chamfer", "tip": 0.8, "half_angle": math.radians(45)}, 0.4 + 0.2),
        ({}, 1.5),
    ],
)
def test_metal_that_meets_a_corner_or_cone_only(form, wide):
    """0.2 mm below the face the cutter is ``wide`` there; its end is over the groove, at Z-0.68."""
    order = hand.order()
    second = replace(order.cutters[0], number=2, **form)
    order = replace(order, cutters=(*order.cutters, second))
    head = "T2 M6\nS8000 M3\nG4 P3\nM7\nG43 H2\n"

    def stopped(gap):
        beside = f"G0 X45.0000 Y{hand.EDGE - wide - gap:.4f}\nG0 Z0.5000\nG1 Z-0.2000 F150\n"
        lines = head + beside + "M0\nG1 Z0.5000\nG0 Z5.0000"
        return found("dwell-in-metal", order, a=inserted(A, r"^M2$", lines))

    (one,) = stopped(-0.1)
    assert one.message.startswith("stops with the cutter in metal")
    assert not stopped(0.05)


def test_a_speed_changed_without_a_dwell():
    at = nth(A, r"^G2 .* Z-0\.7000", 1)
    (one,) = found("dwell-in-metal", a=A[:at] + "S7000\n" + A[at:])
    assert "from 8000 to 7000 rev/min" in one.message
    assert not found("dwell-in-metal", a=A[:at] + "S7950\n" + A[at:])
    lifted = "G0 Z5.0000\nS7000\n{}G0 Z0.5000\nG1 Z-0.7000 F100\n"
    start = nth(A, r"^G1 .* Z-0\.7000", 3)
    for pause, count in (("G4 P3\n", 0), ("", 1)):
        spoilt = A[:start] + lifted.format(pause) + A[start:]
        told = [f for f in found("dwell-in-metal", a=spoilt) if "changed" in f.message]
        assert len(told) == count


@pytest.mark.parametrize("early", [2.0, 5.6])
def test_a_lift_begun_too_early_leaves_a_heavier_tab(early):
    """The flank is longer by that, so half of it times the thickness is added: 0.4 mm2 for 2 mm."""
    middle = hand.EDGE + hand.TAB_PLACES[0]
    half = hand.WAIST / 2 + hand.RADIUS
    lines = []
    for line in B.splitlines():
        seen = re.match(r"G1 X(\S+) (Y\S+) (Z\S+)", line)
        x = float(seen[1]) if seen else 0.0
        if seen and middle - half - 3 < x < middle - half - 0.05:
            line = line.replace(f"X{seen[1]}", f"X{x - early:.4f}")
        lines.append(line)
    (one, *_) = found("tab-section", b="\n".join(lines) + "\n")
    # 0.4 (1.5 + 0.4 (1 + 2.747) / 2) = 0.900 as ordered
    assert one.measured > 0.9 + 0.3 * early * 0.4 / 2
    assert "breaks at about" in one.message


def test_screws_alone_and_a_far_end():
    """From the bore at (12, 10) to the far corners is 48 mm; 10 thicknesses are 30."""
    order = hand.order(workholding=Workholding(kind="bores", screws=("pin",)))
    bare = replace(order, tabs=replace(order.tabs, count=0, stations=()))
    dropped = re.sub(r"^(G1 X\S+ Y\S+ )Z(0\.[89]\S*|1\.\S+)", r"\g<1>Z0.5000", B, flags=re.M)
    told = found("overhang", bare, b=dropped)
    assert [round(one.measured) for one in told] == [48]
    clamped = replace(bare, setup=replace(
        bare.setup, workholding=replace(bare.setup.workholding, tip_clamp=True)))  # fmt: skip
    assert not found("overhang", clamped, b=dropped)

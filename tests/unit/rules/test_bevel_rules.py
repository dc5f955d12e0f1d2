"""Each rule refuses what it is there for, at the limit, and lets a good blade pass."""

import math
import re
from dataclasses import replace

import pytest

from knifecam.blade import Bevel, Blade, Bore, EdgeBreak, Jimping, Plunge, Slot
from knifecam.blade.cutter_limits import cutter_refused, plunge_cutter_refused
from knifecam.blade.jimping import fitted_row
from knifecam.curve import Stretch, polyline, rectangle
from knifecam.quantity import told
from knifecam.rules.bevel_cutter_rules import break_cutter_refused
from knifecam.rules.bevel_rules import refused

PLATE = rectangle(0, 0, 100, 30)
PLUNGE = Plunge(line=polyline([(20, -5), (20, 40)], closed=False), radius=6.0)
BEVEL = Bevel(
    name="V",
    edge=Stretch(start=0, end=100),
    angle=math.atan(1.3 / 15),
    land=0.4,
    plunges=(PLUNGE,),
)
BACK = EdgeBreak(
    name="E", of="outline", side="A", width=0.3, stretches=(Stretch(start=150, end=200),)
)


def row(start, end, name="J"):
    stretch = Stretch(start=start, end=end)
    return fitted_row(PLATE, stretch, name=name, diameter=2.5, depth=0.45, pitch=2.8)


GOOD = Blade(
    outline=PLATE,
    thickness=3.0,
    bevels=(BEVEL,),
    bores=(
        Bore(name="B", centre=(8, 20), diameter=5.0),
        Bore(name="D", centre=(8, 8), diameter=4.0, depth=1),
    ),
    slots=(Slot(name="S", outline=rectangle(30, 22, 40, 25)),),
    breaks=(
        BACK,
        replace(BACK, name="F", side="B"),
        EdgeBreak(name="G", of="B", side="B", width=0.3),
        EdgeBreak(name="H", of="D", side="A", width=0.3),
        EdgeBreak(name="I", of="S", side="A", width=0.3),
    ),
    jimping=(row(205, 225),),
)

TIGHT = Jimping(
    name="K",
    stretch=Stretch(start=205, end=225),
    diameter=1.5,
    depth=0.5,
    pitch=1.6,
    centres=((24.0, 30.25), (22.4, 30.25)),
)


def bevel(**figures):
    return replace(GOOD, bevels=(replace(BEVEL, **figures),))


def breaks(**figures):
    return replace(GOOD, breaks=(replace(BACK, **figures),))


def across(x, start, end):
    return replace(PLUNGE, line=polyline([(x, start), (x, end)], closed=False))


BAD = {
    "too steep": (
        bevel(angle=math.radians(25.2), plunges=()),
        r"angle=25\.200 degrees must be within 1\.5\.\.25",
    ),
    "too flat": (bevel(angle=math.radians(1.4)), r"angle=1\.400 degrees"),
    "land as thick as the plate": (bevel(land=3.0), r"less than the thickness=3\.000 mm"),
    "land out of the plate": (
        bevel(edge_at=1.31),
        r"edge_at=1\.310 mm puts the land out.*-1\.300\.\.1\.300 mm",
    ),
    "land at a face that is ground": (bevel(edge_at=1.3), r"the land reaches side A's face"),
    "hollow dips": (bevel(profile="hollow", wheel=87.0), r"wheel=87\.0 mm dips"),
    "no wheel": (bevel(profile="hollow"), r"wheel=0\.0 mm dips"),
    "convex falls": (
        bevel(profile="convex", sag=0.33),
        r"sag=0\.33 mm must be above 0 and below 0\.32",
    ),
    "no edge": (bevel(edge=Stretch(start=5, end=5)), "the edge has no length"),
    "edge all round": (
        bevel(edge=Stretch(start=0, end=231), plunges=()),
        r"turns by 270\.0 degrees",
    ),
    "wider than the blade": (
        bevel(angle=math.atan(1.3 / 30.1)),
        r"grind height=30\.100 mm on side A is more than.*30\.000 mm at the middle",
    ),
    "plunge beside the edge": (
        bevel(plunges=(across(120, -5, 40),)),
        "plunge 1 does not cross the edge",
    ),
    "plunge the wrong way": (
        bevel(plunges=(across(20, 40, -5),)),
        "on the left of plunge 1; reverse its line",
    ),
    "one side without its edge": (
        bevel(sides="A"),
        r"land=0\.400 mm, but both sides leave 1\.700 mm.*-1\.300 mm on A",
    ),
    "break of nothing": (breaks(of="B7"), "side A has no edge of 'B7'"),
    "break of a blind bore's bottom": (
        breaks(of="D", side="B", stretches=()),
        "side B has no edge of 'D'",
    ),
    "break as deep as half the plate": (breaks(width=1.5), r"width=1\.500 mm goes 1\.500 mm deep"),
    "break on the edge": (
        breaks(stretches=(Stretch(start=60, end=90),)),
        r"the face falls off in a bevel at \(60\.000, 0\.000\) of side A",
    ),
    "break on the flat side of the edge": (
        replace(
            bevel(sides="A", edge_at=-1.3),
            breaks=(replace(BACK, side="B", stretches=(Stretch(start=60, end=90),)),),
        ),
        r"at \(60\.000, 0\.000\) the edge is ground from the other side, and on side B",
    ),
    "two bevels on one edge": (
        replace(GOOD, bevels=(BEVEL, replace(BEVEL, name="W", angle=math.radians(8)))),
        r"'W' lies on 100\.00 mm of the edge of bevel 'V' on side A and B",
    ),
    "break over the plunge": (
        breaks(stretches=(Stretch(start=5, end=19),)),
        "falls off in a bevel",
    ),
    "break all round": (breaks(stretches=()), "falls off in a bevel"),
    "break over notches": (
        breaks(stretches=(Stretch(start=150, end=206),)),
        "runs over the notches of jimping 'J'",
    ),
    "slivers": (replace(GOOD, jimping=(TIGHT,)), r"pitch=1\.600 mm leaves 0\.186 mm"),
    "notches in the bevel": (
        replace(GOOD, breaks=(), jimping=(row(40, 60, "K"),)),
        "jimping 'K' runs into a bevel on side A",
    ),
}


def test_a_good_blade_passes():
    assert refused(GOOD) == ()


@pytest.mark.parametrize("case", BAD)
def test_each_rule_refuses_what_it_is_there_for(case):
    blade, message = BAD[case]
    lines = [told(line) for line in refused(blade)]
    assert lines
    assert any(re.search(message, one) for one in lines), lines


@pytest.mark.parametrize(
    "blade",
    [
        bevel(angle=math.radians(25), plunges=()),
        replace(bevel(angle=math.atan(1.3 / 30)), breaks=(), jimping=()),
        bevel(sides="A", edge_at=-1.3, angle=math.atan(2.6 / 20)),
        bevel(profile="hollow", wheel=87.3),
        bevel(profile="convex", sag=0.325),
        breaks(width=1.499),
        breaks(stretches=(Stretch(start=0, end=15),), width=0.3),
    ],
)
def test_figures_at_their_limits_pass(blade):
    assert refused(blade) == ()


def test_what_lies_below_the_edge_line_needs_a_plunge():
    """A guard that goes 4 mm below the edge: its outline would be thinner than the land."""
    guard = polyline([(0, -4), (10, -4), (10, 0), (100, 0), (100, 30), (0, 30)])
    at = guard.stations
    edge = Stretch(start=float(at[2]), end=float(at[3]))
    bare = replace(GOOD, outline=guard, bevels=(replace(BEVEL, edge=edge, plunges=()),), breaks=(),
                   jimping=())  # fmt: skip
    assert any(
        "bevels leave -0.2" in one and "let a plunge end" in one for one in map(told, refused(bare))
    )
    ended = replace(bare, bevels=(replace(BEVEL, edge=edge),))
    assert refused(ended) == ()


def test_a_recurve_refuses_the_cutter_that_is_too_wide_for_it():
    bay = polyline([(0, 0), (40, 0), (44, 0), (100, 0), (100, 30), (0, 30)],
                   bulges=[0, -0.5, 0, 0, 0, 0])  # fmt: skip
    blade = replace(GOOD, outline=bay)
    one = replace(BEVEL, edge=Stretch(start=40.0, end=float(bay.stations[2])))
    # radius 4 x 1.25 / 2 = 2.5 mm; R - r + r sin a = 2.5 gives R = 2.5 + 1 - 0.086342 at corner 1
    limit = 2.5 + 1 - math.sin(BEVEL.angle)
    assert cutter_refused(one, blade, radius=limit - 1e-4, corner=1.0) == ()
    (said,) = map(told, cutter_refused(one, blade, radius=limit + 1e-3, corner=1.0))
    assert "recurve of radius 2.500 mm" in said
    assert f"at most {2 * limit:.3f} mm" in said
    assert cutter_refused(BEVEL, GOOD, radius=50.0, corner=0.0) == ()


def test_a_plunge_refuses_what_acts_wider_than_it():
    (a, b) = map(told, plunge_cutter_refused(BEVEL, GOOD, radius=3.0, corner=0.5))
    acts = 0.5 + 2.5 / math.sin(BEVEL.angle)
    assert f"acts there like {acts:.3f} mm; use a ball of at most 12.000 mm" in a
    assert "side A" in a
    assert "side B" in b
    assert plunge_cutter_refused(BEVEL, GOOD, radius=6.0, corner=6.0) == ()
    assert plunge_cutter_refused(BEVEL, GOOD, radius=6.01, corner=6.01) != ()


def test_inner_corners_refuse_the_mill_that_cannot_enter():
    assert break_cutter_refused(replace(GOOD, breaks=(BACK,)), axis=5.0) == ()
    lines = [told(line) for line in break_cutter_refused(GOOD, axis=0.4)]
    assert len(lines) == 1
    assert "edge break 'I': an inner corner of radius 0.000 mm of S" in lines[0]
    lines = [told(line) for line in break_cutter_refused(GOOD, axis=2.2)]
    assert [one.split("'")[1] for one in lines] == ["H", "I"]


def test_a_blade_too_narrow_for_the_steepest_bevel_is_not_told_to_order_a_steeper_one():
    """1.3 mm over 2.7 mm are 25.7 degrees; 25 are the most, and reach 2.788 mm."""
    steepest = replace(BEVEL, angle=math.radians(25))
    narrow = Blade(outline=rectangle(0, 0, 100, 2.7), thickness=3.0, bevels=(steepest,))
    said = next(line for line in map(told, refused(narrow)) if "grind height" in line)
    assert "grind height=2.788 mm on side A is more than the blade's width of 2.700 mm" in said
    assert said.endswith(
        "25.7 degrees would be needed, 25 are the most: use a thinner plate or a thicker land"
    )

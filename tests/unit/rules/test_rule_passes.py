"""Each closed rule refuses what it is there for, and lets a good order pass."""

import re
from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import Bore, Slot
from knifecam.curve import Curve
from knifecam.rules.rule_passes import contradictions, feasible
from knifecam.shop import Boring, Clamp, Mill, Registration, Workholding
from tests.agreement.orders import simple_order

GOOD = simple_order()


def test_a_good_order_passes():
    assert feasible(GOOD) == ()


def with_setup(**changes):
    return replace(GOOD, setup=replace(GOOD.setup, **changes))


def with_cutters(**changes):
    return replace(GOOD, cutters=tuple(replace(c, **changes) for c in GOOD.cutters))


def with_bore(**changes):
    bore = replace(GOOD.blade.bores[0], **changes)
    return replace(GOOD, blade=replace(GOOD.blade, bores=(bore,)))


def with_reference(depth):
    bores = (Bore(name="P1", centre=(-47.0, 0.0), diameter=6.0, depth=depth),)
    return with_setup(registration=Registration(kind="pins", bores=bores))


BROKEN = {
    "no roughing": (
        replace(GOOD, cutting=tuple(c for c in GOOD.cutting if c.stage != "rough")),
        "no entry for stage 'rough'",
    ),
    "narrow trench": (
        replace(GOOD, trench=replace(GOOD.trench, width=3.2)),
        r"outline\.width=3\.200 mm must be at least 1\.25 x D",
    ),
    "no overlap": (
        replace(GOOD, trench=replace(GOOD.trench, overlap=0.15)),
        r"overlap=0\.150 mm leaves a ridge",
    ),
    "meet below the plate": (
        replace(GOOD, trench=replace(GOOD.trench, depth_a=2.8)),
        "does not fit a plate of 3.000 mm",
    ),
    "neck as thick as the cutter": (
        with_cutters(neck=3.0, flute_length=2.6),
        r"neck=3\.000 mm is not relieved, and rubs above flute_length=2\.60 mm",
    ),
    "thick tab": (
        replace(GOOD, tabs=replace(GOOD.tabs, thickness=2.4)),
        r"tabs\.thickness=2\.400 mm must leave side B",
    ),
    "tab too thick to snap": (
        replace(GOOD, tabs=replace(GOOD.tabs, thickness=0.78)),
        r"tabs\.thickness=0\.780 mm must be from 0\.23 to 0\.77 mm: side B's Z zero may be 0\.03 mm off",
    ),
    "tab too thin to hold": (
        replace(
            with_setup(z_zero=("face", "face")), tabs=replace(GOOD.tabs, thickness=0.24)
        ),
        r"tabs\.thickness=0\.240 mm must be from 0\.25 to 0\.75 mm: the plate may be 0\.05 mm thinner",
    ),
    "thick root": (with_cutters(corner=0.2), "thickens the tab's root"),
    "short reach": (with_cutters(reach=2.0, flute_length=1.9), r"reach=2\.00 mm is less than"),
    "short flutes": (with_cutters(flute_length=2.0), r"flute_length=2\.00 mm is less than"),
    "tight bore": (with_bore(diameter=3.1), "leaves no helix; use one of 2.48 mm or less"),
    "bore at the rim": (with_bore(centre=(-15.0, 6.5)), "leaves 1.000 mm of metal to the outline"),
    "bore at a slot": (with_bore(centre=(2.0, 0.0)), "bore 'B1' leaves 0.500 mm of metal to slot"),
    "thin skin": (
        replace(GOOD, boring=Boring(skin=0.09)),
        r"bores\.skin=0\.090 mm must be at least 0\.100 mm where Z of side A is counted from the face",
    ),
    "thin skin over a fixture as zero": (
        replace(with_setup(z_zero=("fixture", "fixture")), boring=Boring(skin=0.04)),
        r"bores\.skin=0\.040 mm must be at least 0\.050 mm",
    ),
    "no room for a tab": (
        replace(GOOD, trench=replace(GOOD.trench, depth_a=2.85, overlap=0.2)),
        r"tabs\.thickness=0\.400 mm finds no room: side A goes 2\.950 mm deep",
    ),
    "plate larger than the mill": (
        with_setup(mill=Mill(travel=(54.0, 250.0, 200.0))),
        r"plate\.length=110 mm must be at most twice the mill's travel in X, mill\.travel\[1\]=54 mm",
    ),
    "zero out of reach": (
        # the trench ends 3.9 - 1.5 mm beside x = 30, and X0 is touched at the plate's edge, -55
        with_setup(mill=Mill(travel=(87.0, 250.0, 200.0))),
        r"side A: trench, reference bores and program zero span 87\.40 mm in X, more than mill\.travel",
    ),
    "Z counted downward": (
        with_setup(mill=Mill(machine_zero=((100.0, 100.0, -90.0), (100.0, 150.0, -93.0)))),
        r"side A: Z runs from -90\.60 to -85\.00 mm in machine coordinates, the mill's from 0 to 200"
        r" mm; set mill\.machine_zero_a as the mill shows it, and mill\.travel_from\[3\] to the lowest",
    ),
    "through reference over a fixture": (with_reference(None), "goes through: order bores.opening"),
    "reference in the trench": (
        with_setup(
            registration=Registration(
                kind="pins", bores=(Bore(name="P1", centre=(-35.0, 0.0), diameter=6.0, depth=2.7),)
            )
        ),
        "reaches 1.90 mm into the trench",
    ),
    "small plate": (
        with_setup(plate=replace(GOOD.setup.plate, width=40.0)),
        "is left outside the trench at the upper edge",
    ),
    "clamp in the way": (
        with_setup(
            clamps=(
                Clamp(side="A", x_low=50, y_low=5, x_high=60, y_high=12.5, height=10),
            )
        ),
        r"stands 3\.60 mm from the trench",
    ),
    "clamp over the trench": (
        with_setup(
            clamps=(
                Clamp(side="A", x_low=50, y_low=5, x_high=60, y_high=18.0, height=10),
            )
        ),
        r"reaches 1\.90 mm into the trench; at least 5\.0 mm must stay",
    ),
    "unknown screw": (
        with_setup(workholding=Workholding(kind="bores", screws=("B9",))),
        "'B9' is no bore of the blade",
    ),
    "wide head": (
        with_setup(workholding=Workholding(kind="bores", screws=("B1",), head_diameter=19.5)),
        "comes within 0.25 mm of the trench",
    ),
    "too many tabs": (replace(GOOD, tabs=replace(GOOD.tabs, count=20)), "take half the outline"),
    "nothing left for finishing": (
        replace(GOOD, cutting=tuple(replace(c, allowance=0.0) for c in GOOD.cutting)),
        r'in stage "rough": allowance=0 mm must be at least 0\.02 mm',
    ),
    "wide stepover": (
        replace(GOOD, cutting=tuple(replace(c, stepover=3.5) for c in GOOD.cutting)),
        r"stepover=3\.5 mm must be at most its diameter",
    ),
}  # fmt: skip


def test_a_thin_skin_is_enough_where_nothing_moves_it():
    assert feasible(replace(GOOD, boring=Boring(skin=0.1))) == ()
    by_bed = replace(with_setup(z_zero=("fixture", "fixture")), boring=Boring(skin=0.05))
    assert feasible(by_bed) == ()


def test_machine_coordinates_may_begin_below_zero():
    zeros = ((100.0, 100.0, -90.0), (100.0, 150.0, -93.0))
    mill = Mill(machine_zero=zeros, travel_from=(0.0, 0.0, -200.0))
    assert feasible(with_setup(mill=mill)) == ()
    high = Mill(machine_zero=zeros, travel_from=(0.0, 0.0, -286.0))  # up to -86
    assert [x[:9] for x in feasible(with_setup(mill=high))] == ["side A: Z", "side B: Z"]


def test_a_corner_too_large_for_the_tab_says_what_would_do():
    line = feasible(with_cutters(corner=0.15))[-1]
    assert line == (
        "cutter 1 and 2: corner=0.150 mm thickens the tab's root; at most a third of"
        " tabs.thickness=0.400 mm will do: take one with a corner of 0.133 mm or less, or order"
        " tabs.thickness=0.45 mm"
    )


@pytest.mark.parametrize("name", BROKEN)
def test_each_rule_refuses_for_its_own_reason(name):
    order, reason = BROKEN[name]
    lines = feasible(order)
    assert any(re.search(reason, line) for line in lines), lines


def test_what_contradicts_itself_is_refused_by_one_rule():
    """The relieved fixture and the thick skin had two rules each, one of them with another limit."""
    shallow = replace(GOOD, boring=Boring(opening="relieved"))
    (line,) = (*contradictions(shallow), *feasible(shallow))
    assert line == (
        "setup.fixture_allowance=0 mm must be at least 0.5 mm with a relieved fixture:"
        " bores.through=0.2 mm"
        " and 0.3 mm"
    )
    thick = replace(GOOD, boring=Boring(skin=1.6))
    (line,) = (*contradictions(thick), *feasible(thick))
    assert line.startswith("bores.skin=1.6 mm must be less than half the blade's thickness, 1.5 mm")


def test_a_clamp_keeps_off_the_bores_that_side_a_makes():
    bores = (Bore(name="P1", centre=(-47.0, 0.0), diameter=6.0, depth=2.7),)
    clamp = Clamp(side="A", x_low=-10.0, y_low=40.0, x_high=8.0, y_high=70.0, height=8.0)
    order = with_setup(registration=Registration(kind="edges", bores=bores), clamps=(clamp,))
    assert feasible(order) == ()  # the bore at (8, 30) of the program ends 7 mm below it
    low = replace(clamp, y_low=36.0)
    lines = feasible(replace(order, setup=replace(order.setup, clamps=(low,))))
    assert [re.sub(r".*stands ", "", line) for line in lines] == [
        "3.00 mm from registration bore 'P1'; at least 5.0 mm must stay between them: move it away"
        " from the blade"
    ]
    on_b = replace(low, side="B")
    assert feasible(replace(order, setup=replace(order.setup, clamps=(on_b,)))) == ()


def test_a_loop_that_crosses_itself_is_refused_with_the_place():
    """A bow tie: both diagonals of a square, which cross in its middle."""
    tie = Curve(np.array([(5.0, -2.0), (20.0, 4.0), (20.0, -2.0), (5.0, 4.0)]), np.zeros(4))
    lines = feasible(
        replace(GOOD, blade=replace(GOOD.blade, slots=(Slot(name="S1", outline=tie),)))
    )
    assert "slots: slot 'S1' crosses or touches itself at (12.500, 1.000): draw it without" in lines


def test_slots_are_measured_between_their_corners():
    """The first slot's corners are 2.53 mm from the second, its long edge is 0.8 mm."""
    high = Curve(np.array([(0.0, -4.0), (3.2, -4.0), (3.2, 4.0), (0.0, 4.0)]), np.zeros(4))
    wide = Curve(np.array([(4.0, -1.6), (20.0, -1.6), (20.0, 1.6), (4.0, 1.6)]), np.zeros(4))
    slots = (Slot(name="S1", outline=high), Slot(name="S2", outline=wide))
    lines = feasible(replace(GOOD, blade=replace(GOOD.blade, slots=slots)))
    assert [line[:59] for line in lines] == [
        "slot 'S1' leaves 0.800 mm of metal to slot 'S2'; at least 1"
    ]


def test_bores_of_a_pattern_too_tight_for_the_cutter_are_told_in_one_line():
    order = simple_order()
    row = tuple(Bore(name=f"P1-{k}", centre=(6.0 * k - 12, 0.0), diameter=3.1) for k in range(1, 4))
    lines = feasible(replace(order, blade=replace(order.blade, bores=row)))
    (line,) = [one for one in lines if "no helix" in one]
    assert line.startswith("bore 'P1-1' and 2 more like it, diameter=3.100 mm")

"""Lands and floors that a plate or a Z a little off would eat are refused, and what is told would do."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from knifecam.blade import Blade
from knifecam.rules.rule_passes import feasible
from knifecam.rules.tolerance_rules import lost_of_land
from knifecam.shop import Order
from knifecam.shop.defaults import propose_cutter
from tests.agreement.bevel_blades import ordered, shop, straight_blade

THICK = 3.5


def one_sided(sides: str, land: float, zeros: tuple[str, str]) -> Order:
    flush = (THICK - land) / 2
    at = {"A": -flush, "B": flush, "both": 0.0}[sides]
    blade = straight_blade(thickness=THICK, angle_deg=10.0)
    bevel = replace(blade.bevels[0], sides=sides, land=land, edge_at=at)
    order = ordered(replace(blade, bevels=(bevel,)), shop())
    return replace(order, setup=replace(order.setup, z_zero=zeros))


@pytest.mark.parametrize(
    ("sides", "zeros", "least"),
    [
        ("A", ("face", "fixture"), 0.10),
        ("A", ("fixture", "fixture"), 0.08),
        ("B", ("face", "fixture"), 0.08),
        ("B", ("face", "face"), 0.10),
        ("both", ("face", "fixture"), 0.08),
        ("both", ("fixture", "face"), 0.08),
        ("both", ("face", "face"), 0.10),
        ("both", ("fixture", "fixture"), 0.10),
    ],
)
def test_the_thinnest_land_follows_from_who_cuts_it_and_from_where(
    sides: str, zeros: tuple[str, str], least: float
) -> None:
    """0.05 mm must remain of it; 0.05 mm of plate or 0.03 mm of side B's Z zero may be lost."""
    rule = f"must be at least {least:.2f} mm"
    thin = feasible(one_sided(sides, least - 0.005, zeros))
    assert any(rule in line for line in thin)
    enough = feasible(one_sided(sides, least, zeros))
    assert not any("land=" in line and "must be at least" in line for line in enough)


def test_zeros_that_would_bear_the_land_are_named() -> None:
    (line, _) = (
        row for row in feasible(one_sided("A", 0.09, ("face", "fixture"))) if "land=" in row
    )
    assert line.endswith('or order plate.z_zero_a = "fixture"')
    assert "the plate may be 0.05 mm thinner" in line
    (line,) = (row for row in feasible(one_sided("both", 0.09, ("face", "face"))) if "land=" in row)
    assert line.endswith('or order plate.z_zero_b = "fixture"')


def test_faces_of_two_bevels_that_meet_at_one_edge_lose_what_two_sides_lose() -> None:
    """Both counted from the fixture: one face alone loses nothing, two in a thicker plate 0.05 mm."""
    order = one_sided("both", 0.09, ("fixture", "fixture"))
    (bevel,) = order.blade.bevels
    above, below = (replace(bevel, name=side, sides=side) for side in "AB")
    blade = replace(order.blade, bevels=(above, below))
    lines = [line for line in feasible(replace(order, blade=blade)) if "land=0.090" in line]
    assert len(lines) == 2
    assert all("must be at least 0.10 mm: the plate may be 0.05 mm thicker" in x for x in lines)
    assert all(x.endswith('or order plate.z_zero_a = "face"') for x in lines)


def test_side_b_loses_its_own_z_where_no_plate_moves_it() -> None:
    setup = one_sided("B", 0.4, ("face", "fixture")).setup
    assert lost_of_land(setup, "B")[0] == 0.03
    assert lost_of_land(setup, "A")[0] == 0.05
    assert lost_of_land(replace(setup, z_zero=("fixture", "fixture")), "A")[0] == 0.0


def thin(thickness: float, land: float = 0.2, corner: float = 0.1) -> Order:
    mills = (
        propose_cutter(1, "bull-nose", 2.0, corner=corner),
        *shop(nose=4.0, corner=0.5, ball=4.0)[2:],
    )
    blade = straight_blade(angle_deg=5.0, thickness=thickness, land=land)
    return ordered(blade, mills)


def over_bed(order: Order) -> list[str]:
    return [line for line in feasible(order) if " the fixture, at least " in line]


@pytest.mark.parametrize("thickness", [0.8, 0.9, 1.0, 1.1, 1.2, 1.5])
def test_thin_plates_are_proposed_a_meeting_that_side_b_reaches_above_its_bed(
    thickness: float,
) -> None:
    """Side B's walls end half the overlap beyond the meeting plane: 0.15 mm, and 0.05 mm stay."""
    order = thin(thickness)
    assert order.trench.depth_a >= 0.15 + 0.05 - 1e-9
    assert over_bed(order) == []


def test_a_meeting_that_side_b_reaches_only_in_the_bed_is_refused_with_one_that_does() -> None:
    order = thin(0.9)
    near = replace(order, trench=replace(order.trench, depth_a=0.1505))
    (line,) = over_bed(near)
    assert "side B goes to 0.001 mm above the fixture, at least 0.03 mm must stay" in line
    assert "side B's Z may be set 0.03 mm too low" in line
    named = float(re.search(r"order outline\.depth_a=(\d\.\d+) mm or more", line)[1])
    assert over_bed(replace(order, trench=replace(order.trench, depth_a=named))) == []
    assert over_bed(replace(order, trench=replace(order.trench, depth_a=named - 0.011)))


def test_side_b_counting_from_the_face_wants_more() -> None:
    order = thin(0.9)
    near = replace(order, trench=replace(order.trench, depth_a=0.19))
    assert over_bed(near) == []
    by_face = replace(near, setup=replace(near.setup, z_zero=("face", "face")))
    assert "the plate may be 0.05 mm thinner" in over_bed(by_face)[0]
    assert over_bed(replace(by_face, setup=replace(by_face.setup, fixture_allowance=0.1))) == []


def test_a_land_too_high_in_a_thin_plate_is_refused_with_the_corner_that_would_do() -> None:
    """0.4 of plate above the middle, the edge 0.2 up, 0.07 cleared, 0.03 over the fixture: 0.24 stay."""
    (line,) = over_bed(thin(0.8, land=0.4))
    assert "outline.overlap=0.24 mm at most in place of 0.300 mm" in line
    assert "corners of 0.07 mm or less" in line
    assert over_bed(thin(0.8, land=0.4, corner=0.07)) == []


def test_side_a_stays_above_its_bed_too() -> None:
    blade = replace(straight_blade(thickness=3.0), bevels=())
    order = ordered(Blade(outline=blade.outline, thickness=3.0), shop())
    deep = replace(order, trench=replace(order.trench, depth_a=2.82, web=0.01))
    (line,) = over_bed(deep)
    assert "side A goes to 0.030 mm above the fixture, at least 0.05 mm must stay" in line
    assert "order outline.depth_a=2.80 mm or less in place of 2.820 mm" in line

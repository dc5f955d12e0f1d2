"""Round holes that are drawn as slots of many lines: the cutter is led onto their wall in the open."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import Point

from knifecam.blade import Blade, Bore, Slot
from knifecam.curve import Curve, circle, polyline
from knifecam.errors import PlanError
from knifecam.making import make
from knifecam.paths.curve_following import lead_in
from knifecam.paths.offset import offset
from knifecam.paths.opening_motions import finish_ring, strip_met
from knifecam.planning import lay_out
from knifecam.planning.life_groups import wall_feed
from knifecam.quantity import told
from knifecam.rules.rule_passes import feasible
from knifecam.shop import Order
from knifecam.shop.defaults import propose_cutter
from tests.agreement.bevel_blades import ordered
from tests.agreement.orders import rounded
from tests.agreement.test_inner_corners import with_slot


def hole(sides: int, across: float) -> Curve:
    """Return a regular polygon about (8, 0)."""
    turn = np.arange(sides) * 2 * np.pi / sides
    rim = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return Curve(np.array([8.0, 0.0]) + across / 2 * rim, np.zeros(sides))


@pytest.mark.parametrize("sizes", [(4.0, 2.0), (6.0, 3.0), (8.0, 4.0)])
def test_a_hole_of_44_lines_is_milled_by_the_thickest_cutter_chosen(
    sizes: tuple[float, float],
) -> None:
    """An arc of two radii, 8 mm, leads a cutter of 8 mm across a hole whose track is 6 mm in radius.

    Smaller cutters came down within what roughing had left.
    """
    blade = Blade(
        outline=rounded(-45, -18, 45, 18, 6), thickness=3.0,
        slots=(Slot(name="S1", outline=hole(44, 20.0)),),
        bores=(Bore(name="B1", centre=(-25.0, 0.0), diameter=5.0),),
    )  # fmt: skip
    cutters = [propose_cutter(k, "bull-nose", size, corner=0.1) for k, size in enumerate(sizes, 1)]
    made = make(ordered(blade, cutters), cell=0.1)
    assert made.verdict.findings == ()
    assert {cut.cutter for cut in made.plan.cuts if cut.name == "SLOTS"} == {1}


@pytest.mark.parametrize(("across", "thick"), [(8.0, 3.0), (4.5, 3.0), (4.0, 2.0)])
def test_a_hole_of_24_lines_is_led_onto_from_between_its_corners(
    across: float, thick: float
) -> None:
    """Both leads fit only where each begins well before a corner, or well after it.

    Onto the narrowest a lead of half the cutter's radius took 0.28 to 0.37 mm2 of 0.26.
    """
    order = with_slot(polyline(np.array(hole(24, across).vertices)), thick)
    assert make(order, cell=0.1).verdict.findings == ()


@pytest.mark.parametrize("arm", [0.4, 0.6, 0.9])
def test_what_a_lead_meets_by_areas_of_discs(arm: float) -> None:
    """Against shapely: what each step of 2 um opens, of a ring that nothing has cut, over its length.

    In a hole of 4 mm, for a cutter of 2 mm and 0.06 mm of stock.
    """
    ring = Point(0, 0).buffer(2.0, quad_segs=720) - Point(0, 0).buffer(1.94, quad_segs=720)
    aside = 0.9 * arm
    into = lead_in(circle((0.0, 0.0), 2.0), 0.0, radius=arm, aside=aside, z=0.0, feed=1.0)
    run = np.linspace(0.0, 2 * np.pi * into.turns[0], 60)
    centre = complex(*into.centre[0])
    begun = complex(*into.start[0, :2]) - centre
    widest = 0.0
    for angle in run:
        discs = [
            Point(p.real, p.imag).buffer(1.0, quad_segs=720)
            for p in (centre + begun * np.exp(1j * (angle - back)) for back in (0.0, 0.002 / arm))
        ]
        widest = max(widest, (discs[0] - discs[1]).intersection(ring).area / 0.002)
    found = strip_met(into, circle((0.0, 0.0), 4.0), 0.06, 1.0)
    assert found == pytest.approx(widest, rel=0.05)


def waisted() -> Curve:
    """Return an opening of two squares of 8 mm with a waist 2.4 mm wide, though it is 4.1 mm broad."""
    right = [(2.0, -1.2), (2.0, -4.0), (10.0, -4.0), (10.0, 4.0), (2.0, 4.0), (2.0, 1.2)]
    return polyline([*right, *((-x, -y) for x, y in right)])


def slotted(outline: Curve, *sizes: float, flutes: float = 4.0) -> Order:
    """Return a blade with one slot, which no entry of its order is for: the cutters are chosen."""
    blade = Blade(
        outline=rounded(-30, -12, 30, 12, 6), thickness=3.0,
        slots=(Slot(name="S1", outline=outline),),
        bores=(Bore(name="B1", centre=(-20.0, 0.0), diameter=5.0),),
    )  # fmt: skip
    cutters = [
        replace(propose_cutter(k, "bull-nose", size, corner=0.1), flute_length=flutes, reach=8.0)
        for k, size in enumerate(sizes, 1)
    ]
    return ordered(blade, cutters)


def test_the_first_cutter_that_passes_a_slots_waist_is_taken() -> None:
    order = slotted(waisted(), 4.0, 3.0, 2.0, 1.5)
    assert [c.cutter for c in order.cuttings("slot")] == [1, 2, 3, 4]
    assert {cut.cutter for cut in lay_out(order).cuts if cut.name.startswith("SLOTS")} == {3}


def test_a_slot_that_none_can_mill_is_refused_with_what_hinders_each() -> None:
    with pytest.raises(PlanError) as refused:
        lay_out(slotted(waisted(), 4.0, 3.0))
    first, *each = refused.value.lines
    assert first == "slot 'S1' cannot be milled with any cutter of stage 'slot'"
    assert [line[: len("cutter 1: ")] for line in each] == ["cutter 1: ", "cutter 2: "]
    assert all("it is too narrow in its middle" in line for line in each)
    assert "use one of 2.39 mm or less" in each[0]


def test_a_cutter_too_short_for_a_slots_wall_leaves_it_to_the_next() -> None:
    order = slotted(hole(44, 10.0), 3.0, 2.0)
    assert {c.cutter for c in lay_out(order).cuts if c.name.startswith("SLOTS")} == {1}
    short, long = order.cutters
    order = replace(order, cutters=(replace(short, flute_length=2.7), long))
    assert not [line for line in feasible(order) if "wall it finishes" in line and "slot" in line]
    assert {c.cutter for c in lay_out(order).cuts if c.name.startswith("SLOTS")} == {2}


def test_a_hole_of_200_lines_is_finished_no_faster_at_the_rim_than_a_round_one() -> None:
    """The rim runs Dm / (Dm - D) = 2 times as fast as the axis: 150 mm/min for the 300 given.

    It took 300 on the axis, and 556 at the rim on the arc that leads onto the wall.
    """
    order = with_slot(polyline(np.array(hole(200, 4.0).vertices)), 2.0)
    made = make(order)
    assert made.verdict.findings == ()
    for cut in made.plan.cuts:
        if cut.name.startswith("SLOTS"):
            m = cut.motions
            # the last lap and its two arcs
            begun = np.flatnonzero((m.turns != 0) & (m.feed > 0))[-2]
            assert m.feed[begun : begun + 200] == pytest.approx(150.0, rel=0.02)


def test_a_slot_whose_cutters_are_all_too_short_is_refused_with_each() -> None:
    order = slotted(hole(44, 10.0), 3.0, 2.0, flutes=2.7)
    lines = [told(line) for line in feasible(order) if "wall it finishes in one pass" in line]
    for number in (1, 2):
        assert f"cutter {number}: flute_length=2.70 mm is less than the 2.75 mm wall" in " ".join(
            lines
        )
    with pytest.raises(PlanError) as refused:
        lay_out(order)
    assert [line[:11] for line in refused.value.lines[1:]] == ["cutter 1: f", "cutter 2: f"]


def test_a_lead_beside_a_corner_runs_as_slowly_as_the_lap_there() -> None:
    """Round a corner's centre, rho off, a cutter's rim of radius R runs (1 + R / rho) times as fast."""
    radius, feed = 2.0, 267.0
    wall = rounded(0.0, 0.0, 19.64, 8.78, 4.17)
    away = radius - 0.1
    lap = offset(wall, -away)[0].counter_clockwise()
    made = finish_ring(
        lap, wall, away=away, stock=0.08, widest=1.0, z=0.0, radius=radius,
        feed=wall_feed(feed, away, radius),
    )  # fmt: skip
    centres = np.array([(x, y) for x in (4.17, 15.47) for y in (4.17, 4.61)])
    axis = made.start[0, :2]
    rho = np.hypot(*(centres - axis).T).min()
    assert rho < 3.0, "it begins beside a corner"
    assert made.feed[0] * (1 + radius / rho) <= 1.5 * feed

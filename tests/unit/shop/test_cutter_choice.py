"""Which cutter does what: hand-worked shops and blades."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from knifecam.blade import Blade, Bore, EdgeBreak, Slot
from knifecam.curve import polyline, rectangle
from knifecam.shop import Cutter
from knifecam.shop.cutter_choice import choose_cutters, inner_radius, slot_room
from knifecam.shop.defaults import propose_cutter

BULGE_90 = 0.41421356237309503


def shop(*diameters: float, kind: str = "flat") -> list[Cutter]:
    return [propose_cutter(k, kind, d) for k, d in enumerate(diameters, start=1)]


def bore(diameter: float, *, fitted: bool = False) -> Bore:
    return Bore(name=f"b{diameter}", centre=(20, 10), diameter=diameter, fitted=fitted)


def blade(*bores: Bore, **more: object) -> Blade:
    return Blade(outline=rectangle(0, 0, 100, 20), thickness=3.0, bores=bores, **more)


def chosen(cutters: list[Cutter], made: Blade) -> dict[str, list[float]]:
    found: dict[str, list[float]] = {}
    for stage, number in choose_cutters(cutters, made):
        found.setdefault(stage, []).append(cutters[number - 1].diameter)
    return found


def test_inside_arcs_only_count() -> None:
    # a notch of radius 3 cut into the lower edge, and a rounded corner of radius 5
    notched = polyline(
        [(0, 0), (10, 0), (16, 0), (40, 0), (45, 5), (45, 20), (0, 20)],
        bulges=[0, -1, 0, BULGE_90, 0, 0, 0],
    )
    assert inner_radius(notched, -1) == pytest.approx(3.0)
    assert inner_radius(notched, 1) == pytest.approx(5.0)
    assert inner_radius(rectangle(0, 0, 1, 1), -1) == float("inf")


def test_a_slot_of_width_8_takes_a_cutter_below_its_end_arcs() -> None:
    stadium = polyline([(0, 0), (20, 0), (20, 8), (0, 8)], bulges=[0, 1, 0, 1])
    assert slot_room(stadium) == pytest.approx(min(8 / 1.15, 2 * 210.265 / 65.133), rel=1e-3)
    assert slot_room(rectangle(0, 0, 10, 4)) <= 4


@pytest.mark.parametrize(
    ("bores", "diameters", "boring"),
    [
        ([5.0], [2, 3, 4], [4]),  # 5/4 = 1.25, 5/3 = 1.67: the thickest that leaves no slug
        ([5.0], [2, 3, 6], [3]),
        ([5.0, 8.0], [3], [3]),  # 8 > 1.9 x 3: cleared from the inside
        ([4.0, 5.0], [3], [3]),
        ([3.0, 8.0], [2, 5], [2, 5]),
        ([3.0], [4], []),
        ([3.0], [2.8], [2.8]),  # tight, but it can turn
    ],
)
def test_bores(bores: list[float], diameters: list[float], boring: list[float]) -> None:
    assert chosen(shop(*diameters), blade(*map(bore, bores))).get("bore", []) == boring


def test_as_few_cutters_as_open_all_bores() -> None:
    cutters = shop(2.8, 3, 4)
    assert chosen(cutters, blade(bore(3.6), bore(4.0), bore(5.0)))["bore"] == [2.8]


def test_fitted_bores_are_finished_by_the_cutter_kept_for_walls() -> None:
    made = blade(bore(5.0, fitted=True))
    found = choose_cutters(shop(3.0, 2.99), made)
    assert dict(found) == {"bore": 1, "fit": 2, "rough": 1, "finish": 2}
    assert "fit" not in chosen(shop(3), blade(bore(5.0)))


def test_small_fitted_bores_are_finished_by_the_cutter_that_opened_them() -> None:
    found = chosen(shop(4, 2), blade(bore(3.0, fitted=True)))
    assert found["fit"] == found["bore"] == [2]
    assert found["finish"] == [4]


def test_a_fitted_bore_is_opened_under_its_size() -> None:
    assert chosen(shop(4, 3), blade(bore(5.0)))["bore"] == [4]
    assert chosen(shop(4, 3), blade(bore(5.0, fitted=True)))["bore"] == [3]


def test_cutters_of_one_size_need_not_measure_the_same() -> None:
    found = dict(choose_cutters(shop(2.99, 3.0, 2.985), blade(bore(5.0))))
    assert found == {"bore": 1, "rough": 1, "finish": 3}


def test_a_ball_does_not_cut_walls() -> None:
    assert chosen(shop(3, kind="ball"), blade(bore(5.0))) == {}


def test_thick_cutters_do_not_cut_the_outline_when_there_is_another() -> None:
    assert chosen(shop(6, 3), blade())["rough"] == [3]
    assert chosen(shop(6), blade())["rough"] == [6]


def test_the_outlines_inner_corners_bound_the_cutter() -> None:
    outline = polyline(
        [(0, 0), (40, 0), (42.4, 0), (100, 0), (100, 20), (0, 20)], bulges=[0, -1, 0, 0, 0, 0]
    )
    made = Blade(outline=outline, thickness=3.0)  # a notch of radius 1.2
    assert chosen(shop(3, 2), made)["finish"] == [2]


def test_a_short_cutter_is_passed_over() -> None:
    long, short = propose_cutter(1, "flat", 2.0), propose_cutter(2, "flat", 3.0)
    short = Cutter(
        number=2, kind="flat", diameter=3.0, flute_length=2.0, neck=2.8, reach=2.0, shank=6.0,
        stickout=20.0,
    )  # fmt: skip
    found = dict(choose_cutters([long, short], blade()))
    assert found["rough"] == 1


def test_slots_want_a_cutter_that_fits_the_smallest() -> None:
    slots = (
        Slot(name="a", outline=rectangle(10, 5, 30, 15)),
        Slot(name="b", outline=rectangle(40, 8, 60, 11)),
    )
    assert chosen(shop(4, 2), blade(slots=slots))["slot"] == [2]


def test_every_thinner_size_may_mill_a_slot_too() -> None:
    """Which of them passes its waist only the planner sees; thicker ones than its room never do."""
    slots = (Slot(name="a", outline=rectangle(10, 5, 30, 10)),)  # 2 x 100 / 50 = 4 mm broad
    assert chosen(shop(2.5, 6, 3, 3.01, 4), blade(slots=slots))["slot"] == [4, 3, 2.5]
    assert chosen(shop(8, 6), blade(slots=slots))["slot"] == [6]


def test_of_one_size_the_slots_cutter_is_one_whose_flutes_finish_the_wall() -> None:
    """2.75 mm of a plate of 3 mm, its skin aside."""
    long = propose_cutter(1, "flat", 3.0)
    short = replace(long, number=2, flute_length=2.7)
    slots = (Slot(name="a", outline=rectangle(10, 5, 30, 10)),)
    for cutters, wanted in (([short, long], 1), ([long, short], 1), ([short], 2)):
        stages = [n for stage, n in choose_cutters(cutters, blade(slots=slots)) if stage == "slot"]
        assert stages == [wanted]


def test_an_edge_is_broken_by_a_mill_thick_enough_for_it() -> None:
    """At 45 degrees a break of 0.8 mm, its tip 0.35 mm below, wants 0.1 + 1.15 mm of radius."""
    thin, thick = (
        Cutter(
            number=k, kind="chamfer", diameter=wide, tip=0.2, half_angle=math.pi / 4, neck=wide,
            flute_length=3.0, reach=8.0, shank=6.0, stickout=20.0,
        )
        for k, wide in ((1, 2.4), (2, 6.0))
    )  # fmt: skip
    for width, wanted in ((0.7, 1), (0.8, 2)):
        breaks = (EdgeBreak(name="E", of="outline", side="A", width=width),)
        assert dict(choose_cutters([thin, thick], blade(breaks=breaks)))["break"] == wanted


def test_tabs_are_necked_by_the_thickest_cutter_that_turns_in_the_trench() -> None:
    """A trench is at least as wide as the 2.5 mm cutter that opens it: 1.5 mm is more than half."""
    for sizes, wanted in (((2.5, 1.5, 1.0), 1.0), ((3.0, 1.5, 1.0), 1.5), ((1.9, 1.5, 1.2), 1.2)):
        stages = dict(choose_cutters(shop(*sizes), blade(), necks=True))
        assert shop(*sizes)[stages["neck"] - 1].diameter == wanted

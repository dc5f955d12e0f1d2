"""Naive orders of bevels are refused, each for its own reason; and what side B is told to measure."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from knifecam.blade import Blade
from knifecam.curve import Stretch, polyline
from knifecam.errors import PlanError
from knifecam.order import load_order, order_from_text
from knifecam.planning import lay_out
from knifecam.program import write_program
from knifecam.quantity import told
from knifecam.rules.rule_passes import feasible
from knifecam.shop import Bevelling, Order
from knifecam.shop.defaults import propose_cutter, propose_cutting
from tests.agreement.bevel_blades import ordered, shop, straight_blade

EXAMPLES = Path(__file__).parents[3] / "examples"


def good() -> Order:
    return ordered(straight_blade(), shop())


def reground(**changes: object) -> Blade:
    blade = straight_blade()
    return replace(blade, bevels=(replace(blade.bevels[0], **changes),))  # type: ignore[arg-type]


def with_cutter(order: Order, stage: str, kind: str, diameter: float, corner: float) -> Order:
    """Let a further cutter do one stage."""
    cutter = propose_cutter(9, kind, diameter, corner=corner)
    entry = propose_cutting(cutter, stage, blade=order.blade)
    kept = tuple(c for c in order.cutting if c.stage != stage)
    return replace(order, cutters=(*order.cutters, cutter), cutting=(*kept, entry))


def test_a_good_order_is_not_refused() -> None:
    assert feasible(good()) == ()


def test_a_plunge_narrower_than_the_bull_nose_acts_is_refused() -> None:
    """R 3 with r 0.5 at 5 degrees acts like 29.2 mm."""
    (line,) = feasible(with_cutter(good(), "plunge-line", "bull-nose", 6.0, 0.5))[:1]
    assert "plunge of radius=6.000 mm" in line
    assert "acts there like 29.18" in line


def test_a_bevel_wider_than_the_blade_is_refused() -> None:
    blade = reground(angle=math.radians(3.0))
    assert any("more than the blade's width of 24.000 mm" in line
               for line in feasible(replace(good(), blade=blade)))  # fmt: skip


def test_a_ball_on_a_slope_of_five_degrees_is_refused() -> None:
    lines = feasible(with_cutter(good(), "bevel-finish", "ball", 6.0, 3.0))
    assert any("0.261 mm from its axis, where it rubs" in line for line in lines)


def test_no_clearing_is_refused() -> None:
    order = good()
    kept = tuple(c for c in order.cutting if c.stage != "clear")
    assert any("stage 'clear'" in line for line in feasible(replace(order, cutting=kept)))


def test_a_recurve_tighter_than_the_cutter_acts_is_refused() -> None:
    blade = straight_blade()
    bent = polyline(
        [(-60, -12), (18.5, -12), (21.5, -12), (60, -12), (60, 12), (-60, 12)],
        bulges=[0, -math.tan(math.radians(30)), 0, 0, 0, 0],
    )  # a bay of radius 1.73 mm; the cutter acts like 2.09 mm
    bevel = replace(blade.bevels[0], edge=Stretch(start=52.0, end=120.2))
    lines = feasible(replace(good(), blade=replace(blade, outline=bent, bevels=(bevel,))))
    assert any("is tighter than R - r + r sin a" in line for line in lines)


def field(*changes: tuple[str, str], more: str = "") -> Order:
    """Return the field knife's order with lines of its text changed, and more behind them."""
    text = (EXAMPLES / "field-knife-230x32.toml").read_text()
    for before, after in changes:
        assert before in text
        text = text.replace(before, after)
    return order_from_text(text + more, folder=EXAMPLES)


def wide_plunge(radius: float) -> Order:
    return field(('plunge = "PLUNGE"', f'plunge = "PLUNGE"\nplunge_radius = {radius}'))


def stage(name: str, cutter: int, **figures: float) -> str:
    """Return an entry of [[cutting]] as text."""
    rows = [f"{key} = {value}" for key, value in figures.items()]
    return "\n".join(["", "[[cutting]]", f"cutter = {cutter}", f'stage = "{name}"', *rows, ""])


def test_a_plunge_that_grinds_the_chin_outside_the_edges_line_is_refused() -> None:
    """The heel drops to 5.5 mm below the edge's own line; 0.2 mm stayed there, planned and found.

    Of the chin 0.17 mm outside, s = 7.45 mm past the plunge's line, the surface has left the flat
    where R - sqrt(R^2 - s^2) = (1.75 - 0.2 + 0.17 tan 5) cos 5: from R = 18.7 mm down. Further out
    it must leave sooner.
    """
    (line,) = feasible(wide_plunge(30))
    assert line.startswith("bevel 'bevel-1': plunge 1 of radius=30.000 mm still grinds the blade")
    assert "outside the edge's own line at (" in line
    most = float(re.search(r"order plunge_radius=(\S+) mm or less", line)[1])  # type: ignore[index]
    assert feasible(wide_plunge(most)) == ()
    assert feasible(wide_plunge(most + 0.5)) != ()


@pytest.mark.parametrize(
    ("entry", "told", "cure"),
    [
        (("bevel-rough", "stepdown", 0.5), "leave 0.630 mm, into which stage 'bevel-semi'", 0.32),
        (("bevel-semi", "stepover", 5.9), "and stepover leave 0.493 mm, into", None),
    ],
)
def test_a_pass_is_led_no_more_steeply_into_what_was_left(
    entry: tuple[str, str, float], told: str, cure: float | None
) -> None:
    """An arc of radius 1 that ends 0.3 aside is acos(0.7) = 0.795 mm long: 0.459 mm at 30 degrees.

    0.5 + 0.13 - 0.05 mm of stairs and 0.05 mm above them are 0.63 mm.
    """
    name, key, value = entry
    (line,) = feasible(field(more=stage(name, 3, **{key: value})))
    assert told in line
    assert "beside plunges; at most 30 may be" in line
    if cure is None:
        assert line.endswith("order stepover less")
    else:
        assert line.endswith(f"order {key}={cure:.2f} mm or less")
        assert feasible(field(more=stage(name, 3, **{key: cure}))) == ()


def test_a_land_that_side_bs_z_may_eat_is_refused() -> None:
    lines = feasible(replace(good(), blade=reground(land=0.07)))
    assert any("land=0.070 mm must be at least 0.08 mm" in line for line in lines)


def test_a_trench_that_passes_the_edge_is_refused() -> None:
    order = good()
    deep = replace(order, trench=replace(order.trench, depth_a=1.6))
    assert any(
        "outline.depth_a=1.600 mm lets side A's trench pass" in line for line in feasible(deep)
    )


def test_allowances_that_do_not_fall_from_stage_to_stage_are_refused() -> None:
    order = good()
    entries = tuple(
        replace(c, allowance=0.2) if c.stage == "bevel-semi" else c for c in order.cutting
    )
    lines = feasible(replace(order, cutting=entries))
    assert any("each must leave more than the one after it" in line for line in lines)


def test_a_plate_too_small_for_what_is_opened_is_refused() -> None:
    order = ordered(straight_blade(), shop(), border=14.0)
    assert feasible(order) == ()
    with pytest.raises(PlanError, match="stay outside what is opened for bevels"):
        lay_out(order)


def test_side_b_stops_to_be_measured_where_that_is_ordered() -> None:
    order = replace(good(), bevelling=Bevelling(measure_stop=True))
    plan = lay_out(order)
    text = write_program(order, plan, "B").text
    asked = text.index("MEASURE THE LAND IN THREE PLACES")
    assert asked < text.index("M0", asked) < text.index("G1", asked)
    assert "MEASURE THE LAND" not in write_program(order, plan, "A").text
    assert "MEASURE THE LAND" not in write_program(good(), lay_out(good()), "B").text


def test_bevels_come_after_what_is_opened_and_before_the_tabs() -> None:
    names = [cut.stage for cut in lay_out(good()).side("B")]
    first, last = names.index("bevel-rough"), len(names) - 1 - names[::-1].index("plunge-line")
    assert names.index("clear") < names.index("finish") < first
    assert "rough" in names[last + 1 :]
    assert names[-1] == "finish"
    between = list(dict.fromkeys(names[first : last + 1]))
    assert between == ["bevel-rough", "bevel-semi", "bevel-finish", "plunge-line"]


STEEP = math.radians(9.0)


def with_tab(order: Order, station: float) -> Order:
    return replace(order, tabs=replace(order.tabs, stations=(station,)))


def on_tabs(order: Order) -> list[str]:
    return [line for line in feasible(order) if line.startswith("tabs.stations[1]")]


def test_a_tab_ordered_on_an_edge_is_refused_with_the_stretch() -> None:
    order = good()
    edge = order.blade.bevels[0].edge
    (line,) = on_tabs(with_tab(order, edge.start + 10.0))
    assert f"={edge.start + 10.0:.2f} mm, at (" in line
    assert (
        f"lies on the edge of bevel '{order.blade.bevels[0].name}', stations {edge.start:.1f}"
        in line
    )


def test_a_tab_ordered_where_none_may_be_is_refused() -> None:
    order = good()
    kept = Stretch(
        start=order.blade.bevels[0].edge.end + 30.0, end=order.blade.bevels[0].edge.end + 50.0
    )
    order = replace(order, tabs=replace(order.tabs, no_tabs=(kept,)))
    (line,) = on_tabs(with_tab(order, kept.start + 5.0))
    assert "lies on a stretch of no_tabs" in line


def test_a_tab_ordered_on_what_is_opened_is_refused() -> None:
    """What is opened for the bevel goes past the ends of its edge by more than a cutter's radius."""
    order = good()
    with pytest.raises(PlanError, match="lies on what is opened for bevels"):
        lay_out(with_tab(order, order.blade.bevels[0].edge.end % order.blade.outline.length + 1.0))


def test_grooves_left_open_under_bevels_are_refused() -> None:
    order = good()
    (line,) = feasible(replace(order, setup=replace(order.setup, support="none")))
    assert 'setup.support="none": side B opens' in line


def test_a_land_that_would_do_is_named_and_does() -> None:
    """Ground on A alone down to B's face: what is wanting above the fixture the land must give."""
    half = straight_blade().thickness / 2
    blade = reground(sides="A", angle=STEEP, land=0.25, edge_at=0.125 - half)
    (line,) = [
        one for one in feasible(replace(good(), blade=blade)) if "the fixture; at least" in one
    ]
    wanted = float(line.split("order land=")[1].split(" mm")[0])
    for land, left in ((wanted, False), (wanted - 0.011, True)):
        blade = reground(sides="A", angle=STEEP, land=land, edge_at=land / 2 - half)
        lines = feasible(replace(good(), blade=blade))
        assert any("the fixture; at least" in one for one in lines) is left


def test_more_allowance_than_a_pass_comes_down_beside_is_told_by_its_key():
    """The wall's pass beside an opened edge comes from 0.3 mm beside the wall; 0.3 mm may stand there."""
    order = load_order(EXAMPLES / "field-knife-230x32.toml")

    def leaving(allowance: float) -> Order:
        cutting = tuple(
            replace(one, allowance=allowance) if one.stage == "rough" else one
            for one in order.cutting
        )
        return replace(order, cutting=cutting)

    with pytest.raises(PlanError) as caught:
        lay_out(leaving(0.5))
    (line,) = map(told, caught.value.lines)
    assert "allowance=0.500 mm must be at most 0.300 mm" in line
    assert lay_out(leaving(0.3)).side("B")

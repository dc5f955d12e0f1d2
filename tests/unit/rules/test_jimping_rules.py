"""Jimping as planned, on hand-worked figures, and what of it is refused."""

from dataclasses import replace

import pytest

from knifecam.blade import Bore, Jimping
from knifecam.blade.jimping import fitted_row
from knifecam.curve import Stretch, polyline, station_of
from knifecam.planning import lay_out
from knifecam.planning.tab_places import allowed_places
from knifecam.quantity import told
from knifecam.rules.jimping_rules import jimping
from knifecam.rules.rule_passes import feasible
from tests.agreement.details import jimped, top_stretch
from tests.agreement.orders import simple_order


def test_notches_are_bored_in_solid_before_the_outline():
    names = [(c.side, c.name) for c in lay_out(jimped()).cuts]
    assert names == [
        ("A", "BORES"), ("A", "SLOTS"), ("A", "JIMPING"), ("A", "OUTLINE TRENCH"),
        ("A", "OUTLINE WALL"), ("B", "BORES OPENED"), ("B", "SLOTS OPENED"),
        ("B", "JIMPING OPENED"), ("B", "OUTLINE TRENCH"), ("B", "OUTLINE WALL"),
    ]  # fmt: skip


def test_helices_stand_where_the_notches_are_and_leave_the_skin():
    """T 3, skin 0.25: A stops at -1.25; B, corner radii 0.1, opens 2 x 0.1 + 0.1 past it."""
    order = jimped()
    plan = lay_out(order)
    a, b = (next(c for c in plan.side(s) if c.stage == "notch") for s in "AB")
    row = order.blade.jimping[0]
    for cut, sign in ((a, 1.0), (b, -1.0)):  # turned about X
        circles = cut.motions.turns == 1.0
        middles = {(round(x, 6), round(sign * y, 6)) for x, y in cut.motions.centre[circles]}
        assert middles == {(round(x, 6), round(y, 6)) for x, y in row.centres}
        assert cut.motions.radii[circles] == pytest.approx(0.25)  # (2.5 - 2.0) / 2
    assert a.bottom == pytest.approx(-1.25)
    assert b.bottom == pytest.approx(0.95)
    # 2.5 wide and 0.45 deep: the axis stands 0.8 mm off the edge at y = 10
    assert [y for _, y in row.centres] == pytest.approx([10.8] * len(row.centres))


def test_a_short_cutter_meets_itself_in_the_middle():
    order = jimped(reach=2.0)
    a, b = (next(c for c in lay_out(order).side(s) if c.stage == "notch") for s in "AB")
    assert a.bottom == b.bottom == pytest.approx(-0.15)  # (2 x 0.1 + 0.1) / 2 past the middle
    assert feasible(order) == ()


def test_no_tab_stands_on_jimping():
    order = jimped()
    row = order.blade.jimping[0]
    stations, allowed = allowed_places(order, 4.0)
    whole = order.blade.outline.length
    near = (stations - row.stretch.start + 4.0) % whole <= 16.0 + 8.0
    assert not allowed[near].any()
    assert allowed_places(simple_order(), 4.0)[1][near].any()


def stretch_between(outline, first, last):
    start, end = station_of(outline, [first, last])
    return Stretch(start=float(start), end=float(end))


def refused(order, *words):
    lines = [line for line in feasible(order) if all(word in line for word in words)]
    assert len(lines) == 1, feasible(order)


def with_row(order, **changes):
    row = replace(order.blade.jimping[0], **changes)
    return replace(order, blade=replace(order.blade, jimping=(row,)))


def test_a_sound_row_is_not_refused():
    assert feasible(jimped()) == ()


def test_the_pitch_of_the_bench_that_chips_is_refused():
    """Diameter 1.5, depth 0.5, pitch 1.6 leaves 1.6 - 2 sqrt(0.5 x 1.0) = 0.186 mm."""
    order = jimped()
    centres = tuple((10.0 - 1.6 * k, 10.25) for k in range(4))
    row = Jimping(
        name="J1", stretch=top_stretch(order.blade.outline, 11.0, 4.0), diameter=1.5, depth=0.5,
        pitch=1.6, centres=centres,
    )  # fmt: skip
    refused(replace(order, blade=replace(order.blade, jimping=(row,))), "0.186 mm of land")


def test_notches_too_near_to_a_bore_are_refused():
    order = jimped()
    bores = (*order.blade.bores, Bore(name="B2", centre=(12.0, 6.5), diameter=4.0))
    refused(replace(order, blade=replace(order.blade, bores=bores)), "jimping 'J1'", "bore 'B2'")


def test_hooked_teeth_are_refused():
    refused(with_row(jimped(), depth=1.4), "half the diameter")


def test_notches_wider_than_the_trench_are_refused():
    order = jimped()
    narrow = replace(order.trench, width=2.0)
    refused(replace(order, trench=narrow), "slivers beyond it")


def test_a_cutter_as_wide_as_the_notch_is_refused():
    order = jimped(diameter=2.05)
    refused(order, "leaves no helix")


def test_a_cutter_too_short_for_the_middle_is_refused():
    refused(jimped(reach=1.2), "reach=1.20 mm is less than the 1.65 mm")


def test_a_notch_that_cuts_the_other_wall_of_a_bay_is_refused():
    """The bay is 1.8 mm wide; a notch of 2.5 mm reaches 2.05 mm out of its wall."""
    order = jimped()
    outline = polyline(
        [(-30, -10), (30, -10), (30, 10), (11, 10), (11, 2), (9.2, 2), (9.2, 10), (-30, 10)]
    )
    row = fitted_row(
        outline, stretch_between(outline, (9.2, 3.0), (9.2, 9.0)), name="J1", diameter=2.5,
        depth=0.45, pitch=3.0,
    )  # fmt: skip
    order = replace(order, blade=replace(order.blade, outline=outline, slots=(), jimping=(row,)))
    assert any("cuts the outline at (11" in line for line in map(told, jimping(order)))
    wide = polyline(
        [(-30, -10), (30, -10), (30, 10), (14, 10), (14, 2), (9.2, 2), (9.2, 10), (-30, 10)]
    )
    row = replace(row, stretch=stretch_between(wide, (9.2, 3.0), (9.2, 9.0)))
    order = replace(order, blade=replace(order.blade, outline=wide, jimping=(row,)))
    assert list(jimping(order)) == []

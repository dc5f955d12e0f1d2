"""Edge breaks as planned, on hand-worked figures, and what of them is refused."""

import math
from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import Bevel, Bore, EdgeBreak
from knifecam.curve import Stretch, distance, polyline, station_of
from knifecam.errors import PlanError
from knifecam.paths.edge_break_motions import cone_for, steps_of
from knifecam.planning import lay_out
from knifecam.planning.edge_break_cuts import break_notes
from knifecam.quantity import told
from knifecam.rules.rule_passes import feasible
from knifecam.shop import Workholding
from knifecam.shop.defaults import propose_cutter
from knifecam.shop.side_view import floors
from tests.agreement.details import broken, chamfer_mill, jimped, top_stretch, with_cutter
from tests.agreement.orders import rounded, simple_order


def an_edge(side="A", of="outline", width=0.3, **changes):
    return EdgeBreak(name="E1", of=of, side=side, width=width, **changes)


def test_the_formula_of_the_bench():
    """c = r_tip + k tan h; 2 r_tip + 2 k + 0.3 of free width: 1.1 for r_tip 0.1, 2.9 for 1 [calc]."""
    for r_tip, wide in ((0.1, 1.1), (1.0, 2.9)):
        cone = cone_for(tip=2 * r_tip, half_angle=math.pi / 4, width=0.3, below=0.3)
        assert cone.away == pytest.approx(r_tip + 0.3)
        assert cone.depth == pytest.approx(0.6)
        assert cone.rim == pytest.approx(r_tip + 0.6)
        assert cone.away + cone.rim == pytest.approx(wide)


def test_a_steeper_cone():
    """30 degrees against the face: half angle 60, 0.4 wide is 0.4 tan 30 = 0.231 deep."""
    cone = cone_for(tip=0.2, half_angle=math.radians(60), width=0.4, below=0.3)
    assert cone.depth == pytest.approx(0.4 * math.tan(math.radians(30)) + 0.3)
    assert cone.away == pytest.approx(0.1 + 0.3 * math.tan(math.radians(60)))
    assert cone.rim - cone.away == pytest.approx(0.4)


def test_wide_breaks_are_cut_in_equal_steps_at_one_depth():
    cone = cone_for(tip=0.2, half_angle=math.pi / 4, width=0.7, below=0.35)
    steps = steps_of(cone, 0.3)
    assert [s.width for s in steps] == pytest.approx([0.7 / 3, 1.4 / 3, 0.7])
    assert {round(s.depth, 9) for s in steps} == {round(cone.depth, 9)}
    assert {round(s.rim, 9) for s in steps} == {round(cone.rim, 9)}
    assert steps[-1].away == pytest.approx(cone.away)


def test_breaks_follow_the_finished_wall_and_side_b_has_a_groove_for_them():
    order = broken(an_edge("A"), an_edge("B"), an_edge("A", "B1"), an_edge("B", "S1"))
    names = [(c.side, c.name) for c in lay_out(order).cuts]
    assert names == [
        ("A", "BORES"), ("A", "SLOTS"), ("A", "OUTLINE TRENCH"), ("A", "OUTLINE WALL"),
        ("A", "EDGE BREAKS"), ("B", "BORES OPENED"), ("B", "SLOTS OPENED"),
        ("B", "OUTLINE GROOVE"), ("B", "OUTLINE GROOVE'S WALL"), ("B", "EDGE BREAKS"),
        ("B", "OUTLINE TRENCH"), ("B", "OUTLINE WALL"),
    ]  # fmt: skip
    groove, trench = (c for c in lay_out(order).side("B") if c.stage == "rough")
    assert groove.bottom == pytest.approx(1.5 - 0.7)  # 0.3 + 0.35 + 0.05 under the face
    m = trench.motions
    along = (m.kind != 0) & (np.abs(m.stop - m.start)[:, :2].max(axis=1) > 0)
    assert m.start[along, 2].max() == pytest.approx(0.8 + 0.1)  # it goes on where the groove ends


def test_bores_under_screws_are_broken_before_the_screws_go_in():
    order = broken(an_edge("B", "B1"), an_edge("B"))
    hold = Workholding(kind="bores", screws=("B1",))
    cuts = lay_out(replace(order, setup=replace(order.setup, workholding=hold))).side("B")
    names = [c.name for c in cuts]
    assert names[:4] == ["BORES OPENED", "SLOTS OPENED", "EDGE BREAKS", "OUTLINE GROOVE"]
    assert ["SCREWS" in "".join(c.stop) for c in cuts[:4]] == [False, False, False, True]


def test_the_axis_runs_at_the_cone_s_radius_off_the_wall_and_never_nearer():
    """Tip 0.2, k 0.35 at 45 degrees: the axis runs 0.45 off, its tip 0.65 under the face."""
    order = broken(an_edge("A"), an_edge("A", "S1"))
    (cut,) = [c for c in lay_out(order).side("A") if c.stage == "break"]
    m = cut.motions
    low = (m.kind != 0) & (m.start[:, 2] == m.stop[:, 2])
    assert m.stop[low, 2] == pytest.approx(np.full(low.sum(), 1.5 - 0.65))
    away = np.minimum(
        distance(m.stop[low, :2], order.blade.outline),
        distance(m.stop[low, :2], order.blade.slots[0].outline),
    )
    assert away.min() == pytest.approx(0.45, abs=1e-6)
    # climbing: the wall lies on the right of all straight motions
    line = low & (m.kind == 1)
    way = (m.stop - m.start)[line, :2]
    right = np.stack([way[:, 1], -way[:, 0]], axis=1) / np.hypot(*way.T)[:, None]
    middle = (m.stop + m.start)[line, :2] / 2
    walls = (order.blade.outline, order.blade.slots[0].outline)
    here, there = (
        np.min([distance(p, w) for w in walls], axis=0) for p in (middle, middle + 0.1 * right)
    )
    assert there == pytest.approx(here - 0.1)


def test_a_shallow_trench_takes_the_tip_up():
    """Meet 0.55, overlap 0.3, clearance 0.02: side A's floor lies 0.68 deep; 0.05 stays under it."""
    order = broken(an_edge("A"))
    order = replace(order, trench=replace(order.trench, depth_a=0.55))
    assert floors(order).a_finish == pytest.approx(1.5 - 0.68)
    (cut,) = [c for c in lay_out(order).side("A") if c.stage == "break"]
    assert cut.bottom == pytest.approx(1.5 - 0.63)
    assert feasible(order) == ()


def test_stretches_are_broken_from_end_to_end_and_nowhere_else():
    order = simple_order()
    stretch = top_stretch(order.blade.outline, 15.0, -5.0)
    order = broken(an_edge("A", stretches=(stretch,)))
    (cut,) = [c for c in lay_out(order).side("A") if c.stage == "break"]
    m = cut.motions
    low = (m.kind == 1) & (m.start[:, 2] == m.stop[:, 2])
    assert m.start[low, 1] == pytest.approx(10.45)
    assert m.start[low, 0].min() == pytest.approx(-5.0 + 0.4, abs=0.4)  # clockwise: toward +X
    assert m.stop[low, 0].max() == pytest.approx(15.0 - 0.4, abs=0.4)
    assert (m.stop[low, 0] > m.start[low, 0]).all()


def test_jimping_is_not_run_over():
    order = jimped()
    one = an_edge("A")
    order = with_cutter(
        replace(order, blade=replace(order.blade, breaks=(one,))), chamfer_mill(), "break"
    )
    assert any("runs over the notches" in line for line in feasible(order))
    whole = order.blade.outline.length
    row = order.blade.jimping[0].stretch
    beside = Stretch(start=(row.end + 1) % whole, end=(row.start - 1) % whole)
    blade = replace(order.blade, breaks=(replace(one, stretches=(beside,)),))
    assert feasible(replace(order, blade=blade)) == ()


def refused(order, *words):
    lines = [line for line in feasible(order) if all(word in line for word in words)]
    assert len(lines) == 1, feasible(order)


def test_sound_breaks_are_not_refused():
    assert (
        feasible(broken(an_edge("A"), an_edge("B"), an_edge("A", "B1"), an_edge("B", "S1"))) == ()
    )


def test_a_break_of_nothing_is_refused():
    refused(broken(an_edge("A", "S9")), "has no edge of 'S9'")


def test_a_break_without_a_mill_of_its_angle_is_refused():
    refused(broken(an_edge("A", angle=math.radians(30))), "half_angle=60.00 deg")


def test_a_break_too_deep_for_the_trench_of_side_a_is_refused():
    """0.5 + 0.3 below, and 0.73 - 0.05 of trench: 0.12 mm are missing."""
    refused(broken(an_edge("A", width=0.5)), "order outline.depth_a=0.720 mm")


def test_a_break_into_side_b_s_web_is_refused():
    order = broken(an_edge("B", width=0.6))
    thin = replace(order, trench=replace(order.trench, depth_a=1.7))
    refused(thin, "edge break 'E1'", "into the web")


def test_a_blunt_mill_in_a_narrow_trench_is_refused():
    """Tip 2.4: 2 x 1.55 + 2 x 0.3 + 0.1 = 3.8 mm, in a trench of 3.7."""
    order = broken(an_edge("A"), tip=2.4)
    assert feasible(order) == ()
    refused(replace(order, trench=replace(order.trench, width=3.75)), "wants a trench of 3.800 mm")


def test_a_mill_that_fills_the_bore_is_refused():
    order = broken(an_edge("A", "B1"), tip=2.4)
    bores = (replace(order.blade.bores[0], diameter=3.7),)
    refused(replace(order, blade=replace(order.blade, bores=bores)), "1.900 mm all round")


def test_a_blind_bore_is_broken_on_side_a_only_and_where_it_is_deep_enough():
    blind = (Bore(name="B1", centre=(-15.0, 0.0), diameter=5.0, depth=0.6),)
    order = broken(an_edge("A", "B1"))
    refused(replace(order, blade=replace(order.blade, bores=blind)), "the bore 0.600 mm")
    order = broken(an_edge("B", "B1"))
    refused(replace(order, blade=replace(order.blade, bores=blind)), "side B has no edge of 'B1'")


def test_a_slot_too_narrow_for_the_mill_is_refused():
    order = broken(an_edge("A", "S1"), tip=4.8)
    refused(order, "nowhere so wide")


def relieved(order, relief, **changes):
    return replace(order, boring=replace(order.boring, oversize=relief, **changes))


@pytest.mark.parametrize("of", ["B1", "S1"])
def test_a_break_that_side_b_s_opening_takes_away_is_refused(of):
    """The skin is opened half the relief past the wall: 0.2 - 0.25 mm leaves no face at all, and
    0.3 - 0.25 less than half of one; 0.3 - 0.15 is half."""
    for width, taken in ((0.2, "0.200 mm of it"), (0.3, "0.250 mm of it")):
        order = relieved(broken(an_edge("B", of, width)), 0.5)
        refused(
            order, "edge break 'E1'", taken, f"bores.oversize={width:.3f} mm or less", "0.500 mm"
        )
    assert feasible(relieved(broken(an_edge("B", of, 0.3)), 0.3)) == ()


def test_only_what_side_b_opens_wider_loses_of_its_break():
    both = (Bore(name="B1", centre=(-15.0, 0.0), diameter=5.0, both_sides=True),)
    wide = relieved(broken(an_edge("B", "B1", 0.2)), 0.5)
    assert feasible(replace(wide, blade=replace(wide.blade, bores=both))) == ()
    assert feasible(relieved(broken(an_edge("A", "B1", 0.2)), 0.5)) == ()
    assert feasible(relieved(broken(an_edge("B", "outline", 0.2)), 0.5)) == ()


def with_bevel(order, sides="both"):
    outline = order.blade.outline
    start, end = (float(s) for s in station_of(outline, [(-20.0, -10.0), (20.0, -10.0)]))
    bevel = Bevel(
        name="edge",
        edge=Stretch(start=start, end=end),
        sides=sides,
        angle=math.radians(12),
        land=0.3,
    )
    return replace(order, blade=replace(order.blade, bevels=(bevel,)))


def test_the_bevelled_edge_is_never_broken():
    order = with_bevel(broken(an_edge("A")))
    assert any("off the bevelled edge" in line for line in feasible(order))
    one_sided = with_bevel(broken(an_edge("A")), sides="B")
    assert any("ground from the other side, and on side A" in line for line in feasible(one_sided))


def test_the_back_of_a_bevelled_blade_may_be_broken():
    order = simple_order()
    stretch = top_stretch(order.blade.outline, 15.0, -5.0)
    order = with_bevel(broken(an_edge("A", stretches=(stretch,))))
    assert not any("edge break" in line for line in feasible(order))


def test_a_mill_that_runs_into_a_screw_s_head_is_refused():
    """Beside a head 3 mm high the mill is 3 mm thick; its axis runs 0.45 off the outline."""
    order = broken(an_edge("B"))
    near = (Bore(name="B1", centre=(-15.0, 3.5), diameter=4.0),)
    order = replace(
        order,
        blade=replace(order.blade, bores=near),
        setup=replace(
            order.setup,
            workholding=Workholding(
                kind="bores", screws=("B1",), head_diameter=8.0, head_height=3.0
            ),
        ),
    )
    refused(order, "comes within -0.05 mm")  # 6.5 - 4 + 0.45 - 3


def test_inner_corners_out_of_reach_are_told_with_what_stays():
    """Corners of 0.3 mm stay 1.5 round; a mill 1.95 off leaves (sqrt 2 - 1) 0.45 = 0.186 of 0.3 mm."""
    order = broken(an_edge("A", "S1"), tip=3.2)
    slot = replace(order.blade.slots[0], outline=rounded(5, -3, 20, 3, 0.3))
    small = replace(order, blade=replace(order.blade, slots=(slot,)))
    notes = [told(note) for note in break_notes(small, floors(small))]
    assert len(notes) == 4
    assert all("radius 1.50 mm is tighter than the chamfer mill's 1.95 mm" in n for n in notes)
    assert all("the break is 0.11 mm wide there" in n for n in notes)
    thin = broken(an_edge("A", "S1"))
    assert break_notes(thin, floors(thin)) == ()
    assert break_notes(replace(thin, blade=small.blade), floors(thin)) == ()


STEEP = math.radians(60)


def axis_of_breaks(order, side):
    """Return ends of the chamfer mills' level motions on a side, its frame."""
    cuts = [c.motions for c in lay_out(order).side(side) if c.stage == "break"]
    ends = [m.stop[(m.kind != 0) & (m.start[:, 2] == m.stop[:, 2])] for m in cuts]
    return np.concatenate(ends)[:, :2]


def sharp_slot(side, **boring):
    """The plain blade's slot with sharp corners, broken by a cone that runs 0.05 + 0.35 tan 30 off it."""
    order = broken(an_edge(side, "S1", 0.2, angle=STEEP), tip=0.1, angle=STEEP)
    slot = replace(order.blade.slots[0], outline=rounded(5, -3, 20, 3, 1e-4))
    return replace(
        order,
        blade=replace(order.blade, slots=(slot,)),
        boring=replace(order.boring, **boring),
        setup=replace(order.setup, fixture_allowance=1.0),
    )


@pytest.mark.parametrize(
    ("side", "boring", "radius"),
    [
        ("A", {}, 1.5), ("B", {"oversize": 0.0}, 1.5), ("B", {"oversize": 0.2}, 1.4),
        ("B", {"opening": "relieved", "oversize": 0.0}, 1.5),
    ],
)  # fmt: skip
def test_breaks_go_round_inner_corners_as_the_slot_s_cutter_left_them(side, boring, radius):
    """A sharp corner stays 1.5 mm round, its middle as far from both walls; the axis keeps 0.252 off."""
    ends = axis_of_breaks(sharp_slot(side, **boring), side) * [1, 1 if side == "A" else -1]
    away = 0.05 + 0.35 * math.tan(math.radians(30))
    for x, inward in ((5.0, 1.0), (20.0, -1.0)):
        for y, upward in ((-3.0, 1.0), (3.0, -1.0)):
            arm = (ends - (x, y)) * (inward, upward) - radius
            beyond = (arm < -1e-6).all(axis=1)
            assert beyond.sum() == 0 or np.hypot(*arm[beyond].T).max() <= radius - away + 1e-6
    to_wall = np.minimum(ends - (5, -3), np.array((20, 3)) - ends).min(axis=1)
    assert to_wall.min() == pytest.approx(away, abs=1e-5)


def notched_back(side, **changes):
    """The plain blade with a square notch in its upper edge, 6 mm wide and 3 deep, broken on a side."""
    order = broken(an_edge(side, width=0.2, angle=STEEP, **changes), tip=0.1, angle=STEEP)
    points = [(-30, -10), (30, -10), (30, 10), (3, 10), (3, 7), (-3, 7), (-3, 10), (-30, 10)]
    outline = polyline([(float(x), float(y)) for x, y in points])
    return replace(order, blade=replace(order.blade, outline=outline))


@pytest.mark.parametrize("side", ["A", "B"])
def test_breaks_of_the_outline_go_round_its_inner_corners_too(side):
    """A finishing cutter of 1.5 mm leaves its arcs in the notch: the axis goes round their middles.

    Side A's trench, 0.73 deep, leaves the tip 0.68 mm, 0.334 below the break: 0.243 off; else 0.252.
    """
    below = 0.73 - 0.05 - 0.2 * math.tan(STEEP) if side == "A" else 0.35
    away = 0.05 + below * math.tan(math.radians(30))
    ends = axis_of_breaks(notched_back(side), side) * [1, 1 if side == "A" else -1]
    inside = ends[(np.abs(ends[:, 0]) < 2.9) & (ends[:, 1] < 9.0)]
    ring = [(-3 + away, 8.5), (-1.5, 7 + away), (1.5, 7 + away), (3 - away, 8.5)]
    assert sorted(map(tuple, inside.tolist())) == [pytest.approx(at, abs=1e-4) for at in ring]


def test_a_relief_that_lets_the_tip_run_into_side_a_s_corner_is_refused():
    """Below the skin a corner of 22 degrees stands e (1 / sin 11 - 1) = 4.24 e farther in than beside it,
    e half the relief; the tip's rim runs 0.202 off the wall, and 0.005 stay: 2 x 0.197 / 4.24 = 0.093."""
    long = 3.2 / math.tan(math.radians(11))
    corners = polyline([(22 - long, 0.0), (22.0, -3.2), (22.0, 3.2)])
    square = polyline([(-30.0, -10.0), (30.0, -10.0), (30.0, 10.0), (-30.0, 10.0)])

    def order(relief):
        found = sharp_slot("B", oversize=relief)
        slot = replace(found.blade.slots[0], outline=corners)
        return replace(found, blade=replace(found.blade, slots=(slot,), outline=square, bores=()))

    with pytest.raises(PlanError) as caught:
        lay_out(order(0.2))
    (line,) = map(told, caught.value.lines)
    assert "edge break 'E1' of S1, side B" in line
    assert "order bores.oversize=0.092 mm or less" in line
    assert lay_out(order(0.092)).side("B")


def test_a_break_round_a_corner_that_roughing_went_deeper_into_is_refused():
    """A cutter of 0.9 mm, a off the walls, comes (sqrt 2 - 1) 0.9 + sqrt 2 a near; 1.5 without a."""
    order = notched_back("B")
    thin = propose_cutter(9, "bull-nose", 1.8, corner=0.1)
    thinner = replace(order, cutters=(*order.cutters, thin), cutting=tuple(
        replace(c, cutter=9) if c.stage == "rough" else c for c in order.cutting
    ))  # fmt: skip
    (stock,) = (c.allowance for c in order.cuttings("rough"))
    deeper = (math.sqrt(2) - 1) * (1.5 - 0.9) - math.sqrt(2) * stock
    with pytest.raises(PlanError) as caught:
        lay_out(thinner)
    (line,) = map(told, caught.value.lines)
    assert f"roughing cutter 9 of 1.800 mm goes {deeper:.3f} mm deeper" in line
    elsewhere = Stretch(start=1.0, end=20.0)  # of its lower edge
    one = replace(thinner.blade.breaks[0], stretches=(elsewhere,))
    assert lay_out(replace(thinner, blade=replace(thinner.blade, breaks=(one,)))).side("B")

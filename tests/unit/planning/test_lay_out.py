"""Floors, feeds, splitting at a cutter's life, and the order of work, on hand-worked figures."""

import re
from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import Bore
from knifecam.curve import RAPID, Curve
from knifecam.errors import PlanError
from knifecam.paths.curve_following import Heights, follow
from knifecam.planning import lay_out
from knifecam.planning.life_groups import wall_feed
from knifecam.quantity import told
from knifecam.shop import Workholding
from knifecam.shop.side_view import floors
from tests.agreement.orders import cutting, simple_order


def test_floors_of_a_three_millimetre_plate():
    """T 3, meet 0.6, overlap 0.3, web 0.2, tab 0.4, skin 0.25, corner radii 0.1: by hand."""
    deep = floors(simple_order())
    assert deep.meet == pytest.approx(0.9)
    assert deep.a_rough == pytest.approx(0.75)
    assert deep.a_finish == pytest.approx(0.77)
    assert deep.b_rough == pytest.approx(0.55)
    assert deep.b_finish == pytest.approx(1.05)
    assert deep.tab == pytest.approx(0.35)
    assert deep.a_bore == pytest.approx(-1.25)
    assert deep.b_open == pytest.approx(-0.95)  # -1.25 + 2 x 0.1 + 0.1


def test_feeds_at_the_wall_become_feeds_of_the_centre():
    feed = wall_feed(300.0, 1.5, 1.5)
    slope = np.zeros(4)
    turning = np.array([np.inf, -10.0, 6.0, 1.0])
    # straight and outer corners at the feed; inner wall of radius 7.5: 300 x 6 / 7.5;
    # inner wall of 2.5, tighter than two radii: the lesser of 1 / 2.5 and 0.6
    assert feed(turning, slope) == pytest.approx([300.0, 300.0, 240.0, 120.0])
    assert feed(np.array([np.inf]), np.array([-0.36]))[0] == pytest.approx(120.0)


@pytest.mark.parametrize("sides", [24, 44, 200])
def test_many_lines_about_a_hole_are_followed_as_slowly_as_its_circle(sides):
    """Dm / (Dm - D): a rim of 300 mm/min in a hole of 4 mm wants 150 of a cutter of 2 mm."""
    turn = 2 * np.pi * np.arange(sides) / sides
    around = Curve(np.stack([np.cos(turn), np.sin(turn)], axis=1), np.zeros(sides))
    feed = wall_feed(300.0, 1.0, 1.0)
    lap = follow(around, 0.0, around.length, Heights.level(0.0), feed)
    # the polygon's length is less than the circle's by 1 - sin(pi / N) / (pi / N): 0.3 % of 24
    assert lap.feed == pytest.approx(150.0, rel=0.002)
    outside = follow(around.reversed(), 0.0, around.length, Heights.level(0.0), feed)
    assert outside.feed == pytest.approx(300.0)


def test_long_lines_are_followed_at_the_feed_up_to_their_corners():
    square = Curve(np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0]]), np.zeros(4))
    lap = follow(square, 0.0, 36.0, Heights.level(0.0), wall_feed(300.0, 1.0, 1.0))
    assert lap.feed == pytest.approx(300.0)


def test_the_order_of_work():
    plan = lay_out(simple_order())
    names = [(c.side, c.name) for c in plan.cuts]
    assert names == [
        ("A", "BORES"), ("A", "SLOTS"), ("A", "OUTLINE TRENCH"), ("A", "OUTLINE WALL"),
        ("B", "BORES OPENED"), ("B", "SLOTS OPENED"), ("B", "OUTLINE TRENCH"), ("B", "OUTLINE WALL"),
    ]  # fmt: skip


def test_screws_go_in_before_anything_of_the_outline_is_opened():
    order = simple_order()
    hold = Workholding(kind="bores", screws=("B1",))
    plan = lay_out(replace(order, setup=replace(order.setup, workholding=hold)))
    stops = [(c.name, c.stop) for c in plan.side("B") if c.stop]
    assert [name for name, _ in stops] == ["OUTLINE TRENCH"]
    assert "SCREWS" in stops[0][1][0]


def test_long_cuts_are_split_where_the_cutter_dies():
    order = simple_order()
    short = tuple(replace(c, life=12.0) for c in order.cutting)
    plan = lay_out(replace(order, cutting=short))
    parts = [c for c in plan.side("B") if c.name.startswith("OUTLINE TRENCH")]
    assert len(parts) > 1
    assert all(c.minutes <= 12.0 for c in plan.cuts)
    assert all(c.fresh for c in parts[1:])
    whole = sum(c.minutes for c in lay_out(order).side("B"))
    # the parts begin anew from above, which costs no contact time
    assert sum(c.minutes for c in plan.side("B")) == pytest.approx(whole, rel=0.01)


def test_a_pass_longer_than_a_life_is_refused():
    order = simple_order()
    order = replace(order, cutting=tuple(replace(c, life=0.5) for c in order.cutting))
    rule = (
        r'cutter (\d) in stage "(\w+)": life=\S+ min must be at least (\S+) min, since one pass of'
    )
    cured = set()
    while True:
        try:
            lay_out(order)
        except PlanError as refused:
            (line,) = refused.lines
            found = re.search(rule, line)
            assert found, line
            cured.add(found[2])
            cure = {(int(found[1]), found[2]): float(found[3])}
            order = replace(order, cutting=tuple(
                replace(c, life=cure.get((c.cutter, c.stage), c.life)) for c in order.cutting
            ))  # fmt: skip
        else:
            break
    assert cured >= {"bore", "slot", "rough"}


def test_fitted_bores_are_finished_and_tried():
    order = simple_order()
    bores = (Bore(name="B1", centre=(-15.0, 0.0), diameter=5.0, fitted=True),)
    plan = lay_out(replace(order, blade=replace(order.blade, bores=bores)))
    finish = next(c for c in plan.side("A") if c.stage == "fit")
    assert told(finish.after[0]) == "TRY THE GAUGE PINS: B1 5.000 MM"
    circles = finish.motions.turns == 1.0
    assert circles.sum() == 2  # one at full depth, one spring circle
    assert finish.motions.radii[circles] == pytest.approx(1.0)
    rough = next(c for c in plan.side("A") if c.stage == "bore")
    assert rough.motions.radii.max() == pytest.approx(0.96)  # 0.08 mm under size


def test_the_largest_cutter_that_leaves_a_helix_bores():
    order = simple_order()
    entries = (*order.cutting, cutting(2, "bore", feed=111.0))
    wider = tuple(replace(c, diameter=4.5) if c.number == 2 else c for c in order.cutters)
    bores = (
        Bore(name="B1", centre=(-15.0, 0.0), diameter=5.0),  # 4.5 leaves less than 1.25 D
        Bore(name="B2", centre=(-22.0, 0.0), diameter=6.0),
    )
    plan = lay_out(
        replace(
            order, cutters=wider, cutting=entries, blade=replace(order.blade, bores=bores),
            trench=replace(order.trench, width=5.7),
        )
    )  # fmt: skip
    assert {c.cutter for c in plan.side("A") if c.stage == "bore"} == {1, 2}


def test_every_cut_begins_and_ends_above_everything_and_moves_there_by_rapid():
    order = simple_order()
    for cut in lay_out(order).cuts:
        m = cut.motions
        assert m.start[0, 2] == m.stop[-1, 2] == pytest.approx(1.5 + 5.0)
        crossing = (m.kind == RAPID) & (np.abs(m.stop[:, :2] - m.start[:, :2]).max(axis=1) > 0)
        assert (m.start[crossing, 2] == m.start[0, 2]).all()
        assert (m.feed[m.kind != RAPID] > 0).all()
        assert np.abs(m.start[1:] - m.stop[:-1]).max() < 1e-6  # one chain

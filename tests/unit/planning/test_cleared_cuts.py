"""Where a finished wall's passes are led onto and off it beside concave corners."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point, Polygon, unary_union

from knifecam.curve import RAPID, Curve, Motions, distance, place_at, station_of
from knifecam.curve.motions import sampled
from knifecam.errors import PlanError
from knifecam.paths.trench_motions import Track
from knifecam.planning import cleared_cuts, lay_out
from knifecam.planning.outline_cuts import SideOutline, track_at
from knifecam.shop import Order
from knifecam.shop.defaults import propose_cutter, propose_cutting
from knifecam.shop.side_view import SideContext
from tests.agreement.bevel_blades import rounded_polygon
from tests.agreement.bevelled import bevelled_order

CUTTER = bevelled_order().cutters[1]
"""3 mm; it is led on along an arc of radius 4.5 mm, so a bay of less than 6 mm has no room."""


def bay(radius: float) -> Curve:
    """Return a rectangle of 60 x 40 mm with a bay in its upper side that ends in a half circle."""
    left, right = 30.0 - radius, 30.0 + radius
    return rounded_polygon(
        [
            (0.0, 0.0, 0.0), (60.0, 0.0, 0.0), (60.0, 40.0, 0.0), (right, 40.0, 0.0),
            (right, 10.0, radius), (left, 10.0, radius), (left, 40.0, 0.0), (0.0, 40.0, 0.0),
        ]
    )  # fmt: skip


def led(radius: float, place: tuple[float, float], way: str, step: float) -> tuple[Curve, float]:
    """Return the track and how far from the station beside ``place`` the arc is put."""
    wall = bay(radius)
    seen = SideOutline(bench=SideContext(order=bevelled_order(), side="A"), wall=wall, opened=())
    track = track_at(wall, CUTTER.radius, 5e-4)
    station = float(station_of(track, place)[0])
    at = cleared_cuts._with_room(seen, Track(curve=track), station, way, CUTTER, step)
    return track, at - station


@pytest.mark.parametrize(("way", "step"), [("in", 0.25), ("out", -0.25), ("in", -0.25)])
def test_an_arc_stays_where_there_is_room(way: str, step: float) -> None:
    assert led(25.0, (30.0, 11.5), way, step)[1] == 0.0


@pytest.mark.parametrize(("way", "step"), [("in", 0.25), ("out", -0.25), ("in", -0.25)])
def test_in_a_tight_bay_the_arc_moves_the_way_asked_until_past_its_round(
    way: str, step: float
) -> None:
    radius = 5.0
    track, moved = led(radius, (30.0, 11.5), way, step)
    quarter = (radius - CUTTER.radius) * np.pi / 2
    assert moved * step > 0
    assert quarter - 1.0 <= abs(moved) <= 12.0
    place = place_at(track, float(station_of(track, (30.0, 11.5))[0]) + moved)[0]
    assert distance(place, bay(radius))[0] == pytest.approx(CUTTER.radius, abs=1e-3)


def test_a_bay_with_no_room_within_reach_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cleared_cuts, "LOOK_WITHIN_MM", 3.0)
    with pytest.raises(PlanError, match=r"no room to be led .* within 3 mm of .* cutter of less"):
        led(5.0, (30.0, 11.5), "in", 0.25)


def test_in_a_wide_bay_the_arc_leads_as_far_aside_as_it_can(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(cleared_cuts, "LOOK_WITHIN_MM", 3.0)
    assert abs(led(8.0, (30.0, 11.5), "in", 0.25)[1]) <= 3.0


def opened_order(stepover: float, width: float) -> Order:
    """Return the small bevelled blade, its trench as wide and its lanes at most as far apart as said."""
    order = with_stepover("rough", stepover, bevelled_order(land=0.7))
    return replace(order, trench=replace(order.trench, width=width))


def with_stepover(stage: str, stepover: float, order: Order) -> Order:
    """Return the order with lanes of one stage at most so far apart."""
    cutting = tuple(replace(c, stepover=stepover) if c.stage == stage else c for c in order.cutting)
    return replace(order, cutting=cutting)


def one(motions: Motions, k: int) -> Motions:
    names = ("kind", "start", "stop", "centre", "turns", "feed")
    return Motions(*(getattr(motions, name)[k : k + 1] for name in names))


def swept_low(lanes: Motions, radius: float) -> Polygon:
    """Return what a cutter sweeps where it runs level at its lowest."""
    floor = lanes.stop[:, 2].min() + 1e-6
    level = (lanes.kind != RAPID) & (lanes.start[:, 2] < floor) & (lanes.stop[:, 2] < floor)
    return unary_union([
        LineString(sampled(one(lanes, int(k)), 0.05)).buffer(radius + 1e-3, quad_segs=64)
        for k in np.flatnonzero(level)
    ])  # fmt: skip


@pytest.mark.parametrize(("stepover", "width"), [(0.8, 5.3), (1.5, 5.3), (2.4, 5.3), (2.4, 9.1)])
def test_an_edges_wall_comes_down_only_where_the_lanes_have_opened_all_under_it(
    stepover: float, width: float
) -> None:
    """By shapely: what the lanes sweep in their last level holds all that the cutter comes down on.

    Lanes end side by side, and between their ends a wedge stands as long as
    R - sqrt(R^2 - (s/2)^2): 0.6 mm for R 1.5 and s 2.4.
    """
    order = opened_order(stepover, width)
    cuts = {cut.name: cut for cut in lay_out(order).side("B")}
    lanes, wall = cuts["EDGE OPENED"].motions, cuts["EDGE WALL"].motions
    swept = swept_low(lanes, CUTTER.radius)
    downs = np.flatnonzero((wall.kind[:-1] == RAPID) & (wall.kind[1:] != RAPID))
    assert len(downs) >= 2 + (width > 6)
    for x, y, _ in wall.stop[downs]:
        under = Point(x, y).buffer(CUTTER.radius, quad_segs=64)
        assert under.difference(swept).area < 1e-6


def test_the_trench_comes_down_beside_what_a_thicker_clearing_cutter_leaves_on_the_wall() -> None:
    """By shapely: 6 mm leave more stock than the trench's 3 mm, which would come down on it."""
    order = bevelled_order()
    thick = propose_cutter(9, "bull-nose", 6.0, corner=0.1)
    entry = propose_cutting(thick, "clear", blade=order.blade)
    kept = tuple(c for c in order.cutting if c.stage != "clear")
    order = replace(order, cutters=(*order.cutters, thick), cutting=(*kept, entry))
    assert entry.allowance > order.cuttings("rough")[0].allowance
    cuts = {cut.name: cut for cut in lay_out(order).side("A")}
    lanes, trench = cuts["CLEARED FOR BEVELS"].motions, cuts["OUTLINE TRENCH"].motions
    swept = swept_low(lanes, thick.radius)
    downs = np.flatnonzero((trench.kind[:-1] == RAPID) & (trench.kind[1:] != RAPID))
    assert len(downs) >= 2
    for x, y, _ in trench.stop[downs]:
        assert Point(x, y).buffer(CUTTER.radius, quad_segs=64).difference(swept).area < 1e-6


def cut_with(stage: str, diameter: float, order: Order) -> Order:
    """Return the order with one stage cut by a cutter 9 of another diameter."""
    cutter = propose_cutter(9, "bull-nose", diameter, corner=0.1)
    entry = propose_cutting(cutter, stage, blade=order.blade)
    kept = tuple(c for c in order.cutting if c.stage != stage)
    return replace(order, cutters=(*order.cutters, cutter), cutting=(*kept, entry))


@pytest.mark.parametrize(
    ("stage", "diameter"), [("clear", 3.0), ("clear", 2.0), ("clear", 1.0), ("finish", 4.0)]
)
def test_an_edges_wall_ends_before_the_lanes_that_opened_it(stage: str, diameter: float) -> None:
    """By shapely: at its last place a cutter meets no more than the wedges between lanes' ends.

    Lanes of 3 mm end up to 1 mm sooner where a thinner cutter clears, so that they fall into nothing
    that stands; past them the metal is as thick as the web and all that lies below the clearing.
    """
    order = cut_with(stage, diameter, opened_order(1.0, 5.3))
    cuts = {cut.name: cut for cut in lay_out(order).side("B")}
    lanes, wall = cuts["EDGE OPENED"].motions, cuts["EDGE WALL"].motions
    radius = order.cutter(order.cuttings("finish")[0].cutter).radius
    swept = swept_low(lanes, CUTTER.radius)
    ups = np.flatnonzero((wall.kind[:-1] != RAPID) & (wall.kind[1:] == RAPID))
    ends = [*wall.stop[ups], wall.stop[-1]]
    assert len(ends) >= 2
    for x, y, _ in ends:
        disc = Point(x, y).buffer(radius, quad_segs=64)
        filled = swept.intersection(Point(x, y).buffer(3 * radius)).convex_hull
        assert disc.difference(filled).area < 1e-3


@pytest.mark.parametrize("diameter", [3.0, 4.0, 6.0])
def test_lanes_leave_on_the_wall_what_a_thicker_clearing_cutter_left(diameter: float) -> None:
    """They stepped head-on into a strip as high as the blade: 1.07 mm deep, 0.26 mm2 across the way."""
    order = cut_with("clear", diameter, opened_order(1.0, 5.3))
    lanes = next(cut for cut in lay_out(order).side("B") if cut.name == "EDGE OPENED").motions
    wall = Polygon(order.blade.outline.points(1e-3) * (1.0, -1.0)).exterior
    cutting = [one(lanes, int(k)) for k in np.flatnonzero(lanes.kind != RAPID)]
    near = min(LineString(sampled(motion, 0.05)).distance(wall) for motion in cutting)
    left = max(order.cuttings(stage)[0].allowance for stage in ("clear", "rough"))
    assert near == pytest.approx(CUTTER.radius + left, abs=2e-3)


@pytest.mark.parametrize(
    ("diameter", "stepover"), [(3.0, 1.0), (3.0, 2.4), (2.0, 0.7), (2.0, 1.6), (1.0, 0.35)]
)
def test_side_as_lap_goes_deeper_than_the_trench_only_where_the_lanes_cleared_all_under_it(
    diameter: float, stepover: float
) -> None:
    """By shapely: a finisher of 3 mm reaches up to 1 mm further along than a thinner cutter cleared."""
    order = cut_with("clear", diameter, opened_order(1.0, 5.3))
    order = with_stepover("clear", stepover, order)
    cuts = {cut.name: cut for cut in lay_out(order).side("A")}
    parts = [cut.motions for name, cut in cuts.items() if name.startswith("CLEARED")]
    floor = cuts["OUTLINE TRENCH"].motions.stop[:, 2].min()
    assert parts[-1].stop[:, 2].min() < floor - 0.1
    swept = swept_low(parts[-1], diameter / 2)
    strip = Polygon(order.blade.outline.points(1e-3)).buffer(0.1)
    lap = cuts["OUTLINE WALL"].motions
    deep = (lap.kind != RAPID) & (np.minimum(lap.start[:, 2], lap.stop[:, 2]) < floor - 1e-6)
    assert deep.any()
    for k in np.flatnonzero(deep):
        heights = np.linspace(lap.start[k, 2], lap.stop[k, 2], len(sampled(one(lap, int(k)))))
        for place in sampled(one(lap, int(k)))[heights < floor - 1e-6]:
            under = Point(place).buffer(CUTTER.radius, quad_segs=64)
            assert under.difference(strip).difference(swept).area < 1e-6

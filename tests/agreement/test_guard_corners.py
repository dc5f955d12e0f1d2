"""Blades with a guard whose inner corner is sharp: what is opened for the bevel goes past it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon

from knifecam.blade import Bevel, Blade, Bore, EdgeBreak, Slot
from knifecam.curve import Motions, polyline, rectangle, station_of
from knifecam.making import make
from knifecam.planning import lay_out
from knifecam.planning.bevel_cuts import bevel_passes_on
from knifecam.planning.cleared_stretches import cleared_stretches
from knifecam.planning.plan import Cut
from knifecam.shop import Order
from knifecam.shop.side_view import SideContext, floors
from tests.agreement.bevel_blades import across, between, ordered, rounded_polygon, shop
from tests.agreement.details import broken, with_cutter
from tests.agreement.orders import cutter
from tests.agreement.wider_orders import wider_bevel

LONG_LIFE = 600.0


def guarded(at: float, fillet: float = 0.0) -> Order:
    """Return a blade of 2.5 mm with a guard below its edge and a plunge at X ``at``."""
    outline = rounded_polygon(
        [
            (-11.0, 4.0, 4.5), (-9.0, -5.0, 1.0), (-4.5, -5.0, 1.0), (0.0, 0.0, fillet),
            (32.0, 0.0, 0.0), (32.0, 22.0, 3.0), (-30.0, 22.0, 5.0), (-30.0, 4.0, 5.0),
        ]
    )  # fmt: skip
    bevel = Bevel(
        name="edge", edge=between(outline, (2.5, 0.0), (32.0, 0.0)), angle=math.radians(4.0),
        land=0.67, plunges=(across((at, -60.0), (at, 60.0), radius=6.0),),
    )  # fmt: skip
    blade = Blade(
        outline=outline, thickness=2.5, bevels=(bevel,),
        bores=(Bore(name="B1", centre=(-20.0, 9.0), diameter=5.0),),
    )  # fmt: skip
    cutters = [replace(c, flute_length=5.0, reach=8.0) for c in shop(mill=1.5)[:2]]
    order = ordered(blade, (*cutters, *shop()[2:]), border=20.0)
    return replace(order, cutting=tuple(replace(c, life=LONG_LIFE) for c in order.cutting))


@pytest.mark.parametrize("at", [7.0, 8.0, 9.0, 10.0, 11.0, 12.0])
def test_no_opened_stretch_ends_in_a_sharp_corner(at: float) -> None:
    """In a corner of 52 degrees the feet of 0.95 mm beside it meet, for a trench 1.95 mm wide."""
    order = guarded(at)
    grounds = {
        s: [bevel_passes_on(SideContext(order=order, side=s), order.blade.bevels[0])] for s in "AB"
    }
    (one,) = cleared_stretches(order, grounds, floors(order).a_rough)
    corner = float(station_of(order.blade.outline, [(0.0, 0.0)])[0])
    turn = math.atan2(5.0, 4.5)
    assert abs(one.stretch.start - corner) > order.trench.width * math.tan(turn / 2) + 1.0


def test_a_blade_with_a_guard_is_proved() -> None:
    assert make(guarded(8.0)).verdict.findings == ()


def test_a_bore_opened_behind_the_plunge_finishes_no_bevel() -> None:
    """It lies 9 mm from the edge's line drawn on, where the grind line would be 13.1 mm away.

    Opened 0.25 mm wider all round, its cutter goes down through the height of the slope drawn on.
    """
    order = guarded(8.0)
    order = replace(order, boring=replace(order.boring, oversize=0.5))
    assert make(order).verdict.findings == ()


def test_a_corner_where_an_edges_lanes_begin_is_gone_into_from_open_ground() -> None:
    """The fillet of 0.88 mm lies half before the lanes of the edge, which come down within it.

    Against shapely: where the cutter has been as deep before. The finish rises beside it too, up to
    the fillet's beginning, and is judged at the axis' feed that far.
    """
    made = make(wider_bevel(89))
    assert made.verdict.findings == ()
    falls = [
        low for cut in made.plan.side("B") if cut.stage == "rough" for low in closed_below(cut)
    ]
    assert len(falls) > 30
    assert max(falls) < 1e-3


def closed_below(cut: Cut) -> list[float]:
    """Return of each fall by more than 0.03 mm between levels the area, mm2, that was not open before.

    The trench's cutter is 1.5 mm thick; where it was no higher, all under it is open.
    """
    m = cut.motions
    level = (m.kind != 0) & (np.abs(m.start[:, 2] - m.stop[:, 2]) < 1e-9)
    upright = np.hypot(*(m.stop - m.start)[:, :2].T) < 1e-9
    onward = (m.kind != 0) & (np.roll(m.kind, 1) != 0)
    falls = onward & upright & (m.stop[:, 2] < m.start[:, 2] - 0.03)
    found = []
    rows = np.flatnonzero(level)
    ways = np.array([way_of(m, j) for j in rows])
    opened = shapely.buffer(ways, 0.75, quad_segs=64)
    for k in np.flatnonzero(falls):
        under = Point(m.stop[k, :2]).buffer(0.75 - 0.002, quad_segs=64)
        been = (rows < k) & (m.stop[rows, 2] <= m.stop[k, 2] + 1e-9)
        for j in np.flatnonzero(been & shapely.dwithin(ways, Point(m.stop[k, :2]), 1.5)):
            under = under.difference(opened[j])
        found.append(float(under.area))
    return found


def way_of(motions: Motions, k: int) -> LineString:
    """Return the way of one level motion, its arc in 40 chords."""
    turn = 2 * np.pi * motions.turns[k] * np.linspace(0.0, 1.0, 41)[:, None]
    if motions.turns[k] == 0.0:
        return LineString([motions.start[k, :2], motions.stop[k, :2]])
    x, y = motions.start[k, :2] - motions.centre[k]
    ways = np.hstack([x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)])
    return LineString(motions.centre[k] + ways)


@pytest.mark.parametrize("first", [0, 1, 2, 3])
@pytest.mark.parametrize("side", ["A", "B"])
def test_a_chamfer_mill_comes_down_clear_of_what_stays_in_a_slots_corners(
    side: str, first: int
) -> None:
    """Against shapely: where a cutter of 2 mm has been. There is as much room anywhere else."""
    order = broken(EdgeBreak(name="E1", of="S1", side=side, width=0.3))
    corners = np.roll(rectangle(5.0, -1.25, 17.0, 1.25).vertices, first, axis=0)
    slot = Slot(name="S1", outline=polyline(corners))
    order = replace(order, blade=replace(order.blade, slots=(slot,)))
    order = with_cutter(order, cutter(6, diameter=2.0), "slot")
    (cut,) = (one for one in lay_out(order).cuts if one.name == "EDGE BREAKS")
    gone = Polygon(corners).buffer(-1.0, quad_segs=64).buffer(1.0, quad_segs=64)
    mill = order.cutter(cut.cutter)
    rim = mill.tip / 2 + (0.35 + 0.3) * math.tan(mill.half_angle)
    for place in (cut.motions.start[0, :2], cut.motions.stop[-1, :2]):
        assert gone.contains(Point(place)), place
        assert gone.exterior.distance(Point(place)) >= rim - 0.01

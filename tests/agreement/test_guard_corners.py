"""Blades with a guard whose inner corner is sharp: what is opened for the bevel goes past it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import Point, Polygon

from knifecam.blade import Bevel, Blade, Bore, EdgeBreak, Slot
from knifecam.curve import polyline, rectangle, station_of
from knifecam.making import make
from knifecam.planning import lay_out
from knifecam.planning.bench import Bench
from knifecam.planning.bevels import ground_on
from knifecam.planning.floor import floors
from knifecam.planning.opened import opened_stretches
from knifecam.shop import Order
from tests.agreement.bevel_blades import across, between, ordered, rounded_polygon, shop
from tests.agreement.details import broken, with_cutter
from tests.agreement.orders import cutter

LONG_LIFE = 600.0


def guarded(at: float, fillet: float = 0.0) -> Order:
    """Return a blade of 4 mm with a guard below its edge and a plunge at X ``at``."""
    outline = rounded_polygon(
        [
            (-11.0, 4.0, 4.5), (-9.0, -5.0, 1.0), (-4.5, -5.0, 1.0), (0.0, 0.0, fillet),
            (45.0, 0.0, 0.0), (45.0, 22.0, 3.0), (-36.0, 22.0, 5.0), (-36.0, 4.0, 5.0),
        ]
    )  # fmt: skip
    bevel = Bevel(
        name="edge", edge=between(outline, (2.5, 0.0), (45.0, 0.0)), angle=math.radians(4.7),
        land=0.67, plunges=(across((at, -60.0), (at, 60.0), radius=6.0),),
    )  # fmt: skip
    blade = Blade(
        outline=outline, thickness=4.0, bevels=(bevel,),
        bores=(Bore(name="B1", centre=(-20.0, 14.0), diameter=5.0),),
    )  # fmt: skip
    cutters = [replace(c, flute_length=5.0, reach=8.0) for c in shop(mill=1.5)[:2]]
    order = ordered(blade, (*cutters, *shop()[2:]), frame=30.0)
    return replace(order, cutting=tuple(replace(c, life=LONG_LIFE) for c in order.cutting))


@pytest.mark.parametrize("at", [7.0, 8.0, 9.0, 10.0, 11.0, 12.0])
def test_no_opened_stretch_ends_in_a_sharp_corner(at: float) -> None:
    """In a corner of 52 degrees the feet of 0.95 mm beside it meet, for a trench 1.95 mm wide."""
    order = guarded(at)
    grounds = {s: [ground_on(Bench(order=order, side=s), order.blade.bevels[0])] for s in "AB"}
    (one,) = opened_stretches(order, grounds, floors(order).a_rough)
    corner = float(station_of(order.blade.outline, [(0.0, 0.0)])[0])
    turn = math.atan2(5.0, 4.5)
    assert abs(one.stretch.start - corner) > order.trench.width * math.tan(turn / 2) + 1.0


def test_a_blade_with_a_guard_is_proved() -> None:
    assert make(guarded(8.0), cell=0.2).verdict.findings == ()


def test_a_bore_opened_behind_the_plunge_finishes_no_bevel() -> None:
    """It lies 14 mm from the edge's line drawn on, where the grind line would be 20.3 mm away.

    Opened 0.25 mm wider all round, its cutter goes down through the height of the slope drawn on.
    """
    order = guarded(8.0)
    order = replace(order, boring=replace(order.boring, relief=0.5))
    assert make(order, cell=0.2).verdict.findings == ()


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

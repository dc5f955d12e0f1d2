"""Tabs necked along the blade's wall by a small cutter, so that they snap there.

The cutter runs tangent to the wall. Beside the middle of a tab it cuts the tab away; over the middle
it leaves the neck, as thick as ordered, on side A's floor. How wide: `knifecam.shop.tab_neck`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from knifecam.curve import Curve, Motions, station_of
from knifecam.paths.curve_following import PieceFeed, follow, lead_in, lead_out
from knifecam.paths.offset import refitted_offset
from knifecam.paths.trench_motions import Track, levels
from knifecam.planning.life_groups import cuts_by_life, wall_feed
from knifecam.planning.outline_cuts import refuse_near
from knifecam.planning.plan import Cut, Tab
from knifecam.planning.planning_limits import FINISH_BAND_MM, NECK_ARC_MM, NECK_ASIDE_MM
from knifecam.planning.tab_places import room_for_tab, tangent_beside, window_on
from knifecam.rules.rules_limits import BEND_STRENGTH_N_MM2
from knifecam.shop import Cutter, Order
from knifecam.shop.order_record import FINISH, NECK
from knifecam.shop.side_view import Floors, SideContext, curve_on, height_on, points_on
from knifecam.shop.tab_neck import neck_of

SNAP_WAY = "bend necked tabs toward side A first: that stretches the notch at the wall"


def neck_cuts(
    bench: SideContext, floors: Floors, tabs: Sequence[Tab], used: dict[int, float]
) -> list[Cut]:
    """Return the cuts that neck the tabs: at the end of side B, none where none is ordered."""
    order = bench.order
    if not (order.tabs.neck > 0 and tabs):
        return []
    entry = order.cuttings(NECK)[0]
    passes = [p for tab in tabs for p in _passes(bench, floors, tab)]
    return cuts_by_life(bench, passes, name="NECKS OF THE TABS", cutting=entry, used=used)


def _passes(bench: SideContext, floors: Floors, tab: Tab) -> list[Motions]:
    """Return one pass a level over a tab, from its lower face down past side A's floor."""
    order = bench.order
    entry = order.cuttings(NECK)[0]
    cutter = order.cutter(entry.cutter)
    wall = curve_on(bench.side, order.blade.outline, order.setup.flip).counter_clockwise()
    curve = refitted_offset(wall, cutter.radius, FINISH_BAND_MM)[0].clockwise()
    place = points_on(bench.side, tab.place, order.setup.flip)[0]
    z = height_on(bench.side, floors.a_rough - order.tabs.neck)
    window = window_on(
        curve, place, tangent_beside(wall, place), order, cutter, z, neck_of(order).width
    )
    track = Track(curve=curve, windows=(window,))
    half = neck_room(order, floors)
    middle = float(station_of(curve, place)[0])
    feed = wall_feed(entry.feed, cutter.radius, cutter.radius)
    top, bottom = height_on(bench.side, floors.tab), height_on(bench.side, floors.b_finish)
    return [
        _pass(bench, track, wall, (middle - half, middle + half), level, cutter, entry.feed, feed)
        for level in levels(top, bottom, entry.stepdown)
    ]


def neck_room(order: Order, floors: Floors) -> float:
    """Return how far from a tab's middle a neck's passes begin, mm: where side B's trench is open."""
    finish = order.cutter(order.cuttings(FINISH)[0].cutter)
    small = order.cutter(order.cuttings(NECK)[0].cutter)
    return room_for_tab(order, [finish], floors.b_finish - floors.tab) + small.radius


def _pass(
    bench: SideContext,
    track: Track,
    wall: Curve,
    stretch: tuple[float, float],
    level: float,
    cutter: Cutter,
    lead_feed: float,
    feed: PieceFeed,
) -> Motions:
    start, end = stretch
    heights = track.heights(level, start, end)
    motions = Motions.joined(
        [
            lead_in(
                track.curve, start, radius=NECK_ARC_MM, aside=NECK_ASIDE_MM, z=level, feed=lead_feed
            ),
            follow(track.curve, start, end, heights, feed),
            lead_out(
                track.curve, end, radius=NECK_ARC_MM, aside=NECK_ASIDE_MM, z=level, feed=lead_feed
            ),
        ]
    )
    refuse_near(bench, wall, motions, cutter, "a neck's pass")
    return motions


def necked(order: Order, tab: Tab) -> Tab:
    """Return a tab with what its neck makes of it: section, moment, stub."""
    neck = neck_of(order)
    section = neck.thickness * neck.mean
    modulus = section * neck.thickness / 6
    low, high = BEND_STRENGTH_N_MM2
    return replace(
        tab, neck=neck.thickness, stub=neck.at_wall, stub_height=neck.stub, section=section,
        moment=(low * modulus, high * modulus),
    )  # fmt: skip

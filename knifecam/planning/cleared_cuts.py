"""The outline's cuts of a blade with bevels: stretches opened for them, and the rest with the tabs.

Side A clears beside the edge, cuts the trench round the rest of the outline, and finishes the wall
in one lap as deep as each place was cut. Side B clears, opens the edge through to side A's void and
finishes its wall while it is thick; the rest follows after the bevels, with the tabs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from knifecam.curve import Curve, Motions, Stretch, distance, place_at, station_of, stations_past
from knifecam.curve.motions import sampled
from knifecam.errors import PlanError
from knifecam.paths.curve_following import Heights, follow, highest, lead_in, lead_out, line
from knifecam.paths.lane_motions import lane_stations, one_way, places_beside
from knifecam.paths.trench_motions import Track, Window, finish_wall, levels
from knifecam.planning.cleared_stretches import ClearedStretch
from knifecam.planning.life_groups import cuts_by_life, wall_feed
from knifecam.planning.outline_cuts import (
    Lanes,
    SideOutline,
    beside_tabs,
    cleared_under,
    clearing_lanes,
    corner_cuts,
    corner_entry,
    corners_on,
    landing_on,
    lane_offsets,
    lead_feed,
    opening_lanes,
    refuse_near,
    side_outline,
    track_at,
)
from knifecam.planning.plan import Cut, Tab
from knifecam.planning.planning_limits import (
    ENTERED_MM,
    ENTRY_MM,
    FINISH_ASIDE_MM,
    FINISH_BAND_MM,
    FINISH_GOUGE_MM,
    FINISH_OVERLAP_MM,
    INTO_OPENED_MM,
    LOOK_STEP_MM,
    LOOK_WITHIN_MM,
    ROUGH_BAND_MM,
    SHORTER_LANE_MM,
    SPARE_RIM_MM,
    STEP_ASIDE_MM,
    STILL_LIFTED_MM,
    TRENCH_PLACES_ACROSS,
    WALL_JOIN_MM,
    WEB_FEED_SHARE,
)
from knifecam.planning.tab_places import reaches, tangent_beside, window_on
from knifecam.quantity import Place, mm, most_mm
from knifecam.shop import Cutter, Cutting, Order
from knifecam.shop.order_record import CLEAR, FINISH, ROUGH, cutting_and_cutter
from knifecam.shop.side_view import Floors, SideContext, height_on, points_on


def clear_cuts(seen: SideOutline, used: dict[int, float]) -> list[Cut]:
    """Return the cuts that clear beside the edges on this side."""
    bench, order = seen.bench, seen.bench.order
    entry, _ = cutting_and_cutter(order, CLEAR)
    passes: list[Motions] = []
    for row in seen.opened:
        one = row[2]
        if not one.needs_clearing(bench.side):
            continue
        floor = one.floor_a if bench.side == "A" else one.clear_b
        assert floor is not None
        passes += clearing_lanes(seen, row).rough(
            top=bench.top + ENTRY_MM, depths=levels(bench.top, floor, entry.stepdown),
        )  # fmt: skip
    return (
        cuts_by_life(bench, passes, name="CLEARED FOR BEVELS", cutting=entry, used=used)
        if passes
        else []
    )


def edge_through_cuts(seen: SideOutline, used: dict[int, float]) -> list[Cut]:
    """Return side B's cuts that open the edges through to side A's void, and finish their walls."""
    bench, order = seen.bench, seen.bench.order
    rough = order.cuttings(ROUGH)[0]
    trench = order.trench
    passes: list[Motions] = []
    for low, high, one in seen.opened:
        start = bench.top if one.clear_b is None else one.clear_b
        bottom = height_on("B", one.floor_a - trench.web)
        if bottom >= start - 1e-3:
            continue
        passes += opening_lanes(seen, (low, high, one)).rough(
            top=start + ENTRY_MM, depths=levels(start, bottom, rough.stepdown)
        )
    corners = [one for row in seen.opened for one in _edge_corners(seen, row)]
    cuts = corner_cuts(bench, passes, corners, name="EDGE OPENED", used=used)
    finish, _ = cutting_and_cutter(order, FINISH)
    walls = [one for row in seen.opened for one in _edge_walls(seen, row)]
    return cuts + cuts_by_life(bench, walls, name="EDGE WALL", cutting=finish, used=used)


def _edge_corners(
    seen: SideOutline, row: tuple[float, float, ClearedStretch]
) -> tuple[Motions, ...]:
    """Return the passes into the inner corners beside one edge, as deep as this side opens it."""
    bench, order = seen.bench, seen.bench.order
    one = row[2]
    cleared = one.needs_clearing(bench.side)
    entry = order.cuttings(CLEAR if cleared else ROUGH)[0]
    bottom = one.floor_a if bench.side == "A" else height_on("B", one.floor_a - order.trench.web)
    if bench.side == "B" and one.clear_b is not None:
        bottom = min(bottom, one.clear_b)
    depths = levels(bench.top, bottom, corner_entry(order).stepdown)
    through = None
    if bench.side == "B":
        through = height_on("B", one.floor_a + order.trench.overlap)
    return _corners(
        seen, ((), 0.0), entry, (depths, through), lambda track: _edge_span(seen, row, track)
    )


def _edge_span(
    seen: SideOutline, row: tuple[float, float, ClearedStretch], track: Curve
) -> tuple[float, float]:
    """Return the stations of the corners' track between which it is beside ground opened for an edge."""
    order, (low, high, one) = seen.bench.order, row
    entry = order.cuttings(CLEAR if one.needs_clearing(seen.bench.side) else ROUGH)[0]
    radius = order.cutter(corner_entry(order).cutter).radius
    opened = _open_ground(seen, row, radius)
    off = order.cutter(entry.cutter).radius + entry.allowance - radius
    first, last = lane_stations(track, seen.wall, low, high, radius)
    return (
        _onto_open(track, first, LOOK_STEP_MM, off, opened),
        _onto_open(track, last, -LOOK_STEP_MM, off, opened),
    )


def _rest_span(seen: SideOutline, k: int, track: Curve) -> tuple[float, float]:
    """Return the stations of the corners' track that the edges before and after a rest leave to it."""
    radius = seen.bench.order.cutter(corner_entry(seen.bench.order).cutter).radius
    first, last = lane_stations(track, seen.wall, *seen.rest[k], radius)
    _, before = _edge_span(seen, seen.opened[(k + 1) % len(seen.opened)], track)
    after, _ = _edge_span(seen, seen.opened[k], track)
    low, high = stations_past((first, after), (before, last), track.length)
    return first - max(float(low), 0.0), last + max(float(high), 0.0)


def _corners(
    seen: SideOutline,
    held: tuple[Sequence[Tab], float],
    entry: Cutting,
    floor: tuple[Sequence[float], float | None],
    span: Callable[[Curve], tuple[float, float]],
) -> tuple[Motions, ...]:
    """Return the passes into the inner corners within a span of their track that ``entry`` left fuller.

    ``held`` are the tabs there and their windows' height; ``floor`` the levels and, where a web
    stays below them, how deep the wall's pass is to go.
    """
    order = seen.bench.order
    cutter = order.cutter(corner_entry(order).cutter)
    track = _windowed(seen, cutter.radius, held[0], cutter, held[1], FINISH_BAND_MM)
    corners = corners_on(
        seen.bench, seen.wall, track, entry=entry, depths=floor[0], through=floor[1],
        span=lambda: span(track.curve),
    )  # fmt: skip
    return corners + beside_tabs(
        seen.bench, seen.wall, track, tabs=held[0], bottom=min(floor[0], default=held[1]),
        span=lambda: span(track.curve),
    )  # fmt: skip


def _onto_open(
    track: Curve, station: float, step: float, off: float, opened: Callable[[np.ndarray], bool]
) -> float:
    """Return the first station from one on, by ``step`` mm, where all ``off`` mm outside is open.

    The last within `LOOK_WITHIN_MM` where none is.
    """
    stations = station + step * np.arange(int(LOOK_WITHIN_MM / abs(step)) + 1)
    for at in stations:
        place, outward = _outward(track, float(at))
        if opened(place + off * outward):
            return float(at)
    return float(stations[-1])


def _edge_walls(seen: SideOutline, row: tuple[float, float, ClearedStretch]) -> list[Motions]:
    """Return the passes that shear the web beside one edge, the last along its wall."""
    one = row[2]
    order = seen.bench.order
    finish, cutter = cutting_and_cutter(order, FINISH)
    level = height_on("B", one.floor_a + order.trench.overlap)
    entry = max(level, height_on("B", one.floor_a - order.trench.web)) + ENTERED_MM
    passes = []
    for away in lane_offsets(
        order.trench.width - cutter.radius, cutter.radius, 0.9 * cutter.diameter
    ):
        track = Track(curve=track_at(seen.wall, float(away), FINISH_BAND_MM))
        last_one = away <= cutter.radius + 1e-9
        first, last = (
            _edge_ends(seen, track, row, cutter)
            if last_one
            else _beside_ends(seen, track, row, cutter, float(away))
        )
        feed = finish.feed * WEB_FEED_SHARE
        aside = _aside(order, cutter) if last_one else 0.0
        passes.append(_led(seen, track, (first, last), level, cutter, feed, entry, aside))
    return passes


def _aside(order: Order, cutter: Cutter) -> float:
    """Return from how far beside its track a wall's pass is led onto it, mm."""
    return min(FINISH_ASIDE_MM, max(0.05, order.trench.width - cutter.diameter - 0.02))


def _edge_ends(
    seen: SideOutline, track: Track, row: tuple[float, float, ClearedStretch], cutter: Cutter
) -> tuple[float, float]:
    """Return the track's stations where an edge's wall begins and ends: lead arcs fit within.

    The first comes down where the lanes beside it have opened all that the cutter covers: between
    their ends a wedge stands.
    """
    aside = _aside(seen.bench.order, cutter)
    back = float(np.sqrt(2 * 1.5 * cutter.diameter * aside - aside**2))
    lanes = opening_lanes(seen, row)
    first, last = _beside_lanes(seen, track.curve, row, (lanes, cutter, cutter.radius))
    opened = cleared_under(seen, lanes, cutter.radius)
    return (
        _with_room(seen, track, first + back, "in", cutter, LOOK_STEP_MM, opened),
        _with_room(seen, track, last - back, "out", cutter, -LOOK_STEP_MM),
    )


def _beside_lanes(
    seen: SideOutline,
    track: Curve,
    row: tuple[float, float, ClearedStretch],
    run: tuple[Lanes, Cutter, float],
) -> tuple[float, float]:
    """Return the track's stations between which a cutter is beside all lanes that opened an edge.

    ``run`` are the lanes, the cutter and how far outside the wall its track is. Past either station
    it would go further than they did, by more than `SPARE_RIM_MM`, into what stands as high as the
    clearing left it.
    """
    lanes, cutter, away = run
    low, high, _ = row
    more = max(0.0, cutter.radius - lanes.cutter.radius)
    first, last = lane_stations(
        track, seen.wall, low + SHORTER_LANE_MM, high - SHORTER_LANE_MM, away
    )
    begun, ended = (
        station_of(track, np.array([lane.vertices[k] for lane in lanes.curves])) for k in (0, -1)
    )
    late = float(stations_past(begun, first, track.length).max()) + more
    soon = float(stations_past(last, ended, track.length).max()) + more
    return first + late * (late > SPARE_RIM_MM), last - soon * (soon > SPARE_RIM_MM)


def _beside_ends(
    seen: SideOutline,
    track: Track,
    row: tuple[float, float, ClearedStretch],
    cutter: Cutter,
    away: float,
) -> tuple[float, float]:
    """Return where a pass further beside an edge begins, over opened ground, and ends."""
    lanes = opening_lanes(seen, row)
    first, last = _beside_lanes(seen, track.curve, row, (lanes, cutter, away))
    opened = cleared_under(seen, lanes, cutter.radius)
    stations = first + LOOK_STEP_MM * np.arange(int(LOOK_WITHIN_MM / LOOK_STEP_MM) + 1)
    places = place_at(track.curve, stations)[0]
    fitting = (
        float(at)
        for at, place in zip(stations, places, strict=True)
        if at < last - LOOK_STEP_MM and opened(place)
    )
    begin = next(fitting, None)
    if begin is None:
        x, y = seen.on_part(places[0])
        raise PlanError(
            f"the edge's wall on side {seen.bench.side} finds no opened ground within"
            f" {mm(LOOK_WITHIN_MM):g} of"
            f" {Place(x, y):.1f} to come down on: choose a finishing cutter of less than"
            f" {cutter.keyed('diameter'):.1f}, or a wider outline.width"
        )
    return begin, last


def _led(
    seen: SideOutline, track: Track, ends: tuple[float, float], level: float, cutter: Cutter,
    feed: float, entry: float | None, aside: float,
) -> Motions:  # fmt: skip
    """Return a pass between two stations of a track, falling from ``entry`` to its level.

    Arcs lead on and off it at these stations, from ``aside`` mm beside it; 0 for none.
    """
    first, last = ends
    radius = 1.5 * cutter.diameter
    along = wall_feed(feed, cutter.radius, cutter.radius)
    heights = track.heights(level, first, last)
    if entry is not None:
        fall = (entry - level) / np.tan(seen.bench.order.tabs.ramp_down)
        heights = highest(Heights.through([(first, entry), (first + fall, level)]), heights)
    z_in, z_out = (float(heights.at(np.array([s]))[0]) for s in (first, last))
    parts = [follow(track.curve, first, last, heights, along)]
    if aside > 0:
        slow = lead_feed(seen.bench.order, feed)
        parts = [
            lead_in(track.curve, first, radius=radius, aside=aside, z=z_in, feed=slow),
            *parts,
            lead_out(track.curve, last, radius=radius, aside=aside, z=z_out, feed=slow),
        ]
    motions = Motions.joined(parts)
    _refuse_near(seen, motions, cutter)
    return motions


def _with_room(
    seen: SideOutline, track: Track, station: float, way: str, cutter: Cutter, step: float,
    opened: Callable[[np.ndarray], bool] | None = None,
) -> float:  # fmt: skip
    """Return the first station from ``station`` on, by ``step``, where an arc leads ``way``: in or out.

    It begins or ends well beside the wall; along wide bays, where none does, as far as can be. Where
    the cutter comes down on it, ``opened`` tells whether it may at a place (2,).

    Raises
    ------
    PlanError
        Where none within `LOOK_WITHIN_MM` stays clear of the wall.
    """
    lead = lead_in if way == "in" else lead_out
    aside = _aside(seen.bench.order, cutter)
    best, found = cutter.radius, None
    for k in range(int(LOOK_WITHIN_MM / LOOK_STEP_MM) + 1):
        at = station + k * step
        arc = lead(track.curve, at, radius=1.5 * cutter.diameter, aside=aside, z=0.0, feed=1.0)
        near = distance(sampled(arc), seen.wall)
        if opened is not None and not opened(arc.start[0, :2]):
            continue
        if near.min() >= cutter.radius - FINISH_GOUGE_MM and near.max() > best + 1e-6:
            best, found = near.max(), at
        if best >= cutter.radius + 0.8 * aside:
            break
    if found is not None:
        return found
    x, y = seen.on_part(place_at(track.curve, station)[0][0])
    order = seen.bench.order
    thick = max((*order.cuttings(CLEAR), *order.cuttings(ROUGH)), key=lambda one: one.allowance)
    if opened is not None and thick.allowance > aside:
        raise PlanError(
            f"{thick.path}: {thick.keyed('allowance'):.3f} must be at most {most_mm(aside):.3f}: so"
            f" far beside the wall its pass on side {seen.bench.side} comes down by {Place(x, y):.1f},"
            " and would fall into what roughing leaves"
        )
    raise PlanError(
        f"the wall's pass on side {seen.bench.side} finds no room to be led onto or off the wall within"
        f" {mm(LOOK_WITHIN_MM):g} of {Place(x, y):.1f}; choose a finishing cutter of less than"
        f" {cutter.keyed('diameter'):.1f}, or round the outline there more widely"
    )


def _refuse_near(seen: SideOutline, motions: Motions, cutter: Cutter) -> None:
    refuse_near(seen.bench, seen.wall, motions, cutter, "the wall's pass")


def uncleared_trench_cuts(
    seen: SideOutline, floors: Floors, tabs: Sequence[Tab], used: dict[int, float]
) -> list[Cut]:
    """Return the trench round the rest of the outline in levels, each pass one way."""
    bench, order = seen.bench, seen.bench.order
    rough, cutter = cutting_and_cutter(order, ROUGH)
    on_a = bench.side == "A"
    bottom = floors.a_rough if on_a else height_on("B", floors.b_rough)
    held = () if on_a else tuple(tabs)
    aways = lane_offsets(
        order.trench.width - cutter.radius, cutter.radius + rough.allowance, rough.stepover
    )
    tab_z = height_on(bench.side, floors.tab)
    tracks = [_windowed(seen, float(a), held, cutter, tab_z, ROUGH_BAND_MM) for a in aways]
    _, finisher = cutting_and_cutter(order, FINISH)
    into = (
        INTO_OPENED_MM
        + SHORTER_LANE_MM
        + float(np.sqrt(2 * 1.5 * finisher.diameter * FINISH_ASIDE_MM))
    )
    passes = []
    for k, (low, high) in enumerate(seen.rest):
        lanes = [
            _extended(track, seen.wall, low, high, float(away), cutter.radius + into)
            for track, away in zip(tracks, aways, strict=True)
        ]
        before = seen.opened[(k + 1) % len(seen.opened)]
        opened = _open_ground(seen, before, cutter.radius)
        begun = [_begun(seen, track.curve, first, opened)
                 for track, (first, _) in zip(tracks, lanes, strict=True)]  # fmt: skip
        lanes = [(first, last) for (first, _), (_, last) in zip(begun, lanes, strict=True)]
        shifts = [shift for _, shift in begun]
        for level in levels(bench.trench_top, bottom, rough.stepdown):
            for track, away, (first, last), shift in zip(tracks, aways, lanes, shifts, strict=True):
                feed = wall_feed(rough.feed, float(away), cutter.radius)
                one = one_way(track, first, last, level, feed)
                passes.append(_from_aside(one, track.curve, first, shift, rough.feed))
    depths = levels(bench.trench_top, bottom, corner_entry(order).stepdown)
    floor = depths, None if on_a else height_on("B", floors.b_finish)
    corners = [
        one
        for k in range(len(seen.rest))
        for one in _corners(seen, (held, tab_z), rough, floor, partial(_rest_span, seen, k))
    ]
    if on_a:
        corners += [one for row in seen.opened for one in _edge_corners(seen, row)]
    return corner_cuts(bench, passes, corners, name="OUTLINE TRENCH", used=used)


def _open_ground(
    seen: SideOutline, row: tuple[float, float, ClearedStretch], radius: float
) -> Callable[[np.ndarray], bool]:
    """Return what tells whether all under a cutter at a place (2,) is open, beside one edge.

    Whatever was cleared, and on side B what its lanes opened below that.
    """
    cut = [clearing_lanes(seen, row)] if row[2].needs_clearing(seen.bench.side) else []
    cut += [opening_lanes(seen, row)] if seen.bench.side == "B" else []
    tests = [cleared_under(seen, lanes, radius) for lanes in cut]
    return lambda place: all(test(place) for test in tests)


def _begun(
    seen: SideOutline, track: Curve, station: float, opened: Callable[[np.ndarray], bool]
) -> tuple[float, float]:
    """Return the station where a pass of the rest begins, and how far outside it comes down, mm.

    At ``station`` or before it, where all is open. A thicker cutter leaves more beside the wall
    when it clears than the trench's own does.

    Raises
    ------
    PlanError
        Where nothing within `LOOK_WITHIN_MM` is.
    """
    _, clearing = cutting_and_cutter(seen.bench.order, CLEAR)
    shifts = STEP_ASIDE_MM * np.arange(int(clearing.radius / STEP_ASIDE_MM) + 1)
    for back in LOOK_STEP_MM * np.arange(int(LOOK_WITHIN_MM / LOOK_STEP_MM) + 1):
        place, outward = _outward(track, station - back)
        for shift in shifts:
            if opened(place + shift * outward):
                return station - float(back), float(shift)
    x, y = seen.on_part(_outward(track, station)[0])
    raise PlanError(
        f"the trench's passes on side {seen.bench.side} find no ground opened beside the bevels within"
        f" {mm(LOOK_WITHIN_MM):g} of {Place(x, y):.1f} to come down on: choose thinner cutters in"
        f' [[cutting]] for "{CLEAR}" and "{ROUGH}", or widen the outline there'
    )


def _from_aside(
    motions: Motions, track: Curve, station: float, shift: float, feed: float
) -> Motions:
    """Return a pass from a track's station that comes level from ``shift`` mm outside it."""
    if shift == 0:
        return motions
    begin = motions.start[0]
    _, outward = _outward(track, station)
    beside = (*(begin[:2] + shift * outward), begin[2])
    return Motions.joined([line(beside, begin, feed), motions])


def _outward(track: Curve, station: float) -> tuple[np.ndarray, np.ndarray]:
    """Return a clockwise track's place (2,) and the unit vector (2,) away from the blade."""
    places, headings = place_at(track, station)
    return places[0], np.array([-np.sin(headings[0]), np.cos(headings[0])])


def _extended(
    track: Track, wall: Curve, low: float, high: float, away: float, more: float
) -> tuple[float, float]:
    first, last = lane_stations(track.curve, wall, low, high, away)
    return first - more, last + more


def _windowed(
    seen: SideOutline, away: float, tabs: Sequence[Tab], cutter: Cutter, tab_z: float, band: float
) -> Track:
    """Return a track with the tabs' windows."""
    bench = seen.bench
    order = bench.order
    curve = track_at(seen.wall, away, band)
    places = [points_on(bench.side, tab.place, order.setup.flip)[0] for tab in tabs]
    windows = tuple(
        window_on(curve, p, tangent_beside(seen.wall, p), order, cutter, tab_z) for p in places
    )
    return Track(curve=curve, windows=windows)


def wall_cuts(
    seen: SideOutline, floors: Floors, tabs: Sequence[Tab], used: dict[int, float]
) -> list[Cut]:
    """Return the finished wall: on side A one lap, on side B the rest with the tabs."""
    bench, order = seen.bench, seen.bench.order
    finish, _ = cutting_and_cutter(order, FINISH)
    passes = [_lap(seen, floors, tabs)] if bench.side == "A" else _rest_walls(seen, floors, tabs)
    return cuts_by_life(bench, passes, name="OUTLINE WALL", cutting=finish, used=used)


def _rest_walls(seen: SideOutline, floors: Floors, tabs: Sequence[Tab]) -> list[Motions]:
    order = seen.bench.order
    finish, cutter = cutting_and_cutter(order, FINISH)
    tab_z = height_on("B", floors.tab)
    track = _windowed(seen, cutter.radius, tabs, cutter, tab_z, FINISH_BAND_MM)
    level = height_on("B", floors.b_finish)
    feed = finish.feed * WEB_FEED_SHARE
    passes = []
    for k, (low, high) in enumerate(seen.rest):
        before, after = seen.opened[(k + 1) % len(seen.opened)], seen.opened[k]
        first, last = lane_stations(track.curve, seen.wall, low, high, cutter.radius)
        first -= _into(seen, track, before, floors, cutter)[1]
        last += _into(seen, track, after, floors, cutter)[0]
        ends = (
            _with_room(seen, track, first, "in", cutter, -LOOK_STEP_MM),
            _with_room(seen, track, last, "out", cutter, LOOK_STEP_MM),
        )
        passes.append(_led(seen, track, ends, level, cutter, feed, None, _aside(order, cutter)))
    return passes


def _into(
    seen: SideOutline,
    track: Track,
    row: tuple[float, float, ClearedStretch],
    floors: Floors,
    cutter: Cutter,
) -> tuple[float, float]:
    """Return how far the rest's wall must go into an opened stretch at its first and last end, mm.

    Side A's lap is lifted so far in, or side B's wall of the edge is not yet at its level.
    """
    order = seen.bench.order
    low, high, one = row
    steep = float(np.tan(order.tabs.ramp_down))
    lifted = _lifted(order) + max(0.0, floors.a_finish - one.floor_a) / steep
    falls = (order.trench.web + ENTERED_MM + order.trench.overlap) / steep
    ends = lane_stations(track.curve, seen.wall, low, high, cutter.radius)
    found = _edge_ends(seen, track, row, cutter)
    first, last = stations_past(found, ends, track.curve.length).tolist()
    return max(lifted, first + falls) + WALL_JOIN_MM, max(lifted, -last) + WALL_JOIN_MM


def _lap(seen: SideOutline, floors: Floors, tabs: Sequence[Tab]) -> Motions:
    """Return side A's lap: as deep as each stretch was cut, the rest as a window over the deepest."""
    order = seen.bench.order
    finish, cutter = cutting_and_cutter(order, FINISH)
    clearance = order.trench.clearance
    curve = track_at(seen.wall, cutter.radius, FINISH_BAND_MM)
    level = min(floors.a_rough, *(one.floor_a for _, _, one in seen.opened)) + clearance
    windows = []
    for low, high in seen.rest:
        windows.append(_as_window(seen, curve, (low, high), floors.a_finish, _lifted(order)))
    for low, high, one in seen.opened:
        if one.floor_a + clearance > level + 1e-9:
            z = one.floor_a + clearance
            windows.append(_as_window(seen, curve, (low, high), z, STILL_LIFTED_MM))
    track = Track(curve=curve, windows=tuple(windows))
    motions = finish_wall(
        track,
        landing=_landing(seen, curve, tabs, cutter),
        level=level,
        entry_z=level,
        ramp_down=order.tabs.ramp_down,
        overlap=FINISH_OVERLAP_MM,
        radius=1.5 * cutter.diameter,
        aside=min(FINISH_ASIDE_MM, order.trench.width - cutter.diameter - 0.02),
        feed=wall_feed(finish.feed, cutter.radius, cutter.radius),
        lead_feed=lead_feed(order, finish.feed),
    )
    _refuse_near(seen, motions, cutter)
    return motions


def _landing(seen: SideOutline, curve: Curve, tabs: Sequence[Tab], cutter: Cutter) -> float:
    """Return where side A's lap begins: at the first tab where its lead arcs have room.

    At the first tab where none has; the lap is then refused.
    """
    aside = _aside(seen.bench.order, cutter)
    chosen: list[tuple[Tab, ...]] = [(tab,) for tab in tabs] or [()]
    places = [landing_on(seen.bench, curve, one) - FINISH_OVERLAP_MM / 2 for one in chosen]
    for place in places:
        arcs = [
            lead(curve, at, radius=1.5 * cutter.diameter, aside=aside, z=0.0, feed=1.0)
            for lead, at in ((lead_in, place), (lead_out, place + FINISH_OVERLAP_MM))
        ]
        if (
            distance(sampled(Motions.joined(arcs)), seen.wall).min()
            >= cutter.radius - FINISH_GOUGE_MM
        ):
            return place
    return places[0]


def _lifted(order: Order) -> float:
    """Return by how much side A's lap stays lifted past the rest's ends, within the opened stretches.

    The finisher's front is where the lanes have cleared all: by the difference of the radii ahead of
    a thinner cutter's, and wedges stand between their ends, R - sqrt(R^2 - (s/2)^2) long.
    """
    clear, clearing = cutting_and_cutter(order, CLEAR)
    _, finisher = cutting_and_cutter(order, FINISH)
    between = float(np.sqrt(max(0.0, clearing.radius**2 - clear.stepover**2 / 4)))
    return max(STILL_LIFTED_MM, finisher.radius - between)


def _as_window(
    seen: SideOutline, curve: Curve, stretch: tuple[float, float], z: float, more: float
) -> Window:
    """Return the window that lifts side A's lap over a stretch of the wall and ``more`` mm beside it."""
    order = seen.bench.order
    first, last = lane_stations(
        curve, seen.wall, *stretch, cutting_and_cutter(order, FINISH)[1].radius
    )
    return Window(
        start=first - more,
        end=last + more,
        z=z,
        ramp_up=order.tabs.ramp_up,
        ramp_down=order.tabs.ramp_down,
    )


def keep_tabs_off(order: Order, opened: Sequence[ClearedStretch]) -> Order:
    """Return the order with no tabs on the opened stretches, close beside them, or in their lanes.

    A thick cutter clears beyond a stretch's end, and where the outline bends toward it, as a guard
    does, the trench of another. As `tabs.room_for_tab` keeps the outline's cutters off too, their
    reach is taken off what lanes clear: half a millimetre stays to the tab itself.
    """
    whole, tabs = order.blade.outline.length, order.tabs
    cutters = [cutting_and_cutter(order, stage)[1] for stage in (ROUGH, FINISH)]
    reach = min(max(reaches(c, tabs.ramp_up, tabs.ramp_down)) for c in cutters)
    free = [
        replace(
            one.stretch,
            start=one.stretch.start - INTO_OPENED_MM,
            end=one.stretch.end + INTO_OPENED_MM,
        )
        for one in opened
    ]
    for side in "AB":
        seen = side_outline(SideContext(order=order, side=side), opened)
        for low, high in _cleared(seen):
            low, high = (low, high) if side == "A" else (whole - high, whole - low)
            off = min(reach, (high - low) / 2)
            free.append(Stretch(start=low + off, end=high - off))
    return replace(order, tabs=replace(tabs, no_tabs=(*tabs.no_tabs, *free)))


def _cleared(seen: SideOutline) -> Iterator[tuple[float, float]]:
    """Yield the stretches of the wall, stations, whose trench the lanes beside any edge clear."""
    count = int(np.ceil(seen.wall.length / LOOK_STEP_MM))
    step = seen.wall.length / count
    aways = np.linspace(0.0, seen.bench.order.trench.width, TRENCH_PLACES_ACROSS)
    places = np.concatenate(
        [places_beside(seen.wall, (step * np.arange(count)).tolist(), away) for away in aways]
    )
    gone = np.zeros(count, bool)
    for row in seen.opened:
        if row[2].needs_clearing(seen.bench.side):
            lanes = clearing_lanes(seen, row)
            for curve in lanes.curves:
                near = distance(places, curve) < lanes.cutter.radius
                gone |= near.reshape(TRENCH_PLACES_ACROSS, count).any(axis=0)
    ends = np.flatnonzero(np.diff(np.concatenate([[False], gone, [False]])))
    for first, after in ends.reshape(-1, 2):
        yield float(first - 1) * step, float(after) * step

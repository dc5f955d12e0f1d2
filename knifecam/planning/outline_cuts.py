"""The outline's cuts on one side: trench, finished wall, lanes beside cleared stretches."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from knifecam.curve import Curve, Motions, distance, place_at, station_of
from knifecam.curve.motions import sampled
from knifecam.errors import PlanError
from knifecam.paths.lane_motions import lane_curve, lane_stations, rough_lanes
from knifecam.paths.offset import offset, refitted_offset
from knifecam.paths.trench_motions import (
    Track,
    corner_passes,
    finish_wall,
    full_corners,
    levels,
    rough_trench,
)
from knifecam.planning.cleared_stretches import ClearedStretch
from knifecam.planning.life_groups import cuts_by_life, wall_feed
from knifecam.planning.plan import Cut, Tab
from knifecam.planning.planning_limits import (
    BEFORE_TAB_MM,
    COME_DOWN_PLACES,
    CONTOUR_RAMP_RAD,
    CORNER_ROUNDING_MM,
    ENTRY_MM,
    FINISH_ASIDE_MM,
    FINISH_BAND_MM,
    FINISH_GOUGE_MM,
    FINISH_OVERLAP_MM,
    FULLER_AT_TABS_SHARE,
    LOOK_STEP_MM,
    LOOK_WITHIN_MM,
    ROUGH_BAND_MM,
    SHORTER_LANE_MM,
    SPARE_RIM_MM,
    WEB_FEED_SHARE,
    WEB_STEPDOWN_MM,
    WEB_THICKER_SHARE,
)
from knifecam.planning.tab_places import allowed_places, reaches, tangent_beside, window_on
from knifecam.quantity import Place, basis, mm
from knifecam.shop import Cutter, Cutting, Order
from knifecam.shop.order_record import CLEAR, ROUGH, cutting_and_cutter, cutting_path
from knifecam.shop.side_view import Floors, SideContext, curve_on, height_on, points_on


def single_loop(wall: Curve, away: float, why: str, band: float = FINISH_BAND_MM) -> Curve:
    """Return the only curve ``away`` mm outside the wall, clockwise, at most ``band`` mm farther.

    Raises
    ------
    PlanError
        When a bay of the outline closes behind the cutter, so that several curves result.
    """
    loops = refitted_offset(wall, away, band)
    refuse_closed_bays(loops, away, why)
    return loops[0].clockwise()


def refuse_closed_bays(loops: Sequence[Curve], away: float, why: str) -> None:
    """Raise `PlanError` where an outline's offset has more than one loop."""
    if len(loops) == 1:
        return
    x, y = (loops[1] if len(loops) > 1 else loops[0]).vertices.mean(axis=0)
    raise PlanError(
        f"{why}: at {mm(away):.3f} from the outline a bay near {Place(x, y):.2f} closes and the waste"
        " in it would come loose; open the bay, or use a smaller cutter or a narrower outline.width"
    )


def tracks_on(
    bench: SideContext, wall: Curve, tabs: Sequence[Tab], tab_z: float
) -> tuple[Track, ...]:
    """Return the roughing tracks, outermost first, with the tabs' windows at ``tab_z``."""
    order = bench.order
    cutting = order.cuttings("rough")[0]
    cutter = order.cutter(cutting.cutter)
    inner = cutter.radius + cutting.allowance
    outer = max(inner, order.trench.width - cutter.radius)
    count = 1 + int(np.ceil((outer - inner) / cutting.stepover - 1e-9))
    return tuple(
        _track(bench, wall, float(away), tabs, cutter, tab_z, ROUGH_BAND_MM)
        for away in np.linspace(outer, inner, count)
    )


def _track(
    bench: SideContext,
    wall: Curve,
    away: float,
    tabs: Sequence[Tab],
    cutter: Cutter,
    z: float,
    band: float = FINISH_BAND_MM,
) -> Track:
    order = bench.order
    curve = single_loop(wall, away, "outline trench", band)
    places = [points_on(bench.side, tab.place, order.setup.flip)[0] for tab in tabs]
    return Track(
        curve=curve,
        windows=tuple(
            window_on(curve, p, tangent_beside(wall, p), order, cutter, z) for p in places
        ),
    )


def outline_cuts(
    bench: SideContext, floors: Floors, tabs: Sequence[Tab], used: dict[int, float]
) -> list[Cut]:
    """Return the trench's and the wall's cuts on this side."""
    order = bench.order
    wall = curve_on(bench.side, order.blade.outline, order.setup.flip).counter_clockwise()
    on_a = bench.side == "A"
    held = () if on_a else tuple(tabs)
    tab_z = height_on(bench.side, floors.tab)
    width = order.trench.width
    refuse_closed_bays(offset(wall, width), width, "outline trench")
    bottom = floors.a_rough if on_a else height_on("B", floors.b_rough)
    tracks = tracks_on(bench, wall, held, tab_z)
    through = None if on_a else height_on("B", floors.b_finish)
    ways = (tracks, held, tab_z)
    cuts = _opened_up(bench, wall, ways, tabs, (bottom, through), "OUTLINE TRENCH", used)
    finish = order.cuttings("finish")[0]
    cuts += cuts_by_life(
        bench, [_finish(bench, floors, wall, held, tabs)], name="OUTLINE WALL", cutting=finish,
        used=used,
    )  # fmt: skip
    return cuts


def groove_cuts(
    bench: SideContext, tabs: Sequence[Tab], depth: float, used: dict[int, float]
) -> list[Cut]:
    """Return the cuts of a groove round the whole outline, ``depth`` mm deep, its wall finished.

    It takes in neither web nor tabs; ``tabs`` are where its passes begin and where they do not.
    """
    order = bench.order
    wall = curve_on(bench.side, order.blade.outline, order.setup.flip).counter_clockwise()
    refuse_closed_bays(offset(wall, order.trench.width), order.trench.width, "outline groove")
    tracks = tracks_on(bench, wall, (), bench.top)
    finish = order.cuttings("finish")[0]
    ways = (tracks, (), bench.top)
    bottom = bench.top - depth
    cuts = _opened_up(bench, wall, ways, tabs, (bottom, None), "OUTLINE GROOVE", used)
    cutter = order.cutter(finish.cutter)
    track = _track(bench, wall, cutter.radius, (), cutter, bench.top)
    level = bench.top - depth + order.trench.clearance
    lap = _lap(bench, wall, track, tabs, level=level, entry=level, share=1.0)
    cuts += cuts_by_life(bench, [lap], name="OUTLINE GROOVE'S WALL", cutting=finish, used=used)
    return cuts


def _opened_up(
    bench: SideContext,
    wall: Curve,
    ways: tuple[Sequence[Track], Sequence[Tab], float],
    tabs: Sequence[Tab],
    floor: tuple[float, float | None],
    name: str,
    used: dict[int, float],
) -> list[Cut]:
    """Return the cuts that rough down to a floor along tracks, then in the inner corners.

    ``ways`` are the tracks, the tabs that stand on them, and the height of their windows; ``floor``
    how deep they go and, where a web stays below, how deep the wall's pass is to go.
    """
    tracks, held, tab_z = ways
    bottom, through = floor
    passes = [*_roughed(bench, wall, tracks, tabs, bottom)]
    entry = corner_entry(bench.order)
    cutter = bench.order.cutter(entry.cutter)
    track = _track(bench, wall, cutter.radius, held, cutter, tab_z)
    depths = levels(bench.trench_top, bottom, entry.stepdown)
    rough = bench.order.cuttings("rough")[0]
    corners = corners_on(bench, wall, track, entry=rough, depths=depths, through=through)
    corners += beside_tabs(bench, wall, track, tabs=held, bottom=bottom)
    return corner_cuts(bench, passes, corners, name=name, used=used)


def corner_entry(order: Order) -> Cutting:
    """Return how the inner corners are roughed: by the roughing cutter, or a thinner finishing one.

    A thinner one takes less by the share of the diameters, and feeds no faster than it finishes.
    """
    rough, finish = order.cuttings("rough")[0], order.cuttings("finish")[0]
    share = order.cutter(finish.cutter).diameter / order.cutter(rough.cutter).diameter
    if share >= 1.0:
        return rough
    return replace(
        rough,
        cutter=finish.cutter,
        spindle=finish.spindle,
        feed=min(finish.feed, rough.feed * share * finish.spindle / rough.spindle),
        stepdown=rough.stepdown * share,
        life=finish.life,
    )


def corners_on(
    bench: SideContext,
    wall: Curve,
    track: Track,
    *,
    entry: Cutting,
    depths: Sequence[float],
    through: float | None = None,
    span: Callable[[], tuple[float, float]] | None = None,
) -> tuple[Motions, ...]:
    """Return the passes into the inner corners that the roughing ``entry`` left fuller.

    ``track`` touches the wall with the corners' cutter. Its corners count as far as they lie within
    the ``span`` of its stations; all, if there is none. Where a web stays below and the finish
    is to go ``through``, the corners are opened that far: ahead of the cutter the web stands there
    with the fillets of both sides' roughing.
    """
    order, inner = bench.order, corner_entry(bench.order)
    cutter = order.cutter(inner.cutter)
    away = order.cutter(entry.cutter).radius + entry.allowance
    if not depths or order.cutter(order.cuttings("finish")[0].cutter).radius >= away:
        return ()
    roughed = offset(wall, away)[:1]
    web = web_levels(order, depths[-1], through)
    beside = entry.allowance + (_fillet_met(order) if web else 0.0)
    corners = full_corners(
        track.curve, roughed, away - cutter.radius + FINISH_BAND_MM, cutter.radius, beside
    )
    if corners and span is not None:
        corners = tuple(within_span(corners, span(), track.curve.length))
    return corner_passes(
        track, corners, roughed, wall, radius=cutter.radius, depths=(*depths, *web),
        feed=wall_feed(inner.feed, cutter.radius, cutter.radius), side_feed=inner.feed,
    )  # fmt: skip


def beside_tabs(
    bench: SideContext,
    wall: Curve,
    track: Track,
    *,
    tabs: Sequence[Tab],
    bottom: float,
    span: Callable[[], tuple[float, float]] | None = None,
) -> tuple[Motions, ...]:
    """Return passes over tabs that take what a thicker roughing cutter left on the wall beside them.

    ``track`` touches the wall with the corners' cutter and has the ``tabs``' windows; a pass runs
    over a tab and back at each level from the window down to ``bottom``. All of their stretches
    lie within the ``span`` of the track's stations, or they are another call's.
    """
    order, inner = bench.order, corner_entry(bench.order)
    rough = order.cuttings("rough")[0]
    thick, cutter = order.cutter(rough.cutter), order.cutter(inner.cutter)
    if not fuller_at_tabs(order, cutter):
        return ()
    roughed = offset(wall, thick.radius + rough.allowance)[:1]
    lap = roughed[0].clockwise()
    found: list[Motions] = []
    for tab, window in zip(tabs, track.windows, strict=True):
        if not window.z > bottom + CORNER_ROUNDING_MM:
            continue
        place = points_on(bench.side, tab.place, order.setup.flip)[0]
        lifted = window_on(lap, place, tangent_beside(wall, place), order, thick, window.z)
        stretch = _beside(track.curve, lap, lifted.foot(bottom))
        if span is None or [*within_span([stretch], span(), track.curve.length)]:
            found += corner_passes(
                track, [stretch], roughed, wall, radius=cutter.radius,
                depths=levels(window.z, bottom, inner.stepdown),
                feed=wall_feed(inner.feed, cutter.radius, cutter.radius), side_feed=inner.feed,
            )  # fmt: skip
    return tuple(found)


def _beside(track: Curve, roughed: Curve, ends: tuple[float, float]) -> tuple[float, float]:
    """Return a track's stretch beside that between two stations of another, `BEFORE_TAB_MM` longer."""
    first, last = station_of(track, place_at(roughed, ends)[0])
    return float(first) - BEFORE_TAB_MM, float(
        first + (last - first) % track.length
    ) + BEFORE_TAB_MM


def fuller_at_tabs(order: Order, cutter: Cutter) -> bool:
    """Whether roughing leaves far more than its allowance on the wall where ``cutter`` ends at a tab.

    Their fronts end in one line, the tab's narrow face. On the wall the roughing of radius R then
    ends sooner by the difference d of their reaches, and R - sqrt(R^2 - d^2) stands there beyond
    its allowance.
    """
    rough, tabs = order.cuttings("rough")[0], order.tabs
    thick = order.cutter(rough.cutter)
    ends, later = (np.array(reaches(one, tabs.ramp_up, tabs.ramp_down)) for one in (thick, cutter))
    sooner = float(np.clip((ends - later).max(), 0.0, thick.radius))
    stands = thick.radius - float(np.sqrt(thick.radius**2 - sooner**2))
    return stands > max(CORNER_ROUNDING_MM, FULLER_AT_TABS_SHARE * rough.allowance)


def within_span(
    stretches: Iterable[tuple[float, float]], span: tuple[float, float], whole: float
) -> Iterator[tuple[float, float]]:
    """Yield what of stretches of a closed track of ``whole`` mm lies within a span, stations in mm.

    Less than `CORNER_ROUNDING_MM` is left out.
    """
    first, last = span
    for start, end in stretches:
        begin = first + (start - first) % whole
        for low in (begin, begin - whole):
            inner = max(low, first), min(low + end - start, last)
            if inner[1] - inner[0] > CORNER_ROUNDING_MM:
                shift = whole * np.floor(inner[0] / whole)
                yield float(inner[0] - shift), float(inner[1] - shift)


def web_levels(order: Order, bottom: float, through: float | None) -> tuple[float, ...]:
    """Return the levels in which the inner corners are opened below ``bottom``; () where no web stays.

    They end at the top of the other side's fillets, and no deeper than ``through``. The cutter goes
    straight down from each to the next.
    """
    if through is None:
        return ()
    low = max(bottom - order.trench.web - _roughing_corner(order), through)
    return levels(bottom, low, WEB_STEPDOWN_MM) if low < bottom else ()


def _roughing_corner(order: Order) -> float:
    """Return the greatest corner radius among the cutters that open the trench, mm."""
    numbers = [c.cutter for c in order.cutting if c.stage in ("rough", "clear")]
    return max(order.cutter(n).corner for n in (*numbers, corner_entry(order).cutter))


def _fillet_met(order: Order) -> float:
    """Return how far from where roughing ran the web is more than `WEB_THICKER_SHARE` by its
    fillets, mm."""
    corner, high = _roughing_corner(order), WEB_THICKER_SHARE * order.trench.web / 2
    if corner <= high:
        return 0.0
    return corner - float(np.sqrt(corner**2 - (corner - high) ** 2))


def corner_cuts(
    bench: SideContext,
    passes: Sequence[Motions],
    corners: Sequence[Motions],
    *,
    name: str,
    used: dict[int, float],
) -> list[Cut]:
    """Return the cuts of roughing passes and, by the same cutter or the finishing one, of corners."""
    rough, entry = bench.order.cuttings("rough")[0], corner_entry(bench.order)
    cuts: list[Cut] = []
    if entry.cutter == rough.cutter:
        passes, corners = [*passes, *corners], ()
    if passes:
        cuts += cuts_by_life(bench, passes, name=name, cutting=rough, used=used)
    if corners:
        cuts += cuts_by_life(bench, corners, name=f"{name}'S CORNERS", cutting=entry, used=used)
    return cuts


def _roughed(
    bench: SideContext, wall: Curve, tracks: Sequence[Track], tabs: Sequence[Tab], bottom: float
) -> tuple[Motions, ...]:
    """Return the trench's roughing, a pass a level, from where metal begins down to ``bottom``."""
    rough = bench.order.cuttings("rough")[0]
    cutter = bench.order.cutter(rough.cutter)
    depths = levels(bench.trench_top, bottom, rough.stepdown)
    away = cutter.radius + rough.allowance
    feed = wall_feed(rough.feed, away, cutter.radius)
    start = station_of(tracks[0].curve, _start_place(bench, tabs))[0]
    return rough_trench(
        tracks, wall, start=float(start), top=bench.trench_top + ENTRY_MM, depths=depths,
        ramp=min(cutter.ramp, CONTOUR_RAMP_RAD), least=away, feed=feed, side_feed=rough.feed,
    )  # fmt: skip


def _finish(
    bench: SideContext, floors: Floors, wall: Curve, held: Sequence[Tab], tabs: Sequence[Tab]
) -> Motions:
    order = bench.order
    cutter = order.cutter(order.cuttings("finish")[0].cutter)
    on_a = bench.side == "A"
    level = floors.a_finish if on_a else height_on("B", floors.b_finish)
    entry = level if on_a else height_on("B", floors.b_rough) + 0.05
    track = _track(bench, wall, cutter.radius, held, cutter, height_on(bench.side, floors.tab))
    share = 1.0 if on_a else WEB_FEED_SHARE
    return _lap(bench, wall, track, tabs, level=level, entry=entry, share=share)


def _lap(
    bench: SideContext,
    wall: Curve,
    track: Track,
    tabs: Sequence[Tab],
    *,
    level: float,
    entry: float,
    share: float,
) -> Motions:
    """Return one finishing lap down to ``level``, at a ``share`` of the feed."""
    order = bench.order
    finish = order.cuttings("finish")[0]
    cutter = order.cutter(finish.cutter)
    feed = wall_feed(finish.feed * share, cutter.radius, cutter.radius)
    motions = finish_wall(
        track,
        landing=float(landing_on(bench, track.curve, tabs)) - FINISH_OVERLAP_MM / 2,
        level=level,
        entry_z=entry,
        ramp_down=order.tabs.ramp_down,
        overlap=FINISH_OVERLAP_MM,
        radius=1.5 * cutter.diameter,
        aside=min(FINISH_ASIDE_MM, order.trench.width - cutter.diameter - 0.02),
        feed=feed,
        lead_feed=lead_feed(order, finish.feed * share),
    )
    refuse_near(bench, wall, motions, cutter, "the wall's pass")
    return motions


def lead_feed(order: Order, feed: float) -> float:
    """Return the feed of arcs that lead onto a wall and off it, no quicker than roughing beside it.

    A tooth there is not along the wall yet, and takes more than the stock that is left on it.
    """
    return min(feed, order.cuttings("rough")[0].feed)


def refuse_near(
    bench: SideContext, wall: Curve, motions: Motions, cutter: Cutter, what: str
) -> None:
    """Raise `PlanError` where the arcs of a pass lead nearer to the wall than its cutter's radius."""
    places = sampled(motions)
    away = distance(places, wall)
    near = int(np.argmin(away))
    if not away[near] >= cutter.radius - FINISH_GOUGE_MM:
        x, y = points_on(bench.side, places[near], bench.order.setup.flip)[0]
        raise PlanError(
            f"{what} on side {bench.side} comes within {mm(away[near]):.4f} of the outline at"
            f" {Place(x, y):.2f}, less than the radius of cutter {cutter.number},"
            f" {mm(cutter.radius):.4f}; a lead arc has no room: set a tab by tabs.stations where"
            " the outline is straight, or"
            " choose a smaller cutter"
        )


def landing_on(bench: SideContext, track: Curve, tabs: Sequence[Tab]) -> float:
    """Return where the finishing pass begins: at a tab's stub, else on a gentle stretch."""
    order = bench.order
    if tabs:
        place = points_on(bench.side, tabs[0].place, order.setup.flip)
    else:
        stations, allowed = allowed_places(order, 10.0)
        chosen = stations[np.argmax(allowed)] if allowed.any() else 0.0
        place = points_on(bench.side, place_at(order.blade.outline, chosen)[0], order.setup.flip)
    return float(station_of(track, place)[0])


def _start_place(bench: SideContext, tabs: Sequence[Tab]) -> np.ndarray:
    """Return the outline's place (1, 2) farthest from all tabs, on this side."""
    order = bench.order
    outline = order.blade.outline
    whole = outline.length
    at = sorted(tab.station for tab in tabs) or [0.0]
    gaps = np.diff([*at, at[0] + whole])
    k = int(np.argmax(gaps))
    middle = at[k] + gaps[k] / 2
    return points_on(bench.side, place_at(outline, middle)[0], order.setup.flip)


def roughing_cutter(order: Order) -> Cutter:
    """Return the cutter that roughs the trench."""
    return order.cutter(order.cuttings("rough")[0].cutter)


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class SideOutline:
    """The outline as one side sees it, and its stretches there, as stations of that outline.

    ``opened`` pairs each stretch with its record; ``rest`` are the stretches between, from the end
    of one to the start of the next.
    """

    bench: SideContext
    wall: Curve
    opened: tuple[tuple[float, float, ClearedStretch], ...]

    @property
    def rest(self) -> tuple[tuple[float, float], ...]:
        """Return the stretches between the opened ones, counter-clockwise."""
        return _between([(low, high) for low, high, _ in self.opened], self.wall.length)

    def on_part(self, place: np.ndarray) -> np.ndarray:
        """Return where a place (2,) of the side's frame lies on the part."""
        return np.asarray(points_on(self.bench.side, place, self.bench.order.setup.flip)[0])


def _between(
    stretches: Sequence[tuple[float, float]], whole: float
) -> tuple[tuple[float, float], ...]:
    found = []
    for k, (_, high) in enumerate(stretches):
        following = stretches[(k + 1) % len(stretches)][0]
        while following <= high:
            following += whole
        if following - high < whole:
            found.append((high, following))
    return tuple(found)


def side_outline(bench: SideContext, opened: Sequence[ClearedStretch]) -> SideOutline:
    """Return the outline and its opened stretches as the bench's side sees them."""
    order = bench.order
    wall = curve_on(bench.side, order.blade.outline, order.setup.flip).counter_clockwise()
    whole = wall.length
    rows = []
    for one in opened:
        low, high = one.stretch.start, one.stretch.end
        if bench.side == "B":
            low, high = whole - high, whole - low
        rows.append((low, high, one))
    rows.sort(key=lambda row: row[0] % whole)
    return SideOutline(bench=bench, wall=wall, opened=tuple(rows))


def track_at(wall: Curve, away: float, band: float) -> Curve:
    """Return the outermost curve ``away`` mm outside the wall, clockwise."""
    loops = refitted_offset(wall, away, band)
    if not loops:
        raise PlanError(f"nothing lies {mm(away):.3f} outside the outline")
    return loops[0].clockwise()


def lane_offsets(outer: float, inner: float, stepover: float) -> np.ndarray:
    count = 1 + int(np.ceil(max(0.0, outer - inner) / stepover - 1e-9))
    return np.linspace(max(outer, inner), inner, count)


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Lanes:
    """Lanes beside one stretch, the outermost first, and how to run them."""

    curves: tuple[Curve, ...]
    aways: tuple[float, ...]
    cutter: Cutter
    feed: float

    @property
    def left(self) -> float:
        """Return how much they leave along the wall, mm."""
        return min(self.aways) - self.cutter.radius

    def rough(self, *, top: float, depths: Sequence[float]) -> tuple[Motions, ...]:
        """Return one pass a level."""
        return rough_lanes(
            self.curves,
            top=top,
            depths=depths,
            ramp=min(self.cutter.ramp, CONTOUR_RAMP_RAD),
            feeds=[wall_feed(self.feed, away, self.cutter.radius) for away in self.aways],
            side_feed=self.feed,
        )


def lanes_beside(
    seen: SideOutline, stretch: tuple[float, float], aways: np.ndarray, cutter: Cutter, feed: float,
    opened: Callable[[np.ndarray], bool] = lambda _: True,
) -> Lanes:  # fmt: skip
    """Return the lanes beside a stretch of the wall, from where to where it is ``opened``."""
    curves = []
    for away in aways:
        track = track_at(seen.wall, float(away), ROUGH_BAND_MM)
        first, last = lane_stations(track, seen.wall, *stretch, float(away))
        first = _on_open(seen, track, (first, last), opened, cutter)
        last = _on_open(seen, track, (last, first), opened, cutter)
        curves.append(lane_curve(track, first, last))
    return Lanes(
        curves=tuple(curves), aways=tuple(float(a) for a in aways), cutter=cutter, feed=feed
    )


def _on_open(
    seen: SideOutline,
    track: Curve,
    ends: tuple[float, float],
    opened: Callable[[np.ndarray], bool],
    cutter: Cutter,
) -> float:
    """Return the first station from one of a lane's ends toward the other that is ``opened``.

    Raises
    ------
    PlanError
        Where none within `LOOK_WITHIN_MM` is.
    """
    begin, end = ends
    reach = min(LOOK_WITHIN_MM, abs(end - begin) / 2)
    stations = begin + np.sign(end - begin) * LOOK_STEP_MM * np.arange(
        int(reach / LOOK_STEP_MM) + 1
    )
    places = place_at(track, stations)[0]
    for station, place in zip(stations, places, strict=True):
        if opened(place):
            return float(station)
    x, y = seen.on_part(places[0])
    path = cutting_path(cutter.number, ROUGH)
    raise PlanError(
        f"{path}{basis(path)}, side {seen.bench.side}: within"
        f' {mm(reach):.2f} of {Place(x, y):.1f} stage "{CLEAR}" opens no ground for'
        f" {cutter.keyed('diameter'):.3f} to come down on; name a thinner cutter for either stage,"
        " or widen the outline there"
    )


def opening_lanes(seen: SideOutline, row: tuple[float, float, ClearedStretch]) -> Lanes:
    """Return the lanes along which side B opens an edge down to the web.

    They begin and end within what has been cleared: by a thinner cutter too, and beside an inner
    corner, where lanes of other distances end elsewhere. Beside the wall they leave no less than
    clearing did, which stands as high as the blade.
    """
    low, high, one = row
    trench = seen.bench.order.trench
    rough, cutter = cutting_and_cutter(seen.bench.order, ROUGH)
    clearing = clearing_lanes(seen, row) if one.needs_clearing(seen.bench.side) else None
    left = max(rough.allowance, clearing.left if clearing else 0.0)
    shorter = SHORTER_LANE_MM + max(
        0.0, cutter.radius - cutting_and_cutter(seen.bench.order, CLEAR)[1].radius
    )
    aways = lane_offsets(trench.width - cutter.radius, cutter.radius + left, rough.stepover)
    ends = (low + shorter, high - shorter)
    if clearing is None:
        return lanes_beside(seen, ends, aways, cutter, rough.feed)
    cleared = cleared_under(seen, clearing, cutter.radius, strip=clearing.left)
    return lanes_beside(seen, ends, aways, cutter, rough.feed, cleared)


def clearing_lanes(seen: SideOutline, row: tuple[float, float, ClearedStretch]) -> Lanes:
    """Return the lanes along which a side clears beside an edge."""
    low, high, one = row
    entry, cutter = cutting_and_cutter(seen.bench.order, CLEAR)
    aways = lane_offsets(one.width - cutter.radius, cutter.radius + entry.allowance, entry.stepover)
    return lanes_beside(seen, (low, high), aways, cutter, entry.feed)


def cleared_under(
    seen: SideOutline, lanes: Lanes, radius: float, *, strip: float | None = None
) -> Callable[[np.ndarray], bool]:
    """Return what tells whether ``lanes`` open all under a cutter of ``radius`` mm at a place (2,).

    Along the trench's outer side, and along what no thicker cutter left beside the wall, the cutter
    may go as far as they do, no further. A ``strip`` of so many mm along the wall may stand; without
    it, what lanes of a thinner cutter leave there.
    """
    width = seen.bench.order.trench.width
    stands = (lanes.left if lanes.cutter.radius <= radius else 0.0) if strip is None else strip
    turn = np.arange(COME_DOWN_PLACES) * 2 * np.pi / COME_DOWN_PLACES
    rim = radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)

    def opened(place: np.ndarray) -> bool:
        away = np.min([distance(place + rim, lane) for lane in lanes.curves], axis=0)
        beyond = away > lanes.cutter.radius - SPARE_RIM_MM
        middle, from_wall = distance(place[None], seen.wall)[0], distance(place + rim, seen.wall)
        if middle + radius <= width + SPARE_RIM_MM:
            beyond &= from_wall < width - SPARE_RIM_MM
        if stands and (strip is not None or middle - radius >= stands - SPARE_RIM_MM):
            beyond &= from_wall > stands + SPARE_RIM_MM
        return not beyond.any()

    return opened

"""Where the tabs stand, how wide the cutter must be lifted over them, and what snaps them."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from knifecam.curve import Curve, Stretch, place_at, resample, station_of
from knifecam.curve.curve import Floats
from knifecam.errors import PlanError
from knifecam.paths.offset import offset
from knifecam.paths.trench_motions import Window
from knifecam.planning.plan import Tab
from knifecam.planning.planning_limits import (
    EVENING_ROUNDS,
    INTO_TAB_MM,
    LEAST_TAB_BEND_MM,
    MOST_MOVED_MM,
    NEAR_TIP_MM,
    TAB_PASS_SAMPLE_MM,
    TAB_PLACE_STEP_MM,
    TANGENT_SPAN_MM,
)
from knifecam.quantity import Place, mm, stated
from knifecam.rules.rules_limits import BEND_STRENGTH_N_MM2
from knifecam.rules.workholding_rules import holding_notes, listed, wanted_count
from knifecam.shop import Cutter, Order
from knifecam.shop.order_record import FINISH, ROUGH
from knifecam.shop.side_view import floors


def reaches(cutter: Cutter, rise: float, ramp_down: float) -> tuple[float, float]:
    """Return how far the cutter cuts ahead of its axis where it rises, and behind where it falls.

    At the plane of the tip's highest place a flat end reaches its radius R. A corner radius r
    reaches R - r + r tan(a/2) while it moves at the slope a: the plane that the corner envelops
    is met there.
    """
    flat = cutter.radius - cutter.corner
    return flat + cutter.corner * np.tan(rise / 2), flat + cutter.corner * np.tan(ramp_down / 2)


def tangent_beside(wall: Curve, place: Floats) -> Floats:
    """Return the unit direction (2,) of clockwise travel along the counter-clockwise wall.

    It is that of the chord over `TANGENT_SPAN_MM`, so that outlines of thousands of short lines have
    one as well as smooth ones.
    """
    middle = float(station_of(wall, place)[0])
    half = min(TANGENT_SPAN_MM, wall.length / 8) / 2
    ends = place_at(wall, [middle + half, middle - half])[0]
    way = ends[1] - ends[0]
    return np.asarray(way / np.hypot(*way))


def window_on(
    track: Curve,
    place: Floats,
    tangent: Floats,
    order: Order,
    cutter: Cutter,
    z: float,
    width: float | None = None,
) -> Window:
    """Return the window of a tab at ``place`` (2,) of the wall, in the track's frame.

    Along the tab's ``tangent``, one for all tracks, the axis stops half a waist and the cutter's
    reach before its middle and goes on as far behind it, so that the narrow face of the tab is the
    waist, or another ``width``.
    """
    tabs = order.tabs
    width = tabs.waist if width is None else width
    before, behind = reaches(cutter, tabs.ramp_up, tabs.ramp_down)
    middle = float(station_of(track, place)[0])

    def station_at(way: float) -> float:
        guess = middle + way
        for _ in range(30):
            gone = float((place_at(track, guess)[0][0] - place) @ tangent)
            if abs(gone - way) < 1e-10:
                break
            guess += way - gone
        return guess

    return Window(
        start=station_at(-width / 2 - before),
        end=station_at(width / 2 + behind),
        z=z,
        ramp_up=tabs.ramp_up,
        ramp_down=tabs.ramp_down,
    )


def allowed_places(order: Order, room: float) -> tuple[Floats, np.ndarray]:
    """Return stations along the outline and whether a tab with ``room`` mm a side may stand there.

    A tab wants the whole of its window on a gentle stretch, without corners, off jimping and the
    stretches to keep free.
    """
    outline = order.blade.outline
    count = max(16, round(outline.length / TAB_PLACE_STEP_MM))
    stations = np.arange(count) * outline.length / count
    free = np.ones(count, bool)
    notched = [row.stretch for row in order.blade.jimping]
    for stretch in (*order.tabs.no_tabs, *order.tabs.as_milled, *notched):
        free &= ~stretch.holds(stations, outline.length)
    _, headings = place_at(outline, stations)
    turn = np.abs(_wrapped(np.diff(np.concatenate([headings, headings[:1]]))))
    step = outline.length / count
    span = int(np.ceil(room / step))
    around = np.concatenate([turn[-span:], turn, turn[:span]])
    bent = np.convolve(around, np.ones(2 * span), "valid")[:count]
    sharp = np.concatenate([turn[-span:], turn, turn[:span]]) > 2.5 * step / LEAST_TAB_BEND_MM
    corner = np.convolve(sharp.astype(float), np.ones(2 * span), "valid")[:count] > 0
    kept = np.concatenate([free[-span:], free, free[:span]])
    clear = np.convolve((~kept).astype(float), np.ones(2 * span + 1), "valid")[:count] == 0
    return stations, clear & ~corner & (bent <= 2 * room / LEAST_TAB_BEND_MM)


def place_tabs(order: Order, room: float) -> tuple[tuple[Tab, ...], tuple[str, ...]]:
    """Return the tabs and the messages about tabs that had to be moved.

    Raises
    ------
    PlanError
        When there is no place, or fewer than wanted, for tabs with ``room`` mm on either side, or
        none within `MOST_MOVED_MM` of a station that is ordered.
    """
    wanted = wanted_count(order)
    if wanted == 0:
        return (), ()
    stations, allowed = allowed_places(order, room)
    chosen, notes, far = _chosen(order, stations, allowed, room)
    outermost = _outermost(order)
    while met := [station for station in chosen if _met_by_others(order, station, room, outermost)]:
        apart = np.min([_apart(stations, one, order.blade.outline.length) for one in met], axis=0)
        allowed &= ~(apart <= TAB_PLACE_STEP_MM)
        chosen, notes, far = _chosen(order, stations, allowed, room)
    if far:
        raise PlanError(far)
    if len(chosen) < wanted:
        raise PlanError(
            f"{stated('tabs.count', wanted)}: room for {len(chosen)} tabs only, at"
            f" {listed(place_at(order.blade.outline, chosen)[0])}, each needing {mm(2 * room):.1f} of"
            f" a gentle free stretch; order {stated('tabs.count', len(chosen))}, a smaller waist, or"
            " free more of the outline"
        )
    notes += holding_notes(order, place_at(order.blade.outline, chosen)[0])
    return tuple(_tab(order, s) for s in sorted(chosen)), tuple(notes)


def _chosen(
    order: Order, stations: Floats, allowed: np.ndarray, room: float
) -> tuple[list[float], list[str], list[str]]:
    """Return where tabs stand, of the ``allowed`` stations, messages about it, and what refuses it."""
    if not allowed.any():
        raise PlanError(
            f"{stated('tabs.waist', mm(order.tabs.waist)):.2f}: no stretch of the outline has"
            f" {mm(2 * room):.1f} for a"
            f" tab: all is bent tighter than"
            f" {mm(LEAST_TAB_BEND_MM):.0f}, cornered, or kept free; free a straighter stretch or"
            " make waist and"
            " cutter smaller"
        )
    if order.tabs.stations:
        return _nearest_allowed(order, stations, allowed, room)
    chosen = _spread(order, stations, allowed, room, wanted_count(order))
    return chosen, _far_from_tip(order, chosen), []


def _outermost(order: Order) -> list[tuple[Cutter, Curve]]:
    """Return the outline's cutters, one of each diameter, and their outermost tracks, clockwise.

    None where a bay closes: that is refused with the trench.
    """
    entries = (*order.cuttings(ROUGH), *order.cuttings(FINISH))
    cutters = {one.diameter: one for one in (order.cutter(entry.cutter) for entry in entries)}
    wall, width = order.blade.outline.counter_clockwise(), order.trench.width
    found = [(one, offset(wall, width - one.radius)) for one in cutters.values()]
    return [(one, loops[0].clockwise()) for one, loops in found if len(loops) == 1]


def _met_by_others(
    order: Order, station: float, room: float, outermost: Iterable[tuple[Cutter, Curve]]
) -> bool:  # fmt: skip
    """Whether passes beside other walls, not lifted there, come to a tab at a station.

    Before and after an inner corner the outermost track turns back over a tab that has ``room`` on
    the wall, or never comes to where its window ends.
    """
    wall, deep, width = order.blade.outline.counter_clockwise(), floors(order), order.trench.width
    place = place_at(order.blade.outline, station)[0][0]
    along = tangent_beside(wall, place)
    frame = np.array([along, (-along[1], along[0])]).T
    for cutter, track in outermost:
        window = window_on(track, place, along, order, cutter, deep.b_finish - deep.tab)
        low, high = window.foot(0.0)
        if not 0.0 < high - low <= 4.0 * room:
            return True
        stations, axes, _ = resample(track, TAB_PASS_SAMPLE_MM)
        others = (stations - low) % track.length > high - low
        beside = (axes[others] - place) @ frame - (0.0, width / 2)
        past = np.maximum(np.abs(beside) - (order.tabs.waist / 2, width / 2), 0.0)
        if (np.hypot(*past.T) < cutter.radius - INTO_TAB_MM).any():
            return True
    return False


def tip(order: Order) -> Floats:
    """Return the outline's place that is farthest from its bores (or from its middle), (2,)."""
    points = order.blade.outline.points(0.01)
    bores = [b.centre for b in order.blade.bores]
    anchor = np.mean(bores, axis=0) if bores else points.mean(axis=0)
    return np.asarray(points[np.argmax(np.hypot(*(points - anchor).T))])


def _spread(
    order: Order, stations: Floats, allowed: np.ndarray, room: float, count: int
) -> list[float]:
    """Choose places: one near the tip, then the farthest from those chosen, then evened out."""
    at = stations[allowed]
    places, _ = place_at(order.blade.outline, at)
    to_tip = np.hypot(*(places - tip(order)).T)
    chosen = [int(np.argmin(to_tip))]
    whole, least = order.blade.outline.length, 2 * room + 1.0
    while len(chosen) < count:
        best = _farthest(at, places, chosen, whole, least)
        if best is None:
            break
        chosen.append(best)
    return [float(at[c]) for c in _evened(at, places, chosen, whole, least)]


def _farthest(
    at: Floats, places: Floats, others: list[int], whole: float, least: float
) -> int | None:
    """Return the place farthest from the others, ``least`` mm or more from each along the outline."""
    apart = np.min([np.hypot(*(places - places[c]).T) for c in others], axis=0)
    along = np.min([_apart(at, at[c], whole) for c in others], axis=0)
    apart[along < least] = -1.0
    best = int(np.argmax(apart))
    return None if apart[best] < 0 else best


def _evened(at: Floats, places: Floats, chosen: list[int], whole: float, least: float) -> list[int]:
    """Move each but the first to where it is farthest from the others, until none moves far."""
    chosen = list(chosen)
    for _ in range(EVENING_ROUNDS if len(chosen) > 2 else 0):
        before = list(chosen)
        for k in range(1, len(chosen)):
            best = _farthest(at, places, chosen[:k] + chosen[k + 1 :], whole, least)
            chosen[k] = chosen[k] if best is None else best
        if chosen == before:
            break
    return chosen


def _far_from_tip(order: Order, chosen: list[float]) -> list[str]:
    """Return notes where no tab stands near the tip, so that the front is held by nothing."""
    places, _ = place_at(order.blade.outline, chosen)
    nearest = float(np.hypot(*(places - tip(order)).T).min())
    if round(nearest, 1) <= NEAR_TIP_MM:
        return []
    return [
        f"no tab stands within {mm(NEAR_TIP_MM):g} of the tip: the nearest is {mm(nearest):.1f} away",
        "fill well under the tip",
        "a tab near the tip needs a straight or gently curved stretch of outline",
    ]


def _nearest_allowed(
    order: Order, stations: Floats, allowed: np.ndarray, room: float
) -> tuple[list[float], list[str], list[str]]:
    whole = order.blade.outline.length
    at = stations[allowed]
    chosen: list[float] = []
    notes: list[str] = []
    far: list[str] = []
    for place, wanted in enumerate(order.tabs.stations, start=1):
        free = at[[all(_apart(s, c, whole) > 2 * room + 1.0 for c in chosen) for s in at]]
        if not len(free):
            break
        away = _apart(free, wanted, whole)
        best = float(free[np.argmin(away)])
        if away.min() <= TAB_PLACE_STEP_MM:
            best = wanted % whole
        elif away.min() <= MOST_MOVED_MM:
            notes.append(
                f"tab at station {mm(wanted):.2f} has no room there; moved to {mm(best):.2f}"
            )
        else:
            far.append(_without_room(order, place, room, best))
        chosen.append(best)
    return chosen, notes, far


def _without_room(order: Order, place: int, room: float, best: float) -> str:
    """Return why the tab at ``place`` of the list cannot stand there, and where it could."""
    wanted = order.tabs.stations[place - 1]
    (x, y), (u, v) = place_at(order.blade.outline, [wanted, best])[0]
    return (
        f"{stated(f'tabs.stations[{place}]', mm(wanted)):.2f}, at {Place(x, y):.2f}, has no room for a"
        f" tab, which wants {mm(room):.1f} of gentle, free outline on either side, and {mm(1)} to the"
        f" next; the nearest that has is station {mm(best):.2f}, at {Place(u, v):.2f}: order that, or"
        " a smaller waist"
    )


def _tab(order: Order, station: float) -> Tab:
    tabs = order.tabs
    point, heading = place_at(order.blade.outline, station)
    cutter = order.cutter(order.cuttings("finish")[0].cutter)
    wide = tabs.waist + tabs.thickness * (1 / np.tan(tabs.ramp_up) + 1 / np.tan(tabs.ramp_down))
    section = tabs.thickness * (tabs.waist + wide) / 2
    modulus = section * tabs.thickness / 6
    return Tab(
        station=station,
        place=(float(point[0, 0]), float(point[0, 1])),
        heading=float(heading[0]),
        waist=tabs.waist,
        thickness=tabs.thickness,
        wide=float(wide),
        stub=float(tabs.waist + sum(reaches(cutter, tabs.ramp_up, tabs.ramp_down))),
        section=float(section),
        moment=(float(BEND_STRENGTH_N_MM2[0] * modulus), float(BEND_STRENGTH_N_MM2[1] * modulus)),
    )


def room_for_tab(order: Order, cutters: Iterable[Cutter], lift: float) -> float:
    """Return how much of the outline a tab needs on either side of its middle, mm."""
    tabs = order.tabs
    most = max(max(reaches(c, tabs.ramp_up, tabs.ramp_down)) for c in cutters)
    fall = lift / np.tan(min(tabs.ramp_up, tabs.ramp_down))
    return float(tabs.waist / 2 + most + fall + 0.5)


def in_stretches(stretches: Iterable[Stretch], station: float, length: float) -> bool:
    """Whether the station lies in any of the stretches."""
    return any(bool(s.holds(station, length)) for s in stretches)


def _apart(first: Floats | float, second: float, whole: float) -> Floats:
    gap = np.abs(np.asarray(first) - second) % whole
    return np.minimum(gap, whole - gap)


def _wrapped(angle: Floats) -> Floats:
    return np.asarray((angle + np.pi) % (2 * np.pi) - np.pi)

"""The tabs that were cut against those that were ordered."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.curve import place_at, stations_past
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, rounded_place
from knifecam.judge.judge_limits import (
    BEND_STRENGTH_N_MM2,
    LARGEST_STUB_MM,
    LEAST_TAB_BEND_MM,
    NEAR_STATION_MM,
    READ_SHARE,
    TAB_NARROWER_MM,
    TAB_THICKNESS_MM,
    TAB_WIDER_MM,
)
from knifecam.measure.case import Case
from knifecam.measure.measured_tabs import MeasuredNeck, MeasuredTab
from knifecam.quantity import bare, mm, mm2, moments, quantity
from knifecam.shop import Order
from knifecam.shop.tab_neck import neck_of
from knifecam.sweep.exact_walls import wall_error

TAB_ROOM_MM = 1.0
"""mm: room beyond what a tab takes, below which it may have been moved."""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds tab, waist and section."""
    if not case.whole:
        return
    yield from _count(case)
    yield from _stations(case)
    for bridge in case.bridges:
        yield from _thickness(bridge, case)
        yield from _waist(bridge, case)
        yield from _section(bridge, case)
        yield from _neck(bridge, case)
        yield from _off_limits(bridge, case)


def _off_limits(bridge: MeasuredTab, case: Case) -> Iterator[Finding]:
    """Yield a tab whose middle stands on a stretch that is to be free of tabs."""
    tabs, whole = case.order.tabs, case.wanted.outline.length
    for name, stretches in (("no_tabs", tabs.no_tabs), ("as_milled", tabs.as_milled)):
        for stretch in stretches:
            if stretch.holds(bridge.station, whole):
                yield Finding(
                    kind=Kind.TAB, side="B", line=_line(case, "B", bridge), place=_place(bridge),
                    message=(
                        f"a tab stands at station {mm(bridge.station):.1f}, on the stretch from"
                        f" {bare(stretch.start):.1f} to {mm(stretch.end):.1f} that is {name}"
                    ),
                    measured=bridge.station, remedy="move the tab off that stretch",
                )  # fmt: skip


def wanted_count(order: Order) -> int:
    """Return the number of tabs ordered."""
    return len(order.tabs.stations) or order.tabs.count


def _count(case: Case) -> Iterator[Finding]:
    wanted = wanted_count(case.order)
    found = len(case.bridges)
    if found == wanted:
        return
    missing = _missing(case)
    place = (
        rounded_place([*place_at(case.wanted.outline, missing[:1])[0][0], 0.0]) if missing else None
    )
    where = f"; none at station {mm(missing[0]):.1f}" if missing else ""
    sentence = f"tabs={found} hold the blade at the end; {wanted} ordered{where}"
    yield Finding(
        kind=Kind.TAB, side="B", line=0, message=sentence, place=place, measured=float(found),
        allowed=float(wanted),
        remedy="lift side B's passes over every tab by its waist and the cutter's diameter",
    )  # fmt: skip


def _stations(case: Case) -> Iterator[Finding]:
    """Yield ordered stations that have room for a tab and none near."""
    if wanted_count(case.order) != len(case.bridges):  # told by the count
        return
    for station in _missing(case):
        if not _has_room(case, station):
            continue
        place = place_at(case.wanted.outline, station)[0][0]
        there = ", ".join(f"{bare(b.station):.1f}" for b in case.bridges)
        yield Finding(
            kind=Kind.TAB, side="B", line=0, place=rounded_place([*place, 0.0]), measured=station,
            message=(
                f"no tab within {mm(NEAR_STATION_MM):g} of station {mm(station):.1f}, where one is"
                f" ordered; tabs stand at {there}"
            ),
            allowed=NEAR_STATION_MM, remedy="lift side B's passes at the stations ordered",
        )  # fmt: skip


def _has_room(case: Case, station: float) -> bool:
    """Return whether a tab's window, its ramps and `TAB_ROOM_MM` lie on a gentle stretch of their own."""
    order, outline = case.order, case.wanted.outline
    tabs, whole = order.tabs, outline.length
    entries = [c for c in order.cutting if c.stage in ("rough", "finish", "slot", "fit")]
    widest = max(order.cutter(c.cutter).diameter for c in entries)
    lift = case.wanted.floor_b - case.wanted.tab_low
    room = (
        (tabs.waist + widest) / 2 + lift / np.tan(min(tabs.ramp_up, tabs.ramp_down)) + TAB_ROOM_MM
    )
    apart = np.abs(stations_past(tabs.stations, station, whole))
    if apart[apart > 0.0].min(initial=np.inf) < 2 * room:
        return False
    span = np.linspace(station - room, station + room, 121)
    notched = [row.stretch for row in order.blade.jimping]
    if any(s.holds(span, whole).any() for s in (*tabs.no_tabs, *tabs.as_milled, *notched)):
        return False
    turned = np.diff(place_at(outline, span)[1])
    turned = np.abs((turned + np.pi) % (2 * np.pi) - np.pi)
    return bool((turned <= (span[1] - span[0]) / LEAST_TAB_BEND_MM).all())


def _missing(case: Case) -> list[float]:
    whole = case.wanted.outline.length
    there = np.array([b.station for b in case.bridges])
    rows = []
    for station in case.order.tabs.stations:
        away = np.abs(stations_past(there, station, whole))
        if not (away <= NEAR_STATION_MM).any():
            rows.append(station)
    return rows


def _thickness(bridge: MeasuredTab, case: Case) -> Iterator[Finding]:
    wanted = case.order.tabs.thickness
    if abs(bridge.thin - wanted) <= TAB_THICKNESS_MM:
        return
    sentence = (
        f"the tab at station {mm(bridge.station):.1f} is thickness={mm(bridge.thin):.3f}; "
        f"ordered {mm(wanted):g} within {mm(TAB_THICKNESS_MM):g}"
    )
    above, below = bridge.top - case.wanted.floor_a, bridge.bottom - case.wanted.tab_low
    side = "A" if abs(above) > abs(below) else "B"
    yield Finding(
        kind=Kind.TAB, side=side, line=_line(case, side, bridge), message=sentence, place=_place(bridge),
        measured=bridge.thin, allowed=wanted,
    )  # fmt: skip


def _waist(bridge: MeasuredTab, case: Case) -> Iterator[Finding]:
    wanted = case.order.tabs.waist
    if wanted - TAB_NARROWER_MM <= bridge.waist <= wanted + TAB_WIDER_MM:
        return
    sentence = (
        f"the tab at station {mm(bridge.station):.1f} has waist={mm(bridge.waist):.3f}; "
        f"ordered {mm(wanted):g}, -{bare(TAB_NARROWER_MM):g} +{bare(TAB_WIDER_MM):g}"
    )
    yield Finding(
        kind=Kind.WAIST, side="B", line=_line(case, "B", bridge), message=sentence, place=_place(bridge),
        measured=bridge.waist, allowed=wanted,
    )  # fmt: skip


def ordered_section(order: Order, *, waist: float, thickness: float) -> float:
    """Return the section of a tab midway, mm2: a trapezium between its flanks at ramp_up and
    ramp_down."""
    flanks = 1.0 / np.tan(order.tabs.ramp_up) + 1.0 / np.tan(order.tabs.ramp_down)
    return float(thickness * (waist + thickness * flanks / 2))


def _section(bridge: MeasuredTab, case: Case) -> Iterator[Finding]:
    """Yield a tab whose section, and so what snaps it, or whose stub is not what is ordered."""
    order, tabs = case.order, case.order.tabs
    line, place = _line(case, "B", bridge), _place(bridge)
    where = f"the tab at station {mm(bridge.station):.1f}"
    least = ordered_section(
        order, waist=tabs.waist - TAB_NARROWER_MM, thickness=tabs.thickness - TAB_THICKNESS_MM
    )
    most = ordered_section(
        order, waist=tabs.waist + TAB_WIDER_MM, thickness=tabs.thickness + TAB_THICKNESS_MM
    )
    least, most = least * (1 - READ_SHARE), most * (1 + READ_SHARE)
    if not least <= bridge.section <= most:
        low, high = (bridge.snapping(strength) for strength in BEND_STRENGTH_N_MM2)
        yield Finding(
            kind=Kind.TAB_SECTION, side="B", line=line, place=place, measured=bridge.section,
            allowed=least if bridge.section < least else most,
            message=(
                f"{where} has section={mm2(bridge.section):.2f} and breaks at about"
                f" {moments(low, high)}; {bare(least, 'mm2'):.2f} to {mm2(most):.2f} is as"
                " ordered"
            ),
        )  # fmt: skip
    if bridge.neck is None and not bridge.stub <= (widest := _widest_stub(bridge, case)):
        yield Finding(
            kind=Kind.TAB_SECTION, side="B", line=line, place=place, measured=bridge.stub, allowed=widest,
            message=f"{where} leaves stub={mm(bridge.stub):.2f} on the blade; {mm(widest):.2f} at most",
            remedy="begin the finishing pass's lift later, and end it sooner",
        )  # fmt: skip


def _widest_stub(bridge: MeasuredTab, case: Case) -> float:
    """Return waist and cutter's diameter together; more where the wall bends in round the cutter."""
    order, outline = case.order, case.wanted.outline
    wide = max((order.cutter(c.cutter).diameter for c in order.cuttings("finish")), default=0.0)
    half = (order.tabs.waist + wide) / 2
    headings = place_at(outline, [bridge.station - half, bridge.station + half])[1]
    turn = float((headings[1] - headings[0] + np.pi) % (2 * np.pi) - np.pi)
    return 2 * half + wide * max(0.0, -turn) + TAB_WIDER_MM


def _neck(bridge: MeasuredTab, case: Case) -> Iterator[Finding]:
    """Yield a neck that is not as thick as ordered, or that leaves a stub that stands out."""
    neck, wanted = bridge.neck, case.order.tabs.neck
    if neck is None:
        return
    line, place = _line(case, "B", bridge), _place(bridge)
    where = f"the neck of the tab at station {mm(bridge.station):.1f}"
    if not abs(neck.thin - wanted) <= TAB_THICKNESS_MM:
        yield Finding(
            kind=Kind.TAB,
            side="B",
            line=line,
            place=place,
            measured=neck.thin,
            allowed=wanted,
            message=(
                f"{where} is thickness={mm(neck.thin):.3f}; ordered {mm(wanted):g} within"
                f" {mm(TAB_THICKNESS_MM):g}"
            ),
            remedy="run the neck's cutter along the wall, its tip that far above side A's floor",
        )
    elif not neck.foot <= LARGEST_STUB_MM:
        yield Finding(
            kind=Kind.TAB,
            side="B",
            line=line,
            place=place,
            measured=neck.foot,
            allowed=LARGEST_STUB_MM,
            message=(
                f"{where} leaves a stub that stands out {mm(neck.foot):.3f}; {mm(LARGEST_STUB_MM):g}"
                " is allowed"
            ),
            remedy="neck it by a cutter of smaller corner radius, tangent to the wall",
        )
    else:
        yield from _snapping(bridge, neck, case, line)


def _snapping(bridge: MeasuredTab, neck: MeasuredNeck, case: Case, line: int) -> Iterator[Finding]:
    """Yield a neck that takes another moment to snap than that of the ordered width and thickness."""
    order, width = case.order, neck_of(case.order).width
    least, most = (
        ordered_section(order, waist=width + wider, thickness=thick) * thick / 6 * read
        for wider, thick, read in (
            (-TAB_NARROWER_MM, order.tabs.neck - TAB_THICKNESS_MM, 1 - READ_SHARE),
            (TAB_WIDER_MM, order.tabs.neck + TAB_THICKNESS_MM, 1 + READ_SHARE),
        )
    )
    if least <= neck.modulus <= most:
        return
    low, high = (bridge.snapping(strength) for strength in BEND_STRENGTH_N_MM2)
    yield Finding(
        kind=Kind.TAB_SECTION, side="B", line=line, place=_place(bridge), measured=neck.modulus,
        allowed=least if neck.modulus < least else most,
        message=(
            f"the neck of the tab at station {mm(bridge.station):.1f} is width={mm(neck.width):.2f} and"
            f" breaks at about {bare(low, 'N mm'):.1f} to {quantity(high, 'N mm'):.1f};"
            f" {bare(least * BEND_STRENGTH_N_MM2[0], 'N mm'):.1f} to"
            f" {quantity(most * BEND_STRENGTH_N_MM2[1], 'N mm'):.1f} is as"
            " ordered"
        ),
        remedy="begin each lift over a neck so that it ends at the neck's width",
    )  # fmt: skip


def _line(case: Case, name: str, bridge: MeasuredTab) -> int:
    """Return the line of a side's motion that passes over a tab nearest to its middle, 0: none."""
    side = case.sides["AB".index(name)]
    if side is None:
        return 0
    height = (bridge.top if name == "A" else bridge.bottom) * side.frame.signs[2] + TAB_THICKNESS_MM
    place = np.array([bridge.place]) * side.frame.signs[:2]
    motions, corner = side.swept_motions(), side.shapes.corner
    shapes = side.shapes
    motion = wall_error(
        place, [height], motions, side.cutter_radius, corner, tip=shapes.tip,
        half_angle=shapes.half_angle,
    )[1][0, 0]  # fmt: skip
    return int(side.trace.line[motion]) if motion >= 0 else 0


def _place(bridge: MeasuredTab) -> tuple[float, float, float] | None:
    return rounded_place([*bridge.place, (bridge.top + bridge.bottom) / 2])

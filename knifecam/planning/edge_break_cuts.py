"""Edge breaks by chamfer mills, once the walls they stand on are finished and the space is open."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from typing import Literal

import numpy as np

from knifecam.blade import EdgeBreak
from knifecam.curve import Curve, Motions, Stretch, place_at, resample, signed_distance, station_of
from knifecam.curve.stations import is_whole, length_of
from knifecam.cutting.engagement import feed_inside
from knifecam.errors import PlanError
from knifecam.paths.edge_break_motions import (
    ChamferStand,
    break_bore,
    break_lap,
    break_stretch,
    breaks_on,
    chamfer_stand,
    cone_of,
    curve_of,
    entry_for_break,
    fade_length,
    lead_ends,
    room_to,
    steps_of,
)
from knifecam.paths.inner_corners import unreachable
from knifecam.paths.offset import offset, refitted_offset
from knifecam.planning.life_groups import cuts_by_life, wall_feed
from knifecam.planning.opening_cuts import slot_cutter
from knifecam.planning.plan import Cut
from knifecam.planning.planning_limits import (
    DEEPER_MM,
    FINISH_BAND_MM,
    PLANNED_TIP_SAMPLE_MM,
    TIP_ROOM_MM,
)
from knifecam.quantity import Place, least_mm, mm, most_mm, stated
from knifecam.shop import Cutter, Cutting, Order
from knifecam.shop.defaults import TIP_GAP
from knifecam.shop.order_record import FINISH, ROUGH
from knifecam.shop.side_view import Floors, SideContext, curve_on, points_on


def groove_depth(order: Order) -> float:
    """Return how deep below its face side B's groove must be for the outline's breaks, mm; 0: none."""
    cones = [cone_of(order, one) for one in breaks_on(order, "B", openings=False)]
    return max((cone.depth + TIP_GAP for cone in cones), default=0.0)


def break_cuts(
    bench: SideContext, floors: Floors, ones: Sequence[EdgeBreak], used: dict[int, float]
) -> list[Cut]:
    """Return the cuts that make these breaks on this side, one a cutter."""
    by_cutter: dict[int, tuple[Cutting, list[Motions]]] = {}
    for one in ones:
        cutting = entry_for_break(bench.order, one)
        held = by_cutter.setdefault(cutting.cutter, (cutting, []))[1]
        held.extend(_passes(bench, floors, one, cutting))
    cuts: list[Cut] = []
    for cutting, passes in by_cutter.values():
        cuts += cuts_by_life(bench, passes, name="EDGE BREAKS", cutting=cutting, used=used)
    return cuts


def _passes(
    bench: SideContext, floors: Floors, one: EdgeBreak, cutting: Cutting
) -> Iterator[Motions]:
    cone = chamfer_stand(bench.order, one, floors)
    for step in steps_of(cone, cutting.stepover):
        yield from (
            _of_outline(bench, floors, one, step, cutting)
            if one.of == "outline"
            else _of_opening(bench, floors, one, step, cutting)
        )


def left_standing(bench: SideContext, floors: Floors, one: EdgeBreak, curve: Curve) -> Curve:
    """Return the wall that a break runs along as its cutters left it, in the frame of the ``curve``.

    Inner corners tighter than the wall's cutter are as round as that. Where side B opens a slot
    wider it leaves them rounder by less, since the wall lies as much farther off.
    """
    order = bench.order
    if one.of == "outline":
        return _rounded(curve, order.cutter(order.cuttings(FINISH)[0].cutter).radius, "outside")
    slot = next((slot for slot in order.blade.slots if slot.name == one.of), None)
    if slot is None:  # a bore
        return curve
    if bench.side == "B" and order.boring.opening == "skin":
        radius = slot_cutter(bench, floors, slot).radius - order.boring.oversize / 2
    else:
        radius = slot_cutter(SideContext(order=order, side="A"), floors, slot).radius
    return _rounded(curve, radius, "inside")


def _rounded(wall: Curve, radius: float, side: Literal["outside", "inside"]) -> Curve:
    """Return a wall as a cutter of ``radius`` mm leaves it."""
    if not (radius > 0 and unreachable(wall, radius, side=side)):
        return wall
    away = radius if side == "outside" else -radius
    return offset(offset(wall, away)[0].counter_clockwise(), -away)[0].counter_clockwise()


@contextmanager
def _named(bench: SideContext, one: EdgeBreak) -> Iterator[None]:
    """Put a break's name before whatever refuses it."""
    try:
        yield
    except PlanError as error:
        where = f"edge break '{one.name}' of {one.of}, side {bench.side}"
        raise PlanError([f"{where}: {line}" for line in error.lines]) from error


def _of_outline(
    bench: SideContext, floors: Floors, one: EdgeBreak, cone: ChamferStand, cutting: Cutting
) -> Iterator[Motions]:
    order = bench.order
    outline = order.blade.outline
    wall = curve_on(bench.side, outline, order.setup.flip).counter_clockwise()
    left = left_standing(bench, floors, one, wall)
    if left is not wall:
        with _named(bench, one):
            _refuse_roughed(bench, one, wall, left)
    track = refitted_offset(left, cone.away, FINISH_BAND_MM)[0].clockwise()
    z, feed = bench.top - cone.depth, wall_feed(cutting.feed, cone.away, cone.away)
    if not one.stretches or any(is_whole(outline, s) for s in one.stretches):
        with _named(bench, one):
            yield break_lap(track, left, cone, z=z, feed=feed, lead_feed=cutting.feed)
        return
    for stretch in one.stretches:
        start, end = break_ends_on(bench, track, stretch, cone)
        if left is not wall:
            _refuse_corners(bench, one, track, (start, end), cone, left)
        yield break_stretch(track, start, end, cone, z=z, feed=feed, lead_feed=cutting.feed)


def _refuse_roughed(bench: SideContext, one: EdgeBreak, wall: Curve, left: Curve) -> None:
    """Raise `PlanError` where a thinner roughing cutter went into a corner deeper than the finish.

    What stands there is what neither of the two has left.
    """
    order, outline = bench.order, bench.order.blade.outline
    finisher = order.cutter(order.cuttings(FINISH)[0].cutter)
    places = resample(left, PLANNED_TIP_SAMPLE_MM)[1]
    at = station_of(outline, points_on(bench.side, places, order.setup.flip))
    held = [stretch.holds(at, outline.length) for stretch in one.stretches]
    places = places[np.any(held, axis=0)] if held else places
    for entry in order.cuttings(ROUGH):
        cutter = order.cutter(entry.cutter)
        out = offset(wall, cutter.radius + entry.allowance)
        if not len(places) or cutter.radius >= finisher.radius or len(out) != 1:
            continue
        roughed = offset(out[0].counter_clockwise(), -cutter.radius)[0].counter_clockwise()
        deeper = -signed_distance(places, roughed)
        worst = int(np.argmax(deeper))
        if not deeper[worst] <= DEEPER_MM:
            x, y = points_on(bench.side, places[worst], order.setup.flip)[0]
            ends = ", or end the break's stretches beside it" if one.stretches else ""
            raise PlanError(
                f"width={mm(one.width):.3f}: in the inner corner by {Place(x, y):.2f} roughing cutter"
                f" {cutter.number} of {mm(cutter.diameter):.3f} goes {mm(float(deeper[worst])):.3f}"
                f" deeper than finishing cutter {finisher.number} of {mm(finisher.diameter):.3f}; finish"
                f" the outline with one of {most_mm(cutter.diameter):.3f} or less, or rough it with one"
                f" of {least_mm(finisher.diameter):.3f} or more{ends}"
            )


def _refuse_corners(
    bench: SideContext,
    one: EdgeBreak,
    track: Curve,
    ends: tuple[float, float],
    cone: ChamferStand,
    left: Curve,
) -> None:
    """Raise `PlanError` where a stretch begins or ends over what stays in an inner corner."""
    for station, way in zip(ends, (-1.0, 1.0), strict=True):
        place = lead_ends(track, np.array([station]), cone, way)
        room = float(room_to(place, left, track)[0])
        if not room >= cone.rim:
            x, y = points_on(bench.side, place, bench.order.setup.flip)[0]
            raise PlanError(
                f"edge break '{one.name}' of {one.of}, side {bench.side}, width={mm(one.width):.3f}: at"
                f" {Place(x, y):.2f} its mill would come down {mm(cone.rim - room):.3f} into what the"
                " finishing cutter leaves in an inner corner; end the stretch before it, or after it"
            )


def break_ends_on(
    bench: SideContext, track: Curve, stretch: Stretch, cone: ChamferStand
) -> tuple[float, float]:
    """Return where the clockwise track begins and ends beside a stretch of the outline."""
    order = bench.order
    outline = order.blade.outline
    short = fade_length(cone)
    stations = [stretch.start + short, stretch.start + length_of(outline, stretch) - short]
    points, headings = place_at(outline, stations)
    outward = np.stack([np.sin(headings), -np.cos(headings)], axis=1)
    beside = points_on(bench.side, points + cone.away * outward, order.setup.flip)
    low, high = (float(s) for s in station_of(track, beside))
    start, end = (high, low) if bench.side == "A" else (low, high)
    return start, end if end > start else end + track.length


def _of_opening(
    bench: SideContext, floors: Floors, one: EdgeBreak, cone: ChamferStand, cutting: Cutting
) -> Iterator[Motions]:
    order = bench.order
    z = bench.top - cone.depth
    for bore in order.blade.bores:
        if bore.name == one.of:
            x, y = points_on(bench.side, bore.centre, order.setup.flip)[0]
            moved = feed_inside(cutting.feed, bore.diameter, 2 * cone.away)
            yield break_bore((float(x), float(y)), bore.diameter / 2, cone, z=z, feed=moved)
    for slot in order.blade.slots:
        if slot.name != one.of:
            continue
        wall = curve_on(bench.side, slot.outline, order.setup.flip).counter_clockwise()
        feed = wall_feed(cutting.feed, cone.away, cone.away)
        left = left_standing(bench, floors, one, wall)
        for loop in offset(left, -cone.away):
            with _named(bench, one):
                if left is not wall and bench.side == "B":
                    below = left_standing(SideContext(order=order, side="A"), floors, one, wall)
                    _refuse_tip(bench, loop, below, cone, order.cutter(cutting.cutter))
                yield break_lap(
                    loop.counter_clockwise(), left, cone, z=z, feed=feed, lead_feed=cutting.feed
                )


def _refuse_tip(
    bench: SideContext, track: Curve, below: Curve, cone: ChamferStand, mill: Cutter
) -> None:
    """Raise `PlanError` where a tip runs into what side A left below a skin that B opens wider."""
    order, places = bench.order, resample(track, PLANNED_TIP_SAMPLE_MM)[1]
    room = signed_distance(places, below.counter_clockwise())
    worst = int(np.argmin(room))
    spare = cone.away - mill.tip / 2 - TIP_ROOM_MM
    lost = cone.away - float(room[worst])
    if not lost <= spare:
        relief = order.boring.oversize
        x, y = points_on(bench.side, places[worst], order.setup.flip)[0]
        raise PlanError(
            f"width={mm(cone.width):.3f}: {stated('bores.oversize', mm(relief)):.3f} lets the mill's tip"
            f" run {mm(lost - spare):.3f} too near to what side A's cutter leaves in the inner corner"
            f" by {Place(x, y):.2f}; order"
            f" {stated('bores.oversize', most_mm(relief * spare / lost)):.3f} or less, or draw the"
            " corner less sharp"
        )


def break_notes(order: Order, floors: Floors) -> tuple[str, ...]:
    """Return a line for every inner corner that a break cannot follow, with what stays there.

    Corners are those of the walls as their cutters left them: a thinner mill follows these.
    """
    notes = []
    for one in order.blade.breaks:
        curve = curve_of(order, one)
        if curve is None:
            continue
        cone = chamfer_stand(order, one, floors)
        side: Literal["outside", "inside"] = "outside" if one.of == "outline" else "inside"
        if not unreachable(curve, cone.away, side=side):
            continue
        left = left_standing(SideContext(order=order, side=one.side), floors, one, curve)
        for corner in unreachable(left, cone.away, side=side):
            at = station_of(curve, corner.place)
            if one.stretches and not any(s.holds(at, curve.length)[0] for s in one.stretches):
                continue
            x, y = corner.place
            notes.append(
                f"edge break '{one.name}' of {one.of}, side {one.side}: at {Place(x, y):.2f} an inner"
                f" corner of radius {mm(corner.largest):.2f} is tighter than the chamfer mill's"
                f" {mm(cone.away):.2f}; the break is"
                f" {mm(max(0.0, one.width - corner.remainder)):.2f} wide there"
            )
    return tuple(notes)


def with_groove(bench: SideContext) -> SideContext:
    """Return the bench of side B once its groove for the outline's breaks is cut."""
    return replace(bench, begun=bench.top - groove_depth(bench.order))

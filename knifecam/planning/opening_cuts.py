"""Bores, slots and notches: from side A to a skin, opened from side B."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from knifecam.blade import Bore, Jimping, Slot
from knifecam.curve import Curve, Motions
from knifecam.errors import PlanError
from knifecam.paths.curve_following import PieceFeed
from knifecam.paths.offset import offset
from knifecam.paths.opening_motions import bore_passes, finish_ring, fit_passes, rings, rough_ring
from knifecam.paths.trench_motions import Track, corner_passes, full_corners, levels
from knifecam.planning.life_groups import cuts_by_life, wall_feed
from knifecam.planning.plan import Cut
from knifecam.planning.planning_limits import ENTRY_MM, FIT_CLEARANCE_MM, WALL_SECTION_SHARE
from knifecam.planning.stop_texts import gauge_pins
from knifecam.quantity import mm, most_mm
from knifecam.shop import Cutter, Cutting, Order
from knifecam.shop.order_record import NOTCH
from knifecam.shop.shop_limits import OPENING_OVERLAP_MM
from knifecam.shop.side_view import (
    Floors,
    SideContext,
    bore_corner,
    curve_on,
    height_on,
    meets_in_the_middle,
    points_on,
    too_short,
)


def cutting_for_bore(order: Order, diameter: float, stage: str) -> Cutting:
    """Return the entry whose cutter suits a bore: the largest that leaves a helix of 1.25 D.

    Raises
    ------
    PlanError
        When no cutter of the stage is small enough.
    """
    entries = [(order.cutter(c.cutter).diameter, c) for c in order.cuttings(stage)]
    roomy = [e for e in entries if 1.25 * e[0] <= diameter + 1e-9]
    if roomy:
        return max(roomy, key=lambda e: e[0])[1]
    narrow = [e for e in entries if 1.05 * e[0] <= diameter]
    if narrow:
        return min(narrow, key=lambda e: e[0])[1]
    raise PlanError(
        f"bore diameter={mm(diameter):.3f}: no cutter of stage '{stage}' is small enough; use one of"
        f" {most_mm(diameter / 1.25):.2f} or less"
    )


def bore_cuts(
    bench: SideContext, floors: Floors, bores: Sequence[Bore], *, name: str, used: dict[int, float]
) -> list[Cut]:
    """Return the cuts that bore on this side, one a cutter, then the fitted bores' finish."""
    order = bench.order
    by_cutter: dict[int, tuple[Cutting, list[Motions]]] = {}
    fitted: dict[int, tuple[Cutting, list[Motions], list[tuple[str, float]]]] = {}
    for bore in bores:
        bottom = bottom_of(bench, floors, bore)
        if bottom is None:
            continue
        centre = points_on(bench.side, bore.centre, order.setup.flip)[0]
        place = (float(centre[0]), float(centre[1]))
        diameter = _roughed_diameter(bench, bore)
        cutting = cutting_for_bore(order, diameter, "bore")
        cutter = order.cutter(cutting.cutter)
        found = bore_passes(
            place, diameter, cutter=cutter.diameter, top=bench.top + ENTRY_MM, bottom=bottom,
            pitch=cutting.stepdown, stepover=cutting.stepover, ramp=cutter.ramp, feed=cutting.feed,
        )  # fmt: skip
        by_cutter.setdefault(cutting.cutter, (cutting, []))[1].extend(found)
        if bore.fitted and not opens_only(bench, bore):
            finish = cutting_for_bore(order, bore.diameter, "fit")
            held = fitted.setdefault(finish.cutter, (finish, [], []))
            held[1].extend(
                fit_passes(
                    place,
                    bore.diameter,
                    cutter=order.cutter(finish.cutter).diameter,
                    bottom=bottom + FIT_CLEARANCE_MM,
                    spring_passes=order.boring.spring_passes,
                    feed=finish.feed,
                    lead_feed=min(finish.feed, cutting.feed),
                )
            )
            held[2].append((bore.name, bore.diameter))
    cuts: list[Cut] = []
    for cutting, passes in by_cutter.values():
        cuts += cuts_by_life(bench, passes, name=name, cutting=cutting, used=used)
    for cutting, passes, names in fitted.values():
        cuts += cuts_by_life(
            bench, passes, name=f"FITTED {name}", cutting=cutting, used=used,
            after=(
                gauge_pins(names),
                f"IF ONE IS TIGHT, ORDER CUTTER {cutting.cutter} THINNER BY THE DIFFERENCE AND CUT AGAIN",
            ),
        )  # fmt: skip
    return cuts


def opens_only(bench: SideContext, bore: Bore) -> bool:
    """Whether this side only opens the skin that the other side left."""
    return bench.side == "B" and not bore.both_sides


def bottom_of(bench: SideContext, floors: Floors, bore: Bore) -> float | None:
    """Return how deep a bore goes on this side (side frame), None where this side leaves it."""
    order = bench.order
    if bore.depth is not None:
        return bench.top - bore.depth if bench.side == "A" else None
    if bore.both_sides:
        return -(2 * bore_corner(order) + OPENING_OVERLAP_MM) / 2
    if bench.side == "A":
        return floors.a_bore
    return height_on("B", floors.b_open) if order.boring.opening == "skin" else None


def _roughed_diameter(bench: SideContext, bore: Bore) -> float:
    boring = bench.order.boring
    if opens_only(bench, bore):
        return bore.diameter + boring.oversize
    return bore.diameter - (boring.undersize if bore.fitted else 0.0)


def slot_cuts(
    bench: SideContext, floors: Floors, slots: Sequence[Slot], *, name: str, used: dict[int, float]
) -> list[Cut]:
    """Return the cuts that mill all slots on this side, with the largest cutter that fits each."""
    if not slots or (bench.side == "B" and bench.order.boring.opening != "skin"):
        return []
    by_cutter: dict[int, tuple[Cutting, list[Motions]]] = {}
    for slot in slots:
        cutting, passes = _slot_passes(bench, floors, slot)
        by_cutter.setdefault(cutting.cutter, (cutting, []))[1].extend(passes)
    cuts: list[Cut] = []
    for cutting, passes in by_cutter.values():
        cuts += cuts_by_life(bench, passes, name=name, cutting=cutting, used=used)
    return cuts


def slot_cutter(bench: SideContext, floors: Floors, slot: Slot) -> Cutter:
    """Return the cutter that mills a slot.

    Raises
    ------
    PlanError
        When none of its stage can.
    """
    return bench.order.cutter(_slot_passes(bench, floors, slot)[0].cutter)


def _slot_passes(bench: SideContext, floors: Floors, slot: Slot) -> tuple[Cutting, list[Motions]]:
    order = bench.order
    troubles = []
    entries = sorted(
        order.cuttings("slot"), key=lambda c: order.cutter(c.cutter).diameter, reverse=True
    )
    for cutting in entries:
        short = [*too_short(order.cutter(cutting.cutter), "slot", bench.top - floors.a_bore)]
        if short:
            troubles += short
            continue
        try:
            return cutting, _passes_with(bench, floors, slot, cutting)
        except PlanError as error:
            troubles.append(f"cutter {cutting.cutter}: {error}")
    raise PlanError(
        [f"slot '{slot.name}' cannot be milled with any cutter of stage 'slot'", *troubles]
    )


def _narrow(loops: int) -> str:
    return "it is too narrow" if loops == 0 else "it is too narrow in its middle"


def largest_in(wall: Curve) -> float:
    """Return the greatest diameter that passes through all of an opening, mm, to 0.01 mm below."""
    low, high = 0.0, float(min(np.subtract(wall.bounds[2:], wall.bounds[:2]))) / 2
    while high - low > 0.002:
        radius = (low + high) / 2
        low, high = (radius, high) if len(offset(wall, -radius)) == 1 else (low, radius)
    return float(np.floor(200 * low) / 100)


def _passes_with(bench: SideContext, floors: Floors, slot: Slot, cutting: Cutting) -> list[Motions]:
    order = bench.order
    cutter = order.cutter(cutting.cutter)
    wall = curve_on(bench.side, slot.outline, order.setup.flip).counter_clockwise()
    on_a = bench.side == "A"
    bottom = floors.a_bore if on_a else height_on("B", floors.b_open)
    away = cutter.radius - (0.0 if on_a else order.boring.oversize / 2)
    finished = offset(wall, -away)
    if len(finished) != 1:
        raise PlanError(
            f"slot '{slot.name}': {_narrow(len(finished))} for cutter {cutter.number} of"
            f" {mm(cutter.diameter):.3f}; use one of {most_mm(largest_in(wall)):.2f} or less, or"
            " widen the slot"
        )
    depths = levels(bench.top, bottom, cutting.stepdown)
    feed: PieceFeed = wall_feed(cutting.feed, away, cutter.radius)
    tracks = rings(wall, inset=away + cutting.allowance, stepover=cutting.stepover)
    passes = [
        rough_ring(ring, top=bench.top + ENTRY_MM, depths=depths, ramp=cutter.ramp, feed=feed)
        for ring in tracks
    ]
    touching = finished[0].counter_clockwise()
    floor = bottom + (FIT_CLEARANCE_MM if on_a else 0.0)
    widest = WALL_SECTION_SHARE * cutter.diameter**2 / (bench.top - floor)
    passes += corner_passes(
        Track(curve=touching),
        full_corners(touching, tracks, cutting.allowance, away, widest=widest), tracks, wall,
        radius=away, depths=depths, feed=feed, side_feed=cutting.feed,
    )  # fmt: skip
    passes.append(
        finish_ring(
            touching,
            wall,
            away=away,
            stock=cutting.allowance,
            widest=widest,
            z=floor,
            radius=cutter.radius,
            feed=feed,
        )
    )
    return passes


def notch_cuts(bench: SideContext, deep: Floors, used: dict[int, float]) -> list[Cut]:
    """Return the cuts that bore the notches on this side, one a cutter.

    Side A leaves the same skin as under bores, side B opens it, no wider, for notches are seen. A
    cutter too short for that goes to the middle, and side B comes to meet it.
    """
    by_cutter: dict[int, tuple[Cutting, list[Motions]]] = {}
    for row, cutting in _rows(bench.order):
        bottom = _bottom(bench, deep, bench.order.cutter(cutting.cutter))
        if bottom is not None:
            held = by_cutter.setdefault(cutting.cutter, (cutting, []))[1]
            held.extend(_row_passes(bench, row, cutting, bottom))
    name = "JIMPING" if bench.side == "A" else "JIMPING OPENED"
    cuts: list[Cut] = []
    for cutting, passes in by_cutter.values():
        cuts += cuts_by_life(bench, passes, name=name, cutting=cutting, used=used)
    return cuts


def _rows(order: Order) -> Iterator[tuple[Jimping, Cutting]]:
    for row in order.blade.jimping:
        yield row, cutting_for_bore(order, row.diameter, NOTCH)


def _bottom(bench: SideContext, deep: Floors, cutter: Cutter) -> float | None:
    """Return how deep the notches go on this side (side frame), None where it leaves them."""
    order = bench.order
    if meets_in_the_middle(order, cutter):
        return -(2 * bore_corner(order) + OPENING_OVERLAP_MM) / 2
    if bench.side == "A":
        return deep.a_bore
    return height_on("B", deep.b_open) if order.boring.opening == "skin" else None


def _row_passes(
    bench: SideContext, row: Jimping, cutting: Cutting, bottom: float
) -> Iterator[Motions]:
    order = bench.order
    cutter = order.cutter(cutting.cutter)
    for x, y in points_on(bench.side, row.centres, order.setup.flip):
        yield from bore_passes(
            (float(x), float(y)),
            row.diameter,
            cutter=cutter.diameter,
            top=bench.top + ENTRY_MM,
            bottom=bottom,
            pitch=cutting.stepdown,
            stepover=cutting.stepover,
            ramp=cutter.ramp,
            feed=cutting.feed,
        )

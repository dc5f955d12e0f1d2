"""Jimping: notches bored across the outline while all round them is solid."""

from __future__ import annotations

from collections.abc import Iterator

from knifecam.blade import Jimping
from knifecam.curve import Motions
from knifecam.paths.bore import bore_passes
from knifecam.planning.bench import cuts_of
from knifecam.planning.openings import ENTRY, cutting_for_bore
from knifecam.planning.plan import Cut
from knifecam.shop import Cutter, Cutting, Order
from knifecam.shop.depths import OPENING_OVERLAP, Floors, bore_corner, meets_in_the_middle
from knifecam.shop.side_view import Bench, height_on, points_on
from knifecam.shop.stages import NOTCH


def notch_cuts(bench: Bench, deep: Floors, used: dict[int, float]) -> list[Cut]:
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
        cuts += cuts_of(bench, passes, name=name, cutting=cutting, used=used)
    return cuts


def _rows(order: Order) -> Iterator[tuple[Jimping, Cutting]]:
    for row in order.blade.jimping:
        yield row, cutting_for_bore(order, row.diameter, NOTCH)


def _bottom(bench: Bench, deep: Floors, cutter: Cutter) -> float | None:
    """Return how deep the notches go on this side (side frame), None where it leaves them."""
    order = bench.order
    if meets_in_the_middle(order, cutter):
        return -(2 * bore_corner(order) + OPENING_OVERLAP) / 2
    if bench.side == "A":
        return deep.a_bore
    return height_on("B", deep.b_open) if order.boring.bed == "skin" else None


def _row_passes(bench: Bench, row: Jimping, cutting: Cutting, bottom: float) -> Iterator[Motions]:
    order = bench.order
    cutter = order.cutter(cutting.cutter)
    for x, y in points_on(bench.side, row.centres, order.setup.flip):
        yield from bore_passes(
            (float(x), float(y)),
            row.diameter,
            cutter=cutter.diameter,
            top=bench.top + ENTRY,
            bottom=bottom,
            pitch=cutting.stepdown,
            stepover=cutting.stepover,
            ramp=cutter.ramp,
            feed=cutting.feed,
        )

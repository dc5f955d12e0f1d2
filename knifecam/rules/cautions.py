"""What a maker should know of an order that can be made: one loud line each."""

from __future__ import annotations

from collections.abc import Iterator

from knifecam.quantity import mm, stated, told
from knifecam.rules.cutter_rules import HARDNESSES, above_proposals
from knifecam.shop.order_record import Order
from knifecam.shop.setup import ALLOWED_SPREAD


def remarks(order: Order) -> tuple[str, ...]:
    """Return what lies outside of what is usual, or was left to chance."""
    drawn = [f"drawing: {note}" for note in order.drawn_notes]
    found = (*drawn, *_cutting(order), *_hardness(order), *_edge(order), *_plate(order))
    return tuple(told(line, order.units) for line in found)


def _cutting(order: Order) -> Iterator[str]:
    for one in above_proposals(order.cutting, order.cutters, order.blade.steel.hardness_hrc):
        yield f"{one.said()}; check it before a cutter breaks"


def _hardness(order: Order) -> Iterator[str]:
    hardness, (low, high) = order.blade.steel.hardness_hrc, HARDNESSES
    if not low <= hardness <= high:
        yield (
            f"{stated('blade.hardness', hardness):g} HRC: speeds, feeds and stepdowns are proposed for"
            f" {low:g} to {high:g} HRC, the same for all up to 62; give your own under [[cutting]]"
        )


def _edge(order: Order) -> Iterator[str]:
    tabs, blade = order.tabs, order.blade
    if tabs.stations or not tabs.count or blade.bevels:
        return
    if not (tabs.no_tabs or tabs.as_milled):
        yield (
            "no stretch of the outline is kept free of tabs, so they may stand on the cutting edge:"
            " name the edge in outline.no_tabs, or draw it on a layer named in drawing.no_tabs"
        )


def _plate(order: Order) -> Iterator[str]:
    plate, mill = order.setup.plate, order.setup.mill
    if plate.spread > ALLOWED_SPREAD:
        yield (
            f"{stated('plate.spread', mm(plate.allowed_spread)):g} lets a plate pass whose thickness"
            f" differs by {mm(plate.spread):.3f}: tabs and land differ by as much"
        )
    for axis, name, size in ((0, "length", plate.length), (1, "width", plate.width)):
        if size > mill.travel[axis]:
            yield (
                f"plate.{name}={mm(size):g} is more than the mill moves in {'XY'[axis]},"
                f" {mm(mill.travel[axis]):g}: see that it clears column and covers"
            )

"""Width, overlap and meeting of the trench; outlines that cross themselves; corners.

Each rule yields one line that names the key, the figure, the rule and what would do.
"""

from __future__ import annotations

from collections.abc import Iterator

from knifecam.blade import Blade
from knifecam.curve.crossings import split_stations
from knifecam.curve.pieces import as_pieces
from knifecam.quantity import Place, bare, basis, keyed, least_mm, mm, stated
from knifecam.rules.cutter_rules import stage_entries
from knifecam.rules.rules_limits import FINISH_ROOM_MM, TRENCH_DIAMETERS
from knifecam.shop import Order
from knifecam.shop.order_record import Trench
from knifecam.shop.side_view import floors


def check_trench(trench: Trench, blade: Blade) -> Iterator[str]:
    """Yield what contradicts itself between trench and blade."""
    if not trench.depth_a < blade.thickness:
        yield (
            f"{stated('outline.depth_a', mm(trench.depth_a)):g} must be less than the blade's thickness,"
            f" {mm(blade.thickness):g}"
        )


def loops(order: Order) -> Iterator[str]:
    """Outline and slots do not cross or touch themselves."""
    named = [("drawing.outline", order.blade.outline)]
    named += [(f"slots: slot '{slot.name}'", slot.outline) for slot in order.blade.slots]
    for name, curve in named:
        pieces = as_pieces(curve)
        row, gone = split_stations(pieces)
        if len(row):
            x, y = pieces.at(row[:1], gone[:1])[0][0]
            yield f"{name} crosses or touches itself at {Place(x, y):.3f}: draw it without"


def trench(order: Order) -> Iterator[str]:
    """The trench is wider than its cutters."""
    width = order.trench.width
    for entry, cutter in stage_entries(order, "rough"):
        if not width >= TRENCH_DIAMETERS * cutter.diameter - 1e-9:
            yield (
                f"{stated('outline.width', mm(width)):.3f} must be at least {TRENCH_DIAMETERS} x D of"
                f" roughing cutter {entry.cutter}: {least_mm(TRENCH_DIAMETERS * cutter.diameter):.3f}"
            )
    for entry, cutter in stage_entries(order, "finish"):
        if not width >= cutter.diameter + FINISH_ROOM_MM - 1e-9:
            yield (
                f"{stated('outline.width', mm(width)):.3f} must be at least D + {bare(FINISH_ROOM_MM)} of"
                " finishing cutter"
                f" {entry.cutter}: {least_mm(cutter.diameter + FINISH_ROOM_MM):.3f}, or it rubs"
                " both walls"
            )


def meeting(order: Order) -> Iterator[str]:
    """Both sides' walls overlap past their corner radii, inside the plate."""
    corners = [c.corner for _, c in stage_entries(order, "finish")]
    least = 2 * max(corners, default=0.0) + order.trench.clearance
    half, deep = order.blade.thickness / 2, floors(order)
    if not order.trench.overlap >= least:
        yield (
            f"{stated('outline.overlap', mm(order.trench.overlap)):.3f} leaves a ridge: both corner"
            f" radii and the clearance want at least {least_mm(least):.3f}, {mm(least + 0.1):.3f} is"
            f" safe{basis('outline.clearance')}"
        )
    elif not -half < deep.b_rough < deep.a_rough < deep.b_finish:
        yield (
            f"{stated('outline.depth_a', mm(order.trench.depth_a)):.3f} with"
            f" {keyed('outline.overlap', mm(order.trench.overlap)):.3f} and"
            f" {keyed('outline.web', mm(order.trench.web)):.3f} does not fit a plate of"
            f" {mm(2 * half):.3f}; reduce depth_a, overlap or web, and keep web above 0"
        )


def lies_beside(room: float, name: str) -> str:
    """Return how something that should stay clear of a named place lies to it."""
    return (
        f"stands {mm(room):.2f} from {name}"
        if room >= 0
        else f"reaches {mm(-room):.2f} into {name}"
    )

"""How deep each side goes, from the order alone: closed formulas."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from knifecam.quantity import mm
from knifecam.shop.cutter import Cutter
from knifecam.shop.order_record import Order


@dataclass(frozen=True, slots=True, kw_only=True)
class Floors:
    """How deep each side goes, as part z in mm (A's face at +T/2, B's at -T/2).

    ``a_rough`` and ``a_finish`` are side A's trench floors, ``b_rough`` and ``b_finish`` how far
    side B comes up; ``tab`` is the face of the tabs turned to side B, which lie between it and
    ``a_rough``. ``a_bore`` is where side A's bores stop, ``b_open`` how far side B opens them.
    """

    a_rough: float
    a_finish: float
    b_rough: float
    b_finish: float
    tab: float
    a_bore: float
    b_open: float
    meet: float


OPENING_OVERLAP = 0.1
"""mm beyond both cutters' corner radii, so that no ridge stays where two sides meet."""


def floors(order: Order) -> Floors:
    """Return the floors of both sides in part z.

    The trenches meet at ``depth_a``: side A stops half the overlap below it, side B half above.
    Tabs lie on side A's floor. Bores stop a skin above side B's face (or go into a relieved fixture);
    side B opens them past the skin by both corner radii and `OPENING_OVERLAP`.
    """
    half = order.blade.thickness / 2
    trench, boring = order.trench, order.boring
    meet = half - trench.depth_a
    a_rough = meet - trench.overlap / 2
    a_bore = -half + boring.skin if boring.opening == "skin" else -half - boring.through
    return Floors(
        a_rough=a_rough,
        a_finish=a_rough + trench.clearance,
        b_rough=a_rough - trench.web,
        b_finish=a_rough + trench.overlap,
        tab=a_rough - order.tabs.thickness,
        a_bore=a_bore,
        b_open=a_bore + 2 * bore_corner(order) + OPENING_OVERLAP,
        meet=meet,
    )


def bore_corner(order: Order) -> float:
    """Return the greatest corner radius among the cutters that bore, notch or open slots, mm."""
    stages = ("bore", "fit", "slot", "notch")
    corners = [order.cutter(c.cutter).corner for c in order.cutting if c.stage in stages]
    return max(corners, default=0.0)


def too_short(cutter: Cutter, stage: str, depth: float) -> Iterator[str]:
    """Yield why a cutter does not go ``depth`` mm deep in a stage."""
    if not cutter.reach >= depth:
        yield (
            f"{cutter.path}: {cutter.keyed('reach'):.2f} is less than the {mm(depth):.2f} it"
            f" goes into in stage '{stage}'; its cone or shank would rub"
        )
    if stage in ("finish", "fit", "slot") and not cutter.flute_length >= depth:
        yield (
            f"{cutter.path}: {cutter.keyed('flute_length'):.2f} is less than the"
            f" {mm(depth):.2f} wall it finishes in one pass"
        )
    elif not (cutter.flute_length >= depth or cutter.neck < cutter.diameter):
        yield (
            f"{cutter.path}: {cutter.keyed('neck'):.3f} is not relieved, and rubs above"
            f" {cutter.keyed('flute_length'):.2f} where it goes {mm(depth):.2f} deep in stage"
            f" '{stage}'"
        )
    if not cutter.neck <= cutter.diameter:
        yield f"{cutter.path}: {cutter.keyed('neck'):.3f} is wider than its diameter"


def meets_in_the_middle(order: Order, cutter: Cutter) -> bool:
    """Tell whether a cutter is too short to notch from side A down to the skin."""
    return cutter.reach < order.blade.thickness / 2 - floors(order).a_bore


def notched_depth(order: Order, cutter: Cutter) -> float:
    """Return how deep below a face a cutter has to go for its notches, mm."""
    half = order.blade.thickness / 2
    if meets_in_the_middle(order, cutter):
        return half + (2 * bore_corner(order) + OPENING_OVERLAP) / 2
    return half - floors(order).a_bore

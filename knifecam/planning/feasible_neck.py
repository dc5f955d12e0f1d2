"""Which necks of tabs cannot be made, told before any path is looked for: closed inequalities."""

from __future__ import annotations

from collections.abc import Iterator

from knifecam.planning.holding import wanted_count
from knifecam.quantity import bare, least_mm, mm, most_mm
from knifecam.shop import Cutter, Order
from knifecam.shop.cutter_choice import NECK_CORNER, THICKEST_NECK
from knifecam.shop.defaults import NECK_STEP
from knifecam.shop.depths import floors
from knifecam.shop.stages import FINISH, NECK, ROUGH
from knifecam.shop.tab_neck import neck_of

THINNEST, THICKEST = 0.12, 0.3
"""mm: a thinner neck breaks before its time, a thicker one does not snap at the wall."""

STUB = 0.2
"""mm: how far a necked tab's stub may stand out of the blade (common practice)."""

LESS = 0.1
"""mm: a neck is at least this much thinner than its tab."""


def necks(order: Order) -> Iterator[str]:
    """Necks are thin enough to snap, thick enough to hold, and a small cutter reaches them."""
    tabs = order.tabs
    if not tabs.neck > 0:
        return
    if wanted_count(order) == 0:
        yield f"tabs.neck={mm(tabs.neck):.3f}: the blade has no tabs to neck; leave it out"
        return
    if not THINNEST <= tabs.neck <= min(THICKEST, tabs.thickness - LESS) + 1e-9:
        yield (
            f"tabs.neck={mm(tabs.neck):.3f} must be from {bare(THINNEST)} to {mm(THICKEST)}, and"
            f" {mm(LESS)} less"
            f" than tabs.thickness={mm(tabs.thickness):.3f}; {bare(0.15)} to {mm(0.25)} is usual"
        )
        return
    if not all(order.cuttings(stage) for stage in (ROUGH, FINISH, NECK)):
        return
    entry = order.cuttings(NECK)[0]
    yield from _cutter(order, order.cutter(entry.cutter))
    if not entry.stepdown <= NECK_STEP + 1e-9:
        yield (
            f"{entry.path}: stepdown={mm(entry.stepdown):g} must be at most {most_mm(NECK_STEP):g}, what"
            " a cutter along a finished wall takes of the tab on its far side"
        )
    neck = neck_of(order)
    if not neck.stub <= STUB + 1e-9:
        yield (
            f"tabs.neck: its stub would stand out {mm(neck.stub):.3f}, by the corners of the trench's"
            f" cutters and the wall's allowance; at most {most_mm(STUB)}: use cutters of smaller"
            " corner, or"
            " order less allowance for roughing"
        )
    if not tabs.waist >= neck.waist - 1e-9:
        yield (
            f"tabs.waist={mm(tabs.waist):.3f}: a neck {mm(neck.mean):.2f} wide would be stronger than the"
            f" tab behind it, which would snap there; order tabs.waist={least_mm(neck.waist):.2f}"
            " or more, or a"
            " neck cutter of smaller corner or diameter"
        )


def _cutter(order: Order, small: Cutter) -> Iterator[str]:
    where = f"cutter {small.number} in stage 'neck'"
    if not (small.diameter <= THICKEST_NECK and small.corner <= NECK_CORNER):
        yield (
            f"{where}: diameter={mm(small.diameter):.3f} and corner={mm(small.corner):.3f} must be"
            " at most"
            f" {bare(THICKEST_NECK)} and {mm(NECK_CORNER)}, or the stub stays wide and thick"
        )
    deep = order.blade.thickness / 2 + floors(order).b_finish
    if not small.reach >= deep:
        yield (
            f"{where}: reach={mm(small.reach):.2f} is less than the {mm(deep):.2f} it goes into the"
            " trench;"
            " use one with a longer neck, or order outline.meet nearer to side B"
        )
    elif not (small.flute_length >= deep or small.neck < small.diameter):
        yield (
            f"{where}: neck={mm(small.neck):.3f} is not relieved, and rubs above its flutes of"
            f" {mm(small.flute_length):.2f} where it goes {mm(deep):.2f} deep"
        )
    if not 2 * small.diameter <= order.trench.width:
        yield (
            f"{where}: diameter={mm(small.diameter):.3f} is more than half the trench of"
            f" outline.width={mm(order.trench.width):.3f}; use a smaller one"
        )

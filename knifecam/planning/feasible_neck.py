"""Which necks of tabs cannot be made, told before any path is looked for: closed inequalities."""

from __future__ import annotations

from collections.abc import Iterator

from knifecam.planning.floor import floors
from knifecam.planning.holding import wanted_count
from knifecam.shop import Cutter, Order
from knifecam.shop.choice import NECK_CORNER, THICKEST_NECK
from knifecam.shop.necking import neck_of
from knifecam.shop.order import FINISH, NECK, ROUGH

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
        yield f"tabs.neck={tabs.neck:.3f} mm: the blade has no tabs to neck; leave it out"
        return
    if not THINNEST <= tabs.neck <= min(THICKEST, tabs.thickness - LESS) + 1e-9:
        yield (
            f"tabs.neck={tabs.neck:.3f} mm must be from {THINNEST} to {THICKEST} mm, and {LESS} mm less"
            f" than tabs.thickness={tabs.thickness:.3f} mm; 0.15 to 0.25 mm is usual"
        )
        return
    if not all(order.cuttings(stage) for stage in (ROUGH, FINISH, NECK)):
        return
    yield from _cutter(order, order.cutter(order.cuttings(NECK)[0].cutter))
    neck = neck_of(order)
    if not neck.stub <= STUB + 1e-9:
        yield (
            f"tabs.neck: its stub would stand out {neck.stub:.3f} mm, by the corners of the trench's"
            f" cutters and the wall's allowance; at most {STUB} mm: use cutters of smaller corner, or"
            " order less allowance for roughing"
        )
    if not tabs.waist >= neck.waist - 1e-9:
        yield (
            f"tabs.waist={tabs.waist:.3f} mm: a neck {neck.mean:.2f} mm wide would be stronger than the"
            f" tab behind it, which would snap there; order tabs.waist={neck.waist:.2f} mm or more, or a"
            " neck cutter of smaller corner or diameter"
        )


def _cutter(order: Order, small: Cutter) -> Iterator[str]:
    where = f"cutter {small.number} in stage 'neck'"
    if not (small.diameter <= THICKEST_NECK and small.corner <= NECK_CORNER):
        yield (
            f"{where}: diameter={small.diameter:.3f} mm and corner={small.corner:.3f} mm must be at most"
            f" {THICKEST_NECK} and {NECK_CORNER} mm, or the stub stays wide and thick"
        )
    deep = order.blade.thickness / 2 + floors(order).b_finish
    if not small.reach >= deep:
        yield (
            f"{where}: reach={small.reach:.2f} mm is less than the {deep:.2f} mm it goes into the trench;"
            " use one with a longer neck, or order outline.meet nearer to side B"
        )
    elif not (small.flute_length >= deep or small.neck < small.diameter):
        yield (
            f"{where}: neck={small.neck:.3f} mm is not relieved, and rubs above its flutes of"
            f" {small.flute_length:.2f} mm where it goes {deep:.2f} mm deep"
        )
    if not 2 * small.diameter <= order.trench.width:
        yield (
            f"{where}: diameter={small.diameter:.3f} mm is more than half the trench of"
            f" outline.width={order.trench.width:.3f} mm; use a smaller one"
        )

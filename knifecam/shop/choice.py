"""Which cutter does what, where an order does not say: one choice for each stage.

Common practice: bores 1.25 to 1.9 cutter diameters wide leave no slug and let the chips out;
inner corners want 1.15 cutter radii; a second cutter of the same size is kept for finishing.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from knifecam.blade import Blade, Bore
from knifecam.curve import Curve
from knifecam.shop.cutter import BALL, Cutter
from knifecam.shop.order import BORE, FINISH, FIT, ROUGH, SLOT

TIGHTEST_BORE, WIDEST_BORE = 1.25, 1.9
"""Cutter diameters: below the first a bore jams with chips, above the second it keeps a core."""

CORNER_ROOM = 1.15
"""Cutter radii: the least radius of an inner corner that is not entered full width."""


THICKEST_FOR_TRENCH = 4.0
"""mm: thicker cutters leave wide stubs, and are taken for the outline only when no other is there."""


def inner_radius(outline: Curve, side: int) -> float:
    """Return the least radius of arcs a cutter has to run inside of, mm; inf without such arcs.

    ``side`` is +1 for a cutter inside a counter-clockwise curve, -1 for one outside of it.
    """
    radii = outline.radii[outline.is_arc & (np.sign(outline.angles) == side)]
    return float(radii.min()) if len(radii) else float("inf")


def slot_room(outline: Curve) -> float:
    """Return the greatest cutter diameter for an opening, mm.

    It is bound by the opening's least inner radius and by its breadth, taken as area over half
    the length of its outline (exact for a very long slot, too small for all others).
    """
    breadth = 2 * abs(outline.area) / outline.length
    return min(2 * inner_radius(outline, 1) / CORNER_ROOM, breadth)


def choose_cutters(
    cutters: Sequence[Cutter], blade: Blade, reference: Sequence[Bore] = ()
) -> tuple[tuple[str, int], ...]:
    """Return (stage, cutter number) for every stage the blade needs, in the order of the stages.

    Stages no cutter suits are left out; the first cutter wins among equals, except that finishing
    takes a second one of the same diameter.
    """
    ends = [c for c in cutters if c.kind != BALL]
    bores = [*reference, *blade.bores]
    boring = _for_bores(_reaching(ends, blade.thickness), [b.diameter for b in bores])
    fitting = _for_bores(
        _reaching(ends, blade.thickness), [b.diameter for b in bores if b.fitted], boring
    )
    outline = _for_outline(_reaching(ends, blade.thickness), blade.outline)
    chosen = [(BORE, c.number) for c in boring] + [(FIT, c.number) for c in fitting]
    if blade.slots:
        room = min(slot_room(slot.outline) for slot in blade.slots)
        chosen += [(SLOT, c.number) for c in _largest(_reaching(ends, blade.thickness), room)]
    if outline:
        chosen += [(ROUGH, outline[0].number), (FINISH, outline[-1].number)]
    return tuple(chosen)


def _reaching(cutters: Sequence[Cutter], depth: float) -> list[Cutter]:
    """Return the cutters that reach the depth; all when none does, for others to refuse."""
    return [c for c in cutters if c.reach >= depth] or list(cutters)


def _for_bores(
    cutters: Sequence[Cutter], diameters: Sequence[float], preferred: Sequence[Cutter] = ()
) -> list[Cutter]:
    """Return as few cutters as open all ``diameters``, smallest bore first."""
    chosen: list[Cutter] = []
    for diameter in sorted(set(diameters)):
        for pool in (chosen, preferred, cutters):
            suited = [c for c in pool if _suits(c, diameter)]
            if suited:
                break
        else:
            suited = [c for c in cutters if c.diameter * TIGHTEST_BORE <= diameter]
        if not suited:
            suited = [c for c in cutters if c.diameter < diameter]
        best = max(suited, key=lambda c: c.diameter, default=None)
        if best is not None and best not in chosen:
            chosen.append(best)
    return chosen


def _suits(cutter: Cutter, diameter: float) -> bool:
    return cutter.diameter * TIGHTEST_BORE <= diameter <= cutter.diameter * WIDEST_BORE


def _largest(cutters: Sequence[Cutter], room: float) -> list[Cutter]:
    """Return the thickest cutter no thicker than ``room``, else the thinnest; empty without any."""
    fitting = [c for c in cutters if c.diameter <= room]
    if fitting:
        return [max(fitting, key=lambda c: c.diameter)]
    return [min(cutters, key=lambda c: c.diameter)] if cutters else []


def _for_outline(cutters: Sequence[Cutter], outline: Curve) -> list[Cutter]:
    """Return the roughing and the finishing cutter of the outline: the last of its diameter."""
    slender = [c for c in cutters if c.diameter <= THICKEST_FOR_TRENCH] or cutters
    found = _largest(slender, 2 * inner_radius(outline, -1) / CORNER_ROOM)
    if not found:
        return []
    return [found[0], [c for c in cutters if c.diameter == found[0].diameter][-1]]

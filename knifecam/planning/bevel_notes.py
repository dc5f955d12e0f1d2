"""What a maker should know of the bevels: where they end, their ridges, how fine they are."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from knifecam.blade import Bevel, grind_height
from knifecam.blade.figures import grind_line, ridges
from knifecam.blade.running_over import LEAST_OVER, runs_over
from knifecam.planning.bevels import entry_for
from knifecam.planning.opened import Opened
from knifecam.planning.pierced import pierced_notes
from knifecam.shop import Order
from knifecam.shop.bevelling import FINEST
from knifecam.shop.cusp import cusp_of
from knifecam.shop.order import BEVEL_FINISH

COARSER = 1.05
"""Ordered cusps from which higher ones are worth a word: steps are rounded to 0.001 mm."""


def bevel_notes(order: Order, opened: Sequence[Opened]) -> tuple[str, ...]:
    """Return one line for each bevel and side, its ridges, and the stretches opened for bevels."""
    lines: list[str] = []
    for bevel in order.blade.bevels:
        sides = list(filter(bevel.on, "AB"))
        heights = {grind_height(bevel, order.blade.thickness, side) for side in sides}
        named = {"A AND B": "A"} if len(heights) < len(sides) else {side: side for side in sides}
        lines += [_figures(order, bevel, side, name) for name, side in named.items()]
        lines += _coarser(order, bevel)
        lines += _ridges(order, bevel)
        lines += _over(order, bevel)
    lines += pierced_notes(order)
    lines += _opened(order, opened)
    return tuple(lines)


def _figures(order: Order, bevel: Bevel, side: str, name: str) -> str:
    high = grind_height(bevel, order.blade.thickness, side)
    step, cusp = _step(order, bevel, side)
    runs = grind_line(bevel, order.blade, side, spacing=1.0)
    where = ""
    if runs:
        first, last = runs[0][0], runs[-1][-1]
        where = f" from ({first[0]:.1f}, {first[1]:.1f}) to ({last[0]:.1f}, {last[1]:.1f})"
    return (
        f"bevel {bevel.name}, side {name}: {math.degrees(bevel.angle):.2f} deg, grind line"
        f" {high:.2f} mm from the edge{where}; steps of {step:.3f} mm leave cusps of"
        f" {_microns(cusp)}; 10 um of Z moves the grind line {0.01 / math.tan(bevel.angle):.2f} mm"
    )


def _step(order: Order, bevel: Bevel, side: str) -> tuple[float, float]:
    """Return the step that is really taken over a bevel and the cusps it leaves, mm."""
    high = grind_height(bevel, order.blade.thickness, side)
    entry, nose = entry_for(order, BEVEL_FINISH)
    step = high / math.ceil(high / entry.stepover - 1e-9)
    return step, cusp_of(bevel.angle, nose.corner, nose.radius, step)


def _microns(length: float) -> str:
    """Return a length in mm as um: with one decimal, small ones with three."""
    return f"{1000 * length:.1f} um" if length >= 1e-4 else f"{1000 * length:.3f} um"


def _coarser(order: Order, bevel: Bevel) -> Iterator[str]:
    """Yield that the cusps are higher than ordered, where steps are no finer."""
    wanted = order.bevelling.cusp
    side = "A" if bevel.on("A") else "B"
    step, cusp = _step(order, bevel, side)
    if not cusp > COARSER * wanted:
        return
    entry, _ = entry_for(order, BEVEL_FINISH)
    why = (
        f"no step finer than {FINEST:g} mm is proposed"
        if entry.stepover <= FINEST
        else f"the order states a stepover of {entry.stepover:g} mm for stage '{BEVEL_FINISH}'"
    )
    yield (
        f"bevel {bevel.name}: bevelling.cusp wants {_microns(wanted)}, but steps of {step:.3f} mm leave"
        f" {_microns(cusp)}: {why}"
    )


def _ridges(order: Order, bevel: Bevel) -> Iterator[str]:
    side = "A" if bevel.on("A") else "B"
    for ridge in ridges(bevel, order.blade, side, spacing=1.0):
        yield (
            f"bevel {bevel.name} meets itself in a ridge from station {ridge.stretch.start:.0f} to"
            f" {ridge.stretch.end:.0f} mm: the belly there is tighter than the bevel is wide"
        )


def _over(order: Order, bevel: Bevel) -> Iterator[str]:
    if bevel.plunges:
        return
    for run in runs_over(bevel, order.blade):
        if run.past >= LEAST_OVER:
            yield (
                f"bevel {bevel.name} has no plunge and runs out over the outline {run.ends}:"
                f" {run.past:.1f} mm past the heel"
            )


def _opened(order: Order, opened: Sequence[Opened]) -> Iterator[str]:
    whole = order.blade.outline.length
    for one in opened:
        yield (
            f"opened for bevels: stations {one.stretch.start % whole:.0f} to"
            f" {one.stretch.end % whole:.0f} mm of the outline, {one.width:.1f} mm wide; side A to part"
            f" Z{one.floor_a:.2f}"
            + (f", side B to part Z{-one.clear_b:.2f}" if one.clear_b is not None else "")
        )

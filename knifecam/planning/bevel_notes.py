"""What a maker should know of the bevels: where they end, their ridges, how fine they are."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from knifecam.blade import Bevel, grind_height
from knifecam.blade.bevel import bevel_named
from knifecam.blade.bevel_geometry import grind_line, ridges
from knifecam.blade.blade_limits import LEAST_OVER_MM
from knifecam.blade.heel_overrun import runs_over
from knifecam.planning.cleared_stretches import ClearedStretch
from knifecam.planning.planning_limits import COARSER_TIMES
from knifecam.quantity import Place, bare, mm, um
from knifecam.rules.opening_rules import pierced_notes
from knifecam.shop import Order
from knifecam.shop.defaults import FINEST_STEP_MM, cusp_of
from knifecam.shop.order_record import BEVEL_FINISH, cutting_and_cutter


def bevel_notes(order: Order, opened: Sequence[ClearedStretch]) -> tuple[str, ...]:
    """Return lines for each bevel and side, its ridges, and the stretches cleared for bevels."""
    lines: list[str] = []
    for bevel in order.blade.bevels:
        sides = list(filter(bevel.on, "AB"))
        heights = {grind_height(bevel, order.blade.thickness, side) for side in sides}
        if len(heights) < len(sides):
            lines += _figures(order, bevel, "A", "sides A and B")
        else:
            for side in sides:
                lines += _figures(order, bevel, side, f"side {side}")
        lines += _coarser(order, bevel)
        lines += _ridges(order, bevel)
        lines += _over(order, bevel)
    lines += pierced_notes(order)
    lines += _opened(order, opened)
    return tuple(lines)


def bevel_facts(order: Order) -> Iterator[str]:
    """Yield what a machinist may want to know of each bevel's passes, and of an error of Z."""
    for bevel in order.blade.bevels:
        step, cusp = _step(order, bevel, "A" if bevel.on("A") else "B")
        name = bevel_named(bevel.name)
        yield f"{name}: steps of {mm(step):.3f} leave cusps of {_microns(cusp)}"
        yield f"{name}: {um(10)} of Z moves the grind line {mm(0.01 / math.tan(bevel.angle)):.2f}"


def _figures(order: Order, bevel: Bevel, side: str, sides: str) -> Iterator[str]:
    """Yield a bevel's angle and how far its grind line is from the edge, then where that runs."""
    high, name = grind_height(bevel, order.blade.thickness, side), bevel_named(bevel.name)
    yield (
        f"{name}, {sides}: {math.degrees(bevel.angle):.2f} deg, grind line {mm(high):.2f} from the edge"
    )
    runs = grind_line(bevel, order.blade, side, spacing=1.0)
    if runs:
        first, last = runs[0][0], runs[-1][-1]
        yield (
            f"{name}, {sides}: grind line from {Place(first[0], first[1]):.1f} to"
            f" {Place(last[0], last[1]):.1f}"
        )


def _step(order: Order, bevel: Bevel, side: str) -> tuple[float, float]:
    """Return the step that is really taken over a bevel and the cusps it leaves, mm."""
    high = grind_height(bevel, order.blade.thickness, side)
    entry, nose = cutting_and_cutter(order, BEVEL_FINISH)
    step = high / math.ceil(high / entry.stepover - 1e-9)
    return step, cusp_of(bevel.angle, nose.corner, nose.radius, step)


def _microns(length: float) -> str:
    """Return a length in mm as um: with one decimal, small ones with three."""
    return f"{um(1000 * length):.1f}" if length >= 1e-4 else f"{um(1000 * length):.3f}"


def _coarser(order: Order, bevel: Bevel) -> Iterator[str]:
    """Yield that the cusps are higher than ordered, where steps are no finer."""
    wanted = order.bevelling.cusp
    side = "A" if bevel.on("A") else "B"
    step, cusp = _step(order, bevel, side)
    if not cusp > COARSER_TIMES * wanted:
        return
    entry, _ = cutting_and_cutter(order, BEVEL_FINISH)
    why = (
        f"no step finer than {mm(FINEST_STEP_MM):g} is proposed"
        if entry.stepover <= FINEST_STEP_MM
        else f"the order states a stepover of {mm(entry.stepover):g} for stage '{BEVEL_FINISH}'"
    )
    yield (
        f"{bevel_named(bevel.name)}: bevelling.cusp wants {_microns(wanted)}, but steps of"
        f" {mm(step):.3f} leave {_microns(cusp)}: {why}"
    )


def _ridges(order: Order, bevel: Bevel) -> Iterator[str]:
    side = "A" if bevel.on("A") else "B"
    for ridge in ridges(bevel, order.blade, side, spacing=1.0):
        yield (
            f"{bevel_named(bevel.name)} meets itself in a ridge from station"
            f" {bare(ridge.stretch.start):.0f} to {mm(ridge.stretch.end):.0f}: the belly there is"
            " tighter than the bevel is wide"
        )


def _over(order: Order, bevel: Bevel) -> Iterator[str]:
    if bevel.plunges:
        return
    for run in runs_over(bevel, order.blade):
        if run.past >= LEAST_OVER_MM:
            yield (
                f"{bevel_named(bevel.name)} has no plunge and runs out over the outline {run.ends}:"
                f" {mm(run.past):.1f} past the heel"
            )


def _opened(order: Order, opened: Sequence[ClearedStretch]) -> Iterator[str]:
    whole = order.blade.outline.length
    for one in opened:
        where = f"from station {bare(one.stretch.start % whole):.0f} to {mm(one.stretch.end % whole):.0f}"
        yield f"trench cleared for bevels {where}: {mm(one.width):.1f} wide"
        floors = f"trench floor there: part Z{bare(one.floor_a):.2f} on side A"
        yield floors + (f", Z{bare(-one.clear_b):.2f} on side B" if one.clear_b is not None else "")

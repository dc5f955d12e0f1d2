"""Which tabs cannot be made, told before any path is looked for: closed inequalities."""

from __future__ import annotations

import math
from collections.abc import Iterator

from knifecam.curve import Stretch, place_at
from knifecam.planning.feasible_disturbed import lost_of_land
from knifecam.planning.holding import wanted_count
from knifecam.planning.tabs import BEND_STRENGTH
from knifecam.quantity import Place, bare, least_mm, mm, most_mm, quantity
from knifecam.shop import Cutter, Order
from knifecam.shop.depths import floors

LEFT_FOR_B = 0.1
"""mm that must be left for side B to cut beside a tab."""

THINNEST_TAB, THICKEST_TAB = 0.2, 0.8
"""mm: a thinner tab breaks before it should, a thicker one is not snapped by hand (common practice)."""

WEAKEST_TAB = 10.0
"""N mm: a tab that snaps at less does not hold. Tabs of 155 hold 25 times what the last passes ask
(common practice), and half as much again is kept."""


def _outline_cutters(order: Order) -> list[Cutter]:
    return [order.cutter(c.cutter) for s in ("rough", "finish") for c in order.cuttings(s)]


def tabs(order: Order) -> Iterator[str]:
    """Tabs exist, are thinner than what side B takes, and break where they should."""
    tab, half, deep = order.tabs, order.blade.thickness / 2, floors(order)
    if wanted_count(order) == 0:
        return
    most = deep.a_rough + half - LEFT_FOR_B
    if not most > 0:
        yield (
            f"tabs.thickness={mm(tab.thickness):.3f} finds no room: side A goes"
            f" {mm(half - deep.a_rough):.3f} deep, by outline.meet and half of outline.overlap, and"
            f" the plate is {mm(2 * half):.3f} thick; lessen outline.meet"
        )
    elif not tab.thickness < most:
        yield (
            f"tabs.thickness={mm(tab.thickness):.3f} must leave side B {mm(LEFT_FOR_B)} to cut: less"
            f" than {mm(most):.3f}"
        )
    else:
        yield from _snapped(order)
    yield from _roots(order, most)
    yield from _ordered(order)
    outline = order.blade.outline.length
    widest = max((c.diameter for c in _outline_cutters(order)), default=0.0)
    need = wanted_count(order) * (tab.waist + widest)
    if not need < 0.5 * outline:
        yield (
            f"tabs: {wanted_count(order)} windows of {mm(need):.1f} in all take half the outline's"
            f" {mm(outline):.1f}; order fewer or narrower ones"
        )


def _ordered(order: Order) -> Iterator[str]:
    """Tabs ordered stand where tabs may: off edges, jimping, and what is kept free or as milled."""
    blade, whole = order.blade, order.blade.outline.length
    taken = [(f"the edge of bevel '{one.name}'", one.edge) for one in blade.bevels]
    taken += [(f"jimping '{row.name}'", row.stretch) for row in blade.jimping]
    taken += [("a stretch of keep_off", one) for one in order.tabs.keep_off]
    taken += [("a stretch of outline.as_milled", one) for one in order.tabs.as_milled]
    for place, station in enumerate(order.tabs.stations, start=1):
        for name, stretch in taken:
            if stretch.holds(station, whole):
                yield standing_on(order, place, name, stretch)
                break


def standing_on(order: Order, place: int, name: str, stretch: Stretch) -> str:
    """Return why the tab ordered at ``place`` of the list cannot stand on a stretch."""
    outline, station = order.blade.outline, order.tabs.stations[place - 1]
    x, y = place_at(outline, station)[0][0]
    start, end = stretch.start % outline.length, stretch.end % outline.length
    return (
        f"tabs.stations[{place}]={mm(station):.2f}, at {Place(x, y):.2f}, lies on {name}, stations"
        f" {bare(start):.1f} to {mm(end):.1f}, where no tab may stand; order it elsewhere"
    )


def _bounds(order: Order) -> tuple[float, float, str]:
    """Return how thin and thick tabs may be where plate and zeros are a little off, mm, and why."""
    off, why = lost_of_land(order.setup, "AB")
    return THINNEST_TAB + off, THICKEST_TAB - off, why


def _snapped(order: Order) -> Iterator[str]:
    """Tabs hold, and are snapped by hand, with plate and zeros off."""
    thick, (low, high, why) = order.tabs.thickness, _bounds(order)
    if not low - 1e-9 <= thick <= high + 1e-9:
        yield (
            f"tabs.thickness={mm(thick):.3f} must be from {least_mm(low, named=False):.2f} to"
            f" {most_mm(high):.2f}: {why}, and a tab that holds and is snapped by hand has"
            f" {bare(THINNEST_TAB)} to {mm(THICKEST_TAB)}"
        )
        return
    thin = thick - (low - THINNEST_TAB)
    if not order.tabs.waist >= (least := _least_waist(order, thin)) - 1e-9:
        yield (
            f"tabs.waist={mm(order.tabs.waist):.3f} makes tabs too weak to hold the blade: {why}, and one"
            f" {mm(thin):.2f} thick must snap at {quantity(WEAKEST_TAB, 'N mm'):g} or more; order"
            f" tabs.waist={least_mm(least):.2f} or more, or thicker tabs"
        )


def _least_waist(order: Order, thin: float) -> float:
    """Return the waist of tabs ``thin`` mm thick that snap at `WEAKEST_TAB`, mm.

    A trapezium of widths a and b = a + f and height t, bent so that a is stretched, has the section
    modulus t^2 (a^2 + 4 a b + b^2) / (12 (a + 2 b)): a quadratic of a.
    """
    f = thin * (1 / math.tan(order.tabs.rise) + 1 / math.tan(order.tabs.descent))
    c = 12 * WEAKEST_TAB / (BEND_STRENGTH[0] * thin**2)
    half, rest = f / 2 - c / 4, (f**2 - 2 * f * c) / 6
    return max(0.0, -half + math.sqrt(max(0.0, half**2 - rest)))


def _roots(order: Order, most: float) -> Iterator[str]:
    """Corner radii are at most a third of the tab, whose root they thicken; one line a radius."""
    thick = order.tabs.thickness
    by_corner: dict[float, dict[str, None]] = {}
    for cutter in _outline_cutters(order):
        by_corner.setdefault(cutter.corner, {})[str(cutter.number)] = None
    for corner, numbers in by_corner.items():
        if corner <= thick / 3 + 1e-9:
            continue
        wanted = math.ceil(round(300 * corner, 6)) / 100
        thicker = (
            f", or order tabs.thickness={least_mm(wanted):.2f}"
            if wanted < min(most, _bounds(order)[1])
            else ""
        )
        yield (
            f"cutter {' and '.join(numbers)}: corner={mm(corner):.3f} thickens the tab's root; at most"
            f" a third of tabs.thickness={mm(thick):.3f} will do: take one with a corner of"
            f" {most_mm(math.floor(round(1000 * thick / 3, 6)) / 1000):.3f} or less{thicker}"
        )

"""Thickness, waist, neck and stations of tabs."""

from __future__ import annotations

import math
from collections.abc import Iterator

from knifecam.blade import Blade
from knifecam.curve import Stretch, place_at
from knifecam.quantity import Place, bare, basis, least_mm, mm, most_mm, quantity, stated
from knifecam.rules.rules_limits import (
    BEND_STRENGTH_N_MM2,
    LARGEST_STUB_MM,
    LEFT_FOR_B_MM,
    NECK_THINNER_MM,
    THICKEST_NECK_MM,
    THICKEST_TAB_MM,
    THINNEST_NECK_MM,
    THINNEST_TAB_MM,
    WEAKEST_TAB_N_MM,
)
from knifecam.rules.tolerance_rules import lost_of_land
from knifecam.rules.workholding_rules import wanted_count
from knifecam.shop import Cutter, Order
from knifecam.shop.defaults import NECK_STEP
from knifecam.shop.order_record import FINISH, NECK, ROUGH, Tabs
from knifecam.shop.shop_limits import NECK_CORNER_MM, THICKEST_NECK_CUTTER_MM
from knifecam.shop.side_view import floors
from knifecam.shop.tab_neck import neck_of


def check_tabs(tabs: Tabs, blade: Blade) -> Iterator[str]:
    """Yield what contradicts itself between tabs and blade."""
    if not tabs.thickness < blade.thickness:
        yield (
            f"{stated('tabs.thickness', mm(tabs.thickness)):g} must be less than the blade's thickness,"
            f" {mm(blade.thickness):g}"
        )
    if not tabs.neck < tabs.thickness:
        yield (
            f"{stated('tabs.neck', mm(tabs.neck)):g} must be less than"
            f" {stated('tabs.thickness', mm(tabs.thickness)):g}; it is what stays of a tab beside the"
            " blade"
        )
    length = blade.outline.length
    for place, station in enumerate(tabs.stations, start=1):
        if not station <= length:
            yield (
                f"{stated(f'tabs.stations[{place}]', mm(station)):g} must be at most the outline's"
                f" length, {most_mm(length):.2f}"
            )


def _outline_cutters(order: Order) -> list[Cutter]:
    return [order.cutter(c.cutter) for s in ("rough", "finish") for c in order.cuttings(s)]


def tabs(order: Order) -> Iterator[str]:
    """Tabs exist, are thinner than what side B takes, and break where they should."""
    tab, half, deep = order.tabs, order.blade.thickness / 2, floors(order)
    if wanted_count(order) == 0:
        return
    most = deep.a_rough + half - LEFT_FOR_B_MM
    if not most > 0:
        yield (
            f"{stated('tabs.thickness', mm(tab.thickness)):.3f} finds no room: side A goes"
            f" {mm(half - deep.a_rough):.3f} deep, by outline.depth_a and half of outline.overlap"
            f"{basis('outline.depth_a', 'outline.overlap')}, and"
            f" the plate is {mm(2 * half):.3f} thick; reduce outline.depth_a"
        )
    elif not tab.thickness < most:
        yield (
            f"{stated('tabs.thickness', mm(tab.thickness)):.3f} must leave side B {mm(LEFT_FOR_B_MM)} to"
            f" cut: less than {mm(most):.3f}"
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
    taken += [("a stretch of no_tabs", one) for one in order.tabs.no_tabs]
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
        f"{stated(f'tabs.stations[{place}]', mm(station)):.2f}, at {Place(x, y):.2f}, lies on {name},"
        f" stations {bare(start):.1f} to {mm(end):.1f}, where no tab may stand; order it elsewhere"
    )


def _bounds(order: Order) -> tuple[float, float, str]:
    """Return how thin and thick tabs may be where plate and zeros are a little off, mm, and why."""
    off, why = lost_of_land(order.setup, "AB")
    return THINNEST_TAB_MM + off, THICKEST_TAB_MM - off, why


def _snapped(order: Order) -> Iterator[str]:
    """Tabs hold, and are snapped by hand, with plate and zeros off."""
    thick, (low, high, why) = order.tabs.thickness, _bounds(order)
    if not low - 1e-9 <= thick <= high + 1e-9:
        yield (
            f"{stated('tabs.thickness', mm(thick)):.3f} must be from {least_mm(low, named=False):.2f} to"
            f" {most_mm(high):.2f}: {why}, and a tab that holds and is snapped by hand has"
            f" {bare(THINNEST_TAB_MM)} to {mm(THICKEST_TAB_MM)}"
        )
        return
    thin = thick - (low - THINNEST_TAB_MM)
    if not order.tabs.waist >= (least := _least_waist(order, thin)) - 1e-9:
        yield (
            f"{stated('tabs.waist', mm(order.tabs.waist)):.3f} makes tabs too weak to hold the blade:"
            f" {why}, and one {mm(thin):.2f} thick must snap at {quantity(WEAKEST_TAB_N_MM, 'N mm'):g} or"
            f" more; order {stated('tabs.waist', least_mm(least)):.2f} or more, or thicker tabs"
        )


def _least_waist(order: Order, thin: float) -> float:
    """Return the waist of tabs ``thin`` mm thick that snap at `WEAKEST_TAB_N_MM`, mm.

    A trapezium of widths a and b = a + f and height t, bent so that a is stretched, has the section
    modulus t^2 (a^2 + 4 a b + b^2) / (12 (a + 2 b)): a quadratic of a.
    """
    f = thin * (1 / math.tan(order.tabs.ramp_up) + 1 / math.tan(order.tabs.ramp_down))
    c = 12 * WEAKEST_TAB_N_MM / (BEND_STRENGTH_N_MM2[0] * thin**2)
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
            f", or order {stated('tabs.thickness', least_mm(wanted)):.2f}"
            if wanted < min(most, _bounds(order)[1])
            else ""
        )
        yield (
            f"cutter {' and '.join(numbers)}:"
            f" corner={mm(corner):.3f}{basis(*(f'cutter {n}.corner' for n in numbers))} thickens the"
            f" tab's root; at most a third of {stated('tabs.thickness', mm(thick)):.3f} will do: take"
            f" one with a corner of {most_mm(math.floor(round(1000 * thick / 3, 6)) / 1000):.3f} or"
            f" less{thicker}"
        )


def necks(order: Order) -> Iterator[str]:
    """Necks are thin enough to snap, thick enough to hold, and a small cutter reaches them."""
    tabs = order.tabs
    if not tabs.neck > 0:
        return
    if wanted_count(order) == 0:
        yield f"{stated('tabs.neck', mm(tabs.neck)):.3f}: the blade has no tabs to neck; leave it out"
        return
    if (
        not THINNEST_NECK_MM
        <= tabs.neck
        <= min(THICKEST_NECK_MM, tabs.thickness - NECK_THINNER_MM) + 1e-9
    ):
        yield (
            f"{stated('tabs.neck', mm(tabs.neck)):.3f} must be from {bare(THINNEST_NECK_MM)} to"
            f" {mm(THICKEST_NECK_MM)}, and {mm(NECK_THINNER_MM)} less than"
            f" {stated('tabs.thickness', mm(tabs.thickness)):.3f}; {bare(0.15)} to {mm(0.25)} is usual"
        )
        return
    if not all(order.cuttings(stage) for stage in (ROUGH, FINISH, NECK)):
        return
    entry = order.cuttings(NECK)[0]
    yield from _cutter(order, order.cutter(entry.cutter))
    if not entry.stepdown <= NECK_STEP + 1e-9:
        yield (
            f"{entry.path}: {entry.keyed('stepdown'):g} must be at most {most_mm(NECK_STEP):g}, what"
            " a cutter along a finished wall takes of the tab on its far side"
        )
    neck = neck_of(order)
    if not neck.stub <= LARGEST_STUB_MM + 1e-9:
        yield (
            f"tabs.neck: its stub would stand out {mm(neck.stub):.3f}, by the corners of the trench's"
            f" cutters and the wall's allowance; at most {most_mm(LARGEST_STUB_MM)}: use cutters"
            " of smaller"
            " corner, or"
            " order less allowance for roughing"
        )
    if not tabs.waist >= neck.waist - 1e-9:
        yield (
            f"{stated('tabs.waist', mm(tabs.waist)):.3f}: a neck {mm(neck.mean):.2f} wide would be"
            " stronger than the tab behind it, which would snap there; order"
            f" {stated('tabs.waist', least_mm(neck.waist)):.2f} or more, or a neck cutter of smaller"
            " corner or diameter"
        )


def _cutter(order: Order, small: Cutter) -> Iterator[str]:
    where = f"{small.path} in stage 'neck'"
    if not (small.diameter <= THICKEST_NECK_CUTTER_MM and small.corner <= NECK_CORNER_MM):
        yield (
            f"{where}: {small.keyed('diameter'):.3f} and {small.keyed('corner'):.3f} must be"
            " at most"
            f" {bare(THICKEST_NECK_CUTTER_MM)} and {mm(NECK_CORNER_MM)}, or the stub stays wide and thick"
        )
    deep = order.blade.thickness / 2 + floors(order).b_finish
    if not small.reach >= deep:
        yield (
            f"{where}: {small.keyed('reach'):.2f} is less than the {mm(deep):.2f} it goes into the"
            " trench;"
            " use one with a longer neck, or order outline.depth_a nearer to side B"
        )
    elif not (small.flute_length >= deep or small.neck < small.diameter):
        yield (
            f"{where}: {small.keyed('neck'):.3f} is not relieved, and rubs above"
            f" {small.keyed('flute_length'):.2f} where it goes {mm(deep):.2f} deep"
        )
    if not 2 * small.diameter <= order.trench.width:
        yield (
            f"{where}: {small.keyed('diameter'):.3f} is more than half the trench of"
            f" {stated('outline.width', mm(order.trench.width)):.3f}; use a smaller one"
        )

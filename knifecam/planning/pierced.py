"""Bores and slots, those that go through a bevel above all: what stays of their rims and walls."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from knifecam.blade import Bevel, Blade, Bore
from knifecam.blade.finished_surface import bevel_height, least_bevel
from knifecam.curve import Curve, circle, resample
from knifecam.curve.curve import Floats
from knifecam.quantity import Place, least_mm, mm
from knifecam.shop import Order
from knifecam.shop.depths import floors

LEAST_RIM = 0.4
"""mm: a thinner rim chips like a thin land between notches (common practice)."""

SPACING = 0.1
"""mm between the places of a rim."""

GROUND = 1e-3
"""mm below the face from which a rim counts as ground."""

NAMED = 3
"""Openings told by name; the others by number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rim:
    """An opening's rim where bevels grind it: least thickness in mm, where, and by which bevels."""

    name: str
    thick: float
    place: tuple[float, float]
    bevels: tuple[str, ...]


def rims(blade: Blade) -> tuple[Rim, ...]:
    """Return the rims of bores and slots that any bevel goes over."""
    if not blade.bevels:
        return ()
    named = _walls(blade, blade.bores)
    found = (_rim(blade, name, resample(curve, SPACING)[1]) for name, curve in named)
    return tuple(rim for rim in found if rim is not None)


def _walls(blade: Blade, bores: Iterable[Bore]) -> list[tuple[str, Curve]]:
    """Return names and walls of some bores and of all slots."""
    named = [(f"bore '{one.name}'", circle(one.centre, one.diameter)) for one in bores]
    return named + [(f"slot '{one.name}'", one.outline) for one in blade.slots]


def _rim(blade: Blade, name: str, places: Floats) -> Rim | None:
    half = blade.thickness / 2
    heights = {"A": np.full(len(places), half), "B": np.full(len(places), half)}
    over = []
    for bevel in blade.bevels:
        ground = [
            side
            for side in "AB"
            if bevel.on(side) and _lowered(heights, bevel, blade, places, side)
        ]
        over += [bevel.name] if ground else []
    if not over:
        return None
    thick = heights["A"] + heights["B"]
    k = int(np.argmin(thick))
    place = float(places[k, 0]), float(places[k, 1])
    return Rim(name=name, thick=float(thick[k]), place=place, bevels=tuple(over))


def _lowered(
    heights: dict[str, Floats], bevel: Bevel, blade: Blade, places: Floats, side: str
) -> bool:
    """Lower a side's heights to the bevel where it lies deeper, and tell whether it does."""
    height = bevel_height(bevel, blade, places, side)
    heights[side] = np.minimum(heights[side], height)
    return bool((height < blade.thickness / 2 - GROUND).any())


def pierced(order: Order) -> Iterator[str]:
    """Openings leave a rim that lasts where a bevel goes over them."""
    for rim in rims(order.blade):
        if not rim.thick >= LEAST_RIM:
            x, y = rim.place
            yield (
                f"{rim.name} goes through bevel '{rim.bevels[0]}' and leaves a rim {mm(rim.thick):.3f}"
                f" thick at {Place(x, y):.2f}; at least {least_mm(LEAST_RIM)} must stay, or it"
                " chips: move it"
                " away from the edge, or order a thicker land"
            )


def relieved(order: Order) -> Iterator[str]:
    """What side B opens wider leaves some of the wall that side A bored."""
    blade, boring = order.blade, order.boring
    if boring.bed != "skin" or boring.relief == 0.0:
        return
    half, deep = blade.thickness / 2, floors(order).b_open
    skinned = (b for b in blade.bores if b.depth is None and not b.both_sides)
    for name, wall in _walls(blade, skinned):
        places = resample(wall, SPACING)[1]
        top = np.minimum(half, least_bevel(blade, places, "A"))
        k = int(np.argmin(top))
        if not top[k] > deep:
            yield (
                f"bores.relief={mm(boring.relief):.3f} opens {name} wider from side B by all of its"
                f" {mm(top[k] + half):.3f} at {Place(*places[k]):.2f}, since a skin of"
                f" {mm(boring.skin):.3f} is opened {mm(deep + half):.3f} deep: relief = 0 will do, or"
                " a thinner bores.skin, or another place"
            )


def pierced_notes(order: Order) -> Iterator[str]:
    """Yield what the maker should know of openings that bevels go over, one line a bevel."""
    every = rims(order.blade)
    for bevel in order.blade.bevels:
        through = [rim for rim in every if bevel.name in rim.bevels]
        if through:
            thinnest = min(through, key=lambda rim: rim.thick)
            x, y = thinnest.place
            names = ", ".join(rim.name for rim in through[:NAMED])
            more = f" and {len(through) - NAMED} more" if len(through) > NAMED else ""
            yield (
                f"bevel {bevel.name} goes over {names}{more}: the thinnest rim, of {thinnest.name}, is"
                f" {mm(thinnest.thick):.2f} thick at {Place(x, y):.1f}; nothing seats level there"
            )

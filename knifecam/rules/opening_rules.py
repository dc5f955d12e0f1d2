"""Bores and slots: helix, skin, webs; openings that a bevel goes over."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from knifecam.blade import Bevel, Blade, Bore
from knifecam.blade.finished_surface import bevel_height, least_bevel
from knifecam.curve import Curve, circle, distance, resample, signed_distance
from knifecam.curve.curve import Floats
from knifecam.quantity import Place, basis, least_mm, mm, most_mm, stated
from knifecam.record import as_written
from knifecam.rules.cutter_rules import stage_entries
from knifecam.rules.rules_limits import (
    GROUND_UNDER_FACE_MM,
    LEAST_HELIX_DIAMETERS,
    LEAST_RING_MM,
    LEAST_SKIN_MM,
    RING_SPACING_MM,
    SKIN_BY_BED_MM,
    WEB_SPACING_MM,
    WEB_TO_OUTLINE_MM,
)
from knifecam.shop import Order
from knifecam.shop.defaults import UNDER_BORES, relieved_depth
from knifecam.shop.order_record import Boring
from knifecam.shop.setup import Setup
from knifecam.shop.shop_limits import ALLOWED_SPREAD_MM
from knifecam.shop.side_view import bore_corner, floors


def check_boring(boring: Boring, blade: Blade, setup: Setup) -> Iterator[str]:
    """Yield what contradicts itself between the bores' opening, the blade and the fixture."""
    hidden = [
        f'"{b.name}"'
        for b in setup.registration.bores
        if (boring.opening == "skin" if b.depth is None else b.depth < blade.thickness - 1e-9)
    ]
    if setup.registration.kind == "bores" and hidden:
        yield (
            f"registration.bores: {', '.join(hidden)} cannot be measured from side B, blind or under"
            f" {stated('bores.opening', as_written(boring.opening))}; write bores.opening"
            ' = "relieved" and depth="through"'
        )
    if boring.opening == "skin" and not boring.skin < blade.thickness / 2:
        yield (
            f"{stated('bores.skin', mm(boring.skin)):g} must be less than half the blade's thickness,"
            f" {mm(blade.thickness / 2):g}"
        )
    deep = relieved_depth(boring)
    if boring.opening == "relieved" and not setup.fixture_allowance >= deep - 1e-9:
        yield (
            f"{stated('setup.fixture_allowance', mm(setup.fixture_allowance)):g} must be at least"
            f" {least_mm(deep):g} with a relieved fixture:"
            f" {stated('bores.through', mm(boring.through)):g}"
            f" and {mm(UNDER_BORES)}"
        )


OPENINGS_NAMED = 3
"""Openings told by name; the others by number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningRing:
    """An opening's ring where bevels grind it: least thickness in mm, where, and by which bevels."""

    name: str
    thick: float
    place: tuple[float, float]
    bevels: tuple[str, ...]


def opening_rings(blade: Blade) -> tuple[OpeningRing, ...]:
    """Return the rings of bores and slots that any bevel goes over."""
    if not blade.bevels:
        return ()
    named = _walls(blade, blade.bores)
    found = (_ring(blade, name, resample(curve, RING_SPACING_MM)[1]) for name, curve in named)
    return tuple(ring for ring in found if ring is not None)


def _walls(blade: Blade, bores: Iterable[Bore]) -> list[tuple[str, Curve]]:
    """Return names and walls of some bores and of all slots."""
    named = [(f"bore '{one.name}'", circle(one.centre, one.diameter)) for one in bores]
    return named + [(f"slot '{one.name}'", one.outline) for one in blade.slots]


def _ring(blade: Blade, name: str, places: Floats) -> OpeningRing | None:
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
    return OpeningRing(name=name, thick=float(thick[k]), place=place, bevels=tuple(over))


def _lowered(
    heights: dict[str, Floats], bevel: Bevel, blade: Blade, places: Floats, side: str
) -> bool:
    """Lower a side's heights to the bevel where it lies deeper, and tell whether it does."""
    height = bevel_height(bevel, blade, places, side)
    heights[side] = np.minimum(heights[side], height)
    return bool((height < blade.thickness / 2 - GROUND_UNDER_FACE_MM).any())


def thin_rings(order: Order) -> Iterator[str]:
    """Openings leave a ring that lasts where a bevel goes over them."""
    for ring in opening_rings(order.blade):
        if not ring.thick >= LEAST_RING_MM:
            x, y = ring.place
            yield (
                f"{ring.name} goes through bevel '{ring.bevels[0]}' and leaves a ring"
                f" {mm(ring.thick):.3f} thick at {Place(x, y):.2f}; at least"
                f" {least_mm(LEAST_RING_MM)} must stay, or it chips: move it away from the edge, or"
                " order a thicker land"
            )


def relieved(order: Order) -> Iterator[str]:
    """What side B opens wider leaves some of the wall that side A bored."""
    blade, boring = order.blade, order.boring
    if boring.opening != "skin" or boring.oversize == 0.0:
        return
    half, deep = blade.thickness / 2, floors(order).b_open
    skinned = (b for b in blade.bores if b.depth is None and not b.both_sides)
    for name, wall in _walls(blade, skinned):
        places = resample(wall, RING_SPACING_MM)[1]
        top = np.minimum(half, least_bevel(blade, places, "A"))
        k = int(np.argmin(top))
        if not top[k] > deep:
            yield (
                f"{stated('bores.oversize', mm(boring.oversize)):.3f} opens {name} wider from side B by"
                f" all of its {mm(top[k] + half):.3f} at {Place(*places[k]):.2f}, since a skin of"
                f" {mm(boring.skin):.3f} is opened {mm(deep + half):.3f} deep: oversize = 0 will do, or"
                " a thinner bores.skin, or another place"
            )


def pierced_notes(order: Order) -> Iterator[str]:
    """Yield what the maker should know of openings that bevels go over, one line a bevel."""
    every = opening_rings(order.blade)
    for bevel in order.blade.bevels:
        through = [ring for ring in every if bevel.name in ring.bevels]
        if through:
            thinnest = min(through, key=lambda ring: ring.thick)
            x, y = thinnest.place
            names = ", ".join(ring.name for ring in through[:OPENINGS_NAMED])
            more = (
                f" and {len(through) - OPENINGS_NAMED} more"
                if len(through) > OPENINGS_NAMED
                else ""
            )
            yield (
                f"bevel {bevel.name} goes over {names}{more}: the thinnest ring, of {thinnest.name}, is"
                f" {mm(thinnest.thick):.2f} thick at {Place(x, y):.1f}; nothing seats level there"
            )


def bores(order: Order) -> Iterator[str]:
    """Every bore has a cutter that leaves a helix, metal round it, and stays within the blade."""
    outline = order.blade.outline
    for stage in ("bore", "fit"):
        diameters = [c.diameter for _, c in stage_entries(order, stage)]
        tight: dict[tuple[str, float], list[str]] = {}
        for bore in (*order.blade.bores, *order.setup.registration.bores):
            if stage == "fit" and not bore.fitted:
                continue
            if diameters and not bore.diameter >= LEAST_HELIX_DIAMETERS * min(diameters):
                pattern = bore.name.rpartition("-")[0] or bore.name
                tight.setdefault((pattern, bore.diameter), []).append(bore.name)
        for (_, wide), names in tight.items():
            more = f" and {len(names) - 1} more like it" if len(names) > 1 else ""
            yield (
                f"bore '{names[0]}'{more}, diameter={mm(wide):.3f}: cutter of"
                f" {mm(min(diameters)):.3f} leaves no helix; use one of {most_mm(wide / 1.25):.2f}"
                " or less"
            )
    for bore in order.blade.bores:
        web = float(signed_distance(bore.centre, outline)[0]) - bore.diameter / 2
        if not web >= WEB_TO_OUTLINE_MM:
            yield _web_line(f"bore '{bore.name}'", "the outline", web)
    yield from _webs_between(order)


def _webs_between(order: Order) -> Iterator[str]:
    openings: list[tuple[str, Curve]] = [
        (f"bore '{b.name}'", circle(b.centre, b.diameter)) for b in order.blade.bores
    ]
    openings += [(f"slot '{s.name}'", s.outline) for s in order.blade.slots]
    for name, curve in openings[len(order.blade.bores) :]:
        web = float(signed_distance(resample(curve, WEB_SPACING_MM)[1], order.blade.outline).min())
        if not web >= WEB_TO_OUTLINE_MM:
            yield _web_line(name, "the outline", web)
    for i, (name, curve) in enumerate(openings):
        for other, second in openings[i + 1 :]:
            if _far(curve, second):
                continue
            web = float(distance(resample(curve, WEB_SPACING_MM)[1], second).min())
            if not web >= WEB_TO_OUTLINE_MM:
                yield _web_line(name, other, web)


def _far(first: Curve, second: Curve) -> bool:
    """Tell whether the extents of two openings are further apart than the web that must stay."""
    a, b = first.bounds, second.bounds
    return any(
        a[k] > b[k + 2] + WEB_TO_OUTLINE_MM or b[k] > a[k + 2] + WEB_TO_OUTLINE_MM for k in (0, 1)
    )


def _web_line(name: str, other: str, web: float) -> str:
    return (
        f"{name} leaves {mm(web):.3f} of metal to {other}; at least {least_mm(WEB_TO_OUTLINE_MM)} must"
        " stay: move"
        " or shrink it"
    )


def fixture_depths(order: Order) -> Iterator[str]:
    """Nothing goes deeper than the fixture allows, and skins can be opened."""
    boring, setup = order.boring, order.setup
    corner = bore_corner(order)
    if boring.opening == "relieved" and not boring.through >= corner:
        yield (
            f"{stated('bores.through', mm(boring.through)):.3f} leaves a lip: at least the corner radius"
            f" {mm(corner):.3f} is wanted"
        )
    if boring.opening == "skin":
        yield from _skin(order)
    for bore in setup.registration.bores:
        through = bore.depth is None or bore.depth >= order.blade.thickness
        if setup.registration.kind == "bores" and not through:
            yield (
                f"registration bore '{bore.name}', depth={mm(bore.depth or 0.0)}: it is measured"
                " from side B"
                " and must go through"
            )
        if through and boring.opening != "relieved":
            yield (
                f"registration bore '{bore.name}' goes through: order bores.opening = 'relieved'"
                f"{basis('bores.opening')} with a fixture allowance, or make it blind (T - 0.3 mm)"
            )


def _skin(order: Order) -> Iterator[str]:
    skin = order.boring.skin
    by_face = order.setup.z_zero[0] == "face"
    least = LEAST_SKIN_MM + max(0.0, order.setup.plate.spread - ALLOWED_SPREAD_MM)
    least = least if by_face else SKIN_BY_BED_MM
    if not skin >= least - 1e-9:
        off = f"a Z zero {mm(0.03)} off"
        why = f"a plate {mm(0.05)} thinner and {off}" if by_face else off
        yield (
            f"{stated('bores.skin', mm(skin)):.3f} must be at least {least_mm(least):.3f} where Z of"
            f" side A is counted from the {order.setup.z_zero[0]}: with {why} the bores would run into"
            f" the fixture; {mm(0.25)} is usual"
        )

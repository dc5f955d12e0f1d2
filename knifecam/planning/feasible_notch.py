"""What jimping cannot be made, told before any path is looked for: closed inequalities."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.blade import Jimping
from knifecam.blade.jimping import LEAST_LAND, least_land, mouths
from knifecam.blade.surface import bevelled
from knifecam.curve import circle, distance, resample, signed_distance, station_of
from knifecam.curve.curve import Floats
from knifecam.planning.notches import meets_in_the_middle, notched_depth
from knifecam.shop import Cutter, Order
from knifecam.shop.order import NOTCH

LEAST_HELIX = 1.05
"""Least notch in cutter diameters: below, a helix is a plunge."""

WEB = 1.5
"""mm of metal that must stay between a notch and an opening."""

OFF_BEVEL = 0.5
"""mm of flat that must stay between a notch and a bevel or its plunge."""

SPACING = 0.1
"""mm between the places looked at."""


def jimping(order: Order) -> Iterator[str]:
    """Notches have a cutter, lands, metal round them, and cut nothing but their own stretch."""
    for row in order.blade.jimping:
        where = f"jimping '{row.name}'"
        yield from _shape(order, row, where)
        yield from _land(order, row, where)
        yield from _neighbours(order, row, where)
        yield from _cutter(order, row, where)


def _shape(order: Order, row: Jimping, where: str) -> Iterator[str]:
    if not 0 < row.depth <= row.diameter / 2:
        yield (
            f"{where}, depth={row.depth:.3f} mm must be greater than 0 and at most half the"
            f" diameter, {row.diameter / 2:.3f} mm, or its teeth hook"
        )
    if not row.centres:
        yield f"{where} has no notch: its stretch is too short; make it longer"
    wide = row.diameter - row.depth
    if not wide <= order.trench.width:
        yield (
            f"{where} reaches {wide:.3f} mm out of the blade, past the trench of"
            f" outline.width={order.trench.width:.3f} mm, and would leave slivers beyond it; widen the"
            " trench or order a smaller diameter"
        )


def _land(order: Order, row: Jimping, where: str) -> Iterator[str]:
    if len(row.centres) < 2:
        return
    outline = order.blade.outline
    stations = _in_order(station_of(outline, np.array(row.centres)), row, outline.length)
    land = least_land(outline, stations, diameter=row.diameter, depth=row.depth)
    if not land >= LEAST_LAND - 1e-6:
        yield (
            f"{where}, pitch={row.pitch:.3f} mm leaves {land:.3f} mm of land between notches; at least"
            f" {LEAST_LAND} mm must stay, or the teeth chip: order a greater pitch, or less diameter"
            " or depth"
        )


def _in_order(stations: Floats, row: Jimping, whole: float) -> Floats:
    """Return the notches' stations rising from where the row's stretch begins."""
    begin = row.stretch.start - row.diameter
    return np.asarray(np.sort((stations - begin) % whole) + begin)


def _neighbours(order: Order, row: Jimping, where: str) -> Iterator[str]:
    blade = order.blade
    centres, radius = np.array(row.centres).reshape(-1, 2), row.diameter / 2
    if not len(centres):
        return
    for name, curve in (
        *((f"bore '{b.name}'", circle(b.centre, b.diameter)) for b in blade.bores),
        *((f"slot '{s.name}'", s.outline) for s in blade.slots),
    ):
        web = float(np.abs(distance(centres, curve)).min()) - radius
        inside = float(signed_distance(centres, curve).max()) > 0
        if not (web >= WEB and not inside):
            yield (
                f"{where} leaves {-1.0 if inside else web:.3f} mm of metal to {name}; at least {WEB} mm"
                " must stay: move one of them"
            )
    yield from _elsewhere(order, row, where)
    yield from _bevels(order, row, where)


def _elsewhere(order: Order, row: Jimping, where: str) -> Iterator[str]:
    """Yield where a notch cuts the outline anywhere but at its own mouth."""
    outline = order.blade.outline
    stations, points, _ = resample(outline, SPACING)
    centres = np.array(row.centres)
    own = mouths(
        outline, station_of(outline, centres), diameter=row.diameter, depth=row.depth
    )  # fmt: skip
    for centre, (begin, end) in zip(centres, own, strict=True):
        cut = np.hypot(*(points - centre).T) < row.diameter / 2 - 1e-6
        away = (stations - begin + SPACING) % outline.length > end - begin + 2 * SPACING
        if (cut & away).any():
            x, y = points[np.argmax(cut & away)]
            yield (
                f"{where}: the notch at ({centre[0]:.2f}, {centre[1]:.2f}) cuts the outline at"
                f" ({x:.2f}, {y:.2f}) as well; move the stretch out of the bay"
            )
            return


def _bevels(order: Order, row: Jimping, where: str) -> Iterator[str]:
    blade = order.blade
    if not blade.bevels:
        return
    rings = np.concatenate(
        [circle(c, row.diameter + 2 * OFF_BEVEL).points(0.01) for c in row.centres]
    )
    within = rings[signed_distance(rings, blade.outline) > 0]
    if any(bevelled(blade, within, side).any() for side in "AB"):
        yield (
            f"{where} comes within {OFF_BEVEL} mm of a bevel or its plunge, where its teeth would be"
            " slivers; move the stretch"
        )


def _cutter(order: Order, row: Jimping, where: str) -> Iterator[str]:
    cutters = [order.cutter(entry.cutter) for entry in order.cuttings(NOTCH)]
    if not cutters:
        return
    thinnest = min(c.diameter for c in cutters)
    if not row.diameter >= LEAST_HELIX * thinnest:
        yield (
            f"{where}, diameter={row.diameter:.3f} mm: cutter of {thinnest:.3f} mm leaves no helix; use"
            f" one of {row.diameter / 1.25:.2f} mm or less"
        )
    for cutter in cutters:
        yield from _depth(order, cutter, where)


def _depth(order: Order, cutter: Cutter, where: str) -> Iterator[str]:
    deep = notched_depth(order, cutter)
    if not cutter.reach >= deep:
        yield (
            f"{where}: cutter {cutter.number}, reach={cutter.reach:.2f} mm is less than the"
            f" {deep:.2f} mm it goes into, even meeting in the middle; use a longer one"
        )
    elif not (cutter.flute_length >= deep or cutter.neck < cutter.diameter):
        yield (
            f"{where}: cutter {cutter.number}, neck={cutter.neck:.3f} mm is not relieved, and rubs"
            f" above its flutes of {cutter.flute_length:.2f} mm where it goes {deep:.2f} mm deep"
        )
    if meets_in_the_middle(order, cutter) and order.boring.bed != "skin":
        yield (
            f"{where}: cutter {cutter.number} is too short for a relieved bed; use a longer one, or"
            ' order bores.bed="skin"'
        )

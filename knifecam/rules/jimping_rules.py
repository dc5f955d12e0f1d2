"""Notches of jimping: shape, land and cutter."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from knifecam.blade import Jimping
from knifecam.blade.bevel import SIDES
from knifecam.blade.blade import Blade, is_open
from knifecam.blade.blade_limits import LEAST_NOTCH_LAND_MM
from knifecam.blade.finished_surface import bevelled
from knifecam.blade.jimping import land_between
from knifecam.curve import Curve, circle, distance, place_at, resample, signed_distance
from knifecam.curve.curve import Floats
from knifecam.quantity import Place, least_mm, mm, most_mm, stated
from knifecam.rules.rules_limits import (
    LEAST_HELIX_DIAMETERS,
    MOUTH_SPACING_MM,
    NOTCH_TO_OPENING_MM,
    VALUES_AGREE_MM,
)
from knifecam.shop import Cutter, Order
from knifecam.shop.order_record import NOTCH
from knifecam.shop.side_view import notched_depth


def jimping_faults(blade: Blade) -> Iterator[str]:
    """Notches leave metal between them and stay off bevels."""
    for row in blade.jimping:
        land_left = land_between(row, blade.outline)
        if not land_left >= LEAST_NOTCH_LAND_MM - VALUES_AGREE_MM:
            yield (
                f"jimping '{row.name}': pitch={mm(row.pitch):.3f} leaves {mm(land_left):.3f} between"
                f" notches of {mm(row.diameter):.3f}; {least_mm(LEAST_NOTCH_LAND_MM)} or more"
                " does not chip. Use a"
                " greater pitch, a smaller diameter or less depth"
            )
        around = 2 * math.pi * np.arange(24) / 24
        ring = row.diameter / 2 * np.stack([np.cos(around), np.sin(around)], axis=1)
        points = (np.array(row.centres)[:, None] + ring).reshape(-1, 2)
        solid = ~is_open(blade, points)
        for side in SIDES:
            if bevelled(blade, points[solid], side).any():
                yield (
                    f"jimping '{row.name}' runs into a bevel on side {side}; move it along the outline"
                )


def jimping(order: Order) -> Iterator[str]:
    """Notches have a cutter, lands, metal round them, and cut nothing but their own stretch.

    That they stay off bevels the blade's own rules tell.
    """
    for row in order.blade.jimping:
        where = f"jimping '{row.name}'"
        yield from _shape(order, row, where)
        yield from _land(order, row, where)
        yield from _neighbours(order, row, where)
        yield from _cutter(order, row, where)


def _shape(order: Order, row: Jimping, where: str) -> Iterator[str]:
    if not row.depth <= row.diameter / 2:
        yield (
            f"{where}, depth={mm(row.depth):.3f} must be at most half the diameter,"
            f" {most_mm(row.diameter / 2):.3f}, or its teeth hook"
        )
    if not row.centres:
        yield f"{where} has no notch: its stretch is too short; make it longer"
    wide = row.diameter - row.depth
    if not wide <= order.trench.width:
        yield (
            f"{where} reaches {mm(wide):.3f} out of the blade, past the trench of"
            f" {stated('outline.width', mm(order.trench.width)):.3f}, and would leave slivers beyond"
            " it; widen the trench or order a smaller diameter"
        )


def mouth_stretches(order: Order, row: Jimping) -> tuple[Floats, ...]:
    """Return for each notch the stretches of the outline it takes, (B, 2) stations in mm.

    A notch that takes one piece has one row. Pieces shorter than `BREAK_SAMPLE_MM` may go unseen.
    """
    outline, radius = order.blade.outline, row.diameter / 2
    stations = resample(outline, MOUTH_SPACING_MM)[0]
    points = place_at(outline, stations)[0]
    after = np.append(stations[1:], outline.length)
    found = []
    for centre in np.array(row.centres).reshape(-1, 2):
        within = np.hypot(*(points - centre).T) < radius
        into = np.flatnonzero(~within & np.roll(within, -1))
        out = np.flatnonzero(within & ~np.roll(within, -1))
        begin, end = (_ring(outline, centre, radius, stations[k], after[k]) for k in (into, out))
        if len(end) and end[0] < begin[0]:
            end = np.append(end[1:], end[0] + outline.length)
        found.append(np.stack([begin, end], axis=1))
    return tuple(found)


def _ring(outline: Curve, centre: Floats, radius: float, low: Floats, high: Floats) -> Floats:
    """Return where the outline crosses a notch's circle between stations (K,), mm."""
    begins = np.hypot(*(place_at(outline, low)[0] - centre).T) < radius
    for _ in range(40):
        middle = (low + high) / 2
        same = (np.hypot(*(place_at(outline, middle)[0] - centre).T) < radius) == begins
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    return np.asarray(high)


def _land(order: Order, row: Jimping, where: str) -> Iterator[str]:
    taken = [one for one in mouth_stretches(order, row) if len(one)]
    if len(taken) < 2:
        return
    rows = np.concatenate(taken)
    rows = rows[np.argsort(rows[:, 0])]
    ends = np.maximum.accumulate(rows[:, 1])
    after = np.append(rows[1:, 0], rows[0, 0] + order.blade.outline.length)
    land = float((after - ends).min())
    if not land >= LEAST_NOTCH_LAND_MM - 1e-6:
        yield (
            f"{where}, pitch={mm(row.pitch):.3f} leaves {mm(max(land, 0.0)):.3f} of land between notches;"
            f" at least {least_mm(LEAST_NOTCH_LAND_MM)} must stay, or the teeth chip: order a"
            " greater pitch,"
            " or less"
            " diameter or depth"
        )


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
        if not (web >= NOTCH_TO_OPENING_MM and not inside):
            yield (
                f"{where} leaves {mm(-1.0 if inside else web):.3f} of metal to {name}; at least"
                f" {least_mm(NOTCH_TO_OPENING_MM)}"
                " must stay: move one of them"
            )
    yield from _elsewhere(order, row, where)


def _elsewhere(order: Order, row: Jimping, where: str) -> Iterator[str]:
    """Yield where a notch cuts the outline anywhere but at its own mouth, or does not cut it."""
    for centre, taken in zip(row.centres, mouth_stretches(order, row), strict=True):
        if len(taken) == 1:
            continue
        what = "does not cut the outline"
        if len(taken):
            away = ~row.stretch.holds(taken[:, 0], order.blade.outline.length)
            second = int(np.argmax(away)) if away.any() else 1
            x, y = place_at(order.blade.outline, taken[second, 0])[0][0]
            what = f"cuts the outline at {Place(x, y):.2f} as well"
        yield (
            f"{where}: the notch at {Place(centre[0], centre[1]):.2f} {what}; move the stretch to where"
            " the outline is straighter"
        )
        return


def _cutter(order: Order, row: Jimping, where: str) -> Iterator[str]:
    cutters = [order.cutter(entry.cutter) for entry in order.cuttings(NOTCH)]
    if not cutters:
        return
    thinnest = min(c.diameter for c in cutters)
    if not row.diameter >= LEAST_HELIX_DIAMETERS * thinnest:
        yield (
            f"{where}, diameter={mm(row.diameter):.3f}: cutter of {mm(thinnest):.3f} leaves no helix; use"
            f" one of {most_mm(row.diameter / 1.25):.2f} or less"
        )
    for cutter in cutters:
        yield from _depth(order, cutter, where)


def _depth(order: Order, cutter: Cutter, where: str) -> Iterator[str]:
    deep = notched_depth(order, cutter)
    if not cutter.reach >= deep:
        yield (
            f"{where}: {cutter.path}, {cutter.keyed('reach'):.2f} is less than the"
            f" {mm(deep):.2f} it goes into, even meeting in the middle; use a longer one"
        )
    elif not (cutter.flute_length >= deep or cutter.neck < cutter.diameter):
        yield (
            f"{where}: {cutter.path}, {cutter.keyed('neck'):.3f} is not relieved, and rubs"
            f" above {cutter.keyed('flute_length'):.2f} where it goes {mm(deep):.2f} deep"
        )

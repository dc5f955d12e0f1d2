"""What contradicts itself in an order, found without planning: one line each.

The same lines stand for orders read from TOML and for those built in Python; keys are named as in
the TOML, list entries counted from 1. Guards are written so that NaN fails.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import fields, is_dataclass

from knifecam.blade import Blade, edge_height
from knifecam.curve import Curve
from knifecam.shop.cutter import Cutter
from knifecam.shop.defaults import ABOVE_EDGE
from knifecam.shop.order import Boring, Order, Tabs, Trench
from knifecam.shop.plate import Plate
from knifecam.shop.proposed import of_excess
from knifecam.shop.seating import of_reference, of_registration
from knifecam.shop.setup import Hold, KeepOut, Setup
from knifecam.shop.tooling import of_cutters, of_cutting, of_mill, of_stages

OFFSETS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")
"""Work offsets of RS274/NGC (NISTIR 6556, section 3.2.2)."""

LOWEST_STOP = 5.0
"""mm above the plate: the least at which a hand comes near (common practice)."""


def contradictions(order: Order) -> tuple[str, ...]:
    """Return everything in ``order`` that contradicts itself, one line each; empty when sound."""
    blade, setup = order.blade, order.setup
    unsound = tuple(_not_finite(order, ""))
    if unsound:
        return unsound
    return (
        *of_cutters(order.cutters),
        *of_mill(setup.mill),
        *of_cutting(order.cutting, order.cutters, setup.mill),
        *of_excess(order.cutting, order.cutters, blade.steel.hardness_hrc),
        *of_stages(order.cutting, blade, setup.registration, order.tabs, order.cutters),
        *of_plate(setup.plate),
        *of_plate_and_blade(setup.plate, blade),
        *of_tabs(order.tabs, blade),
        *of_trench(order.trench, blade),
        *of_boring(order.boring, blade, setup),
        *of_hold(setup.hold, blade),
        *of_registration(setup.registration),
        *of_reference(setup.registration, setup.plate, blade, order.trench),
        *of_setup(setup, order.cutters),
        *of_keep_outs(setup.keep_out),
    )


def _not_finite(value: object, path: str) -> Iterator[str]:
    if isinstance(value, float) and not math.isfinite(value):
        yield f"{path}={value} must be a finite number"
    elif isinstance(value, tuple):
        for place, one in enumerate(value, start=1):
            yield from _not_finite(one, f"{path}[{place}]")
    elif is_dataclass(value) and not isinstance(value, (type, Curve)):
        for field in fields(value):
            below = f"{path}.{field.name}" if path else field.name
            yield from _not_finite(getattr(value, field.name), below)


def of_plate(plate: Plate) -> Iterator[str]:
    """Yield what contradicts itself in the plate."""
    if len(plate.measured) < 4:
        yield f"plate.thickness: measured at {len(plate.measured)} places; measure at four or more"
    if not plate.spread <= plate.allowed_spread + 1e-9:
        yield (
            f"plate.thickness: spread={plate.spread:.3f} mm must be at most"
            f" {plate.allowed_spread:g} mm, for it goes straight into tabs and land; grind the plate,"
            " take another, or allow more with plate.spread"
        )
    low_x, low_y, high_x, high_y = plate.bounds
    for place, (x, y, _) in enumerate(plate.measured, start=1):
        if not (low_x - 1e-6 <= x <= high_x + 1e-6 and low_y - 1e-6 <= y <= high_y + 1e-6):
            yield (
                f"plate.thickness[{place}]: the place ({x - low_x:g}, {y - low_y:g}) mm is not on the"
                f" plate of {plate.length:g} x {plate.width:g} mm; places count from its lower left"
            )


def of_plate_and_blade(plate: Plate, blade: Blade) -> Iterator[str]:
    """Yield where the blade is not within the plate, or not as thick as it."""
    if not abs(plate.thickness - blade.thickness) <= 1e-9:
        yield (
            f"blade.thickness={blade.thickness:g} mm must be the plate's measured mean,"
            f" {plate.thickness:g} mm: its flats are the plate's faces"
        )
    low, high = blade.outline.bounds[:2], blade.outline.bounds[2:]
    p_low, p_high = plate.bounds[:2], plate.bounds[2:]
    out = [
        f"{over:.2f} mm past its {edge} edge"
        for over, edge in (
            (p_low[0] - low[0], "left"),
            (p_low[1] - low[1], "lower"),
            (high[0] - p_high[0], "right"),
            (high[1] - p_high[1], "upper"),
        )
        if not over <= 0
    ]
    if out:
        yield (
            f"plate: the blade of {high[0] - low[0]:.2f} x {high[1] - low[1]:.2f} mm is not within"
            f" the plate of {plate.length:g} x {plate.width:g} mm: {', '.join(out)}; take a larger"
            " plate or move plate.corner"
        )


def of_tabs(tabs: Tabs, blade: Blade) -> Iterator[str]:
    """Yield what contradicts itself between tabs and blade."""
    if not 0 < tabs.thickness < blade.thickness:
        yield (
            f"tabs.thickness={tabs.thickness:g} mm must be greater than 0 and less than the"
            f" blade's thickness, {blade.thickness:g} mm"
        )
    if not tabs.waist > 0:
        yield f"tabs.waist={tabs.waist:g} mm must be greater than 0"
    if not 0 <= tabs.neck < tabs.thickness:
        yield (
            f"tabs.neck={tabs.neck:g} mm must be less than tabs.thickness={tabs.thickness:g} mm; it is"
            " what stays of a tab beside the blade"
        )
    length = blade.outline.length
    for place, station in enumerate(tabs.stations, start=1):
        if not 0 <= station <= length:
            yield (
                f"tabs.stations[{place}]={station:g} mm must be from 0 to the outline's length,"
                f" {length:.2f} mm"
            )


def of_trench(trench: Trench, blade: Blade) -> Iterator[str]:
    """Yield what contradicts itself between trench and blade."""
    crowded = list(_crowding_edges(trench, blade)) if not trench.meet > 0 else []
    yield from crowded
    if not crowded and not 0 < trench.meet < blade.thickness:
        yield (
            f"outline.meet={trench.meet:g} mm must be greater than 0 and less than the blade's"
            f" thickness, {blade.thickness:g} mm"
        )
    if not trench.web > 0:
        yield (
            f"outline.web={trench.web:g} mm must be greater than 0; side B's finishing pass shears"
            " it, 0.2 mm is usual"
        )
    for key in ("overlap", "clearance", "frame"):
        if not getattr(trench, key) >= 0:
            yield f"outline.{key}={getattr(trench, key):g} mm must be at least 0"


def _crowding_edges(trench: Trench, blade: Blade) -> Iterator[str]:
    """Yield which edges leave side A's trench no depth above them."""
    room = trench.overlap / 2 + ABOVE_EDGE
    for bevel in blade.bevels:
        below = blade.thickness / 2 - edge_height(bevel, "A")
        if bevel.on("A") and not below > room:
            yield (
                f"bevel '{bevel.name}': land={bevel.land:.3f} mm with edge_at={bevel.edge_at:.3f} mm lies"
                f" {below:.3f} mm below side A's face in a plate of {blade.thickness:.3f} mm; its trench"
                f" wants more than {room:.3f} mm above the edge: order a thinner land, or a lower edge_at"
            )


def of_boring(boring: Boring, blade: Blade, setup: Setup) -> Iterator[str]:
    """Yield what contradicts itself between the bores' opening, the blade and the bed."""
    if boring.bed not in ("skin", "relieved"):
        yield f'bores.bed="{boring.bed}" must be one of "skin", "relieved"'
    hidden = [
        f'"{b.name}"'
        for b in setup.registration.bores
        if (boring.bed == "skin" if b.depth is None else b.depth < blade.thickness - 1e-9)
    ]
    if setup.registration.kind == "bores" and hidden:
        yield (
            f"registration.bores: {', '.join(hidden)} cannot be measured from side B, blind or under"
            ' bores.bed="skin"; write bores.bed="relieved" and depth="through"'
        )
    if boring.bed == "skin" and not 0 < boring.skin < blade.thickness / 2:
        yield (
            f"bores.skin={boring.skin:g} mm must be greater than 0 and less than half the blade's"
            f" thickness, {blade.thickness / 2:g} mm"
        )
    if boring.bed == "relieved" and not setup.bed_allowance >= boring.through:
        yield (
            f"setup.bed_allowance={setup.bed_allowance:g} mm must be at least"
            f" bores.through={boring.through:g} mm with a relieved bed"
        )


def of_hold(hold: Hold, blade: Blade) -> Iterator[str]:
    """Yield what contradicts itself between the hold and the blade's bores."""
    if hold.kind not in ("tabs", "bores"):
        yield f'hold.kind="{hold.kind}" must be one of "tabs", "bores"'
    if hold.kind == "bores" and not hold.screws:
        yield 'hold.screws is empty; name the bores that take screws, or write kind="tabs"'
    bores = {b.name: b for b in blade.bores}
    known = ", ".join(f'"{name}"' for name in bores) or "none"
    for place, name in enumerate(hold.screws, start=1):
        where = f'hold.screws[{place}]="{name}"'
        if name not in bores:
            yield f"{where} is no bore of the blade; known are {known}"
            continue
        if bores[name].depth is not None:
            yield f"{where} is a blind bore; a screw wants a through bore"
        if not hold.head_diameter > bores[name].diameter:
            yield (
                f"hold.head_diameter={hold.head_diameter:g} mm must be greater than bore"
                f' "{name}", {bores[name].diameter:g} mm'
            )
    if len(set(hold.screws)) < len(hold.screws):
        yield "hold.screws names a bore twice; name each once"


def of_setup(setup: Setup, cutters: Sequence[Cutter]) -> Iterator[str]:
    """Yield what contradicts itself in the setup."""
    if setup.flip not in ("X", "Y"):
        yield f'setup.flip="{setup.flip}" must be one of "X", "Y"'
    for place, word in enumerate(setup.offsets, start=1):
        if word not in OFFSETS:
            yield f'setup.offsets[{place}]="{word}" must be one of {", ".join(OFFSETS)}'
    if setup.offsets[0] == setup.offsets[1]:
        yield (
            f'setup.offsets=["{setup.offsets[0]}", "{setup.offsets[1]}"] must be two different ones:'
            " each side has its own zero"
        )
    if setup.gauge in [c.number for c in cutters]:
        yield f"setup.gauge={setup.gauge} is a cutter's number; give the gauge pin its own"
    if not setup.gap_height >= LOWEST_STOP or (
        setup.gap_stop and not setup.gap_height < setup.mill.change_height
    ):
        yield (
            f"setup.gap_height={setup.gap_height:g} mm must be at least {LOWEST_STOP:g} mm, where a hand"
            f" comes near, and less than mill.change_height={setup.mill.change_height:g} mm"
        )
    if not setup.gauge_diameter > 0:
        yield f"setup.gauge_diameter={setup.gauge_diameter:g} mm must be greater than 0"
    if setup.support not in ("filled", "none"):
        yield f'setup.support="{setup.support}" must be one of "filled", "none"'
    for side, zero in zip("ab", setup.z_zero, strict=True):
        if zero not in ("face", "bed"):
            yield f'plate.z_zero_{side}="{zero}" must be one of "face", "bed"'


def of_keep_outs(keep_outs: Sequence[KeepOut]) -> Iterator[str]:
    """Yield which keep-outs are empty or have no side."""
    for place, box in enumerate(keep_outs, start=1):
        where = f"keep_out[{place}]"
        if box.side not in ("A", "B"):
            yield f'{where}.side="{box.side}" must be one of "A", "B"'
        for axis, low, high in (("x", box.x_low, box.x_high), ("y", box.y_low, box.y_high)):
            if not low < high:
                yield f"{where}.{axis}=[{low:g}, {high:g}] mm is empty; the first must be less"

"""What contradicts itself in an order, found without planning: one line each.

The same lines stand for orders read from TOML and for those built in Python; keys are named as in
the TOML, list entries counted from 1. What a field may hold by itself its record checks. Guards are
written so that NaN fails.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from knifecam.blade import Blade
from knifecam.quantity import NAME, Place, bare, least_mm, mm, most_mm, told
from knifecam.shop.cutter import Cutter
from knifecam.shop.defaults import UNDER_BORES, relieved_depth
from knifecam.shop.order_record import Boring, Order, Tabs, Trench
from knifecam.shop.proposed import of_excess
from knifecam.shop.seating import of_reference, of_registration
from knifecam.shop.setup import Hold, KeepOut, Plate, Setup
from knifecam.shop.tooling import of_cutters, of_cutting, of_mill, of_stages


def contradictions(order: Order) -> tuple[str, ...]:
    """Return everything in ``order`` that contradicts itself, one line each; empty when sound."""
    blade, setup = order.blade, order.setup
    found = (
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
    return tuple(told(line, order.units) for line in found)


def of_plate(plate: Plate) -> Iterator[str]:
    """Yield what contradicts itself in the plate."""
    if len(plate.measured) < 4:
        yield f"plate.thickness: measured at {len(plate.measured)} places; measure at four or more"
    if not plate.spread <= plate.allowed_spread + 1e-9:
        yield (
            f"plate.thickness: spread={mm(plate.spread):.3f} must be at most"
            f" {most_mm(plate.allowed_spread):g}, for it goes straight into tabs and land; grind"
            " the plate,"
            " take another, or allow more with plate.spread"
        )
    low_x, low_y, high_x, high_y = plate.bounds
    for place, (x, y, _) in enumerate(plate.measured, start=1):
        if not (low_x - 1e-6 <= x <= high_x + 1e-6 and low_y - 1e-6 <= y <= high_y + 1e-6):
            yield (
                f"plate.thickness[{place}]: the place {Place(x - low_x, y - low_y):g}{NAME} is not on the"
                f" plate of {bare(plate.length):g} x {mm(plate.width):g}; places count from its"
                " lower left"
            )


def of_plate_and_blade(plate: Plate, blade: Blade) -> Iterator[str]:
    """Yield where the blade is not within the plate, or not as thick as it."""
    if not abs(plate.thickness - blade.thickness) <= 1e-9:
        yield (
            f"blade.thickness={mm(blade.thickness):g} must be the plate's measured mean,"
            f" {mm(plate.thickness):g}: its flats are the plate's faces"
        )
    low, high = blade.outline.bounds[:2], blade.outline.bounds[2:]
    p_low, p_high = plate.bounds[:2], plate.bounds[2:]
    out = [
        f"{mm(over):.2f} past its {edge} edge"
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
            f"plate: the blade of {bare(high[0] - low[0]):.2f} x {mm(high[1] - low[1]):.2f} is not within"
            f" the plate of {bare(plate.length):g} x {mm(plate.width):g}: {', '.join(out)}; take a larger"
            " plate or move plate.corner"
        )


def of_tabs(tabs: Tabs, blade: Blade) -> Iterator[str]:
    """Yield what contradicts itself between tabs and blade."""
    if not tabs.thickness < blade.thickness:
        yield (
            f"tabs.thickness={mm(tabs.thickness):g} must be less than the blade's thickness,"
            f" {mm(blade.thickness):g}"
        )
    if not tabs.neck < tabs.thickness:
        yield (
            f"tabs.neck={mm(tabs.neck):g} must be less than tabs.thickness={mm(tabs.thickness):g}; it is"
            " what stays of a tab beside the blade"
        )
    length = blade.outline.length
    for place, station in enumerate(tabs.stations, start=1):
        if not station <= length:
            yield (
                f"tabs.stations[{place}]={mm(station):g} must be at most the outline's length,"
                f" {most_mm(length):.2f}"
            )


def of_trench(trench: Trench, blade: Blade) -> Iterator[str]:
    """Yield what contradicts itself between trench and blade."""
    if not trench.meet < blade.thickness:
        yield (
            f"outline.meet={mm(trench.meet):g} must be less than the blade's thickness,"
            f" {mm(blade.thickness):g}"
        )


def of_boring(boring: Boring, blade: Blade, setup: Setup) -> Iterator[str]:
    """Yield what contradicts itself between the bores' opening, the blade and the bed."""
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
    if boring.bed == "skin" and not boring.skin < blade.thickness / 2:
        yield (
            f"bores.skin={mm(boring.skin):g} must be less than half the blade's thickness,"
            f" {mm(blade.thickness / 2):g}"
        )
    deep = relieved_depth(boring)
    if boring.bed == "relieved" and not setup.bed_allowance >= deep - 1e-9:
        yield (
            f"setup.bed_allowance={mm(setup.bed_allowance):g} must be at least {least_mm(deep):g}"
            " with a relieved"
            f" bed: bores.through={mm(boring.through):g} and {mm(UNDER_BORES)}"
        )


def of_hold(hold: Hold, blade: Blade) -> Iterator[str]:
    """Yield what contradicts itself between the hold and the blade's bores."""
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
                f"hold.head_diameter={mm(hold.head_diameter):g} must be greater than bore"
                f' "{name}", {mm(bores[name].diameter):g}'
            )
    if len(set(hold.screws)) < len(hold.screws):
        yield "hold.screws names a bore twice; name each once"


def of_setup(setup: Setup, cutters: Sequence[Cutter]) -> Iterator[str]:
    """Yield what contradicts itself in the setup."""
    if setup.offsets[0] == setup.offsets[1]:
        yield (
            f'setup.offsets=["{setup.offsets[0]}", "{setup.offsets[1]}"] must be two different ones:'
            " each side has its own zero"
        )
    if setup.gauge in [c.number for c in cutters]:
        yield f"setup.gauge={setup.gauge} is a cutter's number; give the gauge pin its own"
    if setup.gap_stop and not setup.gap_height < setup.mill.change_height:
        yield (
            f"setup.gap_height={mm(setup.gap_height):g} must be less than"
            f" mill.change_height={mm(setup.mill.change_height):g}"
        )


def of_keep_outs(keep_outs: Sequence[KeepOut]) -> Iterator[str]:
    """Yield which keep-outs are empty."""
    for place, box in enumerate(keep_outs, start=1):
        where = f"keep_out[{place}]"
        for axis, low, high in (("x", box.x_low, box.x_high), ("y", box.y_low, box.y_high)):
            if not low < high:
                yield (
                    f"{where}.{axis}=[{bare(low):g}, {bare(high):g}]{NAME} is empty; the first must"
                    " be less"
                )

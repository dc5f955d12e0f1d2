"""Whether tabs or screws hold all of the blade."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.blade import Blade, Bore
from knifecam.curve import resample, signed_distance
from knifecam.curve.curve import Floats
from knifecam.errors import PlanError
from knifecam.quantity import Place, mm, stated
from knifecam.record import as_written
from knifecam.rules.rules_limits import (
    HINGE_SHARE,
    OVERHANG_TIMES,
    STIFF_TAB_SPACING_MM,
    WIDEST_TAB_GAP_MM,
)
from knifecam.shop import Order
from knifecam.shop.setup import Workholding


def check_workholding(hold: Workholding, blade: Blade) -> Iterator[str]:
    """Yield what contradicts itself between the hold and the blade's bores."""
    if hold.kind == "bores" and not hold.screws:
        yield 'workholding.screws is empty; name the bores that take screws, or write kind="tabs"'
    bores = {b.name: b for b in blade.bores}
    known = ", ".join(f'"{name}"' for name in bores) or "none"
    for place, name in enumerate(hold.screws, start=1):
        where = f"{stated(f'workholding.screws[{place}]', as_written(name))}"
        if name not in bores:
            yield f"{where} is no bore of the blade; known are {known}"
            continue
        if bores[name].depth is not None:
            yield f"{where} is a blind bore; a screw wants a through bore"
        if not hold.head_diameter > bores[name].diameter:
            yield (
                f"{stated('workholding.head_diameter', mm(hold.head_diameter)):g} must be greater"
                " than bore"
                f' "{name}", {mm(bores[name].diameter):g}'
            )
    if len(set(hold.screws)) < len(hold.screws):
        yield "workholding.screws names a bore twice; name each once"


PLACES_LISTED = 6
"""Places that are listed in one line."""


def wanted_count(order: Order) -> int:
    """Return how many tabs the order asks for."""
    return len(order.tabs.stations) or order.tabs.count


def overhang(order: Order) -> tuple[float, Floats]:
    """Return the greatest way from the outline to the nearest screw, mm, and from where, (2,)."""
    screws = np.array(
        [b.centre for b in order.blade.bores if b.name in order.setup.workholding.screws]
    )
    points = order.blade.outline.points(0.01)
    if not len(screws):
        return float("inf"), points[0]
    ways = np.hypot(*(points[:, None] - screws[None]).transpose(2, 0, 1)).min(axis=1)
    return float(ways.max()), points[np.argmax(ways)]


def along_blade(order: Order, places: Floats) -> tuple[Floats, float, Floats]:
    """Return how far places (K, 2) lie from the blade's one end along it, sorted, and its length.

    Its two ends (2, 2) too, part frame, mm.
    """
    points = resample(order.blade.outline, 0.5)[1]
    middle = points.mean(axis=0)
    axis = np.linalg.eigh((points - middle).T @ (points - middle))[1][:, 1]
    axis = axis if axis[np.argmax(np.abs(axis))] > 0 else -axis
    ways = points @ axis
    ends = points[[np.argmin(ways), np.argmax(ways)]]
    return np.sort(np.reshape(places, (-1, 2)) @ axis - ways.min()), float(np.ptp(ways)), ends


def holding(order: Order) -> Iterator[str]:
    """What the order names holds the blade: enough screws, or enough tabs."""
    hold, count = order.setup.workholding, wanted_count(order)
    if hold.kind == "bores":
        yield from _screwed(order, count)
    elif count == 0:
        yield (
            f"{stated('tabs.count', count)} with {stated('workholding.kind', as_written(hold.kind))}"
            " leaves nothing"
            ' to hold the blade; order tabs, or screws with workholding.kind = "bores"'
        )
    elif count == 1 and not hold.tip_clamp:
        length = along_blade(order, np.zeros((0, 2)))[1]
        if not length <= STIFF_TAB_SPACING_MM:
            yield _hinge(1, length)


def _screwed(order: Order, count: int) -> Iterator[str]:
    hold = order.setup.workholding
    if count or hold.tip_clamp or not hold.screws:
        return
    if len(set(hold.screws)) == 1:
        yield (
            f"workholding.screws: the blade turns about its only screw, in bore '{hold.screws[0]}';"
            " name two, or order tabs.count = 1 beside it, or clamp the far end"
            " (workholding.tip_clamp = true)"
        )
    (out, (x, y)), allowed = overhang(order), OVERHANG_TIMES * order.blade.thickness
    if np.isfinite(out) and not out <= allowed:
        yield (
            f"{stated('tabs.count', 0)}: the far end, at {Place(x, y):.2f}, hangs out {mm(out):.3f}"
            f" beyond the nearest screw, more than {OVERHANG_TIMES:g} thicknesses, {mm(allowed):.1f};"
            " order tabs.count = 1 for a tab there, name a screw nearer to it, or clamp it"
            " (workholding.tip_clamp"
            " = true)"
        )


def listed(places: Floats) -> str:
    """Return places (K, 2) as text, no more than `PLACES_LISTED` of them."""
    more = f" and {len(places) - PLACES_LISTED} more" if len(places) > PLACES_LISTED else ""
    return ", ".join(f"{Place(x, y):.2f}" for x, y in places[:PLACES_LISTED]) + more


def _hinge(count: int, length: float, where: str = "") -> str:
    which = "one tab holds" if count == 1 else f"all {count} tabs stand together and hold"
    return (
        f"tabs: {which} a blade {mm(length):.1f} long like a hinge{where or ','} which is allowed up to"
        f" {mm(STIFF_TAB_SPACING_MM):g}; spread two or more along it, or hold it by screws or a"
        " clamp at its far end"
        " (workholding.tip_clamp = true)"
    )


def holding_notes(order: Order, places: Floats) -> tuple[str, ...]:
    """Return notes about the tabs' places (K, 2) along the blade.

    Raises
    ------
    PlanError
        Where they are one hinge for a long blade, or an end of it hangs out too far.
    """
    hold = order.setup.workholding
    if hold.kind != "tabs" or not len(places):
        return ()
    at, length, blade_ends = along_blade(order, places)
    ends = (float(at[0]), float(length - at[-1]))
    if length > STIFF_TAB_SPACING_MM and not hold.tip_clamp:
        if not at[-1] - at[0] >= HINGE_SHARE * length:
            raise PlanError(_hinge(len(at), length, f", from {listed(places)},"))
        if not max(ends) <= WIDEST_TAB_GAP_MM:
            x, y = blade_ends[int(ends[1] > ends[0])]
            raise PlanError(
                f"tabs: an end of the blade hangs out {mm(max(ends)):.3f} beyond the last tab, more"
                f" than {mm(WIDEST_TAB_GAP_MM):g}: that at {Place(x, y):.2f}; leave a"
                " straight or gently curved stretch nearer to it, give tabs.stations, or clamp it"
                " (workholding.tip_clamp = true)"
            )
    gap = float(np.diff(at).max(initial=0.0))
    if gap <= WIDEST_TAB_GAP_MM:
        return ()
    return (
        f"tabs stand up to {mm(gap):.0f} apart along the blade; {mm(STIFF_TAB_SPACING_MM):g} is"
        " stiff, so fill the"
        " grooves well, or order more tabs",
    )


def screws(order: Order) -> Iterator[str]:
    """Screws that hold the blade stand in bores that go through, and heads clear the trench."""
    hold = order.setup.workholding
    if hold.kind != "bores":
        return
    named: dict[str, Bore] = {b.name: b for b in order.blade.bores}
    if not hold.screws:
        yield "workholding.screws: name at least one bore that takes a screw"
    for name in hold.screws:
        if name not in named:
            yield f"workholding.screws: '{name}' is no bore of the blade ({', '.join(sorted(named))})"
            continue
        room = float(signed_distance(named[name].centre, order.blade.outline)[0])
        if not room - hold.head_diameter / 2 >= 0.5:
            yield (
                f"{stated('workholding.head_diameter', mm(hold.head_diameter)):.2f} over bore"
                f" '{name}' comes"
                f" within {mm(room - hold.head_diameter / 2):.2f} of the trench; {mm(0.5)} must stay"
            )

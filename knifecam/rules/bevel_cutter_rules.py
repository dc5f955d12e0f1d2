"""Stages and cutters of bevels."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import numpy as np

from knifecam.blade import Bevel, bevel_height, edge_distance, edge_height, grind_height, height_at
from knifecam.blade.bevel_geometry import edge_angle, grind_angle
from knifecam.blade.blade import Blade
from knifecam.blade.blade_limits import VALUES_AGREE_MM
from knifecam.blade.cutter_limits import (
    contact_arm,
    cutter_refused,
    inner_corner,
    plunge_cutter_refused,
)
from knifecam.curve import resample
from knifecam.curve.distance import signed_line_distance
from knifecam.paths.paths_limits import ALONG_FALL_MM, BORDER_MM
from knifecam.paths.plunge_motions import lead_for
from knifecam.quantity import Place, basis, least_mm, mm, most_mm, over_fixture, stated
from knifecam.record import as_written
from knifecam.rules.bevel_rules import refused
from knifecam.rules.opening_rules import thin_rings
from knifecam.rules.rules_limits import (
    CUTTER_OUTLINE_SAMPLE_MM,
    FREE_UNDER_CLEARING_MM,
    LEAST_LESS_MM,
    MOST_PASSES,
    NEAR_AXIS_SHARE,
    STEEPEST_RAD,
    SUPPORT_VOID_MM,
)
from knifecam.rules.tolerance_rules import land_left
from knifecam.shop import Cutter, Cutting, Order
from knifecam.shop.order_record import (
    BEVEL_FINISH,
    BEVEL_ROUGH,
    BEVEL_SEMI,
    BEVEL_STAGES,
    CLEAR,
    FINISH,
    PLUNGE,
)
from knifecam.shop.shop_limits import CLEARING_CORNER_MM
from knifecam.shop.side_view import floors

ON_BEVEL = (BEVEL_ROUGH, BEVEL_SEMI, BEVEL_FINISH)


def bevels(order: Order) -> Iterator[str]:
    """Bevels can be, and their stages' cutters fit them."""
    if not order.blade.bevels:
        return
    lines = refused(order.blade)
    yield from lines
    missing = [s for s in BEVEL_STAGES if not order.cuttings(s) and _needed(order, s)]
    yield from (
        f"cutting: no entry for stage '{stage}', which this blade's bevels need; add one [[cutting]]"
        for stage in missing
    )
    if lines or missing:
        return
    for bevel in order.blade.bevels:
        yield from _fits(order, bevel)
        yield from _contact(order, bevel)
        yield from _beyond(order, bevel)
        yield from land_left(order, bevel)
        yield from _floors(order, bevel)
        yield from _meeting(order, bevel)
        yield from _steps(order, bevel)
    yield from thin_rings(order)
    yield from _stock(order)
    yield from _led(order)
    yield from _clearing(order)
    yield from _depths(order)
    yield from _support(order)


def _needed(order: Order, stage: str) -> bool:
    return stage != PLUNGE or any(bevel.plunges for bevel in order.blade.bevels)


def _entries(order: Order, *stages: str) -> Iterator[tuple[Cutting, Cutter]]:
    for entry in order.cutting:
        if entry.stage in stages:
            yield entry, order.cutter(entry.cutter)


def _fits(order: Order, bevel: Bevel) -> Iterator[str]:
    """The bevel's cutters go into recurves, the plunge's into the plunge."""
    told: set[str] = set()
    for _, cutter in _entries(order, *ON_BEVEL):
        lines = cutter_refused(bevel, order.blade, radius=cutter.radius, corner=cutter.corner)
        yield from (line for line in lines if line not in told)
        told.update(lines)
    for _, cutter in _entries(order, PLUNGE):
        yield from plunge_cutter_refused(
            bevel, order.blade, radius=cutter.radius, corner=cutter.corner
        )


def _contact(order: Order, bevel: Bevel) -> Iterator[str]:
    """Finishing cutters touch far enough from their axis."""
    slopes = [
        angle(bevel, order.blade.thickness, side)
        for side in filter(bevel.on, "AB")
        for angle in (edge_angle, grind_angle)
    ]
    for entry, cutter in _entries(order, BEVEL_FINISH):
        arm = contact_arm(cutter.radius, cutter.corner, min(slopes))
        if not arm >= NEAR_AXIS_SHARE * cutter.diameter:
            yield (
                f"{bevel.path}: cutter {entry.cutter} touches a slope of"
                f" {math.degrees(min(slopes)):.2f} degrees {mm(arm):.3f} from its axis, where it rubs; at"
                f" least {NEAR_AXIS_SHARE:g} of its diameter,"
                f" {mm(NEAR_AXIS_SHARE * cutter.diameter):.3f}, is wanted: take a"
                " bull-nose cutter"
            )


def _beyond(order: Order, bevel: Bevel) -> Iterator[str]:
    """A plunge has left the blade where its outline lies outside the edge's own line, as a chin does.

    Passes follow the slope `BORDER_MM` mm past the edge, beside which they take the ground as open.
    """
    half, outline = order.blade.thickness / 2, order.blade.outline
    _, places, _ = resample(outline, CUTTER_OUTLINE_SAMPLE_MM)
    d = edge_distance(bevel, outline, places)
    for number, plunge in enumerate(bevel.plunges, start=1):
        s = signed_line_distance(places, plunge.line)
        found = []
        for side in filter(bevel.on, "AB"):
            low = height_at(bevel, order.blade.thickness, side, d)
            stays = height_at(bevel, order.blade.thickness, side, np.maximum(d, -BORDER_MM)) - low
            ground = half - bevel_height(bevel, order.blade, places, side)
            off = (s > 0) & (np.minimum(stays, ground) > order.bevelling.cusp)
            up = (half - low) * math.cos(bevel.angle)
            radius = np.where(off, (s**2 + up**2) / (2 * np.where(off, up, 1.0)), np.inf)
            found.append((float(radius.min()), int(np.argmin(radius)), bool(off.any())))
        most, k, any_off = min(found, default=(np.inf, 0, False))
        if any_off:
            yield (
                f"{bevel.path}: plunge {number} of radius={mm(plunge.radius):.3f} still grinds"
                f"{bevel.rests('plunge_radius')}"
                f" the blade {mm(-d[k]):.2f} outside the edge's own line at"
                f" {Place(*places[k]):.1f}, where no pass follows it: order"
                f" plunge_radius={most_mm(most):.2f} or less, or draw its line nearer to the bevel"
            )


def clearing_floor(order: Order, bevel: Bevel, side: str) -> float:
    """Return how deep the waste beside the edge is cleared at least, mm in the side's frame.

    The lowest tip of a cutter that touches the edge, r (1 - cos a) below it, less what is cleared
    under it; a plunge's passes follow the slope a little further.
    """
    slope = edge_angle(bevel, order.blade.thickness, side)
    corners = [c.corner for _, c in _entries(order, *ON_BEVEL)]
    drop = max(corners, default=0.0) * (1 - math.cos(slope))
    if bevel.plunges:
        balls = [c.corner for _, c in _entries(order, PLUNGE)]
        drop = max(drop, max(balls) * (1 - math.cos(slope)) + BORDER_MM * math.tan(slope))
    return edge_height(bevel, side) - drop - order.bevelling.below


def _floors(order: Order, bevel: Bevel) -> Iterator[str]:
    """Clearing beside the edge stays above the fixture."""
    for side in filter(bevel.on, "AB"):
        floor = clearing_floor(order, bevel, side)
        left = floor + order.blade.thickness / 2
        if not left >= FREE_UNDER_CLEARING_MM:
            flush = abs(abs(bevel.edge_at) - (order.blade.thickness - bevel.land) / 2) <= 1e-6
            more = (FREE_UNDER_CLEARING_MM - left) * (1 if flush else 2)
            wanted = math.ceil(round((bevel.land + more) * 100, 4)) / 100
            yield (
                f"{bevel.path}: side {side} is cleared beside the edge to"
                f" {over_fixture(left, 4)}{bevel.rests('land')}{basis('bevelling.below')};"
                f" at least {least_mm(FREE_UNDER_CLEARING_MM)} must stay: order"
                f" land={least_mm(wanted):.2f} in place of"
                f" {mm(bevel.land):.3f}, or the edge nearer to the middle"
            )


def _meeting(order: Order, bevel: Bevel) -> Iterator[str]:
    """Side A's trench stays above the edge: beside it the waste is cleared deeper first."""
    if not bevel.on("A"):
        return
    trench, edge = order.trench, edge_height(bevel, "A")
    floor = order.blade.thickness / 2 - trench.depth_a - trench.overlap / 2
    if not floor >= edge - order.bevelling.below - 1e-9:
        most = order.blade.thickness / 2 - trench.overlap / 2 - edge + order.bevelling.below
        yield (
            f"{stated('outline.depth_a', mm(trench.depth_a)):.3f} lets side A's trench pass the"
            f" edge of {bevel.path}, which would stand on a web alone; at most {most_mm(most):.3f}"
            f" will do{bevel.rests('land')}{basis('bevelling.below')}"
        )


def _steps(order: Order, bevel: Bevel) -> Iterator[str]:
    """Stepovers leave a number of passes that a mill lives to finish."""
    for side in filter(bevel.on, "AB"):
        width = grind_height(bevel, order.blade.thickness, side)
        for entry, _ in _entries(order, BEVEL_SEMI, BEVEL_FINISH):
            count = math.ceil(width / entry.stepover)
            if not count <= MOST_PASSES:
                yield (
                    f"{bevel.path}: a stepover of {mm(entry.stepover):g} in stage"
                    f" '{entry.stage}' makes {count} passes over {mm(width):.2f}; {MOST_PASSES} is the"
                    " most: order a higher cusp, or a cutter of larger corner radius"
                    f"{basis(f'{entry.path}.stepover', 'bevelling.cusp')}"
                )


def _support(order: Order) -> Iterator[str]:
    """Side A's grooves are filled where side B opens the edges over them."""
    if order.setup.support != "none":
        return
    ground = [clearing_floor(order, b, "A") for b in order.blade.bevels if b.on("A")]
    deep = order.blade.thickness / 2 - min([floors(order).a_rough, *ground])
    if not deep <= SUPPORT_VOID_MM:
        yield (
            f"{stated('setup.support', as_written(order.setup.support))}: side B opens the"
            " bevels' edges over"
            f" grooves of {mm(deep):.2f}"
            " of side"
            f' A, which stand open; above {mm(SUPPORT_VOID_MM)} they want filling: write support="filled"'
        )


def _stock(order: Order) -> Iterator[str]:
    """Each stage leaves more than the one after it."""
    left = [
        (stage, max(entry.allowance for entry, _ in _entries(order, stage))) for stage in ON_BEVEL
    ]
    for (stage, more), (following, less) in itertools.pairwise(left):
        if not more > less:
            yield (
                f"cutting: stage '{stage}' leaves allowance={mm(more):.3f} on bevels, stage"
                f" '{following}' {mm(less):.3f}; each must leave more than the one after it"
            )
    if left[-1][1] > 0:
        yield (
            f"cutting: stage '{BEVEL_FINISH}' leaves allowance={mm(left[-1][1]):.3f}, but finishes the"
            " bevel: order 0, and a thicker land where metal is to stay"
        )


def _led(order: Order) -> Iterator[str]:
    """Passes are led down into what the stage before left no more steeply than `STEEPEST_RAD`."""
    plunged = any(bevel.plunges for bevel in order.blade.bevels)
    for stage, before, (key, other) in (
        (BEVEL_SEMI, BEVEL_ROUGH, ("stepdown", "allowance")),
        (BEVEL_FINISH, BEVEL_SEMI, ("allowance", "stepover")),
    ):
        lead, entry = lead_for(order, stage), order.cuttings(before)[0]
        most = (lead.length if plunged else ALONG_FALL_MM) * math.tan(STEEPEST_RAD)
        if not lead.fall <= most:
            less = getattr(entry, key) - (lead.fall - most)
            yield (
                f"{entry.path}: {entry.keyed(key):g} and {other} leave"
                f" {mm(lead.fall):.3f}, into which stage '{stage}' is led at"
                f" {math.degrees(math.atan(lead.fall / most * math.tan(STEEPEST_RAD))):.1f} degrees"
                f" {'beside plunges' if plunged else 'beside the blade'}; at most"
                f" {math.degrees(STEEPEST_RAD):g} may be: order"
                f" {f'{key}={most_mm(less):.2f} or' if less > LEAST_LESS_MM else f'{other}'} less"
            )


def _clearing(order: Order) -> Iterator[str]:
    """What clears beside the edges leaves no fillet that the trench's cutter meets in solid."""
    for entry, cutter in _entries(order, CLEAR):
        if not cutter.corner <= CLEARING_CORNER_MM:
            yield (
                f"{entry.path}{basis(entry.path)}: {cutter.keyed('corner'):.3f}"
                f" leaves a fillet beside the edge's wall; name a cutter with a corner of"
                f' {most_mm(CLEARING_CORNER_MM):g} or less, best the one of stage "rough"'
            )


def _depths(order: Order) -> Iterator[str]:
    """Flutes and reach are longer than what the bevels' cutters go into."""
    half = order.blade.thickness / 2
    floors = [
        clearing_floor(order, bevel, side)
        for bevel in order.blade.bevels
        for side in filter(bevel.on, "AB")
    ]
    deepest = half - min(floors)
    for entry, cutter in _entries(order, *BEVEL_STAGES, FINISH):
        if not cutter.reach >= deepest:
            yield (
                f"{cutter.path}: {cutter.keyed('reach'):.2f} is less than the {mm(deepest):.2f}"
                f" it goes into beside the edge in stage '{entry.stage}'; its cone or shank would rub"
            )
        elif entry.stage == CLEAR and not (
            cutter.flute_length >= deepest or cutter.neck < cutter.diameter
        ):
            yield (
                f"{cutter.path}: {cutter.keyed('neck'):.3f} is not relieved, and rubs above"
                f" {cutter.keyed('flute_length'):.2f} where it clears {mm(deepest):.2f} deep"
            )
    for _, cutter in _entries(order, FINISH):
        if not cutter.flute_length >= deepest:
            yield (
                f"{cutter.path}: {cutter.keyed('flute_length'):.2f} is less than the"
                f" {mm(deepest):.2f} wall beside the edge, which it finishes in one pass"
            )
    for entry, cutter in _entries(order, CLEAR, BEVEL_ROUGH):
        if not entry.stepdown <= cutter.flute_length:
            yield (
                f"{entry.path}: {entry.keyed('stepdown'):g} must be at most its"
                f" cutter's {cutter.keyed('flute_length'):.2f}"
            )
        if not entry.stepover <= cutter.diameter * (1 + 1e-9):
            yield (
                f"{entry.path}: {entry.keyed('stepover'):g} must be at most"
                f" its diameter {most_mm(cutter.diameter):.3f}"
            )


def break_cutter_refused(blade: Blade, *, axis: float) -> tuple[str, ...]:
    """Return which breaks have inner corners that a mill with its axis ``axis`` mm off keeps."""
    return tuple(
        f"edge break '{broken.name}': an inner corner of radius {mm(inner_corner(broken, blade)):.3f}"
        f" of {broken.of} is out of reach of an axis {mm(axis):.3f} off the wall; end the stretch"
        " before it, or use a mill with a smaller tip"
        for broken in blade.breaks
        if not inner_corner(broken, blade) >= axis - VALUES_AGREE_MM
    )

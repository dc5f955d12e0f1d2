"""Edge breaks: their face, their mill, and its room."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from knifecam.blade import Bore
from knifecam.blade.bevel import SIDES
from knifecam.blade.blade import Blade, EdgeBreak
from knifecam.blade.blade_limits import FADE_BEYOND_WIDTH_MM
from knifecam.blade.finished_surface import bevelled, break_curves
from knifecam.curve import Curve, resample, signed_distance
from knifecam.curve.curve import Floats
from knifecam.curve.stations import is_whole, length_of, shared
from knifecam.paths.edge_break_motions import (
    ChamferStand,
    chamfer_stand,
    cone_of,
    curve_of,
    fade_length,
)
from knifecam.paths.offset import offset
from knifecam.paths.paths_limits import BREAK_END_RESERVE_MM, CONE_CLEAR_MM
from knifecam.quantity import Place, least_mm, mm, stated
from knifecam.rules.rules_limits import BREAK_SAMPLE_MM, HEAD_ROOM_MM, VALUES_AGREE_MM
from knifecam.shop import Cutter, Order
from knifecam.shop.cutter_choice import mill_for
from knifecam.shop.defaults import LEAST_BELOW, TIP_GAP
from knifecam.shop.order_record import BREAK
from knifecam.shop.side_view import floors


def edge_break_faults(blade: Blade) -> Iterator[str]:
    """Breaks lie on edges that are there, are shallow, and stay off bevels and notches."""
    through = {bore.name for bore in blade.bores if bore.depth is None}
    blind = {bore.name for bore in blade.bores} - through
    known = {"outline", *through, *(slot.name for slot in blade.slots)}
    for one in blade.breaks:
        if one.of in blind and one.side == "A":
            known.add(one.of)
        if one.of not in known:
            yield (
                f"edge break '{one.name}': side {one.side} has no edge of '{one.of}'; name the outline,"
                " a slot or a bore that opens there"
            )
            continue
        if not one.depth < blade.thickness / 2 - VALUES_AGREE_MM:
            yield (
                f"edge break '{one.name}': width={mm(one.width):.3f} goes {mm(one.depth):.3f} deep, not"
                f" less than half the thickness of {mm(blade.thickness):.3f}; make it narrower"
            )
        for x, y in _bevelled_places(one, blade)[:1]:
            yield (
                f"edge break '{one.name}': the face falls off in a bevel at {Place(x, y):.3f} of side"
                f" {one.side}; keep the break off the bevelled edge and the plunge"
            )
        for x, y in _ground_places(one, blade)[:1]:
            yield (
                f"edge break '{one.name}': at {Place(x, y):.3f} the edge is ground from the other side,"
                f" and on side {one.side} the break would take its land; keep it off the bevelled edge"
            )
        for row in blade.jimping if one.of == "outline" else ():
            whole = not one.stretches
            if whole or any(
                shared(blade.outline, s, row.stretch) > VALUES_AGREE_MM for s in one.stretches
            ):
                yield (
                    f"edge break '{one.name}' runs over the notches of jimping '{row.name}'; end it"
                    " before them"
                )


def _ground_places(one: EdgeBreak, blade: Blade) -> Floats:
    """Places (K, 2) of the outline's break whose wall is ground on the other side alone."""
    if one.of != "outline":
        return np.zeros((0, 2))
    other = SIDES[1 - SIDES.index(one.side)]
    points = np.concatenate([resample(c, BREAK_SAMPLE_MM)[1] for c in break_curves(one, blade)])
    return points[bevelled(blade, points, other) & ~bevelled(blade, points, one.side)]


def _bevelled_places(one: EdgeBreak, blade: Blade) -> Floats:
    """Places (K, 2) of the break, on the wall or at its width, where the face falls off."""
    inward = 1.0 if one.of == "outline" else -1.0
    found = []
    for curve in break_curves(one, blade):
        _, points, headings = resample(curve, BREAK_SAMPLE_MM)
        left = np.stack([-np.sin(headings), np.cos(headings)], axis=1)
        for points_ in (points, points + inward * one.width * left):
            found.append(points_[bevelled(blade, points_, one.side)])
    return np.concatenate(found)


def edge_breaks(order: Order) -> Iterator[str]:
    """Breaks have a mill of their angle, room for it, and open ground under its tip.

    What no mill could make the blade's own rules tell; with bevels they are asked there.
    """
    if not order.blade.bevels:
        yield from edge_break_faults(order.blade)
    mills = [order.cutter(entry.cutter) for entry in order.cuttings(BREAK)]
    for one in order.blade.breaks:
        where = f"edge break '{one.name}' of {one.of}, side {one.side}"
        curve = curve_of(order, one)
        mill = mill_for(mills, one)
        if curve is None or not mills:
            continue
        if mill is None:
            yield (
                f"{where}, angle={math.degrees(one.angle):.2f} deg: no chamfer mill of stage 'break' has"
                f" half_angle={90 - math.degrees(one.angle):.2f} deg; add one"
            )
            continue
        cone = cone_of(order, one)
        yield from _mill(order, one, mill, cone, where)
        if one.of == "outline":
            yield from _beside_outline(order, one, mill, cone, where)
        else:
            yield from _inside(order, one, curve, cone, where)


def _mill(
    order: Order, one: EdgeBreak, mill: Cutter, cone: ChamferStand, where: str
) -> Iterator[str]:
    if not cone.rim <= mill.radius + 1e-9:
        yield (
            f"{where}, width={mm(one.width):.3f}: {mill.path} would want a radius of"
            f" {mm(cone.rim):.3f} at the face and has {mm(mill.radius):.3f}; use a thicker one"
        )
    if not cone.depth < order.blade.thickness / 2:
        yield (
            f"{where}, width={mm(one.width):.3f}: the tip would go {mm(cone.depth):.3f} deep, past the"
            f" middle of the plate; order a narrower break, or one less steep"
        )


def _beside_outline(
    order: Order, one: EdgeBreak, mill: Cutter, cone: ChamferStand, where: str
) -> Iterator[str]:
    if not cone.room <= order.trench.width:
        yield (
            f"{where}: the mill wants a trench of {mm(cone.room):.3f} to come down beside the edge,"
            f" and {stated('outline.width', mm(order.trench.width)):.3f}; use a mill of smaller tip,"
            " or a wider trench"
        )
    yield from _ground(order, one, where)
    yield from _ends(order, one, cone, where)
    yield from _heads(order, one, mill, cone, where)


def _ground(order: Order, one: EdgeBreak, where: str) -> Iterator[str]:
    deep = floors(order)
    half = order.blade.thickness / 2
    if one.side == "A":
        least = cone_of(order, one, LEAST_BELOW)
        have = half - deep.a_finish - TIP_GAP
        if not least.depth <= have + 1e-9:
            yield (
                f"{where}, width={mm(one.width):.3f}: the tip goes {mm(least.depth):.3f} deep, and"
                f" side A's trench leaves it {mm(have):.3f}; order"
                f" {stated('outline.depth_a', mm(order.trench.depth_a + least.depth - have)):.3f}, or a"
                " narrower break"
            )
            return
        cone = chamfer_stand(order, one, deep)
    else:
        cone = cone_of(order, one)
        if not cone.depth + TIP_GAP <= half + deep.b_rough:
            yield (
                f"{where}, width={mm(one.width):.3f}: side B's groove would go"
                f" {mm(cone.depth + TIP_GAP):.3f} deep, into the web; order a narrower break"
            )
    yield from _fillet(order, cone, where)


def _fillet(order: Order, cone: ChamferStand, where: str) -> Iterator[str]:
    """Refuse a tip that meets the fillet which the finishing cutter leaves at the wall's foot."""
    corner = max((order.cutter(c.cutter).corner for c in order.cuttings("finish")), default=0.0)
    tip = order.cutter(order.cuttings(BREAK)[0].cutter).tip / 2
    beside = max(0.0, cone.away - tip)
    if beside >= corner:
        return
    high = corner - math.sqrt(corner**2 - (corner - beside) ** 2)
    if not high <= TIP_GAP:
        yield (
            f"{where}: the tip runs {mm(beside):.3f} off the wall, where the finishing cutter's"
            f" corner={mm(corner):.3f} has left {mm(high):.3f}; use one of smaller corner"
        )


def _ends(order: Order, one: EdgeBreak, cone: ChamferStand, where: str) -> Iterator[str]:
    outline = order.blade.outline
    open_ended = [s for s in one.stretches if not is_whole(outline, s)]
    if not open_ended or any(is_whole(outline, s) for s in one.stretches):
        return
    room = 2 * (one.width + FADE_BEYOND_WIDTH_MM - BREAK_END_RESERVE_MM)
    if not cone.run_out <= room:
        yield (
            f"{where}, width={mm(one.width):.3f}: its ends fade out over {mm(cone.run_out):.3f},"
            f" more than {mm(room):.3f}; use a mill of smaller tip"
        )
    for stretch in open_ended:
        length = length_of(outline, stretch)
        if not length > 2 * fade_length(cone) + one.width:
            yield (
                f"{where}: stretch={mm(length):.3f} is too short for ends that fade out; give it"
                f" {least_mm(2 * fade_length(cone) + one.width + 0.001):.3f} or more"
            )


def _heads(
    order: Order, one: EdgeBreak, mill: Cutter, cone: ChamferStand, where: str
) -> Iterator[str]:
    """Refuse a mill whose upper part runs into the heads of the screws that hold the blade."""
    hold = order.setup.workholding
    if one.side != "B" or hold.kind != "bores":
        return
    height = cone.depth + hold.head_height
    wide = mill.tip / 2 + min(height, mill.cone_height) * math.tan(mill.half_angle)
    if height > mill.reach:
        wide = max(wide, mill.shank / 2)
    for bore in order.blade.bores:
        if bore.name in hold.screws:
            yield from _head(order, bore, cone, wide, where)


def _head(order: Order, bore: Bore, cone: ChamferStand, wide: float, where: str) -> Iterator[str]:
    inside = float(signed_distance(bore.centre, order.blade.outline)[0])
    room = inside - order.setup.workholding.head_diameter / 2 + cone.away - wide
    if not room >= HEAD_ROOM_MM:
        yield (
            f"{where}: the mill is {mm(wide):.2f} in radius beside the head over bore '{bore.name}',"
            f" {stated('workholding.head_diameter', mm(order.setup.workholding.head_diameter)):.2f}, and"
            " comes within"
            f" {mm(room):.2f}"
            f" of it; {mm(HEAD_ROOM_MM)} must stay: use a thinner mill, lower heads, or break that edge"
            " by hand"
        )


def _inside(
    order: Order, one: EdgeBreak, curve: Curve, cone: ChamferStand, where: str
) -> Iterator[str]:
    need = cone.rim + CONE_CLEAR_MM
    for bore in order.blade.bores:
        if bore.name == one.of:
            yield from _bore(order, one, bore, cone, where)
            if bore.depth is None and not bore.both_sides:
                yield from _opened_wider(order, one, where)
            return
    yield from _opened_wider(order, one, where)
    if not offset(curve, -need):
        yield (
            f"{where}, width={mm(one.width):.3f}: the mill wants {mm(need):.3f} all round to come down"
            " inside the opening, which is nowhere so wide; use one of smaller tip, or order a narrower"
            " break"
        )


def _opened_wider(order: Order, one: EdgeBreak, where: str) -> Iterator[str]:
    """Refuse a break of which less than half stays once side B opens the skin past the wall."""
    relief = order.boring.oversize
    if one.side == "B" and order.boring.opening == "skin" and not relief <= one.width + 1e-9:
        yield (
            f"{where}, width={mm(one.width):.3f}: {stated('bores.oversize', mm(relief)):.3f} opens side"
            f" B {mm(relief / 2):.3f} past the wall, which takes {mm(min(relief / 2, one.width)):.3f}"
            f" of it; order {stated('bores.oversize', mm(one.width)):.3f} or less, or a break of"
            f" {mm(relief):.3f} or more"
        )


def _bore(
    order: Order, one: EdgeBreak, bore: Bore, cone: ChamferStand, where: str
) -> Iterator[str]:
    need = cone.rim + CONE_CLEAR_MM
    if not bore.diameter / 2 >= need:
        yield (
            f"{where}, width={mm(one.width):.3f}: the mill wants {mm(need):.3f} all round to come down"
            f" inside a bore of {mm(bore.diameter):.3f}; use one of smaller tip, or order a"
            " narrower break"
        )
    if bore.depth is not None and not bore.depth >= cone.depth + TIP_GAP:
        yield (
            f"{where}: the tip goes {mm(cone.depth):.3f} deep, the bore {mm(bore.depth):.3f}; order a"
            " narrower break"
        )

"""Which cutter serves which stage where an order does not say.

Common practice: bores 1.25 to 1.9 cutter diameters wide leave no slug and let the chips out;
inner corners want 1.15 cutter radii; a second cutter of the same size is kept for finishing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from knifecam.blade import Blade, Bore, EdgeBreak, grind_height, slope_at
from knifecam.blade.bevel import SIDES, Bevel
from knifecam.blade.cutter_limits import cutter_refused, plunge_cutter_refused
from knifecam.curve import Curve
from knifecam.shop.cutter import BALL, BULL_NOSE, CHAMFER, FLAT, Cutter
from knifecam.shop.order_record import (
    BEVEL_FINISH,
    BEVEL_ROUGH,
    BEVEL_SEMI,
    BORE,
    BREAK,
    CLEAR,
    FINISH,
    FIT,
    NECK,
    NOTCH,
    PLUNGE,
    ROUGH,
    SLOT,
    Boring,
)
from knifecam.shop.shop_limits import (
    CLEARING_CORNER_MM,
    CORNER_ROOM_RADII,
    NECK_CORNER_MM,
    NOTABLY_FASTER_DIAMETERS,
    ROUGHED_UNDER_MM,
    ROUNDEST_MM,
    SAME_ANGLE_RAD,
    SAME_SIZE_SHARE,
    THICKEST_FOR_CLEARING_MM,
    THICKEST_FOR_TRENCH_MM,
    THICKEST_NECK_CUTTER_MM,
    TIGHTEST_BORE_DIAMETERS,
    TIP_BELOW_MM,
    WIDEST_BORE_DIAMETERS,
)


def bevel_cutters(
    cutters: Sequence[Cutter], blade: Blade, outline: Sequence[Cutter]
) -> list[tuple[str, int]]:
    """Return (stage, cutter number) for the stages of a blade's bevels; ``outline`` cuts its trench.

    Stages no cutter suits are left out. Of bull-nose cutters of one size the roundest are taken,
    and of those the first roughs.
    """
    if not blade.bevels:
        return []
    found = []
    if outline:
        found.append((CLEAR, _for_clearing(cutters, blade.outline, outline[0]).number))
    noses = [c for c in cutters if c.kind in (BULL_NOSE, FLAT) and _reaches(c, blade)]
    noses = [c for c in noses if c.kind == BULL_NOSE] or noses
    if noses:
        thickest = max(c.diameter for c in noses)
        alike = [c for c in noses if c.diameter >= 0.98 * thickest]
        alike = [c for c in alike if c.corner >= max(c.corner for c in alike) - 0.01]
        last = alike[-1].number
        found += [(BEVEL_ROUGH, alike[0].number), (BEVEL_SEMI, last), (BEVEL_FINISH, last)]
    if any(bevel.plunges for bevel in blade.bevels):
        fitting = [c for c in cutters if c.kind in (BALL, BULL_NOSE) and _fits(c, blade)]
        balls = [c for c in fitting if c.kind == BALL] or fitting
        found += [(PLUNGE, c.number) for c in sorted(balls, key=lambda c: -c.diameter)[:1]]
    return found


def _reaches(cutter: Cutter, blade: Blade) -> bool:
    return not any(
        cutter_refused(bevel, blade, radius=cutter.radius, corner=cutter.corner)
        for bevel in blade.bevels
    )


def _fits(cutter: Cutter, blade: Blade) -> bool:
    return not any(
        plunge_cutter_refused(bevel, blade, radius=cutter.radius, corner=cutter.corner)
        for bevel in blade.bevels
    )


def _for_clearing(cutters: Sequence[Cutter], outline: Curve, rough: Cutter) -> Cutter:
    """Return the thickest end mill that runs along the outline, or else what roughs the trench."""
    inner = outline.radii[outline.is_arc & (outline.angles < 0)]
    room = min(THICKEST_FOR_CLEARING_MM, 2 * inner.min(initial=math.inf) / CORNER_ROOM_RADII)
    fitting = [
        c
        for c in cutters
        if c.kind in (FLAT, BULL_NOSE)
        and NOTABLY_FASTER_DIAMETERS * rough.diameter <= c.diameter <= room
        and c.corner <= CLEARING_CORNER_MM
    ]
    return max(fitting, key=lambda c: c.diameter, default=rough)


def angles_of(bevel: Bevel, thickness: float) -> list[float]:
    """Return the least and the greatest slope of a bevel, rad."""
    found: list[float] = []
    for side in SIDES:
        if bevel.on(side):
            d = np.linspace(0.0, grind_height(bevel, thickness, side), 9)
            found += np.arctan(slope_at(bevel, thickness, side, d)).tolist()
    return [min(found), max(found)]


def inner_radius(outline: Curve, side: int) -> float:
    """Return the least radius of arcs a cutter has to run inside of, mm; inf without such arcs.

    ``side`` is +1 for a cutter inside a counter-clockwise curve, -1 for one outside of it.
    """
    radii = outline.radii[outline.is_arc & (np.sign(outline.angles) == side)]
    return float(radii.min()) if len(radii) else float("inf")


def slot_room(outline: Curve) -> float:
    """Return the greatest cutter diameter for an opening, mm.

    It is bound by the opening's least inner radius and by its breadth, taken as area over half
    the length of its outline (exact for a very long slot, too small for all others).
    """
    breadth = 2 * abs(outline.area) / outline.length
    return min(2 * inner_radius(outline, 1) / CORNER_ROOM_RADII, breadth)


def choose_cutters(
    cutters: Sequence[Cutter], blade: Blade, reference: Sequence[Bore] = (), *, necks: bool = False
) -> tuple[tuple[str, int], ...]:
    """Return (stage, cutter number) for every stage the blade needs, in the order of the stages.

    ``necks``: whether tabs are to be necked. Stages no cutter suits are left out. Among cutters of
    one size the first does the roughing, the last is kept for the outline's finished wall and for
    fitted bores. Of a slot's room its area and arcs tell but so much: after the thickest cutter for
    it comes one of every thinner size, and the planner takes the first that can do it.
    """
    ends = [c for c in cutters if c.kind not in (BALL, CHAMFER)]
    if blade.bevels:
        ends = [c for c in ends if c.corner <= ROUNDEST_MM] or ends
    deep = [c for c in ends if c.reach >= blade.thickness] or ends
    bores = [*reference, *blade.bores]
    boring = _for_bores(deep, [b.diameter - (ROUGHED_UNDER_MM if b.fitted else 0.0) for b in bores])
    outline = _for_outline(deep, blade.outline)
    fitting = _for_fit([b.diameter for b in bores if b.fitted], boring, outline)
    chosen = [(BORE, c.number) for c in boring] + [(FIT, c.number) for c in fitting]
    if blade.slots:
        room = min(slot_room(slot.outline) for slot in blade.slots)
        sizes = _by_size(deep, room, blade.thickness - Boring().skin)
        chosen += [(SLOT, c.number) for c in sizes]
    if outline:
        chosen += [(ROUGH, outline[0].number), (FINISH, outline[-1].number)]
    chosen += bevel_cutters(cutters, blade, outline)
    notching = _for_bores(ends, [row.diameter for row in blade.jimping])
    chosen += [(NOTCH, c.number) for c in notching]
    chosen += [(BREAK, c.number) for c in _for_breaks(cutters, blade)]
    if necks:
        chosen += [(NECK, c.number) for c in _for_necks(ends, outline)]
    return tuple(dict.fromkeys(chosen))  # a number may stand twice, which is refused elsewhere


def _for_breaks(cutters: Sequence[Cutter], blade: Blade) -> list[Cutter]:
    """Return for every angle of the edge breaks the chamfer mill that makes the widest of them."""
    widest: dict[float, EdgeBreak] = {}
    for one in sorted(blade.breaks, key=lambda one: one.width):
        widest[round(one.angle, 9)] = one
    found = [mill_for(cutters, widest[angle]) for angle in sorted(widest)]
    return [c for c in found if c is not None]


def mill_for(cutters: Sequence[Cutter], one: EdgeBreak) -> Cutter | None:
    """Return the first chamfer mill of a break's angle that is thick enough for it, or else the first."""
    mills = [c for c in cutters if makes_angle(c, one.angle)]
    high = one.depth + TIP_BELOW_MM - 1e-9
    return next((c for c in mills if c.cone_height >= high), mills[0] if mills else None)


def makes_angle(cutter: Cutter, angle: float) -> bool:
    """Tell whether a chamfer mill's cone makes breaks of ``angle`` rad against the face."""
    return cutter.kind == CHAMFER and abs(math.pi / 2 - cutter.half_angle - angle) <= SAME_ANGLE_RAD


def _for_necks(cutters: Sequence[Cutter], outline: Sequence[Cutter]) -> list[Cutter]:
    """Return the thickest small cutter that turns in the trench of the ``outline``'s first one.

    The thinnest stands in where none does, for others to refuse.
    """
    small = [
        c for c in cutters if c.diameter <= THICKEST_NECK_CUTTER_MM and c.corner <= NECK_CORNER_MM
    ]
    small.sort(key=lambda c: -c.diameter)
    room = outline[0].diameter / 2 if outline else math.inf
    return [c for c in small if c.diameter <= room][:1] or small[-1:]


def _alike(cutters: Sequence[Cutter], room: float) -> list[Cutter]:
    """Return the thickest cutters no thicker than ``room``, all of one size, as they are listed.

    The thinnest stands in where none is thin enough, for others to refuse.
    """
    fitting = [c for c in cutters if c.diameter <= room]
    if not fitting:
        return sorted(cutters, key=lambda c: c.diameter)[:1]
    thickest = max(c.diameter for c in fitting)
    return [c for c in fitting if c.diameter >= (1 - SAME_SIZE_SHARE) * thickest]


def _by_size(cutters: Sequence[Cutter], room: float, deep: float) -> list[Cutter]:
    """Return one of each size that `_alike` finds in ``room``, and thinner, the thickest first.

    It is the first that finishes a wall ``deep`` mm, or else the first.
    """
    found: list[Cutter] = []
    while alike := _alike(cutters, room):
        found.append(next((c for c in alike if c.flute_length >= deep), alike[0]))
        least = min(c.diameter for c in alike)
        cutters, room = [c for c in cutters if c.diameter < least], least
    return found


def _for_bores(cutters: Sequence[Cutter], diameters: Sequence[float]) -> list[Cutter]:
    """Return as few cutters as open all ``diameters``, smallest bore first."""
    chosen: list[Cutter] = []
    for diameter in sorted(set(diameters)):
        suited = [c for c in chosen if _suits(c, diameter)]
        suited = suited or [c for c in cutters if _suits(c, diameter)]
        suited = suited or [c for c in cutters if c.diameter * TIGHTEST_BORE_DIAMETERS <= diameter]
        suited = suited or [c for c in cutters if c.diameter < diameter]
        chosen += [c for c in _alike(suited, diameter)[:1] if c not in chosen]
    return chosen


def _suits(cutter: Cutter, diameter: float) -> bool:
    return (
        cutter.diameter * TIGHTEST_BORE_DIAMETERS
        <= diameter
        <= cutter.diameter * WIDEST_BORE_DIAMETERS
    )


def _for_fit(
    diameters: Sequence[float], boring: Sequence[Cutter], outline: Sequence[Cutter]
) -> list[Cutter]:
    """Return the cutters that finish fitted bores: the wall's own where it fits."""
    found: list[Cutter] = []
    for diameter in diameters:
        pool = [*outline[-1:], *reversed(boring)]
        best = next((c for c in pool if c.diameter * TIGHTEST_BORE_DIAMETERS <= diameter), None)
        best = best or next((c for c in boring if c.diameter < diameter), None)
        if best is not None and best not in found:
            found.append(best)
    return found


def _for_outline(cutters: Sequence[Cutter], outline: Curve) -> list[Cutter]:
    """Return the cutters of the size that suits the outline, as they are listed."""
    slender = [c for c in cutters if c.diameter <= THICKEST_FOR_TRENCH_MM] or cutters
    return _alike(slender, 2 * inner_radius(outline, -1) / CORNER_ROOM_RADII)

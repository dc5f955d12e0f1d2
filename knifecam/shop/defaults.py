"""What to propose where an order is silent: figures by thickness, diameter and stage.

The three regimes are derived for a corner radius r on a slope a, the cutter moving along the
contour, steps s measured in the plane across it.

Common practice: bull-nose cutters, for a ball rubs near its axis on so flat a slope; the thicker the
better, for contact lies near the rim.

All figures are common practice for hardened steel near 60 HRC, coated carbide and dry air, except
where a function says otherwise. Lengths in mm, angles in rad, surface speeds and feeds in mm/min.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from knifecam.blade import Bevel, Blade, edge_height
from knifecam.errors import OrderError
from knifecam.quantity import least_mm, mm
from knifecam.shop.cutter import BALL, BULL_NOSE, CHAMFER, FLAT, Cutter
from knifecam.shop.cutter_choice import angles_of
from knifecam.shop.cutting_data import (
    BEVEL,
    CHAMFERING,
    FINISHING,
    HELIX,
    SIDE,
    SLOTTING,
    CuttingData,
    usual_data,
)
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
    Bevelling,
    Boring,
    Cutting,
    Tabs,
    Trench,
)
from knifecam.shop.setup import Mill
from knifecam.shop.shop_limits import MOST_AT_EDGE_MM, TIP_BELOW_MM, USUAL_BREAK_WIDTH_MM

LEAST_STEP = 1e-3
"""mm: no step is found smaller."""


LEAST_LEVEL_MM = 0.002
"""mm: no level or turn is proposed shallower."""


MOST_TOOTH_SHARE = 0.012
"""Diameters that an edge feeds at most, however thin its chip."""


def cusp_of(angle: float, corner: float, radius: float, step: float) -> float:
    """Return the height in mm, square to the slope, of the cusps that steps of ``step`` mm leave.

    ``angle`` is the slope's in rad, ``corner`` and ``radius`` the cutter's in mm. As long as the
    corner alone meets both neighbours it acts as a ball; beyond, the flat end takes part; where the
    steps are taller than the corner its upper end does.
    """
    sine, cosine, tangent = math.sin(angle), math.cos(angle), math.tan(angle)
    drop = step * tangent
    if corner <= 0:
        return step * sine
    half = step / (2 * cosine)
    if step <= corner * math.sin(2 * angle) or (corner >= radius and half < corner):
        return corner - math.sqrt(corner**2 - half**2)
    if drop <= corner:
        run = math.sqrt(2 * corner * drop - drop**2)
        return corner * (1 - cosine) + (step - run) * sine
    return corner * (1 - sine - cosine) + step * sine


def step_for(angle: float, corner: float, radius: float, cusp: float) -> float:
    """Return the greatest step in mm that leaves cusps of at most ``cusp`` mm."""
    low, high = LEAST_STEP, max(2 * radius, LEAST_STEP)
    if cusp_of(angle, corner, radius, high) <= cusp:
        return high
    for _ in range(60):
        middle = (low + high) / 2
        if cusp_of(angle, corner, radius, middle) <= cusp:
            low = middle
        else:
            high = middle
    return low


SEMI_CUSPS, MOST_SEMI_CUSP = 5.0, 0.05
"""Finished cusps, and mm, that the semi-finish may leave: no higher than the stock under them, or
finishing passes meet an uneven chip."""


PLUNGE_CUSPS = 0.6
"""Of a finished cusp that plunges leave: at the edge both sides' cusps add up to the land."""


FINEST_STEP_MM = 0.01
"""mm: no step is proposed finer."""


def bevel_stepover(stage: str, cutter: Cutter, blade: Blade, cusp: float) -> float:
    """Return the step in mm between passes that leave cusps of ``cusp`` mm, or a semi-finish's."""
    if stage == PLUNGE:
        return plunge_step(cutter, min(PLUNGE_CUSPS * cusp, MOST_AT_EDGE_MM))
    wanted = max(cusp, min(SEMI_CUSPS * cusp, MOST_SEMI_CUSP)) if stage == BEVEL_SEMI else cusp
    steps = [
        step_for(angle, cutter.corner, cutter.radius, wanted)
        for bevel in blade.bevels
        for angle in angles_of(bevel, blade.thickness)
    ]
    return floored(min(steps, default=FINEST_STEP_MM))


def plunge_step(cutter: Cutter, cusp: float) -> float:
    """Return the step along the surface, mm, of a ball of radius R: 2 sqrt(2 R c - c^2) on a flat."""
    corner = cutter.corner
    return floored(2 * math.sqrt(2 * corner * cusp - cusp**2) if corner > cusp else FINEST_STEP_MM)


def floored(step: float) -> float:
    """Return the step rounded down to 0.001 mm, no finer than `FINEST_STEP_MM`."""
    return max(FINEST_STEP_MM, math.floor(step * 1000 + 1e-6) / 1000)


TAB_THICKNESS = ((2.0, 0.30), (3.0, 0.40), (4.0, 0.50), (5.0, 0.55), (6.0, 0.60))


TAB_WAIST = ((2.0, 1.2), (3.0, 1.5), (4.0, 1.5), (5.0, 1.8), (6.0, 2.0))


WALL_STOCK = ((2.0, 0.04), (3.0, 0.06), (4.0, 0.08))


SHANKS = (3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 32.0)


TAB_CORNER_RADII, THICKEST_TAB_TIMES = 3.0, 1.5
"""A tab is at least so many corner radii thick, for a corner thickens its root; but no thicker
than so many times the usual, or it does not snap by hand."""


LEAST_BELOW, TIP_GAP = 0.3, 0.05
"""mm: the tip runs at least this far below the break, and stays this far above the floor."""


TIP_DIAMETERS = 0.05
"""Diameters: the flat at a chamfer mill's tip."""


BEVEL_STOCK = {BEVEL_ROUGH: 0.13, BEVEL_SEMI: 0.05, PLUNGE: 0.0}
"""mm left plumb above a bevel (common practice)."""


BEVEL_STEPDOWN = {BEVEL_SEMI: 0.25, BEVEL_FINISH: 0.1, PLUNGE: 0.3}
"""mm that a pass of the later stages may meet (common practice)."""


DEEPEST_LEVEL_MM = round(BEVEL_STEPDOWN[BEVEL_SEMI] - BEVEL_STOCK[BEVEL_ROUGH], 4)
"""mm of a bevel's roughing level: with the stock it leaves, no more than a semi-finish may meet."""


ENGAGED = {
    BORE: HELIX, NOTCH: HELIX, SLOT: SLOTTING, ROUGH: SLOTTING, CLEAR: SLOTTING, NECK: SLOTTING,
    FIT: SIDE, FINISH: SIDE, BREAK: CHAMFERING, BEVEL_ROUGH: BEVEL, BEVEL_SEMI: FINISHING,
    BEVEL_FINISH: FINISHING, PLUNGE: FINISHING,
}  # fmt: skip
"""The kind of engagement whose data a stage takes."""


CHIPS_OF = {**ENGAGED, BEVEL_SEMI: BEVEL}
"""The kind whose chip a stage takes: the semi-finish meets the stairs that roughing left."""


ABOVE_EDGE = 0.05
"""mm that side A's trench stays above the edges of bevels."""


OVER_BED, UNDER_EDGE = 0.05, 0.07
"""mm that side B's walls end above its fixture, and that side A's trench may go below edges for it."""


UNDER_BORES = 0.3
"""mm that a relieved fixture is free below where bores end (common practice)."""


NECK_STEP = 0.025
"""mm: a cutter that runs along a finished wall takes no deeper levels off the tab on its far side."""


BREAK_STEP = 0.3
"""mm of an edge break's width that one pass takes at most."""


def _held(x: float, table: tuple[tuple[float, float], ...]) -> float:
    """Return the table's value at ``x``, linear between its rows, its end values beyond them."""
    places, values = zip(*table, strict=True)
    return round(float(np.interp(x, places, values)), 4)


def _grown(x: float, table: tuple[tuple[float, float], ...], digits: int) -> float:
    """Return the table's value at ``x``, rounded; beyond its ends in proportion to ``x``."""
    (low, first), (high, last) = table[0], table[-1]
    if x < low:
        return round(first * x / low, digits)
    if x > high:
        return round(last * x / high, digits)
    places, values = zip(*table, strict=True)
    return round(float(np.interp(x, places, values)), digits)


def _rounded_up(value: float, step: float) -> float:
    return round(math.ceil(round(value / step, 6)) * step, 6)


def tab_thickness(thickness: float, corner: float = 0.0) -> float:
    """Return the thickness of a tab for a blade of ``thickness`` mm.

    At least three times the ``corner`` radius of the cutters that leave it, as far as that still
    snaps by hand: up to 1.5 times what is usual.
    """
    usual = round(_held(thickness, TAB_THICKNESS), 2)
    wanted = round(math.ceil(round(TAB_CORNER_RADII * corner * 100, 6)) / 100, 2)
    return max(usual, wanted) if wanted <= THICKEST_TAB_TIMES * usual else usual


def tab_waist(thickness: float) -> float:
    """Return the waist of a tab for a blade of ``thickness`` mm."""
    return round(_held(thickness, TAB_WAIST), 2)


def tab_count(length: float) -> int:
    """Return how many tabs hold a blade ``length`` mm long: 4; 3 when short, 6 or more when long."""
    return 3 if length < 120.0 else max(6, math.ceil(length / 75)) if length > 260.0 else 4


def propose_tabs(thickness: float, length: float, corner: float = 0.0) -> Tabs:
    """Return tabs for a blade of ``thickness`` and ``length`` mm, and cutters of ``corner`` mm."""
    return Tabs(
        count=tab_count(length),
        waist=tab_waist(thickness),
        thickness=tab_thickness(thickness, corner),
    )


def meeting_depth(thickness: float) -> float:
    """Return how far below side A's face the sides meet: 0.6 mm up to 4 mm, else the middle.

    Plates under 1.2 mm meet in the middle too.
    """
    return 0.6 if 1.2 <= thickness <= 4.0 else round(thickness / 2, 4)


def overlap(corner_a: float, corner_b: float) -> float:
    """Return how far the sides pass the meeting plane together: no ridge stays below it.

    A wall is true only above the floor and the corner radius, so it is at least
    ``corner_a + corner_b + 0.1`` mm (derived), and never less than 0.2 mm.
    """
    return round(max(0.2, corner_a + corner_b + 0.1), 4)


def trench_width(rough: float, finish: float, allowance: float) -> float:
    """Return the roughed width for cutters of diameters ``rough`` and ``finish`` mm.

    1.3 roughing diameters, and room for the finishing cutter beside its ``allowance`` with
    0.3 mm to spare, in steps of 0.05 mm.
    """
    return _rounded_up(max(1.3 * rough, finish + allowance + 0.3), 0.05)


def border_width(thickness: float) -> float:
    """Return the least width of plate outside the trench: 2.5 thicknesses, at least 8 mm."""
    return _rounded_up(max(8.0, 2.5 * thickness), 0.1)


def propose_trench(
    thickness: float,
    rough: Cutter,
    finish: Cutter,
    allowance: float,
    bevels: Sequence[Bevel] = (),
) -> Trench:
    """Return the trench of a blade of ``thickness`` mm for its roughing and finishing cutters.

    Side A's trench stays above the edges of its ``bevels``: beside them it goes deeper by clearing.
    In plates so thin that side B would then run into the fixture it goes as much below as it must, but
    not below what is cleared there.

    Raises
    ------
    OrderError
        Where the edges leave side A's trench no depth above them.
    """
    corner = max(rough.corner, finish.corner)
    over = overlap(corner, corner)
    edges = [edge_height(bevel, "A") for bevel in bevels if bevel.on("A")]
    edge = thickness / 2 - over / 2 - max(edges, default=-math.inf)
    usual = min(meeting_depth(thickness), edge - ABOVE_EDGE)
    meet = round(max(usual, min(over / 2 + OVER_BED, edge + UNDER_EDGE)), 4)
    if not meet > 0:
        raise OrderError(tuple(_crowding_edges(thickness, bevels, over / 2 + ABOVE_EDGE)))
    return Trench(
        depth_a=meet,
        overlap=over,
        width=trench_width(rough.diameter, finish.diameter, allowance),
        border=border_width(thickness),
    )


def _crowding_edges(thickness: float, bevels: Sequence[Bevel], room: float) -> Iterator[str]:
    """Yield which edges leave side A's trench no depth above them."""
    for bevel in bevels:
        below = thickness / 2 - edge_height(bevel, "A")
        if bevel.on("A") and not below > room:
            yield (
                f"{bevel.path}: {bevel.keyed('land'):.3f} with {bevel.keyed('edge_at'):.3f} lies"
                f" {mm(below):.3f} below side A's face in a plate of {mm(thickness):.3f}; its trench"
                f" wants more than {least_mm(room):.3f} above the edge: order a thinner land, or a lower"
                " edge_at"
            )


def relieved_depth(boring: Boring) -> float:
    """Return how far below the plate a relieved fixture must be free for bores that go through."""
    return round(boring.through + UNDER_BORES, 4)


def wall_stock(diameter: float) -> float:
    """Return what roughing leaves on the wall: above deflection, below burning."""
    return _grown(diameter, WALL_STOCK, 3)


def surface_speed(stage: str, hardness_hrc: float, data: CuttingData | None = None) -> float:
    """Return the speed of the rim in mm/min."""
    return 1000.0 * (data or usual_data()).speed(ENGAGED[stage], hardness_hrc)


def spindle_for(speed: float, diameter: float) -> float:
    """Return the whole rev/min at which a rim of ``diameter`` mm runs at most ``speed`` mm/min.

    References
    ----------
    n = v / (pi D); ISO 3002-1:1982, cutting speed at the edge.
    """
    return float(math.floor(round(speed / (math.pi * diameter), 6)))


def feed_for(spindle: float, flutes: int, tooth: float) -> float:
    """Return the feed in mm/min at which each of ``flutes`` edges advances ``tooth`` mm."""
    return round(spindle * flutes * tooth, 1)


def _edge_sine(corner: float, height: float) -> float:
    """Return the sine of the edge's angle against the tip's plane, ``height`` mm above the tip.

    1 on the flank, ``sqrt(1 - ((r - h) / r)^2)`` on a ``corner`` radius r, mm.
    """
    low = max(0.0, 1.0 - height / corner) if corner > 0 else 0.0
    return math.sqrt(1.0 - low**2)


def stepdown_for(
    stage: str,
    diameter: float,
    *,
    hardness_hrc: float = 60.0,
    data: CuttingData | None = None,
) -> float:
    """Return the depth of a level, or of a turn of a helix, in one stage, mm."""
    if stage in BEVEL_STEPDOWN:
        return BEVEL_STEPDOWN[stage]
    fixed = {BREAK: BREAK_STEP, FIT: round(0.1 * diameter, 2), FINISH: round(1.5 * diameter, 2)}
    if stage in fixed:
        return fixed[stage]
    deep = (data or usual_data()).depth(ENGAGED[stage], hardness_hrc) * diameter
    if stage == NECK:
        deep = min(deep, NECK_STEP)
    if stage == BEVEL_ROUGH:
        deep = min(deep, DEEPEST_LEVEL_MM)
    return max(LEAST_LEVEL_MM, math.floor(round(deep * 1000, 6)) / 1000)


def feed_per_tooth(
    cutter: Cutter,
    stage: str,
    *,
    stepdown: float,
    stepover: float,
    hardness_hrc: float = 60.0,
    data: CuttingData | None = None,
) -> float:
    """Return the feed of one edge, mm, whose greatest chip is the one wanted.

    A chip is ``fz sin(phi) sin(kappa)``: ``phi`` the angle to which a tooth is in metal, at most a
    quarter turn, ``kappa`` the edge's slope at the top of what it takes, which a corner radius makes
    flat.
    """
    diameter = contact_diameter(cutter)
    wanted = (data or usual_data()).chip(CHIPS_OF[stage], hardness_hrc, diameter)
    if stage in (BREAK, NOTCH, BORE, SLOT, ROUGH, CLEAR, NECK):
        across = 1.0
    else:
        step = 3 * stepover if stage == PLUNGE else stepover  # its roughing takes three at once
        step = wall_stock(diameter) if stage in (FIT, FINISH) else step
        share = min(step / diameter, 0.5)
        across = 2 * math.sqrt(share * (1.0 - share))  # sin(acos(1 - 2 ae / D))
    deep = {FINISH: diameter, FIT: diameter, BEVEL_FINISH: BEVEL_STOCK[BEVEL_SEMI]}.get(
        stage, stepdown
    )
    thinned = across * _edge_sine(cutter.corner, deep)
    return round(min(wanted / thinned, MOST_TOOTH_SHARE * diameter), 4)


def allowance_for(stage: str, diameter: float) -> float:
    """Return what one stage leaves on the wall for the next."""
    if stage in BEVEL_STOCK:
        return BEVEL_STOCK[stage]
    return wall_stock(diameter) if stage in (SLOT, ROUGH, CLEAR) else 0.0


def stepover_for(
    stage: str, diameter: float, *, hardness_hrc: float = 60.0, data: CuttingData | None = None
) -> float:
    """Return the sideways step, mm: by the data in levels, in finishing the stock that was left."""
    if stage == BREAK:
        return BREAK_STEP
    if stage in (FIT, FINISH):
        return wall_stock(diameter)
    kind = BEVEL if ENGAGED[stage] == FINISHING else ENGAGED[stage]
    return round((data or usual_data()).width(kind, hardness_hrc) * diameter, 2)


def contact_diameter(cutter: Cutter) -> float:
    """Return the diameter in mm that meets the metal: of a chamfer mill, where it breaks edges."""
    if cutter.kind != CHAMFER:
        return cutter.diameter
    high = USUAL_BREAK_WIDTH_MM / math.tan(cutter.half_angle) + TIP_BELOW_MM
    return min(cutter.diameter, round(cutter.tip + 2 * high * math.tan(cutter.half_angle), 3))


def propose_cutting(
    cutter: Cutter,
    stage: str,
    *,
    hardness_hrc: float = 60.0,
    mill: Mill | None = None,
    blade: Blade | None = None,
    cusp: float = Bevelling().cusp,
    data: CuttingData | None = None,
) -> Cutting:
    """Return how ``cutter`` works in ``stage``, within what the mill can turn and feed.

    The steps between finishing passes of a ``blade``'s bevels follow from the ``cusp`` in mm. Speeds,
    chips and depths are those of the cutting ``data``, knifecam's own where it is left out.
    """
    mill, data = mill or Mill(), data or usual_data()
    wanted = spindle_for(surface_speed(stage, hardness_hrc, data), contact_diameter(cutter))
    spindle = min(max(wanted, mill.spindle_low), mill.spindle_high)
    stepover = stepover_for(stage, cutter.diameter, hardness_hrc=hardness_hrc, data=data)
    if blade is not None and stage in (BEVEL_SEMI, BEVEL_FINISH, PLUNGE):
        stepover = bevel_stepover(stage, cutter, blade, cusp)
    stepdown = stepdown_for(stage, cutter.diameter, hardness_hrc=hardness_hrc, data=data)
    tooth = feed_per_tooth(
        cutter, stage, stepdown=stepdown, stepover=stepover, hardness_hrc=hardness_hrc, data=data
    )
    feed = feed_for(spindle, cutter.flutes, tooth)
    return Cutting(
        cutter=cutter.number,
        stage=stage,
        spindle=spindle,
        feed=min(feed, mill.feed_high),
        stepdown=stepdown,
        stepover=stepover,
        allowance=allowance_for(stage, cutter.diameter),
        life=data.life(ENGAGED[stage], hardness_hrc),
    )


def corner_for(kind: str, diameter: float) -> float | None:
    """Return the corner radius its kind fixes; None for a bull-nose, which must state it."""
    return {FLAT: 0.0, BALL: diameter / 2, BULL_NOSE: None, CHAMFER: 0.0}[kind]


def shank_for(diameter: float) -> float:
    """Return the usual shank: 6 mm, or the next usual size that is no thinner than the cutter."""
    return next((s for s in SHANKS if s >= max(6.0, diameter)), diameter)


def stickout_for(reach: float, neck: float, shank: float, cone: float) -> float:
    """Return the length out of the holder: reach, cone and 10 mm of shank, in whole mm."""
    return _rounded_up(reach + max(0.0, shank - neck) / 2 / math.tan(cone) + 10.0, 1.0)


def propose_cutter(
    number: int, kind: str, diameter: float, *, corner: float | None = None, flutes: int = 4
) -> Cutter:
    """Return a cutter of usual build: 1.5 diameters of flutes, a neck of 0.95 to 2 diameters.

    A chamfer mill has a right angle at its tip, and a flat of `TIP_DIAMETERS` diameters there.
    """
    fixed = corner_for(kind, diameter) if corner is None else corner
    neck, reach, shank = round(0.95 * diameter, 2), round(2 * diameter, 2), shank_for(diameter)
    cone = math.pi / 4
    return Cutter(
        number=number,
        kind=kind,
        diameter=diameter,
        corner=fixed if fixed is not None else round(diameter / 10, 4),
        flutes=flutes,
        flute_length=round(1.5 * diameter, 2),
        neck=neck,
        reach=reach,
        cone=cone,
        shank=shank,
        stickout=stickout_for(reach, neck, shank, cone),
        tip=round(TIP_DIAMETERS * diameter, 3) if kind == CHAMFER else 0.0,
    )

"""Which cutters make bevels and plunges where an order does not say, and in what steps.

Common practice: bull-nose cutters, for a ball rubs near its axis on so flat a slope; the thicker the
better, for contact lies near the rim.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from knifecam.blade import Blade, grind_height, slope_at
from knifecam.blade.bevel import SIDES, Bevel
from knifecam.blade.refusals_cutter import cutter_refused, plunge_cutter_refused
from knifecam.curve import Curve
from knifecam.shop.cusp import step_for
from knifecam.shop.cutter import BALL, BULL_NOSE, FLAT, Cutter
from knifecam.shop.order import BEVEL_FINISH, BEVEL_ROUGH, BEVEL_SEMI, CLEAR, PLUNGE

SEMI_CUSPS, MOST_SEMI_CUSP = 5.0, 0.05
"""Finished cusps, and mm, that the semi-finish may leave: no higher than the stock under them, or
finishing passes meet an uneven chip."""

PLUNGE_CUSPS = 0.6
"""Of a finished cusp that plunges leave: at the edge both sides' cusps add up to the land."""

THICKEST_FOR_CLEARING, CLEARING_CORNER = 6.0, 0.25
"""mm: thicker cutters, or rounder ones, leave too much beside the edge's wall."""

NOTABLY = 1.15
"""Diameters of the trench's cutter from which another clears notably faster."""

CORNER_ROOM = 1.15
"""Cutter radii: the least radius of an inner corner that is not entered full width."""

MOST_AT_EDGE = 0.0022
"""mm: a plunge's cusps run across the edge; those of both sides together stay below 5 um of land."""

FINEST = 0.01
"""mm: no step is proposed finer."""


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
    room = min(THICKEST_FOR_CLEARING, 2 * inner.min(initial=math.inf) / CORNER_ROOM)
    fitting = [
        c
        for c in cutters
        if c.kind in (FLAT, BULL_NOSE)
        and NOTABLY * rough.diameter <= c.diameter <= room
        and c.corner <= CLEARING_CORNER
    ]
    return max(fitting, key=lambda c: c.diameter, default=rough)


def bevel_stepover(stage: str, cutter: Cutter, blade: Blade, cusp: float) -> float:
    """Return the step in mm between passes that leave cusps of ``cusp`` mm, or a semi-finish's."""
    if stage == PLUNGE:
        return plunge_step(cutter, min(PLUNGE_CUSPS * cusp, MOST_AT_EDGE))
    wanted = max(cusp, min(SEMI_CUSPS * cusp, MOST_SEMI_CUSP)) if stage == BEVEL_SEMI else cusp
    steps = [
        step_for(angle, cutter.corner, cutter.radius, wanted)
        for bevel in blade.bevels
        for angle in angles_of(bevel, blade.thickness)
    ]
    return floored(min(steps, default=FINEST))


def angles_of(bevel: Bevel, thickness: float) -> list[float]:
    """Return the least and the greatest slope of a bevel, rad."""
    found: list[float] = []
    for side in SIDES:
        if bevel.on(side):
            d = np.linspace(0.0, grind_height(bevel, thickness, side), 9)
            found += np.arctan(slope_at(bevel, thickness, side, d)).tolist()
    return [min(found), max(found)]


def plunge_step(cutter: Cutter, cusp: float) -> float:
    """Return the step along the surface, mm, of a ball of radius R: 2 sqrt(2 R c - c^2) on a flat."""
    corner = cutter.corner
    return floored(2 * math.sqrt(2 * corner * cusp - cusp**2) if corner > cusp else FINEST)


def floored(step: float) -> float:
    """Return the step rounded down to 0.001 mm, no finer than `FINEST`."""
    return max(FINEST, math.floor(step * 1000 + 1e-6) / 1000)

"""Figures of bevels and plunges that contradict each other, the plate or the outline.

The heel is the end of the edge nearer to the middle of the outline's area, the handle's side; the
other end is the tip, beyond which there is nothing but the back. Both ends are heels where they are
about as near, as of a head knife or a draw knife.

Where the outline turns away from the edge, the bevel runs out over it: its grind line comes to
the outline by itself, as on a skewed edge or over a leaning heel. Where the outline runs along
the edge instead, as a handle does, the bevel would go on unnoticed.

Closed inequalities over a blade's figures. Each refusal is one line: the key and its figure, the
rule, the place, and what would do.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np

from knifecam.blade.bevel import SIDES, Bevel, Plunge, arc_radius, edge_height, grind_height
from knifecam.blade.bevel_geometry import edge_length, width_at
from knifecam.blade.blade import Blade
from knifecam.blade.blade_limits import (
    GREATEST_BEVEL_RAD,
    LEAST_AWAY_DEG,
    LEAST_BEVEL_RAD,
    LEAST_CROSSING_DEG,
    MOST_OVER_MM,
)
from knifecam.blade.finished_surface import edge_curve, least_bevel
from knifecam.blade.heel_overrun import HeelOverrun, past_end, plunge_crossing, runs_over
from knifecam.curve import place_at, resample
from knifecam.curve.curve import Floats
from knifecam.curve.distance import signed_line_distance
from knifecam.curve.stations import shared
from knifecam.errors import ShapeError
from knifecam.quantity import Place, bare, mm, most_mm
from knifecam.rules.edge_break_rules import edge_break_faults
from knifecam.rules.jimping_rules import jimping_faults
from knifecam.rules.rules_limits import BEVEL_OUTLINE_SAMPLE_MM, SHARED_OUTLINE_MM, VALUES_AGREE_MM


def angle(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """Bevels are between 1.5 and 25 degrees a side."""
    if not LEAST_BEVEL_RAD - 1e-12 <= bevel.angle <= GREATEST_BEVEL_RAD + 1e-12:
        yield (
            f"{bevel.path}: angle={math.degrees(bevel.angle):.3f} degrees must be within"
            f" {math.degrees(LEAST_BEVEL_RAD):g}..{math.degrees(GREATEST_BEVEL_RAD):g} a side"
            f"{_heights(bevel, blade)}"
        )


def _heights(bevel: Bevel, blade: Blade) -> str:
    """Return between which grind heights the allowed angles lie, where anything is ground."""
    rise = max(blade.thickness / 2 - edge_height(bevel, side) for side in SIDES if bevel.on(side))
    if not rise > 0:
        return ""
    least, most = (rise / math.tan(angle) for angle in (GREATEST_BEVEL_RAD, LEAST_BEVEL_RAD))
    return f", which is a height of {bare(least):.3f} to {mm(most):.3f}"


def land(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """The land is thinner than the plate and lies in it."""
    thickness = blade.thickness
    if not bevel.land < thickness:
        yield (
            f"{bevel.path}: {bevel.keyed('land'):.3f} must be less than the"
            f" thickness={mm(thickness):.3f}; order a thinner land"
        )
        return
    room = (thickness - bevel.land) / 2
    if not abs(bevel.edge_at) <= room + VALUES_AGREE_MM:
        yield (
            f"{bevel.path}: {bevel.keyed('edge_at'):.3f} puts the land out of the plate;"
            f" use {bare(-room):.3f}..{mm(room):.3f}{bevel.rests('land')}"
        )
    for side in filter(bevel.on, SIDES):
        if not edge_height(bevel, side) < thickness / 2 - VALUES_AGREE_MM:
            yield (
                f"{bevel.path}: the land reaches side {side}'s face, nothing is ground there;"
                f"{bevel.rests('land', 'sides', 'edge_at')}"
                " name the other side alone, or move edge_at"
            )


def monotone(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """Hollow and convex profiles rise all the way from the edge to the flat."""
    for side in filter(bevel.on, SIDES):
        if grind_height(bevel, blade.thickness, side) > 0:
            try:
                arc_radius(bevel, blade.thickness, side)
            except ShapeError as fault:
                yield from fault.said


def stretch(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """The edge has a length, and its prolongations do not cross."""
    if not edge_length(bevel, blade) > VALUES_AGREE_MM:
        yield f"{bevel.path}: the edge has no length; name two different stations"
        return
    edge = edge_curve(bevel, blade.outline)
    turns = edge.start_headings[1:] - edge.end_headings[:-1]
    turn = edge.angles.sum() + ((turns + math.pi) % (2 * math.pi) - math.pi).sum()
    if not abs(turn) < math.pi:
        yield (
            f"{bevel.path}: the edge turns by {math.degrees(turn):.1f} degrees; its end"
            " tangents cross; take a stretch for bevels.edge that turns by less than 180"
        )


def width(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """The bevel is narrower than the blade at the middle of the edge and at its plunges."""
    places = [("the middle of the edge", bevel.edge.start + edge_length(bevel, blade) / 2)]
    for number, plunge in enumerate(bevel.plunges, start=1):
        at = plunge_station(bevel, plunge, blade)
        if at is not None:
            places.append((f"plunge {number}", at))
    for side in filter(bevel.on, SIDES):
        high = grind_height(bevel, blade.thickness, side)
        for name, station in places:
            wide = width_at(blade.outline, station)
            if not high <= wide + VALUES_AGREE_MM:
                yield (
                    f"{bevel.path}: grind height={mm(high):.3f} on side {side} is more than"
                    f"{bevel.rests('land')}"
                    f" the blade's width of {mm(wide):.3f} at {name};"
                    f" {_narrower(bevel, blade, side, wide)}"
                )
                break


def _narrower(bevel: Bevel, blade: Blade, side: str, wide: float) -> str:
    """Return what makes a bevel no wider than ``wide`` mm: never an angle that is itself refused."""
    low = math.atan((blade.thickness / 2 - edge_height(bevel, side)) / wide)
    if low > GREATEST_BEVEL_RAD:
        return (
            f"{math.degrees(low):.1f} degrees would be needed, {math.degrees(GREATEST_BEVEL_RAD):g} are"
            " the most: use a thinner plate or a thicker land"
        )
    steep = math.ceil(1000 * math.degrees(low)) / 1000
    return (
        f"use {steep:.3f} degrees or more, a height of {most_mm(wide):.3f} or less, or a"
        " thinner plate"
    )


def plunges(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """Every plunge crosses the edge, with the bevel on the right of its line."""
    edge = edge_curve(bevel, blade.outline)
    (middle,), _ = place_at(edge, edge.length / 2)
    for number, plunge in enumerate(bevel.plunges, start=1):
        if plunge_station(bevel, plunge, blade) is None:
            yield (
                f"{bevel.path}: plunge {number} does not cross the edge; move its line, or"
                " leave it out where the bevel runs out of the blade"
            )
        elif not float(signed_line_distance(middle, plunge.line)[0]) < 0:
            yield (
                f"{bevel.path}: the middle of the edge lies on the left of plunge {number};"
                " reverse its line, so that the bevel is on the right"
            )


def doubled(blade: Blade) -> Iterator[str]:
    """No two bevels lie on one stretch of the edge on one side."""
    for one, other in itertools.combinations(blade.bevels, 2):
        sides = [side for side in SIDES if one.on(side) and other.on(side)]
        both = shared(blade.outline, one.edge, other.edge)
        if sides and both > SHARED_OUTLINE_MM:
            yield (
                f"bevel '{other.name}' lies on {mm(both):.2f} of the edge of bevel '{one.name}' on side"
                f" {' and '.join(sides)}: two bevels on one edge of one side, the flatter removes the"
                " other; keep one of them, or give each a stretch of its own"
            )


def metal(blade: Blade) -> Iterator[str]:
    """No bevel cuts the outline thinner than its land."""
    if not blade.bevels:
        return
    thinnest = min(blade.bevels, key=lambda bevel: bevel.land)
    _, points, _ = resample(blade.outline, BEVEL_OUTLINE_SAMPLE_MM)
    thin = _left(blade, points)
    worst = int(np.argmin(thin))
    if not thin[worst] >= thinnest.land - VALUES_AGREE_MM:
        x, y = points[worst]
        yield (
            f"bevels leave {mm(thin[worst]):.3f} at {Place(x, y):.3f} of the outline, less than the land,"
            f" {thinnest.keyed('land'):.3f}; let a plunge end the bevel before it, or move where the edge"
            " starts and ends"
        )


def lands(blade: Blade) -> Iterator[str]:
    """The thickness at the middle of every edge is its land: both sides' figures agree."""
    for bevel in blade.bevels:
        edge = edge_curve(bevel, blade.outline)
        made = float(_left(blade, place_at(edge, edge.length / 2)[0])[0])
        if not abs(made - bevel.land) <= VALUES_AGREE_MM:
            flush = (blade.thickness - bevel.land) / 2
            yield (
                f"{bevel.path}: {bevel.keyed('land'):.3f}{bevel.rests('edge_at', 'sides')}, but both"
                f" sides leave {mm(made):.3f};"
                f" a bevel on one side alone wants edge_at={mm(flush):.3f} on B, {mm(-flush):.3f} on A;"
                ' where another grinds the other side of its edge, both want edge_at="middle"'
            )


def plunge_station(bevel: Bevel, plunge: Plunge, blade: Blade) -> float | None:
    """Return the station of the outline where the plunge's line crosses the edge; None if nowhere."""
    found = plunge_crossing(edge_curve(bevel, blade.outline), plunge.line)
    return None if found is None else bevel.edge.start + found.station


def _left(blade: Blade, points: Floats) -> Floats:
    """Thickness (K,) mm that the bevels leave, openings and breaks aside."""
    half = blade.thickness / 2
    a, b = (np.minimum(half, least_bevel(blade, points, side)) for side in SIDES)
    return np.asarray(a + b)


VALUE_CHECKS: tuple[Callable[[Bevel, Blade], Iterator[str]], ...] = (
    angle,
    land,
    monotone,
    stretch,
)


PLACE_CHECKS: tuple[Callable[[Bevel, Blade], Iterator[str]], ...] = (plunges, width)


def overrun_faults(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """A bevel runs out over an outline that turns away from its edge; along one, `MOST_OVER_MM` at most.

    A plunge rises over its radius more.
    """
    for run in runs_over(bevel, blade):
        if _ends(run, _most(bevel)):
            continue
        yield (
            f"{bevel.path}: goes on {mm(run.past):.1f} past the edge's heel and grinds the"
            f"{bevel.rests('land', 'plunge_radius')}"
            f" outline {run.ends}{_why(run, _most(bevel))}: end it by a plunge across the bevel, or"
            f" raise the handle above the grind line{_or_longer(bevel, blade, run)}"
        )


def _most(bevel: Bevel) -> float:
    """Return how far past the heel the bevel may go on along the edge, mm."""
    return MOST_OVER_MM + max((plunge.radius for plunge in bevel.plunges), default=0.0)


def _ends(run: HeelOverrun | None, most: float) -> bool:
    """Return whether the bevel ends soon enough: ``most`` mm along the edge, and nowhere again."""
    if run is None:
        return True
    return run.past <= most or (run.along <= most and run.again is None)


def _why(run: HeelOverrun, most: float) -> str:
    if run.along <= most and run.again is not None:
        x, y = run.again
        return f", at {Place(x, y):.1f} again after its grind line has left the blade"
    return (
        f", {mm(run.along):.1f} of it within {LEAST_AWAY_DEG:g} degrees of the edge's own line; at most"
        f" {most_mm(most):g} may be"
    )


def _or_longer(bevel: Bevel, blade: Blade, run: HeelOverrun) -> str:
    """Return that the edge may go on with a straight outline, where the bevel then ends."""
    if run.longer is None:
        return ""
    longer = replace(bevel, edge=run.longer)
    if not _ends(past_end(longer, blade, run.way), _most(bevel)):
        return ""
    station = run.longer.end if run.way > 0 else run.longer.start
    ((x, y),) = place_at(blade.outline, station % blade.outline.length)[0]
    return f"; or let the edge go on to {Place(x, y):.1f}, as far as the outline is straight"


def crossing_faults(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """A plunge's line crosses the edge at `LEAST_CROSSING_DEG` degrees or more."""
    edge = edge_curve(bevel, blade.outline)
    for number, plunge in enumerate(bevel.plunges, start=1):
        found = plunge_crossing(edge, plunge.line)
        if found is None:
            continue
        angle, (x, y) = math.degrees(found.angle), found.place
        if not angle >= LEAST_CROSSING_DEG:
            yield (
                f"{bevel.path}: plunge {number} meets the edge at {angle:.1f} degrees, at"
                f" {Place(x, y):.1f}; at least {LEAST_CROSSING_DEG:g} degrees are wanted, or it runs"
                " along the bevel instead of ending it: draw its line across the bevel"
            )


def refused(blade: Blade) -> tuple[str, ...]:
    """Return why the blade cannot be made, one line a reason; nothing when it can.

    Where a bevel's own figures are wrong, or two bevels lie on one edge, what follows from them is
    not looked at.
    """
    lines = [line for bevel in blade.bevels for rule in VALUE_CHECKS for line in rule(bevel, blade)]
    lines = lines or list(doubled(blade))
    if lines:
        return tuple(lines)
    places = (*PLACE_CHECKS, crossing_faults, overrun_faults)
    lines = [line for bevel in blade.bevels for rule in places for line in rule(bevel, blade)]
    made = list(lands(blade)) or list(metal(blade))
    return (*lines, *made, *edge_break_faults(blade), *jimping_faults(blade))

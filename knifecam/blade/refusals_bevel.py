"""Which bevels cannot be: figures that contradict each other, the plate or the outline."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator

import numpy as np

from knifecam.blade.bevel import SIDES, Bevel, Plunge, arc_radius, edge_height, grind_height
from knifecam.blade.bevel_geometry import edge_length, width_at
from knifecam.blade.blade import Blade
from knifecam.blade.cutter_limits import GREATEST_ANGLE, LEAST_ANGLE
from knifecam.blade.finished_surface import edge_curve, least_bevel
from knifecam.blade.heel_overrun import crossing_of
from knifecam.curve import place_at, resample
from knifecam.curve.curve import Floats
from knifecam.curve.prolonged_distance import signed_line_distance
from knifecam.curve.stations import shared
from knifecam.errors import ShapeError
from knifecam.quantity import Place, bare, mm, most_mm

SAME = 1e-6
"""mm: figures that differ by less agree."""

MEETS = 0.1
"""mm of the outline that bevels which end where the next begins may share."""

SPACING = 0.5
"""mm between the places of the outline that are looked at."""


def angle(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """Bevels are between 1.5 and 25 degrees a side."""
    if not LEAST_ANGLE - 1e-12 <= bevel.angle <= GREATEST_ANGLE + 1e-12:
        yield (
            f"bevel '{bevel.name}': angle={math.degrees(bevel.angle):.3f} degrees must be within"
            f" {math.degrees(LEAST_ANGLE):g}..{math.degrees(GREATEST_ANGLE):g} a side"
            f"{_heights(bevel, blade)}"
        )


def _heights(bevel: Bevel, blade: Blade) -> str:
    """Return between which grind heights the allowed angles lie, where anything is ground."""
    rise = max(blade.thickness / 2 - edge_height(bevel, side) for side in SIDES if bevel.on(side))
    if not rise > 0:
        return ""
    least, most = (rise / math.tan(angle) for angle in (GREATEST_ANGLE, LEAST_ANGLE))
    return f", which is a height of {bare(least):.3f} to {mm(most):.3f}"


def land(bevel: Bevel, blade: Blade) -> Iterator[str]:
    """The land is thinner than the plate and lies in it."""
    thickness = blade.thickness
    if not bevel.land < thickness:
        yield (
            f"bevel '{bevel.name}': land={mm(bevel.land):.3f} must be less than the"
            f" thickness={mm(thickness):.3f}; order a thinner land"
        )
        return
    room = (thickness - bevel.land) / 2
    if not abs(bevel.edge_at) <= room + SAME:
        yield (
            f"bevel '{bevel.name}': edge_at={mm(bevel.edge_at):.3f} puts the land out of the plate;"
            f" use {bare(-room):.3f}..{mm(room):.3f}"
        )
    for side in filter(bevel.on, SIDES):
        if not edge_height(bevel, side) < thickness / 2 - SAME:
            yield (
                f"bevel '{bevel.name}': the land reaches side {side}'s face, nothing is ground there;"
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
    if not edge_length(bevel, blade) > SAME:
        yield f"bevel '{bevel.name}': the edge has no length; name two different stations"
        return
    edge = edge_curve(bevel, blade.outline)
    turns = edge.start_headings[1:] - edge.end_headings[:-1]
    turn = edge.angles.sum() + ((turns + math.pi) % (2 * math.pi) - math.pi).sum()
    if not abs(turn) < math.pi:
        yield (
            f"bevel '{bevel.name}': the edge turns by {math.degrees(turn):.1f} degrees; its end"
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
            if not high <= wide + SAME:
                yield (
                    f"bevel '{bevel.name}': grind height={mm(high):.3f} on side {side} is more than"
                    f" the blade's width of {mm(wide):.3f} at {name};"
                    f" {_narrower(bevel, blade, side, wide)}"
                )
                break


def _narrower(bevel: Bevel, blade: Blade, side: str, wide: float) -> str:
    """Return what makes a bevel no wider than ``wide`` mm: never an angle that is itself refused."""
    low = math.atan((blade.thickness / 2 - edge_height(bevel, side)) / wide)
    if low > GREATEST_ANGLE:
        return (
            f"{math.degrees(low):.1f} degrees would be needed, {math.degrees(GREATEST_ANGLE):g} are"
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
                f"bevel '{bevel.name}': plunge {number} does not cross the edge; move its line, or"
                " leave it out where the bevel runs out of the blade"
            )
        elif not float(signed_line_distance(middle, plunge.line)[0]) < 0:
            yield (
                f"bevel '{bevel.name}': the middle of the edge lies on the left of plunge {number};"
                " reverse its line, so that the bevel is on the right"
            )


def doubled(blade: Blade) -> Iterator[str]:
    """No two bevels lie on one stretch of the edge on one side."""
    for one, other in itertools.combinations(blade.bevels, 2):
        sides = [side for side in SIDES if one.on(side) and other.on(side)]
        both = shared(blade.outline, one.edge, other.edge)
        if sides and both > MEETS:
            yield (
                f"bevel '{other.name}' lies on {mm(both):.2f} of the edge of bevel '{one.name}' on side"
                f" {' and '.join(sides)}: two bevels on one edge of one side, the flatter removes the"
                " other; keep one of them, or give each a stretch of its own"
            )


def metal(blade: Blade) -> Iterator[str]:
    """No bevel cuts the outline thinner than its land."""
    if not blade.bevels:
        return
    least = min(bevel.land for bevel in blade.bevels)
    _, points, _ = resample(blade.outline, SPACING)
    thin = _left(blade, points)
    worst = int(np.argmin(thin))
    if not thin[worst] >= least - SAME:
        x, y = points[worst]
        yield (
            f"bevels leave {mm(thin[worst]):.3f} at {Place(x, y):.3f} of the outline, less than the land,"
            f" land={mm(least):.3f}; let a plunge end the bevel before it, or mend the edge's ends"
        )


def lands(blade: Blade) -> Iterator[str]:
    """The thickness at the middle of every edge is its land: both sides' figures agree."""
    for bevel in blade.bevels:
        edge = edge_curve(bevel, blade.outline)
        made = float(_left(blade, place_at(edge, edge.length / 2)[0])[0])
        if not abs(made - bevel.land) <= SAME:
            flush = (blade.thickness - bevel.land) / 2
            yield (
                f"bevel '{bevel.name}': land={mm(bevel.land):.3f}, but both sides leave {mm(made):.3f};"
                f" a bevel on one side alone wants edge_at={mm(flush):.3f} on B, {mm(-flush):.3f} on A;"
                ' where another grinds the other side of its edge, both want edge_at="middle"'
            )


def plunge_station(bevel: Bevel, plunge: Plunge, blade: Blade) -> float | None:
    """Return the station of the outline where the plunge's line crosses the edge; None if nowhere."""
    found = crossing_of(edge_curve(bevel, blade.outline), plunge.line)
    return None if found is None else bevel.edge.start + found.station


def _left(blade: Blade, points: Floats) -> Floats:
    """Thickness (K,) mm that the bevels leave, openings and breaks aside."""
    half = blade.thickness / 2
    a, b = (np.minimum(half, least_bevel(blade, points, side)) for side in SIDES)
    return np.asarray(a + b)


FIGURES: tuple[Callable[[Bevel, Blade], Iterator[str]], ...] = (angle, land, monotone, stretch)
PLACES: tuple[Callable[[Bevel, Blade], Iterator[str]], ...] = (plunges, width)

"""Which edge breaks and which jimping cannot be."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from knifecam.blade.bevel import SIDES
from knifecam.blade.blade import Blade, EdgeBreak
from knifecam.blade.edge_break_face import broken_curves
from knifecam.blade.finished_surface import bevelled
from knifecam.blade.jimping import LEAST_LAND, land_between
from knifecam.blade.openings import opened
from knifecam.curve import resample
from knifecam.curve.curve import Floats
from knifecam.curve.stations import shared
from knifecam.quantity import Place, least_mm, mm

SAME = 1e-6
"""mm: figures that differ by less agree."""

SPACING = 0.2
"""mm between the places of a break's stretch that are looked at."""


def broken(blade: Blade) -> Iterator[str]:
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
        if not one.depth < blade.thickness / 2 - SAME:
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
            if whole or any(shared(blade.outline, s, row.stretch) > SAME for s in one.stretches):
                yield (
                    f"edge break '{one.name}' runs over the notches of jimping '{row.name}'; end it"
                    " before them"
                )


def jimped(blade: Blade) -> Iterator[str]:
    """Notches leave metal between them and stay off bevels."""
    for row in blade.jimping:
        land_left = land_between(row, blade.outline)
        if not land_left >= LEAST_LAND - SAME:
            yield (
                f"jimping '{row.name}': pitch={mm(row.pitch):.3f} leaves {mm(land_left):.3f} between"
                f" notches of {mm(row.diameter):.3f}; {least_mm(LEAST_LAND)} or more does not chip. Use a"
                " greater pitch, a smaller diameter or less depth"
            )
        around = 2 * math.pi * np.arange(24) / 24
        ring = row.diameter / 2 * np.stack([np.cos(around), np.sin(around)], axis=1)
        points = (np.array(row.centres)[:, None] + ring).reshape(-1, 2)
        solid = ~opened(blade, points)
        for side in SIDES:
            if bevelled(blade, points[solid], side).any():
                yield (
                    f"jimping '{row.name}' runs into a bevel on side {side}; move it along the outline"
                )


def _ground_places(one: EdgeBreak, blade: Blade) -> Floats:
    """Places (K, 2) of the outline's break whose wall is ground on the other side alone."""
    if one.of != "outline":
        return np.zeros((0, 2))
    other = SIDES[1 - SIDES.index(one.side)]
    points = np.concatenate([resample(c, SPACING)[1] for c in broken_curves(one, blade)])
    return points[bevelled(blade, points, other) & ~bevelled(blade, points, one.side)]


def _bevelled_places(one: EdgeBreak, blade: Blade) -> Floats:
    """Places (K, 2) of the break, on the wall or at its width, where the face falls off."""
    inward = 1.0 if one.of == "outline" else -1.0
    found = []
    for curve in broken_curves(one, blade):
        _, points, headings = resample(curve, SPACING)
        left = np.stack([-np.sin(headings), np.cos(headings)], axis=1)
        for points_ in (points, points + inward * one.width * left):
            found.append(points_[bevelled(blade, points_, one.side)])
    return np.concatenate(found)

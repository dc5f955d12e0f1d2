"""Patterns: one cell repeated in rows over a region, or along a curve. Part frame, mm and rad."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from knifecam.curve import Curve, circle, distance, place_at, resample, signed_distance, winding
from knifecam.curve.curve import Floats, Placement, placed

SPACING = 0.05
"""mm between the places of a cell's outline at which the metal beside it is measured."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A cell about the origin: its counter-clockwise outline, and its diameter if it is round."""

    outline: Curve
    diameter: float | None = None

    def at(self, x: float, y: float, angle: float) -> Curve:
        """Return the outline turned by ``angle`` and moved to a place."""
        if self.diameter is not None:
            return circle((x, y), self.diameter)
        return placed(self.outline, Placement(angle=angle, x=x, y=y))


def round_cell(diameter: float) -> Cell:
    """Return a round cell."""
    return Cell(outline=circle((0.0, 0.0), diameter), diameter=diameter)


def slot_outline(length: float, width: float) -> Curve:
    """Return a straight slot with round ends along X about the origin, ``length`` over all."""
    x, r = (length - width) / 2, width / 2
    return Curve(np.array([[-x, -r], [x, -r], [x, r], [-x, r]]), np.array([0.0, 1.0, 0.0, 1.0]))


def drawn_cell(curve: Curve) -> Cell:
    """Return a drawn cell, moved so that the middle of its extent lies in the origin."""
    low_x, low_y, high_x, high_y = curve.bounds
    middle = Placement(x=-(low_x + high_x) / 2, y=-(low_y + high_y) / 2)
    return Cell(outline=placed(curve, middle).counter_clockwise(), diameter=_round(curve))


def _round(curve: Curve) -> float | None:
    """Return the diameter of a curve that is one circle, else None."""
    if not curve.is_arc.all() or not np.ptp(curve.radii) < 1e-9:
        return None
    if not np.ptp(curve.centres, axis=0).max() < 1e-9:
        return None
    return float(2 * curve.radii[0])


Place = tuple[float, float, float]
"""x, y and angle of a cell."""


def in_rows(
    cell: Cell, region: Curve, *, pitch: float, row_pitch: float, staggered: bool, angle: float
) -> tuple[Place, ...]:
    """Return where whole cells lie inside the closed region, row by row.

    Rows run at ``angle``, the cells turned with them. Of the four ways to lay the rows about the
    middle of the region's extent, with a cell or a gap in it either way, the one that holds most
    cells is taken.
    """
    level = placed(region, Placement(angle=-angle))
    low_x, low_y, high_x, high_y = level.bounds
    middle = np.array([(low_x + high_x) / 2, (low_y + high_y) / 2])
    columns = math.ceil((high_x - low_x) / pitch / 2) + 1
    rows = math.ceil((high_y - low_y) / row_pitch / 2) + 1
    j, i = np.meshgrid(np.arange(-rows, rows + 1), np.arange(-columns, columns + 1), indexing="ij")
    shift = (j % 2) / 2 if staggered else np.zeros(j.shape)
    best: tuple[Place, ...] = ()
    for phase_y in (0.0, 0.5):
        for phase_x in (0.0, 0.5):
            x = middle[0] + pitch * (i + phase_x + shift)
            y = middle[1] + row_pitch * (j + phase_y)
            on = (x > low_x) & (x < high_x) & (y > low_y) & (y < high_y)
            found = [(float(u), float(v), 0.0) for u, v in zip(x[on], y[on], strict=True)]
            held = tuple(at for at in found if lies_inside(cell.at(*at), level))
            best = held if len(held) > len(best) else best
    turned = Placement(angle=angle).of([at[:2] for at in best]) if best else np.zeros((0, 2))
    return tuple((float(x), float(y), angle) for x, y in turned)


def along_curve(
    line: Curve, *, pitch: float, rows: int, row_pitch: float, staggered: bool, angle: float
) -> tuple[Place, ...]:
    """Return places along a curve, row by row beside it, cells turned with it and by ``angle``.

    Cells stand ``pitch`` apart about the middle of an open curve's length; a closed one is shared
    out evenly at the nearest pitch that is not less.
    """
    found: list[Place] = []
    for row in range(rows):
        shift = pitch / 2 if staggered and row % 2 else 0.0
        points, headings = place_at(line, _stations(line, pitch, shift))
        aside = (row - (rows - 1) / 2) * row_pitch
        normal = np.stack([-np.sin(headings), np.cos(headings)], axis=1)
        for (x, y), heading in zip(points + aside * normal, headings, strict=True):
            found.append((float(x), float(y), float(heading) + angle))
    return tuple(found)


def _stations(line: Curve, pitch: float, shift: float) -> Floats:
    if line.closed:
        count = max(1, math.floor(line.length / pitch + 1e-9))
        return np.asarray(
            shift / pitch * line.length / count + np.arange(count) * line.length / count
        )
    count = math.floor((line.length - 2 * shift) / pitch + 1e-9) + 1
    return np.asarray(line.length / 2 + (np.arange(count) - (count - 1) / 2) * pitch)


def lies_inside(cell: Curve, region: Curve) -> bool:
    """Tell whether a closed curve lies inside another, not crossing it."""
    return bool((signed_distance(_places(cell), region) >= -1e-9).all())


def metal_between(first: Curve, second: Curve) -> float:
    """Return the least metal in mm between two openings; below 0 where one lies in the other."""
    places = _places(first)
    inside = winding(places, second).any() or winding(_places(second), first).any()
    return -1.0 if inside else float(distance(places, second).min())


def metal_to(outline: Curve, cell: Curve) -> float:
    """Return the least metal in mm from a cell to the outline; below 0 where it passes it."""
    return float(signed_distance(_places(cell), outline).min())


def near(first: Curve, second: Curve, gap: float) -> bool:
    """Tell whether the extents of two curves come within ``gap`` mm."""
    a, b = first.bounds, second.bounds
    return all(a[k] - gap < b[k + 2] and b[k] - gap < a[k + 2] for k in (0, 1))


def _places(curve: Curve) -> Floats:
    return resample(curve, SPACING)[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """The cells that may stay, and how many were left out for margin, web and bevels."""

    cells: tuple[Curve, ...]
    by_margin: int = 0
    by_web: int = 0


def kept_cells(
    cells: Sequence[Curve], outline: Curve, openings: Sequence[Curve], *, margin: float, web: float
) -> Kept:
    """Return the cells that leave ``margin`` to the outline and ``web`` to openings and each other.

    Of two cells that come too near to each other the later is left out.
    """
    found: list[Curve] = []
    by_margin = by_web = 0
    for cell in cells:
        if not metal_to(outline, cell) >= margin - 1e-6:
            by_margin += 1
        elif any(
            near(cell, other, web) and not metal_between(cell, other) >= web - 1e-6
            for other in (*openings, *found)
        ):
            by_web += 1
        else:
            found.append(cell)
    return Kept(cells=tuple(found), by_margin=by_margin, by_web=by_web)

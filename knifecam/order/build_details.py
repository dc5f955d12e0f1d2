"""Slots, patterns, jimping and edge breaks of a blade."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from knifecam.blade import Blade, Bore, EdgeBreak, Slot
from knifecam.blade.bevel import SIDES
from knifecam.blade.finished_surface import bevelled
from knifecam.blade.jimping import Jimping, fitted_row
from knifecam.curve import (
    Curve,
    Stretch,
    circle,
    distance,
    place_at,
    polyline,
    resample,
    signed_distance,
    winding,
)
from knifecam.curve.curve import Floats, Placement, placed
from knifecam.errors import ShapeError
from knifecam.order.blade_tables import (
    EdgeBreakSection,
    JimpingSection,
    PatternSection,
    SlotSection,
)
from knifecam.order.build_outline import stretch_of, stretches_of
from knifecam.order.drawing_source import DrawnParts
from knifecam.order.fill_defaults import note_assumed, refuse_idle
from knifecam.order.order_limits import (
    CELL_MARGIN_MM,
    CELL_SAMPLE_MM,
    CELL_WEB_MM,
    CELL_WEB_SHARE,
    OFF_BEVEL_MM,
)
from knifecam.order.toml_text import OrderNotes
from knifecam.quantity import mm
from knifecam.record import as_written
from knifecam.shop.assumptions import PRACTICE, Assumption, Why


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
    return bool((signed_distance(_cell_places(cell), region) >= -1e-9).all())


def metal_between(first: Curve, second: Curve) -> float:
    """Return the least metal in mm between two openings; below 0 where one lies in the other."""
    places = _cell_places(first)
    inside = winding(places, second).any() or winding(_cell_places(second), first).any()
    return -1.0 if inside else float(distance(places, second).min())


def metal_to(outline: Curve, cell: Curve) -> float:
    """Return the least metal in mm from a cell to the outline; below 0 where it passes it."""
    return float(signed_distance(_cell_places(cell), outline).min())


def near(first: Curve, second: Curve, gap: float) -> bool:
    """Tell whether the extents of two curves come within ``gap`` mm."""
    a, b = first.bounds, second.bounds
    return all(a[k] - gap < b[k + 2] and b[k] - gap < a[k + 2] for k in (0, 1))


def _cell_places(curve: Curve) -> Floats:
    return resample(curve, CELL_SAMPLE_MM)[1]


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


STAGGERED = math.sqrt(3) / 2
"""Row pitch in pitches at which all neighbours of a staggered row are equally far away."""


def with_openings(
    blade: Blade,
    slots: Sequence[SlotSection],
    patterns: Sequence[PatternSection],
    parts: DrawnParts,
    notes: OrderNotes,
) -> Blade:
    """Return the blade with the slots by figures and the patterns' cells."""
    made = tuple(
        _slot(one, f"slots[{k}]", f"S{len(blade.slots) + k}", notes)
        for k, one in enumerate(slots, start=1)
    )
    blade = replace(blade, slots=(*blade.slots, *(s for s in made if s is not None)))
    for place, one in enumerate(patterns, start=1):
        blade = _with_pattern(blade, one, place, parts, notes)
    _refuse_doubles([*blade.bores, *blade.slots], notes)
    return blade


def _refuse_doubles(openings: Sequence[Bore | Slot], notes: OrderNotes) -> None:
    names = [one.name for one in openings]
    for name in sorted({n for n in names if names.count(n) > 1}):
        notes.troubles.append(
            f'slots and patterns: the name "{name}" stands twice among bores and slots; give each'
            " its own"
        )


def _slot(section: SlotSection, path: str, name: str, notes: OrderNotes) -> Slot | None:
    if not section.width < section.length:
        notes.troubles.append(
            f"{path}.width={mm(section.width):g} must be less than length={mm(section.length):g}; a"
            " round opening is a bore"
        )
        return None
    x, y = section.centre
    outline = slot_outline(section.length, section.width)
    at = Placement(angle=section.angle, x=x, y=y)
    return Slot(name=section.name or name, outline=placed(outline, at))


def _with_pattern(
    blade: Blade, section: PatternSection, place: int, parts: DrawnParts, notes: OrderNotes
) -> Blade:
    path, name = f"patterns[{place}]", section.name or f"P{place}"
    cell = _cell(section, path, parts, notes)
    if cell is None:
        return blade
    margin, web = _margins(section, path, blade, notes)
    row_pitch = section.row_pitch
    if row_pitch is None:
        row_pitch = section.pitch * (STAGGERED if section.staggered else 1.0)
        if section.region is not None or (section.rows or 1) > 1:
            why = "staggered" if section.staggered else "as the pitch"
            note_assumed(section, "row_pitch", row_pitch, why, path, notes)
    places = _places(section, path, cell, row_pitch, parts, notes)
    if places is None:
        return blade
    openings = [circle(b.centre, b.diameter) for b in blade.bores]
    openings += [s.outline for s in blade.slots]
    kept = kept_cells(
        [cell.at(*at) for at in places], blade.outline, openings, margin=margin, web=web
    )
    _tell(kept, path, margin, web, notes)
    return _with_cells(blade, name, cell, kept.cells)


def _tell(kept: Kept, path: str, margin: float, web: float, notes: OrderNotes) -> None:
    """Note how many cells there are and how many were left out, or refuse a pattern without any."""
    left = f"{kept.by_margin} for the margin of {mm(margin):g}, {kept.by_web} for the web of {mm(web):g}"
    if not kept.cells:
        notes.troubles.append(
            f"{path}: no cell is left, {left}; order a smaller cell, or less margin or web"
        )
    else:
        cells, why = f"cells = {len(kept.cells)}", Why(f"left out: {left}")
        notes.assumed.append(Assumption(table=path, value=cells, why=why))


def _with_cells(blade: Blade, name: str, cell: Cell, found: Sequence[Curve]) -> Blade:
    digits = max(2, len(str(len(found))))
    names = [f"{name}-{k:0{digits}d}" for k in range(1, len(found) + 1)]
    if cell.diameter is None:
        slots = tuple(Slot(name=n, outline=c) for n, c in zip(names, found, strict=True))
        return replace(blade, slots=(*blade.slots, *slots))
    bores = tuple(
        Bore(name=n, centre=_middle(c), diameter=cell.diameter)
        for n, c in zip(names, found, strict=True)
    )
    return replace(blade, bores=(*blade.bores, *bores))


def _middle(curve: Curve) -> tuple[float, float]:
    x, y = curve.vertices.mean(axis=0)
    return float(x), float(y)


def _margins(
    section: PatternSection, path: str, blade: Blade, notes: OrderNotes
) -> tuple[float, float]:
    margin, web = section.margin, section.web
    if margin is None:
        margin = CELL_MARGIN_MM
        note_assumed(section, "margin", margin, PRACTICE, path, notes)
    if web is None:
        web = round(max(CELL_WEB_MM, CELL_WEB_SHARE * blade.thickness), 4)
        note_assumed(section, "web", web, "by blade thickness; common practice", path, notes)
    return margin, web


def _cell(section: PatternSection, path: str, parts: DrawnParts, notes: OrderNotes) -> Cell | None:
    by_slot = (section.length, section.width)
    given = [section.cell is not None, section.diameter is not None, by_slot != (None, None)]
    if sum(given) != 1 or (given[2] and None in by_slot):
        notes.troubles.append(
            f"{path}: give the cell once: a layer as cell, a diameter, or length and width"
        )
        return None
    if section.diameter is not None:
        return round_cell(section.diameter)
    if section.cell is None:
        length, width = section.length or 0.0, section.width or 0.0
        if length > width:
            return Cell(outline=slot_outline(length, width))
        notes.troubles.append(
            f"{path}.width={mm(width):g} must be less than length={mm(length):g}; for a round cell give"
            " its diameter"
        )
        return None
    curve = _one_curve(section.cell, f"{path}.cell", parts, notes)
    if curve is not None and not curve.closed:
        notes.troubles.append(
            f"{path}.cell={as_written(section.cell)} holds an open curve; close it"
        )
        return None
    return None if curve is None else drawn_cell(curve)


def _places(
    section: PatternSection,
    path: str,
    cell: Cell,
    row_pitch: float,
    parts: DrawnParts,
    notes: OrderNotes,
) -> tuple[Place, ...] | None:
    if (section.region is None) == (section.along is None):
        notes.troubles.append(f"{path}: give one of region and along")
        return None
    if section.along is not None:
        _refuse_idle_along(section, path, cell, notes)
        line = _curve(section.along, f"{path}.along", parts, notes, closed=False)
        if line is None:
            return None
        return along_curve(
            line, pitch=section.pitch, rows=section.rows or 1, row_pitch=row_pitch,
            staggered=section.staggered, angle=section.angle,
        )  # fmt: skip
    if section.rows is not None:
        notes.troubles.append(f"{path}.rows goes with along; a region is filled with rows")
    region = _curve(section.region or "", f"{path}.region", parts, notes, closed=True)
    if region is None:
        return None
    return in_rows(
        cell, region, pitch=section.pitch, row_pitch=row_pitch, staggered=section.staggered,
        angle=section.angle,
    )  # fmt: skip


def _refuse_idle_along(section: PatternSection, path: str, cell: Cell, notes: OrderNotes) -> None:
    """Refuse what says nothing of one row of cells, or of round ones, along a curve."""
    idle = {} if cell.diameter is None else {"angle": "on round cells along a curve"}
    if (section.rows or 1) == 1:
        idle |= dict.fromkeys(("row_pitch", "staggered"), "on one row along a curve")
    refuse_idle(section, path, idle, notes)


def _curve(
    given: str | tuple[tuple[float, float], ...],
    path: str,
    parts: DrawnParts,
    notes: OrderNotes,
    *,
    closed: bool,
) -> Curve | None:
    if not isinstance(given, str):
        return polyline(given, closed=closed)
    curve = _one_curve(given, path, parts, notes)
    if curve is not None and closed and not curve.closed:
        notes.troubles.append(f"{path}={as_written(given)} holds an open curve; a region is closed")
        return None
    return curve.counter_clockwise() if curve is not None and closed else curve


def _one_curve(layer: str, path: str, parts: DrawnParts, notes: OrderNotes) -> Curve | None:
    shapes = dict(getattr(parts, "shapes", ()))
    found = shapes.get(layer.casefold(), ())
    if len(found) == 1:
        return found[0]
    notes.troubles.append(
        f"{path}={as_written(layer)} must be a layer of the drawing with exactly one curve; it has"
        f" {len(found)}"
    )
    return None


def with_details(
    blade: Blade,
    jimping: Sequence[JimpingSection],
    breaks: Sequence[EdgeBreakSection],
    notes: OrderNotes,
) -> Blade:
    """Return the blade with its jimping and its edge breaks."""
    rows = [_row(one, k, blade, notes) for k, one in enumerate(jimping, start=1)]
    blade = replace(blade, jimping=tuple(row for row in rows if row is not None))
    found = [
        made for k, one in enumerate(breaks, start=1) for made in _breaks(one, k, blade, notes)
    ]
    return replace(blade, breaks=tuple(found))


def _row(section: JimpingSection, place: int, blade: Blade, notes: OrderNotes) -> Jimping | None:
    path = f"jimping[{place}]"
    stretch = stretch_of(section.stretch, f"{path}.stretch", blade.outline, notes)
    if stretch is None:
        return None
    try:
        row = fitted_row(
            blade.outline, stretch, name=section.name or f"J{place}",
            diameter=section.diameter, depth=section.depth, pitch=section.pitch,
        )  # fmt: skip
    except ShapeError as error:
        notes.troubles += [f"{path}: {line}" for line in error.said]
        return None
    notches = f"notches = {len(row.centres)}, pitch = {mm(row.pitch):.3f}"
    notes.assumed.append(Assumption(table=path, value=notches, why=Why("fitted to its stretch")))
    return row


def _breaks(
    section: EdgeBreakSection, place: int, blade: Blade, notes: OrderNotes
) -> list[EdgeBreak]:
    path = f"edge_breaks[{place}]"
    wanted = (section.of,) if isinstance(section.of, str) else section.of
    names = [name for one in wanted for name in _meant(one, path, blade, notes)]
    sides = ("A", "B") if section.side == "both" else (section.side,)
    if "outline" not in names:
        refuse_idle(section, path, {"stretches": 'without "outline" in of'}, notes)
    stretches = stretches_of(section.stretches or (), f"{path}.stretches", blade.outline, notes)
    found = []
    for of in dict.fromkeys(names):
        for side in sides:
            where = stretches if of == "outline" else ()
            if of == "outline" and section.stretches is None:
                where = flat_stretches(blade, side, section.width)
            found.append(
                EdgeBreak(
                    name=section.name or f"E{place}", of=of, side=side, width=section.width,
                    angle=section.angle, stretches=where,
                )
            )  # fmt: skip
    return found


def _meant(name: str, path: str, blade: Blade, notes: OrderNotes) -> list[str]:
    bores, slots = [b.name for b in blade.bores], [s.name for s in blade.slots]
    if name in ("outline", *bores, *slots):
        return [name]
    if name in ("bores", "slots"):
        meant = bores if name == "bores" else slots
        if not meant:
            notes.troubles.append(
                f'{path}.of="{name}": the blade has none; name their layer under drawing.{name}, or'
                " leave this out"
            )
        return meant
    cells_of = [n for n in (*bores, *slots) if n.rpartition("-")[0] == name]
    if not cells_of:
        notes.troubles.append(
            f'{path}.of="{name}" is no bore, slot or pattern of the blade; it may also be "outline",'
            ' "bores" or "slots"'
        )
    return cells_of


def flat_stretches(blade: Blade, side: str, width: float) -> tuple[Stretch, ...]:
    """Return the stretches of the outline along which ``side`` is flat; empty for all of it.

    They end `OFF_BEVEL_MM` mm short of jimping, of where a bevel begins within ``width`` mm of the
    outline, and of edges ground from the other side, whose land a break would take.
    """
    outline = blade.outline
    stations, points, headings = resample(outline, 0.05)
    off = np.zeros(len(stations), bool)
    for row in blade.jimping:
        off |= row.stretch.holds(stations, outline.length)
    if any(bevel.on(side) for bevel in blade.bevels):
        inward = np.stack([-np.sin(headings), np.cos(headings)], axis=1)
        off |= bevelled(blade, points + width * inward, side)
    for ground in SIDES if blade.bevels else ():
        off |= bevelled(blade, points, ground)
    if not off.any():
        return ()
    order = np.roll(np.arange(len(off)), -int(np.argmax(off)))
    edges = np.flatnonzero(np.diff(np.concatenate([[1], off[order].astype(int), [1]])))
    found = []
    for low, high in zip(edges[::2], edges[1::2], strict=True):
        start, end = float(stations[order[low]]), float(stations[order[(high - 1) % len(order)]])
        if (end - start) % outline.length > 2 * OFF_BEVEL_MM:
            whole = outline.length
            found.append(
                Stretch(start=(start + OFF_BEVEL_MM) % whole, end=(end - OFF_BEVEL_MM) % whole)
            )
    return tuple(found)

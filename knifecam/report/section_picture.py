"""Three cross-sections of the blade as it was cut, true to scale, with what was wanted."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from knifecam.blade.bevel import bevel_named
from knifecam.blade.finished_surface import edge_curve, half_thickness, near_break_ends
from knifecam.curve import place_at
from knifecam.judge.prove import Judged
from knifecam.measure.sample_columns import read_places
from knifecam.quantity import bare, mm, um
from knifecam.report.plate_picture import (
    DPI,
    FINE_LINE,
    INK,
    LINE,
    PAPER,
    SHEET_MARGIN_IN,
    SHEET_WIDTH_IN,
)
from knifecam.report.report_limits import (
    DASHES_SHOW_MM,
    DRAWN_BESIDE_MM,
    DRAWN_WHOLE_MM,
    SECTION_PLACE_SHARES,
    SECTION_SAMPLE_MM,
)
from knifecam.sheet import plainly, save

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]

OFF_WALLS = 3
"""Sample columns beside a wall that do not count when section and wanted surface are compared."""

LAND_NEAR_MM = 1.0
"""mm along the edge: how far from a section its land may have been measured."""

RULER = {"mm": 2.0, "in": 2.54}
"""mm: a round length in the order's unit."""


@dataclass(frozen=True, eq=False, kw_only=True)
class _Section:
    """A section: ``run`` (n,) mm from the edge inward; the faces as cut (2, n) and as wanted, NaN
    where there is no metal; ``judged`` (n,) where they are compared, which is not where an edge
    break fades out."""

    title: str
    bevel: int
    station: float
    judged: NDArray[np.bool_]
    run: Floats
    cut: Floats
    wanted: Floats


@plainly
def sections_picture(judged: Judged, path: str | Path) -> None:
    """Write three sections square to the edges of the first two bevels as PNG."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    found = [
        _section(judged, which, share, number)
        for number, (which, share) in enumerate(_places(judged), 1)
    ]
    reach = max(float(s.run.max() - s.run.min()) for s in found)
    wide = SHEET_WIDTH_IN - 2 * SHEET_MARGIN_IN
    tall = wide / reach * (judged.case.wanted.thickness + 1.0)
    height = len(found) * (tall + 0.75) + SHEET_MARGIN_IN
    figure = Figure(figsize=(SHEET_WIDTH_IN, height), dpi=DPI, facecolor=tuple(PAPER))
    FigureCanvasAgg(figure)
    top = height - 0.15
    for section in found:
        top -= tall + 0.7
        axes = figure.add_axes(
            (SHEET_MARGIN_IN / SHEET_WIDTH_IN, top / height, wide / SHEET_WIDTH_IN, tall / height)
        )
        _draw(axes, judged, section, reach)
    save(figure, path, judged.case.order.units)


def _places(judged: Judged) -> list[tuple[int, float]]:
    """Return three places as bevel and share of its edge: the first bevel near both ends of its
    edge, and midway the second bevel where there is one, else the first."""
    first, middle, last = SECTION_PLACE_SHARES
    second = min(1, len(judged.case.order.blade.bevels) - 1)
    return [(0, first), (second, middle), (0, last)]


def _section(judged: Judged, which: int, share: float, number: int) -> _Section:
    order = judged.case.order
    bevel = order.blade.bevels[which]
    edge = edge_curve(bevel, order.blade.outline)
    station = share * edge.length
    point, heading = place_at(edge, [station])
    inward = np.array([-np.sin(heading[0]), np.cos(heading[0])])
    low_x, low_y, high_x, high_y = order.blade.outline.bounds
    run = np.arange(-DRAWN_BESIDE_MM, np.hypot(high_x - low_x, high_y - low_y), SECTION_SAMPLE_MM)
    points = point[0] + run[:, None] * inward
    wanted = np.stack([half_thickness(order.blade, points, side) for side in "AB"])
    wanted = np.where(np.isfinite(wanted), wanted, np.nan)
    kept = slice(0, _length(wanted, order.blade.thickness))
    seen = read_places(order, judged.case.sides, points[kept])
    metal = seen.thickness > 1e-6
    fading = [near_break_ends(order.blade, points[kept], side) for side in "AB"]
    title = (
        f"section {number}: {mm(station):.1f} along the edge of {bevel_named(bevel.name)}, "
        f"X {bare(point[0, 0]):.1f} Y {bare(point[0, 1]):.1f}"
    )
    return _Section(
        title=title, bevel=which, station=station, judged=~np.logical_or(*fading), run=run[kept],
        cut=np.where(metal, seen.heights, np.nan), wanted=wanted[:, kept],
    )  # fmt: skip


def _length(wanted: Floats, thickness: float) -> int:
    """Return how many places of a section are drawn: to the blade's far side, or past its bevel."""
    last = int(np.flatnonzero(np.isfinite(wanted[0])).max(initial=0))
    whole = (wanted >= thickness / 2 - 1e-6).all(axis=0)
    ground = int(whole.argmax()) if whole.any() else last
    return min(
        last + int(DRAWN_BESIDE_MM / SECTION_SAMPLE_MM),
        max(2 * ground, int(DRAWN_WHOLE_MM / SECTION_SAMPLE_MM)),
        wanted.shape[1],
    )


def _draw(axes: Axes, judged: Judged, section: _Section, reach: float) -> None:
    run, half = section.run, judged.case.wanted.thickness / 2
    upper, lower = section.cut[0], -section.cut[1]
    blade = np.isfinite(section.wanted[0])
    style: dict[str, Any] = {"edgecolor": tuple(INK), "linewidth": 0.0}
    for where, hatch in ((blade, "///"), (~blade, "...")):
        axes.fill_between(
            run, lower, upper, where=where & np.isfinite(upper), facecolor="none", hatch=hatch,
            **style,
        )  # fmt: skip
    for face in (upper, lower):
        axes.plot(run, face, color=INK, lw=LINE)
    metal = np.isfinite(upper)
    ends = np.flatnonzero(np.diff(metal.astype(int), prepend=0, append=0))
    for wall in (*ends[::2], *(ends[1::2] - 1)[ends[1::2] < len(run)]):
        axes.plot(run[[wall, wall]], [lower[wall], upper[wall]], color=INK, lw=LINE)
    for which, sign in enumerate((1.0, -1.0)):
        axes.plot(run, sign * section.wanted[which], color=INK, lw=FINE_LINE, ls=(0, (6, 3)))
    axes.set_xlim(run[0], run[0] + reach)
    axes.set_ylim(-half - 0.5, half + 0.5)
    axes.set_aspect("equal")
    axes.axis("off")
    axes.set_title(section.title, fontsize=8.5, color=INK, loc="left", pad=3)
    axes.text(run[0], half, "A", fontsize=7, color=INK, va="center")
    axes.text(run[0], -half, "B", fontsize=7, color=INK, va="center")
    axes.text(
        run[0] + reach, half + 0.55, _figures(judged, section), fontsize=7, color=INK, va="bottom",
        ha="right",
    )  # fmt: skip

    right, low = run[0] + reach, -half - 0.45
    ruler = RULER[judged.case.order.units]
    axes.plot([right - ruler, right], [low, low], color=INK, lw=LINE)
    axes.text(
        right - ruler - 0.1, low, f"{mm(ruler):g}", fontsize=7, color=INK, ha="right", va="center"
    )


def _figures(judged: Judged, section: _Section) -> str:
    """Return land, thickness and the greatest deviation of a section, in words."""
    thick = section.cut.sum(axis=0)
    off = np.where(np.isfinite(section.wanted), section.cut - section.wanted, np.nan)
    inside = np.isfinite(section.wanted[0]) & np.isfinite(thick)
    if not inside.any():
        return "no metal"
    off_walls = inside & section.judged
    for shift in range(1, OFF_WALLS + 1):
        off_walls[shift:] &= inside[:-shift]
        off_walls[:-shift] &= inside[shift:]
    worst = float(np.nanmax(np.abs(off[:, off_walls]), initial=0.0))
    dashed = "   dashed: as ordered" if worst > DASHES_SHOW_MM else ""
    return (
        f"{_land(judged, section)}   thickest {mm(float(np.nanmax(thick[inside]))):.3f}   "
        f"largest deviation {um(1000 * worst):.1f} along Z{dashed}"
    )


def _land(judged: Judged, section: _Section) -> str:
    """Return its bevel's land at a section in words; where the bevel runs out, none is measured."""
    for edge in judged.case.edges:
        if edge.index == section.bevel:
            k = int(np.argmin(np.abs(edge.stations - section.station)))
            if abs(edge.stations[k] - section.station) <= LAND_NEAR_MM:
                return f"land {mm(float(edge.land[k])):.3f}"
    return "in the bevel's run-out"

"""Pictures of how far each side's ground surfaces are off: white at zero, one hue each way."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from knifecam.judge.judge_limits import CUSP_MORE_MM, CUSP_SLACK_TIMES, DENT_MM
from knifecam.judge.prove import Judged
from knifecam.measure.bevel_places import allowed_cusp, plunge_margin, surface_cosine
from knifecam.quantity import NAME, bare, either, mm, um
from knifecam.report.plate_picture import (
    DPI,
    FINE_LINE,
    INK,
    LINE,
    PAPER,
    SHEET_MARGIN_IN,
    SHEET_WIDTH_IN,
    beside,
    closed_points,
    xy,
)
from knifecam.report.report_limits import (
    LEAST_CONTOUR_MM,
    LEAST_NUMBERED_MM,
    LEAST_SCALE_MM,
    NUMBERED_APART_SHARE,
    PATCH_MM,
    WORST_NUMBERED,
)
from knifecam.sheet import plainly, save
from knifecam.sweep.side_frames import side_frame

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

WHITE = np.array([1.0, 1.0, 1.0])
LEFT_HUE, GONE_HUE = np.array([0.62, 0.33, 0.07]), np.array([0.20, 0.24, 0.55])
"""Ochre where metal is left, slate blue where too much is gone."""

SMOOTHED_PATCHES = 3
"""Patches each way whose mean a contour follows."""

PER_MM = {"mm": 1e3, "in": 1e6 / 25.4}
"""What a scale counts in to the mm: um, or millionths of an inch."""

LEVELS_UM = np.array([-100, -50, -20, -10, -5, -2, -1, 1, 2, 5, 10, 20, 50, 100])
"""um of the contours."""


class _Balloons(NamedTuple):
    """Numbers and heights as they are written: their middles, and the room each takes, mm."""

    middles: list[Floats]
    room: float

    def apart(self, places: Floats) -> Floats:
        """Return how far places (n, 2) are from the next of them, (n,) mm."""
        if not self.middles:
            return np.full(len(places), np.inf)
        return np.asarray(np.hypot(*(places[:, None] - np.array(self.middles)).T).min(axis=0))


@dataclass(frozen=True, eq=False, kw_only=True)
class _Patches:
    """Patches: the worst deviation (ny, nx) mm square to the surface, NaN off it, and by how much
    it is past what is allowed; places of the patches in the part frame."""

    x: Floats
    y: Floats
    off: Floats
    over: Floats


@plainly
def deviation_picture(judged: Judged, side: str, path: str | Path) -> None:
    """Write one side's deviations as PNG. The same verdict gives the same bytes."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    low_x, low_y, high_x, high_y = _picture_box(judged)
    wide = SHEET_WIDTH_IN - 2 * SHEET_MARGIN_IN
    tall = wide * (high_y - low_y) / (high_x - low_x)
    patches = _patches(judged, side)
    rows, marks = _worst(judged, side, patches)
    height = tall + 1.35 + 0.19 * (len(rows) + 1)
    figure = Figure(figsize=(SHEET_WIDTH_IN, height), dpi=DPI, facecolor=tuple(PAPER))
    FigureCanvasAgg(figure)
    base = height - tall - 0.5
    axes = figure.add_axes(
        (SHEET_MARGIN_IN / SHEET_WIDTH_IN, base / height, wide / SHEET_WIDTH_IN, tall / height)
    )
    balloons = _balloons(axes, judged, side, marks)
    full = _view(axes, judged, side, patches, balloons)
    _scale(figure, full * PER_MM[judged.case.order.units], (base - 0.45) / height, height)
    style: dict[str, Any] = {"fontsize": 7.5, "color": tuple(INK), "va": "top"}
    for k, row in enumerate(rows):
        figure.text(
            SHEET_MARGIN_IN / SHEET_WIDTH_IN, (base - 0.75 - 0.19 * k) / height, row, **style
        )
    save(figure, path, judged.case.order.units)


def _picture_box(judged: Judged) -> tuple[float, float, float, float]:
    low_x, low_y, high_x, high_y = judged.case.order.blade.outline.bounds
    room = 0.03 * (high_x - low_x)
    return low_x - room, low_y - room, high_x + room, high_y + room


def _patches(judged: Judged, side: str) -> _Patches:
    """Return the surface's cells as patches."""
    case = judged.case
    surface = case.surfaces["AB".index(side)]
    if surface is None or not len(surface.places):
        none = np.zeros((0, 0))
        return _Patches(x=np.zeros(0), y=np.zeros(0), off=none, over=none)
    places = surface.places
    off = surface.deviation * surface_cosine(case.order.blade, places)
    cusp = allowed_cusp(case.order, places, plunge_from=plunge_margin(case.order))
    over = np.maximum(
        off - np.maximum(CUSP_SLACK_TIMES * cusp, cusp + CUSP_MORE_MM), -off - DENT_MM
    )
    over = np.where(places.bevel < 0, -np.inf, over)
    size = max(1, round(PATCH_MM / case.grid.cell))
    i, j = surface.rows // size, surface.columns // size
    first_i, first_j = int(i.min()), int(j.min())
    shape = int(i.max()) - first_i + 1, int(j.max()) - first_j + 1
    flat = (i - first_i) * shape[1] + (j - first_j)
    cell = case.grid.cell
    across, down = np.arange(shape[1], dtype=float), np.arange(shape[0], dtype=float)
    return _Patches(
        x=np.asarray(case.grid.x0 + cell * ((first_j + across + 0.5) * size - 0.5)),
        y=np.asarray(case.grid.y0 + cell * ((first_i + down + 0.5) * size - 0.5)),
        off=_largest(flat, off, shape), over=_greatest(flat, over, shape),
    )  # fmt: skip


def _largest(flat: NDArray[np.int64], values: Floats, shape: tuple[int, int]) -> Floats:
    """Return the value of the greatest size in each patch, NaN where there is none."""
    high, low = _greatest(flat, values, shape), -_greatest(flat, -values, shape)
    return np.where(high >= -low, high, low)


def _greatest(flat: NDArray[np.int64], values: Floats, shape: tuple[int, int]) -> Floats:
    found = np.full(shape[0] * shape[1], -np.inf)
    np.maximum.at(found, flat, values)
    seen = np.zeros(len(found), bool)
    seen[flat] = True
    return np.where(seen, found, np.nan).reshape(shape)


def _view(axes: Axes, judged: Judged, side: str, patches: _Patches, balloons: _Balloons) -> float:
    """Draw the surface, no words under balloons, and return the deviation of full colour, mm."""
    case = judged.case
    signs = np.array(side_frame(case.order.setup, side).signs[:2])
    outline = closed_points(case.order.blade.outline) * signs
    axes.fill(*outline.T, facecolor=tuple(WHITE), edgecolor="none", zorder=0)
    full = LEAST_SCALE_MM
    if patches.off.size:
        full = max(full, float(np.nanpercentile(np.abs(patches.off), 99.5)))
        (clip,) = axes.fill(*outline.T, facecolor="none", edgecolor="none")
        _tinted(axes, patches, signs, full, clip)
        _contours(axes, patches, signs, clip, balloons)
    for curve in (case.order.blade.outline, *(o.outline for o in case.openings)):
        axes.plot(*(closed_points(curve) * signs).T, color=INK, lw=FINE_LINE)
    low_x, low_y, high_x, high_y = _picture_box(judged)
    axes.set_xlim(*sorted((low_x * signs[0], high_x * signs[0])))
    axes.set_ylim(*sorted((low_y * signs[1], high_y * signs[1])))
    axes.set_aspect("equal")
    axes.axis("off")
    axes.set_title(
        f"side {side}: deviation normal to the ordered surface: metal left (+), missing (-)", fontsize=9,
        color=INK, loc="right", pad=3,
    )  # fmt: skip
    return full


def _tinted(axes: Axes, patches: _Patches, signs: Floats, full: float, clip: Any) -> None:
    share = np.clip(np.nan_to_num(patches.off) / full, -1.0, 1.0)[..., None]
    hue = np.where(share > 0, LEFT_HUE, GONE_HUE)
    image = np.concatenate(
        [WHITE + np.abs(share) ** 0.8 * (hue - WHITE), np.isfinite(patches.off)[..., None]], axis=-1
    )
    half_x, half_y = (abs(v[1] - v[0]) / 2 if len(v) > 1 else 0.2 for v in (patches.x, patches.y))
    xs = sorted((signs[0] * (patches.x[0] - half_x), signs[0] * (patches.x[-1] + half_x)))
    ys = sorted((signs[1] * (patches.y[0] - half_y), signs[1] * (patches.y[-1] + half_y)))
    shown = axes.imshow(
        image[:: int(signs[1]), :: int(signs[0])], origin="lower",
        extent=(xs[0], xs[1], ys[0], ys[1]), interpolation="nearest", zorder=1,
    )  # fmt: skip
    shown.set_clip_path(clip)


def _contours(axes: Axes, patches: _Patches, signs: Floats, clip: Any, balloons: _Balloons) -> None:
    """Draw labelled contours in um, and hatching where more is off than allowed."""
    if min(patches.off.shape) < 2 * SMOOTHED_PATCHES + 1:
        return
    x, y = patches.x * signs[0], patches.y * signs[1]
    known = np.ma.masked_invalid(1000 * _smoothed(patches.off))
    levels = LEVELS_UM[(known.min() < LEVELS_UM) & (known.max() > LEVELS_UM)]
    if len(levels):
        found = axes.contour(x, y, known, levels=levels)
        found.remove()
        for level, lines in zip(levels, found.allsegs, strict=True):
            for line in lines:
                _contour(axes, line, f"{um(level):g}", clip, balloons)
    past = np.ma.masked_invalid(np.where(np.isfinite(patches.over), patches.over, np.nan))
    if past.count() and past.max() > 0:
        marked = axes.contourf(
            x, y, past, levels=[0.0, float(past.max()) + 1.0], colors="none", hatches=["////"]
        )
        marked.set_edgecolor(tuple(INK))
        marked.set_linewidth(0.0)
        marked.set_clip_path(clip)


def _contour(axes: Axes, line: Floats, text: str, clip: Any, balloons: _Balloons) -> None:
    """Draw a contour with its height as near to its middle as what is written already allows.

    A short one would only clutter.
    """
    along = np.concatenate([[0.0], np.hypot(*np.diff(line, axis=0).T).cumsum()])
    if along[-1] < LEAST_CONTOUR_MM:
        return
    (drawn,) = axes.plot(*line.T, color=INK, lw=FINE_LINE)
    drawn.set_clip_path(clip)
    off = np.abs(along - along[-1] / 2)
    apart = balloons.apart(line)
    if (apart > balloons.room).any():
        off[apart <= balloons.room] = np.inf
    x, y = line[int(np.argmin(off))]
    balloons.middles.append(np.array([x, y]))
    axes.text(
        x, y, text, fontsize=5, color=INK, ha="center", va="center",
        bbox={"boxstyle": "square,pad=0.15", "facecolor": "white", "edgecolor": "none"},
    )  # fmt: skip


def _smoothed(patches: Floats) -> Floats:
    """Return the mean over patches round each: contours tell of the form, not of single cusps."""
    known = np.isfinite(patches)
    value = np.pad(np.where(known, patches, 0.0), SMOOTHED_PATCHES)
    count = np.pad(known.astype(float), SMOOTHED_PATCHES)
    rows, columns = patches.shape
    total, weight = np.zeros(patches.shape), np.zeros(patches.shape)
    for i in range(2 * SMOOTHED_PATCHES + 1):
        for j in range(2 * SMOOTHED_PATCHES + 1):
            total += value[i : i + rows, j : j + columns]
            weight += count[i : i + rows, j : j + columns]
    return np.where(known, total / np.maximum(weight, 1.0), np.nan)


def _worst(judged: Judged, side: str, patches: _Patches) -> tuple[list[str], list[Floats]]:
    """Return the list below the picture and the places numbered in it."""
    rows: list[str] = []
    marks: list[Floats] = []
    low_x, _, high_x, _ = judged.case.order.blade.outline.bounds
    for what, sign in (("left", 1.0), ("missing", -1.0)):
        values = np.where(np.isfinite(patches.off), sign * patches.off, -np.inf)
        for _ in range(WORST_NUMBERED):
            if not values.size or not values.max() > LEAST_NUMBERED_MM:
                break
            i, j = np.unravel_index(int(np.argmax(values)), values.shape)
            at = np.array([patches.x[j], patches.y[i]])
            marks.append(at)
            past = "   beyond the limit" if patches.over[i, j] > 0 else ""
            rows.append(
                f"({len(marks)})   {um(1000 * values[i, j]):.2f} {what} at X {bare(at[0]):.1f} Y"
                f" {bare(at[1]):.1f}"
                f" of the part{past}"
            )
            away = np.hypot(patches.x[None, :] - at[0], patches.y[:, None] - at[1])
            values = np.where(away < NUMBERED_APART_SHARE * (high_x - low_x), -np.inf, values)
    rows += [_land_row(judged)] if judged.case.edges else []
    return rows or ["no ground surface on this side"], marks


def _land_row(judged: Judged) -> str:
    """Return each bevel's land as it came out and as it is wanted, from its least to its most."""
    parts = [
        f"{e.bevel.name}: {_span(e.land, 4)}{NAME} (ordered {_span(e.wanted, 3)})"
        for e in judged.case.edges
    ]
    return "land   " + ";   ".join(parts)


def _span(values: Floats, digits: int) -> str:
    low, high = f"{bare(values.min()):.{digits}f}", f"{bare(values.max()):.{digits}f}"
    return low if low == high else f"{low} to {high}"


def _balloons(axes: Axes, judged: Judged, side: str, marks: list[Floats]) -> _Balloons:
    """Draw the numbers of places beside them."""
    signs = np.array(side_frame(judged.case.order.setup, side).signs[:2])
    low_x, _, high_x, _ = _picture_box(judged)
    reach = 0.022 * (high_x - low_x)
    drawn = _Balloons([], 1.2 * reach)
    for number, mark in enumerate(marks, 1):
        at = mark * signs
        places = np.array(beside(at, reach))
        others = [m * signs for m in marks if m is not mark]
        room = _Balloons([*drawn.middles, *others], drawn.room).apart(places)
        free = np.flatnonzero(room > 1.6 * reach)
        middle = places[free[0] if len(free) else int(np.argmax(room))]
        drawn.middles.append(middle)
        axes.plot(*np.array([at, middle]).T, color=INK, lw=LINE, zorder=5)
        axes.text(
            *xy(middle), f"{number}", ha="center", va="center", fontsize=6.5, color=INK, zorder=6,
            bbox={"boxstyle": "circle,pad=0.2", "fc": tuple(PAPER), "ec": tuple(INK), "lw": LINE},
        )  # fmt: skip
    return drawn


def _scale(figure: Figure, full: float, base: float, height: float) -> None:
    """Draw the bar of hues with its figures, um or millionths of an inch."""
    axes = figure.add_axes(
        (SHEET_MARGIN_IN / SHEET_WIDTH_IN, base, 3.2 / SHEET_WIDTH_IN, 0.12 / height)
    )
    share = np.linspace(-1.0, 1.0, 201)[None, :, None]
    hue = np.where(share > 0, LEFT_HUE, GONE_HUE)
    axes.imshow(
        WHITE + np.abs(share) ** 0.8 * (hue - WHITE), aspect="auto",
        extent=(-full, full, 0, 1),
    )  # fmt: skip
    axes.set_yticks([])
    axes.tick_params(labelsize=6, length=2, width=FINE_LINE, colors=tuple(INK))
    for spine in axes.spines.values():
        spine.set_linewidth(FINE_LINE)
        spine.set_color(tuple(INK))
    figure.text(
        (SHEET_MARGIN_IN + 3.3) / SHEET_WIDTH_IN, base + 0.06 / height,
        f"{either('um', 'uin')}   blue: missing   ochre: left   hatched: beyond the limit   "
        f"each patch of {mm(0.4)} shows its worst, contours their mean",
        fontsize=7, color=tuple(INK), va="center",
    )  # fmt: skip

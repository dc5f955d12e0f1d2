"""Pictures of the cut plate: one ink, height by shading, tabs and findings keyed to a list."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, place_at
from knifecam.simulator.frame import side_frame
from knifecam.simulator.judging import Judged

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

PAPER, INK = np.array([0.985, 0.978, 0.962]), np.array([0.10, 0.15, 0.21])
WIDTH, MARGIN, DPI = 11.0, 0.45, 160
"""Inches of the sheet and its margins, and dots an inch."""

LINE, FINE_LINE = 0.7, 0.45
"""Points."""

MOST_ROWS = 9
"""Findings listed on a sheet."""

BARB, AXIS = 1.3, 4.0
"""mm of the half barb that ends a pointer and of the zero's axes, on a plate of 100 mm."""


def picture(judged: Judged, path_a: str | Path, path_b: str | Path | None = None) -> None:
    """Write what the plate looks like from side A and from side B, as PNG.

    With one path both views stand on one sheet. The same verdict gives the same bytes.
    """
    if path_b is None:
        _sheet(judged, ("A", "B"), Path(path_a))
        return
    _sheet(judged, ("A",), Path(path_a))
    _sheet(judged, ("B",), Path(path_b))


def _sheet(judged: Judged, sides: tuple[str, ...], path: Path) -> None:
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    plate = judged.case.order.setup.plate
    wide = WIDTH - 2 * MARGIN
    tall = wide * plate.width / plate.length
    rows = _rows(judged, sides)
    list_tall = 0.19 * (len(rows) + 2)
    height = len(sides) * (tall + 0.75) + list_tall + MARGIN
    figure = Figure(figsize=(WIDTH, height), dpi=DPI, facecolor=tuple(PAPER))
    FigureCanvasAgg(figure)
    top = height - 0.2
    for side in sides:
        top -= tall + 0.55
        axes = figure.add_axes((MARGIN / WIDTH, top / height, wide / WIDTH, tall / height))
        _view(axes, judged, side)
        top -= 0.2
    _list(figure, rows, top / height, height)
    figure.savefig(path, format="png", metadata={"Software": ""})


def _view(axes: Axes, judged: Judged, side: str) -> None:
    case, plate = judged.case, judged.case.order.setup.plate
    signs = side_frame(case.order.setup, side).signs
    grid = judged.grid
    height = grid.top if side == "A" else -grid.bottom
    there = grid.top - grid.bottom > 1e-6
    image = _shaded(height, there, case.wanted.face_a, grid.cell)
    image = image[:: int(signs[1]), :: int(signs[0])]
    x_low, y_low, x_high, y_high = plate.bounds
    xs, ys = (
        sorted((x_low * signs[0], x_high * signs[0])),
        sorted((y_low * signs[1], y_high * signs[1])),
    )
    axes.imshow(
        image, origin="lower", extent=(xs[0], xs[1], ys[0], ys[1]), interpolation="antialiased"
    )
    for curve in (case.order.blade.outline, *(o.outline for o in case.openings)):
        points = closed_points(curve) * signs[:2]
        axes.plot(*points.T, color=INK, lw=FINE_LINE, solid_joinstyle="round")
    axes.plot(
        [xs[0], xs[1], xs[1], xs[0], xs[0]], [ys[0], ys[0], ys[1], ys[1], ys[0]],
        color=INK, lw=LINE, clip_on=False,
    )  # fmt: skip
    _tabs(axes, judged, np.array(signs[:2]))
    _balloons(axes, judged, side, np.array(signs[:2]))
    _zero(axes, judged, side)
    _caption(axes, side, xs, ys)
    axes.set_xlim(*xs)
    axes.set_ylim(*ys)
    axes.set_aspect("equal")
    axes.axis("off")


def _shaded(height: Floats, there: NDArray[np.bool_], face: float, cell: float) -> Floats:
    """Return an (ny, nx, 3) picture: deeper ground darker, walls lit from the upper left."""
    step = max(1, height.shape[1] // int(WIDTH * DPI))
    low, metal = height[::step, ::step], there[::step, ::step]
    depth = np.clip((face - low) / (2 * face), 0.0, 1.0)
    down, across = np.gradient(np.where(metal, low, -face), cell * step)
    light = (across - down) / np.sqrt(1 + across**2 + down**2)
    dark = 0.16 + 0.5 * depth + 0.28 * np.clip(light, -0.5, 1.0)
    dark = np.where(metal, np.clip(dark, 0.04, 0.85), 0.0)
    return np.asarray(PAPER + dark[..., None] * (INK - PAPER))


def closed_points(curve: Curve) -> Floats:
    """Return points along a closed curve that end where they began, (n, 2) mm."""
    points = curve.points(0.01)
    return np.concatenate([points, points[:1]])


def _size(judged: Judged) -> float:
    """How much larger than on a 100 mm plate marks are drawn, in mm a mm."""
    return judged.case.order.setup.plate.length / 100.0


def _pointer(axes: Axes, tip: Floats, way: Floats, length: float, barb: float) -> Floats:
    """Draw a line to ``tip`` that ends in a half barb; return where it begins."""
    tail = tip + way * length
    across = np.array([-way[1], way[0]])
    hook = tip + way * barb + across * barb * 0.45
    axes.plot(*np.array([tail, tip, hook]).T, color=INK, lw=LINE, clip_on=False)
    return np.asarray(tail)


def _tabs(axes: Axes, judged: Judged, signs: Floats) -> None:
    scale = _size(judged)
    outline = judged.case.wanted.outline
    for number, bridge in enumerate(judged.case.bridges, 1):
        _, heading = place_at(outline, [bridge.station])
        way = np.array([np.sin(heading[0]), -np.cos(heading[0])]) * signs
        tip = np.array(bridge.place) * signs + way * judged.case.order.trench.width * 0.9
        tail = _pointer(axes, tip, way, 3.2 * scale, BARB * scale)
        axes.text(
            *xy(tail + way * 1.4 * scale), f"{number}", ha="center", va="center", fontsize=7,
            color=INK, clip_on=False,
        )  # fmt: skip


def _balloons(axes: Axes, judged: Judged, side: str, signs: Floats) -> None:
    scale = _size(judged)
    for number, finding in enumerate(judged.verdict.findings[:MOST_ROWS], 1):
        if finding.side != side or finding.place is None:
            continue
        at = np.array(finding.place[:2]) * signs
        middle = at + np.array([2.4, 2.4]) * scale
        axes.plot(*np.array([at, middle]).T, color=INK, lw=LINE, zorder=3)
        axes.text(
            *xy(middle), f"{number}", ha="center", va="center", fontsize=7, color=INK, zorder=4,
            bbox={"boxstyle": "circle,pad=0.22", "fc": tuple(PAPER), "ec": tuple(INK), "lw": LINE},
        )  # fmt: skip


def xy(place: Floats) -> tuple[float, float]:
    """Return a place as two numbers."""
    return float(place[0]), float(place[1])


def _zero(axes: Axes, judged: Judged, side: str) -> None:
    """Mark the program's zero by its two axes, each ending in a half barb."""
    frame = side_frame(judged.case.order.setup, side)
    scale = _size(judged)
    zero = np.array(frame.datum)
    for way, name in ((np.array([1.0, 0.0]), "X"), (np.array([0.0, 1.0]), "Y")):
        tip = zero + way * AXIS * scale
        _pointer(axes, tip, -way, AXIS * scale, BARB * scale)
        axes.text(
            *xy(tip + way * 1.4 * scale), name, ha="center", va="center", fontsize=7, color=INK,
            clip_on=False,
        )  # fmt: skip
    axes.plot(*zero, marker="o", ms=4, mfc=tuple(PAPER), mec=tuple(INK), mew=LINE, clip_on=False)


def _caption(axes: Axes, side: str, xs: list[float], ys: list[float]) -> None:
    length = xs[1] - xs[0]
    bar = 10.0 if length < 200 else 20.0
    y = ys[0] - 0.016 * length
    axes.plot([xs[1] - bar, xs[1]], [y, y], color=INK, lw=LINE, clip_on=False)
    for x in (xs[1] - bar, xs[1]):
        axes.plot([x, x], [y, y + 0.006 * length], color=INK, lw=LINE, clip_on=False)
    axes.text(
        xs[1] - bar - 0.008 * length, y, f"{bar:g} mm", ha="right", va="center", fontsize=7,
        color=INK,
    )  # fmt: skip
    axes.text(
        xs[1], ys[1] + 0.012 * length, f"side {side}, as it lies under the spindle", fontsize=9,
        color=INK, va="bottom", ha="right",
    )  # fmt: skip


def _rows(judged: Judged, sides: tuple[str, ...]) -> list[str]:
    rows = [
        f"tab {n}   station {b.station:.1f}   thickness {b.thin:.3f}   waist {b.waist:.3f}"
        for n, b in enumerate(judged.case.bridges, 1)
    ]
    findings = judged.verdict.findings
    for number, finding in enumerate(findings[:MOST_ROWS], 1):
        if finding.side in sides:
            where = f"line {finding.line}" if finding.line else "as a whole"
            row = f"({number})   {finding.kind}, side {finding.side}, {where}: {finding.message}"
            rows.append(row if len(row) < 150 else row[:147] + "...")
    more = len(findings) - MOST_ROWS
    if more > 0:
        rows.append(f"and {more} more finding{'s' if more > 1 else ''}")
    return rows or ["no tabs, no findings"]


def _list(figure: Figure, rows: list[str], top: float, height: float) -> None:
    style: dict[str, Any] = {"fontsize": 7.5, "color": tuple(INK), "va": "top"}
    for k, row in enumerate(rows):
        figure.text(MARGIN / WIDTH, top - 0.19 * (k + 0.6) / height, row, **style)

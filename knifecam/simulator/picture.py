"""Pictures of the cut plate: one ink, height by shading, tabs and findings keyed to a list."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, place_at
from knifecam.quantity import bare, mm
from knifecam.sheet import plainly, save
from knifecam.simulator.columns import Grid
from knifecam.simulator.frame import side_frame
from knifecam.simulator.judging import Judged
from knifecam.simulator.picture_marks import (
    BARB,
    FINE_LINE,
    INK,
    LINE,
    PAPER,
    TAILS,
    Room,
    beside,
    draw_stand,
    draw_zero,
    label,
    mark_size,
    pointer,
    xy,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

WIDTH, MARGIN, DPI = 11.0, 0.45, 160
"""Inches of the sheet and its margins, and dots an inch."""

LEGEND = 0.4
"""Inches of the strip below the list."""

MOST_ROWS = 9
"""Findings listed on a sheet."""

NAME_SIZE = 6.0
"""Points: the names of bores and slots."""

SLANTS = (0.5, -0.5, 0.9, -0.9)
"""rad: how far a pointer is turned where its number would lie on something."""


@plainly
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
    list_tall = 0.19 * (len(rows) + 2) + LEGEND
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
    _legend(figure, judged, height)
    save(figure, path, judged.case.order.units)


def _view(axes: Axes, judged: Judged, side: str) -> None:
    case, plate = judged.case, judged.case.order.setup.plate
    signs = side_frame(case.order.setup, side).signs
    image = _shaded(judged.grid, side, case.wanted.face_a)[:: int(signs[1]), :: int(signs[0])]
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
    room, turn = Room(judged, side), np.array(signs[:2])
    draw_stand(axes, judged, side)
    _openings(axes, judged, room, turn)
    room.taken += [closed_points(one.outline).mean(axis=0) * turn for one in case.openings]
    _tabs(axes, judged, room, turn)
    _balloons(axes, judged, side, room, turn)
    draw_zero(axes, judged, side)
    _caption(axes, judged, side, xs, ys)
    axes.set_xlim(*xs)
    axes.set_ylim(*ys)
    axes.set_aspect("equal")
    axes.axis("off")


def _shaded(grid: Grid, side: str, face: float) -> Floats:
    """Return an (ny, nx, 3) picture: deeper ground darker, walls lit from the upper left."""
    step = max(1, grid.top.shape[1] // int(WIDTH * DPI))
    top, bottom = grid.top[::step, ::step], grid.bottom[::step, ::step]
    low, metal = top if side == "A" else -bottom, top - bottom > 1e-6
    depth = np.clip((face - low) / (2 * face), 0.0, 1.0)
    down, across = np.gradient(np.where(metal, low, -face), grid.cell * step)
    light = (across - down) / np.sqrt(1 + across**2 + down**2)
    dark = 0.16 + 0.5 * depth + 0.28 * np.clip(light, -0.5, 1.0)
    dark = np.where(metal, np.clip(dark, 0.04, 0.85), 0.0)
    return np.asarray(PAPER + dark[..., None] * (INK - PAPER))


def closed_points(curve: Curve) -> Floats:
    """Return points along a closed curve that end where they began, (n, 2) mm."""
    points = curve.points(0.01)
    return np.concatenate([points, points[:1]])


def _tabs(axes: Axes, judged: Judged, room: Room, signs: Floats) -> None:
    scale = mark_size(judged)
    outline = judged.case.wanted.outline
    for number, bridge in enumerate(judged.case.bridges, 1):
        _, heading = place_at(outline, [bridge.station])
        way = np.array([np.sin(heading[0]), -np.cos(heading[0])]) * signs
        place = np.array(bridge.place) * signs
        outside, inside = place + way * judged.case.order.trench.width * 0.9, place
        tries = [(outside, way, tail) for tail in TAILS]
        tries += [(outside, _turned(way, a), tail) for a in SLANTS for tail in TAILS]
        tries += [(inside, -way, tail) for tail in TAILS]
        places = [tip + w * (tail + 1.3) * scale for tip, w, tail in tries]
        tips = [outside] * (len(tries) - len(TAILS)) + places[-len(TAILS) :]
        k = room.first(places, tips)
        tip, way, tail = tries[k]
        pointer(axes, tip, way, tail * scale, BARB * scale)
        label(axes, places[k], f"{number}")


def _turned(way: Floats, angle: float) -> Floats:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([c * way[0] - s * way[1], s * way[0] + c * way[1]])


def _openings(axes: Axes, judged: Judged, room: Room, signs: Floats) -> None:
    """Name bores and slots: in them where the name fits, else beside them."""
    scale = mark_size(judged)
    length = judged.case.order.setup.plate.length
    letter = NAME_SIZE / 72 * length / (WIDTH - 2 * MARGIN) * np.array([0.62, 1.0])
    for one in judged.case.openings:
        points = closed_points(one.outline) * signs
        middle, reach = points.mean(axis=0), np.ptp(points, axis=0) / 2
        name = one.name.split(" ")[-1]
        zero_inside = np.all(np.abs(room.taken[0] - middle) < reach)
        if np.all(letter * (len(name) + 1, 1.2) < 2 * reach) and not zero_inside:
            label(axes, middle, name, size=NAME_SIZE)
            continue
        ways = np.array([(1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)])
        places = [middle + way * (0.75 * reach + 1.1 * scale) for way in ways]
        label(axes, places[room.first(places)], name, size=NAME_SIZE)


def _balloons(axes: Axes, judged: Judged, side: str, room: Room, signs: Floats) -> None:
    marks = [
        (finding.place[:2], f"{number}")
        for number, finding in enumerate(judged.verdict.findings[:MOST_ROWS], 1)
        if finding.side == side and finding.place is not None
    ]
    marks += [(row["place"][:2], f"C{number}") for number, row in enumerate(_corners(judged), 1)]
    for place, text in marks:
        at = np.array(place) * signs
        places = beside(at, 2.4 * mark_size(judged))
        _balloon(axes, at, places[room.first(places, [0.7 * at + 0.3 * p for p in places])], text)


def _balloon(axes: Axes, at: Floats, middle: Floats, text: str) -> None:
    axes.plot(*np.array([at, middle]).T, color=INK, lw=LINE, zorder=5)
    axes.text(
        *xy(middle), text, ha="center", va="center", fontsize=7, color=INK, zorder=6,
        bbox={"boxstyle": "circle,pad=0.22", "fc": tuple(PAPER), "ec": tuple(INK), "lw": LINE},
    )  # fmt: skip


def _corners(judged: Judged) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = judged.verdict.measures.get("unreachable", [])
    return rows[:MOST_ROWS]


def _caption(axes: Axes, judged: Judged, side: str, xs: list[float], ys: list[float]) -> None:
    length = xs[1] - xs[0]
    short = {"mm": 10.0, "in": 12.7}[judged.case.order.units]
    bar = short if length < 200 else 2 * short
    y = ys[0] - 0.016 * length
    axes.plot([xs[1] - bar, xs[1]], [y, y], color=INK, lw=LINE, clip_on=False)
    for x in (xs[1] - bar, xs[1]):
        axes.plot([x, x], [y, y + 0.006 * length], color=INK, lw=LINE, clip_on=False)
    axes.text(
        xs[1] - bar - 0.008 * length, y, f"{mm(bar):g}", ha="right", va="center", fontsize=7,
        color=INK,
    )  # fmt: skip
    axes.text(
        xs[1], ys[1] + 0.012 * length, f"side {side}, as it lies under the spindle", fontsize=9,
        color=INK, va="bottom", ha="right",
    )  # fmt: skip


def _rows(judged: Judged, sides: tuple[str, ...]) -> list[str]:
    rows = [
        f"tab {n}   station {bare(b.station):.1f}   thickness {bare(b.thin):.3f}   waist"
        f" {bare(b.waist):.3f}"
        for n, b in enumerate(judged.case.bridges, 1)
    ]
    findings = judged.verdict.findings
    for number, finding in enumerate(findings[:MOST_ROWS], 1):
        if finding.side in sides:
            where = f"line {finding.line}" if finding.line else "as a whole"
            row = f"({number})   {finding.kind}, side {finding.side}, {where}: {finding.message}"
            rows.append(row if len(row) < 150 else row[:147] + "...")
    rows += [
        f"(C{n})   inner corner of {c['of']} stays uncut: {mm(c['left'])}, and"
        f" {mm(c['largest_cutter']):.2f} is the largest cutter that reaches it"
        for n, c in enumerate(_corners(judged), 1)
    ]
    more = len(findings) - MOST_ROWS
    if more > 0:
        rows.append(f"and {more} more finding{'s' if more > 1 else ''}")
    return rows or ["no tabs, no findings"]


def _list(figure: Figure, rows: list[str], top: float, height: float) -> None:
    style: dict[str, Any] = {"fontsize": 7.5, "color": tuple(INK), "va": "top"}
    for k, row in enumerate(rows):
        figure.text(MARGIN / WIDTH, top - 0.19 * (k + 0.6) / height, row, **style)


def _legend(figure: Figure, judged: Judged, height: float) -> None:
    """Draw what the greys mean, and the dashes at the plate's ends, at the sheet's lower right."""
    face = judged.case.wanted.face_a
    depth = np.linspace(-face, face, 60)[::-1][None, :]
    dark = 0.16 + 0.5 * (face - depth) / (2 * face)
    box = (1 - (MARGIN + 2.4) / WIDTH, (MARGIN + 0.1) / height, 2.4 / WIDTH, 0.13 / height)
    axes = figure.add_axes(box)
    axes.imshow(PAPER + dark[..., None] * (INK - PAPER), aspect="auto", extent=(0, 1, 0, 1))
    axes.axis("off")
    style: dict[str, Any] = {"fontsize": 6.5, "color": tuple(INK), "va": "top"}
    for x, text, side in (
        (0.0, "the face up", "left"),
        (1.0, f"{mm(2 * face):.2f} below", "right"),
    ):
        axes.text(x, -0.35, text, ha=side, **style)
    told = f"paper: cut through; dashes: turned about {judged.case.order.setup.flip}"
    axes.text(1.0, 1.4, told, ha="right", **(style | {"va": "bottom"}))

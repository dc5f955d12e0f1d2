"""A picture of the cut plate, with its pointers, labels and axis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, place_at
from knifecam.judge.prove import Judged
from knifecam.quantity import bare, mm
from knifecam.report.report_limits import LABEL_CLEAR_MM
from knifecam.report.screen_lines import uncut_corners
from knifecam.sheet import plainly, save
from knifecam.sweep.columns import Grid
from knifecam.sweep.side_frames import side_frame

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


Floats = NDArray[np.float64]


PAPER, INK = np.array([0.985, 0.978, 0.962]), np.array([0.10, 0.15, 0.21])


LINE, FINE_LINE = 0.7, 0.45
"""Points."""


HEAD, AXIS = 1.7, 4.0
"""mm of the head that ends a pointer and of the zero's axes, on a plate of 100 mm."""


TAILS = (3.2, 2.2, 4.4, 1.4, 5.6)
"""mm on a plate of 100 mm: lengths of a pointer that are tried."""


def mark_size(judged: Judged) -> float:
    """How much larger than on a 100 mm plate marks are drawn, in mm a mm."""
    return judged.case.order.setup.plate.length / 100.0


def xy(place: Floats) -> tuple[float, float]:
    """Return a place as two numbers."""
    return float(place[0]), float(place[1])


def label(axes: Axes, place: Floats, text: str, size: float = 7.0, **more: Any) -> None:
    """Write a label on a ground of its own, so that no line runs through it."""
    ground = {"boxstyle": "round,pad=0.12", "fc": tuple(PAPER), "ec": "none", "alpha": 0.85}
    style: dict[str, Any] = {"ha": "center", "va": "center", "zorder": 5, "bbox": ground}
    style |= more
    axes.text(*xy(place), text, fontsize=size, color=tuple(INK), clip_on=False, **style)


def pointer(axes: Axes, tip: Floats, way: Floats, length: float, head: float) -> Floats:
    """Draw a line to ``tip`` that ends in a filled head; return where it begins.

    The head stays within the line, however short that is.
    """
    head = min(head, 0.7 * length)
    tail = tip + way * length
    across = np.array([-way[1], way[0]])
    axes.plot(*np.array([tail, tip]).T, color=tuple(INK), lw=LINE, clip_on=False, zorder=4)
    wide = across * head * 0.28
    drawn = np.array(
        [tip, tip + way * head + wide, tip + way * head * 0.8, tip + way * head - wide]
    )
    axes.fill(*drawn.T, color=tuple(INK), lw=0, clip_on=False, zorder=4)
    return np.asarray(tail)


def _from_line(place: Floats, begin: Floats, end: Floats) -> float:
    """Return how far a place is from the line between two others, mm."""
    way = end - begin
    share = float(np.clip((place - begin) @ way / max(float(way @ way), 1e-12), 0.0, 1.0))
    return float(np.hypot(*(place - begin - share * way)))


class Room:
    """Where labels lie already, and the plate's edges; places in the side frame, mm."""

    def __init__(self, judged: Judged, side: str) -> None:
        frame = side_frame(judged.case.order.setup, side)
        x_low, y_low, x_high, y_high = judged.case.order.setup.plate.bounds
        corners = np.array([(x_low, y_low), (x_high, y_high)]) * frame.signs[:2]
        self.low, self.high = corners.min(axis=0), corners.max(axis=0)
        self.clear = LABEL_CLEAR_MM * mark_size(judged)
        zero, arm = np.array(frame.datum), AXIS * mark_size(judged)
        self.taken = [zero, *(zero + arm * np.eye(2))]

    def free(self, place: Floats, tip: Floats) -> bool:
        """Tell whether a label at ``place`` and its line to ``tip`` clear edges and what is there."""
        beside = np.minimum(np.abs(place - self.low), np.abs(self.high - place)).min()
        return bool(beside >= self.clear and self._apart(place, tip) >= 1.5 * self.clear)

    def first(self, places: Sequence[Floats], tips: Sequence[Floats] = ()) -> int:
        """Take the first place that is free, or the freest of all, and return its number.

        ``tips`` are where the pointers end that lead from the places, if any do.
        """
        rows = list(zip(places, tips or places, strict=True))
        free = (k for k, row in enumerate(rows) if self.free(*row))
        k = next(free, max(range(len(rows)), key=lambda k: self._apart(*rows[k])))
        self.taken += [places[k], (rows[k][0] + rows[k][1]) / 2]
        return k

    def _apart(self, place: Floats, tip: Floats) -> float:
        """Return how far a label and its line are from what is there, mm."""
        return min(_from_line(one, place, tip) for one in self.taken)


def beside(at: Floats, reach: float) -> list[Floats]:
    """Return where a number may stand beside a place: near ones first, up and to the right first."""
    turns = np.radians([45, 135, -45, -135, 90, 0, 180, -90])
    ways = np.stack([np.cos(turns), np.sin(turns)], axis=1) * np.sqrt(2)
    return [at + far * reach * way for far in (1.0, 1.7, 2.6, 3.6) for way in ways]


def draw_zero(axes: Axes, judged: Judged, side: str) -> None:
    """Mark the program's zero by its two axes, each named beside it, away from the plate."""
    frame = side_frame(judged.case.order.setup, side)
    room, scale, zero = Room(judged, side), mark_size(judged), np.array(frame.datum)
    outward = np.where(zero < (room.low + room.high) / 2, -1.0, 1.0)
    for k, name in enumerate("XY"):
        way = np.eye(2)[k]
        tip = zero + way * AXIS * scale
        pointer(axes, tip, -way, AXIS * scale, HEAD * scale)
        aside = np.eye(2)[1 - k] * outward[1 - k]
        label(axes, zero + way * 0.75 * AXIS * scale + aside * 1.4 * scale, name)
    axes.plot(
        *zero, marker="o", ms=4, mfc=tuple(PAPER), mec=tuple(INK), mew=LINE, clip_on=False, zorder=6
    )


def draw_stand(axes: Axes, judged: Judged, side: str) -> None:
    """Draw clamps, and stubs of the axis the plate is turned about."""
    setup = judged.case.order.setup
    datum = np.array(side_frame(setup, side).datum)
    for box in setup.clamps:
        if box.side == side:
            corners = np.array([(box.x_low, box.y_low), (box.x_high, box.y_high)])
            low, high = corners + datum
            ring = np.array([low, (high[0], low[1]), high, (low[0], high[1]), low])
            axes.fill(*ring.T, facecolor="none", edgecolor=tuple(INK), lw=LINE, hatch="//")
            label(axes, (low + high) / 2, box.name)
    room, scale = Room(judged, side), mark_size(judged)
    k = "XY".index(setup.flip)
    middle, way = (room.low + room.high) / 2, np.eye(2)[k]
    for end, sense in ((room.low, -1.0), (room.high, 1.0)):
        begin = middle.copy()
        begin[k] = end[k]
        stub = np.array([begin, begin + sense * way * 2.4 * scale])
        axes.plot(*stub.T, color=tuple(INK), lw=LINE, ls=(0, (6, 2, 1, 2)), clip_on=False)


SHEET_WIDTH_IN, SHEET_MARGIN_IN, DPI = 11.0, 0.45, 160
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
    wide = SHEET_WIDTH_IN - 2 * SHEET_MARGIN_IN
    tall = wide * plate.width / plate.length
    rows = _rows(judged, sides)
    list_tall = 0.19 * (len(rows) + 2) + LEGEND
    height = len(sides) * (tall + 0.75) + list_tall + SHEET_MARGIN_IN
    figure = Figure(figsize=(SHEET_WIDTH_IN, height), dpi=DPI, facecolor=tuple(PAPER))
    FigureCanvasAgg(figure)
    top = height - 0.2
    for side in sides:
        top -= tall + 0.55
        axes = figure.add_axes(
            (SHEET_MARGIN_IN / SHEET_WIDTH_IN, top / height, wide / SHEET_WIDTH_IN, tall / height)
        )
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
    step = max(1, grid.top.shape[1] // int(SHEET_WIDTH_IN * DPI))
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
        pointer(axes, tip, way, tail * scale, HEAD * scale)
        label(axes, places[k], f"{number}")


def _turned(way: Floats, angle: float) -> Floats:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([c * way[0] - s * way[1], s * way[0] + c * way[1]])


def _openings(axes: Axes, judged: Judged, room: Room, signs: Floats) -> None:
    """Name bores and slots: in them where the name fits, else beside them."""
    scale = mark_size(judged)
    length = judged.case.order.setup.plate.length
    letter = (
        NAME_SIZE / 72 * length / (SHEET_WIDTH_IN - 2 * SHEET_MARGIN_IN) * np.array([0.62, 1.0])
    )
    for one in judged.case.openings:
        points = closed_points(one.outline) * signs
        middle, reach = points.mean(axis=0), np.ptp(points, axis=0) / 2
        name = one.name.split(" ")[-1]
        zero_inside = np.all(np.abs(room.taken[0] - middle) < reach)
        if np.all(letter * (len(name) + 1, 1.2) < 2 * reach) and not zero_inside:
            label(axes, middle, name, size=NAME_SIZE)
            continue
        ways = np.array([(1.0, 1.0), (-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)])
        ways = -ways if zero_inside else ways  # the zero's axes point up and to the right
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


def _corners(judged: Judged) -> list[Mapping[str, Any]]:
    return uncut_corners(judged.verdict.measures)[:MOST_ROWS]


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
        figure.text(SHEET_MARGIN_IN / SHEET_WIDTH_IN, top - 0.19 * (k + 0.6) / height, row, **style)


def _legend(figure: Figure, judged: Judged, height: float) -> None:
    """Draw what the greys mean, and the dashes at the plate's ends, at the sheet's lower right."""
    face = judged.case.wanted.face_a
    depth = np.linspace(-face, face, 60)[::-1][None, :]
    dark = 0.16 + 0.5 * (face - depth) / (2 * face)
    box = (
        1 - (SHEET_MARGIN_IN + 2.4) / SHEET_WIDTH_IN,
        (SHEET_MARGIN_IN + 0.1) / height,
        2.4 / SHEET_WIDTH_IN,
        0.13 / height,
    )
    axes = figure.add_axes(box)
    axes.imshow(PAPER + dark[..., None] * (INK - PAPER), aspect="auto", extent=(0, 1, 0, 1))
    axes.axis("off")
    style: dict[str, Any] = {"fontsize": 6.5, "color": tuple(INK), "va": "top"}
    for x, text, side in (
        (0.0, "the face up", "left"),
        (1.0, f"{mm(2 * face):.2f} below", "right"),
    ):
        axes.text(x, -0.35, text, ha=side, **style)
    told = f"white: cut through; dash-dot: flip axis {judged.case.order.setup.flip}"
    axes.text(1.0, 1.4, told, ha="right", **(style | {"va": "bottom"}))

"""A picture of a drawing: one ink, one weight; joints as hollow rings, problems numbered."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve
from knifecam.curve.curve import Floats
from knifecam.drawing.record import Drawing, Problem, counted
from knifecam.drawing.roles import Roles, find_parts, problems_that_matter
from knifecam.errors import DrawingError, OutputError
from knifecam.sheet import plainly

INK = "#1d2a33"
WEIGHT = 0.9
RING = 2.6
MOST_RINGS = 400
"""With more joints than this, only corners of 10 degrees and more and loose ends get a ring."""

EDGES = (0.65, 0.55, 0.2, 0.4)
"""Inches of the sheet left, below, right and above the picture, whatever its size."""

SIGNS = 14
"""Of the caption so many go into an inch."""

SHARP = float(np.radians(10.0))

MOST_BALLOONS = 60

SUFFIXES = (".png", ".svg")


@plainly
def picture(drawing: Drawing, path: str | Path, roles: Roles | None = None) -> Path:
    """Draw what was read to a PNG or SVG, by the name's suffix, and return where it is.

    The same drawing gives the same bytes. Joints are hollow rings, loose ends filled ones, and
    problems with a place are balloons that carry their number in the printed list. Where the part
    is clear its bores have their names.

    Raises
    ------
    OutputError
        For a suffix that is neither, or a folder that is not there.
    """
    target = refuse_picture(path)
    import matplotlib
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    kind = target.suffix.lower()[1:]
    with matplotlib.rc_context({"svg.hashsalt": "knifecam", "svg.fonttype": "path"}):
        wide, tall = _figure_size(drawing)
        figure = Figure(figsize=(wide, tall), dpi=150, facecolor="white")
        FigureCanvasAgg(figure)
        left, low, right, high = EDGES
        axes = figure.add_axes(
            (left / wide, low / tall, 1 - (left + right) / wide, 1 - (low + high) / tall)
        )
        _draw(axes, drawing, problems_that_matter(drawing, roles))
        _names(axes, drawing, roles)
        metadata: dict[str, Any] = {"svg": {"Date": None}, "png": {"Software": None}}[kind]
        figure.savefig(target, format=kind, metadata=metadata)
    return target


def refuse_picture(path: str | Path) -> Path:
    """Return the path of a picture; raise `OutputError` where its name is that of no picture."""
    target = Path(path)
    if target.suffix.lower() not in SUFFIXES:
        raise OutputError(f"picture '{target.name}' must end in {' or '.join(SUFFIXES)}")
    if not target.absolute().parent.is_dir():
        raise OutputError(f"picture '{target}': there is no folder {target.parent}; make it first")
    return target


def _extent(drawing: Drawing) -> tuple[Floats, Floats]:
    places = [chain.bounds for chain in drawing.chains]
    places += [(*mark.place, *mark.place) for mark in drawing.marks]
    if not places:
        return np.zeros(2), np.ones(2)
    rows = np.array(places)
    low, high = rows[:, :2].min(axis=0), rows[:, 2:].max(axis=0)
    return low, np.maximum(high, low + 1e-3)


def _figure_size(drawing: Drawing) -> tuple[float, float]:
    low, high = _extent(drawing)
    wide, tall = high - low
    scale = min(10.0 / wide, 8.0 / tall)
    return max(6.0, float(wide * scale) + 1.2), max(3.0, float(tall * scale) + 1.2)


def _draw(axes: Any, drawing: Drawing, problems: Sequence[Problem]) -> None:
    low, high = _extent(drawing)
    size = float((high - low).max())
    for chain in drawing.chains:
        points = chain.curve.points(size * 2e-5)
        if chain.closed:
            points = np.concatenate([points, points[:1]])
        axes.plot(
            *points.T, color=INK, linewidth=WEIGHT, solid_joinstyle="round", solid_capstyle="round"
        )
    _rings(axes, drawing)
    if drawing.marks:
        axes.plot(*np.array([m.place for m in drawing.marks]).T, "+", color=INK, markersize=6)
    _balloons(axes, problems, low, high)
    margin = 0.06 * size
    axes.set_xlim(low[0] - margin, high[0] + margin)
    axes.set_ylim(low[1] - margin, high[1] + margin)
    axes.set_aspect("equal", adjustable="box")
    axes.tick_params(colors=INK, labelsize=7, width=0.5)
    for spine in axes.spines.values():
        spine.set_linewidth(0.5)
        spine.set_color(INK)
    unit = "mm" if drawing.units else "units"
    axes.set_xlabel(f"X in {unit}", fontsize=7, color=INK)
    axes.set_ylabel(f"Y in {unit}", fontsize=7, color=INK)
    across = axes.get_position().width * axes.figure.get_figwidth()
    caption = fill(_caption(drawing, problems), int(SIGNS * across))
    axes.set_title(caption, fontsize=8, color=INK, loc="left", parse_math=False)


def _names(axes: Any, drawing: Drawing, roles: Roles | None) -> None:
    """Write the bores' names beside them, as an order may use them."""
    try:
        bores = find_parts(drawing, roles).bores
    except DrawingError:
        return
    for bore in bores:
        beside = bore.diameter / 2 * 0.7071
        axes.annotate(
            bore.name, (bore.centre[0] + beside, bore.centre[1] + beside), xytext=(2.0, 2.0),
            textcoords="offset points", fontsize=7, color=INK, zorder=4,
        )  # fmt: skip


def _caption(drawing: Drawing, problems: Sequence[Problem]) -> str:
    rings = "rings: joints" if _joints(drawing) <= MOST_RINGS else "rings: corners"
    parts = [drawing.name, counted(len(drawing.loops), "loop"), rings]
    if drawing.open_chains:
        chains = counted(len(drawing.open_chains), "open chain")
        parts.append(f"dots: ends of {chains}")
    if problems:
        parts.append(f"numbers: {counted(len(problems), 'problem')} as printed")
    return ", ".join(parts)


def _joints(drawing: Drawing) -> int:
    return sum(len(chain.curve) for chain in drawing.chains)


def _rings(axes: Any, drawing: Drawing) -> None:
    """Draw hollow rings at joints, filled ones at loose ends."""
    every = _joints(drawing) <= MOST_RINGS
    joints, ends = [], []
    for chain in drawing.chains:
        if chain.round is not None:
            continue
        vertices = chain.curve.vertices
        shown = np.ones(len(vertices), bool) if every else _sharp(chain.curve)
        if not chain.closed:
            ends += [vertices[0], vertices[-1]]
            vertices, shown = vertices[1:-1], shown[1:-1]
        joints += list(vertices[shown])
    style = {"linestyle": "none", "marker": "o", "markersize": RING, "markeredgewidth": 0.6}
    if joints:
        axes.plot(
            *np.array(joints).T, markerfacecolor="white", markeredgecolor=INK, zorder=3, **style
        )
    if ends:
        axes.plot(*np.array(ends).T, markerfacecolor=INK, markeredgecolor=INK, zorder=3, **style)


def _sharp(curve: Curve) -> NDArray[np.bool_]:
    """Return at which vertices (N,) the curve turns by 10 degrees or more."""
    turn = curve.start_headings - np.roll(curve.end_headings, 1)
    sharp = np.abs((turn + np.pi) % (2 * np.pi) - np.pi) >= SHARP
    return sharp if curve.closed else np.append(sharp, True)


def _balloons(axes: Any, problems: Sequence[Problem], low: Floats, high: Floats) -> None:
    """Draw the number of every problem that has a place, each to a side where it can be read."""
    middle = (low + high) / 2
    told: dict[tuple[float, float], list[int]] = {}
    for number, problem in enumerate(problems[:MOST_BALLOONS], 1):
        if problem.place is not None:
            place = (round(problem.place[0], 3), round(problem.place[1], 3))
            told.setdefault(place, []).append(number)
    for place, numbers in told.items():
        toward = np.where(np.array(place) >= middle, 1.0, -1.0) * (16.0, 18.0)
        axes.annotate(
            ", ".join(str(n) for n in numbers),
            place,
            xytext=tuple(toward),
            textcoords="offset points",
            fontsize=8,
            color=INK,
            ha="center",
            va="center",
            zorder=5,
            bbox={"boxstyle": "circle,pad=0.3", "fc": "white", "ec": INK, "lw": 0.7},
            arrowprops={"arrowstyle": "-", "color": INK, "lw": 0.7, "shrinkB": 2.0},
        )

"""What was understood of a drawing, as lines, as data, and as a picture."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from textwrap import fill
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve
from knifecam.curve.curve import Floats
from knifecam.drawing.drawing_limits import SHARP_CORNER_RAD
from knifecam.drawing.drawing_record import (
    MM_PER_INCH,
    Chain,
    Drawing,
    Problem,
    Trouble,
    counted,
    shown,
    shown_place,
)
from knifecam.drawing.loop_roles import Parts, Roles, find_parts, problems_that_matter
from knifecam.drawing.outline_choice import by_size
from knifecam.drawing.read_drawing import problem_lines
from knifecam.errors import DrawingError, OutputError
from knifecam.quantity import told
from knifecam.sheet import plainly

MOST_LISTED = 20
"""No more repairs of a kind, and no more loops or bores, are listed one by one."""


def report(drawing: Drawing, roles: Roles | None = None) -> list[str]:
    """Return the lines of `look`: what was read, joined, repaired, left out, and the part.

    Works on drawings with problems too; these are numbered as in the picture.
    """
    unit = "mm" if drawing.units else "units"
    lines = [_title(drawing), *_extent(drawing, unit)]
    lines += [f"note: {note}" for note in drawing.notes]
    lines += _layer_lines(drawing) + _loop_lines(drawing, unit) + _open_lines(drawing, unit)
    lines += _counted("repair", drawing.repairs)
    problems = problems_that_matter(drawing, roles)
    lines += _numbered(problems)
    lines += _idle(len(drawing.problems) - len(problems))
    lines += [f"left out: {item}" for item in drawing.left_out]
    lines += _part_lines(drawing, roles, unit)
    return [told(line) for line in lines]


def _title(drawing: Drawing) -> str:
    form = "binary" if drawing.binary else "text"
    if not drawing.units:
        unit = f"unit unknown ({drawing.stated})"
    elif drawing.units == "mm":
        unit = f"unit mm ({drawing.stated})"
    else:
        unit = f"unit {drawing.units} ({drawing.stated}), given here in mm"
    return f"drawing '{drawing.name}': DXF {drawing.version}, {form}, {unit}"


def _extent(drawing: Drawing, unit: str) -> list[str]:
    joined = f"ends joined within {shown(drawing.join)} {unit}"
    if not drawing.chains:
        return [joined]
    bounds = [chain.bounds for chain in drawing.chains]
    low = min(b[0] for b in bounds), min(b[1] for b in bounds)
    high = max(b[2] for b in bounds), max(b[3] for b in bounds)
    size = f"{shown(high[0] - low[0], 3)} x {shown(high[1] - low[1], 3)} {unit}"
    if drawing.units == "in":
        wide, tall = (np.asarray(high) - low)[:2] / MM_PER_INCH
        size += f" ({shown(wide)} x {shown(tall)} in)"
    return [f"size {size}, from {shown_place(low)} to {shown_place(high)}; {joined}"]


def _layer_lines(drawing: Drawing) -> list[str]:
    lines = []
    for layer in drawing.layers:
        counts = ", ".join(f"{count} {kind}" for kind, count in layer.counts) or "nothing used"
        state = f" ({layer.hidden})" if layer.hidden else ""
        lines.append(f"layer '{layer.name}'{state}: {counts}")
    return lines


def _loop_lines(drawing: Drawing, unit: str) -> list[str]:
    loops = sorted(drawing.loops, key=by_size)
    lines = [f"loop {k}: {_described(loop, unit)}" for k, loop in enumerate(loops[:MOST_LISTED], 1)]
    if len(loops) > MOST_LISTED:
        lines.append(f"and {len(loops) - MOST_LISTED} smaller loops")
    return lines


def _described(loop: Chain, unit: str) -> str:
    wide, high = loop.size
    if loop.round:
        centre, diameter = loop.round
        form = f"circle of {shown(diameter)} {unit} at {shown_place(centre)}"
    else:
        corners, arcs = int(np.asarray(loop.curve.corners).sum()), int(loop.curve.is_arc.sum())
        pieces = f"{counted(len(loop.curve) - arcs, 'line')} and {counted(arcs, 'arc')}"
        sharp = counted(corners, "corner")
        form = f"{shown(wide, 3)} x {shown(high, 3)} {unit}, {pieces}, {sharp}"
    area, length = shown(abs(loop.curve.area), 2), shown(loop.curve.length, 3)
    return f"{form}, area {area} {unit}2, length {length} {unit}; {loop}"


def _open_lines(drawing: Drawing, unit: str) -> list[str]:
    chains = sorted(drawing.open_chains, key=lambda c: -c.curve.length)
    lines = [
        f"open chain: {shown(chain.curve.length, 3)} {unit} long, from"
        f" {shown_place(chain.curve.vertices[0])} to {shown_place(chain.curve.vertices[-1])}; {chain}"
        for chain in chains[:MOST_LISTED]
    ]
    if len(chains) > MOST_LISTED:
        lines.append(f"and {len(chains) - MOST_LISTED} shorter open chains")
    return lines


def _counted(word: str, troubles: Sequence[Trouble]) -> list[str]:
    """Return one line each, at most so many of a kind, and how many more there are."""
    lines: list[str] = []
    counts: Counter[str] = Counter()
    for trouble in troubles:
        counts[trouble.kind] += 1
        if counts[trouble.kind] <= MOST_LISTED:
            lines.append(f"{word} ({trouble.kind}): {trouble}")
    for kind, count in counts.items():
        if count > MOST_LISTED:
            lines.append(f"and {count - MOST_LISTED} more repairs of kind '{kind}'")
    return lines


def _numbered(problems: Sequence[Problem]) -> list[str]:
    lines = [
        f"problem {k} ({one.kind}): {one}" for k, one in enumerate(problems[: 5 * MOST_LISTED], 1)
    ]
    rest = len(problems) - len(lines)
    return [*lines, f"and {rest} more problems"] if rest else lines


def _idle(count: int) -> list[str]:
    if not count:
        return []
    return [f"{counted(count, 'problem')} on layers that are not cut; the part is not affected"]


def unclear(drawing: Drawing, roles: Roles | None = None) -> tuple[str, ...]:
    """Return why the part is not clear, one line each, or nothing where it is.

    A problem on a layer that does not matter for the part leaves it clear, as in an order.
    """
    try:
        find_parts(drawing, roles)
    except DrawingError as fault:
        return fault.lines
    return ()


def _part_lines(drawing: Drawing, roles: Roles | None, unit: str) -> list[str]:
    try:
        parts = find_parts(drawing, roles)
    except DrawingError as fault:
        known = {str(p) for p in drawing.problems}
        known |= {told(line) for line in problem_lines(drawing.problems)}
        rest = [line for line in fault.lines if line not in known]
        if not rest:
            return [f"part: not known; mend the {counted(len(drawing.problems), 'problem')} first"]
        return ["part: not clear", *(f"  {line}" for line in rest)]
    return _clear_part(parts, unit)


def _clear_part(parts: Parts, unit: str) -> list[str]:
    low_x, low_y, high_x, high_y = parts.outline.bounds
    lines = [
        f"part: outline {shown(high_x - low_x, 3)} x {shown(high_y - low_y, 3)} {unit}, length"
        f" {shown(parts.outline.length, 3)} {unit}; {counted(len(parts.bores), 'bore')},"
        f" {counted(len(parts.slots), 'slot')}"
    ]
    lines += [
        f"  bore {bore.name}: {shown(bore.diameter)} {unit} at {shown_place(bore.centre)}"
        for bore in parts.bores[:MOST_LISTED]
    ]
    if len(parts.bores) > MOST_LISTED:
        lines.append(f"  and {len(parts.bores) - MOST_LISTED} more bores")
    if len(parts.tabs):
        lines.append("  tabs at " + ", ".join(shown_place(place) for place in parts.tabs))
    marks = len(parts.no_tabs) + len(parts.no_tab_pairs)
    if marks:
        lines.append(f"  {counted(marks, 'mark')} where no tab may stand")
    return lines + [f"  note: {note}" for note in parts.notes]


def report_data(drawing: Drawing, roles: Roles | None = None) -> dict[str, Any]:
    """Return the same as figures, ready for JSON; lengths in mm (in units if these are unknown)."""
    data: dict[str, Any] = {
        "name": drawing.name,
        "version": drawing.version,
        "binary": drawing.binary,
        "units": drawing.units or None,
        "stated": drawing.stated,
        "join": drawing.join,
        "layers": [
            {"name": layer.name, "hidden": layer.hidden or None, "counts": dict(layer.counts)}
            for layer in drawing.layers
        ],
        "loops": [_loop_data(loop) for loop in drawing.loops],
        "open_chains": [_open_data(chain) for chain in drawing.open_chains],
        "repairs": [_trouble_data(repair) for repair in drawing.repairs],
        "problems": [_trouble_data(problem) for problem in problems_that_matter(drawing, roles)],
        "left_out": [
            {"kind": item.kind, "layer": item.layer, "count": item.count, "why": item.why}
            for item in drawing.left_out
        ],
        "notes": [told(note) for note in drawing.notes],
    }
    try:
        data["part"] = _part_data(find_parts(drawing, roles))
        data["unclear"] = []
    except DrawingError as fault:
        data["part"] = None
        data["unclear"] = list(fault.lines)
    return data


def _origin_data(chain: Chain) -> dict[str, Any]:
    return {
        "layers": list(chain.layers),
        "handles": list(dict.fromkeys(origin.handle for origin in chain.origins)),
        "pieces": len(chain.curve),
    }


def _loop_data(loop: Chain) -> dict[str, Any]:
    return {
        **_origin_data(loop),
        "bounds": list(loop.bounds),
        "area": abs(loop.curve.area),
        "length": loop.curve.length,
        "diameter": loop.round[1] if loop.round else None,
    }


def _open_data(chain: Chain) -> dict[str, Any]:
    start, end = chain.curve.vertices[[0, -1]].tolist()
    return {**_origin_data(chain), "start": start, "end": end, "length": chain.curve.length}


def _trouble_data(trouble: Trouble) -> dict[str, Any]:
    return {
        "kind": trouble.kind,
        "layer": trouble.layer,
        "handle": trouble.handle,
        "entity": trouble.origin.kind if trouble.origin else None,
        "place": list(trouble.place) if trouble.place else None,
        "size": trouble.size,
        "message": str(trouble),
    }


def _part_data(parts: Parts) -> dict[str, Any]:
    return {
        "outline": {
            "bounds": list(parts.outline.bounds),
            "length": parts.outline.length,
            "area": parts.outline.area,
            "pieces": len(parts.outline),
        },
        "bores": [
            {"name": bore.name, "centre": list(bore.centre), "diameter": bore.diameter}
            for bore in parts.bores
        ],
        "slots": [{"bounds": list(s.bounds), "area": s.area} for s in parts.slots],
        "tabs": parts.tabs.tolist(),
        "no_tabs": len(parts.no_tabs) + len(parts.no_tab_pairs),
        "notes": [told(note) for note in parts.notes],
    }


INK_HEX = "#1d2a33"


WEIGHT = 0.9


RING_SIZE_PT = 2.6


MOST_RINGS = 400
"""With more joints than this, only corners of 10 degrees and more and loose ends get a ring."""


SHEET_MARGINS_IN = (0.65, 0.55, 0.2, 0.4)
"""Inches of the sheet left, below, right and above the picture, whatever its size."""


SIGNS = 14
"""Of the caption so many go into an inch."""


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
        left, low, right, high = SHEET_MARGINS_IN
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


def _picture_extent(drawing: Drawing) -> tuple[Floats, Floats]:
    places = [chain.bounds for chain in drawing.chains]
    places += [(*mark.place, *mark.place) for mark in drawing.marks]
    if not places:
        return np.zeros(2), np.ones(2)
    rows = np.array(places)
    low, high = rows[:, :2].min(axis=0), rows[:, 2:].max(axis=0)
    return low, np.maximum(high, low + 1e-3)


def _figure_size(drawing: Drawing) -> tuple[float, float]:
    low, high = _picture_extent(drawing)
    wide, tall = high - low
    scale = min(10.0 / wide, 8.0 / tall)
    return max(6.0, float(wide * scale) + 1.2), max(3.0, float(tall * scale) + 1.2)


def _draw(axes: Any, drawing: Drawing, problems: Sequence[Problem]) -> None:
    low, high = _picture_extent(drawing)
    size = float((high - low).max())
    for chain in drawing.chains:
        points = chain.curve.points(size * 2e-5)
        if chain.closed:
            points = np.concatenate([points, points[:1]])
        axes.plot(
            *points.T,
            color=INK_HEX,
            linewidth=WEIGHT,
            solid_joinstyle="round",
            solid_capstyle="round",
        )
    _rings(axes, drawing)
    if drawing.marks:
        axes.plot(*np.array([m.place for m in drawing.marks]).T, "+", color=INK_HEX, markersize=6)
    _balloons(axes, problems, low, high)
    margin = 0.06 * size
    axes.set_xlim(low[0] - margin, high[0] + margin)
    axes.set_ylim(low[1] - margin, high[1] + margin)
    axes.set_aspect("equal", adjustable="box")
    axes.tick_params(colors=INK_HEX, labelsize=7, width=0.5)
    for spine in axes.spines.values():
        spine.set_linewidth(0.5)
        spine.set_color(INK_HEX)
    unit = "mm" if drawing.units else "units"
    axes.set_xlabel(f"X in {unit}", fontsize=7, color=INK_HEX)
    axes.set_ylabel(f"Y in {unit}", fontsize=7, color=INK_HEX)
    across = axes.get_position().width * axes.figure.get_figwidth()
    caption = fill(_caption(drawing, problems), int(SIGNS * across))
    axes.set_title(caption, fontsize=8, color=INK_HEX, loc="left", parse_math=False)


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
            textcoords="offset points", fontsize=7, color=INK_HEX, zorder=4,
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
    style = {"linestyle": "none", "marker": "o", "markersize": RING_SIZE_PT, "markeredgewidth": 0.6}
    if joints:
        axes.plot(
            *np.array(joints).T, markerfacecolor="white", markeredgecolor=INK_HEX, zorder=3, **style
        )
    if ends:
        axes.plot(
            *np.array(ends).T, markerfacecolor=INK_HEX, markeredgecolor=INK_HEX, zorder=3, **style
        )


def _sharp(curve: Curve) -> NDArray[np.bool_]:
    """Return at which vertices (N,) the curve turns by 10 degrees or more."""
    turn = curve.start_headings - np.roll(curve.end_headings, 1)
    sharp = np.abs((turn + np.pi) % (2 * np.pi) - np.pi) >= SHARP_CORNER_RAD
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
            color=INK_HEX,
            ha="center",
            va="center",
            zorder=5,
            bbox={"boxstyle": "circle,pad=0.3", "fc": "white", "ec": INK_HEX, "lw": 0.7},
            arrowprops={"arrowstyle": "-", "color": INK_HEX, "lw": 0.7, "shrinkB": 2.0},
        )

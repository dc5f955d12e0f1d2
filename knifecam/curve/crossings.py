"""Where pieces cross or touch each other, and where straight lines cross curves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from knifecam.curve.curve import Curve, Floats, Placement, placed
from knifecam.curve.curve_limits import PIECES_TOUCH_MM, SNAP_MM, TREE_FROM_PIECES
from knifecam.curve.pieces import Pieces

Rows = NDArray[np.int64]


def boxes(pieces: Pieces) -> Floats:
    """Return boxes (M, 4) that hold each piece: x low, y low, x high, y high."""
    chord = np.hypot(*(pieces.stop - pieces.start).T)
    rise = (chord / 2 * np.tan(np.abs(pieces.angle) / 4) * (1 + 1e-6) + SNAP_MM)[:, None]
    low = np.minimum(pieces.start, pieces.stop) - rise
    high = np.maximum(pieces.start, pieces.stop) + rise
    return np.concatenate([low, high], axis=1)


def neighbours(pieces: Pieces) -> tuple[Rows, Rows]:
    """Return the pairs (i < j) of pieces whose boxes overlap."""
    box = boxes(pieces)
    if len(pieces) > TREE_FROM_PIECES:
        rectangles = shapely.box(*box.T)
        first, second = shapely.STRtree(rectangles).query(rectangles)
        ordered = first < second
        return first[ordered].astype(np.int64), second[ordered].astype(np.int64)
    apart = np.zeros((len(box), len(box)), bool)
    for low, high in ((0, 2), (1, 3)):
        apart |= box[:, low, None] > box[None, :, high]
    first, second = np.nonzero(np.triu(~(apart | apart.T), 1))
    return first, second


def split_stations(pieces: Pieces) -> tuple[Rows, Floats]:
    """Return where pieces must be split: rows (K,) and how far along, (K,) mm, ends left out.

    Between splits no piece meets another, but for shared stretches, which end at splits.
    """
    first, second = neighbours(pieces)
    if len(first) == 0:
        return first, np.zeros(0)
    places = np.full((len(first), 6, 2), np.nan)
    places[:, 0], places[:, 1] = pieces.start[first], pieces.stop[first]
    places[:, 2], places[:, 3] = pieces.start[second], pieces.stop[second]
    places[:, 4:] = _crossings(pieces, first, second)
    gone_first, off_first = pieces.project(first, places)
    gone_second, off_second = pieces.project(second, places)
    met = _within(gone_first, off_first, pieces.length[first])
    met &= _within(gone_second, off_second, pieces.length[second])
    rows: list[Rows] = []
    along: list[Floats] = []
    for chosen, gone in ((first, gone_first), (second, gone_second)):
        length = pieces.length[chosen][:, None]
        inner = met & (gone > SNAP_MM / 2) & (gone < length - SNAP_MM / 2)
        rows.append(np.broadcast_to(chosen[:, None], inner.shape)[inner])
        along.append(gone[inner])
    return np.concatenate(rows), np.concatenate(along)


def _within(gone: Floats, off: Floats, length: Floats) -> NDArray[np.bool_]:
    with np.errstate(invalid="ignore"):
        return (
            (off < PIECES_TOUCH_MM) & (gone > -SNAP_MM / 2) & (gone < length[:, None] + SNAP_MM / 2)
        )


def _crossings(pieces: Pieces, first: Rows, second: Rows) -> Floats:
    """Return up to two places (K, 2, 2) where the pairs, prolonged, cross; NaN for none."""
    found = np.full((len(first), 2, 2), np.nan)
    curved_first, curved_second = pieces.angle[first] != 0, pieces.angle[second] != 0
    lines = ~curved_first & ~curved_second
    found[lines, 0] = _line_line(pieces, first[lines], second[lines])
    for mixed, line, arc in (
        (~curved_first & curved_second, first, second),
        (curved_first & ~curved_second, second, first),
    ):
        direction = -_turned(pieces.heading[line[mixed]])
        found[mixed] = _line_circle(pieces.start[line[mixed]], direction, pieces, arc[mixed])
    arcs = curved_first & curved_second
    found[arcs] = _arc_arc(pieces, first[arcs], second[arcs])
    return found


def _turned(heading: Floats) -> Floats:
    return -np.stack([np.cos(heading), np.sin(heading)], axis=1)


def _cross(a: Floats, b: Floats) -> Floats:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def _dot(a: Floats, b: Floats) -> Floats:
    return a[..., 0] * b[..., 0] + a[..., 1] * b[..., 1]


def _line_line(pieces: Pieces, first: Rows, second: Rows) -> Floats:
    along, other = -_turned(pieces.heading[first]), -_turned(pieces.heading[second])
    sine = _cross(along, other)
    gap = pieces.start[second] - pieces.start[first]
    with np.errstate(divide="ignore", invalid="ignore"):
        gone = np.where(np.abs(sine) > 1e-12, _cross(gap, other) / sine, np.nan)
    return pieces.start[first] + gone[:, None] * along


def _line_circle(origin: Floats, direction: Floats, pieces: Pieces, arc: Rows) -> Floats:
    """Return where lines (K, 2) along unit ``direction`` meet the arcs' circles, (K, 2, 2).

    With q from the arc's start and w its arm, ``|q + t u|^2 + 2 (q + t u).w = 0``. A line that
    passes a circle within `PIECES_TOUCH_MM` touches it at the nearest place.
    """
    arm = pieces.arm[arc]
    q = origin - pieces.start[arc]
    half = _dot(q, direction) + _dot(arm, direction)
    power = _dot(q, q) + 2 * _dot(q, arm)
    square = half * half - power
    reach = 2 * np.hypot(arm[:, 0], arm[:, 1]) * PIECES_TOUCH_MM
    root = np.sqrt(np.where(square > -reach, np.maximum(square, 0.0), np.nan))
    far = -(half + np.copysign(root, half))
    with np.errstate(divide="ignore", invalid="ignore"):
        near = np.where((far != 0) & (root > 0), power / far, -half)
    gone = np.stack([near, far], axis=1)
    return origin[:, None] + gone[..., None] * direction[:, None]


def _arc_arc(pieces: Pieces, first: Rows, second: Rows) -> Floats:
    """Return where the arcs' circles meet, (K, 2, 2), by their radical line; NaN if concentric.

    The line is met with the smaller circle: along a much larger one it runs all but alike.
    """
    size = np.hypot(pieces.arm[:, 0], pieces.arm[:, 1])
    larger = size[first] > size[second]
    first, second = np.where(larger, second, first), np.where(larger, first, second)
    gap = pieces.start[second] - pieces.start[first]
    between = pieces.arm[second] - gap - pieces.arm[first]
    size = np.hypot(between[:, 0], between[:, 1])
    with np.errstate(divide="ignore", invalid="ignore"):
        unit = np.where((size > SNAP_MM)[:, None], between / size[:, None], np.nan)
        away = (_dot(gap, pieces.arm[second]) - _dot(gap, gap) / 2) / size
    origin = pieces.start[first] + away[:, None] * unit
    direction = np.stack([-unit[:, 1], unit[:, 0]], axis=1)
    return _line_circle(origin, direction, pieces, first)


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePieces:
    """The pieces of several closed curves in one table; ``loop`` (M,) tells whose each is."""

    starts: Floats
    ends: Floats
    centres: Floats
    radii: Floats
    angles: Floats
    loop: NDArray[np.int64]


def pieces_of(curves: Sequence[Curve]) -> CurvePieces:
    """Return all pieces of ``curves``; each curve is one loop."""
    table = np.concatenate([curve.table for curve in curves])
    loop = np.repeat(np.arange(len(curves)), [len(c) for c in curves])
    return CurvePieces(
        starts=table[:, :2], ends=table[:, 2:4], centres=table[:, 4:6], radii=table[:, 6],
        angles=table[:, 7], loop=loop,
    )  # fmt: skip


def row_crossings(pieces: CurvePieces, y: float) -> tuple[Floats, NDArray[np.int64]]:
    """Return x (K,) mm where the row at ``y`` crosses the pieces, ascending, and the loops (K,).

    A closed loop is crossed an even number of times. A vertex that lies in the row counts as
    above it.
    """
    low, high = pieces.starts[:, 1] < y, pieces.ends[:, 1] < y
    passing = low != high
    x, loop = [], []
    straight = np.flatnonzero(passing & (pieces.radii == 0))
    start, end = pieces.starts[straight], pieces.ends[straight]
    part = (y - start[:, 1]) / (end[:, 1] - start[:, 1])
    x.append(start[:, 0] + part * (end[:, 0] - start[:, 0]))
    loop.append(pieces.loop[straight])
    arm = y - pieces.centres[:, 1]
    bent = np.flatnonzero((pieces.radii > 0) & (passing | (np.abs(arm) < pieces.radii)))
    half = np.sqrt(np.maximum(pieces.radii[bent] ** 2 - arm[bent] ** 2, 0.0))
    roots = pieces.centres[bent, 0][:, None] + half[:, None] * np.array([-1.0, 1.0])
    on_arc = _beside_chord(pieces, bent, roots, y)
    once = passing[bent]
    first = np.where(on_arc[:, 0] >= on_arc[:, 1], roots[:, 0], roots[:, 1])
    x.append(first[once])
    loop.append(pieces.loop[bent[once]])
    twice = ~once & (on_arc.min(axis=1) > 0)
    x.append(roots[twice].ravel())
    loop.append(np.repeat(pieces.loop[bent[twice]], 2))
    every, whose = np.concatenate(x), np.concatenate(loop)
    order = np.argsort(every, kind="stable")
    return every[order], whose[order]


def _beside_chord(pieces: CurvePieces, bent: NDArray[np.int64], roots: Floats, y: float) -> Floats:
    """Twice the area (K, 2) between the chords of arcs and points on their circles: > 0 on the arc."""
    start, end = pieces.starts[bent], pieces.ends[bent]
    dx, dy = (end - start).T
    across = dx[:, None] * (y - start[:, 1])[:, None] - dy[:, None] * (roots - start[:, :1])
    return np.asarray(-np.sign(pieces.angles[bent])[:, None] * across)


def ray_length(outline: Curve, origin: tuple[float, float], heading: float) -> float:
    """Return how far a ray runs from ``origin`` before it meets the closed curve, mm.

    Places within 1e-6 mm of the origin do not count; inf when it meets nothing.
    """
    c, s = math.cos(heading), math.sin(heading)
    turned = Placement(
        angle=-heading, x=-(c * origin[0] + s * origin[1]), y=s * origin[0] - c * origin[1]
    )
    x, _ = row_crossings(pieces_of([placed(outline, turned)]), 0.0)
    ahead = x[x > 1e-6]
    return float(ahead[0]) if len(ahead) else math.inf

"""Where straight lines cross curves, in closed form."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, Placement, placed
from knifecam.curve.curve import Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Pieces:
    """The pieces of several closed curves in one table; ``loop`` (M,) tells whose each is."""

    starts: Floats
    ends: Floats
    centres: Floats
    radii: Floats
    angles: Floats
    loop: NDArray[np.int64]


def pieces_of(curves: Sequence[Curve]) -> Pieces:
    """Return all pieces of ``curves``; each curve is one loop."""
    table = np.concatenate([curve.table for curve in curves])
    loop = np.repeat(np.arange(len(curves)), [len(c) for c in curves])
    return Pieces(
        starts=table[:, :2], ends=table[:, 2:4], centres=table[:, 4:6], radii=table[:, 6],
        angles=table[:, 7], loop=loop,
    )  # fmt: skip


def row_crossings(pieces: Pieces, y: float) -> tuple[Floats, NDArray[np.int64]]:
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


def _beside_chord(pieces: Pieces, bent: NDArray[np.int64], roots: Floats, y: float) -> Floats:
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

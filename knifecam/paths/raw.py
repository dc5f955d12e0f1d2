"""Raw offsets: every piece of a curve moved to its left, and arcs round the convex corners.

Arcs are held by their start, the arm from the centre to it and the angle, never by the centre:
so a flat arc of any radius keeps full precision.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve
from knifecam.curve.curve import Floats
from knifecam.curve.pieces import SNAP, Pieces, joints, left, moved_pieces, picked
from knifecam.paths.tidy import SHORTEST

MITRE_SLACK = 5e-7
"""mm: a convex corner is mitred instead of rounded where that leaves no more than this."""


def raw_offsets(curve: Curve, distance: float) -> Pieces:
    """Return the closed curve's pieces moved ``distance`` mm left, and its corner arcs.

    Every point of the offset on the left lies on one of them. Arcs about a centre on the left
    that are no wider than the distance have vanished: their moved points are all too near.
    """
    arriving, turn = joints(curve)
    leaving = curve.start_headings
    line = ~curve.is_arc
    mitred = _mitred(turn, line & np.roll(line, 1), distance)
    joint = arriving + turn / 2
    shared = curve.starts + distance / np.cos(np.where(mitred, turn / 2, 0.0))[:, None] * left(
        joint
    )
    start = np.where(mitred[:, None], shared, curve.starts + distance * left(leaving))
    stop = np.where(
        np.roll(mitred, -1)[:, None],
        np.roll(shared, -1, axis=0),
        curve.ends + distance * left(curve.end_headings),
    )
    moved = moved_pieces(curve, distance, start, stop)
    rounded = np.flatnonzero(~mitred & (turn < 0))
    arcs = _corner_arcs(curve, distance, arriving[rounded], turn[rounded], rounded)
    order = np.argsort(np.concatenate([moved[0], rounded - 0.5]), kind="stable")
    return picked(_joined(moved[1], arcs), order)


def _mitred(turn: Floats, straight: NDArray[np.bool_], distance: float) -> NDArray[np.bool_]:
    """Which joints need no corner arc: smooth ones, and slight convex ones between lines."""
    slight = distance * np.abs(turn) < SHORTEST
    close = distance * turn**2 / 8 < MITRE_SLACK
    return (distance * np.abs(turn) < SNAP / 2) | (straight & slight & close & (turn < 0))


def _corner_arcs(
    curve: Curve, distance: float, heading: Floats, turn: Floats, vertex: NDArray[np.int64]
) -> Pieces:
    arm = distance * left(heading)
    return Pieces(
        start=curve.starts[vertex] + arm,
        stop=curve.starts[vertex] + distance * left(heading + turn),
        arm=arm,
        heading=heading,
        angle=turn,
        length=distance * np.abs(turn),
    )


def _joined(a: Pieces, b: Pieces) -> Pieces:
    return Pieces(
        start=np.concatenate([a.start, b.start]),
        stop=np.concatenate([a.stop, b.stop]),
        arm=np.concatenate([a.arm, b.arm]),
        heading=np.concatenate([a.heading, b.heading]),
        angle=np.concatenate([a.angle, b.angle]),
        length=np.concatenate([a.length, b.length]),
    )

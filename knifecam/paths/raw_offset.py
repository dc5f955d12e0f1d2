"""Pieces moved sideways, arcs round corners; parallel curves of open curves.

Arcs are held by their start, the arm from the centre to it and the angle, never by the centre:
so a flat arc of any radius keeps full precision.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, distance, place_at
from knifecam.curve.curve import Floats
from knifecam.curve.curve_limits import SNAP_MM
from knifecam.curve.pieces import Pieces, joints, left, moved_pieces, picked, wrapped
from knifecam.errors import PlanError
from knifecam.paths.offset_loops import kept, near_pieces
from knifecam.paths.paths_limits import (
    EXACT_CURVE_MM,
    LEAST_SHRUNK_MM,
    MITRE_SLACK_MM,
    SHORTEST_PIECE_MM,
    SPREAD_MM,
    TANGENT_RAD,
)
from knifecam.quantity import Place, mm


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
    slight = distance * np.abs(turn) < SHORTEST_PIECE_MM
    close = distance * turn**2 / 8 < MITRE_SLACK_MM
    return (distance * np.abs(turn) < SNAP_MM / 2) | (straight & slight & close & (turn < 0))


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


def open_offset(curve: Curve, away: float) -> Curve:
    """Return the open curve ``away`` mm left of an open one, right of it where negative.

    It runs the same way, from the one end's normal to the other's. Every point is at the distance
    within `EXACT_CURVE_MM`; where the curve bends tighter than the distance its loops are left out.

    Raises
    ------
    PlanError
        When no curve at that distance leads from end to end.
    """
    if away == 0:
        return curve
    source = curve if away > 0 else curve.reversed()
    far = abs(away)
    pieces = _moved(source, far)
    pieces = picked(pieces, np.flatnonzero(near_pieces(pieces, source, far)))
    found = _chain(pieces, source, far)
    if found is None or np.abs(distance(found.points(1e-3), source) - far).max() > EXACT_CURVE_MM:
        x, y = source.vertices[len(source.vertices) // 2]
        raise PlanError(
            f"no curve {mm(away):.3f} beside the one near {Place(x, y):.2f} leads from end to end:"
            " it bends too tightly, or its ends come too near"
        )
    return found if away > 0 else found.reversed()


def open_offsets(curve: Curve, aways: Sequence[float]) -> tuple[Curve, ...]:
    """Return the curves `open_offset` gives for several distances, those of a smooth curve all at once.

    A curve without corners has parallel curves of the same pieces, as long as no arc shrinks to
    nothing; where it turns both ways, or round, they are measured not to come nearer to it.
    """
    low, high = _plain_between(curve)
    normals = left(np.append(curve.start_headings, curve.end_headings[-1]))
    turned = float(np.abs(curve.angles[curve.is_arc]).sum())
    sure = turned < 0.98 * np.pi and len(set(np.sign(curve.angles[curve.is_arc]))) <= 1
    found = []
    for away in aways:
        plain = low < away < high
        if plain:
            moved = Curve(curve.vertices + away * normals, curve.bulges, False, curve.corners)
            plain = sure or bool(
                distance(_spread(moved), curve).min() >= abs(away) - EXACT_CURVE_MM
            )
        found.append(moved if plain else open_offset(curve, away))
    return tuple(found)


def _spread(curve: Curve) -> Floats:
    count = int(np.ceil(curve.length / SPREAD_MM)) + 1
    return place_at(curve, np.linspace(0.0, curve.length, count))[0]


def _plain_between(curve: Curve) -> tuple[float, float]:
    """Return between which distances no arc of a smooth curve vanishes; 0, 0 for one with corners."""
    turn = wrapped(curve.start_headings[1:] - curve.end_headings[:-1])
    if np.abs(turn).max(initial=0.0) > TANGENT_RAD:
        return 0.0, 0.0
    lefts, rights = (curve.radii[curve.is_arc & (s * curve.angles > 0)] for s in (1, -1))
    return (
        LEAST_SHRUNK_MM - float(rights.min(initial=np.inf)),
        float(lefts.min(initial=np.inf)) - LEAST_SHRUNK_MM,
    )


def _moved(curve: Curve, far: float) -> Pieces:
    """Return the pieces moved to the left, with arcs about the corners that are convex there."""
    start = curve.starts + far * left(curve.start_headings)
    stop = curve.ends + far * left(curve.end_headings)
    sign = np.sign(curve.angles) * np.where(curve.is_arc, curve.radii, 1.0)
    radius = np.where(curve.is_arc, sign - far, 0.0)
    alive = ~curve.is_arc | (sign < 0) | (radius > SNAP_MM / 4)
    arm = np.where(curve.is_arc[:, None], -radius[:, None] * left(curve.start_headings), 0.0)
    angle = np.where(curve.is_arc, curve.angles, 0.0)
    length = np.where(curve.is_arc, np.abs(angle * radius), np.hypot(*(stop - start).T))
    turn = wrapped(curve.start_headings[1:] - curve.end_headings[:-1])
    corner = np.flatnonzero((turn < 0) & (far * np.abs(turn) >= SNAP_MM / 2))
    at, heading = curve.ends[corner], curve.end_headings[corner]
    swung = far * left(heading)
    rows = np.concatenate([np.flatnonzero(alive), corner + 0.5])
    chosen = np.flatnonzero(alive)
    joined = Pieces(
        start=np.concatenate([start[chosen], at + swung]),
        stop=np.concatenate([stop[chosen], at + far * left(heading + turn[corner])]),
        arm=np.concatenate([arm[chosen], swung]),
        heading=np.concatenate([curve.start_headings[chosen], heading]),
        angle=np.concatenate([angle[chosen], turn[corner]]),
        length=np.concatenate([length[chosen], far * np.abs(turn[corner])]),
    )
    return picked(joined, np.argsort(rows, kind="stable"))


def _chain(pieces: Pieces, source: Curve, far: float) -> Curve | None:
    """Return the parts at the distance that lead from the first piece's start to the last's end."""
    parts = kept(pieces, source, far)
    if not len(parts.row):
        return None
    here = source.vertices[0] + far * left(source.start_headings[:1])[0]
    goal = source.vertices[-1] + far * left(source.end_headings[-1:])[0]
    chosen: list[int] = []
    for k in range(len(parts.row)):
        if np.hypot(*(parts.begin[k] - here)) <= 20 * SNAP_MM:
            chosen.append(k)
            here = parts.end[k]
    if not chosen or np.hypot(*(here - goal)) > 20 * SNAP_MM:
        return None
    rows = np.array(chosen)
    row, share = parts.row[rows], parts.high[rows] - parts.low[rows]
    bulges = np.tan(pieces.angle[row] * share / pieces.length[row] / 4)
    return _without_short(np.vstack([parts.begin[rows], here]), np.append(bulges, 0.0))


def _without_short(vertices: Floats, bulges: Floats) -> Curve:
    """Return the chain without pieces under `SHORTEST_PIECE_MM`: their starts move onto their ends."""
    chord = np.hypot(*np.diff(vertices, axis=0).T)
    long = np.append(chord >= SHORTEST_PIECE_MM, True)
    long[0] = True
    return Curve(vertices[long], bulges[long], closed=False)

"""Joined segments as chains: curves whose pieces meet exactly."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve
from knifecam.curve.curve import CORNER_ANGLE, Floats
from knifecam.drawing.record import Chain, Origin, Piece
from knifecam.drawing.segment import SHORTEST, Ints, Segments

Flags = NDArray[np.bool_]

TURNED = 0.1
"""rad: where two pieces meet at a larger turn, they are prolonged or cut to where they cross."""

NEAR = 1e-6
"""mm: ends nearer than this are made one without asking how."""


def chains_of(segments: Segments, pieces: Sequence[Piece], join: float) -> list[tuple[Chain, Ints]]:
    """Return the chains, and for each the segment every piece of its curve comes from.

    Chains come in the order of the file. A closed chain runs counter-clockwise from its vertex of
    least x (least y among these), an open one from its end of least x.
    """
    found = []
    for order, closed in _walks(segments.mate):
        curve, which = _curve(segments, np.array(order, dtype=np.int64), closed, join)
        origins: dict[Origin, None] = {}
        for k in which:
            origins.setdefault(pieces[int(segments.piece[k])].origin)
        found.append((Chain(curve, tuple(origins)), which))
    return found


def _walks(mate: Ints) -> list[tuple[list[int], bool]]:
    """Return every chain as the ends it enters its segments by, and whether it is closed."""
    seen = np.zeros(len(mate) // 2, dtype=bool)
    partner = mate.tolist()
    walks: dict[int, tuple[list[int], bool]] = {}
    loose = [end for end, other in enumerate(partner) if other == -1]
    for first in (*loose, *range(0, len(partner), 2)):
        if seen[first // 2]:
            continue
        order, end = [], first
        while end != -1 and not seen[end // 2]:
            seen[end // 2] = True
            order.append(end)
            end = partner[end ^ 1]
        walks[min(e // 2 for e in order)] = (order, end != -1)
    return [walks[k] for k in sorted(walks)]


def _curve(segments: Segments, entered: Ints, closed: bool, join: float) -> tuple[Curve, Ints]:
    """Return a chain's curve, and the segment each of its pieces comes from."""
    k, back = entered // 2, entered % 2 == 1
    start = np.where(back[:, None], segments.end[k], segments.start[k])
    end = np.where(back[:, None], segments.start[k], segments.end[k])
    bulge = np.where(back, -segments.bulge[k], segments.bulge[k])
    corner = np.abs(_turns(start, end, bulge)) > CORNER_ANGLE
    if not closed:
        corner[0] = False
    start, end, bulge = _meeting(start, end, bulge, closed, join)
    vertices, bulges = start, bulge
    if not closed:
        vertices, bulges = np.concatenate([start, end[-1:]]), np.append(bulge, 0.0)
        corner = np.append(corner, False)
    vertices, bulges, corner, k = _halved(vertices, bulges, corner, k, closed)
    vertices, bulges, corner, k = _without_stubs(vertices, bulges, corner, k, closed)
    return _canonical(Curve(vertices, bulges, closed, corner), k)


def _headings(start: Floats, end: Floats, bulge: Floats) -> tuple[Floats, Floats]:
    chord = end - start
    toward = np.arctan2(chord[:, 1], chord[:, 0])
    half = 2 * np.arctan(bulge)
    return toward - half, toward + half


def _turns(start: Floats, end: Floats, bulge: Floats) -> Floats:
    """Return the turn (M,) in rad at the start of every piece, seen from the one before it."""
    leaving, arriving = _headings(start, end, bulge)
    turn = leaving - np.roll(arriving, 1)
    return np.asarray((turn + np.pi) % (2 * np.pi) - np.pi)


def _meeting(
    start: Floats, end: Floats, bulge: Floats, closed: bool, join: float
) -> tuple[Floats, Floats, Floats]:
    """Return the pieces with their ends moved so that they meet exactly.

    At a corner both are prolonged or cut to where their lines or circles cross. Elsewhere each is
    turned by the same small angle, so that a tangent joint stays tangent.
    """
    start, end, bulge = start.copy(), end.copy(), bulge.copy()
    before = np.roll(np.arange(len(start)), 1)
    apart = np.hypot(*(end[before] - start).T)
    turn = _turns(start, end, bulge)
    chord = np.hypot(*(end - start).T)
    gap = start - end[before]
    meet = end[before] + _share(start, end, gap)[:, None] * gap
    meet[apart == 0] = start[apart == 0]
    gained = np.zeros(len(start))
    joints = range(0 if closed else 1, len(start))
    for k in joints:
        long = min(chord[k - 1], chord[k]) > 3 * join
        if apart[k] > NEAR and abs(turn[k]) > TURNED and long:
            pieces = ((start[k - 1], end[k - 1], bulge[k - 1]), (start[k], end[k], bulge[k]))
            crossing = _crossing(*pieces, join)
            if crossing is not None:
                meet[k] = crossing
                gained[k - 1] += _swung(pieces[0], end[k - 1], crossing)
                gained[k] -= _swung(pieces[1], start[k], crossing)
    first = meet.copy()
    if not closed:
        first[0] = start[0]
    last = np.roll(meet, -1, axis=0)
    if not closed:
        last[-1] = end[-1]
    curved = bulge != 0
    bulge[curved] = np.tan(np.arctan(bulge[curved]) + gained[curved] / 4)
    return first, last, bulge


def _share(start: Floats, end: Floats, gap: Floats) -> Floats:
    """Return how far along its gap (M,), 0 to 1, each joint is put.

    A piece whose end moves by a small step keeps its bulge and turns by the step across its chord
    over the chord. With this share both pieces of a joint turn alike, as far as that is possible.
    """
    chord = end - start
    turn = (chord[:, 0] * gap[:, 1] - chord[:, 1] * gap[:, 0]) / (chord**2).sum(axis=1)
    before = np.roll(chord, 1, axis=0)
    turn_before = (before[:, 0] * gap[:, 1] - before[:, 1] * gap[:, 0]) / (before**2).sum(axis=1)
    both = turn + turn_before
    some = np.abs(both) > 1e-15
    return np.clip(np.where(some, turn / np.where(some, both, 1.0), 0.5), 0.0, 1.0)


def _swung(piece: tuple[Floats, Floats, float], one: Floats, other: Floats) -> float:
    """Return the angle in rad from one point of an arc's circle to another; 0 for lines."""
    if piece[2] == 0:
        return 0.0
    centre = _centre(*piece)
    arm, next_arm = one - centre, other - centre
    cross = arm[0] * next_arm[1] - arm[1] * next_arm[0]
    return float(np.arctan2(cross, arm @ next_arm))


def _centre(start: Floats, end: Floats, bulge: float) -> Floats:
    chord = end - start
    return np.asarray((start + end) / 2 + np.array([-chord[1], chord[0]]) * (1 / bulge - bulge) / 4)


def _crossing(
    one: tuple[Floats, Floats, float], other: tuple[Floats, Floats, float], join: float
) -> Floats | None:
    """Return where the lines or circles of two pieces cross, near their ends, by Newton's method.

    None where that is further than ``join`` from either end.
    """
    point = (one[1] + other[0]) / 2
    for _ in range(8):
        (f, df), (g, dg) = _level(one, point), _level(other, point)
        cross = df[0] * dg[1] - df[1] * dg[0]
        if not abs(cross) > 1e-3:
            return None
        step = np.array([f * dg[1] - g * df[1], g * df[0] - f * dg[0]]) / cross
        point = point - step
        if not np.hypot(*step) > 1e-13:
            break
    near = max(np.hypot(*(point - one[1])), np.hypot(*(point - other[0])))
    return point if near <= join else None


def _level(piece: tuple[Floats, Floats, float], point: Floats) -> tuple[float, Floats]:
    """Return how far a point lies off the line or circle of a piece, and the slope of that."""
    start, end, bulge = piece
    if bulge == 0:
        along = (end - start) / np.hypot(*(end - start))
        normal = np.array([-along[1], along[0]])
        return float((point - start) @ normal), normal
    centre = _centre(start, end, bulge)
    arm = point - centre
    size = float(np.hypot(*arm))
    return size - float(np.hypot(*(start - centre))), arm / max(size, 1e-300)


def _halved(
    vertices: Floats, bulges: Floats, corner: Flags, k: Ints, closed: bool
) -> tuple[Floats, Floats, Flags, Ints]:
    """Return the chain with arcs that have grown past half a turn cut in two."""
    for at in np.flatnonzero(np.abs(bulges) > 1)[::-1]:
        chord = vertices[(at + 1) % len(vertices)] - vertices[at]
        middle = vertices[at] + (chord + bulges[at] * np.array([chord[1], -chord[0]])) / 2
        half = np.tan(np.arctan(bulges[at]) / 2)
        vertices = np.insert(vertices, at + 1, middle, axis=0)
        bulges = np.insert(bulges, at + 1, half)
        bulges[at] = half
        corner = np.insert(corner, at + 1, False)
        k = np.insert(k, at + 1, k[at])
    return vertices, bulges, corner, k


def _without_stubs(
    vertices: Floats, bulges: Floats, corner: Flags, k: Ints, closed: bool
) -> tuple[Floats, Floats, Flags, Ints]:
    """Return the chain without pieces that moving their ends has left too short."""
    while len(k) > 2:
        ends = np.roll(vertices, -1, axis=0)[: len(k)]
        short = np.flatnonzero(np.hypot(*(ends - vertices[: len(k)]).T) < SHORTEST)
        if not len(short):
            break
        at = int(short[0])
        gone = (at + 1) % len(vertices) if closed or at + 2 < len(vertices) else at
        if closed and gone == 0:
            vertices[0], corner[0] = vertices[at], corner[0] | corner[at]
            gone = at
        bulges = np.delete(bulges, at)
        vertices, corner = np.delete(vertices, gone, axis=0), np.delete(corner, gone)
        k = np.delete(k, at)
    return vertices, bulges, corner, k


def _canonical(curve: Curve, which: Ints) -> tuple[Curve, Ints]:
    """Return the curve from its vertex of least x, closed ones counter-clockwise."""
    if curve.closed:
        if curve.area < 0:
            curve, which = curve.reversed(), which[::-1]
        low = _least(curve.vertices)
        corners = np.asarray(curve.corners)
        return (
            Curve(
                np.roll(curve.vertices, -low, axis=0),
                np.roll(curve.bulges, -low),
                True,
                np.roll(corners, -low),
            ),
            np.roll(which, -low),
        )
    if _least(curve.vertices[[0, -1]]) == 1:
        curve, which = curve.reversed(), which[::-1]
    return curve, which


def _least(vertices: Floats) -> int:
    """Return the vertex of least x, of least y among these; equal within 1 nm."""
    x, y = np.round(vertices, 6).T
    return int(np.lexsort((y, x))[0])

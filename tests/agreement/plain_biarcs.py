"""Smooth curves as lines and arcs, in plain numpy, whatever function they are.

For outlines of orders, and what the package's compiled fit of splines is held to.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from knifecam.curve.curve import Curve, Floats
from knifecam.curve.curve_limits import STRAIGHT_BULGE
from knifecam.drawing.end_joining import deviation_from_arc

SmoothCurve = Callable[[Floats], tuple[Floats, Floats]]
"""Takes parameters (K,) and returns points (K, 2) in mm and derivatives (K, 2)."""

SHORTEST_PIECE = 0.002
"""mm: no piece of a curve is shorter."""

_PLACES = 40
"""A stretch is measured at so many places, its arcs at twice as many."""

_AIM = 0.98
"""Share of the tolerance that may be used there; the rest is for the places between, where the
deviation, a smooth curve with a few humps, may be (1/40)^2 or so greater."""

_LARGEST_TURN = 1.8
"""rad: a stretch that turns further is halved before two arcs are tried."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Biarc:
    """Two arcs that meet tangentially: parameters, points and bulges."""

    low: float
    high: float
    start: Floats
    joint: Floats
    end: Floats
    bulges: tuple[float, float]


def fit_biarcs(
    curve: SmoothCurve,
    span: tuple[float, float],
    *,
    breaks: Sequence[float] = (),
    tolerance: float = 1e-3,
    most: int = 1000,
) -> Curve:
    """Return an open curve of arcs and lines that follows a smooth parametric one.

    Every point of either lies within ``tolerance`` mm of the other, measured along the arcs
    before the result is returned. Pieces meet tangentially except at ``breaks``, and none is
    shorter than 0.002 mm.

    Parameters
    ----------
    curve : callable
        Parameters (K,) to points (K, 2) in mm and derivatives (K, 2), smooth between breaks.
    span : (float, float)
        First and last parameter.
    breaks : sequence of float
        Parameters where the tangent may jump. A true corner there stays one.
    tolerance : float, mm
    most : int
        Pairs of arcs; so many are found by at most twice as many tries.

    Raises
    ------
    ValueError
        When the curve is not finite, stands still over a stretch, bends too tightly to be
        followed by pieces of 0.002 mm, or takes more than ``most`` pairs.
    """
    low, high = span
    if not (np.isfinite(low) and np.isfinite(high) and high > low):
        raise ValueError(f"span={low}..{high} must be finite and increasing")
    inner = sorted({float(b) for b in breaks if low < b < high})
    edges = [low, *inner, high]
    tries = iter(range(2 * most))
    arcs = [arc for a, b in pairwise(edges) for arc in _follow(curve, (a, b), tolerance, tries)]
    if not arcs:
        raise ValueError("the curve is shorter than a piece of 0.002 mm")
    return _chain(arcs)


def _follow(
    curve: SmoothCurve, span: tuple[float, float], tolerance: float, tries: Iterator[int]
) -> list[_Biarc]:
    """Return the biarcs of one smooth stretch by halving until they fit."""
    low, high = span
    found: list[_Biarc] = []
    waiting = [(low, high)]
    headings: dict[float, Floats] = {
        low: _heading_inside(curve, low, high),
        high: _heading_inside(curve, high, low),
    }
    while waiting:
        if next(tries, None) is None:
            x, y = curve(np.array([waiting[-1][0]]))[0][0]
            raise ValueError(
                f"the curve takes too many arcs to be followed within {tolerance} mm: it is too"
                f" long or too winding from ({x:.4f}, {y:.4f}) on; draw it simpler, and see that"
                " the unit is right"
            )
        a, b = waiting.pop()
        arc = _try_biarc(curve, (a, b), (headings[a], headings[b]), tolerance)
        if arc is not None:
            found.append(arc)
            continue
        middle = (a + b) / 2
        reach = curve(np.array([a, middle, b]))[0]
        if not np.hypot(*(reach[2] - reach[0])) + np.hypot(*(reach[1] - reach[0])) > (
            2 * SHORTEST_PIECE
        ):
            x, y = reach[1]
            raise ValueError(
                f"the curve bends too tightly near ({x:.4f}, {y:.4f}) to be followed by pieces"
                f" of {SHORTEST_PIECE} mm"
            )
        headings[middle] = _unit(curve(np.array([middle]))[1][0], curve, middle, b)
        waiting += [(middle, b), (a, middle)]
    return found


def _heading_inside(curve: SmoothCurve, at: float, other: float) -> Floats:
    """Return the unit tangent at one end of a stretch, seen from inside of it."""
    inside = at + 1e-9 * (other - at)
    return _unit(curve(np.array([inside]))[1][0], curve, at, other)


def _unit(derivative: Floats, curve: SmoothCurve, at: float, other: float) -> Floats:
    """Return the tangent as a unit vector; where the curve stands still, from just beside."""
    general = float(np.max(np.hypot(*curve(np.linspace(at, other, 9)[1:-1])[1].T)))
    size = float(np.hypot(*derivative))
    if not size > 1e-5 * general:
        derivative = curve(np.array([at + 1e-5 * (other - at)]))[1][0]
        size = float(np.hypot(*derivative))
    if not (np.isfinite(size) and size > 1e-9 * general):
        raise ValueError(f"the curve has no tangent at parameter {at}")
    return np.asarray(derivative / size)


def _try_biarc(
    curve: SmoothCurve,
    span: tuple[float, float],
    tangents: tuple[Floats, Floats],
    tolerance: float,
) -> _Biarc | None:
    """Return two arcs over the stretch, or None where they do not fit."""
    t = np.linspace(*span, _PLACES + 1)
    points, derivatives = curve(t)
    if not (np.isfinite(points).all() and np.isfinite(derivatives).all()):
        raise ValueError("points of the curve must be finite")
    sides = points[4::4] - points[:-4:4]
    turn = np.abs(_turned(sides[:-1].T, sides[1:].T)).sum()
    if not turn <= _LARGEST_TURN:
        return None
    made = _biarc(span, points[0], points[-1], tangents)
    if made is None or not _deviation_at(made, points).max() <= _AIM * tolerance:
        return None
    return made if _distance_to(curve, made, points, t).max() <= _AIM * tolerance else None


def _biarc(
    span: tuple[float, float], start: Floats, end: Floats, tangents: tuple[Floats, Floats]
) -> _Biarc | None:
    """Return the two arcs whose tangents at both ends reach equally far to their joint.

    References
    ----------
    Bolton, K. M., Biarc curves, Computer-Aided Design 7 (1975).
    """
    first, last = tangents
    v = end - start
    along = float(v @ (first + last))
    root = np.sqrt(along**2 + 2 * (1 - float(first @ last)) * float(v @ v))
    if not along + root > 0:
        return None
    reach = float(v @ v) / (along + root)
    joint = (start + end + reach * (first - last)) / 2
    opening = (joint - start, end - joint)
    if not min(np.hypot(*opening[0]), np.hypot(*opening[1])) >= SHORTEST_PIECE:
        return None
    bulges = (
        float(np.tan(_turned(first, opening[0]) / 2)),
        float(np.tan(_turned(opening[1], last) / 2)),
    )
    if not max(abs(bulges[0]), abs(bulges[1])) <= 0.7:
        return None
    return _Biarc(low=span[0], high=span[1], start=start, joint=joint, end=end, bulges=bulges)


def _turned(one: Floats, other: Floats) -> Floats:
    """Return the angles in rad from vectors (2, ...) to others, positive counter-clockwise."""
    cross = one[0] * other[1] - one[1] * other[0]
    return np.asarray(np.arctan2(cross, one[0] * other[0] + one[1] * other[1]))


def points_at(
    start: Floats, end: Floats, bulge: float | Floats, fractions: float | Floats
) -> Floats:
    """Return the points (K, 2) at fractions of the length of one piece, or of one piece each."""
    chord = end - start
    half = 2 * np.arctan(bulge)
    straight = np.abs(half) <= 2 * STRAIGHT_BULGE
    safe = np.where(straight, 1.0, half)
    scale = np.where(straight, fractions, np.sin(fractions * safe) / np.sin(safe))
    turn = np.where(straight, 0.0, (fractions - 1.0) * half)
    x = scale * (chord[..., 0] * np.cos(turn) - chord[..., 1] * np.sin(turn))
    y = scale * (chord[..., 0] * np.sin(turn) + chord[..., 1] * np.cos(turn))
    return np.asarray(start + np.stack([x, y], axis=-1))


def _deviation_at(arc: _Biarc, points: Floats) -> Floats:
    """Return how far (K,) in mm points of the stretch lie off the two arcs."""
    ahead = (arc.end - arc.joint) / np.hypot(*(arc.end - arc.joint))
    turn = 2 * np.arctan(arc.bulges[1])
    cosine, sine = np.cos(turn), np.sin(turn)
    tangent = np.array([cosine * ahead[0] + sine * ahead[1], cosine * ahead[1] - sine * ahead[0]])
    return np.where(
        (points - arc.joint) @ tangent < 0,
        deviation_from_arc(points, arc.start, arc.joint, arc.bulges[0]),
        deviation_from_arc(points, arc.joint, arc.end, arc.bulges[1]),
    )


def _distance_to(curve: SmoothCurve, arc: _Biarc, points: Floats, t: Floats) -> Floats:
    """Return how far (K,) in mm places along the two arcs are from the curve.

    The nearest of the curve's ``points`` at ``t`` is refined by Newton's method.
    """
    fractions = np.linspace(0, 1, len(t))
    seen = np.concatenate(
        [
            points_at(arc.start, arc.joint, arc.bulges[0], fractions),
            points_at(arc.joint, arc.end, arc.bulges[1], fractions),
        ]
    )
    apart = np.hypot(*(seen[:, None] - points[None]).transpose(2, 0, 1))
    found = t[np.argmin(apart, axis=1)]
    nearest = apart.min(axis=1)
    for _ in range(2):
        at, derivative = curve(found)
        nearest = np.minimum(nearest, np.hypot(*(seen - at).T))
        speed = np.maximum((derivative**2).sum(axis=1), 1e-300)
        step = ((seen - at) * derivative).sum(axis=1) / speed
        found = np.clip(found + step, arc.low, arc.high)
    return np.minimum(nearest, np.hypot(*(seen - curve(found)[0]).T))


def _chain(arcs: Sequence[_Biarc]) -> Curve:
    """Return one open curve of all arcs; neighbours on one line or circle become one piece."""
    rows: list[tuple[Floats, Floats, float]] = []
    for arc in arcs:
        for start, end, bulge in (
            (arc.start, arc.joint, arc.bulges[0]),
            (arc.joint, arc.end, arc.bulges[1]),
        ):
            merged = _one_piece(rows[-1], (start, end, bulge)) if rows else None
            if merged is None:
                rows.append((start, end, bulge))
            else:
                rows[-1] = merged
    vertices = np.array([*(row[0] for row in rows), rows[-1][1]])
    return Curve(vertices, np.array([*(row[2] for row in rows), 0.0]), closed=False)


def _one_piece(
    one: tuple[Floats, Floats, float], other: tuple[Floats, Floats, float]
) -> tuple[Floats, Floats, float] | None:
    """Return two neighbours as one piece if they lie on one line or circle within 1e-9 mm."""
    bulge = float(np.tan(np.arctan(one[2]) + np.arctan(other[2])))
    if not (abs(bulge) <= 1 and np.hypot(*(other[1] - one[0])) > SHORTEST_PIECE):
        return None
    ends = np.array([one[1], *(_middle(*piece) for piece in (one, other))])
    if not deviation_from_arc(ends, one[0], other[1], bulge).max() <= 1e-9:
        return None
    return one[0], other[1], bulge


def _middle(start: Floats, end: Floats, bulge: float) -> Floats:
    chord = end - start
    return np.asarray((start + end + bulge * np.array([chord[1], -chord[0]])) / 2)

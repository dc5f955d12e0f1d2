"""What a cutter cannot touch: inner corners tighter than it, and necks narrower."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, distance
from knifecam.curve.curve import Floats, points_on
from knifecam.curve.pieces import joints, left
from knifecam.paths.offset import offset
from knifecam.paths.offset_check import without_stubs
from knifecam.paths.paths_limits import (
    LEAST_REMAINDER_MM,
    SHARP_INNER_RAD,
    STILL_TOUCHES_MM,
    TANGENT_PIECES_RAD,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """A stretch of a curve that a cutter cannot touch.

    Parameters
    ----------
    place : (x, y), mm
        Where most metal is left, on the curve.
    start, end : float, mm
        Stations of the stretch along the curve's travel; ``end`` < ``start`` passes its start.
    remainder : float, mm
        Metal left at ``place``: its distance from the nearest place the cutter sweeps. Infinite
        where the cutter fits nowhere.
    largest : float, mm
        Radius of the largest cutter that fits: a concave arc's radius, half a neck's width, 0 for
        a sharp corner.
    """

    place: tuple[float, float]
    start: float
    end: float
    remainder: float
    largest: float


def unreachable(
    curve: Curve,
    radius: float,
    *,
    side: Literal["outside", "inside"] = "outside",
    spacing: float = 0.1,
) -> tuple[Corner, ...]:
    """Return the stretches of the closed ``curve`` that a cutter on one side cannot touch.

    A place p is touched if p + radius n is the radius from the curve, n the normal toward the
    side. Stretches narrower than ``spacing`` mm between vertices may go unseen; those that leave
    less than 0.5 um are left out.
    """
    if not (math.isfinite(radius) and radius > 0):
        raise ValueError(f"radius={radius} mm must be finite and greater than 0")
    if not (math.isfinite(spacing) and spacing > 0):
        raise ValueError(f"spacing={spacing} mm must be finite and greater than 0")
    if side not in ("outside", "inside"):
        raise ValueError(f"side={side!r} must be 'outside' or 'inside'")
    curve = without_stubs(curve)
    outward = side == "outside"
    loops = offset(curve, radius if outward else -radius)
    sense = 1.0 if outward == (curve.area < 0) else -1.0
    reach = _Reach(curve=curve, left=sense, turns=sense * joints(curve)[1])
    stretches = _blocked(reach, radius, spacing)
    found = [_corner(reach, loops, radius, start, end) for start, end in stretches]
    return tuple(corner for corner in found if corner is not None)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reach:
    """A curve, the side of it (1.0: left of travel) a cutter works on, its joints' turns to it."""

    curve: Curve
    left: float
    turns: Floats

    def clearance(self, places: tuple[Floats, Floats], ahead: Floats) -> Floats:
        """Return the curve's distance from what lies ``ahead`` mm off places on it (K,)."""
        points, headings = places
        normal = self.left * left(headings)
        return distance(points + ahead[:, None] * normal, self.curve)


def _blocked(reach: _Reach, radius: float, spacing: float) -> list[tuple[float, float]]:
    """Return the stretches (start, end) in mm where a cutter touching the curve would cut it."""
    curve = reach.curve
    counts = np.maximum(2, np.ceil(curve.lengths / spacing)).astype(np.int64) + 1
    piece = np.repeat(np.arange(len(curve)), counts)
    nth = np.arange(len(piece)) - (np.cumsum(counts) - counts)[piece]
    fraction = nth / (counts[piece] - 1)
    blocked = _is_blocked(reach, radius, piece, fraction)
    if blocked.all():
        return [(0.0, curve.length)]
    after = np.roll(blocked, -1)
    turns = np.flatnonzero(blocked != after)
    stations = _turning_points(reach, radius, piece, fraction, turns, blocked[turns])
    begins, ends = stations[~blocked[turns]], stations[blocked[turns]]
    if len(begins) and ends[0] < begins[0]:
        ends = np.roll(ends, -1)
    return list(zip(begins.tolist(), ends.tolist(), strict=True))


def _is_blocked(
    reach: _Reach, radius: float, piece: NDArray[np.int64], fraction: Floats
) -> NDArray[np.bool_]:
    ahead = np.full(len(piece), radius)
    clear = reach.clearance(_places(reach.curve, piece, fraction), ahead)
    return np.asarray(clear < radius - STILL_TOUCHES_MM)


def _turning_points(
    reach: _Reach,
    radius: float,
    piece: NDArray[np.int64],
    fraction: Floats,
    turns: NDArray[np.int64],
    state: NDArray[np.bool_],
) -> Floats:
    """Return the stations at which ``state`` ends between places ``turns`` and the next ones."""
    chosen = piece[turns]
    low = fraction[turns]
    high = np.where(low < 1.0, fraction[(turns + 1) % len(piece)], 1.0)
    for _ in range(44):
        middle = (low + high) / 2
        same = _is_blocked(reach, radius, chosen, middle) == state
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    return reach.curve.stations[chosen] + high * reach.curve.lengths[chosen]


def _corner(
    reach: _Reach, loops: tuple[Curve, ...], radius: float, start: float, end: float
) -> Corner | None:
    """Return a stretch's corner, or None if hardly anything is left there."""
    piece, fraction = _samples(reach.curve, start, end)
    places = _places(reach.curve, piece, fraction)
    if loops:
        left_over = np.min([distance(places[0], loop) for loop in loops], axis=0) - radius
    else:
        left_over = np.full(len(piece), math.inf)
    worst = int(np.argmax(left_over))
    if not left_over[worst] > LEAST_REMAINDER_MM:
        return None
    return Corner(
        place=(float(places[0][worst, 0]), float(places[0][worst, 1])),
        start=start,
        end=end,
        remainder=float(left_over[worst]),
        largest=_largest(reach, radius, piece, places, fraction),
    )


def _samples(curve: Curve, start: float, end: float) -> tuple[NDArray[np.int64], Floats]:
    """Return pieces and fractions of places along a stretch, vertices among them."""
    span = end - start if end > start else end - start + curve.length
    even = start + span * np.linspace(0.0, 1.0, 101)
    vertices = curve.stations[:-1]
    inner = vertices[(vertices - start) % curve.length < span]
    stations = np.concatenate([even, inner]) % curve.length
    piece = np.searchsorted(curve.stations, stations, side="right") - 1
    piece = np.clip(piece, 0, len(curve) - 1)
    return piece, (stations - curve.stations[piece]) / curve.lengths[piece]


def _largest(
    reach: _Reach,
    radius: float,
    piece: NDArray[np.int64],
    places: tuple[Floats, Floats],
    fraction: Floats,
) -> float:
    curve = reach.curve
    at_vertex = fraction * curve.lengths[piece] < 1e-9
    sharpest = float(reach.turns[piece[at_vertex]].max(initial=0.0))
    if sharpest > SHARP_INNER_RAD:
        return 0.0
    if sharpest > TANGENT_PIECES_RAD:  # drawn with chords: the normals beside each count as well
        aside, slack = np.linspace(-sharpest / 2, sharpest / 2, 11), LEAST_REMAINDER_MM
    else:
        aside, slack = np.zeros(1), 0.0
    fits = _fitting(reach, radius, places, aside, slack)
    concave = piece[reach.left * curve.angles[piece] > 0]
    return float(min(fits.min(), curve.radii[concave].min(initial=math.inf)))


def _fitting(
    reach: _Reach, radius: float, places: tuple[Floats, Floats], aside: Floats, slack: float
) -> Floats:
    """Return the radii, up to ``radius``, of the largest cutters that come near places (K,).

    Their axes lie off the places in the normals' directions turned by ``aside`` (A,) rad, and
    their rims within ``slack`` mm of the places.
    """
    count = len(aside)
    turned = np.repeat(places[0], count, axis=0), (places[1][:, None] + aside).ravel()
    low, high = np.zeros(len(turned[1])), np.full(len(turned[1]), radius)
    for _ in range(30):
        middle = (low + high) / 2
        fits = reach.clearance(turned, middle + slack) >= middle - STILL_TOUCHES_MM
        low, high = np.where(fits, middle, low), np.where(fits, high, middle)
    return np.asarray(low.reshape(-1, count).max(axis=1))


def _places(curve: Curve, piece: NDArray[np.int64], fraction: Floats) -> tuple[Floats, Floats]:
    """Return points (K, 2) and headings (K,) at fractions 0..1 of pieces."""
    headings = curve.start_headings[piece] + fraction * curve.angles[piece]
    return points_on(curve, piece, fraction), headings

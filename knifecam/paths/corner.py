"""Inner corners that roughing left fuller than its allowance, gone into level by level.

A roughing track keeps its allowance off the wall. In a corner tighter than its cutter and that
allowance together it turns sooner than the finishing track does, which would then meet what stands
there at full depth, over half its width or more. A narrow bay is such a corner too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from knifecam.curve import Curve, Motions, distance, place_at, station_of
from knifecam.curve.curve import Floats
from knifecam.errors import PlanError
from knifecam.paths.follow import PieceFeed, follow, line
from knifecam.paths.trench import Track
from knifecam.quantity import Place, mm

FULLER = 0.0005
"""mm: a corner that holds no more than this beyond the allowance is left to the finishing pass."""

SHALLOW = 1.0 / np.cos(np.radians(20.0) / 2) - 1.0
"""Of the allowance: so much more stands where two walls meet at a turn of 20 degrees. In shallower
ones the finish meets its allowance on both, over an angle wider by no more than that turn."""

TIGHT = 0.15
"""Cutter radii: on a narrower inner turn than this the finish meets far more than its allowance
(common practice: inner corners of 1.15 cutter radii at least)."""

SPACING = 0.1
"""mm between the places of a track that are looked at, its vertices and arcs' middles aside."""

STRIPS = 16
"""Places of a straight where the strip met there is taken."""

HALVINGS = 30
"""Halvings of `SPACING`: what is left is far below a written digit."""

GOUGE = 1e-6
"""mm: a way nearer to the wall than the track by more is refused."""


def tightest(beside: float, radius: float) -> float:
    """Return the radius of a left turn on which what stands ``beside`` mm off the wall is met ahead.

    Ahead is within 45 degrees of the travel. On a turn of radius p the rim of a cutter of ``radius``
    R comes there within p + R - sqrt(p^2 + sqrt(2) p R + R^2) of the wall. Infinite where it comes
    so near on any turn.
    """
    room = (2.0 - np.sqrt(2.0)) * radius - 2.0 * beside
    return float(beside * (2.0 * radius - beside) / room) if room > 0.0 else float("inf")


def met_before(turn: float, length: float, beside: float, radius: float) -> float:
    """Return how wide a strip is met at the end of a straight that runs into a left turn, mm.

    ``beside`` mm stand off the wall. On the last u mm before a turn of radius p the rim of a cutter
    of ``radius`` R already meets what stands off the turn's wall, up to the angle f where p cos f -
    u sin f = ((p + R - beside)^2 - p^2 - R^2 - u^2) / 2 R; its strip is R (1 - cos f). The mean over
    the straight of ``length`` mm, of longer ones over an even share of at most half the radius.
    """
    far = length / math.ceil(2 * length / radius) * (np.arange(STRIPS) + 0.5) / STRIPS
    arm = np.hypot(turn, far)
    reach = ((turn + radius - beside) ** 2 - turn**2 - radius**2 - far**2) / (2 * radius * arm)
    ahead = np.arccos(np.clip(reach, -1.0, 1.0)) - np.arctan2(far, turn)
    plain = np.arccos(np.clip(1.0 - beside / radius, -1.0, 1.0))
    angle = np.where(radius * np.sin(ahead) > far, np.maximum(ahead, plain), plain)
    return float(np.mean(radius * (1.0 - np.cos(angle))))


def full_corners(
    track: Curve, roughed: Sequence[Curve], away: float, radius: float, beside: float = 0.0,
    *, widest: float = math.inf,
) -> tuple[tuple[float, float], ...]:  # fmt: skip
    """Return the stretches of a closed track that lie farther than ``away`` mm from all ``roughed``.

    Each is (start, end) in mm along the track; an end past the track's length has passed its start.
    What exceeds ``away`` by `FULLER` or less, or by the share `SHALLOW` of it, does not count. Left
    turns narrower than `TIGHT` times the cutter's ``radius`` count always: a turn of radius p takes
    ``away (radius + p) / p`` across. So do those on which what stands ``beside`` mm off the wall is
    met ahead, and those before which a straight meets a strip of more than ``widest`` mm.
    """
    most = away + max(FULLER, SHALLOW * away)
    turn = max(TIGHT * radius, tightest(beside, radius))
    left = track.is_arc & (track.angles > 0)
    tight = left & (track.radii < turn)
    for k in np.flatnonzero(left & ~np.roll(track.is_arc, 1)) if widest < math.inf else ():
        before = float(track.lengths[k - 1])
        tight[k] |= met_before(float(track.radii[k]), before, away, radius) > widest

    def full(stations: Floats) -> np.ndarray:
        places = place_at(track, stations)[0]
        near = np.min([distance(places, one) for one in roughed], axis=0)
        piece = np.searchsorted(track.stations, stations % track.length, side="right") - 1
        return np.asarray((near > most) | tight[piece])

    marks = _marks(track)
    inside = full(marks)
    if not inside.any() or inside.all():
        return ((0.0, track.length),) if inside.all() else ()
    turns = np.flatnonzero(inside != np.roll(inside, -1))
    low, high = marks[turns], np.append(marks[1:], marks[0] + track.length)[turns]
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        same = full(middle) == inside[turns]
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    starts, ends = low[~inside[turns]], high[inside[turns]]
    return tuple((float(s), float(min(ends[ends > s], default=ends[0] + track.length)))
                 for s in starts)  # fmt: skip


def _marks(track: Curve) -> Floats:
    """Return stations of a closed track's vertices and of places between, ascending."""
    counts = 2 * np.ceil(track.lengths / (2 * SPACING)).astype(int)
    parts = [
        start + length * np.arange(count) / count
        for start, length, count in zip(track.stations[:-1], track.lengths, counts, strict=True)
    ]
    return np.concatenate(parts)


def corner_passes(
    track: Track,
    corners: Sequence[tuple[float, float]],
    roughed: Sequence[Curve],
    wall: Curve,
    *,
    radius: float,
    depths: Sequence[float],
    feed: PieceFeed,
    side_feed: float,
) -> tuple[Motions, ...]:
    """Return one pass a corner: at each level from the roughed ground into it, and back.

    ``track`` touches the ``wall`` with a cutter of ``radius`` mm, and the metal lies on its right. The
    way in is cut with the wall on the right, the way back meets nothing, and the next level is
    reached straight down, where all is open or little stands. No place comes nearer to the wall than
    the radius by more than 1e-6 mm.

    Raises
    ------
    PlanError
        Where no straight way leads from the roughed ground to a corner.
    """
    return tuple(
        _pass(
            track,
            corner,
            _foot(track.curve, corner, roughed, wall, radius),
            depths,
            feed,
            side_feed,
        )
        for corner in corners
    )


def _foot(
    track: Curve, corner: tuple[float, float], roughed: Sequence[Curve], wall: Curve, radius: float
) -> Floats:
    """Return the place (2,) of the roughed tracks that is nearest to a corner's start."""
    begin = place_at(track, corner[0])[0][0]
    nearest = min(roughed, key=lambda one: distance(begin, one)[0])
    foot = place_at(nearest, station_of(nearest, begin))[0][0]
    way = foot + np.linspace(0, 1, 65)[:, None] * (begin - foot)
    near = float(distance(way, wall).min())
    if not near >= radius - GOUGE:
        raise PlanError(
            f"inner corner at {Place(begin[0], begin[1]):.2f}: the way into it comes within"
            f" {mm(near):.4f} of the wall, less than the cutter's radius {mm(radius):.4f}; open the"
            " corner, or use a smaller cutter"
        )
    return np.asarray(foot)


def _pass(
    track: Track, corner: tuple[float, float], foot: Floats, depths: Sequence[float],
    feed: PieceFeed, side_feed: float,
) -> Motions:  # fmt: skip
    parts: list[Motions] = []
    for level in depths:
        along = follow(track.curve, *corner, track.heights(level, *corner), feed)
        begin = (*foot, along.start[0, 2])
        if parts:
            parts.append(line(parts[-1].stop[-1], begin, side_feed))
        there = Motions.joined([line(begin, along.start[0], side_feed), along])
        parts += [there, there.reversed()]
    return Motions.joined(parts)

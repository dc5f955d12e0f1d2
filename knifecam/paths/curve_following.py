"""Motions along a curve at given heights, arcs that lead in and out, chains of passes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from knifecam.curve import ARC, FEED, RAPID, Curve, Motions, place_at
from knifecam.curve.curve import Floats, points_on, wrapped
from knifecam.paths.paths_limits import CHAIN_PIECE_MM, CONTINUES_WITHIN_MM, KINK_RAD


@dataclass(frozen=True, eq=False)
class Heights:
    """Tip height as a piecewise linear function of station.

    Parameters
    ----------
    stations : (K,) float, mm
        Ascending; before the first and past the last the height stays.
    z : (K,) float, mm
        Side frame.
    """

    stations: Floats
    z: Floats

    def at(self, stations: Floats) -> Floats:
        """Return the height at each station."""
        return np.interp(stations, self.stations, self.z)

    @staticmethod
    def level(z: float) -> Heights:
        """Return one height everywhere."""
        return Heights(np.zeros(1), np.array([z]))

    @staticmethod
    def through(places: Sequence[tuple[float, float]]) -> Heights:
        """Return heights through (station, z) places."""
        s, z = zip(*places, strict=True)
        return Heights(np.array(s, dtype=float), np.array(z, dtype=float))


def highest(first: Heights, second: Heights) -> Heights:
    """Return the greater of two height functions, exact at their crossings."""
    s = np.union1d(first.stations, second.stations)
    a, b = first.at(s), second.at(s)
    gap = a - b
    turns = np.flatnonzero(gap[:-1] * gap[1:] < 0)
    crossings = s[turns] + (s[turns + 1] - s[turns]) * gap[turns] / (gap[turns] - gap[turns + 1])
    s = np.union1d(s, crossings)
    return Heights(s, np.maximum(first.at(s), second.at(s)))


PieceFeed = Callable[[Floats, Floats], Floats]
"""Feeds in mm/min for pieces of signed turning radii (mm, left positive, inf straight) and slopes."""


def follow(track: Curve, start: float, end: float, heights: Heights, feed: PieceFeed) -> Motions:
    """Return the motions along the closed ``track`` from station ``start`` to ``end``.

    Stations wrap round as often as they must. The tip's height is linear in arc length between the
    stations of ``heights``, so arcs with a change of height are true helices. Nothing is added:
    every point lies on the track.
    """
    s = _marks(track, start, end, heights)
    whole = track.length
    middle = ((s[:-1] + s[1:]) / 2) % whole
    pieces = np.clip(np.searchsorted(track.stations, middle, side="right") - 1, 0, len(track) - 1)
    base = (s[:-1] + s[1:]) / 2 - middle + track.stations[pieces]
    length = track.lengths[pieces]
    t0 = _rounded((s[:-1] - base) / length, length)
    t1 = _rounded((s[1:] - base) / length, length)
    first = points_on(track, pieces, t0)
    last = points_on(track, pieces[-1:], t1[-1:])
    places = np.concatenate([first, last])
    z = heights.at(s)
    curved = track.is_arc[pieces]
    centres = np.where(curved[:, None], track.centres[pieces], 0.0)
    return Motions(
        kind=np.where(curved, ARC, FEED),
        start=np.column_stack([places[:-1], z[:-1]]),
        stop=np.column_stack([places[1:], z[1:]]),
        centre=centres,
        turns=np.where(curved, track.angles[pieces] * (t1 - t0) / (2 * np.pi), 0.0),
        feed=feed(turning_radii(track)[pieces], np.diff(z) / np.diff(s)),
    )


def turning_radii(track: Curve) -> Floats:
    """Return the signed radii on which a track's pieces turn, (P,) mm, left positive, inf straight.

    Arcs turn on their own radius. To pieces shorter than `CHAIN_PIECE_MM` the turns at their ends
    are added, each spread over half of both pieces there: N equal lines of length l turn on
    ``N l / (2 pi)``, as a circle of that length does.
    """
    kinks = wrapped(track.start_headings - np.roll(track.end_headings, 1))
    kinks[np.abs(kinks) <= KINK_RAD] = 0.0
    kinks[0] *= track.closed
    along = np.minimum(track.lengths, CHAIN_PIECE_MM)
    kinks /= along + np.roll(along, 1)
    chained = np.where(track.lengths < CHAIN_PIECE_MM, kinks + np.roll(kinks, -1), 0.0)
    turns = track.angles / track.lengths + chained
    return np.divide(1.0, turns, out=np.full(len(turns), np.inf), where=turns != 0.0)


def _marks(track: Curve, start: float, end: float, heights: Heights) -> Floats:
    """Return all stations where something changes: the track's vertices, and its heights."""
    if not end > start + 2 * CONTINUES_WITHIN_MM:
        raise ValueError(f"end={end} mm must be greater than start={start} mm")
    whole = track.length
    laps = np.arange(np.floor(start / whole), np.floor(end / whole) + 1)
    vertices = (track.stations[:-1] + whole * laps[:, None]).ravel()
    vertices = vertices[
        (vertices > start + CONTINUES_WITHIN_MM) & (vertices < end - CONTINUES_WITHIN_MM)
    ]
    fixed = np.concatenate([[start], vertices, [end]])
    turns = heights.stations[(heights.stations > start) & (heights.stations < end)]
    after = np.clip(np.searchsorted(fixed, turns), 1, len(fixed) - 1)
    away = np.minimum(turns - fixed[after - 1], fixed[after] - turns)
    return np.union1d(fixed, turns[away > CONTINUES_WITHIN_MM])


def _rounded(fractions: Floats, lengths: Floats) -> Floats:
    """Return fractions with those within 1e-9 mm of a piece's end put there."""
    near = 1e-9 / lengths
    low = np.where(np.abs(fractions) < near, 0.0, fractions)
    return np.where(np.abs(low - 1) < near, 1.0, low)


Place = Sequence[float] | Floats


def line(start: Place, stop: Place, feed: float) -> Motions:
    """Return one straight feed motion between two places (x, y, z)."""
    return Motions(
        np.array([FEED]), np.array([start]), np.array([stop]), np.zeros((1, 2)), np.zeros(1),
        np.array([feed]),
    )  # fmt: skip


def arc(start: Place, stop: Place, centre: Place, turns: float, feed: float) -> Motions:
    """Return one arc or helix; ``turns`` is positive counter-clockwise."""
    return Motions(
        np.array([ARC]), np.array([start]), np.array([stop]), np.array([centre]),
        np.array([turns]), np.array([feed]),
    )  # fmt: skip


def _rapid(start: Floats, stop: Floats) -> Motions:
    return Motions(
        np.array([RAPID]), start[None], stop[None], np.zeros((1, 2)), np.zeros(1), np.zeros(1)
    )


def chained(
    passes: Sequence[Motions], *, rapid_z: float, approach_z: float, plunge_feed: float
) -> Motions:
    """Return all passes as one chain that begins and ends at ``rapid_z``.

    Between passes that do not meet, the cutter rises to ``rapid_z``, moves over the next start,
    comes down by rapid to ``approach_z`` and by feed to the pass.
    """
    parts: list[Motions] = []
    at: Floats | None = None
    for one in passes:
        first = one.start[0]
        if at is None or np.abs(first - at).max() > CONTINUES_WITHIN_MM:
            above = np.array([first[0], first[1], rapid_z])
            if at is None:
                parts.append(_rapid(above, above))
            else:
                lifted = np.array([at[0], at[1], rapid_z])
                parts.append(_rapid(at, lifted))
                if np.abs(lifted - above).max() > CONTINUES_WITHIN_MM:
                    parts.append(_rapid(lifted, above))
            low = np.array([first[0], first[1], max(approach_z, first[2])])
            parts.append(_rapid(above, low))
            if low[2] > first[2]:
                parts.append(line(low, first, plunge_feed))
        parts.append(one)
        at = one.stop[-1]
    if at is not None:
        parts.append(_rapid(at, np.array([at[0], at[1], rapid_z])))
    return Motions.joined(parts)


def lead_in(
    track: Curve, station: float, *, radius: float, aside: float, z: float, feed: float,
    fall: float = 0.0,
) -> Motions:  # fmt: skip
    """Return the arc that comes from ``aside`` mm left of the track and lands on it tangentially.

    The wall lies right of the travel, free space left of it, so the arc turns left and stays on
    the left of the track's tangent: it never comes nearer to the wall than the track does. It
    begins ``fall`` mm above ``z``.
    """
    point, centre, angle = _arm(track, station, radius, aside)
    start = centre + _turned(point - centre, -angle)
    return arc((*start, z + fall), (*point, z), tuple(centre), angle / (2 * np.pi), feed)


def lead_out(
    track: Curve, station: float, *, radius: float, aside: float, z: float, feed: float,
    rise: float = 0.0,
) -> Motions:  # fmt: skip
    """Return the arc that leaves the track tangentially until it is ``aside`` mm left of it.

    It ends ``rise`` mm above ``z``.
    """
    point, centre, angle = _arm(track, station, radius, aside)
    stop = centre + _turned(point - centre, angle)
    return arc((*point, z), (*stop, z + rise), tuple(centre), angle / (2 * np.pi), feed)


def _arm(track: Curve, station: float, radius: float, aside: float) -> tuple[Floats, Floats, float]:
    if not (0 < aside <= radius):
        raise ValueError(f"aside={aside} mm must be greater than 0 and at most radius={radius} mm")
    points, headings = place_at(track, station)
    point, heading = points[0], float(headings[0])
    centre = point + radius * np.array([-np.sin(heading), np.cos(heading)])
    return point, centre, float(np.arccos(1 - aside / radius))


def _turned(arm: Floats, angle: float) -> Floats:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([c * arm[0] - s * arm[1], s * arm[0] + c * arm[1]])

"""Roughing in levels, the finishing lap, windows over tabs, and inner corners gone into.

All tracks run clockwise round the blade, which lies on the right of the travel: with a spindle
turning clockwise the wall is climb milled. Heights are those of the side's own frame.

A roughing track keeps its allowance off the wall. In a corner tighter than its cutter and that
allowance together it turns sooner than the finishing track does, which would then meet what stands
there at full depth, over half its width or more. A narrow bay is such a corner too.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from knifecam.curve import Curve, Motions, distance, place_at, station_of
from knifecam.curve.curve import Floats
from knifecam.errors import PlanError
from knifecam.paths.curve_following import (
    Heights,
    PieceFeed,
    follow,
    highest,
    lead_in,
    lead_out,
    line,
)
from knifecam.paths.paths_limits import (
    CORNER_EXCESS_SHARE,
    FARTHER_WAY_MM,
    FULLER_CORNER_MM,
    NEXT_TRACK_LOOK_MM,
    SAMPLE_HALVINGS,
    STRIP_PLACES,
    TIGHT_RADII,
    TRACK_GOUGE_MM,
    TRACK_SAMPLE_MM,
    TRENCH_LAP_OVER_MM,
)
from knifecam.quantity import Place, bare, mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Where the cutter is lifted over a tab: stations of the track's axis, mm, and the angles.

    From ``start`` to ``end`` the tip stays at ``z`` or above; it rises to the window at ``ramp_up``
    rad and falls off it at ``ramp_down`` rad.
    """

    start: float
    end: float
    z: float
    ramp_up: float
    ramp_down: float

    def foot(self, level: float) -> tuple[float, float]:
        """Return the stations where the lift over ``level`` begins and ends."""
        lift = max(0.0, self.z - level)
        return self.start - lift / np.tan(self.ramp_up), self.end + lift / np.tan(self.ramp_down)


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """One closed track, clockwise, with its windows."""

    curve: Curve
    windows: tuple[Window, ...] = ()

    def heights(self, level: float, first: float, last: float) -> Heights:
        """Return ``level``, lifted over the windows between two stations of any lap."""
        total = Heights.level(level)
        for window in self.windows:
            if window.z <= level:
                continue
            low, high = window.foot(level)
            for lap in self._laps(low, high, first, last):
                shift = lap * self.curve.length
                total = highest(
                    total,
                    Heights.through(
                        [
                            (low + shift, level),
                            (window.start + shift, window.z),
                            (window.end + shift, window.z),
                            (high + shift, level),
                        ]
                    ),
                )
        return total

    def clear_from(self, station: float, need: float, level: float) -> float:
        """Return the first station from ``station`` on with ``need`` mm free of lifted windows."""
        moved = True
        while moved:
            moved = False
            for window in self.windows:
                if window.z <= level:
                    continue
                low, high = window.foot(level)
                for lap in self._laps(low, high, station, station + need):
                    station = max(station, high + lap * self.curve.length + 1e-3)
                    moved = True
        return station

    def _laps(self, low: float, high: float, first: float, last: float) -> range:
        whole = self.curve.length
        return range(int(np.ceil((first - high) / whole)), int(np.floor((last - low) / whole)) + 1)


def levels(top: float, bottom: float, stepdown: float) -> tuple[float, ...]:
    """Return the heights of equal steps of at most ``stepdown`` from ``top`` down to ``bottom``."""
    count = int(np.ceil((top - bottom) / stepdown - 1e-9))
    return tuple(float(z) for z in np.linspace(top, bottom, count + 1)[1:])


def change_over(
    start_track: Track,
    start: float,
    end_track: Track,
    wall: Curve,
    room: tuple[float, float],
    advance: float,
) -> float | None:
    """Return the station on the second track where a straight way from the first lands.

    The way goes ahead by up to ``advance`` mm and stays within ``room``, the least and the greatest
    distance from the wall in mm: beyond the greatest, as across a bay, the plate stands uncut. None
    where no way does.
    """
    here = place_at(start_track.curve, start)[0][0]
    opposite = float(station_of(end_track.curve, here)[0])
    for ahead in (advance, advance / 2, advance / 4, advance / 8, 0.0):
        there = place_at(end_track.curve, opposite + ahead)[0][0]
        way = distance(here + np.linspace(0, 1, 65)[:, None] * (there - here), wall)
        if way.min() >= room[0] - 1e-6 and way.max() <= room[1] + FARTHER_WAY_MM:
            return opposite + ahead
    return None


def rough_trench(
    tracks: Sequence[Track],
    wall: Curve,
    *,
    start: float,
    top: float,
    depths: Sequence[float],
    ramp: float,
    least: float,
    feed: PieceFeed,
    side_feed: float,
) -> tuple[Motions, ...]:
    """Return one pass a level, each beginning where the last ended.

    Every level is entered by a ramp along the outermost track, which is then run once round past
    the ramp's end; then each further track inward is run once round. Crossings between tracks
    stand clear of the tabs.
    """
    advance = 2.0 * (wall_distance(tracks[0], wall) - least) + 2.0
    room = least, float(distance(tracks[0].curve.points(FARTHER_WAY_MM), wall).max())
    passes = []
    station, above = start, top
    for level in depths:
        parts: list[Motions] = []
        run = (above - level) / np.tan(ramp)
        entry = Heights.through([(station, above), (station + run, level)])
        lap_end = station + run + tracks[0].curve.length
        for k, track in enumerate(tracks):
            following = tracks[(k + 1) % len(tracks)]
            end, landed = _changed_over(track, lap_end, following, wall, room, advance, level)
            heights = track.heights(level, station, end)
            parts.append(
                follow(
                    track.curve, station, end, highest(entry, heights) if k == 0 else heights, feed
                )
            )
            if following is not track:
                way = _place(track, end, level), _place(following, landed, level)
                parts.append(line(*way, side_feed))
            station = landed
            lap_end = landed + following.curve.length + TRENCH_LAP_OVER_MM
        passes.append(Motions.joined(parts))
        above = level
    return tuple(passes)


def _changed_over(
    track: Track,
    lap_end: float,
    following: Track,
    wall: Curve,
    room: tuple[float, float],
    advance: float,
    level: float,
) -> tuple[float, float]:
    """Return where to leave a track, not before ``lap_end``, and where the next one is joined.

    The way between stands clear of the tabs' windows on both tracks, and within ``room`` mm from the
    wall. A track that follows itself is not left.
    """
    station = track.clear_from(lap_end, advance, level)
    if following is track:
        return station, station
    while station <= lap_end + track.curve.length:
        landed = change_over(track, station, following, wall, room, advance)
        if landed is not None:
            ends = _place(track, station, 0.0), _place(following, landed, 0.0)
            way = float(np.hypot(*np.subtract(*ends)[:2]))
            if following.clear_from(landed - way, way, level) <= landed - way:
                return station, landed
        station = track.clear_from(station + NEXT_TRACK_LOOK_MM, advance, level)
    x, y, _ = _place(track, lap_end, level)
    raise PlanError(
        f"from {Place(x, y):.2f} on no way leads from one track of the trench to the next clear of"
        f" the tabs' windows and between {bare(room[0]):.3f} and {mm(room[1]):.3f} from the outline;"
        " let fewer tabs stand, or narrower ones"
    )


def _place(track: Track, station: float, z: float) -> tuple[float, float, float]:
    point = place_at(track.curve, station)[0][0]
    return float(point[0]), float(point[1]), z


def wall_distance(track: Track, wall: Curve) -> float:
    """Return the least distance of the track's vertices from the wall, mm."""
    return float(distance(track.curve.vertices, wall).min())


def finish_wall(
    track: Track,
    *,
    landing: float,
    level: float,
    entry_z: float,
    ramp_down: float,
    overlap: float,
    radius: float,
    aside: float,
    feed: PieceFeed,
    lead_feed: float,
) -> Motions:
    """Return the finishing pass: one lap at full depth, its ends overlapping by ``overlap`` mm.

    It lands at ``landing`` on a shallow arc at the height ``entry_z`` (or that of the window
    there), falls to ``level`` at ``ramp_down`` rad, and runs until ``overlap`` past the place where
    the full depth was reached, or past the landing where it landed in a window.
    """
    whole = track.curve.length
    windows = track.heights(level, landing - 1.0, landing + 2 * whole)
    z_in = float(windows.at(np.array([landing]))[0])
    fall = 0.0
    heights = windows
    if z_in <= level + 1e-9 and entry_z > level:
        fall = (entry_z - level) / np.tan(ramp_down)
        entry = Heights.through([(landing, entry_z), (landing + fall, level)])
        heights, z_in = highest(entry, windows), entry_z
    end = landing + whole + fall + overlap
    z_out = float(windows.at(np.array([end]))[0])
    return Motions.joined(
        [
            lead_in(track.curve, landing, radius=radius, aside=aside, z=z_in, feed=lead_feed),
            follow(track.curve, landing, end, heights, feed),
            lead_out(track.curve, end, radius=radius, aside=aside, z=z_out, feed=lead_feed),
        ]
    )


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
    far = length / math.ceil(2 * length / radius) * (np.arange(STRIP_PLACES) + 0.5) / STRIP_PLACES
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
    What exceeds ``away`` by `FULLER_CORNER_MM` or less, or by the share `CORNER_EXCESS_SHARE` of it,
    does not count. Left turns narrower than `TIGHT_RADII` times the cutter's ``radius`` count always:
    a turn of radius p takes ``away (radius + p) / p`` across. So do those on which what stands
    ``beside`` mm off the wall is met ahead, and those before which a straight meets a strip of more
    than ``widest`` mm.
    """
    most = away + max(FULLER_CORNER_MM, CORNER_EXCESS_SHARE * away)
    turn = max(TIGHT_RADII * radius, tightest(beside, radius))
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
    for _ in range(SAMPLE_HALVINGS):
        middle = (low + high) / 2
        same = full(middle) == inside[turns]
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    starts, ends = low[~inside[turns]], high[inside[turns]]
    return tuple((float(s), float(min(ends[ends > s], default=ends[0] + track.length)))
                 for s in starts)  # fmt: skip


def _marks(track: Curve) -> Floats:
    """Return stations of a closed track's vertices and of places between, ascending."""
    counts = 2 * np.ceil(track.lengths / (2 * TRACK_SAMPLE_MM)).astype(int)
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
    if not near >= radius - TRACK_GOUGE_MM:
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

"""The trench round the outline: roughing in levels on several tracks, then the finished wall.

All tracks run clockwise round the blade, which lies on the right of the travel: with a spindle
turning clockwise the wall is climb milled. Heights are those of the side's own frame.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from knifecam.curve import Curve, Motions, distance, place_at, station_of
from knifecam.errors import PlanError
from knifecam.paths.follow import PieceFeed, follow, line
from knifecam.paths.heights import Heights, highest
from knifecam.paths.lead import lead_in, lead_out
from knifecam.quantity import Place, bare, mm

LAP_OVER = 0.5
"""mm by which a lap runs past its own beginning."""

LOOK_ON = 0.5
"""mm further on a way to the next track is looked for where the last one met a tab."""


BEYOND = 1e-3
"""mm by which a way between tracks may lie farther from the wall than the outermost track."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Where the cutter is lifted over a tab: stations of the track's axis, mm, and the angles.

    From ``start`` to ``end`` the tip stays at ``z`` or above; it rises to the window at ``rise``
    rad and falls off it at ``descent`` rad.
    """

    start: float
    end: float
    z: float
    rise: float
    descent: float

    def foot(self, level: float) -> tuple[float, float]:
        """Return the stations where the lift over ``level`` begins and ends."""
        lift = max(0.0, self.z - level)
        return self.start - lift / np.tan(self.rise), self.end + lift / np.tan(self.descent)


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


def crossing(
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
        if way.min() >= room[0] - 1e-6 and way.max() <= room[1] + BEYOND:
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
    room = least, float(distance(tracks[0].curve.points(BEYOND), wall).max())
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
            lap_end = landed + following.curve.length + LAP_OVER
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
        landed = crossing(track, station, following, wall, room, advance)
        if landed is not None:
            ends = _place(track, station, 0.0), _place(following, landed, 0.0)
            way = float(np.hypot(*np.subtract(*ends)[:2]))
            if following.clear_from(landed - way, way, level) <= landed - way:
                return station, landed
        station = track.clear_from(station + LOOK_ON, advance, level)
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
    descent: float,
    overlap: float,
    radius: float,
    aside: float,
    feed: PieceFeed,
    lead_feed: float,
) -> Motions:
    """Return the finishing pass: one lap at full depth, its ends overlapping by ``overlap`` mm.

    It lands at ``landing`` on a shallow arc at the height ``entry_z`` (or that of the window
    there), falls to ``level`` at ``descent`` rad, and runs until ``overlap`` past the place where
    the full depth was reached, or past the landing where it landed in a window.
    """
    whole = track.curve.length
    windows = track.heights(level, landing - 1.0, landing + 2 * whole)
    z_in = float(windows.at(np.array([landing]))[0])
    fall = 0.0
    heights = windows
    if z_in <= level + 1e-9 and entry_z > level:
        fall = (entry_z - level) / np.tan(descent)
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

"""The passes along a bevel as motions: where each begins and ends, and how it is led in and out."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, FEED, Curve, Motions, place_at, station_of, winding
from knifecam.curve.curve import Floats
from knifecam.paths.bevel_heights_and_steps import BevelFace, CutterStand, normals
from knifecam.paths.curve_following import lead_in, lead_out, line
from knifecam.paths.paths_limits import (
    BEVEL_PASS_SAMPLE_MM,
    INSIDE_BLADE_MM,
    PAST_BLADE_MM,
    SHORTEST_MOTION_MM,
)
from knifecam.paths.plunge_motions import (
    NO_LEAD,
    EarlierCutter,
    PlungeLead,
    corner_points,
    plunge_limits,
)
from knifecam.shop import Cutter


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class BevelPass:
    """One pass: ``track`` runs clockwise, the blade on its right, from ``start`` to ``end`` mm.

    ``from_plunge`` and ``to_plunge`` tell where a plunge stops it.
    """

    stand: CutterStand
    track: Curve
    start: float
    end: float
    from_plunge: bool
    to_plunge: bool


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class _TrackPlaces:
    """The places of all passes in a row: their pass, station, point and normal toward the blade."""

    row: NDArray[np.int64]
    station: Floats
    point: Floats
    normal: Floats


def bevel_passes(
    face: BevelFace,
    cutter: Cutter,
    stands: Sequence[CutterStand],
    *,
    lead: PlungeLead = NO_LEAD,
    before: Sequence[EarlierCutter] = (),
    strip: float = 0.0,
    margin: float = PAST_BLADE_MM,
) -> tuple[BevelPass, ...]:
    """Return the passes that meet the blade, from where they come to it until they have left it.

    ``strip`` is how much, in mm outward of the place it touches, a pass has to clear; ``margin`` how
    far it runs on past the blade. Where a plunge stands they end before it, so that the arc of
    ``lead`` fits, and does not end where the cutters that came ``before`` could not come.

    Raises
    ------
    PlanError
        Where a pass cannot stand clear of its plunges at all.
    """
    tracks = face.offsets([one.x for one in stands])
    along = _track_places(tracks)
    arms = np.array([_reach(one, cutter, strip) for one in stands])[along.row]
    edge = np.array([-one.x for one in stands])[along.row]
    on_blade = np.zeros(len(along.row), bool)
    for share in (0.0, 0.5, 1.0) if strip else (0.0,):
        arm = np.maximum(arms - share * strip, edge) + INSIDE_BLADE_MM
        touched = along.point + arm[:, None] * along.normal
        on_blade |= winding(touched, face.outline) != 0
    room = np.full(len(along.row), np.inf)
    for k, (s, most) in enumerate(_plunge_room(face, cutter, stands, along, lead, before)):
        room = np.minimum(room, most - s) if k else most - s
    found = []
    bounds = np.searchsorted(along.row, np.arange(len(stands) + 1))
    for k, stand in enumerate(stands):
        rows = slice(bounds[k], bounds[k + 1])
        run = _run(stand, tracks[k], along.station[rows], on_blade[rows], room[rows], margin)
        if run is not None:
            found.append(run)
    return tuple(found)


def _reach(stand: CutterStand, cutter: Cutter, strip: float) -> float:
    """Return how far inward of its axis a pass clears metal, mm."""
    return cutter.radius if strip else stand.arm


def _track_places(tracks: Sequence[Curve]) -> _TrackPlaces:
    rows, stations, points, headings = [], [], [], []
    for k, track in enumerate(tracks):
        count = max(2, math.ceil(track.length / BEVEL_PASS_SAMPLE_MM))
        at = np.linspace(0.0, track.length, count + 1)
        place, heading = place_at(track, at)
        rows.append(np.full(count + 1, k))
        stations.append(at)
        points.append(place)
        headings.append(heading)
    return _TrackPlaces(
        row=np.concatenate(rows),
        station=np.concatenate(stations),
        point=np.concatenate(points),
        normal=normals(np.concatenate(headings)),
    )


def _plunge_room(
    face: BevelFace,
    cutter: Cutter,
    stands: Sequence[CutterStand],
    along: _TrackPlaces,
    lead: PlungeLead,
    before: Sequence[EarlierCutter],
) -> list[tuple[Floats, Floats]]:
    """Return for each plunge how far past its line each place lies, and how far it may."""
    past = face.past_plunges(along.point)
    return [
        (s, plunge_limits(face, cutter, stands, k, lead, before)[along.row])
        for k, s in enumerate(past)
    ]


def _run(
    stand: CutterStand,
    track: Curve,
    stations: Floats,
    on_blade: NDArray[np.bool_],
    room: Floats,
    margin: float,
) -> BevelPass | None:
    wanted = np.flatnonzero(on_blade & (room >= 0))
    if not len(wanted):
        return None
    first, last = int(wanted[0]), int(wanted[-1])
    barred = np.flatnonzero(room[first : last + 1] < 0)
    if len(barred):  # two plunges between: keep the longer part
        first, last = _longest(room[first : last + 1] >= 0, first)
    low = max(0.0, stations[max(0, first - 1)] - margin)
    high = min(track.length, stations[min(len(stations) - 1, last + 1)] + margin)
    stop_low = _crossed(stations, room, first, -1)
    stop_high = _crossed(stations, room, last, 1)
    start, end = max(low, stop_low), min(high, stop_high)
    if not end > start + 0.05:
        return None
    return BevelPass(
        stand=stand,
        track=track.reversed(),
        start=track.length - end,
        end=track.length - start,
        from_plunge=stop_high <= high,
        to_plunge=stop_low >= low,
    )


def _longest(free: NDArray[np.bool_], first: int) -> tuple[int, int]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], free.astype(int), [0]])))
    begins, ends = edges[::2], edges[1::2]
    best = int(np.argmax(ends - begins))
    return first + int(begins[best]), first + int(ends[best]) - 1


def _crossed(stations: Floats, room: Floats, at: int, way: int) -> float:
    """Return the station beyond ``at`` where the room runs out; infinitely far where it does not."""
    k = at
    while 0 <= k + way < len(stations):
        if room[k + way] < 0:
            share = room[k] / (room[k] - room[k + way])
            return float(stations[k] + share * (stations[k + way] - stations[k]))
        k += way
    return way * math.inf


def finishing_pass(
    run: BevelPass, *, lead: PlungeLead, sink: float, feed: float, lead_feed: float
) -> Motions:
    """Return the motions of a pass that leaves finished surface, or even stock, behind.

    It begins ``lead.fall`` mm higher: on the arc beside a plunge, or falling over ``sink`` mm where
    it comes from beyond the blade.
    """
    z, track = run.stand.z, run.track
    start, end = run.start, run.end
    sunk = 0.0 if run.from_plunge else min(start, sink)
    heights = [(start - sunk, z + lead.fall), (start, z), (end, z)]
    parts = [along_track(track, heights, feed)]
    arc = {"radius": lead.radius, "aside": lead.aside, "z": z, "feed": lead_feed}
    if run.from_plunge:
        parts.insert(0, lead_in(track, start, fall=lead.fall, **arc))
    if run.to_plunge:
        parts.append(lead_out(track, end, rise=lead.fall, **arc))
    return Motions.joined(parts)


def roughing_pass(
    face: BevelFace, run: BevelPass, *, outer: float, beside: float, feed: float
) -> Motions:
    """Return the motions of a pass that takes one strip of a level.

    Where it begins at a plunge it comes from beside the edge, ``outer`` mm inward of it, over the
    strips taken before, and no nearer to the plunge than they begin. Where it ends at one it goes on
    along the plunge to the strip ``beside`` mm further out, if that meets the blade, and from there
    it comes: what stands between the ends of both would be met two levels high by the next level.
    No strip is so far out where ``beside`` is inf.
    """
    z, x = run.stand.z, run.stand.x
    parts: list[Motions] = []
    step = beside if x - beside > outer else 0.0
    if run.from_plunge and x > outer + 1e-6:
        place, square, along, nearer = _ways_out(face, run, run.start)
        last = place + step * along
        begin = last + (x - outer - step) * (square if nearer < 0 else along)
        by = [begin, last, place] if nearer < 0 < step else [begin, place]
        parts += [line((*p, z), (*q, z), feed) for p, q in itertools.pairwise(by)]
    parts.append(along_track(run.track, [(run.start, z), (run.end, z)], feed))
    if run.to_plunge and step:
        place, _, along, _ = _ways_out(face, run, run.end)
        parts.append(line((*place, z), (*(place + step * along), z), feed))
    return Motions.joined(parts)


def _ways_out(
    face: BevelFace, run: BevelPass, station: float
) -> tuple[Floats, Floats, Floats, float]:
    """Return a place (2,) of a run beside a plunge, two ways (2,) from it 1 mm outward, and one's lean.

    The first way is square to the edge and leads so many mm nearer to the plunge; the second goes
    along the plunge.
    """
    place, heading = place_at(run.track, station)
    square = normals(heading)[0]
    plunge, _ = face.plunges[int(np.argmax([s[0] for s in face.past_plunges(place)]))]
    past = normals(place_at(plunge, station_of(plunge, place))[1])[0]
    nearer = float(past @ square)
    return place[0], square, (square - nearer * past) / (1 - nearer**2), nearer


def along_track(track: Curve, heights: Sequence[tuple[float, float]], feed: float) -> Motions:
    """Return the motions along an open track through (station, z) places, at one feed.

    As `follow` makes them, for short chains many times faster.
    """
    rows: list[tuple[float, ...]] = []
    for (first, z_first), (last, z_last) in itertools.pairwise(heights):
        if last - first <= SHORTEST_MOTION_MM:
            continue
        slope = (z_last - z_first) / (last - first)
        k = int(np.clip(np.searchsorted(track.stations, first, "right") - 1, 0, len(track) - 1))
        while k < len(track) and track.stations[k] < last - SHORTEST_MOTION_MM:
            begin, end = float(track.stations[k]), float(track.stations[k + 1])
            s0, s1 = max(first, begin), min(last, end)
            if s1 - s0 > SHORTEST_MOTION_MM:
                z = z_first + slope * (s0 - first), z_first + slope * (s1 - first)
                rows.append(_piece(track, k, s0 - begin, s1 - begin, z, feed))
            k += 1
    table = np.array(rows)
    table[1:, 1:4] = table[:-1, 4:7]
    return Motions(
        kind=table[:, 0],
        start=table[:, 1:4],
        stop=table[:, 4:7],
        centre=table[:, 7:9],
        turns=table[:, 9],
        feed=table[:, 10],
    )


def _piece(
    track: Curve, k: int, low: float, high: float, z: tuple[float, float], feed: float
) -> tuple[float, ...]:
    length = float(track.lengths[k])
    (x0, y0), (x1, y1) = (_on_piece(track, k, along / length) for along in (low, high))
    if not track.is_arc[k]:
        return (FEED, x0, y0, z[0], x1, y1, z[1], 0.0, 0.0, 0.0, feed)
    cx, cy = track.centres[k].tolist()
    turns = float(track.angles[k]) * (high - low) / length / (2 * math.pi)
    return (ARC, x0, y0, z[0], x1, y1, z[1], cx, cy, turns, feed)


def _on_piece(track: Curve, k: int, t: float) -> tuple[float, float]:
    """Return the place at a fraction of one piece, as `arc_points` finds it."""
    (ax, ay), (bx, by) = track.starts[k].tolist(), track.ends[k].tolist()
    if t <= 1e-12 or t >= 1 - 1e-12:
        return (ax, ay) if t <= 1e-12 else (bx, by)
    dx, dy = bx - ax, by - ay
    if not track.is_arc[k]:
        return ax + t * dx, ay + t * dy
    half = 2 * math.atan(float(track.bulges[k]))
    scale, turn = math.sin(t * half) / math.sin(half), (t - 1) * half
    c, s = math.cos(turn), math.sin(turn)
    return ax + scale * (dx * c - dy * s), ay + scale * (dx * s + dy * c)


def shortened(run: BevelPass, by: float) -> BevelPass | None:
    """Return the run ``by`` mm shorter where plunges stop it; None where nothing stays of it."""
    start = run.start + (by if run.from_plunge else 0.0)
    end = run.end - (by if run.to_plunge else 0.0)
    return replace(run, start=start, end=end) if end > start + 0.05 else None


def plunge_ends(face: BevelFace, found: Sequence[BevelPass]) -> dict[int, float]:
    """Return for each plunge how far past its line the shortest pass touches last, mm."""
    ends: dict[int, float] = {}
    touched: list[Floats] = []
    for run in found:
        for stops, station in ((run.from_plunge, run.start), (run.to_plunge, run.end)):
            if stops:
                place, heading = place_at(run.track, station)
                touched.append(place[0] - run.stand.arm * normals(heading)[0])
    if not touched:
        return ends
    past = face.past_plunges(np.array(touched))
    nearest = np.argmax(past, axis=0)
    for number in range(len(past)):
        if (nearest == number).any():
            ends[number] = float(past[number][nearest == number].min())
    return ends


def deepest_gouge(face: BevelFace, cutter: Cutter, motions: Motions) -> float:
    """Return how far below the face and its plunges the cutter comes, mm, at the ends of motions."""
    if not len(motions) or not face.plunges:
        return 0.0
    from knifecam.curve.distance import signed_line_distance

    places = np.concatenate([motions.start[:1], motions.stop])
    away, up = corner_points(cutter, face.thickness / 2 - places[:, 2])
    turn = np.linspace(0.0, 2 * math.pi, 73)[:-1]
    disc = np.stack([away[:, :, None] * np.cos(turn), away[:, :, None] * np.sin(turn)], axis=3)
    points = (places[:, None, None, :2] + disc).reshape(-1, 2)
    tip = np.repeat((places[:, 2, None] + up).ravel(), len(turn))
    target = face.height(signed_line_distance(points, face.edge)) + face.rise(points)
    return float((np.minimum(target, face.thickness / 2) - tip).max())

"""Lines and arcs side by side; which ends meet, fork, or just miss."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from knifecam.curve.curve import Floats
from knifecam.drawing.drawing_limits import (
    ENDS_MEET_MM,
    LARGEST_JOIN_MM,
    LEAST_REPORTED_GAP_MM,
    MOST_NEAR_PAIRS,
    PAIRS_AT_ONCE,
)
from knifecam.drawing.drawing_record import (
    FORK,
    GAP,
    MM_PER_INCH,
    Origin,
    Piece,
    Problem,
    Repair,
    shown,
    shown_length,
    shown_place,
)
from knifecam.errors import DrawingError
from knifecam.quantity import either

Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Segments:
    """Lines and arcs of at most half a turn.

    Parameters
    ----------
    start, end : (S, 2) float, mm
    bulge : (S,) float
    piece : (S,) int
        Which piece each is part of.
    group : (S,) int
        Ends are joined, and crossings looked for, within a group.
    mate : (2 S,) int
        End 2 k is the start of segment k, 2 k + 1 its end; the end each is joined to, or -1.
    """

    start: Floats
    end: Floats
    bulge: Floats
    piece: Ints
    group: Ints
    mate: Ints

    def __len__(self) -> int:
        return len(self.bulge)

    @property
    def chord(self) -> Floats:
        """(S,) mm: from end to end."""
        return np.asarray(np.hypot(*(self.end - self.start).T))

    @cached_property
    def length(self) -> Floats:
        """(S,) mm: along the segment."""
        half = 2 * np.arctan(np.abs(self.bulge))
        return np.asarray(self.chord / np.sinc(half / np.pi))

    @property
    def curvature(self) -> Floats:
        """(S,) 1/mm: positive where the segment turns counter-clockwise."""
        return np.asarray(4 * self.bulge / (self.chord * (1 + self.bulge**2)))

    @cached_property
    def places(self) -> Floats:
        """(2 S, 2) mm: every end."""
        return np.stack([self.start, self.end], axis=1).reshape(-1, 2)

    @property
    def middle(self) -> Floats:
        """(S, 2) mm: halfway along each."""
        chord = self.end - self.start
        across = np.stack([chord[:, 1], -chord[:, 0]], axis=1)
        return np.asarray((self.start + self.end + self.bulge[:, None] * across) / 2)

    def boxes(self, margin: float) -> NDArray[np.object_]:
        """Return a box round every segment, ``margin`` mm larger than it."""
        low = np.minimum(self.start, self.end)
        high = np.maximum(self.start, self.end)
        grown = (np.abs(self.bulge) * self.chord / 2 + margin)[:, None]
        return np.asarray(shapely.box(*(low - grown).T, *(high + grown).T))

    def pairs(self, margin: float) -> tuple[Ints, Ints]:
        """Return all pairs i < j of one group whose boxes come within ``margin`` mm."""
        i, j = near_each_other(self.boxes(margin / 2), self.group)
        order = np.lexsort((j, i))
        return i[order], j[order]

    def with_mates(self, mate: Ints) -> Segments:
        """Return the same segments joined otherwise."""
        return replace(self, mate=mate)


def crowded(count: int, what: str) -> DrawingError:
    """Return the refusal of a drawing in which more than ``count`` of something meet."""
    return DrawingError(
        f"more than {count} {what}: put hatching, lettering and what is drawn many times over on"
        " layers that are switched off, or take it out"
    )


def near_each_other(shapes: NDArray[np.object_], group: Ints, **how: Any) -> tuple[Ints, Ints]:
    """Return all pairs i < j of shapes of one group that meet, or meet as ``how`` says.

    Raises
    ------
    DrawingError
        Where there are more than `MOST_NEAR_PAIRS`.
    """
    tree = shapely.STRtree(shapes)
    rows = max(1, PAIRS_AT_ONCE // max(1, len(shapes)))
    found, count = [np.zeros((2, 0), dtype=np.int64)], 0
    for first in range(0, len(shapes), rows):
        i, j = tree.query(shapes[first : first + rows], **how)
        i = i + first
        chosen = (i < j) & (group[i] == group[j])
        found.append(np.stack([i[chosen], j[chosen]]))
        count += int(chosen.sum())
        if count > MOST_NEAR_PAIRS:
            raise crowded(MOST_NEAR_PAIRS, "pairs of its lines and arcs come near each other")
    i, j = np.concatenate(found, axis=1)
    return i, j


def segments_of(pieces: Sequence[Piece], groups: Sequence[int]) -> Segments:
    """Return the segments of all pieces; those of one piece are joined to each other."""
    start, end, bulge, piece, mate = [], [], [], [], []
    count = 0
    for k, item in enumerate(pieces):
        several = len(item.vertices) if item.closed else len(item.vertices) - 1
        start.append(item.vertices[:several])
        last = item.vertices[:1] if item.closed else item.vertices[several:]
        end.append(item.vertices[1:several])
        end.append(last)
        bulge.append(item.bulges[:several])
        piece += [k] * several
        joints = [-1] * (2 * several)
        for m in range(several if item.closed else several - 1):
            joints[2 * m + 1] = 2 * (count + (m + 1) % several)
            joints[2 * ((m + 1) % several)] = 2 * (count + m) + 1
        mate += joints
        count += several
    of_piece = np.array(piece, dtype=np.int64)
    return Segments(
        start=np.concatenate([*start, np.zeros((0, 2))]),
        end=np.concatenate([*end, np.zeros((0, 2))]),
        bulge=np.concatenate([*bulge, np.zeros(0)]),
        piece=of_piece,
        group=np.array(groups, dtype=np.int64)[of_piece],
        mate=np.array(mate, dtype=np.int64),
    )


def distance_to(points: Floats, segments: Segments, which: Ints) -> Floats:
    """Return the distance in mm, (K,), from point k to the segment ``which[k]``."""
    start, end, bulge = segments.start[which], segments.end[which], segments.bulge[which]
    x, y, half = _in_chord(points, start, end)
    turn = 2 * np.arctan(np.abs(bulge))
    toward_centre = np.where(bulge >= 0, y, -y)
    # in the sector between the radii to both ends; beside it the nearer end is nearest
    sector = np.abs(x) * np.cos(turn) <= half * np.cos(turn) - toward_centre * np.sin(turn)
    ends = np.minimum(np.hypot(*(points - start).T), np.hypot(*(points - end).T))
    return np.where(sector, deviation_from_arc(points, start, end, bulge), ends)


def _in_chord(points: Floats, start: Floats, end: Floats) -> tuple[Floats, Floats, Floats]:
    """Return ``points`` (K, 2) seen from a piece's chord: x along it from its middle, y to its
    left, and half its length, mm. ``start`` and ``end`` are (2,) or (K, 2)."""
    chord = end - start
    half = np.hypot(chord[..., 0], chord[..., 1]) / 2
    ux, uy = chord[..., 0] / (2 * half), chord[..., 1] / (2 * half)
    seen = points - (start + end) / 2
    return ux * seen[..., 0] + uy * seen[..., 1], ux * seen[..., 1] - uy * seen[..., 0], half


def deviation_from_arc(points: Floats, start: Floats, end: Floats, bulge: float | Floats) -> Floats:
    """Return how far (K,) in mm ``points`` (K, 2) lie off the circle or line of one piece each.

    Keeps its precision however flat the arc is: both terms of |p - c| - r are multiplied by
    twice the bulge before they are taken from each other.
    """
    x, y, half = _in_chord(points, start, end)
    rise = half * (1 - bulge**2)
    above = 2 * bulge * (x**2 + y**2 - half**2) - 2 * y * rise
    below = np.hypot(2 * bulge * x, 2 * bulge * y - rise) + half * (1 + bulge**2)
    return np.asarray(np.abs(above / below))


ONCE = "draw it so that it passes each place once"
"""What would do where one entity meets itself: nothing of it can go on another layer."""


def largest_miss(join: float) -> float:
    """Return the distance in mm up to which two loose ends are taken to be meant to meet."""
    return min(5.0, max(100 * join, 2.0))


@dataclass(slots=True)
class Joining:
    """The ends while they are being joined; ``mate`` as in `Segments`, changed in place."""

    segments: Segments
    pieces: Sequence[Piece]
    join: float
    units: str
    mate: Ints
    forked: set[int] = field(default_factory=set)
    repairs: list[Repair] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)

    def origin(self, end: int) -> Piece:
        """Return the piece an end belongs to."""
        return self.pieces[int(self.segments.piece[end // 2])]

    def loose(self) -> Ints:
        """Return the ends that meet nothing."""
        ends = np.flatnonzero(self.mate == -1)
        return ends[[int(e) not in self.forked for e in ends]]

    def run(self, end: int) -> tuple[int, float]:
        """Return the other end of the run of joined segments, and the run's length in mm."""
        lengths, segment = self._lengths, end // 2
        gone, other = float(lengths[segment]), end ^ 1
        while self.mate[other] != -1:
            other = int(self.mate[other]) ^ 1
            gone += float(lengths[other // 2])
        return other, gone

    _lengths: Floats = field(init=False)

    def __post_init__(self) -> None:
        self._lengths = self.segments.length


def join_ends(
    segments: Segments,
    pieces: Sequence[Piece],
    join: float,
    *,
    across: bool,
    late: NDArray[np.bool_],
    units: str,
) -> tuple[Segments, list[Repair], list[Problem]]:
    """Return the segments with their ends joined within ``join`` mm, repairs and problems.

    Ends meet within their group first; with ``across`` two ends of different groups meet too
    where no third is near, those of pieces that are ``late`` (P,) after all others. Where three or
    more meet none is joined: a fork is a problem.
    """
    work = Joining(segments, pieces, join, units, segments.mate.copy())
    _part_too_far(work)
    for reach in (ENDS_MEET_MM, join):
        _meet(work, reach, segments.group)
    if across:
        _meet_across(work, late)
        _meet_across(work, np.zeros_like(late))
    _find_ends_on_bodies(work)
    _find_gaps(work)
    _tell_closed(work, segments.mate)
    return segments.with_mates(work.mate), work.repairs, work.problems


def _part_too_far(work: Joining) -> None:
    """Part neighbours of one piece that a dropped short segment left too far apart."""
    ends = np.flatnonzero(work.mate >= 0)
    places = work.segments.places
    far = np.hypot(*(places[ends] - places[work.mate[ends]]).T) > work.join
    work.mate[ends[far]] = -1


def _meet(work: Joining, reach: float, group: Ints) -> None:
    """Join the loose ends of each group that lie within ``reach``, and find the forks."""
    ends = work.loose()
    for cluster in _clusters(ends, work.segments.places, reach, group):
        if len(cluster) == 2:
            if reach == ENDS_MEET_MM or cluster[0] // 2 != cluster[1] // 2:
                _mate(work, cluster)
        elif not _chained_through(work, cluster):
            work.forked.update(cluster)
            work.problems.append(_fork(work, cluster))


def _meet_across(work: Joining, without: NDArray[np.bool_]) -> None:
    """Join lone ends of different groups, but for those of the pieces ``without`` (P,)."""
    ends = work.loose()
    ends = ends[~without[work.segments.piece[ends // 2]]]
    one = np.zeros(len(work.segments), dtype=np.int64)
    for cluster in _clusters(ends, work.segments.places, work.join, one):
        if len(cluster) == 2 and cluster[0] // 2 != cluster[1] // 2:
            _mate(work, cluster)


def _mate(work: Joining, pair: Sequence[int]) -> None:
    work.mate[pair[0]], work.mate[pair[1]] = pair[1], pair[0]


def _near_pairs(ends: Ints, places: Floats, reach: float) -> tuple[Ints, Ints, Floats]:
    """Return all pairs of ends within ``reach`` mm and their distances."""
    points = shapely.points(places[ends])
    alike = np.zeros(len(ends), dtype=np.int64)
    a, b = near_each_other(points, alike, predicate="dwithin", distance=reach)
    first, second = ends[a], ends[b]
    return first, second, np.asarray(np.hypot(*(places[first] - places[second]).T))


def _clusters(ends: Ints, places: Floats, reach: float, group: Ints) -> Iterable[list[int]]:
    """Return the groups of two or more ends that hang together within ``reach`` mm."""
    if len(ends) < 2:
        return []
    first, second, _ = _near_pairs(ends, places, reach)
    same = group[first // 2] == group[second // 2]
    leader = {e: e for e in np.unique([first[same], second[same]]).tolist()}

    def head(end: int) -> int:
        while leader[end] != end:
            leader[end] = leader[leader[end]]
            end = leader[end]
        return end

    for a, b in zip(first[same].tolist(), second[same].tolist(), strict=True):
        one, other = head(a), head(b)
        leader[max(one, other)] = min(one, other)
    members: dict[int, list[int]] = {}
    for end in leader:
        members.setdefault(head(end), []).append(end)
    return members.values()


def _chained_through(work: Joining, cluster: list[int]) -> bool:
    """Join a cluster that is one chain passing through pieces shorter than the tolerance."""
    inside = set(cluster)
    runs = {end: work.run(end) for end in cluster}
    short = [e for e in cluster if runs[e][0] in inside and runs[e][1] <= 2 * work.join]
    if not short or len(cluster) - len(short) > 2:
        return False
    places = work.segments.places
    first, second, apart = _near_pairs(np.array(sorted(cluster)), places, np.inf)
    free = set(cluster)
    pairs = []
    for k in np.argsort(apart, kind="stable"):
        a, b = int(first[k]), int(second[k])
        if a in free and b in free and runs[a][0] != b:
            pairs.append((a, b))
            free -= {a, b}
    if free:
        return False
    for pair in pairs:
        _mate(work, pair)
    return True


def _fork(work: Joining, cluster: list[int]) -> Problem:
    places = work.segments.places[cluster]
    spread = float(np.hypot(*np.ptp(places, axis=0)))
    own = work.origin(cluster[0])
    others = sorted({work.origin(e).origin.handle for e in cluster} - {own.origin.handle})
    names = f" with those of handles {', '.join(others)}" if others else ""
    return Problem(
        kind=FORK,
        origin=own.origin,
        place=(float(places[0, 0]), float(places[0, 1])),
        size=spread,
        text=f"{len(cluster)} ends meet at {shown_place(places[0])}{names}; two may meet: put what"
        " does not belong to the part on a layer of its own",
    )


def _find_ends_on_bodies(work: Joining) -> None:
    """Find loose ends that lie on another piece: as many ways part there as at a fork."""
    ends = work.loose()
    if not len(ends):
        return
    segments, places = work.segments, work.segments.places
    tree = shapely.STRtree(segments.boxes(work.join))
    at, body = tree.query(shapely.points(places[ends]), predicate="intersects")
    beside = np.array([work.mate[2 * (e // 2) + (1 - e % 2)] // 2 for e in ends.tolist()])
    chosen = (
        (segments.group[body] == segments.group[ends[at] // 2])
        & (body != ends[at] // 2)
        & (body != beside[at])
    )
    at, body = at[chosen], body[chosen]
    apart = distance_to(places[ends[at]], segments, body)
    for k in np.flatnonzero(apart <= work.join):
        end = int(ends[at[k]])
        if end in work.forked:
            continue
        work.forked.add(end)
        own, other = work.origin(end), work.pieces[int(segments.piece[body[k]])]
        work.problems.append(
            Problem(
                kind=FORK,
                origin=own.origin,
                place=(float(places[end, 0]), float(places[end, 1])),
                size=float(apart[k]),
                text=_on_body(shown_place(places[end]), None if own is other else other.origin),
            )
        )


def _on_body(place: str, other: Origin | None) -> str:
    """Return what is told of an end that lies on another piece, or on its own."""
    if other is None:
        return f"it runs back over itself at {place}; {ONCE}"
    return (
        f"its end at {place} lies on handle {other.handle}, {other.kind}; an end may meet one other"
        " end: cut the other there, or put what does not belong to the part on a layer of its own"
    )


def _find_gaps(work: Joining) -> None:
    """Find loose ends that are each other's nearest and just miss each other."""
    ends = work.loose()
    if len(ends) < 2:
        return
    group = work.segments.group
    first, second, apart = _near_pairs(ends, work.segments.places, largest_miss(work.join))
    chosen = group[first // 2] == group[second // 2]
    runs = np.zeros(2 * len(group))
    runs[ends] = [work.run(end)[1] for end in ends.tolist()]
    # a run must be clearly longer than the gap, or it is the gap's own filling
    chosen &= np.minimum(runs[first], runs[second]) > 2 * apart
    first, second, apart = first[chosen], second[chosen], apart[chosen]
    nearest: dict[int, tuple[float, int]] = {}
    for a, b, d in zip(first.tolist(), second.tolist(), apart.tolist(), strict=True):
        for one, other in ((a, b), (b, a)):
            nearest[one] = min(nearest.get(one, (np.inf, -1)), (d, other))
    for end, (distance, other) in sorted(nearest.items()):
        if end < other and nearest.get(other, (0.0, -1))[1] == end:
            work.problems.append(_gap(work, end, other, distance))


def _gap(work: Joining, end: int, other: int, distance: float) -> Problem:
    places = work.segments.places
    next_one = work.origin(other).origin
    remedy = "close it in the drawing"
    if distance < LARGEST_JOIN_MM:
        wanted = np.ceil(distance * 1.02 * 1000) / 1000
        remedy += (
            ", or allow it with"
            f" join={either(shown(wanted), shown(math.ceil(wanted / MM_PER_INCH * 1e5) / 1e5, 5))}"
        )
    return Problem(
        kind=GAP,
        origin=work.origin(end).origin,
        place=(float(places[end, 0]), float(places[end, 1])),
        size=distance,
        text=f"end is {shown_length(distance, work.units)} from the next start; largest gap"
        f" allowed is {shown_length(work.join, work.units)}; between {shown_place(places[end])} and"
        f" {shown_place(places[other])}, handle {next_one.handle}, {next_one.kind}; {remedy}",
    )


def _tell_closed(work: Joining, before: Ints) -> None:
    """Note the gaps that were closed, where they are large enough to be seen."""
    ends = np.flatnonzero((work.mate >= 0) & (before == -1))
    places = work.segments.places
    apart = np.hypot(*(places[ends] - places[work.mate[ends]]).T)
    for k in np.flatnonzero(apart > LEAST_REPORTED_GAP_MM):
        end, other = int(ends[k]), int(work.mate[ends[k]])
        if end > other:
            continue
        next_one = work.origin(other).origin
        work.repairs.append(
            Repair(
                kind=GAP,
                origin=work.origin(end).origin,
                place=(float(places[end, 0]), float(places[end, 1])),
                size=float(apart[k]),
                text=f"end was {shown_length(float(apart[k]), work.units)} from the next start,"
                f" handle {next_one.handle}, {next_one.kind} at {shown_place(places[end])}; joined",
            )
        )

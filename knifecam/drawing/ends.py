"""Ends of segments: which meet, where too many meet, and where two just miss each other."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from numpy.typing import NDArray

from knifecam.curve.curve import Floats
from knifecam.drawing.record import (
    FORK,
    GAP,
    INCH,
    Origin,
    Piece,
    Problem,
    Repair,
    shown,
    shown_length,
    shown_place,
)
from knifecam.drawing.segment import Ints, Segments, distance_to, near_each_other
from knifecam.quantity import either

SAME_PLACE = 1e-6
"""mm: ends this close meet exactly."""

TOLD = 1e-4
"""mm: gaps this small are closed without a word."""

ONCE = "draw it so that it passes each place once"
"""What would do where one entity meets itself: nothing of it can go on another layer."""

LARGEST_JOIN = 1.0
"""mm: no larger tolerance for joining ends is accepted."""


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
    for reach in (SAME_PLACE, join):
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
            if reach == SAME_PLACE or cluster[0] // 2 != cluster[1] // 2:
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
    if distance < LARGEST_JOIN:
        wanted = np.ceil(distance * 1.02 * 1000) / 1000
        remedy += (
            ", or allow it with"
            f" join={either(shown(wanted), shown(math.ceil(wanted / INCH * 1e5) / 1e5, 5))}"
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
    for k in np.flatnonzero(apart > TOLD):
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

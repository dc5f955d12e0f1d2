"""Lines that lie on each other, taken once, and lines that cross."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve
from knifecam.curve.curve import Floats, arc_points
from knifecam.curve.curve_limits import STRAIGHT_BULGE
from knifecam.drawing.drawing_limits import (
    END_TOUCHES_MM,
    MOST_OVERLAPS,
    PARTED_AGAIN_MM,
    PARTING_SHARE,
    SHORTEST_PIECE_MM,
)
from knifecam.drawing.drawing_record import (
    OVERLAID,
    TWIN,
    Piece,
    Problem,
    Repair,
    shown_length,
    shown_place,
)
from knifecam.drawing.end_joining import Ints, Segments, crowded


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Overlaps:
    """Pairs of segments that lie on each other.

    ``keep`` and ``cut`` (K,) are segments; the cut one lies on the kept one from fraction
    ``low`` to ``high`` of its length. ``size`` in mm, ``place`` (K, 2).
    """

    keep: Ints
    cut: Ints
    low: Floats
    high: Floats
    size: Floats
    place: Floats


def without_overlays(
    segments: Segments, pieces: tuple[Piece, ...], join: float, *, units: str = "mm"
) -> tuple[Segments, list[Repair], list[Problem]]:
    """Return the segments so that no stretch is there twice, and what was done.

    The shape stays: what is taken away lies within ``join`` on what is kept. Two loops, each
    drawn as one closed entity, that share a stretch are not cut: that is a problem.
    """
    overlaps = find_overlaps(segments, pieces, join)
    if not len(overlaps.keep):
        return segments, [], []
    covered = _covered(overlaps)
    whole = _wholly_covered(segments, covered)
    repairs: list[Repair] = []
    problems: list[Problem] = []
    stay: set[int] = set()
    for (cut, keep), chosen in _piece_pairs(segments, overlaps):
        size = float(overlaps.size[chosen].sum())
        place = overlaps.place[chosen][0]
        both_loops = pieces[cut].closed and pieces[keep].closed and cut != keep
        if both_loops and cut not in whole:
            problems.append(_shared(pieces[cut], pieces[keep], (size, units), place))
            stay.add(cut)
        else:
            repairs.append(_taken_once(pieces, (cut, keep), (size, units), place, cut in whole))
    for piece in stay:
        for k in np.flatnonzero(segments.piece == piece):
            covered.pop(int(k), None)
    return _cut(segments, covered), repairs, problems


def without_marks(
    segments: Segments, pieces: tuple[Piece, ...], join: float, *, late: NDArray[np.bool_]
) -> Segments:
    """Return the segments without the stretches of ``late`` pieces (P,) that lie on other groups'."""
    one = replace(segments, group=np.zeros_like(segments.group))
    found = find_overlaps(one, pieces, join, late=late)
    apart = segments.group[found.keep] != segments.group[found.cut]
    chosen = np.flatnonzero(late[segments.piece[found.cut]] & apart)
    if not len(chosen):
        return segments
    named = {field.name: getattr(found, field.name)[chosen] for field in fields(found)}
    return _cut(segments, _covered(Overlaps(**named)))


def find_overlaps(
    segments: Segments,
    pieces: tuple[Piece, ...],
    join: float,
    *,
    late: NDArray[np.bool_] | None = None,
) -> Overlaps:
    """Return which segments lie on each other over more than ``join`` mm.

    Of two the open one is cut, or else the shorter; those of ``late`` pieces (P,) before all others.
    """
    i, j = segments.pairs(2 * join)
    straight = np.abs(segments.bulge) <= STRAIGHT_BULGE
    lines = straight[i] & straight[j]
    arcs = ~straight[i] & ~straight[j]
    found = [
        _lines_on_lines(segments, i[lines], j[lines]),
        _arcs_on_arcs(segments, i[arcs], j[arcs]),
    ]
    i, j = (np.concatenate([part[k] for part in found]) for k in (0, 1))
    first, second, size, apart = (np.concatenate([part[k] for part in found]) for k in (2, 3, 4, 5))
    near = np.minimum(join, PARTING_SHARE * size + 1e-6)
    chosen = (size > max(join, SHORTEST_PIECE_MM)) & (apart <= near)
    i, j = i[chosen], j[chosen]
    if len(i) > MOST_OVERLAPS:
        raise crowded(MOST_OVERLAPS, "pairs of its lines and arcs lie on each other")
    first, second, size = first[chosen], second[chosen], size[chosen]
    closed = np.array([piece.closed for piece in pieces], dtype=bool)[segments.piece]
    rank = np.empty(len(segments), dtype=np.int64)
    after = np.zeros(len(segments), dtype=bool) if late is None else late[segments.piece]
    rank[np.lexsort((segments.piece, -segments.length.round(6), ~closed, after))] = np.arange(
        len(segments)
    )
    swap = rank[i] > rank[j]
    keep, cut = np.where(swap, j, i), np.where(swap, i, j)
    share = np.where(swap[:, None], first, second)
    middles = share.mean(axis=1)
    place = arc_points(segments.start[cut], segments.end[cut], segments.bulge[cut], middles)
    return Overlaps(
        keep=keep, cut=cut, low=share.min(axis=1), high=share.max(axis=1), size=size, place=place
    )


Part = tuple[Ints, Ints, Floats, Floats, Floats, Floats]
"""i, j, shares (K, 2) of both, shared length and how far apart at most, mm."""


def _lines_on_lines(segments: Segments, i: Ints, j: Ints) -> Part:
    start = segments.start[i]
    long = segments.chord[i]
    along = (segments.end[i] - start) / long[:, None]

    def seen(points: Floats) -> tuple[Floats, Floats]:
        rel = points - start
        return (rel * along).sum(axis=1), along[:, 0] * rel[:, 1] - along[:, 1] * rel[:, 0]

    (a, p), (b, q) = seen(segments.start[j]), seen(segments.end[j])
    low = np.maximum(0.0, np.minimum(a, b))
    high = np.minimum(long, np.maximum(a, b))
    run = np.where(np.abs(b - a) > 1e-12, b - a, 1e-12)
    share = np.stack([(low - a) / run, (high - a) / run], axis=1)
    apart = np.abs(p[:, None] + share * (q - p)[:, None]).max(axis=1)
    return i, j, np.stack([low, high], axis=1) / long[:, None], share, high - low, apart


def _arcs_on_arcs(segments: Segments, i: Ints, j: Ints) -> Part:
    bulge = np.where(np.abs(segments.bulge) <= STRAIGHT_BULGE, 1.0, segments.bulge)
    half = 2 * np.arctan(np.abs(bulge))
    radius = segments.chord / (2 * np.sin(half))
    chord = segments.end - segments.start
    across = np.stack([-chord[:, 1], chord[:, 0]], axis=1)
    centre = (segments.start + segments.end) / 2 + across * ((1 / bulge - bulge) / 4)[:, None]
    arm = segments.middle - centre
    toward = np.arctan2(arm[:, 1], arm[:, 0])
    ahead = np.where(segments.bulge > 0, 1.0, -1.0)
    turned = (toward[j] - toward[i] + np.pi) % (2 * np.pi) - np.pi
    low = np.maximum(-half[i], turned - half[j])
    high = np.minimum(half[i], turned + half[j])
    apart = np.zeros(len(i))
    for angle in (low, (low + high) / 2, high):
        way = toward[i] + angle
        point = centre[i] + radius[i][:, None] * np.stack([np.cos(way), np.sin(way)], axis=1)
        arm_j = point - centre[j]
        off = np.abs(np.hypot(*arm_j.T) - radius[j])
        # beside the other arc, not past its ends: centres may lie apart
        swung = np.arctan2(arm_j[:, 1], arm_j[:, 0]) - toward[j]
        past = np.abs((swung + np.pi) % (2 * np.pi) - np.pi) - half[j]
        apart = np.maximum(apart, np.maximum(off, past * radius[j]))

    def share(k: Ints, base: Floats | float) -> Floats:
        ends = np.stack([low - base, high - base], axis=1)
        return np.asarray(0.5 + ahead[k][:, None] * ends / (2 * half[k][:, None]))

    return i, j, share(i, 0.0), share(j, turned), (high - low) * radius[i], apart


def _piece_pairs(segments: Segments, overlaps: Overlaps) -> list[tuple[tuple[int, int], Ints]]:
    """Return which piece lies on which, in the order of the file, and the overlaps of each pair."""
    cut, keep = segments.piece[overlaps.cut], segments.piece[overlaps.keep]
    pairs: dict[tuple[int, int], list[int]] = {}
    for k in np.lexsort((np.arange(len(cut)), keep, cut)).tolist():
        pairs.setdefault((int(cut[k]), int(keep[k])), []).append(k)
    return [(pair, np.array(which)) for pair, which in pairs.items()]


def _covered(overlaps: Overlaps) -> dict[int, list[tuple[float, float]]]:
    """Return for every segment that is to be cut the stretches, as fractions, that are doubled."""
    stretches: dict[int, list[tuple[float, float]]] = {}
    order = np.lexsort((overlaps.low, overlaps.cut))
    for k in order:
        low, high = float(overlaps.low[k]), float(overlaps.high[k])
        there = stretches.setdefault(int(overlaps.cut[k]), [])
        if there and low <= there[-1][1]:
            there[-1] = (there[-1][0], max(there[-1][1], high))
        else:
            there.append((low, high))
    return stretches


def _left(stretches: list[tuple[float, float]], length: float) -> list[tuple[float, float]]:
    """Return the stretches, as fractions, that are not doubled and are long enough to keep."""
    edges = [0.0, *(edge for stretch in stretches for edge in stretch), 1.0]
    pairs = zip(edges[::2], edges[1::2], strict=True)
    return [(low, high) for low, high in pairs if (high - low) * length >= SHORTEST_PIECE_MM]


def _wholly_covered(segments: Segments, covered: dict[int, list[tuple[float, float]]]) -> set[int]:
    """Return the pieces of which nothing is left."""
    lengths = segments.length
    gone = [k for k, there in covered.items() if not _left(there, float(lengths[k]))]
    lost = np.bincount(segments.piece[gone], minlength=int(segments.piece.max()) + 1)
    return set(np.flatnonzero((lost > 0) & (lost == np.bincount(segments.piece))).tolist())


def _cut(segments: Segments, covered: dict[int, list[tuple[float, float]]]) -> Segments:
    """Return the segments without the doubled stretches."""
    lengths = segments.length
    rows: list[tuple[int, float, float]] = []
    end_of: dict[int, int] = {}
    for k in range(len(segments)):
        for part in _left(covered[k], float(lengths[k])) if k in covered else [(0.0, 1.0)]:
            if part[0] == 0.0:
                end_of[2 * k] = 2 * len(rows)
            if part[1] == 1.0:
                end_of[2 * k + 1] = 2 * len(rows) + 1
            rows.append((k, *part))
    old = np.array([row[0] for row in rows], dtype=np.int64)
    low, high = np.array([row[1:] for row in rows], dtype=float).reshape(-1, 2).T
    start, end, bulge = segments.start[old], segments.end[old], segments.bulge[old]
    mate = np.full(2 * len(rows), -1, dtype=np.int64)
    for before, after in end_of.items():
        mate[after] = end_of.get(int(segments.mate[before]), -1)
    return Segments(
        start=np.where((low == 0.0)[:, None], start, arc_points(start, end, bulge, low)),
        end=np.where((high == 1.0)[:, None], end, arc_points(start, end, bulge, high)),
        bulge=np.where(high - low == 1.0, bulge, np.tan((high - low) * np.arctan(bulge))),
        piece=segments.piece[old],
        group=segments.group[old],
        mate=mate,
    )


def _shared(cut: Piece, keep: Piece, size: tuple[float, str], place: Floats) -> Problem:
    return Problem(
        kind=OVERLAID,
        origin=cut.origin,
        place=(float(place[0]), float(place[1])),
        size=size[0],
        text=f"lies on handle {keep.origin.handle}, {keep.origin.kind} over {shown_length(*size)} at"
        f" {shown_place(place)}: two loops must not share an edge; move or take out one of them",
    )


def _taken_once(
    pieces: tuple[Piece, ...],
    pair: tuple[int, int],
    size: tuple[float, str],
    place: Floats,
    gone: bool,
) -> Repair:
    cut, keep = pieces[pair[0]], pieces[pair[1]]
    there = f"at {shown_place(place)}"
    on = "itself" if pair[0] == pair[1] else f"handle {keep.origin.handle}, {keep.origin.kind}"
    if gone and pair[0] != pair[1] and _as_long(cut, keep, size[0]):
        kind, text = TWIN, f"is the twin of {on} {there}, {shown_length(*size)} long; left out"
    elif gone:
        kind, text = OVERLAID, f"lies wholly on {on} {there}, {shown_length(*size)} long; left out"
    else:
        kind = OVERLAID
        text = f"lies on {on} over {shown_length(*size)} {there}; the doubled stretch is taken once"
    return Repair(
        kind=kind,
        origin=cut.origin,
        place=(float(place[0]), float(place[1])),
        size=size[0],
        text=text,
    )


def _as_long(cut: Piece, keep: Piece, size: float) -> bool:
    """Return whether both pieces are the same length within 1 % of what they share."""
    return abs(_piece_length(cut) - size) < 0.01 * size and abs(_piece_length(keep) - size) < (
        0.01 * size
    )


def _piece_length(piece: Piece) -> float:
    ends = np.roll(piece.vertices, -1, axis=0)
    count = len(piece.vertices) if piece.closed else len(piece.vertices) - 1
    chord = np.hypot(*(ends - piece.vertices)[:count].T)
    return float((chord / np.sinc(2 * np.arctan(np.abs(piece.bulges[:count])) / np.pi)).sum())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Crossings:
    """Places (K, 2) in mm where segments ``first`` and ``second`` (K,) cross or touch."""

    first: Ints
    second: Ints
    place: Floats


def segments_of_curves(curves: list[Curve], groups: list[Ints]) -> tuple[Segments, Ints]:
    """Return the pieces of curves side by side, and which curve each belongs to.

    ``groups`` holds the group of every piece. Neighbours within a curve are joined.
    """
    counts = np.array([len(c) for c in curves], dtype=np.int64)
    first = np.concatenate([[0], np.cumsum(counts)])
    mate = np.full(2 * int(first[-1]), -1, dtype=np.int64)
    for curve, low, high in zip(curves, first[:-1], first[1:], strict=True):
        k = np.arange(low, high if curve.closed else high - 1)
        after = low + (k + 1 - low) % (high - low)
        mate[2 * k + 1] = 2 * after
        mate[2 * after] = 2 * k + 1
    owner = np.repeat(np.arange(len(curves)), counts)
    none = np.zeros((0, 2))
    return (
        Segments(
            start=np.concatenate([none, *(c.starts for c in curves)]),
            end=np.concatenate([none, *(c.ends for c in curves)]),
            bulge=np.concatenate([none[:, 0], *(c.bulges[: len(c)] for c in curves)]),
            piece=owner,
            group=np.concatenate([np.zeros(0, np.int64), *groups]),
            mate=mate,
        ),
        owner,
    )


def find_crossings(segments: Segments) -> Crossings:
    """Return all places where segments of one group cross or touch, but where they are joined.

    Exact but for rounding: of lines and arcs, not of chords. Neighbours that meet again within
    `PARTED_AGAIN_MM` of each other, as tangent ones do by rounding, do not cross.
    """
    i, j = segments.pairs(END_TOUCHES_MM)
    # the second of a pair is a line if either is: the quadratic terms then drop out
    swap = segments.bulge[j] != 0
    i, j = np.where(swap, j, i), np.where(swap, i, j)
    point, along = _radical_line(segments, i, j)
    at, places = _on_line(segments, i, point, along)
    first, second = i[at], j[at]
    real = _holds(segments, first, places) & _holds(segments, second, places)
    first, second, places = first[real], second[real], places[real]
    crossing = ~_joined_there(segments, first, second, places)
    return Crossings(first=first[crossing], second=second[crossing], place=places[crossing])


def _circle(segments: Segments, k: Ints) -> tuple[Floats, Floats, Floats]:
    """Return a (K,), g (K, 2), c (K,) of ``a p.p + g.p + c``, which is 0 on circle or line.

    Points are seen from the chord's middle of ``k``; scaled so that lines have a = 0.
    """
    start, end, b = segments.start[k], segments.end[k], segments.bulge[k]
    half = np.hypot(*(end - start).T) / 2
    along = (end - start) / (2 * half)[:, None]
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    rise = half * (1 - b**2)
    return 2 * b, -2 * rise[:, None] * normal, -2 * b * half**2


def _radical_line(segments: Segments, i: Ints, j: Ints) -> tuple[Floats, Floats]:
    """Return a point (K, 2) and a direction (K, 2) of the line that holds all common points."""
    a, g, c = _circle(segments, i)
    d, h, e = _circle(segments, j)
    here = (segments.start[i] + segments.end[i]) / 2
    away = (segments.start[j] + segments.end[j]) / 2 - here
    # the second circle seen from the middle of the first
    e = e + d * (away**2).sum(axis=1) - (h * away).sum(axis=1)
    h = h - 2 * d[:, None] * away
    slope = np.where((d == 0)[:, None], h, a[:, None] * h - d[:, None] * g)
    level = np.where(d == 0, e, a * e - d * c)
    size = np.hypot(*slope.T)
    some = size > 1e-14 * (np.hypot(*g.T) + np.hypot(*h.T))
    size = np.where(some, size, 1.0)
    normal = slope / size[:, None]
    point = np.where(some[:, None], -normal * (level / size)[:, None], np.nan)
    return point + here, np.stack([-normal[:, 1], normal[:, 0]], axis=1)


def _on_line(segments: Segments, i: Ints, point: Floats, along: Floats) -> tuple[Ints, Floats]:
    """Return the common points of lines and the circles of ``i``: which pair, and where."""
    a, g, c = _circle(segments, i)
    rel = point - (segments.start[i] + segments.end[i]) / 2
    half_b = a * (rel * along).sum(axis=1) + (g * along).sum(axis=1) / 2
    rest = a * (rel**2).sum(axis=1) + (g * rel).sum(axis=1) + c
    inside = half_b**2 - a * rest
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        q = -(half_b + np.copysign(np.sqrt(np.maximum(inside, 0.0)), half_b))
        ways = np.stack([rest / q, q / a])
    good = np.isfinite(ways) & (inside >= -1e-12 * half_b**2)
    which, pair = np.nonzero(good)
    return pair, point[pair] + ways[which, pair][:, None] * along[pair]


def _holds(segments: Segments, k: Ints, places: Floats) -> np.ndarray:
    """Return which places, known to lie on the circle or line of ``k``, lie on the segment."""
    start, end, bulge = segments.start[k], segments.end[k], segments.bulge[k]
    half = np.hypot(*(end - start).T) / 2
    along = (end - start) / (2 * half)[:, None]
    rel = places - (start + end) / 2
    x = (rel * along).sum(axis=1)
    y = along[:, 0] * rel[:, 1] - along[:, 1] * rel[:, 0]
    flat = np.abs(y) <= END_TOUCHES_MM + np.abs(bulge) * half
    return np.asarray(
        (np.abs(x) <= half + END_TOUCHES_MM) & flat & (y * np.sign(bulge) <= END_TOUCHES_MM)
    )


def _joined_there(segments: Segments, first: Ints, second: Ints, places: Floats) -> np.ndarray:
    """Return which places are the joint of two neighbours, or as good as that."""
    joined = np.zeros(len(places), dtype=bool)
    curvature = segments.curvature
    for end in (0, 1):
        other = segments.mate[2 * first + end]
        neighbours = (other >= 0) & (other // 2 == second)
        joint = np.where(end == 1, segments.end[first], segments.start[first])
        away = np.hypot(*(places - joint).T)
        # curvatures seen travelling away from the joint
        one = curvature[first] * (1 if end == 0 else -1)
        two = curvature[second] * np.where(other % 2 == 0, 1, -1)
        lens = np.abs(one - two) * away**2 / 8
        joined |= neighbours & ((away <= 2 * END_TOUCHES_MM) | (lens <= PARTED_AGAIN_MM))
    return joined

"""From loose pieces to chains whose pieces meet exactly, and what was put right on the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from knifecam.curve.curve import Curve, Floats, curves_of
from knifecam.curve.curve_limits import CORNER_RAD, STRAIGHT_BULGE
from knifecam.drawing.drawing_limits import (
    AT_FORK_MM,
    MADE_ONE_MM,
    MOST_CROSSINGS,
    SHARP_JOINT_RAD,
    SHORTEST_PIECE_MM,
)
from knifecam.drawing.drawing_record import (
    CROSSING,
    EMPTY,
    FORK,
    Chain,
    Origin,
    Piece,
    Problem,
    Repair,
    shown_length,
    shown_mm,
    shown_place,
)
from knifecam.drawing.end_joining import ONCE, Ints, Segments, crowded, join_ends, segments_of
from knifecam.drawing.overlapping_lines import (
    find_crossings,
    segments_of_curves,
    without_marks,
    without_overlays,
)
from knifecam.quantity import mm

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Pieces:
    """The pieces of all chains one after the other, each chain's in the order of travel.

    Parameters
    ----------
    start, end : (M, 2) float, mm
    bulge : (M,) float
    corner : (M,) bool
        Whether a true corner stands at the start.
    segment : (M,) int
        Where each comes from.
    chain : (M,) int
        Which it is part of, not decreasing.
    closed : (C,) bool
        Of each chain.
    """

    start: Floats
    end: Floats
    bulge: Floats
    corner: Flags
    segment: Ints
    chain: Ints
    closed: Flags

    @property
    def first(self) -> Ints:
        """(C + 1,): where each chain begins, and the count of all."""
        return np.searchsorted(self.chain, np.arange(len(self.closed) + 1))

    def moved_on(self, steps: Ints) -> Ints:
        """Return the piece (M,) that comes ``steps`` (M,) after each, round and round its chain."""
        first = self.first
        low, count = first[self.chain], np.diff(first)[self.chain]
        return np.asarray(low + (np.arange(len(low)) - low + steps) % count)

    @property
    def before(self) -> Ints:
        """(M,): the piece before each; before an open chain's first its last."""
        return self.moved_on(np.full(len(self.chain), -1))

    @property
    def after(self) -> Ints:
        """(M,): the piece after each; after an open chain's last its first."""
        return self.moved_on(np.ones(len(self.chain), dtype=np.int64))

    @property
    def begins(self) -> Flags:
        """(M,): whether an open chain begins with it."""
        first = np.append(True, np.diff(self.chain) > 0)[: len(self.chain)]
        return np.asarray(first & ~self.closed[self.chain])

    def taken(self, rows: Ints | Flags) -> _Pieces:
        """Return chosen pieces of the same chains, in the order of ``rows``."""
        return replace(
            self, start=self.start[rows], end=self.end[rows], bulge=self.bulge[rows],
            corner=self.corner[rows], segment=self.segment[rows], chain=self.chain[rows],
        )  # fmt: skip


def chains_of(segments: Segments, pieces: Sequence[Piece], join: float) -> list[tuple[Chain, Ints]]:
    """Return the chains, and for each the segment every piece of its curve comes from.

    Chains come in the order of the file. A closed chain runs counter-clockwise from its vertex of
    least x (least y among these), an open one from its end of least x.
    """
    ordered = _in_order(segments)
    made = _canonical(_without_stubs(_halved(_meeting(ordered, join))))
    curves = curves_of(
        made.start, made.bulge, corners=made.corner, first=made.first,
        last=made.end[made.first[1:] - 1], closed=made.closed,
    )  # fmt: skip
    first, source = made.first.tolist(), segments.piece[made.segment].tolist()
    found = []
    for curve, low, high in zip(curves, first, first[1:], strict=False):
        origins = dict.fromkeys(pieces[k].origin for k in dict.fromkeys(source[low:high]))
        found.append((Chain(curve, tuple(origins)), made.segment[low:high]))
    return found


def _in_order(segments: Segments) -> _Pieces:
    """Return the segments of every chain as they are passed."""
    orders = _orders(segments.mate)
    entered = np.array([end for order, _ in orders for end in order], dtype=np.int64)
    k, back = entered // 2, entered % 2 == 1
    counts = [len(order) for order, _ in orders]
    ordered = _Pieces(
        start=np.where(back[:, None], segments.end[k], segments.start[k]),
        end=np.where(back[:, None], segments.start[k], segments.end[k]),
        bulge=np.where(back, -segments.bulge[k], segments.bulge[k]),
        corner=np.zeros(len(k), dtype=bool),
        segment=k,
        chain=np.repeat(np.arange(len(orders)), counts),
        closed=np.array([closed for _, closed in orders], dtype=bool),
    )
    corner = (np.abs(_turns(ordered)) > CORNER_RAD) & ~ordered.begins
    return replace(ordered, corner=corner)


def _orders(mate: Ints) -> list[tuple[list[int], bool]]:
    """Return every chain as the ends it enters its segments by, and whether it is closed."""
    seen = [False] * (len(mate) // 2)
    partner = mate.tolist()
    orders: dict[int, tuple[list[int], bool]] = {}
    loose = [end for end, other in enumerate(partner) if other == -1]
    for first in (*loose, *range(0, len(partner), 2)):
        if seen[first // 2]:
            continue
        order, end = [], first
        while end != -1 and not seen[end // 2]:
            seen[end // 2] = True
            order.append(end)
            end = partner[end ^ 1]
        orders[min(e // 2 for e in order)] = (order, end != -1)
    return [orders[k] for k in sorted(orders)]


def _headings(made: _Pieces) -> tuple[Floats, Floats]:
    chord = made.end - made.start
    toward = np.arctan2(chord[:, 1], chord[:, 0])
    half = 2 * np.arctan(made.bulge)
    return toward - half, toward + half


def _turns(made: _Pieces) -> Floats:
    """Return the turn (M,) in rad at the start of every piece, seen from the one before it."""
    leaving, arriving = _headings(made)
    turn = leaving - arriving[made.before]
    return np.asarray((turn + np.pi) % (2 * np.pi) - np.pi)


def _meeting(made: _Pieces, join: float) -> _Pieces:
    """Return the pieces with their ends moved so that they meet exactly.

    At a corner both are prolonged or cut to where their lines or circles cross. Elsewhere each is
    turned by the same small angle, so that a tangent joint stays tangent.
    """
    start, end, bulge = made.start, made.end, made.bulge.copy()
    before, begins = made.before, made.begins
    gap = start - end[before]
    apart = np.hypot(*gap.T)
    chord = np.hypot(*(end - start).T)
    meet = end[before] + _share(made, gap)[:, None] * gap
    meet[apart == 0] = start[apart == 0]
    meet[begins] = start[begins]
    gained = np.zeros(len(start))
    bent = (apart > MADE_ONE_MM) & (np.abs(_turns(made)) > SHARP_JOINT_RAD) & ~begins
    for k in np.flatnonzero(bent & (np.minimum(chord[before], chord) > 3 * join)).tolist():
        j = int(before[k])
        one, other = (start[j], end[j], made.bulge[j]), (start[k], end[k], made.bulge[k])
        crossing = _crossing(one, other, join)
        if crossing is not None:
            meet[k] = crossing
            gained[j] += _swung(one, end[j], crossing)
            gained[k] -= _swung(other, start[k], crossing)
    after = made.after
    last = np.where(begins[after][:, None], end, meet[after])
    curved = bulge != 0
    bulge[curved] = np.tan(np.arctan(bulge[curved]) + gained[curved] / 4)
    return replace(made, start=meet, end=last, bulge=bulge)


def _share(made: _Pieces, gap: Floats) -> Floats:
    """Return how far along its gap (M,), 0 to 1, each joint is put.

    A piece whose end moves by a small step keeps its bulge and turns by the step across its chord
    over the chord. With this share both pieces of a joint turn alike, as far as that is possible.
    """
    chord = made.end - made.start
    turn = (chord[:, 0] * gap[:, 1] - chord[:, 1] * gap[:, 0]) / (chord**2).sum(axis=1)
    before = chord[made.before]
    turn_before = (before[:, 0] * gap[:, 1] - before[:, 1] * gap[:, 0]) / (before**2).sum(axis=1)
    both = turn + turn_before
    some = np.abs(both) > 1e-15
    return np.clip(np.where(some, turn / np.where(some, both, 1.0), 0.5), 0.0, 1.0)


def _swung(piece: tuple[Floats, Floats, float], one: Floats, other: Floats) -> float:
    """Return the angle in rad from one point of an arc's circle to another; 0 for lines."""
    if piece[2] == 0:
        return 0.0
    centre = _centre(*piece)
    arm, next_arm = one - centre, other - centre
    cross = arm[0] * next_arm[1] - arm[1] * next_arm[0]
    return float(np.arctan2(cross, arm @ next_arm))


def _centre(start: Floats, end: Floats, bulge: float) -> Floats:
    chord = end - start
    return np.asarray((start + end) / 2 + np.array([-chord[1], chord[0]]) * (1 / bulge - bulge) / 4)


def _crossing(
    one: tuple[Floats, Floats, float], other: tuple[Floats, Floats, float], join: float
) -> Floats | None:
    """Return where the lines or circles of two pieces cross, near their ends, by Newton's method.

    None where that is further than ``join`` from either end.
    """
    point = (one[1] + other[0]) / 2
    for _ in range(8):
        (f, df), (g, dg) = _level(one, point), _level(other, point)
        cross = df[0] * dg[1] - df[1] * dg[0]
        if not abs(cross) > 1e-3:
            return None
        step = np.array([f * dg[1] - g * df[1], g * df[0] - f * dg[0]]) / cross
        point = point - step
        if not np.hypot(*step) > 1e-13:
            break
    near = max(np.hypot(*(point - one[1])), np.hypot(*(point - other[0])))
    return point if near <= join else None


def _level(piece: tuple[Floats, Floats, float], point: Floats) -> tuple[float, Floats]:
    """Return how far a point lies off the line or circle of a piece, and the slope of that."""
    start, end, bulge = piece
    if bulge == 0:
        along = (end - start) / np.hypot(*(end - start))
        normal = np.array([-along[1], along[0]])
        return float((point - start) @ normal), normal
    centre = _centre(start, end, bulge)
    arm = point - centre
    size = float(np.hypot(*arm))
    return size - float(np.hypot(*(start - centre))), arm / max(size, 1e-300)


def _halved(made: _Pieces) -> _Pieces:
    """Return the pieces with arcs that have grown past half a turn cut in two."""
    large = np.abs(made.bulge) > 1
    if not large.any():
        return made
    row = np.repeat(np.arange(len(large)), 1 + large)
    second = np.append(False, np.diff(row) == 0)
    cut = large[row]
    parts = made.taken(row)
    chord = parts.end - parts.start
    across = np.stack([chord[:, 1], -chord[:, 0]], axis=1)
    middle = parts.start + (chord + parts.bulge[:, None] * across) / 2
    return replace(
        parts,
        start=np.where(second[:, None], middle, parts.start),
        end=np.where((cut & ~second)[:, None], middle, parts.end),
        bulge=np.where(cut, np.tan(np.arctan(parts.bulge) / 2), parts.bulge),
        corner=parts.corner & ~second,
    )


def _without_stubs(made: _Pieces) -> _Pieces:
    """Return the pieces but for those that moving their ends has left too short.

    The next one begins where one began, or, at the end of an open chain, the one before ends where
    it ended. Two of each chain stay.
    """
    short = np.hypot(*(made.end - made.start).T) < SHORTEST_PIECE_MM
    if not short.any():
        return made
    start, end, corner = made.start.copy(), made.end.copy(), made.corner.copy()
    stays = np.ones(len(short), dtype=bool)
    first = made.first
    for chain in np.unique(made.chain[short]).tolist():
        left = list(range(int(first[chain]), int(first[chain + 1])))
        while len(left) > 2:
            at = next((n for n, k in enumerate(left) if _is_short(start[k], end[k])), None)
            if at is None:
                break
            k, last = left[at], at == len(left) - 1
            if last and not made.closed[chain]:
                end[left[at - 1]] = end[k]
            else:
                after = left[(at + 1) % len(left)]
                start[after], corner[after] = start[k], corner[k] or (last and corner[after])
            stays[k] = False
            del left[at]
    return replace(made, start=start, end=end, corner=corner).taken(stays)


def _is_short(start: Floats, end: Floats) -> bool:
    return bool(np.hypot(*(end - start)) < SHORTEST_PIECE_MM)


def _canonical(made: _Pieces) -> _Pieces:
    """Return closed chains counter-clockwise from their vertex of least x, open ones from the end
    of least x; of equal x, within 1 nm, that of least y."""
    made = _turned_round(made, np.where(made.closed, _areas(made) < 0, _ends_first(made)))
    x, y = np.round(made.start, 6).T
    least = np.lexsort((y, x, made.chain))[made.first[:-1]]
    steps = np.where(made.closed, least - made.first[:-1], 0)
    return made.taken(made.moved_on(steps[made.chain]))


def _areas(made: _Pieces) -> Floats:
    """Return what every chain encloses (C,) in mm2, negative where it runs clockwise."""
    (x, y), (u, v) = made.start.T, made.end.T
    curved = np.abs(made.bulge) > STRAIGHT_BULGE
    bulge = np.where(curved, made.bulge, 1.0)
    radius = np.hypot(u - x, v - y) * (1 + bulge**2) / (4 * bulge)
    angle = 4 * np.arctan(bulge)
    caps = np.where(curved, radius**2 * (angle - np.sin(angle)), 0.0)
    halves = (x * v - u * y + caps) / 2
    return np.asarray(np.bincount(made.chain, halves, minlength=len(made.closed)), dtype=float)


def _ends_first(made: _Pieces) -> Flags:
    """Return which chains (C,) end at a lower x, or y, than they begin."""
    first = made.first
    (x, y), (u, v) = np.round(made.start[first[:-1]], 6).T, np.round(made.end[first[1:] - 1], 6).T
    return np.asarray((u < x) | ((u == x) & (v < y)))


def _turned_round(made: _Pieces, which: Flags) -> _Pieces:
    """Return the pieces with those of some chains (C,) passed the other way."""
    first = made.first
    mirror = (first[:-1] + first[1:] - 1)[made.chain] - np.arange(len(made.chain))
    back = which[made.chain]
    ahead = made.corner[made.after]
    there = made.taken(np.where(back, mirror, np.arange(len(made.chain))))
    return replace(
        there,
        start=np.where(back[:, None], there.end, there.start),
        end=np.where(back[:, None], there.start, there.end),
        bulge=np.where(back, -there.bulge, there.bulge),
        corner=np.where(back, ahead[np.where(back, mirror, 0)], there.corner),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Joined:
    """Chains, repairs and problems of a set of pieces."""

    chains: tuple[Chain, ...] = ()
    repairs: tuple[Repair, ...] = ()
    problems: tuple[Problem, ...] = ()


def join_pieces(
    pieces: Sequence[Piece],
    join: float,
    *,
    groups: Sequence[int] | None = None,
    across: bool = False,
    last: Sequence[bool] = (),
    units: str = "mm",
) -> Joined:
    """Return the chains that pieces make when ends within ``join`` mm are joined.

    The order and the direction in which pieces are drawn make no difference. Ends meet within a
    group (without ``groups`` a layer is one); with ``across`` two lone ends of different groups
    meet too. Lines and arcs pass untouched but for ends that had to be moved to meet.

    Parameters
    ----------
    pieces : sequence of Piece
    join : float, mm
    groups : sequence of int, optional
        One for every piece.
    across : bool
    last : sequence of bool
        One for every piece, or none: those that meet others only where these have met, and that
        give way where they lie on others.
    units : str
        The drawing's unit: in an inch drawing messages give inches too.
    """
    if not pieces:
        return Joined()
    kept = tuple(pieces)
    segments, repairs = _without_empty(segments_of(kept, groups or _layer_groups(kept)), kept)
    if not len(segments):
        return Joined(repairs=tuple(repairs))
    segments, taken_once, shared = without_overlays(segments, kept, join, units=units)
    late = np.array(last, dtype=bool) if any(last) else np.zeros(len(kept), dtype=bool)
    if late.any():
        segments = without_marks(segments, kept, join, late=late)
    segments, closed, missed = join_ends(
        segments, kept, join, across=across, late=late, units=units
    )
    made, flat = _without_flat(chains_of(segments, kept, join))
    crossings = _crossings(segments, kept, made, [p.place for p in missed if p.kind == FORK])
    return Joined(
        chains=tuple(chain for chain, _ in made),
        repairs=(*repairs, *taken_once, *closed, *flat),
        problems=(*shared, *missed, *crossings),
    )


def _layer_groups(pieces: Sequence[Piece]) -> list[int]:
    """Return a number for the layer of every piece; layer names know no case."""
    numbers: dict[str, int] = {}
    return [numbers.setdefault(p.origin.layer.casefold(), len(numbers)) for p in pieces]


def _without_empty(segments: Segments, pieces: Sequence[Piece]) -> tuple[Segments, list[Repair]]:
    """Return the segments of 0.002 mm and more, and a repair for every piece that had others."""
    chord = segments.chord
    empty = ~(chord >= SHORTEST_PIECE_MM)
    if not empty.any():
        return segments, []
    repairs = []
    several = np.bincount(segments.piece)
    order = np.flatnonzero(empty)
    order = order[np.argsort(segments.piece[order], kind="stable")]
    bounds = np.flatnonzero(np.diff(segments.piece[order])) + 1
    for short in np.split(order, bounds):
        k = int(segments.piece[short[0]])
        repairs.append(_dropped(pieces[k], segments, short, len(short) == int(several[k])))
    return _kept(segments, ~empty), repairs


def _dropped(piece: Piece, segments: Segments, short: Ints, whole: bool) -> Repair:
    place = segments.start[short][0]
    size = float(segments.chord[short].max())
    long = shown_length(size) if size > 0 else shown_mm(0.0)
    if whole:
        text = f"is {long} long at {shown_place(place)}, shorter than {mm(SHORTEST_PIECE_MM)}; left out"
    else:
        which = f"{len(short)} of its segments are" if len(short) > 1 else "one of its segments is"
        text = f"{which} shorter than {mm(SHORTEST_PIECE_MM)}, {long} at {shown_place(place)}; left out"
    return Repair(
        kind=EMPTY,
        origin=piece.origin,
        place=(float(place[0]), float(place[1])),
        size=size,
        text=text,
    )


def _kept(segments: Segments, keep: np.ndarray) -> Segments:
    """Return the chosen segments; where one between two neighbours goes, these are neighbours."""
    number = np.cumsum(keep) - 1
    chosen = np.flatnonzero(keep)
    mate = np.full(2 * len(chosen), -1, dtype=np.int64)
    for new, old in enumerate(chosen.tolist()):
        end = int(segments.mate[2 * old + 1])
        while end >= 0 and not keep[end // 2]:
            end = int(segments.mate[end ^ 1])
        if end >= 0 and end // 2 != old:
            there = 2 * int(number[end // 2]) + end % 2
            mate[2 * new + 1], mate[there] = there, 2 * new + 1
    return replace(
        segments,
        start=segments.start[chosen],
        end=segments.end[chosen],
        bulge=segments.bulge[chosen],
        piece=segments.piece[chosen],
        group=segments.group[chosen],
        mate=mate,
    )


def _without_flat(
    made: Sequence[tuple[Chain, Ints]],
) -> tuple[list[tuple[Chain, Ints]], list[Repair]]:
    """Return the chains but for loops that enclose nothing, and a repair for each of these."""
    kept, repairs = [], []
    for chain, which in made:
        if not chain.curve.closed or _encloses(chain.curve):
            kept.append((chain, which))
            continue
        x, y = (float(value) for value in chain.curve.vertices[0])
        text = f"closes at {shown_place((x, y))} without enclosing anything; left out"
        repairs.append(
            Repair(kind=EMPTY, origin=chain.origins[0], place=(x, y), size=0.0, text=text)
        )
    return kept, repairs


def _encloses(loop: Curve) -> bool:
    """Whether a loop is 0.002 mm wide in the mean; of one that crosses itself, what it spans."""
    least = SHORTEST_PIECE_MM * loop.length / 2
    if abs(loop.area) >= least:
        return True
    hull = shapely.multipoints(loop.points(SHORTEST_PIECE_MM / 2)).convex_hull
    return float(hull.area) >= least


def _crossings(
    segments: Segments,
    pieces: Sequence[Piece],
    made: Sequence[tuple[Chain, Ints]],
    forks: Sequence[tuple[float, float] | None],
) -> list[Problem]:
    """Return a problem for every pair of chains of one group that cross, and chain that does.

    What meets at a fork has been told there.
    """
    if not made:
        return []
    curves = [chain.curve for chain, _ in made]
    sources = np.concatenate([which for _, which in made])
    seen, owner = segments_of_curves(curves, [segments.group[which] for _, which in made])
    found = find_crossings(seen)
    if len(found.first) > MOST_CROSSINGS:
        raise crowded(MOST_CROSSINGS, "times its lines and arcs cross or touch")
    places: dict[tuple[int, int], list[int]] = {}
    told = _at_a_fork(found.place, np.array(forks, dtype=float).reshape(-1, 2))
    for k in np.lexsort((found.place[:, 1], found.place[:, 0])):
        if told[k]:
            continue
        a, b = sorted((int(owner[found.first[k]]), int(owner[found.second[k]])))
        places.setdefault((a, b), []).append(int(k))
    problems = []
    for (a, b), hits in sorted(places.items()):
        k = hits[0]
        pair = sorted((int(sources[found.first[k]]), int(sources[found.second[k]])))
        one, other = (pieces[int(segments.piece[s])].origin for s in pair)
        problems.append(_crossing_near(one, other, found.place[hits], itself=a == b))
    return problems


def _at_a_fork(places: Floats, forks: Floats) -> NDArray[np.bool_]:
    """Return which of the places (K, 2) lie at one of the forks (F, 2)."""
    told = np.zeros(len(places), dtype=bool)
    if len(places) and len(forks):
        tree = shapely.STRtree(shapely.points(forks))
        near = tree.query(shapely.points(places), predicate="dwithin", distance=AT_FORK_MM)
        told[near[0]] = True
    return told


def _crossing_near(one: Origin, other: Origin, places: np.ndarray, *, itself: bool) -> Problem:
    apart = np.hypot(*(places - places[0]).T)
    more = int((apart > 1e-3).sum())
    what = "the chain crosses itself: " if itself else ""
    rest = f" and {more} more place{'s' if more > 1 else ''}" if more else ""
    own = one.handle == other.handle and one.inside == other.inside
    whom = "itself" if own else f"handle {other.handle}, {other.kind}"
    cure = "put what does not belong to the part on a layer of its own, or end both where they meet"
    cure = ONCE if own else cure
    return Problem(
        kind=CROSSING,
        origin=one,
        place=(float(places[0, 0]), float(places[0, 1])),
        text=f"{what}crosses or touches {whom} at {shown_place(places[0])}{rest}; {cure}",
    )

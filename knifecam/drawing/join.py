"""From loose pieces to chains, and what had to be put right on the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from knifecam.curve.curve import Curve, Floats
from knifecam.drawing.chain import chains_of
from knifecam.drawing.crossing import find_crossings, segments_of_curves
from knifecam.drawing.ends import ONCE, join_ends
from knifecam.drawing.overlay import without_marks, without_overlays
from knifecam.drawing.record import (
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
from knifecam.drawing.segment import SHORTEST, Ints, Segments, crowded, segments_of
from knifecam.quantity import mm

MOST_CROSSINGS = 10_000
"""A drawing whose lines and arcs cross in more places is refused."""

AT_FORK = 0.02
"""mm: a crossing this near to a fork is the fork's."""


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
    empty = ~(chord >= SHORTEST)
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
        text = f"is {long} long at {shown_place(place)}, shorter than {mm(SHORTEST)}; left out"
    else:
        which = f"{len(short)} of its segments are" if len(short) > 1 else "one of its segments is"
        text = f"{which} shorter than {mm(SHORTEST)}, {long} at {shown_place(place)}; left out"
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
    least = SHORTEST * loop.length / 2
    if abs(loop.area) >= least:
        return True
    hull = shapely.multipoints(loop.points(SHORTEST / 2)).convex_hull
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
        problems.append(_crossing(one, other, found.place[hits], itself=a == b))
    return problems


def _at_a_fork(places: Floats, forks: Floats) -> NDArray[np.bool_]:
    """Return which of the places (K, 2) lie at one of the forks (F, 2)."""
    told = np.zeros(len(places), dtype=bool)
    if len(places) and len(forks):
        tree = shapely.STRtree(shapely.points(forks))
        near = tree.query(shapely.points(places), predicate="dwithin", distance=AT_FORK)
        told[near[0]] = True
    return told


def _crossing(one: Origin, other: Origin, places: np.ndarray, *, itself: bool) -> Problem:
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

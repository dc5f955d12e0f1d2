"""Which loop is the outline, which lies in which, and the marks that keep tabs off."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from knifecam.curve import Curve, Stretch, distance, place_at, resample, station_of, stations_past
from knifecam.curve.curve import Floats
from knifecam.drawing.drawing_limits import (
    CHAIN_PLACES,
    CHORD_MM,
    FARTHEST_MARK_MM,
    HELPER_SPAN_SHARE,
    LEAST_FACETS,
    MARK_SAMPLE_MM,
    PLAIN_SHARE,
    PLAIN_SPAN_SHARE,
    SAME_FORM_SHARE,
    SHORTEST_KNIFE_MM,
)
from knifecam.drawing.drawing_record import (
    MM_PER_INCH,
    Chain,
    Mark,
    shown_area,
    shown_mm,
    shown_place,
    shown_size,
)
from knifecam.drawing.overlapping_lines import find_crossings, segments_of_curves
from knifecam.errors import DrawingError


def crossings_between(chains: Sequence[Chain]) -> list[tuple[int, int, tuple[float, float]]]:
    """Return which chains cross or touch each other: both numbers, and one place, mm."""
    if len(chains) < 2:
        return []
    curves = [chain.curve for chain in chains]
    segments, owner = segments_of_curves(curves, [np.zeros(len(c), np.int64) for c in curves])
    found = find_crossings(segments)
    places: dict[tuple[int, int], tuple[float, float]] = {}
    for k in np.lexsort((found.place[:, 1], found.place[:, 0])):
        a, b = sorted((int(owner[found.first[k]]), int(owner[found.second[k]])))
        if a != b:
            x, y = found.place[k]
            places.setdefault((a, b), (float(x), float(y)))
    return [(a, b, place) for (a, b), place in sorted(places.items())]


def holders(loops: Sequence[Chain]) -> NDArray[np.bool_]:
    """Return (N, N): whether loop j, which crosses none, lies inside loop i."""
    inside = np.zeros((len(loops), len(loops)), dtype=bool)
    if len(loops) < 2:
        return inside
    areas = shapely.polygons([shapely.linearrings(c.curve.points(CHORD_MM)) for c in loops])
    marks = shapely.points([c.curve.vertices[0] for c in loops])
    sizes = np.array([abs(c.curve.area) for c in loops])
    mark, area = shapely.STRtree(areas).query(marks, predicate="within")
    chosen = sizes[area] > sizes[mark]
    inside[area[chosen], mark[chosen]] = True
    return inside


def within(curve_points: NDArray[np.float64], loop: Chain) -> NDArray[np.bool_]:
    """Return which points (K, 2) lie inside a loop."""
    area = shapely.polygons(shapely.linearrings(loop.curve.points(CHORD_MM)))
    shapely.prepare(area)
    return np.asarray(shapely.contains_xy(area, curve_points[:, 0], curve_points[:, 1]))


def tab_places(marks: Sequence[Mark], chains: Sequence[Chain]) -> Floats:
    """Return the places (K, 2) in mm that ask for a tab, by x, then y.

    Points stand for themselves, circles for their centres, other chains for their middles.
    """
    places = [mark.place for mark in marks]
    for chain in chains:
        if chain.round is not None:
            places.append(chain.round[0])
        else:
            x, y = place_at(chain.curve, chain.curve.length / 2)[0][0]
            places.append((float(x), float(y)))
    rows = np.array(places, dtype=float).reshape(-1, 2)
    return rows[np.lexsort(rows.round(6).T[::-1])]


def point_pairs(marks: Sequence[Mark]) -> Floats:
    """Return points two by two in the order of the file, (K, 2, 2)."""
    if len(marks) % 2:
        raise DrawingError(
            f"{marks[-1].origin} at {shown_place(marks[-1].place)} has no second point: tabs are"
            " kept off between two points, or along a line"
        )
    return np.array([mark.place for mark in marks], dtype=float).reshape(-1, 2, 2)


def no_tab_stretches(outline: Curve, curves: Sequence[Curve], pairs: Floats) -> tuple[Stretch, ...]:
    """Return the stretches of the outline that marks ask to be kept free of tabs.

    An open curve marks the stretch it lies along, a closed one the stretches inside it, two points
    the shorter way between them.

    Parameters
    ----------
    outline : Curve
        Closed.
    curves : sequence of Curve
    pairs : (K, 2, 2) float, mm

    Raises
    ------
    DrawingError
        For a mark more than 10 mm from the outline, or a loop that holds none of it.
    """
    found: list[Stretch] = []
    for curve in curves:
        found += _inside(outline, curve) if curve.closed else [_along(outline, curve)]
    for pair in pairs:
        _refuse_far(outline, pair)
        first, last = station_of(outline, pair)
        there = (last - first) % outline.length
        if there > outline.length / 2:
            first, last = last, first
        found.append(Stretch(start=float(first), end=float(last)))
    return tuple(found)


def _refuse_far(outline: Curve, points: Floats) -> None:
    near = place_at(outline, station_of(outline, points))[0]
    away = np.hypot(*(points - near).T)
    if not away.max() <= FARTHEST_MARK_MM:
        worst = int(np.argmax(away))
        raise DrawingError(
            f"no_tabs: the mark at {shown_place(points[worst])} is {shown_mm(away[worst], 1)} from"
            f" the outline; a mark lies within {shown_mm(FARTHEST_MARK_MM)} of what it marks"
        )


def _along(outline: Curve, curve: Curve) -> Stretch:
    """Return the stretch that an open curve lies along."""
    _, points, _ = resample(curve, MARK_SAMPLE_MM)
    _refuse_far(outline, points)
    stations = station_of(outline, points)
    whole = outline.length
    steps = stations_past(stations[1:], stations[:-1], whole)
    gone = stations[0] + np.concatenate([[0.0], np.cumsum(steps)])
    return Stretch(start=float(gone.min() % whole), end=float(gone.max() % whole))


def _inside(outline: Curve, loop: Curve) -> list[Stretch]:
    """Return the stretches of the outline inside a loop, each end within 0.25 mm."""
    stations, points, _ = resample(outline, MARK_SAMPLE_MM)
    held = within(points, Chain(loop, ()))
    if not held.any():
        raise DrawingError(
            f"no_tabs: the loop at {shown_place(loop.vertices[0])} holds none of the outline"
        )
    if held.all():
        return [Stretch(start=0.0, end=outline.length)]
    starts = np.flatnonzero(held & ~np.roll(held, 1))
    ends = np.flatnonzero(held & ~np.roll(held, -1))
    if ends[0] < starts[0]:
        ends = np.roll(ends, -1)
    step = len(stations)
    return [
        # from the last place outside to the first outside again: rather too much than too little
        Stretch(start=float(stations[a - 1]), end=float(stations[(b + 1) % step]))
        for a, b in zip(starts, ends, strict=True)
    ]


MOST_CANDIDATES_LISTED = 12
"""No more candidates are listed."""


def by_place(chain: Chain) -> tuple[float, float]:
    """Return what chains are sorted by: x, then y of their lower left, to 1 nm."""
    return round(chain.bounds[0], 6), round(chain.bounds[1], 6)


def by_size(chain: Chain) -> tuple[float, float, float]:
    """Return what lists of loops are sorted by: the largest first, then by place."""
    return -round(abs(chain.curve.area), 3), *by_place(chain)


def choose_outline(
    chains: Sequence[Chain],
    *,
    decided: bool,
    marking: frozenset[str] = frozenset(),
    near: float = 0.01,
    slots: Sequence[Chain] = (),
    remedy: Callable[[Sequence[Chain]], str] = lambda _: "name the outline's layer",
) -> tuple[Chain, list[Chain], list[str]]:
    """Return the loop that holds all others, these, and notes.

    Parameters
    ----------
    chains : sequence of Chain
    decided : bool
        Whether someone has named the outline's layer: then a rectangle is an outline like any
        other, and open chains have been refused before.
    marking : frozenset of str
        Layers, case folded, that also mark something: a chain wholly on these may cross the
        outline and lie anywhere, as long as it is too small to be the outline itself.
    near : float, mm
        What lies within it of the outline lies on it.
    slots : sequence of Chain
        Loops that someone has named as slots.
    remedy : callable
        Returns what would settle which of some loops is the outline.

    Raises
    ------
    DrawingError
        Where no loop, or not exactly one, holds all others, where loops cross or lie in each other
        more than once, where the loop looks like a helper, or where something else that is not
        held by it may be the outline: with all candidates.
    """
    loops = [chain for chain in chains if chain.closed]
    opened = [chain for chain in chains if not chain.closed]
    if not loops:
        raise DrawingError(_without_loop(opened))
    rivals = _rivals(loops, marking)
    crossing = crossings_between(rivals)
    if crossing:
        raise DrawingError([*_crossed(rivals, crossing), *_listed(rivals, remedy)])
    outermost = np.flatnonzero(holders(rivals).sum(axis=0) == 0)
    if len(outermost) > 1:
        tops = [rivals[k] for k in outermost]
        text = f"{len(tops)} closed loops stand beside each other, none holds all others"
        raise DrawingError([text, *_listed(tops, remedy)])
    outline = rivals[int(outermost[0])]
    inner = _openings(outline, loops, marking)
    depth = holders([outline, *inner]).sum(axis=0)
    if depth.max() > 1:
        first = [outline, *inner][int(np.argmax(depth))]
        text = f"loops lie inside each other {int(depth.max()) + 1} deep, the innermost {first}"
        raise DrawingError([text, *_listed([outline, *inner], remedy)])
    if not decided:
        held = [loop for loop in (*loops, *slots) if loop is not outline]
        _refuse_helper(outline, held, remedy)
        for together in (True, False):
            chosen = [c for c in opened if _marks(c, marking) is not together]
            _refuse_rest(outline, chosen, near, together=together, remedy=remedy)
        _refuse_opening(outline, remedy)
    notes = [f"{chain} is open; not used" for chain in opened if not _marks(chain, marking)]
    return outline, inner, notes


def _marks(chain: Chain, marking: frozenset[str]) -> bool:
    """Return whether a chain lies wholly on layers that mark something."""
    return all(name.casefold() in marking for name in chain.layers)


def _rivals(loops: Sequence[Chain], marking: frozenset[str]) -> list[Chain]:
    """Return the loops that may be the outline or lie in it: no marks but those as large."""
    least = HELPER_SPAN_SHARE * max(max(loop.size) for loop in loops)
    return [loop for loop in loops if not _marks(loop, marking) or max(loop.size) > least]


def _openings(outline: Chain, loops: Sequence[Chain], marking: frozenset[str]) -> list[Chain]:
    """Return the loops inside the outline that are cut: marks only where they share its layers."""
    others = [loop for loop in loops if loop is not outline]
    marks = [loop for loop in others if _marks(loop, marking)]
    if not marks:
        return others
    own = [loop for loop in marks if set(loop.layers) <= set(outline.layers)]
    crossed = {b for a, b, _ in crossings_between([outline, *own]) if a == 0}
    held = holders([outline, *own])[0]
    inside = [loop for k, loop in enumerate(own, 1) if held[k] and k not in crossed]
    return [loop for loop in others if loop not in marks or loop in inside]


def _without_loop(opened: Sequence[Chain]) -> list[str]:
    if not opened:
        return ["the drawing has no closed loop on a layer that could hold the outline"]
    lines = [
        "the drawing has no closed loop; close the one that is the outline; these chains are open:"
    ]
    for chain in sorted(opened, key=lambda c: -c.curve.length)[:MOST_CANDIDATES_LISTED]:
        first, last = chain.curve.vertices[0], chain.curve.vertices[-1]
        apart = float(np.hypot(*(last - first)))
        lines.append(
            f"{chain}: {shown_mm(chain.curve.length, 2)} long, from {shown_place(first)} to"
            f" {shown_place(last)}, ends {shown_mm(apart, 3)} apart"
        )
    return lines


def _crossed(
    loops: Sequence[Chain], crossing: Sequence[tuple[int, int, tuple[float, float]]]
) -> list[str]:
    return [
        f"{loops[b]}: crosses or touches {loops[a]} at {shown_place(place)}"
        for a, b, place in crossing[:MOST_CANDIDATES_LISTED]
    ]


def _listed(loops: Sequence[Chain], remedy: Callable[[Sequence[Chain]], str]) -> list[str]:
    """Return one line for each candidate, the largest first."""
    ordered = sorted(loops, key=by_size)
    lines = [f"which is the outline? {remedy(ordered)}; candidates:"]
    for chain in ordered[:MOST_CANDIDATES_LISTED]:
        wide, high = chain.size
        lines.append(
            f"{chain}: {shown_size(wide, high, 3)}, area {shown_area(abs(chain.curve.area), 1)}"
        )
    if len(ordered) > MOST_CANDIDATES_LISTED:
        lines.append(f"and {len(ordered) - MOST_CANDIDATES_LISTED} smaller ones")
    return lines


def _refuse_helper(
    outline: Chain, held: Sequence[Chain], remedy: Callable[[Sequence[Chain]], str]
) -> None:
    """Refuse a loop that may be a helper round what may be the part itself."""
    plain = _is_plain(outline)
    span = HELPER_SPAN_SHARE * max(outline.size)
    if plain:
        span = min(PLAIN_SPAN_SHARE * max(outline.size), SHORTEST_KNIFE_MM)
    long = [c for c in held if not c.round and max(c.size) > span]
    if long:
        what = "a plain rectangle" if plain else "little more than a line"
        text = f"the loop that holds all others is {what} round {long[0]}"
        raise DrawingError([text, *_listed([outline, *long], remedy)])


def _refuse_opening(outline: Chain, remedy: Callable[[Sequence[Chain]], str]) -> None:
    """Refuse an outline of the form or the size of an opening: the blade's own may not be drawn."""
    if outline.round:
        text = f"is a circle, {outline}; a bore has this form"
    elif _is_slot(outline):
        text = f"has two straight sides and round ends, {outline}; a slot has this form"
    elif not max(outline.size) >= SHORTEST_KNIFE_MM:
        text = f"is {_too_short(outline)}"
    elif _is_plain(outline):
        text = f"is a plain rectangle, {outline}; a plate, a sheet and an opening have this form"
    else:
        return
    raise DrawingError([f"the only loop that holds all others {text}", *_listed([outline], remedy)])


def _too_short(outline: Chain) -> str:
    """Return what is told of an outline that is no knife's in mm, and may be one in inches."""
    least = shown_mm(SHORTEST_KNIFE_MM)
    text = f"{shown_size(*outline.size, 2)}, {outline}; a knife is {least} or longer"
    wide, high = (MM_PER_INCH * side for side in outline.size)
    if not SHORTEST_KNIFE_MM <= max(wide, high) <= MM_PER_INCH * SHORTEST_KNIFE_MM:
        return text
    return f"{text}; if inches were drawn it is {shown_size(wide, high, 2)}: give units='in'"


def _is_slot(chain: Chain) -> bool:
    """Return whether a loop has two straight sides and two half circles, however it lies: by its
    area and its length, which nothing else in the same rectangle has both."""
    long, wide = _sides(chain)
    area = wide * (long - wide) + np.pi / 4 * wide**2
    length = 2 * (long - wide) + np.pi * wide
    off = max(abs(abs(chain.curve.area) / area - 1), abs(chain.curve.length / length - 1))
    return bool(off < SAME_FORM_SHARE)


def _is_plain(chain: Chain) -> bool:
    """Return whether a loop is a rectangle, its corners sharp or rounded, however it lies."""
    long, wide = _sides(chain)
    return abs(chain.curve.area) > PLAIN_SHARE * long * wide


def _sides(chain: Chain) -> tuple[float, float]:
    """Return the longer and the shorter side in mm of the least rectangle round a loop."""
    hull = shapely.multipoints(chain.curve.points(CHORD_MM))
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(hull))
    one, other = np.hypot(*np.diff(corners[:3], axis=0).T)
    return float(max(one, other)), float(min(one, other))


def _refuse_rest(
    outline: Chain,
    opened: Sequence[Chain],
    near: float,
    *,
    together: bool,
    remedy: Callable[[Sequence[Chain]], str],
) -> None:
    """Refuse open chains of which the outline may be made: they cross the only closed loop, reach
    beyond it, or are about as long as a side of it. What lies on it all along says the same as it.

    Marks, which are not taken ``together``, may cross and lie beside: only a long one is refused.
    """
    rest = [c for c in opened if not _lies_on(c, outline, near)]
    side = HELPER_SPAN_SHARE * outline.curve.length / 2
    if _is_plain(outline):
        side = min(PLAIN_SPAN_SHARE * outline.curve.length / 2, SHORTEST_KNIFE_MM)
    doubtful = [c for c in rest if c.curve.length > side]
    if together:
        doubtful += [c for c in rest if c not in doubtful and _leaves(c, outline, near)]
        if sum(c.curve.length for c in rest) > side:
            doubtful = rest
    if doubtful:
        wide, high = outline.size
        lines = [
            f"the only loop that holds all others is {outline},"
            f" {shown_size(wide, high, 2)}, but open chains reach beyond it or are about as long; close"
            f" them, or {remedy([outline, *doubtful])}"
        ]
        raise DrawingError(lines + _without_loop(doubtful)[1:])


def _places(chain: Chain) -> Floats:
    """Return places (K, 2) all along a chain, its vertices among them."""
    between = resample(chain.curve, chain.curve.length / CHAIN_PLACES)[1]
    return np.concatenate([chain.curve.vertices, between])


def _lies_on(chain: Chain, outline: Chain, near: float) -> bool:
    return bool(distance(_places(chain), outline.curve).max() <= near)


def _leaves(chain: Chain, outline: Chain, near: float) -> bool:
    """Return whether a chain crosses a loop, or reaches too far beyond it for a mark."""
    places = _places(chain)
    away = distance(places, outline.curve)
    beside = ~within(places, outline)
    crosses = (away[beside] > near).any() and (away[~beside] > near).any()
    return bool(
        crosses or max(chain.size) > max(outline.size) or (away[beside] > FARTHEST_MARK_MM).any()
    )


def oddities(slots: Sequence[Chain]) -> list[str]:
    """Return notes on slots that are circles drawn as polygons."""
    notes = []
    for chain in slots:
        curve = chain.curve
        if len(curve) < LEAST_FACETS or curve.is_arc.any():
            continue
        centre = curve.vertices.mean(axis=0)
        reach = np.hypot(*(curve.vertices - centre).T)
        if (
            np.ptp(reach) < 0.01 * reach.mean()
            and np.ptp(curve.lengths) < 0.2 * curve.lengths.mean()
        ):
            notes.append(
                f"{chain} is a circle of {shown_mm(2 * float(reach.mean()), 3)} drawn with"
                f" {len(curve)} lines; draw a circle if it is to be a bore"
            )
    return notes

"""Which loop is the outline, and what looks odd about the others."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from knifecam.curve import distance
from knifecam.drawing.inside import crossings_between, holders, within
from knifecam.drawing.marks import FAR
from knifecam.drawing.record import Chain, shown, shown_place
from knifecam.errors import DrawingError

HELPER_SPAN = 0.6
"""A loop that is no circle and longer than this share of a plain rectangle round it may be the
part itself, and the rectangle a helper."""

FACETS = 8
"""A loop of so many equal lines or more is taken for a circle drawn as a polygon."""

LISTED = 12
"""No more candidates are listed."""


def by_place(chain: Chain) -> tuple[float, float]:
    """Return what chains are sorted by: x, then y of their lower left, to 1 nm."""
    return round(chain.bounds[0], 6), round(chain.bounds[1], 6)


def by_size(chain: Chain) -> tuple[float, float, float]:
    """Return what lists of loops are sorted by: the largest first, then by place."""
    return -round(abs(chain.curve.area), 3), *by_place(chain)


def choose_outline(
    chains: Sequence[Chain], *, decided: bool
) -> tuple[Chain, list[Chain], list[str]]:
    """Return the loop that holds all others, these, and notes.

    ``decided`` says that someone has named the outline's layer: then a rectangle is an outline
    like any other, and open chains have been refused before.

    Raises
    ------
    DrawingError
        Where no loop, or not exactly one, holds all others, where loops cross or lie in each other
        more than once, or where the loop looks like a helper: with all candidates.
    """
    loops = [chain for chain in chains if chain.closed]
    opened = [chain for chain in chains if not chain.closed]
    if not loops:
        raise DrawingError(_without_loop(opened))
    crossing = crossings_between(loops)
    if crossing:
        raise DrawingError([*_crossed(loops, crossing), *_listed(loops, "name its layer")])
    holds = holders(loops)
    depth = holds.sum(axis=0)
    outermost = np.flatnonzero(depth == 0)
    if len(outermost) > 1:
        tops = [loops[k] for k in outermost]
        text = f"{len(tops)} closed loops stand beside each other, none holds all others"
        raise DrawingError([text, *_listed(tops, _remedy(tops))])
    outline = loops[int(outermost[0])]
    inner = [loop for loop in loops if loop is not outline]
    if depth.max() > 1:
        first = loops[int(np.argmax(depth))]
        text = f"loops lie inside each other {int(depth.max()) + 1} deep, the innermost {first}"
        raise DrawingError([text, *_listed(loops, "name the outline's layer")])
    if not decided:
        _refuse_helper(outline, inner)
        _refuse_outside(outline, opened)
    notes = [f"{chain} is open; left alone" for chain in opened]
    return outline, inner, notes


def _remedy(tops: Sequence[Chain]) -> str:
    layers = {chain.layers for chain in tops}
    if len(layers) < len(tops):
        return "leave one part in the drawing, or put the others on a layer of their own"
    return "name the outline's layer"


def _without_loop(opened: Sequence[Chain]) -> list[str]:
    if not opened:
        return ["the drawing has no closed loop on a layer that could hold the outline"]
    lines = ["the drawing has no closed loop; these chains are open:"]
    for chain in sorted(opened, key=lambda c: -c.curve.length)[:LISTED]:
        first, last = chain.curve.vertices[0], chain.curve.vertices[-1]
        apart = float(np.hypot(*(last - first)))
        lines.append(
            f"{chain}: {shown(chain.curve.length, 2)} mm long, from {shown_place(first)} to"
            f" {shown_place(last)}, ends {shown(apart, 3)} mm apart"
        )
    return lines


def _crossed(
    loops: Sequence[Chain], crossing: Sequence[tuple[int, int, tuple[float, float]]]
) -> list[str]:
    return [
        f"{loops[b]}: crosses or touches {loops[a]} at {shown_place(place)}"
        for a, b, place in crossing[:LISTED]
    ]


def _listed(loops: Sequence[Chain], remedy: str) -> list[str]:
    """Return one line for each candidate, the largest first."""
    ordered = sorted(loops, key=by_size)
    lines = [f"which is the outline? {remedy}; candidates:"]
    for chain in ordered[:LISTED]:
        wide, high = chain.size
        lines.append(
            f"{chain}: {shown(wide, 3)} x {shown(high, 3)} mm, area"
            f" {shown(abs(chain.curve.area), 1)} mm2"
        )
    if len(ordered) > LISTED:
        lines.append(f"and {len(ordered) - LISTED} smaller ones")
    return lines


def _refuse_helper(outline: Chain, inner: Sequence[Chain]) -> None:
    """Refuse a plain rectangle round a loop that may be the part itself."""
    if not _is_rectangle(outline):
        return
    span = max(outline.size)
    long = [c for c in inner if not c.round and max(c.size) > HELPER_SPAN * span]
    if long:
        text = f"the loop that holds all others is a plain rectangle round {long[0]}"
        raise DrawingError([text, *_listed([outline, *long], "name its layer")])


def _is_rectangle(chain: Chain) -> bool:
    """Return whether a loop is a rectangle with sharp corners."""
    curve = chain.curve
    if curve.is_arc.any():
        return False
    turned = int(np.asarray(curve.corners).sum()) == 4
    low_x, low_y, high_x, high_y = chain.bounds
    return turned and abs(curve.area - (high_x - low_x) * (high_y - low_y)) < 1e-3


def _refuse_outside(outline: Chain, opened: Sequence[Chain]) -> None:
    """Refuse open chains that reach beyond the only closed loop: the outline may be among them.

    Marks along the outline stay near it, and are no longer than it is.
    """
    outside = [c for c in opened if _reaches_beyond(c, outline)]
    if outside:
        wide, high = outline.size
        lines = [
            f"the only loop that holds all others is {outline}, {shown(wide, 2)} x"
            f" {shown(high, 2)} mm, but open chains reach beyond it; close them, or name the"
            " outline's layer"
        ]
        raise DrawingError(lines + _without_loop(outside)[1:])


def _reaches_beyond(chain: Chain, outline: Chain) -> bool:
    if max(chain.size) > max(outline.size):
        return True
    vertices = chain.curve.vertices
    beside = vertices[~within(vertices, outline)]
    return len(beside) > 0 and not bool(distance(beside, outline.curve).max() <= FAR)


def oddities(slots: Sequence[Chain]) -> list[str]:
    """Return notes on slots that are circles drawn as polygons."""
    notes = []
    for chain in slots:
        curve = chain.curve
        if len(curve) < FACETS or curve.is_arc.any():
            continue
        centre = curve.vertices.mean(axis=0)
        reach = np.hypot(*(curve.vertices - centre).T)
        if (
            np.ptp(reach) < 0.01 * reach.mean()
            and np.ptp(curve.lengths) < 0.2 * curve.lengths.mean()
        ):
            notes.append(
                f"{chain} is a circle of {shown(2 * float(reach.mean()), 3)} mm drawn with"
                f" {len(curve)} lines; draw a circle if it is to be a bore"
            )
    return notes

"""Marks in a drawing: where a tab is wanted, and where none may be."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from knifecam.curve import Curve, Stretch, place_at, resample, station_of
from knifecam.curve.curve import Floats
from knifecam.drawing.inside import within
from knifecam.drawing.record import Chain, Mark, shown_mm, shown_place
from knifecam.errors import DrawingError

FAR = 10.0
"""mm: a mark further from the outline does not belong to it."""

SPACING = 0.25
"""mm: places along a mark that are looked at."""


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


def keep_off_stretches(
    outline: Curve, curves: Sequence[Curve], pairs: Floats
) -> tuple[Stretch, ...]:
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
    if not away.max() <= FAR:
        worst = int(np.argmax(away))
        raise DrawingError(
            f"keep_off: the mark at {shown_place(points[worst])} is {shown_mm(away[worst], 1)} from"
            f" the outline; a mark lies within {shown_mm(FAR)} of what it marks"
        )


def _along(outline: Curve, curve: Curve) -> Stretch:
    """Return the stretch that an open curve lies along."""
    _, points, _ = resample(curve, SPACING)
    _refuse_far(outline, points)
    stations = station_of(outline, points)
    whole = outline.length
    steps = (np.diff(stations) + whole / 2) % whole - whole / 2
    gone = stations[0] + np.concatenate([[0.0], np.cumsum(steps)])
    return Stretch(start=float(gone.min() % whole), end=float(gone.max() % whole))


def _inside(outline: Curve, loop: Curve) -> list[Stretch]:
    """Return the stretches of the outline inside a loop, each end within 0.25 mm."""
    stations, points, _ = resample(outline, SPACING)
    held = within(points, Chain(loop, ()))
    if not held.any():
        raise DrawingError(
            f"keep_off: the loop at {shown_place(loop.vertices[0])} holds none of the outline"
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

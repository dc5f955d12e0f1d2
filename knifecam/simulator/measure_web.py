"""Webs: the metal between two openings, and between an opening and the outline."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, distance
from knifecam.simulator.measure_bores import Opening
from knifecam.simulator.measure_walls import Wall

Floats = NDArray[np.float64]

FAR = 10.0
"""mm: openings farther apart have no web."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Web:
    """The narrowest metal between ``one`` and ``other`` (or "outline"), mm, and where it is."""

    one: str
    other: str
    width: float
    place: tuple[float, float]


def measure_webs(outline: Curve, wall: Wall, openings: tuple[Opening, ...]) -> tuple[Web, ...]:
    """Return the narrowest web of every opening of the blade, and between neighbours.

    The walls' greatest error into the metal is taken off.
    """
    mine = [o for o in openings if o.kind != "reference"]
    past = _past(wall.left)
    found = [_web(o, outline, "outline", past) for o in mine]
    for k, one in enumerate(mine):
        for other in mine[k + 1 :]:
            if _apart(one.outline, other.outline) < FAR:
                found.append(_web(one, other.outline, other.name, _past(other.left)))
    return tuple(found)


def _past(left: Floats) -> float:
    """Return how far a cutter went past a wall at most, mm."""
    return max(0.0, -float(left.min(initial=0.0)))


def _apart(one: Curve, other: Curve) -> float:
    a, b = np.array(one.bounds), np.array(other.bounds)
    gap = np.maximum(0.0, np.maximum(a[:2] - b[2:], b[:2] - a[2:]))
    return float(np.hypot(*gap))


def _web(opening: Opening, other: Curve, name: str, past: float) -> Web:
    away = distance(opening.points, other)
    k = int(np.argmin(away))
    x, y = opening.points[k]
    return Web(
        one=opening.name, other=name, width=float(away[k]) - past - _past(opening.left),
        place=(float(x), float(y)),
    )  # fmt: skip

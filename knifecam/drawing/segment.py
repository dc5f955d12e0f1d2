"""Lines and arcs of all pieces side by side in arrays, with which end is joined to which."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from knifecam.curve.curve import Floats
from knifecam.drawing.record import Piece
from knifecam.errors import DrawingError

Ints = NDArray[np.int64]

SHORTEST = 0.002
"""mm: what is shorter is no piece."""

MOST_PAIRS = 500_000
"""A drawing of which more pairs of segments, or of their ends, come near each other is refused."""

_AT_ONCE = 4_000_000
"""No more pairs are looked at in one query."""


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
        Where there are more than `MOST_PAIRS`.
    """
    tree = shapely.STRtree(shapes)
    rows = max(1, _AT_ONCE // max(1, len(shapes)))
    found, count = [np.zeros((2, 0), dtype=np.int64)], 0
    for first in range(0, len(shapes), rows):
        i, j = tree.query(shapes[first : first + rows], **how)
        i = i + first
        chosen = (i < j) & (group[i] == group[j])
        found.append(np.stack([i[chosen], j[chosen]]))
        count += int(chosen.sum())
        if count > MOST_PAIRS:
            raise crowded(MOST_PAIRS, "pairs of its lines and arcs come near each other")
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

"""The motions of a cutter: rapids, feeds, arcs and helices; places along them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from knifecam.curve.curve import Floats, frozen

RAPID, FEED, ARC = 0, 1, 2


@dataclass(frozen=True, eq=False)
class Motions:
    """A chain of motions of the cutter's tip, the lowest point of its axis.

    Parameters
    ----------
    kind : (M,) uint8
        `RAPID`, `FEED` (straight) or `ARC` (circular in the plane, a helix where Z changes).
    start, stop : (M, 3) float, mm
    centre : (M, 2) float, mm
        Centres of arcs; 0 elsewhere.
    turns : (M,) float
        Turns of arcs, positive counter-clockwise seen from +Z; 0 elsewhere.
    feed : (M,) float, mm/min
        Feed along the path; 0 for rapids.
    """

    kind: NDArray[np.uint8]
    start: Floats
    stop: Floats
    centre: Floats
    turns: Floats
    feed: Floats

    def __post_init__(self) -> None:
        count = len(self.kind)
        for name, shape, dtype in (
            ("kind", (count,), np.uint8),
            ("start", (count, 3), np.float64),
            ("stop", (count, 3), np.float64),
            ("centre", (count, 2), np.float64),
            ("turns", (count,), np.float64),
            ("feed", (count,), np.float64),
        ):
            array = frozen(np.asarray(getattr(self, name)).reshape(shape), dtype)
            object.__setattr__(self, name, array)

    def __len__(self) -> int:
        return len(self.kind)

    @cached_property
    def radii(self) -> Floats:
        """(M,) mm: radii of the arcs at their starts; 0 elsewhere."""
        radius = np.hypot(*(self.start[:, :2] - self.centre).T)
        return np.where(self.kind == ARC, radius, 0.0)

    @cached_property
    def lengths(self) -> Floats:
        """(M,) mm: length of each motion along the path (along the helix for helices)."""
        step = self.stop - self.start
        flat = np.where(
            self.kind == ARC, 2 * np.pi * np.abs(self.turns) * self.radii, np.hypot(*step[:, :2].T)
        )
        return np.hypot(flat, step[:, 2])

    def farthest(self) -> Floats:
        """Return the places (K, 3) between their ends where arcs reach farthest along X or Y.

        Their Z is that of the arcs' starts.
        """
        arc = np.flatnonzero(self.kind == ARC)
        arm = self.start[arc, :2] - self.centre[arc]
        begin, whole = np.arctan2(arm[:, 1], arm[:, 0]), 2 * np.pi * self.turns[arc]
        found = [np.zeros((0, 3))]
        for quarter, axis in enumerate(((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))):
            gone = (np.sign(whole) * (quarter * np.pi / 2 - begin)) % (2 * np.pi)
            met = arc[gone <= np.abs(whole)]
            tops = self.start[met].copy()
            tops[:, :2] = self.centre[met] + self.radii[met, None] * np.array(axis)
            found.append(tops)
        return np.concatenate(found)

    def places_at(self, rows: NDArray[np.int64], share: Floats) -> Floats:
        """Return places (K, 3) of motions by their ``rows`` (K,) and a ``share`` (K,) of their ways."""
        t = share[:, None]
        places = self.start[rows] + t * (self.stop[rows] - self.start[rows])
        arm, angle = self.start[rows, :2] - self.centre[rows], 2 * np.pi * self.turns[rows] * share
        c, s = np.cos(angle), np.sin(angle)
        turned = np.stack([c * arm[:, 0] - s * arm[:, 1], s * arm[:, 0] + c * arm[:, 1]], axis=1)
        curved = (self.kind[rows] == ARC)[:, None]
        places[:, :2] = np.where(curved, self.centre[rows] + turned, places[:, :2])
        return np.asarray(places)

    def only(self, rows: NDArray[np.int64]) -> Motions:
        """Return the motions of these ``rows`` alone, in their order."""
        names = ("kind", "start", "stop", "centre", "turns", "feed")
        return Motions(*(getattr(self, name)[rows] for name in names))

    def reversed(self) -> Motions:
        """Return the way back: the same motions from the last one's end to the first one's start."""
        return Motions(
            self.kind[::-1], self.stop[::-1], self.start[::-1], self.centre[::-1],
            -self.turns[::-1], self.feed[::-1],
        )  # fmt: skip

    @staticmethod
    def joined(parts: list[Motions]) -> Motions:
        """Return the motions of all ``parts`` in one record."""
        if not parts:
            return Motions.none()
        names = ("kind", "start", "stop", "centre", "turns", "feed")
        return Motions(*(np.concatenate([getattr(p, n) for p in parts]) for n in names))

    @staticmethod
    def none() -> Motions:
        """Return no motions."""
        zero = np.zeros(0)
        return Motions(
            zero.astype(np.uint8), np.zeros((0, 3)), np.zeros((0, 3)), np.zeros((0, 2)), zero, zero
        )


def sampled(motions: Motions, spacing: float = 0.1) -> np.ndarray:
    """Return places (K, 2) along all motions, at most ``spacing`` mm apart."""
    rows = []
    for k in range(len(motions)):
        count = max(2, int(np.ceil(motions.lengths[k] / spacing)) + 1)
        t = np.linspace(0, 1, count)[:, None]
        if motions.turns[k] != 0.0:
            arm = motions.start[k, :2] - motions.centre[k]
            angle = 2 * np.pi * motions.turns[k] * t[:, 0]
            c, s = np.cos(angle), np.sin(angle)
            turned = np.stack([c * arm[0] - s * arm[1], s * arm[0] + c * arm[1]], axis=1)
            rows.append(motions.centre[k] + turned)
        else:
            rows.append(motions.start[k, :2] + t * (motions.stop[k, :2] - motions.start[k, :2]))
    return np.concatenate(rows)


def sampled_places(motions: Motions, spacing: float) -> Floats:
    """Return places (K, 3) along all motions, no further apart than ``spacing`` mm, ends too."""
    counts = np.maximum(1, np.ceil(motions.lengths / spacing)).astype(int) + 1
    row = np.repeat(np.arange(len(motions)), counts)
    nth = np.arange(len(row)) - (np.cumsum(counts) - counts)[row]
    return motions.places_at(row, nth / (counts[row] - 1))

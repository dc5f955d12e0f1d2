"""Paths without pieces too short to be written: an arc of a tenth of a micrometre is a hazard.

Rounded to four decimals its ends may fall together, and a mill then cuts a full circle.
"""

from __future__ import annotations

import math

import numpy as np

from knifecam.curve.curve import Floats

SHORTEST = 0.002
"""mm: no piece of a path is shorter."""

TINY = 0.02
"""mm: a piece shorter than this keeps its bend, not its heading, when one end is moved."""

LEVEL = 1e-4
"""mm: a corner is cut by no more than this where a piece can be lengthened instead."""

LEAST = 3 * SHORTEST
"""mm: a loop no longer than this all round is no loop."""


def tidied(vertices: Floats, bulges: Floats, most: float) -> tuple[Floats, Floats, float]:
    """Return a closed chain without pieces under `SHORTEST`, and how far it moved at most, mm.

    The metal to be left lies on the right of the chain, and it moves to its left alone, by
    ``most`` mm or less: a slight convex arc becomes a mitre, and corners toward the left are cut.
    Where that would not do a short line stays, never a short arc. Of a loop too small to be
    one no vertex is left.
    """
    chord = np.hypot(*(np.concatenate([vertices[1:], vertices[:1]]) - vertices).T)
    half = 2 * np.arctan(np.abs(bulges))
    length = chord * np.where(half > 1e-6, half / np.sin(np.maximum(half, 1e-6)), 1.0)
    if length.sum() <= LEAST:
        return vertices[:0], bulges[:0], 0.0
    if (length >= SHORTEST).all():
        return vertices, bulges, 0.0
    first = int(np.argmax(length))
    chain = _Chain(np.roll(vertices, -first, axis=0), np.roll(bulges, -first), most)
    moved = chain.shorten()
    if len(chain.vertices) < 3 and not any(chain.bulges):  # a line there and back
        return vertices[:0], bulges[:0], 0.0
    return np.array(chain.vertices), np.array(chain.bulges), moved


class _Chain:
    """A closed chain being shortened: vertices and bulges as plain numbers."""

    def __init__(self, vertices: Floats, bulges: Floats, most: float) -> None:
        self.vertices: list[tuple[float, float]] = [(x, y) for x, y in vertices.tolist()]
        self.bulges: list[float] = bulges.tolist()
        self.most = most

    def shorten(self) -> float:
        """Take out short pieces, and return how far the chain moved at most, mm."""
        worst = 0.0
        k = 0
        while k < len(self.vertices):
            if len(self.vertices) == 2 or _length(*self._piece(k)) >= SHORTEST:
                k += 1
                continue
            place, moved = self._meeting(k)
            if moved <= min(LEVEL, self.most):
                self._remove(k, place)
                k = max(0, k - 1)
            elif (stretched := self._lengthened(k)) is not None:
                moved = stretched
                k += 1
            elif moved <= 0.8 * self.most:
                self._remove(k, place)
                k = max(0, k - 1)
            else:
                moved = _sagitta(*self._piece(k))
                self.bulges[k] = 0.0
                k += 1
            worst = max(worst, moved)
        return worst

    def _piece(self, k: int) -> tuple[tuple[float, float], tuple[float, float], float]:
        k %= len(self.vertices)
        return self.vertices[k], self.vertices[(k + 1) % len(self.vertices)], self.bulges[k]

    def _around(self, k: int) -> tuple[float, float, float, float, float]:
        """Heading before piece k, its chord's length and heading, heading after; and both turns."""
        before, after = self._piece(k - 1), self._piece(k + 1)
        (ax, ay), (bx, by), _ = self._piece(k)
        chord, heading = math.hypot(bx - ax, by - ay), math.atan2(by - ay, bx - ax)
        arriving = _heading(*before) + 2 * math.atan(before[2])
        leaving = _heading(*after) - 2 * math.atan(after[2])
        turn_in = math.remainder(heading - arriving, 2 * math.pi)
        turn_out = math.remainder(leaving - heading, 2 * math.pi)
        return arriving, leaving, chord, turn_in, turn_out

    def _meeting(self, k: int) -> tuple[tuple[float, float], float]:
        """Return where the neighbours of piece k shall meet, and how far the path moves."""
        (ax, ay), (bx, by), _ = self._piece(k)
        arriving, _, chord, turn_in, turn_out = self._around(k)
        whole = math.sin(turn_in + turn_out)
        if min(turn_in, turn_out) < 0.0 and abs(whole) > 1e-12:
            ahead = chord * math.sin(turn_out) / whole
            if abs(ahead) <= 1.5 * chord:
                place = (ax + ahead * math.cos(arriving), ay + ahead * math.sin(arriving))
                return place, abs(ahead * math.sin(turn_in))
        rise_in, rise_out = _rise(turn_in), _rise(turn_out)
        share = rise_out / (rise_in + rise_out) if rise_in + rise_out > 0 else 0.5
        place = (ax + share * (bx - ax), ay + share * (by - ay))
        return place, chord * share * rise_in

    def _lengthened(self, k: int) -> float | None:
        """Lengthen piece k into both neighbours; return how far the path moves, None if it cannot."""
        (ax, ay), (bx, by), _ = self._piece(k)
        arriving, leaving, chord, turn_in, turn_out = self._around(k)
        if min(turn_in, turn_out) < 0.0 or max(turn_in, turn_out) > 1.7 or chord < SHORTEST / 4:
            return None
        before, after = _length(*self._piece(k - 1)), _length(*self._piece(k + 1))
        count = len(self.vertices)
        for step in np.arange(1, 40) * (SHORTEST / 40):
            start = (ax - step * math.cos(arriving), ay - step * math.sin(arriving))
            end = (bx + step * math.cos(leaving), by + step * math.sin(leaving))
            if math.dist(start, end) >= SHORTEST * 1.01:
                break
        else:
            return None
        if min(before, after) < 2 * SHORTEST + step or count < 4:
            return None
        moved = float(step) * max(_rise(turn_in), _rise(turn_out)) + _sagitta(*self._piece(k))
        if moved > self.most:
            return None
        self._stretch(k - 1, start, start=False)
        self._stretch(k + 1, end, start=True)
        self.vertices[k], self.vertices[(k + 1) % count], self.bulges[k] = start, end, 0.0
        return moved

    def _stretch(self, k: int, place: tuple[float, float], *, start: bool) -> None:
        """Give piece k a new start or end; at its other end its heading stays."""
        k %= len(self.vertices)
        a, b, bulge = self._piece(k)
        if bulge == 0.0:
            return
        half = 2 * math.atan(bulge)
        moved = (place, b) if start else (a, place)
        turned = _heading(*moved, 0.0) - _heading(a, b, bulge)
        new = half + math.remainder(-turned if start else turned, 2 * math.pi)
        if math.dist(*moved) < TINY and abs(half) < 0.25:  # so short that headings are too loose
            new = half * math.dist(*moved) / math.dist(a, b)
        self.bulges[k] = math.tan(min(math.pi / 2, max(-math.pi / 2, new)) / 2)

    def _remove(self, k: int, place: tuple[float, float]) -> None:
        self._stretch(k - 1, place, start=False)
        self._stretch(k + 1, place, start=True)
        self.vertices[(k + 1) % len(self.vertices)] = place
        del self.vertices[k], self.bulges[k]


def _heading(a: tuple[float, float], b: tuple[float, float], bulge: float) -> float:
    return math.atan2(b[1] - a[1], b[0] - a[0])


def _length(a: tuple[float, float], b: tuple[float, float], bulge: float) -> float:
    half = 2 * math.atan(abs(bulge))
    chord = math.dist(a, b)
    return chord if half < 1e-9 else chord * half / math.sin(half)


def _rise(turn: float) -> float:
    """How far a corner is cut for each mm its neighbour is moved along."""
    if turn <= 0.0:
        return 0.0
    return math.sin(turn) if turn < math.pi / 2 else 1.0


def _sagitta(a: tuple[float, float], b: tuple[float, float], bulge: float) -> float:
    return math.dist(a, b) / 2 * abs(bulge)

"""Paths without pieces too short to be written: an arc of a tenth of a micrometre is a hazard.

Rounded to four decimals its ends may fall together, and a mill then cuts a full circle.
"""

from __future__ import annotations

import math

import numpy as np

from knifecam.curve import Curve
from knifecam.curve.curve import Floats

SHORTEST = 0.002
"""mm: no piece of a path is shorter."""

TINY = 0.02
"""mm: a piece shorter than this keeps its bend, not its heading, when one end is moved."""

LEVEL = 1e-4
"""mm: a corner is cut by no more than this, where a piece can be kept by lengthening it."""


def tidied(path: Curve) -> tuple[Curve | None, float]:
    """Return the closed path without pieces under `SHORTEST`, and how far it moved, mm at most.

    The metal to be left lies on the right of the path, and the path moves to its left alone: a
    slight convex arc becomes a mitre, and corners toward the left are cut. A loop that is all
    short pieces gives None.
    """
    short = path.lengths < SHORTEST
    if not short.any():
        return path, 0.0
    if short.all():
        return None, 0.0
    first = int(np.flatnonzero(~short)[0])
    chain = _Chain(np.roll(path.vertices, -first, axis=0), np.roll(path.bulges, -first))
    moved = chain.shortened()
    if len(chain.vertices) < 2:
        return None, moved
    return Curve(np.array(chain.vertices), np.array(chain.bulges)), moved


class _Chain:
    """A closed chain being shortened: vertices and bulges as plain numbers, first piece long."""

    def __init__(self, vertices: Floats, bulges: Floats) -> None:
        self.vertices: list[tuple[float, float]] = [(x, y) for x, y in vertices.tolist()]
        self.bulges: list[float] = bulges.tolist()

    def shortened(self) -> float:
        worst = 0.0
        k = 1
        while k < len(self.vertices):
            if _length(*self._piece(k)) >= SHORTEST or len(self.vertices) == 2:
                k += 1
                continue
            place, moved = self._meeting(k)
            if moved > LEVEL and (lengthened := self._lengthened(k)) is not None:
                worst = max(worst, lengthened)
                k += 1
                continue
            self._remove(k, place)
            worst = max(worst, moved)
            k = max(1, k - 1)
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
        (ax, ay), (bx, by), bulge = self._piece(k)
        arriving, leaving, chord, turn_in, turn_out = self._around(k)
        if min(turn_in, turn_out) < 0.0 or max(turn_in, turn_out) > 1.7 or chord < SHORTEST / 4:
            return None
        before, after = _length(*self._piece(k - 1)), _length(*self._piece(k + 1))
        step, count = 0.0, len(self.vertices)
        while step < SHORTEST:
            step += SHORTEST / 40
            start = (ax - step * math.cos(arriving), ay - step * math.sin(arriving))
            end = (bx + step * math.cos(leaving), by + step * math.sin(leaving))
            if math.hypot(end[0] - start[0], end[1] - start[1]) >= SHORTEST * 1.01:
                break
        if min(before, after) < 2 * SHORTEST + step or count < 4:
            return None
        self._stretch(k - 1, start, start=False)
        self._stretch(k + 1, end, start=True)
        self.vertices[k], self.vertices[(k + 1) % count], self.bulges[k] = start, end, 0.0
        return step * max(_rise(turn_in), _rise(turn_out)) + _sagitta(chord, bulge)

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
        del self.vertices[k]
        del self.bulges[k]


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


def _sagitta(chord: float, bulge: float) -> float:
    return chord / 2 * abs(bulge)

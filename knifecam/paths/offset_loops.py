"""Offsets split where they cross, and what keeps the distance followed round.

Rounded to four decimals its ends may fall together, and a mill then cuts a full circle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, distance
from knifecam.curve.crossings import split_stations
from knifecam.curve.curve import Floats
from knifecam.curve.curve_limits import SNAP_MM
from knifecam.curve.pieces import Pieces, left
from knifecam.paths.paths_limits import (
    CORNER_CUT_MM,
    LEAST_LOOP_MM,
    SHORTEST_PIECE_MM,
    SLIVER_MM,
    TINY_PIECE_MM,
)

Rows = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetParts:
    """Parts of pieces between crossings, K of them.

    Parameters
    ----------
    row : (K,) int
        The piece of each.
    low, high : (K,) float, mm
        Where on the piece it begins and ends.
    begin, middle, end : (K, 2) float, mm
        Its places.
    """

    row: Rows
    low: Floats
    high: Floats
    begin: Floats
    middle: Floats
    end: Floats


def kept(pieces: Pieces, curve: Curve, away: float) -> OffsetParts:
    """Return the parts of pieces that are at the distance ``away`` from the curve.

    A part is at the distance if a place a little to its left is farther by that little; so where
    two walls are exactly twice the distance apart nothing is kept.
    """
    row, low, high = _parts(pieces)
    places, headings = pieces.at(
        np.concatenate([row, row, row]), np.concatenate([low, (low + high) / 2, high])
    )
    count = len(row)
    middle = places[count : 2 * count]
    little = np.minimum(SNAP_MM, 0.02 * (high - low))
    beside = middle + little[:, None] * left(headings[count : 2 * count])
    far = distance(beside, curve) > away + little / 2
    return OffsetParts(
        row=row[far],
        low=low[far],
        high=high[far],
        begin=places[:count][far],
        middle=middle[far],
        end=places[2 * count :][far],
    )


def near_pieces(pieces: Pieces, curve: Curve, away: float) -> NDArray[np.bool_]:
    """Return which pieces can be at the distance anywhere: it changes no faster than the place."""
    ends = distance(np.concatenate([pieces.start, pieces.stop]), curve)
    at_most = (ends[: len(pieces)] + ends[len(pieces) :] + pieces.length) / 2
    return np.asarray(at_most > away - SNAP_MM)


def _parts(pieces: Pieces) -> tuple[Rows, Floats, Floats]:
    row, gone = split_stations(pieces)
    row = np.concatenate([np.arange(len(pieces)), row])
    low = np.concatenate([np.zeros(len(pieces)), gone])
    order = np.lexsort((low, row))
    row, low = row[order], low[order]
    last = np.append(row[1:] != row[:-1], True)
    high = np.where(last, pieces.length[row], np.append(low[1:], 0.0))
    real = (high - low > SNAP_MM / 10) | ((low == 0) & last)
    return row[real], low[real], high[real]


def places(points: Floats) -> Rows:
    """Return the number of the place of each point (K, 2): points within `SNAP_MM` share one."""
    turned = points @ np.array([0.5403023058681398, 0.8414709848078965])
    order = np.argsort(turned, kind="stable")
    along, sorted_points = turned[order], points[order]
    label = np.arange(len(points))
    step = 1
    pairs: list[tuple[Rows, Rows]] = []
    while step < len(points):
        close = along[step:] - along[:-step] <= SNAP_MM
        if not close.any():
            break
        rows = np.flatnonzero(close)
        gap = sorted_points[rows + step] - sorted_points[rows]
        rows = rows[np.hypot(gap[:, 0], gap[:, 1]) <= SNAP_MM]
        pairs.append((rows, rows + step))
        step += 1
    if pairs:
        first = np.concatenate([a for a, _ in pairs])
        second = np.concatenate([b for _, b in pairs])
        label = _linked(label, first, second)
    found = np.empty(len(points), np.int64)
    found[order] = label
    return found


def _linked(label: Rows, first: Rows, second: Rows) -> Rows:
    while True:
        lower = np.minimum(label[first], label[second])
        new = label.copy()
        np.minimum.at(new, first, lower)
        np.minimum.at(new, second, lower)
        if np.array_equal(new, label):
            return label
        label = new


def loops(pieces: Pieces, parts: OffsetParts) -> list[list[int]] | None:
    """Return the closed loops the parts make, or None where they do not close.

    Where loops touch each keeps to its left, so that they part. What leads nowhere is a sliver
    beyond a crossing so shallow that distances cannot tell it: it is dropped.
    """
    count = len(parts.row)
    label = places(np.concatenate([parts.begin, parts.end]))
    tail, head = label[:count], label[count:]
    alive = (tail != head) & _single(tail, head, parts.middle)
    _drop_dead_ends(tail, head, alive)
    ways = _by_place(tail, alive)
    found: list[list[int]] = []
    for first in np.flatnonzero(alive).tolist():
        if first not in ways[int(tail[first])]:
            continue
        chain, closes = _followed(first, tail, head, ways, pieces, parts)
        if closes:
            found.append(chain)
        elif sum(float(parts.high[k] - parts.low[k]) for k in chain) > SLIVER_MM:
            return None
    return found


def _single(tail: Rows, head: Rows, middle: Floats) -> NDArray[np.bool_]:
    """Return which parts are the first of those that run side by side between two places."""
    key = tail * (2 * len(tail)) + head
    _, first, which = np.unique(key, return_index=True, return_inverse=True)
    gap = middle - middle[first[which]]
    return (first[which] == np.arange(len(tail))) | (np.hypot(gap[:, 0], gap[:, 1]) > 10 * SNAP_MM)


def _by_place(tail: Rows, alive: NDArray[np.bool_]) -> dict[int, list[int]]:
    ways: dict[int, list[int]] = {}
    for k in np.flatnonzero(alive).tolist():
        ways.setdefault(int(tail[k]), []).append(k)
    return ways


def _drop_dead_ends(tail: Rows, head: Rows, alive: NDArray[np.bool_]) -> None:
    while alive.any():
        leaving = np.bincount(tail[alive], minlength=2 * len(tail))
        arriving = np.bincount(head[alive], minlength=2 * len(tail))
        dead = alive & ((leaving[head] == 0) | (arriving[tail] == 0))
        if not dead.any():
            return
        alive &= ~dead


def _followed(
    first: int,
    tail: Rows,
    head: Rows,
    ways: dict[int, list[int]],
    pieces: Pieces,
    parts: OffsetParts,
) -> tuple[list[int], bool]:
    """Return the parts met from the first on, and whether they lead back; they are used up."""
    chain = [first]
    home = int(tail[first])
    ways[home].remove(first)
    while (here := int(head[chain[-1]])) != home:
        onward = ways.get(here)
        if not onward:
            return chain, False
        best = onward[0] if len(onward) == 1 else _leftmost(chain[-1], onward, pieces, parts)
        onward.remove(best)
        chain.append(best)
    return chain, True


def _leftmost(now: int, ways: list[int], pieces: Pieces, parts: OffsetParts) -> int:
    """Return the way that turns most to the left; a turn right round counts as left."""
    step = min(float(parts.high[k] - parts.low[k]) for k in ways) / 2
    rows = parts.row[[now, *ways]]
    gone = np.array([parts.high[now], *(parts.low[k] + step for k in ways)])
    points, headings = pieces.at(rows, gone)
    chord = points[1:] - points[0]
    turn = np.arctan2(chord[:, 1], chord[:, 0]) - headings[0]
    turn = (turn + np.pi - 1e-4) % (2 * np.pi) - np.pi + 1e-4
    return ways[int(np.argmax(turn))]


def chain_of(pieces: Pieces, parts: OffsetParts, loop: list[int]) -> tuple[Floats, Floats]:
    """Return the vertices (N, 2) and bulges (N,) of a loop, parts of one piece in a row made one."""
    chosen = np.array(loop)
    row, low, high = parts.row[chosen], parts.low[chosen], parts.high[chosen]
    same = (row == _before(row)) & (low == _before(high))
    if same.any() and not same.all():
        turned = int(np.flatnonzero(~same)[0])
        chosen = np.roll(chosen, -turned)
        begins = np.flatnonzero(~np.roll(same, -turned))
        row, low = parts.row[chosen[begins]], parts.low[chosen[begins]]
        high = parts.high[chosen[np.append(begins[1:], len(chosen)) - 1]]
        chosen = chosen[begins]
    share = (high - low) / pieces.length[row]
    return parts.begin[chosen], np.tan(pieces.angle[row] * share / 4)


def _before(values: NDArray[Any]) -> NDArray[Any]:
    return np.concatenate([values[-1:], values[:-1]])


def tidied(vertices: Floats, bulges: Floats, most: float) -> tuple[Floats, Floats, float]:
    """Return a closed chain without pieces under `SHORTEST_PIECE_MM`, and how far it moved at most, mm.

    The metal to be left lies on the right of the chain, and it moves to its left alone, by
    ``most`` mm or less: a slight convex arc becomes a mitre, and corners toward the left are cut.
    Where that would not do a short line stays, never a short arc. Of a loop too small to be
    one no vertex is left.
    """
    chord = np.hypot(*(np.concatenate([vertices[1:], vertices[:1]]) - vertices).T)
    half = 2 * np.arctan(np.abs(bulges))
    length = chord * np.where(half > 1e-6, half / np.sin(np.maximum(half, 1e-6)), 1.0)
    if length.sum() <= LEAST_LOOP_MM:
        return vertices[:0], bulges[:0], 0.0
    if (length >= SHORTEST_PIECE_MM).all():
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
            if len(self.vertices) == 2 or _length(*self._piece(k)) >= SHORTEST_PIECE_MM:
                k += 1
                continue
            place, moved = self._meeting(k)
            if moved <= min(CORNER_CUT_MM, self.most):
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
        if (
            min(turn_in, turn_out) < 0.0
            or max(turn_in, turn_out) > 1.7
            or chord < SHORTEST_PIECE_MM / 4
        ):
            return None
        before, after = _length(*self._piece(k - 1)), _length(*self._piece(k + 1))
        count = len(self.vertices)
        for step in np.arange(1, 40) * (SHORTEST_PIECE_MM / 40):
            start = (ax - step * math.cos(arriving), ay - step * math.sin(arriving))
            end = (bx + step * math.cos(leaving), by + step * math.sin(leaving))
            if math.dist(start, end) >= SHORTEST_PIECE_MM * 1.01:
                break
        else:
            return None
        if min(before, after) < 2 * SHORTEST_PIECE_MM + step or count < 4:
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
        if (
            math.dist(*moved) < TINY_PIECE_MM and abs(half) < 0.25
        ):  # so short that headings are too loose
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

"""From raw offsets to loops: split, keep what is at the distance, and follow it round."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, distance
from knifecam.curve.crossings import splits
from knifecam.curve.curve import Floats
from knifecam.curve.pieces import SNAP, Pieces, left

Rows = NDArray[np.int64]

SLIVER = 1e-3
"""mm: what does not close and is shorter is a sliver beside the loops, not a part of one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
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


def kept(pieces: Pieces, curve: Curve, away: float) -> Parts:
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
    little = np.minimum(SNAP, 0.02 * (high - low))
    beside = middle + little[:, None] * left(headings[count : 2 * count])
    far = distance(beside, curve) > away + little / 2
    return Parts(
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
    return np.asarray(at_most > away - SNAP)


def _parts(pieces: Pieces) -> tuple[Rows, Floats, Floats]:
    row, gone = splits(pieces)
    row = np.concatenate([np.arange(len(pieces)), row])
    low = np.concatenate([np.zeros(len(pieces)), gone])
    order = np.lexsort((low, row))
    row, low = row[order], low[order]
    last = np.append(row[1:] != row[:-1], True)
    high = np.where(last, pieces.length[row], np.append(low[1:], 0.0))
    real = (high - low > SNAP / 10) | ((low == 0) & last)
    return row[real], low[real], high[real]


def places(points: Floats) -> Rows:
    """Return the number of the place of each point (K, 2): points within `SNAP` share one."""
    turned = points @ np.array([0.5403023058681398, 0.8414709848078965])
    order = np.argsort(turned, kind="stable")
    along, sorted_points = turned[order], points[order]
    label = np.arange(len(points))
    step = 1
    pairs: list[tuple[Rows, Rows]] = []
    while step < len(points):
        close = along[step:] - along[:-step] <= SNAP
        if not close.any():
            break
        rows = np.flatnonzero(close)
        gap = sorted_points[rows + step] - sorted_points[rows]
        rows = rows[np.hypot(gap[:, 0], gap[:, 1]) <= SNAP]
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


def loops(pieces: Pieces, parts: Parts) -> list[list[int]] | None:
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
        elif sum(float(parts.high[k] - parts.low[k]) for k in chain) > SLIVER:
            return None
    return found


def _single(tail: Rows, head: Rows, middle: Floats) -> NDArray[np.bool_]:
    """Return which parts are the first of those that run side by side between two places."""
    key = tail * (2 * len(tail)) + head
    _, first, which = np.unique(key, return_index=True, return_inverse=True)
    gap = middle - middle[first[which]]
    return (first[which] == np.arange(len(tail))) | (np.hypot(gap[:, 0], gap[:, 1]) > 10 * SNAP)


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
    parts: Parts,
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


def _leftmost(now: int, ways: list[int], pieces: Pieces, parts: Parts) -> int:
    """Return the way that turns most to the left; a turn right round counts as left."""
    step = min(float(parts.high[k] - parts.low[k]) for k in ways) / 2
    rows = parts.row[[now, *ways]]
    gone = np.array([parts.high[now], *(parts.low[k] + step for k in ways)])
    points, headings = pieces.at(rows, gone)
    chord = points[1:] - points[0]
    turn = np.arctan2(chord[:, 1], chord[:, 0]) - headings[0]
    turn = (turn + np.pi - 1e-4) % (2 * np.pi) - np.pi + 1e-4
    return ways[int(np.argmax(turn))]


def chain_of(pieces: Pieces, parts: Parts, loop: list[int]) -> tuple[Floats, Floats]:
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

"""From raw offsets to loops: split, keep what is at the distance, and follow it round."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, distance
from knifecam.curve.curve import Floats
from knifecam.paths.crossing import splits
from knifecam.paths.raw import SNAP, Pieces, left

Rows = NDArray[np.int64]
SLIVER = 1e-3
"""mm: what does not close and is shorter is a sliver beside the loops, not a part of one."""

Sub = tuple[int, float, float]
"""A sub-piece: its piece, and where on it it begins and ends in mm."""


def kept(pieces: Pieces, curve: Curve, away: float) -> tuple[Rows, Floats, Floats]:
    """Return the sub-pieces at the distance ``away`` from the curve: rows, starts, ends.

    A sub-piece is at the distance if a place a little to its left is farther by that little;
    so where two walls are exactly twice the distance apart nothing is kept.
    """
    row, low, high = _sub_pieces(pieces)
    little = np.minimum(SNAP, 0.02 * (high - low))
    middle, heading = pieces.at(row, (low + high) / 2)
    far = distance(middle + little[:, None] * left(heading), curve) > away + little / 2
    return row[far], low[far], high[far]


def near_pieces(pieces: Pieces, curve: Curve, away: float) -> NDArray[np.bool_]:
    """Return which pieces can be at the distance anywhere: it changes no faster than the place."""
    everything = np.arange(len(pieces))
    middle, _ = pieces.at(everything, pieces.length / 2)
    return np.asarray(distance(middle, curve) + pieces.length / 2 > away - SNAP)


def _sub_pieces(pieces: Pieces) -> tuple[Rows, Floats, Floats]:
    row, gone = splits(pieces)
    everything = np.arange(len(pieces))
    row = np.concatenate([everything, row])
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


def loops(pieces: Pieces, row: Rows, low: Floats, high: Floats) -> list[list[Sub]] | None:
    """Return the closed loops the sub-pieces make, or None where they do not close.

    Where loops touch each keeps to its left, so that they part. What leads nowhere is a sliver
    beyond a crossing so shallow that distances cannot tell it: it is dropped.
    """
    begin, _ = pieces.at(row, low)
    end, _ = pieces.at(row, high)
    label = places(np.concatenate([begin, end]))
    tail, head = label[: len(row)], label[len(row) :]
    alive = (tail != head) & _single(tail, head, pieces, row, (low + high) / 2)
    _drop_dead_ends(tail, head, alive)
    leaving = _by_place(tail, alive)
    found: list[list[Sub]] = []
    used = ~alive
    for first in np.flatnonzero(alive):
        if used[first]:
            continue
        chain, closes = _followed(int(first), tail, head, used, leaving, pieces, row, low, high)
        if closes:
            found.append([(int(row[k]), float(low[k]), float(high[k])) for k in chain])
        elif sum(float(high[k] - low[k]) for k in chain) > SLIVER:
            return None
    return [_united(loop) for loop in found]


def _single(tail: Rows, head: Rows, pieces: Pieces, row: Rows, middle: Floats) -> NDArray[np.bool_]:
    """Return which sub-pieces are the first of those that run side by side between two places."""
    _, first, which = np.unique(
        np.stack([tail, head], axis=1), axis=0, return_index=True, return_inverse=True
    )
    twin = first[which.ravel()]
    mine, _ = pieces.at(row, middle)
    gap = mine - mine[twin]
    return (twin == np.arange(len(row))) | (np.hypot(gap[:, 0], gap[:, 1]) > 10 * SNAP)


def _by_place(tail: Rows, alive: NDArray[np.bool_]) -> dict[int, list[int]]:
    leaving: dict[int, list[int]] = {}
    for k in np.flatnonzero(alive).tolist():
        leaving.setdefault(int(tail[k]), []).append(k)
    return leaving


def _drop_dead_ends(tail: Rows, head: Rows, alive: NDArray[np.bool_]) -> None:
    while True:
        starts, ends = np.unique(tail[alive]), np.unique(head[alive])
        dead = alive & ~(np.isin(head, starts) & np.isin(tail, ends))
        if not dead.any():
            return
        alive &= ~dead


def _followed(
    first: int,
    tail: Rows,
    head: Rows,
    used: NDArray[np.bool_],
    leaving: dict[int, list[int]],
    pieces: Pieces,
    row: Rows,
    low: Floats,
    high: Floats,
) -> tuple[list[int], bool]:
    chain = [first]
    used[first] = True
    home = int(tail[first])
    while int(head[chain[-1]]) != home:
        ways = [k for k in leaving.get(int(head[chain[-1]]), []) if not used[k]]
        if not ways:
            return chain, False
        best = ways[0] if len(ways) == 1 else _leftmost(chain[-1], ways, pieces, row, low, high)
        used[best] = True
        chain.append(best)
    return chain, True


def _leftmost(
    now: int, ways: list[int], pieces: Pieces, row: Rows, low: Floats, high: Floats
) -> int:
    """Return the way that turns most to the left; a turn right round counts as left."""
    step = min([float(high[k] - low[k]) for k in ways]) / 2
    rows = row[[now, *ways]]
    gone = np.array([high[now], *(low[k] + step for k in ways)])
    points, headings = pieces.at(rows, gone)
    chord = points[1:] - points[0]
    turn = np.arctan2(chord[:, 1], chord[:, 0]) - headings[0]
    turn = (turn + np.pi - 1e-4) % (2 * np.pi) - np.pi + 1e-4
    return ways[int(np.argmax(turn))]


def _united(loop: list[Sub]) -> list[Sub]:
    """Return the loop with neighbouring sub-pieces of one piece made one."""
    done = [loop[0]]
    for row, low, high in loop[1:]:
        if row == done[-1][0] and low == done[-1][2]:
            done[-1] = (row, done[-1][1], high)
        else:
            done.append((row, low, high))
    if len(done) > 2 and done[0][0] == done[-1][0] and done[0][1] == done[-1][2]:
        done[0] = (done[0][0], done.pop()[1], done[0][2])
    return done


def as_curve(pieces: Pieces, loop: list[Sub]) -> Curve | None:
    """Return the closed curve of a loop; None if it is a line there and back."""
    row = np.array([r for r, _, _ in loop])
    low = np.array([a for _, a, _ in loop])
    high = np.array([b for _, _, b in loop])
    if len(loop) < 2:
        return None
    vertices, _ = pieces.at(row, low)
    share = (high - low) / pieces.length[row]
    return Curve(vertices, np.tan(pieces.angle[row] * share / 4))

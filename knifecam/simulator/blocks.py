"""Which steps reach which blocks of the grid, and what they met there, put together by step."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.simulator import kernel
from knifecam.simulator.laid import Laid

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Longs = NDArray[np.int64]

BEFORE_RIM = 0.71
"""Cells before the rim where metal beside the cutter is looked for: half a cell's diagonal."""


@dataclass(frozen=True, eq=False)
class Listed:
    """Steps by blocks: ``step[begins[b]:begins[b + 1]]`` reach block b, in their order.

    ``shank`` (S,) mm: how far above the beginning of the shank the plate's face stands, negative
    where that is known without looking; else -inf.
    """

    step: Ints
    begins: Longs
    shank: Floats


def list_blocks(
    laid: Laid, place: kernel.Place, face: float, reach: Floats, shank: Floats
) -> Listed:
    """List the steps that come below the plate's face by the blocks they reach.

    Parameters
    ----------
    laid : Laid
        Its columns of the shank are filled in.
    place : kernel.Place
    face : float, mm
        Height of the highest metal.
    reach, shank : (M,) float, mm
        Height above the tip at which the shank begins, and its radius, of each motion's cutter.
    """
    table = laid.table
    radius, tip = table[:, kernel.RADIUS], table[:, kernel.TIP]
    reaches, shanks = reach[laid.motion], shank[laid.motion]
    start = laid.place[:, 2] - (tip - laid.place[:, 2])
    below = np.minimum(start, tip) < face
    thick = below & (shanks > radius)
    near = thick & (tip + reaches < face)
    table[:, kernel.REACH] = reaches
    table[:, kernel.LOOK] = np.where(near, shanks, 0.0)
    clear = np.where(thick & ~near, face - tip - reaches, -np.inf)
    boxes = _boxes(laid, place, below)
    step, begins = _by_block(boxes, place)
    return Listed(step, begins, clear)


def _boxes(laid: Laid, place: kernel.Place, below: NDArray[np.bool_]) -> Longs:
    """Return the first and last blocks along X and Y of each step, (4, S); none if last < first."""
    radius, look = laid.table[:, kernel.RADIUS], laid.table[:, kernel.LOOK]
    cutter = radius + laid.column("sag") + kernel.TOUCH
    ring = np.maximum(radius + BEFORE_RIM * place.cell, look) + place.cell
    edges, there = [], below
    for axis, origin, count in (("x", place.x0, place.nx), ("y", place.y0, place.ny)):
        a, b = laid.column("a" + axis), laid.column("b" + axis)
        low = np.ceil((np.minimum(np.minimum(a, b) - cutter, b - ring) - origin) * place.per_cell)
        high = np.floor((np.maximum(np.maximum(a, b) + cutter, b + ring) - origin) * place.per_cell)
        there = there & (low < count) & (high >= 0)
        edges += [np.maximum(low, 0), np.minimum(high, count - 1)]
    return np.where(there, np.array(edges) // kernel.BLOCK, [[0], [-1], [0], [-1]]).astype(np.int64)


def _by_block(boxes: Longs, place: kernel.Place) -> tuple[Ints, Longs]:
    left, right, low, high = boxes
    wide = right - left + 1
    count = wide * (high - low + 1)
    step = np.repeat(np.arange(len(count), dtype=np.int32), count)
    k = np.arange(len(step)) - np.repeat(np.cumsum(count) - count, count)
    across, up = -(-place.nx // kernel.BLOCK), -(-place.ny // kernel.BLOCK)
    block = (low[step] + k // wide[step]) * across + left[step] + k % wide[step]
    begins = np.append(0, np.cumsum(np.bincount(block, minlength=across * up)))
    small = block.astype(np.uint16 if across * up < 2**16 else np.int64)
    return step[np.argsort(small, kind="stable")], begins


@dataclass(frozen=True, eq=False)
class Together:
    """What steps met in all blocks, (S,) each, and how deep motions cut into what is guarded.

    Lengths in mm, ``volume`` in mm3, ``width`` in rad, ``gouge`` (M,) mm at ``place`` (M, 2), NaN
    for none. Left and right are seen in the plane of the part.
    """

    volume: Floats
    left: Floats
    front: Floats
    right: Floats
    width: Floats
    under: Floats
    tallest: Floats
    shank: Floats
    floor: Floats
    gouge: Floats
    place: Floats


def nothing_met(listed: Listed) -> Floats:
    """Return the figures of steps that meet nothing, (`kernel.MET`, P): one for each block reached."""
    met = np.zeros((kernel.MET, len(listed.step)))
    met[[kernel.HIGH, kernel.WALL, kernel.WALL_AT_SHANK]] = -np.inf
    met[kernel.LOW] = np.inf
    return met


def put_together(laid: Laid, listed: Listed, met: Floats, cell: float, motions: int) -> Together:
    """Put together what steps met in each block, (`kernel.MET`, P) in the order of ``listed``."""
    count = len(laid.motion)

    def extreme(figure: int, fold: np.ufunc, none: float) -> Floats:
        found = np.full(count, none)
        fold.at(found, listed.step, met[figure])
        return found

    left, front, right = (
        extreme(k, np.maximum, 0.0) for k in (kernel.LEFTS, kernel.FRONTS, kernel.RIGHTS)
    )
    low, high = extreme(kernel.LOW, np.minimum, np.inf), extreme(kernel.HIGH, np.maximum, -np.inf)
    wall, beside = (extreme(k, np.maximum, -np.inf) for k in (kernel.WALL, kernel.WALL_AT_SHANK))
    under = np.maximum(left, np.maximum(front, right))
    table = laid.table
    tip, look = table[:, kernel.TIP], table[:, kernel.LOOK]
    shank = beside - tip - table[:, kernel.REACH]
    gouge, place = _gouges(laid, listed, met, motions)
    return Together(
        volume=np.asarray(np.bincount(listed.step, met[kernel.TAKEN], count) * cell**2, float),
        left=left,
        front=front,
        right=right,
        width=_widths(low, high, under, cell, table),
        under=under,
        tallest=np.maximum(0.0, wall - tip),
        shank=np.where(look > 0.0, shank, listed.shank),
        floor=extreme(kernel.OVER_VOID, np.minimum, np.inf),
        gouge=gouge,
        place=place,
    )


def _widths(low: Floats, high: Floats, under: Floats, cell: float, table: Floats) -> Floats:
    """Return the leading angles that meet metal; cells reach half their side past their centres."""
    radius, seen = table[:, kernel.RADIUS], high >= low
    to = np.minimum(1.0, (np.where(seen, high, 0.0) + 0.5 * cell) / radius)
    begin = np.maximum(-1.0, (np.where(seen, low, 0.0) - 0.5 * cell) / radius)
    across = np.arcsin(to) - np.arcsin(np.minimum(begin, 1.0))
    return np.where(seen, across, np.where(under > 0.0, np.pi, 0.0))


def _gouges(laid: Laid, listed: Listed, met: Floats, motions: int) -> tuple[Floats, Floats]:
    """Return the deepest cut of each motion into guarded columns, and where; the first of equals."""
    gouge, place = np.zeros(motions), np.full((motions, 2), np.nan)
    pairs = np.flatnonzero(met[kernel.GOUGE] > 0.0)
    motion = laid.motion[listed.step[pairs]]
    order = np.lexsort((-met[kernel.GOUGE, pairs], motion))
    which, first = np.unique(motion[order], return_index=True)
    deepest = pairs[order[first]]
    gouge[which] = met[kernel.GOUGE, deepest]
    place[which] = met[[kernel.GOUGE_X, kernel.GOUGE_Y]][:, deepest].T
    return gouge, place

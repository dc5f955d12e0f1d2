"""Marks on the pictures of the plate: pointers, labels that lie on nothing, clamps, the turning axis."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from knifecam.simulator.frame import side_frame
from knifecam.simulator.judging import Judged

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Floats = NDArray[np.float64]

PAPER, INK = np.array([0.985, 0.978, 0.962]), np.array([0.10, 0.15, 0.21])

LINE, FINE_LINE = 0.7, 0.45
"""Points."""

BARB, AXIS = 1.7, 4.0
"""mm of the half barb that ends a pointer and of the zero's axes, on a plate of 100 mm."""

CLEAR = 1.5
"""mm on a plate of 100 mm: no label lies nearer to an edge, a zero or another label."""

TAILS = (3.2, 2.2, 4.4, 1.4, 5.6)
"""mm on a plate of 100 mm: lengths of a pointer that are tried."""


def mark_size(judged: Judged) -> float:
    """How much larger than on a 100 mm plate marks are drawn, in mm a mm."""
    return judged.case.order.setup.plate.length / 100.0


def xy(place: Floats) -> tuple[float, float]:
    """Return a place as two numbers."""
    return float(place[0]), float(place[1])


def label(axes: Axes, place: Floats, text: str, size: float = 7.0, **more: Any) -> None:
    """Write a label on a ground of its own, so that no line runs through it."""
    ground = {"boxstyle": "round,pad=0.12", "fc": tuple(PAPER), "ec": "none", "alpha": 0.85}
    style: dict[str, Any] = {"ha": "center", "va": "center", "zorder": 5, "bbox": ground}
    style |= more
    axes.text(*xy(place), text, fontsize=size, color=tuple(INK), clip_on=False, **style)


def pointer(axes: Axes, tip: Floats, way: Floats, length: float, barb: float) -> Floats:
    """Draw a line to ``tip`` that ends in a filled half barb; return where it begins.

    The barb stays within the line, however short that is.
    """
    barb = min(barb, 0.7 * length)
    tail = tip + way * length
    across = np.array([-way[1], way[0]])
    axes.plot(*np.array([tail, tip]).T, color=tuple(INK), lw=LINE, clip_on=False, zorder=4)
    barbed = np.array([tip, tip + way * barb + across * barb * 0.5, tip + way * barb * 0.8])
    axes.fill(*barbed.T, color=tuple(INK), lw=0, clip_on=False, zorder=4)
    return np.asarray(tail)


def _from_line(place: Floats, begin: Floats, end: Floats) -> float:
    """Return how far a place is from the line between two others, mm."""
    way = end - begin
    share = float(np.clip((place - begin) @ way / max(float(way @ way), 1e-12), 0.0, 1.0))
    return float(np.hypot(*(place - begin - share * way)))


class Room:
    """Where labels lie already, and the plate's edges; places in the side frame, mm."""

    def __init__(self, judged: Judged, side: str) -> None:
        frame = side_frame(judged.case.order.setup, side)
        x_low, y_low, x_high, y_high = judged.case.order.setup.plate.bounds
        corners = np.array([(x_low, y_low), (x_high, y_high)]) * frame.signs[:2]
        self.low, self.high = corners.min(axis=0), corners.max(axis=0)
        self.clear = CLEAR * mark_size(judged)
        zero, arm = np.array(frame.datum), AXIS * mark_size(judged)
        self.taken = [zero, *(zero + arm * np.eye(2))]

    def free(self, place: Floats, tip: Floats) -> bool:
        """Tell whether a label at ``place`` and its line to ``tip`` clear edges and what is there."""
        beside = np.minimum(np.abs(place - self.low), np.abs(self.high - place)).min()
        return bool(beside >= self.clear and self._apart(place, tip) >= 1.5 * self.clear)

    def first(self, places: Sequence[Floats], tips: Sequence[Floats] = ()) -> int:
        """Take the first place that is free, or the freest of all, and return its number.

        ``tips`` are where the pointers end that lead from the places, if any do.
        """
        rows = list(zip(places, tips or places, strict=True))
        free = (k for k, row in enumerate(rows) if self.free(*row))
        k = next(free, max(range(len(rows)), key=lambda k: self._apart(*rows[k])))
        self.taken += [places[k], (rows[k][0] + rows[k][1]) / 2]
        return k

    def _apart(self, place: Floats, tip: Floats) -> float:
        """Return how far a label and its line are from what is there, mm."""
        return min(_from_line(one, place, tip) for one in self.taken)


def beside(at: Floats, reach: float) -> list[Floats]:
    """Return where a number may stand beside a place: near ones first, up and to the right first."""
    turns = np.radians([45, 135, -45, -135, 90, 0, 180, -90])
    ways = np.stack([np.cos(turns), np.sin(turns)], axis=1) * np.sqrt(2)
    return [at + far * reach * way for far in (1.0, 1.7, 2.6, 3.6) for way in ways]


def draw_zero(axes: Axes, judged: Judged, side: str) -> None:
    """Mark the program's zero by its two axes, each named beside it, away from the plate."""
    frame = side_frame(judged.case.order.setup, side)
    room, scale, zero = Room(judged, side), mark_size(judged), np.array(frame.datum)
    outward = np.where(zero < (room.low + room.high) / 2, -1.0, 1.0)
    for k, name in enumerate("XY"):
        way = np.eye(2)[k]
        tip = zero + way * AXIS * scale
        pointer(axes, tip, -way, AXIS * scale, BARB * scale)
        aside = np.eye(2)[1 - k] * outward[1 - k]
        label(axes, zero + way * 0.75 * AXIS * scale + aside * 1.4 * scale, name)
    axes.plot(
        *zero, marker="o", ms=4, mfc=tuple(PAPER), mec=tuple(INK), mew=LINE, clip_on=False, zorder=6
    )


def draw_stand(axes: Axes, judged: Judged, side: str) -> None:
    """Draw clamps, and stubs of the axis the plate is turned about."""
    setup = judged.case.order.setup
    datum = np.array(side_frame(setup, side).datum)
    for box in setup.keep_out:
        if box.side == side:
            corners = np.array([(box.x_low, box.y_low), (box.x_high, box.y_high)])
            low, high = corners + datum
            ring = np.array([low, (high[0], low[1]), high, (low[0], high[1]), low])
            axes.fill(*ring.T, facecolor="none", edgecolor=tuple(INK), lw=LINE, hatch="//")
            label(axes, (low + high) / 2, box.name)
    room, scale = Room(judged, side), mark_size(judged)
    k = "XY".index(setup.flip)
    middle, way = (room.low + room.high) / 2, np.eye(2)[k]
    for end, sense in ((room.low, -1.0), (room.high, 1.0)):
        begin = middle.copy()
        begin[k] = end[k]
        stub = np.array([begin, begin + sense * way * 2.4 * scale])
        axes.plot(*stub.T, color=tuple(INK), lw=LINE, ls=(0, (6, 2, 1, 2)), clip_on=False)

"""Edge breaks and jimping: too wide, too narrow, left out, or cut by the dead tip."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Motions, distance
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, Message, at_line, first_and_worst, rounded_place
from knifecam.judge.judge_limits import (
    BREAK_SLACK_MM,
    BREAK_WIDTH_MM,
    JUDGED_TIP_SAMPLE_MM,
    TIP_BITE_MM,
)
from knifecam.measure.case import Case
from knifecam.measure.measure_limits import WALL_OFF_MM
from knifecam.measure.measured_edge import MeasuredEdgeBreak
from knifecam.measure.measured_openings import MeasuredNotch
from knifecam.measure.sample_columns import cut_with_some
from knifecam.quantity import mm
from knifecam.sweep.columns import sample_columns
from knifecam.sweep.side_frames import to_part
from knifecam.sweep.side_program import SideProgram

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds gouge, uncut and near-axis of edge breaks and jimping."""
    for broken in case.breaks:
        side = case.sides["AB".index(broken.one.side)]
        if side is not None:
            yield from _width(side, broken)
    for notch in case.notches:
        yield from _notch(case, notch)
    for side in case.given():
        yield from _dead_tip(case, side)


def _width(side: SideProgram, broken: MeasuredEdgeBreak) -> Iterator[Finding]:
    one = broken.one
    what = f"edge break {one.name} of {one.of}"
    wide = broken.within & (broken.widths > one.width + BREAK_WIDTH_MM)
    hits = np.flatnonzero(wide & (broken.last >= side.first))
    height = np.full(len(hits), side.face * side.frame.signs[2])

    def tell(k: int) -> Message:
        found = float(broken.widths[hits[k]])
        sentence = (
            f"{what} is {mm(found):.3f} wide; {mm(one.width):g} is ordered, {mm(BREAK_WIDTH_MM):g} more"
            " allowed"
        )
        return sentence, found, one.width + BREAK_WIDTH_MM

    yield from first_and_worst(
        Kind.GOUGE,
        side,
        broken.last[hits] - side.first,
        tell=tell,
        badness=broken.widths[hits],
        places=np.column_stack([broken.points[hits], height]),
        remedy="raise the chamfer mill, or take it off the wall",
    )
    narrow = broken.within & (broken.widths < one.width - BREAK_WIDTH_MM) & _reachable(side, broken)
    if narrow.any():
        k = int(np.argmin(np.where(narrow, broken.widths, np.inf)))
        found, motion = float(broken.widths[k]), int(broken.last[k]) - side.first
        share = np.count_nonzero(narrow) / len(narrow) * broken.curve.length
        yield Finding(
            kind=Kind.UNCUT,
            side=side.name,
            line=int(side.trace.line[motion]) if motion >= 0 else 0,
            message=f"{what} is {mm(found):.3f} wide along {mm(share):.1f}; {mm(one.width):g} is ordered",
            place=rounded_place([*broken.points[k], side.face * side.frame.signs[2]]),
            measured=found,
            allowed=one.width - BREAK_WIDTH_MM,
            remedy="run the chamfer mill along all of it, to its depth",
        )


def _reachable(side: SideProgram, broken: MeasuredEdgeBreak) -> Bools:
    """Return the places of a break that the axis which cut it could come square to, (n,).

    The break's places lie on the wall that stands; the axis keeps off the wanted one too.
    """
    motion = broken.last[broken.last >= side.first] - side.first
    if not len(motion):
        return np.ones(len(broken.points), bool)
    away = float(distance(side.part_stop[np.unique(motion), :2], broken.curve).min())
    axis = broken.points + away * broken.normals
    return np.asarray(distance(axis, broken.curve) >= away - 1e-4)


def _notch(case: Case, notch: MeasuredNotch) -> Iterator[Finding]:
    what = f"notch {notch.number} of jimping {notch.row.name}"
    for side, reached in zip(case.sides, notch.sides, strict=True):
        if side is None or reached is None:
            continue
        error = np.where(notch.there & np.isfinite(reached.error), reached.error, 0.0)
        level, k = np.unravel_index(int(np.argmin(error)), error.shape)
        if error[level, k] < -WALL_OFF_MM:
            found = -float(error[level, k])
            yield at_line(
                Kind.GOUGE, side.name, int(side.trace.line[reached.motion[level, k]]),
                f"goes {mm(found):.4f} past the wall of {what}; {mm(WALL_OFF_MM):g} is allowed",
                "check the bore's path and the cutter's diameter", measured=found, allowed=WALL_OFF_MM,
                place=rounded_place([*notch.points[k], notch.heights[level]]),
            )  # fmt: skip
    if not case.whole or not notch.left.size or not notch.left.max() > WALL_OFF_MM:
        return
    # of heights with the same left over the highest tells the side: what both should have cut is A's
    level, k = np.unravel_index(int(np.argmax(notch.left[::-1])), notch.left.shape)
    level = len(notch.heights) - 1 - level
    found = float(notch.left[level, k])
    amount = f"{mm(found):.4f}" if np.isfinite(found) else f"more than {mm(0.5)}"
    yield at_line(
        Kind.UNCUT, "B" if notch.heights[level] < 0 else "A", 0,
        f"{amount} of metal stays on the wall of {what}; {mm(WALL_OFF_MM):g} is allowed",
        "bore it to its full size and depth", measured=found if np.isfinite(found) else None,
        allowed=WALL_OFF_MM, place=rounded_place([*notch.points[k], notch.heights[level]]),
    )  # fmt: skip


def _dead_tip(case: Case, side: SideProgram) -> Iterator[Finding]:
    """Yield where a chamfer mill's tip, which does not cut, goes lower than what is open there."""
    numbers = [c.number for c in case.order.cutters if c.kind == "chamfer"]
    mine = np.isin(side.trace.cutter, numbers) & ~side.rapid
    low = np.fmin(side.motions.start[:, 2], side.motions.stop[:, 2])
    hits = np.flatnonzero(mine & (low < side.face - BREAK_SLACK_MM))
    if not len(hits):
        return
    begins = hits[np.diff(hits, prepend=-2) > 1]
    block = np.searchsorted(begins, hits, side="right") - 1
    depth = np.concatenate(
        [_under_tip(case, side, hits[block == k], int(first)) for k, first in enumerate(begins)]
    )
    bad = np.flatnonzero(depth > TIP_BITE_MM)

    def tell(k: int) -> Message:
        found = float(depth[bad[k]])
        sentence = (
            f"the tip of cutter {int(side.trace.cutter[hits[bad[k]]])}, which does not cut, goes "
            f"{mm(found):.3f} into metal"
        )
        return sentence, found, TIP_BITE_MM

    yield from first_and_worst(
        Kind.NEAR_AXIS, side, hits[bad], tell=tell, badness=depth[bad],
        remedy="open the ground first, wider than the tip, and keep the tip above its floor",
    )  # fmt: skip


def _under_tip(case: Case, side: SideProgram, hits: Ints, first: int) -> Floats:
    """Return how deep the tip goes into what motions before ``first`` have left, (k,) mm."""
    row, places = _along(side.motions, hits)
    columns = sample_columns(to_part(side.frame, places)[:, :2], case.order.setup.plate.thickness)
    for other in case.given():
        if other.first > side.first:
            break
        before = slice(0, first if other is side else len(other))
        cut_with_some(columns, other, case.order.setup.flip, before)
    top = columns.top if side.name == "A" else -columns.bottom
    solid = columns.top - columns.bottom > TIP_BITE_MM
    depth = np.zeros(len(hits))
    np.maximum.at(depth, row, np.where(solid, top - places[:, 2], 0.0))
    return depth


def _along(motions: Motions, hits: Ints) -> tuple[Ints, Floats]:
    """Return places (n, 3) along motions, their ends among them, and the hit each belongs to, (n,)."""
    count = np.ceil(motions.lengths[hits] / JUDGED_TIP_SAMPLE_MM).astype(np.int64) + 1
    row = np.repeat(np.arange(len(hits)), count)
    share = 1.0 - (np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)) / np.repeat(
        np.maximum(count - 1, 1), count
    )
    return row, motions.places_at(hits[row], share)

"""What each step of a program met, to the full record: where teeth enter and leave, and their chips.

The sweep of the grid knows what each step took off and how deep. Angles and radial depths come from
exact geometry (`knifecam.simulator.rim`): the rim at the middle of each step is laid over all that
was cut before, by earlier motions of this side and by the other side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Motions
from knifecam.cutting import Engagement
from knifecam.cutting.chip import feed_per_tooth
from knifecam.shop import Cutter, Order
from knifecam.simulator import rim
from knifecam.simulator.forms import Forms, forms_of
from knifecam.simulator.rims import Taken, rims_met
from knifecam.simulator.side import Side

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def engagement_of(
    side: Side, order: Order, *, before: Side | None = None, rows: Bools | None = None
) -> Engagement:
    """Return the whole record of what a side's steps met.

    Angles are those of the rim at the middle of each step, before the metal there is cut: within
    0.002 degrees for flat cutters whatever the grid's cells, where metal is at least 6 degrees wide
    or borders on a wall. For corners and cones they are of the height where most is met across the
    feed, of those looked at between the tip and the full radius; the largest chip is that of the
    whole edge, within 1 %.

    Parameters
    ----------
    side : Side
        Swept.
    order : Order
        For the cutters' flutes and the plate.
    before : Side, optional
        The side cut before, from the other face.
    rows : (S,) bool, optional
        The steps to look at; all, if not given. What is not looked at stays NaN, as do rapids and
        motions of cutters that the order does not name.
    """
    steps = side.steps
    record = steps.engagement
    wanted = np.ones(len(record), bool) if rows is None else np.asarray(rows, bool)
    wanted = wanted & ~side.rapid[record.motion] & side.shapes.known[record.motion]
    near = _near_plate(side, order, record)
    chosen = np.flatnonzero(wanted & near)
    taken = [Taken(side.swept_motions(), _forms(side))]
    if before is not None:
        taken.append(_from_beyond(side, before))
    found = rims_met(side.steps, taken, _plate(side, order), chosen)
    per_tooth = _per_tooth(side, order.cutters)[record.motion]
    angles = _angles(side, record, found, chosen, per_tooth)
    for values in angles.values():
        values[wanted & ~near] = 0.0
    return replace(
        record,
        **angles,
        feed_per_tooth=per_tooth,
        unbroken=unbroken_contact(side),
    )


def unbroken_contact(side: Side) -> Floats:
    """Return for how long the contact lasts that each step is part of, s, (S,); 0 in the air.

    Counted at the programmed feed from where metal is first taken to where none is, over all
    motions between; rapids and changes of cutter end it.
    """
    record = side.steps.engagement
    touched = (record.volume > 0.0) & ~side.rapid[record.motion]
    length = side.motions.lengths[record.motion]
    share = np.where(length > 0.0, record.length / np.where(length > 0.0, length, 1.0), 0.0)
    seconds = 60.0 * side.minutes[record.motion] * share
    cutter = np.asarray(side.trace.cutter)[record.motion]
    new = touched & ~np.concatenate([[False], touched[:-1] & (cutter[1:] == cutter[:-1])])
    run = np.cumsum(new)
    whole = np.bincount(
        run[touched], seconds[touched], minlength=int(run[-1]) + 1 if len(run) else 1
    )
    return np.where(touched, whole[run], 0.0)


def _near_plate(side: Side, order: Order, record: Engagement) -> Bools:
    """Return the steps whose cutter is below the plate's face and at least partly over the plate."""
    plate, (x, y, z) = _plate(side, order), record.place.T
    radius = side.cutter_radius[record.motion]
    beside = np.maximum(plate[[0, 2], None] - (x, y), (x, y) - plate[[1, 3], None]).max(axis=0)
    return np.asarray((z < plate[5]) & (beside < radius))


def _per_tooth(side: Side, cutters: Sequence[Cutter]) -> Floats:
    """Return each motion's feed per tooth, mm; NaN where the cutter or its turning is not known."""
    flutes = np.zeros(len(side))
    for cutter in cutters:
        flutes[np.asarray(side.trace.cutter) == cutter.number] = cutter.flutes
    turning = np.where(np.asarray(side.trace.spindle) != 0, side.trace.speed, 0.0)
    per_tooth = feed_per_tooth(side.motions.feed, flutes, turning)
    return np.where(side.rapid, np.nan, per_tooth)


def _angles(
    side: Side, record: Engagement, found: Floats, chosen: NDArray[np.int64], per_tooth: Floats
) -> dict[str, Any]:
    """Return what the record holds of each step's rim; 0 in the air."""
    looked = {name: np.full(len(record), np.nan) for name in
              ("entry", "exit", "met", "radial", "axial", "chip", "mean_chip")}  # fmt: skip
    motion = record.motion[chosen]
    fz, under = per_tooth[chosen], record.under[chosen]
    high, low, gap = found[:, rim.HIGH], found[:, rim.LOW], found[:, rim.GAP]
    none = found[:, rim.AXIAL] <= 0.0
    clockwise = np.asarray(side.trace.spindle)[motion] >= 0
    quarter = np.pi / 2
    looked["entry"][chosen] = np.where(
        none, 0.0, np.where(clockwise, quarter - high, quarter + low)
    )
    looked["exit"][chosen] = np.where(none, 0.0, np.where(clockwise, quarter - low, quarter + high))
    angle = np.where(none, 0.0, high - low - gap)
    looked["met"][chosen] = angle
    looked["radial"][chosen] = found[:, rim.RADIAL]
    looked["axial"][chosen] = found[:, rim.AXIAL]
    looked["chip"][chosen] = fz * found[:, rim.CHIP]
    looked["mean_chip"][chosen] = fz * _mean(found, angle)
    _plunges(side, record, looked, chosen, fz, under)
    return looked


def _mean(found: Floats, angle: Floats) -> Floats:
    """Return the mean of the chip over the feed per tooth, over the angle that is cut."""
    whole = np.sin(found[:, rim.HIGH]) - np.sin(found[:, rim.LOW])
    left = found[:, rim.EDGE] * whole - found[:, rim.GAP_CHIP]
    return np.where(angle > 0.0, left / np.where(angle > 0.0, angle, 1.0), 0.0)


def _plunges(
    side: Side, record: Engagement, looked: dict[str, Floats], chosen: NDArray[np.int64],
    fz: Floats, under: Floats,
) -> None:  # fmt: skip
    """Fill in steps straight down: all round, by the end face, as deep as the grid saw."""
    motion = record.motion[chosen]
    upright = np.hypot(*side.steps.heading[chosen].T) == 0.0
    down = upright & (side.steps.fall[chosen] > 0.0) & (under > 0.0)
    for rows, share in ((chosen[upright], 0.0), (chosen[down], 1.0)):
        which = upright if share == 0.0 else down
        looked["entry"][rows] = 0.0
        looked["exit"][rows] = looked["met"][rows] = share * 2.0 * np.pi
        looked["radial"][rows] = share * 2.0 * side.cutter_radius[motion[which]]
        looked["axial"][rows] = share * under[which]
        looked["chip"][rows] = looked["mean_chip"][rows] = share * fz[which]


def _plate(side: Side, order: Order) -> Floats:
    """Return the plate's lower and higher X and Y, bed and face, in the side frame."""
    x_low, y_low, x_high, y_high = order.setup.plate.bounds
    x = sorted(side.frame.signs[0] * v for v in (x_low, x_high))
    y = sorted(side.frame.signs[1] * v for v in (y_low, y_high))
    return np.array([*x, *y, side.bed, side.face])


def _forms(side: Side) -> Forms:
    s = side.shapes
    return forms_of(len(side), side.cutter_radius, s.corner, s.tip, s.half_angle)


def _from_beyond(side: Side, before: Side) -> Taken:
    """Return the other side's motions as they lie under this side's frame; heights stay theirs."""
    plane = np.array(before.frame.signs[:2]) * side.frame.signs[:2]
    m = before.swept_motions()
    seen = Motions(
        m.kind, m.start * np.append(plane, 1.0), m.stop * np.append(plane, 1.0), m.centre * plane,
        -m.turns, m.feed,
    )  # fmt: skip
    return Taken(seen, _forms(before), beyond=True)

"""The whole record of what a cutter met: exact contact, step by step.

The sweep of the grid knows what each step took off and how deep. Angles and radial depths come from
exact geometry (`knifecam.sweep.cutter_contact`): the rim at the middle of each step is laid over all that
was cut before, by earlier motions of this side and by the other side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, Motions
from knifecam.cutting import Engagement
from knifecam.cutting.engagement import feed_per_tooth
from knifecam.shop import Cutter, Order
from knifecam.sweep import cutter_contact
from knifecam.sweep.cutter_profile import CutterProfile, cutter_profiles
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_limits import (
    HEIGHT_SHARES,
    HELIX_TURN_RAD,
    LEVEL_RISE_MM,
    LEVEL_TURN_RAD,
    SQUARE_MM,
)
from knifecam.sweep.sweep_steps import ContactSteps
from knifecam.sweep.threads import run_in_threads, thread_shares, usable_threads

Floats = NDArray[np.float64]


Rows = NDArray[np.int64]


class EarlierCuts(NamedTuple):
    """Motions that cut, in the frame of the side looked at, and their cutters.

    Those of the other side are ``beyond``: their heights are their own side's.
    """

    motions: Motions
    forms: CutterProfile
    beyond: bool = False


def contact_of_steps(
    steps: ContactSteps, taken: Sequence[EarlierCuts], plate: Floats, rows: Rows
) -> Floats:
    """Return what the rims of some steps meet, (K, 8): the columns are named in `rim`.

    Parameters
    ----------
    steps : ContactSteps
        Of the motions that are ``taken`` first; each is looked at at its middle.
    taken : sequence of Taken
    plate : (6,) float, mm
        Lower and higher X and Y, fixture and face, in the side frame.
    rows : (K,) int
        The steps to look at.
    """
    found = np.zeros((len(rows), cutter_contact.FOUND))
    if not len(rows):
        return found
    moments = _moments(steps, taken[0], plate[5], rows)
    pieces = np.concatenate([_pieces(one, -plate[4] if one.beyond else plate[5]) for one in taken])
    pieces = pieces[
        np.lexsort((pieces[:, cutter_contact.LOWEST], -pieces[:, cutter_contact.BEYOND]))
    ]
    at = moments[:, [cutter_contact.X, cutter_contact.Y]]
    x0, y0 = (at.min(axis=0)).tolist()
    nx, ny = (np.ceil(np.ptp(at, axis=0) / SQUARE_MM).astype(int) + 1).tolist()
    begins = np.zeros(nx * ny + 1, np.int64)
    looking = float(moments[:, cutter_contact.OWN_RADIUS].max())
    listed = cutter_contact.list_pieces(pieces, x0, y0, SQUARE_MM, nx, ny, looking, begins)
    most = int(np.diff(begins).max())

    def look(low: int, high: int) -> None:
        cutter_contact.look(
            pieces, begins, listed, x0, y0, SQUARE_MM, nx, ny, plate, HEIGHT_SHARES, moments, low, high,
            found, np.empty((most + 1, cutter_contact.PIECE)),
        )  # fmt: skip

    threads = usable_threads()
    run_in_threads(look, thread_shares(np.arange(len(rows) + 1), threads), threads)
    return found


def _moments(steps: ContactSteps, own: EarlierCuts, face: float, chosen: Rows) -> Floats:
    """Return the steps' middles as the kernel takes them, (K, 15)."""
    record, forms, m = steps.engagement, own.forms, own.motions
    motion = record.motion[chosen]
    rows = np.zeros((len(chosen), cutter_contact.MOMENT))
    rows[:, [cutter_contact.X, cutter_contact.Y, cutter_contact.Z]] = record.place[chosen]
    rows[:, [cutter_contact.HX, cutter_contact.HY]] = steps.heading[chosen]
    arc = m.kind[motion] == ARC
    rows[:, cutter_contact.BEND] = np.where(
        arc, np.hypot(*(steps.at[chosen] - m.centre[motion]).T), 0.0
    )
    rows[:, cutter_contact.TURN] = np.sign(m.turns[motion])
    rows[:, cutter_contact.OWN_RADIUS] = forms.radius[motion]
    rows[:, cutter_contact.OWN_FLAT] = forms.flat[motion]
    rows[:, cutter_contact.OWN_RISE] = forms.rise[motion]
    fall = np.maximum(steps.fall[chosen], 0.0)
    rows[:, cutter_contact.FORTH], rows[:, cutter_contact.DOWN] = np.cos(fall), np.sin(fall)
    under = record.under[chosen]
    rows[:, cutter_contact.DEPTH] = np.where(under > 0.0, under, face - rows[:, cutter_contact.Z])
    rows[:, cutter_contact.OWN_MOTION] = motion
    ways = m.lengths
    begin = np.cumsum(ways) - ways
    rows[:, cutter_contact.WAY] = begin[motion] + _in_turn(record.motion)[chosen] * ways[motion]
    return rows


def _in_turn(motion: NDArray[np.int32]) -> Floats:
    """Return how much of its motion lies before the middle of each step, 0 to 1."""
    counts = np.bincount(motion)
    begins = np.cumsum(counts) - counts
    return (np.arange(len(motion)) - begins[motion] + 0.5) / np.maximum(counts[motion], 1)


def _pieces(taken: EarlierCuts, face: float) -> Floats:
    """Return the pieces of all motions that come below the plate's face, (E, 25).

    Lines are one piece each, arcs pieces of half a turn, helices of 30 degrees at most.
    """
    m, forms = taken.motions, taken.forms
    below = np.flatnonzero(np.minimum(m.start[:, 2], m.stop[:, 2]) < face)
    turned = np.where(m.kind == ARC, 2 * np.pi * np.abs(m.turns), 0.0)[below]
    sloped = np.abs(m.stop[below, 2] - m.start[below, 2]) > LEVEL_RISE_MM
    most = np.where(sloped, HELIX_TURN_RAD, LEVEL_TURN_RAD)
    counts = np.maximum(1, np.ceil(turned / most - 1e-9)).astype(int)
    motion = np.repeat(below, counts)
    begins = np.cumsum(counts) - counts
    number = np.arange(len(motion)) - np.repeat(begins, counts)
    low = number / np.repeat(counts, counts)
    high = (number + 1) / np.repeat(counts, counts)
    rows = np.zeros((len(motion), cutter_contact.PIECE))
    _lay_ways(rows, m, motion, low, high)
    rows[:, cutter_contact.PIECE_RADIUS] = forms.radius[motion]
    rows[:, cutter_contact.PIECE_FLAT] = forms.flat[motion]
    rows[:, cutter_contact.PIECE_RISE] = forms.rise[motion]
    rows[:, cutter_contact.PIECE_MOTION] = motion
    begin = np.cumsum(m.lengths) - m.lengths
    rows[:, cutter_contact.SINCE] = begin[motion] + low * m.lengths[motion]
    rows[:, cutter_contact.UNTIL] = begin[motion] + high * m.lengths[motion]
    rows[:, cutter_contact.BEYOND] = float(taken.beyond)
    return rows


def _lay_ways(rows: Floats, m: Motions, motion: Rows, low: Floats, high: Floats) -> None:
    """Fill in where pieces run: lines by start, direction and length, arcs by centre and angles."""
    start, stop, centre = m.start[motion], m.stop[motion], m.centre[motion]
    rise = (stop - start)[:, 2]
    az = start[:, 2] + low * rise
    drop = (high - low) * rise
    chord = (stop - start)[:, :2]
    size = np.hypot(*chord.T)
    arc = (m.kind[motion] == ARC) & (np.abs(m.turns[motion]) * m.radii[motion] > 1e-9)
    line = ~arc & (size > 1e-9)
    first, last = m.radii[motion], np.hypot(*(stop[:, :2] - centre).T)
    path = first + (last - first) * 0.5 * (low + high)
    whole = 2 * np.pi * m.turns[motion]
    begin = np.arctan2(*(start[:, :2] - centre).T[::-1]) + low * whole
    reach = np.where(arc, np.abs(whole) * (high - low), np.where(line, size, 0.0))
    upright = ~arc & ~line
    level = upright | (np.abs(rise) <= LEVEL_RISE_MM)
    rows[:, [cutter_contact.AX, cutter_contact.AY]] = start[:, :2]
    rows[:, cutter_contact.AZ] = np.where(upright, np.minimum(az, az + drop), az)
    along = np.where(line[:, None], chord / np.where(line, size, 1.0)[:, None], (1.0, 0.0))
    rows[:, cutter_contact.UX], rows[:, cutter_contact.UY] = along.T
    rows[:, cutter_contact.SLOPE] = np.where(level, 0.0, drop / np.where(reach > 0.0, reach, 1.0))
    rows[:, cutter_contact.REACH] = reach
    rows[:, cutter_contact.CX], rows[:, cutter_contact.CY] = centre.T
    rows[:, cutter_contact.PATH] = np.where(arc, path, 0.0)
    rows[:, cutter_contact.PIECE_BEGIN] = np.pi + (begin - np.pi) % (
        -2 * np.pi
    )  # as arctan2 tells directions
    rows[:, cutter_contact.SENSE] = np.sign(m.turns[motion])
    rows[:, cutter_contact.LOWEST] = np.minimum(az, az + drop)


Bools = NDArray[np.bool_]


def engagement_of(
    side: SideProgram, order: Order, *, before: SideProgram | None = None, rows: Bools | None = None
) -> Engagement:
    """Return the whole record of what a side's steps met.

    Angles are those of the rim at the middle of each step, before the metal there is cut: within
    0.002 degrees for flat cutters whatever the grid's cells, where metal is at least 6 degrees wide
    or borders on a wall. For corners and cones they are of the height where most is met across the
    feed, of those looked at between the tip and the full radius; the largest chip is that of the
    whole edge, within 1 %.

    Parameters
    ----------
    side : SideProgram
        Swept.
    order : Order
        For the cutters' flutes and the plate.
    before : SideProgram, optional
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
    taken = [EarlierCuts(side.swept_motions(), _forms(side))]
    if before is not None:
        taken.append(_from_beyond(side, before))
    found = contact_of_steps(side.steps, taken, _plate(side, order), chosen)
    per_tooth = motion_feed_per_tooth(side, order.cutters)[record.motion]
    angles = _angles(side, record, found, chosen, per_tooth)
    for values in angles.values():
        values[wanted & ~near] = 0.0
    return replace(
        record,
        **angles,
        feed_per_tooth=per_tooth,
        unbroken=unbroken_contact(side),
    )


def unbroken_contact(side: SideProgram) -> Floats:
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


def _near_plate(side: SideProgram, order: Order, record: Engagement) -> Bools:
    """Return the steps whose cutter is below the plate's face and at least partly over the plate."""
    plate, (x, y, z) = _plate(side, order), record.place.T
    radius = side.cutter_radius[record.motion]
    beside = np.maximum(plate[[0, 2], None] - (x, y), (x, y) - plate[[1, 3], None]).max(axis=0)
    return np.asarray((z < plate[5]) & (beside < radius))


def motion_feed_per_tooth(side: SideProgram, cutters: Sequence[Cutter]) -> Floats:
    """Return each motion's feed per tooth, mm; NaN where the cutter or its turning is not known."""
    flutes = np.zeros(len(side))
    for cutter in cutters:
        flutes[np.asarray(side.trace.cutter) == cutter.number] = cutter.flutes
    turning = np.where(np.asarray(side.trace.spindle) != 0, side.trace.speed, 0.0)
    per_tooth = feed_per_tooth(side.motions.feed, flutes, turning)
    return np.where(side.rapid, np.nan, per_tooth)


def _angles(
    side: SideProgram,
    record: Engagement,
    found: Floats,
    chosen: NDArray[np.int64],
    per_tooth: Floats,
) -> dict[str, Any]:
    """Return what the record holds of each step's rim; 0 in the air."""
    looked = {
        name: np.full(len(record), np.nan)
        for name in ("entry", "exit", "met", "radial", "axial", "chip", "mean_chip")
    }
    motion = record.motion[chosen]
    fz, under = per_tooth[chosen], record.under[chosen]
    high, low, gap = (
        found[:, cutter_contact.HIGH],
        found[:, cutter_contact.LOW],
        found[:, cutter_contact.FOUND_GAP],
    )
    none = found[:, cutter_contact.AXIAL] <= 0.0
    clockwise = np.asarray(side.trace.spindle)[motion] >= 0
    quarter = np.pi / 2
    looked["entry"][chosen] = np.where(
        none, 0.0, np.where(clockwise, quarter - high, quarter + low)
    )
    looked["exit"][chosen] = np.where(none, 0.0, np.where(clockwise, quarter - low, quarter + high))
    angle = np.where(none, 0.0, high - low - gap)
    looked["met"][chosen] = angle
    looked["radial"][chosen] = found[:, cutter_contact.RADIAL]
    looked["axial"][chosen] = found[:, cutter_contact.AXIAL]
    looked["chip"][chosen] = fz * found[:, cutter_contact.CHIP]
    looked["mean_chip"][chosen] = fz * _mean(found, angle)
    _plunges(side, record, looked, chosen, fz, under)
    return looked


def _mean(found: Floats, angle: Floats) -> Floats:
    """Return the mean of the chip over the feed per tooth, over the angle that is cut."""
    whole = np.sin(found[:, cutter_contact.HIGH]) - np.sin(found[:, cutter_contact.LOW])
    left = found[:, cutter_contact.EDGE] * whole - found[:, cutter_contact.GAP_CHIP]
    return np.where(angle > 0.0, left / np.where(angle > 0.0, angle, 1.0), 0.0)


def _plunges(
    side: SideProgram, record: Engagement, looked: dict[str, Floats], chosen: NDArray[np.int64],
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


def _plate(side: SideProgram, order: Order) -> Floats:
    """Return the plate's lower and higher X and Y, fixture and face, in the side frame."""
    x_low, y_low, x_high, y_high = order.setup.plate.bounds
    x = sorted(side.frame.signs[0] * v for v in (x_low, x_high))
    y = sorted(side.frame.signs[1] * v for v in (y_low, y_high))
    return np.array([*x, *y, side.fixture, side.face])


def _forms(side: SideProgram) -> CutterProfile:
    s = side.shapes
    return cutter_profiles(len(side), side.cutter_radius, s.corner, s.tip, s.half_angle)


def _from_beyond(side: SideProgram, before: SideProgram) -> EarlierCuts:
    """Return the other side's motions as they lie under this side's frame; heights stay theirs."""
    plane = np.array(before.frame.signs[:2]) * side.frame.signs[:2]
    m = before.swept_motions()
    seen = Motions(
        m.kind, m.start * np.append(plane, 1.0), m.stop * np.append(plane, 1.0), m.centre * plane,
        -m.turns, m.feed,
    )  # fmt: skip
    return EarlierCuts(seen, _forms(before), beyond=True)

"""Which stages a step may belong to, and how fast its contact with the wall moves.

A stage is told from geometry alone, never from what the text says of itself: bores, slots and
notches by where the axis stands, the trench and its wall by the distance from the outline, a bevel's
stages by what is left between the cutter and the finished surface. Where several stages fit, the one
with the widest limit counts; where none does, all of the cutter's.

In a bore of diameter Dm the rim of a cutter of diameter D runs at Dm / (Dm - D) of the axis' feed
(catalogues print it as the feed inside, ``knifecam.cutting.engagement.feed_inside``), and so
in slots, notches and the blade's inner corners. The rim's place that faces a wall moves as the axis
does and turns as the wall's normal does; along straight walls that is the axis' feed, round the
outside of a corner it is less, and the axis' feed counts. In a corner between two walls the contact
does not run from the one to the other: it leaves the one and begins on the other, at the axis' feed
on both. Where the axis goes round within the cutter's own radius the rim makes the hole itself,
whatever stands there.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bevel
from knifecam.blade.finished_surface import edge_distance, past_plunge
from knifecam.curve import ARC, Curve, signed_distance
from knifecam.measure.bevel_contact import rests
from knifecam.measure.bevel_places import BEVEL_FINISH, PLUNGE, plunge_margin
from knifecam.measure.measure_limits import (
    AT_ONCE_SHARE,
    CLEARS_BESIDE_MM,
    DEPTH_ROUNDING_MM,
    FACING_WALL_COS,
    LEVEL_RAD,
    LOOK_AHEAD_MM,
    LOOK_AHEAD_SHARE,
    MOST_CONTACT_SPEEDUP_TIMES,
    NOT_ZERO_MM,
    ON_WALL_MM,
    ONTO_WALL_SHARE,
    OTHER_WALL_COS,
    OUTER_MM,
    TURN_HALVINGS,
    TURN_SEEN_FROM_MM,
    WALL_NUDGE_MM,
    WEB_SLACK_TIMES,
)
from knifecam.measure.nominal import opened_wider
from knifecam.shop import Order
from knifecam.sweep.columns import Grid, emptied
from knifecam.sweep.side_frames import to_part
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_steps import ContactSteps

Floats = NDArray[np.float64]


Ints = NDArray[np.int64]


Bools = NDArray[np.bool_]


BORE, FIT, SLOT, ROUGH, FINISH, NOTCH, BREAK, NECK, CLEAR = (
    "bore", "fit", "slot", "rough", "finish", "notch", "break", "neck", "clear",
)  # fmt: skip


BEVEL_ROUGH, BEVEL_SEMI = "bevel-rough", "bevel-semi"


WALLS = (FINISH, FIT)
"""Stages in which a stepdown is the height of a wall."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Given:
    """What the order gives the stages that fit each step, (S,): the widest of each.

    ``opens``: no stage that only finishes walls fits. ``fastest`` and ``slowest`` rev/min; ``feed``
    mm/min at the contact; ``tooth`` mm a tooth; ``slot`` mm, how deep it may go in metal on both
    sides; ``stepdown`` mm, of any stage. Infinite (``slowest`` 0) where the order gives the cutter
    no stage.
    """

    opens: Bools
    fastest: Floats
    slowest: Floats
    feed: Floats
    tooth: Floats
    slot: Floats
    stepdown: Floats

    def chosen(self, rows: Bools) -> Given:
        """Return only some of the steps."""
        return Given(**{name: getattr(self, name)[rows] for name in self.__dataclass_fields__})


def given(order: Order, fits: Bools) -> Given:
    """Return what the order gives each step, where ``fits`` (S, E) tells which entries it may be of."""
    entries = order.cutting
    teeth = [c.feed / c.spindle / order.cutter(c.cutter).flutes for c in entries]
    opening = np.array([c.stage not in WALLS for c in entries], bool)
    least = max(order.trench.web * WEB_SLACK_TIMES, order.tabs.thickness)
    stepdown = [c.stepdown for c in entries]
    slot = _most(fits & opening, stepdown)
    return Given(
        opens=(fits & opening).any(axis=1) & ~(fits & ~opening).any(axis=1),
        fastest=_most(fits, [c.spindle for c in entries]),
        slowest=-_most(fits, [-c.spindle for c in entries], none=0.0),
        feed=_most(fits, [c.feed for c in entries]),
        tooth=_most(fits, teeth),
        # a finishing stage's stepdown is a wall's height: it may slot no more than web and tab
        slot=np.where(fits.any(axis=1) & ~(fits & opening).any(axis=1), least, slot),
        stepdown=_most(fits, stepdown),
    )


def _most(fits: Bools, values: list[float], none: float = np.inf) -> Floats:
    """Return the greatest of the values that fit each step, (S,)."""
    if not values:
        return np.full(len(fits), none)
    found = np.where(fits, np.asarray(values), -np.inf).max(axis=1)
    return np.where(fits.any(axis=1), found, none)


def fitting(order: Order, side: SideProgram, grid: Grid) -> Bools:
    """Return which of the order's cutting entries each step of a side may be of, (S, E).

    ``grid``: the plate as it was left. Steps in the air are of any of their cutter.
    """
    rows = side.steps
    number = np.asarray(side.trace.cutter)[rows.motion]
    mine = np.stack([number == c.cutter for c in order.cutting], axis=1) if order.cutting else (
        np.zeros((len(rows.motion), 0), bool)
    )  # fmt: skip
    at = np.flatnonzero((rows.engagement.volume > 0.0) & ~side.rapid[rows.motion])
    here = _Here.of(order, side, rows, at)
    sheared = web_over_void(order, side, grid, rows, at, _web_met(order, side, rows, at))
    touched = _touched(here, sheared)
    none = np.zeros(len(at), bool)
    fits = mine.copy()
    for k, entry in enumerate(order.cutting):
        fits[at, k] &= touched.get(entry.stage, none)
    lost = at[~fits[at].any(axis=1)]
    fits[lost] = mine[lost]
    return fits


def _web_met(order: Order, side: SideProgram, rows: ContactSteps, at: Ints) -> Floats:
    """Return how thick a web some steps may shear, (k,) mm: the mean depth, or the greatest.

    What is no thicker than a web with a roughing cutter's corner above it is met by the rim alone:
    the fillet beside the wall that was roughed. There the mean over the width counts.
    """
    e, radius = rows.engagement, side.shapes.radius[rows.motion[at]]
    roughing = [order.cutter(c.cutter).corner for c in order.cutting if c.stage in (ROUGH, CLEAR)]
    fillet = order.trench.web * WEB_SLACK_TIMES + DEPTH_ROUNDING_MM + max(roughing, default=0.0)
    across = radius * (1.0 - np.cos(np.minimum(e.width[at], np.pi)))
    mean = e.volume[at] / np.maximum(e.length[at] * across, NOT_ZERO_MM)
    under = e.under[at]
    return np.asarray(np.where(under <= fillet, np.minimum(mean, under), under))


class _Here(NamedTuple):
    """Some steps in metal: places in the part (k, 2), cutters, and what is met, mm and mm2, (k,)."""

    order: Order
    side: SideProgram
    at: Floats
    tip: Floats
    radius: Floats
    corner: Floats
    cone: Bools
    level: Bools
    section: Floats
    under: Floats

    @classmethod
    def of(cls, order: Order, side: SideProgram, rows: ContactSteps, at: Ints) -> _Here:
        motion, shapes, e = rows.motion[at], side.shapes, rows.engagement
        return cls(
            order,
            side,
            rows.place[at, :2],
            rows.engagement.place[at, 2],
            shapes.radius[motion],
            shapes.corner[motion],
            shapes.half_angle[motion] > 0.0,
            np.abs(rows.fall[at]) < LEVEL_RAD,
            e.volume[at] / np.maximum(e.length[at], NOT_ZERO_MM),
            e.under[at],
        )


def _touched(here: _Here, sheared: Bools) -> dict[str, Bools]:
    """Return by stage where a cutter does what that stage does; ``sheared``: a web over a void."""
    found = _in_openings(here) | _beside_blade(here, sheared) | {BREAK: here.cone}
    for bevel in here.order.blade.bevels:
        if bevel.on(here.side.name):
            for stage, rows in _on_bevel(here, bevel).items():
                found[stage] = found.get(stage, rows) | rows
    return found


def _in_openings(here: _Here) -> dict[str, Bools]:
    """Return where the axis stands in bores, slots and notches."""
    blade = here.order.blade
    bore, fit, slot, notch = (np.zeros(len(here.at), bool) for _ in range(4))
    for one in (*blade.bores, *here.order.setup.registration.bores):
        away = np.hypot(*(here.at - one.centre).T)
        inside = away < one.diameter / 2
        bore |= inside
        rough = (one.diameter - here.order.boring.undersize) / 2 - ON_WALL_MM
        if one.fitted:
            fit |= inside & (away + here.radius > rough)
    for opening in blade.slots:
        slot |= within(here.at, opening.outline)
    for row in blade.jimping:
        for centre in row.centres:
            away = np.hypot(*(here.at - np.array(centre)).T) + here.radius
            notch |= away <= row.diameter / 2 + ON_WALL_MM
    return {BORE: bore, FIT: fit, SLOT: slot, NOTCH: notch}


def within(places: Floats, outline: Curve, deep: Floats | float = 0.0) -> Bools:
    """Return which places (k, 2) lie more than ``deep`` mm, each or all, inside a closed curve."""
    low_x, low_y, high_x, high_y = outline.bounds
    x, y = places.T
    inside = (x > low_x) & (x < high_x) & (y > low_y) & (y < high_y)
    near = np.flatnonzero(inside)
    deep = np.broadcast_to(deep, len(places))
    inside[near] = signed_distance(places[near], outline) > deep[near]
    return np.asarray(inside)


def _beside_blade(here: _Here, sheared: Bools) -> dict[str, Bools]:
    """Return where the axis stands outside the outline, and where the wall's stock is met."""
    order = here.order
    away = -signed_distance(here.at, order.blade.outline.counter_clockwise())
    beside, gap = away > 0.0, away - here.radius
    stock = wall_stock(order)
    at_wall = beside & (gap > -ON_WALL_MM) & (gap <= stock + ON_WALL_MM)
    # where roughing runs, only what takes a thin strip finishes: a lead onto the wall
    at_wall &= (gap < max(stock - ON_WALL_MM, ON_WALL_MM)) | (
        here.section <= ONTO_WALL_SHARE * 2 * here.radius * here.under
    )
    return {
        ROUGH: beside,
        CLEAR: beside,
        FINISH: at_wall | (beside & sheared),
        NECK: beside & (gap < here.radius),
    }


def wall_stock(order: Order) -> float:
    """Return the most that roughing is to leave on the outline's wall, mm."""
    return max((c.allowance for c in order.cutting if c.stage in (ROUGH, CLEAR)), default=0.0)


def round_holes(
    order: Order, places: tuple[Floats, ...], radius: Floats, cone: Bools
) -> Iterator[tuple[tuple[float, float], Ints]]:
    """Yield the middle of each bore and notch, and which motions stay in it.

    It holds their cutter of ``radius`` (k,) mm at all ``places`` (k, 2) of its axis, part frame. A
    ``cone`` (k,) breaks a bore's edge, and only its axis lies within.
    """
    bores = (*order.blade.bores, *order.setup.registration.bores)
    notches = [(centre, row.diameter) for row in order.blade.jimping for centre in row.centres]
    rim = np.where(cone, 0.0, radius)
    holes = [
        (one.centre, one.diameter / 2 + opened_wider(order, one) + ON_WALL_MM - rim)
        for one in bores
    ]
    holes += [(centre, diameter / 2 + ON_WALL_MM - radius) for centre, diameter in notches]
    for centre, room in holes:
        within = [np.hypot(*(place - np.array(centre)).T) <= room for place in places]
        yield centre, np.flatnonzero(np.logical_and.reduce(within))


def _on_bevel(here: _Here, bevel: Bevel) -> dict[str, Bools]:
    """Return by stage where a cutter stands over a bevel with what that stage leaves under it."""
    order, side = here.order, here.side
    d, past = edge_distance(bevel, order.blade.outline, here.at), past_plunge(bevel, here.at)
    tip = rests(order, side.name, bevel, d, (here.radius, here.corner))[2]
    over = here.tip - np.minimum(tip, order.blade.thickness / 2)
    beside = past > plunge_margin(order)
    about = (
        (d > -here.radius - OUTER_MM)
        & (past < here.radius + OUTER_MM)
        & (over > -CLEARS_BESIDE_MM)
        & ~here.cone
    )
    stages = sorted(
        {(max(c.allowance for c in order.cuttings(stage)), stage)
         for stage in (BEVEL_FINISH, BEVEL_SEMI, BEVEL_ROUGH) if order.cuttings(stage)}
    )  # fmt: skip
    between = [(low + high) / 2 for (low, _), (high, _) in pairwise(stages)]
    lead = beside | ~here.level  # passes come from above, and end there beside a plunge
    found = {
        stage: about & (over >= low) & ((over <= high) | lead)
        for (_, stage), low, high in zip(
            stages, [-np.inf, *between], [*between, np.inf], strict=False
        )
    }
    return found | {PLUNGE: about & beside}


def web_over_void(
    order: Order, side: SideProgram, grid: Grid, rows: ContactSteps, at: Ints, depth: Floats
) -> Bools:  # fmt: skip
    """Return where ``depth`` is no more than the web that stays over the other side's trench.

    For some of the steps, those numbered ``at`` (k,) that go ``depth`` (k,) mm deep.
    There is a void beneath the tip with no more than a web between, or the place under it had been
    opened already. A bore's or slot's skin is no such web: no finishing pass shears it, the cutter
    goes round in it turn by turn.
    """
    i = np.floor((rows.place[at, 1] - grid.y0) / grid.cell + 0.5).astype(int)
    j = np.floor((rows.place[at, 0] - grid.x0) / grid.cell + 0.5).astype(int)
    i, j = np.clip(i, 0, grid.top.shape[0] - 1), np.clip(j, 0, grid.top.shape[1] - 1)
    gone = emptied(grid.top[i, j], grid.bottom[i, j], grid.changed[i, j])
    open_ = (gone >= 0) & (gone <= side.first + rows.motion[at])
    web = order.trench.web * WEB_SLACK_TIMES + DEPTH_ROUNDING_MM
    found = np.asarray((depth <= web) & (open_ | (rows.engagement.floor[at] <= web)))
    over = np.flatnonzero(found)
    found[over] = ~_in_opening(order, rows.place[at[over], :2])
    return found


def _in_opening(order: Order, places: Floats) -> Bools:
    """Return which places (K, 2) of the part lie inside a bore or slot of the blade."""
    inside = np.zeros(len(places), bool)
    for bore in order.blade.bores:
        inside |= np.hypot(*(places - bore.centre).T) < bore.diameter / 2
    for slot in order.blade.slots:
        inside |= within(places, slot.outline)
    return inside


def contact_feed(order: Order, side: SideProgram, rows: ContactSteps, at: Ints) -> Floats:
    """Return how fast the contact of the steps numbered ``at`` (k,) moves, (k,) mm/min."""
    share = np.minimum(contact_share(order, side, rows, at), MOST_CONTACT_SPEEDUP_TIMES)
    return np.asarray(side.motions.feed[rows.motion[at]] * share)


def contact_share(
    order: Order, side: SideProgram, rows: ContactSteps, at: Ints, *, over: float = 0.0
) -> Floats:  # fmt: skip
    """Return how many times as fast as the axis the contact of some steps moves, (k,), at least 1.

    ``over`` mm of way about the middle of shorter steps, not 0: how many times as long the metal is,
    which in corners lies along both walls. A wall of many short lines turns only between them.
    """
    motion = rows.motion[at]
    places, heading = rows.place[at, :2], rows.heading[at] * side.frame.signs[:2]
    cone = side.shapes.half_angle[motion] > 0.0
    radius = np.where(cone, contact_radius(side, rows, at), side.shapes.radius[motion])
    share = np.maximum(1.0, _of_holes(side, motion, rows.at[at]))
    ends = [
        to_part(side.frame, to[motion])[:, :2] for to in (side.motions.start, side.motions.stop)
    ]
    for centre, held in round_holes(order, (places, *ends), radius, cone):
        share[held] = np.maximum(1.0, _round(places, heading, radius, held, centre))
    outline = order.blade.outline.counter_clockwise()
    of = radius, np.minimum(LOOK_AHEAD_SHARE * np.maximum(rows.run[at], over), LOOK_AHEAD_MM)
    near = np.flatnonzero(_near_wall(order, places, radius, outline))
    share[near] = np.maximum(
        share[near], _facing(places, heading, of, near, outline, over=over > 0)
    )
    # what reaches over an opening's wall goes over the opening, not round in it
    rim, room = np.where(cone, 0.0, radius), opened_wider(order, None) + ON_WALL_MM
    for slot in order.blade.slots:
        near = np.flatnonzero(within(places, slot.outline, rim - room))
        share[near] = np.maximum(
            share[near], _facing(places, heading, of, near, slot.outline, over=over > 0)
        )
    return share


def stretched(
    order: Order, side: SideProgram, rows: ContactSteps, at: Ints, *, over: float
) -> Floats:
    """Return how much longer than the axis' way that of the metal is on arcs, (k,), at least 1.

    A full cut on a radius c within the cutter's own R sweeps (c + R)^2 / 4 c R times what it does
    straight on; along walls it is the way of the rim, ``over`` mm of the axis' at least.
    """
    m, motion = side.motions, rows.motion[at]
    radius = side.shapes.radius[motion]
    bend = np.hypot(*(rows.at[at] - m.centre[motion]).T)
    bend = np.where(m.kind[motion] == ARC, np.clip(bend, 1e-9, radius), radius)
    full = (bend + radius) ** 2 / (4 * bend * radius)
    return np.asarray(np.maximum(full, contact_share(order, side, rows, at, over=over)))


def contact_radius(side: SideProgram, rows: ContactSteps, at: Ints) -> Floats:
    """Return the cutter's radius at the top of the metal that steps meet, (k,) mm."""
    return side.shapes.radius_at(rows.motion[at], rows.engagement.under[at])


def _of_holes(side: SideProgram, motion: NDArray[np.int32], at: Floats) -> Floats:
    """Return (c + R) / c where the axis goes round on a radius c of no more than R, else 0, (k,)."""
    m, radius = side.motions, side.shapes.radius[motion]
    bend = np.hypot(*(at - m.centre[motion]).T)
    hole = (m.kind[motion] == ARC) & (np.abs(m.turns[motion]) >= 0.5) & (bend <= radius)
    return np.where(hole, 1.0 + radius / np.maximum(bend, 1e-9), 0.0)


def _round(
    places: Floats, heading: Floats, radius: Floats, at: Ints, centre: tuple[float, float]
) -> Floats:
    """Return how many times as fast as the axis the rim runs along a round wall, (n,)."""
    arm = places[at] - centre
    away = np.maximum(np.hypot(*arm.T), 1e-9)
    across = np.abs(heading[at, 0] * arm[:, 1] - heading[at, 1] * arm[:, 0]) / away
    return np.asarray(across * (1.0 + radius[at] / away))


def _near_wall(order: Order, places: Floats, radius: Floats, outline: Curve) -> Bools:
    """Return which axes stand beside the blade, no farther off than the stock that roughing leaves."""
    low_x, low_y, high_x, high_y = outline.bounds
    (x, y), grown = places.T, radius + wall_stock(order) + ON_WALL_MM
    near = (x > low_x - grown) & (x < high_x + grown) & (y > low_y - grown) & (y < high_y + grown)
    tried = np.flatnonzero(near)
    away = -signed_distance(places[tried], outline)
    near[tried] = (away > radius[tried] - ON_WALL_MM) & (away < grown[tried])
    return np.asarray(near)


def _facing(
    places: Floats, heading: Floats, of: tuple[Floats, Floats], at: Ints, wall: Curve,
    *, over: bool = False,
) -> Floats:  # fmt: skip
    """Return how many times as fast as the axis the rim runs that faces a wall, (n,).

    ``of``: the cutters' radii and how far the wall is looked at before and behind, (k,) mm.
    """
    radius, ahead = (one[at][:, None] for one in of)
    ahead = np.maximum(ahead, WALL_NUDGE_MM)
    before, behind = (_ways(places[at] + step * heading[at], wall) for step in (ahead, -ahead))
    turns = (np.sum(before * behind, axis=1) > (FACING_WALL_COS if over else OTHER_WALL_COS)) & (
        ahead[:, 0] > LOOK_AHEAD_SHARE * TURN_SEEN_FROM_MM
    )
    rim = np.hypot(*(heading[at] + radius / (2 * ahead) * (before - behind)).T)
    turning = np.flatnonzero(turns & (rim > 1.0) & (not over))
    some = places[at][turning], heading[at][turning]
    turns[turning] = ~_at_corner(*some, ahead[turning], (before[turning], behind[turning]), wall)
    return np.where(turns, rim, 1.0)


def _at_corner(
    places: Floats, heading: Floats, ahead: Floats, ways: tuple[Floats, Floats], wall: Curve
) -> Bools:
    """Return whether the way to a wall turns at one place rather than by and by, (n,).

    ``ways``: those from ``ahead`` (n, 1) mm before and behind, (n, 2) each.
    """
    front, back = ways
    high, low = ahead, -ahead
    whole = np.hypot(*(front - back).T)
    for _ in range(TURN_HALVINGS):
        middle = (low + high) / 2
        way = _ways(places + middle * heading, wall)
        first = (np.hypot(*(way - back).T) > np.hypot(*(front - way).T))[:, None]
        front, back = np.where(first, way, front), np.where(first, back, way)
        high, low = np.where(first, middle, high), np.where(first, low, middle)
    return np.asarray(np.hypot(*(front - back).T) > AT_ONCE_SHARE * whole)


def _ways(places: Floats, wall: Curve) -> Floats:
    """Return the unit ways from places (n, 2) to a closed curve; 0 midway between two walls."""
    if not len(places):
        return np.zeros((0, 2))
    far = [
        np.abs(signed_distance(places + way, wall)) - np.abs(signed_distance(places - way, wall))
        for way in ((WALL_NUDGE_MM, 0.0), (0.0, WALL_NUDGE_MM))
    ]
    ways = -np.stack(far, axis=1)
    size = np.hypot(*ways.T)[:, None]
    return np.where(size > WALL_NUDGE_MM, ways / np.maximum(size, 1e-12), 0.0)

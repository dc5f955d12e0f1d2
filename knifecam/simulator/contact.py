"""How fast the contact moves: the rim where it faces the wall that stays, not the axis.

In a bore of diameter Dm the rim of a cutter of diameter D runs at Dm / (Dm - D) of the axis' feed
(catalogues print it as the feed inside, ``knifecam.cutting.speeds.feed_inside``), and so in slots,
notches and the blade's inner corners. The rim's place that faces a wall moves as the axis does and
turns as the wall's normal does; along straight walls that is the axis' feed, round the outside of a
corner it is less, and the axis' feed counts. In a corner between two walls the contact does not run
from the one to the other: it leaves the one and begins on the other, at the axis' feed on both.
Where the axis goes round within the cutter's own radius the rim makes the hole itself, whatever
stands there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import ARC, Curve, signed_distance
from knifecam.shop import Order
from knifecam.simulator.frame import to_part
from knifecam.simulator.side import Side
from knifecam.simulator.stage import ON_WALL, round_holes, wall_stock, within
from knifecam.simulator.steps import Steps
from knifecam.simulator.wanted import opened_wider

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

AHEAD, WITHIN = 0.25, 0.45
"""mm before and behind the axis where the way to the wall is taken, to see how it turns, but no more
than this share of the step."""

SHORTEST = 0.02
"""mm: in shorter steps a wall is not seen to turn, only to have corners."""

JUMP, ACROSS = 0.5, -0.5
"""Cosines of the turn beyond which it is another wall that is nearest, and one on the other side: where
metal lies along both walls of a corner only the latter ends it."""

NEARER = 5
"""Halvings of the way looked at, toward where the wall turns most."""

AT_ONCE = 0.5
"""Of a turn: what of it is still seen after those halvings is a corner between two walls."""

NUDGE = 1e-7
"""mm: how far apart distances from a wall are taken for the way to it: nowhere is it that of two."""

MOST = 5.0
"""A contact counts as at most so many times as fast: on arcs of less than a quarter of the cutter's
radius the axis all but turns on the spot, and chips are those of the axis' feed."""


def contact_feed(order: Order, side: Side, rows: Steps, at: Ints) -> Floats:
    """Return how fast the contact of the steps numbered ``at`` (k,) moves, (k,) mm/min."""
    share = np.minimum(contact_share(order, side, rows, at), MOST)
    return np.asarray(side.motions.feed[rows.motion[at]] * share)


def contact_share(
    order: Order, side: Side, rows: Steps, at: Ints, *, over: float = 0.0
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
    of = radius, np.minimum(WITHIN * np.maximum(rows.run[at], over), AHEAD)
    near = np.flatnonzero(_near_wall(order, places, radius, outline))
    share[near] = np.maximum(
        share[near], _facing(places, heading, of, near, outline, over=over > 0)
    )
    # what reaches over an opening's wall goes over the opening, not round in it
    rim, room = np.where(cone, 0.0, radius), opened_wider(order, None) + ON_WALL
    for slot in order.blade.slots:
        near = np.flatnonzero(within(places, slot.outline, rim - room))
        share[near] = np.maximum(
            share[near], _facing(places, heading, of, near, slot.outline, over=over > 0)
        )
    return share


def stretched(order: Order, side: Side, rows: Steps, at: Ints, *, over: float) -> Floats:
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


def contact_radius(side: Side, rows: Steps, at: Ints) -> Floats:
    """Return the cutter's radius at the top of the metal that steps meet, (k,) mm."""
    return side.shapes.radius_at(rows.motion[at], rows.engagement.under[at])


def _of_holes(side: Side, motion: NDArray[np.int32], at: Floats) -> Floats:
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
    (x, y), grown = places.T, radius + wall_stock(order) + ON_WALL
    near = (x > low_x - grown) & (x < high_x + grown) & (y > low_y - grown) & (y < high_y + grown)
    tried = np.flatnonzero(near)
    away = -signed_distance(places[tried], outline)
    near[tried] = (away > radius[tried] - ON_WALL) & (away < grown[tried])
    return np.asarray(near)


def _facing(
    places: Floats, heading: Floats, of: tuple[Floats, Floats], at: Ints, wall: Curve,
    *, over: bool = False,
) -> Floats:  # fmt: skip
    """Return how many times as fast as the axis the rim runs that faces a wall, (n,).

    ``of``: the cutters' radii and how far the wall is looked at before and behind, (k,) mm.
    """
    radius, ahead = (one[at][:, None] for one in of)
    ahead = np.maximum(ahead, NUDGE)
    before, behind = (_ways(places[at] + step * heading[at], wall) for step in (ahead, -ahead))
    turns = (np.sum(before * behind, axis=1) > (ACROSS if over else JUMP)) & (
        ahead[:, 0] > WITHIN * SHORTEST
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
    for _ in range(NEARER):
        middle = (low + high) / 2
        way = _ways(places + middle * heading, wall)
        first = (np.hypot(*(way - back).T) > np.hypot(*(front - way).T))[:, None]
        front, back = np.where(first, way, front), np.where(first, back, way)
        high, low = np.where(first, middle, high), np.where(first, low, middle)
    return np.asarray(np.hypot(*(front - back).T) > AT_ONCE * whole)


def _ways(places: Floats, wall: Curve) -> Floats:
    """Return the unit ways from places (n, 2) to a closed curve; 0 midway between two walls."""
    if not len(places):
        return np.zeros((0, 2))
    far = [
        np.abs(signed_distance(places + way, wall)) - np.abs(signed_distance(places - way, wall))
        for way in ((NUDGE, 0.0), (0.0, NUDGE))
    ]
    ways = -np.stack(far, axis=1)
    size = np.hypot(*ways.T)[:, None]
    return np.where(size > NUDGE, ways / np.maximum(size, 1e-12), 0.0)

"""Cutter radius compensation: the path of the cutter's axis from the programmed path.

The axis is kept a radius off the path, left of it for G41 and right of it for G42. An outer corner
is rounded by an arc about it, an inner corner is refused. The first motion leads from wherever the
axis stands to its place at the end of that motion: a straight one along the tangent to the circle
about the end, an arc so that the cutter stays tangent to an auxiliary arc through the end.

Vectors are pairs in mm; ``hand`` is 1 on the left and -1 on the right.

References: NISTIR 6556, 3.5.10 (G40, G41, G42) and Appendix B; thresholds of its reference
interpreter.
"""

from __future__ import annotations

import math

from knifecam.errors import ProgramError
from knifecam.quantity import mm
from knifecam.simulator.rs274.arcs import (
    FULL,
    Arc,
    Pair,
    are_one,
    check_radii,
    size,
    turns_about,
)

CORNER = 0.01
"""rad: a path that turns toward the cutter by more has an inner corner."""

STRAIGHT_ON = 1e-9
"""rad: a path that turns away from the cutter by less needs no arc."""

Piece = tuple[float, float, float, float, float]
"""End x and y, centre x and y, turns; a straight piece has 0 turns."""


def first_line(axis: Pair, end: Pair, radius: float, hand: int) -> Pair:
    """Return where the axis goes on the first, straight motion to ``end``.

    Raises
    ------
    ProgramError
        Where the cutter covers the end already.
    """
    if radius == 0:
        return end
    x, y = end[0] - axis[0], end[1] - axis[1]
    away = size(x, y)
    if not away > radius:
        raise ProgramError(
            f"the cutter stands {mm(away):.4f} from the end of the first motion under compensation "
            f"and its radius is {mm(radius):g}: it would gouge; start further away"
        )
    # the tangent makes the angle asin(r / away) with the way to the end, on the cutter's side
    sine = hand * radius / away
    cosine = math.sqrt(1 - sine * sine)
    along = ((x * cosine - y * sine) / away, (x * sine + y * cosine) / away)
    return set_off(end, along, radius, hand)


def set_off(place: Pair, along: Pair, radius: float, hand: int) -> Pair:
    """Return where the axis is when the path at ``place`` has the unit direction ``along``."""
    return place[0] - hand * radius * along[1], place[1] + hand * radius * along[0]


def corner(axis: Pair, at: Pair, along: Pair, radius: float, hand: int) -> list[Piece]:
    """Return the arc round a corner of the path, if it needs one.

    Parameters
    ----------
    axis : (x, y), mm
        Where the axis stands, a radius off the path that ends at the corner.
    at : (x, y), mm
        The corner.
    along : (x, y)
        The unit direction in which the path goes on.

    Raises
    ------
    ProgramError
        For an inner corner.
    """
    if radius == 0:
        return []
    turned = turned_away(axis, at, along, hand)
    if turned < -CORNER:
        raise ProgramError(
            f"the path turns {math.degrees(-turned):.3f} degrees toward the cutter: under "
            "compensation an inner corner must be an arc of more than the cutter's radius"
        )
    if turned <= STRAIGHT_ON:
        return []
    x, y = set_off(at, along, radius, hand)
    return [(x, y, at[0], at[1], -hand * turned / FULL)]


def turned_away(axis: Pair, at: Pair, along: Pair, hand: int) -> float:
    """Return by how much the path turns away from the cutter at a corner, rad, at most a bit over pi."""
    # the direction in which the path came: the way from corner to axis, turned back
    out = axis[0] - at[0], axis[1] - at[1]
    came = hand * out[1], -hand * out[0]
    turned = -hand * math.atan2(
        came[0] * along[1] - came[1] * along[0], came[0] * along[0] + came[1] * along[1]
    )
    return turned + FULL if turned < CORNER - math.pi else turned


def next_line(
    axis: Pair, at: Pair, end: Pair, radius: float, hand: int, *, rounded: bool
) -> list[Piece]:
    """Return the pieces for a straight motion from ``at`` to ``end``, without arc for a rapid.

    Raises
    ------
    ProgramError
        For an inner corner, and where the axis would have to go backward.
    """
    if are_one(at, end):
        return [(axis[0], axis[1], 0.0, 0.0, 0.0)]
    length = size(end[0] - at[0], end[1] - at[1])
    along = (end[0] - at[0]) / length, (end[1] - at[1]) / length
    round_ = corner(axis, at, along, radius, hand)
    x, y = set_off(end, along, radius, hand)
    if not round_ and (x - axis[0]) * along[0] + (y - axis[1]) * along[1] < 0:
        raise ProgramError("the path is more tightly hollow than the cutter's radius")
    return [*(round_ if rounded else []), (x, y, 0.0, 0.0, 0.0)]


def first_arc(
    axis: Pair, end: Pair, arc: Arc, radius: float, hand: int, *, units: float
) -> list[Piece]:
    """Return the piece for a first motion along an arc about a centre.

    The auxiliary arc about it passes through ``end``; the cutter must touch it where it stands.
    """
    centre = arc[0], arc[1]
    hollow = hand * arc[2] > 0
    reach = size(end[0] - centre[0], end[1] - centre[1])
    check_hollow(reach, radius, hollow=hollow)
    due = reach - radius if hollow else reach + radius
    check_radii(size(axis[0] - centre[0], axis[1] - centre[1]), due, units)
    stop = beside_arc(end, centre, arc[2], radius, hand)
    turns = turns_about(centre, axis, stop, clockwise=arc[2] < 0)
    return [(*stop, *centre, turns)]


def centre_of_first(
    axis: Pair, end: Pair, reach: float, radius: float, hand: int, *, clockwise: bool
) -> Pair:
    """Return the centre of the auxiliary arc that R gives for a first motion.

    Raises
    ------
    ProgramError
        Where no arc of that radius through the end touches the cutter.
    """
    hollow = (hand > 0) != clockwise
    check_hollow(abs(reach), radius, hollow=hollow)
    due = abs(reach) - radius if hollow else abs(reach) + radius
    x, y = end[0] - axis[0], end[1] - axis[1]
    away = size(x, y)
    along = (away * away + due * due - reach * reach) / (2 * away) if away > 0 else math.inf
    if not abs(along) <= due:
        raise ProgramError(
            f"R={mm(reach):g} gives no arc to the end of the first motion under compensation that "
            "touches the cutter"
        )
    across = math.sqrt((due - along) * (due + along))
    side = -across if clockwise == (reach > 0) else across
    return axis[0] + (along * x - side * y) / away, axis[1] + (along * y + side * x) / away


def next_arc(axis: Pair, at: Pair, end: Pair, arc: Arc, radius: float, hand: int) -> list[Piece]:
    """Return the pieces for a motion along an arc from ``at`` to ``end``.

    Raises
    ------
    ProgramError
        For an inner corner, and a hollow arc whose radius is not more than the cutter's.
    """
    centre, sense = (arc[0], arc[1]), math.copysign(1.0, arc[2])
    out = (at[0] - arc[0], at[1] - arc[1])
    reach = size(*out)
    check_hollow(reach, radius, hollow=hand * arc[2] > 0)
    along = -sense * out[1] / reach, sense * out[0] / reach
    round_ = corner(axis, at, along, radius, hand)
    start = set_off(at, along, radius, hand)
    turns = arc[2]
    if not round_ and radius > 0:
        # the axis stands off the arc's start by the little the path turned
        turns += _between(centre, axis, start)
        if not turns * arc[2] > 0:
            raise ProgramError("the path is more tightly hollow than the cutter's radius")
    return [*round_, (*beside_arc(end, centre, arc[2], radius, hand), *centre, turns)]


def beside_arc(end: Pair, centre: Pair, turns: float, radius: float, hand: int) -> Pair:
    """Return where the axis is at the end of an arc."""
    out = (end[0] - centre[0], end[1] - centre[1])
    scale = radius / size(*out) * (-1 if hand * turns > 0 else 1)
    return end[0] + scale * out[0], end[1] + scale * out[1]


def check_hollow(reach: float, radius: float, *, hollow: bool) -> None:
    """Refuse a hollow arc the cutter does not fit into.

    Raises
    ------
    ProgramError
    """
    if hollow and not reach > radius:
        raise ProgramError(
            f"the arc's radius is {mm(reach):.4f}: on its hollow side it must be more than the "
            f"cutter's, {mm(radius):g}"
        )


def _between(centre: Pair, start: Pair, stop: Pair) -> float:
    """Return the turns from start to stop the short way."""
    ax, ay, bx, by = (
        start[0] - centre[0],
        start[1] - centre[1],
        stop[0] - centre[0],
        stop[1] - centre[1],
    )
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by) / FULL

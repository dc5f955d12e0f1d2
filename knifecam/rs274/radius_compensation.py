"""Cutter radius compensation, G41 and G42.

The axis is kept a radius off the path, left of it for G41 and right of it for G42. An outer corner
is rounded by an arc about it, an inner corner is refused. The first motion leads from wherever the
axis stands to its place at the end of that motion: a straight one along the tangent to the circle
about the end, an arc so that the cutter stays tangent to an auxiliary arc through the end.

Vectors are pairs in mm; ``side`` is 1 on the left and -1 on the right.

References: NISTIR 6556, 3.5.10 (G40, G41, G42) and Appendix B; thresholds of its reference
interpreter.

References: NISTIR 6556, 3.5.10 (G40, G41, G42) and Appendix B.
"""

from __future__ import annotations

import math

from knifecam.curve import ARC, FEED, RAPID
from knifecam.errors import ProgramError
from knifecam.quantity import mm
from knifecam.rs274 import codes, modal_state
from knifecam.rs274.arc_motion import (
    FULL_TURN_RAD,
    Arc,
    Pair,
    arc_of,
    are_one,
    check_apart,
    check_arc_words,
    check_radii,
    size,
    turns_about,
)
from knifecam.rs274.codes import (
    ARCS,
    CENTRE_LETTERS,
    CLOCKWISE_G2,
    LEFT_G41,
    RAPID_G0,
    Place,
    g_name,
)
from knifecam.rs274.modal_state import State
from knifecam.rs274.motion_record import Record
from knifecam.rs274.rs274_limits import INNER_CORNER_RAD, STRAIGHT_ON_RAD
from knifecam.rs274.straight_motion import Words, axis_bits, feed_of

Piece = tuple[float, float, float, float, float]
"""End x and y, centre x and y, turns; a straight piece has 0 turns."""


def first_line(axis: Pair, end: Pair, radius: float, side: int) -> Pair:
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
    sine = side * radius / away
    cosine = math.sqrt(1 - sine * sine)
    along = ((x * cosine - y * sine) / away, (x * sine + y * cosine) / away)
    return set_off(end, along, radius, side)


def set_off(place: Pair, along: Pair, radius: float, side: int) -> Pair:
    """Return where the axis is when the path at ``place`` has the unit direction ``along``."""
    return place[0] - side * radius * along[1], place[1] + side * radius * along[0]


def corner(axis: Pair, at: Pair, along: Pair, radius: float, side: int) -> list[Piece]:
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
    turned = turned_away(axis, at, along, side)
    if turned < -INNER_CORNER_RAD:
        raise ProgramError(
            f"the path turns {math.degrees(-turned):.3f} degrees toward the cutter: under "
            "compensation an inner corner must be an arc of more than the cutter's radius"
        )
    if turned <= STRAIGHT_ON_RAD:
        return []
    x, y = set_off(at, along, radius, side)
    return [(x, y, at[0], at[1], -side * turned / FULL_TURN_RAD)]


def turned_away(axis: Pair, at: Pair, along: Pair, side: int) -> float:
    """Return by how much the path turns away from the cutter at a corner, rad, at most a bit over pi."""
    # the direction in which the path came: the way from corner to axis, turned back
    out = axis[0] - at[0], axis[1] - at[1]
    came = side * out[1], -side * out[0]
    turned = -side * math.atan2(
        came[0] * along[1] - came[1] * along[0], came[0] * along[0] + came[1] * along[1]
    )
    return turned + FULL_TURN_RAD if turned < INNER_CORNER_RAD - math.pi else turned


def next_line(
    axis: Pair, at: Pair, end: Pair, radius: float, side: int, *, rounded: bool
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
    round_ = corner(axis, at, along, radius, side)
    x, y = set_off(end, along, radius, side)
    if not round_ and (x - axis[0]) * along[0] + (y - axis[1]) * along[1] < 0:
        raise ProgramError("the path is more tightly hollow than the cutter's radius")
    return [*(round_ if rounded else []), (x, y, 0.0, 0.0, 0.0)]


def first_arc(
    axis: Pair, end: Pair, arc: Arc, radius: float, side: int, *, units: float
) -> list[Piece]:
    """Return the piece for a first motion along an arc about a centre.

    The auxiliary arc about it passes through ``end``; the cutter must touch it where it stands.
    """
    centre = arc[0], arc[1]
    hollow = side * arc[2] > 0
    reach = size(end[0] - centre[0], end[1] - centre[1])
    check_hollow(reach, radius, hollow=hollow)
    due = reach - radius if hollow else reach + radius
    check_radii(size(axis[0] - centre[0], axis[1] - centre[1]), due, units)
    stop = beside_arc(end, centre, arc[2], radius, side)
    turns = turns_about(centre, axis, stop, clockwise=arc[2] < 0)
    return [(*stop, *centre, turns)]


def centre_of_first(
    axis: Pair, end: Pair, reach: float, radius: float, side: int, *, clockwise: bool
) -> Pair:
    """Return the centre of the auxiliary arc that R gives for a first motion.

    Raises
    ------
    ProgramError
        Where no arc of that radius through the end touches the cutter.
    """
    hollow = (side > 0) != clockwise
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
    aside = -across if clockwise == (reach > 0) else across
    return axis[0] + (along * x - aside * y) / away, axis[1] + (along * y + aside * x) / away


def next_arc(axis: Pair, at: Pair, end: Pair, arc: Arc, radius: float, side: int) -> list[Piece]:
    """Return the pieces for a motion along an arc from ``at`` to ``end``.

    Raises
    ------
    ProgramError
        For an inner corner, and a hollow arc whose radius is not more than the cutter's.
    """
    centre, sense = (arc[0], arc[1]), math.copysign(1.0, arc[2])
    out = (at[0] - arc[0], at[1] - arc[1])
    reach = size(*out)
    check_hollow(reach, radius, hollow=side * arc[2] > 0)
    along = -sense * out[1] / reach, sense * out[0] / reach
    round_ = corner(axis, at, along, radius, side)
    start = set_off(at, along, radius, side)
    turns = arc[2]
    if not round_ and radius > 0:
        # the axis stands off the arc's start by the little the path turned
        turns += _between(centre, axis, start)
        if not turns * arc[2] > 0:
            raise ProgramError("the path is more tightly hollow than the cutter's radius")
    return [*round_, (*beside_arc(end, centre, arc[2], radius, side), *centre, turns)]


def beside_arc(end: Pair, centre: Pair, turns: float, radius: float, side: int) -> Pair:
    """Return where the axis is at the end of an arc."""
    out = (end[0] - centre[0], end[1] - centre[1])
    scale = radius / size(*out) * (-1 if side * turns > 0 else 1)
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
    return math.atan2(ax * by - ay * bx, ax * bx + ay * by) / FULL_TURN_RAD


_X_AND_Y = 0b011


def switch(code: int, words: Words, state: State) -> None:
    """Do G40, G41 or G42.

    Raises
    ------
    ProgramError
        For G41 and G42 while either is on or G17 is not, and for a diameter that is not known.
    """
    name = g_name(code)
    if code == codes.NO_COMPENSATION_G40:
        state.side, state.corner = 0, None
        return
    if state.side:
        raise ProgramError(f"{name}: compensation is on already; end it by G40 first")
    state.rely(modal_state.PLANE_BIT)
    if state.plane != codes.XY_G17:
        raise ProgramError(f"{name} must stand in the plane of G17")
    if "d" not in words:
        state.rely(modal_state.CUTTER_BIT)
    number = round(words["d"]) if "d" in words else state.cutter
    diameter = state.stored.diameter(number)
    if diameter is None:
        raise ProgramError(
            f"{name} is not understood: the diameter of D{number} is stored in the mill, which the "
            "text does not tell; write the path of the cutter's axis"
        )
    side = 1 if code == LEFT_G41 else -1
    state.side, state.radius = (side, diameter / 2) if diameter >= 0 else (-side, -diameter / 2)
    state.corner = None


def move(motion: int, words: Words, stop: Place, state: State, record: Record, line: int) -> None:
    """Do G0 to G3 under compensation: ``stop`` is the programmed end.

    Raises
    ------
    ProgramError
        For paths the cutter cannot follow, and where the text does not tell where the axis stands.
    """
    state.rely_on_place(_X_AND_Y, f"{g_name(motion)} under compensation")
    end = stop[:2]
    pieces = _arc(motion, words, end, state) if motion in ARCS else _line(motion, end, state)
    lengths = _lengths(pieces, state.place, stop[2])
    rapid = motion == RAPID_G0
    feed = 0.0 if rapid else feed_of(g_name(motion), words, state, sum(lengths))
    last = len(pieces) - 1
    for k, (x, y, centre_x, centre_y, turns) in enumerate(pieces):
        if k < last and not lengths[k] > 0:
            continue
        z = stop[2] if k == last else state.z
        kind = ARC if turns else RAPID if rapid else FEED
        row = (kind, state.x, state.y, state.z, x, y, z, centre_x, centre_y, turns, feed)
        record.go(row, line, state, told=axis_bits(words) if k == last else 0)
    state.corner = end


def _line(motion: int, end: Pair, state: State) -> list[Piece]:
    axis = state.x, state.y
    if state.corner is None:
        return [(*first_line(axis, end, state.radius, state.side), 0.0, 0.0, 0.0)]
    return next_line(axis, state.corner, end, state.radius, state.side, rounded=motion != RAPID_G0)


def _arc(motion: int, words: Words, end: Pair, state: State) -> list[Piece]:
    check_arc_words(motion, words, state)
    axis, clockwise = (state.x, state.y), motion == CLOCKWISE_G2
    if state.corner is not None:
        arc = arc_of(motion, words, state, state.corner, end)
        return next_arc(axis, state.corner, end, arc, state.radius, state.side)
    if state.radius == 0:
        arc = arc_of(motion, words, state, axis, end)
        return [(*end, *arc)]
    if "r" in words:
        centre = centre_of_first(
            axis, end, words["r"] * state.units, state.radius, state.side, clockwise=clockwise
        )
    else:
        toward = [words.get(letter, 0.0) * state.units for letter in CENTRE_LETTERS[:2]]
        centre = axis[0] + toward[0], axis[1] + toward[1]
    sense = -1.0 if clockwise else 1.0
    pieces = first_arc(axis, end, (*centre, sense), state.radius, state.side, units=state.units)
    if "r" in words:
        check_apart(axis, pieces[-1][:2])
    return pieces


def _lengths(pieces: list[Piece], start: Place, z: float) -> list[float]:
    """Return the lengths of the pieces, mm; the last one goes to the height ``z``."""
    x, y, lengths = start[0], start[1], []
    for end_x, end_y, centre_x, centre_y, turns in pieces:
        chord = size(end_x - x, end_y - y)
        lengths.append(
            FULL_TURN_RAD * abs(turns) * size(x - centre_x, y - centre_y) if turns else chord
        )
        x, y = end_x, end_y
    lengths[-1] = math.hypot(lengths[-1], z - start[2])
    return lengths

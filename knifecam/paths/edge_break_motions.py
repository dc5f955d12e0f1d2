"""How a chamfer mill stands to an edge break, and its passes.

A wall's upper edge is broken by a cone of half angle h: at the break's lower end its radius is that
of the tip and what it gains over ``below`` mm, so the axis runs on the curve that far off the wall.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from knifecam.blade import EdgeBreak
from knifecam.blade.blade_limits import FADE_BEYOND_WIDTH_MM
from knifecam.curve import Curve, Motions, circle, place_at, signed_distance
from knifecam.curve.curve import Floats
from knifecam.errors import PlanError
from knifecam.paths.curve_following import Heights, PieceFeed, follow, lead_in, lead_out
from knifecam.paths.opening_motions import circle_pass, off_wall, onto_wall
from knifecam.paths.paths_limits import (
    BREAK_END_RESERVE_MM,
    BREAK_LAP_OVER_MM,
    CONE_CLEAR_MM,
    LAP_PLACES,
    LEAST_ARM_MM,
)
from knifecam.quantity import mm
from knifecam.shop import Cutting, Order
from knifecam.shop.cutter_choice import mill_for
from knifecam.shop.defaults import TIP_GAP
from knifecam.shop.order_record import BREAK
from knifecam.shop.shop_limits import TIP_BELOW_MM
from knifecam.shop.side_view import Floors


@dataclass(frozen=True, slots=True, kw_only=True)
class ChamferStand:
    """How a chamfer mill stands to a break.

    ``away`` mm is its axis' distance from the wall, ``depth`` mm its tip's below the face, ``rim``
    mm its radius at the face: ``away`` and the break's ``width``.
    """

    away: float
    depth: float
    width: float

    @property
    def rim(self) -> float:
        """The radius at the face."""
        return self.away + self.width

    @property
    def aside(self) -> float:
        """How far beside its track it comes down clear of the edge, mm."""
        return self.width + CONE_CLEAR_MM

    @property
    def arm(self) -> float:
        """Radius of the arcs that lead onto the break, mm."""
        return max(LEAST_ARM_MM, self.aside)

    @property
    def run_out(self) -> float:
        """How far past the end of its track the break fades out at most, mm.

        The cone's section at the face reaches sqrt(w (2c + w)) ahead of its axis, and the arc that
        leads off leaves the wall by w within sqrt(2 a w) of an arm a.
        """
        ahead = math.sqrt(self.width * (2 * self.away + self.width))
        return ahead + math.sqrt(2 * self.arm * self.width)

    @property
    def room(self) -> float:
        """How wide the trench must be for it to come down and go along the wall, mm."""
        return self.away + self.aside + self.rim + CONE_CLEAR_MM


def cone_for(*, tip: float, half_angle: float, width: float, below: float) -> ChamferStand:
    """Return how a cone of a tip diameter and half angle breaks an edge, its tip ``below`` it.

    All in mm and rad: ``c = tip / 2 + below tan h``, and the tip lies ``width / tan h + below``
    under the face.
    """
    if not (width > 0 and below >= 0 and 0 < half_angle < math.pi / 2):
        raise ValueError(f"width={width} mm, below={below} mm, half_angle={half_angle} rad")
    slope = math.tan(half_angle)
    return ChamferStand(away=tip / 2 + below * slope, depth=width / slope + below, width=width)


def steps_of(cone: ChamferStand, stepover: float) -> tuple[ChamferStand, ...]:
    """Return the cone's stands at equal steps of width of at most ``stepover``, the last its own.

    The tip stays at its depth; narrower breaks are cut farther off the wall.
    """
    count = max(1, math.ceil(cone.width / stepover - 1e-9))
    widths = cone.width * np.arange(1, count + 1) / count
    return tuple(
        ChamferStand(away=cone.rim - float(w), depth=cone.depth, width=float(w)) for w in widths
    )


def break_lap(
    track: Curve,
    standing: Curve,
    cone: ChamferStand,
    *,
    z: float,
    feed: PieceFeed,
    lead_feed: float,
) -> Motions:
    """Return one lap of a closed track with the wall on its right, the tip at ``z``.

    It begins where there is most room beside the track, clear of all metal that is ``chamfer_stand``:
    the wall as its cutter left it, with inner corners rounder than they are drawn.
    """
    station = _roomiest(track, standing, cone)
    end = station + track.length + min(BREAK_LAP_OVER_MM, track.length / 2)
    return break_stretch(track, station, end, cone, z=z, feed=feed, lead_feed=lead_feed)


def break_stretch(
    track: Curve,
    start: float,
    end: float,
    cone: ChamferStand,
    *,
    z: float,
    feed: PieceFeed,
    lead_feed: float,
) -> Motions:
    """Return the pass along a closed track from one station to another, led in and out."""

    def lead(way: Callable[..., Motions], station: float) -> Motions:
        return way(track, station, radius=cone.arm, aside=cone.aside, z=z, feed=lead_feed)

    along = follow(track, start, end, Heights.level(z), feed)
    return Motions.joined([lead(lead_in, start), along, lead(lead_out, end)])


def _roomiest(track: Curve, standing: Curve, cone: ChamferStand) -> float:
    """Return the station at which both leads' ends stand farthest from all metal."""
    stations = np.linspace(0.0, track.length, LAP_PLACES)[:-1]
    past = stations + min(BREAK_LAP_OVER_MM, track.length / 2)
    room = np.minimum(
        room_to(lead_ends(track, stations, cone, -1.0), standing, track),
        room_to(lead_ends(track, past, cone, 1.0), standing, track),
    )
    best = int(np.argmax(room))
    if not room[best] >= cone.rim + CONE_CLEAR_MM / 2:
        raise PlanError(
            f"width={mm(cone.width):.3f}: nowhere along it does the chamfer mill come down clear of"
            f" metal, which wants {mm(cone.rim + CONE_CLEAR_MM / 2):.3f} all round and finds"
            f" {mm(room[best]):.3f}; use a mill of smaller tip, or order a narrower break"
        )
    return float(stations[best])


def room_to(places: Floats, standing: Curve, track: Curve) -> Floats:
    """Return how far places (K, 2) are from the metal behind a closed curve, below 0 within it, mm.

    The metal lies on the side of the curve on which the ``track`` does not, which never crosses it.
    """
    outside = signed_distance(place_at(track, 0.0)[0], standing.counter_clockwise())[0] < 0
    room = signed_distance(places, standing.counter_clockwise())
    return -room if outside else room


def lead_ends(track: Curve, stations: Floats, cone: ChamferStand, way: float) -> Floats:
    """Return where the leads at stations (K,) begin (``way`` -1) or end (+1), (K, 2)."""
    points, headings = place_at(track, stations)
    angle = math.acos(1 - cone.aside / cone.arm)
    along = way * cone.arm * math.sin(angle)
    ahead = np.stack([np.cos(headings), np.sin(headings)], axis=1)
    left = np.stack([-np.sin(headings), np.cos(headings)], axis=1)
    return np.asarray(points + along * ahead + cone.aside * left)


def break_bore(
    centre: tuple[float, float], radius: float, cone: ChamferStand, *, z: float, feed: float
) -> Motions:
    """Return the pass that breaks the edge of a bore of ``radius`` mm, from its middle and back.

    Counter-clockwise from above.
    """
    ring = radius - cone.away
    return Motions.joined(
        [
            onto_wall(centre, ring, z, feed),
            circle_pass(centre, ring, z, feed),
            off_wall(centre, ring, z, feed),
        ]
    )


def breaks_on(order: Order, side: str, *, openings: bool) -> tuple[EdgeBreak, ...]:
    """Return a side's breaks of bores and slots, or of the outline."""
    return tuple(
        one for one in order.blade.breaks if one.side == side and (one.of != "outline") == openings
    )


def entry_for_break(order: Order, one: EdgeBreak) -> Cutting:
    """Return the entry whose chamfer mill makes the break's angle, one thick enough if there is any.

    Raises
    ------
    PlanError
        When there is none.
    """
    entries = order.cuttings(BREAK)
    mill = mill_for([order.cutter(entry.cutter) for entry in entries], one)
    if mill is not None:
        return next(entry for entry in entries if entry.cutter == mill.number)
    raise PlanError(
        f"edge break '{one.name}' of {one.of}, angle={np.degrees(one.angle):.2f} deg: no chamfer mill of"
        f" stage 'break' has half_angle={90 - np.degrees(one.angle):.2f} deg; add one"
    )


def cone_of(order: Order, one: EdgeBreak, below: float = TIP_BELOW_MM) -> ChamferStand:
    """Return how the break's chamfer mill stands to it."""
    cutter = order.cutter(entry_for_break(order, one).cutter)
    return cone_for(
        tip=cutter.tip, half_angle=cutter.half_angle, width=one.width, below=below
    )  # fmt: skip


def chamfer_stand(order: Order, one: EdgeBreak, floors: Floors) -> ChamferStand:
    """Return the cone with its tip as far below the break as side A's trench lets it.

    That is `TIP_BELOW_MM`, or less, down to 0.3 mm, where the trench is shallow; side B's groove is
    made deep enough, and openings are.
    """
    cone = cone_of(order, one)
    if one.side != "A" or one.of != "outline":
        return cone
    deep = order.blade.thickness / 2 - floors.a_finish - TIP_GAP
    return cone_of(order, one, min(TIP_BELOW_MM, TIP_BELOW_MM - (cone.depth - deep)))


def fade_length(cone: ChamferStand) -> float:
    """Return how far from a stretch's end its track ends, so that the break fades out there, mm."""
    return max(0.0, cone.run_out - (cone.width + FADE_BEYOND_WIDTH_MM) + BREAK_END_RESERVE_MM)


def curve_of(order: Order, one: EdgeBreak) -> Curve | None:
    """Return the closed curve a break runs along, part frame; None where the blade has none."""
    if one.of == "outline":
        return order.blade.outline
    for bore in order.blade.bores:
        if bore.name == one.of:
            return circle(bore.centre, bore.diameter)
    return next((slot.outline for slot in order.blade.slots if slot.name == one.of), None)

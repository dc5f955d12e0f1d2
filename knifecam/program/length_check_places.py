"""Where cutters' lengths are checked: bare plate in the border, solid all the way down.

A block on ground that is cut already bridges or drops, and who corrects a length by it cuts as much
too deep. So one place a side serves all its checks: nothing cuts there on that side, nothing has
cut below it on the other, and no clamp is near.
"""

from __future__ import annotations

import math

import numpy as np
import shapely

from knifecam.curve.curve import Floats
from knifecam.curve.motions import sampled_places
from knifecam.errors import PlanError
from knifecam.planning.plan import Plan
from knifecam.program.program_limits import (
    AMPLE_PLATE_MM,
    BARE_PLATE_SPARE_MM,
    BLOCK_FOOT_MM,
    CLAMP_ROOM_MM,
    PATH_CELL_MM,
)
from knifecam.program.rs274_words import extent, unit_of
from knifecam.program.zero_and_flip_fit import ProgramFrame, program_frame
from knifecam.quantity import mm
from knifecam.shop import Order
from knifecam.shop.side_view import points_on


def check_place(order: Order, plan: Plan, side: str) -> tuple[float, float]:
    """Return where lengths are checked on a side, in its program frame, mm.

    Round it, for the radius of the side's widest cutter or `BLOCK_FOOT_MM` and
    `BARE_PLATE_SPARE_MM`, lies plate that no motion of the side goes over below the face, that side
    A has not cut where it lies below, and that is no part of the blade. Holders stay
    `CLAMP_ROOM_MM` from clamps. Of such places it is one with `AMPLE_PLATE_MM` more where there is
    any, the nearest to the program's zero.

    Raises
    ------
    PlanError
        Where there is none within the plate and the mill's travel.
    """
    frame = program_frame(order, side)
    places = _lattice(order, side, frame)
    places = places[_within_travel(order, plan, side, frame, places)]
    room = _bare_room(order, plan, side, frame, places)
    needed = max(_widest(order, plan, side), BLOCK_FOOT_MM) + BARE_PLATE_SPARE_MM
    clear = _clamp_room(order, side, places) >= _holder(order, plan, side) + CLAMP_ROOM_MM
    fits = (room >= needed) & clear
    if not fits.any():
        raise PlanError(_refusal(order, plan, side, places, np.where(clear, room, 0.0), needed))
    graded = np.where(fits, np.minimum(room, needed + AMPLE_PLATE_MM), -1.0)
    away = np.hypot(*places.T)
    best = np.lexsort((places[:, 1], places[:, 0], np.round(away, 6), -np.round(graded, 6)))[0]
    return float(places[best, 0]), float(places[best, 1])


def clamp_distance(order: Order, plan: Plan, side: str) -> float:
    """Return how far clamps keep off the place of the checks, mm."""
    return _holder(order, plan, side) + CLAMP_ROOM_MM


def _widest(order: Order, plan: Plan, side: str) -> float:
    return max((order.cutter(c.cutter).radius for c in plan.side(side)), default=0.0)


def _holder(order: Order, plan: Plan, side: str) -> float:
    """Return the greatest radius of all that turns on a side, mm."""
    cutters = [order.cutter(c.cutter) for c in plan.side(side)]
    return max((max(c.holder / 2, c.shank / 2, c.radius) for c in cutters), default=0.0)


def _plate(order: Order, side: str, frame: ProgramFrame) -> shapely.Polygon:
    x0, y0, x1, y1 = order.setup.plate.bounds
    corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    return shapely.Polygon(frame.of(points_on(side, corners, order.setup.flip)))


def _lattice(order: Order, side: str, frame: ProgramFrame) -> Floats:
    """Return places (K, 2) all over the plate, at whole mm of the program's frame."""
    x0, y0, x1, y1 = _plate(order, side, frame).bounds
    u, v = (np.arange(math.ceil(a), math.floor(b) + 1.0) for a, b in ((x0, x1), (y0, y1)))
    x, y = (grid.ravel() for grid in np.meshgrid(u, v))
    return np.column_stack([x, y]) + 0.0


def _within_travel(
    order: Order, plan: Plan, side: str, frame: ProgramFrame, places: Floats
) -> np.ndarray:
    """Return which places the mill reaches beside all that the side's cuts want, (K,)."""
    mill, index = order.setup.mill, "AB".index(side)
    zero = None if mill.machine_zero is None else mill.machine_zero[index]
    if zero is not None:
        begin = np.array(mill.travel_from[:2]) - zero[:2]
        return np.asarray(((places >= begin) & (places <= begin + mill.travel[:2])).all(axis=1))
    ends = [end for cut in plan.side(side) for end in extent(frame.motions(cut.motions))]
    if mill.change_place is not None and (aside := mill.change_place[index]) is not None:
        ends.append(np.array(aside))
    if not ends:
        return np.ones(len(places), bool)
    low, high = np.minimum.reduce(ends), np.maximum.reduce(ends)
    span = np.maximum(places, high) - np.minimum(places, low)
    return np.asarray((span <= mill.travel[:2]).all(axis=1))


def _bare_room(order: Order, plan: Plan, side: str, frame: ProgramFrame, places: Floats) -> Floats:
    """Return how much bare, solid plate lies round each place, (K,) mm; 0 on the blade."""
    flip, points = order.setup.flip, shapely.points(places)
    plate = _plate(order, side, frame)
    outline = frame.of(points_on(side, order.blade.outline.points(0.05), flip))
    inside = shapely.contains(plate, points) & ~shapely.contains(shapely.Polygon(outline), points)
    room = np.where(inside, shapely.distance(plate.exterior, points), 0.0)
    for seen in dict.fromkeys(("A", side)):
        for radius, ground in _ground(order, plan, seen):
            turned = ground if seen == side else points_on(side, ground, flip)
            tree = shapely.STRtree(shapely.points(frame.of(turned)))
            _, away = tree.query_nearest(points, return_distance=True, all_matches=False)
            room = np.minimum(room, away - radius - PATH_CELL_MM)
    return np.maximum(room, 0.0)


def _ground(order: Order, plan: Plan, side: str) -> list[tuple[float, Floats]]:
    """Return the radius of each cutter of a side, and where its axis goes below the face, (K, 2).

    In the side's frame, mm, rounded to cells of `PATH_CELL_MM`: no place of a path is further from one
    of them than that.
    """
    top = order.blade.thickness / 2
    cells: dict[float, list[Floats]] = {}
    for cut in plan.side(side):
        places = sampled_places(cut.motions, PATH_CELL_MM)
        low = places[places[:, 2] < top - 1e-9, :2]
        cells.setdefault(order.cutter(cut.cutter).radius, []).append(np.round(low / PATH_CELL_MM))
    merged = ((radius, np.concatenate(rows)) for radius, rows in cells.items())
    return [
        (radius, np.unique(rows, axis=0) * PATH_CELL_MM) for radius, rows in merged if len(rows)
    ]


def _clamp_room(order: Order, side: str, places: Floats) -> Floats:
    """Return how far each place is from the nearest clamp of a side, (K,) mm."""
    room = np.full(len(places), np.inf)
    for clamp in order.setup.clamps:
        if clamp.side == side:
            low, high = (clamp.x_low, clamp.y_low), (clamp.x_high, clamp.y_high)
            away = np.maximum(np.maximum(low - places, places - high), 0.0)
            room = np.minimum(room, np.hypot(*away.T))
    return room


def _refusal(
    order: Order, plan: Plan, side: str, places: Floats, room: Floats, needed: float
) -> str:
    unit, plate = unit_of(order), order.setup.plate
    most = "nowhere is any"
    if len(places) and room.max() > 0:
        x, y = places[int(np.argmax(room))]
        most = f"the most is {mm(room.max()):.1f}, at X{unit.told(x, 1)} Y{unit.told(y, 1)}"
    return (
        f"setup.gap_stop=true: on side {side} no cutter's length can be checked on bare plate: round"
        f" the block {mm(needed):.1f} of the border must stay uncut and solid within the mill's travel,"
        f" clamps {mm(clamp_distance(order, plan, side)):.1f} off; {most}; take a plate wider than"
        f" plate.length={mm(plate.length):g}, plate.width={mm(plate.width):g}, set clamps (clamps)"
        " further away, or write setup.gap_stop = false and prove lengths before the program"
    )

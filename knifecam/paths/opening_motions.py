"""Helices and circles of bores, rings of slots."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np

from knifecam.curve import Curve, Motions, distance, signed_distance
from knifecam.curve.curve import Floats
from knifecam.cutting.engagement import feed_inside
from knifecam.errors import PlanError
from knifecam.paths.curve_following import Heights, PieceFeed, arc, follow, lead_in, lead_out
from knifecam.paths.offset import offset
from knifecam.paths.paths_limits import (
    ARC_CLEAR_MM,
    ASIDE_SHARES,
    FEW_LEAD_PLACES,
    LEAD_ARC_RADII,
    LEAD_PLACES,
    MORE_LEAD_PLACES,
    MOST_LEAD_PLACES,
    ONE_HELIX_DIAMETERS,
    RIM_PLACES,
    TRACK_GOUGE_MM,
)
from knifecam.quantity import Place, mm, most_mm


def radii_of_helices(diameter: float, cutter: float, stepover: float) -> tuple[float, ...]:
    """Return the radii in mm of the centre's helices, inner first, the last making ``diameter``."""
    if not diameter > cutter:
        raise PlanError(
            f"bore diameter={mm(diameter):.3f}: cutter of {mm(cutter):.3f} leaves no helix;"
            f" use one of {most_mm(diameter / 1.25):.2f} or less"
        )
    last = (diameter - cutter) / 2
    first = (ONE_HELIX_DIAMETERS - 1) / 2 * cutter
    if last <= first:
        return (last,)
    count = int(np.ceil((last - first) / stepover - 1e-9))
    return tuple(float(r) for r in np.linspace(first, last, count + 1))


def helix(
    centre: tuple[float, float],
    radius: float,
    *,
    top: float,
    bottom: float,
    pitch: float,
    feed: float,
) -> Motions:
    """Return whole turns of a helix from ``top`` down to ``bottom``, then a full circle there.

    The pitch really used is the greatest that divides the height evenly and is at most ``pitch``.
    It begins and ends at the +X end of the circle.
    """
    if not (radius > 0 and top > bottom and pitch > 0):
        raise ValueError(f"helix of radius {radius} from {top} to {bottom} at pitch {pitch}")
    count = int(np.ceil((top - bottom) / pitch - 1e-9))
    heights = np.linspace(top, bottom, count + 1)
    x, y = centre[0] + radius, centre[1]
    turns = [
        arc((x, y, heights[i]), (x, y, heights[i + 1]), centre, 1.0, feed) for i in range(count)
    ]
    return Motions.joined([*turns, circle_pass(centre, radius, bottom, feed)])


def circle_pass(centre: tuple[float, float], radius: float, z: float, feed: float) -> Motions:
    """Return one full circle at ``z``, from its +X end."""
    place = (centre[0] + radius, centre[1], z)
    return arc(place, place, centre, 1.0, feed)


def onto_wall(centre: tuple[float, float], radius: float, z: float, feed: float) -> Motions:
    """Return the half turn from the bore's middle out to the +X end of the circle."""
    return arc(
        (*centre, z), (centre[0] + radius, centre[1], z), (centre[0] + radius / 2, centre[1]), 0.5, feed
    )  # fmt: skip


def off_wall(centre: tuple[float, float], radius: float, z: float, feed: float) -> Motions:
    """Return the half turn from the +X end of the circle back to the bore's middle."""
    return arc(
        (centre[0] + radius, centre[1], z), (*centre, z), (centre[0] + radius / 2, centre[1]), 0.5, feed
    )  # fmt: skip


def bore_passes(
    centre: tuple[float, float],
    diameter: float,
    *,
    cutter: float,
    top: float,
    bottom: float,
    pitch: float,
    stepover: float,
    ramp: float,
    feed: float,
) -> tuple[Motions, ...]:
    """Return the passes that open a bore from ``top`` to ``bottom`` (side frame), each one chain.

    Wide bores are cleared from the inside outward, so no core is ever left standing. No helix
    falls steeper than ``ramp`` rad. Each pass ends in the middle of the circle, off the wall.
    """
    passes = []
    for radius in radii_of_helices(diameter, cutter, stepover):
        allowed = min(pitch, 2 * np.pi * radius * float(np.tan(ramp)))
        moved = feed_inside(feed, 2 * radius + cutter, cutter)
        down = helix(centre, radius, top=top, bottom=bottom, pitch=allowed, feed=moved)
        passes.append(Motions.joined([down, off_wall(centre, radius, bottom, moved)]))
    return tuple(passes)


def fit_passes(
    centre: tuple[float, float],
    diameter: float,
    *,
    cutter: float,
    bottom: float,
    spring_passes: int,
    feed: float,
    lead_feed: float,
) -> tuple[Motions, ...]:
    """Return the finishing pass of a fitted bore: one circle at full depth and spring circles.

    ``feed`` and the ``lead_feed`` of the arcs onto the wall and off it hold at the contact, mm/min.
    """
    radius = (diameter - cutter) / 2
    moved, led = (feed_inside(one, diameter, cutter) for one in (feed, lead_feed))
    rounds = [circle_pass(centre, radius, bottom, moved)] * (1 + spring_passes)
    return (
        Motions.joined(
            [
                onto_wall(centre, radius, bottom, led),
                *rounds,
                off_wall(centre, radius, bottom, led),
            ]
        ),
    )


def rings(outline: Curve, *, inset: float, stepover: float) -> tuple[Curve, ...]:
    """Return tracks that clear the inside of ``outline``, the innermost first.

    The outermost lies ``inset`` mm inside; each next is ``stepover`` further in, until no room is
    left. All run counter-clockwise, so the wall lies on the right.
    """
    found: list[Curve] = []
    depth = inset
    while True:
        loops = offset(outline, -depth)
        if not loops:
            break
        found.extend(loop.counter_clockwise() for loop in loops)
        depth += stepover
    if not found:
        raise PlanError(
            f"no room for the cutter inside the opening: nothing is left {mm(inset):.3f} inside it;"
            " use a smaller cutter"
        )
    return tuple(reversed(found))


def rough_ring(
    track: Curve, *, top: float, depths: Sequence[float], ramp: float, feed: PieceFeed
) -> Motions:
    """Return all levels of one ring as one chain: each is entered by a ramp along the ring."""
    parts = []
    station, above = 0.0, top
    for level in depths:
        run = (above - level) / np.tan(ramp)
        end = station + run + track.length
        heights = Heights.through([(station, above), (station + run, level)])
        parts.append(follow(track, station, end, heights, feed))
        station, above = end, level
    return Motions.joined(parts)


def finish_ring(
    track: Curve, wall: Curve, *, away: float, stock: float, widest: float, z: float,
    radius: float, feed: PieceFeed,
) -> Motions:  # fmt: skip
    """Return the finishing lap of an opening's wall at ``z``, led in and out on arcs where they fit.

    ``radius`` is the cutter's, ``away`` mm how far the track lies inside the wall, ``stock`` mm
    what roughing left on it: the cutter comes down clear of that. Of it lap and lead take no strip
    wider than ``widest`` mm, along the way of the rim. The lap starts where the opening has most
    room beside the track. On the arcs the rim runs along the wall as it does on the lap beside them,
    and at its feed.

    Raises
    ------
    PlanError
        Where no arc leads onto the wall so.
    """
    if not stock <= widest:
        raise PlanError(
            f"cutting allowance={mm(stock):.3f} is more than the cutter of {mm(2 * radius):.3f} takes"
            f" off an opening's wall in one lap, which is {most_mm(widest):.3f} at this depth: reduce it"
        )
    station, aside, arm = _roomiest(track, wall, (away, stock, widest), radius, feed)
    lap = follow(track, station, station + track.length + 0.8, Heights.level(z), feed)
    way = arm * math.acos(1.0 - aside / arm)
    behind = follow(track, station - way, station, Heights.level(z), feed)
    slowest = min(float(lap.feed[0]), float(behind.feed.min()))
    return Motions.joined(
        [
            lead_in(track, station, radius=arm, aside=aside, z=z, feed=slowest),
            lap,
            lead_out(track, station + 0.8, radius=arm, aside=aside, z=z, feed=float(lap.feed[-1])),
        ]
    )


def _roomiest(
    track: Curve, wall: Curve, of: tuple[float, float, float], radius: float, feed: PieceFeed
) -> tuple[float, float, float]:
    """Return the station, the free way aside and the arc's radius that fit best.

    ``of``: how far the track lies inside the wall, the stock on it, and the widest strip of it, mm.
    """
    away, stock, widest = of
    straight = float(feed(np.array([np.inf]), np.array([0.0]))[0])
    for arm, aside, rooms, stations in _arcs(track.length, radius, stock):
        for station in stations:
            into = lead_in(track, station, radius=arm, aside=aside, z=0, feed=1.0)
            out = lead_out(track, station + 0.8, radius=arm, aside=aside, z=0, feed=1.0)
            ends = np.array([into.start[0, :2], out.stop[0, :2]])
            if (signed_distance(ends, wall) >= away + np.array(rooms)).all() and all(
                signed_distance(_along(one), wall).min() >= away - TRACK_GOUGE_MM
                for one in (into, out)
            ):
                lap = follow(track, station, station + 0.8, Heights.level(0.0), feed)
                longer = straight / float(lap.feed[0])  # the rim's way than the axis'
                if strip_met(into, wall, stock, radius) <= widest * longer:
                    return float(station), aside, arm
                if len(stations) > FEW_LEAD_PLACES:
                    break
    raise PlanError(
        f"an opening's wall, at {Place(track.vertices[0, 0], track.vertices[0, 1]):.2f}, leaves no room"
        f" to lead a cutter of {mm(2 * radius):.3f} onto it, clear of the {mm(stock):.3f} that roughing"
        f" leaves and of strips wider than {mm(widest):.3f}; use a smaller cutter, or less allowance"
    )


def _arcs(
    length: float, radius: float, stock: float
) -> Iterator[tuple[float, float, tuple[float, float], Floats]]:
    """Yield arcs to try: radius, way aside, room that both ends want beside the track, stations.

    In a round hole not much wider than the cutter only a small arc leaves the wall, in one of lines only
    from some places of these. A small arc turns onto the wall sharply, and may take more than a lap
    does: at last come arcs that turn almost as such a track, and leave it by less than their way aside.
    Where the lap has been nothing stands any more.
    """
    fine = np.linspace(0, length, MOST_LEAD_PLACES + 1)[:-1]
    few, tried = (
        np.linspace(0, length, FEW_LEAD_PLACES + 1)[:-1],
        (fine[:: MOST_LEAD_PLACES // MORE_LEAD_PLACES], fine),
    )
    for arm, stations in product((2.0 * radius, radius, radius / 2, radius / 4, radius / 8), tried):
        for aside in (0.3, 0.2, 0.1, 0.05, 0.02):
            if aside <= arm:
                yield arm, aside, (max(0.8 * aside, stock),) * 2, stations
    for arm in (radius * LEAD_ARC_RADII).tolist():
        for aside in (stock + ARC_CLEAR_MM, *(share * arm for share in ASIDE_SHARES)):
            if stock + ARC_CLEAR_MM <= aside <= arm:
                yield arm, aside, (stock + ARC_CLEAR_MM, ARC_CLEAR_MM), few


def _along(arc: Motions) -> Floats:
    """Return places along one counter-clockwise arc, ends included, (n, 2) mm."""
    arm = complex(*(arc.start[0, :2] - arc.centre[0]))
    turned = arm * np.exp(1j * np.linspace(0.0, 2 * np.pi * float(arc.turns[0]), LEAD_PLACES))
    return np.column_stack([turned.real, turned.imag]) + arc.centre[0]


def strip_met(into: Motions, wall: Curve, stock: float, radius: float) -> float:
    """Return how wide a strip of the ``stock`` on a wall a counter-clockwise arc meets at once, mm.

    It is seen across the axis' way, for a cutter of ``radius`` mm that comes out of the open.
    """
    axis = _along(into) @ np.array([1.0, 1j])
    arm = axis - complex(*into.centre[0])
    heading = 1j * arm / np.abs(arm)
    step = np.pi / RIM_PLACES
    turned = np.exp(1j * (step * (np.arange(RIM_PLACES) + 0.5) - np.pi / 2))
    rim = axis[:, None] + radius * heading[:, None] * turned
    places = np.column_stack([rim.real.ravel(), rim.imag.ravel()])
    met = (distance(places, wall) < stock).reshape(rim.shape)
    return float((met * turned.real * step * radius).sum(axis=1).max())

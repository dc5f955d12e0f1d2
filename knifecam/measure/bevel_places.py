"""Which bevel makes a place's surface, and the cusps to expect there.

Passes run along the slope's contour at constant height, s apart in the plane; the cutter has corner
radius r, the slope stands at the angle b against the plane. With the surface itself curved by k
(1/mm, positive where it bulges) a round corner leaves more by the factor 1 + r k.

- s <= r sin 2b, or a ball: r - sqrt(r^2 - (s / (2 cos b))^2), as two circles leave between them;
- above that, while s tan b <= r, the flat end takes part:
  r (1 - cos b) + (s - u) sin b with u = sqrt(2 r s tan b - s^2 tan^2 b);
- above that the rim does: r (1 - sin b - cos b) + s sin b. With r = 0 this is s sin b.

Reference: plane geometry of two like profiles; the figures in `tests/published` are published for
the ball and derived for the others.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.blade import FLAT, Bevel, Blade, grind_height, height_at, slope_at
from knifecam.blade.finished_surface import break_height, edge_distance, half_thickness, rise
from knifecam.curve.distance import signed_line_distance
from knifecam.measure.measure_limits import ALONG_EDGE_SHARE, FLAT_WITHIN_MM, SLOPE_STEP_MM
from knifecam.shop import Order

Floats = NDArray[np.float64]


def cusp_height(
    step: ArrayLike, slope: ArrayLike, corner: ArrayLike, *, ball: ArrayLike = False,
    bulge: ArrayLike = 0.0,
) -> Floats:  # fmt: skip
    """Return the height of the cusps above the surface, mm, square to it.

    Parameters
    ----------
    step : mm in the plane, from pass to pass
    slope : rad
    corner : mm
    ball : whether the cutter's end has no flat
    bulge : 1/mm, the curvature of the surface across the passes
    """
    s, b, r, whole, k = (
        np.asarray(v, dtype=float) for v in np.broadcast_arrays(step, slope, corner, ball, bulge)
    )
    tan, sine, cosine = np.tan(b), np.sin(b), np.cos(b)
    half = np.minimum(s / (2 * cosine), r)
    round_ = (r - np.sqrt(r**2 - half**2)) * (1 + r * k)
    root = np.sqrt(np.maximum(2 * r * s * tan - (s * tan) ** 2, 0.0))
    flat = r * (1 - cosine) + (s - root) * sine
    rim = r * (1 - sine - cosine) + s * sine
    found = np.where(s * tan <= r, flat, rim)
    return np.asarray(np.where((s <= r * np.sin(2 * b)) | (whole > 0), round_, found))


Ints = NDArray[np.int64]


BEVEL_FINISH, PLUNGE = "bevel-finish", "plunge-line"
"""Stages of cutting that leave finished surface."""


@dataclass(frozen=True, eq=False, kw_only=True)
class SurfacePlaces:
    """Places of the blade on one side, and the surface that is wanted there.

    ``points`` (n, 2) mm, part frame; ``target`` (n,) mm above the mid-plane toward the side,
    -inf outside; ``bevel`` (n,) index of the blade's bevel that makes it, -1 for the flat and for
    edge breaks; ``edge`` and ``past`` (n,) mm: distance from that bevel's edge, and past its plunge
    (negative on the bevel, -inf without one).
    """

    side: str
    points: Floats
    target: Floats
    bevel: Ints
    edge: Floats
    past: Floats

    def __len__(self) -> int:
        return len(self.points)

    def chosen(self, rows: NDArray[np.bool_]) -> SurfacePlaces:
        """Return only some of the places."""
        return SurfacePlaces(
            side=self.side, points=self.points[rows], target=self.target[rows],
            bevel=self.bevel[rows], edge=self.edge[rows], past=self.past[rows],
        )  # fmt: skip


class BevelPlace(NamedTuple):
    """How places lie to one bevel, whichever side it is on: (n,) mm each.

    ``edge`` from its edge, ``past`` its plunges (-inf without any), ``risen`` what those add.
    """

    edge: Floats
    past: Floats
    risen: Floats


def bevel_places(blade: Blade, points: Floats) -> tuple[BevelPlace, ...]:
    """Return how ``points`` (n, 2), part frame, lie to each bevel of the blade."""
    return tuple(_lie(bevel, blade, points) for bevel in blade.bevels)


def _lie(bevel: Bevel, blade: Blade, points: Floats) -> BevelPlace:
    past, risen = np.full(len(points), -np.inf), np.zeros(len(points))
    for plunge in bevel.plunges:
        beyond = signed_line_distance(points, plunge.line)
        past = np.maximum(past, beyond)
        risen = np.maximum(risen, rise(plunge.radius, bevel.angle, beyond))
    return BevelPlace(edge_distance(bevel, blade.outline, points), past, risen)


def places_on(
    blade: Blade, points: Floats, side: str, *, metal: bool = False,
    lies: tuple[BevelPlace, ...] | None = None,
) -> SurfacePlaces:  # fmt: skip
    """Return the wanted surface of one side at ``points`` (n, 2), part frame.

    ``metal``: all of them are known to lie in the blade, off bores, slots and notches. ``lies``:
    what `bevel_places` says of them, if that is known.
    """
    count = len(points)
    target, bevel = np.full(count, blade.thickness / 2), np.full(count, -1)
    edge, past = np.full(count, np.nan), np.full(count, -np.inf)
    lies = bevel_places(blade, points) if lies is None and count else lies or ()
    for k, (one, lie) in enumerate(zip(blade.bevels, lies, strict=False)):
        if not one.on(side):
            continue
        height = height_at(one, blade.thickness, side, lie.edge) + lie.risen
        mine = height < target - FLAT_WITHIN_MM
        target = np.where(mine, height, target)
        bevel[mine], edge[mine], past[mine] = k, lie.edge[mine], lie.past[mine]
    return _cut_down(
        blade, SurfacePlaces(side=side, points=points, target=target, bevel=bevel, edge=edge, past=past),
        metal=metal,
    )  # fmt: skip


def _cut_down(blade: Blade, places: SurfacePlaces, *, metal: bool) -> SurfacePlaces:
    """Return the places with edge breaks, and -inf where there is no metal."""
    target, bevel = places.target, places.bevel
    if not metal and len(places):
        target = half_thickness(blade, places.points, places.side)
    else:
        for broken in blade.breaks:
            if broken.side == places.side:
                target = np.minimum(target, break_height(broken, blade, places.points))
    lower = target < places.target - FLAT_WITHIN_MM
    return replace(places, target=target, bevel=np.where(lower, -1, bevel))


def surface_cosine(blade: Blade, places: SurfacePlaces) -> Floats:
    """Return the cosine of the surface's angle against the plane, (n,): 1 on flats.

    A height error times it is the error square to the surface.
    """
    steep = np.zeros(len(places))
    for k, bevel in enumerate(blade.bevels):
        if not bevel.on(places.side):
            continue
        plain = (places.bevel == k) & (places.past <= 0.0)
        steep[plain] = slope_at(bevel, blade.thickness, places.side, places.edge[plain]) ** 2
    rest = (places.bevel < 0) | (places.past > 0.0)
    if rest.any():
        steep[rest] = _steepness(blade, places.points[rest], places.side)
    return np.asarray(1.0 / np.sqrt(1.0 + steep))


def _steepness(blade: Blade, points: Floats, side: str) -> Floats:
    """Return the square of the surface's slope, by differences of its height, (n,)."""
    steps = []
    for way in ((SLOPE_STEP_MM, 0.0), (0.0, SLOPE_STEP_MM)):
        high = half_thickness(blade, points + way, side)
        low = half_thickness(blade, points - way, side)
        with np.errstate(invalid="ignore"):
            steps.append((high - low) / (2 * SLOPE_STEP_MM))
    steep = steps[0] ** 2 + steps[1] ** 2
    return np.where(np.isfinite(steep), steep, 0.0)


def profile_curvature(bevel: Bevel, thickness: float, side: str, d: Floats) -> Floats:
    """Return the curvature of the profile at ``d`` (n,), 1/mm, positive where it bulges."""
    if bevel.profile == FLAT:
        return np.zeros(len(d))
    width = grind_height(bevel, thickness, side)
    at = np.clip(d, SLOPE_STEP_MM, width - SLOPE_STEP_MM)
    steeper = slope_at(bevel, thickness, side, at + SLOPE_STEP_MM / 2)
    flatter = slope_at(bevel, thickness, side, at - SLOPE_STEP_MM / 2)
    change = (steeper - flatter) / SLOPE_STEP_MM
    return np.asarray(-change / (1 + slope_at(bevel, thickness, side, at) ** 2) ** 1.5)


def plunge_margin(order: Order) -> float:
    """Return how far before a plunge its own cutter may finish the bevel, mm, negative.

    Passes of the bevel stop short of the plunge by as much as their cutter swings.
    """
    swings = [order.cutter(c.cutter).diameter for c in order.cuttings(BEVEL_FINISH)]
    return -max(swings, default=0.0) if order.cuttings(PLUNGE) else 0.0


def allowed_cusp(
    order: Order, places: SurfacePlaces, *, plunge_from: float, up: Floats | None = None
) -> Floats:
    """Return how high the ordered cutters and stepovers leave cusps, (n,) mm; 0 off the bevels.

    From ``plunge_from`` mm past the plunge on, what the plunge's own cutter leaves is allowed too.
    ``up`` (n,): the share of the pass's way, seen from above, that leads up or down the slope, 0 as
    if it ran along the edge.
    """
    # beside a plunge its own cutter and the leads have gone last; their way says nothing of a pass
    up = np.zeros(len(places)) if up is None else np.where(places.past > plunge_from, 0.0, up)
    blade = order.blade
    allowed = np.zeros(len(places))
    for k, bevel in enumerate(blade.bevels):
        rows = np.flatnonzero(places.bevel == k)
        if not len(rows):
            continue
        slope = np.arctan(slope_at(bevel, blade.thickness, places.side, places.edge[rows]))
        bulge = profile_curvature(bevel, blade.thickness, places.side, places.edge[rows])
        allowed[rows] = _stage_cusp(order, BEVEL_FINISH, slope, bulge, up[rows])
        beside = rows[places.past[rows] > plunge_from]
        if len(beside):
            along = np.zeros(len(beside))  # a plunge's stepover is measured along its surface
            plunge = _stage_cusp(order, PLUNGE, along, along)
            allowed[beside] = np.maximum(allowed[beside], plunge)
    return allowed


def _stage_cusp(
    order: Order, stage: str, slope: Floats, bulge: Floats, up: Floats | None = None
) -> Floats:
    """Return the cusps of a stage, (n,) mm, on slopes that bend by ``bulge`` across its passes.

    How much higher the next pass lies follows from the chord between both, whose slope on a hollow
    face is that of half a step further up.
    """
    found, up = np.zeros(len(slope)), np.zeros(len(slope)) if up is None else up
    for entry in order.cuttings(stage):
        cutter = order.cutter(entry.cutter)
        ball = cutter.corner >= cutter.radius
        chord = slope + np.maximum(-bulge, 0.0) / np.cos(slope) * entry.stepover / 2
        along = cusp_height(entry.stepover, chord, cutter.corner, ball=ball, bulge=bulge)
        aslant = cusp_aslant(entry.stepover, slope, (cutter.radius, cutter.corner), up)
        one = np.where(up > ALONG_EDGE_SHARE, np.minimum(along, aslant), along)
        found = np.maximum(found, one)
    return found


def cusp_aslant(step: float, slope: Floats, cutter: tuple[float, float], up: Floats) -> Floats:
    """Return the cusps of passes that do not run along the edge, (n,) mm square to the slope.

    A cutter of radius R and corner r bends as r up the slope and as r + (R - r) / sin a along it;
    between them by Euler's theorem. ``up`` (n,): share of the way that leads up, seen from above.

    References
    ----------
    Euler, Recherches sur la courbure des surfaces, 1760: curvature in a direction is
    cos^2 k1 + sin^2 k2 (from memory). The two curvatures: plane geometry of a torus.
    """
    radius, corner = cutter
    steep = up / np.cos(slope)
    sine = steep**2 / (steep**2 + np.maximum(1.0 - up**2, 0.0))  # its square, in the slope's plane
    wide = corner + (radius - corner) / np.sin(np.maximum(slope, FLAT_WITHIN_MM))
    bend = (1.0 - sine) / max(corner, FLAT_WITHIN_MM) + sine / wide
    half = step / 2 * np.sqrt((1.0 - sine) / np.cos(slope) ** 2 + sine)
    rest = np.sqrt(np.maximum(1.0 - (half * bend) ** 2, 0.0))
    return np.asarray(half**2 * bend / (1.0 + rest))


def upward(order: Order, places: SurfacePlaces, heading: Floats) -> Floats:
    """Return which share of ways over bevels leads up or down the slope, (n,): 0 along the edge.

    ``heading`` (n, 2): unit ways in the part frame.
    """
    share = np.zeros(len(places))
    for k, bevel in enumerate(order.blade.bevels):
        rows = np.flatnonzero(places.bevel == k)
        if len(rows):
            ways = [
                edge_distance(bevel, order.blade.outline, places.points[rows] + way)
                - places.edge[rows]
                for way in ((SLOPE_STEP_MM, 0.0), (0.0, SLOPE_STEP_MM))
            ]
            way = np.stack(ways, axis=1) / SLOPE_STEP_MM
            share[rows] = np.minimum(np.abs(np.sum(way * heading[rows], axis=1)), 1.0)
    return share

"""Bevels and plunges as they were cut: sample columns in lines square to the edge or the plunge.

Where along a line the least stands between two crests, a pass has touched. Angle and symmetry are
those of the surface through these touches, cusps the highest that stands between two of them.

A plunge rises over its bevel as the arc of a circle that lies in the bevel and touches it along the
line: y = Rp - sqrt(Rp^2 - (s - s0)^2), s past the line and y the rise square to the bevel. The
squares of its equation are linear in 2 s0 and 2 Rp, so both come from least squares.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bevel, Plunge, edge_height, grind_height, height_at, slope_at
from knifecam.blade.finished_surface import edge_curve, past_plunge
from knifecam.curve import place_at
from knifecam.curve.distance import signed_line_distance
from knifecam.measure.bevel_places import (
    BEVEL_FINISH,
    SurfacePlaces,
    cusp_height,
    places_on,
    plunge_margin,
    profile_curvature,
    surface_cosine,
)
from knifecam.measure.measure_limits import (
    BEFORE_PLUNGE_MM,
    BELOW_FLAT_MM,
    BEVEL_LINES,
    COARSEST_SAMPLE_MM,
    FINEST_SAMPLE_MM,
    FROM_END_SHARE,
    LEAST_RISE_MM,
    MOST_SAMPLES,
    PLUNGE_LINES,
    PLUNGE_LINES_TRIED,
    PLUNGE_SAMPLE_MM,
    SAMPLES_A_STEP,
    WALL_MARGIN_MM,
)
from knifecam.measure.measured_surfaces import off_openings
from knifecam.measure.sample_columns import SampledPlaces, Sides, read_places
from knifecam.shop import Order

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class BevelLine:
    """One line across a bevel on one side, from the edge inward.

    ``places`` (n,) what is wanted, ``off`` (n,) mm of metal above it, square to the surface,
    ``last`` (n,) the global index of the motion that last cut it. ``touch`` (t,) rows where passes
    came nearest, ``cusps``, ``predicted`` (t - 1,) mm the highest between them and what their step
    and their cutters should leave; ``steps`` (t - 1,) mm in the plane.
    """

    station: float
    places: SurfacePlaces
    off: Floats
    last: Ints
    touch: Ints
    cusps: Floats
    predicted: Floats
    steps: Floats
    rising: float
    at_edge: float

    def off_at(self, edge: float) -> float:
        """Return how far the surface through the touches lies above the wanted one, mm along Z."""
        return self.at_edge + self.rising * edge


@dataclass(frozen=True, eq=False, kw_only=True)
class MeasuredBevel:
    """One bevel on one side, as it was cut: its lines."""

    bevel: Bevel
    index: int
    side: str
    width: float
    lines: tuple[BevelLine, ...]

    @property
    def angles(self) -> Floats:
        """(L,) rad: the chord's angle as each line has it."""
        slopes = np.array([line.rising for line in self.lines])
        return np.arctan(np.tan(self.bevel.angle) + slopes)

    @property
    def off(self) -> Floats:
        """(n,) mm: all lines' deviations, square to the surface."""
        rows = [line.off for line in self.lines]
        return np.concatenate(rows) if rows else np.zeros(0)


def measured_bevels(order: Order, sides: Sides) -> tuple[MeasuredBevel, ...]:
    """Return every bevel on every side that is given."""
    found = []
    for index, bevel in enumerate(order.blade.bevels):
        stations, points, inward = _lines(order, bevel)
        if not len(stations):
            continue
        run = _run(order, bevel)
        places = points[:, None, :] + run[None, :, None] * inward[:, None, :]
        seen = read_places(order, sides, places.reshape(-1, 2))
        for which, side in enumerate("AB"):
            if bevel.on(side) and sides[which] is not None:
                found.append(_ground(order, sides, index, side, stations, seen))
    return tuple(found)


def _lines(order: Order, bevel: Bevel) -> tuple[Floats, Floats, Floats]:
    """Return stations along the edge, places on it and the ways inward, of all lines."""
    edge = edge_curve(bevel, order.blade.outline)
    tried = np.linspace(FROM_END_SHARE, 1.0 - FROM_END_SHARE, 201) * edge.length
    points, headings = place_at(edge, tried)
    inward = np.stack([-np.sin(headings), np.cos(headings)], axis=1)
    width = max(grind_height(bevel, order.blade.thickness, s) for s in "AB" if bevel.on(s))
    past = np.maximum(past_plunge(bevel, points), past_plunge(bevel, points + width * inward))
    free = past < plunge_margin(order)  # nearer, the plunge's own cutter works
    if not free.any():
        free = past < 0.0
    rows = np.flatnonzero(free)
    if not len(rows):
        return np.zeros(0), np.zeros((0, 2)), np.zeros((0, 2))
    rows = np.unique(rows[np.round(np.linspace(0, len(rows) - 1, BEVEL_LINES)).astype(int)])
    return tried[rows], points[rows], inward[rows]


def _run(order: Order, bevel: Bevel) -> Floats:
    """Return the sample columns' distances from the edge."""
    width = max(grind_height(bevel, order.blade.thickness, s) for s in "AB" if bevel.on(s))
    steps = [c.stepover for c in order.cuttings(BEVEL_FINISH) if c.stepover > 0]
    fine = np.clip(
        min(steps, default=COARSEST_SAMPLE_MM) / SAMPLES_A_STEP,
        max(FINEST_SAMPLE_MM, width / MOST_SAMPLES),
        COARSEST_SAMPLE_MM,
    )
    return WALL_MARGIN_MM + np.arange(0.0, width - WALL_MARGIN_MM, float(fine))


def _ground(
    order: Order, sides: Sides, index: int, side: str, stations: Floats, seen: SampledPlaces
) -> MeasuredBevel:
    bevel, which = order.blade.bevels[index], "AB".index(side)
    places = places_on(order.blade, seen.points, side)
    off = off_openings(order, seen.points, side)
    count = len(seen.points) // len(stations)
    rows = np.arange(len(seen.points)).reshape(len(stations), count)
    lines = []
    for k, station in enumerate(stations):
        mine = np.zeros(len(places), bool)
        mine[rows[k]] = True
        mine &= off & (places.bevel == index) & (places.past <= 0.0)
        if np.count_nonzero(mine) > 2:
            lines.append(_line(order, sides, float(station), places, seen, which, mine))
    return MeasuredBevel(
        bevel=bevel, index=index, side=side,
        width=grind_height(bevel, order.blade.thickness, side), lines=tuple(lines),
    )  # fmt: skip


def _line(
    order: Order,
    sides: Sides,
    station: float,
    every: SurfacePlaces,
    seen: SampledPlaces,
    which: int,
    mine: Bools,
) -> BevelLine:
    places = every.chosen(mine)
    above = seen.heights[which][mine] - places.target
    off = above * surface_cosine(order.blade, places)
    last = seen.last[which][mine].astype(np.int64)
    touch, kept = _touches(off)
    left = off.tolist()
    cusps = np.array([_crest(left, a, b) for a, b in pairwise(touch.tolist())])
    steps = np.diff(_nearest(places.edge, off, touch))
    predicted = _predicted(order, sides, places, last, touch, steps)
    fit = np.polyfit(places.edge[kept], above[kept], 1) if len(kept) > 1 else np.zeros(2)
    return BevelLine(
        station=station, places=places, off=off, last=last, touch=touch, cusps=cusps,
        predicted=predicted, steps=steps, rising=float(fit[0]), at_edge=float(fit[1]),
    )  # fmt: skip


def _touches(off: Floats) -> tuple[Ints, Ints]:
    """Return the rows where passes came nearest, and those of them within the line.

    They are where what is left is least between two crests. A pass that came nearest at the line's
    first or last sample column may have touched beyond it.
    """
    within = np.flatnonzero((off[1:-1] <= off[:-2]) & (off[1:-1] < off[2:])) + 1
    first = [0] if off[0] < off[1] else []
    last = [len(off) - 1] if off[-1] <= off[-2] else []
    touch = np.concatenate([first, within, last]).astype(np.int64)
    return touch, within if len(within) > 1 else touch


def _crest(off: list[float], a: int, b: int) -> float:
    """Return the height of the crest between two touches: where the lines on both sides meet.

    The highest sample column stands a little beside the crest, on one of its sides or the other.
    """
    best = max(off[a : b + 1])
    top = off.index(best, a)
    for k in (top - 1, top):  # the crest lies between sample columns k and k + 1
        if a <= k - 1 and k + 2 <= b:
            up, down = off[k] - off[k - 1], off[k + 2] - off[k + 1]
            if up > 0.0 > down:
                share = (off[k + 1] - off[k] - down) / (up - down)
                if 0.0 <= share <= 1.0:
                    best = max(best, off[k] + share * up)
    return best


def _nearest(edge: Floats, off: Floats, touch: Ints) -> Floats:
    """Return where between the sample columns the passes came nearest, (t,) mm: lowest of a parabola."""
    found = edge[touch]
    inner = np.flatnonzero((touch > 0) & (touch < len(off) - 1))
    i = touch[inner]
    a, b, c = off[i - 1], off[i], off[i + 1]
    bend = a - 2 * b + c
    bent = bend > 0.0
    inner, i = inner[bent], i[bent]
    shift = np.clip((a[bent] - c[bent]) / (2 * bend[bent]), -0.5, 0.5)
    found[inner] += shift * (edge[i + 1] - edge[i])
    return found


def _predicted(
    order: Order, sides: Sides, places: SurfacePlaces, last: Ints, touch: Ints, steps: Floats
) -> Floats:
    side = sides["AB".index(places.side)]
    if side is None or len(touch) < 2:
        return np.zeros(0)
    motion = np.maximum(last[touch[:-1]] - side.first, 0)
    radius, corner = side.cutter_radius[motion], side.shapes.corner[motion]
    middle = (places.edge[touch[:-1]] + places.edge[touch[1:]]) / 2
    bevel = order.blade.bevels[int(places.bevel[0])]
    slope = np.arctan(slope_at(bevel, order.blade.thickness, places.side, middle))
    bulge = profile_curvature(bevel, order.blade.thickness, places.side, middle)
    return cusp_height(steps, slope, corner, ball=corner >= radius, bulge=bulge)


def side_symmetry(order: Order, grounds: tuple[MeasuredBevel, ...], index: int) -> float | None:
    """Return how far the two sides of a bevel are from mirroring each other, mm; None if one is.

    The greatest difference of what the sides leave above their wanted surfaces, at both ends of the
    stretch that any line has on both sides: short lines beside a tip are not drawn out to the grind.
    """
    sides = {g.side: g for g in grounds if g.index == index}
    if len(sides) < 2:
        return None
    a, b = sides["A"], sides["B"]
    pairs = [(p, q) for p in a.lines for q in b.lines if p.station == q.station]
    apart = [
        abs(p.off_at(edge) - q.off_at(edge))
        for p, q in pairs
        for edge in _shared(p.places.edge, q.places.edge)
    ]
    return max(apart) if apart else None


def _shared(one: Floats, other: Floats) -> tuple[float, float]:
    """Return the ends of the stretch that two lines have in common, mm from the edge."""
    return float(max(one.min(), other.min())), float(min(one.max(), other.max()))


def grind_line(order: Order, ground: MeasuredBevel) -> Floats:
    """Return how far from the edge each line's surface meets the flat, (L,) mm."""
    half = order.blade.thickness / 2
    low = edge_height(ground.bevel, ground.side)
    end = float(slope_at(ground.bevel, order.blade.thickness, ground.side, [ground.width])[0])
    above = np.array([line.off_at(ground.width) for line in ground.lines])
    return np.asarray(ground.width - above / end) if half > low else np.zeros(len(above))


@dataclass(frozen=True, eq=False, kw_only=True)
class MeasuredPlunge:
    """One plunge on one side: circles of its lines, and how far its surface is off.

    ``radii`` and ``shifts`` (L,) mm: radius, and how far past its line it begins. ``off`` (n,) mm
    square to the surface, ``points`` (n, 2).
    """

    bevel: Bevel
    number: int
    side: str
    wanted: float
    radii: Floats
    shifts: Floats
    off: Floats
    points: Floats


def measure_plunges(order: Order, sides: Sides) -> tuple[MeasuredPlunge, ...]:
    """Return every plunge on every side that is given."""
    found = []
    for bevel in order.blade.bevels:
        for number, plunge in enumerate(bevel.plunges, 1):
            points, count = _plunge_lines(order, bevel, plunge)
            if not count:
                continue
            seen = read_places(order, sides, points)
            for which, side in enumerate("AB"):
                if bevel.on(side) and sides[which] is not None:
                    height = seen.heights[which]
                    found.append(_risen(order, bevel, number, side, points, height, count))
    return tuple(found)


def _plunge_lines(order: Order, bevel: Bevel, plunge: Plunge) -> tuple[Floats, int]:
    """Return the sample columns of all lines, one after another, and how many lines there are."""
    side = "A" if bevel.on("A") else "B"
    half = order.blade.thickness / 2
    tried = np.linspace(0.0, plunge.line.length, PLUNGE_LINES_TRIED)
    foot, headings = place_at(plunge.line, tried)
    places = places_on(order.blade, foot, side)
    room = half - places.target
    rows = np.flatnonzero(np.isfinite(places.target) & (room > LEAST_RISE_MM) & (places.bevel >= 0))
    if not len(rows):
        return np.zeros((0, 2)), 0
    rows = np.unique(rows[np.round(np.linspace(0, len(rows) - 1, PLUNGE_LINES)).astype(int)])
    past = np.stack([-np.sin(headings[rows]), np.cos(headings[rows])], axis=1)
    run = np.arange(-BEFORE_PLUNGE_MM, plunge.radius, PLUNGE_SAMPLE_MM)
    points = foot[rows][:, None, :] + run[None, :, None] * past[:, None, :]
    return points.reshape(-1, 2), len(rows)


def _risen(
    order: Order, bevel: Bevel, number: int, side: str, points: Floats, height: Floats, count: int
) -> MeasuredPlunge:
    plunge = bevel.plunges[number - 1]
    places = places_on(order.blade, points, side)
    past = signed_line_distance(points, plunge.line)
    mine = off_openings(order, points, side)
    mine &= places.bevel == order.blade.bevels.index(bevel)
    above = np.where(mine, height - np.where(mine, places.target, 0.0), 0.0)
    off = np.where(mine, above * _upright(order, places, mine), 0.0)
    radii, shifts = [], []
    for line in np.arange(len(points)).reshape(count, -1):
        circle = _circle(order, bevel, side, places, height, past, line[mine[line]])
        if circle is not None:
            radii.append(circle[0])
            shifts.append(circle[1])
    inside = mine & (past > 0.0)
    return MeasuredPlunge(
        bevel=bevel, number=number, side=side, wanted=plunge.radius, radii=np.array(radii),
        shifts=np.array(shifts), off=off[inside], points=points[inside],
    )  # fmt: skip


def _upright(order: Order, places: SurfacePlaces, mine: Bools) -> Floats:
    found = np.ones(len(mine))
    found[mine] = surface_cosine(order.blade, places.chosen(mine))
    return found


def _circle(
    order: Order, bevel: Bevel, side: str, places: SurfacePlaces, height: Floats, past: Floats,
    rows: NDArray[np.int64],
) -> tuple[float, float] | None:  # fmt: skip
    """Return radius and shift of the circle through a line's lowest sample columns."""
    thickness = order.blade.thickness
    base = height_at(bevel, thickness, side, places.edge[rows])
    rise = (height[rows] - base) * np.cos(bevel.angle)
    fit = (
        (past[rows] > 0.0) & (rise > BELOW_FLAT_MM) & (height[rows] < thickness / 2 - BELOW_FLAT_MM)
    )
    s, y = past[rows][fit], rise[fit]
    low = _lowest(s, height[rows][fit] - places.target[rows][fit])
    s, y = s[low], y[low]
    if len(s) < 3:
        return None
    shift, radius = 0.0, np.nan
    for _ in range(4):  # s^2 + y^2 + s0^2 = 2 s0 s + 2 Rp y
        found = np.linalg.lstsq(
            np.stack([2 * s, 2 * y], axis=1), s**2 + y**2 + shift**2, rcond=None
        )[0]
        shift, radius = float(found[0]), float(found[1])
    return radius, shift


def _lowest(s: Floats, off: Floats) -> NDArray[np.int64]:
    """Return where the deviation has its least between its crests, or all where it has none."""
    if len(s) < 3:
        return np.arange(len(s))
    least = np.flatnonzero((off[1:-1] <= off[:-2]) & (off[1:-1] < off[2:])) + 1
    return least if len(least) >= 3 else np.arange(len(s))

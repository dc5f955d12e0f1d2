"""Passes along a plunge, the surface that they follow, and how near bevel passes may come.

Along a bevel a cutter touches at one place of its rim only; ahead, where the plunge rises, the rim
lies lower on the slope and has that much room. The rise a plunge of radius Rp adds at s past its line is
(Rp - sqrt(Rp^2 - s^2)) / cos a.

The surface is the bevel and, added to it, a cylinder that lies in the bevel. A cutter of radius R
and corner radius r that touches it where the unit normal is n has its axis at the place touched plus
r n + (R - r) m, m being the direction of n in the plane (a ball has r = R).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import FEED, Curve, Motions, place_at
from knifecam.curve.curve import Floats
from knifecam.curve.distance import prolonged, signed_line_distance
from knifecam.paths.bevel_heights_and_steps import BevelFace, CutterStand, inside, normals
from knifecam.paths.paths_limits import (
    BORDER_MM,
    CORNER_PLACES,
    CREASE_HALVINGS,
    CREASE_SLOPE,
    DIRECTION_STEP_MM,
    LEAD_ASIDE_MM,
    LEAD_RADIUS_MM,
    LEAD_SPARE_MM,
    PAST_FLAT_MM,
    PLUNGE_PASS_SAMPLE_MM,
    RIM_PLACES_AROUND,
    ROLLED_PLACES,
    SAFE_MM,
    UPWARD_FROM_RAD,
    WAY_CHORD_MM,
    WAY_SAMPLE_MM,
)
from knifecam.paths.raw_offset import open_offsets
from knifecam.shop import Cutter, Order
from knifecam.shop.cutter_choice import angles_of
from knifecam.shop.defaults import cusp_of
from knifecam.shop.order_record import BEVEL_ROUGH, BEVEL_SEMI, cutting_and_cutter

Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlungeLine:
    """One pass along a plunge: ``s`` mm past its line, ``raised`` mm above the surface."""

    s: float
    raised: float


@dataclass(frozen=True, slots=True, eq=False, kw_only=True)
class PlungeSurface:
    """The surface of a bevel and one of its plunges, along the ways that lie over the lines."""

    face: BevelFace
    plunge: int
    lines: Sequence[PlungeLine]
    ways: Sequence[Curve]

    def at(self, row: Ints, station: Floats) -> tuple[Floats, Floats, Floats]:
        """Return places (K, 2), their distances (K,) from the edge and the gradient (K, 2) there."""
        points, headings = np.empty((len(row), 2)), np.empty(len(row))
        for k in np.unique(row):
            points[row == k], headings[row == k] = place_at(self.ways[k], station[row == k])
        shifts = np.array(
            [
                (0.0, 0.0),
                (DIRECTION_STEP_MM, 0.0),
                (-DIRECTION_STEP_MM, 0.0),
                (0.0, DIRECTION_STEP_MM),
                (0.0, -DIRECTION_STEP_MM),
            ]
        )
        seen = signed_line_distance((points + shifts[:, None]).reshape(-1, 2), self.face.edge)
        d, right, left, above, below = seen.reshape(5, -1)
        slope = np.stack([right - left, above - below], axis=1)
        slope /= np.hypot(slope[:, 0], slope[:, 1])[:, None]
        on, radius = self._on(row), self.face.plunges[self.plunge][1]
        steep = on / np.sqrt(radius**2 - on**2) / math.cos(self.face.bevel.angle)
        grade = np.tan(self.face.angle(d))[:, None] * slope + steep[:, None] * normals(headings)
        return points, d, grade

    def _on(self, row: Ints) -> Floats:
        """Return how far up the plunge's cylinder each row's line lies, (K,) mm."""
        radius = self.face.plunges[self.plunge][1]
        return np.clip(np.array([one.s for one in self.lines])[row], 0.0, 0.999999 * radius)

    def tips(self, cutter: Cutter, row: Ints, station: Floats) -> tuple[Ints, Floats]:
        """Return rows and places (K, 3) of the tip where the cutter touches the surface.

        Where the surface is creased, in a ridge as far from one part of the edge as from another,
        the cutter rolls over: it touches the ridge with every normal between both slopes.
        """
        points, d, grade = self.at(row, station)
        low = np.flatnonzero(
            (np.diff(row) == 0) & (np.hypot(*np.diff(grade, axis=0).T) > CREASE_SLOPE)
        )
        if len(low):
            rolled = self._rolled(row[low], station[low], station[low + 1])
            many = len(rolled[0]) // max(len(low), 1)
            row = np.insert(row, np.repeat(low + 1, many), rolled[0])
            points = np.insert(points, np.repeat(low + 1, many), rolled[1], axis=0)
            d = np.insert(d, np.repeat(low + 1, many), rolled[2])
            grade = np.insert(grade, np.repeat(low + 1, many), rolled[3], axis=0)
        return row, self._tip(cutter, row, points, d, grade)

    def _rolled(self, row: Ints, low: Floats, high: Floats) -> tuple[Ints, Floats, Floats, Floats]:
        """Return `ROLLED_PLACES` places at each crease between two stations: where it is, its slopes."""
        _, _, first = self.at(row, low)
        _, _, last = self.at(row, high)
        for _ in range(CREASE_HALVINGS):
            middle = (low + high) / 2
            _, _, grade = self.at(row, middle)
            beyond = np.hypot(*(grade - last).T) < np.hypot(*(grade - first).T)
            low, high = np.where(beyond, low, middle), np.where(beyond, middle, high)
            first = np.where(beyond[:, None], first, grade)
            last = np.where(beyond[:, None], grade, last)
        points, d, _ = self.at(row, (low + high) / 2)
        share = np.linspace(0.0, 1.0, ROLLED_PLACES)[None, :, None]
        grade = first[:, None] + share * (last - first)[:, None]
        return (
            np.repeat(row, ROLLED_PLACES),
            np.repeat(points, ROLLED_PLACES, axis=0),
            np.repeat(d, ROLLED_PLACES),
            grade.reshape(-1, 2),
        )

    def _tip(self, cutter: Cutter, row: Ints, points: Floats, d: Floats, grade: Floats) -> Floats:
        """Return the tip's places (K, 3); further out than `BORDER_MM` mm off the edge they are level."""
        radius, on = self.face.plunges[self.plunge][1], self._on(row)
        size = np.hypot(grade[:, 0], grade[:, 1])
        upright = 1 / np.sqrt(1 + size**2)
        away = cutter.corner * size * upright + (cutter.radius - cutter.corner)
        axis = points - grade / size[:, None] * away[:, None]
        lifted = (radius - np.sqrt(radius**2 - on**2)) / math.cos(self.face.bevel.angle)
        raised = np.array([one.raised for one in self.lines])[row]
        z = self.face.height(np.maximum(d, -BORDER_MM)) + lifted + raised
        return np.column_stack([axis, z + cutter.corner * (upright - 1)])


@dataclass(frozen=True, slots=True, kw_only=True)
class PlungeLead:
    """The arc on which a pass begins or ends beside a plunge, turned toward the edge.

    Its end lies ``aside`` mm off the pass and ``fall`` mm above it; ``radius`` in mm. ``stock`` mm
    stand above what the pass leaves, and are not to be met where the arc ends.
    """

    radius: float
    aside: float
    fall: float
    stock: float = 0.0

    @property
    def length(self) -> float:
        """Return how long the arc is, mm."""
        return self.radius * math.acos(1 - self.aside / self.radius)

    def places(self, count: int) -> tuple[Floats, Floats, Floats]:
        """Return how far aside, ahead and above the stock places along the arc are, (count,) mm."""
        whole = math.acos(1 - self.aside / self.radius)
        turned = np.linspace(0.0, whole, count)
        return (
            self.radius * (1 - np.cos(turned)),
            self.radius * np.sin(turned),
            (self.fall - self.stock) * turned / whole,
        )


NO_LEAD = PlungeLead(radius=1.0, aside=1e-9, fall=0.0)
"""A pass that ends where it stands."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierCutter:
    """The cutter that came before, and how it stood at the same places of the face.

    ``leads``: where it stops passes, so many arcs end there one after another, each where the stage
    before still was at its depth.
    """

    cutter: Cutter
    stands: tuple[CutterStand, ...]
    leads: int = 1


def corner_points(
    cutter: Cutter, room: Floats, touch: Floats | None = None
) -> tuple[Floats, Floats]:
    """Return distances from the axis and heights above the tip, (M, K) mm, of places up the corner.

    The uppermost of each row is as high above the tip as ``room`` (M,), or at the corner's end.
    Places at the slopes ``touch`` (M,) rad are among them: there the cutter has no room at all.
    """
    r, flat = cutter.corner, cutter.radius - cutter.corner
    whole = np.arccos(np.clip(1 - np.clip(room, 0.0, None) / max(r, 1e-9), 0.0, 1.0))
    up = whole[:, None] * np.linspace(0.0, 1.0, CORNER_PLACES)
    if touch is not None:
        up = np.concatenate([up, np.minimum(touch, whole)[:, None]], axis=1)
    away = np.concatenate([np.full((len(room), 1), flat / 2), flat + r * np.sin(up)], axis=1)
    height = np.concatenate([np.zeros((len(room), 1)), r * (1 - np.cos(up))], axis=1)
    return away, height


def plunge_lean(face: BevelFace, plunge: Curve) -> tuple[float, float]:
    """Return the parts of the direction past a plunge's line along the edge's normal and across it.

    Taken in the middle of the face.
    """
    stations = np.linspace(0.0, plunge.length, 101)
    places, headings = place_at(plunge, stations)
    from knifecam.curve.distance import signed_line_distance

    d = signed_line_distance(places, face.edge)
    k = int(np.argmin(np.abs(d - face.width / 2)))
    step = 1e-3
    way = np.array([[step, 0.0], [0.0, step]])
    slope = (signed_line_distance(places[k] + way, face.edge) - d[k]) / step
    past = np.array([-math.sin(headings[k]), math.cos(headings[k])])
    slope /= np.hypot(*slope)
    along = float(past @ slope)
    return along, math.sqrt(max(0.0, 1 - along**2))


def plunge_limits(
    face: BevelFace,
    cutter: Cutter,
    stands: Sequence[CutterStand],
    plunge: int,
    lead: PlungeLead,
    before: Sequence[EarlierCutter] = (),
) -> Floats:
    """Return how far past the line of a plunge the axis may come in each pass, (K,) mm.

    There the arc of ``lead`` begins; neither it nor the cutter in the pass comes nearer to the
    surface, or to the blade's flat beyond the plunge, than the pass itself stays above the face: a
    raised pass ends where it would if it were not raised. Nor does the arc end where the cutters
    that came ``before`` could not come.
    """
    line, radius = face.plunges[plunge]
    normal, across = plunge_lean(face, line)
    round_ = np.linspace(-math.pi, math.pi, RIM_PLACES_AROUND)
    x = np.array([one.x for one in stands])
    z = np.array([one.z for one in stands])
    slope = face.angle(np.array([one.d for one in stands]))
    raised = np.array([one.raised for one in stands])
    stay, flat = raised[:, None, None], face.thickness / 2 + raised
    found = np.full(len(stands), np.inf)
    for aside, on, higher in zip(*lead.places(5), strict=True):
        away, up = corner_points(cutter, flat - z - higher, slope)
        inward = away[:, :, None] * np.cos(round_)
        ahead = across * away[:, :, None] * np.sin(round_) + normal * inward
        tip = ((z + higher)[:, None] + up)[:, :, None]
        beside = 0.0 if lead.stock > 0 else aside  # what was cut before ends where passes touch
        room = tip - face.height(x[:, None, None] - beside + inward) - stay
        lifted = np.clip(room * math.cos(face.bevel.angle), 0.0, radius)
        reach = np.sqrt(radius**2 - (radius - lifted) ** 2)
        free = tip > flat[:, None, None] + 1e-9
        most = np.where(free, np.inf, reach - ahead).min(axis=(1, 2))
        found = np.minimum(found, most - on * across + aside * normal)
    aside, on, _ = (float(one[-1]) for one in lead.places(2))
    arc = on * across - aside * normal
    for one in before:
        came = plunge_limits(face, one.cutter, one.stands, plunge, NO_LEAD)
        came -= max(0.0, cutter.radius - one.cutter.radius)
        stops = bool((came - arc < found).any())
        found = np.minimum(found, came - (one.leads if stops else 1) * arc)
    return found - SAFE_MM


def effective_radius(cutter: Cutter, angle: float) -> float:
    """Return the radius in mm with which a cutter on a slope of ``angle`` rad meets what rises ahead.

    The section of its corner's torus along the bevel, level with the place touched (differential
    geometry of the torus): r + (R - r) / sin a.
    """
    flat = cutter.radius - cutter.corner
    return cutter.corner + (flat / math.sin(angle) if flat > 1e-9 else 0.0)


def reach_past(face: BevelFace, plunge: int, d: float = 0.0) -> float:
    """Return how far past its line a plunge has left the blade's flat, mm, ``d`` mm from the edge.

    It is followed to `PAST_FLAT_MM` above the flat.
    """
    radius = face.plunges[plunge][1]
    top = face.thickness / 2 + 0.9 * PAST_FLAT_MM
    rise = (top - float(face.height(np.array([d]))[0])) * math.cos(face.bevel.angle)
    return math.sqrt(radius**2 - max(0.002 * radius, radius - rise) ** 2)


def lines_past(radius: float, first: float, last: float, step: float) -> tuple[float, ...]:
    """Return distances past the line from ``first`` to ``last``, equal steps along the surface, mm.

    Before the line the surface is flat; past it they are equal steps of the arc.
    """

    def along(s: float) -> float:
        return s if s <= 0 else radius * math.asin(min(1.0, s / radius))

    low, high = along(first), along(last)
    count = max(1, math.ceil((high - low) / step - 1e-9))
    marks = np.linspace(low, high, count + 1)
    return tuple(float(m if m <= 0 else radius * math.sin(m / radius)) for m in marks)


def plunge_passes(
    face: BevelFace,
    plunge: int,
    cutter: Cutter,
    lines: Sequence[PlungeLine],
    *,
    layer: float,
    feed: float,
) -> tuple[Motions, ...]:
    """Return the passes along a plunge's lines that meet the blade.

    They run with the rising plunge on their right, unless they would fall steeply, and begin and
    end so far off the blade that what stands there, ``layer`` mm above what a pass leaves, is not
    touched on the way down.
    """
    line, _ = face.plunges[plunge]
    ways = open_offsets(prolonged(line, _beyond(face, line)), [one.s for one in lines])
    spans = _spans(face, plunge, cutter, lines, ways, layer)
    chosen = [k for k, span in enumerate(spans) if span is not None]
    rows, stations = [], []
    for k in chosen:
        low, high = spans[k] or (0.0, 0.0)
        fine = np.linspace(low, high, max(3, math.ceil((high - low) / PLUNGE_PASS_SAMPLE_MM) + 1))
        rows.append(np.full(len(fine), k))
        stations.append(fine)
    if not chosen:
        return ()
    slopes = PlungeSurface(face=face, plunge=plunge, lines=lines, ways=ways)
    row, axis = slopes.tips(cutter, np.concatenate(rows), np.concatenate(stations))
    bounds = np.searchsorted(row, [*chosen, len(lines)])
    return tuple(
        _motions(_directed(_thinned(axis[low:high][::-1])), feed)
        for low, high in itertools.pairwise(bounds)
    )


def _directed(places: Floats) -> Floats:
    """Return the places in their order, or upward where they fall too steeply."""
    step = np.diff(places, axis=0)
    fall = np.arctan2(-step[:, 2], np.hypot(step[:, 0], step[:, 1]))
    return places[::-1] if fall.max() > UPWARD_FROM_RAD else places


def _motions(places: Floats, feed: float) -> Motions:
    count = len(places) - 1
    return Motions(
        kind=np.full(count, FEED),
        start=places[:-1],
        stop=places[1:],
        centre=np.zeros((count, 2)),
        turns=np.zeros(count),
        feed=np.full(count, feed),
    )


def _beyond(face: BevelFace, line: Curve) -> float:
    """Return how far a plunge's line must be prolonged to pass the whole bevel, mm."""
    ends = np.concatenate([face.edge.vertices, line.vertices[[0, -1]]])
    return float(np.hypot(*np.ptp(ends, axis=0))) + face.width + face.past


def _spans(
    face: BevelFace,
    plunge: int,
    cutter: Cutter,
    lines: Sequence[PlungeLine],
    ways: Sequence[Curve],
    layer: float,
) -> list[tuple[float, float] | None]:
    """Return from where to where each pass runs, mm along its way; None where it meets nothing."""
    stations = [np.linspace(0.0, w.length, math.ceil(w.length / WAY_SAMPLE_MM) + 1) for w in ways]
    points = np.concatenate([place_at(w, at)[0] for w, at in zip(ways, stations, strict=True)])
    row = np.repeat(np.arange(len(ways)), [len(at) for at in stations])
    d = signed_line_distance(points, face.edge)
    lifted = np.array([_rise(face, plunge, one.s) for one in lines])[row]
    on_blade = face.height(d) + lifted < face.thickness / 2 + PAST_FLAT_MM
    on_blade[on_blade] = inside(face, points[on_blade])
    found: list[tuple[float, float] | None] = []
    for k, at in enumerate(stations):
        rows = np.flatnonzero(on_blade[row == k])
        if not len(rows):
            found.append(None)
            continue
        off = 0.3 + math.sqrt(2 * cutter.radius * (lines[k].raised + layer + 0.03))
        low = max(0.0, float(at[max(0, rows[0] - 1)]) - off)
        high = min(ways[k].length, float(at[min(len(at) - 1, rows[-1] + 1)]) + off)
        found.append((low, high))
    return found


def _rise(face: BevelFace, plunge: int, s: float) -> float:
    radius = face.plunges[plunge][1]
    on = min(max(s, 0.0), radius)
    return (radius - math.sqrt(radius**2 - on**2)) / math.cos(face.bevel.angle)


def _thinned(places: Floats) -> Floats:
    """Return the places (K, 3) of as few straight ways as stay within `WAY_CHORD_MM` of all."""
    kept = [0]
    k = 0
    while k < len(places) - 1:
        low, high = k + 1, len(places) - 1
        if _bow(places[k : high + 1]) <= WAY_CHORD_MM:
            low = high
        while high - low > 1:
            middle = (low + high) // 2
            if _bow(places[k : middle + 1]) <= WAY_CHORD_MM:
                low = middle
            else:
                high = middle
        kept.append(low)
        k = low
    return places[kept]


def _bow(places: Floats) -> float:
    """Return how far places lie from the way between the first and the last, mm."""
    if len(places) < 3:
        return 0.0
    way = places[-1] - places[0]
    long = float(np.sqrt(way @ way))
    arm = places[1:-1] - places[0]
    along = arm @ way / long
    off = np.sum(arm**2, axis=1) - along**2
    return float(np.sqrt(np.maximum(off, 0.0).max()))


def lead_for(order: Order, stage: str) -> PlungeLead:
    """Return the arc of a stage's passes beside a plunge: it comes from above what was left there.

    Cusps of the semi-finish higher than the spare are left there too. Nearer to the plunge the
    stairs of roughing stand, and are not met where the arc ends.
    """
    rough, semi = (order.cuttings(s)[0] for s in (BEVEL_ROUGH, BEVEL_SEMI))
    raised = semi.allowance if stage == BEVEL_SEMI else 0.0
    stairs = round(rough.allowance + rough.stepdown - raised, 6)
    if stage == BEVEL_SEMI:
        fall = stairs + LEAD_SPARE_MM
    else:
        fall = semi.allowance + max(LEAD_SPARE_MM, round(highest_cusp(order, BEVEL_SEMI), 4))
    return PlungeLead(radius=LEAD_RADIUS_MM, aside=LEAD_ASIDE_MM, fall=fall, stock=stairs)


def highest_cusp(order: Order, stage: str) -> float:
    """Return the highest cusp that a stage leaves on any bevel, mm plumb above it."""
    entry, cutter = cutting_and_cutter(order, stage)
    return max(
        cusp_of(angle, cutter.corner, cutter.radius, entry.stepover) / math.cos(angle)
        for bevel in order.blade.bevels
        for angle in angles_of(bevel, order.blade.thickness)
    )

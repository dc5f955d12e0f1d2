"""The outline as one side sees it, the stretches opened for bevels, and the lanes run beside them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from knifecam.curve import Curve, Motions, distance, place_at
from knifecam.errors import PlanError
from knifecam.paths.stretch import lane_curve, lane_of, rough_lanes
from knifecam.paths.thin import thin_offset
from knifecam.planning.feeds import wall_feed
from knifecam.planning.opened import Opened
from knifecam.planning.outline import CONTOUR_RAMP, ROUGH_BAND
from knifecam.quantity import Place, mm
from knifecam.shop import Cutter
from knifecam.shop.order_record import entry_for
from knifecam.shop.side_view import Bench, curve_on, points_on
from knifecam.shop.stages import CLEAR, ROUGH, cutting_path

SHORTER = 0.5
"""mm by which deeper lanes are shorter, so that they begin where all is open."""

LOOK_ON, LOOK_STEP = 12.0, 0.25
"""mm within which a place is looked for where the cutter may come down or a lead arc has room, and
mm between the places looked at."""

RIM, SPARE_RIM = 72, 0.01
"""Places of a cutter's rim that are looked at where it comes down, and mm they must lie within."""


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Walled:
    """The outline as one side sees it, and its stretches there, as stations of that outline.

    ``opened`` pairs each stretch with its record; ``rest`` are the stretches between, from the end
    of one to the start of the next.
    """

    bench: Bench
    wall: Curve
    opened: tuple[tuple[float, float, Opened], ...]

    @property
    def rest(self) -> tuple[tuple[float, float], ...]:
        """Return the stretches between the opened ones, counter-clockwise."""
        return _between([(low, high) for low, high, _ in self.opened], self.wall.length)

    def on_part(self, place: np.ndarray) -> np.ndarray:
        """Return where a place (2,) of the side's frame lies on the part."""
        return np.asarray(points_on(self.bench.side, place, self.bench.order.setup.flip)[0])


def _between(
    stretches: Sequence[tuple[float, float]], whole: float
) -> tuple[tuple[float, float], ...]:
    found = []
    for k, (_, high) in enumerate(stretches):
        following = stretches[(k + 1) % len(stretches)][0]
        while following <= high:
            following += whole
        if following - high < whole:
            found.append((high, following))
    return tuple(found)


def walled(bench: Bench, opened: Sequence[Opened]) -> Walled:
    """Return the outline and its opened stretches as the bench's side sees them."""
    order = bench.order
    wall = curve_on(bench.side, order.blade.outline, order.setup.flip).counter_clockwise()
    whole = wall.length
    rows = []
    for one in opened:
        low, high = one.stretch.start, one.stretch.end
        if bench.side == "B":
            low, high = whole - high, whole - low
        rows.append((low, high, one))
    rows.sort(key=lambda row: row[0] % whole)
    return Walled(bench=bench, wall=wall, opened=tuple(rows))


def track_at(wall: Curve, away: float, band: float) -> Curve:
    """Return the outermost curve ``away`` mm outside the wall, clockwise."""
    loops = thin_offset(wall, away, band)
    if not loops:
        raise PlanError(f"nothing lies {mm(away):.3f} outside the outline")
    return loops[0].clockwise()


def aways_between(outer: float, inner: float, stepover: float) -> np.ndarray:
    count = 1 + int(np.ceil(max(0.0, outer - inner) / stepover - 1e-9))
    return np.linspace(max(outer, inner), inner, count)


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Lanes:
    """Lanes beside one stretch, the outermost first, and how to run them."""

    curves: tuple[Curve, ...]
    aways: tuple[float, ...]
    cutter: Cutter
    feed: float

    @property
    def left(self) -> float:
        """Return how much they leave along the wall, mm."""
        return min(self.aways) - self.cutter.radius

    def rough(self, *, top: float, depths: Sequence[float]) -> tuple[Motions, ...]:
        """Return one pass a level."""
        return rough_lanes(
            self.curves,
            top=top,
            depths=depths,
            ramp=min(self.cutter.ramp, CONTOUR_RAMP),
            feeds=[wall_feed(self.feed, away, self.cutter.radius) for away in self.aways],
            side_feed=self.feed,
        )


def lanes_beside(
    seen: Walled, stretch: tuple[float, float], aways: np.ndarray, cutter: Cutter, feed: float,
    opened: Callable[[np.ndarray], bool] = lambda _: True,
) -> Lanes:  # fmt: skip
    """Return the lanes beside a stretch of the wall, from where to where it is ``opened``."""
    curves = []
    for away in aways:
        track = track_at(seen.wall, float(away), ROUGH_BAND)
        first, last = lane_of(track, seen.wall, *stretch, float(away))
        first = _on_open(seen, track, (first, last), opened, cutter)
        last = _on_open(seen, track, (last, first), opened, cutter)
        curves.append(lane_curve(track, first, last))
    return Lanes(
        curves=tuple(curves), aways=tuple(float(a) for a in aways), cutter=cutter, feed=feed
    )


def _on_open(
    seen: Walled,
    track: Curve,
    ends: tuple[float, float],
    opened: Callable[[np.ndarray], bool],
    cutter: Cutter,
) -> float:
    """Return the first station from one of a lane's ends toward the other that is ``opened``.

    Raises
    ------
    PlanError
        Where none within `LOOK_ON` is.
    """
    begin, end = ends
    reach = min(LOOK_ON, abs(end - begin) / 2)
    stations = begin + np.sign(end - begin) * LOOK_STEP * np.arange(int(reach / LOOK_STEP) + 1)
    places = place_at(track, stations)[0]
    for station, place in zip(stations, places, strict=True):
        if opened(place):
            return float(station)
    x, y = seen.on_part(places[0])
    raise PlanError(
        f"{cutting_path(cutter.number, ROUGH)}, side {seen.bench.side}: within"
        f' {mm(reach):.2f} of {Place(x, y):.1f} stage "{CLEAR}" opens no ground for'
        f" diameter={mm(cutter.diameter):.3f} to come down on; name a thinner cutter for either stage,"
        " or widen the outline there"
    )


def opening_lanes(seen: Walled, row: tuple[float, float, Opened]) -> Lanes:
    """Return the lanes along which side B opens an edge down to the web.

    They begin and end within what has been cleared: by a thinner cutter too, and beside an inner
    corner, where lanes of other distances end elsewhere. Beside the wall they leave no less than
    clearing did, which stands as high as the blade.
    """
    low, high, one = row
    trench = seen.bench.order.trench
    rough, cutter = entry_for(seen.bench.order, ROUGH)
    clearing = clearing_lanes(seen, row) if one.needs_clearing(seen.bench.side) else None
    left = max(rough.allowance, clearing.left if clearing else 0.0)
    shorter = SHORTER + max(0.0, cutter.radius - entry_for(seen.bench.order, CLEAR)[1].radius)
    aways = aways_between(trench.width - cutter.radius, cutter.radius + left, rough.stepover)
    ends = (low + shorter, high - shorter)
    if clearing is None:
        return lanes_beside(seen, ends, aways, cutter, rough.feed)
    cleared = opened_under(seen, clearing, cutter.radius, strip=clearing.left)
    return lanes_beside(seen, ends, aways, cutter, rough.feed, cleared)


def clearing_lanes(seen: Walled, row: tuple[float, float, Opened]) -> Lanes:
    """Return the lanes along which a side clears beside an edge."""
    low, high, one = row
    entry, cutter = entry_for(seen.bench.order, CLEAR)
    aways = aways_between(
        one.width - cutter.radius, cutter.radius + entry.allowance, entry.stepover
    )
    return lanes_beside(seen, (low, high), aways, cutter, entry.feed)


def opened_under(
    seen: Walled, lanes: Lanes, radius: float, *, strip: float | None = None
) -> Callable[[np.ndarray], bool]:
    """Return what tells whether ``lanes`` open all under a cutter of ``radius`` mm at a place (2,).

    Along the trench's outer side, and along what no thicker cutter left beside the wall, the cutter
    may go as far as they do, no further. A ``strip`` of so many mm along the wall may stand; without
    it, what lanes of a thinner cutter leave there.
    """
    width = seen.bench.order.trench.width
    stands = (lanes.left if lanes.cutter.radius <= radius else 0.0) if strip is None else strip
    turn = np.arange(RIM) * 2 * np.pi / RIM
    rim = radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)

    def opened(place: np.ndarray) -> bool:
        away = np.min([distance(place + rim, lane) for lane in lanes.curves], axis=0)
        beyond = away > lanes.cutter.radius - SPARE_RIM
        middle, from_wall = distance(place[None], seen.wall)[0], distance(place + rim, seen.wall)
        if middle + radius <= width + SPARE_RIM:
            beyond &= from_wall < width - SPARE_RIM
        if stands and (strip is not None or middle - radius >= stands - SPARE_RIM):
            beyond &= from_wall > stands + SPARE_RIM
        return not beyond.any()

    return opened

"""Which stretches of the outline are opened for bevels: how wide, and how deep from each side.

All that the bevels' cutters sweep outside the blade must be open before they come. The places they
sweep are looked at, and the stretch, its width and its floors follow from them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from knifecam.curve import Motions, Stretch, place_at, resample, stations_past, winding
from knifecam.curve.curve import Floats
from knifecam.curve.motions import sampled_places
from knifecam.curve.stations import beside_outline, length_of, part_of
from knifecam.errors import PlanError
from knifecam.paths.inner_corners import unreachable
from knifecam.paths.paths_limits import TIGHT_RADII
from knifecam.planning.bevel_cuts import BevelPasses
from knifecam.planning.planning_limits import (
    CLAMP_ROOM_MM,
    CUTTER_RIM_PLACES,
    LEAST_WEB_MM,
    OPENED_SPARE_MM,
    PASS_SAMPLE_MM,
    STRETCH_ENDS_MM,
)
from knifecam.quantity import Place, mm, over_fixture, stated
from knifecam.rules.tab_rules import standing_on
from knifecam.shop import Order
from knifecam.shop.order_record import CLEAR, FINISH, ROUGH, cutting_and_cutter
from knifecam.shop.side_view import points_on


@dataclass(frozen=True, slots=True, kw_only=True)
class ClearedStretch:
    """A stretch of the counter-clockwise outline that is opened for bevels.

    ``stretch`` in the part frame, mm along the outline; ``width`` mm beside it. ``floor_a`` is how
    deep side A goes there, as part z, whether it clears (``clear_a``) or only cuts the trench.
    ``clear_b`` is side B's clearing floor in its own frame, None where it only opens the trench.
    """

    stretch: Stretch
    width: float
    floor_a: float
    clear_a: bool
    clear_b: float | None

    def needs_clearing(self, side: str) -> bool:
        """Return whether the side clears the whole width."""
        return self.clear_a if side == "A" else self.clear_b is not None


def cleared_stretches(
    order: Order, grounds: Mapping[str, Sequence[BevelPasses]], a_rough: float
) -> tuple[ClearedStretch, ...]:
    """Return the stretches to open, in the outline's travel; those that meet are made one."""
    outline = order.blade.outline
    found: list[_Need] = []
    for bevel in order.blade.bevels:
        need = _need(order, bevel.name, grounds)
        found.append(need)
    merged = _merged(found, outline.length)
    return tuple(_opened(order, need, a_rough) for need in merged)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Need:
    start: float
    end: float
    width: float
    low_a: float
    low_b: float


def _need(order: Order, name: str, grounds: Mapping[str, Sequence[BevelPasses]]) -> _Need:
    outline = order.blade.outline
    bevel = next(b for b in order.blade.bevels if b.name == name)
    half = length_of(outline, bevel.edge) / 2
    middle = bevel.edge.start + half
    low, high, width = -half, half, 0.0
    lows = {"A": np.inf, "B": np.inf}
    for side in "AB":
        for ground in grounds[side]:
            if ground.face.bevel.name != name:
                continue
            lows[side] = ground.lowest - order.bevelling.below
            away, stations = _swept(order, ground, side)
            width = max(width, float(away.max(initial=0.0)))
            gone = stations_past(stations, middle, outline.length)
            low = min(low, float(gone.min(initial=0.0)))
            high = max(high, float(gone.max(initial=0.0)))
    return _Need(
        start=middle + low, end=middle + high, width=width, low_a=lows["A"], low_b=lows["B"]
    )


def _swept(order: Order, ground: BevelPasses, side: str) -> tuple[Floats, Floats]:
    """Return how far off the blade the places swept lie, and beside which stations, part frame."""
    outline = order.blade.outline
    rows = []
    for stage, passes in ground.passes.items():
        if not passes:
            continue
        _, cutter = cutting_and_cutter(order, stage)
        places = sampled_places(Motions.joined(list(passes)), PASS_SAMPLE_MM)
        top = ground.face.thickness / 2 - places[:, 2]
        places, top = places[top > 0], top[top > 0]
        r = cutter.corner
        within = np.sqrt(np.maximum(r**2 - np.maximum(r - top, 0.0) ** 2, 0.0))
        radius = cutter.radius - r + np.where(top < r, within, r)
        turn = np.arange(CUTTER_RIM_PLACES) * 2 * np.pi / CUTTER_RIM_PLACES
        rim = np.stack([np.cos(turn), np.sin(turn)], axis=1)
        rows.append((places[:, None, :2] + radius[:, None, None] * rim).reshape(-1, 2))
    points = points_on(side, np.concatenate(rows), order.setup.flip)
    points = points[winding(points, outline) == 0]
    return beside_outline(outline, points)


def _merged(needs: Sequence[_Need], whole: float) -> list[_Need]:
    """Return the needs with those that overlap, or nearly meet, made one."""
    rest = list(needs)
    done: list[_Need] = []
    while rest:
        one = rest.pop(0)
        again = True
        while again:
            again = False
            for other in list(rest):
                for lap in (-whole, 0.0, whole):
                    gap = 2.0
                    if other.start + lap <= one.end + gap and other.end + lap >= one.start - gap:
                        one = _Need(
                            start=min(one.start, other.start + lap),
                            end=max(one.end, other.end + lap),
                            width=max(one.width, other.width),
                            low_a=min(one.low_a, other.low_a),
                            low_b=min(one.low_b, other.low_b),
                        )
                        rest.remove(other)
                        again = True
                        break
        done.append(one)
    return sorted(done, key=lambda need: need.start % whole)


def _opened(order: Order, need: _Need, a_rough: float) -> ClearedStretch:
    entry, clearing = cutting_and_cutter(order, CLEAR)
    _refuse_deep(order, need)
    pad = clearing.radius + OPENED_SPARE_MM + STRETCH_ENDS_MM
    stretch = _past_corners(order, Stretch(start=need.start - pad, end=need.end + pad))
    cleared = bool(np.isfinite(need.low_a))
    floor_a = need.low_a if cleared else a_rough
    clear_b = float(need.low_b) if np.isfinite(need.low_b) else None
    if cleared and clear_b is not None and 0 < floor_a + clear_b < LEAST_WEB_MM:
        clear_b = -floor_a - LEAST_WEB_MM
    return ClearedStretch(
        stretch=stretch,
        width=max(
            need.width + OPENED_SPARE_MM, order.trench.width, clearing.diameter + entry.allowance
        ),
        floor_a=float(floor_a),
        clear_a=cleared,
        clear_b=clear_b,
    )


def _past_corners(order: Order, stretch: Stretch) -> Stretch:
    """Return a stretch whose ends stand clear of tight inner corners, lengthened past them.

    Beside such a corner the feet of all stations that a disc as wide as the trench cannot touch lie
    in one place: lanes that end there leave the corner to no pass.
    """
    whole = order.blade.outline.length
    start, end = stretch.start, stretch.end
    rows = list(_tight_corners(order))
    for _ in rows:
        for low, high in rows:
            before, after = (start - low) % whole, (high - end) % whole
            start -= before if before <= high - low and end - start + before < whole else 0.0
            end += after if after <= high - low and end - start + after < whole else 0.0
    return Stretch(start=start, end=end)


def _tight_corners(order: Order) -> Iterator[tuple[float, float]]:
    """Yield where no opened stretch may end beside the outline's tight inner corners, stations in mm."""
    outline = order.blade.outline
    radius = max(cutting_and_cutter(order, stage)[1].radius for stage in (ROUGH, FINISH))
    tight = unreachable(outline, (1.0 + TIGHT_RADII) * radius)
    for wide in unreachable(outline, order.trench.width) if tight else ():
        low, span = wide.start, (wide.end - wide.start) % outline.length
        if any((one.start - low) % outline.length <= span for one in tight):
            yield low - STRETCH_ENDS_MM, low + span + STRETCH_ENDS_MM


def _refuse_deep(order: Order, need: _Need) -> None:
    """Raise `PlanError` where clearing would come near the fixture."""
    x, y = place_at(order.blade.outline, (need.start + need.end) / 2)[0][0]
    for side, low in (("A", need.low_a), ("B", need.low_b)):
        left = low + order.blade.thickness / 2
        if not left >= LEAST_WEB_MM:
            raise PlanError(
                f"side {side} would be cleared beside an edge to {over_fixture(left, 3)} about"
                f" {Place(x, y):.1f}, at least {mm(LEAST_WEB_MM)} must stay: order a thicker bevels.land,"
                " or the edge nearer to the middle"
            )


def refuse_outside_plate(order: Order, opened: Sequence[ClearedStretch]) -> None:
    """Raise `PlanError` where the plate, or a clamp, leaves no room for what is opened.

    The frame's least width stays outside it, and 5 mm to any clamp and reference bore.
    """
    setup = order.setup
    low_x, low_y, high_x, high_y = setup.plate.bounds
    for one in opened:
        places, headings = resample(part_of(order.blade.outline, one.stretch), 1.0)[1:]
        outer = places + one.width * np.stack([np.sin(headings), -np.cos(headings)], axis=1)
        rooms = np.min(
            [outer[:, 0] - low_x, high_x - outer[:, 0], outer[:, 1] - low_y, high_y - outer[:, 1]],
            axis=0,
        )
        worst = int(np.argmin(rooms))
        if not rooms[worst] >= order.trench.border - 1e-6:
            x, y = places[worst]
            raise PlanError(
                f"plate: {mm(rooms[worst]):.2f} stay outside what is opened for bevels beside"
                f" {Place(x, y):.1f}, {mm(one.width):.2f} wide;"
                f" {stated('outline.border', mm(order.trench.border)):.2f} must: use a larger plate, or"
                " move its corner"
            )
        for name, place, radius in _standing(order):
            room = float(np.hypot(*(outer - place).T).min()) - radius
            inside = float(np.hypot(*(places - place).T).min()) - radius < one.width
            if inside or not room >= CLAMP_ROOM_MM:
                raise PlanError(
                    f"{name} stands {mm(0.0 if inside else room):.2f} from what is opened for bevels,"
                    f" {mm(one.width):.2f} beside the outline; {mm(CLAMP_ROOM_MM):g} must stay: move it"
                )


def refuse_tabs_on_cleared(order: Order, opened: Sequence[ClearedStretch]) -> None:
    """Raise `PlanError` where a tab is ordered on what is opened for bevels."""
    for place, station in enumerate(order.tabs.stations, start=1):
        for one in opened:
            if one.stretch.holds(station, order.blade.outline.length):
                name = "what is opened for bevels"
                raise PlanError(standing_on(order, place, name, one.stretch))


def _standing(order: Order) -> Iterator[tuple[str, Floats, float]]:
    """Yield what stands in the plate's border: name, middle (2,) in the part frame, and radius, mm."""
    setup = order.setup
    for bore in setup.registration.bores:
        name = f"registration.bores: bore '{bore.name}'"
        yield name, np.array(bore.centre), bore.diameter / 2
    for clamp in setup.clamps:
        datum = points_on(clamp.side, setup.datum["AB".index(clamp.side)], setup.flip)[0]
        for x in np.linspace(clamp.x_low, clamp.x_high, 9):
            for y in np.linspace(clamp.y_low, clamp.y_high, 9):
                place = points_on(clamp.side, np.array([x, y]) + datum, setup.flip)[0]
                yield f"clamp '{clamp.name}' on side {clamp.side}", place, 0.0

"""Tabs as they were cut, and their necks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Curve, place_at, winding
from knifecam.measure.measure_limits import (
    BESIDE_NECK_MM,
    FULL_THICKNESS_MM,
    GROOVE_MM,
    LEAST_METAL_MM,
    MEASURED_NECK_FILLET_MM,
    MOST_TAB_STATIONS,
    NECK_ALONG_MM,
    NECK_BESIDE_MM,
    NECK_BEYOND_MM,
    NECK_FIRST_MM,
    NECK_FULL_MM,
    NECK_LINES_ACROSS,
    ONE_TAB_MM,
    PAST_TAB_MM,
    TAB_EDGE_SAMPLE_MM,
    TAB_SEARCH_STEP_MM,
    TAB_WIDTH_FIRST_MM,
    TAB_WIDTH_STEP_MM,
)
from knifecam.measure.nominal import Nominal
from knifecam.measure.sample_columns import cut_with_some, near_motions
from knifecam.shop import Order
from knifecam.sweep.columns import Grid, SampleColumns, sample_columns
from knifecam.sweep.side_program import SideProgram

Floats = NDArray[np.float64]


Block = Callable[[Floats, Floats], tuple[Floats, Floats]]
"""Part heights of top and bottom, (S, U) mm, at stations (S,) and distances (U,) off the wall."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredNeck:
    """A tab's neck: ``thin`` mm, its least thickness along its middle line; ``width`` mm of its
    narrow face where it is narrowest, ``at_wall`` mm at the blade; ``foot`` mm from the wall at which
    its fillet has ended, which is what stands out once it has snapped there; ``modulus`` mm3, the
    least of mean width and thickness squared over six across it.
    """

    thin: float
    width: float
    at_wall: float
    foot: float
    modulus: float


def neck_reach(order: Order) -> float:
    """Return how far from the wall the tabs' necks reach, mm; 0 where none are ordered."""
    if not order.tabs.neck > 0:
        return 0.0
    return max((order.cutter(c.cutter).diameter for c in order.cuttings("neck")), default=0.0)


def measure_neck(
    outline: Curve, station: float, reach: float, waist: float, block: Block
) -> MeasuredNeck:
    """Return the neck of the tab at ``station``; its figures are 0 where nothing bridges it."""
    half = waist + reach + NECK_BEYOND_MM
    count = int(np.ceil(half / NECK_ALONG_MM))
    stations: Floats = station + NECK_ALONG_MM * np.arange(-count, count + 1, dtype=np.float64)
    across: Floats = np.concatenate(
        [
            np.arange(NECK_FIRST_MM, NECK_BESIDE_MM, NECK_FIRST_MM),
            np.linspace(NECK_BESIDE_MM, reach - NECK_FIRST_MM, NECK_LINES_ACROSS),
        ]
    )
    top, bottom = block(stations, across)
    thickness = top - bottom
    least = thickness.min(axis=1)
    best = float(least.max())
    if not best > LEAST_METAL_MM:
        return MeasuredNeck(thin=0.0, width=0.0, at_wall=0.0, foot=0.0, modulus=0.0)
    plateau = np.flatnonzero(least >= best - NECK_FULL_MM)
    k = int(plateau[np.argmin(np.abs(plateau - len(stations) // 2))])
    narrow = [
        _width(outline, stations, float(u), thickness[:, j] >= thickness[k, j] - NECK_FULL_MM, k)
        for j, u in enumerate(across)
    ]
    wide = [
        _width(outline, stations, float(u), thickness[:, j] > LEAST_METAL_MM, k)
        for j, u in enumerate(across)
    ]
    mean = (np.array(narrow) + np.array(wide)) / 2
    foot = int(np.argmax(thickness[k] <= best + MEASURED_NECK_FILLET_MM))
    return MeasuredNeck(
        thin=best,
        width=float(min(narrow)),
        at_wall=float(narrow[0]),
        foot=float(across[foot]) if foot else 0.0,
        modulus=float((mean * thickness[k] ** 2 / 6).min()),
    )


def _width(
    outline: Curve, stations: Floats, away: float, there: NDArray[np.bool_], k: int
) -> float:
    """Return the width of the run of ``there`` round station ``k``, (S,) bool, mm."""
    low = np.flatnonzero(~there[:k])
    high = np.flatnonzero(~there[k:])
    first = int(low[-1]) + 1 if len(low) else 0
    last = k + int(high[0]) - 1 if len(high) else len(stations) - 1
    ends = stations[[first, last]] + np.array([-0.5, 0.5]) * NECK_ALONG_MM
    points, headings = place_at(outline, ends)
    outward = np.stack([np.sin(headings), -np.cos(headings)], axis=1)
    return float(np.hypot(*np.diff(points + away * outward, axis=0)[0]))


Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredTab:
    """Metal between blade and plate at the end: a tab, wanted or not.

    ``station`` mm along the outline of its middle, ``span`` mm of the outline over which any
    metal bridges the trench, ``place`` of the middle of its narrowest section, part frame.
    ``thin`` and ``thick`` mm: least and greatest thickness along its middle line, ``top`` and
    ``bottom`` the part heights where it is thinnest. ``waist`` mm is the narrowest width over which
    it has full thickness; ``wide`` mm that over which it has any (the face toward side A); ``stub``
    mm is its width of full thickness at the blade's wall.
    """

    station: float
    span: float
    place: tuple[float, float]
    thin: float
    thick: float
    top: float
    bottom: float
    waist: float
    wide: float
    stub: float
    neck: MeasuredNeck | None = None

    @property
    def section(self) -> float:
        """Area of the smallest section in mm2: midway across the trench, a trapezium.

        ``wide`` is where it is `LEAST_METAL_MM` thick; its flanks go on from there to nothing.
        """
        whole = self.waist + (self.wide - self.waist) * self.thin / max(
            self.thin - LEAST_METAL_MM, LEAST_METAL_MM
        )
        return (self.waist + whole) / 2 * self.thin

    def snapping(self, strength: float) -> float:
        """Return the bending moment in N mm that snaps it, at a bend strength in N/mm2.

        Taken as a rectangle of the section's mean width: strength w t^2 / 6; the neck's where there
        is one.
        """
        if self.neck is not None:
            return strength * self.neck.modulus
        return strength * self.section * self.thin / 6


@dataclass(frozen=True, eq=False, kw_only=True)
class _Thicknesses:
    """Thickness in the grid at stations along the outline and distances across the trench."""

    outline: Curve
    stations: Floats
    across: Floats
    thickness: Floats  # (S, U)


def measured_tabs(
    order: Order, wanted: Nominal, sides: tuple[SideProgram | None, SideProgram | None], grid: Grid
) -> tuple[MeasuredTab, ...]:
    """Return all bridges of metal over the trench, by station; none unless both sides were cut.

    What the grid takes for a bridge but sample columns see through, as in an inner corner, is none.
    """
    if None in sides:
        return ()
    reach = neck_reach(order)
    first = reach + BESIDE_NECK_MM if reach else TAB_WIDTH_FIRST_MM
    thicknesses = _thicknesses(wanted.outline, first, order.trench.width, grid)
    bridging = _to_the_plate(thicknesses, np.all(thicknesses.thickness > LEAST_METAL_MM, axis=1))
    runs = _runs(_closed(bridging, int(np.ceil((ONE_TAB_MM + 2 * grid.cell) / TAB_SEARCH_STEP_MM))))
    if not runs:
        return ()
    given = [side for side in sides if side is not None]
    found = [_measured(thicknesses, run, given, order) for run in runs]
    real = [b for b in found if b is not None and b.thin > LEAST_METAL_MM]
    if reach:
        real = [_necked(wanted.outline, b, reach, given, order) for b in real]
        real = [b for b in real if b.neck is not None and b.neck.thin > LEAST_METAL_MM]
    return tuple(sorted(real, key=lambda b: b.station))


def _necked(
    outline: Curve, bridge: MeasuredTab, reach: float, given: list[SideProgram], order: Order
) -> MeasuredTab:
    """Return the tab with its neck, ``reach`` mm off the wall."""
    neck = measure_neck(
        outline, bridge.station, reach, bridge.waist,
        lambda stations, across: _block(outline, stations, across, given, order),
    )  # fmt: skip
    return replace(bridge, neck=neck, stub=neck.at_wall)


def _thicknesses(outline: Curve, first: float, width: float, grid: Grid) -> _Thicknesses:
    count = int(np.ceil(outline.length / TAB_SEARCH_STEP_MM))
    stations: Floats = np.arange(count, dtype=np.float64) * (outline.length / count)
    across = np.arange(
        first, max(width - TAB_SEARCH_STEP_MM, first + TAB_WIDTH_FIRST_MM), TAB_WIDTH_STEP_MM
    )
    points = _beside(outline, stations[:, None], across[None, :])
    i = np.floor((points[..., 1] - grid.y0) / grid.cell + 0.5).astype(int)
    j = np.floor((points[..., 0] - grid.x0) / grid.cell + 0.5).astype(int)
    rows, columns = grid.top.shape
    on = (i >= 0) & (i < rows) & (j >= 0) & (j < columns)
    i, j = np.clip(i, 0, rows - 1), np.clip(j, 0, columns - 1)
    thickness = np.where(on, grid.top[i, j] - grid.bottom[i, j], 0.0)
    return _Thicknesses(outline=outline, stations=stations, across=across, thickness=thickness)


def _to_the_plate(thicknesses: _Thicknesses, bridging: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return where metal bridges the trench and the way square to the wall ends in the plate.

    In an acute inner corner it ends in the blade: what stands there holds no plate.
    """
    rows = np.flatnonzero(bridging)
    places = _beside(
        thicknesses.outline, thicknesses.stations[rows, None], thicknesses.across[None, :]
    )
    within = winding(places.reshape(-1, 2), thicknesses.outline) != 0
    found = np.zeros_like(bridging)
    found[rows] = ~within.reshape(len(rows), len(thicknesses.across)).any(axis=1)
    return found


def _beside(outline: Curve, stations: Floats, across: Floats) -> Floats:
    """Return places at distances outside the outline, (..., 2)."""
    points, headings = place_at(outline, stations.ravel())
    normal = np.stack([np.sin(headings), -np.cos(headings)], axis=1)
    beside = across[..., None] * normal.reshape(*stations.shape, 2)
    return np.asarray(points.reshape(*stations.shape, 2) + beside)


def _closed(bridging: NDArray[np.bool_], count: int) -> NDArray[np.bool_]:
    """Return the round with gaps of at most ``count`` places closed: a tab's flanks seen by cells."""
    if bridging.all() or not bridging.any():
        return bridging
    first = int(np.flatnonzero(bridging)[0])
    turned = np.roll(bridging, -first)
    edges = np.flatnonzero(np.diff(np.concatenate([turned, [True]]).astype(int)))
    for low, high in zip(edges[::2] + 1, edges[1::2] + 1, strict=True):
        if high - low <= count:
            turned[low:high] = True
    return np.roll(turned, first)


def _runs(bridging: NDArray[np.bool_]) -> list[Ints]:
    """Return the runs of True along a closed round, as indices."""
    count = len(bridging)
    if bridging.all():
        return [np.arange(count)]
    if not bridging.any():
        return []
    first = int(np.flatnonzero(~bridging)[0])
    turned = np.roll(bridging, -first)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], turned, [False]]).astype(int)))
    return [
        (np.arange(low, high) + first) % count
        for low, high in zip(edges[::2], edges[1::2], strict=True)
    ]


def _measured(
    thicknesses: _Thicknesses, run: Ints, given: list[SideProgram], order: Order
) -> MeasuredTab | None:
    outline, across, plate = thicknesses.outline, thicknesses.across, order.setup.plate.thickness
    step = outline.length / len(thicknesses.stations)
    span = len(run) * step
    count = min(MOST_TAB_STATIONS, int(np.ceil((span / 2 + PAST_TAB_MM) / TAB_SEARCH_STEP_MM)))
    half = min(span / 2 + PAST_TAB_MM, outline.length / 2 - step)
    middle = float(thicknesses.stations[run[0]]) + span / 2 - step / 2
    stations = middle + np.linspace(-half, half, 2 * count + 1)
    top, bottom = _block(outline, stations, across, given, order)
    thickness = top - bottom
    least = np.where(thickness < plate - GROOVE_MM, thickness, np.inf).min(axis=1)
    if not np.isfinite(least).any():
        return None
    best = least[np.isfinite(least)].max()
    plateau = np.flatnonzero(np.isfinite(least) & (least >= best - FULL_THICKNESS_MM))
    k = int(plateau[np.argmin(np.abs(plateau - plateau.mean()))])
    trench = thickness[k] < plate - GROOVE_MM
    thin = int(np.flatnonzero(trench)[np.argmin(thickness[k][trench])])
    where = _beside(outline, stations[[k]], across[[thin]])[0]
    edges = _edges(thicknesses, stations, thickness, k, trench, given, order)
    bridge = MeasuredTab(
        station=float(stations[k] % outline.length), span=span,
        place=(float(where[0]), float(where[1])),
        thin=float(thickness[k, thin]), thick=float(thickness[k][trench].max()),
        top=float(top[k, thin]), bottom=float(bottom[k, thin]),
        waist=span, wide=_wide(thicknesses, stations, thickness, k, trench, span), stub=np.nan,
    )  # fmt: skip
    return bridge if edges is None else _narrowest(thicknesses, bridge, edges)


def _block(
    outline: Curve, stations: Floats, across: Floats, given: list[SideProgram], order: Order
) -> tuple[Floats, Floats]:
    """Return tops and bottoms at all stations and distances across, (S, U) mm, by sample columns."""
    seen = _seen(outline, stations[:, None], across[None, :], given, order)
    shape = len(stations), len(across)
    return seen.top.reshape(shape), seen.bottom.reshape(shape)


def _falls(thickness: Floats, k: int, columns: Ints, limits: Floats) -> tuple[Ints, Ints, Ints]:
    """Return the rows on both sides of ``k`` where the thickness first is below a column's limit.

    (c,) each: those of ``columns`` in which there are such rows, the rows before and those after.
    """
    below = thickness[:, columns] < limits
    before, after = below[:k][::-1], below[k + 1 :]
    both = before.any(axis=0) & after.any(axis=0)
    first, last = before[:, both].argmax(axis=0), after[:, both].argmax(axis=0)
    return columns[both], k - 1 - first, k + 1 + last


def _wide(
    thicknesses: _Thicknesses, stations: Floats, thickness: Floats, k: int, trench: NDArray[np.bool_],
    span: float,
) -> float:  # fmt: skip
    """Return the narrowest width over which there is any metal, mm."""
    columns = np.flatnonzero(trench)
    columns, before, after = _falls(thickness, k, columns, np.full(len(columns), LEAST_METAL_MM))
    if not len(columns):
        return span
    half = (stations[1] - stations[0]) / 2
    across = thicknesses.across[columns]
    return _gap(thicknesses.outline, across, stations[before] + half, stations[after] - half)


def _edges(
    thicknesses: _Thicknesses, stations: Floats, thickness: Floats, k: int, trench: NDArray[np.bool_],
    given: list[SideProgram], order: Order,
) -> tuple[Floats, Floats, Floats] | None:  # fmt: skip
    """Return distances across, and the stations of the left and right edges there.

    Edges are where the thickness falls below the tab's own, that where its middle line is
    thinnest, by `FULL_THICKNESS_MM`: beside the walls corner radii leave more, and not evenly. At
    the blade's wall itself, where the stub is read, they are where it falls below that of the
    middle line.
    """
    limits = np.full(len(trench), thickness[k][trench].min() - FULL_THICKNESS_MM)
    limits[0] = thickness[k, 0] - FULL_THICKNESS_MM
    columns = np.flatnonzero(trench)
    columns, before, after = _falls(thickness, k, columns, limits[columns])
    if len(columns) < 2:
        return None
    across, full = thicknesses.across[columns], limits[columns]
    step = stations[1] - stations[0]
    edges = [
        _refined(thicknesses.outline, stations[fallen], way * step, across, full, given, order)
        for fallen, way in ((before, 1.0), (after, -1.0))
    ]
    return across, edges[0], edges[1]


def _refined(
    outline: Curve, fallen: Floats, inward: float, across: Floats, full: Floats,
    given: list[SideProgram], order: Order,
) -> Floats:  # fmt: skip
    """Return the stations of edges between ``fallen`` and the station ``inward`` mm further."""
    count = max(2, int(np.ceil(abs(inward) / TAB_EDGE_SAMPLE_MM)))
    stations = fallen[:, None] + inward * np.arange(count + 1)[None, :] / count
    seen = _seen(outline, stations, across[:, None], given, order)
    whole = (seen.top - seen.bottom).reshape(stations.shape) >= full[:, None]
    first = np.where(whole.any(axis=1), whole.argmax(axis=1), count)
    return np.asarray(stations[np.arange(len(fallen)), first] - inward / count / 2)


def _narrowest(
    thicknesses: _Thicknesses, bridge: MeasuredTab, edges: tuple[Floats, Floats, Floats]
) -> MeasuredTab:
    across, left, right = edges
    waist = _gap(thicknesses.outline, across[1:], left[1:], right[1:])
    stub = float(right[0] - left[0])
    return replace(bridge, waist=waist, stub=stub)


def _gap(outline: Curve, across: Floats, left: Floats, right: Floats) -> float:
    """Return the least distance between the left and the right edge, mm."""
    one, other = _beside(outline, left, across), _beside(outline, right, across)
    return float(np.hypot(*(one[:, None, :] - other[None, :, :]).T).min())


def _seen(
    outline: Curve, stations: Floats, across: Floats, given: list[SideProgram], order: Order
) -> SampleColumns:
    """Return sample columns beside the outline, row by row, cut by all sides that are given."""
    places = _beside(outline, stations, across).reshape(-1, 2)
    seen = sample_columns(places, order.setup.plate.thickness)
    for side in given:
        cut_with_some(seen, side, order.setup.flip, near_motions(side, places))
    return seen

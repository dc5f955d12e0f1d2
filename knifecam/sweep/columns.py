"""A plate as columns on a grid, single columns at chosen places, and what cuts them.

A column is one interval of metal from ``bottom`` to ``top`` in the part frame, exact for a plate
cut from two opposite sides without undercuts. Side A lowers tops, side B raises bottoms; a column
that is empty has ``top == bottom`` and stays so. A motion of side B is read in side B's frame and
mirrored into the plane of the part, where its heights are turned over; the grid never moves.
"""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.curve import Motions
from knifecam.cutting import Engagement
from knifecam.errors import KnifecamError
from knifecam.quantity import bare, mm
from knifecam.sweep import column_kernel
from knifecam.sweep.cutter_profile import CutterProfile, broadcast, cutter_profiles
from knifecam.sweep.sweep_limits import (
    COARSEST_CELL_MM,
    MEMORY_SHARE,
    MOST_BUCKETS,
    SHORTEST_STEP_MM,
)
from knifecam.sweep.sweep_steps import (
    StepContact,
    SweepSteps,
    least_steps,
    list_blocks,
    nothing_met,
    step_contact,
    sweep_steps,
)
from knifecam.sweep.threads import run_in_threads, thread_shares, usable_memory, usable_threads

LEAST_BUCKET_MM = 1.0
"""mm: side of a bucket, unless the places lie so far apart that there were too many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Buckets:
    """``order`` sorts the places by bucket; bucket b holds those from ``begins[b]`` on.

    Bucket [0, 0] has its lower corner at ``x0, y0`` (mm), ``size`` is the buckets' side;
    bucket b stands in row ``b // nx`` of ``ny``.
    """

    order: NDArray[np.int64]
    begins: NDArray[np.int64]
    x0: float
    y0: float
    size: float
    nx: int
    ny: int


def buckets(places: NDArray[np.float64]) -> Buckets:
    """Return the buckets of at least one place, (n, 2) mm."""
    low = places.min(axis=0)
    width, depth = places.max(axis=0) - low
    size = float(
        max(
            LEAST_BUCKET_MM,
            np.sqrt(width * depth / MOST_BUCKETS),
            width / MOST_BUCKETS,
            depth / MOST_BUCKETS,
        )
    )
    nx, ny = int(width / size) + 1, int(depth / size) + 1
    column, row = ((places - low) / size).astype(np.int64).T
    bucket = row * nx + column
    order = np.argsort(bucket, kind="stable")
    begins = np.searchsorted(bucket[order], np.arange(nx * ny + 1)).astype(np.int64)
    return Buckets(
        order=order, begins=begins, x0=float(low[0]), y0=float(low[1]), size=size, nx=nx, ny=ny
    )


Floats = NDArray[np.float64]


Ints = NDArray[np.int32]


Bools = NDArray[np.bool_]


Bytes = NDArray[np.uint8]


RING_DIRECTIONS = np.array(
    [
        f(k * 2 * np.pi / column_kernel.RING_PLACES)
        for f in (np.cos, np.sin)
        for k in range(column_kernel.RING_PLACES)
    ]
)
"""Places round the rim that are looked at for metal beside the cutter: cosines, then sines."""


CELL_BYTES, COLUMN_BYTES, OTHER_BYTES = 26, 20, 400_000_000
"""Bytes: what judging takes for each cell at its height, what a cell of one more plate takes, and what
all the rest takes. Measured: 22.4 a cell, 330 MB beside (230 x 32 mm blade, both sides)."""


def emptied(top: Floats, bottom: Floats, changed: Ints) -> Ints:
    """Return the motion that emptied columns, -1 for none: the last that took metal off them.

    ``top``, ``bottom`` (mm) and ``changed`` of the same shape.
    """
    return np.where(top == bottom, changed, np.int32(-1))


@dataclass(slots=True, kw_only=True)
class Grid:
    """Columns at the centres of square cells; arrays are changed in place.

    Parameters
    ----------
    x0, y0 : float, mm
        Centre of cell [0, 0] in the part frame; columns of the arrays run along X.
    cell : float, mm
        Side of a cell.
    top, bottom : (ny, nx) float, mm
        The metal's interval in the part frame.
    changed : (ny, nx) int32, optional
        The last motion that took metal off the column, -1 for none.
    thickness : float, mm, optional
        Of the plate as it was; by default twice the height of the face farther from the middle.
    """

    x0: float
    y0: float
    cell: float
    top: Floats
    bottom: Floats
    changed: Ints = None  # type: ignore[assignment]
    thickness: float = np.nan

    def __post_init__(self) -> None:
        if self.changed is None:
            self.changed = np.full(self.top.shape, -1, np.int32)
        if not (self.cell > 0.0):
            raise ValueError(f"cell={self.cell} mm must be greater than 0")
        if not (self.top.shape == self.bottom.shape == self.changed.shape and self.top.ndim == 2):
            raise ValueError(
                f"top {self.top.shape}, bottom {self.bottom.shape} and "
                f"changed {self.changed.shape} must all be (ny, nx)"
            )
        if not (self.thickness > 0.0):
            self.thickness = 2.0 * float(max(self.top.max(), -self.bottom.min()))

    @property
    def x(self) -> Floats:
        """(nx,) mm: X of the cells' centres."""
        return np.asarray(self.x0 + self.cell * np.arange(self.top.shape[1]), float)

    @property
    def y(self) -> Floats:
        """(ny,) mm: Y of the cells' centres."""
        return np.asarray(self.y0 + self.cell * np.arange(self.top.shape[0]), float)

    @property
    def emptied(self) -> Ints:
        """(ny, nx): the motion that emptied each column, -1 for none."""
        return emptied(self.top, self.bottom, self.changed)

    @property
    def volume(self) -> float:
        """mm3 of metal that is left."""
        return float(np.sum(self.top - self.bottom)) * self.cell**2


@dataclass(slots=True, kw_only=True)
class SampleColumns:
    """Columns at exact places of the part frame; arrays are changed in place.

    ``x, y, top, bottom`` (n,) mm; ``changed`` (n,) int32, the last motion that took metal off each,
    -1 for none.
    """

    x: Floats
    y: Floats
    top: Floats
    bottom: Floats
    changed: Ints = None  # type: ignore[assignment]

    def __post_init__(self) -> None:
        if self.changed is None:
            self.changed = np.full(self.top.shape, -1, np.int32)

    @property
    def emptied(self) -> Ints:
        """(n,): the motion that emptied each, -1 for none."""
        return emptied(self.top, self.bottom, self.changed)

    def __len__(self) -> int:
        return len(self.x)


@dataclass(frozen=True, slots=True, kw_only=True)
class Swept:
    """What motions did to a grid.

    Parameters
    ----------
    engagement : Engagement
        One row a step; places in the side's own frame.
    volume : (M,) float, mm3
        Metal that each motion took off; their sum is what the plate lost.
    gouge : (M,) float, mm
        Deepest cut of each motion into protected columns.
    gouge_place : (M, 2) float, mm
        Where, in the part frame; NaN for none.
    """

    engagement: Engagement
    volume: Floats
    gouge: Floats
    gouge_place: Floats


def refuse_cells(bounds: tuple[float, float, float, float], cell: float, *, grids: int = 1) -> None:
    """Raise `KnifecamError` where so many cells would not fit into the memory at hand.

    Parameters
    ----------
    bounds : (x_low, y_low, x_high, y_high), mm
    cell : float, mm
    grids : int
        How many plates are kept at once.
    """
    if not (cell > 0.0):  # no cell at all, which `plate_grid` refuses
        return
    count = (bounds[2] - bounds[0]) * (bounds[3] - bounds[1]) / cell**2
    each = CELL_BYTES + COLUMN_BYTES * (grids - 1)
    need, room = count * each, MEMORY_SHARE * usable_memory() - OTHER_BYTES
    if need <= room:
        return
    least = math.ceil(1000 * cell * math.sqrt(need / max(room, 1.0))) / 1000
    would = (
        f"cell={mm(least):g} or more would do" if least <= COARSEST_CELL_MM else "free some memory"
    )
    raise KnifecamError(
        f"cell={mm(cell):g} makes {count / 1e6:.0f} million cells of the"
        f" {bare(bounds[2] - bounds[0]):.0f} x"
        f" {mm(bounds[3] - bounds[1]):.0f} looked at, which take {(need + OTHER_BYTES) / 1e9:.1f}"
        " GB; at most"
        f" {MEMORY_SHARE * usable_memory() / 1e9:.1f} GB may be taken here: {would}"
    )


def cells_fit(bounds: tuple[float, float, float, float], cell: float) -> bool:
    """Return whether cells of a plate fit into the memory at hand; parameters as `refuse_cells`."""
    with suppress(KnifecamError):
        refuse_cells(bounds, cell)
        return True
    return False


def plate_grid(bounds: tuple[float, float, float, float], thickness: float, cell: float) -> Grid:
    """Return an uncut plate: cells of side ``cell`` that cover ``bounds`` from its lower corner.

    Parameters
    ----------
    bounds : (x_low, y_low, x_high, y_high), mm, part frame
    thickness, cell : float, mm
    """
    x_low, y_low, x_high, y_high = bounds
    if not (x_high > x_low and y_high > y_low and thickness > 0.0 and cell > 0.0):
        raise ValueError(
            f"bounds={bounds} mm must be low, low, high, high; "
            f"thickness={thickness} mm and cell={cell} mm greater than 0"
        )
    nx = int(np.ceil((x_high - x_low) / cell - 1e-6))
    ny = int(np.ceil((y_high - y_low) / cell - 1e-6))
    return Grid(
        x0=x_low + cell / 2,
        y0=y_low + cell / 2,
        cell=cell,
        top=np.full((ny, nx), thickness / 2),
        bottom=np.full((ny, nx), -thickness / 2),
        thickness=thickness,
    )


def sample_columns(points: ArrayLike, thickness: ArrayLike) -> SampleColumns:
    """Return uncut columns at ``points`` (n, 2), mm, part frame; ``thickness`` one or (n,)."""
    places = np.asarray(points, dtype=float).reshape(-1, 2)
    half = np.broadcast_to(np.asarray(thickness, dtype=float) / 2, len(places))
    return SampleColumns(
        x=places[:, 0].copy(),
        y=places[:, 1].copy(),
        top=half.copy(),
        bottom=-half,
    )


def _seen(motions: Motions, side: str, flip: str) -> tuple[float, Floats]:
    """Return the side's sign, and those of X and Y in the plane of the part."""
    if side not in ("A", "B") or flip not in ("X", "Y"):
        raise ValueError(f"side={side!r} must be 'A' or 'B', flip={flip!r} 'X' or 'Y'")
    numbers = (motions.start, motions.stop, motions.centre, motions.turns)
    if not all(np.all(np.isfinite(a)) for a in numbers):
        raise ValueError("motions must be finite")
    if side == "A":
        return 1.0, np.ones(2)
    return -1.0, np.array([1.0, -1.0] if flip == "X" else [-1.0, 1.0])


def cut_grid(
    grid: Grid,
    motions: Motions,
    radius: ArrayLike,
    corner: ArrayLike,
    *,
    side: str,
    flip: str,
    first: int,
    protected: Bools | None = None,
    reach: ArrayLike | None = None,
    shank: ArrayLike | None = None,
    tip: ArrayLike | None = None,
    half_angle: ArrayLike | None = None,
    threads: int | None = None,
) -> Swept:
    """Cut the grid with ``motions`` in turn, and return what each step met.

    A column's cut face ends within 1e-9 mm of the lowest surface the cutter has over its centre
    (1e-6 mm for ball and bull-nose cutters on helices). Each motion is cut in steps of at most
    ``max(radius / 2, 0.2)`` and 30 degrees; one that stays above the plate is a single step.

    The measures of a step come from the columns it takes metal off, by their place across the
    cutter where they first come to its rim: left and right are the outer 0.3 radius of the
    half-width, front is all between. Columns within 1 um of the rim are cut but not counted, so
    that a finished wall is not met again. A light cut is thus seen as far as cell centres lie in it.
    `tallest` and `shank` are read on rings of 32 places (each nearest cell) round the step's end
    after it is cut; `floor` under the step's end before it is cut, 0 where the step breaks through
    there, inf where nothing was left already.

    Parameters
    ----------
    grid : Grid
        Changed in place.
    motions : Motions
        In the side's own frame: for "B" the part turned about X (x, -y, -z) or Y (-x, y, -z).
    radius, corner : (M,) float, mm
        Of the cutter of each motion; corner 0 is flat, equal to the radius ball.
    side, flip : str
        "A" or "B"; "X" or "Y".
    first : int
        Motion m is written to ``changed`` as ``first + m``.
    protected : (ny, nx) bool, optional
        Columns the cut must not touch.
    reach, shank : (M,) float, mm, optional
        Height above the tip at which the shank begins, and the shank's radius. Without them, or
        for a shank no thicker than the cutter, `Engagement.shank` is -inf; where the shank stays
        above the plate's face it is that gap, negative.
    tip : (M,) float, mm, optional
        Radius of the flat tip of conical cutters, whose corner is 0.
    half_angle : (M,) float, rad, optional
        Between a conical cutter and its axis; 0, as without it, for cutters that are no cones.
    threads : int, optional
        As many as can run at once, if not given. The result is the same to the last bit.
    """
    count = len(motions)
    forms = cutter_profiles(count, radius, corner, tip, half_angle)
    sign, plane = _seen(motions, side, flip)
    cut, other = (grid.top, grid.bottom) if side == "A" else (grid.bottom, grid.top)
    face = float(cut.max()) if side == "A" else -float(cut.min())
    guard = _guard(grid, protected)
    ny, nx = cut.shape
    place = column_kernel.Place(
        float(grid.x0), float(grid.y0), float(grid.cell), 1.0 / grid.cell, nx, ny, sign
    )
    laid = sweep_steps(motions, forms, _steps(motions, forms, face), plane, sign)
    listed = list_blocks(laid, place, face, broadcast(reach, count), broadcast(shank, count))
    met = nothing_met(listed)

    def sweep(low: int, high: int) -> None:
        column_kernel.sweep_blocks(
            cut.ravel(),
            other.ravel(),
            grid.changed.ravel(),
            guard.ravel(),
            protected is not None,
            place,
            RING_DIRECTIONS,
            -grid.thickness / 2,
            first,
            laid.table.ravel(),
            listed.begins,
            listed.step,
            low,
            high,
            met.ravel(),
            *column_kernel.scratch(),
        )

    most = usable_threads() if threads is None else threads
    run_in_threads(sweep, thread_shares(listed.begins, most), most)
    found = step_contact(laid, listed, met, grid.cell, count)
    return Swept(
        engagement=_engagement(laid, found, sign, plane),
        volume=np.asarray(np.bincount(laid.motion, found.volume, count), float),
        gouge=found.gouge,
        gouge_place=found.place,
    )


def _steps(motions: Motions, forms: CutterProfile, face: float) -> Ints:
    """Return how many steps each motion is cut in: one, where it stays above the plate."""
    steps = np.ceil(motions.lengths / np.maximum(forms.radius / 2, SHORTEST_STEP_MM) - 1e-9)
    above = np.minimum(motions.start[:, 2], motions.stop[:, 2]) >= face
    counts: Ints = np.where(above, 1, np.maximum(steps, least_steps(motions))).astype(np.int32)
    return counts


def _guard(grid: Grid, protected: Bools | None) -> Bytes:
    if protected is None:
        return np.zeros((1, 1), np.uint8)
    guard = np.ascontiguousarray(protected, bool).view(np.uint8)
    if guard.shape != grid.top.shape:
        raise ValueError(f"protected {guard.shape} must have the grid's shape {grid.top.shape}")
    return guard


def _engagement(laid: SweepSteps, found: StepContact, sign: float, plane: Floats) -> Engagement:
    """Return the record of steps measured in the plane of the part, seen from the side."""
    left, right = found.left, found.right
    if sign < 0.0:  # mirrored: the part's left is the side's right
        left, right = right, left
    return Engagement(
        motion=laid.motion,
        place=laid.place * np.append(plane, 1.0),
        length=laid.length,
        volume=found.volume,
        left=left,
        front=found.front,
        right=right,
        width=found.width,
        under=found.under,
        tallest=found.tallest,
        shank=found.shank,
        floor=found.floor,
    )


def cut_samples(
    sights: SampleColumns,
    motions: Motions,
    radius: ArrayLike,
    corner: ArrayLike,
    *,
    side: str,
    flip: str,
    first: int,
    tip: ArrayLike | None = None,
    half_angle: ArrayLike | None = None,
) -> None:
    """Cut the sample columns, in place, with ``motions``: exact at their places, no grid involved.

    Parameters are those of `cut_grid`.
    """
    laid = sample_steps(
        motions, radius, corner, side=side, flip=flip, tip=tip, half_angle=half_angle
    )
    cut_by_steps(sights, laid, side=side, first=first)


def sample_steps(
    motions: Motions,
    radius: ArrayLike,
    corner: ArrayLike,
    *,
    side: str,
    flip: str,
    tip: ArrayLike | None = None,
    half_angle: ArrayLike | None = None,
) -> SweepSteps:
    """Return ``motions`` as the steps in which sample columns are cut; parameters as for `cut_grid`."""
    forms = cutter_profiles(len(motions), radius, corner, tip, half_angle)
    sign, plane = _seen(motions, side, flip)
    return sweep_steps(motions, forms, least_steps(motions), plane, sign)


def cut_by_steps(
    sights: SampleColumns, laid: SweepSteps, *, side: str, first: int, asked: Bools | None = None
) -> tuple[Floats, Ints]:  # fmt: skip
    """Cut the sample columns, in place, with the steps of a side's motions.

    Return how much, at most, one of the motions that are ``asked`` for (M,) takes off each sample
    column at once, (n,) mm, and which, -1 for none.
    """
    bite, biter = np.zeros(len(sights)), np.full(len(sights), -1, np.int32)
    if not len(sights):
        return bite, biter
    wanted = np.zeros(len(laid.motion), bool) if asked is None else asked[laid.motion]
    sign = 1.0 if side == "A" else -1.0
    cut, other = (sights.top, sights.bottom) if side == "A" else (sights.bottom, sights.top)
    places = buckets(np.column_stack([sights.x, sights.y]))
    order = places.order
    sorted_cut, changed = cut[order], sights.changed[order]
    sorted_in = column_kernel.Buckets(
        places.begins, places.x0, places.y0, places.size, places.nx, places.ny
    )
    column_kernel.sweep_sights(
        sorted_cut, other[order], changed, sights.x[order], sights.y[order], sign, sorted_in,
        laid.table.ravel(), len(laid.motion), first, wanted, bite, biter, column_kernel.scratch()[0],
    )  # fmt: skip
    cut[order] = sorted_cut
    sights.changed[order] = changed
    back = np.argsort(order, kind="stable")
    return bite[back], biter[back]

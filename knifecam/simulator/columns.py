"""Columns of metal: the grid over the plate, the sights at chosen places, and what cuts them.

A column is one interval of metal from ``bottom`` to ``top`` in the part frame, exact for a plate
cut from two opposite sides without undercuts. Side A lowers tops, side B raises bottoms; a column
that is empty has ``top == bottom`` and stays so. A motion of side B is read in side B's frame and
mirrored into the plane of the part, where its heights are turned over; the field never moves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.curve import ARC, Motions
from knifecam.cutting import Engagement
from knifecam.simulator import kernel
from knifecam.simulator.buckets import buckets
from knifecam.simulator.forms import Forms, each, forms_of
from knifecam.simulator.shares import share_out, shares, threads_at_hand

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]

RING = np.array(
    [f(k * 2 * np.pi / kernel.RING) for f in (np.cos, np.sin) for k in range(kernel.RING)]
)
"""Places round the rim that are looked at for metal beside the cutter: cosines, then sines."""

STEEPEST_STEP = np.pi / 6
"""rad: no step turns further along an arc."""


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
    emptied : (ny, nx) int32
        The motion that emptied the column, -1 for none.
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
    emptied: Ints
    changed: Ints = None  # type: ignore[assignment]
    thickness: float = np.nan

    def __post_init__(self) -> None:
        if self.changed is None:
            self.changed = np.full(self.emptied.shape, -1, np.int32)
        if not (self.cell > 0.0):
            raise ValueError(f"cell={self.cell} mm must be greater than 0")
        if not (self.top.shape == self.bottom.shape == self.emptied.shape and self.top.ndim == 2):
            raise ValueError(
                f"top {self.top.shape}, bottom {self.bottom.shape} and "
                f"emptied {self.emptied.shape} must all be (ny, nx)"
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
    def volume(self) -> float:
        """mm3 of metal that is left."""
        return float(np.sum(self.top - self.bottom)) * self.cell**2


@dataclass(slots=True, kw_only=True)
class Sights:
    """Columns at exact places of the part frame; arrays are changed in place.

    ``x, y, top, bottom`` (n,) mm; ``emptied`` and ``changed`` (n,) int32, the motion that emptied
    each and the last that took metal off it, -1 for none.
    """

    x: Floats
    y: Floats
    top: Floats
    bottom: Floats
    emptied: Ints
    changed: Ints = None  # type: ignore[assignment]

    def __post_init__(self) -> None:
        if self.changed is None:
            self.changed = np.full(self.emptied.shape, -1, np.int32)

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
        emptied=np.full((ny, nx), -1, np.int32),
        thickness=thickness,
    )


def sights(points: ArrayLike, thickness: ArrayLike) -> Sights:
    """Return uncut columns at ``points`` (n, 2), mm, part frame; ``thickness`` one or (n,)."""
    places = np.asarray(points, dtype=float).reshape(-1, 2)
    half = np.broadcast_to(np.asarray(thickness, dtype=float) / 2, len(places))
    return Sights(
        x=places[:, 0].copy(),
        y=places[:, 1].copy(),
        top=half.copy(),
        bottom=-half,
        emptied=np.full(len(places), -1, np.int32),
    )


def _work(
    motions: Motions, forms: Forms, side: str, flip: str
) -> tuple[kernel.Work, float, Floats]:
    """Return the motions in the plane of the part, the side's sign, and the signs of X and Y."""
    if side not in ("A", "B") or flip not in ("X", "Y"):
        raise ValueError(f"side={side!r} must be 'A' or 'B', flip={flip!r} 'X' or 'Y'")
    numbers = (motions.start, motions.stop, motions.centre, motions.turns)
    if not all(np.all(np.isfinite(a)) for a in numbers):
        raise ValueError("motions must be finite")
    sign, plane = 1.0, np.ones(2)
    if side == "B":
        sign, plane = -1.0, np.array([1.0, -1.0] if flip == "X" else [-1.0, 1.0])
    turned = np.where(motions.kind == ARC, 2 * np.pi * np.abs(motions.turns), 0.0)
    work = kernel.Work(
        kind=motions.kind,
        start=motions.start * np.append(plane, 1.0),
        stop=motions.stop * np.append(plane, 1.0),
        centre=motions.centre * plane,
        turns=motions.turns * sign,
        radius=forms.radius,
        flat=forms.flat,
        rise=forms.rise,
        parts=np.maximum(1.0, np.ceil(turned / STEEPEST_STEP - 1e-9)).astype(np.int32),
    )
    return work, sign, plane


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
    ``max(radius / 2, 4 cells)`` and 30 degrees; one that stays above the plate is a single step.

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
        Motion m is written to ``emptied`` as ``first + m``.
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
    forms = forms_of(count, radius, corner, tip, half_angle)
    work, sign, plane = _work(motions, forms, side, flip)
    cut, other = (grid.top, grid.bottom) if side == "A" else (grid.bottom, grid.top)
    face = float(cut.max()) if side == "A" else -float(cut.min())
    work = work._replace(parts=_steps(motions, work, face, grid.cell))
    guard = _guard(grid, protected)
    ny, nx = cut.shape
    place = kernel.Place(
        float(grid.x0), float(grid.y0), float(grid.cell), 1.0 / grid.cell, nx, ny, sign
    )
    table, motion, steps, begins = kernel.tables(int(work.parts.sum()), nx, ny)
    listed = kernel.lay_steps(
        work, place, face, each(reach, count), each(shank, count), table, motion, steps, begins
    )
    met = np.empty(len(listed) * kernel.MET)

    def sweep(low: int, high: int) -> None:
        kernel.sweep_blocks(
            cut, other, grid.emptied, grid.changed, guard, protected is not None, place, RING,
            -grid.thickness / 2, first, table, motion, begins, listed, low, high, met,
            kernel.scratch(),
        )  # fmt: skip

    most = threads_at_hand() if threads is None else threads
    share_out(sweep, shares(begins, most), most)
    volume, gouge = np.zeros(count), np.zeros((count, 3))
    kernel.put_together(table, motion, listed, met, grid.cell, steps, volume, gouge)
    return Swept(
        engagement=_engagement(steps, sign, plane),
        volume=volume,
        gouge=gouge[:, 0],
        gouge_place=np.where(gouge[:, :1] > 0.0, gouge[:, 1:], np.nan),
    )


def _steps(motions: Motions, work: kernel.Work, face: float, cell: float) -> Ints:
    """Return how many steps each motion is cut in: one, where it stays above the plate."""
    steps = np.ceil(motions.lengths / np.maximum(work.radius / 2, 4 * cell) - 1e-9)
    above = np.minimum(motions.start[:, 2], motions.stop[:, 2]) >= face
    counts: Ints = np.where(above, 1, np.maximum(steps, work.parts)).astype(np.int32)
    return counts


def _guard(grid: Grid, protected: Bools | None) -> Bools:
    if protected is None:
        return np.zeros((1, 1), bool)
    guard = np.array(protected, dtype=bool)
    if guard.shape != grid.top.shape:
        raise ValueError(f"protected {guard.shape} must have the grid's shape {grid.top.shape}")
    return guard


def _engagement(steps: Floats, sign: float, plane: Floats) -> Engagement:
    """Return the record of steps measured in the plane of the part, seen from the side."""
    left, right = kernel.LEFT, kernel.RIGHT
    if sign < 0.0:  # mirrored: the part's left is the side's right
        left, right = right, left
    return Engagement(
        motion=steps[:, kernel.MOTION].astype(np.int32),
        place=steps[:, [kernel.X, kernel.Y, kernel.Z]] * np.append(plane, 1.0),
        length=steps[:, kernel.LENGTH],
        volume=steps[:, kernel.VOLUME],
        left=steps[:, left],
        front=steps[:, kernel.FRONT],
        right=steps[:, right],
        width=steps[:, kernel.WIDTH],
        under=steps[:, kernel.UNDER],
        tallest=steps[:, kernel.TALLEST],
        shank=steps[:, kernel.SHANK],
        floor=steps[:, kernel.FLOOR],
    )


def cut_sights(
    sights: Sights,
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
    """Cut the sights, in place, with ``motions``: exact at their places, no grid involved.

    Parameters are those of `cut_grid`.
    """
    forms = forms_of(len(motions), radius, corner, tip, half_angle)
    work, sign, _ = _work(motions, forms, side, flip)
    if not len(sights):
        return
    places = buckets(np.column_stack([sights.x, sights.y]))
    order = places.order
    cut, other = (sights.top, sights.bottom) if side == "A" else (sights.bottom, sights.top)
    sorted_cut, emptied, changed = cut[order], sights.emptied[order], sights.changed[order]
    kernel.sweep_sights(
        sorted_cut, other[order], emptied, changed, sights.x[order], sights.y[order], sign,
        places.begins, places.x0, places.y0, places.size, places.nx, places.ny, work, first,
        kernel.scratch(),
    )  # fmt: skip
    cut[order] = sorted_cut
    sights.emptied[order] = emptied
    sights.changed[order] = changed

"""Curves of lines and arcs in the plane; the boxes round their pieces; mirroring and placing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.curve.curve_limits import CORNER_RAD, STRAIGHT_BULGE

Floats = NDArray[np.float64]


class Piece(NamedTuple):
    """A row of `Curve.table`: a line has radius 0."""

    ax: float
    ay: float
    bx: float
    by: float
    cx: float
    cy: float
    radius: float
    angle: float


class Boxes(NamedTuple):
    """Boxes of pieces (M, 4) and of every ``group`` in a row (G, 4): x low, y low, x high, y high."""

    each: Floats
    wide: Floats
    group: int


def boxes_of(table: Floats) -> Boxes:
    """Return the boxes of pieces (M, 8), rows as `Curve.table` has them.

    An arc of at most half a turn lies within its rise of the box of its ends.
    """
    count = len(table)
    group = int(math.sqrt(count) / 1.5) + 1
    starts, ends = table[:, :2], table[:, 2:4]
    rise = np.hypot(*(ends - starts).T) / 2 * np.tan(np.abs(table[:, 7]) / 4) * 1.000001
    each = np.empty((count, 4))
    each[:, :2] = np.minimum(starts, ends) - rise[:, None]
    each[:, 2:] = np.maximum(starts, ends) + rise[:, None]
    firsts = np.arange(0, count, group)
    wide = np.empty((len(firsts), 4))
    if count:
        wide[:, :2] = np.minimum.reduceat(each[:, :2], firsts)
        wide[:, 2:] = np.maximum.reduceat(each[:, 2:], firsts)
    return Boxes(each, wide, group)


def frozen(values: ArrayLike, dtype: Any = np.float64) -> NDArray[Any]:
    """Return a read-only copy of ``values``."""
    array: NDArray[Any] = np.array(values, dtype=dtype)
    array.setflags(write=False)
    return array


@dataclass(frozen=True, eq=False)
class Curve:
    """A chain of lines and arcs.

    Parameters
    ----------
    vertices : (N, 2) float, mm
        Where pieces begin. A closed curve returns from the last to the first.
    bulges : (N,) float
        Tangent of a quarter of each piece's angle, positive counter-clockwise (DXF's term),
        at most 1 in size. The last of an open curve belongs to no piece and is 0.
    closed : bool
    corners : (N,) bool, optional
        Whether a true corner stands at the vertex. Without it, a turn above `CORNER_RAD` is one.

    Raises
    ------
    ValueError
        For shapes that do not match, numbers that are not finite, or a bulge above 1.
    """

    vertices: Floats
    bulges: Floats
    closed: bool = True
    corners: NDArray[np.bool_] | None = None

    def __post_init__(self) -> None:
        vertices = frozen(self.vertices)
        bulges = frozen(self.bulges)
        if vertices.ndim != 2 or vertices.shape[1] != 2 or bulges.shape != vertices.shape[:1]:
            raise ValueError(
                f"vertices {vertices.shape} must be (N, 2) and bulges {bulges.shape} (N,)"
            )
        if len(vertices) < 2:
            raise ValueError(f"a curve wants two vertices or more; got {len(vertices)}")
        if not (np.isfinite(vertices).all() and np.isfinite(bulges).all()):
            raise ValueError("vertices and bulges must be finite")
        if not (np.abs(bulges) <= 1 + 1e-12).all():
            raise ValueError(f"bulge {np.abs(bulges).max()} must be at most 1: split the arc")
        if not self.closed:
            last = bulges.copy()
            last[-1] = 0.0
            bulges = frozen(last)
        object.__setattr__(self, "vertices", vertices)
        object.__setattr__(self, "bulges", bulges)
        corners = self._turned() if self.corners is None else self.corners
        object.__setattr__(self, "corners", frozen(corners, bool))

    def _turned(self) -> NDArray[np.bool_]:
        arriving, leaving = self.end_headings, self.start_headings
        turn = np.zeros(len(self.vertices))
        turn[1 : len(leaving)] = wrapped(leaving[1:] - arriving[: len(leaving) - 1])
        if self.closed:
            turn[0] = wrapped(leaving[0] - arriving[-1])
        return np.abs(turn) > CORNER_RAD

    def __eq__(self, other: object) -> bool:
        return self is other or (
            isinstance(other, Curve)
            and self.closed == other.closed
            and np.array_equal(self.vertices, other.vertices)
            and np.array_equal(self.bulges, other.bulges)
        )

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return hash((self.closed, self.vertices.tobytes(), self.bulges.tobytes()))

    def __len__(self) -> int:
        """Count of pieces."""
        return len(self.vertices) if self.closed else len(self.vertices) - 1

    @cached_property
    def starts(self) -> Floats:
        """(M, 2): where each piece begins."""
        return self.vertices[: len(self)]

    @cached_property
    def ends(self) -> Floats:
        """(M, 2): where each piece ends."""
        if self.closed:
            return np.concatenate([self.vertices[1:], self.vertices[:1]])
        return self.vertices[1:]

    @cached_property
    def angles(self) -> Floats:
        """(M,) rad: the angle each piece turns through, positive counter-clockwise."""
        return 4 * np.arctan(self.bulges[: len(self)])

    @cached_property
    def is_arc(self) -> NDArray[np.bool_]:
        """(M,): which pieces are arcs."""
        return np.abs(self.bulges[: len(self)]) > STRAIGHT_BULGE

    @cached_property
    def centres(self) -> Floats:
        """(M, 2): centres of the arcs; NaN for lines."""
        bulge = np.where(self.is_arc, self.bulges[: len(self)], np.nan)
        k = (1 / bulge - bulge) / 4
        chord = self.ends - self.starts
        middle = (self.ends + self.starts) / 2
        return middle + np.stack([-chord[:, 1] * k, chord[:, 0] * k], axis=1)

    @cached_property
    def radii(self) -> Floats:
        """(M,) mm: radii of the arcs; inf for lines."""
        bulge = np.where(self.is_arc, np.abs(self.bulges[: len(self)]), 0.5)
        chord = np.hypot(*(self.ends - self.starts).T)
        return np.where(self.is_arc, chord * (1 + bulge**2) / (4 * bulge), np.inf)

    @cached_property
    def lengths(self) -> Floats:
        """(M,) mm: the length of each piece along itself."""
        chord = np.hypot(*(self.ends - self.starts).T)
        angle = np.abs(self.angles)
        half = angle / 2
        return np.where(self.is_arc, chord * half / np.sin(np.where(self.is_arc, half, 1.0)), chord)

    @cached_property
    def stations(self) -> Floats:
        """(M + 1,) mm: arc length at which each piece begins, and the whole length."""
        return np.concatenate([[0.0], np.cumsum(self.lengths)])

    @property
    def length(self) -> float:
        """The whole length in mm."""
        return float(self.stations[-1])

    @cached_property
    def start_headings(self) -> Floats:
        """(M,) rad: direction of travel where each piece begins."""
        chord = self.ends - self.starts
        return np.arctan2(chord[:, 1], chord[:, 0]) - self.angles / 2

    @cached_property
    def end_headings(self) -> Floats:
        """(M,) rad: direction of travel where each piece ends."""
        return self.start_headings + self.angles

    @cached_property
    def area(self) -> float:
        """Enclosed area in mm2, positive when the curve runs counter-clockwise."""
        x, y = self.starts.T
        u, v = self.ends.T
        shoelace = float(np.sum(x * v - u * y)) / 2
        radius = np.where(self.is_arc, self.radii, 0.0)
        segments = float(np.sum(radius**2 * (self.angles - np.sin(self.angles)))) / 2
        return shoelace + segments

    @cached_property
    def extents(self) -> Floats:
        """(M, 4) mm: x low, y low, x high, y high of each piece, exact on arcs."""
        low, high = np.minimum(self.starts, self.ends), np.maximum(self.starts, self.ends)
        arcs = np.flatnonzero(self.is_arc)
        angles = self.angles[arcs, None]
        # the outward normal of a counter-clockwise arc is its heading less a quarter turn
        toward = self.start_headings[arcs, None] - np.copysign(np.pi / 2, angles)
        gone = np.sign(angles) * (np.arange(4) * np.pi / 2 - toward) % (2 * np.pi)
        which, quarter = np.nonzero(gone <= np.abs(angles))
        axes = np.array([[1, 0], [0, 1], [-1, 0], [0, -1]])[quarter]
        tops = self.centres[arcs[which]] + self.radii[arcs[which], None] * axes
        np.minimum.at(low, arcs[which], tops)
        np.maximum.at(high, arcs[which], tops)
        return np.concatenate([low, high], axis=1)

    @cached_property
    def bounds(self) -> tuple[float, float, float, float]:
        """(x low, y low, x high, y high) in mm, exact on arcs."""
        low_x, low_y = self.extents[:, :2].min(axis=0).tolist()
        high_x, high_y = self.extents[:, 2:].max(axis=0).tolist()
        return low_x, low_y, high_x, high_y

    def reversed(self) -> Curve:
        """Return the same curve travelled the other way."""
        bulges = -self.bulges[: len(self)][::-1]
        assert_corners = self.corners if self.corners is not None else np.zeros(0, bool)
        if self.closed:
            order = np.concatenate([[0], np.arange(len(self.vertices) - 1, 0, -1)])
            return Curve(self.vertices[order], bulges, True, assert_corners[order])
        return Curve(
            self.vertices[::-1], np.concatenate([bulges, [0.0]]), False, assert_corners[::-1]
        )

    def counter_clockwise(self) -> Curve:
        """Return the closed curve so that its inside lies on the left."""
        return self if self.area >= 0 else self.reversed()

    def clockwise(self) -> Curve:
        """Return the closed curve so that its inside lies on the right."""
        return self if self.area < 0 else self.reversed()

    def points(self, tolerance: float) -> Floats:
        """Return points of the curve whose chords stay within ``tolerance`` mm of it, (K, 2)."""
        rows = []
        for k in range(len(self)):
            count = 1
            if self.is_arc[k]:
                sagitta = min(tolerance / self.radii[k], 0.5)
                step = 4 * np.arcsin(
                    np.sqrt(sagitta / 2)
                )  # 2 arccos(1 - sagitta), of flat arcs too
                count = max(1, int(np.ceil(abs(self.angles[k]) / step)))
            rows.append(self.piece_points(k, np.arange(count) / count))
        if not self.closed:
            rows.append(self.vertices[-1:])
        return np.concatenate(rows)

    def piece_points(self, piece: int, fractions: ArrayLike) -> Floats:
        """Return the points of one piece at fractions 0..1 of its length, (K, 2)."""
        t = np.asarray(fractions, dtype=float)
        return points_on(self, np.full(len(t), piece), t)

    @cached_property
    def table(self) -> Floats:
        """(M, 8) for kernels: start x, y, end x, y, centre x, y, radius, angle of each piece.

        Lines have centre 0, radius 0 and angle 0.
        """
        arc = self.is_arc
        rows = np.zeros((len(self), 8))
        rows[:, :2], rows[:, 2:4] = self.starts, self.ends
        rows[arc, 4:6], rows[arc, 6] = self.centres[arc], self.radii[arc]
        rows[arc, 7] = self.angles[arc]
        return rows

    @cached_property
    def boxes(self) -> Boxes:
        """Boxes of the pieces, for kernels that search them."""
        return boxes_of(self.table)


_OF_VERTICES = ("vertices", "bulges", "corners")


_OF_PIECES = (
    *("starts", "ends", "angles", "is_arc", "centres", "radii", "lengths", "start_headings"),
    "extents",
)


def curves_of(
    starts: Floats,
    bulges: Floats,
    *,
    corners: NDArray[np.bool_],
    first: NDArray[np.int64],
    last: Floats,
    closed: NDArray[np.bool_],
) -> list[Curve]:
    """Return curves (C,) whose pieces come one after the other, each as `Curve` would make it.

    They are checked and measured all at once: of short curves the calls take longer than the rest.

    Parameters
    ----------
    starts : (M, 2) float, mm
        Where pieces begin.
    bulges : (M,) float
    corners : (M,) bool
        Whether a true corner stands there.
    first : (C + 1,) int
        The piece each curve begins with, and M.
    last : (C, 2) float, mm
        Where each ends, if it is open.
    closed : (C,) bool

    Raises
    ------
    ValueError
        As `Curve` does.
    """
    if not len(closed):
        return []
    behind = first[1:][~closed]
    vertices = np.insert(starts, behind, last[~closed], axis=0)
    bulges, turned = np.insert(bulges, behind, 0.0), np.insert(corners, behind, False)
    row = first + np.concatenate([[0], np.cumsum(~closed)])
    if not (np.diff(row) >= 2).all():
        raise ValueError("a curve wants two vertices or more")
    whole = Curve(vertices, bulges, True, turned)
    ends, final = np.roll(vertices, -1, axis=0), row[1:] - 1
    ends[final] = vertices[np.where(closed, row[:-1], final)]
    vars(whole)["ends"] = ends  # of its own curve, not where the next one begins
    pieces = {name: getattr(whole, name) for name in _OF_PIECES}
    for array in pieces.values():
        array.setflags(write=False)
    low = np.minimum.reduceat(whole.extents[:, :2], row[:-1], axis=0)
    high = np.maximum.reduceat(whole.extents[:, 2:], row[:-1], axis=0)
    bounds = np.concatenate([low, high], axis=1).tolist()
    at, shut = row.tolist(), closed.tolist()
    curves = []
    for k in range(len(bounds)):
        begin, end = at[k : k + 2]
        curve = object.__new__(Curve)
        known = vars(curve)
        known |= {name: getattr(whole, name)[begin:end] for name in _OF_VERTICES}
        end = end if shut[k] else end - 1
        known |= {name: array[begin:end] for name, array in pieces.items()}
        known |= {"closed": shut[k], "bounds": tuple(bounds[k])}
        curves.append(curve)
    return curves


def points_on(curve: Curve, pieces: NDArray[np.int64], fractions: Floats) -> Floats:
    """Return the points (K, 2) at ``fractions`` (K,) 0..1 of the length of ``pieces`` (K,)."""
    return arc_points(curve.starts[pieces], curve.ends[pieces], curve.bulges[pieces], fractions)


def arc_points(start: Floats, end: Floats, bulge: ArrayLike, fractions: Floats) -> Floats:
    """Return points (K, 2) of arcs or lines at ``fractions`` (K,) 0..1 of their length.

    ``start`` and ``end`` are (2,) or (K, 2), ``bulge`` a number or (K,). Arcs are taken from their
    chords, which keeps full precision however flat they are: a point at the fraction t stands
    sin(t a/2)/sin(a/2) of the chord from the start, turned by (1 - t) a/2 to the right of it.
    """
    t = np.asarray(fractions, dtype=float)
    chord = np.atleast_2d(end - start)
    half = 2 * np.arctan(np.asarray(bulge, dtype=float))
    curved = np.abs(half) > 2 * STRAIGHT_BULGE
    safe = np.where(curved, half, 1.0)
    scale = np.where(curved, np.sin(t * safe) / np.sin(safe), t)
    turn = np.where(curved, (t - 1) * half, 0.0)
    c, s = np.cos(turn), np.sin(turn)
    x = scale * (chord[:, 0] * c - chord[:, 1] * s)
    y = scale * (chord[:, 0] * s + chord[:, 1] * c)
    return np.asarray(start + np.stack([x, y], axis=1))


def wrapped(angle: Floats) -> Floats:
    """Return angles from -pi to pi, rad."""
    return np.asarray((angle + np.pi) % (2 * np.pi) - np.pi)


def circle(centre: ArrayLike, diameter: float) -> Curve:
    """Return a counter-clockwise circle of two half-turn pieces, starting at its +X end."""
    if not (np.isfinite(diameter) and diameter > 0):
        raise ValueError(f"diameter={diameter} mm must be finite and greater than 0")
    x, y = np.asarray(centre, dtype=float)
    radius = diameter / 2
    return Curve(np.array([[x + radius, y], [x - radius, y]]), np.ones(2))


def polyline(points: ArrayLike, *, closed: bool = True, bulges: Sequence[float] = ()) -> Curve:
    """Return a curve through ``points`` (N, 2), of lines unless ``bulges`` are given."""
    vertices = np.asarray(points, dtype=float)
    curved = np.asarray(bulges, dtype=float) if len(bulges) else np.zeros(len(vertices))
    return Curve(vertices, curved, closed)


def rectangle(x_low: float, y_low: float, x_high: float, y_high: float) -> Curve:
    """Return a counter-clockwise rectangle from its lower left corner."""
    return polyline([(x_low, y_low), (x_high, y_low), (x_high, y_high), (x_low, y_high)])


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """A turn by ``angle`` rad about the origin, then a shift by (``x``, ``y``) mm."""

    angle: float = 0.0
    x: float = 0.0
    y: float = 0.0

    def of(self, points: ArrayLike) -> Floats:
        """Return the placed ``points`` (M, 2)."""
        rows = np.atleast_2d(np.asarray(points, dtype=float))
        c, s = np.cos(self.angle), np.sin(self.angle)
        x = c * rows[:, 0] - s * rows[:, 1] + self.x
        y = s * rows[:, 0] + c * rows[:, 1] + self.y
        return np.stack([x, y], axis=1)

    def inverse(self) -> Placement:
        """Return the placement that undoes this one."""
        c, s = np.cos(self.angle), np.sin(self.angle)
        return Placement(
            angle=-self.angle, x=-(c * self.x + s * self.y), y=-(c * self.y - s * self.x)
        )


def mirrored(curve: Curve, axis: str) -> Curve:
    """Return the curve after a half turn of the plate about the X or the Y axis.

    About X ``y -> -y``, about Y ``x -> -x``. Closed curves keep their sense of travel, so what
    ran counter-clockwise still does: the order of the vertices is reversed, the first stays first.
    """
    flip = {"X": np.array([1.0, -1.0]), "Y": np.array([-1.0, 1.0])}
    if axis not in flip:
        raise ValueError(f"axis={axis!r} must be 'X' or 'Y'")
    seen = Curve(curve.vertices * flip[axis], -curve.bulges, curve.closed, curve.corners)
    return seen.reversed() if curve.closed else seen


def placed(curve: Curve, placement: Placement) -> Curve:
    """Return the curve turned and shifted."""
    return Curve(placement.of(curve.vertices), curve.bulges, curve.closed, curve.corners)

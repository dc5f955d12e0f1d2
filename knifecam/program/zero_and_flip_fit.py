"""From a side to the coordinates of its program, and the plate's edges that zero counts from.

An edge is named as it lies on side A. After the flip the same physical edge lies elsewhere, and a
rectangle looks the same end for end: only the mark tells one corner from the others.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from knifecam.blade import Bore
from knifecam.curve import Motions, Placement
from knifecam.curve.curve import Floats
from knifecam.errors import PlanError
from knifecam.program.program_limits import LARGEST_RESIDUAL_MM
from knifecam.program.rs274_words import Unit, unit_of
from knifecam.quantity import mm
from knifecam.shop import Order
from knifecam.shop.side_view import points_on

UNMOVED = Placement()


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramFrame:
    """Where a side's program has its zero: ``x, y, z`` mm in the side's frame, then a placement."""

    x: float
    y: float
    z: float
    lie: Placement = UNMOVED

    def of(self, points: Floats) -> Floats:
        """Return places (M, 2) of the side frame in program coordinates."""
        return self.lie.of(np.atleast_2d(points) - np.array([self.x, self.y]))

    def height(self, z: float) -> float:
        """Return a height of the side frame in program coordinates."""
        return z - self.z

    def motions(self, motions: Motions) -> Motions:
        """Return motions of the side frame in program coordinates."""

        def moved(places: Floats) -> Floats:
            return np.column_stack([self.of(places[:, :2]), places[:, 2] - self.z])

        return Motions(
            motions.kind, moved(motions.start), moved(motions.stop), self.of(motions.centre),
            motions.turns, motions.feed,
        )  # fmt: skip


def program_frame(order: Order, side: str) -> ProgramFrame:
    """Return the frame of one side's program.

    Z0 is the plate's upper face or the fixture, as the order says. With registration by measured bores
    side B is written for the plate as it lies: the rigid motion that best carries the bores from
    where they should be to where they were found (least squares).
    """
    setup = order.setup
    index = "AB".index(side)
    x, y = points_on(side, setup.datum[index], setup.flip)[0]
    half = order.blade.thickness / 2
    frame = ProgramFrame(x=float(x), y=float(y), z=half if setup.z_zero[index] == "face" else -half)
    if side == "B" and setup.registration.kind == "bores" and setup.registration.measured:
        return replace(frame, lie=fit_lie(order, frame)[0])
    return frame


def fit_lie(order: Order, frame: ProgramFrame) -> tuple[Placement, tuple[tuple[str, float], ...]]:
    """Return how the plate lies after the flip and each bore's residual in mm.

    The turn is that of the cross-covariance of both patterns about their centroids (the plane's
    case of the orthogonal fit); the shift carries one centroid onto the other.

    Raises
    ------
    PlanError
        When a bore is off by more than `LARGEST_RESIDUAL_MM`.
    """
    registration = order.setup.registration
    named: dict[str, Bore] = {b.name: b for b in (*registration.bores, *order.blade.bores)}
    nominal = frame.of(
        points_on("B", [named[m.bore].centre for m in registration.measured], order.setup.flip)
    )
    found = np.array([(m.x, m.y) for m in registration.measured])
    p, q = nominal - nominal.mean(axis=0), found - found.mean(axis=0)
    angle = float(np.arctan2(np.sum(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]), np.sum(p * q)))
    turn = Placement(angle=angle)
    shift = found.mean(axis=0) - turn.of(nominal.mean(axis=0))[0]
    lie = Placement(angle=angle, x=float(shift[0]), y=float(shift[1]))
    residuals = np.hypot(*(lie.of(nominal) - found).T)
    if not (residuals <= LARGEST_RESIDUAL_MM).all():
        worst = int(np.argmax(residuals))
        raise PlanError(
            f"registration.measured: bore '{registration.measured[worst].bore}' is"
            f" {mm(residuals[worst]):.3f} from where the others put it; at most {mm(LARGEST_RESIDUAL_MM)}"
            " is believed; measure again"
        )
    names = [m.bore for m in registration.measured]
    return lie, tuple(zip(names, (float(r) for r in residuals), strict=True))


Point = tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateEdge:
    """One edge of the plate: its ``name`` on side A, ``ends`` and unit vector ``outward``.

    In the part frame, mm.
    """

    name: str
    ends: tuple[Point, Point]
    outward: Point

    @property
    def length(self) -> float:
        """From end to end, mm."""
        (x0, y0), (x1, y1) = self.ends
        return abs(x1 - x0) + abs(y1 - y0)

    def beside(self, share: float, away: float) -> Point:
        """Return the place at a share of the length, ``away`` mm outside the edge."""
        (x0, y0), (x1, y1) = self.ends
        u, v = self.outward
        return x0 + share * (x1 - x0) + away * u, y0 + share * (y1 - y0) + away * v


def zero_edges(order: Order) -> tuple[PlateEdge, PlateEdge]:
    """Return the plate's edges nearest to side A's datum: one along Y, one along X."""
    x0, y0, x1, y1 = order.setup.plate.bounds
    left = PlateEdge(name="LEFT", ends=((x0, y0), (x0, y1)), outward=(-1.0, 0.0))
    right = PlateEdge(name="RIGHT", ends=((x1, y0), (x1, y1)), outward=(1.0, 0.0))
    lower = PlateEdge(name="LOWER", ends=((x0, y0), (x1, y0)), outward=(0.0, -1.0))
    upper = PlateEdge(name="UPPER", ends=((x0, y1), (x1, y1)), outward=(0.0, 1.0))
    x, y = order.setup.datum[0]
    return left if x - x0 <= x1 - x else right, lower if y - y0 <= y1 - y else upper


def marked_corner(order: Order) -> Point:
    """Return the corner where both edges meet, part frame: the one that is marked."""
    upright, level = zero_edges(order)
    return upright.ends[0][0], level.ends[0][1]


def edge_in_program(
    edge: PlateEdge, order: Order, side: str, frame: ProgramFrame
) -> tuple[str, str, float]:
    """Return how an edge lies in a side's program: its name there, its axis and its place in mm."""
    places = [edge.beside(0.5, 0.0), edge.beside(0.5, 1.0)]
    at, out = frame.of(points_on(side, places, order.setup.flip))
    axis = int(np.argmax(np.abs(out - at)))
    names = (("LEFT", "RIGHT"), ("LOWER", "UPPER"))[axis]
    return names[int(out[axis] > at[axis])], "XY"[axis], float(at[axis])


def at_words(place: Point, order: Order, side: str, frame: ProgramFrame) -> str:
    """Return a place of the part in words of a side's program."""
    unit = unit_of(order)
    x, y = frame.of(points_on(side, place, order.setup.flip))[0]
    return f"X {unit.told(float(x), 2)} Y {unit.told(float(y), 2)}"


def mark_words(order: Order, frame: ProgramFrame) -> str:
    """Return what side A asks for before the flip: a mark that side B can be known by."""
    upright, level = zero_edges(order)
    return (
        f"MARK THE PLATE EDGE AT THE {upright.name} {level.name} CORNER,"
        f" {at_words(marked_corner(order), order, 'A', frame)}, FOR SIDE B"
    )


def registration_words(order: Order, side: str, frame: ProgramFrame) -> Iterator[str]:
    """Yield what holds both sides to each other, as the maker finds it on this side."""
    kind, unit = order.setup.registration.kind, unit_of(order)
    if kind == "edges":
        yield from _edge_words(order, side, frame, unit)
    elif side == "B":
        for bore in order.setup.registration.bores:
            what = f"DOWEL FOR {bore.name}" if kind == "pins" else f"REFERENCE BORE {bore.name}"
            yield (
                f"{what}, {unit.told(bore.diameter, 3)}, AT"
                f" {at_words(bore.centre, order, side, frame)}"
            )


def _edge_words(order: Order, side: str, frame: ProgramFrame, unit: Unit) -> Iterator[str]:
    for edge in zero_edges(order):
        name, axis, value = edge_in_program(edge, order, side, frame)
        where = f"{axis} {unit.told(value, 2)}"
        if side == "A":
            yield f"TOUCH OFF THE {name} PLATE EDGE AT {where}; SIDE B USES THE SAME EDGE"
        else:
            yield f"TOUCH OFF THE {name} PLATE EDGE AT {where}: IT WAS SIDE A'S {edge.name} ONE"

"""From a side's frame to the coordinates of its program."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from knifecam.blade import Bore
from knifecam.curve import Motions, Placement
from knifecam.curve.curve import Floats
from knifecam.errors import PlanError
from knifecam.quantity import mm
from knifecam.shop import Order
from knifecam.shop.side_view import points_on

UNMOVED = Placement()

LARGEST_RESIDUAL = 0.02
"""mm: reference bores that fit the drawing worse were measured wrongly."""


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

    Z0 is the plate's upper face or the bed, as the order says. With registration by measured bores
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
        When a bore is off by more than `LARGEST_RESIDUAL`.
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
    if not (residuals <= LARGEST_RESIDUAL).all():
        worst = int(np.argmax(residuals))
        raise PlanError(
            f"registration.measured: bore '{registration.measured[worst].bore}' is"
            f" {mm(residuals[worst]):.3f} from where the others put it; at most {mm(LARGEST_RESIDUAL)} is"
            " believed; measure again"
        )
    names = [m.bore for m in registration.measured]
    return lie, tuple(zip(names, (float(r) for r in residuals), strict=True))

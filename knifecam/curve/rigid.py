"""Mirroring and placing curves in the plane."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve.curve import Curve, Floats


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

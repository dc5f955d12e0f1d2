"""Curves, places and heights as one side sees them.

Side A's frame is the part frame. Side B's is the part turned half a turn about X or Y, so that its
z points to the spindle again: about X (x, -y, -z), about Y (-x, y, -z).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve import Curve, mirrored
from knifecam.curve.curve import Floats
from knifecam.shop.order_record import Order


def curve_on(side: str, curve: Curve, flip: str) -> Curve:
    """Return a part curve as it is seen on ``side``; closed curves keep their sense of travel."""
    return curve if side == "A" else mirrored(curve, flip)


def points_on(side: str, points: ArrayLike, flip: str) -> Floats:
    """Return part places (M, 2) as they are seen on ``side``."""
    signs = {"X": (1.0, -1.0), "Y": (-1.0, 1.0)}[flip] if side == "B" else (1.0, 1.0)
    return np.atleast_2d(np.asarray(points, dtype=float)) * np.array(signs)


def height_on(side: str, z: float) -> float:
    """Return a part height as it is seen on ``side``."""
    return z if side == "A" else -z


LEAST_RAPID_HEIGHT = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SideContext:
    """A side of the order and the heights (side frame, mm) its motions keep.

    ``begun`` is how deep the trench round the outline is open already, None for not at all.
    """

    order: Order
    side: str
    begun: float | None = None

    @property
    def top(self) -> float:
        """The plate's upper face."""
        return self.order.blade.thickness / 2

    @property
    def trench_top(self) -> float:
        """Where metal begins in the trench round the outline."""
        return self.top if self.begun is None else self.begun

    @property
    def rapid_z(self) -> float:
        """Where rapids across the plate run: above the highest thing on the table."""
        setup = self.order.setup
        things = [k.height for k in setup.clamps if k.side == self.side]
        if self.side == "B" and setup.workholding.kind == "bores":
            things.append(setup.workholding.head_height)
        height = max(setup.mill.rapid_height, LEAST_RAPID_HEIGHT)
        return self.top + max([self.bulge, *things]) + height

    @property
    def bulge(self) -> float:
        """How far the plate's thickest measured place stands above the face, in hundredths, mm."""
        plate = self.order.setup.plate
        above = max((seen - plate.thickness for _, _, seen in plate.measured), default=0.0)
        return max(0.0, math.ceil(100 * above - 1e-6) / 100)

    @property
    def change_z(self) -> float:
        """Where the tip stands while hands work, and where cutters come from and go to."""
        return max(self.top + self.order.setup.mill.change_height, self.rapid_z)

    @property
    def approach_z(self) -> float:
        """Where the rapid down ends and feed begins, over the plate's thickest place too."""
        return self.top + self.bulge + self.order.setup.mill.approach_gap

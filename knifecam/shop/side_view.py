"""Each side of the plate: curves, places and heights as it sees them, and how deep its cuts go.

Side A's frame is the part frame. Side B's is the part turned half a turn about X or Y, so that its
z points to the spindle again: about X (x, -y, -z), about Y (-x, y, -z).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve import Curve, mirrored
from knifecam.curve.curve import Floats
from knifecam.quantity import mm
from knifecam.shop.cutter import Cutter
from knifecam.shop.order_record import Order
from knifecam.shop.shop_limits import LEAST_RAPID_HEIGHT_MM, OPENING_OVERLAP_MM


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
        height = max(setup.mill.rapid_height, LEAST_RAPID_HEIGHT_MM)
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Floors:
    """How deep each side goes, as part z in mm (A's face at +T/2, B's at -T/2).

    ``a_rough`` and ``a_finish`` are side A's trench floors, ``b_rough`` and ``b_finish`` how far
    side B comes up; ``tab`` is the face of the tabs turned to side B, which lie between it and
    ``a_rough``. ``a_bore`` is where side A's bores stop, ``b_open`` how far side B opens them.
    """

    a_rough: float
    a_finish: float
    b_rough: float
    b_finish: float
    tab: float
    a_bore: float
    b_open: float
    meet: float


def floors(order: Order) -> Floors:
    """Return the floors of both sides in part z.

    The trenches meet at ``depth_a``: side A stops half the overlap below it, side B half above.
    Tabs lie on side A's floor. Bores stop a skin above side B's face (or go into a relieved fixture);
    side B opens them past the skin by both corner radii and `OPENING_OVERLAP_MM`.
    """
    half = order.blade.thickness / 2
    trench, boring = order.trench, order.boring
    meet = half - trench.depth_a
    a_rough = meet - trench.overlap / 2
    a_bore = -half + boring.skin if boring.opening == "skin" else -half - boring.through
    return Floors(
        a_rough=a_rough,
        a_finish=a_rough + trench.clearance,
        b_rough=a_rough - trench.web,
        b_finish=a_rough + trench.overlap,
        tab=a_rough - order.tabs.thickness,
        a_bore=a_bore,
        b_open=a_bore + 2 * bore_corner(order) + OPENING_OVERLAP_MM,
        meet=meet,
    )


def bore_corner(order: Order) -> float:
    """Return the greatest corner radius among the cutters that bore, notch or open slots, mm."""
    stages = ("bore", "fit", "slot", "notch")
    corners = [order.cutter(c.cutter).corner for c in order.cutting if c.stage in stages]
    return max(corners, default=0.0)


def too_short(cutter: Cutter, stage: str, depth: float) -> Iterator[str]:
    """Yield why a cutter does not go ``depth`` mm deep in a stage."""
    if not cutter.reach >= depth:
        yield (
            f"{cutter.path}: {cutter.keyed('reach'):.2f} is less than the {mm(depth):.2f} it"
            f" goes into in stage '{stage}'; its cone or shank would rub"
        )
    if stage in ("finish", "fit", "slot") and not cutter.flute_length >= depth:
        yield (
            f"{cutter.path}: {cutter.keyed('flute_length'):.2f} is less than the"
            f" {mm(depth):.2f} wall it finishes in one pass"
        )
    elif not (cutter.flute_length >= depth or cutter.neck < cutter.diameter):
        yield (
            f"{cutter.path}: {cutter.keyed('neck'):.3f} is not relieved, and rubs above"
            f" {cutter.keyed('flute_length'):.2f} where it goes {mm(depth):.2f} deep in stage"
            f" '{stage}'"
        )
    if not cutter.neck <= cutter.diameter:
        yield f"{cutter.path}: {cutter.keyed('neck'):.3f} is wider than its diameter"


def meets_in_the_middle(order: Order, cutter: Cutter) -> bool:
    """Tell whether a cutter is too short to notch from side A down to the skin."""
    return cutter.reach < order.blade.thickness / 2 - floors(order).a_bore


def notched_depth(order: Order, cutter: Cutter) -> float:
    """Return how deep below a face a cutter has to go for its notches, mm."""
    half = order.blade.thickness / 2
    if meets_in_the_middle(order, cutter):
        return half + (2 * bore_corner(order) + OPENING_OVERLAP_MM) / 2
    return half - floors(order).a_bore

"""The blade: its steel, outline, bores, slots and edge breaks, and where it has no metal.

Part frame: X and Y as drawn, z = 0 in the blade's mid-plane, Z out of the drawing toward side A.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated

import numpy as np
from numpy.typing import NDArray

from knifecam.blade.bevel import SIDES, Bevel
from knifecam.blade.blade_limits import WALL_IS_METAL_MM
from knifecam.blade.jimping import Jimping
from knifecam.curve import Curve, Stretch, distance, winding
from knifecam.curve.curve import Floats
from knifecam.record import OneOf, Plain, Point, Record, Within


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeBreak(Record):
    """A narrow face between one of the blade's faces and a wall.

    Parameters
    ----------
    of : str
        "outline", or the name of a bore or slot.
    side : "A" or "B"
    width : float, mm
        Across the blade's face, from the wall to where the break ends.
    angle : float, rad
        Of the broken face against the blade's face.
    stretches : tuple of Stretch
        Of the outline; without any, all of it. Bores and slots are broken all round.
    """

    name: Annotated[str, Plain()]
    of: Annotated[str, Plain(longest=60)]
    side: Annotated[str, OneOf(words=SIDES)]
    width: Annotated[float, Within(above=0.0, most=10.0)]
    angle: Annotated[float, Within(unit="rad", above=0.0, below=math.pi / 2)] = math.pi / 4
    stretches: tuple[Stretch, ...] = ()

    @property
    def depth(self) -> float:
        """How far down the wall the break goes, in mm."""
        return self.width * math.tan(self.angle)


Name = Annotated[str, Plain(longest=60)]
"""The name of an opening: a pattern's, and the cell's number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Steel(Record):
    """The plate's steel as it is milled: already hardened."""

    name: Annotated[str, Plain()] = "O1"
    hardness_hrc: Annotated[float, Within(unit="HRC", least=20.0, most=70.0)] = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bore(Record):
    """A round bore square to the plate.

    ``depth`` is measured from side A's face in mm; None means through. A ``fitted`` bore takes a
    pin: it is roughed under size, finished on its own and tried with a gauge pin.
    ``both_sides``: met in the middle from both sides instead of bored from A alone.
    """

    name: Name
    centre: Point
    diameter: Annotated[float, Within(above=0.0, most=2000.0)]
    depth: Annotated[float, Within(above=0.0, most=50.0)] | None = None
    fitted: bool = False
    both_sides: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot(Record):
    """A through opening of any outline; ``outline`` is closed and counter-clockwise."""

    name: Name
    outline: Curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Blade(Record):
    """The finished blade: ``outline`` closed and counter-clockwise, ``thickness`` in mm."""

    outline: Curve
    thickness: Annotated[float, Within(above=0.0, most=50.0)]
    steel: Steel = Steel()
    bores: tuple[Bore, ...] = ()
    slots: tuple[Slot, ...] = ()
    bevels: tuple[Bevel, ...] = ()
    breaks: tuple[EdgeBreak, ...] = ()
    jimping: tuple[Jimping, ...] = ()


def is_open(blade: Blade, points: Floats) -> NDArray[np.bool_]:
    """Return which ``points`` (K, 2) have no metal at any height, (K,).

    Blind bores are not among them: `blind_floor` tells their depth.
    """
    gone = is_outside(blade.outline, points)
    for bore in blade.bores:
        if bore.depth is None:
            gone |= _in_circle(points, bore.centre, bore.diameter / 2 - WALL_IS_METAL_MM)
    for row in blade.jimping:
        for centre in row.centres:
            gone |= _in_circle(points, centre, row.diameter / 2 - WALL_IS_METAL_MM)
    for slot in blade.slots:
        gone |= is_inside(slot.outline, points)
    return gone


def blind_floor(blade: Blade, points: Floats, side: str) -> Floats:
    """Return the height (K,) mm of blind bores' floors; inf elsewhere, and on side B."""
    floor = np.full(len(points), math.inf)
    for bore in blade.bores:
        if bore.depth is not None and side == "A":
            in_bore = _in_circle(points, bore.centre, bore.diameter / 2 - WALL_IS_METAL_MM)
            floor[in_bore] = np.minimum(floor[in_bore], blade.thickness / 2 - bore.depth)
    return floor


def is_outside(outline: Curve, points: Floats) -> NDArray[np.bool_]:
    """Return which ``points`` (K, 2) lie outside the closed curve, by more than `WALL_IS_METAL_MM`."""
    gone = np.ones(len(points), bool)
    near = np.flatnonzero(_in_bounds(outline, points))
    rows = np.ascontiguousarray(points[near])
    beyond = winding(rows, outline) == 0
    beyond[beyond] = distance(rows[beyond], outline) > WALL_IS_METAL_MM
    gone[near] = beyond
    return gone


def is_inside(outline: Curve, points: Floats) -> NDArray[np.bool_]:
    """Return which ``points`` (K, 2) lie inside the closed curve, by more than `WALL_IS_METAL_MM`."""
    inner = np.zeros(len(points), bool)
    near = np.flatnonzero(_in_bounds(outline, points))
    rows = np.ascontiguousarray(points[near])
    deep = winding(rows, outline) != 0
    deep[deep] = distance(rows[deep], outline) > WALL_IS_METAL_MM
    inner[near] = deep
    return inner


def _in_bounds(outline: Curve, points: Floats) -> NDArray[np.bool_]:
    low_x, low_y, high_x, high_y = outline.bounds
    x, y = points[:, 0], points[:, 1]
    return np.asarray(
        (x >= low_x - WALL_IS_METAL_MM)
        & (x <= high_x + WALL_IS_METAL_MM)
        & (y >= low_y - WALL_IS_METAL_MM)
        & (y <= high_y + WALL_IS_METAL_MM)
    )


def _in_circle(points: Floats, centre: tuple[float, float], radius: float) -> NDArray[np.bool_]:
    """Return which ``points`` (K, 2) are nearer to the centre than the radius, (K,)."""
    inside: NDArray[np.bool_] = np.abs(points[:, 0] - centre[0]) < radius
    near = np.flatnonzero(inside)
    apart = np.hypot(points[near, 0] - centre[0], points[near, 1] - centre[1])
    inside[near] = apart < radius
    return inside

"""The steps in which a cutter touches the wanted surface of a bevel.

A cutter of radius R with corner radius r whose axis stands d from the edge touches a slope of the
angle b at d + R - r + r sin b, and has its tip there at h + r cos b - r; a step with its tip at that
height finishes the surface. References: plane geometry of a circle on a slope.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bevel, grind_height, height_at, slope_at
from knifecam.blade.finished_surface import edge_distance, half_thickness, past_plunge
from knifecam.measure.measure_limits import LEAST_BEVEL_CUT_MM2, ON_SURFACE_MM, TOUCH_NUDGE_MM
from knifecam.measure.measured_surfaces import off_openings
from knifecam.shop import Order
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_steps import ContactSteps

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False, kw_only=True)
class BevelContact:
    """Steps of one side that finish one bevel.

    ``rows`` (k,) number them. ``touch`` (k,) mm from the edge where they touch, ``past`` (k,) mm
    past the plunge there, ``slope`` (k,) rad, ``contact`` (k,) mm the cutter's radius at the touch,
    ``uphill`` (k, 2) the unit way from the edge, in the side frame.
    """

    bevel: Bevel
    rows: Ints
    touch: Floats
    past: Floats
    slope: Floats
    contact: Floats
    uphill: Floats


def bevel_contact(
    order: Order,
    side: SideProgram,
    rows: ContactSteps,
    bevel: Bevel,
    *,
    above: Sequence[float] = (0.0,),
) -> tuple[BevelContact, ...]:
    """Return the steps of a side that take metal and touch the wanted surface of ``bevel``.

    For each of ``above`` mm, along Z: the surface with that much left on it, as a semi-finish
    leaves it.
    """
    thickness = order.blade.thickness
    tried = _tried(order, side, rows)
    tried = tried[_as_high(order, side, rows, bevel, tried, max(above))]
    radius, corner = side.shapes.radius[rows.motion[tried]], side.shapes.corner[rows.motion[tried]]
    d = edge_distance(bevel, order.blade.outline, rows.place[tried, :2])
    touch, slope, tip = rests(order, side.name, bevel, d, (radius, corner))
    over, upright = rows.engagement.place[tried, 2] - tip, np.cos(slope)
    width = grind_height(bevel, thickness, side.name)
    on = (touch > -TOUCH_NUDGE_MM) & (touch < width + TOUCH_NUDGE_MM)
    touches = SlopeContact(tried, d, touch, slope, radius - corner + corner * np.sin(slope))
    return tuple(
        _near(order, side, rows, bevel, touches.chosen(on & (np.abs(off) <= ON_SURFACE_MM)))
        for off in ((over - left) * upright for left in above)
    )


def rests(
    order: Order, side: str, bevel: Bevel, d: Floats, cutter: tuple[Floats, Floats]
) -> tuple[Floats, Floats, Floats]:
    """Return where a cutter whose axis is ``d`` (k,) mm from the edge rests on a bevel's surface.

    ``cutter``: its radius and corner, (k,) mm. (k,) each: mm from the edge where it touches, the
    slope there in rad, and its tip's height above the mid-plane toward the side.
    """
    radius, corner = cutter
    thickness = order.blade.thickness
    touch = d + radius - corner
    for _ in range(3):
        slope = np.arctan(slope_at(bevel, thickness, side, touch))
        touch = d + radius - corner + corner * np.sin(slope)
    return touch, slope, height_at(bevel, thickness, side, touch) + corner * (np.cos(slope) - 1)


class SlopeContact(NamedTuple):
    """Where steps touch a slope, (k,) each, as `BevelContact` has them; ``d`` mm from edge to axis."""

    rows: Ints
    d: Floats
    touch: Floats
    slope: Floats
    contact: Floats

    def chosen(self, rows: NDArray[np.bool_]) -> SlopeContact:
        """Return only some of the steps."""
        return SlopeContact(
            self.rows[rows], self.d[rows], self.touch[rows], self.slope[rows], self.contact[rows]
        )


def _near(
    order: Order, side: SideProgram, rows: ContactSteps, bevel: Bevel, touches: SlopeContact
) -> BevelContact:
    """Return those steps at whose touch the bevel is the blade's surface.

    Beside the blade there is nothing to finish, where another bevel is lower not this one, and past
    the plunge, where the blade is higher, neither: a bore is opened there through that height. In a
    bore or slot, as wide as the side opens it, the cutter makes the wall.
    """
    at, thickness = rows.place[touches.rows, :2], order.blade.thickness
    uphill = _uphill(order, bevel, at)
    foot = at + (touches.touch - touches.d)[:, None] * uphill
    inner = foot + 2 * TOUCH_NUDGE_MM * uphill
    height = height_at(bevel, thickness, side.name, touches.touch + 2 * TOUCH_NUDGE_MM)
    off = half_thickness(order.blade, inner, side.name) - np.minimum(height, thickness / 2)
    real = (np.abs(off) <= ON_SURFACE_MM) & off_openings(order, inner, side.name)
    touches = touches.chosen(real)
    return BevelContact(
        bevel=bevel, rows=touches.rows, touch=touches.touch, past=past_plunge(bevel, foot[real]),
        slope=touches.slope, contact=touches.contact,
        uphill=uphill[real] * side.frame.signs[:2],
    )  # fmt: skip


def _as_high(
    order: Order, side: SideProgram, rows: ContactSteps, bevel: Bevel, tried: Ints, above: float
) -> NDArray[np.bool_]:
    """Return which steps have the tip between the lowest and the highest a cutter may have it.

    On the surface, or on one up to ``above`` mm over it.
    """
    ends = np.array(
        [-TOUCH_NUDGE_MM, grind_height(bevel, order.blade.thickness, side.name) + TOUCH_NUDGE_MM]
    )
    low, high = height_at(bevel, order.blade.thickness, side.name, ends)
    tip, corner = rows.engagement.place[tried, 2], side.shapes.corner[rows.motion[tried]]
    near = 10 * ON_SURFACE_MM  # along Z, on slopes of up to 84 degrees
    return np.asarray((tip > low - corner - near) & (tip < high + above + near))


def _tried(order: Order, side: SideProgram, rows: ContactSteps) -> Ints:
    """Return the steps sideways, level or not, that take metal."""
    cutting = rows.moving & rows.cutting(LEAST_BEVEL_CUT_MM2) & ~side.rapid[rows.motion]
    return np.flatnonzero(cutting & (rows.engagement.place[:, 2] < order.setup.plate.thickness / 2))


def _uphill(order: Order, bevel: Bevel, at: Floats) -> Floats:
    """Return the unit way in which the distance from the edge grows, (k, 2), part frame."""
    outline = order.blade.outline
    ways = [
        edge_distance(bevel, outline, at + way) - edge_distance(bevel, outline, at - way)
        for way in ((TOUCH_NUDGE_MM, 0.0), (0.0, TOUCH_NUDGE_MM))
    ]
    way = np.stack(ways, axis=1)
    return np.asarray(way / np.maximum(np.hypot(*way.T), 1e-12)[:, None])

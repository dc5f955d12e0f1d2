"""The cutters' forms, as the sweeps take them: a flat end, and a corner or a cone round it."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


class CutterProfile(NamedTuple):
    """Forms of each motion's cutter, (M,) each.

    ``radius`` and that of the ``flat`` end in mm. Between them the surface rises ``rise`` mm per mm
    where that is above 0, as a cone, else along a corner of radius ``radius - flat``.
    """

    radius: Floats
    flat: Floats
    rise: Floats


def broadcast(value: ArrayLike | None, count: int) -> Floats:
    """Return one number for each of ``count`` motions, 0 for None."""
    return np.array(np.broadcast_to(np.asarray(0.0 if value is None else value, float), count))


def cutter_profiles(
    count: int,
    radius: ArrayLike,
    corner: ArrayLike,
    tip: ArrayLike | None = None,
    half_angle: ArrayLike | None = None,
) -> CutterProfile:
    """Return the forms of ``count`` motions' cutters.

    Parameters
    ----------
    count : int
    radius, corner : (M,) float, mm
        Corner 0 is flat, equal to the radius ball.
    tip : (M,) float, mm, optional
        Radius of the flat tip of cones.
    half_angle : (M,) float, rad, optional
        Between a cone and its axis; 0 for cutters that are no cones.

    Raises
    ------
    ValueError
        For forms that are none.
    """
    radii, corners = broadcast(radius, count), broadcast(corner, count)
    if not np.all((radii > 0.0) & np.isfinite(radii) & (corners >= 0.0) & (corners <= radii)):
        raise ValueError("every cutter needs a radius above 0 mm and a corner from 0 to that")
    tips, halves = broadcast(tip, count), broadcast(half_angle, count)
    cone = halves != 0.0
    if not np.all(~cone | ((halves > 0.0) & (halves < np.pi / 2))):
        raise ValueError("every cone needs a half angle between 0 and a quarter turn")
    if not np.all(~cone | ((tips >= 0.0) & (tips < radii) & (corners == 0.0))):
        raise ValueError("every cone needs a tip from 0 mm to less than its radius, and no corner")
    rise = np.where(cone, 1.0 / np.tan(np.where(cone, halves, 1.0)), 0.0)
    return CutterProfile(radii, np.where(cone, tips, radii - corners), rise)

"""Leading the cutter onto a finished wall and off it again on a shallow arc."""

from __future__ import annotations

import numpy as np

from knifecam.curve import Curve, Motions, place_at
from knifecam.curve.curve import Floats
from knifecam.paths.follow import arc


def lead_in(
    track: Curve, station: float, *, radius: float, aside: float, z: float, feed: float,
    fall: float = 0.0,
) -> Motions:  # fmt: skip
    """Return the arc that comes from ``aside`` mm left of the track and lands on it tangentially.

    The wall lies right of the travel, free space left of it, so the arc turns left and stays on
    the left of the track's tangent: it never comes nearer to the wall than the track does. It
    begins ``fall`` mm above ``z``.
    """
    point, centre, angle = _arm(track, station, radius, aside)
    start = centre + _turned(point - centre, -angle)
    return arc((*start, z + fall), (*point, z), tuple(centre), angle / (2 * np.pi), feed)


def lead_out(
    track: Curve, station: float, *, radius: float, aside: float, z: float, feed: float,
    rise: float = 0.0,
) -> Motions:  # fmt: skip
    """Return the arc that leaves the track tangentially until it is ``aside`` mm left of it.

    It ends ``rise`` mm above ``z``.
    """
    point, centre, angle = _arm(track, station, radius, aside)
    stop = centre + _turned(point - centre, angle)
    return arc((*point, z), (*stop, z + rise), tuple(centre), angle / (2 * np.pi), feed)


def _arm(track: Curve, station: float, radius: float, aside: float) -> tuple[Floats, Floats, float]:
    if not (0 < aside <= radius):
        raise ValueError(f"aside={aside} mm must be greater than 0 and at most radius={radius} mm")
    points, headings = place_at(track, station)
    point, heading = points[0], float(headings[0])
    centre = point + radius * np.array([-np.sin(heading), np.cos(heading)])
    return point, centre, float(np.arccos(1 - aside / radius))


def _turned(arm: Floats, angle: float) -> Floats:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([c * arm[0] - s * arm[1], s * arm[0] + c * arm[1]])

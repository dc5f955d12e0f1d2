"""Cusps left between neighbouring passes of a cutter along a slope, and the step for a wanted cusp.

The three regimes are derived for a corner radius r on a slope a, the cutter moving along the
contour, steps s measured in the plane across it.
"""

from __future__ import annotations

import math

LEAST_STEP = 1e-3
"""mm: no step is found smaller."""


def cusp_of(angle: float, corner: float, radius: float, step: float) -> float:
    """Return the height in mm, square to the slope, of the cusps that steps of ``step`` mm leave.

    ``angle`` is the slope's in rad, ``corner`` and ``radius`` the cutter's in mm. As long as the
    corner alone meets both neighbours it acts as a ball; beyond, the flat end takes part; where the
    steps are taller than the corner its upper end does.
    """
    sine, cosine, tangent = math.sin(angle), math.cos(angle), math.tan(angle)
    drop = step * tangent
    if corner <= 0:
        return step * sine
    half = step / (2 * cosine)
    if step <= corner * math.sin(2 * angle) or (corner >= radius and half < corner):
        return corner - math.sqrt(corner**2 - half**2)
    if drop <= corner:
        run = math.sqrt(2 * corner * drop - drop**2)
        return corner * (1 - cosine) + (step - run) * sine
    return corner * (1 - sine - cosine) + step * sine


def step_for(angle: float, corner: float, radius: float, cusp: float) -> float:
    """Return the greatest step in mm that leaves cusps of at most ``cusp`` mm."""
    low, high = LEAST_STEP, max(2 * radius, LEAST_STEP)
    if cusp_of(angle, corner, radius, high) <= cusp:
        return high
    for _ in range(60):
        middle = (low + high) / 2
        if cusp_of(angle, corner, radius, middle) <= cusp:
            low = middle
        else:
            high = middle
    return low

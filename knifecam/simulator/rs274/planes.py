"""The three planes of arcs and cycles, as axes 0, 1, 2 for X, Y, Z.

References: NISTIR 6556, 3.5.3 (arcs) and the order of axes in its reference interpreter.
"""

from __future__ import annotations

from knifecam.simulator.rs274.codes import XY_G17, XZ_G18, YZ_G19

AXES_OF = {XY_G17: (0, 1, 2), XZ_G18: (2, 0, 1), YZ_G19: (1, 2, 0)}
"""First and second axis of a plane, and the axis across it, right-handed: so G18 is Z, X, Y."""

OFFSETS = "ijk"
"""The letters that lead to centres, along X, Y and Z."""

Place = tuple[float, float, float]


def placed(place: Place, axis: int, value: float) -> Place:
    """Return the place with one coordinate changed."""
    x, y, z = place
    return (value, y, z) if axis == 0 else (x, value, z) if axis == 1 else (x, y, value)

"""Side frames: each side is planned in its own frame, with mirrored curves, never mirrored paths.

Side A's frame is the part frame. Side B's is the part turned half a turn about X or Y, so that its
z points to the spindle again: about X (x, -y, -z), about Y (-x, y, -z).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from knifecam.curve import Curve, mirrored
from knifecam.curve.curve import Floats


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

"""The cusp that passes leave on a slope.

Passes run along the slope's contour at constant height, s apart in the plane; the cutter has corner
radius r, the slope stands at the angle b against the plane. With the surface itself curved by k
(1/mm, positive where it bulges) a round corner leaves more by the factor 1 + r k.

- s <= r sin 2b, or a ball: r - sqrt(r^2 - (s / (2 cos b))^2), as two circles leave between them;
- above that, while s tan b <= r, the flat end takes part:
  r (1 - cos b) + (s - u) sin b with u = sqrt(2 r s tan b - s^2 tan^2 b);
- above that the rim does: r (1 - sin b - cos b) + s sin b. With r = 0 this is s sin b.

Reference: plane geometry of two like profiles; the figures in `tests/published` are published for
the ball and derived for the others.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def cusp_height(
    step: ArrayLike, slope: ArrayLike, corner: ArrayLike, *, ball: ArrayLike = False,
    bulge: ArrayLike = 0.0,
) -> Floats:  # fmt: skip
    """Return the height of the cusps above the surface, mm, square to it.

    Parameters
    ----------
    step : mm in the plane, from pass to pass
    slope : rad
    corner : mm
    ball : whether the cutter's end has no flat
    bulge : 1/mm, the curvature of the surface across the passes
    """
    s, b, r, whole, k = (
        np.asarray(v, dtype=float) for v in np.broadcast_arrays(step, slope, corner, ball, bulge)
    )
    tan, sine, cosine = np.tan(b), np.sin(b), np.cos(b)
    half = np.minimum(s / (2 * cosine), r)
    round_ = (r - np.sqrt(r**2 - half**2)) * (1 + r * k)
    root = np.sqrt(np.maximum(2 * r * s * tan - (s * tan) ** 2, 0.0))
    flat = r * (1 - cosine) + (s - root) * sine
    rim = r * (1 - sine - cosine) + s * sine
    found = np.where(s * tan <= r, flat, rim)
    return np.asarray(np.where((s <= r * np.sin(2 * b)) | (whole > 0), round_, found))

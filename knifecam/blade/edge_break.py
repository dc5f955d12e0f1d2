"""The edge break as a record: a narrow face that takes the sharpness off an edge."""

from __future__ import annotations

import math
from dataclasses import dataclass

from knifecam.blade.bevel import SIDES
from knifecam.curve import Stretch


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeBreak:
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

    name: str
    of: str
    side: str
    width: float
    angle: float = math.pi / 4
    stretches: tuple[Stretch, ...] = ()

    def __post_init__(self) -> None:
        if self.side not in SIDES:
            raise ValueError(f"side={self.side!r} must be 'A' or 'B'")
        if not (math.isfinite(self.width) and self.width > 0):
            raise ValueError(f"width={self.width} mm must be finite and greater than 0")
        if not 0 < self.angle < math.pi / 2:
            raise ValueError(f"angle={self.angle} rad must be between 0 and a quarter turn")

    @property
    def depth(self) -> float:
        """How far down the wall the break goes, in mm."""
        return self.width * math.tan(self.angle)

"""The cutter, described as the physical thing it is (terms of ISO 13399)."""

from __future__ import annotations

import math
from dataclasses import dataclass

FLAT, BULL_NOSE, BALL, CHAMFER = "flat", "bull-nose", "ball", "chamfer"
KINDS = (FLAT, BULL_NOSE, BALL, CHAMFER)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutter:
    """One end mill in its holder.

    Lengths in mm, measured from the tip upward: ``flute_length`` cuts, the ``neck`` (a diameter)
    is relieved up to ``reach``, then a cone of ``cone`` rad from the axis widens to the ``shank``
    (a diameter); the holder (a diameter) begins at ``stickout``. ``corner`` is the corner radius:
    0 for flat, half the diameter for ball. ``ramp`` is the steepest fall into solid metal in rad.
    A chamfer mill is a cone of ``half_angle`` rad from the axis between a flat ``tip`` (a diameter,
    which does not cut) and ``diameter``; the other kinds leave both alone.
    """

    number: int
    kind: str
    diameter: float
    corner: float = 0.0
    flutes: int = 4
    flute_length: float
    neck: float
    reach: float
    cone: float = 0.7853981633974483
    shank: float
    stickout: float
    holder: float = 25.0
    may_plunge: bool = False
    ramp: float = 0.03490658503988659
    tip: float = 0.0
    half_angle: float = 0.7853981633974483

    @property
    def radius(self) -> float:
        """Half the diameter, mm."""
        return self.diameter / 2

    @property
    def cone_height(self) -> float:
        """How far above its tip a chamfer mill reaches its diameter, mm."""
        return (self.diameter - self.tip) / 2 / math.tan(self.half_angle)

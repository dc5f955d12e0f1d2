"""The cutter, described as the physical thing it is (terms of ISO 13399)."""

from __future__ import annotations

from dataclasses import dataclass

FLAT, BULL_NOSE, BALL = "flat", "bull-nose", "ball"
KINDS = (FLAT, BULL_NOSE, BALL)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutter:
    """One end mill in its holder.

    Lengths in mm, measured from the tip upward: ``flute_length`` cuts, the ``neck`` (a diameter)
    is relieved up to ``reach``, then a cone of ``cone`` rad from the axis widens to the ``shank``
    (a diameter); the holder (a diameter) begins at ``stickout``. ``corner`` is the corner radius:
    0 for flat, half the diameter for ball. ``ramp`` is the steepest fall into solid metal in rad.
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

    @property
    def radius(self) -> float:
        """Half the diameter, mm."""
        return self.diameter / 2

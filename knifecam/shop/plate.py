"""The plate: the stock both sides are cut from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from knifecam.record import Coordinate, Point, Record, Within

Size = Annotated[float, Within(above=0.0, most=2000.0)]
Thickness = Annotated[float, Within(above=0.0, most=50.0)]

ALLOWED_SPREAD = 0.02
"""mm: more difference in thickness goes straight into tabs and land (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate(Record):
    """A rectangular plate, edges along X and Y.

    ``corner`` is its lower left corner in the part frame (mm); ``measured`` holds thicknesses as
    (x, y, thickness) in the part frame, four or more places; they may differ by ``allowed_spread``.
    """

    length: Size
    width: Size
    thickness: Thickness
    corner: Point
    measured: tuple[tuple[Coordinate, Coordinate, Thickness], ...] = ()
    allowed_spread: Annotated[float, Within(least=0.0, most=0.2)] = ALLOWED_SPREAD

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """(x low, y low, x high, y high) in the part frame, mm."""
        x, y = self.corner
        return x, y, x + self.length, y + self.width

    @property
    def spread(self) -> float:
        """Greatest less least measured thickness, mm."""
        seen = [t for _, _, t in self.measured]
        return max(seen) - min(seen) if seen else 0.0

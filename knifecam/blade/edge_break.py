"""The edge break as a record: a narrow face that takes the sharpness off an edge."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated

from knifecam.blade.bevel import SIDES
from knifecam.curve import Stretch
from knifecam.record import OneOf, Plain, Record, Within


@dataclass(frozen=True, slots=True, kw_only=True)
class EdgeBreak(Record):
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

    name: Annotated[str, Plain()]
    of: Annotated[str, Plain(longest=60)]
    side: Annotated[str, OneOf(words=SIDES)]
    width: Annotated[float, Within(above=0.0, most=10.0)]
    angle: Annotated[float, Within(unit="rad", above=0.0, below=math.pi / 2)] = math.pi / 4
    stretches: tuple[Stretch, ...] = ()

    @property
    def depth(self) -> float:
        """How far down the wall the break goes, in mm."""
        return self.width * math.tan(self.angle)

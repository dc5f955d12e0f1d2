"""The cutter, described as the physical thing it is (terms of ISO 13399)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated

from knifecam.quantity import Stated, keyed, mm
from knifecam.record import OneOf, Record, Within

FLAT, BULL_NOSE, BALL, CHAMFER = "flat", "bull-nose", "ball", "chamfer"
KINDS = (FLAT, BULL_NOSE, BALL, CHAMFER)

Diameter = Annotated[float, Within(above=0.0, most=50.0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutter(Record):
    """One end mill in its holder.

    Lengths in mm, measured from the tip upward: ``flute_length`` cuts, the ``neck`` (a diameter)
    is relieved up to ``reach``, then a cone of ``cone`` rad from the axis widens to the ``shank``
    (a diameter); the holder (a diameter) begins at ``stickout``. ``corner`` is the corner radius:
    0 for flat, half the diameter for ball. ``ramp`` is the steepest fall into solid metal in rad.
    A chamfer mill is a cone of ``half_angle`` rad from the axis between a flat ``tip`` (a diameter,
    which does not cut) and ``diameter``; the other kinds leave both alone.
    """

    number: Annotated[int, Within(unit="", least=1, most=99)]
    kind: Annotated[str, OneOf(words=KINDS)]
    diameter: Diameter
    corner: Annotated[float, Within(least=0.0, most=25.0)] = 0.0
    flutes: Annotated[int, Within(unit="", least=1, most=12)] = 4
    flute_length: Annotated[float, Within(above=0.0, most=200.0)]
    neck: Diameter
    reach: Annotated[float, Within(above=0.0, most=300.0)]
    cone: Annotated[float, Within(unit="rad", above=0.0, most=math.radians(90.0))] = (
        0.7853981633974483
    )
    shank: Diameter
    stickout: Annotated[float, Within(above=0.0, most=400.0)]
    holder: Annotated[float, Within(above=0.0, most=200.0)] = 25.0
    centre_cutting: bool = False
    ramp: Annotated[float, Within(unit="rad", above=0.0, most=math.radians(45.0))] = (
        0.03490658503988659
    )
    tip: Annotated[float, Within(least=0.0, most=50.0)] = 0.0
    half_angle: Annotated[float, Within(unit="rad", above=0.0, most=math.radians(85.0))] = (
        0.7853981633974483
    )

    @property
    def path(self) -> str:
        """Return how lines name it."""
        return f"cutter {self.number}"

    def keyed(self, key: str) -> Stated:
        """Return one of its lengths, to be written as "key=value"."""
        return keyed(f"{self.path}.{key}", mm(getattr(self, key)))

    @property
    def radius(self) -> float:
        """Half the diameter, mm."""
        return self.diameter / 2

    @property
    def cone_height(self) -> float:
        """How far above its tip a chamfer mill reaches its diameter, mm."""
        return (self.diameter - self.tip) / 2 / math.tan(self.half_angle)

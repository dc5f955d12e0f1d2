"""The blade: its steel, outline, bores, slots and edge breaks.

Part frame: X and Y as drawn, z = 0 in the blade's mid-plane, Z out of the drawing toward side A.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated

from knifecam.blade.bevel import SIDES, Bevel
from knifecam.blade.jimping import Jimping
from knifecam.curve import Curve, Stretch
from knifecam.record import OneOf, Plain, Point, Record, Within


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


Name = Annotated[str, Plain(longest=60)]
"""The name of an opening: a pattern's, and the cell's number."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Steel(Record):
    """The plate's steel as it is milled: already hardened."""

    name: Annotated[str, Plain()] = "O1"
    hardness_hrc: Annotated[float, Within(unit="HRC", least=20.0, most=70.0)] = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bore(Record):
    """A round bore square to the plate.

    ``depth`` is measured from side A's face in mm; None means through. A ``fitted`` bore takes a
    pin: it is roughed under size, finished on its own and tried with a gauge pin.
    ``both_sides``: met in the middle from both sides instead of bored from A alone.
    """

    name: Name
    centre: Point
    diameter: Annotated[float, Within(above=0.0, most=2000.0)]
    depth: Annotated[float, Within(above=0.0, most=50.0)] | None = None
    fitted: bool = False
    both_sides: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot(Record):
    """A through opening of any outline; ``outline`` is closed and counter-clockwise."""

    name: Name
    outline: Curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Blade(Record):
    """The finished blade: ``outline`` closed and counter-clockwise, ``thickness`` in mm."""

    outline: Curve
    thickness: Annotated[float, Within(above=0.0, most=50.0)]
    steel: Steel = Steel()
    bores: tuple[Bore, ...] = ()
    slots: tuple[Slot, ...] = ()
    bevels: tuple[Bevel, ...] = ()
    breaks: tuple[EdgeBreak, ...] = ()
    jimping: tuple[Jimping, ...] = ()

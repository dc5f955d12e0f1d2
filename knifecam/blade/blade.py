"""The blade as a record.

Part frame: X and Y as drawn, z = 0 in the blade's mid-plane, Z out of the drawing toward side A.
"""

from __future__ import annotations

from dataclasses import dataclass

from knifecam.blade.bevel import Bevel
from knifecam.blade.edge_break import EdgeBreak
from knifecam.blade.jimping import Jimping
from knifecam.curve import Curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Steel:
    """The plate's steel as it is milled: already hardened."""

    name: str = "O1"
    hardness_hrc: float = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bore:
    """A round bore square to the plate.

    ``depth`` is measured from side A's face in mm; None means through. A ``fitted`` bore takes a
    pin: it is roughed under size, finished on its own and tried with a gauge pin.
    ``both_sides``: met in the middle from both sides instead of bored from A alone.
    """

    name: str
    centre: tuple[float, float]
    diameter: float
    depth: float | None = None
    fitted: bool = False
    both_sides: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """A through opening of any outline; ``outline`` is closed and counter-clockwise."""

    name: str
    outline: Curve


@dataclass(frozen=True, slots=True, kw_only=True)
class Blade:
    """The finished blade: ``outline`` closed and counter-clockwise, ``thickness`` in mm."""

    outline: Curve
    thickness: float
    steel: Steel = Steel()
    bores: tuple[Bore, ...] = ()
    slots: tuple[Slot, ...] = ()
    bevels: tuple[Bevel, ...] = ()
    breaks: tuple[EdgeBreak, ...] = ()
    jimping: tuple[Jimping, ...] = ()

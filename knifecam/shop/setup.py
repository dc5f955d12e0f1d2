"""How the plate stands on the mill, on side A and again after the flip on side B."""

from __future__ import annotations

from dataclasses import dataclass

from knifecam.blade import Bore
from knifecam.shop.mill import Mill
from knifecam.shop.plate import Plate


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """A clamp or other thing no part of the cutter may touch.

    A rectangle in the program frame of its ``side`` ("A" or "B"), mm; it reaches ``height`` mm
    above the plate's upper face.
    """

    side: str
    x_low: float
    y_low: float
    x_high: float
    y_high: float
    height: float
    name: str = "clamp"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """Where a reference bore was found after the flip, in side B's program frame, mm."""

    bore: str
    x: float
    y: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Registration:
    """What makes side B meet side A.

    ``kind`` is "pins" (reference bores seat on dowels of the bed), "edges" (the same two physical
    edges touched before and after) or "bores" (reference bores measured after the flip; side B is
    written for the plate as it lies). ``bores`` stand in the part frame, in the waste.
    """

    kind: str = "edges"
    bores: tuple[Bore, ...] = ()
    measured: tuple[Measured, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """What holds the blade at the end: "tabs", or "bores" (screws through the blade's own bores).

    ``screws`` names the bores; the heads (mm) are keep-outs of side B once the screws are in.
    ``tip_clamp``: a clamp of the maker's own holds the far end, so that no tip tab is wanted.
    """

    kind: str = "tabs"
    screws: tuple[str, ...] = ()
    head_diameter: float = 7.0
    head_height: float = 3.0
    tip_clamp: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup:
    """Plate and mill, and how the two sides are set up.

    ``flip`` is the axis the plate is turned about, "X" or "Y". ``datum`` is the place of X0 Y0 of
    side A and of side B, each in the part frame (mm): by default the same physical place.
    ``z_zero`` tells for each side whether Z0 is the plate's upper "face" or the "bed".
    ``offsets`` are the work offsets, e.g. ("G54", "G55"). ``support``: what fills the grooves of
    side A before the flip, "filled" or "none". ``gap_stop``: whether each cutter first stops over
    a stated place at ``gap_height`` mm for a block to pass under. ``gauge`` is the number of the
    gauge pin in the cutter table, ``gauge_diameter`` its diameter in mm.
    """

    plate: Plate
    mill: Mill
    flip: str = "X"
    registration: Registration = Registration()
    hold: Hold = Hold()
    datum: tuple[tuple[float, float], tuple[float, float]]
    z_zero: tuple[str, str] = ("face", "bed")
    offsets: tuple[str, str] = ("G54", "G55")
    keep_out: tuple[KeepOut, ...] = ()
    support: str = "filled"
    gap_stop: bool = True
    gap_height: float = 10.0
    gauge: int = 20
    gauge_diameter: float = 6.0
    bed_allowance: float = 0.0

"""How the plate stands on the mill, on side A and again after the flip on side B."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from knifecam.blade import Bore
from knifecam.blade.blade import Name
from knifecam.record import OneOf, Plain, Point, Record, Within
from knifecam.shop.mill import Far, Mill
from knifecam.shop.plate import Plate

OFFSETS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")
"""Work offsets of RS274/NGC (NISTIR 6556, section 3.2.2)."""

LOWEST_STOP = 5.0
"""mm above the plate: the least at which a hand comes near (common practice)."""

Zero = Annotated[str, OneOf(words=("face", "bed"))]
Offset = Annotated[str, OneOf(words=OFFSETS)]


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut(Record):
    """A clamp or other thing no part of the cutter may touch.

    A rectangle in the program frame of its ``side`` ("A" or "B"), mm; it reaches ``height`` mm
    above the plate's upper face.
    """

    side: Annotated[str, OneOf(words=("A", "B"))]
    x_low: Far
    y_low: Far
    x_high: Far
    y_high: Far
    height: Annotated[float, Within(least=0.0, most=300.0)]
    name: Annotated[str, Plain()] = "clamp"


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured(Record):
    """Where a reference bore was found after the flip, in side B's program frame, mm."""

    bore: Name
    x: Far
    y: Far


@dataclass(frozen=True, slots=True, kw_only=True)
class Registration(Record):
    """What makes side B meet side A.

    ``kind`` is "pins" (reference bores seat on dowels of the bed), "edges" (the same two physical
    edges touched before and after) or "bores" (reference bores measured after the flip; side B is
    written for the plate as it lies). ``bores`` stand in the part frame, in the waste.
    """

    kind: Annotated[str, OneOf(words=("pins", "edges", "bores"))] = "edges"
    bores: tuple[Bore, ...] = ()
    measured: tuple[Measured, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold(Record):
    """What holds the blade at the end: "tabs", or "bores" (screws through the blade's own bores).

    ``screws`` names the bores; the heads (mm) are keep-outs of side B once the screws are in.
    ``tip_clamp``: a clamp of the maker's own holds the far end, so that no tip tab is wanted.
    """

    kind: Annotated[str, OneOf(words=("tabs", "bores"))] = "tabs"
    screws: tuple[Name, ...] = ()
    head_diameter: Annotated[float, Within(above=0.0, most=50.0)] = 7.0
    head_height: Annotated[float, Within(least=0.0, most=50.0)] = 3.0
    tip_clamp: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Setup(Record):
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
    flip: Annotated[str, OneOf(words=("X", "Y"))] = "X"
    registration: Registration = Registration()
    hold: Hold = Hold()
    datum: tuple[Point, Point]
    z_zero: tuple[Zero, Zero] = ("face", "bed")
    offsets: tuple[Offset, Offset] = ("G54", "G55")
    keep_out: tuple[KeepOut, ...] = ()
    support: Annotated[str, OneOf(words=("filled", "none"))] = "filled"
    gap_stop: bool = True
    gap_height: Annotated[float, Within(least=LOWEST_STOP, most=100.0)] = 10.0
    gauge: Annotated[int, Within(unit="", least=1, most=99)] = 20
    gauge_diameter: Annotated[float, Within(above=0.0, most=25.0)] = 6.0
    bed_allowance: Annotated[float, Within(least=0.0, most=20.0)] = 0.0

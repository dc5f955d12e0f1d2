"""Mill, plate, and the setup of both sides: registration, workholding, clamps, zeros."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated

from knifecam.blade import Bore
from knifecam.blade.blade import Name
from knifecam.record import Coordinate, OneOf, Plain, Point, Record, Within
from knifecam.shop.shop_limits import ALLOWED_SPREAD_MM, LOWEST_STOP_MM


@dataclass(frozen=True, slots=True, kw_only=True)
class Misplacement:
    """How the plate lies: shifted by ``x``, ``y``, raised by ``z`` mm, turned by ``angle`` rad.

    In the program frame of the side, the turn about the program's zero, counter-clockwise seen from
    the spindle, before the shift. A chip under the plate raises it.
    """

    x: float = 0.0
    y: float = 0.0
    z: float = 0.0
    angle: float = 0.0

    def __post_init__(self) -> None:
        for name in ("x", "y", "z", "angle"):
            if not math.isfinite(getattr(self, name)):
                raise ValueError(f"{name}={getattr(self, name)} must be a finite number")

    @property
    def angle_deg(self) -> float:
        """The turn in degrees."""
        return math.degrees(self.angle)


Way = Annotated[float, Within(above=0.0, most=2000.0)]


Far = Annotated[float, Within(least=-5000.0, most=5000.0)]


Machine = tuple[Far, Far, Far]


Seen = tuple[Far, Far]


Speed = Annotated[float, Within(unit="rev/min", above=0.0, most=200000.0)]


Rate = Annotated[float, Within(unit="mm/min", above=0.0, most=200000.0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Mill(Record):
    """A three-axis mill with a vertical spindle.

    ``travel`` is the way of X, Y and Z in mm, ``travel_from`` where it begins: the lowest machine
    coordinate of each axis. ``machine_zero`` gives, for side A and side B, where the program's zero
    lies in machine coordinates; None when unknown, and then travel can be judged by its extent only.
    ``rapid_height`` and ``approach_gap`` are mm above the highest thing on the table and above the
    surface at the place. ``change_height`` is how far above the plate the tip stands while hands
    work, and ``change_place`` (x, y) in each side's program where it goes for that, None to stay
    where it is. ``coolant_code`` is "M7" or "M8"; ``units`` "mm" or "in", what its programs count in.
    """

    name: Annotated[str, Plain()] = "mill"
    units: Annotated[str, OneOf(words=("mm", "in"))] = "mm"
    travel: tuple[Way, Way, Way] = (400.0, 250.0, 200.0)
    travel_from: Machine = (0.0, 0.0, 0.0)
    machine_zero: tuple[Machine | None, Machine | None] | None = None
    spindle_low: Speed = 1000.0
    spindle_high: Speed = 24000.0
    feed_high: Annotated[float, Within(unit="mm/min", above=0.0, most=100000.0)] = 3000.0
    rapid: tuple[Rate, Rate, Rate] = (5000.0, 5000.0, 3000.0)
    acceleration: Annotated[float, Within(unit="mm/s^2", above=0.0, most=50000.0)] = 500.0
    rapid_height: Annotated[float, Within(least=5.0, most=200.0)] = 5.0
    approach_gap: Annotated[float, Within(above=0.0, most=10.0)] = 0.5
    spin_up: Annotated[float, Within(unit="s", least=0.0, most=60.0)] = 3.0
    change_by_hand: bool = True
    change_height: Annotated[float, Within(least=5.0, most=500.0)] = 50.0
    change_place: tuple[Seen | None, Seen | None] | None = None
    coolant_code: Annotated[str, OneOf(words=("M7", "M8"))] = "M7"


Size = Annotated[float, Within(above=0.0, most=2000.0)]


Thickness = Annotated[float, Within(above=0.0, most=50.0)]


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
    allowed_spread: Annotated[float, Within(least=0.0, most=0.2)] = ALLOWED_SPREAD_MM

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


OFFSETS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")
"""Work offsets of RS274/NGC (NISTIR 6556, section 3.2.2)."""


Zero = Annotated[str, OneOf(words=("face", "fixture"))]


Offset = Annotated[str, OneOf(words=OFFSETS)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clamp(Record):
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
class MeasuredBore(Record):
    """Where a reference bore was found after the flip, in side B's program frame, mm."""

    bore: Name
    x: Far
    y: Far


@dataclass(frozen=True, slots=True, kw_only=True)
class Registration(Record):
    """What makes side B meet side A.

    ``kind`` is "pins" (reference bores seat on dowels of the fixture), "edges" (the same two physical
    edges touched before and after) or "bores" (reference bores measured after the flip; side B is
    written for the plate as it lies). ``bores`` stand in the part frame, in the waste.
    """

    kind: Annotated[str, OneOf(words=("pins", "edges", "bores"))] = "edges"
    bores: tuple[Bore, ...] = ()
    measured: tuple[MeasuredBore, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Workholding(Record):
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
    ``z_zero`` tells for each side whether Z0 is the plate's upper "face" or the "fixture".
    ``offsets`` are the work offsets, e.g. ("G54", "G55"). ``support``: what fills the grooves of
    side A before the flip, "filled" or "none". ``gap_stop``: whether each cutter first stops over
    a stated place at ``gap_height`` mm for a block to pass under. ``gauge`` is the number of the
    gauge pin in the cutter table, ``gauge_diameter`` its diameter in mm.
    """

    plate: Plate
    mill: Mill
    flip: Annotated[str, OneOf(words=("X", "Y"))] = "X"
    registration: Registration = Registration()
    workholding: Workholding = Workholding()
    datum: tuple[Point, Point]
    z_zero: tuple[Zero, Zero] = ("face", "fixture")
    offsets: tuple[Offset, Offset] = ("G54", "G55")
    clamps: tuple[Clamp, ...] = ()
    support: Annotated[str, OneOf(words=("filled", "none"))] = "filled"
    gap_stop: bool = True
    gap_height: Annotated[float, Within(least=LOWEST_STOP_MM, most=100.0)] = 10.0
    gauge: Annotated[int, Within(unit="", least=1, most=99)] = 20
    gauge_diameter: Annotated[float, Within(above=0.0, most=25.0)] = 6.0
    fixture_allowance: Annotated[float, Within(least=0.0, most=20.0)] = 0.0

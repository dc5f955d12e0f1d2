"""The order and its stages: what to make, from what, with what. All that later work needs is in it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated

from knifecam.blade import Blade
from knifecam.curve import Stretch
from knifecam.errors import OrderError
from knifecam.quantity import Stated, keyed, mm
from knifecam.record import OneOf, Plain, Record, Within
from knifecam.shop.assumptions import Assumption
from knifecam.shop.cutter import Cutter
from knifecam.shop.setup import Setup, Speed

BORE, FIT, SLOT, ROUGH, FINISH = "bore", "fit", "slot", "rough", "finish"


NOTCH, BREAK, NECK = "notch", "break", "neck"


CLEAR, BEVEL_ROUGH, BEVEL_SEMI = "clear", "bevel-rough", "bevel-semi"


BEVEL_FINISH, PLUNGE = "bevel-finish", "plunge-line"


BEVEL_STAGES = (CLEAR, BEVEL_ROUGH, BEVEL_SEMI, BEVEL_FINISH, PLUNGE)


STAGES = (BORE, FIT, SLOT, ROUGH, FINISH, NOTCH, BREAK, NECK, *BEVEL_STAGES)


def cutting_path(cutter: int, stage: str) -> str:
    """Return how lines name the cutting data of a cutter, by its number, in a stage."""
    return f'cutting of cutter {cutter} in stage "{stage}"'


Step = Annotated[float, Within(above=0.0, most=50.0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting(Record):
    """How one cutter works in one stage.

    ``cutter`` is its number; ``stage`` one of "bore", "fit" (finishing of fitted bores), "slot",
    "rough" and "finish" (the outline's trench and wall), "notch" (jimping), "break" (edge breaks),
    "neck" (of tabs, at the wall), "clear" (beside the edge, for bevels), "bevel-rough",
    "bevel-semi", "bevel-finish" and "plunge-line". ``spindle`` in rev/min, ``feed`` in mm/min at the
    contact, ``stepdown`` in mm a level (a turn, for helices), ``stepover`` in mm (greatest step
    between finishing passes), ``allowance`` in mm left on the wall, on bevels plumb above them, for
    the next stage, ``life`` in contact minutes.
    """

    cutter: Annotated[int, Within(unit="", least=1, most=99)]
    stage: Annotated[str, OneOf(words=STAGES)]
    spindle: Speed
    feed: Annotated[float, Within(unit="mm/min", above=0.0, most=100000.0)]
    stepdown: Step
    stepover: Step
    allowance: Annotated[float, Within(least=0.0, most=2.0)] = 0.0
    life: Annotated[float, Within(unit="min", above=0.0, most=10000.0)] = 60.0

    @property
    def path(self) -> str:
        """Return how lines name the entry."""
        return cutting_path(self.cutter, self.stage)

    def keyed(self, key: str) -> Stated:
        """Return one of its lengths, to be written as "key=value"."""
        return keyed(f"{self.path}.{key}", mm(getattr(self, key)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tabs(Record):
    """The tabs that hold the blade in the plate.

    ``count`` tabs are placed by the planner unless ``stations`` (mm along the outline, middles)
    are given. ``waist`` is the narrowest width, ``thickness`` the thickness, mm. No tab stands on
    the stretches ``no_tabs`` and ``as_milled``. ``ramp_up`` and ``ramp_down`` are the angles in rad at
    which the cutter lifts off to and falls from the window (10 to 20 degrees down: common
    practice). ``neck`` is the thickness in mm that a small cutter leaves of them along the blade's
    wall, so that they snap there; 0 for no neck.
    """

    count: Annotated[int, Within(unit="", least=0, most=24)] = 4
    stations: tuple[Annotated[float, Within(least=0.0, most=10000.0)], ...] = ()
    waist: Annotated[float, Within(above=0.0, most=20.0)] = 1.5
    thickness: Annotated[float, Within(above=0.0, most=10.0)] = 0.4
    no_tabs: tuple[Stretch, ...] = ()
    as_milled: tuple[Stretch, ...] = ()
    ramp_up: Annotated[
        float, Within(unit="rad", least=math.radians(10.0), most=math.radians(60.0))
    ] = 0.7853981633974483
    ramp_down: Annotated[
        float, Within(unit="rad", least=math.radians(10.0), most=math.radians(25.0))
    ] = 0.3490658503988659
    neck: Annotated[float, Within(least=0.0, most=5.0)] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Trench(Record):
    """The trench round the outline, mm.

    ``depth_a`` is the meeting plane's depth below side A's face; the sides overlap by ``overlap``,
    half of it each. ``width`` is the roughed width. ``web`` stays under side B's roughing and is
    sheared by the finishing pass at once: three times the usual 0.2 is the most (common practice).
    ``clearance`` keeps the finishing cutter's end off the roughed floor of side A. ``border`` is the
    least width of plate that must stay outside the trench.
    """

    depth_a: Annotated[float, Within(above=0.0, most=20.0)]
    overlap: Annotated[float, Within(least=0.0, most=10.0)]
    width: Annotated[float, Within(above=0.0, most=100.0)]
    web: Annotated[float, Within(above=0.0, most=0.6)] = 0.2
    clearance: Annotated[float, Within(least=0.0, most=1.0)] = 0.02
    border: Annotated[float, Within(least=0.0, most=200.0)] = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Boring(Record):
    """How bores and slots are opened, mm.

    ``opening`` is "skin" (side A leaves ``skin``, opened from side B at ``oversize`` more diameter) or
    "relieved" (side A goes through by ``through`` into a relieved or sacrificial fixture).
    ``undersize`` is what roughing leaves of the diameter of fitted bores.
    """

    opening: Annotated[str, OneOf(words=("skin", "relieved"))] = "skin"
    skin: Annotated[float, Within(above=0.0, most=2.0)] = 0.25
    oversize: Annotated[float, Within(least=0.0, most=0.5)] = 0.04
    through: Annotated[float, Within(above=0.0, most=5.0)] = 0.2
    undersize: Annotated[float, Within(above=0.0, most=0.5)] = 0.08
    spring_passes: Annotated[int, Within(unit="", least=0, most=5)] = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Bevelling(Record):
    """How bevels are ground on the mill, mm.

    ``cusp`` is the wanted height of cusps on finished bevels and plunges, square to them; ``below``
    how far under the lowest tip the waste beside the edge is cleared. ``measure_stop``: stop on side
    B before the bevels are finished, to measure what the semi-finish left and correct Z.
    """

    cusp: Annotated[float, Within(above=0.0, most=0.1)] = 0.003
    below: Annotated[float, Within(least=0.05, most=0.5)] = 0.07
    measure_stop: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Order(Record):
    """One order; ``digest`` identifies its text, ``assumed`` lists what it did not state.

    ``units`` is "mm" or "in", what the maker is told in: on the screen, in findings and refusals; the
    programs are in the mill's. ``outline_layers`` are the drawing's layers that the outline was taken
    from, ``drawn_notes`` tell what of the drawing was left alone and what looks odd there.
    """

    name: Annotated[str, Plain()]
    blade: Blade
    setup: Setup
    cutters: tuple[Cutter, ...]
    cutting: tuple[Cutting, ...]
    tabs: Tabs
    trench: Trench
    boring: Boring = Boring()
    bevelling: Bevelling = Bevelling()
    outline_layers: tuple[str, ...] = ()
    drawn_notes: tuple[str, ...] = ()
    digest: Annotated[str, Plain(least=0)] = ""
    units: Annotated[str, OneOf(words=("mm", "in"))] = "mm"
    assumed: tuple[Assumption, ...] = ()

    def cutter(self, number: int) -> Cutter:
        """Return the cutter of that number."""
        for cutter in self.cutters:
            if cutter.number == number:
                return cutter
        known = ", ".join(str(c.number) for c in self.cutters)
        raise OrderError(f"cutter {number} is not among the order's cutters ({known})")

    def cuttings(self, stage: str) -> tuple[Cutting, ...]:
        """Return all entries of one stage, in the order's sequence."""
        return tuple(c for c in self.cutting if c.stage == stage)


def cutting_and_cutter(order: Order, stage: str) -> tuple[Cutting, Cutter]:
    """Return the first entry of a stage and its cutter."""
    entry = order.cuttings(stage)[0]
    return entry, order.cutter(entry.cutter)

"""The order: what to make, from what, with what. Everything later work needs is in it."""

from __future__ import annotations

from dataclasses import dataclass

from knifecam.blade import Blade
from knifecam.curve import Stretch
from knifecam.errors import OrderError
from knifecam.shop.cutter import Cutter
from knifecam.shop.setup import Setup

BORE, FIT, SLOT, ROUGH, FINISH = "bore", "fit", "slot", "rough", "finish"
NOTCH, BREAK, NECK = "notch", "break", "neck"
CLEAR, BEVEL_ROUGH, BEVEL_SEMI = "clear", "bevel-rough", "bevel-semi"
BEVEL_FINISH, PLUNGE = "bevel-finish", "plunge"
BEVEL_STAGES = (CLEAR, BEVEL_ROUGH, BEVEL_SEMI, BEVEL_FINISH, PLUNGE)
STAGES = (BORE, FIT, SLOT, ROUGH, FINISH, NOTCH, BREAK, NECK, *BEVEL_STAGES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """How one cutter works in one stage.

    ``cutter`` is its number; ``stage`` one of "bore", "fit" (finishing of fitted bores), "slot",
    "rough" and "finish" (the outline's trench and wall), "notch" (jimping), "break" (edge breaks),
    "neck" (of tabs, at the wall), "clear" (beside the edge, for bevels), "bevel-rough",
    "bevel-semi", "bevel-finish" and "plunge". ``spindle`` in rev/min, ``feed`` in mm/min at the
    contact, ``stepdown`` in mm a level (a turn, for helices), ``stepover`` in mm (greatest step
    between finishing passes), ``allowance`` in mm left on the wall, on bevels plumb above them, for
    the next stage, ``life`` in contact minutes.
    """

    cutter: int
    stage: str
    spindle: float
    feed: float
    stepdown: float
    stepover: float
    allowance: float = 0.0
    life: float = 60.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tabs:
    """The tabs that hold the blade in the plate.

    ``count`` tabs are placed by the planner unless ``stations`` (mm along the outline, middles)
    are given. ``waist`` is the narrowest width, ``thickness`` the thickness, mm. No tab stands on
    the stretches ``keep_off`` and ``as_milled``. ``rise`` and ``descent`` are the angles in rad at
    which the cutter lifts off to and falls from the window. ``neck`` is the thickness in mm that a
    small cutter leaves of them along the blade's wall, so that they snap there; 0 for no neck.
    """

    count: int = 4
    stations: tuple[float, ...] = ()
    waist: float = 1.5
    thickness: float = 0.4
    keep_off: tuple[Stretch, ...] = ()
    as_milled: tuple[Stretch, ...] = ()
    rise: float = 0.7853981633974483
    descent: float = 0.3490658503988659
    neck: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Trench:
    """The trench round the outline, mm.

    ``meet`` is the meeting plane's depth below side A's face; the sides overlap by ``overlap``,
    half of it each. ``width`` is the roughed width. ``web`` stays under side B's roughing and is
    sheared by the finishing pass. ``clearance`` keeps the finishing cutter's end off the roughed
    floor of side A. ``frame`` is the least width of plate that must stay outside the trench.
    """

    meet: float
    overlap: float
    width: float
    web: float = 0.2
    clearance: float = 0.02
    frame: float = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Boring:
    """How bores and slots are opened, mm.

    ``bed`` is "skin" (side A leaves ``skin``, opened from side B at ``relief`` more diameter) or
    "relieved" (side A goes through by ``through`` into a relieved or sacrificial bed).
    ``undersize`` is what roughing leaves of the diameter of fitted bores.
    """

    bed: str = "skin"
    skin: float = 0.25
    relief: float = 0.04
    through: float = 0.2
    undersize: float = 0.08
    spring_circles: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Bevelling:
    """How bevels are ground on the mill, mm.

    ``cusp`` is the wanted height of cusps on finished bevels and plunges, square to them; ``below``
    how far under the lowest tip the waste beside the edge is cleared. ``measure_stop``: stop on side
    B before the bevels are finished, to measure what the semi-finish left and correct Z.
    """

    cusp: float = 0.003
    below: float = 0.07
    measure_stop: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One order; ``digest`` identifies its text, ``assumed`` lists what it did not state.

    ``drawn_notes`` tell what of its drawing was left alone and what looks odd there.
    """

    name: str
    blade: Blade
    setup: Setup
    cutters: tuple[Cutter, ...]
    cutting: tuple[Cutting, ...]
    tabs: Tabs
    trench: Trench
    boring: Boring = Boring()
    bevelling: Bevelling = Bevelling()
    drawn_notes: tuple[str, ...] = ()
    digest: str = ""
    assumed: tuple[str, ...] = ()

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

"""The order as a pydantic model: every key, its unit, default, range and meaning.

A key that may be silent is None here; what stands in its place is settled when the records are
built. ``record`` names the record whose own defaults then hold.
"""

from __future__ import annotations

from typing import Annotated

from knifecam.order.entry import Choice
from knifecam.order.model_bevel import BevellingSection, BevelSection
from knifecam.order.model_cutter import CutterSection, CuttingSection
from knifecam.order.model_detail import (
    EdgeBreakSection,
    JimpingSection,
    PatternSection,
    SlotSection,
)
from knifecam.order.model_part import (
    BladeSection,
    BoresSection,
    DrawingSection,
    HoldSection,
    OutlineSection,
    TabsSection,
)
from knifecam.order.model_stand import (
    KeepOutSection,
    MillSection,
    PlateSection,
    RegistrationSection,
    SetupSection,
)
from knifecam.order.section import Section, a_text


class OrderText(Section):
    """The whole order."""

    name: Annotated[str, a_text("what is made; it stands in the programs' headers")]
    units: Annotated[
        str,
        Choice(words=("mm", "in"), meaning="unit of bare lengths and feeds", default='"mm"'),
    ] = "mm"
    drawing: DrawingSection | None = None
    blade: BladeSection = BladeSection()
    bevels: tuple[BevelSection, ...] = ()
    bevelling: BevellingSection = BevellingSection()
    slots: tuple[SlotSection, ...] = ()
    patterns: tuple[PatternSection, ...] = ()
    jimping: tuple[JimpingSection, ...] = ()
    edge_breaks: tuple[EdgeBreakSection, ...] = ()
    plate: PlateSection
    cutters: tuple[CutterSection, ...]
    cutting: tuple[CuttingSection, ...] = ()
    mill: MillSection = MillSection()
    setup: SetupSection = SetupSection()
    outline: OutlineSection = OutlineSection()
    tabs: TabsSection = TabsSection()
    bores: BoresSection = BoresSection()
    hold: HoldSection = HoldSection()
    registration: RegistrationSection = RegistrationSection()
    keep_out: tuple[KeepOutSection, ...] = ()

"""knifecam: from a drawing and an order to two proved RS-274 programs.

Millimetres, radians, mm/min, rev/min, newtons and watts throughout; other units only in names
that say so, and at the border (orders, drawings, programs).

The names below are loaded when they are first used, so that importing one room never loads
another.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

_HOMES = {
    "ARC": "knifecam.curve",
    "FEED": "knifecam.curve",
    "RAPID": "knifecam.curve",
    "Bevel": "knifecam.blade",
    "Blade": "knifecam.blade",
    "Bore": "knifecam.blade",
    "Curve": "knifecam.curve",
    "Cutter": "knifecam.shop",
    "Cutting": "knifecam.shop",
    "DrawingError": "knifecam.errors",
    "KnifecamError": "knifecam.errors",
    "EdgeBreak": "knifecam.blade",
    "Engagement": "knifecam.cutting",
    "Jimping": "knifecam.blade",
    "Kind": "knifecam.judge.finding_kinds",
    "Made": "knifecam.making",
    "Mill": "knifecam.shop",
    "Motions": "knifecam.curve",
    "Order": "knifecam.shop",
    "OrderError": "knifecam.errors",
    "OutputError": "knifecam.errors",
    "PlanError": "knifecam.errors",
    "Plate": "knifecam.shop",
    "Plunge": "knifecam.blade",
    "ProgramError": "knifecam.errors",
    "Setup": "knifecam.shop",
    "Slot": "knifecam.blade",
    "Steel": "knifecam.blade",
    "Stretch": "knifecam.curve",
    "Tabs": "knifecam.shop",
    "Trench": "knifecam.shop",
    "check": "knifecam.making",
    "circle": "knifecam.curve",
    "feasible": "knifecam.rules.rule_passes",
    "half_thickness": "knifecam.blade",
    "lay_out": "knifecam.planning",
    "load_order": "knifecam.order",
    "make": "knifecam.making",
    "offset": "knifecam.paths.offset",
    "read_drawing": "knifecam.drawing",
    "signed_distance": "knifecam.curve",
    "write_program": "knifecam.program",
}

if TYPE_CHECKING:
    from knifecam.blade import (
        Bevel,
        Blade,
        Bore,
        EdgeBreak,
        Jimping,
        Plunge,
        Slot,
        Steel,
        half_thickness,
    )
    from knifecam.curve import (
        ARC,
        FEED,
        RAPID,
        Curve,
        Motions,
        Stretch,
        circle,
        signed_distance,
    )
    from knifecam.cutting import Engagement
    from knifecam.drawing import read_drawing
    from knifecam.errors import (
        DrawingError,
        KnifecamError,
        OrderError,
        OutputError,
        PlanError,
        ProgramError,
    )
    from knifecam.judge.finding_kinds import Kind
    from knifecam.making import Made, check, make
    from knifecam.order import load_order
    from knifecam.paths.offset import offset
    from knifecam.planning import lay_out
    from knifecam.program import write_program
    from knifecam.rules.rule_passes import feasible
    from knifecam.shop import Cutter, Cutting, Mill, Order, Plate, Setup, Tabs, Trench

__all__ = [
    "ARC",
    "FEED",
    "RAPID",
    "Bevel",
    "Blade",
    "Bore",
    "Curve",
    "Cutter",
    "Cutting",
    "DrawingError",
    "EdgeBreak",
    "Engagement",
    "Jimping",
    "Kind",
    "KnifecamError",
    "Made",
    "Mill",
    "Motions",
    "Order",
    "OrderError",
    "OutputError",
    "PlanError",
    "Plate",
    "Plunge",
    "ProgramError",
    "Setup",
    "Slot",
    "Steel",
    "Stretch",
    "Tabs",
    "Trench",
    "__version__",
    "check",
    "circle",
    "feasible",
    "half_thickness",
    "lay_out",
    "load_order",
    "make",
    "offset",
    "read_drawing",
    "signed_distance",
    "write_program",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'knifecam' has no attribute {name!r}")
    value = getattr(importlib.import_module(_HOMES[name]), name)
    globals()[name] = value
    return value

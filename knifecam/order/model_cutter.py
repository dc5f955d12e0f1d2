"""What cuts: the tables [[cutters]] and [[cutting]]."""

from __future__ import annotations

from typing import Annotated

from knifecam.order.entry import Choice, Count, Flag, Measure
from knifecam.order.quantity import ANGLE, FEED, MINUTES, SURFACE, TOOTH, TURNING
from knifecam.order.section import Section, a_length, a_text
from knifecam.shop import Cutter
from knifecam.shop.cutter import KINDS
from knifecam.shop.order import STAGES


class CutterSection(Section):
    """One cutter, the physical thing, measured from the tip upward (terms of ISO 13399)."""

    record = Cutter

    number: Annotated[int, Count(least=1, most=99, meaning="number in the cutter table")]
    kind: Annotated[
        str,
        Choice(
            words=KINDS,
            meaning="form of the tip: sharp corner, corner radius, half a sphere, or a cone that "
            "breaks edges",
        ),
    ]
    diameter: Annotated[float, a_length("diameter as measured", above=0.0, most=50.0)]
    corner: Annotated[
        float | None,
        a_length(
            "corner radius; a bull-nose must state it",
            "0 for flat and chamfer, half the diameter for ball",
            least=0.0,
            most=25.0,
        ),
    ] = None
    flutes: Annotated[int | None, Count(least=1, most=12, meaning="how many edges")] = None
    flute_length: Annotated[
        float | None, a_length("length that cuts", "1.5 diameters", above=0.0, most=200.0)
    ] = None
    neck: Annotated[
        float | None,
        a_length("diameter of the relieved neck", "0.95 diameters", above=0.0, most=50.0),
    ] = None
    reach: Annotated[
        float | None,
        a_length("length up to the end of the neck", "4 diameters", above=0.0, most=300.0),
    ] = None
    cone: Annotated[
        float | None,
        Measure(
            kind=ANGLE,
            above=0.0,
            most=90.0,
            meaning="angle from the axis of the cone between neck and shank",
        ),
    ] = None
    shank: Annotated[
        float | None,
        a_length(
            "diameter of the shank", "6 mm, or the next usual size above", above=0.0, most=50.0
        ),
    ] = None
    stickout: Annotated[
        float | None,
        a_length(
            "length from tip to holder", "reach, cone and 10 mm of shank", above=0.0, most=400.0
        ),
    ] = None
    holder: Annotated[
        float | None, a_length("diameter of the holder's nose", above=0.0, most=200.0)
    ] = None
    may_plunge: Annotated[
        bool | None, Flag(meaning="whether it may fall straight into solid metal")
    ] = None
    ramp: Annotated[
        float | None,
        Measure(kind=ANGLE, above=0.0, most=45.0, meaning="steepest fall into solid metal"),
    ] = None
    tip: Annotated[
        float | None,
        a_length(
            "diameter of the flat at a chamfer mill's tip", "0.05 diameters", least=0.0, most=50.0
        ),
    ] = None
    half_angle: Annotated[
        float | None,
        Measure(
            kind=ANGLE,
            above=0.0,
            most=85.0,
            meaning="angle of a chamfer mill's cone from the axis",
        ),
    ] = None


class CuttingSection(Section):
    """How one cutter works in one stage; a stage without any entry is proposed whole."""

    cutter: Annotated[int, Count(least=1, most=99, meaning="number of the cutter")]
    stage: Annotated[
        str,
        Choice(
            words=STAGES,
            meaning='"bore", "fit" (finishing fitted bores), "slot", "rough" and "finish" (the '
            'outline), "notch" (jimping), "break" (edge breaks), "neck" (tabs, at the wall), '
            '"clear" (the waste beside edges of bevels), "bevel-rough", "bevel-semi" and "bevel-finish" '
            '(bevels, in this order), "plunge" (where bevels end)',
        ),
    ]
    steel: Annotated[
        str | None,
        a_text("the entry holds for this steel only", "every steel"),
    ] = None
    spindle: Annotated[
        float | None,
        Measure(
            kind=TURNING,
            above=0.0,
            most=200000.0,
            meaning="spindle speed; not together with `surface_speed`",
            default="by surface speed, within the mill's range",
        ),
    ] = None
    surface_speed: Annotated[
        float | None,
        Measure(
            kind=SURFACE,
            above=0.0,
            most=1000.0,
            meaning="speed of the cutter's rim; not together with `spindle`",
            default="60 m/min in a slot, bore or trench, 85 m/min on a wall; less 15 % at 64 HRC",
        ),
    ] = None
    feed: Annotated[
        float | None,
        Measure(
            kind=FEED,
            above=0.0,
            most=100000.0,
            meaning="feed at the contact; not together with `feed_per_tooth`",
            default="by feed per tooth, within the mill's range",
        ),
    ] = None
    feed_per_tooth: Annotated[
        float | None,
        Measure(
            kind=TOOTH,
            above=0.0,
            most=0.5,
            meaning="feed of one edge; not together with `feed`",
            default="0.008, 0.011, 0.014 mm for diameters 2, 3, 4 mm",
        ),
    ] = None
    stepdown: Annotated[
        float | None,
        a_length(
            "depth of a level, or of a turn of a helix",
            "slot 0.045, 0.075, 0.10 mm for diameters 2, 3, 4; bore 0.0225, fit 0.1, finish 1.5 "
            "diameters",
            above=0.0,
            most=50.0,
        ),
    ] = None
    stepover: Annotated[
        float | None,
        a_length(
            "sideways step",
            "0.35 diameters; in finishing what was left",
            above=0.0,
            most=50.0,
        ),
    ] = None
    allowance: Annotated[
        float | None,
        a_length(
            "metal left on the wall for finishing",
            "rough and slot 0.04, 0.06, 0.08 mm for diameters 2, 3, 4; else 0",
            least=0.0,
            most=2.0,
        ),
    ] = None
    life: Annotated[
        float | None,
        Measure(
            kind=MINUTES,
            above=0.0,
            most=10000.0,
            meaning="contact minutes before the cutter is changed",
            default="60 min",
        ),
    ] = None

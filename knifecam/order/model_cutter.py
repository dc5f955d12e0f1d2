"""What cuts: the tables [[cutters]] and [[cutting]]."""

from __future__ import annotations

from typing import Annotated

from knifecam.order.entry import Choice, Count, Flag, Measure
from knifecam.order.quantity import ANGLE, FEED, MINUTES, SURFACE, TOOTH, TURNING
from knifecam.order.section import Section, a_length, a_text
from knifecam.record import Within, within, words
from knifecam.shop import Cutter, Cutting


class CutterSection(Section):
    """One cutter, the physical thing, measured from the tip upward (terms of ISO 13399)."""

    record = Cutter

    number: Annotated[
        int, Count(within=within(Cutter, "number"), meaning="number in the cutter table")
    ]
    kind: Annotated[
        str,
        Choice(
            words=words(Cutter, "kind"),
            meaning="form of the tip: sharp corner, corner radius, half a sphere, or a cone that "
            "breaks edges",
        ),
    ]
    diameter: Annotated[float, a_length("diameter as measured", within=within(Cutter, "diameter"))]
    corner: Annotated[
        float | None,
        a_length(
            "corner radius; a bull-nose must state it",
            "0 for flat and chamfer, half the diameter for ball",
            within=within(Cutter, "corner"),
        ),
    ] = None
    flutes: Annotated[
        int | None, Count(within=within(Cutter, "flutes"), meaning="how many edges")
    ] = None
    flute_length: Annotated[
        float | None,
        a_length("length that cuts", "1.5 diameters", within=within(Cutter, "flute_length")),
    ] = None
    neck: Annotated[
        float | None,
        a_length("diameter of the relieved neck", "0.95 diameters", within=within(Cutter, "neck")),
    ] = None
    reach: Annotated[
        float | None,
        a_length("length up to the end of the neck", "4 diameters", within=within(Cutter, "reach")),
    ] = None
    cone: Annotated[
        float | None,
        Measure(
            kind=ANGLE,
            within=within(Cutter, "cone"),
            meaning="angle from the axis of the cone between neck and shank",
        ),
    ] = None
    shank: Annotated[
        float | None,
        a_length(
            "diameter of the shank",
            "6 mm, or the next usual size above",
            within=within(Cutter, "shank"),
        ),
    ] = None
    stickout: Annotated[
        float | None,
        a_length(
            "length from tip to holder",
            "reach, cone and 10 mm of shank",
            within=within(Cutter, "stickout"),
        ),
    ] = None
    holder: Annotated[
        float | None, a_length("diameter of the holder's nose", within=within(Cutter, "holder"))
    ] = None
    may_plunge: Annotated[
        bool | None, Flag(meaning="whether it may fall straight into solid metal")
    ] = None
    ramp: Annotated[
        float | None,
        Measure(
            kind=ANGLE, within=within(Cutter, "ramp"), meaning="steepest fall into solid metal"
        ),
    ] = None
    tip: Annotated[
        float | None,
        a_length(
            "diameter of the flat at a chamfer mill's tip",
            "0.05 diameters",
            within=within(Cutter, "tip"),
        ),
    ] = None
    half_angle: Annotated[
        float | None,
        Measure(
            kind=ANGLE,
            within=within(Cutter, "half_angle"),
            meaning="angle of a chamfer mill's cone from the axis",
        ),
    ] = None


class CuttingSection(Section):
    """How one cutter works in one stage; a stage without any entry is proposed whole."""

    cutter: Annotated[int, Count(within=within(Cutting, "cutter"), meaning="number of the cutter")]
    stage: Annotated[
        str,
        Choice(
            words=words(Cutting, "stage"),
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
            within=within(Cutting, "spindle"),
            meaning="spindle speed; not together with `surface_speed`",
            default="by surface speed, within the mill's range",
        ),
    ] = None
    surface_speed: Annotated[
        float | None,
        Measure(
            kind=SURFACE,
            within=Within(unit="mm/min", above=0.0, most=1e6),
            meaning="speed of the cutter's rim; not together with `spindle`",
            default="60 m/min in a slot, bore or trench, 85 m/min on a wall; less 15 % at 64 HRC",
        ),
    ] = None
    feed: Annotated[
        float | None,
        Measure(
            kind=FEED,
            within=within(Cutting, "feed"),
            meaning="feed at the contact; not together with `feed_per_tooth`",
            default="by feed per tooth, within the mill's range",
        ),
    ] = None
    feed_per_tooth: Annotated[
        float | None,
        Measure(
            kind=TOOTH,
            within=Within(above=0.0, most=0.5),
            meaning="feed of one edge; not together with `feed`",
            default="0.008, 0.011, 0.014 mm for diameters 2, 3, 4 mm",
        ),
    ] = None
    stepdown: Annotated[
        float | None,
        a_length(
            'depth of a level, or of a turn of a helix, in stages "bore", "slot", "rough", "notch", '
            '"neck", "clear" and "bevel-rough"',
            "slot 0.045, 0.075, 0.10 mm for diameters 2, 3, 4; bore 0.0225 diameters",
            within=within(Cutting, "stepdown"),
        ),
    ] = None
    stepover: Annotated[
        float | None,
        a_length(
            'sideways step, in all stages but "fit", "finish" and "neck"',
            "0.35 diameters",
            within=within(Cutting, "stepover"),
        ),
    ] = None
    allowance: Annotated[
        float | None,
        a_length(
            'metal left for the next stage, by "slot", "rough", "clear", "bevel-rough", "bevel-semi" '
            'and "plunge"',
            "rough and slot 0.04, 0.06, 0.08 mm for diameters 2, 3, 4",
            within=within(Cutting, "allowance"),
        ),
    ] = None
    life: Annotated[
        float | None,
        Measure(
            kind=MINUTES,
            within=within(Cutting, "life"),
            meaning="contact minutes before the cutter is changed",
            default="60 min",
        ),
    ] = None

"""Tables of cutters, cutting data, plate, mill and setup, and the list of all tables.

A key that may be silent is None here; what stands in its place is settled when the records are
built. ``record`` names the record whose own defaults then hold.
"""

from __future__ import annotations

from typing import Annotated

from knifecam.order.blade_tables import (
    BevellingSection,
    BevelSection,
    BladeSection,
    BoresSection,
    DrawingSection,
    EdgeBreakSection,
    JimpingSection,
    OutlineSection,
    PatternSection,
    SlotSection,
    TabsSection,
    WorkholdingSection,
)
from knifecam.order.key_values import (
    ACCELERATION,
    ANGLE,
    ANYWHERE,
    FEED_RATE,
    MINUTES,
    NAME_ENTRY,
    PLACE,
    SECONDS,
    SIZE,
    SURFACE,
    TOOTH,
    TURNING,
    Choice,
    Count,
    Flag,
    Measure,
    Place,
    Row,
    Section,
    a_length,
    a_row,
    a_text,
    either_of,
)
from knifecam.record import Within, within, words
from knifecam.shop import Clamp, Cutter, Cutting, MeasuredBore, Mill, Plate, Registration, Setup
from knifecam.shop.cutting_data import PACES


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
        a_length(
            "length up to the end of the neck",
            "2 diameters, at least 0.5 mm more than the plate's thickness",
            within=within(Cutter, "reach"),
        ),
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
    centre_cutting: Annotated[
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
            '(bevels, in this order), "plunge-line" (where bevels end)',
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
            default="by the kind of engagement, hardness and `mill.pace`: 65 m/min in a slot, 60 in a "
            "bore, 85 on a wall at 62 HRC; less 15 % at 64 HRC",
        ),
    ] = None
    feed: Annotated[
        float | None,
        Measure(
            kind=FEED_RATE,
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
            default="that makes the greatest chip 0.0054, 0.008, 0.01 mm thick for diameters 2, 3, 6 mm, "
            "half of it in finishing",
        ),
    ] = None
    stepdown: Annotated[
        float | None,
        a_length(
            'depth of a level, or of a turn of a helix, in stages "bore", "slot", "rough", "notch", '
            '"neck", "clear" and "bevel-rough"',
            "by `mill.pace`: 0.03, 0.045, 0.065 diameters in slots, 0.0225, 0.0325, 0.045 a turn in "
            "bores",
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
            'and "plunge-line"',
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


CORNERS = ("lower-left", "lower-right", "upper-right", "upper-left")


class PlateSection(Section):
    """The stock, where it was measured, and its zero on both sides."""

    length: Annotated[float, a_length("size along X", within=within(Plate, "length"))]
    width: Annotated[float, a_length("size along Y", within=within(Plate, "width"))]
    thickness: Annotated[
        tuple[float, ...] | tuple[tuple[float, float, float], ...],
        either_of(
            "four thicknesses, one a corner, or four or more places [x, y, thickness]",
            "thickness as measured: at the corners lower left, lower right, upper right, upper "
            "left, or at places seen from the plate's lower left corner",
            "",
            Row(of=Measure(within=within(Plate, "thickness")), least=4, most=4),
            Row(
                of=Row(of=ANYWHERE, least=3, most=3, each=("x", "y", "thickness")),
                least=4,
            ),
        ),
    ]
    corner: Annotated[
        Place | None,
        a_row(
            ANYWHERE,
            2,
            "the plate's lower left corner in the part frame (as drawn)",
            "the blade lies in the middle of the plate",
            each=("x", "y"),
        ),
    ] = None
    datum_a: Annotated[
        str | Place | None,
        either_of(
            'a point [x, y], a corner such as "lower-left", or a bore\'s name',
            "X0 Y0 of side A, in the part frame",
            "the first reference bore with pins, else the lower left corner",
            PLACE,
            NAME_ENTRY,
        ),
    ] = None
    datum_b: Annotated[
        str | Place | None,
        either_of(
            'a point [x, y], a corner such as "lower-left", or a bore\'s name',
            "X0 Y0 of side B, in the part frame; corners are named as they lie on side A",
            "the same physical place as on side A",
            PLACE,
            NAME_ENTRY,
        ),
    ] = None
    spread: Annotated[
        float | None,
        a_length(
            "greatest difference allowed between the measured thicknesses; it goes straight into "
            "tab and land, so grind the plate rather than allow more",
            "0.02 mm",
            within=within(Plate, "allowed_spread"),
        ),
    ] = None
    z_zero_a: Annotated[
        str | None,
        Choice(words=words(Setup, "z_zero"), meaning="Z0 of side A", default='"face"'),
    ] = None
    z_zero_b: Annotated[
        str | None,
        Choice(words=words(Setup, "z_zero"), meaning="Z0 of side B", default='"fixture"'),
    ] = None


class MillSection(Section):
    """The machine."""

    record = Mill

    name: Annotated[str | None, a_text("what the shop calls it")] = None
    pace: Annotated[
        str | None,
        Choice(
            words=PACES,
            meaning="how boldly proposed cutting data cuts: the first blade of a kind, as usual, or as "
            "much as the tables give",
            default='"usual"',
        ),
    ] = None
    cutting_data: Annotated[
        str | None,
        a_text(
            "file of the shop's own cutting data, seen from the order's folder; the kinds of "
            "engagement it holds replace knifecam's",
            "knifecam's own",
        ),
    ] = None
    units: Annotated[
        str | None,
        Choice(words=words(Mill, "units"), meaning="what its programs count in: G21 or G20"),
    ] = None
    travel: Annotated[
        tuple[float, float, float] | None,
        a_row(Measure(within=within(Mill, "travel")), 3, "way of each axis", each=("X", "Y", "Z")),
    ] = None
    travel_from: Annotated[
        tuple[float, float, float] | None,
        a_row(
            Measure(within=within(Mill, "travel_from")),
            3,
            "machine coordinate at which each axis' travel begins, its lowest; a mill that counts Z "
            "downward from 0 at the top has [0, 0, -200] for 200 mm of Z",
            each=("X", "Y", "Z"),
        ),
    ] = None
    machine_zero_a: Annotated[
        tuple[float, float, float] | None,
        a_row(
            Measure(within=within(Mill, "travel_from")),
            3,
            "where side A's program zero lies in machine coordinates",
            "unknown: travel is judged by its extent",
            each=("X", "Y", "Z"),
        ),
    ] = None
    machine_zero_b: Annotated[
        tuple[float, float, float] | None,
        a_row(
            Measure(within=within(Mill, "travel_from")),
            3,
            "where side B's program zero lies in machine coordinates",
            "unknown: travel is judged by its extent",
            each=("X", "Y", "Z"),
        ),
    ] = None
    spindle_low: Annotated[
        float | None,
        Measure(kind=TURNING, within=within(Mill, "spindle_low"), meaning="slowest spindle speed"),
    ] = None
    spindle_high: Annotated[
        float | None,
        Measure(kind=TURNING, within=within(Mill, "spindle_high"), meaning="fastest spindle speed"),
    ] = None
    feed_high: Annotated[
        float | None,
        Measure(kind=FEED_RATE, within=within(Mill, "feed_high"), meaning="fastest feed"),
    ] = None
    rapid: Annotated[
        tuple[float, float, float] | None,
        a_row(
            Measure(kind=FEED_RATE, within=within(Mill, "rapid")),
            3,
            "rapid rate of each axis",
            each=("X", "Y", "Z"),
        ),
    ] = None
    acceleration: Annotated[
        float | None,
        Measure(
            kind=ACCELERATION,
            within=within(Mill, "acceleration"),
            meaning="acceleration of the axes",
        ),
    ] = None
    rapid_height: Annotated[
        float | None,
        a_length(
            "clear height of rapids and stops above the highest of plate, clamps and screws",
            within=within(Mill, "rapid_height"),
        ),
    ] = None
    approach_gap: Annotated[
        float | None,
        a_length(
            "feed begins this far above the surface at the place",
            within=within(Mill, "approach_gap"),
        ),
    ] = None
    spin_up: Annotated[
        float | None,
        Measure(
            kind=SECONDS, within=within(Mill, "spin_up"), meaning="dwell after the spindle starts"
        ),
    ] = None
    change_by_hand: Annotated[
        bool | None, Flag(meaning="whether a cutter change stops the program for a hand")
    ] = None
    change_height: Annotated[
        float | None,
        a_length(
            "height above the plate at which the tip stands while hands change cutters, fit pins or "
            "turn the plate",
            within=within(Mill, "change_height"),
        ),
    ] = None
    change_place_a: Annotated[
        Place | None,
        a_row(
            Measure(within=within(Mill, "change_place")),
            2,
            "where it goes for that on side A, in that side's program",
            "it stays over the place where it is",
            each=("x", "y"),
        ),
    ] = None
    change_place_b: Annotated[
        Place | None,
        a_row(
            Measure(within=within(Mill, "change_place")),
            2,
            "where it goes for that on side B, in that side's program",
            "it stays over the place where it is",
            each=("x", "y"),
        ),
    ] = None
    coolant_code: Annotated[
        str | None, Choice(words=words(Mill, "coolant_code"), meaning="which word turns on the air")
    ] = None


class SetupSection(Section):
    """How the plate is set up on each side."""

    record = Setup

    flip: Annotated[
        str | None, Choice(words=words(Setup, "flip"), meaning="axis the plate is turned about")
    ] = None
    offsets: Annotated[
        tuple[str, str] | None,
        a_row(
            Choice(words=words(Setup, "offsets")),
            2,
            "work offsets of side A and of side B",
            each=("A", "B"),
        ),
    ] = None
    support: Annotated[
        str | None,
        Choice(
            words=words(Setup, "support"),
            meaning="whether side A's grooves are filled before the flip",
        ),
    ] = None
    gap_stop: Annotated[
        bool | None,
        Flag(
            meaning="whether a cutter that goes in first stops over a block, to find a wrong length"
        ),
    ] = None
    gap_height: Annotated[
        float | None, a_length("height of that block", within=within(Setup, "gap_height"))
    ] = None
    gauge: Annotated[
        int | None,
        Count(within=within(Setup, "gauge"), meaning="number of the gauge pin in the cutter table"),
    ] = None
    gauge_diameter: Annotated[
        float | None, a_length("its diameter", within=within(Setup, "gauge_diameter"))
    ] = None
    fixture_allowance: Annotated[
        float | None,
        a_length(
            "how far below the plate a cutter may go",
            "0 mm; with a relieved fixture what `bores.through` wants and 0.3 mm",
            within=within(Setup, "fixture_allowance"),
        ),
    ] = None


class ReferenceBoreSection(Section):
    """A reference bore, in the waste."""

    name: Annotated[str, a_text("what it is called")]
    centre: Annotated[Place, a_row(ANYWHERE, 2, "its place in the part frame", each=("x", "y"))]
    diameter: Annotated[float, a_length("its diameter", within=Within(above=0.0, most=50.0))]
    depth: Annotated[
        float | str | None,
        either_of(
            'a depth from side A\'s face or "through"',
            "how deep it goes from side A's face",
            "with pins 0.3 mm less than the plate, else through",
            SIZE,
            Choice(words=("through",)),
        ),
    ] = None
    fitted: Annotated[
        bool | None,
        Flag(meaning="whether it is finished to fit a pin", default="true with pins, else false"),
    ] = None


class MeasuredSection(Section):
    """Where a reference bore was found after the flip."""

    bore: Annotated[str, a_text("name of the reference bore")]
    x: Annotated[
        float,
        a_length("where it was found, in side B's program frame", within=within(MeasuredBore, "x")),
    ]
    y: Annotated[
        float,
        a_length("where it was found, in side B's program frame", within=within(MeasuredBore, "y")),
    ]


class RegistrationSection(Section):
    """What makes side B meet side A."""

    record = Registration

    kind: Annotated[
        str | None,
        Choice(
            words=words(Registration, "kind"),
            meaning='"pins": reference bores seat on dowels; "edges": the same two edges are '
            'touched again; "bores": reference bores are measured after the flip',
        ),
    ] = None
    bores: tuple[ReferenceBoreSection, ...] = ()
    measured: tuple[MeasuredSection, ...] = ()


class ClampSection(Section):
    """A clamp or other thing on the table: a box cutters and holders must pass, else it is refused."""

    record = Clamp

    side: Annotated[
        str, Choice(words=words(Clamp, "side"), meaning="the side during which it stands there")
    ]
    x: Annotated[
        Place,
        a_row(
            Measure(within=within(Clamp, "x_low")),
            2,
            "from and to along X of that side's program",
            each=("from", "to"),
        ),
    ]
    y: Annotated[
        Place,
        a_row(
            Measure(within=within(Clamp, "y_low")),
            2,
            "from and to along Y of that side's program",
            each=("from", "to"),
        ),
    ]
    height: Annotated[
        float, a_length("height above the plate's upper face", within=within(Clamp, "height"))
    ]
    name: Annotated[str | None, a_text("what stands there")] = None


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
    workholding: WorkholdingSection = WorkholdingSection()
    registration: RegistrationSection = RegistrationSection()
    clamps: tuple[ClampSection, ...] = ()

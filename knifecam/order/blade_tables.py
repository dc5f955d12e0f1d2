"""Tables of the blade: outline, tabs, bores, bevels, plunges and details."""

from __future__ import annotations

import math
from typing import Annotated

from knifecam.blade import Bevel, Blade, EdgeBreak, Jimping, Plunge, Steel
from knifecam.blade.blade_limits import GREATEST_BEVEL_RAD, LEAST_BEVEL_RAD
from knifecam.order.key_values import (
    ANGLE,
    HARDNESS,
    NAME_ENTRY,
    PLACE,
    SIZE,
    Anything,
    Choice,
    Count,
    Either,
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
from knifecam.shop import Bevelling, Boring, Tabs, Trench, Workholding

_STATION = Measure(within=Within(least=0.0, most=10000.0))


POINT_OR_STATION = Either(
    forms=(_STATION, PLACE), rule="a station along the outline or a point [x, y] on it"
)


def _layers(role: str, default: str) -> Either:
    return either_of(
        "a layer's name or a list of names",
        f"layer or layers that hold {role}",
        default,
        Anything(),
        Row(of=Anything(), least=1),
    )


def stretches_entry(meaning: str, default: str = "none") -> Row:
    """Return the entry of a list of stretches of the outline."""
    return Row(
        of=Row(of=POINT_OR_STATION, least=2, most=2, each=("from", "to")),
        meaning=meaning
        + "; two stations run counter-clockwise from the first, two points the shorter way",
        default=default,
    )


class DrawingSection(Section):
    """Which drawing, and which of its layers mean what."""

    file: Annotated[str, Anything(meaning="DXF file, seen from the order file's folder")]
    units: Annotated[
        str | None,
        Choice(
            words=("mm", "cm", "dm", "m", "um", "in", "ft", "yd", "mil"),
            meaning="unit of the drawing; it holds even where the file says another, with a note",
            default="as the drawing says",
        ),
    ] = None
    join: Annotated[
        float | None,
        a_length("ends closer than this are joined", "0.01 mm", within=Within(above=0.0, most=1.0)),
    ] = None
    outline: Annotated[
        str | tuple[str, ...] | None,
        _layers("the outline", "the one loop that contains all others"),
    ] = None
    bores: Annotated[
        str | tuple[str, ...] | None,
        _layers("the bores", "circles inside the outline, on its layers where they are named"),
    ] = None
    slots: Annotated[
        str | tuple[str, ...] | None,
        _layers("the slots", "other loops inside the outline, on its layers where they are named"),
    ] = None
    tabs: Annotated[str | tuple[str, ...] | None, _layers("points where tabs stand", "none")] = None
    no_tabs: Annotated[
        str | tuple[str, ...] | None,
        _layers("curves along the outline that no tab may touch", "none"),
    ] = None


class BladeSection(Section):
    """What is made."""

    thickness: Annotated[
        float | None,
        a_length(
            "thickness wanted; the blade's flats are the plate's faces, less lapping",
            "the plate's measured mean",
            within=within(Blade, "thickness"),
        ),
    ] = None
    lapping: Annotated[
        float | None,
        a_length(
            "greatest difference allowed between the plate's mean and the thickness wanted",
            "0.05 mm",
            within=Within(least=0.0, most=1.0),
        ),
    ] = None
    steel: Annotated[
        str | None, a_text("name of the steel; `[[cutting]]` may refer to it", f"{Steel().name}")
    ] = None
    hardness: Annotated[
        float | None,
        Measure(
            kind=HARDNESS,
            within=within(Steel, "hardness_hrc"),
            meaning="hardness of the plate as it is milled",
            default=f"{Steel().hardness_hrc:g} HRC",
        ),
    ] = None


class BoresSection(Section):
    """How bores and slots are opened."""

    record = Boring

    fitted: Annotated[
        tuple[str | float, ...] | None,
        Row(
            of=either_of("a bore's name or a diameter", "", "", SIZE, NAME_ENTRY),
            meaning="bores that take a pin, by name or by diameter: roughed under size, finished "
            "on their own, tried with a gauge pin",
            default="none",
        ),
    ] = None
    both_sides: Annotated[
        tuple[str | float, ...] | None,
        Row(
            of=either_of("a bore's name or a diameter", "", "", SIZE, NAME_ENTRY),
            meaning="bores met in the middle from both sides instead of bored from side A",
            default="none",
        ),
    ] = None
    opening: Annotated[
        str | None,
        Choice(
            words=words(Boring, "opening"),
            meaning='"skin": side A leaves a skin, side B opens it; "relieved": side A goes '
            "through into a relieved or sacrificial fixture",
            default='"skin"; with reference bores that go through "relieved"',
        ),
    ] = None
    skin: Annotated[
        float | None, a_length("thickness of that skin", within=within(Boring, "skin"))
    ] = None
    oversize: Annotated[
        float | None,
        a_length("how much wider side B opens the skin", within=within(Boring, "oversize")),
    ] = None
    through: Annotated[
        float | None,
        a_length(
            "how far below the plate a relieved fixture is entered",
            "the bore cutter's corner radius + 0.2 mm",
            within=within(Boring, "through"),
        ),
    ] = None
    undersize: Annotated[
        float | None,
        a_length(
            "what roughing leaves of a fitted bore's diameter", within=within(Boring, "undersize")
        ),
    ] = None
    spring_passes: Annotated[
        int | None,
        Count(
            within=within(Boring, "spring_passes"),
            meaning="circles repeated at a fitted bore's size",
        ),
    ] = None


class OutlineSection(Section):
    """The trench round the outline, and stretches of the outline with wishes of their own."""

    record = Trench

    depth_a: Annotated[
        float | None,
        a_length(
            "depth below side A's face at which the two sides meet",
            "0.6 mm up to a thickness of 4 mm, else the middle; deeper for wide edge breaks",
            within=within(Trench, "depth_a"),
        ),
    ] = None
    overlap: Annotated[
        float | None,
        a_length(
            "how far the sides pass that plane, both together",
            "both corner radii and 0.1 mm, at least 0.2 mm",
            within=within(Trench, "overlap"),
        ),
    ] = None
    width: Annotated[
        float | None,
        a_length(
            "width of the trench as roughed",
            "1.3 diameters, at least the finishing diameter, its allowance and 0.3 mm",
            within=within(Trench, "width"),
        ),
    ] = None
    web: Annotated[
        float | None,
        a_length(
            "left under side B's roughing, sheared by finishing", within=within(Trench, "web")
        ),
    ] = None
    clearance: Annotated[
        float | None,
        a_length(
            "keeps the finishing cutter's end off the roughed floor",
            within=within(Trench, "clearance"),
        ),
    ] = None
    border: Annotated[
        float | None,
        a_length(
            "least width of plate left outside the trench",
            "2.5 thicknesses, at least 8 mm",
            within=within(Trench, "border"),
        ),
    ] = None
    as_milled: Annotated[
        tuple[tuple[float | Place, float | Place], ...] | None,
        stretches_entry("stretches that stay as milled: no tab, no stub to grind"),
    ] = None
    no_tabs: Annotated[
        tuple[tuple[float | Place, float | Place], ...] | None,
        stretches_entry("further stretches without tabs"),
    ] = None


class TabsSection(Section):
    """The tabs that hold the blade in the plate."""

    record = Tabs

    count: Annotated[
        int | None,
        Count(
            within=within(Tabs, "count"),
            meaning="how many tabs; the planner places them",
            default="3 below 120 mm of length, 6 above 260 mm, else 4; more above "
            "450 mm; held by screws: 1 near the tip where there is one screw only or the overhang is "
            "more than 10 thicknesses, else 0",
        ),
    ] = None
    stations: Annotated[
        tuple[float | Place, ...] | None,
        Row(
            of=POINT_OR_STATION,
            meaning="middles of the tabs, by station along the outline or by points on it, "
            "instead of `count`",
            default="the points of the drawing's layer `tabs`, else the planner's",
        ),
    ] = None
    waist: Annotated[
        float | None,
        a_length(
            "narrowest width of a tab",
            "1.2, 1.5, 1.5, 1.8, 2.0 mm for thicknesses 2 to 6 mm",
            within=within(Tabs, "waist"),
        ),
    ] = None
    thickness: Annotated[
        float | None,
        a_length(
            "thickness of a tab",
            "0.30, 0.40, 0.50, 0.55, 0.60 mm for thicknesses 2 to 6 mm; up to half more where "
            "three corner radii of the cutters ask for it",
            within=within(Tabs, "thickness"),
        ),
    ] = None
    ramp_up: Annotated[
        float | None,
        Measure(
            kind=ANGLE,
            within=within(Tabs, "ramp_up"),
            meaning="angle at which the cutter lifts off to a tab",
        ),
    ] = None
    ramp_down: Annotated[
        float | None,
        Measure(
            kind=ANGLE,
            within=within(Tabs, "ramp_down"),
            meaning="angle at which it falls back",
        ),
    ] = None
    neck: Annotated[
        float | None,
        a_length(
            "thickness that a small cutter leaves of a tab along the wall, so that it snaps there",
            "0 mm: no neck",
            within=within(Tabs, "neck"),
        ),
    ] = None


class WorkholdingSection(Section):
    """What holds the blade at the end."""

    record = Workholding

    kind: Annotated[
        str | None,
        Choice(
            words=words(Workholding, "kind"),
            meaning='tabs, or screws through the blade\'s own "bores"',
        ),
    ] = None
    screws: Annotated[
        tuple[str, ...] | None,
        Row(of=NAME_ENTRY, meaning="names of the bores that take the screws", default="none"),
    ] = None
    head_diameter: Annotated[
        float | None,
        a_length("diameter of the screws' heads", within=within(Workholding, "head_diameter")),
    ] = None
    head_height: Annotated[
        float | None,
        a_length("height of the screws' heads", within=within(Workholding, "head_height")),
    ] = None
    tip_clamp: Annotated[
        bool | None, Flag(meaning="whether a clamp of the maker's own holds the far end")
    ] = None


class BevelSection(Section):
    """A face ground from the blade's flat down to an edge; any number of them."""

    name: Annotated[str | None, a_text("its name", "bevel-1, bevel-2, ...")] = None
    edge: Annotated[
        str | tuple[float | Place, float | Place],
        either_of(
            "a layer's name, or a list of two stations or two points",
            "the edge: a layer whose curves lie along it, two stations of the outline, "
            "counter-clockwise from the first, or two points, the shorter way",
            "",
            Anything(),
            Row(of=POINT_OR_STATION, least=2, most=2, each=("from", "to")),
        ),
    ]
    sides: Annotated[
        str | None,
        Choice(
            words=("both", "A", "B"),
            meaning="which sides are ground",
            default='"both"; one alone where edge_at is the other\'s face',
        ),
    ] = None
    profile: Annotated[
        str,
        Choice(
            words=("flat", "hollow", "convex"),
            meaning="flat; hollow, an arc of the wheel's radius; convex, an arc that rises by sag",
            default='"flat"',
        ),
    ] = "flat"
    angle: Annotated[
        float | None,
        Measure(
            kind=ANGLE,
            within=Within(unit="rad", least=LEAST_BEVEL_RAD, most=GREATEST_BEVEL_RAD),
            meaning="a side, of the line from edge to grind line against the blade's middle; or give "
            "`height`",
            default="by height",
        ),
    ] = None
    height: Annotated[
        float | None,
        a_length(
            "from the edge to the grind line, instead of `angle`", "by angle", within=SIZE.within
        ),
    ] = None
    land: Annotated[
        float | None,
        a_length(
            "whole thickness left at the edge before sharpening",
            "0.25 mm up to 2.6 mm of plate, 0.4 mm up to 4.5 mm, else 0.6 mm",
            within=within(Bevel, "land"),
        ),
    ] = None
    wheel: Annotated[
        float | None,
        a_length("radius of a hollow profile's wheel", "not hollow", within=SIZE.within),
    ] = None
    sag: Annotated[
        float | None,
        a_length(
            "how far a convex profile rises above its chord",
            "not convex",
            within=Within(above=0.0, most=5.0),
        ),
    ] = None
    edge_at: Annotated[
        str | float | None,
        either_of(
            '"middle", "a", "b" or a height',
            "where the land lies: in the middle, flush with side A's or side B's face, or so many mm "
            "above the middle toward side A",
            '"middle"; of one side ground, its other side\'s face',
            Choice(words=("middle", "a", "b")),
            Measure(within=within(Bevel, "edge_at")),
        ),
    ] = None
    plunge: Annotated[
        str | tuple[Place, ...] | None,
        either_of(
            "a layer's name or a list of points [x, y]",
            "line across the bevel where it ends: a layer with one curve for each plunge, or the "
            "points of one line",
            "none: the bevel runs out of the blade",
            Anything(),
            Row(of=PLACE, least=2),
        ),
    ] = None
    plunge_radius: Annotated[
        float | None, a_length("of the plunge", "5 mm", within=within(Plunge, "radius"))
    ] = None


class BevellingSection(Section):
    """How bevels are ground on the mill."""

    record = Bevelling

    cusp: Annotated[
        float | None,
        a_length(
            "height of the cusps on finished bevels and plunges; the steps follow from it",
            within=within(Bevelling, "cusp"),
        ),
    ] = None
    below: Annotated[
        float | None,
        a_length(
            "how far under the lowest tip the waste beside the edge is cleared",
            within=within(Bevelling, "below"),
        ),
    ] = None
    measure_stop: Annotated[
        bool | None,
        Flag(
            meaning="stop on side B before the bevels are finished, to measure what is left and "
            "correct Z",
            default="false",
        ),
    ] = None


_LAYER_OR_PLACES = (Anything(), Row(of=PLACE, least=2))


def _turned(meaning: str, default: str) -> Measure:
    return Measure(
        kind=ANGLE,
        within=Within(unit="rad", least=-math.tau, most=math.tau),
        meaning=meaning,
        default=default,
    )


class SlotSection(Section):
    """A slot by figures: straight, with round ends; a lanyard's slot, for one."""

    name: Annotated[
        str | None, a_text("its name", "S and the next number after the drawn slots")
    ] = None
    centre: Annotated[Place, a_row(PLACE.of, 2, "its middle, in the part frame", each=("x", "y"))]
    length: Annotated[float, a_length("from end to end", within=Within(above=0.0, most=500.0))]
    width: Annotated[float, a_length("across", within=Within(above=0.0, most=100.0))]
    angle: Annotated[float, _turned("of its length, counter-clockwise from X", "0 deg")] = 0.0


class PatternSection(Section):
    """One cell repeated along a curve, or over a region in rows; a lightened tang, for one.

    A cell that would not leave the margin or the web is left out, and the result lists how many and
    why. Cells are named after the pattern, `P1-01` and so on; a round cell is a bore, another a slot.
    """

    name: Annotated[str | None, a_text("its name", "P1, P2, ...")] = None
    cell: Annotated[
        str | None,
        Anything(
            meaning="layer that holds one closed curve, repeated as drawn about its middle; or give "
            "figures",
            default="by figures",
        ),
    ] = None
    diameter: Annotated[
        float | None, a_length("of a round cell", "not round", within=Within(above=0.0, most=200.0))
    ] = None
    length: Annotated[
        float | None, a_length("of a slot as cell", "no slot", within=Within(above=0.0, most=500.0))
    ] = None
    width: Annotated[
        float | None, a_length("of a slot as cell", "no slot", within=Within(above=0.0, most=100.0))
    ] = None
    region: Annotated[
        str | tuple[Place, ...] | None,
        either_of(
            "a layer's name or a list of points [x, y]",
            "layer with the closed curve, or the corners of the polygon, that is filled with rows",
            "none; then `along`",
            Anything(),
            Row(of=PLACE, least=3),
        ),
    ] = None
    along: Annotated[
        str | tuple[Place, ...] | None,
        either_of(
            "a layer's name or a list of points [x, y]",
            "layer with the curve, or the points of the line, that the cells follow and turn with",
            "none; then `region`",
            *_LAYER_OR_PLACES,
        ),
    ] = None
    pitch: Annotated[
        float,
        a_length(
            "from cell to cell, along a row or the curve", within=Within(above=0.0, most=500.0)
        ),
    ]
    row_pitch: Annotated[
        float | None,
        a_length(
            "from row to row",
            "the pitch; 0.866 of it where staggered, so that all neighbours are as far away",
            within=Within(above=0.0, most=500.0),
        ),
    ] = None
    rows: Annotated[
        int | None,
        Count(within=Within(least=1, most=100), meaning="rows beside a curve", default="1"),
    ] = None
    staggered: Annotated[
        bool,
        Flag(meaning="whether every other row is shifted by half a pitch", default="false"),
    ] = False
    angle: Annotated[
        float,
        _turned(
            "of rows and cells together, counter-clockwise from X; of cells against a curve",
            "0 deg",
        ),
    ] = 0.0
    margin: Annotated[
        float | None,
        a_length(
            "least metal from a cell to the outline", "2.5 mm", within=Within(above=0.0, most=100.0)
        ),
    ] = None
    web: Annotated[
        float | None,
        a_length(
            "least metal from a cell to another or to any opening",
            "1.5 mm, or 0.6 thicknesses where that is more",
            within=Within(above=0.0, most=100.0),
        ),
    ] = None


class JimpingSection(Section):
    """A row of round notches across a stretch of the outline, bored while it is solid."""

    name: Annotated[str | None, a_text("its name", "J1, J2, ...")] = None
    stretch: Annotated[
        tuple[float | Place, float | Place],
        Row(
            of=POINT_OR_STATION,
            least=2,
            most=2,
            each=("from", "to"),
            meaning="where it stands; two stations run counter-clockwise from the first, two points "
            "the shorter way",
        ),
    ]
    diameter: Annotated[
        float, a_length("of a notch", "2.5 mm", within=within(Jimping, "diameter"))
    ] = 2.5
    depth: Annotated[
        float,
        a_length("how far a notch goes into the blade", "0.45 mm", within=within(Jimping, "depth")),
    ] = 0.45
    pitch: Annotated[
        float,
        a_length(
            "from notch to notch; fitted so that the first and the last end where the stretch ends "
            "and 0.4 mm of land stays",
            "2.8 mm",
            within=within(Jimping, "pitch"),
        ),
    ] = 2.8


class EdgeBreakSection(Section):
    """A narrow face between a face of the blade and a wall, by a chamfer mill."""

    name: Annotated[str | None, a_text("its name", "E1, E2, ...")] = None
    of: Annotated[
        str | tuple[str, ...],
        either_of(
            "a name or a list of names",
            '"outline", "bores", "slots", or names of bores, slots and patterns',
            '"outline"',
            NAME_ENTRY,
            Row(of=NAME_ENTRY, least=1),
        ),
    ] = "outline"
    side: Annotated[
        str, Choice(words=("A", "B", "both"), meaning="which face", default='"both"')
    ] = "both"
    width: Annotated[
        float, a_length("across the face", "0.3 mm", within=within(EdgeBreak, "width"))
    ] = 0.3
    angle: Annotated[
        float,
        Measure(
            kind=ANGLE,
            within=Within(unit="rad", above=math.radians(5.0), most=math.radians(85.0)),
            meaning="of the broken face against the blade's face; the mill's half_angle is 90 deg "
            "less that",
            default="45 deg",
        ),
    ] = 0.7853981633974483
    stretches: Annotated[
        tuple[tuple[float | Place, float | Place], ...] | None,
        stretches_entry("where the outline is broken", "all of the outline but bevels and jimping"),
    ] = None

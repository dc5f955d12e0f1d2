"""Details of the blade: the tables [[slots]], [[patterns]], [[jimping]] and [[edge_breaks]]."""

from __future__ import annotations

import math
from typing import Annotated

from knifecam.blade import EdgeBreak, Jimping
from knifecam.order.entry import Anything, Choice, Count, Flag, Measure, Row
from knifecam.order.model_part import POINT_OR_STATION, stretches_entry
from knifecam.order.quantity import ANGLE
from knifecam.order.section import NAME, PLACE, Place, Section, a_length, a_row, a_text, either_of
from knifecam.record import Within, within

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
            NAME,
            Row(of=NAME, least=1),
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

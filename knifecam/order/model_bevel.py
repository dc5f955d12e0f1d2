"""Bevels: the tables [[bevels]] and [bevelling]."""

from __future__ import annotations

from typing import Annotated

from knifecam.blade import Bevel, Plunge
from knifecam.blade.cutter_limits import GREATEST_ANGLE, LEAST_ANGLE
from knifecam.order.entry import Anything, Choice, Flag, Measure, Row
from knifecam.order.model_part import POINT_OR_STATION
from knifecam.order.quantity import ANGLE
from knifecam.order.section import PLACE, SIZE, Place, Section, a_length, a_text, either_of
from knifecam.record import Within, within
from knifecam.shop import Bevelling


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
            within=Within(unit="rad", least=LEAST_ANGLE, most=GREATEST_ANGLE),
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

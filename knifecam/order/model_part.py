"""What is made and cut: the tables [drawing], [blade], [bores], [outline], [tabs] and [hold]."""

from __future__ import annotations

from typing import Annotated

from knifecam.blade import Blade, Steel
from knifecam.order.entry import Anything, Choice, Count, Either, Flag, Measure, Row
from knifecam.order.quantity import ANGLE, HARDNESS
from knifecam.order.section import NAME, PLACE, SIZE, Place, Section, a_length, a_text, either_of
from knifecam.record import Within, within, words
from knifecam.shop import Boring, Hold, Tabs, Trench

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
    keep_off: Annotated[
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
            of=either_of("a bore's name or a diameter", "", "", SIZE, NAME),
            meaning="bores that take a pin, by name or by diameter: roughed under size, finished "
            "on their own, tried with a gauge pin",
            default="none",
        ),
    ] = None
    both_sides: Annotated[
        tuple[str | float, ...] | None,
        Row(
            of=either_of("a bore's name or a diameter", "", "", SIZE, NAME),
            meaning="bores met in the middle from both sides instead of bored from side A",
            default="none",
        ),
    ] = None
    bed: Annotated[
        str | None,
        Choice(
            words=words(Boring, "bed"),
            meaning='"skin": side A leaves a skin, side B opens it; "relieved": side A goes '
            "through into a relieved or sacrificial bed",
            default='"skin"; with reference bores that go through "relieved"',
        ),
    ] = None
    skin: Annotated[
        float | None, a_length("thickness of that skin", within=within(Boring, "skin"))
    ] = None
    relief: Annotated[
        float | None,
        a_length("how much wider side B opens the skin", within=within(Boring, "relief")),
    ] = None
    through: Annotated[
        float | None,
        a_length(
            "how far below the plate a relieved bed is entered",
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
    spring_circles: Annotated[
        int | None,
        Count(
            within=within(Boring, "spring_circles"),
            meaning="circles repeated at a fitted bore's size",
        ),
    ] = None


class OutlineSection(Section):
    """The trench round the outline, and stretches of the outline with wishes of their own."""

    record = Trench

    meet: Annotated[
        float | None,
        a_length(
            "depth below side A's face at which the two sides meet",
            "0.6 mm up to a thickness of 4 mm, else the middle; deeper for wide edge breaks",
            within=within(Trench, "meet"),
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
    frame: Annotated[
        float | None,
        a_length(
            "least width of plate left outside the trench",
            "2.5 thicknesses, at least 8 mm",
            within=within(Trench, "frame"),
        ),
    ] = None
    as_milled: Annotated[
        tuple[tuple[float | Place, float | Place], ...] | None,
        stretches_entry("stretches that stay as milled: no tab, no stub to grind"),
    ] = None
    keep_off: Annotated[
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
    rise: Annotated[
        float | None,
        Measure(
            kind=ANGLE,
            within=within(Tabs, "rise"),
            meaning="angle at which the cutter lifts off to a tab",
        ),
    ] = None
    descent: Annotated[
        float | None,
        Measure(
            kind=ANGLE,
            within=within(Tabs, "descent"),
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


class HoldSection(Section):
    """What holds the blade at the end."""

    record = Hold

    kind: Annotated[
        str | None,
        Choice(
            words=words(Hold, "kind"), meaning='tabs, or screws through the blade\'s own "bores"'
        ),
    ] = None
    screws: Annotated[
        tuple[str, ...] | None,
        Row(of=NAME, meaning="names of the bores that take the screws", default="none"),
    ] = None
    head_diameter: Annotated[
        float | None,
        a_length("diameter of the screws' heads", within=within(Hold, "head_diameter")),
    ] = None
    head_height: Annotated[
        float | None, a_length("height of the screws' heads", within=within(Hold, "head_height"))
    ] = None
    tip_clamp: Annotated[
        bool | None, Flag(meaning="whether a clamp of the maker's own holds the far end")
    ] = None

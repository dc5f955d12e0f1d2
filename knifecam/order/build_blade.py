"""From an order's tables to the blade: steel, bores, thickness, bevels and plunges."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from knifecam.blade import (
    CONVEX,
    FLAT,
    HOLLOW,
    Bevel,
    Blade,
    Bore,
    Plunge,
    Slot,
    Steel,
    grind_height,
)
from knifecam.blade.bevel import bevel_path
from knifecam.blade.finished_surface import edge_curve
from knifecam.curve import Curve, Stretch, distance, place_at, polyline, resample
from knifecam.curve.distance import signed_line_distance
from knifecam.curve.stations import part_of
from knifecam.errors import DrawingError
from knifecam.order.blade_tables import BevellingSection, BevelSection, BladeSection, BoresSection
from knifecam.order.build_outline import stretch_of
from knifecam.order.drawing_source import DrawnParts
from knifecam.order.fill_defaults import note_assumed, refuse_idle, with_defaults
from knifecam.order.key_values import ANGLE, show
from knifecam.order.order_limits import (
    AT_VERTEX_MM,
    EDGE_CURVES_MEET_MM,
    EDGE_SPACING_MM,
    LANDS_MM,
    LAPPING_MM,
    ON_OUTLINE_MM,
    PLUNGE_RADIUS_MM,
    POINT_LENGTH_MM,
    POINT_TURN_RAD,
    SAME_DIAMETER_MM,
)
from knifecam.order.toml_text import OrderNotes
from knifecam.quantity import Place, mm, stated
from knifecam.record import as_written
from knifecam.rules.bevel_rules import VALUE_CHECKS
from knifecam.shop import Bevelling, Plate
from knifecam.shop.assumptions import AS_USUAL, MEASURE, PRACTICE, Assumption, Why


def blade_of(
    section: BladeSection,
    bores: BoresSection | None,
    parts: DrawnParts,
    plate: Plate,
    notes: OrderNotes,
) -> Blade:
    """Return the blade as thick as the plate was measured."""
    _check_thickness(section, plate, notes)
    return Blade(
        outline=parts.outline.counter_clockwise(),
        thickness=plate.thickness,
        steel=_steel(section, notes),
        bores=_bores(bores or BoresSection(), parts, notes),
        slots=tuple(
            Slot(name=f"S{place}", outline=curve.counter_clockwise())
            for place, curve in enumerate(parts.slots, start=1)
        ),
    )


def _check_thickness(section: BladeSection, plate: Plate, notes: OrderNotes) -> None:
    wanted = section.thickness
    if wanted is None:
        refuse_idle(section, "blade", {"lapping": "without blade.thickness"}, notes)
        note_assumed(
            section, "thickness", plate.thickness, "the plate's measured mean", "blade", notes
        )
        return
    lapping = section.lapping
    if lapping is None:
        lapping = LAPPING_MM
        note_assumed(section, "lapping", lapping, PRACTICE, "blade", notes)
    off = plate.thickness - wanted
    if not abs(off) <= lapping + 1e-9:
        more = "thicker" if off > 0 else "thinner"
        notes.troubles.append(
            f"blade.thickness={mm(wanted):g} must be within {mm(lapping):g} of the plate's measured"
            f" mean, {mm(plate.thickness):g}: the blade's flats are the plate's faces and no facing"
            f" cut is made; the plate is {mm(abs(off)):.3f} {more}, so grind or change the plate, or"
            " state another thickness or blade.lapping"
        )


def _steel(section: BladeSection, notes: OrderNotes) -> Steel:
    usual = Steel()
    if section.steel is None:
        note_assumed(section, "steel", usual.name, AS_USUAL, "blade", notes)
    if section.hardness is None:
        hardness, why = usual.hardness_hrc, Why("usual; measure yours", MEASURE)
        note_assumed(section, "hardness", hardness, why, "blade", notes)
    return Steel(
        name=section.steel or usual.name,
        hardness_hrc=usual.hardness_hrc if section.hardness is None else section.hardness,
    )


def _bores(section: BoresSection, parts: DrawnParts, notes: OrderNotes) -> tuple[Bore, ...]:
    fitted = _meant(section.fitted or (), "fitted", parts, notes)
    both = _meant(section.both_sides or (), "both_sides", parts, notes)
    return tuple(
        Bore(
            name=bore.name,
            centre=(float(bore.centre[0]), float(bore.centre[1])),
            diameter=float(bore.diameter),
            fitted=bore.name in fitted,
            both_sides=bore.name in both,
        )
        for bore in parts.bores
    )


def _meant(
    asked: Sequence[str | float], key: str, parts: DrawnParts, notes: OrderNotes
) -> set[str]:
    """Return the names of the bores that are meant by name or by diameter."""
    found: set[str] = set()
    for place, one in enumerate(asked, start=1):
        if isinstance(one, str):
            meant = {b.name for b in parts.bores if b.name == one}
        else:
            meant = {b.name for b in parts.bores if abs(b.diameter - one) <= SAME_DIAMETER_MM}
        if not meant:
            notes.troubles.append(
                f"bores.{key}[{place}]={as_written(one) if isinstance(one, str) else mm(one)} is no"
                f" bore of the drawing; there are {_listed(parts)}"
            )
        found |= meant
    return found


def _listed(parts: DrawnParts) -> str:
    return ", ".join(f'"{b.name}" of {mm(b.diameter):.3f}' for b in parts.bores) or "none"


def with_bevels(
    blade: Blade, sections: Sequence[BevelSection], parts: DrawnParts, notes: OrderNotes
) -> Blade:
    """Return the blade with its bevels."""
    made = [
        _bevel(
            blade,
            one.model_copy(update={"name": one.name or f"bevel-{k}"}),
            f"bevels[{k}]",
            parts,
            notes,
        )
        for k, one in enumerate(sections, start=1)
    ]
    names = [one.name for one in made if one is not None]
    for name in sorted({n for n in names if names.count(n) > 1}):
        notes.troubles.append(f'bevels: the name "{name}" stands twice; give each its own')
    return replace(blade, bevels=tuple(one for one in made if one is not None))


def _bevel(
    blade: Blade, section: BevelSection, path: str, parts: DrawnParts, notes: OrderNotes
) -> Bevel | None:
    """Return the bevel of a section that has its name, or None."""
    known = len(notes.troubles)
    edge = _edge(section, path, blade.outline, parts, notes)
    edge = None if edge is None else snapped(edge, blade.outline)
    notes.troubles += [] if edge is None else _round_a_point(edge, path, blade.outline)
    land = _land(section, path, blade, notes)
    if not land < blade.thickness:
        notes.troubles.append(
            f"{stated(f'{path}.land', mm(land)):g} must be less than the plate's thickness,"
            f" {mm(blade.thickness):g}, or"
            " nothing is ground; order a thinner land"
        )
        return None
    edge_at, sides = _placed(section, path, blade, land, notes)
    angle = _angle(section, path, blade, land, edge_at, sides, notes)
    _profiled(section, path, notes)
    if edge is None or angle is None or len(notes.troubles) > known:
        return None
    bevel = Bevel(
        name=str(section.name), edge=edge, sides=sides, profile=section.profile, angle=angle, land=land,
        wheel=section.wheel or 0.0, sag=section.sag or 0.0, edge_at=edge_at,
    )  # fmt: skip
    wrong = [line for rule in VALUE_CHECKS for line in rule(bevel, blade)]
    if wrong:
        notes.troubles += [f"{path}: {line}" for line in wrong]
        return None
    bevel = replace(bevel, plunges=_plunges(section, path, bevel, blade, parts, notes))
    for side in filter(bevel.on, "AB"):
        high = grind_height(bevel, blade.thickness, side)
        ground = (
            f"side {side} has {show(angle, ANGLE)} and its grind line {mm(high):.3f} from the edge,"
            f" by a land of {mm(land):g} and a plate of {mm(blade.thickness):g}"
        )
        notes.assumed.append(Assumption(table=path, value=ground))
    return bevel


def snapped(stretch: Stretch, outline: Curve) -> Stretch:
    """Return the stretch with ends within `AT_VERTEX_MM` of a vertex put there.

    A hair of the next piece would turn the tangent by which the edge is prolonged.
    """

    def at(station: float) -> float:
        off = np.abs(outline.stations - station % outline.length)
        k = int(np.argmin(off))
        return float(outline.stations[k]) if off[k] <= AT_VERTEX_MM else station

    return Stretch(start=at(stretch.start), end=at(stretch.end))


def _round_a_point(edge: Stretch, path: str, outline: Curve) -> list[str]:
    """Return a line where the edge turns so far so soon that it has a point between two bevels."""
    stations, places, headings = resample(part_of(outline, edge), EDGE_SPACING_MM)
    turned = np.unwrap(headings)
    ahead = np.searchsorted(stations, stations + POINT_LENGTH_MM, side="right") - 1
    turn = np.abs(turned[ahead] - turned)
    worst = int(np.argmax(turn))
    if turn[worst] <= POINT_TURN_RAD:
        return []
    steps = np.abs(np.diff(turned[worst : ahead[worst] + 1]))
    x, y = places[worst + 1 + int(np.argmax(steps))]
    return [
        f"{path}.edge runs round the point at {Place(x, y):.2f}, where it turns by"
        f" {math.degrees(turn[worst]):.0f} degrees: each side of a point is a bevel of its own, so give"
        " each a [[bevels]] with its own edge, on a layer of its own or from one end to the other"
    ]


def _edge(
    section: BevelSection, path: str, outline: Curve, parts: DrawnParts, notes: OrderNotes
) -> Stretch | None:
    if not isinstance(section.edge, str):
        return stretch_of(section.edge, f"{path}.edge", outline, notes)
    curves = curves_of(section.edge, f"{path}.edge", parts, notes)
    far = _far_off(curves, f"{path}.edge={as_written(section.edge)}", outline)
    notes.troubles += far
    if far or not curves:
        return None
    from knifecam.drawing import no_tab_stretches

    try:
        found = no_tab_stretches(outline, curves, np.zeros((0, 2, 2)))
    except DrawingError as error:
        notes.troubles += [f"{path}.edge: {line}" for line in error.said]
        return None
    return _one_stretch(found, f"{path}.edge={as_written(section.edge)}", outline.length, notes)


def _far_off(curves: Sequence[Curve], path: str, outline: Curve) -> list[str]:
    """Return a line where the curves lie further from the outline than points given may."""
    if not curves:
        return []
    points = np.concatenate([resample(curve, EDGE_SPACING_MM)[1] for curve in curves])
    away = distance(points, outline)
    worst = int(np.argmax(away))
    if away[worst] <= ON_OUTLINE_MM:
        return []
    x, y = points[worst]
    return [
        f"{path}: the edge must lie on the outline within {mm(ON_OUTLINE_MM):g}; at {Place(x, y):.2f} it"
        f" is {mm(away[worst]):.2f} from it: draw it along the outline"
    ]


def _one_stretch(
    found: Sequence[Stretch], path: str, whole: float, notes: OrderNotes
) -> Stretch | None:
    """Return the stretches made one, where each begins where another ends."""
    rest = list(found)
    start, end = rest[0].start, rest[0].end
    rest.pop(0)
    moved = True
    while moved and rest:
        moved = False
        for one in list(rest):
            if _apart(one.start, end, whole) <= EDGE_CURVES_MEET_MM:
                end, moved = one.end, True
            elif _apart(one.end, start, whole) <= EDGE_CURVES_MEET_MM:
                start, moved = one.start, True
            else:
                continue
            rest.remove(one)
    if rest:
        notes.troubles.append(
            f"{path}: its curves do not join to one edge; give each edge a layer of its own"
        )
        return None
    return Stretch(start=start, end=end)


def _apart(first: float, second: float, whole: float) -> float:
    gap = abs(first - second) % whole
    return min(gap, whole - gap)


def curves_of(layer: str, path: str, parts: DrawnParts, notes: OrderNotes) -> tuple[Curve, ...]:
    """Return the curves of a layer of shapes; what is missing goes to ``notes``."""
    found: tuple[Curve, ...] = dict(getattr(parts, "shapes", ())).get(layer.casefold(), ())
    if not found:
        notes.troubles.append(
            f"{path}={as_written(layer)}: the drawing has no curve on that layer but what is outline or"
            " opening all round; draw it on a layer of its own"
        )
    return found


def _assume(
    section: BevelSection, key: str, value: object, why: str | Why, path: str, notes: OrderNotes
) -> None:
    """Note what a bevel's table does not state; messages call the table by the bevel's name."""
    note_assumed(section, key, value, why, path, notes, owner=bevel_path(str(section.name)))


def _land(section: BevelSection, path: str, blade: Blade, notes: OrderNotes) -> float:
    if section.land is not None:
        return section.land
    land = next(land for most, land in LANDS_MM if blade.thickness <= most)
    why = f"by blade thickness {mm(blade.thickness):g}; common practice"
    _assume(section, "land", land, why, path, notes)
    return land


def _placed(
    section: BevelSection, path: str, blade: Blade, land: float, notes: OrderNotes
) -> tuple[float, str]:
    """Return the land's height above the middle, and the sides that are ground."""
    flush = (blade.thickness - land) / 2
    at = section.edge_at
    heights = {None: 0.0, "middle": 0.0, "a": flush, "b": -flush}
    height = float(at) if isinstance(at, (int, float)) else heights[at]
    sides = section.sides
    if sides is None:
        sides = {"a": "B", "b": "A"}.get(str(at), "both")
        _assume(section, "sides", sides, "by where the land lies", path, notes)
    if at is None:
        word = {"both": "middle", "A": "b", "B": "a"}[sides]
        height = heights[word]
        _assume(section, "edge_at", word, "by the sides that are ground", path, notes)
    return height, sides


def _angle(
    section: BevelSection,
    path: str,
    blade: Blade,
    land: float,
    edge_at: float,
    sides: str,
    notes: OrderNotes,
) -> float | None:
    if section.angle is None and section.height is None:
        notes.troubles.append(f"{path}: angle or height is missing; give one of them")
        return None
    if section.angle is not None and section.height is not None:
        notes.troubles.append(f"{path}: give either angle or height, and not both")
        return None
    if section.angle is not None:
        return section.angle
    assert section.height is not None
    rise = (blade.thickness - land) / 2 - (edge_at if sides != "B" else -edge_at)
    if not rise > 0:
        notes.troubles.append(
            f"{path}: the land of {mm(land):g} leaves nothing to grind of {mm(blade.thickness):g} of"
            " plate; order a thinner land or another edge_at"
        )
        return None
    return math.atan(rise / section.height)


def _profiled(section: BevelSection, path: str, notes: OrderNotes) -> None:
    """Refuse figures that belong to another profile, and profiles without theirs."""
    for key, profile in (("wheel", HOLLOW), ("sag", CONVEX)):
        given = getattr(section, key) is not None
        if given and section.profile != profile:
            notes.troubles.append(
                f'{path}.{key} belongs to profile="{profile}"; this one is "{section.profile}"'
            )
        elif not given and section.profile == profile and profile != FLAT:
            notes.troubles.append(f"{path}.{key} is missing; a {profile} profile must state it")


def _plunges(
    section: BevelSection,
    path: str,
    bevel: Bevel,
    blade: Blade,
    parts: DrawnParts,
    notes: OrderNotes,
) -> tuple[Plunge, ...]:
    if section.plunge is None:
        refuse_idle(section, path, {"plunge_radius": "without a plunge"}, notes)
        return ()
    if isinstance(section.plunge, str):
        lines = curves_of(section.plunge, f"{path}.plunge", parts, notes)
    else:
        lines = (polyline(section.plunge, closed=False),)
    radius = section.plunge_radius
    if radius is None:
        radius = PLUNGE_RADIUS_MM
        _assume(section, "plunge_radius", radius, PRACTICE, path, notes)
    edge = edge_curve(bevel, blade.outline)
    middle, _ = place_at(edge, edge.length / 2)
    found = []
    for line in lines:
        if line.closed:
            notes.troubles.append(f"{path}.plunge: a closed curve; draw a line across the bevel")
            continue
        past = float(signed_line_distance(middle, line)[0]) > 0
        found.append(Plunge(line=line.reversed() if past else line, radius=radius))
    return tuple(found)


def bevelling_of(section: BevellingSection, blade: Blade, notes: OrderNotes) -> Bevelling:
    """Return how bevels are ground; nothing is said of it where there are none."""
    idle = {"measure_stop": "where side B grinds no bevel"}
    if any(bevel.on("B") for bevel in blade.bevels):
        idle = {}
    elif not blade.bevels:
        idle = dict.fromkeys(type(section).model_fields, "without [[bevels]]")
    return Bevelling(**with_defaults(section, "bevelling", notes, usual=PRACTICE, idle=idle))

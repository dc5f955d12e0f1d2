"""What is cut round the blade: trench, tabs, how bores are opened, workholding."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from knifecam.blade import Blade
from knifecam.curve import Curve, Stretch, distance, station_of
from knifecam.order.blade_tables import (
    BoresSection,
    OutlineSection,
    TabsSection,
    WorkholdingSection,
)
from knifecam.order.drawing_source import DrawingSource, DrawnParts
from knifecam.order.fill_defaults import Proposal, refuse_idle, with_defaults
from knifecam.order.key_values import Place
from knifecam.order.order_limits import BESIDE_OUTLINE_MM, ON_OUTLINE_MM
from knifecam.order.toml_text import OrderNotes
from knifecam.quantity import NAME, bare, mm, most_mm
from knifecam.shop import Boring, Cutter, Cutting, Registration, Tabs, Trench, Workholding
from knifecam.shop.assumptions import PRACTICE
from knifecam.shop.defaults import LEAST_BELOW, TIP_GAP, propose_tabs, propose_trench, tab_thickness
from knifecam.shop.order_record import BORE, FINISH, FIT, NECK, ROUGH
from knifecam.shop.tab_neck import neck_sizes


def boring_of(
    section: BoresSection,
    blade: Blade,
    cutting: Sequence[Cutting],
    cutters: Sequence[Cutter],
    registration: Registration,
    notes: OrderNotes,
) -> Boring:
    """Return how bores are opened; a relieved fixture is entered by the corner radius and 0.2 mm.

    Reference bores that go through, to be measured from side B, want a relieved fixture.
    """
    numbers = [c.cutter for c in cutting if c.stage == BORE]
    corner = max((c.corner for c in cutters if c.number in numbers), default=0.0)
    deep = (
        round(corner + 0.2, 4),
        f"corner radius of the bore cutter + {mm(0.2)}; common practice",
    )
    bed: Proposal = ("skin", PRACTICE)
    if any(b.depth is None for b in registration.bores):
        bed = ("relieved", "reference bores go through")
    relieved = (section.opening or bed[0]) == "relieved"
    shut = ("skin", "oversize") if relieved else ("through",)
    idle = dict.fromkeys(shut, f'with opening="{section.opening or bed[0]}"')
    idle |= dict.fromkeys(*_unopened(blade, registration))
    if all(c.stage != FIT for c in cutting):
        idle |= dict.fromkeys(("undersize", "spring_passes"), "where no bore is fitted")
    return Boring(
        **with_defaults(
            section,
            "bores",
            notes,
            usual=PRACTICE,
            proposals={"opening": bed, "through": deep},
            idle=idle,
        )
    )


def _unopened(blade: Blade, registration: Registration) -> tuple[tuple[str, ...], str]:
    """Return the keys of openings through the plate that a blade has no use for, and why."""
    bores = [b for b in (*blade.bores, *registration.bores) if b.depth is None]
    if blade.slots or any(not b.both_sides for b in bores):
        return (), ""
    if blade.jimping:
        return ("oversize",), "where nothing but jimping goes through the plate"
    return (
        "opening",
        "skin",
        "oversize",
        "through",
    ), "where nothing goes through the plate from one side"


def trench_of(
    section: OutlineSection,
    blade: Blade,
    cutting: Sequence[Cutting],
    cutters: Sequence[Cutter],
    notes: OrderNotes,
) -> Trench | None:
    """Return the trench for the roughing and finishing cutters; None when one is missing."""
    known = {c.number: c for c in cutters}
    rough = next((c for c in cutting if c.stage == ROUGH and c.cutter in known), None)
    finish = next((c for c in cutting if c.stage == FINISH and c.cutter in known), None)
    if rough is None or finish is None:
        return None
    usual = propose_trench(
        blade.thickness,
        known[rough.cutter],
        known[finish.cutter],
        rough.allowance,
        blade.bevels if section.depth_a is None else (),
    )
    return Trench(
        **with_defaults(
            section,
            "outline",
            notes,
            usual=PRACTICE,
            proposals={
                "depth_a": _meet(usual, blade),
                "overlap": (usual.overlap, "by the cutters' corner radii"),
                "width": (usual.width, "by the cutters' diameters; common practice"),
                "border": (usual.border, _by_thickness(blade)),
            },
        )
    )


def _meet(usual: Trench, blade: Blade) -> tuple[float, str]:
    """Return the meeting depth and why: chamfer mills want ground under the outline's breaks on A.

    With bevels it stays as it is, above their edges.
    """
    deep = [one.depth for one in blade.breaks if one.of == "outline" and one.side == "A"]
    need = max(deep, default=0.0) + LEAST_BELOW + TIP_GAP + usual.clearance - usual.overlap / 2
    if blade.bevels or not deep or need <= usual.depth_a:
        return usual.depth_a, _by_thickness(blade)
    return math.ceil(
        round(need * 100, 6)
    ) / 100, "so deep that a chamfer mill breaks the edge; derived"


def _by_thickness(blade: Blade) -> str:
    return f"by blade thickness {mm(blade.thickness):g}; common practice"


def _outline_corner(cutting: Sequence[Cutting], cutters: Sequence[Cutter]) -> float:
    """Return the greatest corner radius of the cutters that leave the tabs, mm."""
    numbers = {c.cutter for c in cutting if c.stage in (ROUGH, FINISH)}
    return max((c.corner for c in cutters if c.number in numbers), default=0.0)


def tabs_of(
    section: TabsSection,
    outline: OutlineSection | None,
    hold: WorkholdingSection | None,
    blade: Blade,
    drawn: DrawingSource,
    notes: OrderNotes,
    cutting: Sequence[Cutting] = (),
    cutters: Sequence[Cutter] = (),
) -> Tabs:
    """Return the tabs; places of the order or of the drawing's layer become stations."""
    stations = _tab_stations(section, blade.outline, drawn.parts, notes)
    x_low, y_low, x_high, y_high = blade.outline.bounds
    corner = _outline_corner(cutting, cutters)
    usual = propose_tabs(blade.thickness, max(x_high - x_low, y_high - y_low), corner)
    thick = _by_thickness(blade)
    if usual.thickness > tab_thickness(blade.thickness):
        thick = f"three corner radii of {mm(corner):g}, which thicken its root; common practice"
    count = (usual.count, "by blade length, the planner places them; common practice")
    if stations:
        count = (len(stations), "one at each place given")
    elif hold is not None and hold.kind == "bores":
        count = _tip_tab(hold, blade)
    held = count[0] if section.count is None else section.count
    if outline is not None and not held:
        idle = dict.fromkeys(("as_milled", "no_tabs"), "without tabs")
        refuse_idle(outline, "outline", idle, notes)
    rest = with_defaults(
        section,
        "tabs",
        notes,
        usual=PRACTICE,
        proposals={
            "count": count,
            "waist": _waist(section, usual, blade, cutting, cutters),
            "thickness": (usual.thickness, thick),
        },
        unsaid=("stations", "neck"),
        idle={} if held else dict.fromkeys(_OF_TABS, "without tabs"),
    )
    if stations and rest["count"] != len(stations):
        notes.troubles.append(
            f"tabs.count={rest['count']} must be the number of places, {len(stations)}; leave it out"
        )
    rest["stations"] = stations
    no_tabs = (outline.no_tabs if outline else None) or ()
    as_milled = (outline.as_milled if outline else None) or ()
    return Tabs(
        **rest,
        no_tabs=(
            *drawn.no_tabs,
            *stretches_of(no_tabs, "outline.no_tabs", blade.outline, notes),
        ),
        as_milled=stretches_of(as_milled, "outline.as_milled", blade.outline, notes),
    )


_OF_TABS = ("waist", "thickness", "ramp_up", "ramp_down", "neck")


def _waist(
    section: TabsSection,
    usual: Tabs,
    blade: Blade,
    cutting: Sequence[Cutting],
    cutters: Sequence[Cutter],
) -> tuple[float, str]:
    """Return the waist of tabs and why; necked tabs are wide enough to snap at the wall."""
    first = {c.stage: c for c in reversed(cutting)}
    known = {c.number: c for c in cutters}
    if not section.neck or not all(
        stage in first and first[stage].cutter in known for stage in (ROUGH, FINISH, NECK)
    ):
        return usual.waist, _by_thickness(blade)
    given = {key: getattr(section, key) for key in ("thickness", "ramp_up", "ramp_down", "neck")}
    tabs = replace(usual, **{key: value for key, value in given.items() if value is not None})
    if not tabs.neck < tabs.thickness:  # refused by the rules of tabs
        return usual.waist, _by_thickness(blade)
    small, finish, rough = (known[first[stage].cutter] for stage in (NECK, FINISH, ROUGH))
    neck = neck_sizes(
        tabs, blade.thickness, small=small, finish=finish, rough=(rough, first[ROUGH])
    )
    if neck.waist <= usual.waist:
        return usual.waist, _by_thickness(blade)
    return neck.waist, "so that it snaps at its neck; derived"


def _tip_tab(hold: WorkholdingSection, blade: Blade) -> tuple[int, str]:
    screws = [b.centre for b in blade.bores if b.name in (hold.screws or ())]
    points = blade.outline.points(0.01)
    away = [np.hypot(*(points - np.array(screw)).T) for screw in screws]
    far = float(np.min(away, axis=0).max()) if away else math.inf
    if hold.tip_clamp:
        return 0, "held by screws and a clamp"
    if len(set(hold.screws or ())) == 1:
        return 1, "held by one screw, about which the blade would turn"
    if far <= 10 * blade.thickness:
        return 0, "held by screws"
    return 1, "held by screws, and the far end hangs out more than 10 thicknesses"


def _tab_stations(
    section: TabsSection, outline: Curve, parts: DrawnParts, notes: OrderNotes
) -> tuple[float, ...]:
    asked = section.stations or ()
    drawn = np.reshape(np.asarray(parts.tabs, dtype=float), (-1, 2))
    if asked and len(drawn):
        notes.troubles.append(
            "tabs.stations and the drawing's layer of tabs both give places; keep one of them"
        )
    path, within = "tabs.stations", ON_OUTLINE_MM
    if not asked:
        asked = tuple((float(x), float(y)) for x, y in drawn)
        path, within = "drawing.tabs", BESIDE_OUTLINE_MM
    found = [
        _station(one, f"{path}[{place}]", outline, notes, within)
        for place, one in enumerate(asked, start=1)
    ]
    return tuple(s for s in found if s is not None)


def _station(
    one: float | Place, path: str, outline: Curve, notes: OrderNotes, within: float = ON_OUTLINE_MM
) -> float | None:
    if not isinstance(one, tuple):
        if one <= outline.length:
            return one
        notes.troubles.append(
            f"{path}={mm(one):g} must be at most the outline's length, {most_mm(outline.length):.2f}"
        )
        return None
    away = float(distance(np.array([one]), outline)[0])
    if not away <= within:
        notes.troubles.append(
            f"{path}=[{bare(one[0]):g}, {bare(one[1]):g}]{NAME} must lie on the outline within"
            f" {mm(within):g}; it"
            f" is {mm(away):.2f} from it"
        )
        return None
    return round(float(station_of(outline, np.array([one]))[0]), 6)


def stretches_of(
    pairs: Sequence[tuple[float | Place, float | Place]],
    path: str,
    outline: Curve,
    notes: OrderNotes,
) -> tuple[Stretch, ...]:
    """Return the stretches of the outline between pairs of stations or of points on it."""
    found = (
        stretch_of(pair, f"{path}[{place}]", outline, notes)
        for place, pair in enumerate(pairs, start=1)
    )
    return tuple(stretch for stretch in found if stretch is not None)


def stretch_of(
    pair: tuple[float | Place, float | Place], path: str, outline: Curve, notes: OrderNotes
) -> Stretch | None:
    """Return a stretch: counter-clockwise between stations, the shorter way between points."""
    first, last = pair
    start = _station(first, f"{path}[1]", outline, notes)
    end = _station(last, f"{path}[2]", outline, notes)
    if start is None or end is None:
        return None
    ahead = (end - start) % outline.length
    if ahead == 0:
        notes.troubles.append(f"{path} begins where it ends; give two places")
        return None
    if isinstance(first, tuple) and isinstance(last, tuple) and ahead > outline.length / 2:
        return Stretch(start=end, end=start)
    return Stretch(start=start, end=end)


def workholding_of(section: WorkholdingSection, notes: OrderNotes) -> Workholding:
    """Return what holds the blade at the end; the screws' heads are of no use without screws."""
    if section.kind == "bores":
        return Workholding(**with_defaults(section, "workholding", notes, usual=PRACTICE))
    idle = dict.fromkeys(("screws", "head_diameter", "head_height"), 'with kind="tabs"')
    return Workholding(
        **with_defaults(section, "workholding", notes, unsaid=("tip_clamp",), idle=idle)
    )

"""What cannot be made, told before any path is looked for: closed inequalities.

Each rule yields one line that names the key, the figure, the rule and what would do.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.blade import Bore
from knifecam.curve import Curve, circle, distance, resample, signed_distance
from knifecam.curve.crossings import splits
from knifecam.curve.pieces import as_pieces
from knifecam.planning.feasible_bevel import bevels
from knifecam.planning.feasible_break import edge_breaks
from knifecam.planning.feasible_disturbed import approach, over_bed
from knifecam.planning.feasible_mill import travel
from knifecam.planning.feasible_neck import necks
from knifecam.planning.feasible_notch import jimping
from knifecam.planning.feasible_tabs import tabs
from knifecam.planning.feasible_tall import tall
from knifecam.planning.holding import holding
from knifecam.planning.pierced import relieved
from knifecam.quantity import Place, bare, least_mm, mm, most_mm, told
from knifecam.shop import Cutter, Cutting, KeepOut, Order
from knifecam.shop.depths import bore_corner, floors, too_short
from knifecam.shop.setup import ALLOWED_SPREAD
from knifecam.shop.side_view import points_on

TRENCH_SHARE = 1.25
"""Least trench width in diameters of the roughing cutter (common practice)."""

FINISH_ROOM = 0.3
"""mm the trench must be wider than the finishing cutter (common practice)."""

LEAST_HELIX = 1.05
"""Least bore in cutter diameters: below, a helix is a plunge."""

WEB_TO_OUTLINE = 1.5
"""mm of metal that must stay between an opening and the outline or another opening."""

SPACING = 0.2
"""mm between the places of an opening's wall at which the metal beside it is measured."""

LEAST_SKIN, SKIN_BY_BED = 0.1, 0.05
"""mm: thinnest skin where side A counts Z from the face, so that a plate 0.05 mm thinner than
measured and a Z 0.03 mm off do not open it into the bed; and where it counts from the bed."""

LEAST_STOCK = 0.02
"""mm: roughing that leaves less on a wall cuts where finishing ends."""

CLAMP_ROOM = 5.0
"""mm between any path and a clamp (common practice)."""

Rule = Callable[[Order], Iterator[str]]


def feasible(order: Order) -> tuple[str, ...]:
    """Return why the order cannot be made, one line a reason; nothing when it can."""
    return tuple(told(line, order.units) for rule in RULES for line in rule(order))


def _entries(order: Order, *stages: str) -> Iterator[tuple[Cutting, Cutter]]:
    for entry in order.cutting:
        if entry.stage in stages:
            yield entry, order.cutter(entry.cutter)


def stages(order: Order) -> Iterator[str]:
    """Every stage that the blade needs has a cutter."""
    needed = {"rough": True, "finish": True}
    blade, reference = order.blade, order.setup.registration.bores
    needed["bore"] = bool(blade.bores or reference)
    needed["slot"] = bool(blade.slots)
    needed["fit"] = any(b.fitted for b in (*blade.bores, *reference))
    needed["notch"] = bool(blade.jimping)
    needed["break"] = bool(blade.breaks)
    needed["neck"] = order.tabs.neck > 0
    for stage, wanted in needed.items():
        if wanted and not order.cuttings(stage):
            yield f"cutting: no entry for stage '{stage}', which this blade needs; add one [[cutting]]"


def loops(order: Order) -> Iterator[str]:
    """Outline and slots do not cross or touch themselves."""
    named = [("drawing.outline", order.blade.outline)]
    named += [(f"slots: slot '{slot.name}'", slot.outline) for slot in order.blade.slots]
    for name, curve in named:
        pieces = as_pieces(curve)
        row, gone = splits(pieces)
        if len(row):
            x, y = pieces.at(row[:1], gone[:1])[0][0]
            yield f"{name} crosses or touches itself at {Place(x, y):.3f}: draw it without"


def trench(order: Order) -> Iterator[str]:
    """The trench is wider than its cutters."""
    width = order.trench.width
    for entry, cutter in _entries(order, "rough"):
        if not width >= TRENCH_SHARE * cutter.diameter - 1e-9:
            yield (
                f"outline.width={mm(width):.3f} must be at least {TRENCH_SHARE} x D of roughing cutter"
                f" {entry.cutter}: {least_mm(TRENCH_SHARE * cutter.diameter):.3f}"
            )
    for entry, cutter in _entries(order, "finish"):
        if not width >= cutter.diameter + FINISH_ROOM - 1e-9:
            yield (
                f"outline.width={mm(width):.3f} must be at least D + {bare(FINISH_ROOM)} of"
                " finishing cutter"
                f" {entry.cutter}: {least_mm(cutter.diameter + FINISH_ROOM):.3f}, or it rubs both walls"
            )


def meeting(order: Order) -> Iterator[str]:
    """Both sides' walls overlap past their corner radii, inside the plate."""
    corners = [c.corner for _, c in _entries(order, "finish")]
    least = 2 * max(corners, default=0.0) + order.trench.clearance
    half, deep = order.blade.thickness / 2, floors(order)
    if not order.trench.overlap >= least:
        yield (
            f"outline.overlap={mm(order.trench.overlap):.3f} leaves a ridge: both corner radii and the"
            f" clearance want at least {least_mm(least):.3f}, {mm(least + 0.1):.3f} is safe"
        )
    elif not -half < deep.b_rough < deep.a_rough < deep.b_finish:
        yield (
            f"outline.meet={mm(order.trench.meet):.3f} with overlap={mm(order.trench.overlap):.3f} and"
            f" web={mm(order.trench.web):.3f} does not fit a plate of {mm(2 * half):.3f}; lessen meet,"
            " overlap or web, and keep web above 0"
        )


def depths(order: Order) -> Iterator[str]:
    """Flutes and reach are longer than what the cutter goes into."""
    thickness, deep = order.blade.thickness, floors(order)
    deepest = {
        "rough": max(thickness / 2 - deep.a_rough, thickness / 2 + deep.b_rough),
        "finish": max(thickness / 2 - deep.a_finish, thickness / 2 + deep.b_finish),
        "bore": thickness / 2 - deep.a_bore,
        "slot": thickness / 2 - deep.a_bore,
        "fit": thickness / 2 - deep.a_bore,
    }
    slots: list[list[str]] = []
    for entry, cutter in _entries(order, *deepest):
        lines = list(too_short(cutter, entry.stage, deepest[entry.stage]))
        if entry.stage == "slot":
            slots.append(lines)
        else:
            yield from lines
    if order.blade.slots and all(slots):  # the first that can do it is taken
        yield from (line for lines in slots for line in lines)


def bores(order: Order) -> Iterator[str]:
    """Every bore has a cutter that leaves a helix, metal round it, and stays within the blade."""
    outline = order.blade.outline
    for stage in ("bore", "fit"):
        diameters = [c.diameter for _, c in _entries(order, stage)]
        tight: dict[tuple[str, float], list[str]] = {}
        for bore in (*order.blade.bores, *order.setup.registration.bores):
            if stage == "fit" and not bore.fitted:
                continue
            if diameters and not bore.diameter >= LEAST_HELIX * min(diameters):
                pattern = bore.name.rpartition("-")[0] or bore.name
                tight.setdefault((pattern, bore.diameter), []).append(bore.name)
        for (_, wide), names in tight.items():
            more = f" and {len(names) - 1} more like it" if len(names) > 1 else ""
            yield (
                f"bore '{names[0]}'{more}, diameter={mm(wide):.3f}: cutter of"
                f" {mm(min(diameters)):.3f} leaves no helix; use one of {most_mm(wide / 1.25):.2f}"
                " or less"
            )
    for bore in order.blade.bores:
        web = float(signed_distance(bore.centre, outline)[0]) - bore.diameter / 2
        if not web >= WEB_TO_OUTLINE:
            yield _web_line(f"bore '{bore.name}'", "the outline", web)
    yield from _webs_between(order)


def _webs_between(order: Order) -> Iterator[str]:
    openings: list[tuple[str, Curve]] = [
        (f"bore '{b.name}'", circle(b.centre, b.diameter)) for b in order.blade.bores
    ]
    openings += [(f"slot '{s.name}'", s.outline) for s in order.blade.slots]
    for name, curve in openings[len(order.blade.bores) :]:
        web = float(signed_distance(resample(curve, SPACING)[1], order.blade.outline).min())
        if not web >= WEB_TO_OUTLINE:
            yield _web_line(name, "the outline", web)
    for i, (name, curve) in enumerate(openings):
        for other, second in openings[i + 1 :]:
            if _far(curve, second):
                continue
            web = float(distance(resample(curve, SPACING)[1], second).min())
            if not web >= WEB_TO_OUTLINE:
                yield _web_line(name, other, web)


def _far(first: Curve, second: Curve) -> bool:
    """Tell whether the extents of two openings are further apart than the web that must stay."""
    a, b = first.bounds, second.bounds
    return any(a[k] > b[k + 2] + WEB_TO_OUTLINE or b[k] > a[k + 2] + WEB_TO_OUTLINE for k in (0, 1))


def _web_line(name: str, other: str, web: float) -> str:
    return (
        f"{name} leaves {mm(web):.3f} of metal to {other}; at least {least_mm(WEB_TO_OUTLINE)} must"
        " stay: move"
        " or shrink it"
    )


def bed(order: Order) -> Iterator[str]:
    """Nothing goes deeper than the bed allows, and skins can be opened."""
    boring, setup = order.boring, order.setup
    corner = bore_corner(order)
    if boring.bed == "relieved" and not boring.through >= corner:
        yield (
            f"bores.through={mm(boring.through):.3f} leaves a lip: at least the corner radius"
            f" {mm(corner):.3f} is wanted"
        )
    if boring.bed == "skin":
        yield from _skin(order)
    for bore in setup.registration.bores:
        through = bore.depth is None or bore.depth >= order.blade.thickness
        if setup.registration.kind == "bores" and not through:
            yield (
                f"registration bore '{bore.name}', depth={mm(bore.depth or 0.0)}: it is measured"
                " from side B"
                " and must go through"
            )
        if through and boring.bed != "relieved":
            yield (
                f"registration bore '{bore.name}' goes through: order bores.bed = 'relieved' with a"
                " bed allowance, or make it blind (T - 0.3 mm)"
            )


def _skin(order: Order) -> Iterator[str]:
    skin = order.boring.skin
    by_face = order.setup.z_zero[0] == "face"
    least = LEAST_SKIN + max(0.0, order.setup.plate.spread - ALLOWED_SPREAD)
    least = least if by_face else SKIN_BY_BED
    if not skin >= least - 1e-9:
        off = f"a Z {mm(0.03)} off"
        why = f"a plate {mm(0.05)} thinner and {off}" if by_face else off
        yield (
            f"bores.skin={mm(skin):.3f} must be at least {least_mm(least):.3f} where Z of side A is"
            " counted"
            f" from the {order.setup.z_zero[0]}: with {why} the bores would run into the bed; {mm(0.25)}"
            " is usual"
        )


def frame(order: Order) -> Iterator[str]:
    """Plate stays round the trench; reference bores stand in that frame."""
    plate, blade, width = order.setup.plate, order.blade, order.trench.width
    low_x, low_y, high_x, high_y = plate.bounds
    x0, y0, x1, y1 = blade.outline.bounds
    sides = {"left": x0 - low_x, "right": high_x - x1, "lower": y0 - low_y, "upper": high_y - y1}
    for name, room in sides.items():
        left = room - width
        if not left >= order.trench.frame - 1e-9:
            yield (
                f"plate: {mm(left):.2f} stay outside the trench on the {name} edge, at least"
                f" outline.frame={mm(order.trench.frame):.2f} must; use a larger plate or move its corner"
            )
    for bore in order.setup.registration.bores:
        away = -float(signed_distance(bore.centre, blade.outline)[0]) - bore.diameter / 2
        edge = (
            min(
                bore.centre[0] - low_x,
                high_x - bore.centre[0],
                bore.centre[1] - low_y,
                high_y - bore.centre[1],
            )
            - bore.diameter / 2
        )
        if not (away - width >= WEB_TO_OUTLINE and edge >= WEB_TO_OUTLINE):
            yield (
                f"registration.bores: bore '{bore.name}'"
                f" {_beside(away - width, 'the trench')} and"
                f" stands {mm(edge):.2f} from the plate's edge; at least {mm(WEB_TO_OUTLINE)} each must"
                " stay"
            )


def _beside(room: float, name: str) -> str:
    """Return how something that should stay clear of a named place lies to it."""
    return (
        f"stands {mm(room):.2f} from {name}"
        if room >= 0
        else f"reaches {mm(-room):.2f} into {name}"
    )


def clamps(order: Order) -> Iterator[str]:
    """Clamps stand clear of every path: the trench, and on side A the reference bores."""
    outline, setup = order.blade.outline, order.setup
    for clamp in setup.keep_out:
        index = "AB".index(clamp.side)
        datum = points_on(clamp.side, setup.datum[index], setup.flip)[0]
        edge_x = np.linspace(clamp.x_low, clamp.x_high, 41)
        edge_y = np.linspace(clamp.y_low, clamp.y_high, 41)
        rim = np.concatenate(
            [np.column_stack([edge_x, np.full(41, y)]) for y in (clamp.y_low, clamp.y_high)]
            + [np.column_stack([np.full(41, x), edge_y]) for x in (clamp.x_low, clamp.x_high)]
        )
        part = points_on(clamp.side, rim + datum, setup.flip)
        rooms = {"the trench": float((-signed_distance(part, outline)).min()) - order.trench.width}
        for bore in setup.registration.bores if clamp.side == "A" else ():
            rooms[f"registration bore '{bore.name}'"] = _beside_clamp(clamp, bore, datum)
        for name, room in rooms.items():
            if not room >= CLAMP_ROOM:
                yield (
                    f"keep_out '{clamp.name}' on side {clamp.side} {_beside(room, name)}; at least"
                    f" {mm(CLAMP_ROOM)} must stay between them: move it away from the blade"
                )


def _beside_clamp(clamp: KeepOut, bore: Bore, datum: NDArray[np.float64]) -> float:
    """Return the metal between a clamp of side A and a bore, mm; below 0 where they meet."""
    x, y = bore.centre[0] - datum[0], bore.centre[1] - datum[1]
    across = max(clamp.x_low - x, x - clamp.x_high, 0.0)
    along = max(clamp.y_low - y, y - clamp.y_high, 0.0)
    return math.hypot(across, along) - bore.diameter / 2


def ramps(order: Order) -> Iterator[str]:
    """Stepdowns and stepovers are such that the cutter can take them."""
    for entry, cutter in _entries(order, "bore", "slot", "rough", "notch", "neck"):
        if not entry.stepdown <= cutter.flute_length:
            yield (
                f"{entry.path}: stepdown={mm(entry.stepdown):g} must be within its"
                f" flutes of {mm(cutter.flute_length):.2f}"
            )
        if not entry.stepover <= cutter.diameter:
            yield (
                f"{entry.path}: stepover={mm(entry.stepover):g} must be at most"
                f" its diameter {most_mm(cutter.diameter):.3f}"
            )
        if entry.stage == "rough" and not entry.allowance >= LEAST_STOCK:
            yield (
                f"{entry.path}: allowance={mm(entry.allowance):g} must be at least"
                f" {least_mm(LEAST_STOCK):g}, or roughing finishes the wall, conventionally on its way"
                f" back; {bare(0.04)} to {mm(0.08)} is usual"
            )


def screws(order: Order) -> Iterator[str]:
    """Screws that hold the blade stand in bores that go through, and heads clear the trench."""
    hold = order.setup.hold
    if hold.kind != "bores":
        return
    named: dict[str, Bore] = {b.name: b for b in order.blade.bores}
    if not hold.screws:
        yield "hold.screws: name at least one bore that takes a screw"
    for name in hold.screws:
        if name not in named:
            yield f"hold.screws: '{name}' is no bore of the blade ({', '.join(sorted(named))})"
            continue
        room = float(signed_distance(named[name].centre, order.blade.outline)[0])
        if not room - hold.head_diameter / 2 >= 0.5:
            yield (
                f"hold.head_diameter={mm(hold.head_diameter):.2f} over bore '{name}' comes within"
                f" {mm(room - hold.head_diameter / 2):.2f} of the trench; {mm(0.5)} must stay"
            )


RULES: tuple[Rule, ...] = (
    stages,
    loops,
    trench,
    meeting,
    over_bed,
    approach,
    tabs,
    depths,
    bores,
    bed,
    relieved,
    frame,
    clamps,
    tall,
    ramps,
    screws,
    holding,
    travel,
    jimping,
    edge_breaks,
    necks,
    bevels,
)

"""Cutters, cutting data and stages: what contradicts itself or lies far from what is proposed.

Keys are named as in the TOML of an order, list entries counted from 1. Guards are written so that
NaN fails.

Only what loads a cutter is compared: depth and way sideways in solid metal, feed of a tooth, speed
of the rim. Less than proposed is slow, not dangerous, and passes.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from knifecam.blade import Blade, Bore
from knifecam.blade.bevel import SIDES
from knifecam.blade.cutter_limits import cutter_refused, least_plunge_radius
from knifecam.quantity import bare, basis, keyed, least_mm, mm, most_mm, quantity, stated
from knifecam.rules.rules_limits import (
    LEAST_STOCK_MM,
    NOTED_SPEED_TIMES,
    NOTED_TIMES,
    REFUSED_SPEED_TIMES,
    REFUSED_TIMES,
)
from knifecam.shop import Cutter, Cutting, Order
from knifecam.shop.cutter import BALL, BULL_NOSE, CHAMFER, FLAT
from knifecam.shop.defaults import (
    contact_diameter,
    feed_per_tooth,
    stepdown_for,
    stepover_for,
    surface_speed,
)
from knifecam.shop.order_record import (
    BEVEL_FINISH,
    BEVEL_ROUGH,
    BEVEL_SEMI,
    BORE,
    BREAK,
    CLEAR,
    FINISH,
    FIT,
    NECK,
    NOTCH,
    PLUNGE,
    ROUGH,
    SLOT,
    Tabs,
)
from knifecam.shop.setup import Mill, Registration
from knifecam.shop.shop_limits import TIGHTEST_BORE_DIAMETERS
from knifecam.shop.side_view import floors, too_short


def stage_entries(order: Order, *stages: str) -> Iterator[tuple[Cutting, Cutter]]:
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
    for entry, cutter in stage_entries(order, *deepest):
        lines = list(too_short(cutter, entry.stage, deepest[entry.stage]))
        if entry.stage == "slot":
            slots.append(lines)
        else:
            yield from lines
    if order.blade.slots and all(slots):  # the first that can do it is taken
        yield from (line for lines in slots for line in lines)


def ramps(order: Order) -> Iterator[str]:
    """Stepdowns and stepovers are such that the cutter can take them."""
    for entry, cutter in stage_entries(order, "bore", "slot", "rough", "notch", "neck"):
        if not entry.stepdown <= cutter.flute_length:
            yield (
                f"{entry.path}: {entry.keyed('stepdown'):g} must be at most its"
                f" cutter's {cutter.keyed('flute_length'):.2f}"
            )
        if not entry.stepover <= cutter.diameter:
            yield (
                f"{entry.path}: {entry.keyed('stepover'):g} must be at most"
                f" its diameter {most_mm(cutter.diameter):.3f}"
            )
        if entry.stage == "rough" and not entry.allowance >= LEAST_STOCK_MM:
            yield (
                f"{entry.path}: {entry.keyed('allowance'):g} must be at least"
                f" {least_mm(LEAST_STOCK_MM):g}, or roughing finishes the wall, conventionally on its way"
                f" back; {bare(0.04)} to {mm(0.08)} is usual"
            )


RULE_OF_CORNER = {
    FLAT: "0 for a flat cutter", BALL: "half the diameter for a ball", CHAMFER: "0 for a chamfer mill",
}  # fmt: skip


LEVEL_KINDS = (FLAT, BULL_NOSE)
"""Kinds that leave walls square to the plate and level ground."""


ON_BEVEL = (BEVEL_ROUGH, BEVEL_SEMI, BEVEL_FINISH)
"""Stages that the edge's recurves bound."""


SERVES = dict.fromkeys((BORE, FIT, SLOT, ROUGH, FINISH, CLEAR, NOTCH, NECK), LEVEL_KINDS) | {
    BREAK: (CHAMFER,), BEVEL_ROUGH: (*LEVEL_KINDS, BALL), BEVEL_SEMI: (*LEVEL_KINDS, BALL),
    BEVEL_FINISH: (*LEVEL_KINDS, BALL), PLUNGE: (BALL, BULL_NOSE),
}  # fmt: skip
"""Which kinds of cutter make what a stage wants."""


def check_cutters(cutters: Sequence[Cutter]) -> Iterator[str]:
    """Yield what contradicts itself among the cutters."""
    if not cutters:
        yield "cutters is empty; describe at least one under [[cutters]]"
    seen: dict[int, int] = {}
    for place, cutter in enumerate(cutters, start=1):
        if cutter.number in seen:
            yield (
                f"cutters[{place}].number={cutter.number} is taken by cutters[{seen[cutter.number]}]"
                "; give every cutter its own number"
            )
        seen.setdefault(cutter.number, place)
        yield from _of_cutter(cutter, f"cutters[{place}]")


def _of_cutter(cutter: Cutter, where: str) -> Iterator[str]:
    yield from _of_corner(cutter, where)
    if cutter.kind == CHAMFER:
        yield from _of_cone(cutter, where)
    for low, high in (
        ("neck", "diameter"),
        ("neck", "shank"),
        ("flute_length", "reach"),
        ("reach", "stickout"),
    ):
        less, more = getattr(cutter, low), getattr(cutter, high)
        if not less <= more:
            yield (
                f"{stated(f'{where}.{low}', mm(less)):g} must be at most"
                f" {keyed(f'{where}.{high}', mm(more)):g}"
            )


def _of_corner(cutter: Cutter, where: str) -> Iterator[str]:
    corner, half = cutter.corner, cutter.diameter / 2
    seen = f"{stated(f'{where}.corner', mm(corner)):g}"
    if cutter.kind in (FLAT, CHAMFER) and corner > 0.0:
        rule = RULE_OF_CORNER[cutter.kind]
        yield f'{seen} must be {rule}; write kind="{BULL_NOSE}" for this corner'
    if cutter.kind == BALL and not abs(corner - half) <= 1e-9:
        yield f"{seen} must be {RULE_OF_CORNER[BALL]}, {mm(half):g}; leave it out"
    if cutter.kind == BULL_NOSE and not (0 < corner < half):
        yield (
            f"{seen} must be greater than 0 and less than half the diameter, {mm(half):g}; without a"
            f' corner radius it is kind="{FLAT}", with half the diameter kind="{BALL}"'
        )


def _of_cone(cutter: Cutter, where: str) -> Iterator[str]:
    if not cutter.tip < cutter.diameter:
        yield (
            f"{stated(f'{where}.tip', mm(cutter.tip)):g} must be less than"
            f" {keyed(f'{where}.diameter', mm(cutter.diameter)):g}"
        )
    elif not cutter.cone_height <= cutter.flute_length + 1e-9:
        yield (
            f"{stated(f'{where}.flute_length', mm(cutter.flute_length)):g} must be at least the cone's"
            f" height, {mm(cutter.cone_height):.3f}, by diameter, tip and half_angle"
        )


def check_cutting(
    cutting: Sequence[Cutting], cutters: Sequence[Cutter], mill: Mill
) -> Iterator[str]:
    """Yield what contradicts itself between cutting data, cutters and mill."""
    numbers = [c.number for c in cutters]
    kinds = {c.number: c.kind for c in cutters}
    seen: set[tuple[int, str]] = set()
    for entry in cutting:
        where = entry.path
        if (entry.cutter, entry.stage) in seen:
            yield f"{where}{basis(where)} stands twice; keep one [[cutting]] entry of them"
        seen.add((entry.cutter, entry.stage))
        if entry.cutter not in numbers:
            known = ", ".join(str(n) for n in numbers)
            yield f"{where}{basis(where)}: the cutter is not among the order's cutters ({known})"
        fitting = SERVES[entry.stage]
        if kinds.get(entry.cutter, fitting[0]) not in fitting:
            yield (
                f'{where}{basis(where)}: kind="{kinds[entry.cutter]}" does not make what this stage'
                f" wants; name a cutter of kind {' or '.join(fitting)}"
            )
        yield from _of_speeds(entry, mill, where)


def _of_speeds(entry: Cutting, mill: Mill, where: str) -> Iterator[str]:
    known = mill.spindle_low <= mill.spindle_high
    if known and not (mill.spindle_low <= entry.spindle <= mill.spindle_high):
        yield (
            f"{where}: {keyed(f'{where}.spindle', entry.spindle):g} rev/min must be within the mill's"
            f" range, {mill.spindle_low:g} to {mill.spindle_high:g} rev/min"
            f"{basis('mill.spindle_low', 'mill.spindle_high')}"
        )
    if not entry.feed <= mill.feed_high:
        yield (
            f"{where}: {keyed(f'{where}.feed', quantity(entry.feed, 'mm/min')):g} must be at most the"
            f" mill's {keyed('mill.feed_high', quantity(mill.feed_high, 'mm/min')):g}"
        )


NEEDS = {
    BREAK: "a chamfer mill whose half_angle is 90 deg less the break's angle",
    NECK: (
        f"a flat or bull-nose cutter of {bare(1)} to {mm(1.5)} with a corner of {mm(0.1)} at most"
    ),
    BEVEL_ROUGH: "a bull-nose cutter that fits the edge's recurves",
    BEVEL_SEMI: "a bull-nose cutter that fits the edge's recurves",
    BEVEL_FINISH: "a bull-nose cutter that fits the edge's recurves",
    PLUNGE: "a ball no larger than the plunge is hollow",
}


def check_stages(
    cutting: Sequence[Cutting],
    blade: Blade,
    registration: Registration,
    tabs: Tabs | None = None,
    cutters: Sequence[Cutter] = (),
) -> Iterator[str]:
    """Yield which stages the blade needs and no cutter serves."""
    bores = [*blade.bores, *registration.bores]
    served = {entry.stage for entry in cutting}
    for stage in stages_needed(blade, registration, necks=tabs is not None and tabs.neck > 0):
        if stage in served:
            continue
        thick = list(_thick_for_plunges(blade, cutters)) if stage == PLUNGE else []
        thick += _thick_for_recurves(blade, cutters) if stage in ON_BEVEL else []
        yield from thick
        if not thick:
            kind = NEEDS.get(stage) or _kind_for(stage, blade, bores)
            yield (
                f'cutting: no cutter serves stage "{stage}", which this blade needs; add {kind},'
                " or a [[cutting]] entry that names one"
            )


def stages_needed(blade: Blade, registration: Registration, *, necks: bool) -> list[str]:
    """Return the stages a blade needs, ``necks`` where its tabs are necked."""
    bores = [*blade.bores, *registration.bores]
    needed = {
        BORE: bool(bores),
        FIT: any(b.fitted for b in bores),
        SLOT: bool(blade.slots),
        ROUGH: True,
        FINISH: True,
        NOTCH: bool(blade.jimping),
        BREAK: bool(blade.breaks),
        NECK: necks,
        CLEAR: bool(blade.bevels),
        BEVEL_ROUGH: bool(blade.bevels),
        BEVEL_SEMI: bool(blade.bevels),
        BEVEL_FINISH: bool(blade.bevels),
        PLUNGE: any(bevel.plunges for bevel in blade.bevels),
    }
    return [stage for stage, wanted in needed.items() if wanted]


def _thick_for_recurves(blade: Blade, cutters: Sequence[Cutter]) -> Iterator[str]:
    """Yield which edges' recurves the thinnest bull-nose cutter does not fit."""
    noses = [c for c in cutters if c.kind == BULL_NOSE]
    if noses:
        nose = min(noses, key=lambda c: c.diameter)
        for bevel in blade.bevels:
            for line in cutter_refused(bevel, blade, radius=nose.radius, corner=nose.corner):
                yield f"{nose.path}: {line}"


def _thick_for_plunges(blade: Blade, cutters: Sequence[Cutter]) -> Iterator[str]:
    """Yield at which plunges the thinnest ball is more than they are hollow."""
    balls = [c for c in cutters if c.kind == BALL]
    if not balls:
        return
    ball = min(balls, key=lambda c: c.diameter)
    for bevel in blade.bevels:
        for plunge in bevel.plunges:
            hollow = min(
                least_plunge_radius(bevel, plunge, blade, side) for side in SIDES if bevel.on(side)
            )
            if hollow < ball.radius:
                yield (
                    f"cutter {ball.number}, radius {mm(ball.radius):g}, is more than"
                    f" plunge_radius={mm(plunge.radius):g} of {bevel.path}, which is hollow to"
                    f"{bevel.rests('plunge_radius')}"
                    f" {mm(hollow):.3f}; order a larger plunge_radius, or add a ball of"
                    f" {most_mm(2 * hollow):.2f} or less"
                )


def _kind_for(stage: str, blade: Blade, bores: Sequence[Bore]) -> str:
    """Return in words which cutter a stage wants, and what bounds its diameter."""
    kind = "a flat or bull-nose cutter"
    sizes = {
        BORE: [(b.diameter, f'bore "{b.name}"') for b in bores],
        FIT: [(b.diameter, f'fitted bore "{b.name}"') for b in bores if b.fitted],
        NOTCH: [(row.diameter, "the jimping") for row in blade.jimping],
    }.get(stage)
    if not sizes:
        return f"{kind} that fits"
    diameter, name = min(sizes)
    widest = most_mm(diameter / TIGHTEST_BORE_DIAMETERS)
    return f"{kind} of {widest:.2f} or less for {name} of {mm(diameter):.3f}"


STAGES_WITH_STEPDOWN, STAGES_WITH_STEPOVER = (
    (BORE, SLOT, ROUGH, NOTCH, NECK),
    (BORE, SLOT, ROUGH, NOTCH, BREAK),
)


RUN = (*STAGES_WITH_STEPDOWN, FIT, FINISH, BREAK)
"""Stages whose stepdown, stepover and speeds are compared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AboveProposal:
    """How far a value lies above what would be proposed, and from where on it is told."""

    where: str
    key: str
    value: float
    proposed: float
    unit: str
    noted: float
    refused: float

    @property
    def times(self) -> float:
        """Return how many times the proposal it is."""
        return self.value / self.proposed

    def said(self) -> str:
        """Return it in words."""
        return (
            f"{self.where}:"
            f" {keyed(f'{self.where}.{self.key}', quantity(self.value, self.unit)):.4g} is"
            f" {self.times:.3g} times the {quantity(self.proposed, self.unit):.4g} that would be proposed"
        )


def above_proposals(
    cutting: Sequence[Cutting], cutters: Sequence[Cutter], hardness_hrc: float
) -> Iterator[AboveProposal]:
    """Yield what lies above its proposal by more than is noted."""
    known = {c.number: c for c in cutters}
    for entry in cutting:
        if entry.cutter in known:
            for one in _compared(entry, known[entry.cutter], hardness_hrc):
                if one.proposed > 0 and one.times > one.noted * (1 + 1e-9):
                    yield one


def _compared(entry: Cutting, cutter: Cutter, hardness_hrc: float) -> Iterator[AboveProposal]:
    where, stage, diameter = entry.path, entry.stage, contact_diameter(cutter)
    rows: list[tuple[str, float, float, str]] = []
    if stage in STAGES_WITH_STEPDOWN:
        usual = stepdown_for(stage, cutter.diameter, hardness_hrc=hardness_hrc)
        rows.append(("stepdown", entry.stepdown, usual, "mm"))
    if stage in STAGES_WITH_STEPOVER:
        rows.append(("stepover", entry.stepover, stepover_for(stage, cutter.diameter), "mm"))
    if stage in RUN and entry.spindle > 0 and cutter.flutes >= 1:
        tooth = entry.feed / (entry.spindle * cutter.flutes)
        usual = feed_per_tooth(
            cutter,
            stage,
            stepdown=entry.stepdown,
            stepover=entry.stepover,
            hardness_hrc=hardness_hrc,
        )
        rows.append(("feed_per_tooth", tooth, usual, "mm"))
    for key, value, proposed, unit in rows:
        yield AboveProposal(
            where=where, key=key, value=value, proposed=proposed, unit=unit, noted=NOTED_TIMES,
            refused=REFUSED_TIMES,
        )  # fmt: skip
    if stage in RUN:
        yield AboveProposal(
            where=where, key="surface_speed", value=math.pi * diameter * entry.spindle / 1000,
            proposed=surface_speed(stage, hardness_hrc) / 1000, unit="m/min", noted=NOTED_SPEED_TIMES,
            refused=REFUSED_SPEED_TIMES,
        )  # fmt: skip


def check_excess(
    cutting: Sequence[Cutting], cutters: Sequence[Cutter], hardness_hrc: float
) -> Iterator[str]:
    """Yield what lies so far above its proposal that it is taken for a mistake."""
    for one in above_proposals(cutting, cutters, hardness_hrc):
        if one.times > one.refused * (1 + 1e-9):
            most = one.refused * one.proposed
            yield (
                f"{one.said()}; at most {quantity(most, one.unit):.4g} is taken, so check the"
                " figure typed"
            )

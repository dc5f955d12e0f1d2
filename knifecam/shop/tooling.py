"""What contradicts itself among cutters, cutting data and mill, one line each.

Keys are named as in the TOML of an order, list entries counted from 1. Guards are written so that
NaN fails.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from knifecam.blade import Blade, Bore
from knifecam.blade.bevel import SIDES
from knifecam.blade.cutter_limits import cutter_refused, least_plunge_radius
from knifecam.quantity import bare, mm, most_mm, quantity
from knifecam.shop.cutter import BALL, BULL_NOSE, CHAMFER, FLAT, Cutter
from knifecam.shop.cutter_choice import TIGHTEST_BORE
from knifecam.shop.order_record import Cutting, Tabs
from knifecam.shop.setup import Mill, Registration
from knifecam.shop.stages import (
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
)

RULE_OF_CORNER = {
    FLAT: "0 for a flat cutter", BALL: "half the diameter for a ball", CHAMFER: "0 for a chamfer mill",
}  # fmt: skip


LEVEL = (FLAT, BULL_NOSE)
"""Kinds that leave walls square to the plate and level ground."""

ON_BEVEL = (BEVEL_ROUGH, BEVEL_SEMI, BEVEL_FINISH)
"""Stages that the edge's recurves bound."""

SERVES = dict.fromkeys((BORE, FIT, SLOT, ROUGH, FINISH, CLEAR, NOTCH, NECK), LEVEL) | {
    BREAK: (CHAMFER,), BEVEL_ROUGH: (*LEVEL, BALL), BEVEL_SEMI: (*LEVEL, BALL),
    BEVEL_FINISH: (*LEVEL, BALL), PLUNGE: (BALL, BULL_NOSE),
}  # fmt: skip
"""Which kinds of cutter make what a stage wants."""


def of_cutters(cutters: Sequence[Cutter]) -> Iterator[str]:
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
            yield f"{where}.{low}={mm(less):g} must be at most {high}={mm(more):g}"


def _of_corner(cutter: Cutter, where: str) -> Iterator[str]:
    corner, half = cutter.corner, cutter.diameter / 2
    seen = f"{where}.corner={mm(corner):g}"
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
        yield (f"{where}.tip={mm(cutter.tip):g} must be less than diameter={mm(cutter.diameter):g}")
    elif not cutter.cone_height <= cutter.flute_length + 1e-9:
        yield (
            f"{where}.flute_length={mm(cutter.flute_length):g} must be at least the cone's height,"
            f" {mm(cutter.cone_height):.3f}, by diameter, tip and half_angle"
        )


def of_mill(mill: Mill) -> Iterator[str]:
    """Yield what contradicts itself in the mill."""
    if not mill.spindle_low <= mill.spindle_high:
        yield (
            f"mill.spindle_low={mill.spindle_low:g} rev/min must be at most"
            f" spindle_high={mill.spindle_high:g} rev/min"
        )
    if not mill.rapid_height <= mill.change_height <= mill.travel[2]:
        yield (
            f"mill.change_height={mm(mill.change_height):g} must be at least"
            f" rapid_height={mm(mill.rapid_height):g} and at most the travel of Z, {mm(mill.travel[2]):g}"
        )


def of_cutting(cutting: Sequence[Cutting], cutters: Sequence[Cutter], mill: Mill) -> Iterator[str]:
    """Yield what contradicts itself between cutting data, cutters and mill."""
    numbers = [c.number for c in cutters]
    kinds = {c.number: c.kind for c in cutters}
    seen: set[tuple[int, str]] = set()
    for entry in cutting:
        where = entry.path
        if (entry.cutter, entry.stage) in seen:
            yield f"{where} stands twice; keep one [[cutting]] entry of them"
        seen.add((entry.cutter, entry.stage))
        if entry.cutter not in numbers:
            known = ", ".join(str(n) for n in numbers)
            yield f"{where}: the cutter is not among the order's cutters ({known})"
        fitting = SERVES[entry.stage]
        if kinds.get(entry.cutter, fitting[0]) not in fitting:
            yield (
                f'{where}: kind="{kinds[entry.cutter]}" does not make what this stage wants; name a'
                f" cutter of kind {' or '.join(fitting)}"
            )
        yield from _of_speeds(entry, mill, where)


def _of_speeds(entry: Cutting, mill: Mill, where: str) -> Iterator[str]:
    known = mill.spindle_low <= mill.spindle_high
    if known and not (mill.spindle_low <= entry.spindle <= mill.spindle_high):
        yield (
            f"{where}: spindle={entry.spindle:g} rev/min must be within the mill's range,"
            f" {mill.spindle_low:g} to {mill.spindle_high:g} rev/min"
        )
    if not entry.feed <= mill.feed_high:
        yield (
            f"{where}: feed={quantity(entry.feed, 'mm/min'):g} must be at most the mill's"
            f" feed_high={quantity(mill.feed_high, 'mm/min'):g}"
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


def of_stages(
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
                yield f"cutter {nose.number}: {line}"


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
                    f" plunge_radius={mm(plunge.radius):g} of bevel '{bevel.name}', which is hollow to"
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
    return f"{kind} of {most_mm(diameter / TIGHTEST_BORE):.2f} or less for {name} of {mm(diameter):.3f}"

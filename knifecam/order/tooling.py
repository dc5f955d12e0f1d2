"""From the model's sections to cutters and cutting data."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence

from knifecam.blade import Blade
from knifecam.order.model_cutter import CutterSection, CuttingSection
from knifecam.order.quantity import SURFACE, TOOTH, show
from knifecam.order.reading import Notes
from knifecam.order.settle import Proposal, assume, refuse_idle, settled
from knifecam.quantity import mm, quantity
from knifecam.shop import Bevelling, Cutter, Cutting, Mill, Registration
from knifecam.shop.cutter import BULL_NOSE, CHAMFER
from knifecam.shop.cutter_choice import choose_cutters
from knifecam.shop.defaults import (
    contact_diameter,
    corner_for,
    feed_for,
    propose_cutter,
    propose_cutting,
    shank_for,
    spindle_for,
    stickout_for,
    surface_speed,
)
from knifecam.shop.stages import (
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
from knifecam.shop.tooling import stages_needed


def cutter_of(section: CutterSection, place: int, notes: Notes) -> Cutter:
    """Return the cutter; what is not stated of its build is guessed by its diameter."""
    path, diameter = f"cutters[{place}]", section.diameter
    usual = propose_cutter(section.number, section.kind, diameter)
    flute = section.flute_length or min(usual.flute_length, section.reach or math.inf)
    reach = section.reach or max(usual.reach, flute)
    shank = section.shank or shank_for(diameter)
    neck = section.neck or min(usual.neck, shank)
    cone = usual.cone if section.cone is None else section.cone
    why = "guessed by diameter; measure yours"
    proposals: dict[str, Proposal] = {
        "corner": (usual.corner, "by its kind"),
        "flute_length": (flute, why),
        "neck": (neck, why),
        "reach": (reach, why),
        "shank": (shank, why),
        "stickout": (stickout_for(reach, neck, shank, cone), why),
    }
    if section.kind == BULL_NOSE and section.corner is None:
        notes.troubles.append(
            f"{path}.corner is missing; a bull-nose cutter must state its corner radius, greater than"
            f" 0 and less than {mm(diameter / 2):g}"
        )
    unsaid: tuple[str, ...] = ("tip", "half_angle")
    if section.kind == CHAMFER:
        proposals["tip"], unsaid = (usual.tip, why), ()
    elif section.tip is not None or section.half_angle is not None:
        notes.troubles.append(
            f"{path}: tip and half_angle are those of a chamfer mill; leave them out"
        )
    if (
        section.kind != BULL_NOSE
        and section.corner is None
        and corner_for(section.kind, diameter) == 0.0
    ):
        section = section.model_copy(update={"corner": 0.0})
    return Cutter(
        **settled(section, path, notes, usual="usual", proposals=proposals, unsaid=unsaid)
    )


def cutting_of(
    sections: Sequence[CuttingSection],
    cutters: Sequence[Cutter],
    mill: Mill,
    blade: Blade,
    registration: Registration,
    notes: Notes,
    necks: bool = False,
    bevelling: Bevelling | None = None,
) -> tuple[Cutting, ...]:
    """Return the cutting data: what is given, and a proposal for every stage left out.

    ``necks``: whether tabs are necked.
    """
    cusp = (bevelling or Bevelling()).cusp
    known = {c.number: c for c in cutters}
    needed = stages_needed(blade, registration, necks=necks)
    found: list[Cutting] = []
    for place, section in enumerate(sections, start=1):
        if section.cutter not in known:
            numbers = ", ".join(str(n) for n in known)
            notes.troubles.append(
                f"cutting[{place}].cutter={section.cutter} is not among the order's cutters"
                f" ({numbers})"
            )
        elif section.steel in (None, blade.steel.name):
            path = f"cutting[{place}]"
            _refuse_idle(section, path, needed, [c.stage for c in found], notes)
            entry = _entry(section, path, known[section.cutter], mill, blade, notes, cusp)
            found.append(entry)
    given = {s.stage for s in sections if s.steel in (None, blade.steel.name)}
    for stage, number in choose_cutters(cutters, blade, registration.bores, necks=necks):
        if stage not in given:
            others = {s.steel for s in sections if s.stage == stage and s.steel}
            found.append(_proposed(known[number], stage, mill, blade, notes, cusp, others))
    return tuple(found)


LEAVES = (SLOT, ROUGH, CLEAR, BEVEL_ROUGH, BEVEL_SEMI, PLUNGE)
"""Stages that leave an allowance; of the others, 0 is the only one that holds."""

ONE_PASS = (FIT, FINISH, NECK)
"""Stages that go along a wall in one pass, so that no step aside is theirs."""

IN_LEVELS = (BORE, SLOT, ROUGH, NOTCH, NECK, CLEAR, BEVEL_ROUGH)
"""Stages that go down in levels or turns; the others are at their depth at once."""

BY_SIZE = (BORE, FIT, SLOT, NOTCH, BREAK)
"""Stages in which the size of what is cut chooses among several entries."""


def _refuse_idle(
    section: CuttingSection, path: str, needed: Sequence[str], earlier: Sequence[str], notes: Notes
) -> None:
    """Refuse an entry, or a key of it, that has no effect on this blade."""
    stage, idle = section.stage, {}
    if stage not in needed:
        idle["stage"] = "on this blade, which has nothing for it"
    elif stage in earlier and stage not in BY_SIZE:
        idle["stage"] = "in a second entry for it"
    refuse_idle(section, path, idle | _idle_in(stage, section.allowance), notes)


def _idle_in(stage: str, allowance: float | None) -> dict[str, str]:
    """Return the keys that a stage has no use for, on any blade, and why."""
    idle = {}
    if stage not in LEAVES and allowance:
        idle["allowance"] = f'in stage "{stage}"'
    if stage not in IN_LEVELS:
        idle["stepdown"] = f'in stage "{stage}", which is at its depth at once'
    if stage in ONE_PASS:
        idle["stepover"] = f'in stage "{stage}", which goes along the wall in one pass'
    return idle


def _proposed(
    cutter: Cutter,
    stage: str,
    mill: Mill,
    blade: Blade,
    notes: Notes,
    cusp: float,
    others: Collection[str] = (),
) -> Cutting:
    """Return the proposal for a stage; ``others`` are the steels that the order's entries are for."""
    hardness = blade.steel.hardness_hrc
    named = " and ".join(f'"{steel}"' for steel in sorted(others))
    why = f"what is stated holds for steel {named} only; " if others else ""
    entry = propose_cutting(cutter, stage, hardness_hrc=hardness, mill=mill, blade=blade, cusp=cusp)
    tooth = entry.feed / (entry.spindle * cutter.flutes)
    notes.assumed.append(
        f"{entry.path} = {entry.spindle:g} rev/min,"
        f" {quantity(entry.feed, 'mm/min'):g} ({mm(tooth):.4f} a tooth), stepdown"
        f" {mm(entry.stepdown):g}, stepover"
        f" {mm(entry.stepover):g}, allowance {mm(entry.allowance):g}, life {entry.life:g} min ({why}by"
        f" diameter {mm(cutter.diameter):g} and {hardness:g} HRC; common practice)"
    )
    return entry


def _entry(
    section: CuttingSection,
    path: str,
    cutter: Cutter,
    mill: Mill,
    blade: Blade,
    notes: Notes,
    cusp: float,
) -> Cutting:
    hardness = blade.steel.hardness_hrc
    usual = propose_cutting(
        cutter, section.stage, hardness_hrc=hardness, mill=mill, blade=blade, cusp=cusp
    )
    why = f"by diameter {mm(cutter.diameter):g}; common practice"
    spindle = _spindle(section, path, cutter, mill, usual, hardness, notes)
    feed = _feed(section, path, cutter, usual, spindle, mill, notes)
    rest, idle = {}, _idle_in(section.stage, section.allowance)
    for key in ("stepdown", "stepover", "allowance", "life"):
        rest[key] = getattr(section, key)
        if rest[key] is None:
            rest[key] = getattr(usual, key)
        if getattr(section, key) is None and key not in idle:
            assume(section, key, rest[key], why, path, notes)
    return Cutting(cutter=section.cutter, stage=section.stage, spindle=spindle, feed=feed, **rest)


def _spindle(
    section: CuttingSection,
    path: str,
    cutter: Cutter,
    mill: Mill,
    usual: Cutting,
    hardness: float,
    notes: Notes,
) -> float:
    speed = section.surface_speed
    if section.spindle is not None and speed is not None:
        notes.troubles.append(
            f"{path}: spindle and surface_speed say the same thing twice; keep one of them"
        )
    if section.spindle is not None:
        return section.spindle
    if speed is None:
        usually = show(surface_speed(section.stage, hardness), SURFACE, notes.units)
        assume(section, "spindle", usual.spindle, f"by {usually}, in the mill's range", path, notes)
        return usual.spindle
    diameter = contact_diameter(cutter)
    spindle = spindle_for(speed, diameter)
    low, high = mill.spindle_low, mill.spindle_high
    if not (low <= spindle <= high):
        reachable = [show(n * math.pi * diameter, SURFACE, notes.units) for n in (low, high)]
        notes.troubles.append(
            f"{path}.surface_speed={show(speed, SURFACE, notes.units)} wants {spindle:g} rev/min of"
            " cutter"
            f" {cutter.number}; the mill turns {low:g} to {high:g} rev/min, which is"
            f" {reachable[0]} to {reachable[1]}"
        )
        return min(max(spindle, low), high)
    return spindle


def _feed(
    section: CuttingSection,
    path: str,
    cutter: Cutter,
    usual: Cutting,
    spindle: float,
    mill: Mill,
    notes: Notes,
) -> float:
    tooth = section.feed_per_tooth
    if section.feed is not None and tooth is not None:
        notes.troubles.append(
            f"{path}: feed and feed_per_tooth say the same thing twice; keep one of them"
        )
    if section.feed is not None:
        return section.feed
    if tooth is None:
        tooth = usual.feed / (usual.spindle * cutter.flutes)
        feed = min(feed_for(spindle, cutter.flutes, tooth), mill.feed_high)
        assume(section, "feed", feed, f"by {show(tooth, TOOTH, notes.units)}", path, notes)
        return feed
    return feed_for(spindle, cutter.flutes, tooth)

"""What the metal that cutters met does to them: forces, torque, bending, cut by cut.

Each step's metal is taken as two layers, from what the sweep of the grid saw: a floor as deep as what
is met on either hand and ahead, and above it, on the hand where it stands highest, a wall as wide as
the volume taken asks for. Arcs so found hold on bends as well: what a step takes for each mm of its way
is the width of its arc across the feed, whatever is beside it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from knifecam.curve.curve import Floats
from knifecam.cutting.cutter_bending import (
    bar_pieces,
    bending_stress_per_newton,
    deflection_per_newton,
)
from knifecam.cutting.cutting_force import (
    CHIP_EXPONENT,
    HELIX_RAD,
    NORMAL_SHARE,
    CuttingForce,
    cutting_force,
    hardened_steel,
)
from knifecam.cutting.engagement import largest_chip
from knifecam.judge.judge_limits import CLOSER_STEPS, RUBBING_CHIP_SHARE, SHORT_STEP_CELLS
from knifecam.judge.rapids_and_entry import judged_rows, way_means
from knifecam.measure.case import Case
from knifecam.shop import Cutter
from knifecam.sweep.contact_record import motion_feed_per_tooth
from knifecam.sweep.side_program import SideProgram
from knifecam.sweep.sweep_limits import LEAST_CONTACT_MM3

Ints = NDArray[np.int64]


Indices = NDArray[np.int64] | NDArray[np.int32]


@dataclass(frozen=True, eq=False, kw_only=True)
class MetMetal:
    """The metal of some steps of one side, (n,) or by layer (n, 2), from the tip up.

    ``rows`` are the steps, ``section`` mm2 is what they take for each mm of their way, ``tooth`` mm
    the feed per tooth, ``layer_chip`` mm the greatest thickness of the chip in each layer.
    """

    rows: Ints
    section: Floats
    tooth: Floats
    entry: Floats
    exit: Floats
    top: Floats
    layer_chip: Floats

    @property
    def chip(self) -> Floats:
        """Greatest thickness of the chip, mm."""
        return np.asarray(self.layer_chip.max(axis=1, initial=0.0))

    def chosen(self, which: Ints) -> MetMetal:
        """Return only some of the steps."""
        return MetMetal(**{name: getattr(self, name)[which] for name in self.__dataclass_fields__})


def met_metal(side: SideProgram, case: Case) -> MetMetal:
    """Return the metal of all steps that go sideways by feed and take some, with a turning cutter."""
    steps, s = side.steps, side.shapes
    e, motion = steps.engagement, steps.motion
    tooth = motion_feed_per_tooth(side, case.order.cutters)[motion]
    tried = judged_rows(case, side) & steps.moving & (e.volume > LEAST_CONTACT_MM3)
    tried &= ~side.rapid[motion] & s.known[motion] & (tooth > 0.0)
    section = way_means(steps, e.volume, SHORT_STEP_CELLS * case.seen)
    at = np.flatnonzero(tried)
    left, front, right = e.left[at], e.front[at], e.right[at]
    top = np.maximum(np.maximum(left, front), right)
    top = np.where(top > 0.0, top, e.under[at])
    floor = np.minimum(np.minimum(left, front), right)
    tops = np.column_stack([floor, top])
    taken = section[at] - _by_the_end(side, at)
    entry, exit_ = _arcs(side, motion[at], taken, tops, right - left)
    met = exit_ > entry
    steep = edge_steepness(side, motion[at][:, None], tops)
    chip = np.where(met, largest_chip(tooth[at][:, None], entry, exit_) * steep, 0.0)
    return MetMetal(
        rows=at, section=section[at], tooth=tooth[at], entry=entry, exit=exit_, top=tops,
        layer_chip=chip,
    )  # fmt: skip


def _by_the_end(side: SideProgram, at: Ints) -> Floats:
    """Return what the flat end takes of some steps that fall for each mm of their way, (n,) mm2.

    As much of it as of the front half of the rim is taken to be over metal.
    """
    steps, s = side.steps, side.shapes
    motion = steps.motion[at]
    flat = np.where(s.half_angle[motion] > 0.0, s.tip[motion], s.radius[motion] - s.corner[motion])
    over = np.minimum(steps.engagement.width[at], np.pi) * flat**2
    return np.asarray(over * np.sin(np.maximum(steps.fall[at], 0.0)))


def _arcs(
    side: SideProgram, motion: Indices, section: Floats, tops: Floats, more: Floats
) -> tuple[Floats, Floats]:
    """Return where teeth enter and leave each layer, (n, 2) rad each.

    ``more`` is how much higher metal stands on the right than on the left, mm.
    """
    floor, whole = (_half_section(side, motion, top) for top in tops.T)
    above = np.maximum(whole - floor, 0.0)
    wall = np.maximum(section - 2 * floor, 0.0)
    shares = np.column_stack([np.where(floor > 0.0, 2.0, 0.0), _part(wall, above)])
    arc = np.arccos(1.0 - shares)
    clockwise = np.asarray(side.trace.spindle)[motion] >= 0
    late = ((more > 0.0) == clockwise)[:, None]
    entry = np.where(late, np.pi - arc, 0.0)
    exit_ = np.where(late, np.pi, arc)
    ahead = (more == 0.0)[:, None] & (arc < np.pi)
    half = np.arcsin(np.minimum(shares / 2, 1.0))
    entry = np.where(ahead, np.pi / 2 - half, entry)
    return entry, np.where(ahead, np.pi / 2 + half, exit_)


def _part(section: Floats, half: Floats) -> Floats:
    """Return how many times ``half`` goes into a section, 0 to 2."""
    part = np.divide(section, half, out=np.zeros_like(section), where=half > 0.0)
    return np.clip(part, 0.0, 2.0)


def _half_section(side: SideProgram, motion: Indices, top: Floats) -> Floats:
    """Return the section of half a cutter up to a height, mm2."""
    s = side.shapes
    radius, corner, tip = s.radius[motion], s.corner[motion], s.tip[motion]
    low, tan = np.maximum(corner - top, 0.0), np.tan(s.half_angle[motion])
    left = np.divide(low, corner, out=np.zeros_like(low), where=corner > 0.0)
    rounded = corner**2 / 2 * (np.pi / 2 - np.arcsin(left) - left * np.sqrt(1.0 - left**2))
    bull = (radius - corner) * top + rounded + corner * np.maximum(top - corner, 0.0)
    foot = np.divide(radius - tip, tan, out=np.zeros_like(low), where=tan > 0.0)
    below = np.minimum(top, foot)
    cone = tip * below + below**2 * tan / 2 + radius * np.maximum(top - foot, 0.0)
    return np.where(tan > 0.0, cone, bull)


def edge_steepness(side: SideProgram, motion: Indices, top: Floats) -> Floats:
    """Return the sine of the edge's angle at a height: what it makes of the chip, 1 on the flank."""
    s = side.shapes
    corner, half = s.corner[motion], s.half_angle[motion]
    low = np.maximum(corner - top, 0.0)
    share = np.divide(low, corner, out=np.zeros_like(low), where=corner > 0.0)
    return np.where(half > 0.0, np.cos(half), np.sqrt(1.0 - share**2))


@dataclass(frozen=True, eq=False, kw_only=True)
class CutterLoads:
    """Loads of some steps, (n,) each, in the order of ``metal``.

    ``across``, ``along``, ``aside``, ``lift`` and ``press`` in N, ``torque`` in N mm (see
    `knifecam.cutting.cutting_force.CuttingForce`), ``stress`` in N/mm2, ``deflection`` of the tip in
    mm.
    """

    metal: MetMetal
    across: Floats
    along: Floats
    aside: Floats
    lift: Floats
    press: Floats
    torque: Floats
    stress: Floats
    deflection: Floats


def cutter_loads(side: SideProgram, case: Case, metal: MetMetal) -> CutterLoads:
    """Return what some steps' metal does to their cutters."""
    steel = hardened_steel(case.order.blade.steel.hardness_hrc)
    names = ("across", "along", "aside", "lift", "press", "torque", "stress", "deflection")
    found = {name: np.zeros(len(metal.rows)) for name in names}
    number = np.asarray(side.trace.cutter)[side.steps.motion[metal.rows]]
    for cutter in case.order.cutters:
        mine = np.flatnonzero(number == cutter.number)
        if len(mine):
            part = metal.chosen(mine)
            force = cutting_force(
                cutter, steel, entry=part.entry, exit_=part.exit, axial=part.top,
                feed_per_tooth=part.tooth,
            )  # fmt: skip
            for name, values in _loads(cutter, force).items():
                found[name][mine] = values
    return CutterLoads(metal=metal, **found)


def _loads(cutter: Cutter, force: CuttingForce) -> dict[str, Floats]:
    pieces = bar_pieces(cutter)
    names = ("across", "along", "aside", "lift", "press", "torque")
    return {
        **{name: getattr(force, name) for name in names},
        "stress": force.across * bending_stress_per_newton(pieces, force.height),
        "deflection": force.across * deflection_per_newton(pieces, force.height),
    }


def heaviest_steps(side: SideProgram, metal: MetMetal, starts: Ints) -> Ints:
    """Return which of the steps may bear the greatest loads of their cut, sorted.

    ``starts`` are where cuts begin among the steps. Of each cut the `CLOSER_STEPS` first by each of three
    estimates: of the mean force, of the greatest, and of what presses the work down.
    """
    motion, power = side.steps.motion[metal.rows], 1.0 - CHIP_EXPONENT
    s, arc, high = side.shapes, metal.exit - metal.entry, np.diff(metal.top, prepend=0.0)
    # the helix lays no more of a layer's edge in metal than its arc
    edge = np.minimum(high, arc * (s.radius[motion] / np.tan(HELIX_RAD))[:, None])
    thick = metal.layer_chip**power
    top = np.minimum(metal.top[:, 1], s.corner[motion])
    end = np.sqrt(top * (2 * s.corner[motion] - top)) + s.half_angle[motion] * metal.top[:, 1]
    press = end * (NORMAL_SHARE * thick.max(axis=1) + RUBBING_CHIP_SHARE) * arc.max(axis=1)
    estimates = (
        metal.section * metal.tooth**power,
        (edge * (thick + RUBBING_CHIP_SHARE)).sum(axis=1),
        press - np.tan(HELIX_RAD) * (edge * thick).sum(axis=1),
    )
    kept = [np.zeros(0, np.int64)]
    for begin, end in zip(starts, [*starts[1:], len(motion)], strict=True):
        for estimate in estimates:
            last = max(0, end - begin - CLOSER_STEPS)
            kept.append(begin + np.argpartition(estimate[begin:end], last)[last:])
    return np.unique(np.concatenate(kept))


def heaviest_loads(
    side: SideProgram, case: Case, metal: MetMetal, begins: Ints
) -> tuple[CutterLoads, Ints]:
    """Return the loads of those steps that may bear the greatest of their cut, and each one's cut.

    ``begins`` (C,) are the motions that cuts begin with; what lies before the first is left out.
    """
    cut = np.searchsorted(begins, side.steps.motion[metal.rows], side="right") - 1
    metal, cut = metal.chosen(np.flatnonzero(cut >= 0)), cut[cut >= 0]
    kept = heaviest_steps(side, metal, np.searchsorted(cut, np.arange(len(begins))))
    return cutter_loads(side, case, metal.chosen(kept)), cut[kept]


def motion_loads(side: SideProgram, case: Case, metal: MetMetal, motion: int) -> CutterLoads:
    """Return the loads of those steps of one motion that may bear its greatest."""
    part = metal.chosen(np.flatnonzero(side.steps.motion[metal.rows] == motion))
    kept = heaviest_steps(side, part, np.zeros(1, np.int64))
    return cutter_loads(side, case, part.chosen(kept))

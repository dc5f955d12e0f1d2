"""The bevels' passes on one side, stage by stage: roughing, semi-finish, finish, and the plunge."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from knifecam.blade import Bevel
from knifecam.blade.heel_overrun import farthest
from knifecam.curve import Motions
from knifecam.errors import PlanError
from knifecam.paths.bevel_heights_and_steps import (
    BevelFace,
    face_on,
    finishing_stands,
    roughing_levels,
    stand_at,
)
from knifecam.paths.bevel_motions import (
    BevelPass,
    bevel_passes,
    deepest_gouge,
    finishing_pass,
    plunge_ends,
    roughing_pass,
    shortened,
)
from knifecam.paths.paths_limits import ALONG_FALL_MM
from knifecam.paths.plunge_motions import (
    EarlierCutter,
    PlungeLine,
    effective_radius,
    highest_cusp,
    lead_for,
    lines_past,
    plunge_lean,
    plunge_limits,
    plunge_passes,
    reach_past,
)
from knifecam.planning.life_groups import cuts_by_life
from knifecam.planning.plan import Cut
from knifecam.planning.planning_limits import (
    BESIDE_PLUNGE_GOUGE_MM,
    CUTTER_SIZE_STEP_MM,
    EASE_MM,
    FREE_MM,
    LAYER_MM,
    LEAST_PLUNGE_OVERLAP_MM,
    MOST_SHORTENINGS,
    PASSES_TRIED,
    PLUNGE_OVERLAP_MM,
    PLUNGE_STOCK_MM,
    WIDEST_CUTTER_MM,
)
from knifecam.planning.stop_texts import measure_land
from knifecam.quantity import basis, least_mm, mm, most_mm
from knifecam.shop import Cutter, Cutting, Order
from knifecam.shop.defaults import propose_cutter
from knifecam.shop.order_record import (
    BEVEL_FINISH,
    BEVEL_ROUGH,
    BEVEL_SEMI,
    PLUNGE,
    cutting_and_cutter,
)
from knifecam.shop.side_view import SideContext


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class BevelPasses:
    """All passes of one bevel on one side, by stage, in that side's frame."""

    face: BevelFace
    passes: dict[str, tuple[Motions, ...]]

    @property
    def lowest(self) -> float:
        """The lowest tip of all passes, mm in the side's frame."""
        return min(
            float(m.stop[:, 2].min()) for many in self.passes.values() for m in many if len(m)
        )


def bevel_passes_on(bench: SideContext, bevel: Bevel) -> BevelPasses:
    """Return all passes of a bevel on the bench's side.

    Raises
    ------
    PlanError
        Where no pass meets the blade, or one cannot stand clear of its plunges.
    """
    order = bench.order
    face = face_on(
        bench.side, order.blade, bevel, order.setup.flip, _past(order, bevel, bench.side)
    )
    rough, eased = _roughed(order, face)
    raised = order.cuttings(BEVEL_SEMI)[0].allowance
    semi, _, more = _finished(order, face, BEVEL_SEMI, raised, eased)
    finish, finished, _ = _finished(order, face, BEVEL_FINISH, 0.0, max(eased, more))
    passes = {
        BEVEL_ROUGH: rough,
        BEVEL_SEMI: semi,
        BEVEL_FINISH: finish,
        PLUNGE: _plunged(order, face, finished),
    }
    return BevelPasses(face=face, passes=passes)


def _past(order: Order, bevel: Bevel, side: str) -> float:
    """Return how far the edge is prolonged, mm: beyond all that passes run out by."""
    widest = max(order.cutter(c.cutter).diameter for c in order.cuttings(BEVEL_ROUGH))
    radii = [plunge.radius for plunge in bevel.plunges]
    reach = order.blade.thickness / bevel.angle
    out = max(min(reach, 60.0), farthest(bevel, order.blade))
    return round(2 * widest + max(radii, default=0.0) + out + 10.0, 3)


def _finished(
    order: Order, face: BevelFace, stage: str, raised: float, eased: float
) -> tuple[tuple[Motions, ...], tuple[BevelPass, ...], float]:
    """Return a stage's passes from the edge upward, the runs they follow, and their ease.

    They stop ``eased`` mm earlier beside plunges, as what came before them had to.
    """
    entry, cutter = cutting_and_cutter(order, stage)
    stands = finishing_stands(face, cutter, entry.stepover, raised)
    lead = lead_for(order, stage)
    places = [one.d for one in stands]
    before = _before(order, face, stage, _cutters(order), places)
    found = bevel_passes(face, cutter, stands, lead=lead, before=before)
    found = tuple(one for run in found if (one := shortened(run, eased)) is not None)
    if not found:
        raise PlanError(
            f"bevel '{face.bevel.name}' on side {face.side}: no pass of stage '{stage}' meets the blade;"
            " order a higher bevels.height, or a thinner cutter for it"
        )

    def made(run: BevelPass) -> Motions:
        return finishing_pass(
            run, lead=lead, sink=ALONG_FALL_MM, feed=entry.feed, lead_feed=entry.feed / 2
        )

    passes, kept, more = _clear_of_plunges(face, cutter, found, made)
    return passes, kept, eased + more


def _cutters(order: Order) -> dict[str, Cutter]:
    """Return the cutters of the bevels' stages."""
    return {s: cutting_and_cutter(order, s)[1] for s in (BEVEL_ROUGH, BEVEL_SEMI, BEVEL_FINISH)}


def _before(
    order: Order,
    face: BevelFace,
    stage: str,
    cutters: Mapping[str, Cutter],
    places: Sequence[float],
) -> tuple[EarlierCutter, ...]:
    """Return what cut before a stage, and how it stood ``places`` mm from the edge.

    The finish comes after the semi-finish too, which a cutter of another size may have cut.
    """
    came = [BEVEL_ROUGH]
    own, semi = cutters[stage], cutters[BEVEL_SEMI]
    if stage == BEVEL_FINISH and (semi.diameter, semi.corner) != (own.diameter, own.corner):
        came.append(BEVEL_SEMI)
    found = []
    for name in came:
        one, left = cutters[name], order.cuttings(name)[0].allowance
        stands = tuple(stand_at(face, one, float(d), left) for d in places)
        found.append(
            EarlierCutter(cutter=one, stands=stands, leads=2 if stage == BEVEL_FINISH else 1)
        )
    return tuple(found)


def _roughed(order: Order, face: BevelFace) -> tuple[tuple[Motions, ...], float]:
    """Return the passes of all levels from the face down, and by how much some were shortened.

    Each level's run from the edge inward.
    """
    entry, cutter = cutting_and_cutter(order, BEVEL_ROUGH)
    flat = cutter.radius - cutter.corner
    ridge = 2 * (flat + math.sqrt(2 * cutter.corner * 0.05))
    stepover = min(entry.stepover, ridge)
    levels = roughing_levels(
        face, cutter, stepdown=entry.stepdown, stepover=stepover, raised=entry.allowance
    )
    strip = min(stepover + cutter.corner, cutter.diameter)  # the corner leaves as much unfinished
    stands = [stand for level in levels for stand in level]
    found = bevel_passes(face, cutter, stands, strip=strip, margin=cutter.radius + FREE_MM)
    own = [c for s in (BEVEL_ROUGH, BEVEL_SEMI) for c in order.cuttings(s)]
    bears = max(c.stepdown for c in own if c.cutter == cutter.number)
    beside = stepover if 2 * entry.stepdown > bears else math.inf  # two levels stand between ends

    def made(run: BevelPass) -> Motions:
        outer = -cutter.radius - FREE_MM
        return roughing_pass(face, run, outer=outer, beside=beside, feed=entry.feed)

    passes, _, eased = _clear_of_plunges(face, cutter, found, made)
    return passes, eased


def _clear_of_plunges(
    face: BevelFace,
    cutter: Cutter,
    found: Sequence[BevelPass],
    made: Callable[[BevelPass], Motions],
) -> tuple[tuple[Motions, ...], tuple[BevelPass, ...], float]:
    """Return passes and runs, shortened where they would come below the face beside a plunge.

    And by how much they were shortened at most, mm. The limits of `swing` are exact for straight
    edges and plunges; bent ones want more.

    Raises
    ------
    PlanError
        Where shortening does not help.
    """
    passes = [made(run) for run in found]
    tried = passes[:: max(1, len(passes) // PASSES_TRIED)]
    if all(deepest_gouge(face, cutter, one) <= BESIDE_PLUNGE_GOUGE_MM for one in tried):
        return tuple(passes), tuple(found), 0.0
    kept = []
    most = 0.0
    for run in found:
        for times in range(MOST_SHORTENINGS):
            deep = deepest_gouge(face, cutter, made(run))
            if deep <= BESIDE_PLUNGE_GOUGE_MM:
                kept.append(run)
                most = max(most, times * EASE_MM)
                break
            shorter = shortened(run, EASE_MM)
            if shorter is None:
                break
            run = shorter
        else:
            raise PlanError(
                f"bevel '{face.bevel.name}' on side {face.side}: cutter {cutter.number} would come"
                f" {mm(deep):.4f} below the surface beside a plunge; use a smaller cutter or a larger"
                " bevels.plunge_radius"
            )
    return tuple(made(run) for run in kept), tuple(kept), most


def _plunged(order: Order, face: BevelFace, finished: Sequence[BevelPass]) -> tuple[Motions, ...]:
    """Return the plunges' passes, from where the shortest of the bevel's own end."""
    if not face.plunges:
        return ()
    entry, ball = cutting_and_cutter(order, PLUNGE)
    made: list[Motions] = []
    ends = plunge_ends(face, finished)
    for number, (_, radius) in enumerate(face.plunges):
        first = _first_line(order, face, number, ends.get(number))
        last = reach_past(face, number)
        lines = [
            PlungeLine(s=s, raised=raised)
            for raised, step in _layers(face, entry)
            for s in lines_past(radius, first, last, step)
        ]
        made += plunge_passes(face, number, ball, lines, layer=LAYER_MM, feed=entry.feed)
    return tuple(made)


def _first_line(order: Order, face: BevelFace, plunge: int, end: float | None) -> float:
    """Return how far past its line a plunge's passes begin, mm, where the bevel's ``end`` there.

    Raises
    ------
    PlanError
        Where the bevel's passes end further before it than the plunge's may begin.
    """
    _, cutter = cutting_and_cutter(order, BEVEL_FINISH)
    farthest = _farthest(order, face, cutter)
    if end is None:
        return farthest
    if not end - LEAST_PLUNGE_OVERLAP_MM >= farthest:
        raise PlanError(_ends_early(order, face, plunge, end))
    return max(end - PLUNGE_OVERLAP_MM, farthest)


def _farthest(order: Order, face: BevelFace, cutter: Cutter) -> float:
    """Return how far past its line a plunge's passes may begin, mm, below 0.

    As far before it as the bevel's finishing ``cutter`` is wide: a ball touches the bevel near its
    axis, where it rubs, and finishes there only what that cutter cannot reach, the cusps that it
    shaves beside its line with it.
    """
    _, ball = cutting_and_cutter(order, PLUNGE)
    acts = effective_radius(ball, face.bevel.angle)
    return math.sqrt(2 * acts * highest_cusp(order, BEVEL_FINISH)) - cutter.diameter


def _ends_early(order: Order, face: BevelFace, plunge: int, end: float) -> str:
    """Return that passes end too far before a plunge, and which cutters would do."""
    cutters = _cutters(order)
    cutter, ball = cutters[BEVEL_FINISH], cutting_and_cutter(order, PLUNGE)[1]
    stage = max((BEVEL_ROUGH, BEVEL_SEMI), key=lambda name: cutters[name].diameter)
    lost = max(0.0, _last_touch(order, face, plunge, cutters) - end)

    def fits(name: str, one: Cutter) -> bool:
        tried = {**cutters, name: one}
        most = _last_touch(order, face, plunge, tried) - lost
        return most - LEAST_PLUNGE_OVERLAP_MM >= _farthest(order, face, tried[BEVEL_FINISH])

    less = next((c for c in _sizes(cutters[stage], -CUTTER_SIZE_STEP_MM) if fits(stage, c)), None)
    more = next((c for c in _sizes(cutter, CUTTER_SIZE_STEP_MM) if fits(BEVEL_FINISH, c)), None)
    cures = [f"one of {most_mm(less.diameter):.1f} or less there"] if less else []
    cures += [f"one of {least_mm(more.diameter):.1f} for stage '{BEVEL_FINISH}'"] if more else []
    path = order.cuttings(stage)[0].path
    return (
        f"{path}{basis(path)}: bevel '{face.bevel.name}' on side {face.side}: passes end"
        f" {mm(-end):.3f} before plunge {plunge + 1}, as near as cutter {cutters[stage].number} of"
        f" {mm(cutters[stage].diameter):.3f} comes; cutter {ball.number} of stage '{PLUNGE}', which"
        f" rubs near its axis, may finish no more than {mm(-_farthest(order, face, cutter)):.3f} before"
        f" it, where cutter {cutter.number} of {mm(cutter.diameter):.3f} of stage '{BEVEL_FINISH}'"
        f" swings: use {', or '.join(cures) or 'a plunge that leans less'}"
    )


def _last_touch(order: Order, face: BevelFace, plunge: int, cutters: Mapping[str, Cutter]) -> float:
    """Return how far past a plunge's line the shortest finishing pass would touch last, mm."""
    places = np.linspace(0.0, face.width, PASSES_TRIED).tolist()
    stands = tuple(stand_at(face, cutters[BEVEL_FINISH], d) for d in places)
    before = _before(order, face, BEVEL_FINISH, cutters, places)
    lead = lead_for(order, BEVEL_FINISH)
    most = plunge_limits(face, cutters[BEVEL_FINISH], stands, plunge, lead, before)
    along, _ = plunge_lean(face, face.plunges[plunge][0])
    return min(float(at) + one.arm * along for at, one in zip(most, stands, strict=True))


def _sizes(cutter: Cutter, step: float) -> Iterator[Cutter]:
    """Yield cutters of the same corner, ``step`` mm wider from one to the next, to `WIDEST_CUTTER_MM`."""
    diameter = cutter.diameter + step
    while 2 * cutter.corner < diameter <= WIDEST_CUTTER_MM:
        yield propose_cutter(cutter.number, cutter.kind, diameter, corner=cutter.corner)
        diameter += step


def _layers(face: BevelFace, entry: Cutting) -> tuple[tuple[float, float], ...]:
    """Return how far above the surface each layer of a plunge lies, mm, and its step."""
    rough = tuple((PLUNGE_STOCK_MM + k * LAYER_MM, 3 * entry.stepover) for k in (2, 1, 0))
    return (*rough, (entry.allowance, entry.stepover))


def bevel_cuts(
    bench: SideContext, grounds: Sequence[BevelPasses], used: dict[int, float]
) -> list[Cut]:
    """Return the bevels' cuts on this side: each stage over all bevels, then the plunges.

    No cutter is changed in the middle of a finished face where one lives through all of it.
    """
    order = bench.order
    names = {
        BEVEL_ROUGH: "BEVELS ROUGHED",
        BEVEL_SEMI: "BEVELS SEMI-FINISHED",
        BEVEL_FINISH: "BEVELS FINISHED",
        PLUNGE: "PLUNGES",
    }
    cuts: list[Cut] = []
    for stage, name in names.items():
        passes = [one for ground in grounds for one in ground.passes[stage]]
        if not passes:
            continue
        stop = measure_stop(order, bench.side) if stage == BEVEL_FINISH else ()
        entry = order.cuttings(stage)[0]
        whole = stage in (BEVEL_FINISH, PLUNGE)
        cuts += cuts_by_life(
            bench, passes, name=name, cutting=entry, used=used, stop=stop, whole=whole
        )
    return cuts


def measure_stop(order: Order, side: str) -> tuple[str, ...]:
    """Return what the maker is told before side B's bevels are finished, where it is ordered."""
    if not (order.bevelling.measure_stop and side == "B"):
        return ()
    left = order.cuttings(BEVEL_SEMI)[0].allowance
    return (
        measure_land(left),
        f"WANTED NOW: LAND AND {mm(left):.3f}. RAISE Z OF {order.setup.offsets[1]} BY WHAT IS LACKING,",
        "LOWER IT BY WHAT IS TOO MUCH, THEN GO ON",
    )

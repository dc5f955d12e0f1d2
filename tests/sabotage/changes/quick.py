"""What the judge finds, asked for sparingly: its own rules on its own measures, cheap ones first.

A change that is caught needs one finding, so that the first ends the search, and a measure is made
when the first rule asks for it. A side that no change has touched keeps its sweep. A rule that
looks at one side alone is shown the changed side alone. What is told is what
`knifecam.judge.prove.judge` tells: tests compare them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from copy import deepcopy
from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from knifecam.errors import ProgramError
from knifecam.judge import (
    collisions,
    cutting_loads,
    gouges,
    hand_stops,
    loose_piece_findings,
    milling_direction,
    program_faults,
    rapids_and_entry,
    spindle_and_feeds,
    stop_messages,
    tab_findings,
    uncut_metal,
)
from knifecam.judge.findings import Finding
from knifecam.judge.prove import JUDGES, cut_side, judge_misplaced
from knifecam.measure.case import Case
from knifecam.measure.measured_surfaces import GroundSurface, nominal_surfaces
from knifecam.rs274.program_reader import read_program
from knifecam.shop import Order
from knifecam.sweep.columns import Grid, plate_grid
from knifecam.sweep.side_program import SideProgram, side_of, stored_of
from tests.sabotage.changes.asked import Asked
from tests.sabotage.changes.change_stand import FLUSH, Stand

Rule = Callable[[Case], Iterable[Finding]]

UNSWEPT: tuple[Rule, ...] = (spindle_and_feeds.find_cutter, program_faults.find_travel)
"""Rules that find something before anything is swept."""

ALONE: tuple[Rule, ...] = (
    spindle_and_feeds.find_cutter,
    spindle_and_feeds.find_spindle,
    spindle_and_feeds.find_feeds,
    cutting_loads.find_surface_speed,
    collisions.find_reach,
    hand_stops.find_stops,
    program_faults.find_words,
)
"""Rules that look at one side alone."""

WORDED: tuple[Rule, ...] = (spindle_and_feeds.find_dwell, stop_messages.find_messages)
"""Rules that other words for the same cut can break, and that look at both sides."""

FIRST: tuple[Rule, ...] = (
    rapids_and_entry.find_entry,
    collisions.find_keep_out,
    milling_direction.find_climb,
    gouges.find,
    uncut_metal.find,
    tab_findings.find,
    loose_piece_findings.find_loose,
)
"""Of the rules that look at both sides those that find most, so they are asked first."""

TOGETHER: tuple[Rule, ...] = (
    *FIRST, *(rule for rule in JUDGES if rule not in {*UNSWEPT, *ALONE, *FIRST}),
)  # fmt: skip
"""Rules that look at both sides."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The first finding of a change: its kind, side and line; ``kind`` empty for none."""

    kind: str = ""
    side: str = ""
    line: int = 0

    @staticmethod
    def of(finding: Finding) -> Found:
        """Return a finding in short."""
        return Found(kind=finding.kind, side=finding.side, line=finding.line)


REFUSED = Found(kind="syntax")


class Bench:
    """The judge at good programs of one order, ready to judge changed ones."""

    def __init__(self, order: Order, texts: tuple[str, str], cell: float) -> None:
        self.order, self.texts, self.cell = order, texts, cell
        traces = [read_program(text, stored_of(order.setup)) for text in texts]
        a = side_of(order, "A", texts[0], traces[0], 0)
        b = side_of(order, "B", texts[1], traces[1], len(a))
        self.plate = plate_grid(order.setup.plate.bounds, order.setup.plate.thickness, cell)
        self.wanted = nominal_surfaces(order, self.plate)
        self.after_a, swept_a, surface_a = self._swept(self.plate, a, 0)
        grid, swept_b, surface_b = self._swept(self.after_a, b, 1)
        self.sides, self.surfaces = (swept_a, swept_b), (surface_a, surface_b)
        self.good = Asked(order, self.sides, grid, self.surfaces)

    def _swept(
        self, before: Grid, side: SideProgram, which: int
    ) -> tuple[Grid, SideProgram, GroundSurface]:
        grid = deepcopy(before)
        swept, surface = cut_side(self.order, side, grid, self.wanted[which], keep=True)
        return grid, cast(SideProgram, swept), cast(GroundSurface, surface)

    def found(self, stand: Stand) -> Found:
        """Return the first finding in a changed stand."""
        if stand.order is not self.order or stand.lies != FLUSH:
            return judged_whole(stand, self.cell)
        changed = [k for k in (0, 1) if stand.texts[k] != self.texts[k]]
        if len(changed) != 1:
            return judged_whole(stand, self.cell)
        which = changed[0]
        try:
            trace = read_program(stand.texts[which], stored_of(self.order.setup))
        except ProgramError as error:
            return replace(REFUSED, side="AB"[which], line=error.line)
        first = 0 if which == 0 else len(self.sides[0])
        side = side_of(self.order, "AB"[which], stand.texts[which], trace, first)
        return self._in_turn(side, which)

    def _in_turn(self, side: SideProgram, which: int) -> Found:
        alone = (side, None) if which == 0 else (None, side)
        one = Asked(self.order, alone, self.plate, (None, None))
        for rule in UNSWEPT:
            for finding in rule(one):
                return Found.of(finding)
        if self._moves_alike(side, which):
            # the same cut under other words: only rules of words and modes can tell
            side = side.with_swept(self.sides[which].swept)  # type: ignore[arg-type]
            told = self._told(ALONE, Asked(self.order, (side, None) if which == 0 else (None, side),
                                           self.good.grid, (None, None)))  # fmt: skip
            both = (side, self.sides[1]) if which == 0 else (self.sides[0], side)
            case = Asked(self.order, both, self.good.grid, self.surfaces)
            return told if told.kind else self._told(WORDED, case)
        before = self.plate if which == 0 else self.after_a
        grid, side, surface = self._swept(before, side, which)
        alone = (side, None) if which == 0 else (None, side)
        told = self._told(ALONE, Asked(self.order, alone, grid, (None, None)))
        if told.kind:
            return told
        if which == 0:
            b = replace(self.sides[1], first=len(side), swept=None)
            grid, b, surface_b = self._swept(grid, b, 1)
            sides, surfaces = (side, b), (surface, surface_b)
        else:
            sides, surfaces = (self.sides[0], side), (self.surfaces[0], surface)
        kept = list(self.good.wall.sides)
        kept[which] = None
        wall = replace(self.good.wall, sides=(kept[0], kept[1]))
        return self._told(TOGETHER, Asked(self.order, sides, grid, surfaces, wall))

    def _told(self, rules: tuple[Rule, ...], case: Asked) -> Found:
        for rule in rules:
            for finding in rule(case):
                return Found.of(finding)
        return Found()

    def _moves_alike(self, side: SideProgram, which: int) -> bool:
        old, new = self.sides[which].trace, side.trace
        names = ("kind", "start", "stop", "centre", "turns")
        return np.array_equal(old.cutter, new.cutter) and all(
            np.array_equal(getattr(old.motions, name), getattr(new.motions, name)) for name in names
        )


def judged_whole(stand: Stand, cell: float) -> Found:
    """Return the first finding of the whole judge."""
    (judged,) = judge_misplaced(stand.order, stand.texts, [stand.lies], cell=cell)
    findings = judged.verdict.findings
    return Found.of(findings[0]) if findings else Found()

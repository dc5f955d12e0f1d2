"""From an order to proved programs: plan, write, judge."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from knifecam.errors import OrderError, PlanError, telling_in
from knifecam.planning import Plan, lay_out
from knifecam.planning.plan import cutter_lines, waste_notes
from knifecam.program import Program, align_program, offsets_program, write_program
from knifecam.quantity import told
from knifecam.report.screen_lines import (
    BENCH,
    file_lines,
    finding_lines,
    measure_lines,
    minute_lines,
    note_lines,
    outline_line,
)
from knifecam.rules.rule_passes import refused, remarks
from knifecam.shop import Order
from knifecam.shop.assumptions import assumed_lines, with_unstated

if TYPE_CHECKING:
    from knifecam.judge.findings import Verdict
    from knifecam.judge.prove import Judged
    from knifecam.shop.setup import Misplacement


CELL_MM = 0.05
"""mm: the grid's cell; what is measured to micrometres is measured by sample columns, not by the grid."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """Both sides' programs, the plan behind them, and what the simulator found in the texts."""

    order: Order
    plan: Plan
    programs: tuple[Program, Program]
    align: str
    offsets: str | None
    judged: Judged

    @property
    def verdict(self) -> Verdict:
        """Return the simulator's verdict on the texts."""
        return self.judged.verdict

    @property
    def notes(self) -> tuple[str, ...]:
        """Return what the maker should know before cutting: of the order, then of the plan."""
        notes = (*remarks(self.order), *self.plan.notes, *waste_notes(self.plan.cuts))
        return tuple(told(note, self.order.units) for note in notes)


def make(order: Order, *, cell: float = CELL_MM) -> Made:
    """Return both programs of an order, judged.

    Raises
    ------
    OrderError
        When the order contradicts itself, or a closed-form rule shows that it cannot be made.
    PlanError
        When no path does what the order wants.
    """
    with telling_in(order.units):
        plan, programs, align = _planned(order)
    return Made(
        order=order,
        plan=plan,
        programs=programs,
        align=align,
        offsets=offsets_program(order),
        judged=_judge(order, (programs[0].text, programs[1].text), cell),
    )


def _planned(order: Order) -> tuple[Plan, tuple[Program, Program], str]:
    """Return the plan of an order, both sides' programs, and the alignment program."""
    if refusals := refused(order):
        raise OrderError(_told(order, refusals))
    try:
        plan = lay_out(order)
        programs = (write_program(order, plan, "A"), write_program(order, plan, "B"))
        return plan, programs, align_program(order, plan)
    except PlanError as error:
        raise PlanError(_told(order, error.said)) from error


def _told(order: Order, lines: Sequence[str]) -> list[str]:
    """Return refusals, once each, with the values they rest on that the order did not state."""
    return with_unstated(order.assumed, dict.fromkeys(lines))


def check(order: Order, texts: tuple[str | None, str | None], *, cell: float = CELL_MM) -> Judged:
    """Return the judgement of two programs' texts, whoever wrote them; None for a side left out."""
    return _judge(order, texts, cell)


def check_misplaced(
    order: Order,
    texts: tuple[str | None, str | None],
    places: Sequence[Misplacement],
    *,
    cell: float = CELL_MM,
) -> tuple[Judged, ...]:
    """Return the judgement for each way the plate may lie on side B; side A is cut once."""
    from knifecam.judge.prove import judge_misplaced

    with telling_in(order.units):
        return tuple(judge_misplaced(order, texts, places, cell=cell))


def _judge(order: Order, texts: tuple[str | None, str | None], cell: float) -> Judged:
    from knifecam.judge.prove import judge

    with telling_in(order.units):
        return judge(order, texts, cell=cell)


def summary(
    made: Made, folder: Path, *, written: Sequence[str] = (), assumed: bool = False
) -> Iterator[str]:
    """Yield what a maker wants to know: assumptions, tabs, walls, load, minutes, verdict and files.

    ``written`` are the names of the files in ``folder``; ``assumed``: every assumption on its own line.
    """
    order, verdict = made.order, made.verdict
    yield f"{order.name} (order {order.digest or 'built by hand'})"
    yield from assumed_lines(order.assumed, whole=assumed)
    yield outline_line(order)
    for side in "AB":
        cuts = made.plan.side(side)
        yield f"side {side}: {len(cuts)} cuts, about {sum(c.minutes for c in cuts):.0f} min of cutting"
    yield from cutter_lines(order, made.plan)
    yield from measure_lines(verdict.measures, order.units)
    yield from minute_lines(verdict.measures, order.units)
    yield from note_lines(made.notes)
    yield from finding_lines(verdict, order)
    yield told(BENCH, order.units)
    yield from file_lines(folder, written, proved=verdict.ok)

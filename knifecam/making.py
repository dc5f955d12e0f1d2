"""From an order to proved programs: plan, write, judge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from knifecam.errors import OrderError, PlanError, telling_in
from knifecam.planning import Plan, lay_out
from knifecam.planning.feasible import feasible
from knifecam.planning.notes import waste_notes
from knifecam.program import Program, align_program, offsets_program, write_program
from knifecam.quantity import told
from knifecam.shop import Order
from knifecam.shop.consistency import contradictions
from knifecam.shop.remarks import remarks
from knifecam.shop.unstated import with_unstated

if TYPE_CHECKING:
    from knifecam.simulator.judging import Judged
    from knifecam.simulator.misplaced import Misplacement
    from knifecam.simulator.verdict import Verdict

CELL = 0.05
"""mm: the grid's cell; what is measured to micrometres is measured by sights, not by the grid."""


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


def make(order: Order, *, cell: float = CELL) -> Made:
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
    refusals = (*contradictions(order), *feasible(order))
    if refusals:
        raise OrderError(_told(order, refusals))
    try:
        plan = lay_out(order)
        programs = (write_program(order, plan, "A"), write_program(order, plan, "B"))
        return plan, programs, align_program(order, plan)
    except PlanError as error:
        raise PlanError(_told(order, error.said)) from error


def _told(order: Order, lines: Sequence[str]) -> list[str]:
    """Return refusals, once each, with the values they rest on that the order did not state."""
    numbers = [c.number for c in order.cutters]
    return with_unstated(order.assumed, numbers, dict.fromkeys(lines))


def check(order: Order, texts: tuple[str | None, str | None], *, cell: float = CELL) -> Judged:
    """Return the judgement of two programs' texts, whoever wrote them; None for a side left out."""
    return _judge(order, texts, cell)


def check_misplaced(
    order: Order,
    texts: tuple[str | None, str | None],
    places: Sequence[Misplacement],
    *,
    cell: float = CELL,
) -> tuple[Judged, ...]:
    """Return the judgement for each way the plate may lie on side B; side A is cut once."""
    from knifecam.simulator.judging import judge_misplaced

    with telling_in(order.units):
        return tuple(judge_misplaced(order, texts, places, cell=cell))


def _judge(order: Order, texts: tuple[str | None, str | None], cell: float) -> Judged:
    from knifecam.simulator.judging import judge

    with telling_in(order.units):
        return judge(order, texts, cell=cell)

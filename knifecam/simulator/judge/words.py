"""Syntax, zeros, offsets, path mode and restart: what the words alone give away."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.curve import RAPID
from knifecam.errors import ProgramError
from knifecam.shop import Setup
from knifecam.simulator.case import Case
from knifecam.simulator.judge.hit import Told, at_line, folded
from knifecam.simulator.reader import lines_of
from knifecam.simulator.restart import cut_starts, inherited
from knifecam.simulator.side import Side
from knifecam.simulator.trace import CONTINUOUS
from knifecam.simulator.verdict import Finding

OFFSET_NAMES = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")
CLEARING_SHIFT = 921


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds syntax, work-offset, stale-zero, path-mode and restart."""
    for name, error in case.unread:
        yield at_line("syntax", name, error.line, error.message, "write it as RS274/NGC has it")
    for side in case.given():
        yield from _skippable(side)
        yield from _work_offset(side, case.order.setup.offsets)
        yield from _stale_zero(side)
        yield from _path_mode(side)
        yield from _restart(side, case.order.setup)


def _skippable(side: Side) -> Iterator[Finding]:
    """Yield the first line with a slash: whether it runs depends on a switch of the mill."""
    lines = lines_of(side.text)
    slashed = [k for k, line in enumerate(lines, start=1) if line.lstrip().startswith("/")]
    if slashed:
        more = f", and {len(slashed) - 1} more" if len(slashed) > 1 else ""
        sentence = (
            f"the line begins with a slash{more}: whether it runs depends on a switch of the mill, so"
            " that there are two programs and one was judged"
        )
        yield at_line("syntax", side.name, slashed[0], sentence, "leave the line out or the slash")


def _work_offset(side: Side, offsets: tuple[str, str]) -> Iterator[Finding]:
    own = offsets["AB".index(side.name)]
    number = OFFSET_NAMES.index(own) + 1 if own in OFFSET_NAMES else 0
    wrong = np.flatnonzero(side.trace.offset != number)

    def tell(k: int) -> Told:
        found = OFFSET_NAMES[int(side.trace.offset[wrong[k]]) - 1]
        return f"moves in {found}; side {side.name} has its zero in {own}", None, None

    yield from folded("work-offset", side, wrong, tell=tell, remedy=f"select {own} before moving")


def _stale_zero(side: Side) -> Iterator[Finding]:
    for act in side.trace.acts:
        if act.kind == "set-offset":
            sentence = "G10 overwrites a work offset that was touched off at the mill"
            remedy = "keep G10 out of cutting programs; set zeros in a program of their own"
            yield at_line("stale-zero", side.name, act.line, sentence, remedy)
        elif act.kind == "shift" and round(act.number) != CLEARING_SHIFT:
            code = f"{act.number / 10:g}"
            sentence = f"G{code} shifts the zero that was touched off at the mill"
            remedy = "remove it; only G92.1, which clears such shifts, may stand here"
            yield at_line("stale-zero", side.name, act.line, sentence, remedy)


def _path_mode(side: Side) -> Iterator[Finding]:
    rounded = np.flatnonzero((side.trace.path == CONTINUOUS) & (side.motions.kind != RAPID))

    def tell(_: int) -> Told:
        return "feeds in G64: corners are rounded by an amount the text does not tell", None, None

    yield from folded("path-mode", side, rounded, tell=tell, remedy="put G61 in the start block")


def _restart(side: Side, setup: Setup) -> Iterator[Finding]:
    for line in cut_starts(side.text):
        try:
            missing = inherited(side.text, line, setup)
        except ProgramError as error:
            missing = (error.message,)
        if missing:
            sentence = f"this cut cannot be started alone: it inherits {', '.join(missing)}"
            remedy = "state every mode, cutter, spindle, air and height again where a cut begins"
            yield at_line("restart", side.name, line, sentence, remedy)

"""What the text of a program gives away alone: its words, probing, and travel."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.curve import RAPID
from knifecam.errors import ProgramError
from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding, Message, at_line, at_motion, first_and_worst
from knifecam.measure.case import Case
from knifecam.quantity import bare, mm
from knifecam.rs274.program_reader import lines_of
from knifecam.rs274.restart_points import cut_starts, inherited
from knifecam.rs274.trace import CONTINUOUS
from knifecam.shop import Setup
from knifecam.sweep.side_program import SideProgram, bounds, stored_of

OFFSET_NAMES = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")


CLEARING_SHIFT = 921


def find_words(case: Case) -> Iterator[Finding]:
    """Yield findings of the kinds syntax, work-offset, stale-zero, path-mode and restart."""
    for name, error in case.unread:
        yield at_line(Kind.SYNTAX, name, error.line, error.message)
    for side in case.given():
        yield from _skippable(side)
        yield from _work_offset(side, case.order.setup.offsets)
        yield from _stale_zero(side)
        yield from _path_mode(side)
        yield from _restart(side, case.order.setup)


def _skippable(side: SideProgram) -> Iterator[Finding]:
    """Yield the first line with a slash: whether it runs depends on a switch of the mill."""
    lines = lines_of(side.text)
    slashed = [k for k, line in enumerate(lines, start=1) if line.lstrip().startswith("/")]
    if slashed:
        more = f", and {len(slashed) - 1} more" if len(slashed) > 1 else ""
        sentence = (
            f"the line begins with a slash{more}: whether it runs depends on a switch of the mill, so"
            " that there are two programs and one was judged"
        )
        yield at_line(
            Kind.SYNTAX, side.name, slashed[0], sentence, "leave the line out or the slash"
        )


def _work_offset(side: SideProgram, offsets: tuple[str, str]) -> Iterator[Finding]:
    own = offsets["AB".index(side.name)]
    number = OFFSET_NAMES.index(own) + 1 if own in OFFSET_NAMES else 0
    wrong = np.flatnonzero(side.trace.offset != number)

    def tell(k: int) -> Message:
        found = OFFSET_NAMES[int(side.trace.offset[wrong[k]]) - 1]
        return f"moves in {found}; side {side.name} has its zero in {own}", None, None

    yield from first_and_worst(
        Kind.WORK_OFFSET, side, wrong, tell=tell, remedy=f"select {own} before moving"
    )


def _stale_zero(side: SideProgram) -> Iterator[Finding]:
    for act in side.trace.acts:
        if act.kind == "set-offset":
            sentence = "G10 overwrites a work offset that was touched off at the mill"
            yield at_line(Kind.STALE_ZERO, side.name, act.line, sentence)
        elif act.kind == "shift" and round(act.number) != CLEARING_SHIFT:
            code = f"{act.number / 10:g}"
            sentence = f"G{code} shifts the zero that was touched off at the mill"
            remedy = "remove it; only G92.1, which clears such shifts, may stand here"
            yield at_line(Kind.STALE_ZERO, side.name, act.line, sentence, remedy)


def _path_mode(side: SideProgram) -> Iterator[Finding]:
    rounded = np.flatnonzero((side.trace.path == CONTINUOUS) & (side.motions.kind != RAPID))

    def tell(_: int) -> Message:
        return "feeds in G64: corners are rounded by an amount the text does not tell", None, None

    yield from first_and_worst(Kind.PATH_MODE, side, rounded, tell=tell)


def _restart(side: SideProgram, setup: Setup) -> Iterator[Finding]:
    for line in cut_starts(side.text):
        try:
            missing = inherited(side.text, line, stored_of(setup))
        except ProgramError as error:
            missing = (error.message,)
        if missing:
            sentence = f"this cut cannot be started alone: it inherits {', '.join(missing)}"
            yield at_line(Kind.RESTART, side.name, line, sentence)


def find_probe(case: Case) -> Iterator[Finding]:
    """Yield a finding of the kind probe for every G38.2."""
    for side in case.given():
        for act in side.trace.acts:
            if act.kind == "probe":
                yield at_motion(Kind.PROBE, side, act.before, _told(side, act.before))


def _told(side: SideProgram, motion: int) -> Message:
    cutter = int(side.trace.cutter[motion])
    if side.trace.spindle[motion] != 0:
        return f"cutter {cutter} probes while it turns: it mills what it should touch", None, None
    if not side.contact[motion]:
        sentence = f"cutter {cutter} probes and meets no metal up to the end: the mill stops there"
        return sentence, None, None
    sentence = f"cutter {cutter} probes: the order has no probe, and no text tells where it stops"
    return sentence, None, None


def find_travel(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind travel."""
    mill = case.order.setup.mill
    for side in case.given():
        if not len(side):
            continue
        low, high = bounds(side)
        zero = None if mill.machine_zero is None else mill.machine_zero["AB".index(side.name)]
        for axis, name in enumerate("XYZ"):
            extent, way = float(high[axis] - low[axis]), mill.travel[axis]
            if zero is None:
                if not extent <= way + 1e-6:
                    sentence = (
                        f"{name} moves over {mm(extent):.3f}; the mill's travel is {mm(way):g}"
                    )
                    yield at_line(Kind.TRAVEL, side.name, 0, sentence, measured=extent, allowed=way)
                continue
            first, last = zero[axis] + float(low[axis]), zero[axis] + float(high[axis])
            begin, end = mill.travel_from[axis], mill.travel_from[axis] + way
            if not (first >= begin - 1e-6 and last <= end + 1e-6):
                sentence = (
                    f"{name} moves from {bare(first):.3f} to {mm(last):.3f} in machine coordinates; "
                    f"the mill has {bare(begin):g} to {mm(end):g}"
                )
                yield at_line(
                    Kind.TRAVEL, side.name, 0, sentence, _remedy(side.name, axis, extent <= way + 1e-6),
                    measured=last if last > end else first, allowed=end if last > end else begin,
                )  # fmt: skip


def _remedy(side: str, axis: int, fits: bool) -> str:
    """Return what would do: where the way is long enough, its ends or the zero are elsewhere."""
    if not fits:
        return "use a mill of longer travel"
    counted = f"check mill.travel_from[{axis + 1}], where the machine coordinates of the axis begin"
    if axis == 2:
        counted += " (minus its travel where Z counts down from the top)"
    return f"{counted}, and mill.machine_zero_{side.lower()}; or move the plate's zero on the table"

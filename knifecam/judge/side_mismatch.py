"""What side A and side B leave at the same place, compared."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding
from knifecam.judge.first_and_worst import rounded_place
from knifecam.measure.case import Case
from knifecam.measure.measured_openings import MeasuredOpening
from knifecam.quantity import mm

Floats = NDArray[np.float64]

WALL_STEP_MM = 0.001
"""mm: how far the walls of both sides may stand apart, arithmetic and a perfect flip."""


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind mismatch."""
    if not case.whole:
        return
    yield from _outline(case)
    for opening in case.openings:
        yield from _axes(opening)


def steps_between(case: Case) -> np.ndarray:
    """Return by how much side B's wall stands out past side A's, (n,) mm; NaN where not judged."""
    upper, lower = case.wall.sides
    if upper is None or lower is None:
        return np.full(len(case.wall.stations), np.nan)
    a, b = upper.error[-1], lower.error[0]
    if not case.wall.there.all():
        a = _own(upper.error, case.wall.heights > case.wanted.floor_b, highest=True)
        b = _own(lower.error, case.wall.heights < case.wanted.tab_low, highest=False)
    fit = np.isfinite(a) & np.isfinite(b) & upper.reachable & lower.reachable
    return np.where(fit, np.where(fit, b, 0.0) - np.where(fit, a, 0.0), np.nan)


def _own(error: Floats, own: NDArray[np.bool_], *, highest: bool) -> Floats:
    """Return a side's error at the height nearest its face where there is a wall, (n,) mm.

    Only heights that no tab and no overlap touches count; inf where there is none.
    """
    rows = error[own][::-1] if highest else error[own]
    if not len(rows):
        return np.full(error.shape[1], np.inf)
    first = np.isfinite(rows).argmax(axis=0)
    return np.asarray(rows[first, np.arange(rows.shape[1])])


def _outline(case: Case) -> Iterator[Finding]:
    step = steps_between(case)
    size = np.where(np.isfinite(step), np.abs(step), 0.0)
    k = int(np.argmax(size))
    if not size[k] > WALL_STEP_MM:
        return
    lower, side = case.wall.sides[1], case.sides[1]
    line = int(side.trace.line[lower.motion[0, k]]) if side and lower else 0
    sentence = (
        f"the walls of side A and side B stand {mm(size[k]):.4f} apart; {mm(WALL_STEP_MM):g} is"
        " allowed"
    )
    yield Finding(
        kind=Kind.MISMATCH,
        side="B",
        line=line,
        message=sentence,
        place=rounded_place([*case.wall.points[k], case.wanted.floor_a]),
        measured=float(size[k]),
        allowed=WALL_STEP_MM,
    )


def apart(opening: MeasuredOpening) -> float | None:
    """Return how far the axes of a bore's two sides stand apart, mm; None unless both are known."""
    a, b = opening.rounds
    if a is None or b is None:
        return None
    return float(np.hypot(a.x - b.x, a.y - b.y))


def _axes(opening: MeasuredOpening) -> Iterator[Finding]:
    gap = apart(opening)
    if gap is None or not gap > WALL_STEP_MM or opening.bore is None:
        return
    sentence = (
        f"the axes of {opening.name} from side A and side B stand {mm(gap):.4f} apart; "
        f"{mm(WALL_STEP_MM):g} is allowed"
    )
    x, y = opening.bore.centre
    yield Finding(
        kind=Kind.MISMATCH, side="B", line=0, message=sentence, place=rounded_place([x, y, 0.0]),
        measured=gap, allowed=WALL_STEP_MM,
    )  # fmt: skip

"""How many hits of one kind become few findings: the first and the worst, with a count."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from knifecam.judge.finding_kinds import Kind
from knifecam.judge.findings import Finding
from knifecam.sweep.side_program import SideProgram

LAST_DIGIT_MM = 2e-4
"""mm: heights closer than this are one: programs end at 0.0001 mm or at 0.00001 in."""

Message = tuple[str, float | None, float | None]
"""A sentence, what was measured and what was allowed."""


def first_and_worst(
    kind: Kind,
    side: SideProgram,
    motions: ArrayLike,
    *,
    tell: Callable[[int], Message],
    remedy: str = "",
    badness: ArrayLike | None = None,
    places: NDArray[np.float64] | None = None,
) -> Iterator[Finding]:
    """Yield the first and, where it is another line, the worst of many hits.

    Parameters
    ----------
    motions : (K,) int
        Index of the motion of each hit on its side.
    tell
        Gives sentence, measure and limit of the hit ``k`` in 0..K-1.
    remedy
        Given where these hits have a better one than their kind.
    badness : (K,), optional
        The greatest is the worst.
    places : (K, 3), optional
        In the part frame, mm; without them the ends of the motions are taken.
    """
    index = np.asarray(motions, dtype=np.int64)
    if not len(index):
        return
    lines = side.trace.line[index]
    first = int(np.argmin(lines))
    chosen = [first]
    if badness is not None:
        worst = int(np.argmax(np.asarray(badness)))
        if lines[worst] != lines[first]:
            chosen.append(worst)
    others = len(np.unique(lines)) - len(chosen)
    for turn, k in enumerate(chosen):
        sentence, measured, allowed = tell(k)
        if turn == 1:
            sentence += " (the worst)"
        if turn == 0 and others > 0:
            sentence += f" (and {others} more line{'s' if others > 1 else ''})"
        where = side.part_stop[index[k]] if places is None else places[k]
        yield Finding(
            kind=kind,
            side=side.name,
            line=int(lines[k]),
            message=sentence,
            place=rounded_place(where),
            measured=measured,
            allowed=allowed,
            remedy=remedy,
            rests_on=(f"cutter {int(side.trace.cutter[index[k]])}",),
        )


def at_motion(
    kind: Kind, side: SideProgram, motion: int, told: Message, remedy: str = ""
) -> Finding:
    """Return one finding at one motion."""
    return next(first_and_worst(kind, side, [motion], tell=lambda _: told, remedy=remedy))


def at_line(
    kind: Kind, side: str, line: int, sentence: str, remedy: str = "", **rest: Any
) -> Finding:
    """Return a finding of a line of text that is not a motion, or of the whole side (line 0)."""
    return Finding(kind=kind, side=side, line=line, message=sentence, remedy=remedy, **rest)


def rounded_place(where: ArrayLike) -> tuple[float, float, float] | None:
    """Return plain numbers, rounded to 0.1 um; None where the place is not known."""
    x, y, z = (round(float(v), 4) + 0.0 for v in np.asarray(where, dtype=float))
    return (x, y, z) if np.isfinite([x, y, z]).all() else None

"""Motions as lines of RS-274."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.curve import ARC, RAPID, Motions
from knifecam.errors import PlanError
from knifecam.program.number import snapped, word

FLAT_ARC = 5e-5
"""mm: an arc whose chord strays less from it is written as a line."""

FEED_STEP = 1.0
"""mm/min: feeds are rounded down to whole steps."""


def motion_lines(motions: Motions) -> Iterator[tuple[str, int]]:
    """Yield (line, index of its motion) for motions in program coordinates.

    The first motion is the rapid to the start: Z alone, then X and Y. Coordinates that do not
    change are left out, but every line has an axis word; arcs always name X and Y, so that a full
    circle does. Motions that vanish in rounding are left out.

    Raises
    ------
    PlanError
        For an arc that would close into an unintended full circle.
    """
    at: tuple[float, ...] | None = None
    feed = None
    for k in range(len(motions)):
        stop = tuple(snapped(v) for v in motions.stop[k])
        if at is None:
            yield f"G0 {word('Z', stop[2])}", k
            yield f"G0 {word('X', stop[0])} {word('Y', stop[1])}", k
            at = stop
            continue
        words, drawn = _words(motions, k, at, stop)
        if not words:
            continue
        code = "G0" if motions.kind[k] == RAPID else drawn
        line = f"{code} {words}"
        if motions.kind[k] != RAPID:
            wanted = float(np.floor(motions.feed[k] / FEED_STEP + 1e-9) * FEED_STEP)
            if wanted != feed:
                line += f" {word('F', wanted, 1)}"
                feed = wanted
        yield line, k
        at = stop


def _words(
    motions: Motions, k: int, at: tuple[float, ...], stop: tuple[float, ...]
) -> tuple[str, str]:
    changed = [
        word(letter, new) for letter, new, old in zip("XYZ", stop, at, strict=True) if new != old
    ]
    if motions.kind[k] != ARC:
        return " ".join(changed), "G1"
    full = abs(motions.turns[k]) >= 1 - 1e-12
    chord = float(np.hypot(stop[0] - at[0], stop[1] - at[1]))
    swept = 2 * np.pi * abs(float(motions.turns[k]))
    if not full and swept < np.pi and chord * np.tan(swept / 4) / 2 < FLAT_ARC:
        return " ".join(changed), "G1"
    if not full and chord < 0.002:
        raise PlanError(
            f"an arc of {swept:.3f} rad ends {chord:.4f} mm from its start and would be read as a full"
            " circle; no piece may be shorter than 0.002 mm"
        )
    code = "G3" if motions.turns[k] > 0 else "G2"
    arm = [word("I", motions.centre[k, 0] - at[0]), word("J", motions.centre[k, 1] - at[1])]
    flat = [word("X", stop[0]), word("Y", stop[1])]
    deep = [word("Z", stop[2])] if stop[2] != at[2] else []
    return " ".join([*flat, *deep, *arm]), code

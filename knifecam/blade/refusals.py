"""Why a blade cannot be made, whatever the cutters.

Closed inequalities over a blade's figures. Each refusal is one line: the key and its figure, the
rule, the place, and what would do.
"""

from __future__ import annotations

from knifecam.blade.blade import Blade
from knifecam.blade.refusals_bevel import FIGURES, PLACES, doubled, lands, metal
from knifecam.blade.refusals_detail import broken, jimped
from knifecam.blade.running_over import crossing, running_over


def refused(blade: Blade) -> tuple[str, ...]:
    """Return why the blade cannot be made, one line a reason; nothing when it can.

    Where a bevel's own figures are wrong, or two bevels lie on one edge, what follows from them is
    not looked at.
    """
    lines = [line for bevel in blade.bevels for rule in FIGURES for line in rule(bevel, blade)]
    lines = lines or list(doubled(blade))
    if lines:
        return tuple(lines)
    places = (*PLACES, crossing, running_over)
    lines = [line for bevel in blade.bevels for rule in places for line in rule(bevel, blade)]
    made = list(lands(blade)) or list(metal(blade))
    return (*lines, *made, *broken(blade), *jimped(blade))

"""Why a blade cannot be made, whatever the cutters.

Closed inequalities over a blade's figures. Each refusal is one line: the key and its figure, the
rule, the place, and what would do.
"""

from __future__ import annotations

from knifecam.blade.blade import Blade
from knifecam.blade.refusals_bevel import FIGURES, PLACES, lands, metal
from knifecam.blade.refusals_detail import broken, jimped


def refused(blade: Blade) -> tuple[str, ...]:
    """Return why the blade cannot be made, one line a reason; nothing when it can.

    Where a bevel's own figures are wrong, what follows from them is not looked at.
    """
    lines = [line for bevel in blade.bevels for rule in FIGURES for line in rule(bevel, blade)]
    if lines:
        return tuple(lines)
    lines = [line for bevel in blade.bevels for rule in PLACES for line in rule(bevel, blade)]
    rules = (metal, lands, broken, jimped)
    return tuple(lines + [line for rule in rules for line in rule(blade)])

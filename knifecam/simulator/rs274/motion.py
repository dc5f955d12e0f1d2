"""The motion a line makes, by its code.

References: NISTIR 6556, 3.5 (G codes) and Table 8 (step 20).
"""

from __future__ import annotations

from knifecam.errors import ProgramError
from knifecam.simulator.rs274 import compensated, cycles
from knifecam.simulator.rs274.codes import ARCS, CYCLES, PROBE_G38_2, RAPID_G0
from knifecam.simulator.rs274.modal import State
from knifecam.simulator.rs274.probe import probe
from knifecam.simulator.rs274.record import Record
from knifecam.simulator.rs274.travel import (
    FEED_NEEDS,
    Words,
    axis_bits,
    in_machine,
    rapid,
    rely_for_rapid,
    straight,
    target,
)
from knifecam.simulator.rs274.turning import turn


def move(
    motion: int, words: Words, state: State, record: Record, line: int, *, in_mill: bool
) -> None:
    """Send the tip where the words say and record the motions.

    Raises
    ------
    ProgramError
        For motions the standard forbids, and those that depend on what the text does not tell.
    """
    if motion in CYCLES:
        cycles.run(motion, words, state, record, line)
        return
    if in_mill and state.hand:
        raise ProgramError("G53 cannot be used while compensation is on")
    stop = in_machine(words, state) if in_mill else target(words, state)
    if motion == RAPID_G0:
        rely_for_rapid(words, state)
    else:
        state.relied |= FEED_NEEDS & ~state.given
    if motion == PROBE_G38_2:
        probe(words, stop, state, record, line)
    elif state.hand:
        compensated.move(motion, words, stop, state, record, line)
    elif motion == RAPID_G0:
        rapid(stop, axis_bits(words), state, record, line)
    elif motion in ARCS:
        turn(motion, words, stop, state, record, line)
    else:
        straight(motion, words, stop, state, record, line)

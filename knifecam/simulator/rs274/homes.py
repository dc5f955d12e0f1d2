"""The places stored in the mill: G28 and G30.

References: NISTIR 6556, 3.5.8 (G28, G30), Table 2 (parameters).
"""

from __future__ import annotations

from knifecam.errors import ProgramError
from knifecam.simulator.rs274 import modal
from knifecam.simulator.rs274.codes import HOME_G28, g_name
from knifecam.simulator.rs274.lines import HOMES
from knifecam.simulator.rs274.modal import AXES, State
from knifecam.simulator.rs274.record import Record
from knifecam.simulator.rs274.travel import (
    Words,
    axis_bits,
    from_machine,
    rapid,
    rely_for_rapid,
    target,
)


def go_home(code: int, words: Words, state: State, record: Record, line: int) -> None:
    """Do G28 or G30: by rapid where the axis words lead, if there are any, then home.

    Raises
    ------
    ProgramError
        Under compensation, and where the text does not tell where home lies.
    """
    name = g_name(code)
    if state.hand:
        raise ProgramError(f"{name} cannot be used while compensation is on")
    rely_for_rapid({"z": 0.0}, state)
    home = [_home(code, axis, state) for axis in range(3)]
    between = axis_bits(words)
    record.act("home", line, code)
    if between:
        state.add_motions(1)
        rapid(target(words, state), between, state, record, line)
    rapid((home[0], home[1], home[2]), modal.ALL_KNOWN, state, record, line)


def _home(code: int, axis: int, state: State) -> float:
    """Return where home lies along an axis, mm in the work offset in force."""
    first = HOMES[0 if code == HOME_G28 else 6]
    number, name = first + axis, f"{g_name(code)} {AXES[axis].upper()}"
    if number not in state.parameters and not state.tolerant:
        raise ProgramError(
            f"{g_name(code)} is not understood: #{number}, where home lies, is stored in the mill "
            "and the text does not tell it"
        )
    return from_machine(name, axis, state.parameter(number) * state.units, state)

"""Reads the file in which a mill keeps its parameters.

A header, one empty line, then the number of a parameter, its value, and what is not read: a third
column is a comment for people.

References: NISTIR 6556, Table 2 (parameters) and 3.2.1 (the file).
"""

from __future__ import annotations

import re

from knifecam.errors import ProgramError
from knifecam.simulator.rs274.expressions import NUMBER
from knifecam.simulator.rs274.lines import LARGEST, PARAMETER_LIMIT

SYSTEM = 5220
"""The parameter that holds the number of the work offset in force, 1 to 9."""

REQUIRED = tuple(
    first + axis
    for first in (5161, 5181, 5211, SYSTEM, *range(5221, 5382, 20))
    for axis in range(1 if first == SYSTEM else 3)
)
"""Homes, shift, work offset in force and the nine zeros; those of X, Y and Z only."""

_ROW = re.compile(rf"[ \t]*([0-9]{{1,9}})[ \t]+({NUMBER.pattern})(?:[ \t\r].*)?", re.DOTALL)


def read_parameters(text: str) -> dict[int, float]:
    """Return the parameters of a parameter file by their numbers.

    Raises
    ------
    ProgramError
        For a row that is not a number and a value, numbers that do not ascend or do not exist,
        a required one that is missing, and a work offset in force that is not 1 to 9.
    """
    lines = text.split("\n")
    empty = next((k for k, raw in enumerate(lines) if not raw.strip(" \t\r")), None)
    if empty is None or (empty == len(lines) - 1 and len(lines) > 1):
        raise ProgramError("an empty line must stand between the header and the parameters")
    if lines[-1] == "":
        lines.pop()
    found: dict[int, float] = {}
    last = 0
    for number, raw in enumerate(lines[empty + 1 :], empty + 2):
        index, value = _row(raw, number)
        if not index > last:
            raise ProgramError(f"#{index} must be greater than the number before it", number)
        found[index], last = value, index
    return _checked(found)


def _row(raw: str, line: int) -> tuple[int, float]:
    match = _ROW.fullmatch(raw)
    if not match:
        raise ProgramError("a row must hold the number of a parameter and its value", line)
    index, value = int(match[1]), float(match[2])
    if not 1 <= index <= PARAMETER_LIMIT:
        raise ProgramError(f"#{index} must be from #1 to #{PARAMETER_LIMIT}", line)
    if not abs(value) <= LARGEST:
        raise ProgramError(f"#{index} is larger than {LARGEST:g}", line)
    return index, value


def _checked(found: dict[int, float]) -> dict[int, float]:
    missing = [index for index in REQUIRED if index not in found]
    if missing:
        raise ProgramError(f"#{missing[0]} is missing; a parameter file must hold it")
    if found[SYSTEM] not in range(1, 10):
        raise ProgramError(f"#{SYSTEM}={found[SYSTEM]:g} must be from 1 to 9, a work offset")
    return found

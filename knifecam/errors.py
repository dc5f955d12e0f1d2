"""The errors knifecam raises: one base class, one kind for each thing a maker hands over.

Every message says what was found, the rule it breaks, where, and what would do.
Several troubles of one input are collected and raised together, one line each.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from knifecam.quantity import told


class KnifecamError(Exception):
    """What every error of this library is; ``lines`` holds one trouble each, and each trouble once.

    ``said`` are the same lines with their quantities in both units (`knifecam.quantity`), for an
    error that is made of this one. ``lines`` are in mm until they are told otherwise.
    """

    lines: tuple[str, ...]

    def __init__(self, lines: str | Sequence[str]) -> None:
        super().__init__()
        self.said = (lines,) if isinstance(lines, str) else tuple(dict.fromkeys(lines))
        self.tell_in("mm")

    def tell_in(self, units: str) -> None:
        """Tell the lines in one unit, "mm" or "in"."""
        self.lines = tuple(told(line, units) for line in self.said)
        self.args = ("\n".join(self.lines),)


@contextmanager
def telling_in(units: str) -> Iterator[None]:
    """Have every error that leaves the block told in one unit, "mm" or "in"."""
    try:
        yield
    except KnifecamError as error:
        error.tell_in(units)
        raise


class ShapeError(KnifecamError, ValueError):
    """Figures with which no such shape exists."""


class DrawingError(KnifecamError):
    """The drawing cannot be read, joined, or understood; ``problems`` are its records, if any."""

    def __init__(self, lines: str | Sequence[str], problems: Sequence[object] = ()) -> None:
        super().__init__(lines)
        self.problems: tuple[object, ...] = tuple(problems)


class OrderError(KnifecamError):
    """The order is malformed, or asks for what cannot be made."""


class NotTomlError(OrderError):
    """What was given for an order is no TOML."""


class RefusedOrderError(OrderError):
    """The order and its drawing were read as a whole, and ask for what cannot be made."""


class PlanError(KnifecamError):
    """No path does what the order wants within its tolerances."""


class OutputError(KnifecamError):
    """What was made cannot be written where the maker wants it; nothing was changed there."""


class ProgramError(KnifecamError):
    """A program's text is not RS-274, or says what the reader does not understand.

    ``line`` is the 1-based line of the text, 0 where the whole file is meant; ``message`` is told
    without it, ``unplaced`` is the same with its quantities in both units.
    """

    message: str

    def __init__(self, message: str, line: int = 0) -> None:
        self.line = line
        self.unplaced = message
        super().__init__(f"line {line}: {message}" if line else message)

    def tell_in(self, units: str) -> None:
        """Tell the lines and the message in one unit, "mm" or "in"."""
        super().tell_in(units)
        self.message = told(self.unplaced, units)

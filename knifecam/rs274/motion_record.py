"""The columns of a trace while they grow."""

from __future__ import annotations

from array import array
from bisect import bisect_right
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Motions
from knifecam.rs274.modal_state import State
from knifecam.rs274.trace import Act, Trace

_WIDTH = 11
"""Numbers a motion: kind 1, start 3, stop 3, centre 2, turns 1, feed 1."""

_SHAPES = {
    "kind": ((), np.uint8),
    "start": ((3,), np.float64),
    "stop": ((3,), np.float64),
    "centre": ((2,), np.float64),
    "turns": ((), np.float64),
    "feed": ((), np.float64),
    "line": ((), np.int32),
}
_MODES = (
    ("cutter", np.int32),
    ("length", np.int32),
    ("spindle", np.int8),
    ("speed", np.float64),
    ("mist", np.bool_),
    ("flood", np.bool_),
    ("offset", np.int16),
    ("path", np.int8),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """What motions that stand for one thing stand for: ``count`` motions from ``first`` on."""

    first: int
    count: int
    text: str


class Record:
    """Motions and acts in the order they happen; modes are kept once for each change.

    ``columns`` hold the first ``filled`` motions; later ones wait in a plain array, since single
    rows are added faster there. ``reached`` has the bits of the axes known after the last motion.
    """

    __slots__ = (
        "_first", "_known", "_lines", "_modes", "_rows", "acts", "columns", "filled", "notes",
        "reached", "stale",
    )  # fmt: skip

    def __init__(self) -> None:
        self._rows = array("d")
        self._lines = array("i")
        self._modes: list[tuple[float, ...]] = []
        self._first: list[int] = []
        self._known = -1
        self.columns = {name: np.empty((0, *tail), d) for name, (tail, d) in _SHAPES.items()}
        self.filled = 0
        self.stale = True
        self.acts: list[Act] = []
        self.notes: list[Note] = []
        self.reached = 0

    def __len__(self) -> int:
        return self.filled + len(self._lines)

    def act(self, kind: str, line: int, number: float = 0.0, text: str = "") -> None:
        """Add something that is not a motion; the modes may have changed with it."""
        self.acts.append(Act(kind=kind, line=line, before=len(self), number=number, text=text))
        self.stale = True

    def note(self, text: str, line: int, before: int) -> None:
        """Add a comment that stood before motion ``before``; no mode changes with it."""
        self.acts.append(Act(kind="comment", line=line, before=before, text=text))

    def go(self, numbers: tuple[float, ...], line: int, state: State, *, told: int = 0) -> None:
        """Add a motion and send the tip to its stop; ``told`` are the axes known from then on.

        Its kind, start, stop, centre, turns and feed are 11 numbers.
        """
        if self.stale or state.known != self._known:
            self._begin_modes(state)
        self._rows.extend(numbers)
        self._lines.append(line)
        state.x, state.y, state.z = numbers[4:7]
        state.known |= told
        self.reached = state.known

    def take(self, count: int, state: State) -> None:
        """Take in motions that were written to the columns, up to ``count``; all axes are known."""
        if self.stale or state.known != self._known:
            self._begin_modes(state)
        self.filled, self.reached = count, state.known

    def _begin_modes(self, state: State) -> None:
        """Note the modes the motions from now on are made with."""
        self._first.append(len(self))
        self._modes.append((*state.modes(), state.known))
        self._known, self.stale = state.known, False

    def room(self, count: int) -> None:
        """Bring all motions into the columns and make room for ``count`` more."""
        waiting = len(self._lines)
        if self.filled + waiting + count > len(self.columns["line"]):
            self._grow(self.filled + waiting + count)
        if waiting:
            self._settle(waiting)

    def _grow(self, least: int) -> None:
        size = max(least, 2 * len(self.columns["line"]))
        for name, old in self.columns.items():
            new = np.empty((size, *old.shape[1:]), old.dtype)
            new[: self.filled] = old[: self.filled]
            self.columns[name] = new

    def _settle(self, waiting: int) -> None:
        table = np.frombuffer(self._rows, np.float64).reshape(-1, _WIDTH)
        rows = slice(self.filled, self.filled + waiting)
        c = self.columns
        c["kind"][rows], c["line"][rows] = table[:, 0], self._lines
        c["start"][rows], c["stop"][rows] = table[:, 1:4], table[:, 4:7]
        c["centre"][rows], c["turns"][rows], c["feed"][rows] = (
            table[:, 7:9],
            table[:, 9],
            table[:, 10],
        )
        del table
        self.filled += waiting
        self._rows, self._lines = array("d"), array("i")

    def row(self, motion: int) -> tuple[float, ...]:
        """Return the numbers of a motion: kind, start, stop, centre, turns and feed."""
        self.room(0)
        names = ("kind", "start", "stop", "centre", "turns", "feed")
        return tuple(float(v) for name in names for v in np.ravel(self.columns[name][motion]))

    def known_before(self, motion: int) -> int:
        """Return the bits of the axes known before a motion."""
        return int(self._modes[bisect_right(self._first, motion) - 1][-1])

    def known_after(self, motion: int) -> int:
        """Return the bits of the axes known after a motion of the last line."""
        return self.known_before(motion + 1) if motion + 1 < len(self) else self.reached

    def trace(self) -> Trace:
        """Return all motions and acts as a trace."""
        self.room(0)
        c = {name: column[: self.filled] for name, column in self.columns.items()}
        line = c.pop("line")
        lengths = np.diff([*self._first, self.filled])
        table = np.array(self._modes, np.float64).reshape(-1, len(_MODES) + 1)
        modes: dict[str, NDArray[Any]] = {
            name: np.repeat(table[:, k].astype(dtype), lengths)
            for k, (name, dtype) in enumerate(_MODES)
        }
        bits = (table[:, -1:].astype(np.uint8) & np.array([1, 2, 4], np.uint8)) > 0
        known = np.repeat(bits, lengths, axis=0)
        for column in (line, known, *modes.values()):
            column.setflags(write=False)
        return Trace(motions=Motions(**c), line=line, acts=tuple(self.acts), known=known, **modes)

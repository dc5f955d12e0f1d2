"""The columns of a trace while they grow."""

from __future__ import annotations

from array import array
from dataclasses import dataclass

import numpy as np

from knifecam.curve import Motions
from knifecam.simulator.rs274.modal import State
from knifecam.simulator.trace import Act, Trace

_WIDTH = 11
"""Numbers a motion: kind 1, start 3, stop 3, centre 2, turns 1, feed 1."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """What motions that stand for one thing stand for: ``count`` motions from ``first`` on."""

    first: int
    count: int
    text: str


class Record:
    """Motions and acts in the order they happen; modes are kept once for each change.

    ``reached`` has the bits of the axes known after the last motion.
    """

    __slots__ = ("acts", "known", "line", "modes", "notes", "numbers", "reached", "rows", "stale")

    def __init__(self) -> None:
        self.numbers = array("d")
        self.line = array("i")
        self.known = array("B")
        self.rows = array("i")
        self.modes: list[tuple[float, ...]] = []
        self.stale = True
        self.acts: list[Act] = []
        self.notes: list[Note] = []
        self.reached = 0

    def __len__(self) -> int:
        return len(self.line)

    def act(self, kind: str, line: int, number: float = 0.0, text: str = "") -> None:
        """Add something that is not a motion; the modes may have changed with it."""
        self.acts.append(Act(kind=kind, line=line, before=len(self), number=number, text=text))
        self.stale = True

    def motion(self, numbers: tuple[float, ...], line: int, state: State) -> None:
        """Add a motion: its kind, start, stop, centre, turns and feed, 11 numbers."""
        if self.stale:
            self.modes.append(state.modes())
            self.stale = False
        self.numbers.extend(numbers)
        self.line.append(line)
        self.known.append(state.known)
        self.rows.append(len(self.modes) - 1)

    def go(self, numbers: tuple[float, ...], line: int, state: State, *, told: int = 0) -> None:
        """Add a motion and send the tip to its stop; ``told`` are the axes known from then on."""
        self.motion(numbers, line, state)
        state.x, state.y, state.z = numbers[4:7]
        state.known |= told
        self.reached = state.known

    def row(self, motion: int) -> tuple[float, ...]:
        """Return the numbers of a motion: kind, start, stop, centre, turns and feed."""
        return tuple(self.numbers[_WIDTH * motion : _WIDTH * (motion + 1)])

    def known_after(self, motion: int) -> int:
        """Return the bits of the axes known after a motion of the last line."""
        return self.known[motion + 1] if motion + 1 < len(self) else self.reached

    def trace(self) -> Trace:
        """Return all motions and acts as a trace."""
        table = np.frombuffer(self.numbers, np.float64).reshape(-1, _WIDTH)
        rows = np.array(self.rows, dtype=np.intp)
        modes = np.array(self.modes, dtype=np.float64).reshape(-1, 8)[rows]
        cutter, length, spindle, speed, mist, flood, offset, path = modes.T
        known = np.array(self.known, dtype=np.uint8)
        return Trace(
            motions=Motions(
                kind=table[:, 0].astype(np.uint8),
                start=table[:, 1:4],
                stop=table[:, 4:7],
                centre=table[:, 7:9],
                turns=table[:, 9],
                feed=table[:, 10],
            ),
            line=np.array(self.line, dtype=np.int32),
            cutter=cutter,
            length=length,
            spindle=spindle,
            speed=speed,
            mist=mist,
            flood=flood,
            offset=offset,
            path=path,
            acts=tuple(self.acts),
            known=(known[:, None] & np.array([1, 2, 4], np.uint8)) > 0,
        )

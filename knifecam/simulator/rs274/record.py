"""The columns of a trace while they grow."""

from __future__ import annotations

from array import array

import numpy as np

from knifecam.curve import Motions
from knifecam.simulator.rs274.modal import State
from knifecam.simulator.trace import Act, Trace

_WIDTH = 11
"""Numbers a motion: kind 1, start 3, stop 3, centre 2, turns 1, feed 1."""


class Record:
    """Motions and acts in the order they happen; modes are kept once for each change."""

    __slots__ = ("acts", "known", "line", "modes", "numbers", "rows", "stale")

    def __init__(self) -> None:
        self.numbers = array("d")
        self.line = array("i")
        self.known = array("B")
        self.rows = array("i")
        self.modes: list[tuple[float, ...]] = []
        self.stale = True
        self.acts: list[Act] = []

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

    def last(self) -> tuple[float, ...]:
        """Return the numbers of the last motion: kind, start, stop, centre, turns and feed."""
        return tuple(self.numbers[-_WIDTH:])

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

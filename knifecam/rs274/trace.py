"""What a program made the mill do: the reader's result, before any plate is cut."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from knifecam.curve import Motions
from knifecam.curve.curve import frozen

OFF, CLOCKWISE, COUNTER_CLOCKWISE = 0, 1, -1
EXACT_PATH, EXACT_STOP, CONTINUOUS = 0, 1, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Act:
    """Something that is not a motion.

    ``kind`` is one of "stop" (M0, M1, M60), "end" (M2, M30), "change" (M6), "spindle" (M3, M4, M5),
    "coolant" (M7, M8, M9), "dwell" (G4), "length" (G43, G49), "offset" (G54..G59.3),
    "set-offset" (G10 L2), "shift" (the G92 family), "path" (G61, G61.1, G64), "home" (G28, G30),
    "probe" (G38.2), "override" (M48, M49), "comment". Cycles wait, stop, and turn the spindle by
    acts of these kinds between their motions. ``before`` is the index of the motion that follows it.
    ``number`` is what the word says: seconds of a dwell, the cutter of a change, H of a length
    offset (0 for G49), 1..9 of a work offset, the code times ten for the others (M5 -> 50,
    G92.1 -> 921); 0 for a comment, and for an "end" by a closing percent sign.
    """

    kind: str
    line: int
    before: int
    number: float = 0.0
    text: str = ""


@dataclass(frozen=True, eq=False)
class Trace:
    """One row a motion, with the modes in force while it moves.

    ``motions`` are in the program frame (mm; the tip's place when the length offset is right).
    ``line`` (1-based), ``cutter`` in the spindle (0 none), ``length`` (H in force, 0 none),
    ``spindle`` (1 clockwise, 0 off, -1), ``speed`` rev/min, ``mist`` (M7) and ``flood`` (M8),
    ``offset`` 1..9 (G54 is 1), ``path`` (0 G61, 1 G61.1, 2 G64), each (M,).
    ``known`` (M, 3): whether the text tells where X, Y, Z stand when the motion starts. Where it
    does not (before the first word for the axis, after a change of work offset or length offset),
    the number in ``motions.start`` is only assumed. All True where it is not given.
    """

    motions: Motions
    line: NDArray[np.int32]
    cutter: NDArray[np.int32]
    length: NDArray[np.int32]
    spindle: NDArray[np.int8]
    speed: NDArray[np.float64]
    mist: NDArray[np.bool_]
    flood: NDArray[np.bool_]
    offset: NDArray[np.int16]
    path: NDArray[np.int8]
    acts: tuple[Act, ...]
    known: NDArray[np.bool_] = field(default_factory=lambda: np.ones((0, 3), bool))

    def __post_init__(self) -> None:
        for name, dtype in (
            ("line", np.int32),
            ("cutter", np.int32),
            ("length", np.int32),
            ("spindle", np.int8),
            ("speed", np.float64),
            ("mist", np.bool_),
            ("flood", np.bool_),
            ("offset", np.int16),
            ("path", np.int8),
        ):
            object.__setattr__(self, name, _kept(getattr(self, name), dtype))
        known = self.known if len(self.known) else np.ones((len(self.line), 3), bool)
        object.__setattr__(self, "known", _kept(known, np.bool_))


def _kept(values: NDArray[Any], dtype: Any) -> NDArray[Any]:
    """Return the values read-only: themselves where they are so already, else a copy."""
    done = isinstance(values, np.ndarray) and values.dtype == dtype and not values.flags.writeable
    return values if done else frozen(values, dtype)

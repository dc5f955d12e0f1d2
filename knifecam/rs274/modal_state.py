"""The modes in force, where the mill stands, what it remembers, what the program has said.

A header, one empty line, then the number of a parameter, its value, and what is not read: a third
column is a comment for people.

References: NISTIR 6556, Table 2 (parameters) and 3.2.1 (the file).

References: NISTIR 6556, 3.2 (coordinates), 3.4 (modal groups), 3.5 (G codes), Table 2 (parameters).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from knifecam.errors import ProgramError
from knifecam.rs274.codes import STRAIGHT_G1, TO_OLD_G98, XY_G17
from knifecam.rs274.expressions import NUMBER
from knifecam.rs274.line_words import PARAMETER_LIMIT, setting
from knifecam.rs274.rs274_limits import LARGEST_WORD, MOST_ADDED_MOTIONS, START_PLACE_MM
from knifecam.rs274.trace import CONTINUOUS, OFF


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """What the mill is taken to hold when a program starts; what is not given is not known.

    ``parameters`` by their numbers, as in a parameter file (see `read_parameters`); places of
    homes and zeros of work offsets among them are mm in machine coordinates.
    ``lengths`` by H and ``diameters`` by D, mm. A negative diameter is how much smaller a cutter is
    than the one the path was programmed for. H0 and D0 are 0 without being given. ``zeros`` of work
    offsets, by their number 1..9 and axis 0..2, mm in machine coordinates.

    Raises
    ------
    ValueError
        For a number that is not finite.
    """

    parameters: Mapping[int, float] = field(default_factory=dict)
    lengths: Mapping[int, float] = field(default_factory=dict)
    diameters: Mapping[int, float] = field(default_factory=dict)
    zeros: Mapping[tuple[int, int], float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for name in ("parameters", "lengths", "diameters", "zeros"):
            for number, value in getattr(self, name).items():
                if not math.isfinite(value):
                    raise ValueError(f"{name}[{number}]={value} must be finite")

    def length(self, h: int) -> float | None:
        """Return the length stored for H, mm; None where it is not known."""
        return self.lengths.get(h, 0.0 if h == 0 else None)

    def diameter(self, d: int) -> float | None:
        """Return the diameter stored for D, mm; None where it is not known."""
        return self.diameters.get(d, 0.0 if d == 0 else None)


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
    if not abs(value) <= LARGEST_WORD:
        raise ProgramError(f"#{index} is larger than {LARGEST_WORD:g}", line)
    return index, value


def _checked(found: dict[int, float]) -> dict[int, float]:
    missing = [index for index in REQUIRED if index not in found]
    if missing:
        raise ProgramError(f"#{missing[0]} is missing; a parameter file must hold it")
    if found[SYSTEM] not in range(1, 10):
        raise ProgramError(f"#{SYSTEM}={found[SYSTEM]:g} must be from 1 to 9, a work offset")
    return found


AXES = "xyz"


(
    UNITS_BIT,
    PLANE_BIT,
    DISTANCE_MODE_BIT,
    FEED_MODE_BIT,
    PATH_BIT,
    OFFSET_BIT,
    LENGTH_BIT,
    SPINDLE_BIT,
    SPEED_BIT,
    COOLANT_BIT,
    FEED_BIT,
) = (1 << bit for bit in range(11))


CUTTER_BIT, SELECTED_BIT, MOTION_BIT, PLACE_BIT, PARAMETERS_BIT, RETURN_BIT = (
    1 << bit for bit in range(11, 17)
)


MODE_NAMES = {
    UNITS_BIT: "units (G20, G21)",
    PLANE_BIT: "plane (G17, G18, G19)",
    DISTANCE_MODE_BIT: "distance mode (G90, G91)",
    FEED_MODE_BIT: "feed mode (G93, G94)",
    PATH_BIT: "path mode (G61, G61.1, G64)",
    OFFSET_BIT: "work offset (G54 to G59.3)",
    LENGTH_BIT: "length offset (G43, G49)",
    SPINDLE_BIT: "spindle (M3, M4, M5)",
    SPEED_BIT: "spindle speed (S)",
    COOLANT_BIT: "coolant (M7, M8, M9)",
    FEED_BIT: "feed (F)",
    CUTTER_BIT: "cutter in the spindle (M6)",
    SELECTED_BIT: "cutter selected (T)",
    MOTION_BIT: "motion (G0 to G3)",
    PLACE_BIT: "place of an axis",
    PARAMETERS_BIT: "parameters (#)",
    RETURN_BIT: "return level (G98, G99)",
}
"""What a stretch of program may rely on without having said it, in plain words."""


EVERY_MODE = sum(MODE_NAMES) & ~(PARAMETERS_BIT | SELECTED_BIT | RETURN_BIT)
"""All that can be settled once for the whole rest of a program."""


ALL_KNOWN = 0b111


PROBED = range(5061, 5067)
"""The parameters that hold where the probe tripped."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cycle:
    """The words of a cycle that stay in force while it does, by letter and as written."""

    plane: int
    words: Mapping[str, float]


@dataclass(slots=True)
class State:
    """The modes and the place of the tip.

    Attributes
    ----------
    x, y, z : float, mm
        In the work offset in force, without the shift of G92.
    known : int
        Bits 1, 2, 4: whether the text tells where X, Y, Z stand.
    shift : list of float, mm
        What G92 adds to the program's words to give ``x, y, z``.
    units : float
        mm in a unit of the program.
    feed : float
        As F says, in units of the program a minute; of G94 only. NaN after G93 until F is said.
    motion : int or None
        The motion in force, ten times the code; None after G80 and at power-on.
    cycle : Cycle or None
        The words that stay in force while the same cycle does.
    side : int
        Cutter radius compensation: 1 left (G41), -1 right (G42), 0 off (G40).
    radius : float, mm
        What the path is set off by while ``side`` is not 0.
    corner : (x, y) or None, mm
        The programmed place the cutter of ``x, y`` touches, under compensation.
    added : int
        Motions that lines have made beyond one each.
    given, relied : int
        Bits of `MODE_NAMES`: what the text has said, and what it relied on before it said so.
    tolerant : bool
        Whether reliance on what the text does not tell is only noted, never refused.
    """

    stored: Stored = field(default_factory=Stored)
    slots: int = 99
    tolerant: bool = False
    x: float = START_PLACE_MM[0]
    y: float = START_PLACE_MM[1]
    z: float = START_PLACE_MM[2]
    known: int = 0
    shift: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    units: float = 1.0
    plane: int = XY_G17
    absolute: bool = True
    inverse_time: bool = False
    feed: float = 0.0
    speed: float = 0.0
    selected: int = 0
    cutter: int = 0
    spindle: int = OFF
    mist: bool = False
    flood: bool = False
    length: int = 0
    offset: int = 1
    path: int = CONTINUOUS
    retract: int = TO_OLD_G98
    motion: int | None = None
    cycle: Cycle | None = None
    side: int = 0
    radius: float = 0.0
    corner: tuple[float, float] | None = None
    added: int = 0
    parameters: dict[int, float] = field(default_factory=dict)
    origins: dict[tuple[int, int], float] = field(default_factory=dict)
    given: int = 0
    relied: int = 0

    def __post_init__(self) -> None:
        self.parameters = dict(self.stored.parameters) | self.parameters
        self.offset = round(self.parameters.get(SYSTEM, self.offset))
        for system in range(1, 10):
            for axis in range(3):
                number = zero_parameter(system, axis)
                if number in self.parameters:
                    self.origins[system, axis] = self.parameters[number]

    @property
    def place(self) -> tuple[float, float, float]:
        """Where the tip stands, mm."""
        return self.x, self.y, self.z

    def modes(self) -> tuple[float, ...]:
        """Return the modes a motion is recorded with, in the order of `Trace`'s columns."""
        return (
            self.cutter,
            self.length,
            self.spindle,
            self.speed,
            self.mist,
            self.flood,
            self.offset,
            self.path,
        )

    def parameter(self, index: float) -> float:
        """Return the value of a parameter.

        Raises
        ------
        ProgramError
            For one the program has not set: its value is in the mill, not in the text.
        """
        number = setting(index)
        if number in self.parameters:
            return self.parameters[number]
        if not self.tolerant:
            if number in PROBED:
                raise ProgramError(f"#{number} is where the probe tripped, which no text tells")
            raise ProgramError(f"#{number} is used before the program sets it; set it first")
        self.relied |= PARAMETERS_BIT
        return 0.0

    def rely_on_place(self, bits: int, what: str) -> None:
        """Note or refuse the use of an axis' place before the text has told it."""
        missing = bits & ~self.known
        if not missing:
            return
        if not self.tolerant:
            axis = AXES[(missing & -missing).bit_length() - 1].upper()
            raise ProgramError(
                f"{what} depends on where {axis} stands, which the program has not said in this "
                f"work offset and length offset; send {axis} to a place in G90 first"
            )
        self.relied |= PLACE_BIT

    def rely(self, bits: int) -> None:
        """Note the use of modes; those the text has not said are relied on."""
        self.relied |= bits & ~self.given

    def add_motions(self, count: float) -> None:
        """Count motions a line makes beyond one; refuse those past any use.

        Raises
        ------
        ProgramError
            Where the program would make more than `MOST_ADDED_MOTIONS` in all.
        """
        if not self.added + count <= MOST_ADDED_MOTIONS:
            raise ProgramError(
                f"this line adds {count:.0f} motions to {self.added}; {MOST_ADDED_MOTIONS} may be added "
                "by cycles and arcs in a program"
            )
        self.added += int(count)

    def tip_length(self) -> float | None:
        """Return the length offset in force, mm; None where it is not known."""
        return self.stored.length(self.length) if self.given & LENGTH_BIT else None

    def end(self) -> None:
        """Take on the modes M2 and M30 leave; the mill stands still."""
        self.shift = [0.0, 0.0, 0.0]
        self.plane, self.absolute, self.inverse_time = XY_G17, True, False
        self.spindle, self.mist, self.flood = OFF, False, False
        self.side, self.corner, self.cycle, self.motion = 0, None, None, STRAIGHT_G1
        self.select_offset(1)

    def origin(self, system: int, axis: int) -> float | None:
        """Return the machine coordinate of a work offset's zero, mm; None where it is unknown."""
        told = self.origins.get((system, axis))
        return told if told is not None else self.stored.zeros.get((system, axis))

    def forget(self, bits: int) -> None:
        """Mark axes as unknown: their numbers stay, what they mean has changed."""
        self.known &= ~bits

    def select_offset(self, system: int) -> None:
        """Change to the work offset 1..9; the mill stands still."""
        if not (self.given & OFFSET_BIT and system == self.offset):
            for axis in range(3):
                self._renumber(axis, self.origin(self.offset, axis), self.origin(system, axis))
        self.offset = system
        self.parameters[SYSTEM] = float(system)

    def select_feed_mode(self, *, inverse_time: bool) -> None:
        """Change to G93 or G94; what feed a mill keeps through G93 is its own."""
        if self.inverse_time and not inverse_time:
            self.feed = math.nan
            self.given &= ~FEED_BIT
        self.inverse_time = inverse_time
        self.given |= FEED_MODE_BIT

    def select_length(self, h: int) -> None:
        """Change to the length offset H, 0 for none; the mill stands still."""
        old, new = self.tip_length(), self.stored.length(h)
        if not (self.given & LENGTH_BIT and h == self.length):
            self._renumber(2, old, new)
        self.length = h
        self.given |= LENGTH_BIT

    def set_origin(self, system: int, axis: int, value: float) -> None:
        """Set a work offset's zero to a machine coordinate in mm; the mill stands still."""
        if system == self.offset:
            self._renumber(axis, self.origin(system, axis), value)
        self.origins[system, axis] = value

    def _renumber(self, axis: int, old: float | None, new: float | None) -> None:
        if old is None or new is None:
            self.forget(1 << axis)
        else:
            setattr(self, AXES[axis], self.place[axis] + old - new)


def zero_parameter(system: int, axis: int) -> int:
    """Return the number of the parameter that holds a work offset's zero."""
    return 5201 + 20 * system + axis


def names_of(bits: int) -> tuple[str, ...]:
    """Return the plain words for the bits of `MODE_NAMES`."""
    return tuple(name for bit, name in MODE_NAMES.items() if bits & bit)

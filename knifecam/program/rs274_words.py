"""Motions and numbers as words: the one place where digits are made."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from knifecam.curve import ARC, RAPID, Motions
from knifecam.curve.curve import Floats
from knifecam.errors import PlanError
from knifecam.program.program_limits import FLAT_ARC_MM, SHORTEST_PIECE_MM
from knifecam.quantity import mm
from knifecam.shop import Order

DECIMALS = 4
"""Digits after the point, mm: enough for arcs by centre (NISTIR 6556: radii agree in 0.002 mm)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """What a program counts in.

    ``code`` is the word of RS274/NGC, ``size`` one unit in mm, ``decimals`` the digits after the
    point of a coordinate, ``feed_decimals`` those of a feed, which is rounded down to whole
    ``feed_step`` of the unit a minute.
    """

    code: str
    size: float
    decimals: int
    feed_decimals: int
    feed_step: float

    def snapped_all(self, values: Floats) -> Floats:
        """Return mm of any shape as they are really written, in this unit."""
        return np.round(np.round(values / self.size, 9), self.decimals) + 0.0

    def word(self, letter: str, value: float) -> str:
        """Return one word for ``value`` mm."""
        return self.counted(letter, value / self.size)

    def counted(self, letter: str, value: float) -> str:
        """Return one word for ``value`` in this unit."""
        return word(letter, value, self.decimals)

    def feeds(self, values: Floats) -> Floats:
        """Return mm/min as they are really written, in this unit a minute."""
        return np.floor(values / self.size / self.feed_step + 1e-9) * self.feed_step

    def told(self, value: float, decimals: int) -> str:
        """Return ``value`` mm for a comment; in inches with one digit more."""
        more = 0 if self.size == 1.0 else 1
        return f"{value / self.size + 0.0:.{decimals + more}f}"


MM_UNIT = Unit(code="G21", size=1.0, decimals=DECIMALS, feed_decimals=1, feed_step=1.0)


INCH_UNIT = Unit(code="G20", size=25.4, decimals=5, feed_decimals=2, feed_step=0.01)


UNITS_BY_NAME = {"mm": MM_UNIT, "in": INCH_UNIT}


def unit_of(order: Order) -> Unit:
    """Return what the mill's programs count in."""
    return UNITS_BY_NAME[order.setup.mill.units]


def word(letter: str, value: float, decimals: int = DECIMALS) -> str:
    """Return one word such as ``X-12.3400``; never ``-0``, an exponent or a decimal comma.

    Raises
    ------
    ValueError
        For a number that is not finite.
    """
    if not math.isfinite(value):
        raise ValueError(f"{letter}={value} cannot be written")
    return f"{letter}{_rounded(_rounded(value, 9), decimals):.{decimals}f}"


def integer(letter: str, value: float) -> str:
    """Return a word with a whole number such as ``S8000``."""
    return word(letter, value, 0)


def _rounded(value: float, decimals: int) -> float:
    """Return ``value`` rounded as numpy rounds, ties and all, so that word and path agree."""
    scale = 10**decimals
    return round(value * scale) / scale


def motion_lines(motions: Motions, unit: Unit = MM_UNIT) -> Iterator[tuple[str, int]]:
    """Yield (line, index of its motion) for motions in program coordinates.

    The first motion is the rapid to the start: Z alone, then X and Y. Coordinates that do not
    change are left out, but every line has an axis word; arcs always name X and Y, so that a full
    circle does. Motions that vanish in rounding are left out.

    Raises
    ------
    PlanError
        For an arc that would close into an unintended full circle.
    """
    stops = unit.snapped_all(motions.stop).tolist()
    kinds, turns = motions.kind.tolist(), motions.turns.tolist()
    centres = (motions.centre / unit.size).tolist()
    feeds = unit.feeds(motions.feed).tolist()
    at = stops[0]
    yield f"G0 {unit.counted('Z', at[2])}", 0
    yield f"G0 {unit.counted('X', at[0])} {unit.counted('Y', at[1])}", 0
    feed = None
    for k in range(1, len(stops)):
        stop = stops[k]
        if kinds[k] == ARC and is_round(at, stop, turns[k], unit):
            text = ("G3 " if turns[k] > 0 else "G2 ") + arc_words(at, stop, centres[k], unit)
        else:
            text = line_words(at, stop, unit)
            if not text:
                continue
            text = ("G0 " if kinds[k] == RAPID else "G1 ") + text
        if kinds[k] != RAPID and feeds[k] != feed:
            feed = feeds[k]
            text += f" {word('F', feed, unit.feed_decimals)}"
        yield text, k
        at = stop


def extent(motions: Motions) -> tuple[Floats, Floats]:
    """Return the lowest and highest X and Y, (2,) mm each, that motions reach; exact on arcs."""
    every = np.concatenate([motions.start, motions.stop, motions.farthest()])[:, :2]
    return every.min(axis=0), every.max(axis=0)


def is_round(
    at: Sequence[float], stop: Sequence[float], turns: float, unit: Unit = MM_UNIT
) -> bool:
    """Whether an arc between two snapped places, counted in ``unit``, must be written as one.

    Flat arcs are lines within `FLAT_ARC_MM`.
    """
    if abs(turns) >= 1 - 1e-12:
        return True
    chord = math.hypot(stop[0] - at[0], stop[1] - at[1]) * unit.size
    swept = 2 * math.pi * abs(turns)
    if swept < math.pi and chord * math.tan(swept / 4) / 2 < FLAT_ARC_MM:
        return False
    if chord < SHORTEST_PIECE_MM:
        raise PlanError(
            f"an arc of {swept:.3f} rad ends {mm(chord):.4f} from its start and would be read as a full"
            f" circle; no piece may be shorter than {mm(SHORTEST_PIECE_MM)}"
        )
    return True


def arc_words(
    at: Sequence[float], stop: Sequence[float], centre: Sequence[float], unit: Unit = MM_UNIT
) -> str:
    """Return the words of an arc: X and Y always, Z where it changes, the centre from the start."""
    deep = f" {unit.counted('Z', stop[2])}" if stop[2] != at[2] else ""
    return (
        f"{unit.counted('X', stop[0])} {unit.counted('Y', stop[1])}{deep}"
        f" {unit.counted('I', centre[0] - at[0])} {unit.counted('J', centre[1] - at[1])}"
    )


def line_words(at: Sequence[float], stop: Sequence[float], unit: Unit = MM_UNIT) -> str:
    """Return the words of what changes between two snapped places; empty for nothing."""
    return " ".join(
        unit.counted(letter, new)
        for letter, new, old in zip("XYZ", stop, at, strict=True)
        if new != old
    )

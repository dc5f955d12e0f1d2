"""Numbers as text: the one place where a coordinate becomes digits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from knifecam.curve.curve import Floats
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


MM = Unit(code="G21", size=1.0, decimals=DECIMALS, feed_decimals=1, feed_step=1.0)
INCH = Unit(code="G20", size=25.4, decimals=5, feed_decimals=2, feed_step=0.01)
UNITS = {"mm": MM, "in": INCH}


def unit_of(order: Order) -> Unit:
    """Return what the mill's programs count in."""
    return UNITS[order.setup.mill.units]


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

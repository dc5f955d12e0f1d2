"""Numbers as text: the one place where a coordinate becomes digits."""

from __future__ import annotations

import math

import numpy as np

from knifecam.curve.curve import Floats

DECIMALS = 4
"""Digits after the point, mm: enough for arcs by centre (NISTIR 6556: radii agree in 0.002 mm)."""


def snapped(value: float) -> float:
    """Return the value that is really written, mm."""
    return round(round(value, 9), DECIMALS) + 0.0


def snapped_all(values: Floats) -> Floats:
    """Return the values that are really written, mm, of an array of any shape."""
    return np.round(np.round(values, 9), DECIMALS) + 0.0


def word(letter: str, value: float, decimals: int = DECIMALS) -> str:
    """Return one word such as ``X-12.3400``; never ``-0``, an exponent or a decimal comma.

    Raises
    ------
    ValueError
        For a number that is not finite.
    """
    if not math.isfinite(value):
        raise ValueError(f"{letter}={value} cannot be written")
    text = f"{round(round(value, 9), decimals) + 0.0:.{decimals}f}"
    return letter + text


def integer(letter: str, value: float) -> str:
    """Return a word with a whole number such as ``S8000``."""
    return word(letter, value, 0)

"""The unit of a drawing: what the file says, what the order says, and what to ask."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from knifecam.drawing.record import UNITS, Chain, Problem, shown
from knifecam.errors import DrawingError
from knifecam.quantity import either

UNIT_LENGTHS = {
    "mm": 1.0,
    "cm": 10.0,
    "dm": 100.0,
    "m": 1000.0,
    "um": 1e-3,
    "in": 25.4,
    "ft": 304.8,
    "yd": 914.4,
    "mil": 0.0254,
    "mi": 1_609_344.0,
    "km": 1e6,
    "uin": 2.54e-5,
    "angstrom": 1e-7,
    "nm": 1e-6,
    "dam": 1e4,
    "hm": 1e5,
    "Gm": 1e12,
    "au": 1.495978707e14,
    "ly": 9.4607304725808e18,
    "pc": 1.495978707e14 * 648_000 / math.pi,
    "us-ft": 1_200_000 / 3937,
    "us-in": 100_000 / 3937,
    "us-yd": 3_600_000 / 3937,
    "us-mi": 5280 * 1_200_000 / 3937,
}
"""mm of every unit a drawing may be in: SI and the inch by definition, astronomical unit, light year
and parsec as the IAU has them (Resolutions 2012 B2 and 2015 B2), the survey foot of 1200/3937 m."""

_USUAL = ("mm", "cm", "dm", "m", "um", "in", "ft", "yd", "mil")

_OTHER_NAMES = {
    "millimetre": "mm", "millimeter": "mm", "millimetres": "mm", "millimeters": "mm",
    "centimetre": "cm", "centimeter": "cm", "metre": "m", "meter": "m",
    "inch": "in", "inches": "in", '"': "in", "foot": "ft", "feet": "ft", "thou": "mil",
}  # fmt: skip

_UNIT_CODES = {
    1: "in", 2: "ft", 3: "mi", 4: "mm", 5: "cm", 6: "m", 7: "km", 8: "uin", 9: "mil", 10: "yd",
    11: "angstrom", 12: "nm", 13: "um", 14: "dm", 15: "dam", 16: "hm", 17: "Gm", 18: "au",
    19: "ly", 20: "pc", 21: "us-ft", 22: "us-in", 23: "us-yd", 24: "us-mi",
}  # fmt: skip
"""Codes of $INSUNITS (DXF reference, header section, as published by Autodesk)."""


def unit_name(units: str) -> str:
    """Return the short name of a unit, or refuse it."""
    name = units.strip()
    name = name if name in UNIT_LENGTHS else name.lower()
    name = _OTHER_NAMES.get(name, name)
    if name not in UNIT_LENGTHS:
        raise DrawingError(
            f"units='{units}' must be one of {', '.join(_USUAL)}, or another that a DXF knows"
        )
    return name


def unit_of(document: Any, units: str | None) -> tuple[str, str]:
    """Return the drawing's unit, "" if nobody says, and what the file states."""
    code = document.header.get("$INSUNITS", None)
    written = _UNIT_CODES.get(code or 0, "")
    if code is None:
        stated = "$INSUNITS is absent"
    elif not code:
        stated = "$INSUNITS is 0, unitless"
    else:
        stated = f"$INSUNITS is {code}, {written or 'no unit that a DXF knows'}"
    return (unit_name(units) if units else written), stated


def unit_question(chains: Sequence[Chain], stated: str) -> Problem:
    size = ""
    if chains:
        bounds = np.array([chain.bounds for chain in chains])
        wide, high = bounds[:, 2:].max(axis=0) - bounds[:, :2].min(axis=0)
        inch = UNIT_LENGTHS["in"]
        mm, inches = (
            " x ".join(shown(v * size, digits) for v in (wide, high))
            for size, digits in ((inch, 1), (1 / inch, 2))
        )
        other = either(f"{mm} mm if these are inches", f"{inches} in if these are mm")
        size = f"; it is {shown(wide, 3)} x {shown(high, 3)} units, {other}"
    text = f"the drawing does not say its unit ({stated}){size}; give units='mm' or units='in'"
    return Problem(kind=UNITS, text=text)

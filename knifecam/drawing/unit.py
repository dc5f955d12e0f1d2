"""The unit of a drawing: what the file says, what the order says, and what to ask."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from knifecam.drawing.record import UNITS, Chain, Problem, shown
from knifecam.errors import DrawingError

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
}
"""mm of every unit a drawing may be in."""

_OTHER_NAMES = {
    "millimetre": "mm", "millimeter": "mm", "millimetres": "mm", "millimeters": "mm",
    "centimetre": "cm", "centimeter": "cm", "metre": "m", "meter": "m",
    "inch": "in", "inches": "in", '"': "in", "foot": "ft", "feet": "ft", "thou": "mil",
}  # fmt: skip

_UNIT_CODES = {
    1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 9: "mil", 10: "yd", 13: "um", 14: "dm",
}  # fmt: skip
"""Codes of $INSUNITS (DXF reference, header section, as published by Autodesk)."""


def unit_name(units: str) -> str:
    """Return the short name of a unit, or refuse it."""
    name = units.strip().lower()
    name = _OTHER_NAMES.get(name, name)
    if name not in UNIT_LENGTHS:
        raise DrawingError(f"units='{units}' must be one of {', '.join(UNIT_LENGTHS)}")
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
        stated = f"$INSUNITS is {code}, {written or 'a unit no blade is drawn in'}"
    return (unit_name(units) if units else written), stated


def unit_question(chains: Sequence[Chain], stated: str) -> Problem:
    size = ""
    if chains:
        bounds = np.array([chain.bounds for chain in chains])
        wide, high = bounds[:, 2:].max(axis=0) - bounds[:, :2].min(axis=0)
        inches = " x ".join(shown(v * UNIT_LENGTHS["in"], 1) for v in (wide, high))
        size = f"; it is {shown(wide, 3)} x {shown(high, 3)} units, {inches} mm if these are inches"
    text = f"the drawing does not say its unit ({stated}){size}; give units='mm' or units='in'"
    return Problem(kind=UNITS, text=text)

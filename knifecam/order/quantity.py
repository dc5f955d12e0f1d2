"""Quantities of an order: text with a unit, or a bare number in the order's declared unit."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache

import pint

from knifecam.quantity import either

DEFINITIONS = """\
mm = [length] = _ = millimeter = millimetre
cm = 10 mm
m = 1000 mm = _ = meter = metre
um = 0.001 mm = _ = µm = μm = micron
inch = 25.4 mm = in = inches
thou = 0.0254 mm
foot = 304.8 mm = ft = feet
second = [time] = s = sec
minute = 60 second = min
revolution = [turning] = rev = turn
rpm = revolution / minute
tooth = [tooth] = _ = teeth
degree = [angle] = deg
radian = 57.29577951308232 degree = rad
HRC = [hardness]
sfm = foot / minute
ipm = inch / minute
"""
"""The units an order may use; an inch is exactly 25.4 mm (the international inch of 1959)."""

UNITS = ("mm", "in")
"""What an order may declare as the unit of its bare lengths."""

_WRITTEN = re.compile(
    r"\s*([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)\s*([A-Za-zµμ°][\w°^*/ .µμ]*)\s*"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of quantity.

    ``inside`` is the unit of the records, ``bare`` that of a bare number in an order in mm,
    ``bare_inch`` in an order in inches, ``example`` what a maker would write. An ``angle`` is kept
    in rad inside, but shown and bounded in degrees.
    """

    name: str
    inside: str
    bare: str
    bare_inch: str
    example: str

    def unit(self, units: str) -> str:
        """Return the unit of a bare number where the order declares ``units``."""
        return self.bare_inch if units == "in" else self.bare


def _kind(name: str, bare: str, bare_inch: str, example: str, inside: str = "") -> Kind:
    return Kind(name=name, inside=inside or bare, bare=bare, bare_inch=bare_inch, example=example)


LENGTH = _kind("length", "mm", "in", "0.010 in")
ANGLE = _kind("angle", "deg", "deg", "2 deg")
TURNING = _kind("spindle speed", "rev/min", "rev/min", "8000 rpm")
FEED = _kind("feed", "mm/min", "in/min", either("300 mm/min", "12 in/min"))
TOOTH = _kind("feed per tooth", "mm/tooth", "in/tooth", either("0.012 mm/tooth", "0.0005 in/tooth"))
SURFACE = _kind(
    "surface speed", "m/min", "ft/min", either("120 m/min", "400 ft/min"), inside="mm/min"
)
ACCELERATION = _kind("acceleration", "mm/s^2", "in/s^2", either("500 mm/s^2", "20 in/s^2"))
SECONDS = _kind("time", "s", "s", "3 s")
MINUTES = _kind("time", "min", "min", "60 min")
HARDNESS = _kind("hardness", "HRC", "HRC", "61 HRC")

_BELONGS = (
    (SURFACE, "surface_speed", (TURNING,)),
    (TURNING, "spindle", (SURFACE, FEED, TOOTH)),
    (TOOTH, "feed_per_tooth", (FEED, SURFACE)),
    (FEED, "feed", (TOOTH,)),
)


class NotAQuantityError(ValueError):
    """The value is no quantity of the wanted kind; the message is the rule and what would do."""


@cache
def registry() -> pint.UnitRegistry[float]:
    """Return the registry of the few units an order may use (made once, in milliseconds)."""
    units: pint.UnitRegistry[float] = pint.UnitRegistry(None)
    units.load_definitions(DEFINITIONS.splitlines())
    return units


def is_written(value: object) -> bool:
    """Tell whether ``value`` is text of the form number and unit."""
    return isinstance(value, str) and _WRITTEN.fullmatch(value) is not None


def read_quantity(value: object, kind: Kind, units: str) -> float:
    """Return ``value`` in the unit the records use.

    Bare numbers are in ``kind.unit(units)``; text is a number and a unit. Lengths, speeds and feeds
    are snapped to 1e-9 of their unit, so that 0.5 in and 12.7 mm are one number.

    Raises
    ------
    NotAQuantityError
        For another kind of quantity, an unknown unit, no number, NaN or infinity.
    """
    number, unit = _number_and_unit(value, kind, units)
    found = _converted(number, unit, kind)
    if not math.isfinite(found):
        raise NotAQuantityError("must be a finite number")
    if kind is ANGLE:
        return math.radians(found)
    return round(found, 9)


def _number_and_unit(value: object, kind: Kind, units: str) -> tuple[float, str]:
    if isinstance(value, bool):
        raise NotAQuantityError(
            f"must be a number or a quantity such as '{kind.example}', not a truth"
        )
    if isinstance(value, (int, float)):
        try:
            return float(value), kind.unit(units)
        except OverflowError as error:
            raise NotAQuantityError("must be a finite number") from error
    if not isinstance(value, str):
        raise NotAQuantityError(f"must be a number or a quantity such as '{kind.example}'")
    written = _WRITTEN.fullmatch(value)
    if written is None:
        raise NotAQuantityError(_unreadable(value, kind))
    return float(written[1]), written[2]


def _unreadable(value: str, kind: Kind) -> str:
    if re.fullmatch(r"\s*[+-]?[0-9]+,[0-9]+.*", value):
        return f"has a decimal comma; write a point, as in '{kind.example}'"
    return f"is no {kind.name}; write a number and a unit, as in '{kind.example}'"


def _converted(number: float, unit: str, kind: Kind) -> float:
    units = registry()
    try:
        written = units.parse_units(unit.replace("°", "deg").strip())
    except Exception as error:  # the parser raises half a dozen kinds for malformed text
        known = "mm, cm, m, um, in, thou, ft, s, min, rev, rpm, tooth, deg, rad, HRC, sfm, ipm"
        raise NotAQuantityError(
            f"has the unknown unit {unit.strip()!r}; known are {known} and quotients of them"
        ) from error
    if not written.is_compatible_with(kind.inside):
        raise NotAQuantityError(_wrong_kind(units, written, kind))
    return float(units.Quantity(number, written).to(kind.inside).magnitude)


def _wrong_kind(units: pint.UnitRegistry[float], written: pint.Unit, kind: Kind) -> str:
    article = "an" if kind.name[0] in "aeiou" else "a"
    rule = f"must be {article} {kind.name} such as '{kind.example}'"
    for other, key, where in _BELONGS:
        if kind in where and written.is_compatible_with(units.Unit(other.inside)):
            return f"{rule}; a {other.name} belongs to {key}"
    return rule


def bare(value: float, kind: Kind) -> float:
    """Return a record's value in the unit of bare numbers of an order in mm."""
    if kind is ANGLE:
        return round(math.degrees(value), 9)
    return value / 1000 if kind is SURFACE else value


def show(value: float, kind: Kind, units: str = "mm") -> str:
    """Return a record's value as text in the unit of an order in ``units``."""
    unit = kind.unit(units)
    if unit == kind.bare:
        return f"{round(bare(value, kind), 4) + 0.0:.10g} {unit}"
    return f"{round(value / read_quantity(1.0, kind, units), 5) + 0.0:.10g} {unit}"

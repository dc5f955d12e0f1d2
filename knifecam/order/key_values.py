"""What may stand at a key: unit, bounds, meaning, default.

Each entry is at once the validator pydantic runs and the source of the reference.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache
from typing import Any, ClassVar

import pint
from pydantic import BaseModel, ConfigDict, GetCoreSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from knifecam.quantity import either
from knifecam.record import Plain, Within, as_written, within
from knifecam.shop import Plate

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


FEED_RATE = _kind("feed", "mm/min", "in/min", either("300 mm/min", "12 in/min"))


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
    (TURNING, "spindle", (SURFACE, FEED_RATE, TOOTH)),
    (TOOTH, "feed_per_tooth", (FEED_RATE, SURFACE)),
    (FEED_RATE, "feed", (TOOTH,)),
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


class RefusedError(Exception):
    """A value that may not stand there; it never leaves this room.

    ``troubles`` holds (path below the key, value, rule).
    """

    def __init__(self, troubles: Sequence[tuple[str, str, str]]) -> None:
        self.troubles = tuple(troubles)
        super().__init__(str(self.troubles))


def refusal(value: object, rule: str) -> RefusedError:
    """Return the refusal of one value."""
    return RefusedError([("", as_written(value), rule)])


@dataclass(frozen=True, kw_only=True)
class Entry:
    """What stands at one key: ``meaning`` and ``default`` are plain text for the reference.

    Without a ``default`` the record's own stands there, or the key must be given.
    """

    meaning: str = ""
    default: str = ""

    def read(self, value: object, units: str) -> Any:
        """Return what the records hold for ``value``; raises `RefusedError`."""
        raise NotImplementedError

    def unit(self, units: str = "") -> str:
        """Return the unit of a bare number in an order in ``units``, or what kind of value is meant.

        Without ``units`` both units are told.
        """
        raise NotImplementedError

    def allowed(self) -> str:
        """Return the range in words."""
        return ""

    def suits(self, value: object) -> bool:
        """Tell whether ``value`` has the form this entry reads."""
        return True

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Return the schema that makes pydantic read values with `read`."""
        return core_schema.with_info_plain_validator_function(self._validated)

    def _validated(self, value: object, info: ValidationInfo) -> object:
        units = (info.context or {}).get("units", "mm")
        try:
            return self.read(value, units)
        except RefusedError as refused:
            raise PydanticCustomError(
                "refused", "refused", {"troubles": refused.troubles}
            ) from refused


@dataclass(frozen=True, kw_only=True)
class Measure(Entry):
    """A quantity; its bounds are in the records' unit, as the records state them."""

    kind: Kind = LENGTH
    within: Within

    def read(self, value: object, units: str) -> float:
        """Return the quantity in the records' unit."""
        seen = as_written(value, self.kind.unit(units))
        try:
            number = read_quantity(value, self.kind, units)
        except NotAQuantityError as rule:
            raise RefusedError([("", seen, str(rule))]) from rule
        if not self.within.holds(number):
            raise RefusedError([("", seen, f"must be {self.allowed(units)}")])
        return number

    def unit(self, units: str = "") -> str:
        """Return the unit of a bare number."""
        metric, inch = self.kind.bare, self.kind.bare_inch
        if units:
            return self.kind.unit(units)
        return metric if metric == inch else f"{metric} ({inch})"

    def allowed(self, units: str = "mm") -> str:
        """Return the range in words, in the unit of a bare number of an order in ``units``."""
        unit, own = self.kind.unit(units), self.within
        one = 1.0
        if unit != self.kind.bare:
            one = bare(read_quantity(1.0, self.kind, units), self.kind)
        said = (
            None if bound is None else bare(bound, self.kind) / one
            for bound in (own.above, own.least, own.most, own.below)
        )
        above, least, most, below = said
        if (above, least, most, below) == (None, None, None, None):
            return "any"
        return Within(unit=unit, above=above, least=least, most=most, below=below).rule()

    def suits(self, value: object) -> bool:
        """Tell whether it is a number or a number with a unit."""
        return is_written(value) or (
            isinstance(value, (int, float)) and not isinstance(value, bool)
        )


@dataclass(frozen=True, kw_only=True)
class Count(Entry):
    """A whole number."""

    within: Within

    def read(self, value: object, units: str) -> int:
        """Return the whole number."""
        if not isinstance(value, int) or isinstance(value, bool):
            raise refusal(value, f"must be a whole number, {self.allowed()}")
        if not self.within.holds(value):
            raise refusal(value, f"must be {self.allowed()}")
        return value

    def unit(self, units: str = "") -> str:
        """Return what is meant."""
        return "whole number"

    def allowed(self) -> str:
        """Return the range in words."""
        return f"from {self.within.least:g} to {self.within.most:g}"


@dataclass(frozen=True, kw_only=True)
class Flag(Entry):
    """True or false."""

    def read(self, value: object, units: str) -> bool:
        """Return the truth."""
        if not isinstance(value, bool):
            raise refusal(value, "must be true or false")
        return value

    def unit(self, units: str = "") -> str:
        """Return what is meant."""
        return "true or false"


@dataclass(frozen=True, kw_only=True)
class Choice(Entry):
    """One of a few words."""

    words: tuple[str, ...]

    def read(self, value: object, units: str) -> str:
        """Return the word."""
        if isinstance(value, str) and value in self.words:
            return value
        rule = f"must be one of {self.allowed()}"
        near = (
            get_close_matches(value.lower(), [w.lower() for w in self.words], 1)
            if isinstance(value, str)
            else []
        )
        if near:
            meant = next(w for w in self.words if w.lower() == near[0])
            rule += f'; "{meant}" is nearest'
        raise refusal(value, rule)

    def unit(self, units: str = "") -> str:
        """Return what is meant."""
        return "word"

    def allowed(self) -> str:
        """Return the words."""
        return ", ".join(f'"{word}"' for word in self.words)

    def suits(self, value: object) -> bool:
        """Tell whether it is one of the words."""
        return isinstance(value, str) and value in self.words


@dataclass(frozen=True, kw_only=True)
class Text(Entry):
    """A name that may stand in a program's comment."""

    rule: Plain = field(default_factory=Plain)

    def read(self, value: object, units: str) -> str:
        """Return the text without blanks around it."""
        if not isinstance(value, str):
            raise refusal(value, "must be text in quotes")
        text = value.strip()
        if not self.rule.holds(text):
            raise refusal(value, f"must be {self.allowed()}")
        return text

    def unit(self, units: str = "") -> str:
        """Return what is meant."""
        return "text"

    def allowed(self) -> str:
        """Return what may stand there."""
        return self.rule.rule()

    def suits(self, value: object) -> bool:
        """Tell whether it is text."""
        return isinstance(value, str)


@dataclass(frozen=True, kw_only=True)
class Anything(Entry):
    """Any text in quotes: a file, a layer."""

    def read(self, value: object, units: str) -> str:
        """Return the text."""
        if not isinstance(value, str) or not value.strip() or "\0" in value:
            raise refusal(value, "must be text in quotes, not empty")
        return value

    def unit(self, units: str = "") -> str:
        """Return what is meant."""
        return "text"

    def suits(self, value: object) -> bool:
        """Tell whether it is text."""
        return isinstance(value, str)


@dataclass(frozen=True, kw_only=True)
class Row(Entry):
    """A list of so many entries of one kind, read to a tuple; ``each`` names its places."""

    of: Entry
    least: int = 0
    most: int = 1000
    each: tuple[str, ...] = ()

    def read(self, value: object, units: str) -> tuple[Any, ...]:
        """Return the entries as a tuple."""
        if not isinstance(value, list) or not (self.least <= len(value) <= self.most):
            raise refusal(value, f"must be {self.form()}")
        return tuple(gathered_faults(value, lambda one: self.of.read(one, units)))

    def form(self) -> str:
        """Return the form in words."""
        if self.each:
            return f"a list [{', '.join(self.each)}]"
        many = f"{self.least}" if self.least == self.most else f"{self.least} or more"
        return f"a list of {many} entries" if self.least else "a list"

    def unit(self, units: str = "") -> str:
        """Return the unit of its entries."""
        return (
            f"[{', '.join(self.each)}] in {self.of.unit(units)}"
            if self.each
            else (f"list of {self.of.unit(units)}")
        )

    def allowed(self) -> str:
        """Return the range of each."""
        inner = self.of.allowed() if not isinstance(self.of, Text) else ""
        if isinstance(self.of, Row):
            return f"in each {inner.removeprefix('each ')}"
        many = f"{self.least} or more" if self.least and not self.each else ""
        return "; ".join(t for t in (many, f"each {inner}" if inner else "") if t)

    def suits(self, value: object) -> bool:
        """Tell whether it is a list whose first entry has the right form."""
        return isinstance(value, list) and (not value or self.of.suits(value[0]))


@dataclass(frozen=True, kw_only=True)
class Either(Entry):
    """One of several forms, chosen by the look of the value; ``rule`` says which there are."""

    forms: tuple[Entry, ...]
    rule: str

    def read(self, value: object, units: str) -> Any:
        """Return the value read in the first form it suits."""
        for form in self.forms:
            if form.suits(value):
                return form.read(value, units)
        raise refusal(value, f"must be {self.rule}")

    def unit(self, units: str = "") -> str:
        """Return the forms."""
        return " or ".join(dict.fromkeys(form.unit(units) for form in self.forms))

    def allowed(self) -> str:
        """Return the forms in words."""
        return self.rule

    def suits(self, value: object) -> bool:
        """Tell whether any form suits."""
        return any(form.suits(value) for form in self.forms)


def gathered_faults(values: Sequence[object], read: Callable[[object], Any]) -> list[Any]:
    """Return every value read; all refusals are raised together with their place, from 1."""
    found: list[Any] = []
    troubles: list[tuple[str, str, str]] = []
    for place, value in enumerate(values, start=1):
        try:
            found.append(read(value))
        except RefusedError as refused:
            troubles += [
                (f"[{place}]{below}", seen, rule) for below, seen, rule in refused.troubles
            ]
    if troubles:
        raise RefusedError(troubles)
    return found


Place = tuple[float, float]


SIZE = Measure(within=within(Plate, "length"))


ANYWHERE = Measure(within=within(Plate, "corner"))


PLACE = Row(of=ANYWHERE, least=2, most=2, each=("x", "y"))


NAME_ENTRY = Text()


class Section(BaseModel):
    """One table of the order: frozen, and no other keys than these."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    record: ClassVar[type | None] = None


def a_text(meaning: str, default: str = "") -> Text:
    """Return the entry of a short name."""
    return Text(meaning=meaning, default=default)


def a_length(meaning: str, default: str = "", *, within: Within) -> Measure:
    """Return the entry of a length within bounds."""
    return Measure(meaning=meaning, default=default, within=within)


def a_row(
    of: Entry, count: int, meaning: str, default: str = "", *, each: tuple[str, ...] = ()
) -> Row:
    """Return the entry of so many values of one kind."""
    return Row(of=of, least=count, most=count, each=each, meaning=meaning, default=default)


def either_of(rule: str, meaning: str, default: str, *forms: Entry) -> Either:
    """Return the entry of a value of several forms."""
    return Either(forms=forms, rule=rule, meaning=meaning, default=default)

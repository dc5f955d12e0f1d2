"""What may stand at a key of the order: how it is read, bounded, and explained.

Each entry is at once the validator pydantic runs and the source of the reference.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from pydantic import GetCoreSchemaHandler, ValidationInfo
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from knifecam.order.quantity import LENGTH, Kind, NotAQuantityError, bare, is_written, read_quantity
from knifecam.record import Plain, Within, shown


class RefusedError(Exception):
    """A value that may not stand there; it never leaves this room.

    ``troubles`` holds (path below the key, value, rule).
    """

    def __init__(self, troubles: Sequence[tuple[str, str, str]]) -> None:
        self.troubles = tuple(troubles)
        super().__init__(str(self.troubles))


def refusal(value: object, rule: str) -> RefusedError:
    """Return the refusal of one value."""
    return RefusedError([("", shown(value), rule)])


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
        seen = shown(value, self.kind.unit(units))
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
        return tuple(gathered(value, lambda one: self.of.read(one, units)))

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


def gathered(values: Sequence[object], read: Callable[[object], Any]) -> list[Any]:
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

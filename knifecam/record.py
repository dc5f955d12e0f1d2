"""Records that check themselves: what each field may hold stands beside it, once.

A field's annotation says its type and, where ``Annotated``, its bounds. `Record` checks both when a
record is made, so that orders from files and orders built in Python meet the same bounds; the
order's model reads them here too. Numbers are always finite.
"""

from __future__ import annotations

import math
import numbers
import re
import types
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from functools import cache
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

from knifecam.errors import OrderError
from knifecam.quantity import UNITS_BY_METRIC, either, named, quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Within:
    """Bounds of a number in the record's own ``unit``; every bound left out is none."""

    unit: str = "mm"
    above: float | None = None
    least: float | None = None
    most: float | None = None
    below: float | None = None

    def holds(self, number: float) -> bool:
        """Tell whether a number lies within; NaN never does."""
        return (
            (self.above is None or number > self.above)
            and (self.least is None or number >= self.least)
            and (self.most is None or number <= self.most)
            and (self.below is None or number < self.below)
        )

    def rule(self) -> str:
        """Return the bounds in words."""
        bounds = (
            ("greater than", self.above),
            ("at least", self.least),
            ("at most", self.most),
            ("less than", self.below),
        )
        known = [(word, bound) for word, bound in bounds if bound is not None]
        if self.unit in UNITS_BY_METRIC:
            return either(
                _said(known, self.unit, 1.0),
                _said(known, UNITS_BY_METRIC[self.unit].inch, UNITS_BY_METRIC[self.unit].size),
            )
        return _said(known, self.unit, 1.0)


def _said(bounds: Sequence[tuple[str, float]], unit: str, size: float) -> str:
    """Return bounds in words, in a ``unit`` that is ``size`` of theirs."""
    said = " and ".join(f"{word} {bound / size:.6g}" for word, bound in bounds)
    return f"{said or 'a number'} {unit}".rstrip()


@dataclass(frozen=True, slots=True, kw_only=True)
class OneOf:
    """The words of which a text is one."""

    words: tuple[str, ...]
    unit: str = ""

    def holds(self, text: str) -> bool:
        """Tell whether a text is one of the words."""
        return text in self.words

    def rule(self) -> str:
        """Return the words."""
        return "one of " + ", ".join(f'"{word}"' for word in self.words)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plain:
    """A text that may stand in a program's comment: printable ASCII without parentheses."""

    longest: int = 40
    least: int = 1
    unit: str = ""

    def holds(self, text: str) -> bool:
        """Tell whether a text is plain and neither too short nor too long."""
        plain = re.fullmatch(r"[ !-'*-~]*", text) is not None
        return plain and self.least <= len(text.strip()) and len(text) <= self.longest

    def rule(self) -> str:
        """Return what may stand there."""
        return f"{self.least} to {self.longest} plain ASCII characters, no parentheses"


Bounds = Within | OneOf | Plain

FARTHEST_PLACE_MM = 999999.0
"""mm: no place lies further from its frame's origin; drawings of whole sites stay within."""

Coordinate = Annotated[float, Within(least=-FARTHEST_PLACE_MM, most=FARTHEST_PLACE_MM)]
Point = tuple[Coordinate, Coordinate]


RECORD = "record"
"""The thing that a record's class names in lines about its fields (`knifecam.quantity.named`)."""


class Record:
    """What every record checks when it is made.

    Raises
    ------
    OrderError
        For every field of another type or out of its bounds, one line each.
    """

    __slots__ = ()

    def __post_init__(self) -> None:
        kind: type = type(self)
        called = named(RECORD, kind.__name__)
        troubles = [
            line
            for name, hint in _hints(kind).items()
            for line in _troubles(getattr(self, name), hint, f"{called}.{name}")
        ]
        if troubles:
            raise OrderError(troubles)


def bounds(record: type, key: str) -> Bounds | None:
    """Return the bounds of a record's field, or of the entries of its tuple; None without any."""
    return next(_bounds_in(_hints(record)[key]), None)


def within(record: type, key: str) -> Within:
    """Return the bounds of a record's numeric field, or of the numbers in it."""
    found = bounds(record, key)
    if not isinstance(found, Within):
        raise TypeError(f"{record.__name__}.{key} has no bounds")
    return found


def words(record: type, key: str) -> tuple[str, ...]:
    """Return the words that a record's field may be."""
    found = bounds(record, key)
    if not isinstance(found, OneOf):
        raise TypeError(f"{record.__name__}.{key} has no words")
    return found.words


@cache
def _hints(record: type) -> dict[str, Any]:
    hints = get_type_hints(record, include_extras=True)
    return {field.name: hints[field.name] for field in fields(record)}


def _bounds_in(hint: Any) -> Iterator[Bounds]:
    for part in get_args(hint):
        if isinstance(part, Within | OneOf | Plain):
            yield part
        else:
            yield from _bounds_in(part)


def _troubles(value: object, hint: Any, path: str) -> Iterator[str]:
    """Yield what is wrong with a value of a field, one line each."""
    origin = get_origin(hint)
    if origin is Annotated:
        kind, bound = get_args(hint)[:2]
        wrong = list(_troubles(value, kind, path))
        yield from wrong
        if not wrong and not bound.holds(value):
            yield f"{path}={as_written(value, bound.unit)} must be {bound.rule()}"
    elif origin in (Union, types.UnionType):
        yield from _of_union(value, get_args(hint), path)
    elif origin is tuple:
        yield from _of_tuple(value, get_args(hint), path)
    elif not _is_a(value, hint):
        yield f"{path}={as_written(value)} must be {_TYPE_NAMES.get(hint) or f'a {hint.__name__}'}"


def _of_union(value: object, kinds: tuple[Any, ...], path: str) -> Iterator[str]:
    if value is None and type(None) in kinds:
        return
    tried = [list(_troubles(value, kind, path)) for kind in kinds if kind is not type(None)]
    if all(tried):
        yield from tried[0]


def _of_tuple(value: object, kinds: tuple[Any, ...], path: str) -> Iterator[str]:
    many = len(kinds) == 2 and kinds[1] is Ellipsis
    if not isinstance(value, tuple) or not (many or len(value) == len(kinds)):
        wanted = "a tuple" if many else f"a tuple of {len(kinds)}"
        yield f"{path}={as_written(value)} must be {wanted}"
        return
    for place, one in enumerate(value):
        kind = kinds[0] if many else kinds[place]
        yield from _troubles(one, kind, f"{path}[{place + 1}]")


_TYPE_NAMES = {
    float: "a finite number",
    int: "a whole number",
    bool: "True or False",
    str: "a text",
}


def _is_a(value: object, kind: type) -> bool:
    if kind in (float, int):
        wanted = numbers.Real if kind is float else numbers.Integral
        return isinstance(value, wanted) and not isinstance(value, bool) and _is_finite(value)
    return isinstance(value, kind)


def _is_finite(value: Any) -> bool:
    try:
        return math.isfinite(value)
    except OverflowError:
        return False


def printable(text: str) -> str:
    """Return text as it can be printed anywhere: on one line, with nothing that steers a terminal."""
    return "".join(c if c.isprintable() else "?" for c in text)


def as_written(value: object, unit: str = "") -> str:
    """Return a value as an order writes it, cut off when long, on one line."""
    if isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, str):
        text = f'"{printable(value)}"'
    elif isinstance(value, list | tuple):
        text = "[" + ", ".join(as_written(v) for v in value[:6]) + (", ..]" if value[6:] else "]")
    elif isinstance(value, dict):
        text = "{..}"
    elif isinstance(value, int) and value.bit_length() > 64:
        text = "a number of more than 19 digits"
    elif isinstance(value, numbers.Real):
        number: Any = value
        text = f"{quantity(number, unit)} {'' if unit in UNITS_BY_METRIC else unit}".rstrip()
    else:
        text = printable(str(value))
    if len(text) <= 60:
        return text
    return f'{text[:56]}.."' if isinstance(value, str) else text[:57] + ".."

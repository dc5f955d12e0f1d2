"""Numbers, parameters, functions and expressions.

No recursion: brackets may nest as deep as a line is long.

References: NISTIR 6556, 3.3.2.1 to 3.3.2.4, and the report's reference interpreter where the text
is silent (order of equal operators, results of logical operators, MOD, rounding, signs of ATAN).
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable

from knifecam.errors import ProgramError

NUMBER = re.compile(r"[+-]?(?:[0-9]++(?:\.[0-9]*+)?|\.[0-9]++)")
_LETTER_RUN = re.compile(r"[a-z]++")
_FUNCTION = re.compile(r"abs|acos|asin|atan|cos|exp|fix|fup|ln|round|sin|sqrt|tan")
_OPERATOR = re.compile(r"\*\*|[*/+-]|mod|or|xor|and")
_RANK = {"**": 3, "*": 2, "/": 2, "mod": 2, "+": 1, "-": 1, "or": 1, "xor": 1, "and": 1}

Lookup = Callable[[float], float]
"""Gives the value of the parameter of an index."""


class _Bracket:
    """An open bracket: whose it is, and what waits in it for the right operand."""

    __slots__ = ("above", "function", "hashes", "operators", "values")

    def __init__(self, function: str, hashes: int, above: float = 0.0) -> None:
        self.function = function
        self.hashes = hashes
        self.above = above
        self.values: list[float] = []
        self.operators: list[str] = []

    def take(self, value: float, operator: str) -> None:
        self._reduce(value, _RANK[operator])
        self.operators.append(operator)

    def total(self, value: float) -> float:
        self._reduce(value, 0)
        return self.values[0]

    def _reduce(self, value: float, rank: int) -> None:
        self.values.append(value)
        while self.operators and _RANK[self.operators[-1]] >= rank:
            right = self.values.pop()
            self.values[-1] = combined(self.values[-1], self.operators.pop(), right)


def real_value(text: str, at: int, lookup: Lookup) -> tuple[float, int]:
    """Return the value that begins at ``at`` of the squeezed lower-case text, and where it ends.

    A value is a number, a parameter `#...`, an expression in brackets, or a function of one.

    Raises
    ------
    ProgramError
        For what is not a value, and for values that do not exist or are not finite.
    """
    brackets: list[_Bracket] = []
    while True:
        hashes = 0
        while text.startswith("#", at):
            hashes, at = hashes + 1, at + 1
        opening = _opening(text, at)
        if opening is not None:
            function, at = opening
            brackets.append(_Bracket(function, hashes))
            continue
        value, at = number(text, at)
        value = _through(value, hashes, lookup)
        while brackets:
            if not text.startswith("]", at):
                operator, at = _operator(text, at)
                brackets[-1].take(value, operator)
                break
            bracket, at = brackets.pop(), at + 1
            value = bracket.total(value)
            if bracket.function == "atan":
                at = _second_of_atan(text, at)
                brackets.append(_Bracket("atan/", bracket.hashes, value))
                break
            value = _through(_applied(bracket, value), bracket.hashes, lookup)
        else:
            return value, at


def number(text: str, at: int) -> tuple[float, int]:
    """Return the plain number that begins at ``at``, and where it ends."""
    match = NUMBER.match(text, at)
    if match:
        return float(match[0]), match.end()
    if at >= len(text):
        raise ProgramError(f"a value is due after {text[:at][-1:]!r} but the line ends")
    if text[at] in "+-.":
        raise ProgramError(f"a number must have a digit after {text[at]!r}")
    raise ProgramError(f"{text[at]!r} cannot begin a number")


def _opening(text: str, at: int) -> tuple[str, int] | None:
    if text.startswith("[", at):
        return "", at + 1
    letters = _LETTER_RUN.match(text, at)
    if not letters:
        return None
    function = _FUNCTION.match(text, at)
    if not function:
        raise ProgramError(f"{letters[0]!r} is not a function of RS274/NGC")
    if not text.startswith("[", function.end()):
        raise ProgramError(f"the argument of {function[0].upper()} must stand in brackets")
    return function[0], function.end() + 1


def _operator(text: str, at: int) -> tuple[str, int]:
    match = _OPERATOR.match(text, at)
    if match:
        return match[0], match.end()
    if at >= len(text):
        raise ProgramError("a bracket is not closed before the line ends")
    raise ProgramError(f"{text[at : at + 3]!r} does not begin an operator of RS274/NGC")


def _second_of_atan(text: str, at: int) -> int:
    if not text.startswith("/", at):
        raise ProgramError("ATAN takes two arguments: '/' must follow the first")
    if not text.startswith("[", at + 1):
        raise ProgramError("ATAN takes two arguments: the second must stand in brackets")
    return at + 2


def _through(value: float, hashes: int, lookup: Lookup) -> float:
    for _ in range(hashes):
        value = lookup(value)
    return value


def combined(left: float, operator: str, right: float) -> float:
    """Return the result of a binary operation.

    Raises
    ------
    ProgramError
        For division by 0, a power that is not real, or a result that is not finite.
    """
    shown = f"[{left:g} {operator.upper()} {right:g}]"
    if operator in ("/", "mod") and right == 0:
        raise ProgramError(f"{shown} divides by 0")
    if operator == "**" and left < 0 and not right.is_integer():
        raise ProgramError(f"{shown}: a negative number takes integer powers only")
    try:
        result = _BINARY[operator](left, right)
    except (OverflowError, ZeroDivisionError, ValueError):
        result = math.inf
    return _finite(result, shown)


def _applied(bracket: _Bracket, value: float) -> float:
    function = bracket.function
    if function == "":
        return value
    if function == "atan/":
        return math.degrees(math.atan2(bracket.above, value))
    shown = f"{function.upper()}[{value:g}]"
    if function in ("acos", "asin") and not -1 <= value <= 1:
        raise ProgramError(f"{shown}: the argument must be from -1 to 1")
    if function == "sqrt" and not value >= 0:
        raise ProgramError(f"{shown}: the argument must not be negative")
    if function == "ln" and not value > 0:
        raise ProgramError(f"{shown}: the argument must be greater than 0")
    try:
        result = _UNARY[function](value)
    except OverflowError:
        result = math.inf
    return _finite(result, shown)


def _finite(value: float, shown: str) -> float:
    if not math.isfinite(value):
        raise ProgramError(f"{shown} is beyond what a number can hold")
    return value


def _rounded(value: float) -> float:
    """Return the nearest integer, halves away from 0."""
    size = math.floor(abs(value))
    return math.copysign(float(size + (abs(value) - size >= 0.5)), value)


def _modulus(left: float, right: float) -> float:
    rest = math.fmod(left, right)
    return rest + abs(right) if rest < 0 else rest


_BINARY: dict[str, Callable[[float, float], float]] = {
    "**": math.pow,
    "*": lambda a, b: a * b,
    "/": lambda a, b: a / b,
    "mod": _modulus,
    "+": lambda a, b: a + b,
    "-": lambda a, b: a - b,
    "or": lambda a, b: float(a != 0 or b != 0),
    "xor": lambda a, b: float((a != 0) != (b != 0)),
    "and": lambda a, b: float(a != 0 and b != 0),
}
_UNARY: dict[str, Callable[[float], float]] = {
    "abs": abs,
    "acos": lambda v: math.degrees(math.acos(v)),
    "asin": lambda v: math.degrees(math.asin(v)),
    "cos": lambda v: math.cos(math.radians(v)),
    "exp": math.exp,
    "fix": lambda v: float(math.floor(v)),
    "fup": lambda v: float(math.ceil(v)),
    "ln": math.log,
    "round": _rounded,
    "sin": lambda v: math.sin(math.radians(v)),
    "sqrt": math.sqrt,
    "tan": lambda v: math.tan(math.radians(v)),
}

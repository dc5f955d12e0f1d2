"""Numbers gone wrong."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence

import numpy as np

from tests.sabotage.changes.kind import amount, kind
from tests.sabotage.changes.text import FED, MOVES, Text, said, value, with_value, with_word

Rng = np.random.Generator


def holding(letter: str, gate: re.Pattern[str] = MOVES) -> Callable[[Text], Sequence[int]]:
    """Return a search for the lines with a word of that letter."""

    def search(text: Text) -> list[int]:
        return [
            k
            for k in text.moves
            if gate.match(text.lines[k]) and value(text.lines[k], letter) is not None
        ]

    return search


def _both(first: str, second: str) -> Callable[[Text], Sequence[int]]:
    def search(text: Text) -> list[int]:
        held = set(holding(second)(text))
        return [k for k in holding(first)(text) if k in held]

    return search


def _cuts(text: Text) -> Sequence[tuple[int, int]]:
    return text.cuts


def _whole(_: Text) -> Sequence[int]:
    return (0,)


def _one(letter: str) -> None:
    @kind(f"{letter} of one line off", holding(letter))
    def off(text: Text, k: int, rng: Rng) -> Text:
        row = text.lines[k]
        return text.put(
            k, k + 1, [with_value(row, letter, (value(row, letter) or 0.0) + amount(rng))]
        )

    @kind(f"{letter} of one line with the other sign", _unlike_zero(letter))
    def sign(text: Text, k: int, rng: Rng) -> Text:
        row = text.lines[k]
        return text.put(k, k + 1, [with_value(row, letter, -(value(row, letter) or 0.0))])


def _unlike_zero(letter: str) -> Callable[[Text], Sequence[int]]:
    return lambda text: [k for k in holding(letter)(text) if value(text.lines[k], letter)]


for _letter in "XYZIJ":
    _one(_letter)


def _dropped(letter: str) -> None:
    @kind(f"{letter} word dropped", holding(letter))
    def drop(text: Text, k: int, rng: Rng) -> Text:
        return text.put(k, k + 1, [with_word(text.lines[k], letter, "")])


for _letter in "XYZ":
    _dropped(_letter)


def _mapped(row: str, letter: str, by: float, gate: re.Pattern[str] = MOVES) -> str:
    seen = value(row, letter)
    return with_value(row, letter, seen + by) if seen is not None and gate.match(row) else row


def _shifted(letter: str) -> None:
    @kind(f"a whole cut off in {letter}", _cuts)
    def cut(text: Text, span: tuple[int, int], rng: Rng) -> Text:
        by, gate = amount(rng, 0.02, 0.5), FED if letter == "Z" else MOVES
        return text.each(*span, lambda row: _mapped(row, letter, by, gate))

    @kind(f"the whole program off in {letter}", _whole)
    def program(text: Text, _: int, rng: Rng) -> Text:
        by, gate = amount(rng, 0.02, 0.5), FED if letter == "Z" else MOVES
        return text.each(0, len(text.lines), lambda row: _mapped(row, letter, by, gate))


for _letter in "XYZ":
    _shifted(_letter)


def _between_lines(letter: str) -> Callable[[Text], Sequence[int]]:
    """Return a search for straight feeds that no arc follows, so that the text stays readable."""

    def search(text: Text) -> list[int]:
        return [
            k for k in holding(letter)(text)
            if text.lines[k].startswith("G1 ") and not text.lines[k + 1].startswith(("G2 ", "G3 "))
        ]  # fmt: skip

    return search


def _spans(text: Text) -> Sequence[tuple[int, int]]:
    """Return passes with the rapid before them that goes to where they begin."""
    return [(first - 1, end) for first, end in text.passes() if first > 0]


def _moved(letter: str) -> None:
    @kind(f"{letter} of a straight line off, no arc after it", _between_lines(letter))
    def line(text: Text, k: int, rng: Rng) -> Text:
        return text.put(k, k + 1, [_mapped(text.lines[k], letter, amount(rng))])

    @kind(f"a whole pass off in {letter}", _spans)
    def whole_pass(text: Text, span: tuple[int, int], rng: Rng) -> Text:
        by, gate = amount(rng, 0.02, 0.5), FED if letter == "Z" else MOVES
        first = span[0]
        while letter != "Z" and first > 0 and not text.lines[first].startswith("G0 X"):
            first -= 1
        return text.each(first, span[1], lambda row: _mapped(row, letter, by, gate))


for _letter in "XYZ":
    _moved(_letter)


def _levels(text: Text) -> list[tuple[int, int, float]]:
    """Return each height to which the feed lines of a cut go, with the cut."""
    found = []
    for first, end in text.cuts:
        heights = {value(text.lines[k], "Z") for k in range(first, end) if FED.match(text.lines[k])}
        found += [(first, end, z) for z in sorted(h for h in heights if h is not None)]
    return found


@kind("one level of a cut at another height", _levels)
def level(text: Text, at: tuple[int, int, float], rng: Rng) -> Text:
    first, end, height = at
    by = amount(rng, 0.02, 0.3)

    def moved(row: str) -> str:
        return _mapped(row, "Z", by, FED) if value(row, "Z") == height else row

    return text.each(first, end, moved)


def _circles(text: Text) -> list[int]:
    """Return the lines of full circles: arcs that end where the line before has ended."""
    places = text.places()
    return [
        k for k in text.moves
        if k and re.match("G[23]", text.lines[k]) and places[k][:2] == places[k - 1][:2]
    ]  # fmt: skip


@kind("a circle of another radius", _circles)
def circle(text: Text, k: int, rng: Rng) -> Text:
    row, share = text.lines[k], 1.0 + amount(rng, 0.005, 0.2)
    for letter in "IJ":
        row = with_value(row, letter, (value(row, letter) or 0.0) * share)
    return text.put(k, k + 1, [row])


def _with_point(text: Text) -> list[tuple[int, str]]:
    return [
        (k, letter) for k in text.moves for letter in "XYZIJF"
        if re.search(rf"{letter}-?[0-9]+\.", text.lines[k])
    ]  # fmt: skip


@kind("a decimal point lost", _with_point)
def point(text: Text, at: tuple[int, str], rng: Rng) -> Text:
    k, letter = at
    row = re.sub(rf"({letter}-?[0-9]+)\.", r"\1", text.lines[k], count=1)
    return text.put(k, k + 1, [row])


@kind("a decimal point one place to the right", _with_point)
def point_aside(text: Text, at: tuple[int, str], rng: Rng) -> Text:
    k, letter = at
    row = text.lines[k]
    return text.put(k, k + 1, [with_value(row, letter, (value(row, letter) or 0.0) * 10.0)])


def _digits(text: Text) -> list[tuple[int, str]]:
    """Return numbers two neighbouring digits of which differ."""
    found = []
    for k in text.moves:
        for letter, number in re.findall(r"([XYZIJ])(-?[0-9.]+)", said(text.lines[k])):
            if any(a != b for a, b in zip(number.strip("-"), number.strip("-")[1:], strict=False)
                   if "." not in (a, b)):  # fmt: skip
                found.append((k, letter))
    return found


@kind("two neighbouring digits exchanged", _digits)
def digits(text: Text, at: tuple[int, str], rng: Rng) -> Text:
    k, letter = at
    found = re.search(rf"{letter}(-?[0-9.]+)", text.lines[k])
    number = found[1] if found else ""
    fit = [
        n for n in range(len(number) - 1)
        if number[n] != number[n + 1] and (number[n] + number[n + 1]).isdigit()
    ]  # fmt: skip
    n = int(rng.choice(fit))
    turned = number[:n] + number[n + 1] + number[n] + number[n + 2 :]
    return text.put(k, k + 1, [with_word(text.lines[k], letter, f"{letter}{turned}")])


def _exchanged(first: str, second: str) -> None:
    @kind(f"{first} and {second} exchanged", _both(first, second))
    def exchange(text: Text, k: int, rng: Rng) -> Text:
        pair = {first: second, second: first}
        row = re.sub(rf"([{first}{second}])(?=-?[0-9])", lambda m: pair[m[1]], text.lines[k])
        return text.put(k, k + 1, [row])


_exchanged("X", "Y")
_exchanged("I", "J")


def _by_radius(name: str, sign: float) -> None:
    @kind(name, _both("I", "J"))
    def radius(text: Text, k: int, rng: Rng) -> Text:
        row = text.lines[k]
        size = float(np.hypot(value(row, "I") or 0.0, value(row, "J") or 0.0))
        row = with_word(with_word(row, "I", f"R{sign * size:.4f}"), "J", "")
        return text.put(k, k + 1, [row])


_by_radius("R for I and J", 1.0)
_by_radius("R less than 0 for I and J", -1.0)


def _feed(name: str, share: float) -> None:
    @kind(name, holding("F"))
    def feed(text: Text, k: int, rng: Rng) -> Text:
        row = text.lines[k]
        return text.put(k, k + 1, [with_word(row, "F", f"F{(value(row, 'F') or 0.0) * share:.1f}")])


_feed("a feed ten times as quick", 10.0)
_feed("a feed three times as quick", 3.0)
_feed("a feed ten times as slow", 0.1)


@kind("a feed word dropped", holding("F"))
def feed_lost(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 1, [with_word(text.lines[k], "F", "")])

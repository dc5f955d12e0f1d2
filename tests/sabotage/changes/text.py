"""A program's text as lines and words, for changing it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property

WORD = re.compile(r"([A-Z])(-?[0-9]*\.?[0-9]+)")
CUT = re.compile(r"\(CUT [0-9]+ OF [0-9]+:")
MOVES = re.compile(r"G[0123] ")
FED = re.compile(r"G[123] ")
ENDS = ("M2", "M30")


def said(row: str) -> str:
    """Return a line without its comments."""
    return re.sub(r"\([^)]*\)", "", row)


def value(row: str, letter: str) -> float | None:
    """Return the number behind a letter, None where there is none."""
    found = re.search(rf"{letter}(-?[0-9]*\.?[0-9]+)", said(row))
    return float(found[1]) if found else None


def with_word(row: str, letter: str, word: str) -> str:
    """Return the line with another word for a letter's; without any for an empty one."""
    return re.sub(
        rf"\s*\b{letter}-?[0-9]*\.?[0-9]+", f" {word}" if word else "", row, count=1
    ).strip()


def with_value(row: str, letter: str, number: float) -> str:
    """Return the line with another number behind a letter."""
    return with_word(row, letter, f"{letter}{number:.4f}")


@dataclass(frozen=True)
class Text:
    """Lines of one side's program, counted from 0 here."""

    lines: tuple[str, ...]

    @staticmethod
    def of(text: str) -> Text:
        """Return the lines of a text."""
        return Text(tuple(text.splitlines()))

    def whole(self) -> str:
        """Return the text."""
        return "\n".join(self.lines) + "\n"

    @cached_property
    def cuts(self) -> tuple[tuple[int, int], ...]:
        """First line of each cut and the line after its last."""
        starts = [k for k, row in enumerate(self.lines) if CUT.match(row)]
        last = next(
            (k for k, row in reversed([*enumerate(self.lines)]) if said(row).strip() in ENDS),
            len(self.lines),
        )
        return tuple(zip(starts, [*starts[1:], last], strict=True))

    @cached_property
    def moves(self) -> tuple[int, ...]:
        """Lines that begin with G0, G1, G2 or G3."""
        return tuple(k for k, row in enumerate(self.lines) if MOVES.match(row))

    def matching(self, pattern: str) -> list[int]:
        """Return the lines, comments included, that match from their beginning."""
        ready = re.compile(pattern)
        return [k for k, row in enumerate(self.lines) if ready.match(row)]

    def places(self) -> list[tuple[float, float, float]]:
        """Return where each line leaves the tip (0 before the first word of an axis)."""
        at, found = [0.0, 0.0, 0.0], []
        for row in self.lines:
            if MOVES.match(row):
                for axis, letter in enumerate("XYZ"):
                    seen = value(row, letter)
                    at[axis] = at[axis] if seen is None else seen
            found.append((at[0], at[1], at[2]))
        return found

    def passes(self) -> list[tuple[int, int]]:
        """Return the stretches of feed lines between rapids: first line, line after the last."""
        found, begin = [], -1
        for k, row in enumerate((*self.lines, "")):
            fed = bool(FED.match(row))
            if fed and begin < 0:
                begin = k
            elif not fed and begin >= 0:
                found.append((begin, k))
                begin = -1
        return found

    def put(self, first: int, end: int, rows: tuple[str, ...] | list[str]) -> Text:
        """Return the text with lines ``first`` up to ``end`` replaced."""
        return Text((*self.lines[:first], *rows, *self.lines[end:]))

    def each(self, first: int, end: int, change) -> Text:  # type: ignore[no-untyped-def]
        """Return the text with a function done to some lines."""
        return self.put(first, end, [change(row) for row in self.lines[first:end]])

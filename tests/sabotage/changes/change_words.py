"""Words gone wrong: modes, zeros, lengths, cutters, spindle, air, stops."""

from __future__ import annotations

import re

import numpy as np

from tests.sabotage.changes.kind import kind
from tests.sabotage.changes.text import FED, Text, value

Rng = np.random.Generator

MODES = "G21 "
"""What the lines of modal words begin with."""


def _with(pattern: str):  # type: ignore[no-untyped-def]
    """Return a search for lines that hold a pattern outside comments."""
    return lambda text: [
        k for k, row in enumerate(text.lines) if not row.startswith("(") and re.search(pattern, row)
    ]


def _replacing(name: str, pattern: str, *new: str) -> None:
    """Keep a kind that puts one of several words for another."""

    @kind(name, _with(pattern))
    def replaced(text: Text, k: int, rng: Rng) -> Text:
        row = re.sub(pattern, str(rng.choice(new)), text.lines[k], count=1)
        return text.put(k, k + 1, [" ".join(row.split())])


_replacing("the wrong plane", r"\bG17\b", "G18", "G19")
_replacing("G91 for G90", r"\bG90\b", "G91")
_replacing("inches for millimetres", r"\bG21\b", "G20")
_replacing("G93 for G94", r"\bG94\b", "G93")
_replacing("the wrong work offset", r"\bG5[45]\b", "G53.9", "G56", "G59")
_replacing("the other side's work offset", r"\bG54\b", "G55")
_replacing("side A's work offset on side B", r"\bG55\b", "G54")
_replacing("no work offset", r"\bG5[4-9]\b", "")
_replacing("G64 for G61", r"\bG61\b", "G64")
_replacing("no path mode", r"\bG61\b", "")
_replacing("G41 for G40", r"\bG40\b", "G41")
_replacing("the spindle the wrong way", r"\bM3\b", "M4")
_replacing("no M3", r"\bM3\b", "")
_replacing("no spindle speed", r"\bS[0-9.]+\b", "")
_replacing("no G43", r"^G43 H[0-9]+", "", "G49")
_replacing("no air", r"^M7$", "", "M8")
_replacing("no M5", r"\bM5\b", "")
_replacing("no M9", r"\bM9\b", "")
_replacing("M1 for M0", r"^M0$", "M1")
_replacing("a stop lost", r"^M0$", "")
_replacing("an optional stop lost", r"^M1$", "")
_replacing("a dwell lost", r"^G4 P[0-9.]+", "")
_replacing("a dwell of milliseconds", r"^G4 P3\.0", "G4 P0.003")
_replacing("no M6", r"\bM6\b", "")
_replacing("no G92.1", r"^G92\.1", "")
_replacing("no end", r"^M2$", "")
_replacing("an unknown word", r"\bF(?=[0-9])", "E", "V")
_replacing("a letter O for a zero", r"(?<=[XYZ][0-9.])0", "O")
_replacing("a comma for a point", r"(?<=[0-9])\.(?=[0-9])", ",")


def _numbered(name: str, pattern: str, letter: str) -> None:
    @kind(name, _with(pattern))
    def other(text: Text, k: int, rng: Rng) -> Text:
        own = int(value(text.lines[k], letter) or 0)
        new = int(rng.choice([n for n in (1, 2, 3, 4, 5) if n != own]))
        row = re.sub(rf"{letter}[0-9]+", f"{letter}{new}", text.lines[k], count=1)
        return text.put(k, k + 1, [row])


_numbered("another H", r"^G43 H", "H")
_numbered("another T", r"^T[0-9]+ M6", "T")


@kind("another cutter with its own H", _with(r"^T[0-9]+ M6"))
def cutter(text: Text, k: int, rng: Rng) -> Text:
    own = int(value(text.lines[k], "T") or 0)
    known = sorted({int(value(text.lines[j], "T") or 0) for j in text.matching("T[0-9]+ M6")})
    new = int(rng.choice([n for n in known if n != own] or [own + 1]))
    end = next((e for first, e in text.cuts if first <= k < e), len(text.lines))
    return text.each(k, end, lambda row: re.sub(rf"^(T|G43 H){own}\b", rf"\g<1>{new}", row))


@kind("a spindle speed of another size", _with(r"\bS[0-9]"))
def speed(text: Text, k: int, rng: Rng) -> Text:
    own = value(text.lines[k], "S") or 0.0
    new = own * float(rng.choice([0.1, 0.2, 0.5, 2.0, 10.0]))
    return text.put(k, k + 1, [re.sub(r"S[0-9.]+", f"S{new:.0f}", text.lines[k], count=1)])


def _inside(text: Text) -> list[int]:
    """Return feed lines after the first of their pass."""
    return [k for first, end in text.passes() for k in range(first + 1, end)]


def _inserting(name: str, *new: str) -> None:
    @kind(name, _inside)
    def inserted(text: Text, k: int, rng: Rng) -> Text:
        return text.put(k, k, [str(rng.choice(new))])


_inserting("the spindle off in a pass", "M5")
_inserting("the air off in a pass", "M9")
_inserting("the length off in a pass", "G49")
_inserting("a zero shifted in a pass", "G92 X0.0", "G92 Z0.0", "G92 Y0.05")
_inserting("a work offset set in a pass", "G10 L2 P1 X0.0 Y0.0 Z0.0", "G10 L2 P2 X0.0 Y0.0 Z0.0")
_inserting("increments from within a pass", "G91")
_inserting("inches from within a pass", "G20")
_inserting("rounded corners from within a pass", "G64")
_inserting("a stop in a pass", "M0")
_inserting("a dwell in a pass", "G4 P1.0", "G4 P0.2")
_inserting("another speed in a pass", "S3000", "S12000")


@kind("a message to the hand lost", lambda text: text.matching(r"\(MSG, "))
def message(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 1, [])


@kind("another figure in a message", lambda text: text.matching(r"\(MSG, .*[0-9]"))
def figure(text: Text, k: int, rng: Rng) -> Text:
    spots = [m.span() for m in re.finditer(r"(?<![0-9.])[0-9]+(?![0-9])", text.lines[k])]
    first, end = spots[int(rng.integers(len(spots)))]
    new = str(int(text.lines[k][first:end]) + int(rng.integers(1, 5)))
    return text.put(k, k + 1, [text.lines[k][:first] + new + text.lines[k][end:]])


@kind("a fresh cutter not asked for", lambda text: text.matching(r"\(MSG, FIT A FRESH "))
def not_fresh(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 1, [text.lines[k].replace("A FRESH ", "")])


@kind("a bracket lost", lambda text: text.matching(r"\("))
def bracket(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 1, [text.lines[k].rstrip(")")])


@kind("modal words of a cut lost", lambda text: text.matching(MODES))
def modes(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 1, [])


@kind("S, M3 and dwell of a cut lost", _with(r"^S[0-9.]+ M3"))
def spin_up(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 2, [])


@kind(
    "a speed in place of a feed",
    lambda text: [k for k in text.moves if FED.match(text.lines[k]) and "F" in text.lines[k]],
)
def speed_for_feed(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 1, [text.lines[k].replace(" F", " S")])

"""Lines gone wrong: dropped, doubled, exchanged, travelled back, and whole passes and cuts."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from tests.sabotage.changes.change_numbers import _circles
from tests.sabotage.changes.kind import kind
from tests.sabotage.changes.text import FED, Text, value, with_value, with_word

Rng = np.random.Generator


def _moves(text: Text) -> Sequence[int]:
    return text.moves


def _fed(text: Text) -> list[int]:
    return [k for k in text.moves if FED.match(text.lines[k])]


def _rapids(text: Text) -> list[int]:
    return text.matching("G0 ")


def _arcs(text: Text) -> list[int]:
    return text.matching("G[23] ")


@kind("a motion dropped", _moves)
def dropped(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 1, [])


@kind("a motion doubled", _moves)
def doubled(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k, [text.lines[k]])


def _neighbours(text: Text) -> list[int]:
    held = set(text.moves)
    return [k for k in text.moves if k + 1 in held and text.lines[k] != text.lines[k + 1]]


@kind("two motions exchanged", _neighbours)
def exchanged(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 2, [text.lines[k + 1], text.lines[k]])


@kind("a motion from elsewhere put in", _fed)
def strange(text: Text, k: int, rng: Rng) -> Text:
    other = text.lines[int(rng.choice(text.matching("G1 ")))]
    return text.put(k, k, [other])


def _passes(text: Text) -> list[tuple[int, int]]:
    return [span for span in text.passes() if span[1] - span[0] > 1]


@kind("a pass dropped", _passes)
def pass_dropped(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    return text.put(*span, [])


@kind("the rest of a pass dropped", _passes)
def pass_short(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    return text.put(int(rng.integers(span[0] + 1, span[1])), span[1], [])


@kind("the beginning of a pass dropped", _passes)
def pass_late(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    return text.put(span[0], int(rng.integers(span[0] + 1, span[1])), [])


@kind("a turn of a helix dropped", _circles)
def turn_dropped(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 1, [])


def _turns(text: Text) -> list[int]:
    held = set(_circles(text))
    return [k for k in held if {k + 1, k + 2} <= held]


@kind("three turns of a helix dropped", lambda text: sorted(_turns(text)))
def turns_dropped(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 3, [])


def _cuts(text: Text) -> Sequence[tuple[int, int]]:
    return text.cuts


@kind("a whole cut dropped", _cuts)
def cut_dropped(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    return text.put(*span, [])


@kind("a whole cut done twice", _cuts)
def cut_doubled(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    return text.put(span[1], span[1], text.lines[slice(*span)])


@kind("two cuts exchanged", lambda text: list(range(len(text.cuts) - 1)))
def cuts_exchanged(text: Text, n: int, rng: Rng) -> Text:
    (first, middle), (_, end) = text.cuts[n], text.cuts[n + 1]
    return text.put(first, end, [*text.lines[middle:end], *text.lines[first:middle]])


@kind("the program ends before a cut", _cuts)
def ends_early(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    return text.put(span[0], span[0], ["M2"])


@kind("the text cut off in the middle", lambda text: list(range(40, len(text.lines) - 1)))
def torn(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, len(text.lines), [])


def _lifts(text: Text) -> list[tuple[int, int]]:
    """Return stretches of feed lines that rise in the cut and come down again: over tabs."""
    places, found = text.places(), []
    for first, end in text.passes():
        begin, low = -1, places[first][2]
        for k in range(first + 1, end):
            height = places[k][2]
            if begin < 0 and height > places[k - 1][2] + 0.01:
                begin, low = k, places[k - 1][2]
            elif begin >= 0 and height <= low + 0.05:
                found.append((begin, k + 1))
                begin = -1
    return found


@kind("the lift over a tab dropped", _lifts)
def lift(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    low = text.places()[span[0] - 1][2]

    def down(row: str) -> str:
        seen = value(row, "Z")
        return with_value(row, "Z", min(seen, low)) if seen is not None else row

    return text.each(*span, down)


@kind("the lifts over a cut's tabs begun too early", lambda text: _lifting(text))
def early_lifts(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    rises = _rises(text, span)
    by = min(float(rng.uniform(1.0, 5.0)), *(room - SPARE for _, room in rises))
    places = text.places()
    for k, _ in rises:
        back = np.subtract(places[k - 1], places[k - 2])[:2]
        back *= by / np.hypot(*back)
        for row in (k - 1, k):
            for axis, letter in enumerate("XY"):
                if value(text.lines[row], letter) is not None:
                    new = with_value(text.lines[row], letter, places[row][axis] - back[axis])
                    text = text.put(row, row + 1, [new])
    return text


SPARE = 0.05
"""mm of level way that stays before a lift."""


def _rises(text: Text, span: tuple[int, int]) -> list[tuple[int, float]]:
    """Return lines of a cut that begin a lift over a tab, and how long the straight way to it is."""
    places, found = text.places(), []
    for k, _ in _lifts(text):
        straight = all(row.startswith("G1 ") for row in text.lines[k - 1 : k + 1])
        room = float(np.hypot(*np.subtract(places[k - 1], places[k - 2])[:2]))
        if span[0] < k < span[1] and straight and room > 1.0 + SPARE:
            found.append((k, room))
    return found


def _lifting(text: Text) -> list[tuple[int, int]]:
    return [span for span in text.cuts if _rises(text, span)]


def _halves(text: Text) -> list[bool]:
    """Return both halves of the lifts, where tabs stand apart."""
    at = [text.places()[k][0] for k, _ in _lifts(text)]
    return [False, True] if at and max(at) - min(at) > 20.0 else []


@kind("the lifts over all tabs of one half dropped", _halves)
def half_dropped(text: Text, upper: bool, rng: Rng) -> Text:
    places = text.places()
    at = [places[k][0] for k, _ in _lifts(text)]
    middle = (max(at) + min(at)) / 2
    for span in _lifts(text):
        if (places[span[0]][0] > middle) == upper:
            text = lift(text, span, rng)
    return text


def _level(text: Text, span: tuple[int, int]) -> bool:
    places = text.places()
    return abs(places[span[0]][2] - places[span[1] - 1][2]) < 1e-9


def _flat_passes(text: Text) -> list[tuple[int, int]]:
    """Return passes with a way down first and then three or more lines at one height."""
    places, found = text.places(), []
    for first, end in text.passes():
        rows = text.lines[first + 1 : end]
        if len(rows) < 3 or not re.match(r"G1 Z\S+( F\S+)?$", text.lines[first]):
            continue
        if all(abs(places[k][2] - places[first][2]) < 1e-9 for k in range(first, end)):
            found.append((first + 1, end))
    return found


@kind("a pass travelled the other way", _flat_passes)
def back(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    first, end = span
    places, rows = text.places(), []
    feed = next(
        (value(text.lines[k], "F") for k in range(end - 1, 0, -1) if value(text.lines[k], "F")),
        100.0,
    )
    for k in range(end - 1, first - 1, -1):
        (x, y, _), row = places[k - 1], text.lines[k]
        new = f"X{x:.4f} Y{y:.4f}"
        if row.startswith("G1"):
            rows.append(f"G1 {new} F{feed:.1f}")
            continue
        cx, cy = x + (value(row, "I") or 0.0), y + (value(row, "J") or 0.0)
        code = "G3" if row.startswith("G2") else "G2"
        rows.append(f"{code} {new} I{cx - places[k][0]:.4f} J{cy - places[k][1]:.4f} F{feed:.1f}")
    x, y, z = places[end - 1]
    above = [f"G0 Z{z + 20.0:.4f}", f"G0 X{x:.4f} Y{y:.4f}", f"G1 Z{z:.4f} F{feed:.1f}"]
    return text.put(first, end, [*above, *rows])


@kind("G0 for G1", lambda text: text.matching("G1 "))
def rapid(text: Text, k: int, rng: Rng) -> Text:
    row = with_word(text.lines[k], "F", "")
    return text.put(k, k + 1, ["G0" + row[2:]])


@kind("G1 for G0", _rapids)
def fed(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 1, ["G1" + text.lines[k][2:]])


@kind("G2 and G3 exchanged in a line", _arcs)
def turned(text: Text, k: int, rng: Rng) -> Text:
    row = text.lines[k]
    return text.put(k, k + 1, [f"G{5 - int(row[1])}{row[2:]}"])


@kind("G2 and G3 exchanged in a cut", _cuts)
def all_turned(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    return text.each(
        *span, lambda row: f"G{5 - int(row[1])}{row[2:]}" if re.match("G[23] ", row) else row
    )


@kind("a straight line for an arc", _arcs)
def straight(text: Text, k: int, rng: Rng) -> Text:
    row = with_word(with_word(text.lines[k], "I", ""), "J", "")
    return text.put(k, k + 1, ["G1" + row[2:]])


def _retracts(text: Text) -> list[int]:
    return [k for k in text.matching("G0 Z") if value(text.lines[k], "Z") is not None]


@kind("a rapid of Z dropped", _retracts)
def no_retract(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 1, [])


@kind("a rapid of Z lower", _retracts)
def low_retract(text: Text, k: int, rng: Rng) -> Text:
    row, by = text.lines[k], float(np.exp(rng.uniform(np.log(0.3), np.log(60.0))))
    return text.put(k, k + 1, [with_value(row, "Z", (value(row, "Z") or 0.0) - by)])


@kind("a slash before a line", _moves)
def slashed(text: Text, k: int, rng: Rng) -> Text:
    return text.put(k, k + 1, ["/" + text.lines[k]])

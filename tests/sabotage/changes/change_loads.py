"""Speeds, feeds and levels gone wrong over a whole cut: loads that no single line shows."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np

from tests.sabotage.changes.change_stand import Stand, stand
from tests.sabotage.changes.kind import kind
from tests.sabotage.changes.text import FED, Text, value, with_value, with_word

Rng = np.random.Generator

TURNS = re.compile(r"^S[0-9.]+ M3")
"""A line that starts the spindle."""


def _cuts(text: Text) -> list[tuple[int, int]]:
    return [span for span in text.cuts if any(TURNS.match(text.lines[k]) for k in range(*span))]


def _fed(row: str, share: float) -> str:
    feed = value(row, "F") if FED.match(row) else None
    return row if feed is None else with_word(row, "F", f"F{feed * share:.1f}")


def _turned(text: Text, span: tuple[int, int], share: float) -> Text:
    def other(row: str) -> str:
        speed = value(row, "S") if TURNS.match(row) else None
        return row if speed is None else with_word(row, "S", f"S{speed * share:.0f}")

    return text.each(*span, other)


@kind("the spindle of a cut far too fast", _cuts)
def fast(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    return _turned(text, span, float(rng.uniform(1.8, 4.0)))


@kind("the spindle of a cut far too fast, and its feeds", _cuts)
def fast_and_quick(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    share = float(rng.uniform(1.8, 4.0))
    return _turned(text, span, share).each(*span, lambda row: _fed(row, share))


@kind("the spindle of a cut far too slow", _cuts)
def slow(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    return _turned(text, span, float(rng.uniform(0.2, 0.5)))


@kind("the feeds of a cut two to four times as quick", _cuts)
def quick(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    share = float(rng.uniform(2.0, 4.0))
    return text.each(*span, lambda row: _fed(row, share))


@kind("a cut's arcs fed as quickly as its lines", _cuts)
def arcs(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    rows = [row for row in text.lines[slice(*span)] if FED.match(row)]
    most = max((value(row, "F") or 0.0 for row in rows), default=0.0)

    def fed(row: str) -> str:
        turns = row.startswith(("G2 ", "G3 ")) and value(row, "F") is not None
        return with_value(row, "F", most) if turns else row

    return text.each(*span, fed)


def _levels(text: Text, span: tuple[int, int]) -> dict[float, list[tuple[int, int]]]:
    """Return a cut's passes by their lowest height, each with the rapids before it."""
    found: dict[float, list[tuple[int, int]]] = {}
    for first, end in text.passes():
        begin = first
        while begin > span[0] and text.lines[begin - 1].startswith("G0 "):
            begin -= 1
        if span[0] <= first < span[1] and begin < first:
            heights = [value(row, "Z") for row in text.lines[first:end]]
            low = min((z for z in heights if z is not None), default=None)
            if low is not None:
                found.setdefault(low, []).append((begin, end))
    return found


def _stepped(text: Text) -> list[tuple[int, int]]:
    """Return cuts of several passes at each of several levels."""
    return [
        span for span in text.cuts
        if len(rows := _levels(text, span)) >= 3 and sum(map(len, rows.values())) > 2 * len(rows)
    ]  # fmt: skip


@kind("every second level of a cut left out", _stepped)
def skipped(text: Text, span: tuple[int, int], rng: Rng) -> Text:
    levels = _levels(text, span)
    left_out = [levels[z] for z in sorted(levels, reverse=True)[1:-1:2]]
    for begin, end in sorted((one for rows in left_out for one in rows), reverse=True):
        text = text.put(begin, end, [])
    return text


@stand("a roughing cutter thinner than the programs take it for")
def thin(one: Stand, rng: Rng) -> Stand:
    """It leaves as much more of every wall as it is thinner, on each side half of that."""
    finishing = {c.cutter for c in one.order.cuttings("finish")}
    roughing = [c.cutter for c in one.order.cuttings("rough")]
    number = next((n for n in roughing if n not in finishing), roughing[0])
    by = float(rng.uniform(0.4, 0.8))
    cutters = tuple(
        replace(c, diameter=round(c.diameter - by, 4), neck=min(c.neck, c.diameter - by))
        if c.number == number else c
        for c in one.order.cutters
    )  # fmt: skip
    return replace(one, order=replace(one.order, cutters=cutters))

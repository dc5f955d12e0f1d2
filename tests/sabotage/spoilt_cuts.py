"""Cuts gone wrong: how the cutter enters, how deep, and on which hand the wall is."""

from __future__ import annotations

import re
from dataclasses import replace

from tests.sabotage import harness as spoil
from tests.sabotage.case import (
    BORES,
    SLOTS,
    TRENCH,
    WALL,
    Change,
    at,
    first_contact,
    inserting,
    on_text,
    sabotage,
    whole,
)
from tests.sabotage.harness import Spoilt
from tests.sabotage.made import made, texts_of, with_cutter


# --- entering ------------------------------------------------------------------------------------
def _upright(cut: str, number: int) -> Change:
    """A descent off a tab made upright."""

    def change(text: str) -> tuple[str, int | None]:
        line = spoil.nth(text, r"^G1 [XY].* Z.*F(72|120)", cut=cut, number=number)
        row = spoil.rows(text)[line - 1]
        down, along = re.search(r"Z\S+", row), re.search(r"G1 ([XY]\S+ )+", row)
        assert down
        assert along
        return spoil.replaced(text, line, f"G1 {down[0]} F72.0\n{along[0].strip()}"), line

    return change


def _level_skipped(cut: str, number: int) -> Change:
    """One level is run at the height of the level before; the next one takes both."""

    def change(text: str) -> tuple[str, int | None]:
        ramps = spoil.matching(text, r"^G[12] X\S+ (Y\S+ )?Z", cut=cut)
        line, after = ramps[number], ramps[number + 1]
        return spoil.edited(text, line, r" Z\S+", ""), after

    return change


def _turns_skipped(text: str) -> tuple[str, int | None]:
    """Two of three turns of a helix dropped: the pitch is that of three."""
    turns = spoil.matching(text, "^G3 .*Z-0", cut=BORES)
    for first, last in ((turns[4], turns[5]), (turns[1], turns[2])):
        text = spoil.dropped(text, first, last)
    return text, turns[1]


def _three_turns_dropped(text: str) -> tuple[str, int | None]:
    """The first three turns into a bore's skin dropped: one turn takes what four should."""
    turns = spoil.matching(text, "^G3 .* Z", cut=BORES)
    return spoil.dropped(text, turns[0], turns[2]), turns[0]


def _cuts_swapped(text: str) -> str:
    """The wall's cut stands before the trench's."""
    (low, high), (first, last) = spoil.span(text, TRENCH), spoil.span(text, WALL)
    lines = spoil.rows(text)
    return spoil.joined(
        [*lines[: low - 1], *lines[first - 1 : last], *lines[low - 1 : high], *lines[last:]]
    )


on_text("slot-depth steep-entry", "A", "pitch of a helix tripled", _turns_skipped)
on_text("slot-depth steep-entry", "B", "three turns into a skin dropped", _three_turns_dropped)
on_text("steep-entry both-walls", "A", "wall before trench", whole(_cuts_swapped))
on_text("steep-entry", "B", "tab lift down at 90 degrees, wall", _upright(WALL, 1))
on_text("steep-entry", "B", "tab lift down at 90 degrees, trench", _upright(TRENCH, 3))
on_text(
    "steep-entry",
    "A",
    "ramp upright",
    at(r"^G1 X\S+ Z", r"X(\S+) (Z\S+)", r"\2\nG1 X\1", cut=TRENCH),
)
on_text("slot-depth", "A", "a level skipped", _level_skipped(TRENCH, 1))
on_text(
    "slot-depth",
    "B",
    "a level skipped",
    _level_skipped(TRENCH, 0),
)
on_text(
    "slot-depth",
    "A",
    "minus dropped",
    first_contact(at(r"^G1 X\S+ Z-", "Z-", "Z", cut=TRENCH), r"^G1 X\S+ Z-", TRENCH),
)
on_text(
    "slot-depth",
    "A",
    "three quarters of the cutter's width in the frame, one side open",
    inserting("G1 X60.0 Y15.2\nG1 X40.0\nG1 X35.0 Y18.5", "^G1 X29", cut=WALL),
)
on_text(
    "slot-depth steep-entry",
    "A",
    "trench not roughed",
    whole(lambda t: spoil.without_cut(t, TRENCH)),
)
on_text(
    "fixture-cut", "A", "bore 0.3 deeper", whole(lambda t: spoil.moved(t, "Z", -0.3, cut=BORES))
)
on_text(
    "conventional", "A", "bore clockwise", whole(lambda t: t.replace("G3 X41.0000", "G2 X41.0000"))
)
on_text(
    "conventional", "B", "a bore's skin opened clockwise",
    whole(lambda t: t.replace("G3 X41.0200", "G2 X41.0200")),
)  # fmt: skip
on_text(
    "conventional", "B", "a slot's skin opened clockwise",
    whole(lambda t: spoil.pass_travelled_back(t, SLOTS, -1)),
)  # fmt: skip
for _side in "AB":
    on_text(
        "conventional",
        _side,
        "wall travelled back",
        lambda t: spoil.travelled_back(t, WALL),
    )


@sabotage("conventional", "B", "side A's wall with its Y turned round")
def _unmirrored() -> Spoilt:
    good = made("plain")
    a, b = good.texts
    assert a
    assert b
    first = spoil.nth(a, "^G1 Z", cut=WALL)
    last = spoil.nth(a, "^G3 ", cut=WALL, number=-1)
    turned = spoil.arcs_turned(spoil.joined(spoil.rows(a)[first - 1 : last]))
    for letter in "YJ":
        turned = spoil.mapped(turned, letter, lambda v: -v)
    turned = turned.replace("G1 Z-0.7300", "G1 Z0.4500")
    low, high = spoil.nth(b, "^G1 Z", cut=WALL), spoil.nth(b, "^G3 ", cut=WALL, number=-1)
    lines = spoil.rows(b)
    place = spoil.rows(a)[spoil.nth(a, "^G0 X", cut=WALL, number=-1) - 1]
    lines[low - 3] = place.replace("Y", "Y-")
    text = spoil.joined([*lines[: low - 1], *spoil.rows(turned), *lines[high:]])
    return Spoilt(order=good.order, texts=(a, text))


@sabotage("both-walls", "A", "trench roughed 0.3 narrower than the finishing cutter")
def _narrow() -> Spoilt:
    good = made("thick finish")
    order = replace(good.order, trench=replace(good.order.trench, width=3.1))
    narrow = texts_of(with_cutter(order, 2, diameter=3.0, neck=2.9))[0]
    a, b = good.texts
    assert a
    assert b
    assert narrow
    return Spoilt(order=good.order, texts=(spoil.with_cut_of(a, narrow, TRENCH), b))

"""Shapes gone wrong: tabs, walls, bores and where the sides meet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from knifecam.curve import Stretch
from tests.sabotage import harness as spoil
from tests.sabotage.case import (
    BORES,
    SLOTS,
    TRENCH,
    WALL,
    Change,
    at,
    inserting,
    on_order,
    on_plan,
    on_text,
    whole,
    without,
)
from tests.sabotage.made import with_plate

WINDOW = 1.15
"""mm above the fixture: side B's tip over the tabs, 0.4 below side A's floor, which is 0.75 deep."""

# --- tabs ----------------------------------------------------------------------------------------
on_plan("waist", "B", "waist 0.3 too narrow", lambda o: replace(o, tabs=replace(o.tabs, waist=1.2)))
on_plan("waist", "B", "waist 0.3 too wide", lambda o: replace(o, tabs=replace(o.tabs, waist=1.8)))
on_plan(
    "waist tab",
    "B",
    "window no wider than the cutter",
    lambda o: replace(o, tabs=replace(o.tabs, waist=1e-3)),
)
on_plan("tab", "B", "a tab too few", lambda o: replace(o, tabs=replace(o.tabs, count=1)))
on_text("tab", "A", "0.05 deeper", whole(lambda t: spoil.moved(t, "Z", -0.05, cut=TRENCH)))
on_text("tab", "A", "wall 0.05 deeper", whole(lambda t: spoil.moved(t, "Z", -0.05, cut=WALL)))
on_text(
    "parting-ridge side-thickness",
    "B",
    "wall 0.15 higher",
    whole(lambda t: spoil.everywhere(t, "Z0.4500", "Z0.6000", cut=WALL)),
)
on_text("tab", "B", "0.05 deeper", whole(lambda t: spoil.moved(t, "Z", -0.05)))
on_text("tab", "B", "0.05 higher", whole(lambda t: spoil.moved(t, "Z", 0.05)))
on_order(
    "tab",
    "B",
    "plate and blade 0.1 thinner, both zeros on a face",
    lambda o: replace(with_plate(o, thickness=2.9), blade=replace(o.blade, thickness=2.9)),
    of="faces",
)
on_order("side-thickness", "A", "plate 0.1 thinner", lambda o: with_plate(o, thickness=2.9))
on_plan(
    "side-thickness",
    "B",
    "tabs of 0.22",
    lambda o: replace(o, tabs=replace(o.tabs, thickness=0.22)),
    of_order=lambda o: replace(o, tabs=replace(o.tabs, thickness=0.22)),
)
on_plan(
    "side-thickness",
    "A",
    "bores stop 0.03 above the fixture",
    lambda o: replace(o, boring=replace(o.boring, skin=0.03)),
    of_order=lambda o: replace(o, boring=replace(o.boring, skin=0.03)),
)
on_plan(
    "side-thickness",
    "B",
    "hardly any overlap",
    lambda o: replace(o, trench=replace(o.trench, overlap=0.16)),
    of_order=lambda o: replace(o, trench=replace(o.trench, overlap=0.16)),
)
on_text("tab", "B", "tabs 0.1 thinner", whole(lambda t: t.replace("Z1.1500", "Z1.2500")))
on_text(
    "tab",
    "B",
    "one tab 0.05 thicker",
    whole(lambda t: spoil.everywhere(t, r"^(G1 Y-33\S*) Z1.1500", r"\1 Z1.1000")),
)
on_plan(
    "tab",
    "B",
    "a tab where none may stand",
    lambda o: o,
    of_order=lambda o: replace(o, tabs=replace(o.tabs, no_tabs=(Stretch(start=50.0, end=90.0),))),
)
on_plan(
    "tab",
    "B",
    "tabs at other stations than ordered",
    lambda o: o,
    of_order=lambda o: replace(o, tabs=replace(o.tabs, stations=(20.0, 100.0))),
)
LEFT_TAB = (23.5, -30.0)


def _lifts_dropped(text: str, near: tuple[float, float] | None) -> str:
    for cut in (TRENCH, WALL):
        text = spoil.without_lifts(text, WINDOW, cut=cut, near=near)
    return text


on_text("tab", "B", "a tab's lifts dropped", whole(lambda t: _lifts_dropped(t, LEFT_TAB)))
on_text(
    "tab waist",
    "B",
    "a tab's lift dropped on the wall alone",
    whole(lambda t: spoil.without_lifts(t, WINDOW, cut=WALL, near=LEFT_TAB)),
)
on_text("loose-part", "B", "every tab's lifts dropped", whole(lambda t: _lifts_dropped(t, None)))


# --- walls ---------------------------------------------------------------------------------------
on_text("gouge", "B", "X 0.05 aside", whole(lambda t: spoil.moved(t, "X", 0.05)))
on_text("gouge", "A", "Y 0.05 aside", whole(lambda t: spoil.moved(t, "Y", 0.05)))
on_text("mismatch", "B", "Y 0.003 aside", whole(lambda t: spoil.moved(t, "Y", 0.003)))
on_text("gouge", "A", "G3 for G2", at("^G2 ", "G2", "G3", cut=WALL, number=1))
on_text("gouge", "B", "G1 for G2", at(r"^G2 ", r"G2 (X\S+ Y\S+).*", r"G1 \1", cut=WALL, number=1))
on_text("gouge", "A", "an arc doubled", lambda t: _doubled(t, "^G2 ", WALL, 2))
on_text("syntax", "B", "an arc dropped", without("^G2 ", cut=WALL, number=0))
on_text("syntax", "A", "a line before an arc dropped", without("^G1 X29", cut=WALL))
on_text(
    "slot-depth",
    "A",
    "I and J swapped: three quarters of a circle through the frame",
    at("^G2 ", r"I(\S+) J(\S+)", r"I\2 J\1", cut=WALL),
)
on_text("syntax", "A", "I and J swapped", at("^G3 ", r"I(\S+) J(\S+)", r"I\2 J\1", cut=WALL))
on_text(
    "gouge",
    "B",
    "I and J swapped in a helix",
    whole(lambda t: spoil.everywhere(t, "I-1.0200 J0.0000", "I0.0000 J-1.0200", cut=BORES)),
)


def _point_lost(text: str) -> str:
    line = spoil.nth(text, r"^G1 X\S+ Z", cut=TRENCH)
    return spoil.edited(text, line, r"X(\d+)\.(\d\d)\d*", r"X\1\2")


on_text("syntax", "A", "X and Y swapped", at(r"^G1 X", "G1 X", "G1 Y", cut=WALL))
on_text("travel", "A", "a point lost", whole(_point_lost))
on_text(
    "gouge",
    "A",
    "through the blade and back",
    inserting("G1 X60.0 Y30.0\nG1 X81.0 Y18.5", "^G1 X29", cut=WALL),
)
on_text(
    "uncut",
    "A",
    "slot's wall not finished",
    whole(
        lambda t: spoil.dropped(
            t,
            spoil.nth(t, "^G0 Z0.5", cut=SLOTS, number=-1),
            spoil.nth(t, "^G0 Z5", cut=SLOTS, number=-1) - 1,
        )
    ),
)
on_text("uncut", "A", "wall's lap ends 1.6 short", whole(lambda t: _short(t, 1.6)))
on_text(
    "gouge",
    "A",
    "reference bores 0.1 aside",
    whole(lambda t: spoil.moved(t, "X", 0.1, cut="REFERENCE")),
    of="pins",
)
on_text(
    "uncut",
    "A",
    "reference bores 0.3 shallow",
    whole(lambda t: spoil.moved(t, "Z", 0.3, cut="REFERENCE")),
    of="pins",
)
on_text("uncut", "B", "bores not opened", whole(lambda t: spoil.without_cut(t, "BORES OPENED")))
on_text("uncut", "B", "wall not finished", whole(lambda t: spoil.without_cut(t, WALL)))
on_text(
    "uncut",
    "A",
    "fitted bore not finished",
    whole(lambda t: spoil.without_cut(t, "FITTED")),
    of="fitted",
)
on_text("gouge", "A", "fitted bore 0.03 wider", whole(lambda t: _bore_wider(t, 0.03)), of="fitted")


def _doubled(text: str, pattern: str, cut: str, number: int) -> tuple[str, int | None]:
    line = spoil.nth(text, pattern, cut=cut, number=number)
    return spoil.doubled(text, line), line + 1


def _short(text: str, by: float) -> str:
    """The wall's last lines, along -Y, end earlier."""
    last = spoil.nth(text, "^G1 Y28", cut=WALL)
    return spoil.nudged(spoil.nudged(text, last, "Y", by), last + 1, "Y", by)


def _bore_wider(text: str, by: float) -> str:
    text = spoil.mapped(
        text, "X", lambda v: v + by / 2 if v > 40.0 else v, cut="FITTED", gate="^G3 "
    )
    return spoil.mapped(text, "I", lambda v: v * (1 + by / 2), cut="FITTED", gate="^G3 ")


def _nudged(letter: str, by: float, seed: int) -> Change:
    """One coordinate of a finishing line changed; an arc begins where it ends."""

    def change(text: str) -> tuple[str, int | None]:
        lines = [
            k
            for k in spoil.matching(text, rf"^G1 .*{letter}", cut=WALL)
            if spoil.rows(text)[k].startswith("G2 ")
        ]
        line = int(np.random.default_rng([7, seed]).choice(lines))
        return spoil.nudged(text, line, letter, by), line

    return change


for _seed, _letter, _by, _side in (
    (0, "X", 0.02, "A"), (1, "Y", -0.02, "B"), (2, "X", 0.1, "B"), (9, "Y", 0.1, "A"),
    (4, "X", -1.0, "A"), (5, "Y", 1.0, "B"), (6, "X", -0.02, "B"), (7, "Y", 0.02, "A"),
    (8, "X", 1.0, "B"),
):  # fmt: skip
    on_text(
        "syntax",
        _side,
        f"{_letter} of a finishing line off by {_by}",
        _nudged(_letter, _by, _seed),
    )


def _bumped(side: str, by: float, seed: int) -> Change:
    """A place in mid-line of the blade's long wall off by an amount, blade on the positive side.

    What stays outside is found at the line that came nearest: roughing's, past its stock.
    """

    def change(text: str) -> tuple[str, int | None]:
        line = spoil.nth(text, "^G1 X29", cut=WALL)
        x = float(np.random.default_rng([8, seed]).uniform(35.0, 75.0))
        y = 18.5 + by if side == "A" else -41.5 + by
        back = 18.5 if side == "A" else -41.5
        lines = f"G1 X{x:.4f} Y{y:.4f}\nG1 X29.0000 Y{back:.4f}"
        return spoil.replaced(text, line, lines), None if by < -0.05 else line

    return change


for _seed, (_by, _side) in enumerate(
    (by, side) for by in (0.02, 0.1, 1.0, -0.02, -0.1, -1.0) for side in "AB"
):
    on_text(
        "gouge" if _by > 0 else "uncut",
        _side,
        f"a place of the wall {abs(_by)} mm {'inside' if _by > 0 else 'outside'}",
        _bumped(_side, _by, _seed),
    )
on_text("syntax", "A", "sign of X", at("^G1 X29", "X", "X-", cut=WALL))
on_text("syntax", "B", "sign of Y", at("^G1 Y-24", "Y-", "Y", cut=WALL))

"""Bevels cut wrong on purpose: the hand-written bevelled blade must be refused for its own reason.

The good program is `tests/unit/judge/hand_bevel.py`; each case changes its text or its order in one
way. It has no finding of its own, which is the silent case of every kind below.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from knifecam.judge.findings import Verdict
from knifecam.judge.prove import judge
from knifecam.shop import Order
from tests.unit.judge import hand_bevel as hand
from tests.unit.judge import hand_written as plain
from tests.unit.judge.hand_bevel import figures

Texts = tuple[str, str]
Made = tuple[Order, Texts]

SABOTAGES: list[tuple[str, str, str, Callable[[], Made]]] = []


@cache
def good() -> Texts:
    return hand.side_a(), hand.side_b()


def judged(order: Order, texts: tuple[str | None, str | None]) -> Verdict:
    return judge(order, texts).verdict


def cut(text: str, name: str) -> tuple[str, str, str]:
    """Return what stands before the cut of that name, the cut, and what follows it."""
    begin = re.search(rf"^\(CUT \d+ OF \d+: {name}", text, re.M)
    assert begin, name
    later = re.search(r"^(\(CUT |M2)", text[begin.end() :], re.M)
    assert later
    end = begin.end() + later.start()
    return text[: begin.start()], text[begin.start() : end], text[end:]


def without(text: str, name: str) -> str:
    before, _, after = cut(text, name)
    return before + after


def lowered(text: str, name: str, by: float) -> str:
    """Return the text with the feeds of a cut at other heights."""
    before, own, after = cut(text, name)

    def moved(row: re.Match[str]) -> str:
        return f"{row[1]}{float(row[2]) + by:.4f}"

    own = re.sub(r"^(G1 .*Z)(-?[0-9.]+)", moved, own, flags=re.M)
    return before + own + after


def travelled_back(text: str, name: str) -> str:
    """Return the text with the straight passes of a cut run from their other end."""
    before, own, after = cut(text, name)
    near, far = (str(plain.EDGE + x) for x in (plain.LENGTH + hand.PAST, -hand.PAST))
    near, far = f"X{float(near):.4f}", f"X{float(far):.4f}"
    own = own.replace(near, "X#").replace(far, near).replace("X#", far)
    return before + own + after


def sabotage(kind: str, side: str, name: str) -> Callable[[Callable[[], Made]], Callable[[], Made]]:
    def keep(make: Callable[[], Made]) -> Callable[[], Made]:
        SABOTAGES.append((kind, side, name, make))
        return make

    return keep


def on_text(kind: str, side: str, name: str, change: Callable[[str], str]) -> None:
    def make() -> Made:
        a, b = good()
        return hand.order(), ((change(a), b) if side == "A" else (a, change(b)))

    SABOTAGES.append((kind, side, name, make))


for letter in "AB":
    on_text("gouge", letter, "finish 2 um low", lambda t: lowered(t, "BEVEL FINISH", -0.002))
    on_text("uncut", letter, "finish 2 um high", lambda t: lowered(t, "BEVEL FINISH", 0.002))
    on_text("uncut", letter, "no finish", lambda t: without(t, "BEVEL FINISH"))
    on_text("bevel-stock", letter, "no semi-finish", lambda t: without(t, "BEVEL SEMI"))
    on_text("conventional", letter, "passes reversed", lambda t: travelled_back(t, "BEVEL FINISH"))
on_text("slot-depth", "A", "waste not cleared", lambda t: without(t, "CLEAR"))
on_text(
    "bevel-stock", "B", "no roughing", lambda t: without(without(t, "BEVEL SEMI"), "BEVEL ROUGH")
)
on_text("thin-edge", "B", "finish 8 um low", lambda t: lowered(t, "BEVEL FINISH", -0.008))


@sabotage("bevel-stock", "A", "roughing's stairs too wide")
def _() -> Made:
    with figures(SEMI=0.25, ROUGH=1.2, ROUGH_LEFT=0.3):
        a = without(hand.side_a(), "BEVEL SEMI")
    return hand.order(), (a, good()[1])


@sabotage("uncut", "B", "a finishing pass left out")
def _() -> Made:
    a, b = good()
    y = f"Y{-(hand.stage_passes('finish')[24].y + plain.EDGE):.4f}"
    before, own, after = cut(b, "BEVEL FINISH")
    own = re.sub(rf"^.*{y}.*\n", "", own, flags=re.M)
    return hand.order(), (a, before + own + after)


@sabotage("uncut", "A", "steps wider than ordered")
def _() -> Made:
    with figures(FINISH=0.13):
        a = hand.side_a()
    return hand.order(), (a, good()[1])


@sabotage("gouge", "A", "a cutter along the bevelled edge, as if to break it")
def _() -> Made:
    a, b = good()
    before, own, after = cut(a, "BEVEL FINISH")
    first = hand.stage_passes("finish")[0]
    low = f"Z{first.z - plain.THICK / 2:.4f}"
    own = own.replace(low, f"Z{first.z - 0.05 - plain.THICK / 2:.4f}")
    return hand.order(), (before + own + after, b)


@sabotage("near-axis", "A", "a ball on a bevel of 15 degrees")
def _() -> Made:
    """Its contact is R sin a = 0.518 mm from the axis; 15 % of 4 mm are 0.6 mm."""
    with figures(CORNER=2.0, BELOW=0.6):
        a = hand.side_a()
        order = hand.order()
        ball = replace(order.cutters[1], kind="ball")
    return replace(order, cutters=(order.cutters[0], ball)), (a, hand.side_b())


@sabotage("thin-edge", "B", "a land of 0.06 mm")
def _() -> Made:
    with figures(LAND=0.06):
        return hand.order(), (hand.side_a(), hand.side_b())


@sabotage("thin-edge", "B", "the wall finished when both bevels are")
def _() -> Made:
    a, b = good()
    b = without(b, "EDGE WALL")
    before, wall, after = cut(b, "WALL")
    return hand.order(), (a, before + after.replace("M2\n", wall + "M2\n"))


def test_the_good_program_has_no_finding() -> None:
    assert judged(hand.order(), good()).findings == ()


@pytest.mark.parametrize("which", [0, 1])
def test_one_side_alone_has_no_finding(which: int) -> None:
    texts = [None, None]
    texts[which] = good()[which]  # type: ignore[call-overload]
    found = judged(hand.order(), (texts[0], texts[1])).findings
    assert found == ()


@pytest.mark.parametrize(
    ("kind", "side", "make"),
    [pytest.param(k, s, m, id=f"{k} {s}: {n}") for k, s, n, m in SABOTAGES],
)
def test_sabotage_is_refused_for_its_own_reason(
    kind: str, side: str, make: Callable[[], Made]
) -> None:
    order, texts = make()
    verdict = judged(order, texts)
    found = [f for f in verdict.findings if (f.kind, f.side) == (kind, side)]
    assert found, [(f.kind, f.side, f.line, f.message) for f in verdict.findings]
    assert found[0].remedy
    assert not found[0].message.endswith(".")

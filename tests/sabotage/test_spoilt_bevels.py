"""The planner's programs of a blade with a bevel and a plunge, spoilt in one way each.

The good ones have no finding. Where one line of the text is wrong, the finding must name that line.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from knifecam.judge.findings import Verdict
from knifecam.judge.prove import judge
from tests.agreement.bevelled import bevelled_order
from tests.sabotage import harness as spoil
from tests.sabotage.harness import Spoilt
from tests.sabotage.made import texts_of

ROUGHED, SEMI, FINISHED, PLUNGES = (
    "BEVELS ROUGHED", "BEVELS SEMI-FINISHED", "BEVELS FINISHED", "PLUNGES",
)  # fmt: skip

Make = Callable[[], Spoilt]
SABOTAGES: list[tuple[str, str, str, Make]] = []


@cache
def good() -> Spoilt:
    order = bevelled_order()
    return Spoilt(order=order, texts=texts_of(order))


def judged(spoilt: Spoilt) -> Verdict:
    return judge(spoilt.order, spoilt.texts).verdict


def told(verdict: Verdict) -> str:
    rows = [f"{f.kind} {f.side}{f.line}: {f.message}" for f in verdict.findings]
    return "; ".join(rows) or "nothing"


def sabotage(kind: str, side: str, name: str) -> Callable[[Make], Make]:
    def keep(make: Make) -> Make:
        SABOTAGES.append((kind, side, name, make))
        return make

    return keep


def on_text(
    kind: str, side: str, name: str, change: Callable[[str], str], line: int | None = None
) -> None:
    def make() -> Spoilt:
        texts = list(good().texts)
        which = "AB".index(side)
        text = texts[which]
        assert text is not None
        texts[which] = change(text)
        return Spoilt(order=good().order, texts=(texts[0], texts[1]), line=line)

    SABOTAGES.append((kind, side, name, make))


def moved(text: str, cut: str, by: float) -> str:
    return spoil.moved(text, "Z", by, cut=cut)


def one_pass_moved(text: str, cut: str, by: float) -> str:
    """Return the text with the height of one pass in the middle of a cut changed.

    A pass falls to its height in a line with X, and keeps it.
    """
    falls, before = [], 0.0
    for k in spoil.matching(text, r"Z-?[0-9.]+", cut=cut):
        row = spoil.rows(text)[k - 1]
        height = spoil.value(row, "Z") or 0.0
        if "X" in row and height < before:
            falls.append(k)
        before = height
    return spoil.nudged(text, falls[len(falls) // 2], "Z", by)


def edge_wall_last(text: str) -> str:
    """Return side B's text with the edge's wall finished after the bevels."""
    first, last = spoil.span(text, "EDGE WALL")
    wall = "\n".join(spoil.rows(text)[first - 1 : last])
    _, end = spoil.span(text, PLUNGES)
    return spoil.dropped(spoil.inserted(text, end + 1, wall), first, last)


for letter in "AB":
    on_text("gouge", letter, "finish 1.5 um low", lambda t: moved(t, FINISHED, -0.0015))
    on_text("gouge", letter, "plunge 2 um low", lambda t: moved(t, PLUNGES, -0.002))
    on_text("gouge", letter, "one pass 3 um low", lambda t: one_pass_moved(t, FINISHED, -0.003))
    on_text("uncut", letter, "finish 2 um high", lambda t: moved(t, FINISHED, 0.002))
    on_text("uncut", letter, "one pass 5 um high", lambda t: one_pass_moved(t, FINISHED, 0.005))
    on_text("uncut", letter, "no finish", lambda t: spoil.without_cut(t, FINISHED))
    on_text("uncut", letter, "no plunge", lambda t: spoil.without_cut(t, PLUNGES))
    on_text("bevel-stock", letter, "no roughing", lambda t: spoil.without_cut(t, ROUGHED))
    on_text("bevel-stock", letter, "no semi-finish", lambda t: spoil.without_cut(t, SEMI))
    on_text(
        "bevel-stock", letter, "only the finish",
        lambda t: spoil.without_cut(spoil.without_cut(t, SEMI), ROUGHED),
    )  # fmt: skip
on_text("gouge", "A", "finish 50 um aside", lambda t: spoil.moved(t, "Y", 0.05, cut=FINISHED))
on_text("gouge", "B", "finish 50 um aside", lambda t: spoil.moved(t, "Y", -0.05, cut=FINISHED))
on_text("tab", "B", "no wall at the edge: a web stays", lambda t: spoil.without_cut(t, "EDGE WALL"))
on_text(
    "tab",
    "B",
    "the edge's wall not as deep as side A is open",
    lambda t: moved(t, "EDGE WALL", 1.15),
)
on_text(
    "gouge", "B", "the edge's wall 8 um in", lambda t: spoil.moved(t, "Y", -0.008, cut="EDGE WALL")
)
on_text("thin-edge", "B", "finish 8 um low", lambda t: moved(t, FINISHED, -0.008))
on_text("thin-edge", "B", "the edge's wall last", edge_wall_last)


@sabotage("parting-ridge", "B", "the wall of the rest 0.25 higher, the ridge beside side A's floor")
def _() -> Spoilt:
    a, b = good().texts
    assert b is not None
    return Spoilt(order=good().order, texts=(a, moved(b, "OUTLINE WALL", 0.25)))


@sabotage("uncut", "A", "the bevel is ordered finer")
def _() -> Spoilt:
    order = good().order
    cutting = tuple(
        replace(c, stepover=c.stepover * 0.8) if c.stage == "bevel-finish" else c
        for c in order.cutting
    )
    return Spoilt(order=replace(order, cutting=cutting), texts=good().texts)


@sabotage("near-axis", "A", "a ball finishes 12 degrees")
def _() -> Spoilt:
    order = good().order
    cutting = tuple(replace(c, cutter=4) if c.stage == "bevel-finish" else c for c in order.cutting)
    order = replace(order, cutting=cutting)
    return Spoilt(order=order, texts=texts_of(order))


@sabotage("gouge", "B", "a plunge of 5.2 mm is ordered, one of 5 mm cut")
def _() -> Spoilt:
    order = good().order
    (bevel,) = order.blade.bevels
    plunge = replace(bevel.plunges[0], radius=4.8)
    blade = replace(order.blade, bevels=(replace(bevel, plunges=(plunge,)),))
    return Spoilt(order=replace(order, blade=blade), texts=good().texts)


@sabotage("uncut", "B", "0.01 mm less land is ordered")
def _() -> Spoilt:
    order = good().order
    blade = replace(order.blade, bevels=(replace(order.blade.bevels[0], land=0.39),))
    return Spoilt(order=replace(order, blade=blade), texts=good().texts)


@sabotage("gouge", "A", "a cutter 10 um thicker than was reckoned with")
def _() -> Spoilt:
    order = good().order
    cutters = tuple(replace(c, diameter=4.01) if c.number == 3 else c for c in order.cutters)
    return Spoilt(order=replace(order, cutters=cutters), texts=good().texts)


def test_the_good_programs_have_no_finding() -> None:
    verdict = judged(good())
    assert verdict.ok, told(verdict)


def test_measures_keep_the_tolerances() -> None:
    (bevel,) = judged(good()).measures["bevels"]
    for figures in bevel["sides"].values():
        assert figures["angle_off_deg"] < 0.01
        assert figures["most_gouged"]["amount"] < 0.001
        cusp = figures["cusp"]
        assert cusp["most_above_prediction"] <= max(0.1 * cusp["predicted"], 0.00015)
    assert bevel["symmetry"] < 0.002
    assert bevel["land"]["most_off"] < 0.005


@pytest.mark.parametrize(
    ("kind", "side", "make"),
    [pytest.param(k, s, m, id=f"{k} {s}: {n}") for k, s, n, m in SABOTAGES],
)
def test_spoilt_program_is_refused_for_its_own_reason(kind: str, side: str, make: Make) -> None:
    spoilt = make()
    verdict = judged(spoilt)
    found = [f for f in verdict.findings if (f.kind, f.side) == (kind, side)]
    assert found, f"{kind} {side} not among: {told(verdict)}"
    assert found[0].remedy
    assert not re.search(r"\.$", found[0].message)

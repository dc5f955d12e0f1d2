"""What the small golden set gives is what was kept; where it changes on purpose, keep it anew."""

from __future__ import annotations

import json

import pytest

from tests.golden.__main__ import KEPT, compare
from tests.golden.digests import differences, digests_of, motions_digest, verdict_digests
from tests.golden.specimens import small_set, whole_set


@pytest.mark.parametrize("name", list(small_set()))
def test_an_order_gives_what_was_kept(name: str):
    """After a change on purpose: `python -m tests.golden keep`, and say in the commit what changed."""
    kept = json.loads(KEPT.read_text())
    assert compare({name: kept[name]}, {name: digests_of(name)}) == []


def test_every_kept_order_is_made_and_every_name_is_an_order_of_the_whole_set():
    assert list(json.loads(KEPT.read_text())) == list(small_set())
    assert set(small_set()) <= set(whole_set())
    assert len(list(whole_set())) == len(set(whole_set()))


PROGRAM = "G21 G90 G17 G94\nT1 M6\nS5000 M3\nG0 X1 Y2 Z5\nG1 Z-0.1 F100\nG2 X3 Y2 I1 J0 F200\nM30\n"


@pytest.mark.parametrize(
    ("old", "new"),
    [("X3", "X3.0001"), ("F200", "F201"), ("S5000", "S5001"), ("G2 ", "G3 "), ("M3\n", "M4\n"),
     ("M30\n", "M5\nM30\n"), ("T1", "T2")],
)  # fmt: skip
def test_a_changed_motion_changes_the_digest(old: str, new: str):
    changed = PROGRAM.replace(old, new)
    assert changed != PROGRAM
    assert motions_digest({"a": changed}) != motions_digest({"a": PROGRAM})


def test_a_changed_comment_changes_no_motion():
    assert motions_digest({"a": "(HELLO)\n" + PROGRAM}) == motions_digest({"a": PROGRAM})


def test_a_changed_figure_is_named_by_its_key():
    before = {"ok": True, "measures": {"tabs": [{"waist": 1.5}, {"waist": 1.6}], "edge": 2.0}}
    now = {"ok": True, "measures": {"tabs": [{"waist": 1.5}, {"waist": 1.7}], "edge": 2.0}}
    plain = {"ok": True, "motions": "m", "text": {}, "screen": "s"}
    told = differences(
        plain | {"verdict": verdict_digests(before)}, plain | {"verdict": verdict_digests(now)}
    )
    assert list(told) == ["verdict differs: measures.tabs[].waist"]


def test_refusals_are_compared_line_by_line():
    told = differences({"refused": ["a", "b"]}, {"refused": ["b", "c"]})
    assert list(told) == ["- a", "+ c"]
    made = {"ok": True, "motions": "m", "text": {}, "screen": "s", "verdict": {}}
    assert list(differences(made, {"refused": ["c"]})) == ["refused now", "  c"]

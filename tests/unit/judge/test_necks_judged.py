"""Necks of tabs with lifts begun too early: wider, so that another moment snaps them there.

0.5 mm earlier on one side make a neck 0.5 mm wider: (1.375 + 0.5) x 0.2^2 / 6 = 0.0125 mm3 for 0.0092. It
grows no wider than the tab, whose waist is 1.8 mm.
"""

from __future__ import annotations

import re

import pytest

from knifecam.judge.prove import judge
from tests.sabotage.harness import span
from tests.sabotage.made import made

FLANKS = 1.0 + 2.747477
"""mm of both flanks together a mm of height, at 45 and 20 degrees."""


def necked_early(early: float) -> str:
    """Return side B's program with the lifts over one neck, travelled toward -Y, begun earlier."""
    text = made("necked").texts[1]
    assert text is not None
    lines = text.splitlines()
    first, last = span(text, "NECKS")
    for k in range(first, last):
        foot, crest = (
            re.fullmatch(r"G1 Y(\S+)( Z0\.9500)?( F\S+)?", row) for row in lines[k : k + 2]
        )
        if foot and crest and crest[2] and not foot[2] and float(crest[1]) < float(foot[1]):
            for row, seen in ((k, foot), (k + 1, crest)):
                lines[row] = lines[row].replace(seen[1], f"{float(seen[1]) + early:.4f}")
    assert lines != text.splitlines()
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize("early", [0.05, 0.5, 2.0])
def test_a_neck_whose_lift_begins_too_early_is_found(early: float) -> None:
    good = made("necked")
    found = judge(good.order, (good.texts[0], necked_early(early))).verdict.findings
    told = [f for f in found if f.kind == "tab-section" and "neck" in f.message]
    assert len(told) == (early > 0.1), found
    if early == 0.5:
        wide = 1.5 + (0.2 - 0.02) * FLANKS  # its widest face where it is 0.02 mm thick
        assert told[0].measured == pytest.approx((1.5 + wide) / 2 * 0.04 / 6, rel=0.02)
    if early == 2.0:
        assert told[0].measured is not None
        assert told[0].measured > 1.8 * 0.04 / 6

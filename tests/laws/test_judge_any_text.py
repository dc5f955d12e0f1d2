"""Whatever the texts say, the judge gives a verdict of plain values, and the same one again."""

from __future__ import annotations

import json
import re

from hypothesis import given, settings
from hypothesis import strategies as st

from knifecam.judge.prove import judge
from tests.unit.judge import hand_written as hand

ORDER = hand.order()
TEXTS = (hand.side_a(), hand.side_b())
CELL = 0.05


def damaged(text: str, how: str, at: float, other: float, by: float) -> str:
    lines = text.splitlines()
    k, n = int(at * len(lines)), int(other * len(lines))
    if how == "drop":
        del lines[k]
    elif how == "swap":
        lines[k], lines[n] = lines[n], lines[k]
    elif how == "end":
        lines = [*lines[:k], "M2"]
    elif how == "rapid":
        lines[k] = lines[k].replace("G1", "G0")
    else:
        lines[k] = re.sub(r"-?\d+\.\d+", lambda m: f"{float(m[0]) + by:.4f}", lines[k], count=1)
    return "\n".join(lines) + "\n"


FRACTION = st.floats(0.0, 0.999)


@settings(max_examples=15, deadline=None, derandomize=True)
@given(
    which=st.integers(0, 1),
    how=st.sampled_from(["drop", "swap", "end", "rapid", "number"]),
    at=FRACTION,
    other=FRACTION,
    by=st.sampled_from([0.05, -0.5, 5.0, -50.0, 500.0]),
)
def test_a_damaged_program_still_gets_a_verdict(
    which: int, how: str, at: float, other: float, by: float
) -> None:
    texts = list(TEXTS)
    texts[which] = damaged(texts[which], how, at, other, by)
    verdict = judge(ORDER, (texts[0], texts[1]), cell=CELL).verdict
    told = json.dumps(verdict.as_dict(), allow_nan=False)
    again = judge(ORDER, (texts[0], texts[1]), cell=CELL).verdict
    assert json.dumps(again.as_dict(), allow_nan=False) == told
    lines = {"A": texts[0].count("\n"), "B": texts[1].count("\n")}
    for finding in verdict.findings:
        assert 0 <= finding.line <= lines[finding.side]
        assert finding.remedy

"""Programs that cannot be read are findings on every blade, and nothing is measured on them."""

from pathlib import Path

import pytest

from knifecam.judge.prove import judge
from knifecam.order import load_order
from knifecam.report.screen_lines import measure_lines

DEMOS = Path(__file__).parents[3] / "examples"


@pytest.mark.parametrize("demo", sorted(path.stem for path in DEMOS.glob("*.toml")))
@pytest.mark.parametrize(
    "texts",
    [
        ("no\n", "no\n"),
        ("no\n", None),
        (None, "no\n"),
        ("G21\nM2\n", "no\n"),
        ("no\n", "G21\nM2\n"),
    ],
)
def test_a_side_that_cannot_be_read_is_found_and_nothing_fails(demo, texts):
    order = load_order(DEMOS / f"{demo}.toml")
    verdict = judge(order, texts).verdict
    unread = {side for side, text in zip("AB", texts, strict=True) if text == "no\n"}
    assert {f.side for f in verdict.findings if f.kind == "syntax"} == unread
    assert set(verdict.unseen) >= unread
    assert verdict.state == "not proved"
    lines = list(measure_lines(verdict.measures))
    if "G21\nM2\n" not in texts:
        assert all(slot["left"] is None for slot in verdict.measures["slots"])
        assert all(row["depth"] is None for row in verdict.measures["jimping"])
        assert not [line for line in lines if line.startswith(("slots:", "jimping", "edge break"))]

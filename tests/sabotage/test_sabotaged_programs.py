"""Programs of the planner, spoilt in one way each: the judge must refuse every one, and say why.

The good programs are those of `made.py`; what is done to them stands in the `spoilt_*.py` beside
this file. Where one line of the text is wrong, the finding must name that line or the one after it.
"""

from __future__ import annotations

import pytest

from knifecam.judge.findings import Finding, Verdict
from knifecam.judge.prove import judge
from tests.sabotage import spoilt_cuts, spoilt_detail, spoilt_setup, spoilt_shape, spoilt_words
from tests.sabotage.case import SABOTAGES, Sabotage
from tests.sabotage.harness import Spoilt
from tests.sabotage.made import ORDERS, made

KINDS_OF_CASE = (spoilt_words, spoilt_cuts, spoilt_shape, spoilt_setup, spoilt_detail)
"""Importing these has filled `SABOTAGES`."""


def judged(spoilt: Spoilt) -> Verdict:
    return judge(spoilt.order, spoilt.texts).verdict


def told(verdict: Verdict) -> str:
    return (
        "; ".join(f"{f.kind} {f.side}{f.line}: {f.message}" for f in verdict.findings) or "nothing"
    )


def meant(case: Sabotage, spoilt: Spoilt, found: Finding) -> bool:
    """Whether a finding is the one the case is about."""
    if found.kind not in case.kinds or found.side != case.side:
        return False
    return spoilt.line is None or found.line in (spoilt.line, spoilt.line + 1)


def case_of(one: Sabotage) -> object:
    """Return a parameter; what the judge still misses must go on failing until it is mended."""
    marks = [pytest.mark.xfail(strict=True, reason=one.missed)] if one.missed else []
    words = " or ".join(sorted(one.kinds))
    return pytest.param(one, id=f"{words} {one.side}: {one.name}", marks=marks)


@pytest.mark.parametrize("case", [case_of(one) for one in SABOTAGES])
def test_spoilt_program_is_refused_for_its_own_reason(case: Sabotage) -> None:
    spoilt = case.make()
    verdict = judged(spoilt)
    assert any(meant(case, spoilt, f) for f in verdict.findings), (
        f"{sorted(case.kinds)} {case.side}{spoilt.line or ''} not among: {told(verdict)}"
    )


@pytest.mark.parametrize("name", ORDERS)
def test_the_programs_that_are_spoilt_are_good(name: str) -> None:
    verdict = judged(made(name))
    assert verdict.ok, told(verdict)


def test_there_are_sabotages_enough() -> None:
    assert len(SABOTAGES) >= 45
    assert len({(c.kinds, c.side, c.name) for c in SABOTAGES}) == len(SABOTAGES)

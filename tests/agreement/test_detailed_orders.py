"""Random orders with details are proved, or refused beforehand with a reason; nothing in between.

A sample runs always; `KNIFECAM_GOOD_ORDERS=all` runs a hundred.
"""

from __future__ import annotations

import os
import re

import pytest

from knifecam.errors import OrderError, PlanError
from knifecam.making import make
from tests.agreement.detailed_orders import detailed_order

SAMPLE = (0, 4, 9, 12, 17, 20, 22)
CHOSEN = range(100) if os.environ.get("KNIFECAM_GOOD_ORDERS") == "all" else SAMPLE

SENSIBLE = (
    r"cutter of \S+ mm leaves no helix",
    r"side A's trench leaves it \S+ mm",
    r"the mill is \S+ mm in radius beside the head over bore",
    r"its ends fade out over \S+ mm",
    r"the mill wants \S+ mm all round",
    r"the mill wants a trench of \S+ mm",
    r"would be stronger than the tab behind it",
    r"its stub would stand out \S+ mm",
    r"tabs\.neck=\S+ mm: the blade has no tabs to neck",
    r"tabs\.neck=\S+ mm must be from",
    r"leaves \S+ mm of metal to (bore|slot)",
    r"cuts the outline at \S+ \S+ as well",
    r"mm out of the blade, past the trench",
    r"into the web",
    r"past the middle of the plate",
    r"goes into the trench",
    r"is more than half the trench",
    r"even meeting in the middle",
    r"lies on jimping \S+, stations \S+ to \S+ mm, where no tab may stand",
    r"has no room for a tab, which wants \S+ mm of gentle, free outline on either side",
    r"all 2 tabs stand together and hold a blade \S+ mm long like a hinge",
)
"""Reasons for which these orders may be refused before a path is written."""


@pytest.mark.parametrize("index", CHOSEN)
def test_a_detailed_order_is_proved_or_refused_for_a_reason(index: int) -> None:
    order = detailed_order(index)
    try:
        findings = make(order, cell=0.1).verdict.findings
    except (OrderError, PlanError) as refused:
        for line in refused.lines:
            assert any(re.search(why, line) for why in SENSIBLE), line
        return
    assert findings == (), "; ".join(f"{f.kind} {f.side}{f.line}: {f.message}" for f in findings)

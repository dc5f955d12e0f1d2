"""The frame of plate that must stay outside the trench."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from knifecam.quantity import mm
from knifecam.simulator.case import Case
from knifecam.simulator.judge.hit import LAST_DIGIT, as_place
from knifecam.simulator.verdict import Finding


def find(case: Case) -> Iterator[Finding]:
    """Yield findings of the kind frame."""
    width, place = case.least_frame
    wanted = case.order.trench.frame
    if not np.isfinite(width) or width >= wanted - LAST_DIGIT:
        return
    sentence = (
        f"the plate's frame is {mm(width):.2f} wide at its narrowest; {mm(wanted):g} must stay"
    )
    given = [side.name for side in case.given()]
    yield Finding(
        kind="frame", side=given[0], line=0, message=sentence, place=as_place([*place, 0.0]),
        measured=width, allowed=wanted, remedy="use a larger plate, or move the blade in it",
    )  # fmt: skip

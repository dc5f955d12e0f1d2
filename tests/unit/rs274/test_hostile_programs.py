"""Whatever is in a program's text, it is read or refused with its line, in bounded time.

The texts are those of `hostile_programs.py`; what ever went wrong is kept in
`hostile_programs.json`. A sample runs always; `python -m tests.hostile` runs more, with a log.
"""

from __future__ import annotations

import json
import time
from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest

from knifecam.errors import ProgramError
from knifecam.report.explain import explain
from knifecam.rs274.modal_state import REQUIRED, Stored, read_parameters
from knifecam.rs274.program_reader import read_program
from knifecam.rs274.restart_points import inherited
from knifecam.rs274.rs274_limits import MOST_ADDED_MOTIONS
from knifecam.rs274.trace import Trace
from tests.unit.rs274.hostile_programs import program

COUNT = 2000

SLOWEST = 10.0
"""s of one core, for a text of a few lines; the most is 200 000 pecks."""

KEPT = json.loads(Path(__file__).with_name("hostile_programs.json").read_text())

STORED = Stored(
    parameters=dict.fromkeys(REQUIRED, 0.0) | {5220: 1.0, 5161: 3.0, 5183: 9.0},
    lengths={1: 10.0, 2: 20.0},
    diameters={1: 1.0, 2: 3.0, 3: -0.2},
)


def checked(trace: Trace) -> None:
    """Check that motions are finite, arcs are arcs, and acts stand between motions."""
    motions = trace.motions
    for name in ("start", "stop", "centre", "turns", "feed"):
        assert np.isfinite(getattr(motions, name)).all(), name
    assert len(motions) <= MOST_ADDED_MOTIONS + 100
    arc = motions.kind == 2
    assert (motions.turns[arc] != 0).all()
    assert (np.abs(motions.turns) <= 1 + 1e-9).all()
    ends = np.hypot(*(motions.stop[arc, :2] - motions.centre[arc]).T)
    assert np.allclose(motions.radii[arc], ends, rtol=1e-9, atol=0.006)
    assert all(0 <= act.before <= len(motions) for act in trace.acts)


def judged(text: str, stored: Stored | None, thorough: bool) -> str:
    """Return what became of a text: "read" or "refused: why"; all but typed refusals fail."""
    fault = None
    try:
        checked(read_program(text, stored=stored))
    except ProgramError as error:
        fault = error
    if fault:
        assert len(fault.message) <= 400
        assert 0 <= fault.line <= text.count("\n") + 1
    if thorough:
        assert len(list(explain(text, stored=stored))) >= 1
        with suppress(ProgramError, ValueError):
            inherited(text, 1 + text.count("\n") // 2)
        with suppress(ProgramError):
            read_parameters(text)
    return f"refused: {fault.message}" if fault else "read"


def judged_by_seed(seed: int) -> str:
    """Return what became of the text of a seed; one in ten is explained and restarted too."""
    stored = STORED if seed % 10 < 7 else None
    return judged(program(seed), stored, thorough=seed % 10 == 0)


def test_hostile_texts_are_read_or_refused() -> None:
    read = 0
    for seed in range(COUNT):
        began = time.process_time()
        try:
            read += judged_by_seed(seed) == "read"
        except Exception as fault:
            raise AssertionError(f"seed={seed}: {fault!r}") from fault
        assert time.process_time() - began < SLOWEST, seed
    assert 0.05 * COUNT < read < 0.5 * COUNT  # one text in seven is carried out to its end


@pytest.mark.parametrize("name", KEPT)
def test_what_ever_went_wrong(name: str) -> None:
    for stored in (STORED, None):
        judged(KEPT[name], stored, thorough=True)

"""Seeded orders whose good programs meet the fillets that corner radii leave."""

from __future__ import annotations

import pytest

from knifecam.making import make
from tests.agreement.__main__ import KINDS


@pytest.mark.parametrize(("kind", "number"), [("bevel", 6)])
def test_fillets_are_no_levels_left_out(kind: str, number: int) -> None:
    """A level's rim meets the fillet at the end of the one above, 0.157 mm where 0.097 is a level."""
    assert make(KINDS[kind](number), cell=0.1).verdict.findings == ()

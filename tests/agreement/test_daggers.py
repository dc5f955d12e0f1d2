"""Blades with two edges and four bevels: their passes meet over a ridge that runs to the tip."""

from __future__ import annotations

from knifecam.making import make
from tests.agreement.wider_orders import wider_bevel


def test_passes_of_the_other_bevel_say_nothing_of_the_cusps_beside_the_ridge() -> None:
    """They pass this bevel aslant, as if they ran up its slope, and little was allowed.

    2.1 um, less than a finished cusp, were told as uncut over one cell.
    """
    order = wider_bevel(18)
    assert [bevel.name for bevel in order.blade.bevels] == ["edge", "upper"]
    assert make(order, cell=0.05).verdict.findings == ()

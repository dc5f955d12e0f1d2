"""A blade ground on side A alone, its outline broken on both: what of side B's wall is to be seen.

Beside the bevel side A takes all but the land, and side B's wall is no more than a strip between
its edge break and its groove's floor. Both walls are compared there, and not where side B's last
pass leads away from the wall in space that side A has opened.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import EdgeBreak
from knifecam.judge.prove import judge
from knifecam.judge.seating import steps_between
from knifecam.order.build_details import flat_stretches
from knifecam.planning import lay_out
from knifecam.program import write_program
from knifecam.shop import Order
from tests.agreement.bevelled import THICK, bevelled_order
from tests.agreement.details import chamfer_mill, with_cutter
from tests.sabotage import harness as spoil

LAND, WIDTH = 0.31, 0.3
"""mm: the break is as deep as the land is thick, so that no height of the land has a wall on side B."""


@pytest.fixture(scope="module")
def order() -> Order:
    order = bevelled_order(sides="A", edge_at=-(THICK - LAND) / 2, land=LAND)
    blade = order.blade
    breaks = tuple(
        EdgeBreak(name="E1", of="outline", side=side, width=WIDTH,
                  stretches=flat_stretches(blade, side, WIDTH))
        for side in "AB"
    )  # fmt: skip
    order = replace(order, blade=replace(blade, breaks=breaks))
    return with_cutter(order, chamfer_mill(6), "break")


@pytest.fixture(scope="module")
def texts(order: Order) -> tuple[str, str]:
    plan = lay_out(order)
    return write_program(order, plan, "A").text, write_program(order, plan, "B").text


def test_nothing_is_found_beside_the_heel(order: Order, texts: tuple[str, str]) -> None:
    judged = judge(order, texts, cell=0.3)
    assert judged.verdict.findings == ()
    step = steps_between(judged.case)
    assert np.isfinite(step).sum() > 0.6 * len(step)


def test_a_groove_s_wall_3_um_off_is_still_told(order: Order, texts: tuple[str, str]) -> None:
    side_b = spoil.moved(texts[1], "Y", 0.003, cut="OUTLINE GROOVE'S WALL")
    judged = judge(order, (texts[0], side_b))
    assert "mismatch" in {found.kind for found in judged.verdict.findings}

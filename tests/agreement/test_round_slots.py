"""Round holes that are drawn as slots of many lines: the cutter is led onto their wall in the open."""

from __future__ import annotations

import numpy as np
import pytest

from knifecam.blade import Blade, Bore, Slot
from knifecam.curve import Curve, polyline
from knifecam.making import make
from knifecam.shop.defaults import propose_cutter
from tests.agreement.bevel_blades import ordered
from tests.agreement.orders import rounded
from tests.agreement.test_inner_corners import with_slot


def hole(sides: int, across: float) -> Curve:
    """Return a regular polygon about (8, 0)."""
    turn = np.arange(sides) * 2 * np.pi / sides
    rim = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return Curve(np.array([8.0, 0.0]) + across / 2 * rim, np.zeros(sides))


@pytest.mark.parametrize("sizes", [(4.0, 2.0), (6.0, 3.0), (8.0, 4.0)])
def test_a_hole_of_44_lines_is_milled_by_the_thickest_cutter_chosen(
    sizes: tuple[float, float],
) -> None:
    """An arc of two radii, 8 mm, leads a cutter of 8 mm across a hole whose track is 6 mm in radius.

    Smaller cutters came down within what roughing had left.
    """
    blade = Blade(
        outline=rounded(-45, -18, 45, 18, 6), thickness=3.0,
        slots=(Slot(name="S1", outline=hole(44, 20.0)),),
        bores=(Bore(name="B1", centre=(-25.0, 0.0), diameter=5.0),),
    )  # fmt: skip
    cutters = [propose_cutter(k, "bull-nose", size, corner=0.1) for k, size in enumerate(sizes, 1)]
    made = make(ordered(blade, cutters), cell=0.1)
    assert made.verdict.findings == ()
    assert {cut.cutter for cut in made.plan.cuts if cut.name == "SLOTS"} == {1}


@pytest.mark.parametrize("across", [8.0, 4.5])
def test_a_hole_of_24_lines_is_led_onto_from_between_its_corners(across: float) -> None:
    """Both leads fit only where each begins well before a corner, or well after it."""
    order = with_slot(polyline(np.array(hole(24, across).vertices)), 3.0)
    assert make(order, cell=0.1).verdict.findings == ()


def test_a_hole_of_200_lines_is_finished_no_faster_at_the_rim_than_a_round_one() -> None:
    """The rim runs Dm / (Dm - D) = 2 times as fast as the axis: 150 mm/min for the 300 given.

    It took 300 on the axis, and 556 at the rim on the arc that leads onto the wall.
    """
    order = with_slot(polyline(np.array(hole(200, 4.0).vertices)), 2.0)
    made = make(order, cell=0.1)
    assert made.verdict.findings == ()
    for cut in made.plan.cuts:
        if cut.name.startswith("SLOTS"):
            m = cut.motions
            # the last lap and its two arcs
            begun = np.flatnonzero((m.turns != 0) & (m.feed > 0))[-2]
            assert m.feed[begun : begun + 200] == pytest.approx(150.0, rel=0.02)

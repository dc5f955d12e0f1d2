"""Blades with two edges and four bevels: their passes meet over a ridge that runs to the tip."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from knifecam.blade import Bevel, Blade
from knifecam.judge.prove import judge
from knifecam.judge.verdict_figures import shape_figures
from knifecam.making import make
from knifecam.planning import lay_out
from knifecam.program import write_program
from knifecam.shop import Order
from knifecam.shop.order_record import BEVEL_FINISH
from tests.agreement.bevel_blades import across, between, ordered, rounded_polygon, shop
from tests.agreement.wider_orders import wider_bevel


def test_passes_of_the_other_bevel_say_nothing_of_the_cusps_beside_the_ridge() -> None:
    """They pass this bevel aslant, as if they ran up its slope, and little was allowed.

    2.1 um, less than a finished cusp, were told as uncut over one cell.
    """
    order = wider_bevel(18)
    assert [bevel.name for bevel in order.blade.bevels] == ["edge", "upper"]
    assert make(order, cell=0.05).verdict.findings == ()


def unlike_lands() -> Order:
    """Return a dagger with straight edges to a sharp point, the upper land 0.24 mm thicker."""
    outline = rounded_polygon(
        [(-34.0, -7.0, 2.0), (0.0, -7.0, 0.0), (26.0, 0.0, 0.0), (0.0, 7.0, 0.0), (-34.0, 7.0, 2.0)]
    )
    tip, plunge = (26.0, 0.0), across((9.0, -60.0), (9.0, 60.0), radius=5.0)
    lower = Bevel(
        name="lower", edge=between(outline, (1.0, -6.73), tip), angle=math.radians(12.0), land=0.4,
        plunges=(plunge,),
    )  # fmt: skip
    upper = replace(lower, name="upper", edge=between(outline, tip, (1.0, 6.73)), land=0.64)
    order = ordered(Blade(outline=outline, thickness=3.0, bevels=(lower, upper)), shop(nose=3.0))
    coarser = [
        replace(c, stepover=1.3 * c.stepover) if c.stage == BEVEL_FINISH else c
        for c in order.cutting
    ]
    return replace(order, cutting=tuple(coarser))


def test_a_land_is_measured_where_its_own_bevel_makes_the_edge() -> None:
    """At the tip the lower bevel runs over the upper's edge, and leaves its cusps there: no land.

    By trigonometry: t from the tip the upper edge lies t sin(tip) inside the lower, whose face has
    risen there by t sin(tip) tan(12 degrees) on either side.
    """
    order = unlike_lands()
    plan = lay_out(order)
    texts = write_program(order, plan, "A").text, write_program(order, plan, "B").text
    case = judge(order, texts, only_sights=True).case
    _, edge = case.edges
    off = np.abs(edge.land - edge.wanted)
    begun = 0.12 / (math.sin(2 * math.atan(7 / 26)) * math.tan(math.radians(12.0)))
    assert edge.stations[edge.own].min() == pytest.approx(begun, abs=0.1)
    assert edge.own[edge.stations > begun].all()
    assert off[~edge.own].max() > 5e-3 > off[edge.own].max()
    _, upper = shape_figures(case)["bevels"]
    assert upper["land"]["most_off"] == pytest.approx(off[edge.own].max(), abs=1e-5)

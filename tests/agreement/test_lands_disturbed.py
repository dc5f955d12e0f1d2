"""How a land moves with plate and zeros: what is told of it, and the same texts on such plates."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from knifecam.judge.bevel_findings import land_more
from knifecam.judge.prove import judge
from knifecam.judge.worst_case import Disturbance
from knifecam.measure.measured_edge import MeasuredEdge
from knifecam.planning import lay_out
from knifecam.program import write_program
from knifecam.shop import Order
from tests.agreement.bevelled import LAND, THICK, bevelled_order

FLUSH = (THICK - LAND) / 2

BY_HAND = [
    # sides, z_zero of A and B; the land with the plate 0.05 thicker, with side B's Z zero 0.03 too high
    ("A", ("face", "fixture"), 0.05, 0.0),
    ("A", ("fixture", "fixture"), 0.0, 0.0),
    ("B", ("face", "fixture"), 0.0, 0.03),
    ("B", ("fixture", "face"), 0.05, 0.03),
    ("both", ("face", "fixture"), 0.0, 0.03),
    ("both", ("face", "face"), 0.05, 0.03),
    ("both", ("fixture", "fixture"), -0.05, 0.03),
]
"""A side that counts Z from the face leaves 0.05 mm more over the fixture in a plate 0.05 mm thicker, one
that counts from the fixture as much as ever. Where one side alone cuts, that is the land; where both do,
the plate's own 0.05 mm come off what they leave together."""


def placed(sides: str, zeros: tuple[str, str]) -> Order:
    at = {"A": -FLUSH, "B": FLUSH, "both": 0.0}[sides]
    order = bevelled_order(sides=sides, edge_at=at)
    return replace(order, setup=replace(order.setup, z_zero=zeros))


def texts_of(order: Order) -> tuple[str, str]:
    plan = lay_out(order)
    return write_program(order, plan, "A").text, write_program(order, plan, "B").text


def edge_of(order: Order, texts: tuple[str, str]) -> MeasuredEdge:
    """Return the land as the simulator finds it on the order's plate."""
    (edge,) = judge(order, texts, only_sights=True).case.edges
    return edge


def thicker(order: Order, by: float) -> Order:
    """Return an order for a thicker plate, the blade's surface as wanted before."""
    plate = replace(order.setup.plate, thickness=order.setup.plate.thickness + by)
    return replace(order, setup=replace(order.setup, plate=plate))


def raised(text: str, by: float) -> str:
    """Return a program with all its heights ``by`` mm higher."""
    return re.sub(r"Z(-?\d+\.\d+)", lambda word: f"Z{float(word[1]) + by:.4f}", text)


@pytest.mark.parametrize(("sides", "zeros", "thick", "high"), BY_HAND)
def test_a_land_moves_as_the_same_text_cuts_it(
    sides: str, zeros: tuple[str, str], thick: float, high: float
) -> None:
    order = placed(sides, zeros)
    texts = texts_of(order)
    edge = edge_of(order, texts)
    assert edge.land == pytest.approx(LAND, abs=0.004)
    for by in (0.05, -0.05):
        told = land_more(order.setup, Disturbance(name="", thickness=by), edge)
        assert told == pytest.approx(thick * by / 0.05, abs=1e-9)
        assert edge_of(thicker(order, by), texts).land == pytest.approx(edge.land + told, abs=2e-4)
    for by in (0.03, -0.03):
        told = land_more(order.setup, Disturbance(name="", zero_high=by), edge)
        assert told == pytest.approx(high * by / 0.03, abs=1e-9)
        moved = edge_of(order, (texts[0], raised(texts[1], by)))
        assert moved.land == pytest.approx(edge.land + told, abs=2e-4)


def test_a_wedge_lifts_a_land_of_one_side_by_what_it_adds_at_the_datum() -> None:
    """Zeroed at the plate's low X end, where a wedge rising by 0.02 mm takes 0.01 mm off."""
    wedge = Disturbance(name="", wedge=0.02)
    order = placed("A", ("face", "fixture"))
    edge = edge_of(order, texts_of(order))
    assert land_more(order.setup, wedge, edge) == pytest.approx(np.full(len(edge.points), -0.01))
    plate = order.setup.plate
    both = replace(edge, finished=np.zeros_like(edge.finished))
    along = (edge.points[:, 0] - plate.corner[0]) / plate.length
    assert land_more(order.setup, wedge, both) == pytest.approx(-0.02 * along)

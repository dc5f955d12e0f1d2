"""How far along the edge each stage's passes go: no stage runs over the handle past the plunge."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from knifecam.blade import Bevel, Blade
from knifecam.curve import Motions, place_at
from knifecam.order import load_order
from knifecam.planning.bench import Bench
from knifecam.planning.bevels import Ground, entry_for, ground_on
from knifecam.shop import Order
from knifecam.shop.order import BEVEL_FINISH, BEVEL_SEMI
from tests.agreement.bevel_blades import across, between, ordered, rounded_polygon, shop

HUNTER = Path(__file__).parents[2] / "examples" / "hunter-104.toml"


def drop_point() -> Order:
    """Return the order of a drop point, 95 mm of blade before 90 mm of handle, its plunge leaning."""
    outline = rounded_polygon(
        [
            (-90.0, 2.0, 6.0), (-8.0, 2.0, 6.0), (0.0, 0.0, 1.5), (60.0, 0.0, 60.0),
            (95.0, 15.0, 0.0), (50.0, 24.0, 60.0), (-90.0, 24.0, 6.0),
        ]
    )  # fmt: skip
    bevel = Bevel(
        name="edge", edge=between(outline, (4.0, 0.0), (95.0, 15.0)), angle=math.radians(7.0),
        land=0.3, plunges=(across((8.0, -60.0), (14.0, 60.0), radius=6.0),),
    )  # fmt: skip
    return ordered(Blade(outline=outline, thickness=3.0, bevels=(bevel,)), shop())


def extent(ground: Ground, stage: str) -> np.ndarray:
    """Return how far before and past the edge's middle a stage's axis goes along the edge, mm."""
    edge = ground.face.edge
    (middle,), (heading,) = place_at(edge, edge.length / 2)
    motions = Motions.joined(list(ground.passes[stage]))
    places = np.concatenate([motions.start, motions.stop])[:, :2]
    along = (places - middle) @ np.array([math.cos(heading), math.sin(heading)])
    return np.array([-along.min(), along.max()])


@pytest.mark.parametrize("side", ["A", "B"])
@pytest.mark.parametrize("order", [load_order(HUNTER), drop_point()], ids=["hunter", "drop point"])
def test_the_semi_finish_goes_no_further_than_the_finish_and_a_cutters_radius(order, side):
    _, cutter = entry_for(order, BEVEL_SEMI)
    for bevel in order.blade.bevels:
        ground = ground_on(Bench(order=order, side=side), bevel)
        over = extent(ground, BEVEL_SEMI) - extent(ground, BEVEL_FINISH)
        assert (over <= cutter.radius).all()

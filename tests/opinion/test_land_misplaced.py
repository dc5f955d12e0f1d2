"""The land along the edge as it lies: a misplaced side B against a solid cut by both sides.

The blade is that of `tests/unit/judge/hand_bevel.py`: its edge runs along y = 0 from x = 3. The solids
are prisms along X of what each side leaves: plate, less all above the slope, less all outside the wall
down to the other side's. Side B's is moved as the plate is not where its program takes it to be.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold

from knifecam.measure.measured_edge import measure_edges
from knifecam.rs274.program_reader import read_program
from knifecam.shop.setup import Misplacement
from knifecam.sweep.side_program import side_of, stored_of
from tests.unit.judge import hand_bevel as hand
from tests.unit.judge import hand_written as plain

WITHIN = 0.005
"""mm: how near a measured land is to the solid's."""

FAR = 200.0
PAST = 0.05
"""mm past the mid-plane that both sides' walls go."""

PLACES = {
    "aside, inward": Misplacement(y=-0.01),
    "aside, outward": Misplacement(y=0.01),
    "far inward": Misplacement(x=0.05, y=-0.05),
    "far outward": Misplacement(x=-0.05, y=0.05),
    "turned": Misplacement(angle=math.radians(0.05)),
    "turned back": Misplacement(angle=math.radians(-0.05)),
    "all at once": Misplacement(x=0.03, y=-0.04, z=0.02, angle=math.radians(0.04)),
    "all back": Misplacement(x=-0.03, y=0.04, z=-0.02, angle=math.radians(-0.04)),
}


def left_by_a_side() -> Manifold:
    """Return what one side leaves, in its own frame: the edge along X, the side's face above."""
    top, run = plain.THICK / 2, hand.width()
    profile = [
        (0.0, -PAST), (0.0, hand.LAND / 2), (run, top), (FAR, top), (FAR, -FAR), (-FAR, -FAR),
        (-FAR, -PAST),
    ]  # fmt: skip
    prism = CrossSection([profile[::-1]]).extrude(2 * FAR)  # (y, z) along the third axis
    turned = prism.transform(np.array([[0, 0, 1, 0], [1, 0, 0, 0], [0, 1, 0, 0]], float))
    return turned.translate([-FAR, 0, 0])


def cut_by_both(place: Misplacement, datum: tuple[float, float]) -> Manifold:
    """Return the plate that both sides left, the plate lying otherwise on side B (turned about X)."""
    a = left_by_a_side()
    mirrored = a.mirror([0, 1, 0])  # as side B's frame has it: y toward the edge
    x, y = datum[0], -datum[1]
    moved = mirrored.translate([-x - place.x, -y - place.y, -place.z])
    moved = moved.rotate([0, 0, -place.angle_deg]).translate([x, y, 0])
    return a ^ moved.rotate([180, 0, 0])


def land_of(solid: Manifold, x: float) -> float:
    """Return the thickness just inside the innermost upright wall of the section at ``x``."""
    turned = solid.transform(np.array([[0, 1, 0, 0], [0, 0, 1, 0], [1, 0, 0, 0]], float))
    (ring,) = turned.slice(x).to_polygons()
    after = np.roll(ring, -1, axis=0)
    upright = (np.abs(after - ring)[:, 0] < 1e-7) & (np.abs(after - ring)[:, 1] > 1e-3)
    near = ring[:, 0] < 1.0
    inner = ring[upright & near, 0].max() + 1e-6
    crossed = (ring[:, 0] - inner) * (after[:, 0] - inner) < 0
    share = (inner - ring[crossed, 0]) / (after - ring)[crossed, 0]
    return float(np.ptp(ring[crossed, 1] + share * (after - ring)[crossed, 1]))


@pytest.fixture(scope="module")
def cut():
    order = hand.order()
    a, b = (
        side_of(order, name, text, read_program(text, stored_of(order.setup)), 0)
        for name, text in zip("AB", (hand.side_a(), hand.side_b()), strict=True)
    )
    return order, a, b


@pytest.mark.parametrize("how", PLACES)
def test_the_land_is_the_solids_where_side_b_lies_otherwise(cut, how):
    order, a, b = cut
    (edge,) = measure_edges(order, (a, b.misplaced(PLACES[how])))
    solid = cut_by_both(PLACES[how], order.setup.datum[1])
    picked = np.linspace(0, len(edge.land) - 1, 9).astype(int)
    lands = np.array([land_of(solid, float(edge.points[k, 0])) for k in picked])
    assert edge.land[picked] == pytest.approx(lands, abs=WITHIN)
    assert lands.min() > 0.3
    assert len(edge.land) > 0.98 * (order.blade.bevels[0].edge.end / 0.1)


def test_lying_as_ordered_it_is_the_ordered_land(cut):
    order, a, b = cut
    solid = cut_by_both(Misplacement(), order.setup.datum[1])
    assert land_of(solid, 20.0) == pytest.approx(hand.LAND, abs=1e-4)
    (edge,) = measure_edges(order, (a, b))
    assert edge.land == pytest.approx(hand.LAND, abs=WITHIN)

"""The closed refusals against discs dilated on a coarse grid, over many random orders.

The grid knows nothing of curves: the blade is a set of cells (shapely says which), the trench and
every gap come from the Euclidean distance transform (scipy). Within a cell's diagonal of the limit
either answer is right; beyond it both must agree.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from scipy.ndimage import distance_transform_edt

from knifecam.blade import Bore
from knifecam.curve import Curve
from knifecam.rules import clamp_rules, opening_rules, setup_rules
from knifecam.rules.rules_limits import CLAMP_ROOM_MM, WEB_TO_OUTLINE_MM
from knifecam.shop import Clamp, Registration
from tests.agreement.orders import simple_order

CELL = 0.4
DOUBT = CELL * 1.5
BASE = simple_order()


def random_outline(rng: np.random.Generator) -> Curve:
    """A star-shaped loop of lines and arcs, elongated."""
    while True:
        count = int(rng.integers(6, 14))
        angle = np.sort(rng.uniform(0, 2 * np.pi, count))
        if np.diff(np.append(angle, angle[0] + 2 * np.pi)).min() < 0.15:
            continue
        radius = rng.uniform(9, 16, count)
        vertices = np.stack([2.2 * radius * np.cos(angle), radius * np.sin(angle)], axis=1)
        bulges = rng.uniform(-0.25, 0.4, count) * (rng.random(count) < 0.7)
        curve = Curve(vertices, bulges)
        if shapely.Polygon(curve.points(0.001)).is_valid:
            return curve.counter_clockwise()


def random_order(rng: np.random.Generator):
    outline = random_outline(rng)
    x0, y0, x1, y1 = outline.bounds
    edges = rng.uniform(8, 18, 4)
    corner = (x0 - edges[0], y0 - edges[1])
    length, width = x1 - x0 + edges[0] + edges[2], y1 - y0 + edges[1] + edges[3]
    plate = replace(BASE.setup.plate, length=length, width=width, corner=corner)
    inside = rng.uniform([x0, y0], [x1, y1])
    waste = (corner[0] + rng.uniform(2, 8), corner[1] + rng.uniform(2, width - 2))
    reference = Bore(name="P1", centre=waste, diameter=float(rng.uniform(3.2, 6)), depth=2.7)
    low = rng.uniform(0, [length - 8, width - 8])
    clamp = Clamp(
        side="A", x_low=low[0], y_low=low[1], x_high=low[0] + 7, y_high=low[1] + 6, height=8.0
    )
    return replace(
        BASE,
        blade=replace(
            BASE.blade, outline=outline, slots=(),
            bores=(Bore(name="B1", centre=tuple(inside), diameter=float(rng.uniform(3.5, 7))),),
        ),
        setup=replace(
            BASE.setup, plate=plate, datum=(corner, corner), clamps=(clamp,),
            registration=Registration(kind="pins", bores=(reference,)),
        ),
        trench=replace(BASE.trench, width=float(rng.uniform(3.75, 6.0))),
    )  # fmt: skip


class Raster:
    """The plate as cells: distances to the blade, outside and inside it."""

    def __init__(self, order):
        x, y, high_x, high_y = order.setup.plate.bounds
        self.x = np.arange(x + CELL / 2, high_x, CELL)
        self.y = np.arange(y + CELL / 2, high_y, CELL)
        gx, gy = np.meshgrid(self.x, self.y)
        polygon = shapely.Polygon(order.blade.outline.points(0.001))
        self.blade = shapely.contains_xy(polygon, gx, gy)
        self.outside = distance_transform_edt(~self.blade) * CELL - CELL / 2
        self.inside = distance_transform_edt(self.blade) * CELL - CELL / 2
        self.gx, self.gy = gx, gy

    def frame(self, order):
        """Least plate between the dilated blade and the plate's edge."""
        trench = self.outside < order.trench.width
        low_x, low_y, high_x, high_y = order.setup.plate.bounds
        reach = np.minimum(
            np.minimum(self.gx - low_x, high_x - self.gx),
            np.minimum(self.gy - low_y, high_y - self.gy),
        )
        return float(reach[trench].min()) - CELL / 2

    def disc(self, field, centre, radius):
        near = np.hypot(self.gx - centre[0], self.gy - centre[1]) <= radius
        return float(field[near].min()) if near.any() else np.nan

    def box(self, x0, y0, x1, y1):
        near = (self.gx >= x0) & (self.gx <= x1) & (self.gy >= y0) & (self.gy <= y1)
        return float(self.outside[near].min())


def agree(refused: bool, room: float, least: float) -> bool:
    """Whether a refusal is right by the grid, or the grid cannot tell."""
    if abs(room - least) <= DOUBT or not np.isfinite(room):
        return True
    return refused == (room < least)


@pytest.mark.parametrize("seed", range(4))
def test_closed_rules_agree_with_dilated_discs(seed):
    rng = np.random.default_rng(seed)
    told = 0
    for _ in range(300):
        order = random_order(rng)
        raster = Raster(order)
        frame = [line for line in setup_rules.border_left(order) if line.startswith("plate")]
        assert agree(bool(frame), raster.frame(order), order.trench.border), (frame, seed)
        bore = order.blade.bores[0]
        web = raster.disc(raster.inside, bore.centre, bore.diameter / 2)
        web = web if raster.disc(raster.outside, bore.centre, bore.diameter / 2) < CELL else -9.0
        lines = [x for x in opening_rules.bores(order) if "metal to the outline" in x]
        assert agree(bool(lines), web, WEB_TO_OUTLINE_MM), (lines, web)
        pin = order.setup.registration.bores[0]
        room = raster.disc(raster.outside, pin.centre, pin.diameter / 2) - order.trench.width
        low_x, low_y, high_x, high_y = order.setup.plate.bounds
        edge = min(
            pin.centre[0] - low_x, high_x - pin.centre[0],
            pin.centre[1] - low_y, high_y - pin.centre[1],
        ) - pin.diameter / 2  # fmt: skip
        lines = [x for x in setup_rules.border_left(order) if x.startswith("registration")]
        assert agree(bool(lines), min(room, edge), WEB_TO_OUTLINE_MM), (lines, room)
        clamp, corner = order.setup.clamps[0], order.setup.plate.corner
        gap = raster.box(
            clamp.x_low + corner[0], clamp.y_low + corner[1],
            clamp.x_high + corner[0], clamp.y_high + corner[1],
        ) - order.trench.width  # fmt: skip
        lines = [line for line in clamp_rules.clamps(order) if "the trench;" in line]
        assert agree(bool(lines), gap, CLAMP_ROOM_MM), (lines, gap)
        told += bool(frame) + bool(lines)
    assert told > 50  # the orders are such that the rules have something to say

"""Both sides' finished walls of blades with bevels meet all round the outline, tabs apart.

Read off the planned passes alone: beside every place of the outline the lowest tips of side A's lap
and of side B's walls are looked for. Where side B's wall begins or ends in a concave corner its lead
arc must go further on, and the other wall must go as far.
"""

from __future__ import annotations

import numpy as np
import pytest

from knifecam.curve.curve import Floats
from knifecam.curve.motions import sampled_places
from knifecam.curve.stations import beside_outline
from knifecam.planning import lay_out
from knifecam.planning.plan import Plan
from knifecam.shop import Order
from knifecam.shop.order_record import FINISH
from knifecam.shop.side_view import points_on
from tests.agreement.bevel_orders import random_bevel_order

BESIDE = 1e-3
"""mm by which a tip beside the wall may be further off than its cutter's radius."""

NEAR = 0.15
"""mm of the outline on either side within which a pass must be beside a place."""

CORNER = 0.1
"""mm: the corner radius of the finishing cutters of these orders; they cut a wall from there up."""

INDICES = (133, 140, 144, 155, 162, 173, 178, 190, 255)
"""Blades with and without a choil, with bevels on both sides and on one; in 140 a lead arc moves.

In 255 the first tab has no room for the lap's lead arcs, the next has.
"""


def walls(order: Order, plan: Plan, side: str, stations: Floats) -> Floats:
    """Return the lowest tip of a side's finished walls beside each station, part z, nan for none."""
    outline = order.blade.outline
    cutter = order.cutter(order.cuttings(FINISH)[0].cutter)
    cuts = [c for c in plan.cuts if c.side == side and c.name in ("OUTLINE WALL", "EDGE WALL")]
    rows = [sampled_places(c.motions, 0.05) for c in cuts]
    places = np.concatenate(rows)
    away, at = beside_outline(outline, points_on(side, places[:, :2], order.setup.flip))
    on = np.abs(away - cutter.radius) <= BESIDE
    places, at = places[on], at[on]
    whole = outline.length
    apart = np.abs((stations[:, None] - at + whole / 2) % whole - whole / 2)
    found: Floats = np.where(apart <= NEAR, places[:, 2], np.inf).min(axis=1)
    return np.where(np.isfinite(found), found if side == "A" else -found, np.nan)


def looked_at(order: Order, plan: Plan) -> Floats:
    """Return stations 0.2 mm apart, without those near a corner or a tab."""
    outline = order.blade.outline
    stations = np.arange(0.0, outline.length, 0.2)
    whole = outline.length

    def apart(from_: Floats) -> Floats:
        gaps = np.abs((stations[:, None] - from_ + whole / 2) % whole - whole / 2)
        least: Floats = gaps.min(axis=1)
        return least

    tabs = np.array([tab.station for tab in plan.tabs])
    reach = max(tab.wide for tab in plan.tabs) + 6.0
    return stations[(apart(outline.stations) > 2 * NEAR) & (apart(tabs) > reach)]


@pytest.mark.parametrize("index", INDICES)
def test_walls_of_both_sides_overlap_everywhere(index: int) -> None:
    order = random_bevel_order(index)
    plan = lay_out(order)
    stations = looked_at(order, plan)
    assert len(stations) > 0.5 * order.blade.outline.length / 0.2
    overlap = walls(order, plan, "B", stations) - walls(order, plan, "A", stations)
    assert not np.isnan(overlap).any(), stations[np.isnan(overlap)]
    lacking = overlap < 2 * CORNER
    assert not lacking.any(), (stations[lacking], overlap[lacking])

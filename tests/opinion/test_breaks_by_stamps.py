"""Planned edge breaks against a cone stamped along their motions, and against the wanted surface.

The stamp knows nothing of offsets: at every place the lowest of the cone's surface over dense
positions of its axis is taken. What it leaves must be the broken face of `blade.finished_surface`, which
knows nothing of mills; nowhere may it go deeper.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely

from knifecam.blade import EdgeBreak
from knifecam.blade.finished_surface import half_thickness, near_break_ends
from knifecam.curve import circle, distance, signed_distance, station_of
from knifecam.curve.motions import sampled
from knifecam.curve.stations import Stretch
from knifecam.planning import lay_out
from knifecam.rules.edge_break_rules import edge_breaks
from tests.agreement.details import broken
from tests.agreement.good_orders import filleted
from tests.opinion.test_feasible_by_dilation import random_outline

STEP = 0.01
"""mm between the axis' positions."""

DOUBT = 2e-4
"""mm: what a stamp at every 10 um may leave of a round corner's break."""


def stamped(order, side, places):
    """Height over the mid-plane, toward the side, that its chamfer mills leave at places (K, 2)."""
    turn = np.array([1.0, 1.0] if side == "A" else [1.0, -1.0])
    left = np.full(len(places), order.blade.thickness / 2)
    for cut in (c for c in lay_out(order).side(side) if c.stage == "break"):
        mill, m = order.cutter(cut.cutter), cut.motions
        level = (m.kind != 0) & (m.start[:, 2] == m.stop[:, 2])
        for low in np.unique(m.stop[level, 2]):
            chosen = np.flatnonzero(level & (m.stop[:, 2] == low))
            one = type(m)(*(getattr(m, n)[chosen] for n in m.__dataclass_fields__))
            axis = sampled(one, STEP)
            for block in np.array_split(np.arange(len(places)), max(1, len(places) // 200)):
                apart = places[block, None] * turn - axis[None]
                away = np.sqrt((apart**2).sum(axis=2).min(axis=1))
                cone = low + np.maximum(away - mill.tip / 2, 0.0) / math.tan(mill.half_angle)
                cone = np.where(away <= mill.radius, cone, np.inf)
                left[block] = np.minimum(left[block], cone)
    return left


def agrees(order, side, curve, inward, *, whole=True):
    """Compare stamp and surface on short lines square to a curve."""
    rng = np.random.default_rng(5)
    points, normals = [], []
    for k in range(len(curve)):
        for t in rng.uniform(0.02, 0.98, 6):
            heading = curve.start_headings[k] + t * curve.angles[k]
            points.append(curve.piece_points(k, [t])[0])
            normals.append(inward * np.array([-math.sin(heading), math.cos(heading)]))
    run = np.linspace(0.002, 0.6, 9)
    places = (np.array(points)[:, None] + run[None, :, None] * np.array(normals)[:, None]).reshape(
        -1, 2
    )
    wanted = half_thickness(order.blade, places, side)
    metal = np.isfinite(wanted) & ~near_break_ends(order.blade, places, side)
    left = stamped(order, side, places[metal])
    assert (left >= wanted[metal] - 1e-6).all(), (left - wanted[metal]).min()
    if whole:
        assert left == pytest.approx(wanted[metal], abs=DOUBT)
    return left, wanted[metal], places[metal]


@pytest.mark.parametrize("side", ["A", "B"])
@pytest.mark.parametrize(("angle", "width"), [(45, 0.3), (45, 0.2), (30, 0.4), (60, 0.2)])
def test_outline_bore_and_slot_are_broken_as_wide_as_ordered(side, angle, width):
    breaks = tuple(
        EdgeBreak(name="E1", of=of, side=side, width=width, angle=math.radians(angle))
        for of in ("outline", "B1", "S1")
    )
    order = broken(*breaks, angle=math.radians(angle))
    assert list(edge_breaks(order)) == []
    agrees(order, side, order.blade.outline, 1.0)
    agrees(order, side, order.blade.slots[0].outline, -1.0)
    agrees(order, side, circle(order.blade.bores[0].centre, 5.0), -1.0)


@pytest.mark.parametrize("side", ["A", "B"])
def test_a_stretch_is_broken_between_its_ends(side):
    order = broken()
    outline = order.blade.outline
    start, end = (float(s) for s in station_of(outline, [(28.0, 9.0), (-5.0, 10.0)]))
    one = EdgeBreak(
        name="E1", of="outline", side=side, width=0.3, stretches=(Stretch(start=start, end=end),)
    )
    order = replace(order, blade=replace(order.blade, breaks=(one,)))
    assert list(edge_breaks(order)) == []
    agrees(order, side, outline, 1.0)


@pytest.mark.parametrize("seed", range(12))
def test_breaks_go_along_inner_corners_as_they_were_left(seed):
    """Outlines with bays whose inner corners are tighter than the finishing cutter.

    What stands is the outline opened by its circle, by shapely; the break is as wide and deep beside
    that as it is ordered, and nothing of the blade is gouged.
    """
    rng = np.random.default_rng([seed, 2])
    corners = [(-30, -10), (-4, -10), (0, float(rng.uniform(-6, -3))), (4, -10), (30, -10), (30, 10),
               (-30, 10)]  # fmt: skip
    radii = [3.0, 2.0, float(rng.uniform(0.1, 1.5)), 2.0, 3.0, 3.0, 3.0]
    outline = filleted(corners, radii)
    order = broken(EdgeBreak(name="E1", of="outline", side="A", width=0.3))
    order = replace(order, blade=replace(order.blade, outline=outline, slots=(), bores=()))
    left, wanted, places = agrees(order, "A", outline, 1.0, whole=False)
    inner = np.hypot(*(places - np.array(corners[2])).T) < 3.0
    assert left[~inner] == pytest.approx(wanted[~inner], abs=DOUBT)
    cutter = order.cutter(order.cuttings("finish")[0].cutter).radius
    stands = shapely.Polygon(outline.points(2e-5)).buffer(cutter, 256).buffer(-cutter, 256)
    away = shapely.distance(stands.exterior, shapely.points(places[inner]))
    beside = 1.5 - np.maximum(0.3 - away, 0.0)  # 0.3 mm wide, at 45 degrees
    assert left[inner] == pytest.approx(beside, abs=DOUBT)


def test_the_mill_comes_down_clear_of_every_edge():
    """Where leads begin and end the cone's circle at the face holds no metal of blade or plate."""
    told = 0
    for seed in range(10):
        outline = random_outline(np.random.default_rng([seed, 9]))
        order = broken(EdgeBreak(name="E1", of="outline", side="A", width=0.3), tip=1.6)
        order = replace(
            order, blade=replace(order.blade, outline=outline, slots=(), bores=()),
            trench=replace(order.trench, width=3.7),
        )  # fmt: skip
        (cut,) = [c for c in lay_out(order).side("A") if c.stage == "break"]
        m = cut.motions
        falls = (m.kind == 1) & (m.start[:, 2] > m.stop[:, 2])
        rim = 0.8 + 0.35 + 0.3
        for place in m.stop[falls, :2]:
            assert distance(place, outline)[0] >= rim
            assert -signed_distance(place, outline)[0] + rim <= order.trench.width
            told += 1
    assert told == 10

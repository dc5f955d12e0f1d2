"""Which cells of a pattern may stay, against polygons of a general-purpose library."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from knifecam.curve import circle, polyline
from knifecam.order import build_details
from tests.opinion.test_feasible_by_dilation import random_outline

DOUBT = 0.003
"""mm: chords of 1 um, and places 0.05 mm apart along a cell."""


def polygon(curve) -> shapely.Polygon:
    return shapely.Polygon(curve.points(0.001))


def random_cell(rng: np.random.Generator) -> build_details.Cell:
    kind = rng.integers(3)
    if kind == 0:
        return build_details.round_cell(float(rng.uniform(2, 5)))
    if kind == 1:
        return build_details.Cell(outline=build_details.slot_outline(float(rng.uniform(4, 8)), 2.5))
    corners = rng.uniform(2, 3.5, 5)[:, None] * np.stack(
        [np.cos(np.arange(5) * 1.2566), np.sin(np.arange(5) * 1.2566)], axis=1
    )
    return build_details.drawn_cell(polyline(corners + rng.uniform(-50, 50, 2)))


@pytest.mark.parametrize("seed", range(3))
def test_kept_cells_agree_with_polygons(seed):
    rng = np.random.default_rng([seed, 3])
    kept_once = left_once = 0
    for _ in range(8):
        outline, cell = random_outline(rng), random_cell(rng)
        bore = circle(rng.uniform(-10, 10, 2), 5.0)
        angle = float(rng.uniform(-np.pi, np.pi))
        pitch = float(rng.uniform(4, 10))
        places = build_details.in_rows(
            cell, outline, pitch=pitch, row_pitch=0.9 * pitch, staggered=bool(rng.integers(2)),
            angle=angle,
        )  # fmt: skip
        curves = [cell.at(*at) for at in places]
        kept = build_details.kept_cells(curves, outline, [bore], margin=1.7, web=1.2)
        blade, pin = polygon(outline), polygon(bore)
        found: list[shapely.Polygon] = []
        sure = True
        for curve in curves:
            assert blade.buffer(DOUBT).contains(polygon(curve))  # whole cells inside the region
            one = polygon(curve)
            rim = one.distance(blade.exterior)
            web = min(one.distance(other) for other in (pin, *found))
            sure &= abs(rim - 1.7) > DOUBT and abs(web - 1.2) > DOUBT
            if rim >= 1.7 and web >= 1.2:
                found.append(one)
        if sure:
            assert len(kept.cells) == len(found)
            assert all(
                polygon(c).symmetric_difference(f).area < 0.02
                for c, f in zip(kept.cells, found, strict=True)
            )
            kept_once += len(found)
            left_once += len(curves) - len(found)
        assert len(kept.cells) + kept.by_margin + kept.by_web == len(curves)
    assert kept_once > 5
    assert left_once > 5

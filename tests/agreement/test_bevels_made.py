"""Bevels as they are cut, from text, against the finished surface of the blade's record.

The comparison uses the simulator's columns and `blade.half_thickness` alone, not the judge: at
places all over the blade, beside the plunge and along the edge, on both sides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from knifecam.blade import Bevel, Blade
from knifecam.blade.finished_surface import edge_curve, edge_distance, half_thickness, past_plunge
from knifecam.curve import place_at, signed_distance
from knifecam.judge.prove import judge
from knifecam.planning import lay_out
from knifecam.program import write_program
from knifecam.rs274.program_reader import read_program
from knifecam.rules.rule_passes import contradictions, feasible
from knifecam.shop import Order
from knifecam.shop.defaults import cusp_of
from knifecam.sweep.columns import cut_samples, sample_columns
from knifecam.sweep.side_program import side_of, stored_of
from tests.agreement.bevel_blades import ordered, shop, straight_blade

MICRON = 1e-3
"""mm"""

CUSP = 3 * MICRON
COUNT = 4000


@dataclass(frozen=True, kw_only=True)
class Cut:
    """An order, its programs, and the heights they leave at places (n, 2) of the blade, by side."""

    order: Order
    texts: tuple[str, str]

    def heights(self, places: np.ndarray) -> dict[str, np.ndarray]:
        """Cut the plate at ``places`` alone, with both programs as read from text."""
        seen = sample_columns(places, self.order.blade.thickness)
        first = 0
        for name, text in zip("AB", self.texts, strict=True):
            side = side_of(
                self.order, name, text, read_program(text, stored_of(self.order.setup)), first
            )
            cut_samples(
                seen,
                side.swept_motions(),
                side.cutter_radius,
                side.shapes.corner,
                side=name,
                flip=self.order.setup.flip,
                first=first,
            )
            first += len(side)
        return {"A": seen.top, "B": -seen.bottom}


def made(order: Order) -> Cut:
    assert contradictions(order) == ()
    assert feasible(order) == ()
    plan = lay_out(order)
    return Cut(
        order=order,
        texts=(write_program(order, plan, "A").text, write_program(order, plan, "B").text),
    )


@pytest.fixture(scope="module")
def straight() -> Cut:
    return made(ordered(straight_blade(), shop()))


def places_on(blade: Blade, bevel: Bevel) -> np.ndarray:
    """Places spread over the blade, more of them beside the plunge, off the outline's wall."""
    rng = np.random.default_rng(11)
    x0, y0, x1, y1 = blade.outline.bounds
    spread = rng.uniform((x0, y0), (x1, y1), (COUNT, 2))
    past = past_plunge(bevel, spread)
    beside = rng.uniform((-8.0, y0), (4.0, y1), (COUNT, 2))
    every = np.concatenate([spread[past < 6.0], beside])
    return every[signed_distance(every, blade.outline) > 0.02]


def test_no_gouge_over_1_um_and_cusps_as_predicted(straight: Cut) -> None:
    """3.16 b of the published cusp regimes, with the step really used."""
    blade, (bevel,) = straight.order.blade, straight.order.blade.bevels
    places = places_on(blade, bevel)
    heights = straight.heights(places)
    entry = straight.order.cuttings("bevel-finish")[0]
    nose = straight.order.cutter(entry.cutter)
    for side in "AB":
        wanted = half_thickness(blade, places, side)
        off = (heights[side] - wanted) * np.cos(bevel.angle)
        assert off.min() >= -1 * MICRON
        assert off.max() <= CUSP + 0.15 * MICRON
        d = edge_distance(bevel, blade.outline, places)
        width = (blade.thickness / 2 - bevel.land / 2) / np.tan(bevel.angle)
        step = width / np.ceil(width / entry.stepover)
        milled = (past_plunge(bevel, places) < -4.0) & (d < width - step)
        predicted = cusp_of(bevel.angle, nose.corner, nose.radius, step)
        assert off[milled].max() == pytest.approx(predicted, abs=0.15 * MICRON)


def test_lands_are_within_5_um_and_sides_within_2_um_of_each_other(straight: Cut) -> None:
    blade, (bevel,) = straight.order.blade, straight.order.blade.bevels
    edge = edge_curve(bevel, blade.outline)
    stations = np.linspace(0.05, edge.length - 0.05, 600)
    points, headings = place_at(edge, stations)
    inward = np.stack([-np.sin(headings), np.cos(headings)], axis=1)
    before = past_plunge(bevel, points) < 0
    points, inward = points[before], inward[before]
    heights = straight.heights(points + 1e-4 * inward)
    land = heights["A"] + heights["B"]
    assert land == pytest.approx(bevel.land, abs=5 * MICRON)
    assert heights["A"] == pytest.approx(heights["B"], abs=2 * MICRON)
    far = places_on(blade, bevel)
    both = straight.heights(far)
    assert both["A"] == pytest.approx(both["B"], abs=CUSP)


def test_the_judge_finds_nothing(straight: Cut) -> None:
    judged = judge(straight.order, straight.texts, cell=0.2)
    assert judged.verdict.ok, [
        f"{f.kind} {f.side}{f.line} {f.message}" for f in judged.verdict.findings
    ]


def test_finishing_passes_are_few_lines_and_arcs(straight: Cut) -> None:
    """A pass falls, runs straight, and leaves the plunge on an arc; then the way back."""
    plan = lay_out(straight.order)
    (cut,) = (c for c in plan.side("A") if c.stage == "bevel-finish")
    metres = cut.motions.lengths[cut.motions.kind != 0].sum() / 1000
    assert len(cut.motions) / metres < 150

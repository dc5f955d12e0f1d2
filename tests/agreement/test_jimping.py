"""Jimping from the order through both texts to the cut blade, measured by sights."""

from __future__ import annotations

import numpy as np
import pytest

from knifecam.making import make
from knifecam.sweep.columns import cut_samples, sample_columns
from tests.agreement.details import jimped

GAP = 0.02
"""mm on either side of where the metal must end."""

AHEAD = np.array([0.0, GAP])


def left_at(made, points):
    """Thickness of metal that both texts leave at places of the part, mm."""
    order = made.order
    seen = sample_columns(np.asarray(points, dtype=float), order.setup.plate.thickness)
    for side in made.judged.case.given():
        cut_samples(
            seen, side.swept_motions(), side.cutter_radius, side.shapes.corner, side=side.name,
            flip=order.setup.flip, first=side.first,
        )  # fmt: skip
    return seen.top - seen.bottom


@pytest.fixture(scope="module", params=[8.0, 2.0], ids=["from A", "from both sides"])
def made(request):
    return make(jimped(reach=request.param), cell=0.1)


def test_the_programs_are_proved(made):
    assert made.verdict.findings == ()


def test_every_notch_is_as_deep_and_stands_where_it_is_wanted(made):
    """Edge at y = 10: metal ends at 10 - 0.45 under each axis, and stands on between them."""
    row = made.order.blade.jimping[0]
    x = np.array([c[0] for c in row.centres])
    half = len(x)
    ground = np.column_stack([x, np.full(half, 10.0 - row.depth)])
    assert (left_at(made, ground + AHEAD) == 0.0).all()
    assert left_at(made, ground - AHEAD) == pytest.approx(np.full(half, 3.0))
    teeth = np.column_stack([(x[1:] + x[:-1]) / 2, np.full(half - 1, 10.0)])
    assert left_at(made, teeth - AHEAD) == pytest.approx(np.full(half - 1, 3.0))
    assert (left_at(made, teeth + AHEAD) == 0.0).all()


def test_the_mouths_are_as_wide_as_chords_of_the_circle(made):
    """2 sqrt(0.45 x 2.05) = 1.921 mm wide at the edge."""
    row = made.order.blade.jimping[0]
    half = np.sqrt(row.depth * (row.diameter - row.depth))
    for x, _ in row.centres:
        rim = np.array([[x - half, 10.0], [x + half, 10.0]]) - (0.0, 1e-3)
        outward = np.array([[-GAP, 0.0], [GAP, 0.0]])
        assert left_at(made, rim + outward) == pytest.approx([3.0, 3.0])
        assert (left_at(made, rim - outward) == 0.0).all()

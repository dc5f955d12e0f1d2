"""A tang lightened by patterns, from the order's text through both programs to the cut blade."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from knifecam.curve import polyline
from knifecam.making import make
from knifecam.order import order_from_text
from tests.agreement.orders import rounded

ORDER = """
name = "Netting knife"
[plate]
length = 110
width = 60
corner = [-55, -30]
thickness = [2.5, 2.5, 2.5, 2.5]
[[cutters]]
number = 1
kind = "bull-nose"
diameter = 3
corner = 0.1
[[cutters]]
number = 2
kind = "flat"
diameter = 2
reach = 8
[[patterns]]                        # a row of slanting slots
length = 6
width = 2.6
angle = 60
along = [[-12, 0], [4, 0]]
pitch = 5.2
[[patterns]]                        # round cells where margin and web leave room
diameter = 3
region = "TIP"
pitch = 5
margin = 3
[[slots]]
name = "cord"
centre = [-24, 0]
length = 7
width = 4
angle = 90
"""


def netting_knife():
    """Return the order; the region near the tip is a drawn triangle."""
    region = polyline([(10, -6), (26, 0), (10, 6)])
    parts = SimpleNamespace(
        outline=rounded(-30, -10, 30, 10, 4), bores=(), slots=(), tabs=(), no_tabs=(),
        no_tab_pairs=(), shapes=(("tip", (region,)),),
    )  # fmt: skip
    return order_from_text(ORDER, folder=".", drawing=parts)


@pytest.fixture(scope="module")
def made():
    return make(netting_knife(), cell=0.1)


def test_the_programs_are_proved(made):
    assert made.verdict.findings == ()


def test_every_cell_is_open_and_as_wide_as_ordered(made):
    blade = made.order.blade
    assert [s.name for s in blade.slots] == ["cord", "P1-01", "P1-02", "P1-03", "P1-04"]
    assert [b.name for b in blade.bores] == ["P2-01", "P2-02"]
    slots = {row["name"]: row for row in made.verdict.measures["slots"]}
    assert set(slots) == {s.name for s in blade.slots}
    for row in slots.values():
        assert row["A"]["gouge"] <= 0.005
        assert row["left"] <= 0.005
    for row in made.verdict.measures["bores"]:
        assert row["diameter_a"] == pytest.approx(3.0, abs=0.001)


def test_small_cutters_enter_by_ramps(made):
    """No feed motion below the face falls steeper than the cutter's ramp of 2 degrees."""
    for cut in (c for c in made.plan.cuts if c.stage in ("slot", "bore")):
        m = cut.motions
        low = (m.stop[:, 2] < made.order.blade.thickness / 2) & (m.kind != 0)
        flat = np.where(
            m.turns != 0, 2 * np.pi * np.abs(m.turns) * m.radii,
            np.hypot(*(m.stop - m.start)[:, :2].T),
        )  # fmt: skip
        fall = np.degrees(np.arctan2(m.start[:, 2] - m.stop[:, 2], flat))[low]
        moving = flat[low] > 1e-9  # straight down only in space that is open already
        assert fall[moving].max() <= 2.0 + 1e-6

"""Bevels that run out over the sides of a blade without a plunge: a skewed edge, and a spear point.

Their programs are proved, and the plate as they cut it is held to solids that manifold3d builds
from the same figures: the bevel goes on by the edge's own line, over the side and off the blade.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import pytest

from knifecam.curve import place_at, signed_distance
from knifecam.judge.prove import judge
from knifecam.planning import lay_out
from knifecam.planning.plan import Plan
from knifecam.program import write_program
from knifecam.rules.rule_passes import contradictions, feasible
from knifecam.shop import Order
from tests.agreement.bevel_blades import across, ordered, shop
from tests.agreement.test_bevels_made import CUSP, MICRON, Cut
from tests.opinion.blade_solid import finished, heights
from tests.opinion.test_blade_solids import SKEWED, SPEAR, blade_of

SPECS = {"skewed": SKEWED, "spear point": SPEAR}
COUNT = 6000


@dataclass(frozen=True, kw_only=True)
class Knife:
    """The figures of a blade, its plan, and its programs."""

    spec: dict
    plan: Plan
    cut: Cut


def planned(order: Order) -> tuple[Plan, Cut]:
    assert contradictions(order) == ()
    assert feasible(order) == ()
    plan = lay_out(order)
    texts = (write_program(order, plan, "A").text, write_program(order, plan, "B").text)
    return plan, Cut(order=order, texts=texts)


@pytest.fixture(scope="module", params=SPECS, ids=list(SPECS))
def knife(request: pytest.FixtureRequest) -> Knife:
    spec = SPECS[request.param]
    flip = "Y" if spec is SKEWED else "X"
    plan, cut = planned(ordered(blade_of(spec), shop(), name=request.param, flip=flip))
    return Knife(spec=spec, plan=plan, cut=cut)


def test_nothing_is_found(knife: Knife) -> None:
    judged = judge(knife.cut.order, knife.cut.texts, cell=0.3)
    assert judged.verdict.findings == ()


def test_the_cut_plate_is_the_solid_within_cusps(knife: Knife) -> None:
    spec, cut = knife.spec, knife.cut
    outline = cut.order.blade.outline
    _, y0, x1, y1 = outline.bounds
    places = np.random.default_rng(5).uniform((-10.0, y0), (x1, y1), (COUNT, 2))
    places = places[signed_distance(places, outline) > 0.02]
    left = cut.heights(places)
    top, bottom = heights(finished(spec), places)
    angle = spec["bevels"][0]["angle"]
    ground = 0
    for side, wanted in (("A", top), ("B", -bottom)):
        off = (left[side] - wanted) * math.cos(angle)
        assert off.min() >= -1 * MICRON
        assert off.max() <= CUSP + 0.15 * MICRON
        ground += int((wanted < spec["thickness"] / 2 - 0.01).sum())
    assert ground > COUNT / 10


def test_tabs_stand_where_the_solid_is_as_thick_as_the_plate(knife: Knife) -> None:
    spec, cut = knife.spec, knife.cut
    outline, solid = cut.order.blade.outline, finished(spec)
    for tab in knife.plan.tabs:
        around = tab.station + np.linspace(-4.0, 4.0, 41)
        points, headings = place_at(outline, around % outline.length)
        inward = points + 0.01 * np.stack([-np.sin(headings), np.cos(headings)], axis=1)
        top, bottom = heights(solid, inward)
        assert top - bottom == pytest.approx(spec["thickness"])


def test_a_bevel_that_ends_at_its_heel_leaves_metal_that_is_told() -> None:
    """Programs with a plunge across the bevel, 4 mm from its heel, judged by the order without."""
    spec = {**SKEWED, "bevels": [{**SKEWED["bevels"][0], "land": 0.5, "edge_at": -1.75}]}
    blade = blade_of(spec)
    along = np.array([25.0, 22.0]) / math.hypot(25.0, 22.0)
    left = np.array([-along[1], along[0]])
    foot = np.array([20.0, -11.0]) + 4.0 * along
    (bevel,) = blade.bevels
    ended = replace(bevel, plunges=(across(foot - 20 * left, foot + 40 * left, radius=5.0),))
    _, cut = planned(ordered(replace(blade, bevels=(ended,)), shop(), name="ended"))
    assert judge(cut.order, cut.texts, cell=0.3).verdict.findings == ()
    judged = judge(ordered(blade, shop(), name="ended"), cut.texts)
    assert "uncut" in {found.kind for found in judged.verdict.findings}


def test_a_long_run_out_is_ground_to_its_end() -> None:
    """A bevel of 20 mm on an edge at 22 degrees to its strip ends 20 / tan 22 = 49.5 mm past the heel."""
    skew = math.radians(22)
    edge = {"edge": (1, 2), "angle": math.atan(2.5 / 20), "land": 0.5}
    spec = {
        "thickness": 3.0,
        "outline": [(-70, 0, 0), (0, 0, 0), (40 / math.tan(skew), 40, 0), (-70, 40, 0)],
        "bevels": [{**edge, "sides": "A", "edge_at": -1.25}],
    }
    _, cut = planned(ordered(blade_of(spec), shop(), name="long", flip="Y"))
    assert judge(cut.order, cut.texts, cell=0.4).verdict.findings == ()
    side = np.stack([np.arange(-53.0, -45.0, 0.25), np.full(32, 0.05)], axis=1)
    top, _ = heights(finished(spec), side)
    assert cut.heights(side)["A"] == pytest.approx(top, abs=CUSP + 1 * MICRON)

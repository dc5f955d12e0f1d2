"""How far along the edge each stage's passes go: no stage runs over the handle past the plunge."""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely

from knifecam.blade import Bevel, Blade
from knifecam.blade.cutter_limits import greatest_sag, least_wheel
from knifecam.curve import Motions, place_at
from knifecam.errors import PlanError
from knifecam.making import make
from knifecam.order import load_order
from knifecam.planning.bevel_cuts import BevelPasses, bevel_passes_on
from knifecam.shop import Order
from knifecam.shop.defaults import propose_cutter, propose_cutting
from knifecam.shop.order_record import (
    BEVEL_FINISH,
    BEVEL_ROUGH,
    BEVEL_SEMI,
    PLUNGE,
    cutting_and_cutter,
)
from knifecam.shop.side_view import SideContext
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


def leaning(lean: float, profile: str, *, nose: float = 6.0) -> Order:
    """Return the order of a short straight edge whose plunge leans by ``lean``, its sides alike."""
    outline = rounded_polygon(
        [
            (-40.0, 2.0, 6.0), (-8.0, 2.0, 6.0), (0.0, 0.0, 1.5), (40.0, 0.0, 0.0),
            (40.0, 24.0, 3.0), (-40.0, 24.0, 6.0),
        ]
    )  # fmt: skip
    bevel = Bevel(
        name="edge", edge=between(outline, (4.0, 0.0), (40.0, 0.0)), angle=math.radians(6.0),
        land=0.5, plunges=(across((12 - 60 * lean, -60.0), (12 + 60 * lean, 60.0), radius=6.0),),
    )  # fmt: skip
    bent = {
        "flat": {},
        "hollow": {"wheel": 1.3 * least_wheel(bevel, 3.5, "A")},
        "convex": {"sag": 0.6 * greatest_sag(bevel, 3.5, "A")},
    }[profile]
    bevel = replace(bevel, profile=profile, **bent)
    return ordered(Blade(outline=outline, thickness=3.5, bevels=(bevel,)), shop(nose=nose))


def staged(order: Order, stage: str, diameter: float) -> Order:
    """Return the order with a stage cut by one more cutter, of the same corner as it had."""
    _, usual = cutting_and_cutter(order, stage)
    added = propose_cutter(
        max(c.number for c in order.cutters) + 1, "bull-nose", diameter, corner=usual.corner
    )
    kept = tuple(c for c in order.cutting if c.stage != stage)
    entry = propose_cutting(added, stage, blade=order.blade)
    return replace(order, cutters=(*order.cutters, added), cutting=(*kept, entry))


def extent(ground: BevelPasses, stage: str) -> np.ndarray:
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
    _, cutter = cutting_and_cutter(order, BEVEL_SEMI)
    for bevel in order.blade.bevels:
        ground = bevel_passes_on(SideContext(order=order, side=side), bevel)
        over = extent(ground, BEVEL_SEMI) - extent(ground, BEVEL_FINISH)
        assert (over <= cutter.radius).all()


@pytest.mark.parametrize("lean", [-0.2, 0.2])
@pytest.mark.parametrize("profile", ["flat", "hollow", "convex"])
def test_passes_go_as_near_to_a_leaning_plunge_on_either_side(profile, lean):
    """One side's passes begin at the plunge, the other's end there; both sides are alike.

    Roughing came square to the edge, on one side up to 0.59 mm into a hollow plunge; all that side's
    passes stopped up to 1.2 mm earlier for it.
    """
    order = leaning(lean, profile)
    (bevel,) = order.blade.bevels
    a, b = (bevel_passes_on(SideContext(order=order, side=side), bevel) for side in "AB")
    for stage in (BEVEL_ROUGH, BEVEL_SEMI, BEVEL_FINISH):
        assert extent(a, stage)[0] == pytest.approx(extent(b, stage)[1], abs=0.01)


@pytest.mark.parametrize(("stage", "said"), [(BEVEL_ROUGH, r"(\S+) mm or less there"),
                                             (BEVEL_FINISH, r"(\S+) mm for stage")])  # fmt: skip
def test_bevels_that_end_far_before_a_plunge_are_refused_with_cutters_that_do(stage, said):
    """Its ball finished 3.5 mm of hollow bevel 0.06 mm from its axis, where it hardly moves."""
    order = staged(leaning(-0.2, "hollow", nose=3.0), BEVEL_ROUGH, 8.0)
    (bevel,) = order.blade.bevels
    with pytest.raises(PlanError, match=r"side A: passes end 3\.\d+ mm before plunge 1") as refused:
        bevel_passes_on(SideContext(order=order, side="A"), bevel)
    told = re.search(said, str(refused.value))
    assert told is not None
    cured = staged(order, stage, float(told[1]))
    for side in "AB":
        assert bevel_passes_on(SideContext(order=cured, side=side), bevel).passes[PLUNGE]


@pytest.mark.parametrize("wide", [3.0, 6.0])
def test_the_finish_begins_no_nearer_to_a_plunge_than_the_semi_finish_was_at_its_depth(wide):
    """Behind a wider roughing cutter it came down 0.05 mm deep into stairs, 0.7 mm too far on."""
    order = staged(leaning(0.2, "flat", nose=3.0), BEVEL_ROUGH, wide)
    (bevel,) = order.blade.bevels
    ground = bevel_passes_on(SideContext(order=order, side="B"), bevel)
    semi = [passing.stop[0, :2] for passing in ground.passes[BEVEL_SEMI]]
    finish = [passing.start[0, :2] for passing in ground.passes[BEVEL_FINISH]]
    been, begun = (ground.face.past_plunges(np.array(rows))[0] for rows in (semi, finish))
    assert begun.max() <= been.min() + 0.05


def test_a_semi_finish_wider_than_the_roughing_reaches_no_further_than_that_cleared():
    """On side B its arcs came down 0.26 mm deep into metal that roughing had not reached."""
    order = staged(leaning(0.2, "flat", nose=4.0), BEVEL_SEMI, 8.0)
    (bevel,) = order.blade.bevels
    ground = bevel_passes_on(SideContext(order=order, side="B"), bevel)
    rough = [passing.stop[0, :2] for passing in ground.passes[BEVEL_ROUGH] if len(passing) > 1]
    semi = [passing.start[0, :2] for passing in ground.passes[BEVEL_SEMI]]
    been, begun = (ground.face.past_plunges(np.array(rows))[0] for rows in (rough, semi))
    assert begun.max() + 4.0 <= been.min() + 2.0 + 0.05


def swept(passes: list[Motions], radius: float) -> shapely.Geometry:
    """Return where the rim of a cutter goes in passes of straight motions."""
    ways = [np.concatenate([one.start[:1], one.stop])[:, :2] for one in passes]
    return shapely.union_all([shapely.LineString(way).buffer(radius, 256) for way in ways])


@pytest.mark.parametrize("side", ["A", "B"])
@pytest.mark.parametrize(
    ("lean", "nose", "wide"), [(0.2, 4.0, 8.0), (-0.2, 5.0, 8.0), (0.1, 3.0, 6.0)]
)
def test_each_level_keeps_to_what_the_level_above_has_cleared_beside_a_plunge(
    side, lean, nose, wide
):
    """On side A strips ran up to 0.11 mm into what stood between the ends of the level above's."""
    order = staged(leaning(lean, "flat", nose=nose), BEVEL_ROUGH, wide)
    (bevel,) = order.blade.bevels
    ground = bevel_passes_on(SideContext(order=order, side=side), bevel)
    levels: dict[float, list[Motions]] = {}
    for one in ground.passes[BEVEL_ROUGH]:
        levels.setdefault(round(float(one.stop[-1, 2]), 6), []).append(one)
    areas = [swept(levels[z], wide / 2) for z in sorted(levels, reverse=True)]
    blade = shapely.Polygon(ground.face.outline.vertices)
    for above, below in itertools.pairwise(areas):
        new = below.difference(above.buffer(0.02, 64)).intersection(blade)
        assert new.area < 0.01


def test_bevels_roughed_by_a_cutter_of_their_own_are_proved():
    """Strips' ends met 0.160 mm, where 0.145 mm is allowed."""
    made = make(staged(leaning(0.2, "flat", nose=4.0), BEVEL_ROUGH, 8.0), cell=0.2)
    assert not made.verdict.findings

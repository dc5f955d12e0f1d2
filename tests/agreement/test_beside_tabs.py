"""What a roughing cutter thicker than the finishing one leaves on the wall beside tabs.

Both fronts end in one line, the tab's narrow face, so on the wall the roughing of radius R ends
sooner by the difference d of their reaches. Left to the finish, R - sqrt(R^2 - d^2) stands there
beyond the allowance: 0.27 mm for 4 and 2 mm, from the tab's lower face down to the web.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point, Polygon, contains_xy, unary_union

from knifecam.curve import RAPID
from knifecam.curve.motions import sampled
from knifecam.making import make
from knifecam.planning import cleared_cuts, lay_out, outline_cuts
from knifecam.planning.plan import Cut
from knifecam.planning.planning_limits import FULLER_AT_TABS_SHARE
from knifecam.shop import Order
from knifecam.shop.side_view import floors, height_on, points_on
from tests.agreement.orders import cutter, simple_order
from tests.unit.planning.test_cleared_cuts import cut_with, one, opened_order

CORNER = 0.1


def plain(rough: float, finish: float) -> Order:
    """Return the plain blade, its outline roughed and finished by cutters of these diameters."""
    order = simple_order(corner=CORNER)
    cutters = cutter(1, diameter=rough), cutter(2, diameter=finish), cutter(3)
    moved = {"bore": 3, "slot": 3, "fit": 3}
    return replace(
        order,
        cutters=cutters,
        cutting=tuple(replace(c, cutter=moved.get(c.stage, c.cutter)) for c in order.cutting),
        trench=replace(order.trench, width=max(3.9, rough + 1.3)),
    )


def bevelled(rough: float, finish: float) -> Order:
    """Return the small bevelled blade, its rest roughed and finished by cutters of these diameters."""
    order = opened_order(1.0, rough + 1.3)
    for number, stage, diameter in ((30, "rough", rough), (31, "finish", finish)):
        made = cut_with(stage, diameter, order)
        *others, last = made.cutters
        last = replace(
            last,
            number=number,
            flute_length=max(last.flute_length, 3.2),
            reach=max(last.reach, 4.0),
        )
        cutting = [replace(c, cutter=number, life=600.0) if c.stage == stage else c
                   for c in made.cutting]  # fmt: skip
        order = replace(made, cutters=(*others, last), cutting=tuple(cutting))
    return order


PAIRS = [(3.0, 2.0), (4.0, 2.0), (4.0, 1.5), (3.0, 1.5)]
ALIKE = [(3.0, 3.0), (2.0, 2.98), (2.0, 3.0)]


def swept(cuts: Iterable[Cut], order: Order, height: float, about: Polygon) -> Polygon:
    """Return what cutters' upright flanks sweep at a height of side B's frame, near a place."""
    found = [Polygon()]
    for cut in cuts:
        radius, motions = order.cutter(cut.cutter).radius, cut.motions
        for k in np.flatnonzero(motions.kind != RAPID):
            places = sampled(one(motions, int(k)), 0.02)
            tips = np.linspace(motions.start[k, 2], motions.stop[k, 2], len(places))
            places = places[tips <= height - CORNER + 1e-9]
            places = places[contains_xy(about, *places.T)]
            found += [LineString(places).buffer(radius, quad_segs=64)] if len(places) > 1 else []
    return unary_union(found)


@pytest.mark.parametrize("drawn", [plain, bevelled])
@pytest.mark.parametrize(("rough", "finish"), PAIRS)
def test_beside_tabs_the_finish_meets_little_more_than_the_allowance(
    drawn: Callable[[float, float], Order], rough: float, finish: float
) -> None:
    """By shapely, at the height of the tabs' lower face: all else was swept before it."""
    order = drawn(rough, finish)
    made = lay_out(order)
    tab_z = height_on("B", floors(order).tab)
    *before, wall = made.side("B")
    assert wall.name == "OUTLINE WALL"
    left = order.cuttings("rough")[0].allowance * (1 + FULLER_AT_TABS_SHARE) + 1e-3
    strip = Polygon(order.blade.outline.points(1e-3) * (1.0, -1.0)).buffer(left)
    for tab in made.tabs:
        about = Point(points_on("B", tab.place, order.setup.flip)[0]).buffer(6.0)
        opened = swept(before, order, tab_z, about.buffer(rough))
        met = swept([wall], order, tab_z, about).difference(opened).difference(strip)
        assert met.area < 1e-4


@pytest.mark.parametrize("drawn", [plain, bevelled])
@pytest.mark.parametrize(("rough", "finish"), [(3.0, 2.0), (4.0, 1.5), (5.0, 2.5)])
def test_an_outline_with_tabs_is_proved_however_much_thicker_it_is_roughed(
    drawn: Callable[[float, float], Order], rough: float, finish: float
) -> None:
    made = make(drawn(rough, finish), cell=0.15)
    assert made.verdict.findings == ()


@pytest.mark.parametrize("drawn", [plain, bevelled])
@pytest.mark.parametrize(("rough", "finish"), ALIKE)
def test_cutters_alike_go_over_no_tab_before_the_wall_is_finished(
    drawn: Callable[[float, float], Order], rough: float, finish: float
) -> None:
    names = [cut.name for cut in lay_out(drawn(rough, finish)).side("B")]
    assert not [name for name in names if name.endswith("CORNERS")]


@pytest.mark.parametrize(
    ("drawn", "rough", "finish"), [(plain, 4.0, 2.0), (plain, 3.0, 1.5), (bevelled, 4.0, 2.0)]
)
def test_the_judge_sees_what_stands_in_the_narrow_zone_beside_a_tab(
    drawn: Callable[[float, float], Order], rough: float, finish: float,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """The zone is 0.3 to 1 mm long and as high as the tab: it lay between the places looked at.

    At most the allowance and R - sqrt(R^2 - d^2) stand there, and the corner's fillet; all where
    the web is sheared too.
    """
    for room in (outline_cuts, cleared_cuts):
        monkeypatch.setattr(room, "beside_tabs", lambda *_, **__: ())
    order = drawn(rough, finish)
    made = make(order)
    assert {(f.kind, f.side) for f in made.verdict.findings} == {("wall-stock", "B")}
    allowance, d = order.cuttings("rough")[0].allowance, (rough - finish) / 2
    most = allowance + rough / 2 - np.sqrt(rough**2 / 4 - d**2) + CORNER
    told = [f for f in made.verdict.findings if f.measured is not None]
    assert told
    for found in told:
        assert 1.25 * allowance + 0.02 < found.measured <= most
        near = min(np.hypot(*np.subtract(found.place[:2], tab.place)) for tab in made.plan.tabs)
        assert order.tabs.waist / 2 + finish / 2 - CORNER <= near <= order.tabs.waist / 2 + rough


@pytest.mark.parametrize("corner", [0.17, 0.18])
def test_the_fillets_of_large_corners_at_the_web_are_no_stock(corner: float) -> None:
    """0.045 mm is left, 0.076 allowed: over and under the web of 0.2 mm the corner of 0.17 stands out
    further up to 0.17 - sqrt(0.17^2 - (0.17 - 0.031)^2) = 0.072 mm above either floor, 0.34 in all."""
    order = simple_order(corner=corner)
    order = replace(
        order,
        tabs=replace(order.tabs, thickness=0.55),
        cutting=tuple(
            replace(c, allowance=0.045) if c.stage == "rough" else c for c in order.cutting
        ),
    )
    assert make(order).verdict.findings == ()

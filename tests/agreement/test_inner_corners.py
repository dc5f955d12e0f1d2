"""Inner corners tighter than the roughing's turn, from the order to the cut blade.

Before, the finishing pass met at full depth what roughing had left in them, over half its width.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from knifecam.blade import Slot
from knifecam.curve import Curve, polyline
from knifecam.making import Made, make
from knifecam.order import order_from_text
from knifecam.planning import opening_cuts, outline_cuts
from knifecam.report.screen_lines import uncut_lines
from knifecam.shop import Order
from tests.agreement.corner_orders import corner_order
from tests.agreement.good_orders import filleted
from tests.agreement.orders import cutter, rounded, simple_order
from tests.agreement.wider_orders import WIDER

CELL = 0.1
"""mm: clears slots; where it would only have the cells of 0.05 mm asked too, those are asked at once."""

EXAMPLES = Path(__file__).parents[2] / "examples"


def with_slot(drawn: Curve, diameter: float) -> Order:
    """Return the plain blade with one slot, bored and roughed by a cutter of that diameter."""
    order = simple_order()
    slots = (Slot(name="S1", outline=drawn),)
    thin = cutter(1, diameter=diameter)
    blade = replace(order.blade, slots=slots)
    return replace(order, blade=blade, cutters=(thin, order.cutters[1]))


def with_bay(radius: float, rough: float, finish: float) -> Order:
    """Return a blade with a bay 16 mm wide and 5 mm deep in its lower edge."""
    return bayed([(-8, -10), (-8, -5), (8, -5), (8, -10)], radius, rough, finish)


def bayed(bay: list[tuple[float, float]], radius: float, rough: float, finish: float) -> Order:
    """Return a blade with a bay of these four corners in its lower edge, two of them inner ones."""
    points = [(-30, -10), *bay, (30, -10), (30, 10), (-30, 10)]
    curve = filleted(points, [3.0, 0.5, radius, radius, 0.5, 3.0, 3.0, 3.0])
    kept = np.hypot(*(np.roll(curve.vertices, -1, axis=0) - curve.vertices).T) > 1e-9
    drawn = Curve(curve.vertices[kept], curve.bulges[kept])
    order = simple_order()
    return replace(
        order,
        blade=replace(order.blade, outline=drawn, slots=(), bores=()),
        cutters=(cutter(1, diameter=rough), cutter(2, diameter=finish)),
        cutting=tuple(c for c in order.cutting if c.stage in ("rough", "finish")),
    )


def told(made: Made) -> list[str]:
    return [f"{f.kind} {f.side}{f.line}: {f.message}" for f in made.verdict.findings]


@pytest.mark.parametrize(
    ("radius", "diameter"),
    [(0.0, 3.0), (0.0, 2.0), (0.5, 2.0), (1.05, 2.0), (1.55, 3.0), (1.6, 2.99)],
)
def test_a_slot_is_proved_whatever_its_corners(radius: float, diameter: float) -> None:
    sharp = polyline([(7, -3), (17, -3), (17, 3), (7, 3)])
    made = make(with_slot(rounded(7, -3, 17, 3, radius) if radius else sharp, diameter), cell=CELL)
    assert made.verdict.ok, told(made)
    (slot,) = made.verdict.measures["slots"]
    assert slot["A"]["gouge"] <= 1e-3
    assert slot["left"] <= 1e-3


SHAPES = {
    "acute": [(4, -3), (20, -3), (20, 4)],
    "star": [(5, -5), (10, -2.5), (15, -5), (12.5, 0), (15, 5), (10, 2.5), (5, 5), (7.5, 0)],
    "narrow bay": [(4, -4), (14, -4), (14, -1.04), (20, -1.04), (20, 1.04), (14, 1.04), (14, 4), (4, 4)],
    "narrow middle": [
        (3, -3), (9, -3), (9, -1.03), (13, -1.03), (13, -3), (19, -3),
        (19, 3), (13, 3), (13, 1.03), (9, 1.03), (9, 3), (3, 3),
    ],
}  # fmt: skip


@pytest.mark.parametrize("name", SHAPES)
def test_acute_corners_and_bays_hardly_wider_than_the_cutter_are_proved(name: str) -> None:
    made = make(with_slot(polyline(SHAPES[name]), 2.0), cell=CELL)
    assert made.verdict.ok, told(made)


@pytest.mark.parametrize(
    ("radius", "rough", "finish"),
    [(0.0, 3.0, 3.0), (1.55, 3.0, 3.0), (0.0, 3.0, 2.985), (0.0, 2.985, 3.0), (1.0, 3.0, 2.0)],
)
def test_an_outline_is_proved_whatever_its_inner_corners(
    radius: float, rough: float, finish: float
) -> None:
    made = make(with_bay(radius, rough, finish))
    assert made.verdict.ok, told(made)
    corners = [c for c in made.plan.cuts if c.name.endswith("CORNERS")]
    assert {c.cutter for c in corners} == ({2} if finish < rough else set())


@pytest.mark.parametrize("lean", [1.5, 2.2, 3.5])
def test_what_stays_in_an_acute_corner_is_no_tab_and_no_far_wall(lean: float) -> None:
    """Square to a wall, near the corner, the other wall is nearer than the trench is wide.

    In a corner of 77, 71 or 62 degrees the rougher leaves a web that the finisher does not reach. In
    62 the other wall is met on the left too, 28 degrees off straight ahead.
    """
    bay = [(-3.0, -10), (-3.0 - lean, -3.5), (3.0 + lean, -3.5), (3.0, -10)]
    order = bayed(bay, 0.0, 1.24, 2.49)
    order = replace(order, trench=replace(order.trench, width=2.85))
    made = make(order)
    assert made.verdict.ok, told(made)
    assert len(made.verdict.measures["tabs"]) == order.tabs.count


@pytest.mark.parametrize("number", [1, 10, 66])
def test_no_way_between_tracks_crosses_what_stands_uncut_in_a_bay(number: int) -> None:
    """A straight way over a bay wider than two trenches cut its tongue, up to 1.5 mm deep at once."""
    made = make(corner_order(number))
    assert made.verdict.ok, told(made)


def test_a_corner_s_short_arcs_take_all_they_come_over_on_the_way_in() -> None:
    """An arc of 0.036 mm and rounded digits left a column to the way back, of 0.094 mm."""
    assert make(corner_order(4), cell=0.05).verdict.findings == ()


@pytest.mark.parametrize("number", [6, 16, 39, 50])
def test_the_web_in_inner_corners_is_opened_before_the_wall_is_finished(number: int) -> None:
    """The web of 0.2 mm with the fillets of both sides' roughing was met ahead: 0.268 mm for 0.26."""
    made = make(corner_order(number))
    assert made.verdict.ok, told(made)


@pytest.mark.parametrize("cell", [0.1, 0.05])
def test_a_wall_s_lead_is_no_thicker_for_the_cells(cell: float) -> None:
    """A row of cells that is met out of the air was counted ahead of the axis too: 0.317 for 0.252."""
    made = make(corner_order(43), cell=cell)
    assert made.verdict.ok, told(made)


@pytest.mark.parametrize("left_out", ["slot", "outline"])
def test_the_judge_tells_of_corners_that_are_left_out(
    left_out: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The rule that found them stands: without their passes, the finish meets them at full depth.

    It takes more across its way too, and more off the wall than was to be left.
    """
    for room in (opening_cuts, outline_cuts):
        monkeypatch.setattr(room, "corner_passes", lambda *_, **__: ())
    sharp = polyline([(7, -3), (17, -3), (17, 3), (7, 3)])
    made = make(with_slot(sharp, 3.0) if left_out == "slot" else with_bay(1.0, 3.0, 2.0))
    kinds = {f.kind for f in made.verdict.findings}
    assert {"slot-depth"} <= kinds <= {"slot-depth", "section", "wall-stock"}


@pytest.mark.parametrize(("lines", "told_of"), [(24, 1), (200, 0)])
def test_a_round_slot_drawn_as_lines_is_told_in_one_line_or_none(lines: int, told_of: int) -> None:
    """Each corner keeps R (1 / cos(pi / lines) - 1) mm: 0.013 of 24 lines, 0.0002 of 200."""
    turn = 2 * math.pi * np.arange(lines) / lines
    round_one = polyline(np.stack([12 + 4 * np.cos(turn), 4 * np.sin(turn)], axis=1))
    made = make(with_slot(round_one, 3.0), cell=CELL)
    assert made.verdict.ok, told(made)
    found = list(uncut_lines(made.verdict.measures))
    assert len(found) == told_of
    assert all("leaves 0.013 mm of metal" in line for line in found)


def test_a_corner_past_what_is_cleared_beside_an_edge_is_left_to_the_trench() -> None:
    """The heel's corner of 2.5 mm lies half beside the edge of the field knife.

    Cleared with 0.3 mm left on the wall it is roughed beforehand. The passes began 0.12 mm past the
    ground that was cleared, and fell into 0.07 mm a level there. With it the greatest plunge_radius
    and stepdown that are not refused.
    """
    text = (EXAMPLES / "field-knife-230x32.toml").read_text()
    text = text.replace('plunge = "PLUNGE"', 'plunge = "PLUNGE"\nplunge_radius = 15.4')
    text += '\n[[cutting]]\ncutter = 1\nstage = "clear"\nstepdown = 0.6\nallowance = 0.3\n'
    text += '\n[[cutting]]\ncutter = 3\nstage = "bevel-rough"\nstepdown = 0.32\n'
    made = make(order_from_text(text, folder=EXAMPLES))
    assert made.verdict.ok, told(made)


def test_a_short_straight_between_turns_of_a_narrow_slot() -> None:
    """0.22 mm long, and ahead of it 0.07 mm stand on a turn of 0.42: a strip of 0.19 mm, 5.7 deep."""
    made = make(WIDER["good"](242), cell=0.05)
    assert made.verdict.ok, told(made)


@pytest.mark.parametrize(
    ("stretch", "span", "found"),
    [
        ((10.0, 20.0), (15.0, 30.0), [(15.0, 20.0)]),  # as far as the span goes
        ((40.0, 45.0), (15.0, 30.0), []),
        ((95.0, 118.0), (15.0, 30.0), [(15.0, 18.0)]),  # past the track's end
        ((10.0, 40.0), (90.0, 115.0), [(10.0, 15.0)]),
        ((25.0, 115.5), (15.0, 30.0), [(15.0, 15.5), (25.0, 30.0)]),  # nearly all round
    ],
)
def test_what_of_a_corner_lies_within_a_span(
    stretch: tuple[float, float], span: tuple[float, float], found: list[tuple[float, float]]
) -> None:
    """Of a closed track of 100 mm."""
    assert sorted(outline_cuts.within_span([stretch], span, 100.0)) == found


@pytest.mark.parametrize("cell", [0.1, 0.05])
@pytest.mark.parametrize(("radius", "rough", "finish"), [(2.1, 2.5, 3.989), (2.05, 3.0, 4.0)])
def test_stock_along_both_walls_of_a_corner_is_no_slot(
    radius: float, rough: float, finish: float, cell: float
) -> None:
    # the finishing axis turns on 0.05 to 0.1 mm: the rim meets 3 mm of wall at once, 0.06 thick
    order = with_bay(radius, rough, finish)
    order = replace(order, trench=replace(order.trench, width=4.35))
    assert told(make(order, cell=cell)) == []
